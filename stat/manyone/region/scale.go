package region

import (
	"math"
)

// Bell is the range of the logarithm of the deviation over which a tail
// probability gathers, found with a majorant of the tail.
type Bell struct {
	a, c    float64 // df/2 and the log of the density at t = 0
	From, H float64
	N       int     // points from, from+h, ... from+n*h
	Peak    float64 // where density times majorant are largest,
	top     float64 // and the log of it there
}

// LogDensity gives the log density of t = log s, s^2 = chi^2/df.
func (b *Bell) LogDensity(t float64) float64 { return b.c - b.a*(math.Expm1(2*t)-2*t) }

// AllDepth is the depth to which a bell is followed, in logarithms: 4e-18.
const AllDepth = 40

// NewBell finds where exp(logDensity(t))*majorant(exp t) matters: down to
// exp(-depth) of its largest value. The majorant falls with s for positive
// limits.
func NewBell(df, depth float64, majorant func(s float64) float64) *Bell {
	a := df / 2
	b := &Bell{a: a}
	if a < 10 {
		l, _ := math.Lgamma(a)
		b.c = math.Ln2 + a*math.Log(a) - a - l
	} else { // Stirling's series: to 1e-16 from a = 10 on
		x := 1 / (a * a)
		b.c = math.Ln2 + 0.5*math.Log(a/(2*math.Pi)) - (1./12-x*(1./360-x*(1./1260-x*(1./1680-x/1188))))/a
	}
	// Near the density's peak the logarithm has curvature 2 df; away from it
	// the integrand is analytic for |Im t| < pi/4.
	b.H = 0.95 / math.Sqrt(2*df+16)
	log := func(j int) float64 {
		t := float64(j) * b.H
		return b.LogDensity(t) + math.Log(majorant(math.Exp(t)))
	}
	j, top := 0, log(0)
	// Limits far out, on few degrees of freedom, gather where the deviation is
	// small: near 1 the majorant is 0 in floating point.
	for math.IsInf(top, -1) && j > -1<<20 {
		j--
		top = log(j)
	}
	for {
		if v := log(j - 1); v > top {
			j, top = j-1, v
		} else if v := log(j + 1); v > top {
			j, top = j+1, v
		} else {
			break
		}
		if j < -1<<20 || j > 1<<20 {
			break
		}
	}
	b.Peak, b.top = float64(j)*b.H, top
	lo, hi := j, j
	for log(lo) > top-depth && lo > j-100000 {
		lo--
	}
	for log(hi) > top-depth && hi < j+100000 {
		hi++
	}
	b.From, b.N = float64(lo)*b.H, hi-lo
	return b
}

// OverScale integrates g(s) over the distribution of s, with a relative error.
// The step is halved until it no longer matters; the trapezoid rule squares
// its error with each halving.
func OverScale(df float64, majorant, g func(s float64) float64) (value, rel float64) {
	return OverScaleTo(df, AllDepth, 1, 1e-8, majorant, func(s, _ float64) float64 { return g(s) })
}

// OverScaleTo begins with a step wider by a factor and stops when halving
// moves the value by no more than near. The integrand is told by how much, in
// logarithms, density times majorant are below their peak at s.
func OverScaleTo(df, depth, wider, near float64, majorant func(s float64) float64, g func(s, spent float64) float64) (value, rel float64) {
	if math.IsInf(df, 1) {
		return g(1, 0), 1e-12
	}
	b := NewBell(df, depth, majorant)
	b.N = int(math.Ceil(float64(b.N) / wider))
	b.H *= wider
	sum := func(from float64, n int) float64 {
		s := 0.0
		for i := range n {
			t := from + float64(i)*b.H
			if d := b.LogDensity(t); d > -700 {
				x := math.Exp(t)
				s += math.Exp(d) * g(x, max(0, b.top-d-math.Log(majorant(x))))
			}
		}
		return s
	}
	whole := sum(b.From, b.N+1)
	for range 5 {
		between := sum(b.From+b.H/2, b.N)
		half := (whole + between) / 2
		diff := math.Abs(half-whole) / half
		value = half * b.H
		if diff < near {
			return value, max(1e-12, 10*diff*diff)
		}
		whole += between
		b.H /= 2
		b.N *= 2
	}
	return value, 1e-8
}
