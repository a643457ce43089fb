// Package joint judges several estimates together: the point at which all their
// intervals hold at once, p-values adjusted for all of them, any two of them
// against each other, and which of them are not shown to differ.
//
// In the trade several candidates are compared with one control, and the client
// reads all the verdicts. Intervals are Dunnett's for the estimates' own
// correlations; candidates among each other are all pairs (Tukey's kind), with
// letters. Both hold by themselves, not together.
//
// Sources: Dunnett (1955, 1964), Piepho (2004) for letters, as package
// stat/manyone has them. Units: the analysis scale. Limits: more than 40
// candidates go by Bonferroni's bound; letters for up to 9.
package joint

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"sync"

	"example.org/bookend/compare/link"
	"example.org/bookend/compare/setting"
	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/stat/tail"
)

// Bonferroni is the method of families too large for another one.
const Bonferroni = "Bonferroni"

// memory keeps critical points and p-values: they depend on the correlations,
// the degrees of freedom and the level alone, are the same bits however they are
// come by, and cost far more than all else. Measures of one programme share
// them, and so does the same programme compared again.
var memory = struct {
	sync.Mutex
	points map[string]Point
	ps     map[string]float64
}{points: map[string]Point{}, ps: map[string]float64{}}

// remembered bounds each map of memory; a full one is emptied.
const remembered = 4096

