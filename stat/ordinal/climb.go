package ordinal

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

func logistic(x float64) float64 {
	if x < 0 {
		e := math.Exp(x)
		return e / (1 + e)
	}
	return 1 / (1 + math.Exp(-x))
}

// logLogistic gives log F(x) without loss in either tail.
func logLogistic(x float64) float64 {
	if x < 0 {
		return x - math.Log1p(math.Exp(x))
	}
	return -math.Log1p(math.Exp(-x))
}

// rating is the log likelihood of one rating, between the upper limit a and the
// lower limit b, and its derivatives. With logistic F,
//
//	F(a) - F(b) = F(a) F(-b) (1 - exp(-(a - b)))
//
// keeps all digits and makes the second derivatives plain.
type rating struct {
	l          float64
	a, b       float64 // first derivatives
	aa, ab, bb float64
	hasA, hasB bool
	eta, eta2  float64 // over what is taken off both limits
	etaA, etaB float64 // mixed
}

func rate(a, b float64, hasA, hasB bool) rating {
	r := rating{hasA: hasA, hasB: hasB, eta: -1}
	fa, fb := 1.0, 0.0
	if hasA {
		fa = logistic(a)
		r.l += logLogistic(a)
		r.a = logistic(-a)
		r.aa = -fa * r.a
		r.etaA = -r.aa
		r.eta2 += r.aa
	}
	if hasB {
		fb = logistic(b)
		r.l += logLogistic(-b)
		r.b = -fb
		r.bb = -fb * logistic(-b)
		r.etaB = -r.bb
		r.eta2 += r.bb
	}
	r.eta += fa + fb
	if hasA && hasB {
		d := a - b
		r.l += math.Log(-math.Expm1(-d))
		e := math.Expm1(d)
		m1 := 1 / e
		m2 := -(e + 1) / (e * e)
		if math.IsInf(e, 1) {
			m1, m2 = 0, 0
		}
		r.a += m1
		r.b -= m1
		r.aa += m2
		r.bb += m2
		r.ab = -m2
	}
	return r
}

// limits gives the thresholds, and false where they do not rise.
func (d *data) limits(x []float64) ([]float64, bool) {
	out := make([]float64, d.cuts)
	for j, t := range d.t {
		out[j] = dot(t, x[:d.alphas()])
		if math.IsNaN(out[j]) || math.IsInf(out[j], 0) || (j > 0 && !(out[j] > out[j-1])) {
			return nil, false
		}
	}
	return out, true
}

// at gives the rating of row i at eta.
func (d *data) at(i int, cuts []float64, eta float64) rating {
	k := d.category[i]
	var a, b float64
	if k < d.cuts {
		a = cuts[k] - eta
	}
	if k > 0 {
		b = cuts[k-1] - eta
	}
	return rate(a, b, k < d.cuts, k > 0)
}

// add adds the first and second derivatives of a rating over alpha, beta and, if
// z is given, sigma with eta's derivative z.
func (d *data) add(i int, r rating, z float64, sigma bool, g []float64, h [][]float64) {
	na := d.alphas()
	k := d.category[i]
	var ta, tb []float64
	if r.hasA {
		ta = d.t[k]
	}
	if r.hasB {
		tb = d.t[k-1]
	}
	at := func(t []float64, j int) float64 {
		if t == nil {
			return 0
		}
		return t[j]
	}
	w := d.x[i]
	deriv := func(j int) float64 { // of eta
		if j < d.p {
			return w[j]
		}
		return z
	}
	ne := d.p
	if sigma {
		ne++
	}
	for j := range na {
		va, vb := at(ta, j), at(tb, j)
		g[j] += r.a*va + r.b*vb
		for q := range j + 1 {
			ua, ub := at(ta, q), at(tb, q)
			h[j][q] += r.aa*va*ua + r.bb*vb*ub + r.ab*(va*ub+vb*ua)
		}
		e := r.etaA*va + r.etaB*vb
		for c := range ne {
			h[na+c][j] += e * deriv(c)
		}
	}
	for c := range ne {
		v := deriv(c)
		g[na+c] += r.eta * v
		for q := range c + 1 {
			h[na+c][na+q] += r.eta2 * v * deriv(q)
		}
	}
}

func mirror(h [][]float64) {
	for i := range h {
		for j := range i {
			h[j][i] = h[i][j]
		}
	}
}

func square(n int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
	}
	return out
}

// likelihood gives the log likelihood at x, its gradient and its second
// derivatives; false where x is not allowed.
type likelihood func(x []float64, derivatives bool) (l float64, g []float64, h [][]float64, ok bool)

