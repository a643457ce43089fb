package authority_test

import (
	"crypto/x509"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/store/authority"
)

// A server's certificate holds for its names and addresses and no others, by Go's
// own verifier; the authority is the same at the next start, and its key stays in
// its file.
func TestServerIsTrustedByTheAuthorityAlone(t *testing.T) {
	dir, now := t.TempDir(), time.Date(2026, 5, 13, 7, 0, 0, 0, time.UTC)
	a, err := authority.In(dir, now)
	if err != nil {
		t.Fatal(err)
	}
	again, err := authority.In(dir, now.AddDate(1, 0, 0))
	if err != nil || again.Fingerprint() != a.Fingerprint() {
		t.Fatalf("the next start has another authority: %v", err)
	}
	if info, _ := os.Stat(filepath.Join(dir, authority.File)); info.Mode().Perm() != 0o600 {
		t.Errorf("the key has mode %v", info.Mode())
	}
	if strings.Contains(string(a.PEM()), "PRIVATE") || len(a.Fingerprint()) != 79 {
		t.Errorf("handed out: %s %s", a.PEM(), a.Fingerprint())
	}
	c, err := again.Server([]string{"laptop.test", "192.0.2.7"}, now)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(c.Certificate[0])
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(a.PEM()) {
		t.Fatal("the authority's certificate is none")
	}
	for _, c := range []struct {
		name string
		at   time.Time
		ok   bool
	}{{"laptop.test", now, true}, {"192.0.2.7", now, true}, {"elsewhere.test", now, false}, {"192.0.2.8", now, false}, {"laptop.test", now.AddDate(0, 0, 91), false}, {"laptop.test", now.Add(-12 * time.Hour), true}} {
		_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: c.name, CurrentTime: c.at})
		if (err == nil) != c.ok {
			t.Errorf("%s at %s: %v", c.name, c.at, err)
		}
	}
	if d := leaf.NotAfter.Sub(leaf.NotBefore); d > 398*24*time.Hour {
		t.Errorf("a server's certificate is good for %v", d)
	}
	other, err := authority.In(t.TempDir(), now)
	if err != nil {
		t.Fatal(err)
	}
	theirs := x509.NewCertPool()
	theirs.AppendCertsFromPEM(other.PEM())
	if _, err := leaf.Verify(x509.VerifyOptions{Roots: theirs, DNSName: "laptop.test", CurrentTime: now}); err == nil {
		t.Error("another folder's authority vouches for it")
	}
	if _, err := authority.In(dir, now.AddDate(11, 0, 0)); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("after its end: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, authority.File), []byte("nothing"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := authority.In(dir, now); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("damaged: %v", err)
	}
	if _, err := a.Server(nil, now); err == nil {
		t.Error("a server without a name")
	}
}