// Point is a common critical point.
type Point struct {
	Value  float64
	Method string  // how it was computed
	Bound  float64 // of its error
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

// Critical gives the point at which a family of comparisons is wrong with
// probability alpha.
func Critical(f manyone.Family, alpha float64) (Point, error) {
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
		p = Point{Value: tail.TPoint(side, f.DF), Method: Bonferroni}
	} else {
		var err error
		if p.Value, p.Bound, err = f.Critical(alpha); err != nil {
			return p, err
		}
		if p.Method, err = f.Method(); err != nil {
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

// Adjusted gives the p-value of t in its family, for all comparisons together.
func Adjusted(f manyone.Family, t float64) (float64, error) {
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

// Forget empties what is remembered, as after a start of the program.
func Forget() {
	memory.Lock()
	defer memory.Unlock()
	clear(memory.points)
	clear(memory.ps)
}

// grain is what correlations are rounded to, 2^-40: measures of one layout have the
// same ones but for the rounding of their scatter, and so share what is remembered.
// It moves a common point by less than 1e-12, a hundredth of what the quadratures
// leave.
const grain = 1. / (1 << 40)

// Family makes estimates of a covariance a family of comparisons.
func Family(cov [][]float64, df float64, sided setting.Sides) manyone.Family {
	f := manyone.Family{Corr: make([][]float64, len(cov)), DF: df, Sided: manyone.TwoSided}
	if sided == setting.OneSided {
		f.Sided = manyone.Upper
	}
	for a := range cov {
		f.Corr[a] = make([]float64, len(cov))
		for b := range a {
			c := grain * math.Round(max(-1, min(1, cov[a][b]/math.Sqrt(cov[a][a]*cov[b][b])))/grain)
			f.Corr[a][b], f.Corr[b][a] = c, c
		}
		f.Corr[a][a] = 1
	}
	return f
}

// Estimates is the estimates that are judged together, on the analysis scale and
// positive better, as Verdict has them. It puts any two tyres of the comparison
// against each other: those compared, and the control, which is 0 for certain.
type Estimates struct {
	Control  string
	Codes    []string
	Estimate []float64
	Cov      [][]float64
	DF       float64 // of the common interval
	Ratio    bool
}

// at gives the place of a code, -1 for the control.
func (j *Estimates) at(code string) (int, error) {
	if code == j.Control {
		return -1, nil
	}
	if i := slices.Index(j.Codes, code); i >= 0 {
		return i, nil
	}
	return 0, fault.New(fault.NotFound, "%q is not among what was judged together", code)
}

func (j *Estimates) value(i int) float64 {
	if i < 0 {
		return 0
	}
	return j.Estimate[i]
}

func (j *Estimates) cov(a, b int) float64 {
	if a < 0 || b < 0 {
		return 0
	}
	return j.Cov[a][b]
}

// Against puts all tyres but one against that one: a fan, the first part of a
// chain through a link tyre.
func (j *Estimates) Against(code string) (link.Fan, error) {
	l, err := j.at(code)
	if err != nil {
		return link.Fan{}, err
	}
	f := link.Fan{Against: code, DF: j.DF, Ratio: j.Ratio, From: j}
	var list []int
	for i, c := range append([]string{j.Control}, j.Codes...) {
		if c != code {
			list = append(list, i-1)
			f.Codes = append(f.Codes, c)
			f.Estimate = append(f.Estimate, j.value(i-1)-j.value(l))
		}
	}
	for _, a := range list {
		var row []float64
		for _, b := range list {
			row = append(row, j.cov(a, b)-j.cov(a, l)-j.cov(l, b)+j.cov(l, l))
		}
		f.Cov = append(f.Cov, row)
	}
	return f, nil
}

// Leg puts one tyre against another: a later part of a chain.
func (j *Estimates) Leg(of, against string) (link.Leg, error) {
	f, err := j.Against(against)
	if err != nil {
		return link.Leg{}, err
	}
	i := slices.Index(f.Codes, of)
	if i < 0 {
		return link.Leg{}, fault.New(fault.NotFound, "%q is not among what was judged together", of)
	}
	return link.Leg{Of: of, Against: against, Estimate: f.Estimate[i], Variance: f.Cov[i][i], DF: f.DF, Ratio: f.Ratio, From: j}, nil
}

func bits(x float64) string {
	b := math.Float64bits(x)
	var out [8]byte
	for i := range out {
		out[i] = byte(b >> (8 * i))
	}
	return string(out[:])
}

// Group is the candidates among each other, all pairs at once.
type Group struct {
	Codes   []string // in the order of Estimates
	Letters []string // codes that share one are not shown to differ; a is the best group
	Pairs   []Pair
	// Low and High enclose the common point of all pairs, in standard errors: a pair
	// up to Low is not shown to differ, one beyond High is.
	Low, High float64
	Wide      bool // a pair lies between them, and is not shown for that: beyond ExactCodes the point itself takes too long
}

// Pair is one candidate against another one: B less A.
type Pair struct {
	A, B       string
	Difference float64 // on the analysis scale, positive: B is better
	SE         float64
	Differ     bool // shown, all pairs together
}

// ExactCodes is the largest number of codes for which a pair that the bounds leave
// open is decided by the tail of all pairs: of 4 codes that is one over a sphere, the
// 10 pairs of 5 take longer than anybody waits (package manyone, its lattice).
const ExactCodes = 4

// Letters groups the candidates at a simultaneous level; nil where there are
// fewer than two, or more than are done. Decisions are taken between a point that
// is too small (of fewer comparisons) and one that is too large (Bonferroni's)
// wherever those agree.
func (j *Estimates) Letters(alpha float64) (*Group, error) {
	k := len(j.Codes)
	if k < 2 || k > manyone.MostCodes {
		return nil, nil
	}
	out := &Group{Codes: j.Codes, High: tail.TPoint(alpha/float64(k*(k-1)), j.DF)}
	for a := range k {
		for b := a + 1; b < k; b++ {
			v := j.Cov[a][a] + j.Cov[b][b] - j.Cov[a][b] - j.Cov[b][a]
			if !(v > 1e-14*(j.Cov[a][a]+j.Cov[b][b])) {
				return nil, nil // nothing scatters between them
			}
			out.Pairs = append(out.Pairs, Pair{A: j.Codes[a], B: j.Codes[b], Difference: j.Estimate[b] - j.Estimate[a], SE: math.Sqrt(v)})
		}
	}
	first, err := j.Against(j.Codes[0])
	if err != nil {
		return nil, err
	}
	var cov [][]float64 // the control, which comes first, left out
	for _, row := range first.Cov[1:] {
		cov = append(cov, row[1:])
	}
	few, err := Critical(Family(cov, j.DF, setting.TwoSided), alpha)
	if err != nil {
		return nil, fault.At(err, "comparing %d candidates with each other", k)
	}
	if math.IsInf(out.High, 0) || math.IsInf(few.Value, 0) {
		return nil, nil // with next to no degrees of freedom nothing can be shown
	}
	out.Low = few.Value
	if k == 2 {
		out.High = out.Low
	}
	var open []float64 // sizes of differences, in standard errors, that the bounds leave open
	for _, p := range out.Pairs {
		if t := math.Abs(p.Difference) / p.SE; out.Low < t && t <= out.High {
			open = append(open, t)
		}
	}
	if k > 2 && len(open) > 0 {
		if out.Wide = k > ExactCodes; !out.Wide {
			if err := out.part(j, open, alpha); err != nil {
				return nil, fault.At(err, "comparing %d candidates with each other", k)
			}
		}
	}
	differ := make([][]bool, k)
	order := make([]int, k)
	for i := range differ {
		differ[i], order[i] = make([]bool, k), i
	}
	n := 0
	for a := range k {
		for b := a + 1; b < k; b++ {
			p := &out.Pairs[n]
			p.Differ = math.Abs(p.Difference)/p.SE > out.High
			differ[a][b], differ[b][a] = p.Differ, p.Differ
			n++
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(j.Estimate[b], j.Estimate[a]) })
	out.Letters = manyone.Letters(differ, order)
	return out, nil
}

// part puts the common point between those of the open sizes that lie on its two
// sides: whether it is below one is the tail there, and the point itself nobody
// needs.
func (g *Group) part(j *Estimates, open []float64, alpha float64) error {
	f := manyone.Family{DF: j.DF, Sided: manyone.TwoSided}
	k := len(j.Codes)
	type pair struct{ a, b int }
	var list []pair
	for a := range k {
		for b := a + 1; b < k; b++ {
			list = append(list, pair{a, b})
		}
	}
	for x, p := range list {
		row := make([]float64, len(list))
		for y, q := range list {
			c := j.Cov[p.b][q.b] - j.Cov[p.b][q.a] - j.Cov[p.a][q.b] + j.Cov[p.a][q.a]
			row[y] = c / (g.Pairs[x].SE * g.Pairs[y].SE)
		}
		row[x] = 1
		f.Corr = append(f.Corr, row)
	}
	slices.Sort(open)
	low, high := 0, len(open) // open[:low] are not beyond the point, open[high:] are
	for low < high {
		mid := (low + high) / 2
		p, err := Adjusted(f, open[mid])
		if err != nil {
			return err
		}
		if p < alpha {
			high = mid
		} else {
			low = mid + 1
		}
	}
	if low > 0 {
		g.Low = open[low-1]
	}
	if high < len(open) {
		g.High = math.Nextafter(open[high], 0) // that one is beyond
	}
	return nil
}

// mostSteps bounds step-down tests: own choice; each step is a probability of its
// own, and with a dozen brackets one takes the better part of a second.
const mostSteps = 10

// StepDown gives p-values adjusted step by step: never larger than Adjusted's,
// for decisions alone, since no intervals belong to them. Nil where there are too
// many.
func (j *Estimates) StepDown(sided setting.Sides) ([]float64, error) {
	k := len(j.Codes)
	if k == 0 || k > mostSteps {
		return nil, nil
	}
	t := make([]float64, k)
	for i := range t {
		t[i] = j.Estimate[i] / math.Sqrt(j.Cov[i][i])
	}
	p, _, err := Family(j.Cov, j.DF, sided).StepDown(t)
	return p, err
}
