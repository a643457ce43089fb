// Package network gives the tail of comparisons that share factors: it finds
// one to four factors, or as many as there are comparisons that hang together
// with few others, orders them so that as few as can be are followed at once,
// integrates over them by the trapezoid rule, and keeps the tail for a known
// deviation as a curve over the limit.
//
// Sources: Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096 and Biometrics 20 (1964)
// 482 for one factor; several are its product form over a grid. Units: pure
// numbers, limits in standard errors. Limits: one factor to 1e-11 relative,
// several to 1e-9; a network whose sums are too many terms is not taken.
package network

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.org/bookend/stat/manyone/region"
)

// member is a comparison in a network.
type member struct {
	of          int       // which comparison
	count       int       // how many are just like it
	load        []float64 // of each factor
	last        int       // the last factor of which it has anything
	share       float64   // of the last
	inv, lo, hi float64   // one over its own deviation, its limits
}

// level is one factor of a network.
type level struct {
	first, end int   // the members whose last factor it is
	dep        []int // earlier factors on which they or later members rest
	// Where those are not all the earlier ones, what follows is computed once
	// for each of their points.
	memo  bool
	table []float64
}

// Network gives the tail of comparisons that share factors, by the trapezoid
// rule over a ball of factors. It is ordered so that as few as can be hang
// together: brackets in a row share a control with their neighbours alone, and
// cost the square of one factor's points, however many they are.
type Network struct {
	members []member
	levels  []level
	even    bool    // the tail is the same at -z
	far     float64 // largest limit times length of loadings
	near    float64 // smallest limit
	least   float64 // least deviation of a comparison's own
	past    float64 // square of how far the ball goes past the limits

	s, h, r float64 // deviation, step, radius of the ball
	cut     float64 // own deviations past which there is nothing
	n       int     // points on a side
	w       []float64
	pre     [][]float64
	at      []int // the point of each factor
	phi     *region.PhiPieces
}

// newNetwork turns and orders the factors of comparisons with loads of length
// below 1.
func newNetwork(load [][]float64) *Network {
	var best *Network
	for _, order := range walks(load) {
		if g := triangular(load, order); best == nil || g.cost() < best.cost()*(1-1e-9) {
			best = g
		}
	}
	return best
}

// walks gives orders in which comparisons that share factors stand near each
// other: breadth first from each of them (Cuthill and McKee 1969), both ways;
// one by one, and with those together that have the same neighbours, such as
// the candidates of one bracket.
func walks(load [][]float64) [][][]int {
	k := len(load)
	near := make([][]bool, k)
	for i := range near {
		near[i] = make([]bool, k)
		for j := range near[i] {
			near[i][j] = i == j || math.Abs(inner(load[i], load[j])) > 1e-9
		}
	}
	var single, together [][]int
	for i := range k {
		single = append(single, []int{i})
		at := slices.IndexFunc(together, func(g []int) bool { return slices.Equal(near[g[0]], near[i]) })
		if at >= 0 {
			together[at] = append(together[at], i)
		} else {
			together = append(together, []int{i})
		}
	}
	out := walk(single, near)
	if len(together) < k {
		out = append(out, walk(together, near)...)
	}
	if flat := planar(load); len(flat) < k {
		out = append(out, walk(flat, near)...)
	}
	if k == 4 { // any two share two factors
		out = append(out, [][]int{{0, 1}, {2, 3}}, [][]int{{0, 2}, {1, 3}}, [][]int{{0, 3}, {1, 2}})
	}
	return out
}

// planar puts comparisons together that share two factors between them, as
// those of one bracket share its two controls; the most first.
func planar(load [][]float64) [][]int {
	var groups [][]int
	placed := make([]bool, len(load))
	for {
		var best []int
		for i := range load {
			for j := i + 1; j < len(load); j++ {
				if placed[i] || placed[j] {
					continue
				}
				a, c := inner(load[i], load[i]), inner(load[j], load[j])
				b := inner(load[i], load[j])
				det := a*c - b*b
				if det < 1e-6*a*c {
					continue
				}
				var in []int
				for l, v := range load {
					p, q := inner(v, load[i]), inner(v, load[j])
					if !placed[l] && inner(v, v)-(c*p*p-2*b*p*q+a*q*q)/det < 1e-12 {
						in = append(in, l)
					}
				}
				if len(in) > max(2, len(best)) {
					best = in
				}
			}
		}
		if best == nil {
			break
		}
		for _, l := range best {
			placed[l] = true
		}
		groups = append(groups, best)
	}
	for i, done := range placed {
		if !done {
			groups = append(groups, []int{i})
		}
	}
	return groups
}

