// Package ordinal fits ratings as what they are: ordered categories, whose steps
// need not be alike.
//
// In the trade an evaluator's 7 is more than a 6, but nobody knows by how much.
// The cumulative-logit model lets the data say: behind each rating stands a
// value on a continuous scale, cut by thresholds into the categories,
//
//	logit P(rating <= j) = threshold_j - x beta - u
//
// with fixed terms x beta and, for each rater (session, day), a random severity
// u that is normal with mean zero. A positive coefficient means higher ratings.
//
// With one random term the likelihood is integrated by adaptive Gauss-Hermite
// quadrature and climbed by Newton's method with exact derivatives; with several
// (crossed or nested) it is Laplace's approximation, which is a little off where
// a group has few ratings. Errors come from the observed information.
//
// Sources: McCullagh, JRSS B 42 (1980) 109; Christensen, R package ordinal, and
// its tutorial of the wine data (Randall 1989), against which it is checked.
// Estimates are on the logit scale, without unit. Limits: dense, some hundreds
// of ratings; the same thresholds and the same coefficients for everybody; tests
// are those of large numbers.
package ordinal

import (
	"math"
	"slices"
	"strconv"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/tail"
)

// Thresholds says how the thresholds may lie.
type Thresholds int

// The kinds of thresholds.
const (
	Flexible    Thresholds = iota // in any rising order
	Symmetric                     // with the same distances on both sides of the middle
	Equidistant                   // with the same distance between all
)

// Random is a random term: one group a row.
type Random struct {
	Name   string
	Groups []string
}

// Options of a fit. The zero value is flexible thresholds, and 30 nodes for a
// single random term.
type Options struct {
	Thresholds Thresholds
	// Nodes of the quadrature, 1 to 60; 0 means 30, with which the wine data's
	// likelihood is the integral to 1e-10. 1 is Laplace's approximation.
	Nodes int
}

// Coefficient is one line of a table of estimates.
type Coefficient struct {
	Name     string
	Estimate float64 // on the logit scale
	StdErr   float64
	Z, P     float64 // P two-sided, normal, unadjusted
}

// Spread is the estimate of a random term.
type Spread struct {
	Name   string
	SD     float64 // standard deviation of the groups on the logit scale
	StdErr float64 // of SD, from the curvature; rough
	Zero   bool    // estimated as exactly zero
}

// Effect is the severity of one group: a positive one rates higher.
type Effect struct {
	Group    string
	Estimate float64 // most likely value
	StdErr   float64 // from the curvature there, with all else taken as known
}

// Model is a fitted model.
type Model struct {
	Labels       []string      // categories used, lowest first
	Counts       []int         // how often each was given
	Coefficients []Coefficient // one a column of the design but the intercept
	Cuts         []Coefficient // thresholds, named "6|7" after the categories they part
	Random       []Spread
	LogLik       float64
	Parameters   int // how many were estimated
	Laplace      bool
	Caveats      caveat.List

	data    *data
	x       []float64 // alpha, beta, sigma
	cov     [][]float64
	columns []int // of the design, for each coefficient
	width   int   // of the design
	random  []Random
	modes   [][]Effect
}

// data is the problem in numbers.
type data struct {
	n, cuts, p int
	category   []int       // one a row
	x          [][]float64 // one a row
	t          [][]float64 // thresholds = t alpha
	group      [][]int     // per random term, one a row
	groups     []int       // per random term, how many
}

func (d *data) alphas() int { return len(d.t[0]) }

// size gives the number of parameters.
func (d *data) size() int { return d.alphas() + d.p + len(d.groups) }

// Categories sorts the distinct values of ratings into labels, lowest first, and
// gives each rating's place among them.
func Categories(ratings []float64) (labels []string, category []int, err error) {
	for i, v := range ratings {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, nil, fault.New(fault.Invalid, "rating %d is no number", i+1)
		}
	}
	values := slices.Clone(ratings)
	slices.Sort(values)
	values = slices.Compact(values)
	for _, v := range values {
		labels = append(labels, strconv.FormatFloat(v, 'g', -1, 64))
	}
	for _, v := range ratings {
		k, _ := slices.BinarySearch(values, v)
		category = append(category, k)
	}
	return labels, category, nil
}

