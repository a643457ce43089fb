package frequency

import (
	"math"
	"math/cmplx"
)

// spectra are what steering and an answer to it hold at frequencies the run's inverse
// apart, from 0 up to above the highest that is asked for.
type spectra struct {
	a, b   []complex128
	length float64 // s, of the run
	width  float64 // Hz, over which they are averaged
}

// newSpectra takes evenly spaced samples a step in s apart, their straight line by
// least squares taken off and their ends tapered.
func newSpectra(a, b []float64, step, width float64) *spectra {
	s := &spectra{length: float64(len(a)) * step, width: width}
	top := int((highest+width)*s.length) + 2
	x, y := tapered(a, step), tapered(b, step)
	for k := range top {
		s.a, s.b = append(s.a, at(x, k)), append(s.b, at(y, k))
	}
	return s
}

// taper is how long in s each end is faded by a quarter of a cosine (own choice: long
// beside the vehicle's answer, short beside a run of a minute).
const taper = 2.0

func tapered(from []float64, step float64) []float64 {
	n := len(from)
	mean, num, den := 0.0, 0.0, 0.0
	mid := float64(n-1) / 2
	for _, v := range from {
		mean += v / float64(n)
	}
	for i, v := range from {
		d := float64(i) - mid
		num, den = num+d*(v-mean), den+d*d
	}
	x := make([]float64, n)
	for i, v := range from {
		w := 1.0
		if t := float64(min(i, n-1-i)) * step; t < taper {
			w = 0.5 - 0.5*math.Cos(math.Pi*t/taper)
		}
		x[i] = w * (v - mean - num/den*(float64(i)-mid))
	}
	return x
}

// at gives the k-th component of the samples' discrete Fourier transform, by Goertzel's
// recurrence.
func at(x []float64, k int) complex128 {
	sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(len(x)))
	s1, s2 := 0.0, 0.0
	for _, v := range x {
		s1, s2 = v+2*cos*s1-s2, s1
	}
	// The recurrence leaves a turn by the number of samples, which is a whole one.
	return complex(cos*s1-s2, sin*s1)
}

// estimate is what is known at one frequency.
type estimate struct {
	gain      complex128
	coherence float64 // share of the answer that goes with the steering
	steering  float64 // mean square of the steering there, in its own scale
}

// over averages about a frequency: P. J. Daniell (1946), docs/sources/daniell-1946.md.
func (s *spectra) over(hz float64) estimate {
	from := max(1, int(math.Ceil((hz-s.width/2)*s.length-1e-9)))
	to := min(len(s.a)-1, int(math.Floor((hz+s.width/2)*s.length+1e-9)))
	var aa, bb float64
	var ab complex128
	for k := from; k <= to; k++ {
		p, q := s.a[k], s.b[k]
		aa += real(p)*real(p) + imag(p)*imag(p)
		bb += real(q)*real(q) + imag(q)*imag(q)
		ab += cmplx.Conj(p) * q
	}
	if aa == 0 || bb == 0 || to < from {
		return estimate{}
	}
	c := cmplx.Abs(ab)
	return estimate{ab / complex(aa, 0), c * c / (aa * bb), aa / float64(to-from+1)}
}

// count gives over how many frequencies is averaged.
func (s *spectra) count() int { return int(s.width*s.length + 1e-9) }
