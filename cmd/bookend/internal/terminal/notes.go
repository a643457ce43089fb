package terminal

import (
	"fmt"
	"io"

	"example.org/bookend/caveat"
)

// Notes numbers caveats for a terminal. The zero value is ready to use.
type Notes struct{ caveat.Notes }

// Any tells whether there are notes.
func (n *Notes) Any() bool { return len(n.List()) > 0 }

// Print writes the notes, numbers first, within 80 columns.
func (n *Notes) Print(out io.Writer) {
	for i, k := range n.List() {
		where := caveat.Where(k.Places)
		if where != "" {
			where += ": "
		}
		fmt.Fprintln(out, Wrap(fmt.Sprintf("%d  %s%s", i+1, where, k.Text), 78, "   "))
	}
}

// NotesOf numbers caveats in their order.
func NotesOf(list caveat.List) *Notes {
	var n Notes
	for _, c := range list {
		n.Mark(c)
	}
	return &n
}

// PrintApart writes the notes under an empty line; nothing where there are none.
func (n *Notes) PrintApart(out io.Writer) {
	if n.Any() {
		fmt.Fprintln(out)
		n.Print(out)
	}
}
