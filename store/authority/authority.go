// Package authority is a certificate authority of one folder's own: it lets a
// tablet speak to the laptop over HTTPS where no public authority can help, at a
// track without a network.
//
// The authority's key is made on the first start, lies beside the programmes with
// mode 0600, and is never handed out. A tablet trusts its certificate once; the
// server's own certificate is made anew at every start, in memory, for the names
// and addresses that it then has. Keys are ECDSA on P-256 (FIPS 186-5).
// Certificates are of X.509 version 3 (RFC 5280); the authority's may sign
// servers' certificates alone and no further authority.
package authority

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"io/fs"
	"math/big"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"time"

	"example.org/bookend/fault"
)

// File holds the authority's key and certificate, in its folder.
const File = "authority.pem"

// How long certificates are good for: the authority's for ten years, own choice;
// a server's for 90 days, since tablets refuse those of more than 398 (CA/Browser
// Forum, Baseline Requirements 6.3.2).
const (
	authorityFor = 10 * 365 * 24 * time.Hour
	serverFor    = 90 * 24 * time.Hour
	before       = 24 * time.Hour // clocks at a track are off
)

// Authority signs the servers of one folder.
type Authority struct {
	key  *ecdsa.PrivateKey
	cert *x509.Certificate
}

// In gives the authority of a folder, made where there is none.
func In(dir string, now time.Time) (*Authority, error) {
	path := filepath.Join(dir, File)
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return begin(path, now)
	}
	if err != nil {
		return nil, fault.New(fault.Invalid, "reading the authority: %w", err).At("%s", path)
	}
	a := &Authority{}
	for block, rest := pem.Decode(b); block != nil; block, rest = pem.Decode(rest) {
		switch block.Type {
		case "CERTIFICATE":
			a.cert, err = x509.ParseCertificate(block.Bytes)
		case "PRIVATE KEY":
			var key any
			if key, err = x509.ParsePKCS8PrivateKey(block.Bytes); err == nil {
				a.key, _ = key.(*ecdsa.PrivateKey)
			}
		}
		if err != nil {
			break
		}
	}
	if err != nil || a.cert == nil || a.key == nil {
		return nil, fault.New(fault.Invalid, "the authority cannot be read").At("%s", path).WithHint("remove it; a new one is made, which every tablet has to trust again")
	}
	if now.After(a.cert.NotAfter) {
		return nil, fault.New(fault.Invalid, "the authority ended on %s", a.cert.NotAfter.Format(time.DateOnly)).At("%s", path).
			WithHint("remove it; a new one is made, which every tablet has to trust again")
	}
	return a, nil
}

func serial() (*big.Int, error) { return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127)) }

func begin(path string, now time.Time) (*Authority, error) {
	fail := func(err error) (*Authority, error) {
		return nil, fault.New(fault.Invalid, "making the authority: %w", err).At("%s", path)
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return fail(err)
	}
	n, err := serial()
	if err != nil {
		return fail(err)
	}
	want := &x509.Certificate{
		SerialNumber: n, Subject: pkix.Name{CommonName: "bookend of this folder " + hex.EncodeToString(n.Bytes()[:3])},
		NotBefore: now.Add(-before), NotAfter: now.Add(authorityFor),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, want, want, &key.PublicKey, key)
	if err != nil {
		return fail(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return fail(err)
	}
	text := append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})...)
	f, err := os.CreateTemp(filepath.Dir(path), "."+File+"-*") // made with mode 0600
	if err != nil {
		return fail(err)
	}
	defer os.Remove(f.Name()) //nolint:errcheck // gone already where all went well
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return fail(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return fail(err)
	}
	return &Authority{key, cert}, nil
}

// PEM gives the authority's certificate, which a tablet is to trust; never its
// key.
func (a *Authority) PEM() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.cert.Raw})
}

// DER is the same as the bytes that tablets take as a file.
func (a *Authority) DER() []byte { return a.cert.Raw }

// Fingerprint gives the SHA-256 of the certificate in groups of four digits, as
// tablets show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	text := strings.ToUpper(hex.EncodeToString(sum[:]))
	var parts []string
	for i := 0; i < len(text); i += 4 {
		parts = append(parts, text[i:i+4])
	}
	return strings.Join(parts, " ")
}

// Server gives a certificate for a server of these names and addresses.
func (a *Authority) Server(names []string, now time.Time) (tls.Certificate, error) {
	fail := func(err error) (tls.Certificate, error) {
		return tls.Certificate{}, fault.New(fault.Internal, "making the server's certificate: %w", err)
	}
	if len(names) == 0 {
		return tls.Certificate{}, fault.New(fault.Invalid, "the server has no name")
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return fail(err)
	}
	n, err := serial()
	if err != nil {
		return fail(err)
	}
	want := &x509.Certificate{
		SerialNumber: n, Subject: pkix.Name{CommonName: names[0]}, NotBefore: now.Add(-before), NotAfter: now.Add(serverFor),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	for _, name := range names {
		if ip, err := netip.ParseAddr(name); err == nil {
			want.IPAddresses = append(want.IPAddresses, ip.AsSlice())
		} else {
			want.DNSNames = append(want.DNSNames, name)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, want, a.cert, &key.PublicKey, a.key)
	if err != nil {
		return fail(err)
	}
	return tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: crypto.PrivateKey(key)}, nil
}