// Fit fits ratings, given as places among the labels, lowest 0, one a row of the
// design. An intercept in the design is left out: the thresholds take its place.
func Fit(d *linear.Design, category []int, labels []string, random []Random, opt Options) (*Model, error) {
	m := &Model{random: random, width: len(d.Names())}
	if err := m.prepare(d, category, labels, opt); err != nil {
		return nil, err
	}
	nodes := opt.Nodes
	switch {
	case nodes == 0:
		nodes = 30
	case nodes < 1 || nodes > 60:
		return nil, fault.New(fault.Invalid, "%d nodes are not from 1 to 60", nodes)
	}
	x, err := m.climbAll(nodes, opt.Thresholds, d.Names())
	if err != nil {
		return nil, err
	}
	m.x = x
	m.conclude(d.Names())
	return m, nil
}

// prepare checks what is given and lays it out.
func (m *Model) prepare(d *linear.Design, category []int, labels []string, opt Options) error {
	n := d.Rows()
	if len(category) != n {
		return fault.New(fault.Invalid, "%d ratings for %d rows", len(category), n)
	}
	if opt.Thresholds < Flexible || opt.Thresholds > Equidistant {
		return fault.New(fault.Invalid, "there is no kind %d of thresholds", opt.Thresholds)
	}
	seen := map[string]bool{}
	for _, l := range labels {
		if seen[l] {
			return fault.New(fault.Invalid, "category %q is named twice", l)
		}
		seen[l] = true
	}
	counts := make([]int, len(labels))
	for i, k := range category {
		if k < 0 || k >= len(labels) {
			return fault.New(fault.Invalid, "rating %d is in category %d of %d", i+1, k, len(labels))
		}
		counts[k]++
	}
	used := 0
	for _, c := range counts {
		if c > 0 {
			used++
		}
	}
	if used < 2 {
		return fault.New(fault.Invalid, "all ratings are the same: nothing can be told from them")
	}
	// Categories that nobody gave.
	to := make([]int, len(labels))
	for k, l := range labels {
		to[k] = len(m.Labels)
		if counts[k] == 0 && opt.Thresholds == Flexible {
			m.Caveats.Add("category_empty", caveat.Place{}, "Nobody gave a rating of %s: the thresholds on its two sides are one.", l)
			continue
		}
		if counts[k] == 0 {
			m.Caveats.Add("category_empty", caveat.Place{}, "Nobody gave a rating of %s: its thresholds rest on the pattern of the others.", l)
		}
		m.Labels, m.Counts = append(m.Labels, l), append(m.Counts, counts[k])
	}
	dt := &data{n: n, cuts: len(m.Labels) - 1}
	for _, k := range category {
		dt.category = append(dt.category, to[k])
	}
	dt.t = pattern(opt.Thresholds, dt.cuts)
	// Fixed columns that stand out of the ones and of each other.
	names := d.Names()
	rows := make([][]float64, n)
	for i := range rows {
		rows[i] = d.Row(i)
	}
	var basis [][]float64
	try := func(x []float64) bool {
		whole := norm(x)
		for range 2 {
			for _, q := range basis {
				f := dot(q, x)
				for i := range x {
					x[i] -= f * q[i]
				}
			}
		}
		left := norm(x)
		if whole == 0 || left <= linear.RankTol*whole {
			return false
		}
		for i := range x {
			x[i] /= left
		}
		basis = append(basis, x)
		return true
	}
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	try(ones)
	for j, name := range names {
		if name == "intercept" {
			continue
		}
		x := make([]float64, n)
		for i := range x {
			x[i] = rows[i][j]
		}
		if !try(x) {
			return fault.New(fault.Invalid, "column %q cannot be told apart from those before it and the thresholds", name).
				WithHint("leave it out, or add ratings that tell it apart")
		}
		m.columns = append(m.columns, j)
	}
	dt.p = len(m.columns)
	for i := range rows {
		x := make([]float64, dt.p)
		for c, j := range m.columns {
			x[c] = rows[i][j]
		}
		dt.x = append(dt.x, x)
	}
	called := map[string]bool{}
	for _, r := range m.random {
		if r.Name == "" || called[r.Name] {
			return fault.New(fault.Invalid, "a random term is called %q, or two are", r.Name)
		}
		called[r.Name] = true
		if len(r.Groups) != n {
			return fault.New(fault.Invalid, "%d groups for %d rows", len(r.Groups), n).At("random term %q", r.Name)
		}
		g, q := places(r.Groups)
		if q < 2 {
			return fault.New(fault.Invalid, "there is a single group, whose severity the thresholds take up").At("random term %q", r.Name)
		}
		if q == n {
			return fault.New(fault.Invalid, "each group has a single rating: its scatter cannot be told from the ratings' own").At("random term %q", r.Name)
		}
		for k := range dt.group {
			if slices.Equal(dt.group[k], g) {
				return fault.New(fault.Invalid, "it has the same groups as %q", m.random[k].Name).At("random term %q", r.Name)
			}
		}
		// Groups that the fixed terms tell apart completely.
		inside := true
		for k := range q {
			x := make([]float64, n)
			for i := range x {
				if g[i] == k {
					x[i] = 1
				}
			}
			whole := norm(x)
			for range 2 {
				for _, b := range basis {
					f := dot(b, x)
					for i := range x {
						x[i] -= f * b[i]
					}
				}
			}
			// 1e-9: the rounding of the projection.
			if norm(x) > 1e-9*whole {
				inside = false
				break
			}
		}
		if inside {
			return fault.New(fault.Invalid, "it lies within the fixed terms: no rating tells its scatter").At("random term %q", r.Name)
		}
		dt.group, dt.groups = append(dt.group, g), append(dt.groups, q)
	}
	m.data = dt
	return nil
}