// walk gives orders of groups.
func walk(groups [][]int, near [][]bool) [][][]int {
	beside := make([][]int, len(groups))
	for i, a := range groups {
		for j, b := range groups {
			if i != j && near[a[0]][b[0]] {
				beside[i] = append(beside[i], j)
			}
		}
	}
	var out [][][]int
	for start := range groups {
		seen := make([]bool, len(groups))
		var order []int
		for next := start; next >= 0; next = slices.Index(seen, false) {
			order = append(order, next)
			seen[next] = true
			for at := len(order) - 1; at < len(order); at++ {
				var fresh []int
				for _, j := range beside[order[at]] {
					if !seen[j] {
						seen[j] = true
						fresh = append(fresh, j)
					}
				}
				slices.SortStableFunc(fresh, func(a, b int) int { return len(beside[a]) - len(beside[b]) })
				order = append(order, fresh...)
			}
		}
		there := make([][]int, len(order))
		for i, o := range order {
			there[i] = groups[o]
		}
		back := slices.Clone(there)
		slices.Reverse(back)
		out = append(out, there, back)
	}
	return out
}

// inner is the inner product of two comparisons' loads.
func inner(a, b []float64) float64 {
	s := 0.0
	for f := range a {
		s += a[f] * b[f]
	}
	return s
}

// none is a part of a factor that is rounding; leaving it out moves a
// correlation by no more.
const none = 1e-10

// triangular turns the factors so that each group in the order brings only
// those that the groups before it do not have, first those that no later group
// has.
func triangular(load [][]float64, order [][]int) *Network {
	var axes [][]float64
	for at, group := range order {
		first := len(axes)
		for _, i := range group {
			left := slices.Clone(load[i])
			for range 2 { // once more for the digits
				for _, axis := range axes {
					s := inner(left, axis)
					for f := range axis {
						left[f] -= s * axis[f]
					}
				}
			}
			if s := math.Sqrt(inner(left, left)); s > none && len(axes) < len(left) {
				for f := range left {
					left[f] /= s
				}
				axes = append(axes, left)
			}
		}
		private(axes[first:], load, order[at+1:])
	}
	g := &Network{least: 1}
	for _, i := range slices.Concat(order...) {
		own := 1 - inner(load[i], load[i])
		g.least = min(g.least, math.Sqrt(own))
		c := member{of: i, count: 1, load: make([]float64, max(1, len(axes))), inv: 1 / math.Sqrt(own)}
		for a, axis := range axes {
			if s := inner(load[i], axis); math.Abs(s) > none {
				c.load[a], c.last, c.share = s, a, s
			}
		}
		g.members = append(g.members, c)
	}
	slices.SortStableFunc(g.members, func(a, b member) int { return a.last - b.last })
	g.levels = make([]level, max(1, len(axes)))
	at := 0
	for f := range g.levels {
		l := &g.levels[f]
		l.first = at
		for at < len(g.members) && g.members[at].last == f {
			at++
		}
		l.end = at
		for d := range f {
			for _, c := range g.members[l.first:] {
				if c.load[d] != 0 {
					l.dep = append(l.dep, d)
					break
				}
			}
		}
		l.memo = len(l.dep) < f
	}
	return g
}

// private turns the axes that a group brings so that those of which no later
// group has anything come first.
func private(axes, load [][]float64, later [][]int) {
	rest := slices.Concat(later...)
	if len(axes) < 2 || len(rest) == 0 {
		return
	}
	// At least as many rows as columns, so that all directions come out.
	m := mat.NewDense(max(len(rest), len(axes)), len(axes), nil)
	for r, i := range rest {
		for c, axis := range axes {
			m.Set(r, c, inner(load[i], axis))
		}
	}
	var svd mat.SVD
	if !svd.Factorize(m, mat.SVDThin) {
		return
	}
	size := svd.Values(nil) // the largest first
	if size[0] < none || size[len(size)-1] > none {
		return
	}
	var v mat.Dense
	svd.VTo(&v)
	turned := make([][]float64, len(axes))
	for a := range axes {
		turned[a] = make([]float64, len(axes[0]))
		for c, axis := range axes {
			for f := range axis {
				turned[a][f] += v.At(c, len(axes)-1-a) * axis[f]
			}
		}
	}
	copy(axes, turned)
}

// cost estimates how many comparisons are looked at for one deviation.
func (g *Network) cost() float64 {
	n := 25 / g.least // points of one factor at its widest
	sum := 0.0
	for f := range g.levels {
		l := &g.levels[f]
		dims := f
		if l.memo {
			dims = len(l.dep)
		}
		// A ball fills less of its cube, the more dimensions it has.
		ball := [...]float64{1, 0.79, 0.52, 0.31, 0.16, 0.08}[min(dims, 5)]
		sum += ball * math.Pow(n, float64(dims+1)) * float64(l.end-l.first+1)
	}
	return sum
}

