package network

import (
	"math"
	"slices"

	"example.org/bookend/stat/manyone/region"
)

// The ways of computing, as results name them.
const (
	OneFactor = "one factor"
	Factors   = "factors"
)

// FactorTol is the largest misfit of lambda_i*lambda_j; it moves a probability
// by less than 1e-10.
const FactorTol = 1e-9

// FitFactor finds lambda with lambda_i*lambda_j near r_ij off the diagonal and
// gives the largest misfit. Where product form holds it is found from the
// triples with the largest correlations; otherwise it is improved by
// alternating least squares.
func FitFactor(r [][]float64) (lambda []float64, misfit float64) {
	m := len(r)
	lambda = make([]float64, m)
	best := 0.0
	bi, bj := 0, 1
	for i := range m {
		size, sq := 0.0, 0.0
		for j := range m {
			for l := range j {
				if i == j || i == l {
					continue
				}
				// The triple that pins lambda_i best.
				if v := math.Abs(r[i][j] * r[i][l] * r[j][l]); v > size {
					size, sq = v, r[i][j]*r[i][l]/r[j][l]
				}
			}
			if i != j && math.Abs(r[i][j]) > best {
				best, bi, bj = math.Abs(r[i][j]), min(i, j), max(i, j)
			}
		}
		lambda[i] = min(1, math.Sqrt(max(0, sq)))
	}
	if slices.Max(lambda) == 0 && best > 0 {
		lambda[bi], lambda[bj] = math.Sqrt(best), math.Sqrt(best)
	}
	// Signs: everyone agrees with the one of the largest lambda.
	lead := 0
	for i := range lambda {
		if lambda[i] > lambda[lead] {
			lead = i
		}
	}
	for i := range lambda {
		if i != lead && r[i][lead] < 0 {
			lambda[i] = -lambda[i]
		}
	}
	worst := func() float64 {
		w := 0.0
		for i := range m {
			for j := range i {
				w = max(w, math.Abs(r[i][j]-lambda[i]*lambda[j]))
			}
		}
		return w
	}
	if misfit = worst(); misfit <= 1e-14 {
		return lambda, misfit
	}
	kept := slices.Clone(lambda)
	for range 300 {
		moved := 0.0
		for i := range m {
			num, den := 0.0, 0.0
			for j := range m {
				if j != i {
					num += r[i][j] * lambda[j]
					den += lambda[j] * lambda[j]
				}
			}
			if den == 0 {
				continue
			}
			v := max(-1, min(1, num/den))
			moved = max(moved, math.Abs(v-lambda[i]))
			lambda[i] = v
		}
		if moved < 1e-15 {
			break
		}
	}
	if w := worst(); w < misfit || misfit > FactorTol {
		return lambda, w
	}
	return kept, misfit
}

// likes are comparisons with the same lambda and limits.
type likes struct {
	lambda, b, lo, hi float64
	count             float64
}

func group(lambda []float64, bx region.Box) []likes {
	var out []likes
next:
	for i, l := range lambda {
		lo, hi := bx.Lo[i], bx.Hi[i]
		if math.IsInf(lo, 1) && math.IsInf(hi, 1) {
			continue
		}
		for g := range out {
			if out[g].lambda == l && out[g].lo == lo && out[g].hi == hi {
				out[g].count++
				continue next
			}
		}
		// 1-l^2 as a product keeps its digits near 1.
		out = append(out, likes{l, math.Sqrt(max(0, (1-l)*(1+l))), lo, hi, 1})
	}
	return out
}

// outside gives the conditional tail of one comparison at factor z.
func (g *likes) outside(z, s float64) float64 {
	if g.b == 0 {
		if v := g.lambda * z; v > g.hi*s || v < -g.lo*s {
			return 1
		}
		return 0
	}
	q := 0.0
	if !math.IsInf(g.hi, 1) {
		q = region.UpperPhi((g.hi*s - g.lambda*z) / g.b)
	}
	if !math.IsInf(g.lo, 1) {
		q += region.UpperPhi((g.lo*s + g.lambda*z) / g.b)
	}
	return min(1, q)
}

