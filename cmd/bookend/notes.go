package main

import (
	"fmt"
	"io"

	"example.org/bookend/caveat"
)

// notes numbers caveats for a terminal. The zero value is ready to use.
type notes struct{ caveat.Notes }

// mark gives the number of the note, from 1, that says what c says.
func (n *notes) mark(c caveat.Caveat) int { return n.Mark(c) }

// any tells whether there are notes.
func (n *notes) any() bool { return len(n.List()) > 0 }

// print writes the notes, numbers first, within 80 columns.
func (n *notes) print(out io.Writer) {
	for i, k := range n.List() {
		where := caveat.Where(k.Places)
		if where != "" {
			where += ": "
		}
		fmt.Fprintln(out, wrap(fmt.Sprintf("%d  %s%s", i+1, where, k.Text), 78, "   "))
	}
}
