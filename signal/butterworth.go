package signal

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// CutOff says what a filter's cut-off frequency means.
type CutOff int

// A zero-phase filter runs forward and backward, so that its gain is squared.
const (
	// OnePass: the gain of a single pass is 1/√2 (-3 dB) at the cut-off, and that of
	// both passes 1/2 (-6 dB). A "12-pole phaseless" filter is order 6 read this way.
	OnePass CutOff = iota
	// BothPasses: the gain of both passes together is 1/√2 (-3 dB) at the cut-off.
	BothPasses
)

// String says in words what the cut-off means.
func (c CutOff) String() string {
	if c == BothPasses {
		return "-3 dB after both passes"
	}
	return "-3 dB of one pass, -6 dB after both"
}

// LowPass is a Butterworth low-pass filter in second-order sections, made by the
// bilinear transform with its cut-off prewarped, as scipy.signal.butter makes it.
type LowPass struct {
	Order  int     // of one pass; both passes together have twice as many poles
	CutOff float64 // Hz
	Means  CutOff
	Rate   float64 // samples a second

	sections []section
}

// section is b0 + b1/z + b2/z² over 1 + a1/z + a2/z², with gain 1 at 0 Hz.
type section struct{ b0, b1, b2, a1, a2 float64 }

// NewLowPass makes a filter; order 1 to 12, cut-off in Hz above 0 and below half
// the rate in samples a second.
func NewLowPass(order int, cutOff float64, means CutOff, rate float64) (*LowPass, error) {
	if order < 1 || order > 12 {
		return nil, fault.New(fault.Invalid, "a Butterworth filter of order %d", order).WithHint("order 1 to 12")
	}
	if !(rate > 0) || math.IsInf(rate, 0) || !(cutOff > 0) || !(cutOff < rate/2) {
		return nil, fault.New(fault.Invalid, "a cut-off of %g Hz at %g samples a second", cutOff, rate).
			WithHint("the cut-off lies between 0 and half the rate")
	}
	f := &LowPass{Order: order, CutOff: cutOff, Means: means, Rate: rate}
	k := math.Tan(math.Pi * cutOff / rate)
	if means == BothPasses {
		// |H|² = 1/(1 + (w/wc)^2n) is to be 1/√2 at w: wc = w / (√2 - 1)^(1/2n).
		k /= math.Pow(math.Sqrt2-1, 1/float64(2*order))
	}
	if order%2 == 1 {
		d := 1 + k
		f.sections = append(f.sections, section{b0: k / d, b1: k / d, a1: (k - 1) / d})
	}
	for i := order/2 - 1; i >= 0; i-- { // the best damped pair first
		damping := math.Sin(math.Pi * float64(2*i+1) / float64(2*order))
		d := 1 + 2*damping*k + k*k
		g := k * k / d
		f.sections = append(f.sections, section{b0: g, b1: 2 * g, b2: g, a1: 2 * (k*k - 1) / d, a2: (1 - 2*damping*k + k*k) / d})
	}
	return f, nil
}

// Gain gives the gain of one pass at a frequency in Hz.
func (f *LowPass) Gain(hz float64) float64 {
	w := 2 * math.Pi * hz / f.Rate
	z := complex(math.Cos(w), -math.Sin(w)) // 1/z
	h := complex(1, 0)
	for _, s := range f.sections {
		h *= (complex(s.b0, 0) + complex(s.b1, 0)*z + complex(s.b2, 0)*z*z) / (1 + complex(s.a1, 0)*z + complex(s.a2, 0)*z*z)
	}
	return math.Hypot(real(h), imag(h))
}

// Padding gives how many samples a stretch is lengthened by at each end before it
// is filtered, three times one more than the order: the rule of
// scipy.signal.filtfilt and sosfiltfilt.
func (f *LowPass) Padding() int { return 3 * (f.Order + 1) }

// pass filters x in place, beginning as if its first value had always been there.
func (f *LowPass) pass(x []float64) {
	if len(x) == 0 {
		return
	}
	first := x[0] // every section has gain 1 at 0 Hz
	for _, s := range f.sections {
		z1, z2 := (1-s.b0)*first, (s.b2-s.a2)*first
		for i, v := range x {
			y := s.b0*v + z1
			z1 = s.b1*v - s.a1*y + z2
			z2 = s.b2*v - s.a2*y
			x[i] = y
		}
	}
}