func anyOutside(gs []likes, z, s float64) float64 {
	if len(gs) == 1 && gs[0].count == 1 {
		return gs[0].outside(z, s)
	}
	sum := 0.0
	for i := range gs {
		q := gs[i].outside(z, s)
		if q == 1 {
			return 1
		}
		if q > 0 {
			sum += gs[i].count * math.Log1p(-q)
		}
	}
	return -math.Expm1(sum)
}

// reach gives how far the factor must be followed: 8.5 deviations (1e-17)
// past where the tail of the farthest limit gathers.
func reach(gs []likes, s float64) float64 {
	z := 0.0
	for _, g := range gs {
		if !math.IsInf(g.hi, 1) {
			z = max(z, math.Abs(g.lambda*g.hi)*s)
		}
		if !math.IsInf(g.lo, 1) {
			z = max(z, math.Abs(g.lambda*g.lo)*s)
		}
	}
	return min(8.5+z, 38)
}

// sharp is the deviation of a comparison's own below which the transitions at
// the limits are sharper than a uniform grid follows cheaply.
const sharp = 0.08

// FactorTail gives the tail for correlations lambda_i*lambda_j, and a bound on
// its relative error.
func FactorTail(lambda []float64, bx region.Box, df float64) (value, rel float64) {
	gs := group(lambda, bx)
	least, even := 1.0, true
	for _, g := range gs {
		least = min(least, g.b)
		even = even && g.lo == g.hi
	}
	if least < sharp {
		inner := func(s float64) float64 { return panels(gs, s, even) }
		v, r := region.OverScale(df, bx.Majorant, inner)
		return v, max(r, 1e-11)
	}
	grid := func(s, h float64) float64 {
		n := int(math.Ceil(reach(gs, s) / h))
		sum := 0.0
		if even {
			for j := n; j > 0; j-- {
				z := float64(j) * h
				sum += region.Phi(z) * anyOutside(gs, z, s)
			}
			return h * (2*sum + region.Phi(0)*anyOutside(gs, 0, s))
		}
		for j := -n; j <= n; j++ {
			z := float64(j) * h
			sum += region.Phi(z) * anyOutside(gs, z, s)
		}
		return h * sum
	}
	// The step is chosen where most of the probability gathers.
	at := 1.0
	if !math.IsInf(df, 1) {
		at = math.Exp(region.NewBell(df, region.AllDepth, bx.Majorant).Peak)
	}
	h := 0.75 * least
	ref := grid(at, h/4)
	for range 5 {
		if math.Abs(grid(at, h)-ref) <= 1e-13*ref {
			break
		}
		h *= 0.8
	}
	return region.OverScale(df, bx.Majorant, func(s float64) float64 { return grid(s, h) })
}

// panels integrates over the factor with panels that close in on the limits.
func panels(gs []likes, s float64, even bool) float64 {
	end := reach(gs, s)
	from := -end
	if even {
		from = 0
	}
	cuts := []float64{from, end}
	add := func(z float64) {
		if z > from && z < end {
			cuts = append(cuts, z)
		}
	}
	for z := -end; z < end; z += 1.5 {
		add(z)
	}
	for _, g := range gs {
		if g.lambda == 0 {
			continue
		}
		w := g.b / math.Abs(g.lambda)
		for _, c := range [2]float64{g.hi * s / g.lambda, -g.lo * s / g.lambda} {
			if math.IsInf(c, 0) {
				continue
			}
			for _, d := range [9]float64{-9, -5, -2.5, -1, 0, 1, 2.5, 5, 9} {
				add(c + d*w)
			}
		}
	}
	slices.Sort(cuts)
	x := region.Legendre(16)
	sum := 0.0
	for i := 1; i < len(cuts); i++ {
		half := (cuts[i] - cuts[i-1]) / 2
		if half <= 0 {
			continue
		}
		mid := cuts[i-1] + half
		part := 0.0
		for _, n := range x {
			z := mid + half*n.X
			part += n.W * region.Phi(z) * anyOutside(gs, z, s)
		}
		sum += half * part
	}
	if even {
		return 2 * sum
	}
	return sum
}
