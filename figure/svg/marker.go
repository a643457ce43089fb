package svg

import (
	"strconv"

	"example.org/bookend/figure/draft"
)

// outlines are the codes' markers on a square of 16.
var outlines = map[draft.Shape]string{
	"square":        "M1.5 1.5h13v13h-13z",
	"disc":          "M8 1a7 7 0 1 1 0 14a7 7 0 1 1 0-14z",
	"triangle":      "M8 .5L15.8 15H.2z",
	"triangle-down": "M8 15.5L.2 1h15.6z",
	"diamond":       "M8 0l8 8-8 8-8-8z",
	"cross":         "M5.3.5h5.4v4.8h4.8v5.4h-4.8v4.8H5.3v-4.8H.5V5.3h4.8z",
	"hexagon":       "M.3 8L4.1 1.4h7.8L15.7 8l-3.8 6.6H4.1z",
}

// Marker gives a code's marker as a picture of its own, in the colour of the text
// around it, of the class mk and so many user units wide. It is hidden from those
// who hear the page: the code's letter stands beside it.
func Marker(s draft.Shape, size int) string {
	n := strconv.Itoa(size)
	return `<svg class="mk" viewBox="0 0 16 16" width="` + n + `" height="` + n + `" aria-hidden="true"><path fill="currentColor" d="` + outlines[s] + `"/></svg>`
}
