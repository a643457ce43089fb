package manyone

import "math"

// bell is the range of the logarithm of the deviation over which a tail
// probability gathers, found with a majorant of the tail.
type bell struct {
	a, c    float64 // df/2 and the log of the density at t = 0
	from, h float64
	n       int     // points from, from+h, ... from+n*h
	peak    float64 // where density times majorant are largest,
	top     float64 // and the log of it there
}

// logDensity gives the log density of t = log s, s^2 = chi^2/df.
func (b *bell) logDensity(t float64) float64 { return b.c - b.a*(math.Expm1(2*t)-2*t) }

// allDepth is the depth to which a bell is followed, in logarithms: 4e-18.
const allDepth = 40

// newBell finds where exp(logDensity(t))*majorant(exp t) matters: down to
// exp(-depth) of its largest value. The majorant falls with s for positive
// limits.
func newBell(df, depth float64, majorant func(s float64) float64) *bell {
	a := df / 2
	b := &bell{a: a}
	if a < 10 {
		l, _ := math.Lgamma(a)
		b.c = math.Ln2 + a*math.Log(a) - a - l
	} else { // Stirling's series: to 1e-16 from a = 10 on
		x := 1 / (a * a)
		b.c = math.Ln2 + 0.5*math.Log(a/(2*math.Pi)) - (1./12-x*(1./360-x*(1./1260-x*(1./1680-x/1188))))/a
	}
	// Near the density's peak the logarithm has curvature 2 df; away from it
	// the integrand is analytic for |Im t| < pi/4.
	b.h = 0.95 / math.Sqrt(2*df+16)
	log := func(j int) float64 {
		t := float64(j) * b.h
		return b.logDensity(t) + math.Log(majorant(math.Exp(t)))
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
	b.peak, b.top = float64(j)*b.h, top
	lo, hi := j, j
	for log(lo) > top-depth && lo > j-100000 {
		lo--
	}
	for log(hi) > top-depth && hi < j+100000 {
		hi++
	}
	b.from, b.n = float64(lo)*b.h, hi-lo
	return b
}

// overScale integrates g(s) over the distribution of s, with a relative error.
// The step is halved until it no longer matters; the trapezoid rule squares
// its error with each halving.
func overScale(df float64, majorant, g func(s float64) float64) (value, rel float64) {
	return overScaleTo(df, allDepth, 1, 1e-8, majorant, func(s, _ float64) float64 { return g(s) })
}

// overScaleTo begins with a step wider by a factor and stops when halving
// moves the value by no more than near. The integrand is told by how much, in
// logarithms, density times majorant are below their peak at s.
func overScaleTo(df, depth, wider, near float64, majorant func(s float64) float64, g func(s, spent float64) float64) (value, rel float64) {
	if math.IsInf(df, 1) {
		return g(1, 0), 1e-12
	}
	b := newBell(df, depth, majorant)
	b.n = int(math.Ceil(float64(b.n) / wider))
	b.h *= wider
	sum := func(from float64, n int) float64 {
		s := 0.0
		for i := range n {
			t := from + float64(i)*b.h
			if d := b.logDensity(t); d > -700 {
				x := math.Exp(t)
				s += math.Exp(d) * g(x, max(0, b.top-d-math.Log(majorant(x))))
			}
		}
		return s
	}
	whole := sum(b.from, b.n+1)
	for range 5 {
		between := sum(b.from+b.h/2, b.n)
		half := (whole + between) / 2
		diff := math.Abs(half-whole) / half
		value = half * b.h
		if diff < near {
			return value, max(1e-12, 10*diff*diff)
		}
		whole += between
		b.h /= 2
		b.n *= 2
	}
	return value, 1e-8
}

// majorant gives Bonferroni's bound on the tail at deviation s.
func (b box) majorant(s float64) float64 {
	sum := 0.0
	for i := range b.lo {
		sum += upperPhi(b.hi[i]*s) + upperPhi(b.lo[i]*s)
	}
	return min(1, sum)
}
