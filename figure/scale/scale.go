// Package scale turns values into places on an axis: how far an axis reaches, which round
// values stand on it, and where in points a value lies.
//
// Ticks are steps of 1, 2 or 5 times a power of ten, common practice. Values are in the
// unit that people see, places in points. It draws nothing; package draft does.
package scale

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/unit"
)

// Scale maps values to points.
type Scale struct{ V0, V1, P0, P1 float64 }

// Of maps v0 to p0 and v1 to p1.
func Of(v0, v1, p0, p1 float64) Scale { return Scale{v0, v1, p0, p1} }

// At gives the place of a value, in points.
func (s Scale) At(v float64) float64 { return s.P0 + (v-s.V0)/(s.V1-s.V0)*(s.P1-s.P0) }

// Clamp is At, kept between the ends.
func (s Scale) Clamp(v float64) float64 {
	p := s.At(v)
	return math.Min(math.Max(p, math.Min(s.P0, s.P1)), math.Max(s.P0, s.P1))
}

// Extent is a range of values.
type Extent struct {
	Lo, Hi float64
	Any    bool // it holds a value
}

// Add widens the extent to hold values.
func (e *Extent) Add(vs ...float64) {
	for _, v := range vs {
		if !e.Any {
			e.Lo, e.Hi, e.Any = v, v, true
		}
		e.Lo, e.Hi = math.Min(e.Lo, v), math.Max(e.Hi, v)
	}
}

// Open gives the extent a width where it has none to speak of: values that
// differ by less than a billionth are taken as equal.
func (e Extent) Open() Extent {
	size := math.Max(math.Abs(e.Lo), math.Abs(e.Hi))
	if e.Hi-e.Lo > size*1e-9 && e.Hi-e.Lo > 0 {
		return e
	}
	half := size * .01
	if half == 0 {
		half = 1
	}
	mid := e.Lo/2 + e.Hi/2
	return Extent{mid - half, mid + half, true}
}

// Readable gives the extent of an axis that holds the core whole (control,
// margin, estimates) and of what lies around it (full) as much as the usual
// interval reaches, by the half widths of the intervals: an interval several
// times as wide as the others goes on beyond the axis, so that the others can
// be read.
func Readable(core, full Extent, halves []float64) Extent {
	reach := .5 * (core.Hi - core.Lo)
	if len(halves) > 0 {
		sorted := slices.Sorted(slices.Values(halves))
		reach = math.Max(reach, 2.5*sorted[len(sorted)/2])
	}
	e := Extent{math.Max(full.Lo, core.Lo-reach), math.Min(full.Hi, core.Hi+reach), true}.Open()
	pad := .03 * (e.Hi - e.Lo)
	return Extent{e.Lo - pad, e.Hi + pad, true}
}

// Tick is a value with its words.
type Tick struct {
	V     float64
	Words string
}

// Ticks gives at most most round values from lo to hi (steps of 1, 2 or 5 times
// a power of ten), and the power of ten, a multiple of three, by which they
// were divided (0 for ordinary sizes).
func Ticks(lo, hi float64, most int, signed bool, style unit.Style) ([]Tick, int) {
	if !(hi > lo) || most < 1 {
		return nil, 0
	}
	step := niceStep((hi-lo)/float64(most), lo, hi, most)
	size := math.Max(math.Abs(lo), math.Abs(hi))
	power := 0
	if size >= 1e5 || size < 1e-2 {
		power = 3 * int(math.Floor(math.Log10(size)/3))
	}
	per := math.Pow(10, float64(power))
	digits := max(0, -int(math.Floor(math.Log10(step/per)+1e-9)))
	if digits > 9 {
		digits = 9
	}
	var out []Tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9; k++ {
		v := k * step
		out = append(out, Tick{v, tickWords(v/per, digits, signed, style)})
	}
	return out, power
}

func niceStep(raw, lo, hi float64, most int) float64 {
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	for {
		for _, m := range []float64{1, 2, 5} {
			step := m * p
			if n := math.Floor(hi/step+1e-9) - math.Ceil(lo/step-1e-9) + 1; n <= float64(most) {
				return step
			}
		}
		p *= 10
	}
}

// tickWords prints a tick; signed adds the plus of a difference. Zero is "0".
func tickWords(v float64, digits int, signed bool, style unit.Style) string {
	words := unit.Number(v, digits, style)
	if signed {
		words = unit.Signed(v, digits, style)
	}
	if !strings.ContainsAny(words, "123456789") {
		return "0"
	}
	return words
}