// places numbers groups in order of first appearance.
func places(groups []string) ([]int, int) {
	at := map[string]int{}
	out := make([]int, len(groups))
	for i, g := range groups {
		k, ok := at[g]
		if !ok {
			k = len(at)
			at[g] = k
		}
		out[i] = k
	}
	return out, len(at)
}

// pattern gives the matrix that makes thresholds of their parameters.
func pattern(kind Thresholds, cuts int) [][]float64 {
	t := make([][]float64, cuts)
	switch kind {
	case Symmetric:
		// Middle, or the two middle ones, and then distances outwards from them.
		size := cuts/2 + 1
		for j := range t {
			t[j] = make([]float64, size)
			if cuts%2 == 1 {
				c := cuts / 2
				t[j][0] = 1
				if j > c {
					t[j][j-c] = 1
				} else if j < c {
					t[j][c-j] = -1
				}
				continue
			}
			a, b := cuts/2-1, cuts/2
			switch {
			case j <= a:
				t[j][0] = 1
				if j < a {
					t[j][1+a-j] = -1
				}
			default:
				t[j][1] = 1
				if j > b {
					t[j][1+j-b] = 1
				}
			}
		}
	case Equidistant:
		for j := range t {
			t[j] = []float64{1, float64(j)}
			if cuts == 1 {
				t[j] = []float64{1}
			}
		}
	default:
		for j := range t {
			t[j] = make([]float64, cuts)
			t[j][j] = 1
		}
	}
	return t
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

func norm(x []float64) float64 { return math.Sqrt(dot(x, x)) }

// conclude fills the tables.
func (m *Model) conclude(names []string) {
	dt := m.data
	na := dt.alphas()
	line := func(name string, estimate, variance float64) Coefficient {
		c := Coefficient{Name: name, Estimate: estimate, StdErr: math.Sqrt(max(variance, 0))}
		if c.StdErr > 0 {
			c.Z = estimate / c.StdErr
			c.P = 2 * tail.Normal(math.Abs(c.Z))
		} else {
			c.P = 1
		}
		return c
	}
	for c, j := range m.columns {
		m.Coefficients = append(m.Coefficients, line(names[j], m.x[na+c], m.cov[na+c][na+c]))
	}
	for j, row := range dt.t {
		v := 0.0
		for a, x := range row {
			for b, y := range row {
				v += x * y * m.cov[a][b]
			}
		}
		m.Cuts = append(m.Cuts, line(m.Labels[j]+"|"+m.Labels[j+1], dot(row, m.x[:na]), v))
	}
}

// Contrasts gives combinations of the coefficients, one row of l over all columns
// of the design (that of an intercept does not count), and their covariance.
func (m *Model) Contrasts(l [][]float64) (estimate []float64, covariance [][]float64, err error) {
	na := m.data.alphas()
	for i, row := range l {
		if len(row) != m.width {
			return nil, nil, fault.New(fault.Invalid, "contrast %d has %d entries for %d columns", i+1, len(row), m.width)
		}
		for _, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, nil, fault.New(fault.Invalid, "contrast %d is not finite", i+1)
			}
		}
	}
	for _, row := range l {
		e := 0.0
		for c, j := range m.columns {
			e += row[j] * m.x[na+c]
		}
		estimate = append(estimate, e)
		var cov []float64
		for _, other := range l {
			v := 0.0
			for c, j := range m.columns {
				for k, i := range m.columns {
					v += row[j] * other[i] * m.cov[na+c][na+k]
				}
			}
			cov = append(cov, v)
		}
		covariance = append(covariance, cov)
	}
	return estimate, covariance, nil
}

