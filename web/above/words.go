package above

import (
	"fmt"
	"math"
	"strings"

	"example.org/bookend/app/lines"
	"example.org/bookend/figure"
	"example.org/bookend/report"
	"example.org/bookend/unit"
)

// Row is where one code is at a station, in the reader's units.
type Row struct {
	Code                       string
	Gain, Aside, Spread, Speed string
	ConesLeft, ConesRight      string   // room to the cones; empty where none stand
	Run                        string   // that is driven again
	To                         string   // its page
	Runs                       []string // that can be driven again
	Dash                       string   // of its line, in px; empty for a solid one
}

// Scale is how the reader wants lengths and speeds: what m and m/s are multiplied by, the
// units' symbols, and the decimals of stations and of offsets.
type Scale struct {
	Length, Speed     float64
	LengthIn, SpeedIn string
	Station, Offset   int
}

// ScaleOf gives a reader's scale.
func ScaleOf(style unit.Style) Scale {
	length, speed := style.Of(unit.Metre), style.Of(unit.KilometrePerHour)
	return Scale{length.FromHouse(1), speed.FromHouse(1), length.Symbol(), speed.Symbol(), style.Digits(unit.Metre, 1), style.Digits(unit.Metre, 2)}
}

// length writes a length in m without its unit.
func (s Scale) length(m float64, style unit.Style) string {
	return unit.Number(m*s.Length, s.Offset, style)
}

// interval writes the ends of an interval of lengths in m.
func (s Scale) interval(low, high float64, style unit.Style) string {
	return " (" + unit.SignedInterval(s.Length*low, s.Length*high, s.Offset, style) + ")"
}

// Rows says where everybody is at a place of the stations.
func Rows(l *lines.Lines, codes figure.Codes, at int, style unit.Style) []Row {
	by := ScaleOf(style)
	var out []Row
	for _, q := range l.Codes {
		row := Row{Code: q.Code, Gain: unit.Signed(q.Gain[at], 2, style), Aside: unit.Signed(by.Length*q.Aside[at], by.Offset, style), Run: q.Driven.Run, Dash: dash(codes, q.Code)}
		if q.Low != nil {
			row.Aside += by.interval(q.Low[at], q.High[at], style)
		}
		if q.Code == l.Control {
			row.Gain, row.Aside = "control", "control"
		}
		if q.Spread != nil {
			row.Spread = by.length(q.Spread[at], style)
		}
		if q.Speed != nil {
			row.Speed = unit.Number(by.Speed*q.Speed[at], 1, style)
		}
		cones, _ := l.ToCones(q.Code, at)
		for _, c := range cones {
			if c.Side == "left" {
				row.ConesLeft = by.length(c.Room, style)
			} else {
				row.ConesRight = by.length(c.Room, style)
			}
		}
		for _, x := range l.Runs() {
			if x.Code == q.Code {
				row.Runs = append(row.Runs, x.Run)
			}
		}
		out = append(out, row)
	}
	return out
}

// HasCones tells whether room to cones is known of any code.
func HasCones(l *lines.Lines) bool {
	for _, q := range l.Codes {
		if _, ok := l.ToCones(q.Code, 0); ok {
			return true
		}
	}
	return false
}

// ToCones is the word that stands in an address for the cones, where room is asked for
// between a code and them; no code is called so.
const ToCones = "cones"

// RoomWords says how much room there is between two codes at a place of the stations.
func RoomWords(l *lines.Lines, r lines.Room, at int, style unit.Style) string {
	by, side, sign := r.Left[at], "left", 1.0
	if by < 0 {
		by, side, sign = -by, "right", -1
	}
	s := ScaleOf(style)
	out := fmt.Sprintf("%s lies %s to the %s of %s at %s", r.Of, style.Of(unit.Metre).Format(by, s.Offset, style), side, r.From, style.Of(unit.Metre).Format(l.Station[at], s.Station, style))
	if r.Low != nil {
		low, high := sign*r.Low[at], sign*r.High[at]
		out += s.interval(math.Min(low, high), math.Max(low, high), style)
	}
	return out
}