// plain is the likelihood without random terms.
func (d *data) plain(x []float64, derivatives bool) (float64, []float64, [][]float64, bool) {
	cuts, ok := d.limits(x)
	if !ok {
		return 0, nil, nil, false
	}
	n := d.alphas() + d.p
	l, g, h := 0.0, make([]float64, n), square(n)
	for i := range d.n {
		r := d.at(i, cuts, dot(d.x[i], x[d.alphas():n]))
		l += r.l
		if derivatives {
			d.add(i, r, 0, false, g, h)
		}
	}
	mirror(h)
	return l, g, h, !math.IsNaN(l) && !math.IsInf(l, 0)
}

// quadrature is the likelihood with one random term: for each group adaptive
// Gauss-Hermite quadrature over its severity sigma b, b standard normal. The
// derivatives are those of the integral: means and covariances of the
// conditional ones (Louis 1982).
func (d *data) quadrature(nodes int) likelihood {
	location, weight := make([]float64, nodes), make([]float64, nodes)
	quad.Hermite{}.FixedLocations(location, weight, math.Inf(-1), math.Inf(1))
	members := make([][]int, d.groups[0])
	for i, g := range d.group[0] {
		members[g] = append(members[g], i)
	}
	return func(x []float64, derivatives bool) (float64, []float64, [][]float64, bool) {
		cuts, ok := d.limits(x)
		if !ok {
			return 0, nil, nil, false
		}
		n := d.size()
		sigma := x[n-1]
		beta := x[d.alphas() : n-1]
		total, g, h := 0.0, make([]float64, n), square(n)
		for _, rows := range members {
			eta := make([]float64, len(rows))
			for k, i := range rows {
				eta[k] = dot(d.x[i], beta)
			}
			mode, curve := d.mode(rows, cuts, eta, sigma)
			spread := math.Sqrt2 / math.Sqrt(curve)
			logs := make([]float64, nodes)
			gs, hs := make([][]float64, nodes), make([][][]float64, nodes)
			for q := range nodes {
				b := mode + spread*location[q]
				logs[q] = -b*b/2 + math.Log(weight[q]) + location[q]*location[q] + math.Log(spread)
				if derivatives {
					gs[q], hs[q] = make([]float64, n), square(n)
				}
				for k, i := range rows {
					r := d.at(i, cuts, eta[k]+sigma*b)
					logs[q] += r.l
					if derivatives {
						d.add(i, r, b, true, gs[q], hs[q])
					}
				}
			}
			top := slices.Max(logs)
			sum := 0.0
			for _, v := range logs {
				sum += math.Exp(v - top)
			}
			total += top + math.Log(sum) - math.Log(2*math.Pi)/2
			if !derivatives {
				continue
			}
			mean := make([]float64, n)
			for q := range nodes {
				p := math.Exp(logs[q]-top) / sum
				for a, v := range gs[q] {
					mean[a] += p * v
				}
			}
			for q := range nodes {
				p := math.Exp(logs[q]-top) / sum
				for a := range n {
					for b := range a + 1 {
						h[a][b] += p * (hs[q][a][b] + (gs[q][a]-mean[a])*(gs[q][b]-mean[b]))
					}
				}
			}
			for a, v := range mean {
				g[a] += v
			}
		}
		mirror(h)
		return total, g, h, !math.IsNaN(total) && !math.IsInf(total, 0)
	}
}

// mode gives the most likely standard severity of a group, and the curvature
// there.
func (d *data) mode(rows []int, cuts, eta []float64, sigma float64) (b, curve float64) {
	// The log density is concave with curvature at least 1: Newton's steps of
	// at most 2 arrive; 100 are far more than needed.
	for range 100 {
		slope := -b
		curve = 1
		for k, i := range rows {
			r := d.at(i, cuts, eta[k]+sigma*b)
			slope += sigma * r.eta
			curve -= sigma * sigma * r.eta2
		}
		step := slope / curve
		step = max(-2, min(2, step))
		b += step
		// 1e-13: rounding.
		if math.Abs(step) < 1e-13*(1+math.Abs(b)) {
			break
		}
	}
	return b, curve
}

// far is how far apart two settings may lie on the logit scale before ratings
// are taken as separated: odds of 1e13, which no run of ratings can show.
const far = 30

// Gains below which a climb has arrived: steps of 1e-10 standard errors, and of
// 1e-7 where the derivatives are numerical.
const (
	exact     = 1e-20
	numerical = 1e-14
)

