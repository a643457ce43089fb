// Package looks shares out an error level over looks at a comparison that is
// still going on, so that looking more than once does not lift it.
//
// In the trade: a client asks after half the stints whether one can stop. Who
// stops as soon as a test says "better" is wrong far more often than the test
// says. A plan that names its looks beforehand, and how much of the level each
// may spend, keeps the level.
//
// Spending follows Lan and DeMets, Biometrika 70 (1983) 659: a function of the
// fraction of the information gives what is spent by then. Critical values come
// from the recursion of Armitage, McPherson and Rowe, J. R. Stat. Soc. A 132
// (1969) 235, for one comparison with known scatter. Where the scatter is
// estimated, or several candidates share a control, Increments are what holds at
// any degrees of freedom: each look is a test of its own at the level that it
// adds (Slud and Wei, J. Am. Stat. Assoc. 77 (1982) 862). Limits: 1 to 50 looks.
package looks

import (
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Spending names how a level is spent.
type Spending string

// The spending functions of Lan and DeMets (1983): little early and nearly all
// at the end, as O'Brien and Fleming; or about alike at each look, as Pocock.
const (
	OBrienFleming Spending = "obrien_fleming"
	Pocock        Spending = "pocock"
)

// Spent gives what of a level, counted on one side, is spent at a fraction of
// the information.
func (s Spending) Spent(level, fraction float64) (float64, error) {
	if !(level > 0 && level < 1) || !(fraction > 0 && fraction <= 1) {
		return 0, fault.New(fault.Invalid, "level %v at a fraction %v of the information", level, fraction).WithHint("a level between 0 and 1, a fraction above 0 and up to 1")
	}
	switch s {
	case OBrienFleming:
		return 2 * tail.Normal(tail.NormalPoint(level/2)/math.Sqrt(fraction)), nil
	case Pocock:
		return level * math.Log1p((math.E-1)*fraction), nil
	}
	return 0, fault.New(fault.Invalid, "%q is no way to spend a level", s).WithHint("obrien_fleming or pocock")
}

// mostLooks bounds the number of looks: beyond it nobody plans.
const mostLooks = 50

// check refuses fractions that are none.
func check(fractions []float64) error {
	if len(fractions) == 0 || len(fractions) > mostLooks {
		return fault.New(fault.Invalid, "there are %d looks", len(fractions)).WithHint("1 to %d", mostLooks)
	}
	last := 0.0
	for i, f := range fractions {
		if !(f > last) || f > 1 {
			return fault.New(fault.Invalid, "look %d is at the fraction %v of the information", i+1, f).WithHint("rising fractions above 0 and up to 1; the last look at 1 spends all")
		}
		last = f
	}
	return nil
}

// Increments gives the level that each look adds, both sides together: each is a
// test of its own, and they sum to what is spent by the last look, level where
// that is at 1. Whatever the tests, how they hang together and how the scatter is
// known, the error of all of them is at most the sum.
func Increments(s Spending, level float64, fractions []float64) ([]float64, error) {
	if err := check(fractions); err != nil {
		return nil, err
	}
	out := make([]float64, len(fractions))
	before := 0.0
	for i, f := range fractions {
		spent, err := s.Spent(level/2, f) // of each side
		if err != nil {
			return nil, err
		}
		out[i] = 2*spent - before
		before = 2 * spent
	}
	return out, nil
}

// Bounds are the critical values of one comparison over its looks, its scatter
// known: |Z| beyond Critical is shown.
type Bounds struct {
	Fraction []float64
	Spent    []float64 // by each look, both sides
	Critical []float64
	Level    []float64 // of a test by itself at that look, both sides
}

// Two gives symmetric two-sided bounds.
func Two(s Spending, level float64, fractions []float64) (*Bounds, error) {
	if err := check(fractions); err != nil {
		return nil, err
	}
	b := &Bounds{Fraction: fractions}
	r := walk{}
	before := 0.0
	for _, f := range fractions {
		half, err := s.Spent(level/2, f)
		if err != nil {
			return nil, err
		}
		spent := 2 * half
		add := spent - before
		// Least what crosses falls with the limit: halve an interval that holds it.
		low, high := 0.0, 40.0
		for range 80 {
			mid := (low + high) / 2
			if r.crosses(f, mid, 0) > add {
				low = mid
			} else {
				high = mid
			}
		}
		c := (low + high) / 2
		r.step(f, c, 0)
		before = spent
		b.Spent, b.Critical, b.Level = append(b.Spent, spent), append(b.Critical, c), append(b.Level, 2*tail.Normal(c))
	}
	return b, nil
}

// Crossing gives the probability that |Z| has crossed its limit by each look,
// for a true difference that gives Z at the end the mean given; 0 gives the
// error.
func Crossing(fractions, critical []float64, mean float64) ([]float64, error) {
	if err := check(fractions); err != nil {
		return nil, err
	}
	if len(critical) != len(fractions) {
		return nil, fault.New(fault.Invalid, "%d limits for %d looks", len(critical), len(fractions))
	}
	if !(math.Abs(mean) <= 100) {
		return nil, fault.New(fault.Invalid, "the mean of Z is %v", mean).WithHint("between -100 and 100")
	}
	r := walk{}
	out := make([]float64, len(fractions))
	sum := 0.0
	for i, f := range fractions {
		c := critical[i]
		if !(c > 0) || c > 40 {
			return nil, fault.New(fault.Invalid, "the limit of look %d is %v", i+1, c).WithHint("above 0 and up to 40")
		}
		sum += r.crosses(f, c, mean)
		r.step(f, c, mean)
		out[i] = sum
	}
	return out, nil
}

// walk is the density of what has not crossed yet: a Brownian motion with drift,
// at nodes between the last limits.
type walk struct {
	at      float64 // fraction
	x, f    []float64
	weights []float64
}

// crosses gives the probability of crossing at the next look and not before.
func (r *walk) crosses(fraction, c, mean float64) float64 {
	b := c * math.Sqrt(fraction)
	if r.x == nil {
		sd := math.Sqrt(fraction)
		return tail.Normal((b-mean*fraction)/sd) + tail.Normal((b+mean*fraction)/sd)
	}
	d := fraction - r.at
	sd := math.Sqrt(d)
	sum := 0.0
	for i, x := range r.x {
		m := x + mean*d
		sum += r.weights[i] * r.f[i] * (tail.Normal((b-m)/sd) + tail.Normal((b+m)/sd))
	}
	return sum
}

// step goes on to the next look.
func (r *walk) step(fraction, c, mean float64) {
	b := c * math.Sqrt(fraction)
	d := fraction - r.at
	sd := math.Sqrt(d)
	// Beyond 9 standard deviations from where it can be there is nothing.
	reach := 9*math.Sqrt(fraction) + math.Abs(mean)*fraction
	b = min(b, reach)
	x, w := nodes(b, sd)
	f := make([]float64, len(x))
	for j, y := range x {
		if r.x == nil {
			z := (y - mean*d) / sd
			f[j] = math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
			continue
		}
		sum := 0.0
		for i, u := range r.x {
			z := (y - u - mean*d) / sd
			sum += r.weights[i] * r.f[i] * math.Exp(-z*z/2)
		}
		f[j] = sum / (sd * math.Sqrt(2*math.Pi))
	}
	r.at, r.x, r.f, r.weights = fraction, x, f, w
}

// gauss8 are the positive nodes and weights of the Gauss-Legendre rule of eight
// points. Source: Abramowitz and Stegun, table 25.4.
var gauss8 = [4][2]float64{
	{0.183434642495649804939476142360, 0.362683783378361982965150449277},
	{0.525532409916328985817739049189, 0.313706645877887287337962201987},
	{0.796666477413626739591553936476, 0.222381034453374470544355994426},
	{0.960289856497536231683560868569, 0.101228536290376259152531354310},
}

// nodes lays the rule over panels of half a standard deviation of the step, so
// that the integrand, of about that width, is met to 1e-12.
func nodes(b, sd float64) (x, w []float64) {
	panels := max(4, int(math.Ceil(2*b/(sd/2))))
	panels = min(panels, 400)
	h := b / float64(panels)
	for p := range panels {
		mid := -b + h*(2*float64(p)+1)
		for _, g := range gauss8 {
			x = append(x, mid-h*g[0], mid+h*g[0])
			w = append(w, h*g[1], h*g[1])
		}
	}
	return x, w
}
