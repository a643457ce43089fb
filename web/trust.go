package web

import (
	"net/http"

	"rsc.io/qr"

	"example.org/bookend/fault"
)

// Trust is what a tablet needs to trust this laptop.
type Trust struct {
	Certificate []byte   // of the folder's own authority, DER
	Fingerprint string   // its SHA-256 as tablets show it
	At          []string // where tablets find this laptop: https://laptop.local:8420
}

// trusting is the body of the page that leads a tablet through trusting.
type trusting struct {
	At          []string
	Fingerprint string
	Code        bool
}

// trust leads a tablet through trusting this laptop once. It is shown to whoever
// asks: one has to trust before one can sign in.
func (f *face) trust(w http.ResponseWriter, r *http.Request) error {
	t := f.o.Trust
	if t == nil {
		return fault.New(fault.NotFound, "there is nothing to trust: these pages are shown on this machine alone").WithHint("bookend serve --address 0.0.0.0:8420 shows them to tablets")
	}
	var at []string
	for _, a := range t.At {
		at = append(at, a+"/trust")
	}
	return f.hand(w, r, http.StatusOK, "trust", frame{Title: say("A tablet trusts this laptop in five steps"), Body: trusting{At: at, Fingerprint: t.Fingerprint, Code: len(at) > 0}}, nil)
}

// certificate hands out the authority's certificate, never its key.
func (f *face) certificate(w http.ResponseWriter, r *http.Request) {
	if f.o.Trust == nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="bookend-authority.crt"`)
	_, _ = w.Write(f.o.Trust.Certificate) // whoever asked may be gone
}

// square draws the address of the trust page as a QR code (ISO/IEC 18004).
func (f *face) square(w http.ResponseWriter, r *http.Request) {
	if f.o.Trust == nil || len(f.o.Trust.At) == 0 {
		http.NotFound(w, r)
		return
	}
	c, err := qr.Encode(f.o.Trust.At[0]+"/trust", qr.M)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	c.Scale = 8
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(c.PNG()) // whoever asked may be gone
}
