package gls

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The expected information is half the traces of P Vj P Vk (Searle, Casella and
// McCulloch, Variance Components, 1992, ch. 6, from memory); here they are taken
// as written, with whole matrices from gonum.
func TestInformationIsTheTracesAsWritten(t *testing.T) {
	var stint, day []string
	x := [][]float64{nil, nil, nil}
	for s := range 9 {
		for r := range 2 + s%3 {
			stint, day = append(stint, fmt.Sprint(s)), append(day, fmt.Sprint(s/3))
			x[0], x[1], x[2] = append(x[0], 1), append(x[1], float64(s%2)), append(x[2], float64(s)+0.1*float64(r))
		}
	}
	for _, residual := range []float64{1, 1e-3, 1e-12} { // the last is reached run by run
		v := &Covariance{Clusters: []Cluster{NewCluster("stint", stint), NewCluster("day", day)}, Residual: residual, N: len(stint)}
		v.Clusters[0].Variance, v.Clusters[1].Variance = 0.4, 0.09
		if !v.Factorise() {
			t.Fatal("the covariance has no factor")
		}
		got := v.Fit(x).Information()

		n := v.N
		each := []*mat.Dense{mat.NewDense(n, n, nil), mat.NewDense(n, n, nil), mat.NewDense(n, n, nil)}
		var whole mat.Dense
		whole.ReuseAs(n, n)
		for i := range n {
			each[2].Set(i, i, 1)
			for j := range n {
				for k := range v.Clusters {
					if v.Clusters[k].group[i] == v.Clusters[k].group[j] {
						each[k].Set(i, j, 1)
						whole.Set(i, j, whole.At(i, j)+v.Clusters[k].Variance)
					}
				}
			}
			whole.Set(i, i, whole.At(i, i)+residual)
		}
		design := mat.NewDense(n, len(x), nil)
		for j, c := range x {
			design.SetCol(j, c)
		}
		var inv, vx, xvx, middle, p mat.Dense
		if err := inv.Inverse(&whole); err != nil && residual > 1e-9 {
			t.Fatal(err)
		}
		vx.Mul(&inv, design)
		xvx.Mul(design.T(), &vx)
		if err := xvx.Inverse(&xvx); err != nil && residual > 1e-9 {
			t.Fatal(err)
		}
		middle.Mul(&vx, &xvx)
		p.Mul(&middle, vx.T())
		p.Sub(&inv, &p)
		tol := 1e-9
		if residual < 1e-9 {
			tol = 1e-3 // what inverses of such a matrix are worth
		}
		for j := range each {
			for k := range each {
				var a, b, ab mat.Dense
				a.Mul(&p, each[j])
				b.Mul(&p, each[k])
				ab.Mul(&a, &b)
				if want := ab.Trace() / 2; math.Abs(got[j][k]-want) > tol*math.Abs(want) && math.Abs(want) > 1e-9 {
					t.Errorf("residual %g: information %d, %d is %.12g, want %.12g", residual, j, k, got[j][k], want)
				}
			}
		}
	}
}