// Probabilities gives how likely each category is for a row of the design, at a
// severity (0 for an average rater).
func (m *Model) Probabilities(row []float64, severity float64) ([]float64, error) {
	if len(row) != m.width {
		return nil, fault.New(fault.Invalid, "the row has %d entries for %d columns", len(row), m.width)
	}
	na := m.data.alphas()
	eta := severity
	for c, j := range m.columns {
		eta += row[j] * m.x[na+c]
	}
	out := make([]float64, len(m.Labels))
	last := 0.0
	for j, t := range m.data.t {
		f := logistic(dot(t, m.x[:na]) - eta)
		out[j], last = f-last, f
	}
	out[len(out)-1] = 1 - last
	return out, nil
}

// Effects gives the severities of the groups of a random term, in order of first
// appearance.
func (m *Model) Effects(name string) ([]Effect, error) {
	for k, r := range m.random {
		if r.Name == name {
			return slices.Clone(m.modes[k]), nil
		}
	}
	return nil, fault.New(fault.NotFound, "the model has no random term %q", name)
}

// Ratio is a likelihood-ratio test of a small model inside a large one.
type Ratio struct {
	Statistic float64
	DF        int
	P         float64 // of chi-square
	// Mixture is P of the mixture that holds where the large model has one
	// random term more: its scatter lies at the edge of what is possible if it
	// is zero (Self and Liang 1987).
	Mixture    float64
	HasMixture bool
}

// LikelihoodRatio tests a small model inside a large one, fitted to the same
// ratings with the same kind of likelihood.
func LikelihoodRatio(small, large *Model) (Ratio, error) {
	wrong := func(format string, args ...any) (Ratio, error) {
		return Ratio{}, fault.New(fault.Invalid, format, args...)
	}
	if !slices.Equal(small.Labels, large.Labels) || !slices.Equal(small.data.category, large.data.category) {
		return wrong("the models are fitted to different ratings")
	}
	if len(small.random) > 0 && small.Laplace != large.Laplace {
		return wrong("one of the likelihoods is Laplace's approximation")
	}
	if small.data.alphas() > large.data.alphas() {
		return wrong("the small model has more thresholds")
	}
	used := map[int]bool{}
	for k, r := range small.random {
		found := false
		for l := range large.random {
			if !used[l] && slices.Equal(small.data.group[k], large.data.group[l]) {
				used[l], found = true, true
				break
			}
		}
		if !found {
			return wrong("the models are not nested: random term %q is not in the larger one", r.Name)
		}
	}
	// The small model's columns lie in the span of the large one's and of ones.
	var basis [][]float64
	add := func(x []float64) (whole, left float64) {
		whole = norm(x)
		for range 2 {
			for _, q := range basis {
				f := dot(q, x)
				for i := range x {
					x[i] -= f * q[i]
				}
			}
		}
		return whole, norm(x)
	}
	column := func(m *Model, c int) []float64 {
		x := make([]float64, m.data.n)
		for i := range x {
			x[i] = 1
			if c >= 0 {
				x[i] = m.data.x[i][c]
			}
		}
		return x
	}
	for c := -1; c < large.data.p; c++ {
		x := column(large, c)
		if _, left := add(x); left > 0 {
			for i := range x {
				x[i] /= left
			}
			basis = append(basis, x)
		}
	}
	for c := range small.data.p {
		// 1e-8: rounding of columns that lean on each other.
		if whole, left := add(column(small, c)); left > 1e-8*whole {
			return wrong("the models are not nested: column %q is not in the larger one", small.Coefficients[c].Name)
		}
	}
	r := Ratio{Statistic: max(0, 2*(large.LogLik-small.LogLik)), DF: large.Parameters - small.Parameters, P: 1}
	if r.DF <= 0 {
		return wrong("the models have as many parameters")
	}
	more := len(large.random) - len(small.random)
	lower := 0.0
	if r.Statistic > 0 {
		r.P = tail.Chi2(r.Statistic, float64(r.DF))
		if r.DF > 1 {
			lower = tail.Chi2(r.Statistic, float64(r.DF-1))
		}
	}
	if more == 1 {
		r.HasMixture, r.Mixture = true, (r.P+lower)/2
		if r.Statistic == 0 {
			r.Mixture = 1
		}
	}
	return r, nil
}
