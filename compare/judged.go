package compare

import (
	"math"
	"slices"
	"strings"
	"sync"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/stat/tail"
)

// memory keeps critical points and p-values: they depend on the correlations,
// the degrees of freedom and the level alone, are the same bits however they are
// come by, and cost far more than all else. Measures of one programme share
// them, and so does the same programme compared again.
var memory = struct {
	sync.Mutex
	points map[string]point
	ps     map[string]float64
}{points: map[string]point{}, ps: map[string]float64{}}

// remembered bounds each map of memory; a full one is emptied.
const remembered = 4096

type point struct {
	value  float64
	method string
	bound  float64
}

func familyKey(f manyone.Family, level float64) string {
	var key strings.Builder
	key.WriteString(bits(level))
	key.WriteString(bits(f.DF))
	key.WriteByte(byte(f.Sided))
	for _, row := range f.Corr {
		for _, v := range row {
			key.WriteString(bits(v))
		}
	}
	return key.String()
}

func critical(f manyone.Family, alpha float64) (point, error) {
	key := familyKey(f, alpha)
	memory.Lock()
	p, ok := memory.points[key]
	memory.Unlock()
	if ok {
		return p, nil
	}
	k := len(f.Corr)
	if k > manyone.MaxComparisons {
		side := alpha / float64(k)
		if f.Sided == manyone.TwoSided {
			side /= 2
		}
		p = point{value: tail.TPoint(side, f.DF), method: "Bonferroni"}
	} else {
		var err error
		if p.value, p.bound, err = f.Critical(alpha); err != nil {
			return p, err
		}
		if p.method, err = f.Method(); err != nil {
			return p, err
		}
	}
	memory.Lock()
	defer memory.Unlock()
	if len(memory.points) >= remembered {
		clear(memory.points)
	}
	memory.points[key] = p
	return p, nil
}

// adjusted gives the p-value of t in its family, for all comparisons together.
func adjusted(f manyone.Family, t float64) (float64, error) {
	if k := len(f.Corr); k > manyone.MaxComparisons {
		return min(1, float64(k)*f.RawP(t)), nil
	}
	c := t
	if f.Sided == manyone.TwoSided {
		c = math.Abs(t)
	}
	key := familyKey(f, c)
	memory.Lock()
	p, ok := memory.ps[key]
	memory.Unlock()
	if ok {
		return p, nil
	}
	tailed, err := f.Tail(c)
	if err != nil {
		return 0, err
	}
	memory.Lock()
	defer memory.Unlock()
	if len(memory.ps) >= remembered {
		clear(memory.ps)
	}
	memory.ps[key] = tailed.P
	return tailed.P, nil
}

