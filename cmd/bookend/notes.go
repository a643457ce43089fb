package main

import (
	"fmt"
	"io"
	"strings"

	"example.org/bookend/caveat"
)

// notes numbers caveats for a terminal: one that says the same of several
// places is one note that names them all. The zero value is ready to use.
type notes struct {
	list []note
}

type note struct {
	code, text string
	places     []string
}

// mark gives the number of the note, from 1, that says what c says.
func (n *notes) mark(c caveat.Caveat) int {
	place := c.Place.String()
	for i := range n.list {
		k := &n.list[i]
		if k.code != c.Code || k.text != c.Text {
			continue
		}
		for _, p := range k.places {
			if p == place {
				return i + 1
			}
		}
		k.places = append(k.places, place)
		return i + 1
	}
	n.list = append(n.list, note{code: c.Code, text: c.Text, places: []string{place}})
	return len(n.list)
}

// mostPlaces is how many places a note names before it counts the rest.
const mostPlaces = 4

// print writes the notes, numbers first, within 80 columns.
func (n *notes) print(out io.Writer) {
	for i, k := range n.list {
		places := k.places
		more := ""
		if len(places) > mostPlaces {
			more = fmt.Sprintf(" and %d more", len(places)-mostPlaces)
			places = places[:mostPlaces]
		}
		where := strings.Join(places, "; ") + more
		if where != "" {
			where += ": "
		}
		fmt.Fprintln(out, wrap(fmt.Sprintf("%d  %s%s", i+1, where, k.text), 78, "   "))
	}
}
