package main

import (
	"fmt"
	"io"
	"os"
	"time"
)

// progress tells on a terminal what is being done, once it takes longer than a
// second; elsewhere it is silent.
type progress struct {
	out   io.Writer // nil: silent
	began time.Time
	shown bool
}

// newProgress writes to out if that is a terminal.
func newProgress(out io.Writer) *progress {
	p := &progress{began: time.Now()}
	if f, ok := out.(*os.File); ok {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			p.out = out
		}
	}
	return p
}

// step says that the i-th of n is under way.
func (p *progress) step(i, n int, what string) {
	if p.out == nil || time.Since(p.began) < time.Second {
		return
	}
	fmt.Fprintf(p.out, "\r\x1b[K%d of %d: %s", i, n, what)
	p.shown = true
}

// done clears the line.
func (p *progress) done() {
	if p.shown {
		fmt.Fprint(p.out, "\r\x1b[K")
	}
}
