package joint

import (
	"math"
	"slices"
	"sort"

	"example.org/bookend/stat/manyone/network"
	"example.org/bookend/stat/manyone/region"
)

// dimensions of the lattice rules: one for the deviation, one a comparison.
const dimensions = 41

// rules are lattice rules of rank one: points frac(i*z/n). The vectors were
// made component by component (Sloan and Reztsov, Math. Comput. 71 (2002) 263)
// as the best of 400 candidates a component (100 for the largest), drawn with
// a fixed seed, by the worst-case error P_2 with kernel 1 + gamma*2 pi^2 B_2,
// gamma = 0.25 in every dimension.
var rules = [...]struct {
	n int
	z [dimensions]uint64
}{
	{1021, [dimensions]uint64{
		1, 788, 586, 713, 141, 815, 529, 329, 358, 570, 936, 961, 275, 186, 319, 474, 193, 538, 105, 696,
		216, 489, 395, 195, 950, 107, 565, 1013, 892, 31, 769, 606, 292, 613, 243, 519, 473, 591, 783, 95,
		979,
	}},
	{4093, [dimensions]uint64{
		1, 1210, 548, 2257, 3370, 2025, 441, 2587, 1746, 3755, 2935, 2959, 3865, 3261, 809, 1980, 1561,
		100, 433, 3595, 559, 3567, 3075, 656, 3632, 3287, 2887, 3266, 1504, 794, 3388, 875, 2696, 1444,
		714, 3456, 944, 4077, 278, 3678, 2199,
	}},
	{16381, [dimensions]uint64{
		1, 6051, 1373, 13945, 8280, 5098, 3659, 2781, 14712, 12935, 712, 13707, 11197, 12580, 635, 7648,
		15053, 436, 752, 3161, 11336, 12065, 2590, 3274, 2823, 9576, 1896, 3556, 1229, 10578, 5731, 10421,
		11526, 11709, 14154, 2469, 10324, 9116, 14229, 167, 1610,
	}},
	{65521, [dimensions]uint64{
		1, 37076, 53909, 60981, 22010, 49521, 17733, 24601, 14971, 25176, 31052, 12133, 5482, 16470, 64907,
		60578, 50905, 3315, 21737, 2220, 64475, 11260, 43131, 48019, 25882, 40052, 59740, 3582, 15116,
		65015, 1800, 51327, 25480, 14500, 8933, 16370, 42833, 57167, 32180, 51973, 17545,
	}},
	{262139, [dimensions]uint64{
		1, 61996, 187879, 229762, 54461, 70784, 254717, 137065, 206393, 28567, 152347, 180090, 159248,
		39590, 32518, 222099, 78980, 141199, 101098, 98155, 15890, 77444, 84447, 123593, 130985, 9019,
		17329, 190664, 39787, 196808, 208977, 14727, 142010, 237911, 207490, 145544, 134457, 56255, 202840,
		77376, 126547,
	}},
}

const (
	shifts = 10 // copies of the lattice, moved by fixed amounts
	// latticeBound turns the standard error over the copies into the bound
	// that is stated: Student's t with 9 degrees of freedom passes 5 in 7 of
	// 10,000 cases.
	latticeBound = 5
)

// shift gives the fixed displacement of copy c in dimension d: SplitMix64
// (Steele, Lea and Flood 2014) of the pair.
func shift(c, d int) float64 {
	z := uint64(c*64+d+1) * 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return float64(z>>11) * 0x1p-53
}

// ladder is a family's Cholesky factor as a sequence of conditional intervals:
// every limit stands at the last variable that it involves.
type ladder struct {
	steps []step
	y     []float64
	phi   *region.PhiPieces
}

type step struct{ rows []rung }

type rung struct {
	l      []float64 // coefficients of the variables before
	d      float64   // of this one
	lo, hi float64
}

func newLadder(l [][]float64, order []int, b region.Box) *ladder {
	ld := &ladder{phi: region.PhiTable()}
	at := map[int]int{} // column to step
	for i, o := range order {
		last := -1
		for c := len(l[i]) - 1; c >= 0; c-- {
			// A coefficient whose square is within rankTol is none.
			if math.Abs(l[i][c]) > 1e-5 || c == i && l[i][c] > 0 {
				last = c
				break
			}
		}
		if last < 0 {
			continue
		}
		r := rung{l: l[i][:last], d: l[i][last], lo: b.Lo[o], hi: b.Hi[o]}
		if r.d < 0 { // turned round, so that the coefficient is positive
			r.l, r.d, r.lo, r.hi = slices.Clone(r.l), -r.d, r.hi, r.lo
			for j := range r.l {
				r.l[j] = -r.l[j]
			}
		}
		k, ok := at[last]
		if !ok {
			k = len(ld.steps)
			at[last] = k
			ld.steps = append(ld.steps, step{})
		}
		ld.steps[k].rows = append(ld.steps[k].rows, r)
	}
	ld.y = make([]float64, len(ld.steps))
	return ld
}