// climb takes Newton steps up a likelihood until a step gains less than enough.
func (d *data) climb(f likelihood, x []float64, names []string, enough float64) ([]float64, float64, [][]float64, error) {
	l, g, h, ok := f(x, true)
	if !ok {
		return nil, 0, nil, fault.New(fault.Internal, "the likelihood cannot be had where the search begins")
	}
	// 200 steps: ten are usual.
	for range 200 {
		step := uphill(h, g)
		gain := dot(step, g)
		moved := false
		for s := 1.0; s > 1e-8; s /= 2 {
			next := slices.Clone(x)
			for i := range next {
				next[i] += s * step[i]
			}
			nl, _, _, ok := f(next, false)
			// 1e-4: Armijo's constant (Nocedal and Wright, Numerical Optimization,
			// 3.1); 1e-13: rounding of the log likelihood.
			if ok && nl >= l+1e-4*s*gain-1e-13*math.Abs(l) {
				if nl, ng, nh, ok := f(next, true); ok {
					x, l, g, h, moved = next, nl, ng, nh, true
					break
				}
			}
		}
		if err := d.separated(x, names); err != nil {
			return nil, 0, nil, err
		}
		if !moved || gain < enough {
			break
		}
	}
	return x, l, h, nil
}

// separated refuses estimates that run away.
func (d *data) separated(x []float64, names []string) error {
	na := d.alphas()
	for c := range d.p {
		low, high := math.Inf(1), math.Inf(-1)
		for i := range d.n {
			low, high = min(low, d.x[i][c]), max(high, d.x[i][c])
		}
		if math.Abs(x[na+c])*(high-low) > far {
			return fault.New(fault.Invalid, "the ratings are separated by %q: its coefficient has no limit", names[c]).
				WithHint("every rating on one side of it is above those on the other; more ratings, or fewer terms, are needed")
		}
	}
	for k := range d.groups {
		if math.Abs(x[na+d.p+k]) > far {
			return fault.New(fault.Invalid, "the ratings are separated by the groups of a random term: its scatter has no limit").
				WithHint("the groups' ratings do not overlap; fit the groups as fixed, or compare within each")
		}
	}
	for a := range na {
		// A threshold alone cannot run away: each category has a rating. With a
		// pattern it can.
		if math.Abs(x[a]) > 4*far {
			return fault.New(fault.Invalid, "the thresholds have no limit in this pattern").WithHint("let them be flexible")
		}
	}
	return nil
}

// uphill gives Newton's step, with a rising ridge where the likelihood is not
// concave.
func uphill(h [][]float64, g []float64) []float64 {
	n := len(g)
	top := 0.0
	for i := range n {
		top = max(top, math.Abs(h[i][i]))
	}
	for ridge := 0.0; ; {
		a := square(n)
		for i := range n {
			for j := range n {
				a[i][j] = -h[i][j]
			}
			a[i][i] += ridge
		}
		if l, ok := factor(a); ok {
			return solve(l, g)
		}
		// 1e-6 of the largest curvature first, then ten times more.
		ridge = max(ridge*10, 1e-6*top, 1e-12)
	}
}

// factor gives the lower triangle l with l l' = a, false where a is not positive
// definite.
func factor(a [][]float64) ([][]float64, bool) {
	n := len(a)
	l := square(n)
	for i := range n {
		for j := range i + 1 {
			s := a[i][j] - dot(l[i][:j], l[j][:j])
			if i > j {
				l[i][j] = s / l[j][j]
				continue
			}
			// 1e-13: a pivot below this is rounding.
			if !(s > 1e-13*math.Abs(a[i][i])) || math.IsInf(s, 0) {
				return nil, false
			}
			l[i][i] = math.Sqrt(s)
		}
	}
	return l, true
}

