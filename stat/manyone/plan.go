package manyone

import (
	"encoding/binary"
	"math"
	"sync"

	"example.org/bookend/fault"
	"gonum.org/v1/gonum/mathext"
)

// The ways of computing, as results name them.
const (
	student   = "Student"
	plane     = "plane"
	oneFactor = "one factor"
	sphere    = "sphere"
	factors   = "factors"
	lattice   = "lattice"
	rangeOf   = "range"
	bonf      = "Bonferroni"
)

// Limits of the correlation matrix. A correlation printed to ten digits is
// taken as meant.
const (
	sameTol = 1e-12 // 1-|r| below this: the same comparison
	rankTol = 1e-10 // residual variance below this: no direction of its own
	// negligible is the sum of single tails below which it stands for the
	// family's, conservatively.
	negligible = 1e-10
	factorTol  = 1e-9 // largest misfit of lambda_i*lambda_j; moves a probability by less than 1e-10
)

// plan is a family made ready: its different comparisons and how to compute.
type plan struct {
	f      Family
	of     []int     // of each comparison: which different one it is
	sign   []float64 // and whether turned round
	r      [][]float64
	method string
	lambda []float64   // one factor, or the nearest to it
	l      [][]float64 // r = l l', for plane and sphere
	load   [][]float64 // two to four factors or as many as there are comparisons, exact or the nearest
	exact  bool        // the factors are exact
	net    *network    // of the exact factors
	unit   box         // limits of 1
	curve  *curve      // one factor or exact factors: the tail for a limit common to all
	pairs  int         // all pairs of so many codes, else 0
	even   [][]float64 // the pairs of codes of equal standing, as the lattice's aid
}

// box is the region inside: -lo_i*s <= Z_i <= hi_i*s for each different
// comparison, s the deviation over its true value.
type box struct{ lo, hi []float64 }

// prepared keeps plans: to find out how a family hangs together costs more than
// any tail that is asked of it. A plan is the same whoever made it first.
var prepared = struct {
	sync.Mutex
	plans map[string]*plan
}{plans: map[string]*plan{}}

// mostPrepared bounds the plans kept; when there are more all are dropped.
const mostPrepared = 512

