package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/fault"
	"example.org/bookend/web/form"
	"example.org/bookend/web/work"
)

// moment is how long a page is waited for before it is said how far it is.
const moment = time.Second // look.md: what takes longer shows its progress

// waiting says that what a page needs is under way.
type waiting struct{ on *work.Piece }

func (w *waiting) Error() string { return w.on.Title + " is under way" }

// awaited has work done that may take a while. A person who opened a page in a
// browser is told how far it is once a moment has passed, and may cancel it;
// everybody else, and whoever sends a form, waits for it.
func awaited[T any](f *face, r *http.Request, about, title string, do func(ctx context.Context, tell func(work.Far)) (T, error)) (T, error) {
	var none T
	p, err := f.work.Do(about, title, func(ctx context.Context, tell func(work.Far)) (any, error) { return do(ctx, tell) })
	if err != nil {
		return none, err
	}
	if watched(r) {
		if !p.Within(r.Context(), moment) {
			return none, &waiting{p}
		}
	} else {
		select {
		case <-p.Done():
		case <-r.Context().Done():
			return none, r.Context().Err()
		}
	}
	v, err := f.work.Collect(p)
	if err != nil {
		return none, err
	}
	return v.(T), nil
}

// watched tells whether a person opened a page that may say how far it is. The day's
// page may not: a tablet keeps what it is answered, for when there is no network.
func watched(r *http.Request) bool {
	return r.Method == http.MethodGet && r.Header.Get("Sec-Fetch-Dest") == "document" && !strings.HasSuffix(r.URL.Path, "/day")
}

// reported gives the report of all tests of a programme, telling how far it is
// where it is not made yet.
func (f *face) reported(r *http.Request, p Programme, a asked) (*made, error) {
	if !watched(r) || a.control == "" {
		return f.document(r.Context(), p, a)
	}
	k := f.kept.programme(p.Name)
	if k.mu.TryLock() {
		ready := k.reports[a.key()] != nil
		k.mu.Unlock()
		if ready {
			return f.document(r.Context(), p, a)
		}
	}
	s, err := app.Rebuild(r.Context(), p.Folder.Store)
	if err != nil {
		return nil, err
	}
	return awaited(f, r, strings.Join([]string{p.Name, "report", s.Head, a.key()}, "/"), "Comparing all tests", func(ctx context.Context, tell func(work.Far)) (*made, error) {
		tell(work.Far{Doing: "verdicts and figures are made"})
		return f.document(ctx, p.telling(tell), a)
	})
}

// telling gives a programme whose reductions tell how far they are.
func (p Programme) telling(tell func(work.Far)) Programme {
	own := *p.Folder
	own.Progress = func(i, n int, _ string) { tell(work.Far{Done: i, Of: n, Doing: "recordings reduced"}) }
	p.Folder = &own
	return p
}

// seeing gives a programme as it stands, telling how far it is where recordings
// have to be reduced first.
func (f *face) seeing(r *http.Request, p Programme) (*seen, error) {
	if !watched(r) {
		return f.see(r.Context(), p)
	}
	s, err := app.Rebuild(r.Context(), p.Folder.Store)
	if err != nil {
		return nil, err
	}
	if k := f.kept.programme(p.Name); k.mu.TryLock() {
		ready := k.seen != nil && k.seen.state.Drives == s.Drives
		k.mu.Unlock()
		if ready {
			return f.see(r.Context(), p)
		}
	}
	return awaited(f, r, p.Name+"/see/"+s.Head, "Putting the programme together", func(ctx context.Context, tell func(work.Far)) (*seen, error) {
		tell(work.Far{Doing: "entries are read"})
		return f.see(ctx, p.telling(tell))
	})
}

// waited is the body of a page that says how far something is.
type waited struct {
	Piece     *work.Piece
	Far       work.Far
	Says      string
	Back      string
	Cancelled bool
}

// waits shows how far something is. The page calls again by itself.
func (f *face) waits(w http.ResponseWriter, r *http.Request, p *work.Piece) error {
	far := p.Far()
	w.Header().Set("Cache-Control", "no-store")
	v := frame{Title: say(p.Title, " takes a while"), Below: say("It goes on while you look elsewhere; this page opens when it is done."), Scripts: []string{"work.js"},
		Again: true, Body: waited{Piece: p, Far: far, Says: form.Sentence(far.Says()), Back: r.URL.RequestURI()}}
	return f.hand(w, r, http.StatusAccepted, "work", v, nil)
}

// far tells a page how far something is, as it is asked.
func (f *face) far(w http.ResponseWriter, r *http.Request) error {
	p, err := f.work.Of(r.PathValue("id"))
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	said := struct {
		Says  string `json:"says"`
		Done  int    `json:"done"`
		Of    int    `json:"of"`
		Ended bool   `json:"ended"`
	}{Ended: true}
	if err == nil {
		p.Within(r.Context(), moment/2)
		far := p.Far()
		said.Says, said.Done, said.Of, said.Ended = fmt.Sprintf("%s, for %d s", form.Sentence(far.Says()), p.Since()), far.Done, far.Of, p.Ended()
	}
	b, err := json.Marshal(said)
	if err != nil {
		return fault.New(fault.Internal, "telling how far it is: %w", err)
	}
	_, _ = w.Write(b) // whoever asked may be gone
	return nil
}

// cancel ends work that somebody waits for.
func (f *face) cancel(w http.ResponseWriter, r *http.Request) error {
	if err := readForm(r); err != nil {
		return err
	}
	p, err := f.work.Of(r.PathValue("id"))
	if err != nil {
		return err
	}
	p.Cancel()
	select {
	case <-p.Done():
		_, _ = f.work.Collect(p) // that it was cancelled is what the page says
	case <-time.After(5 * time.Second): // it ends at its next step
	}
	v := frame{Title: say(p.Title, " was cancelled"), Below: say("Nothing of it was kept."), Body: waited{Back: local(r.PostForm.Get("back")), Cancelled: true}}
	return f.hand(w, r, http.StatusOK, "work", v, nil)
}
