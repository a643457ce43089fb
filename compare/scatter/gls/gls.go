// Package gls fits fixed terms by generalised least squares where runs share random
// terms: a stint, a set, a day.
//
// The covariance of the runs is a residual and a variance for each group that a run
// belongs to. Source: least squares of columns whitened by the covariance's Cholesky
// factor, as textbooks have it (from memory). Values are on the analysis scale of package compare/scatter, variances
// its square. Limits: dense, a few hundred runs; variances are handed to it, not
// estimated.
package gls

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Cluster is one random term over the runs: each run's group, and the term's
// variance on the analysis scale.
type Cluster struct {
	Name     string
	group    []int // of each run
	groups   int
	Variance float64
	Zero     bool // estimated, and exactly zero
}

// NewCluster makes a random term of each run's group; its variance is 0 until set.
func NewCluster(name string, of []string) Cluster {
	c := Cluster{Name: name, group: make([]int, len(of))}
	at := map[string]int{}
	for i, g := range of {
		k, ok := at[g]
		if !ok {
			k = len(at)
			at[g] = k
		}
		c.group[i] = k
	}
	c.groups = len(at)
	return c
}

// Sums gives the sums of a over the groups.
func (c *Cluster) Sums(a []float64) []float64 {
	out := make([]float64, c.groups)
	for i, g := range c.group {
		out[g] += a[i]
	}
	return out
}

// Covariance is that of the runs: clusters and what is each run's own.
type Covariance struct {
	Clusters []Cluster
	Residual float64
	N        int
	lower    *mat.TriDense // Cholesky factor
}

// Factorise readies the covariance for fits; false where it is not positive definite.
func (v *Covariance) Factorise() bool {
	s := mat.NewSymDense(v.N, nil)
	for i := range v.N {
		for j := range i + 1 {
			x := 0.0
			if i == j {
				x = v.Residual
			}
			for k := range v.Clusters {
				if c := &v.Clusters[k]; c.group[i] == c.group[j] {
					x += c.Variance
				}
			}
			s.SetSym(i, j, x)
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(s) {
		return false
	}
	v.lower = new(mat.TriDense)
	ch.LTo(v.lower)
	return true
}

// whiten solves L x = b in place.
func (v *Covariance) whiten(b []float64) {
	raw := v.lower.RawTriangular()
	for i := range v.N {
		s := b[i]
		row := raw.Data[i*raw.Stride : i*raw.Stride+i]
		for j, l := range row {
			s -= l * b[j]
		}
		b[i] = s / raw.Data[i*raw.Stride+i]
	}
}

// colour solves L' x = b in place.
func (v *Covariance) colour(b []float64) {
	raw := v.lower.RawTriangular()
	for i := v.N - 1; i >= 0; i-- {
		b[i] /= raw.Data[i*raw.Stride+i]
		x := b[i]
		row := raw.Data[i*raw.Stride : i*raw.Stride+i]
		for j, l := range row {
			b[j] -= l * x
		}
	}
}

// Quadratic gives the variance of a weighted sum of runs.
func (v *Covariance) Quadratic(a []float64) float64 {
	s := v.Residual * Dot(a, a)
	for k := range v.Clusters {
		c := &v.Clusters[k]
		if c.Variance > 0 {
			g := c.Sums(a)
			s += c.Variance * Dot(g, g)
		}
	}
	return s
}

// Bilinear gives the covariance of two weighted sums of runs.
func (v *Covariance) Bilinear(a, b []float64) float64 {
	s := v.Residual * Dot(a, b)
	for k := range v.Clusters {
		if c := &v.Clusters[k]; c.Variance > 0 {
			s += c.Variance * Dot(c.Sums(a), c.Sums(b))
		}
	}
	return s
}

// Gradient gives the derivative of the variance of a weighted sum by each
// variance: clusters first, the runs' own last.
func (v *Covariance) Gradient(a []float64) []float64 {
	var out []float64
	for k := range v.Clusters {
		g := v.Clusters[k].Sums(a)
		out = append(out, Dot(g, g))
	}
	return append(out, Dot(a, a))
}

// Fitted is generalised least squares of given columns under a known covariance.
type Fitted struct {
	v     *Covariance
	q     [][]float64 // orthonormal whitened columns, those kept
	r     [][]float64 // upper triangle: whitened column j = sum over i of r[i][j] q[i]
	kept  []int
	alias map[int][]float64 // a dropped column by those kept before it
	width int
}

// spent is the part of a whitened column that must stand out of the span of
// those before it; linear.RankTol takes 1e-10 in twofold precision, which plain
// arithmetic blurs.
const spent = 1e-8

// Fit fits columns, one value a run, under the covariance.
func (v *Covariance) Fit(columns [][]float64) *Fitted {
	g := &Fitted{v: v, alias: map[int][]float64{}, width: len(columns)}
	for j, c := range columns {
		x := append([]float64(nil), c...)
		v.whiten(x)
		size := math.Sqrt(Dot(x, x))
		coef := make([]float64, len(g.q))
		for range 2 { // twice is enough (Parlett)
			for i, q := range g.q {
				f := Dot(q, x)
				coef[i] += f
				for k := range x {
					x[k] -= f * q[k]
				}
			}
		}
		left := math.Sqrt(Dot(x, x))
		if size == 0 || left <= spent*size {
			g.alias[j] = g.back(coef)
			continue
		}
		for k := range x {
			x[k] /= left
		}
		for i := range g.q {
			g.r[i] = append(g.r[i], coef[i])
		}
		g.q = append(g.q, x)
		last := make([]float64, len(g.q))
		last[len(last)-1] = left
		g.r = append(g.r, last)
		g.kept = append(g.kept, j)
	}
	return g
}

// back solves R x = b for the columns kept so far.
func (g *Fitted) back(b []float64) []float64 {
	n := len(b)
	x := append([]float64(nil), b...)
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			x[i] -= g.r[i][j] * x[j]
		}
		x[i] /= g.r[i][i]
	}
	return x
}

