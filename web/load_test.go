package web_test

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/web"
)

// fortyStints is a made-up table of 40 stints of 10 runs: K opens, closes and comes
// back after every second candidate.
func fortyStints() string {
	var b strings.Builder
	b.WriteString("stint,code,run,value\n")
	for s := range 40 {
		code := []string{"P", "R", "T", "W"}[s%4]
		if s%3 == 0 {
			code = "K"
		}
		for r := range 10 {
			fmt.Fprintf(&b, "%d,%s,%d,%.2f\n", s+1, code, r+1, 31+float64(code[0]%5)/2+float64((s*7+r*13)%11)/20)
		}
	}
	return b.String()
}

// Fifty people at once, each with a page open that follows changes, read pages and
// write entries: nobody is answered an error, nothing that was acknowledged is lost,
// nothing is kept twice, and every open page is told. Times are measured by
// bench/desk, not here.
func TestFiftyPeopleAtOnce(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	store, err := sqlite.Create(ctx, filepath.Join(t.TempDir(), "tarn"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	f := &app.Folder{Store: app.Remember(store), Author: "lead", Device: "test", Now: time.Now}
	if err := f.Begin(ctx, programme.Programme{Title: "Forty stints"}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "stops.csv")
	if err := os.WriteFile(path, []byte(fortyStints()), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Import(ctx, app.ImportRequest{Test: "wet-stop", Better: programme.Lower, Paths: []string{path}}); err != nil {
		t.Fatal(err)
	}
	h, err := web.New(web.Options{Programmes: func(context.Context) ([]web.Programme, error) {
		return []web.Programme{{Name: "tarn", Folder: f}}, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	s := &served{t: t, url: server.URL, folder: f, client: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 50}}}
	const people, each = 50, 6
	var told [people]atomic.Int64
	listening, stop := context.WithCancel(ctx)
	var ears, all sync.WaitGroup
	defer ears.Wait()
	defer stop()
	for who := range people {
		ears.Go(func() {
			r, err := http.NewRequestWithContext(listening, "GET", s.url+"/p/tarn/changes", nil)
			if err != nil {
				t.Error(err)
				return
			}
			a, err := (&http.Client{}).Do(r)
			if err != nil {
				t.Error(err)
				return
			}
			defer func() { _ = a.Body.Close() }()
			for lines := bufio.NewScanner(a.Body); lines.Scan(); {
				if strings.HasPrefix(lines.Text(), "data: ") {
					told[who].Add(1)
				}
			}
		})
	}
	pages := []string{"/", "/p/tarn/brief", "/p/tarn/day", "/p/tarn/recordings", "/p/tarn/verdicts", "/p/tarn/runs/wet-stop/2%2F3", "/p/tarn/report", "/p/tarn/report/whole"}
	for who := range people {
		all.Go(func() {
			for i := 1; i <= each; i++ {
				if status, body := s.get(pages[(who+i)%len(pages)]); status != http.StatusOK {
					t.Errorf("%s answers %d: %s", pages[(who+i)%len(pages)], status, body)
				}
				id := fmt.Sprintf("01890a5d-ac96-774b-%04x-%012x", 0x8000+who, i)
				entry := fmt.Sprintf(`{"id":%q,"kind":"remark","version":1,"body":{"text":"remark %d"},"author":"lead","device":"tablet %d","counter":%d,"device_time":{"unix_ns":1778666400000000000,"clock":"device"}}`, id, i, who, i)
				for range 2 { // the second time as if the answer had been lost
					r, err := http.NewRequest("PUT", s.url+"/p/tarn/day/outbox/"+id, strings.NewReader(entry))
					if err != nil {
						t.Error(err)
						return
					}
					if status, body := s.do(r); status != http.StatusOK {
						t.Errorf("an entry is answered %d: %s", status, body)
					}
				}
			}
		})
	}
	all.Wait()
	for who := range people {
		for told[who].Load() < 2 {
			select {
			case <-ctx.Done():
				t.Fatalf("the page of person %d was told %d times", who, told[who].Load())
			case <-time.After(20 * time.Millisecond):
			}
		}
	}
	entries, err := store.Entries(ctx, 0)
	if err != nil {
		t.Fatal(err)
	}
	remarks := map[string]int{}
	for _, e := range entries {
		if e.Kind == "remark" {
			remarks[e.ID]++
		}
	}
	if len(remarks) != people*each {
		t.Errorf("%d remarks are kept, want %d", len(remarks), people*each)
	}
	if err := store.Verify(ctx); err != nil {
		t.Error(err)
	}
}

// Looking at verdicts again, or somebody else looking, enters nothing new, and an
// open page is not told to load again by its own look.
func TestALookIsEnteredOnce(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	count := func() (n int) {
		all, err := s.folder.Store.Entries(context.Background(), 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range all {
			if e.Kind == app.KindOpened {
				n++
			}
		}
		return n
	}
	s.get("/p/tarn/verdicts")
	if n := count(); n != 1 {
		t.Fatalf("the first look made %d entries", n)
	}
	_, first := s.get("/p/tarn/verdicts")
	for _, at := range []string{"/p/tarn/verdicts", "/p/tarn/report", "/p/tarn/report/whole", "/p/tarn/verdicts?open=x"} {
		s.get(at)
	}
	if n := count(); n != 1 {
		t.Errorf("the same verdicts, seen again, made %d entries", n)
	}
	if _, last := s.get("/p/tarn/verdicts"); first != last {
		t.Error("the page changed by being looked at")
	}
}
