// Package caveat holds what a reader must know about a number: doubt as data.
//
// A caveat travels with the number from the recording to the report, where it
// becomes a numbered footnote. It has a code that never changes its meaning, a
// place, and a sentence in plain words. It never stops anything; what stops is
// a fault.
package caveat

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Place says what a caveat is about; every field may be empty.
type Place struct {
	File    string   `json:"file,omitempty"`
	Line    int      `json:"line,omitempty"` // counted from 1
	Channel string   `json:"channel,omitempty"`
	Test    string   `json:"test,omitempty"`
	Measure string   `json:"measure,omitempty"`
	Code    string   `json:"code,omitempty"`
	Stint   string   `json:"stint,omitempty"`
	Run     string   `json:"run,omitempty"`
	TimeS   *float64 `json:"time_s,omitempty"` // seconds from the anchor of the recording
}

// At gives a time within a recording for Place.TimeS, in seconds.
func At(seconds float64) *float64 { return &seconds }

// String gives the place as people read it, outermost first.
func (p Place) String() string {
	var parts []string
	add := func(word, value string) {
		if value != "" {
			parts = append(parts, word+value)
		}
	}
	if p.File != "" && p.Line > 0 {
		add("", p.File+":"+strconv.Itoa(p.Line))
	} else {
		add("", p.File)
		if p.Line > 0 {
			add("line ", strconv.Itoa(p.Line))
		}
	}
	add("channel ", p.Channel)
	add("test ", p.Test)
	add("", p.Measure)
	add("code ", p.Code)
	add("stint ", p.Stint)
	add("run ", p.Run)
	if p.TimeS != nil {
		add("at ", strconv.FormatFloat(*p.TimeS, 'f', 3, 64)+" s")
	}
	return strings.Join(parts, ", ")
}

// Within fills the empty fields of p from outer: what is known of the place by
// whoever hands the caveat on.
func (p Place) Within(outer Place) Place {
	p.File = cmp.Or(p.File, outer.File)
	p.Line = cmp.Or(p.Line, outer.Line)
	p.Channel = cmp.Or(p.Channel, outer.Channel)
	p.Test = cmp.Or(p.Test, outer.Test)
	p.Measure = cmp.Or(p.Measure, outer.Measure)
	p.Code = cmp.Or(p.Code, outer.Code)
	p.Stint = cmp.Or(p.Stint, outer.Stint)
	p.Run = cmp.Or(p.Run, outer.Run)
	if p.TimeS == nil {
		p.TimeS = outer.TimeS
	}
	return p
}

// Caveat is one thing that a reader must know.
type Caveat struct {
	Code  string `json:"code"` // words joined by underscores, stable for ever
	Place Place  `json:"place"`
	Text  string `json:"text"` // what, and what it would change; a sentence with its full stop
}

// List is an ordered list of caveats. Its zero value is ready to use.
type List []Caveat

// Add appends a caveat; the text is formatted as by fmt.Sprintf.
func (l *List) Add(code string, place Place, format string, args ...any) {
	*l = append(*l, Caveat{Code: code, Place: place, Text: fmt.Sprintf(format, args...)})
}

// Within gives the list with the empty fields of every place filled from outer.
func (l List) Within(outer Place) List {
	out := slices.Clone(l)
	for i := range out {
		out[i].Place = out[i].Place.Within(outer)
	}
	return out
}

// Has tells whether the list holds a caveat with that code.
func (l List) Has(code string) bool {
	return slices.ContainsFunc(l, func(c Caveat) bool { return c.Code == code })
}

// Distinct gives the list without repetitions, in order of first appearance.
func (l List) Distinct() List {
	seen := make(map[string]bool, len(l))
	var out List
	for _, c := range l {
		key := c.Code + "\x00" + c.Place.String() + "\x00" + c.Text
		if !seen[key] {
			seen[key] = true
			out = append(out, c)
		}
	}
	return out
}
