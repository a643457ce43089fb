package kalman

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// A linear model with Gaussian noise: forward-backward smoothing is the weighted
// least-squares solution of everything at once, and its covariance the inverse of
// the normal matrix (Rauch, Tung and Striebel 1965, section II). The whole
// solution is gonum's.
func TestSmoothingIsLeastSquaresOfEverythingAtOnce(t *testing.T) {
	const n, dense, steps = 4, 3, 12
	draw := rand.New(rand.NewPCG(7, 1))
	phi := make([][]float64, steps) // from step k to k+1
	q := []float64{0.3, 0.1, 0.2, 0.05}
	p0 := []float64{2, 1, 3, 0.5}
	x0 := []float64{1, -1, 0.5, 0.2}
	for k := range phi {
		f := make([]float64, n*n)
		Unit(f, n)
		for i := range dense * n {
			f[i] += 0.3 * draw.NormFloat64()
		}
		f[3*n+3] = 0.9
		phi[k] = f
	}
	type seen struct {
		h    []Term
		z, r float64
	}
	see := make([][]seen, steps)
	for k := range see {
		for range 1 + draw.IntN(2) {
			see[k] = append(see[k], seen{[]Term{{draw.IntN(n), draw.NormFloat64()}, {draw.IntN(n), 0.5}}, draw.NormFloat64(), 0.2 + draw.Float64()})
		}
	}

	// forward and backward
	filtered, predicted := make([]*State, steps), make([]*State, steps)
	g := New(n)
	copy(g.X, x0)
	for i, v := range p0 {
		g.P[i*n+i] = v
	}
	work, row := make([]float64, n*n), make([]float64, n)
	for k := range steps {
		if k > 0 {
			x := make([]float64, n)
			for i := range n {
				for j := range n {
					x[i] += phi[k-1][i*n+j] * g.X[j]
				}
			}
			copy(g.X, x)
			g.Propagate(phi[k-1], dense, q, work)
			predicted[k] = New(n)
			predicted[k].Copy(g)
		}
		for _, s := range see[k] {
			e := s.z
			for _, h := range s.h {
				e -= h.By * g.X[h.At]
			}
			g.Update(s.h, e, s.r, row)
		}
		filtered[k] = New(n)
		filtered[k].Copy(g)
	}
	b := NewSmoother(n)
	got := make([]*State, steps)
	got[steps-1] = filtered[steps-1]
	for k := steps - 2; k >= 0; k-- {
		s := New(n)
		s.Copy(got[k+1])
		if err := b.Back(filtered[k], predicted[k+1], s, phi[k], dense); err != nil {
			t.Fatal(err)
		}
		got[k] = s
	}

	// at once
	all := mat.NewSymDense(n*steps, nil)
	right := mat.NewVecDense(n*steps, nil)
	add := func(cols []int, by []float64, z, r float64) {
		for i, c := range cols {
			right.SetVec(c, right.AtVec(c)+by[i]*z/r)
			for j, d := range cols {
				if d >= c {
					all.SetSym(c, d, all.At(c, d)+by[i]*by[j]/r)
				}
			}
		}
	}
	for i := range n {
		add([]int{i}, []float64{1}, x0[i], p0[i])
	}
	for k := range steps {
		for i := 0; k > 0 && i < n; i++ {
			cols, by := []int{k*n + i}, []float64{1}
			for j := range n {
				cols, by = append(cols, (k-1)*n+j), append(by, -phi[k-1][i*n+j])
			}
			add(cols, by, 0, q[i])
		}
		for _, s := range see[k] {
			sum := map[int]float64{}
			for _, h := range s.h {
				sum[h.At] += h.By
			}
			var cols []int
			var by []float64
			for i := range n {
				if v, ok := sum[i]; ok {
					cols, by = append(cols, k*n+i), append(by, v)
				}
			}
			add(cols, by, s.z, s.r)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(all) {
		t.Fatal("the normal matrix is singular")
	}
	var want mat.VecDense
	if err := chol.SolveVecTo(&want, right); err != nil {
		t.Fatal(err)
	}
	var cov mat.SymDense
	if err := chol.InverseTo(&cov); err != nil {
		t.Fatal(err)
	}
	const tol = 1e-9 // relative: 48 unknowns by two different ways
	for k := range steps {
		for i := range n {
			if w := want.AtVec(k*n + i); math.Abs(got[k].X[i]-w) > tol*(1+math.Abs(w)) {
				t.Errorf("step %d, state %d: %v, want %v", k, i, got[k].X[i], w)
			}
			for j := range n {
				if w := cov.At(k*n+i, k*n+j); math.Abs(got[k].P[i*n+j]-w) > tol*(1+math.Abs(w)) {
					t.Errorf("step %d, covariance %d %d: %v, want %v", k, i, j, got[k].P[i*n+j], w)
				}
			}
		}
	}
}
