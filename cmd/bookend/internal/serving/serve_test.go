package serving

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/bookend/store/sqlite"
)

// The pages know the ground that a programme lies in, as the commands do: the
// record of its control takes part in what they say.
func TestPagesKnowTheGround(t *testing.T) {
	ctx := t.Context()
	ground := filepath.Join(t.TempDir(), "skerry-moor")
	g, err := sqlite.CreateGround(ctx, ground)
	if err != nil {
		t.Fatal(err)
	}
	if err := g.Close(); err != nil {
		t.Fatal(err)
	}
	alone := filepath.Join(t.TempDir(), "alone")
	for _, dir := range []string{filepath.Join(ground, "tarn"), alone} {
		s, err := sqlite.Create(ctx, dir)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for dir, want := range map[string]bool{ground: true, filepath.Join(ground, "tarn"): true, alone: false} {
		p := &programmes{dir: dir, open: map[string]*opened{}}
		all, err := p.list(ctx)
		if err != nil || len(all) != 1 {
			t.Fatalf("%s: %d programmes, %v", dir, len(all), err)
		}
		if got := all[0].Folder.Ground != nil; got != want {
			t.Errorf("%s: the ground is known: %v, want %v", dir, got, want)
		}
		p.close()
	}
}

// Clients that send their request a byte at a time, or never end its head, hold
// nobody else up and are let go; so is one whose head has no end.
func TestSlowClientsAreLetGo(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := patient(ctx, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { _, _ = io.Copy(w, r.Body) }))
	go func() { _ = server.Serve(l) }()
	defer func() { _ = server.Close() }()
	var slow []net.Conn
	began := time.Now()
	for i := range 200 {
		c, err := net.Dial("tcp", l.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = c.Close() }()
		if _, err := fmt.Fprintf(c, "GET /%d HTTP/1.1\r\nHost: localhost\r\nX-Slow: ", i); err != nil {
			t.Fatal(err)
		}
		slow = append(slow, c)
	}
	a, err := (&http.Client{Timeout: 2 * time.Second}).Post("http://"+l.Addr().String()+"/", "text/plain", strings.NewReader("in a hurry"))
	if err != nil {
		t.Fatalf("who is quick waits for the slow: %v", err)
	}
	_ = a.Body.Close()
	for i, c := range slow {
		if _, err := c.Write([]byte("x")); err != nil {
			continue // let go already
		}
		if err := c.SetReadDeadline(began.Add(15 * time.Second)); err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadAll(c); err != nil {
			if e, ok := err.(net.Error); ok && e.Timeout() {
				t.Fatalf("slow client %d is still held after %v", i, time.Since(began))
			}
		}
	}
	if took := time.Since(began); took < 4*time.Second {
		t.Errorf("the slow were let go after %v: nobody had the time to be slow", took)
	}
	c, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.Close() }()
	if _, err := fmt.Fprintf(c, "GET / HTTP/1.1\r\nHost: localhost\r\nX-Large: %s\r\n\r\n", strings.Repeat("x", 1<<18)); err != nil {
		return // refused while it was being sent
	}
	_ = c.SetReadDeadline(time.Now().Add(5 * time.Second))
	if b, _ := io.ReadAll(c); !strings.Contains(string(b), " 431 ") {
		t.Errorf("a head of 256 kB is answered %q", b)
	}
}
