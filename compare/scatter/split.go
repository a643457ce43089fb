package scatter

import (
	"math"

	"example.org/bookend/compare/correct"
)

// Split is the variance of one estimate, on the analysis scale, by where it comes
// from, as far as that can be told.
type Split struct {
	Stint   []float64 // fitment and moment of each stint
	Run     []float64 // the scatter of its runs
	Measure []float64 // of that, what the observations' own uncertainties account for
	Set     float64   // between the sets of one code, where that is a term of its own
	Block   float64   // tyre by block
	Told    bool      // stint and run are told apart; else all stands at Stint
}

// Sum gives the whole.
func (p *Split) Sum() float64 {
	s := p.Set + p.Block
	for i := range p.Stint {
		s += p.Stint[i] + p.Run[i]
	}
	return s
}

// Of gives what the stints that are chosen account for.
func (p *Split) Of(chosen func(stint int) bool) (stint, run, measure float64) {
	for i := range p.Stint {
		if chosen(i) {
			stint, run, measure = stint+p.Stint[i], run+p.Run[i], measure+p.Measure[i]
		}
	}
	return stint, run, measure
}

// Split takes the variance of an estimate apart; the predictor is that of its
// model, nil where it is a weighted sum of stint means. False without scatter.
func (s *Scatter) Split(e *correct.Estimate, p correct.Predictor) (Split, bool) {
	n := len(s.q.Stints)
	out := Split{Stint: make([]float64, n), Run: make([]float64, n), Measure: make([]float64, n)}
	sd, ok := s.SD()
	if !ok || e.Weights == nil {
		return out, false
	}
	runs := s.q.RunWeights(e.Weights)
	if s.mixed == nil {
		out.Told = s.within != nil
		for i, w := range e.Weights {
			v := w * w * sd * sd
			if out.Told {
				out.Run[i] = min(v, w*w*s.within.sd*s.within.sd/float64(s.q.Stints[i].N()))
			}
			out.Stint[i] = v - out.Run[i]
		}
		s.measure(&out, runs)
		return out, true
	}
	f := s.mixed
	var a []float64
	if own, is := p.(*predictor); is {
		if a, ok = own.run(e.Contrast); !ok {
			return out, false
		}
		k := 0
		for i := range runs {
			for j := range runs[i] {
				runs[i][j] = a[k]
				k++
			}
		}
	} else {
		a = f.runs.flat(runs)
	}
	out.Told = f.within
	for k, i := range f.runs.stint {
		v := f.cov.Residual * a[k] * a[k]
		if f.within {
			out.Run[i] += v
		} else {
			out.Stint[i] += v
		}
	}
	for k := range f.cov.Clusters {
		c := &f.cov.Clusters[k]
		for g, x := range c.Sums(a) {
			switch c.Name {
			case StintPart:
				out.Stint[g] += c.Variance * x * x // groups stand in the order of the stints
			case SetPart:
				out.Set += c.Variance * x * x
			case BlockPart:
				out.Block += c.Variance * x * x
			}
		}
	}
	s.measure(&out, runs)
	return out, true
}

// measure says how much of the runs' scatter their observations' uncertainties
// account for; those are taken as independent from run to run.
func (s *Scatter) measure(p *Split, weights [][]float64) {
	for i := range s.q.Stints {
		f := &s.q.Stints[i]
		k := 0
		for _, r := range f.Runs {
			if !r.Compared {
				continue
			}
			if u := r.Uncertainty; u != nil {
				x := *u
				if s.q.Ratio {
					x /= math.Abs(r.Value)
				}
				p.Measure[i] += weights[i][k] * weights[i][k] * x * x
			}
			k++
		}
		p.Measure[i] = min(p.Measure[i], p.Run[i])
	}
}
