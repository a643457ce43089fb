package folders

import (
	"fmt"
	"io"

	"example.org/bookend/app"
	"example.org/bookend/caveat"
	"example.org/bookend/cmd/bookend/internal/terminal"
)

// sayDoubts prints what makes the place of a programme a doubtful one.
func sayDoubts(out io.Writer, s app.Store) {
	placed, ok := s.(interface{ Doubts() caveat.List })
	if !ok {
		return
	}
	for _, c := range placed.Doubts() {
		fmt.Fprintln(out, terminal.Wrap(c.Text, 80, "  "))
	}
}
