package tail_test

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/tail"
)

func TestTailsAndPointsAgreeWithR(t *testing.T) {
	golden.Run(t, "r-4.2.2", "tails", func(t *testing.T, c *golden.Case) {
		var v struct {
			T      []float64 `json:"t"`
			TDF    []float64 `json:"t_df"`
			TUpper []float64 `json:"t_upper"`
			Q      []float64 `json:"q"`
			QDF    []float64 `json:"q_df"`
			QPoint []float64 `json:"q_point"`
			F      []float64 `json:"f"`
			FD1    []float64 `json:"f_d1"`
			FD2    []float64 `json:"f_d2"`
			FUpper []float64 `json:"f_upper"`
			FQ     []float64 `json:"fq"`
			FQD1   []float64 `json:"fq_d1"`
			FQD2   []float64 `json:"fq_d2"`
			FPoint []float64 `json:"fq_point"`
			C      []float64 `json:"c"`
			CDF    []float64 `json:"c_df"`
			CUpper []float64 `json:"c_upper"`
			CQ     []float64 `json:"cq"`
			CQDF   []float64 `json:"cq_df"`
			CPoint []float64 `json:"cq_point"`
			N      []float64 `json:"n"`
			NDF    []float64 `json:"n_df"`
			NDelta []float64 `json:"n_delta"`
			NUpper []float64 `json:"n_upper"`
		}
		c.JSON(t, "values.json", &v)
		for i := range v.T {
			c.NearRel(t, "t tail", tail.T(v.T[i], v.TDF[i]), v.TUpper[i])
			c.NearRel(t, "two-sided t tail", tail.TwoSidedT(-v.T[i], v.TDF[i]), 2*v.TUpper[i])
		}
		for i := range v.Q {
			df := v.QDF[i]
			if df < 0 {
				df = math.Inf(1)
			}
			c.NearRel(t, "t point", tail.TPoint(v.Q[i], df), v.QPoint[i])
		}
		for i := range v.F {
			c.NearRel(t, "F tail", tail.F(v.F[i], v.FD1[i], v.FD2[i]), v.FUpper[i])
		}
		for i := range v.FQ {
			c.NearRel(t, "F point", tail.FPoint(v.FQ[i], v.FQD1[i], v.FQD2[i]), v.FPoint[i])
		}
		for i := range v.C {
			c.NearRel(t, "chi-square tail", tail.Chi2(v.C[i], v.CDF[i]), v.CUpper[i])
		}
		for i := range v.CQ {
			c.NearRel(t, "chi-square point", tail.Chi2Point(v.CQ[i], v.CQDF[i]), v.CPoint[i])
		}
		for i := range v.N {
			// R's pnt promises 1e-12 of a sum of its own; held to 1e-9 absolute.
			if got := tail.NoncentralT(v.N[i], v.NDF[i], v.NDelta[i]); math.Abs(got-v.NUpper[i]) > 1e-9 {
				t.Errorf("noncentral t tail %v, want %v", got, v.NUpper[i])
			}
		}
	})
}

// Laws: a point is the inverse of its tail; t squared is F; F with infinite
// second degrees of freedom is chi-square; noncentrality zero is Student's t.
func TestLawsBetweenTheTails(t *testing.T) {
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tol*math.Abs(want)) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	inf := math.Inf(1)
	for _, df := range []float64{1, 2, 5.5, 40, 1e4, 1e7, inf} {
		tol := 1e-10
		if df > 40 {
			tol = 1e-8 // the incomplete beta function loses digits in proportion
		}
		for _, p := range []float64{0.4, 0.05, 1e-3, 1e-8} {
			x := tail.TPoint(p, df)
			near("t(point)", tail.T(x, df), p, tol)
			near("t squared", tail.F(x*x, 1, df), 2*p, tol)
			f := tail.FPoint(p, 3, df)
			near("F(point)", tail.F(f, 3, df), p, tol)
			if got := tail.T(-x, df); math.Abs(got-(1-p)) > tol {
				t.Errorf("t tails of x and -x make %v", got+p)
			}
			if df <= 40 {
				if got := tail.NoncentralT(x, df, 0); math.Abs(got-p) > 1e-11 {
					t.Errorf("noncentral t with delta 0, df %v: %v, want %v", df, got, p)
				}
			}
		}
	}
	near("F to chi-square", tail.F(2.5, 4, inf), tail.Chi2(10, 4), 1e-12)
	near("normal", tail.Normal(tail.NormalPoint(1e-9)), 1e-9, 1e-11)
	if tail.F(-1, 2, 3) != 1 || tail.T(inf, 3) != 0 || tail.Chi2(inf, 2) != 0 {
		t.Error("the ends of the tails are not 1 and 0")
	}
}
