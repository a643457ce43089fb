// Package scan reads the rows of a text log whose dialect is known, into columns
// of numbers and of stamps.
//
// A file is cut into blocks of whole lines, which several processors read at
// once; joined in order they give the same table whatever their number. Empty lines
// are passed over; so are remarks (behind # or %) and the heading over again, which
// are counted. A line with too few cells lacks values at its end; one with
// too many, and a last line that was cut, are left out. Text or infinity in a column
// of numbers, and what is no time in one of times, is an invalid fault with file,
// line and column. Values are as the file has them, in its units; stamps are ns.
//
// No not-a-number leaves the room: a missing value lies outside the valid spans.
// Limits: a line is no longer than 1 MiB, and quotes do not run over its end.
package scan

import (
	"context"
	"sync"

	"example.org/bookend/ingest/delimited/charset"
	"example.org/bookend/ingest/delimited/dialect"
)

// Read reads the rows of a file whose dialect is known, text being all of it.
// With more than one worker, blocks of lines are read at once and joined in
// order: the result does not depend on how many there are.
func Read(ctx context.Context, d *dialect.Dialect, text charset.Text, name string, workers int) (*Table, error) {
	s := newScanner(d)
	r := &blocks{src: text.Rest, eol: d.EOL, head: text.Head, name: name}
	if err := r.pass(d.Skip); err != nil {
		return nil, err
	}
	t := &Table{Dialect: d, File: name, Text: make([]bool, len(s.acts)), acts: s.acts}
	var err error
	if workers <= 1 {
		err = s.alone(ctx, r, t)
	} else {
		err = s.together(ctx, r, t, workers)
	}
	if err != nil {
		return nil, err
	}
	t.nuls = r.nuls
	return t, nil
}

// alone reads block after block.
func (s *scanner) alone(ctx context.Context, r *blocks, t *Table) error {
	var b []byte
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		var last, open bool
		var err error
		b, last, open, err = r.next(b)
		if err != nil || b == nil {
			return err
		}
		if err := t.take(s.block(b, last, open)); err != nil {
			return err
		}
	}
}

// together reads several blocks at once, and takes them in order.
func (s *scanner) together(ctx context.Context, r *blocks, t *Table, workers int) error {
	type job struct {
		b          []byte
		last, open bool
		out        chan *piece
	}
	stop := make(chan struct{})
	jobs := make(chan job, workers)
	order := make(chan chan *piece, 2*workers)
	spare := make(chan []byte, 4*workers) // buffers that have been read
	var failed error
	var wg sync.WaitGroup
	wg.Go(func() {
		defer close(order)
		defer close(jobs)
		for {
			var buf []byte
			select {
			case buf = <-spare:
			default:
			}
			b, last, open, err := r.next(buf)
			if err != nil {
				failed = err // read after order is closed
				return
			}
			if b == nil {
				return
			}
			j := job{b, last, open, make(chan *piece, 1)}
			select {
			case order <- j.out:
			case <-stop:
				return
			}
			select {
			case jobs <- j:
			case <-stop:
				return
			}
		}
	})
	for range workers {
		wg.Go(func() {
			for j := range jobs {
				j.out <- s.block(j.b, j.last, j.open)
				select {
				case spare <- j.b:
				default:
				}
			}
		})
	}
	defer wg.Wait()
	defer close(stop)
	for out := range order {
		if err := ctx.Err(); err != nil {
			return err
		}
		var p *piece
		select {
		case p = <-out:
		case <-ctx.Done():
			return ctx.Err()
		}
		if err := t.take(p); err != nil {
			return err
		}
	}
	return failed
}