func solve(l [][]float64, b []float64) []float64 {
	x := slices.Clone(b)
	n := len(x)
	for i := range n {
		x[i] = (x[i] - dot(l[i][:i], x[:i])) / l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x
}

// climbAll fits without random terms, then with them, and leaves out those whose
// scatter is zero.
func (m *Model) climbAll(nodes int, kind Thresholds, all []string) ([]float64, error) {
	d := m.data
	names := make([]string, d.p)
	for c, j := range m.columns {
		names[c] = all[j]
	}
	na := d.alphas()
	bare := *d
	bare.group, bare.groups = nil, nil
	// Thresholds where the shares of the categories put them.
	start := make([]float64, na+d.p)
	cum := 0.0
	flexible := make([]float64, d.cuts)
	for j := range flexible {
		cum += float64(m.Counts[j]) + 0.5
		share := cum / (float64(d.n) + 0.5*float64(len(m.Counts)))
		flexible[j] = math.Log(share / (1 - share))
	}
	if kind == Flexible {
		copy(start, flexible)
	} else {
		copy(start, leastSquares(d.t, flexible))
		if _, ok := d.limits(start); !ok {
			// Evenly from -2 to 2.
			for j := range flexible {
				flexible[j] = -2 + 4*float64(j)/math.Max(1, float64(d.cuts-1))
			}
			copy(start, leastSquares(d.t, flexible))
		}
	}
	x, l, h, err := bare.climb(bare.plain, start, names, exact)
	if err != nil {
		return nil, err
	}
	m.Laplace = len(d.groups) > 1 || (len(d.groups) == 1 && nodes == 1)
	zero := make([]bool, len(d.groups))
	for len(d.groups) > 0 {
		live := *d
		live.group, live.groups = nil, nil
		var at []int
		for k := range d.groups {
			if !zero[k] {
				live.group, live.groups = append(live.group, d.group[k]), append(live.groups, d.groups[k])
				at = append(at, k)
			}
		}
		if len(at) == 0 {
			x, l, h, err = bare.climb(bare.plain, start, names, exact)
			if err != nil {
				return nil, err
			}
			break
		}
		f, enough := live.laplace, numerical
		if !m.Laplace {
			f, enough = live.quadrature(nodes), exact
		}
		best := math.Inf(-1)
		// From a scatter of one and of a quarter.
		for _, s := range []float64{1, 0.25} {
			from := slices.Clone(x[:na+d.p])
			for range at {
				from = append(from, s)
			}
			nx, nl, nh, err := live.climb(f, from, names, enough)
			if err != nil {
				return nil, err
			}
			// 1e-9: the same maximum again.
			if nl > best+1e-9 {
				best, l, h = nl, nl, nh
				x = nx
			}
		}
		again := false
		for k, c := range at {
			// 1e-3 on the logit scale is no scatter that ratings could show; where
			// it is the maximum, the slope over the variance is downhill.
			if math.Abs(x[na+d.p+k]) < 1e-3 {
				zero[c], again = true, true
			}
		}
		if !again {
			full := make([]float64, na+d.p+len(d.groups))
			copy(full, x[:na+d.p])
			for k, c := range at {
				full[na+d.p+c] = math.Abs(x[na+d.p+k])
				if x[na+d.p+k] < 0 {
					for j := range h {
						if j != na+d.p+k {
							h[j][na+d.p+k], h[na+d.p+k][j] = -h[j][na+d.p+k], -h[na+d.p+k][j]
						}
					}
				}
			}
			m.LogLik = l
			if err := m.information(h, at); err != nil {
				return nil, err
			}
			m.finish(full, zero)
			return full, nil
		}
	}
	m.LogLik = l
	if err := m.information(h, nil); err != nil {
		return nil, err
	}
	full := make([]float64, na+d.p+len(d.groups))
	copy(full, x[:na+d.p])
	m.finish(full, zero)
	return full, nil
}

// information puts the inverse of the observed information into its places.
func (m *Model) information(h [][]float64, at []int) error {
	a := square(len(h))
	for i := range h {
		for j := range h {
			a[i][j] = -h[i][j]
		}
	}
	l, ok := factor(a)
	if !ok {
		return fault.New(fault.Invalid, "the ratings do not tell all terms of the model").WithHint("fit fewer terms")
	}
	d := m.data
	np := d.alphas() + d.p
	place := func(i int) int {
		if i < np {
			return i
		}
		return np + at[i-np]
	}
	m.cov = square(d.size())
	for i := range h {
		unit := make([]float64, len(h))
		unit[i] = 1
		for j, v := range solve(l, unit) {
			m.cov[place(i)][place(j)] = v
		}
	}
	return nil
}

// finish fills what is said of the random terms.
func (m *Model) finish(x []float64, zero []bool) {
	d := m.data
	np := d.alphas() + d.p
	m.Parameters = d.size()
	for k, r := range m.random {
		m.Random = append(m.Random, Spread{Name: r.Name, SD: x[np+k], StdErr: math.Sqrt(max(0, m.cov[np+k][np+k])), Zero: zero[k]})
		if zero[k] {
			m.Caveats.Add("variance_zero", caveat.Place{}, "The scatter of %q is estimated as exactly zero: its groups rate alike.", r.Name)
		}
	}
	if m.Laplace {
		m.Caveats.Add("laplace_approximation", caveat.Place{}, "The likelihood is Laplace's approximation: it is a little off where a group has few ratings.")
	}
	m.severities(x, zero)
}

// leastSquares gives the a with t a nearest to y.
func leastSquares(t [][]float64, y []float64) []float64 {
	n := len(t[0])
	a, b := square(n), make([]float64, n)
	for j, row := range t {
		for p, v := range row {
			b[p] += v * y[j]
			for q, w := range row {
				a[p][q] += v * w
			}
		}
	}
	l, ok := factor(a)
	if !ok {
		return make([]float64, n)
	}
	return solve(l, b)
}
