package web

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// mostForm is how large a form that a page sends may be.
const mostForm = 1 << 20

// policy forbids whatever a page of this face does not need: no script, style
// or picture from elsewhere, no frame around it, no form to another place.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; media-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// policyWhole is that of the report's page, which carries its style and fonts
// inside and has no script.
const policyWhole = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; frame-ancestors 'none'"

// guard stands before every page: it refuses names of other hosts (a page
// elsewhere that had its own name point to loopback would be read by it
// otherwise), requests that another site's page sends, and bodies too large.
func (f *face) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(self)")
		h.Set("Cache-Control", "no-store")
		if f.o.Secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		if !f.mine(r.Host) {
			http.Error(w, "This machine does not go by that name.", http.StatusMisdirectedRequest)
			return
		}
		if err := cross.Check(r); err != nil {
			http.Error(w, "Another site's page sent this; nothing was done.", http.StatusForbidden)
			return
		}
		if r.Method != http.MethodPut { // what a tablet attaches has a bound of its own
			r.Body = http.MaxBytesReader(w, r.Body, mostForm)
		}
		// A slip of ours ends one page, not the afternoon.
		defer func() {
			if slip := recover(); slip != nil && slip != http.ErrAbortHandler {
				http.Error(w, "Something went wrong in bookend itself. What was entered before is kept.", http.StatusInternalServerError)
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// mine tells whether a host's name, with or without a port, is one that this
// machine answers to.
func (f *face) mine(host string) bool {
	if loopback(host) {
		return true
	}
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.Trim(host, "[]")
	return slices.ContainsFunc(f.o.Hosts, func(h string) bool { return strings.EqualFold(h, host) })
}

// loopback tells whether a host's name, with or without a port, is this
// machine's own.
func loopback(host string) bool {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.Trim(host, "[]")
	if strings.EqualFold(host, "localhost") {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.IsLoopback()
}
