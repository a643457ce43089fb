// Package strips makes what a page draws of channels, one strip below the other: for each
// column of the picture the least and the greatest value of every line in it, in the
// reader's units, and what each channel is at a place.
//
// One recording has one line a strip, over time. Runs laid over each other have a line a
// run, over the stations of their course or over time since each passed a common gate.
// Values come as they are reduced, in the units in which people see them; places in m and
// s. Limits: at most mostStrips strips of mostColumns columns are given at once.
package strips

import (
	"math"
	"net/url"
	"strconv"

	"example.org/bookend/app/trace"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// mostStrips is how many channels are drawn below each other, and mostColumns how wide
// a picture may be asked for (own choices: more is not read on one screen).
const (
	mostStrips  = 8
	mostColumns = 4000
)

// Window is a part of some strips as a script takes it.
type Window struct {
	From   float64 `json:"from"` // in s or m, as it was asked
	To     float64 `json:"to"`
	First  float64 `json:"first"` // of all there is
	Last   float64 `json:"last"`
	Strips []Strip `json:"strips"`
	Says   string  `json:"says,omitempty"` // what stands at the place asked for, in words
}

// Strip is one channel.
type Strip struct {
	Channel string     `json:"channel"` // as it is recorded
	Title   string     `json:"title"`
	Unit    string     `json:"unit"`  // symbol, empty for a share
	Range   [2]float64 `json:"range"` // least and greatest of all that is drawn
	Lines   []Line     `json:"lines"`

	digits int // that a value is written with
	show   shown
}

// Line is one recording's or one run's values.
type Line struct {
	Code string  `json:"code,omitempty"`
	Run  string  `json:"run,omitempty"`
	Low  columns `json:"low"`
	High columns `json:"high"`
	At   string  `json:"at,omitempty"` // value at the place asked for

	at float64
	ok bool
}

// At gives what a code's line is at the place asked for; empty where that is not known.
func (s Strip) At(code string) string {
	for _, l := range s.Lines {
		if l.Code == code {
			return l.At
		}
	}
	return ""
}

// columns is one end of a line's columns.
type columns struct {
	of     []trace.Column
	high   bool
	show   shown
	digits int
}

// MarshalJSON writes a list of numbers, null where no valid sample lies, with no more
// digits than are seen.
func (c columns) MarshalJSON() ([]byte, error) {
	b := make([]byte, 0, 2+7*len(c.of))
	b = append(b, '[')
	for i, x := range c.of {
		if i > 0 {
			b = append(b, ',')
		}
		v := x.Low
		if c.high {
			v = x.High
		}
		if x.Empty {
			b = append(b, "null"...)
		} else {
			b = strconv.AppendFloat(b, c.show.from(v), 'f', c.digits, 64)
		}
	}
	return append(b, ']'), nil
}

// shown is the unit in which a channel is shown; the zero value shows it as it is.
type shown struct{ unit unit.Unit }

func (s shown) from(v float64) float64 {
	if s.unit.IsZero() {
		return v
	}
	return s.unit.FromHouse(v)
}

// shownIn gives the unit in which this reader sees a channel of a unit.
func shownIn(symbol string, style unit.Style) shown {
	u, ok := unit.Known(symbol)
	if !ok || u.Symbol() == "" || u != u.House() {
		return shown{}
	}
	return shown{style.Of(unit.Rim(u.Dimension()))}
}

// digits gives the decimals at which one part in so many of a range is seen.
func digits(low, high float64, parts float64) int {
	if !(high > low) {
		return 2
	}
	return min(9, max(0, int(math.Ceil(-math.Log10((high-low)/parts)-1e-9))))
}

// Parts of a range that are told apart: by a picture four thousand columns high and wide,
// and by who reads a number (own choices).
const (
	drawnParts = 8000
	readParts  = 500
)

// strip begins the strip of a channel.
func strip(c trace.Channel, style unit.Style) Strip {
	s := Strip{Channel: c.Name, Title: Title(c.Name), Unit: c.Unit, show: shownIn(c.Unit, style), Lines: []Line{}}
	if !s.show.unit.IsZero() {
		s.Unit = s.show.unit.Symbol()
	}
	if s.Unit == "1" {
		s.Unit = ""
	}
	s.widen(c.Low, c.High)
	return s
}

// widen takes a further range in.
func (s *Strip) widen(low, high float64) {
	low, high = s.show.from(low), s.show.from(high)
	if len(s.Lines) > 0 {
		low, high = math.Min(low, s.Range[0]), math.Max(high, s.Range[1])
	}
	s.Range = [2]float64{low, high}
	s.digits = digits(low, high, readParts)
}

// put adds a line.
func (s *Strip) put(l Line, of []trace.Column) {
	d := digits(s.Range[0], s.Range[1], drawnParts)
	l.Low, l.High = columns{of, false, s.show, d}, columns{of, true, s.show, d}
	s.Lines = append(s.Lines, l)
}

// number writes a value with the strip's unit.
func (s *Strip) number(v float64, style unit.Style) string {
	n := unit.Number(s.show.from(v), s.digits, style)
	if s.Unit == "" || s.show.unit.IsZero() {
		return n
	}
	return s.show.unit.Label(n, style)
}

// Title gives a channel's name without its unit, in words.
func Title(name string) string {
	if stem, _, ok := unit.SplitName(name); ok && stem != "" {
		name = stem
	}
	b := []byte(name)
	for i := range b {
		if b[i] == '_' {
			b[i] = ' '
		}
	}
	return string(b)
}

// Ask is which part of what there is a picture shows.
type Ask struct {
	Columns  int
	From, To *float64 // nil: the whole
}

// Asked reads an address.
func Asked(q url.Values) (Ask, error) {
	var a Ask
	var err error
	if a.Columns, err = strconv.Atoi(q.Get("columns")); err != nil || a.Columns < 1 || a.Columns > mostColumns {
		return a, fault.New(fault.Invalid, "traces are drawn in 1 to %d columns", mostColumns)
	}
	for _, end := range []struct {
		name string
		at   **float64
	}{{"from", &a.From}, {"to", &a.To}} {
		if *end.at, err = place(q, end.name); err != nil {
			return a, err
		}
	}
	return a, nil
}

// place reads one number of an address; nil where there is none.
func place(q url.Values, name string) (*float64, error) {
	text := q.Get(name)
	if text == "" {
		return nil, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, fault.New(fault.Invalid, "%q is no place to begin or end at", text)
	}
	return &v, nil
}

// window begins a window on what there is.
func (a Ask) window(first, last float64) (*Window, error) {
	w := &Window{From: first, To: last, First: first, Last: last, Strips: []Strip{}}
	if a.From != nil {
		w.From = *a.From
	}
	if a.To != nil {
		w.To = *a.To
	}
	if !(w.To > w.From) {
		return nil, fault.New(fault.Invalid, "the window ends before it begins")
	}
	return w, nil
}

// OfRecording gives the channels of a recording over time.
func OfRecording(t *trace.Traces, a Ask, style unit.Style) (*Window, error) {
	w, err := a.window(t.FromS, t.ToS)
	if err != nil {
		return nil, err
	}
	for _, c := range trace.Shown(t.Channels, mostStrips) {
		s := strip(c, style)
		s.put(Line{}, c.Columns(w.From, w.To, a.Columns))
		w.Strips = append(w.Strips, s)
	}
	return w, nil
}
