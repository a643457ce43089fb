package figure

import (
	"math"
	"strconv"
	"strings"

	"example.org/bookend/figure/fonts"
	"example.org/bookend/unit"
)

// scale maps values to points.
type scale struct{ v0, v1, p0, p1 float64 }

func (s scale) at(v float64) float64 { return s.p0 + (v-s.v0)/(s.v1-s.v0)*(s.p1-s.p0) }

// clamp is at, kept between the ends.
func (s scale) clamp(v float64) float64 {
	p := s.at(v)
	return math.Min(math.Max(p, math.Min(s.p0, s.p1)), math.Max(s.p0, s.p1))
}

// extent is a range of values.
type extent struct {
	lo, hi float64
	any    bool
}

func (e *extent) add(vs ...float64) {
	for _, v := range vs {
		if !e.any {
			e.lo, e.hi, e.any = v, v, true
		}
		e.lo, e.hi = math.Min(e.lo, v), math.Max(e.hi, v)
	}
}

// open gives the extent a width where it has none to speak of: values that
// differ by less than a billionth are taken as equal.
func (e extent) open() extent {
	size := math.Max(math.Abs(e.lo), math.Abs(e.hi))
	if e.hi-e.lo > size*1e-9 && e.hi-e.lo > 0 {
		return e
	}
	half := size * .01
	if half == 0 {
		half = 1
	}
	mid := e.lo/2 + e.hi/2
	return extent{mid - half, mid + half, true}
}

// tick is a value with its words.
type tick struct {
	v     float64
	words string
}

// ticks gives at most most round values from lo to hi (steps of 1, 2 or 5 times
// a power of ten), and the power of ten, a multiple of three, by which they
// were divided (0 for ordinary sizes).
func ticks(lo, hi float64, most int, signed bool, style unit.Style) ([]tick, int) {
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
	var out []tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9; k++ {
		v := k * step
		out = append(out, tick{v, tickWords(v/per, digits, signed, style)})
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

// Axis is a value axis: the measure's name with its unit ("stopping distance, m").
type Axis struct {
	Name   string `json:"name"`
	Short  string `json:"short,omitempty"` // for the half width
	Better Toward `json:"better,omitempty"`
	Signed bool   `json:"signed,omitempty"` // differences: ticks bear their sign
}

// name gives the axis' words, with the power of ten by which its ticks were divided.
func (c *canvas) axisWords(a Axis, power int) Text {
	t := plain(c.word(a.Name, a.Short))
	if power != 0 {
		t = append(t, Span{Text: " × 10"}, Span{strings.Replace(strconv.Itoa(power), "-", "−", 1), Mark})
	}
	return t
}

// valueAxis draws an upright axis at x with a grid to xr and its name above at
// y. It gives where the name ends, in points.
func (c *canvas) valueAxis(x, xr float64, sc scale, ts []tick, name Text, y float64, better Toward) float64 {
	for _, t := range ts {
		p := sc.at(t.v)
		c.line(x, p, xr, p, pen{w: hair, tone: Rule, ghost: true})
		c.line(x-2.6, p, x, p, pen{w: thin, ghost: true})
		c.text(x-4.4, p+2.4, plain(t.words), setting{face: fonts.Sans, size: ptTick, anchor: End, spare: true})
	}
	if n := len(ts); n > 1 {
		c.line(x, sc.at(ts[0].v), x, sc.at(ts[n-1].v), pen{w: thin, ghost: true})
	}
	if len(name) > 0 {
		w := c.text(x+3, y, name, setting{face: fonts.Sans, size: ptTick, tone: Soft})
		return x + 3 + w + 5 + c.better(x+3+w+5, y, better, true, Start)
	}
	return x
}

// widestTick gives the width of the widest tick in points.
func widestTick(ts []tick) float64 {
	w := 0.0
	for _, t := range ts {
		w = math.Max(w, TextWidth(t.words, fonts.Sans, ptTick))
	}
	return w
}

// levelAxis draws a horizontal axis at y; a tick whose words would touch
// another's stays without.
func (c *canvas) levelAxis(y float64, sc scale, ts []tick) {
	if len(ts) == 0 {
		return
	}
	c.line(sc.at(ts[0].v), y, sc.at(ts[len(ts)-1].v), y, pen{w: thin, ghost: true})
	for _, t := range ts {
		p := sc.at(t.v)
		c.line(p, y, p, y+2.6, pen{w: thin, ghost: true})
		c.try(p, y+9.6, plain(t.words), setting{face: fonts.Sans, size: ptTick, anchor: Middle, free: true})
	}
}