// tail gives the conditional tail at deviation s and the point u, one entry a
// step but the last.
func (ld *ladder) tail(s float64, u []float64) float64 {
	out := 0.0
	for i := range ld.steps {
		a, e := math.Inf(-1), math.Inf(1)
		for k := range ld.steps[i].rows {
			r := &ld.steps[i].rows[k]
			mean := 0.0
			for j, v := range r.l {
				mean += v * ld.y[j]
			}
			e = min(e, (r.hi*s-mean)/r.d)
			a = max(a, (-r.lo*s-mean)/r.d)
		}
		if e <= a {
			return 1
		}
		below, above := ld.phi.Anywhere(-a), ld.phi.Anywhere(e)
		q := below + above
		if q >= 1 {
			return 1
		}
		out += (1 - out) * q
		if i < len(u) && i < len(ld.steps)-1 {
			p := below + u[i]*(1-q)
			// The nearer end keeps the digits.
			if p < 0.5 {
				ld.y[i] = -math.Sqrt2 * math.Erfcinv(2*max(p, 1e-300))
			} else {
				ld.y[i] = math.Sqrt2 * math.Erfcinv(2*max(above+(1-u[i])*(1-q), 1e-300))
			}
			ld.y[i] = min(max(ld.y[i], max(a, -38)), min(e, 38))
		}
	}
	return out
}

// scaleTable draws the deviation where the tail gathers: a density linear
// between points near density times majorant, and what to weigh a draw with.
type scaleTable struct {
	b    *region.Bell
	t    float64
	h    float64
	f    []float64 // at the points
	sum  []float64 // running integral
	plus float64   // whole integral
}

func newScaleTable(df float64, majorant func(float64) float64) *scaleTable {
	b := region.NewBell(df, region.AllDepth, majorant)
	const finer = 8
	st := &scaleTable{b: b, t: b.From, h: b.H / finer}
	for i := range b.N*finer + 1 {
		t := st.t + float64(i)*st.h
		st.f = append(st.f, math.Exp(b.LogDensity(t))*majorant(math.Exp(t)))
		if i == 0 {
			st.sum = append(st.sum, 0)
			continue
		}
		st.sum = append(st.sum, st.sum[i-1]+st.h*(st.f[i-1]+st.f[i])/2)
	}
	st.plus = st.sum[len(st.sum)-1]
	return st
}

func (st *scaleTable) draw(u float64) (s, weight float64) {
	x := u * st.plus
	i := sort.Search(len(st.sum)-2, func(i int) bool { return st.sum[i+1] >= x })
	f0, f1 := st.f[i], st.f[i+1]
	rest := max(0, x-st.sum[i])
	// f0 v + (f1-f0) v^2/(2h) = rest
	disc := math.Sqrt(max(0, f0*f0+2*(f1-f0)*rest/st.h))
	v := 0.0
	if f0+disc > 0 {
		v = min(st.h, 2*rest/(f0+disc))
	}
	t := st.t + float64(i)*st.h + v
	f := f0 + (f1-f0)*v/st.h
	if f <= 0 {
		return math.Exp(t), 0
	}
	return math.Exp(t), math.Exp(st.b.LogDensity(t)) / f * st.plus
}

// run is a lattice computation for one box.
type run struct {
	main, aid *ladder
	scale     *scaleTable
	exact     float64 // tail of the nearest one-factor family
	exactErr  float64
	sums      [shifts]float64 // of the family
	aids      [shifts]float64 // of the aid
	n         int
}

func (p *Plan) newRun(b, ordering region.Box) *run {
	l, order := prioritise(p.r, ordering)
	r := &run{main: newLadder(l, order, b)}
	if !math.IsInf(p.f.DF, 1) {
		r.scale = newScaleTable(p.f.DF, b.Majorant)
	}
	near, tail := p.aid()
	if near != nil && (len(r.main.steps) == len(p.r) || p.even != nil) {
		if la, ok := inOrder(near, order, len(r.main.steps)); ok {
			r.aid = newLadder(la, order, b)
			v, rel := tail(b)
			r.exact, r.exactErr = v, v*rel
		}
	}
	return r
}

// aid gives the nearest correlations whose tail is known otherwise.
func (p *Plan) aid() ([][]float64, func(b region.Box) (value, rel float64)) {
	switch {
	case p.even != nil:
		return p.even, func(b region.Box) (float64, float64) { return rangeTail(p.pairs, b.Hi[0]*math.Sqrt2, p.f.DF) }
	case p.load != nil:
		near := make([][]float64, len(p.r))
		for i := range near {
			near[i] = make([]float64, len(p.r))
			for j := range near[i] {
				for f := range p.load[i] {
					near[i][j] += p.load[i][f] * p.load[j][f]
				}
			}
			near[i][i] = 1
		}
		return near, func(b region.Box) (float64, float64) { return network.FactorsTail(p.load, b, p.f.DF) }
	case p.lambda != nil:
		return Product(p.lambda), func(b region.Box) (float64, float64) { return network.FactorTail(p.lambda, b, p.f.DF) }
	}
	return nil, nil
}

