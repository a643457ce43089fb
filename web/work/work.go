// Package work keeps what pages have begun and that is not done yet: the search
// for an order, recordings that are reduced, a report. Whoever asked is answered
// at once where it is done within a moment; otherwise told how far it is, may call
// again, and may cancel it.
//
// Work is known by what it is about: who asks for the same meanwhile waits for the
// same. It is cancelled through its context, by a person or by the bench's end,
// never because the one who asked went away. Limits: what is done is kept for
// five minutes and for one collection, and sixteen pieces at most.
package work

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"example.org/bookend/fault"
)

const (
	kept = 5 * time.Minute // how long a result waits for whoever asked; a choice
	most = 16              // pieces of work at a time; a choice, for one laptop
)

// Far is how far a piece of work is. Of is 0 where it is not known beforehand.
type Far struct {
	Done, Of int
	Doing    string // in words that every role may read
}

// Piece is one piece of work.
type Piece struct {
	ID    string
	Title string // what is done, in words that every role may read
	About string // whose and what it is: the same asks for the same

	begun  time.Time
	cancel context.CancelFunc
	done   chan struct{}

	mu     sync.Mutex
	far    Far
	result any
	err    error
	ended  time.Time
}

// Bench is where work lies. Its zero value is ready.
type Bench struct {
	mu     sync.Mutex
	pieces []*Piece
}

// Do gives the piece of work about something, beginning it where there is none. The
// work is handed a context of its own and a way to tell how far it is.
func (b *Bench) Do(about, title string, do func(ctx context.Context, tell func(Far)) (any, error)) (*Piece, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	now := time.Now()
	b.pieces = slices.DeleteFunc(b.pieces, func(p *Piece) bool { return p.over(now) })
	for _, p := range b.pieces {
		if p.About == about {
			return p, nil
		}
	}
	running := 0
	for _, p := range b.pieces {
		if !p.Ended() {
			running++
		}
	}
	if running >= most {
		return nil, fault.New(fault.Conflict, "%d pieces of work are under way already", running).WithHint("wait until one is done, or cancel one")
	}
	ctx, cancel := context.WithCancel(context.Background())
	p := &Piece{ID: rand.Text(), Title: title, About: about, begun: now, cancel: cancel, done: make(chan struct{})}
	b.pieces = append(b.pieces, p)
	go func() {
		defer cancel()
		result, err := do(ctx, p.tell)
		p.mu.Lock()
		p.result, p.err, p.ended = result, err, time.Now()
		p.mu.Unlock()
		close(p.done)
	}()
	return p, nil
}

// Of gives the piece of that id.
func (b *Bench) Of(id string) (*Piece, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, p := range b.pieces {
		if p.ID == id {
			return p, nil
		}
	}
	return nil, fault.New(fault.NotFound, "there is no work %q", id).WithHint("it was done long ago, or never begun")
}

// Collect takes what is done off the bench and gives it.
func (b *Bench) Collect(p *Piece) (any, error) {
	<-p.done
	b.mu.Lock()
	b.pieces = slices.DeleteFunc(b.pieces, func(o *Piece) bool { return o == p })
	b.mu.Unlock()
	if errors.Is(p.err, context.Canceled) {
		return nil, fault.New(fault.Conflict, "%s was cancelled", p.Title).WithHint("nothing of it was kept; ask for the page again to begin it anew")
	}
	return p.result, p.err
}

// over tells whether nobody came for what is done.
func (p *Piece) over(now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return !p.ended.IsZero() && now.Sub(p.ended) > kept
}

func (p *Piece) tell(f Far) {
	p.mu.Lock()
	p.far = f
	p.mu.Unlock()
}

// Cancel ends the work; what it gives is that it was cancelled.
func (p *Piece) Cancel() { p.cancel() }

// Ended tells whether the work is done, failed or cancelled.
func (p *Piece) Ended() bool {
	select {
	case <-p.done:
		return true
	default:
		return false
	}
}

// Within waits for the end, so long at most, and tells whether it came. Who asked
// may go meanwhile.
func (p *Piece) Within(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-p.done:
		return true
	case <-t.C:
		return false
	case <-ctx.Done():
		return false
	}
}

// Done is closed when the work has ended.
func (p *Piece) Done() <-chan struct{} { return p.done }

// Far tells how far it is.
func (p *Piece) Far() Far {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.far
}

// Says gives how far it is, in words.
func (f Far) Says() string {
	switch {
	case f.Of > 0 && f.Doing != "":
		return fmt.Sprintf("%s: %d of %d", f.Doing, f.Done, f.Of)
	case f.Doing != "":
		return f.Doing
	}
	return "under way"
}

// Since gives for how long it has been under way, in whole s.
func (p *Piece) Since() int { return int(time.Since(p.begun).Seconds()) }