// key names the correlations and whether the family is two-sided; degrees of
// freedom do not belong to a plan.
func (f Family) key() string {
	b := make([]byte, 0, 9+8*len(f.Corr)*(len(f.Corr)+1))
	b = append(b, byte(f.Sided))
	for _, row := range f.Corr {
		b = binary.LittleEndian.AppendUint64(b, uint64(len(row)))
		for _, v := range row {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	return string(b)
}

func (f Family) prepare() (*plan, error) {
	key := f.key()
	prepared.Lock()
	p, ok := prepared.plans[key]
	prepared.Unlock()
	if ok && f.DF > 0 {
		copied := *p
		copied.f = f
		return &copied, nil
	}
	p, err := f.fresh()
	if err != nil {
		return nil, err
	}
	p.f.Corr = nil // the caller's, who may change it
	prepared.Lock()
	defer prepared.Unlock()
	if len(prepared.plans) >= mostPrepared {
		clear(prepared.plans)
	}
	prepared.plans[key] = p
	copied := *p
	copied.f = f
	return &copied, nil
}

// fresh makes a family ready.
func (f Family) fresh() (*plan, error) {
	k := len(f.Corr)
	if k == 0 {
		return nil, fault.New(fault.Invalid, "there are no comparisons")
	}
	if !(f.DF > 0) {
		return nil, fault.New(fault.Invalid, "the degrees of freedom are %v", f.DF).WithHint("without scatter to judge by there is no test")
	}
	if f.Sided < TwoSided || f.Sided > Lower {
		return nil, fault.New(fault.Invalid, "there is no side %d", int(f.Sided))
	}
	p := &plan{f: f}
	var first []int
	for i := range k {
		if len(f.Corr[i]) != k {
			return nil, fault.New(fault.Invalid, "row %d of the correlations has %d entries for %d comparisons", i+1, len(f.Corr[i]), k)
		}
		if !(math.Abs(f.Corr[i][i]-1) <= 1e-9) {
			return nil, fault.New(fault.Invalid, "the correlation of comparison %d with itself is %v", i+1, f.Corr[i][i])
		}
		p.of, p.sign = append(p.of, len(first)), append(p.sign, 1)
		found := false
		for j := range i {
			r := f.Corr[i][j]
			if !(math.Abs(r) <= 1+1e-9) || !(math.Abs(r-f.Corr[j][i]) <= 1e-9) {
				return nil, fault.New(fault.Invalid, "the correlations of comparisons %d and %d are %v and %v", i+1, j+1, r, f.Corr[j][i])
			}
			if !found && math.Abs(r) > 1-sameTol {
				p.of[i], p.sign[i] = p.of[j], math.Copysign(1, r)*p.sign[j]
				found = true
			}
		}
		if !found {
			first = append(first, i)
		}
	}
	m := len(first)
	if m > MaxComparisons {
		return nil, fault.New(fault.Unsupported, "there are %d different comparisons, at most %d are done", m, MaxComparisons)
	}
	p.r = make([][]float64, m)
	for i, a := range first {
		p.r[i] = make([]float64, m)
		for j, b := range first {
			p.r[i][j] = (f.Corr[a][b] + f.Corr[b][a]) / 2
		}
		p.r[i][i] = 1
	}
	ones := make([]float64, k)
	for i := range ones {
		ones[i] = 1
	}
	p.unit = p.box(ones)
	if m == 1 {
		p.method = student
		return p, nil
	}
	l, rank, err := pivoted(p.r)
	if err != nil {
		return nil, err
	}
	p.l = l
	lambda, misfit := fitFactor(p.r)
	p.lambda = lambda
	if rank <= 2 && m > 2 {
		p.method = plane
		return p, nil
	}
	if misfit <= factorTol {
		p.method = oneFactor
		p.curve = factorCurve(lambda, p.unit)
		return p, nil
	}
	if rank < m || rank == 3 {
		p.method = lattice
		if rank == 3 {
			p.method = sphere
		}
		if rank < m {
			return p, nil
		}
	}
	p.hang()
	if p.method != sphere {
		p.method = lattice
		if p.exact {
			p.method = factors
		}
	}
	if p.exact {
		p.curve = factorsCurve(p.net, p.unit)
	}
	return p, nil
}

// hang looks for the cheapest set of factors that gives the correlations, and
// for the nearest that nearly does.
func (p *plan) hang() {
	take := func(load [][]float64) {
		if g := newNetwork(load); g.cost() <= mostTerms && (!p.exact || g.cost() < p.net.cost()) {
			p.load, p.exact, p.net = load, true, g
		}
	}
	if load := alikeFactors(p.r); load != nil {
		take(load)
	}
	nearest := math.Inf(1)
	for f := 2; f <= mostFactors && f < len(p.r); f++ {
		for _, own := range ownWanted {
			if p.exact && p.net.cost() < fewTerms*float64(len(p.r)) {
				return
			}
			load, misfit, ok := fitFactors(p.r, f, own)
			if !ok {
				continue
			}
			if misfit <= factorTol {
				take(load)
				continue
			}
			if f < mostFactors && !p.exact && misfit < nearest && newNetwork(load).cost() <= mostTerms {
				p.load, nearest = load, misfit
			}
		}
	}
}

// pivoted gives L with L L' = r, rows in r's order and columns by pivot, and
// the rank.
func pivoted(r [][]float64) (l [][]float64, rank int, err error) {
	m := len(r)
	l = make([][]float64, m)
	left := make([]float64, m)
	used := make([]bool, m)
	for i := range l {
		l[i] = make([]float64, m)
		left[i] = r[i][i]
	}
	for c := range m {
		pivot := -1
		for i := range left {
			if !used[i] && (pivot < 0 || left[i] > left[pivot]+1e-14) {
				pivot = i
			}
		}
		if left[pivot] <= rankTol {
			break
		}
		used[pivot] = true
		d := math.Sqrt(left[pivot])
		for i := range m {
			if used[i] && i != pivot {
				continue
			}
			s := r[i][pivot]
			for j := range c {
				s -= l[i][j] * l[pivot][j]
			}
			l[i][c] = s / d
			left[i] -= l[i][c] * l[i][c]
		}
		l[pivot][c] = d
		left[pivot] = 0
		rank++
	}
	for i := range m {
		for j := range i {
			s := 0.0
			for c := range rank {
				s += l[i][c] * l[j][c]
			}
			// 1e-7: correlations printed to seven digits pass.
			if math.Abs(s-r[i][j]) > 1e-7 || left[i] < -1e-7 {
				return nil, 0, fault.New(fault.Invalid, "these are no correlations: the matrix is not positive semidefinite (comparisons %d and %d)", j+1, i+1)
			}
		}
	}
	return l, rank, nil
}

// sides gives how many limits there are.
func (b box) sides() float64 {
	n := 0.0
	for i := range b.lo {
		for _, v := range [2]float64{b.lo[i], b.hi[i]} {
			if !math.IsInf(v, 1) {
				n++
			}
		}
	}
	return n
}

// over gives the c >= 0 with b = c times the box of limits 1, if there is one.
func (b box) over(unit box) (c float64, ok bool) {
	c = -1
	for i := range b.lo {
		for _, v := range [2][2]float64{{b.lo[i], unit.lo[i]}, {b.hi[i], unit.hi[i]}} {
			switch {
			case math.IsInf(v[1], 1) != math.IsInf(v[0], 1):
				return 0, false
			case math.IsInf(v[1], 1):
			case c < 0:
				c = v[0]
			case v[0] != c:
				return 0, false
			}
		}
	}
	return c, c >= 0
}

// box gives the region inside for the limits c, one a comparison.
func (p *plan) box(c []float64) box {
	b := box{make([]float64, len(p.r)), make([]float64, len(p.r))}
	for i := range b.lo {
		b.lo[i], b.hi[i] = math.Inf(1), math.Inf(1)
	}
	for i, v := range c {
		d := p.of[i]
		switch {
		case p.f.Sided == TwoSided:
			b.lo[d], b.hi[d] = min(b.lo[d], v), min(b.hi[d], v)
		case p.sign[i] > 0: // T < -c on the lower side is -T > c: the same by symmetry
			b.hi[d] = min(b.hi[d], v)
		default:
			b.lo[d] = min(b.lo[d], v)
		}
	}
	return b
}

func (p *plan) tailAll(c float64) Probability {
	cs := make([]float64, len(p.of))
	for i := range cs {
		cs[i] = c
	}
	return p.tail(cs)
}

// tail gives the probability outside of the limits.
func (p *plan) tail(c []float64) Probability { return p.outside(p.box(c)) }

func (p *plan) outside(b box) Probability {
	for i := range b.lo {
		if b.lo[i]+b.hi[i] <= 0 {
			return Probability{P: 1, Method: p.method} // nothing is inside
		}
	}
	free := true
	for i := range b.lo {
		free = free && math.IsInf(b.lo[i], 1) && math.IsInf(b.hi[i], 1)
	}
	if free {
		return Probability{P: 0, Method: p.method}
	}
	if p.curve != nil && p.method != rangeOf && (p.method != sphere || !b.positive()) {
		if c, ok := b.over(p.unit); ok && b.sides()*upperT(c, p.f.DF) > negligible {
			v, rel := p.curve.tail(c, p.f.DF)
			return Probability{P: min(1, v), Error: rel * v, Method: p.curve.method}
		}
	}
	if p.method == factors || p.method == lattice || p.method == sphere && p.exact && !b.positive() {
		// Far out there is nothing to gain from how the comparisons hang
		// together: their sum is an upper bound, the largest a lower one.
		sum, largest := 0.0, 0.0
		for i := range b.lo {
			q := upperT(b.hi[i], p.f.DF) + upperT(b.lo[i], p.f.DF)
			sum += q
			largest = max(largest, q)
		}
		if sum < negligible {
			return Probability{P: sum, Error: sum - largest, Method: bonf}
		}
	}
	switch p.method {
	case student:
		v := upperT(b.hi[0], p.f.DF) + upperT(b.lo[0], p.f.DF)
		return Probability{P: min(1, v), Error: 1e-13 * v, Method: student}
	case plane:
		v := planeTail(p.l, b, p.f.DF)
		return Probability{P: min(1, v), Error: 1e-12 * v, Method: plane}
	case sphere:
		if b.positive() {
			v := sphereTail(p.l, b, p.f.DF)
			return Probability{P: min(1, v), Error: 1e-11 * v, Method: sphere}
		}
		if p.exact {
			v, rel := factorsTail(p.load, b, p.f.DF)
			return Probability{P: min(1, v), Error: rel * v, Method: factors}
		}
	case rangeOf:
		v, rel := rangeTail(p.pairs, b.hi[0]*math.Sqrt2, p.f.DF)
		return Probability{P: min(1, v), Error: rel * v, Method: rangeOf}
	case oneFactor:
		v, rel := factorTail(p.lambda, b, p.f.DF)
		return Probability{P: min(1, v), Error: rel * v, Method: oneFactor}
	case factors:
		v, rel := factorsTail(p.load, b, p.f.DF)
		return Probability{P: min(1, v), Error: rel * v, Method: factors}
	}
	return p.latticeTail(b)
}

// critical solves outside(c) = alpha by safeguarded secant in log P.
func (p *plan) critical(alpha float64) (float64, float64, error) {
	k := float64(len(p.r))
	// Bonferroni is above, one comparison alone below (Sidak's inequality and
	// monotony); the correlation does not matter for either.
	side := alpha
	if p.f.Sided == TwoSided {
		side = alpha / 2
	}
	low, high := quantileT(side, p.f.DF), quantileT(side/k, p.f.DF)
	if p.method == student && p.sameWay() {
		return low, 1e-12 * max(1, math.Abs(low)), nil
	}
	if p.method == student {
		// One comparison taken both ways is a two-sided one.
		c := quantileT(alpha/2, p.f.DF)
		return c, 1e-12 * max(1, math.Abs(c)), nil
	}
	// Comparisons turned round count twice on one side.
	if p.f.Sided != TwoSided {
		high = quantileT(side/float64(len(p.of)), p.f.DF)
	}
	low -= 1e-9 * (1 + math.Abs(low))
	high += 1e-9 * (1 + math.Abs(high))
	switch p.method {
	case lattice:
		return p.latticeCritical(alpha, low, high)
	}
	g := func(c float64) (float64, float64) {
		r := p.tailAll(c)
		return math.Log(r.P) - math.Log(alpha), r.Error / r.P
	}
	c, slope, rel := solve(g, low, high)
	if c < low || c > high {
		return 0, 0, fault.New(fault.Internal, "the critical value %v left its bounds", c)
	}
	return c, rel/math.Abs(slope) + 1e-12*max(1, math.Abs(c)), nil
}

// nearCritical gives the critical value of the nearest one-factor family and
// the slope of its log tail there.
func (p *plan) nearCritical(alpha, low, high float64) (c, slope float64) {
	near := *p
	near.method = oneFactor
	c, slope, _ = solve(func(c float64) (float64, float64) {
		return math.Log(near.tailAll(c).P) - math.Log(alpha), 0
	}, low, high)
	return c, slope
}

// newton solves tail(c) = alpha from a start with a slope that is nearly right
// and is improved by secants.
func (p *plan) newton(alpha, c, slope, low, high float64, tail func(float64) Probability) (float64, float64, error) {
	r := tail(c)
	g := math.Log(max(r.P, 1e-300) / alpha)
	for range 30 {
		next := min(max(c-g/slope, low), high)
		moved := math.Abs(next - c)
		// Below the error of the tail itself there is nothing to be gained.
		if moved < 1e-12*(1+math.Abs(c)) || moved*math.Abs(slope) < 0.01*r.Error/alpha {
			break
		}
		r = tail(next)
		gn := math.Log(max(r.P, 1e-300) / alpha)
		// A secant over a tiny step is noise.
		if s := (gn - g) / (next - c); moved > 1e-7 && s < 0.3*slope && s > 3*slope {
			slope = s
		}
		c, g = next, gn
	}
	if !(slope < 0) {
		return 0, 0, fault.New(fault.Internal, "the tail does not fall with the limit")
	}
	return c, (r.Error/alpha+math.Abs(g))/math.Abs(slope) + 1e-12*(1+math.Abs(c)), nil
}

func (p *plan) sameWay() bool {
	if p.f.Sided == TwoSided {
		return true
	}
	for _, s := range p.sign {
		if s < 0 {
			return false
		}
	}
	return true
}

// solve finds the zero of a falling function between low and high: value,
// slope there, and the function's own error there.
func solve(g func(float64) (float64, float64), low, high float64) (c, slope, e float64) {
	gl, _ := g(low)
	gh, _ := g(high)
	a, b, ga, gb := low, high, gl, gh
	if ga <= 0 {
		return a, (gb - ga) / (b - a), 0
	}
	if gb >= 0 {
		return b, (gb - ga) / (b - a), 0
	}
	c0, g0, c1, g1 := a, ga, b, gb
	slope = (gb - ga) / (b - a)
	for range 60 {
		x := c1 - g1*(c1-c0)/(g1-g0)
		if !(x > a && x < b) {
			x = a + (b-a)/2
		}
		gx, ex := g(x)
		if x != c1 && gx != g1 {
			slope = (gx - g1) / (x - c1)
		}
		if gx > 0 {
			a = x
		} else {
			b = x
		}
		c0, g0, c1, g1 = c1, g1, x, gx
		// Secant converges at order 1.6: a step of 1e-8 leaves about 1e-13.
		if e = ex; gx == 0 || math.Abs(c1-c0) < 1e-8*(1+math.Abs(c1)) && math.Abs(gx/slope) < 1e-12*(1+math.Abs(c1)) || b-a < 1e-14*(1+math.Abs(b)) {
			break
		}
	}
	return c1, slope, e
}

// upperPhi gives P(Z > x) for the standard normal.
func upperPhi(x float64) float64 { return 0.5 * math.Erfc(x*(1/math.Sqrt2)) }

// upperT gives P(T > t) with df degrees of freedom; small values keep their
// digits.
func upperT(t, df float64) float64 {
	if math.IsInf(df, 1) {
		return upperPhi(t)
	}
	switch {
	case math.IsInf(t, 1):
		return 0
	case math.IsInf(t, -1):
		return 1
	case t == 0:
		return 0.5
	}
	// For |t| small beside sqrt(df) the complement is the accurate side.
	var half float64
	if x := t * t; x < df {
		half = 0.5 * (1 - mathext.RegIncBeta(0.5, df/2, x/(df+x)))
	} else {
		half = 0.5 * mathext.RegIncBeta(df/2, 0.5, df/(df+x))
	}
	if x := t * t; x < df && half < 0.01 {
		half = 0.5 * mathext.RegIncBeta(df/2, 0.5, df/(df+x))
	}
	if t < 0 {
		return 1 - half
	}
	return half
}

// quantileT gives t with P(T > t) = p.
func quantileT(p, df float64) float64 {
	switch {
	case p == 0.5:
		return 0
	case p > 0.5:
		return -quantileT(1-p, df)
	case math.IsInf(df, 1):
		return -math.Sqrt2 * math.Erfinv(2*p-1)
	}
	// Newton in log P from the normal value, which lies below.
	low, high := 0.0, 1.0
	for upperT(high, df) > p {
		low, high = high, high*2
		if math.IsInf(high, 1) {
			return math.MaxFloat64
		}
	}
	g := func(t float64) (float64, float64) { return math.Log(upperT(t, df)) - math.Log(p), 0 }
	t, _, _ := solve(g, low, high)
	return t
}
