package work_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/web/work"
)

// Who asks for the same meanwhile gets the same; cancelled, the work's context ends
// and its result says so; a failure is handed on.
func TestWork(t *testing.T) {
	var b work.Bench
	begun := 0
	wait := func(ctx context.Context, tell func(work.Far)) (any, error) {
		begun++
		tell(work.Far{Done: 1, Of: 3, Doing: "recordings read"})
		<-ctx.Done()
		return nil, ctx.Err()
	}
	p, err := b.Do("tarn/reduce", "Reading recordings", wait)
	if err != nil {
		t.Fatal(err)
	}
	if p.Within(context.Background(), 20*time.Millisecond) {
		t.Fatal("it ended by itself")
	}
	again, err := b.Do("tarn/reduce", "Reading recordings", wait)
	if err != nil || again != p || begun != 1 {
		t.Fatalf("asked for again, it was begun %d times: %v", begun, err)
	}
	if got := p.Far().Says(); got != "recordings read: 1 of 3" {
		t.Errorf("it says %q", got)
	}
	if same, err := b.Of(p.ID); err != nil || same != p {
		t.Errorf("by its id: %v", err)
	}
	p.Cancel()
	if _, err := b.Collect(p); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("cancelled, it gives %v", err)
	}
	if _, err := b.Of(p.ID); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("collected, it is still there: %v", err)
	}
	q, err := b.Do("tarn/order", "Searching", func(context.Context, func(work.Far)) (any, error) { return nil, errors.New("no order") })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Collect(q); err == nil || err.Error() != "no order" {
		t.Errorf("a failure gives %v", err)
	}
}

// There is only so much at a time.
func TestFull(t *testing.T) {
	var b work.Bench
	hold := func(ctx context.Context, _ func(work.Far)) (any, error) { <-ctx.Done(); return nil, ctx.Err() }
	var all []*work.Piece
	for i := range 17 {
		p, err := b.Do(string(rune('a'+i)), "Searching", hold)
		if i < 16 && err != nil || i == 16 && fault.CodeOf(err) != fault.Conflict {
			t.Fatalf("piece %d: %v", i+1, err)
		}
		if p != nil {
			all = append(all, p)
		}
	}
	for _, p := range all {
		p.Cancel()
		<-p.Done()
	}
}