// Weights gives what each run weighs in the combination l of the coefficients;
// false where the runs do not determine it.
func (g *Fitted) Weights(l []float64) ([]float64, bool) {
	size := 0.0
	for _, x := range l {
		size = max(size, math.Abs(x))
	}
	for j, of := range g.alias {
		s := 0.0
		for i, c := range of {
			s += c * l[g.kept[i]]
		}
		if math.Abs(l[j]-s) > 1e-7*(1+size) {
			return nil, false
		}
	}
	// a = V^-1 X (X'V^-1X)^-1 l = L'^-1 Q R'^-1 l.
	z := make([]float64, len(g.kept))
	for i, j := range g.kept {
		z[i] = l[j]
		for k := range i {
			z[i] -= g.r[k][i] * z[k]
		}
		z[i] /= g.r[i][i]
	}
	a := make([]float64, g.v.N)
	for i, q := range g.q {
		for k := range a {
			a[k] += z[i] * q[k]
		}
	}
	g.v.colour(a)
	return a, true
}

// Information gives the expected information on the variances, clusters first
// and the runs' own last, under restricted likelihood: half the traces of
// P Vj P Vk, P being V^-1 - V^-1 X (X'V^-1X)^-1 X'V^-1. Of the runs' own only two
// traces are wanted, and PVP = P gives them without a matrix of all runs by all:
// tr P = s tr PP + sum of vk tr P Zk Zk' P.
func (g *Fitted) Information() [][]float64 {
	n := g.v.N
	var u [][][]float64 // whitened columns of each cluster, less what X explains
	var own []float64   // tr P Zk Zk' P of each
	plain := float64(n) // s tr V^-1 = n - sum of vk tr Zk' V^-1 Zk
	for k := range g.v.Clusters {
		c := &g.v.Clusters[k]
		cols := make([][]float64, c.groups)
		for i := range cols {
			cols[i] = make([]float64, n)
		}
		for i, at := range c.group {
			cols[at][i] = 1
		}
		s := 0.0
		for _, z := range cols {
			g.v.whiten(z)
			plain -= c.Variance * Dot(z, z)
			for _, q := range g.q {
				f := Dot(q, z)
				for k := range z {
					z[k] -= f * q[k]
				}
			}
			pz := append([]float64(nil), z...)
			g.v.colour(pz)
			s += Dot(pz, pz)
		}
		u, own = append(u, cols), append(own, s)
	}
	info := make([][]float64, len(u)+1)
	for j := range info {
		info[j] = make([]float64, len(info))
	}
	for j := range u {
		for k := range j + 1 {
			s := 0.0
			for _, a := range u[j] {
				for _, b := range u[k] {
					d := Dot(a, b)
					s += d * d
				}
			}
			info[j][k], info[k][j] = s/2, s/2
		}
	}
	last := len(u)
	trace := plain / g.v.Residual
	for _, q := range g.q {
		x := append([]float64(nil), q...)
		g.v.colour(x)
		trace -= Dot(x, x)
	}
	square := trace
	for k := range u {
		info[k][last], info[last][k] = own[k]/2, own[k]/2
		square -= g.v.Clusters[k].Variance * own[k]
	}
	if plain > lost*float64(n) && square > lost*trace && trace > lost*plain/g.v.Residual {
		info[last][last] = square / g.v.Residual / 2
	} else {
		info[last][last] = g.square() / 2
	}
	return info
}

// lost is the part that must be left of a difference for its digits to be trusted:
// half of those that a float64 has. Own choice.
const lost = 1e-8

// square gives tr PP run by run: slowly, and without a difference of large numbers.
func (g *Fitted) square() float64 {
	n := g.v.N
	cols := make([][]float64, n)
	s := 0.0
	for i := range cols {
		z := make([]float64, n)
		z[i] = 1
		g.v.whiten(z)
		for _, q := range g.q {
			f := Dot(q, z)
			for k := range z {
				z[k] -= f * q[k]
			}
		}
		cols[i] = z
		for _, o := range cols[:i] {
			d := Dot(z, o)
			s += 2 * d * d
		}
		d := Dot(z, z)
		s += d * d
	}
	return s
}

// Inverse inverts a small symmetric positive definite matrix, scaled by its
// diagonal; false where it is none.
func Inverse(m [][]float64) ([][]float64, bool) {
	n := len(m)
	scale := make([]float64, n)
	s := mat.NewSymDense(n, nil)
	for i := range n {
		if !(m[i][i] > 0) {
			return nil, false
		}
		scale[i] = math.Sqrt(m[i][i])
	}
	for i := range n {
		for j := range i + 1 {
			s.SetSym(i, j, m[i][j]/(scale[i]*scale[j]))
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(s) || ch.Cond() > 1e10 {
		return nil, false
	}
	var inv mat.SymDense
	if err := ch.InverseTo(&inv); err != nil {
		return nil, false
	}
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		for j := range out[i] {
			out[i][j] = inv.At(i, j) / (scale[i] * scale[j])
		}
	}
	return out, true
}

// Dot gives the sum of products.
func Dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}