// inOrder gives the Cholesky factor of r with rows and columns in the order
// given, the first rank of them independent and the rest not, and false where
// that does not hold.
func inOrder(r [][]float64, order []int, rank int) ([][]float64, bool) {
	m := len(order)
	l := make([][]float64, m)
	for i := range m {
		l[i] = make([]float64, m)
		for j := range min(i+1, rank) {
			s := r[order[i]][order[j]]
			for c := range j {
				s -= l[i][c] * l[j][c]
			}
			if i > j {
				l[i][j] = s / l[j][j]
			} else if s < 1e-8 {
				return nil, false
			} else {
				l[i][i] = math.Sqrt(s)
			}
		}
		if i >= rank {
			left := r[order[i]][order[i]]
			for _, v := range l[i] {
				left -= v * v
			}
			if math.Abs(left) > 1e-8 {
				return nil, false
			}
		}
	}
	return l, true
}

// with computes the sums with one of the rules.
func (r *run) with(level int) {
	first := 0
	if r.scale != nil {
		first = 1
	}
	u := make([]float64, len(r.main.steps)-1)
	rule := &rules[level]
	r.n = rule.n
	for c := range shifts {
		var at, moved [dimensions]float64
		var step [dimensions]uint64
		for d := range len(u) + first {
			moved[d] = shift(c, d)
		}
		sum, aid := 0.0, 0.0
		for range rule.n {
			s, w := 1.0, 1.0
			for d := range len(u) + first {
				x := float64(step[d])/float64(rule.n) + moved[d]
				x -= math.Floor(x)
				if step[d] += rule.z[d]; step[d] >= uint64(rule.n) {
					step[d] -= uint64(rule.n)
				}
				// Korobov's polynomial makes the integrand periodic and damps
				// what it does at the ends.
				w *= 6 * x * (1 - x)
				at[d] = x * x * (3 - 2*x)
			}
			if r.scale != nil {
				var v float64
				s, v = r.scale.draw(at[0])
				w *= v
			}
			copy(u, at[first:])
			sum += w * r.main.tail(s, u)
			if r.aid != nil {
				aid += w * r.aid.tail(s, u)
			}
		}
		r.sums[c], r.aids[c] = sum, aid
	}
}

// result gives the better of the plain mean and the mean beside the aid.
func (r *run) result() (value, errBound float64) {
	mean := func(of func(c int) float64) (m, bound float64) {
		for c := range shifts {
			m += of(c)
		}
		m /= shifts
		v := 0.0
		for c := range shifts {
			d := of(c) - m
			v += d * d
		}
		return m, latticeBound * math.Sqrt(v/shifts/(shifts-1))
	}
	value, errBound = mean(func(c int) float64 { return r.sums[c] / float64(r.n) })
	if r.aid != nil {
		d, e := mean(func(c int) float64 { return (r.sums[c] - r.aids[c]) / float64(r.n) })
		if e+r.exactErr < errBound {
			value, errBound = r.exact+d, e+r.exactErr
		}
	}
	return value, errBound + 1e-10
}

// promised is the absolute error that the lattice is to keep; only beyond it
// is the largest rule worth its seconds.
const promised = 1e-5

// enough tells that a result needs no larger rule after the one at level: the
// bound is within the family's aim and leaves a small probability about three
// digits.
func (p *Plan) enough(v, bound float64, level int) bool {
	tol := p.f.Tol
	if tol <= 0 {
		tol = DefaultTol
	}
	if level >= len(rules)-2 {
		return bound <= max(tol, promised)
	}
	return bound <= tol && bound <= max(2e-3*v, 1e-9)
}

// latticeTail gives the tail with larger and larger lattices until the bound
// is met or the last is used.
func (p *Plan) latticeTail(b region.Box) Probability {
	r := p.newRun(b, b)
	for level := range rules {
		r.with(level)
		if v, e := r.result(); p.enough(v, e, level) {
			break
		}
	}
	v, e := r.result()
	return Probability{P: min(1, max(0, v)), Error: e, Method: lattice}
}

// latticeCritical solves with one set of points, so that the tail is smooth in
// the limit.
func (p *Plan) latticeCritical(alpha, low, high float64) (float64, float64, error) {
	boxAt := func(c float64) region.Box {
		cs := make([]float64, len(p.of))
		for i := range cs {
			cs[i] = c
		}
		return p.box(cs)
	}
	start, slope := p.nearCritical(alpha, low, high)
	ordering := boxAt(start)
	first := p.newRun(ordering, ordering)
	level := 0
	for ; ; level++ {
		first.with(level)
		if v, e := first.result(); p.enough(v, e, level) || level == len(rules)-1 {
			break
		}
	}
	return p.newton(alpha, start, slope, low, high, func(c float64) Probability {
		r := first
		if c != start {
			r = p.newRun(boxAt(c), ordering)
			r.with(level)
		}
		v, e := r.result()
		return Probability{P: v, Error: e, Method: lattice}
	})
}