// within gives the network for a box.
func (g *Network) within(b region.Box) *Network {
	out := &Network{levels: slices.Clone(g.levels), least: g.least, even: true, near: math.Inf(1), past: 45, phi: region.PhiTable()}
	if len(g.levels) == 1 {
		out.past = 64
	}
	f := 0
	out.levels[0].first = 0
next:
	for _, c := range g.members {
		for ; f < c.last; f++ {
			out.levels[f].end, out.levels[f+1].first = len(out.members), len(out.members)
		}
		c.lo, c.hi = b.Lo[c.of], b.Hi[c.of]
		if math.IsInf(c.lo, 1) && math.IsInf(c.hi, 1) {
			continue
		}
		for i := out.levels[f].first; i < len(out.members); i++ {
			if o := &out.members[i]; o.lo == c.lo && o.hi == c.hi && o.inv == c.inv && slices.Equal(o.load, c.load) {
				o.count++
				continue next
			}
		}
		out.members = append(out.members, c)
		out.even = out.even && c.lo == c.hi
		size := 0.0
		for _, v := range c.load {
			size += v * v
		}
		for _, v := range [2]float64{c.lo, c.hi} {
			if !math.IsInf(v, 1) {
				out.near = min(out.near, max(v, 0))
				out.far = max(out.far, math.Sqrt(size)*math.Abs(v))
			}
		}
	}
	for ; f < len(out.levels)-1; f++ {
		out.levels[f].end, out.levels[f+1].first = len(out.members), len(out.members)
	}
	out.levels[f].end = len(out.members)
	out.pre = make([][]float64, len(g.levels))
	for f := range out.pre {
		out.pre[f] = make([]float64, len(out.members))
	}
	out.at = make([]int, len(g.levels))
	return out
}

// tail integrates at deviation s with step h. Where s itself carries but a part
// exp(-spent) of the most that one s does, the ball may be smaller.
func (g *Network) tail(s, h, spent float64) float64 {
	// So many deviations past where the tail of the farthest limit gathers.
	g.s, g.h, g.r = s, h, min(math.Sqrt(max(g.past-2*spent, 0))+0.8*g.far*s, 36)
	// Beyond the cut is less than 1e-12 of a single tail at the nearest limit.
	g.cut = min(math.Sqrt(g.near*s*g.near*s+56), region.Deep)
	g.n = int(g.r / h)
	g.w = g.w[:0]
	for j := range g.n + 1 {
		g.w = append(g.w, h*region.Phi(float64(j)*h))
	}
	for f := range g.levels {
		l := &g.levels[f]
		if !l.memo {
			continue
		}
		size := 1
		for range l.dep {
			size *= 2*g.n + 1
		}
		l.table = slices.Grow(l.table[:0], size)[:size]
		for i := range l.table {
			l.table[i] = -1
		}
	}
	return min(1, g.over(0, 0))
}

// over sums over factor f and those after it, zz the squared distance of the
// point from the middle so far.
func (g *Network) over(f int, zz float64) float64 {
	l := &g.levels[f]
	own := g.members[l.first:l.end]
	pre := g.pre[f][l.first:l.end]
	n := int(math.Sqrt(max(0, g.r*g.r-zz)) / g.h)
	from, half := -n, f == 0 && g.even
	if half {
		from = 0
	}
	total := 0.0
	for j := from; j <= n; j++ {
		z := float64(j) * g.h
		out := 0.0
		for i := range own {
			c := &own[i]
			m := pre[i] + z*c.share
			q := 0.0
			if x := (c.hi*g.s - m) * c.inv; x < g.cut {
				if x <= -region.Deep {
					out = 1
					break
				}
				q = g.phi.At(x)
			}
			if x := (c.lo*g.s + m) * c.inv; x < g.cut {
				if x <= -region.Deep {
					out = 1
					break
				}
				q += g.phi.At(x)
			}
			// The tail of a union of independent tails, from its small side.
			out += (1 - out) * q
			for range c.count - 1 {
				out += (1 - out) * q
			}
		}
		if f+1 < len(g.levels) && out < 1 {
			g.at[f] = j
			out += (1 - out) * g.rest(f+1, z, zz+z*z)
		}
		w := g.w[max(j, -j)]
		if half && j > 0 {
			w *= 2
		}
		total += w * out
	}
	return total
}

// rest gives the tail of the levels from f on, given the factors before.
func (g *Network) rest(f int, z, zz float64) float64 {
	l := &g.levels[f]
	at := 0
	if l.memo {
		zz = 0
		sign := 1
		for i, d := range l.dep {
			j := g.at[d]
			// What is the same at -z is computed once.
			if i == 0 && j < 0 && g.even {
				sign = -1
			}
			at = at*(2*g.n+1) + sign*j + g.n
			v := float64(j) * g.h
			zz += v * v
		}
		if v := l.table[at]; v >= 0 {
			return v
		}
	}
	before, pre := g.pre[f-1], g.pre[f]
	for i := l.first; i < len(g.members); i++ {
		pre[i] = before[i] + z*g.members[i].load[f-1]
	}
	v := g.over(f, zz)
	if l.memo {
		l.table[at] = v
	}
	return v
}