// rows gives every candidate its numbers and its verdict.
func (r *Result) rows(seq *sequence.Sequence, est *correct.Estimates, sc *scatter.Scatter) error {
	set := r.Settings
	type judged struct {
		row int
		v   float64
	}
	var in []judged
	sigma, hasError := sc.SD()
	walk := 0.0
	if set.DriftSD != nil && hasError {
		walk = *set.DriftSD * *set.DriftSD / (sigma * sigma)
	}
	for i := range est.List {
		e := &est.List[i]
		row := Row{Code: e.Code, Weights: e.Weights}
		for _, s := range seq.Stints {
			if s.Code != e.Code {
				continue
			}
			row.Stints++
			row.Runs += s.N()
			row.Mean += s.Mean
			if s.Set != "" && !slices.Contains(row.Sets, s.Set) {
				row.Sets = append(row.Sets, s.Set)
			}
		}
		row.Mean /= float64(row.Stints)
		r.Runs += row.Runs
		if e.OK {
			row.Variance = dot(e.Weights, e.Weights) + walk*shared(e.Open, e.Open)
			if hasError && (len(e.Open) == 0 || set.DriftSD != nil) {
				in = append(in, judged{i, row.Variance})
			}
			switch {
			case len(e.Open) > 0 && set.DriftSD == nil:
				row.Caveats.Add("open_block", caveat.Place{Code: e.Code}, "No control closes the block: the estimate rests on one control alone, and what drifted since has no known size.")
			case len(e.Open) > 0:
				row.Caveats.Add("open_block", caveat.Place{Code: e.Code}, "No control closes the block: the estimate rests on one control alone; the drift's variance is in the interval.")
			case e.Blind:
				row.Caveats.Add("open_block", caveat.Place{Code: e.Code}, "A stint stands outside the controls of its block: the drift is extrapolated to it.")
			}
		} else {
			row.Caveats.Add("not_computed", caveat.Place{Code: e.Code}, "There is no estimate: %s.", e.Why)
		}
		r.Rows = append(r.Rows, row)
	}
	for _, s := range seq.Stints {
		if s.Control {
			r.Runs += s.N()
		}
	}

	// The interval of all comparisons together.
	low, high := make([]*float64, len(r.Rows)), make([]*float64, len(r.Rows))
	if len(in) > 0 {
		f := manyone.Family{Corr: make([][]float64, len(in)), DF: float64(sc.DF()), Sided: manyone.TwoSided}
		if set.Sided == OneSided {
			f.Sided = manyone.Upper
		}
		for a := range in {
			f.Corr[a] = make([]float64, len(in))
			ea := &est.List[in[a].row]
			for b := range a {
				eb := &est.List[in[b].row]
				c := (dot(ea.Weights, eb.Weights) + walk*shared(ea.Open, eb.Open)) / math.Sqrt(in[a].v*in[b].v)
				c = max(-1, min(1, c))
				f.Corr[a][b], f.Corr[b][a] = c, c
			}
			f.Corr[a][a] = 1
		}
		crit, err := critical(f, 1-set.Confidence)
		if err != nil {
			return fault.At(err, "comparing %d candidates", len(in))
		}
		r.Critical, r.Method = crit.value, crit.method
		if crit.method == "Bonferroni" {
			r.Caveats.Add("bonferroni", caveat.Place{}, "With %d comparisons the intervals use Bonferroni's bound, which is a little too wide.", len(in))
		}
		if crit.bound > 1e-4*crit.value {
			r.Caveats.Add("critical_value_error", caveat.Place{}, "The critical value %.4f is known to ±%.1g only.", crit.value, crit.bound)
		}
		nc, err := manyone.Noncentrality(crit.value, float64(sc.DF()), set.Power, f.Sided)
		hasNC := err == nil && finite(nc)
		t := make([]float64, len(in))
		for a, j := range in {
			e, row := &est.List[j.row], &r.Rows[j.row]
			se := sigma * math.Sqrt(j.v)
			t[a] = e.Value / se
			row.SE, row.T = some(se), some(t[a])
			row.RawP = some(f.RawP(t[a]))
			low[j.row] = some(e.Value - crit.value*se)
			if set.Sided == TwoSided {
				high[j.row] = some(e.Value + crit.value*se)
			}
			if hasNC {
				row.Detectable = r.points(nc * se)
			}
		}
		for a, j := range in {
			if set.Quick {
				break
			}
			p, err := adjusted(f, t[a])
			if err != nil {
				return fault.At(err, "adjusting the p-value of %s", r.Rows[j.row].Code)
			}
			r.Rows[j.row].P = some(p)
		}
	}

	margin, err := r.margin(seq)
	if err != nil {
		return err
	}
	controlSets := seq.SetsOf(r.Control)
	for i := range r.Rows {
		e, row := &est.List[i], &r.Rows[i]
		g := Grounds{Low: low[i], High: high[i], Margin: margin, DF: sc.DF(), Comparisons: len(in), Stints: row.Stints, Runs: row.Runs,
			About: TheseSets, Directed: seq.Directed}
		if len(row.Sets) >= 2 && len(controlSets) >= 2 {
			g.About = ThisTyre
		}
		switch {
		case !e.OK:
			g.Withheld = e.Why
		case sc.Flat:
			g.Withheld = "there is no scatter to judge by"
		case sc.DF() == 0:
			g.Withheld = "there are no degrees of freedom to judge by"
		case len(e.Open) > 0 && set.DriftSD == nil:
			g.Withheld = "no control closes the block, and the drift since has no known size"
		case (len(e.Open) > 0 || e.Blind) && set.Open == OpenNotShown:
			g.Withheld = "no control closes the block"
		}
		if e.OK {
			g.Estimate = some(e.Value)
			r.present(row, e.Value, low[i], high[i])
		}
		row.Verdict = Judge(g)
		if row.Stints == 1 {
			row.Caveats.Add("one_stint", caveat.Place{Code: row.Code}, "The candidate was fitted once: what its fitment did cannot be told from the tyre.")
		}
		row.Caveats = row.Caveats.Within(caveat.Place{Measure: r.Measure.ID})
	}
	return nil
}

// shared gives the random walk that two estimates share, in walk variances.
func shared(a, b []correct.Anchor) float64 {
	s := 0.0
	for _, p := range a {
		for _, q := range b {
			if p.Control == q.Control && p.Distance*q.Distance > 0 {
				s += p.Weight * q.Weight * min(math.Abs(p.Distance), math.Abs(q.Distance))
			}
		}
	}
	return s
}

// present turns estimate and interval into index or difference.
func (r *Result) present(row *Row, value float64, low, high *float64) {
	if r.Scale == programme.Ratio {
		row.Index, row.IndexLow, row.IndexHigh = index(&value), index(low), index(high)
		for _, end := range []struct{ from, to *float64 }{{low, row.IndexLow}, {high, row.IndexHigh}} {
			if end.from != nil && end.to == nil {
				row.Caveats.Add("interval_out_of_range", caveat.Place{Code: row.Code}, "An end of the interval lies beyond what an index can print; the scatter is too large to say anything.")
			}
		}
		return
	}
	row.Difference, row.DiffLow, row.DiffHigh = some(value), low, high
}

// index gives 100 exp(x), nil beyond what a float64 holds.
func index(x *float64) *float64 {
	if x == nil {
		return nil
	}
	v := 100 * math.Exp(*x)
	if !finite(v) {
		return nil
	}
	return &v
}

// points gives a length on the analysis scale as people read it: index points
// above 100, or the unit. Nil beyond what can be printed.
func (r *Result) points(x float64) *float64 {
	if r.Scale == programme.Ratio {
		x = 100 * math.Expm1(x)
	}
	if !finite(x) {
		return nil
	}
	return &x
}

// margin gives the margin on the analysis scale.
func (r *Result) margin(seq *sequence.Sequence) (*float64, error) {
	m := r.Settings.Margin
	switch {
	case m == nil:
		return nil, nil
	case r.Scale == programme.Difference:
		return some(m.Value), nil
	case m.InUnit:
		level := math.Abs(seq.Level(r.Settings))
		return some(math.Log1p(m.Value / level)), nil
	}
	return some(math.Log1p(m.Value / 100)), nil
}

func some(x float64) *float64 {
	if !finite(x) {
		return nil
	}
	return &x
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func bits(x float64) string {
	b := math.Float64bits(x)
	var out [8]byte
	for i := range out {
		out[i] = byte(b >> (8 * i))
	}
	return string(out[:])
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func is(x float64) *float64 { return &x }
