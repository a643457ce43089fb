package uncertain

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// DefaultTrials is the number of draws where none is asked for: JCGM 101:2008,
// 7.2.1, calls for 1e6 for a 95 % interval to one or two digits; 200,000 give
// its ends to about 1 % of the standard uncertainty and take well under a
// second.
const DefaultTrials = 200_000

// MonteCarlo is the distribution of a result by draws; all in result units.
type MonteCarlo struct {
	Trials     int // with a value
	Without    int // draws for which the formula has no value, left out
	Mean       float64
	U          float64 // standard deviation of the draws
	UMeanError float64 // standard error of Mean through the number of draws
	Low, High  float64 // interval with equal shares beyond either end
	ShortLow   float64 // shortest interval
	ShortHigh  float64
	Confidence float64
	Seed       uint64
	Caveats    caveat.List
}

// Simulate draws the inputs and gives the result's distribution (JCGM 101:2008,
// clause 7). Correlated inputs must be normal with known uncertainty (6.4.8).
// Draws come from a PCG with the seed given and are turned into shapes by
// formulas written out here, so that the same seed gives the same numbers
// whatever library version runs it.
func Simulate(f Model, inputs []Input, o Options, trials int, seed uint64) (MonteCarlo, error) {
	m := MonteCarlo{Confidence: o.Confidence, Seed: seed}
	if m.Confidence == 0 {
		m.Confidence = 0.95
	}
	if !(m.Confidence > 0 && m.Confidence < 1) {
		return m, fault.New(fault.Invalid, "a confidence lies between 0 and 1, not at %v", m.Confidence)
	}
	if trials == 0 {
		trials = DefaultTrials
	}
	if least := int(math.Ceil(10 / (1 - m.Confidence))); trials < least {
		return m, fault.New(fault.Invalid, "%d trials are too few for %g %%", trials, 100*m.Confidence).
			WithHint("at least %d", least)
	}
	in, correlated, err := checked(inputs, o.Correlation)
	if err != nil {
		return m, err
	}
	n := len(in)
	var lower mat.TriDense
	if correlated {
		for i, p := range in {
			tied := false
			for j := range in {
				tied = tied || (i != j && o.Correlation[i][j] != 0)
			}
			if tied && p.Shape != Normal {
				return m, fault.New(fault.Unsupported, "correlated inputs are drawn as normal ones only").At("%s", p.Name)
			}
			if !math.IsInf(in[i].DF, 1) && tied {
				m.Caveats.Add("correlated_as_normal", caveat.Place{}, "%s is correlated and drawn as normal: its few degrees of freedom do not widen the interval.", p.Name)
				in[i].DF = math.Inf(1)
			}
		}
		s := mat.NewSymDense(n, nil)
		for i := range n {
			for j := i; j < n; j++ {
				s.SetSym(i, j, o.Correlation[i][j])
			}
		}
		var ch mat.Cholesky
		if !ch.Factorize(s) {
			// Perfectly correlated inputs are on the edge: a hair off the ones.
			for i := range n {
				s.SetSym(i, i, 1+1e-10)
			}
			if !ch.Factorize(s) {
				return m, fault.New(fault.Invalid, "the correlation is impossible: no distribution has it")
			}
		}
		ch.LTo(&lower)
	}
	d := draw{rand.NewPCG(seed, 0xda3e39cb94b95bdb)} // second word: PCG's default stream, fixed for ever
	x, z := make([]float64, n), make([]float64, n)
	y := make([]float64, 0, trials)
	for range trials {
		for i, p := range in {
			switch {
			case p.U == 0 && !correlated:
				z[i] = 0
			case p.Shape == Rectangular:
				z[i] = math.Sqrt(3) * (2*d.uniform() - 1)
			case p.Shape == Triangular:
				z[i] = math.Sqrt(6) * (d.uniform() + d.uniform() - 1)
			case p.Shape == Arcsine:
				z[i] = math.Sqrt2 * math.Sin(2*math.Pi*d.uniform())
			case math.IsInf(p.DF, 1):
				z[i] = d.normal()
			default:
				z[i] = d.normal() / math.Sqrt(2*d.gamma(p.DF/2)/p.DF)
			}
		}
		for i, p := range in {
			e := z[i]
			if correlated && p.U > 0 {
				e = 0
				for j := 0; j <= i; j++ {
					e += lower.At(i, j) * z[j]
				}
			}
			x[i] = p.Value + p.U*e
		}
		if v := f(x); finite(v) {
			y = append(y, v)
		} else {
			m.Without++
		}
	}
	m.Trials = len(y)
	if m.Without > 0 {
		m.Caveats.Add("draws_without_value", caveat.Place{}, "The formula has no value for %d of %d draws; they are left out.", m.Without, trials)
	}
	if m.Trials < 2 {
		return m, fault.New(fault.Invalid, "the formula has no value for the draws")
	}
	slices.Sort(y)
	nf := float64(len(y))
	for _, v := range y {
		m.Mean += v / nf
	}
	for _, v := range y {
		m.U += (v - m.Mean) * (v - m.Mean)
	}
	if y[0] == y[len(y)-1] {
		m.Mean, m.U = y[0], 0
		m.Caveats.Add("no_uncertainty", caveat.Place{}, "No input's uncertainty reaches the result.")
	}
	m.U = math.Sqrt(m.U / (nf - 1))
	m.UMeanError = m.U / math.Sqrt(nf)
	// JCGM 101:2008, 7.7.2: q draws within, the rest shared between both ends.
	q := min(int(math.Round(m.Confidence*nf)), len(y)-1)
	r := int(math.Round((nf - float64(q)) / 2))
	r = min(max(r, 1), len(y)-q)
	m.Low, m.High = y[r-1], y[r-1+q]
	best := math.Inf(1)
	for i := 0; i+q < len(y); i++ {
		if w := y[i+q] - y[i]; w < best {
			best, m.ShortLow, m.ShortHigh = w, y[i], y[i+q]
		}
	}
	for _, p := range in {
		if p.U > 0 && p.DF <= 2 && p.Shape == Normal {
			m.Caveats.Add("no_standard_deviation", caveat.Place{}, "%s has %g degrees of freedom: its t distribution has no standard deviation, and that of the draws means little; the intervals stand.", p.Name, p.DF)
		}
	}
	return m, nil
}

// draw turns the bits of a PCG into uniform, normal and gamma numbers.
type draw struct{ g *rand.PCG }

// uniform gives a number strictly between 0 and 1.
func (d draw) uniform() float64 { return (float64(d.g.Uint64()>>11) + 0.5) / (1 << 53) }

// normal gives a standard normal number by the inverse of its distribution.
func (d draw) normal() float64 { return math.Sqrt2 * math.Erfinv(2*d.uniform()-1) }

// gamma gives a gamma number of the shape given and scale 1 (Marsaglia and
// Tsang, ACM Transactions on Mathematical Software 26 (2000) 363).
func (d draw) gamma(shape float64) float64 {
	if shape < 1 {
		return d.gamma(shape+1) * math.Pow(d.uniform(), 1/shape)
	}
	a := shape - 1.0/3
	c := 1 / math.Sqrt(9*a)
	for {
		x := d.normal()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		if math.Log(d.uniform()) < 0.5*x*x+a-a*v+a*math.Log(v) {
			return a * v
		}
	}
}