// ConeWords says how much room there is between a code's body and the cones at a place of
// the stations.
func ConeWords(l *lines.Lines, of string, at int, style unit.Style) string {
	s := ScaleOf(style)
	cones, _ := l.ToCones(of, at)
	where := style.Of(unit.Metre).Format(l.Station[at], s.Station, style)
	if len(cones) == 0 {
		return "No cones stand beside " + of + " at " + where
	}
	var parts []string
	for _, c := range cones {
		what := "the cones"
		if len(l.Ways) == 0 {
			what = "the cone"
		}
		words := "has " + style.Of(unit.Metre).Format(c.Room, s.Offset, style) + " to "
		if c.Room < 0 {
			words = "reaches " + style.Of(unit.Metre).Format(-c.Room, s.Offset, style) + " past "
		}
		words += what + " on its " + c.Side
		if c.High > c.Low {
			low, high := c.Low, c.High
			if c.Room < 0 {
				low, high = -high, -low
			}
			words += s.interval(low, high, style)
		}
		parts = append(parts, words)
	}
	return of + " " + strings.Join(parts, " and ") + " at " + where
}

// TightestWords says which code comes nearest to the cones, and where; empty where that is
// not known.
func TightestWords(l *lines.Lines, style unit.Style) string {
	code, at, c, ok := l.Tightest()
	if !ok {
		return ""
	}
	s := ScaleOf(style)
	length, where := style.Of(unit.Metre).Format(math.Abs(c.Room), s.Offset, style), style.Of(unit.Metre).Format(l.Station[at], s.Station, style)
	if c.Room < 0 {
		return fmt.Sprintf(" Nearest to the cones: %s, %s past those on its %s at %s.", code, length, c.Side, where)
	}
	return fmt.Sprintf(" Nearest to the cones: %s, with %s to those on its %s at %s.", code, length, c.Side, where)
}

// Widest gives the room of the code whose mean line comes farthest from the control's.
func Widest(l *lines.Lines) lines.Room {
	var out lines.Room
	for i, q := range l.Codes[1:] {
		r, _ := l.Between(q.Code, l.Control)
		if i == 0 || math.Abs(r.Left[r.Widest]) > math.Abs(out.Left[out.Widest]) {
			out = r
		}
	}
	return out
}

// Nearest gives the place of a rising list that lies nearest to a value.
func Nearest(x []float64, at float64) int {
	best := 0
	for i := range x {
		if math.Abs(x[i]-at) < math.Abs(x[best]-at) {
			best = i
		}
	}
	return best
}

// Title says who was farthest ahead of the control at the end, and who farthest behind
// it.
func Title(l *lines.Lines, style unit.Style) report.Text {
	n := len(l.Station) - 1
	first, last := "", ""
	ahead, behind := 0.005, -0.005 // s, what two digits show
	for _, q := range l.Codes[1:] {
		if g := q.Gain[n]; g >= ahead {
			first, ahead = q.Code, g
		} else if g <= behind {
			last, behind = q.Code, g
		}
	}
	code := func(s string) report.Span { return report.Span{Text: s, As: report.Code} }
	word := func(s string) report.Span { return report.Span{Text: s} }
	by := func(x float64) string { return " " + unit.Second.Format(math.Abs(x), 2, style) }
	switch {
	case first != "" && last != "":
		return report.Text{code(first), word(" ended" + by(ahead) + " ahead of "), code(l.Control), word(", "), code(last), word(by(behind) + " behind")}
	case first != "":
		return report.Text{code(first), word(" ended" + by(ahead) + " ahead of "), code(l.Control)}
	case last != "":
		return report.Text{code(last), word(" ended" + by(behind) + " behind "), code(l.Control)}
	}
	return report.Text{word("All codes ended with "), code(l.Control)}
}
