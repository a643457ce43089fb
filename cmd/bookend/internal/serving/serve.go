// Package serving serves programmes as pages, and holds the verb about who may sign
// in to them.
package serving

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/sight"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/fault"
	"example.org/bookend/store/authority"
	"example.org/bookend/store/people"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/web"
)

// served is what bookend serve was told.
type served struct {
	dir, address string
	names        []string
	plain        bool
}

// Serve is the verb serve: the pages, on this machine or to tablets beside it.
func Serve() *cobra.Command {
	var s served
	c := &cobra.Command{
		Use:   "serve [FOLDER]",
		Short: "show the programmes of a folder as pages, here or to tablets",
		Long: `Show the programme in a folder, or every programme in the folders below it, as
pages. Every page works without a script; what is entered in another window or
by another command shows without reload.

On 127.0.0.1, which is the default, the pages are for this machine alone and
nobody signs in. On any other address tablets see them, over HTTPS with an
authority of the folder's own, and everybody signs in: bookend people add gives
names and passwords, /trust leads a tablet through trusting the laptop once.`,
		Example: `  bookend serve
  bookend people add "I. Rask" --role lead
  bookend serve --address 0.0.0.0:8420 --name laptop.local`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			s.dir = "."
			if len(args) == 1 {
				s.dir = args[0]
			}
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			return s.serve(ctx, func(at []string, fingerprint string) {
				fmt.Fprintf(c.OutOrStdout(), "%s shows the programmes; end with Ctrl-C\n", strings.Join(at, " or "))
				if fingerprint != "" {
					fmt.Fprintf(c.OutOrStdout(), "On a tablet, first: %s/trust\nFingerprint to compare there:\n  %s\n", at[0], fingerprint)
				}
			})
		},
	}
	fs := c.Flags()
	fs.StringVar(&s.address, "address", "127.0.0.1:8420", "where to listen; port 0 takes a free one")
	fs.StringArrayVar(&s.names, "name", nil, "a name that tablets call this machine by; again for others")
	fs.BoolVar(&s.plain, "without-tls", false, "speak plain HTTP to others, too: only where something else encrypts")
	return c
}

// own gives the names and addresses that this machine answers to besides
// loopback, those that were named first.
func (s *served) own(host string) ([]string, error) {
	names := slices.Clone(s.names)
	if a, err := netip.ParseAddr(host); err == nil && !a.IsUnspecified() {
		if !a.IsLoopback() {
			names = append(names, host)
		}
		return names, nil
	} else if err != nil && host != "" {
		if host != "localhost" {
			names = append(names, host)
		}
		return names, nil
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil, fault.New(fault.Internal, "asking for this machine's addresses: %w", err)
	}
	for _, a := range all {
		if p, err := netip.ParsePrefix(a.String()); err == nil && !p.Addr().IsLoopback() && !p.Addr().IsLinkLocalUnicast() {
			names = append(names, p.Addr().String())
		}
	}
	return names, nil
}

// serve shows the programmes until the context ends.
func (s *served) serve(ctx context.Context, ready func(at []string, fingerprint string)) error {
	host, _, err := net.SplitHostPort(s.address)
	if err != nil {
		return fault.New(fault.Invalid, "--address: %w", err).WithHint("for example --address 127.0.0.1:8420")
	}
	names, err := s.own(host)
	if err != nil {
		return err
	}
	open := &programmes{dir: s.dir, open: map[string]*opened{}}
	if _, err := open.list(ctx); err != nil {
		return err
	}
	defer open.close()
	o := web.Options{Programmes: open.list, Lead: folders.Author(), Hosts: names}
	var secured *tls.Config
	var trusted *authority.Authority
	if len(names) > 0 {
		who := people.In(s.dir)
		all, err := who.List()
		if err != nil {
			return err
		}
		if len(all) == 0 {
			return fault.New(fault.Conflict, "others would see these pages, and nobody can sign in yet").
				WithHint(`bookend people add NAME --role lead, in %s; or serve this machine alone, with --address 127.0.0.1:8420`, s.dir)
		}
		o.Door = door{who}
		if !s.plain {
			if trusted, err = authority.In(s.dir, time.Now()); err != nil {
				return err
			}
			cert, err := trusted.Server(append(slices.Clone(names), "localhost", "127.0.0.1", "::1"), time.Now())
			if err != nil {
				return err
			}
			secured = &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12}
			o.Secure = true
		}
	}
	l, err := net.Listen("tcp", s.address)
	if err != nil {
		return fault.New(fault.Conflict, "listening: %w", err).WithHint("another --address, or end what listens there")
	}
	defer l.Close() //nolint:errcheck // closed by the server already where all went well
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		return fault.New(fault.Internal, "listening: %w", err)
	}
	scheme := "http"
	if secured != nil {
		scheme = "https"
	}
	var at []string
	for _, n := range names {
		at = append(at, scheme+"://"+net.JoinHostPort(n, port))
	}
	if len(at) == 0 {
		at = append(at, scheme+"://"+l.Addr().String())
	}
	fingerprint := ""
	if trusted != nil {
		fingerprint = trusted.Fingerprint()
		o.Trust = &web.Trust{Certificate: trusted.DER(), Fingerprint: fingerprint, At: at}
	}
	handler, err := web.New(o)
	if err != nil {
		return err
	}
	if secured != nil {
		l = tls.NewListener(l, secured)
	}
	server := patient(ctx, handler)
	ready(at, fingerprint)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case err := <-ended:
		return fault.New(fault.Internal, "serving: %w", err)
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	if err := server.Shutdown(last); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return fault.New(fault.Internal, "ending: %w", err)
	}
	return nil
}