// ZeroPhase filters evenly spaced samples forward and backward, so that nothing
// is delayed. The samples are lengthened at both ends by Padding points mirrored
// through the end point (odd extension). Fewer samples than that plus one are
// refused.
func (f *LowPass) ZeroPhase(x []float64) ([]float64, error) {
	return f.zeroPhase(x, f.Padding())
}

func (f *LowPass) zeroPhase(x []float64, pad int) ([]float64, error) {
	n := len(x)
	if n <= pad {
		return nil, fault.New(fault.Invalid, "%d samples are too few for a filter of order %d", n, f.Order).
			WithHint("it needs more than %d", pad)
	}
	ext := make([]float64, 0, n+2*pad)
	for i := pad; i > 0; i-- {
		ext = append(ext, 2*x[0]-x[i])
	}
	ext = append(ext, x...)
	for i := 1; i <= pad; i++ {
		ext = append(ext, 2*x[n-1]-x[n-1-i])
	}
	f.pass(ext)
	reverse(ext)
	f.pass(ext)
	reverse(ext)
	return ext[pad : pad+n], nil
}

func reverse(x []float64) {
	for i, j := 0, len(x)-1; i < j; i, j = i+1, j-1 {
		x[i], x[j] = x[j], x[i]
	}
}

// evenness is how far a step may be from the median one, as a share of it, for
// samples to count as evenly spaced (own choice: stamps printed to a hundredth of
// a step).
const evenness = 0.02

// Filtered gives the channel filtered without delay, valid span by valid span; its
// rate is the base's median one. A span whose samples are not evenly spaced is
// brought onto an even grid first and back afterwards; one too short for the
// filter is left out. A caveat says either.
func (c *Channel) Filtered(order int, cutOff float64, means CutOff) (*Channel, caveat.List, error) {
	step := c.Base.Step()
	if step == 0 {
		return nil, nil, fault.New(fault.Invalid, "channel %s has fewer than two samples", c.Name)
	}
	f, err := NewLowPass(order, cutOff, means, 1/step)
	if err != nil {
		return nil, nil, fault.At(err, "channel %s", c.Name)
	}
	out := &Channel{Name: c.Name, Role: c.Role, Unit: c.Unit, SourceUnit: c.SourceUnit, Base: c.Base,
		Values: make([]float64, len(c.Values)), History: append([]Mend(nil), c.History...)}
	var doubt caveat.List
	place := caveat.Place{Channel: c.Name}
	uneven := 0
	for _, span := range c.Valid {
		s := c.stretch(span)
		x, grid := s.V, (*Base)(nil)
		for i := 1; i < len(s.T); i++ {
			if math.Abs(s.T[i]-s.T[i-1]-step) > evenness*step {
				grid = Even(s.T[0], s.T[len(s.T)-1], step)
				break
			}
		}
		if grid != nil {
			uneven++
			x = make([]float64, len(grid.T))
			for i, t := range grid.T {
				x[i], _ = s.At(math.Min(t, s.T[len(s.T)-1]))
			}
		}
		y, err := f.ZeroPhase(x)
		if err != nil {
			place.TimeS = caveat.At(s.T[0])
			doubt.Add("too_short_to_filter", place, "%d samples are too few for a filter of order %d and were left out.", len(x), order)
			continue
		}
		if grid != nil {
			g := Stretch{T: grid.T, V: y}
			for i, t := range s.T {
				out.Values[span.From+i], _ = g.At(math.Min(t, grid.T[len(grid.T)-1]))
			}
		} else {
			copy(out.Values[span.From:], y)
		}
		out.Valid = append(out.Valid, span)
	}
	if uneven > 0 {
		doubt.Add("uneven_rate", caveat.Place{Channel: c.Name}, "Samples are not evenly spaced; for the filter they were interpolated to %.4g a second and back.", 1/step)
	}
	return out, doubt, nil
}
