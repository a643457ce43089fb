package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/signal"
	"path/filepath"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"example.org/bookend/fault"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/web"
)

func serveCommand() *cobra.Command {
	var address string
	c := &cobra.Command{
		Use:   "serve [FOLDER]",
		Short: "show the programmes of a folder as pages on this machine",
		Long: `Show the programme in a folder, or every programme in the folders below it, as
pages on this machine alone. Every page works without a script; what is entered
in another window or by another command shows without reload.

The address has to be one of this machine's own (127.0.0.1, ::1, localhost): the
pages ask for no sign-in.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			dir := "."
			if len(args) == 1 {
				dir = args[0]
			}
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			return serve(ctx, dir, address, func(at string) {
				fmt.Fprintf(c.OutOrStdout(), "http://%s/ shows the programmes; end with Ctrl-C\n", at)
			})
		},
	}
	c.Flags().StringVar(&address, "address", "127.0.0.1:8420", "where to listen; port 0 takes a free one")
	return c
}

// serve shows the programmes below dir until the context ends.
func serve(ctx context.Context, dir, address string, ready func(string)) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return fault.New(fault.Invalid, "--address: %w", err).WithHint("for example --address 127.0.0.1:8420")
	}
	if a, err := netip.ParseAddr(host); host != "localhost" && (err != nil || !a.IsLoopback()) {
		return fault.New(fault.Unsupported, "--address: %s is not this machine's own", host).
			WithHint("127.0.0.1, ::1 or localhost: there is no sign-in yet, so nobody else may ask")
	}
	open := &programmes{dir: dir, open: map[string]*sqlite.Store{}}
	if _, err := open.list(ctx); err != nil {
		return err
	}
	defer open.close()
	handler, err := web.New(web.Options{Programmes: open.list})
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return fault.New(fault.Conflict, "listening: %w", err).WithHint("another --address, or end what listens there")
	}
	s := &http.Server{
		Handler: handler, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: 60 * time.Second,
		IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 1 << 16, BaseContext: func(net.Listener) context.Context { return ctx },
	}
	ready(l.Addr().String())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(l) }()
	select {
	case err := <-ended:
		return fault.New(fault.Internal, "serving: %w", err)
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	if err := s.Shutdown(last); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return fault.New(fault.Internal, "ending: %w", err)
	}
	return nil
}

// programmes opens the programmes below a folder, each once.
type programmes struct {
	dir  string
	mu   sync.Mutex
	open map[string]*sqlite.Store
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
			if s, err = sqlite.Open(ctx, d); err != nil {
				return nil, err
			}
			p.open[d] = s
		}
		f := folderOf(s)
		f.Device = "web"
		out = append(out, web.Programme{Name: filepath.Base(d), Folder: f})
	}
	return out, nil
}

func (p *programmes) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range p.open {
		_ = s.Close() // checkpointed; what was acknowledged is kept either way
	}
}
