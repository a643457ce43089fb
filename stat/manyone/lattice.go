package manyone

import (
	"math"
	"slices"
	"sort"

	"example.org/bookend/fault"
)

// generating is the start of the generating vector of the embedded lattice
// rule with up to 2^20 points of Cools, Kuo and Nuyens, SIAM J. Sci. Comput. 28
// (2006) 2162, constructed for all two-dimensional projections.
var generating = [...]uint64{
	1, 182667, 469891, 498753, 110745, 446247, 250185, 118627, 245333, 283199,
	408519, 391023, 246327, 126539, 399185, 461527, 300343, 69681, 516695, 436179,
	106383, 238523, 413283, 70841, 47719, 300129, 113029, 123925, 410745, 211325,
	17489, 511893, 40767, 186077, 519471, 255369, 101819, 243573, 66189, 152143,
	503455,
}

const (
	shifts     = 10 // copies of the lattice, moved by fixed amounts
	firstLevel = 9  // 2^9 points a copy to begin with
	lastLevel  = 16 // and at most 2^16
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
}

type step struct{ rows []rung }

type rung struct {
	l      []float64 // coefficients of the variables before
	d      float64   // of this one
	lo, hi float64
}

func newLadder(l [][]float64, order []int, b box) *ladder {
	ld := &ladder{}
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
		r := rung{l: l[i][:last], d: l[i][last], lo: b.lo[o], hi: b.hi[o]}
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
	sum := 0.0
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
		below, above := 0.0, 0.0
		if !math.IsInf(a, -1) {
			below = upperPhi(-a)
		}
		if !math.IsInf(e, 1) {
			above = upperPhi(e)
		}
		q := below + above
		if q >= 1 {
			return 1
		}
		sum += math.Log1p(-q)
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
	return -math.Expm1(sum)
}

// scaleTable draws the deviation where the tail gathers: a density linear
// between points near density times majorant, and what to weigh a draw with.
type scaleTable struct {
	b    *bell
	t    float64
	h    float64
	f    []float64 // at the points
	sum  []float64 // running integral
	plus float64   // whole integral
}

func newScaleTable(df float64, majorant func(float64) float64) *scaleTable {
	b := newBell(df, majorant)
	const finer = 8
	st := &scaleTable{b: b, t: b.from, h: b.h / finer}
	for i := range b.n*finer + 1 {
		t := st.t + float64(i)*st.h
		st.f = append(st.f, math.Exp(b.logDensity(t))*majorant(math.Exp(t)))
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
	return math.Exp(t), math.Exp(st.b.logDensity(t)) / f * st.plus
}

// run is a lattice computation for one box that can be carried on.
type run struct {
	main, aid *ladder
	scale     *scaleTable
	exact     float64 // tail of the nearest one-factor family
	exactErr  float64
	sums      [shifts]float64 // of the family
	aids      [shifts]float64 // of the aid
	level     int
	n         int
}

func (p *plan) newRun(b, ordering box) *run {
	l, order := prioritise(p.r, ordering)
	r := &run{main: newLadder(l, order, b), level: -1}
	if !math.IsInf(p.f.DF, 1) {
		r.scale = newScaleTable(p.f.DF, b.majorant)
	}
	if len(r.main.steps) == len(p.r) && p.lambda != nil {
		near := product(p.lambda)
		if la, ok := inOrder(near, order); ok {
			r.aid = newLadder(la, order, b)
			v, rel := factorTail(p.lambda, b, p.f.DF)
			r.exact, r.exactErr = v, v*rel
		}
	}
	return r
}

// inOrder gives the Cholesky factor of r with rows and columns in the order
// given, and false where it is nearly singular.
func inOrder(r [][]float64, order []int) ([][]float64, bool) {
	m := len(order)
	l := make([][]float64, m)
	for i := range m {
		l[i] = make([]float64, m)
		for j := range i + 1 {
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
	}
	return l, true
}

// extend carries the run to 2^level points a copy.
func (r *run) extend(level int) {
	dims := len(r.main.steps) - 1
	first := 0
	if r.scale != nil {
		first = 1
	}
	u := make([]float64, dims)
	for r.level < level {
		var n, start, by int
		if r.level < 0 {
			r.level = level
			n, start, by = 1<<level, 0, 1
		} else {
			r.level++
			n, start, by = 1<<r.level, 1, 2
		}
		for c := range shifts {
			var moved [len(generating)]float64
			for d := range dims + first {
				moved[d] = shift(c, d)
			}
			sum, aid := 0.0, 0.0
			for i := start; i < n; i += by {
				s, w := 1.0, 1.0
				for d := range dims + first {
					// i*z mod n is exact: i < 2^16, z < 2^20.
					x := float64(uint64(i)*generating[d]&uint64(n-1))/float64(n) + moved[d]
					x -= math.Floor(x)
					x = 1 - math.Abs(2*x-1) // tent (Hickernell 2002)
					if d < first {
						s, w = r.scale.draw(x)
					} else {
						u[d-first] = x
					}
				}
				sum += w * r.main.tail(s, u)
				if r.aid != nil {
					aid += w * r.aid.tail(s, u)
				}
			}
			r.sums[c] += sum
			r.aids[c] += aid
		}
		r.n = n
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

func (p *plan) aim(v float64) float64 {
	tol := p.f.Tol
	if tol <= 0 {
		tol = DefaultTol
	}
	// A small probability is wanted to four digits at least.
	return min(tol, max(1e-4*v, 1e-12))
}

// latticeTail gives the tail with the lattice carried on until the bound is
// met or the points run out.
func (p *plan) latticeTail(b box) Probability {
	r := p.newRun(b, b)
	for level := firstLevel; level <= lastLevel; level++ {
		r.extend(level)
		if v, e := r.result(); e <= p.aim(v) {
			break
		}
	}
	v, e := r.result()
	return Probability{P: min(1, max(0, v)), Error: e, Method: lattice}
}

// latticeCritical solves with one set of points, so that the tail is smooth in
// the limit.
func (p *plan) latticeCritical(alpha, low, high float64) (float64, float64, error) {
	boxAt := func(c float64) box {
		cs := make([]float64, len(p.of))
		for i := range cs {
			cs[i] = c
		}
		return p.box(cs)
	}
	// Begin at the nearest one-factor family's value.
	near := *p
	near.method = oneFactor
	start, slope, _ := solve(func(c float64) (float64, float64) {
		return math.Log(near.outside(boxAt(c)).P) - math.Log(alpha), 0
	}, low, high)
	ordering := boxAt(start)
	first := p.newRun(ordering, ordering)
	level := firstLevel
	for ; ; level++ {
		first.extend(level)
		if v, e := first.result(); e <= p.aim(v) || level == lastLevel {
			break
		}
	}
	v, e := first.result()
	c, g := start, math.Log(max(v, 1e-300)/alpha)
	for range 20 {
		next := min(max(c-g/slope, low), high)
		if math.Abs(next-c) < 1e-9*(1+math.Abs(c)) {
			c = next
			break
		}
		r := p.newRun(boxAt(next), ordering)
		r.extend(level)
		v, e = r.result()
		gn := math.Log(max(v, 1e-300) / alpha)
		if s := (gn - g) / (next - c); s < 0.5*slope && s > 2*slope {
			slope = s
		}
		c, g = next, gn
	}
	if !(slope < 0) {
		return 0, 0, fault.New(fault.Internal, "the tail does not fall with the limit")
	}
	return c, (e/alpha+math.Abs(g))/math.Abs(slope) + 1e-9, nil
}