// patient makes the server with what it grants a client that is slow: 5 s for the
// head of a request, a minute for all of it and for its answer, 64 kB of head. Own
// choice; a voice of 16 MiB over a track's poor network takes half a minute.
func patient(ctx context.Context, handler http.Handler) *http.Server {
	return &http.Server{
		Handler: handler, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 60 * time.Second, WriteTimeout: 60 * time.Second,
		IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 1 << 16, BaseContext: func(net.Listener) context.Context { return ctx },
		ErrorLog: log.New(io.Discard, "", 0), // a tablet that does not trust yet is no news
	}
}

// door lets the people of a folder in.
type door struct{ people *people.People }

// Enter gives who has that name and password.
func (d door) Enter(name, password string) (web.Guest, bool, error) {
	p, ok, err := d.people.Check(name, password)
	if err != nil || !ok {
		return web.Guest{}, false, err
	}
	role, err := sight.Parse(p.Role)
	return web.Guest{Name: p.Name, Role: role}, err == nil, err
}

// programmes opens the programmes below a folder, each once.
type programmes struct {
	dir  string
	mu   sync.Mutex
	open map[string]*opened
	over map[string]app.Store // grounds that programmes lie in, by folder
}

// opened is a programme's store, and what was read of it.
type opened struct {
	*sqlite.Store
	remembered *app.Remembered
}

// list gives the programme in the folder, or those in the folders below it.
func (p *programmes) list(ctx context.Context) ([]web.Programme, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	dir, err := filepath.Abs(p.dir)
	if err != nil {
		return nil, fault.New(fault.Invalid, "finding the folder: %w", err).At("%s", p.dir)
	}
	var dirs []string
	if _, err := os.Stat(filepath.Join(dir, sqlite.File)); err == nil {
		dirs = append(dirs, dir)
	} else {
		found, err := os.ReadDir(dir)
		if err != nil {
			return nil, fault.New(fault.NotFound, "reading the folder: %w", err).At("%s", p.dir).WithHint("name a programme's folder, or the folder that holds programmes")
		}
		for _, e := range found {
			if _, err := os.Stat(filepath.Join(dir, e.Name(), sqlite.File)); err == nil {
				dirs = append(dirs, filepath.Join(dir, e.Name()))
			}
		}
	}
	var out []web.Programme
	for _, d := range dirs {
		s := p.open[d]
		if s == nil {
			store, err := sqlite.Open(ctx, d)
			if err != nil {
				return nil, err
			}
			s = &opened{store, app.Remember(store)}
			p.open[d] = s
		}
		f := folders.Of(s.remembered)
		f.Device = "web"
		if f.Ground, err = p.ground(ctx, d); err != nil {
			return nil, err
		}
		out = append(out, web.Programme{Name: filepath.Base(d), Folder: f})
	}
	return out, nil
}

// ground opens the ground that a programme's folder lies in, once; nil where it
// lies in none.
func (p *programmes) ground(ctx context.Context, dir string) (app.Store, error) {
	up := sqlite.GroundOf(dir)
	if up == "" {
		return nil, nil
	}
	if p.over[up] == nil {
		g, err := sqlite.OpenGround(ctx, up)
		if err != nil {
			return nil, err
		}
		if p.over == nil {
			p.over = map[string]app.Store{}
		}
		p.over[up] = g
	}
	return p.over[up], nil
}

func (p *programmes) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, g := range p.over {
		_ = g.Close()
	}
	for _, s := range p.open {
		_ = s.Close() // checkpointed; what was acknowledged is kept either way
	}
}
