package terminal

import (
	"fmt"
	"io"
	"os"
	"time"
)

// Progress tells on a terminal what is being done, once it takes longer than a
// second; elsewhere it is silent.
type Progress struct {
	out   io.Writer // nil: silent
	began time.Time
	shown bool
}

// NewProgress writes to out if that is a terminal.
func NewProgress(out io.Writer) *Progress {
	p := &Progress{began: time.Now()}
	if f, ok := out.(*os.File); ok {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			p.out = out
		}
	}
	return p
}

// Step says that the i-th of n is under way.
func (p *Progress) Step(i, n int, what string) {
	if p.out == nil || time.Since(p.began) < time.Second {
		return
	}
	fmt.Fprintf(p.out, "\r\x1b[K%d of %d: %s", i, n, what)
	p.shown = true
}

// Done clears the line.
func (p *Progress) Done() {
	if p.shown {
		fmt.Fprint(p.out, "\r\x1b[K")
	}
}
