package joint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/bookend/stat/manyone/cells"
	"example.org/bookend/stat/manyone/network"
	"example.org/bookend/stat/manyone/region"
)

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func alike(n int, v float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

// drawn gives correlations of k comparisons from n made-up readings.
func drawn(rng *rand.Rand, k, n int) [][]float64 {
	x := make([][]float64, k)
	for i := range x {
		x[i] = make([]float64, n)
		for j := range x[i] {
			x[i][j] = rng.NormFloat64() + 0.6*math.Sin(float64(3*j))
		}
	}
	dot := func(a, b []float64) float64 {
		s := 0.0
		for i := range a {
			s += a[i] * b[i]
		}
		return s
	}
	r := make([][]float64, k)
	for i := range r {
		r[i] = make([]float64, k)
		for j := range r[i] {
			r[i][j] = dot(x[i], x[j]) / math.Sqrt(dot(x[i], x[i])*dot(x[j], x[j]))
		}
		r[i][i] = 1
	}
	return r
}

// One comparison is Student's t: closed forms at 1 and 2 degrees of freedom,
// the normal tail at infinity, gonum's distribution between.
func TestOneIsStudent(t *testing.T) {
	one := [][]float64{{1}}
	for _, c := range []float64{0.001, 0.3, 1, 2.5, 7, 40} {
		for df, want := range map[float64]float64{
			1:           1 - 2/math.Pi*math.Atan(c),
			2:           1 - c/math.Sqrt(2+c*c),
			math.Inf(1): math.Erfc(c / math.Sqrt2),
			9:           2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 9}.CDF(-c),
		} {
			p, err := Family{Corr: one, DF: df}.Tail(c)
			ok(t, err)
			if p.Method != student || math.Abs(p.P-want) > 1e-12*want+1e-16 {
				t.Errorf("df %v c %v: %v by %s, want %v", df, c, p.P, p.Method, want)
			}
			for _, s := range []Sided{Upper, Lower} {
				p, err := Family{Corr: one, DF: df, Sided: s}.Tail(c)
				ok(t, err)
				if math.Abs(p.P-want/2) > 1e-12*want+1e-16 {
					t.Errorf("df %v c %v %v: %v, want %v", df, c, s, p.P, want/2)
				}
			}
		}
	}
	for _, df := range []float64{1, 3, 30, math.Inf(1)} {
		c, _, err := Family{Corr: one, DF: df}.Critical(0.05)
		ok(t, err)
		p, err := Family{Corr: one, DF: df}.Tail(c)
		ok(t, err)
		if math.Abs(p.P-0.05) > 1e-13 {
			t.Errorf("df %v: P at the critical value is %v", df, p.P)
		}
	}
}

// The ways agree where more than one applies.
func TestWaysAgree(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 4))
	worst := map[string]float64{}
	for range 6 {
		lambda := []float64{0.2 + 0.75*rng.Float64(), -0.2 - 0.7*rng.Float64(), 0.95 * rng.Float64(), 0.3 + 0.3*rng.Float64()}
		for _, df := range []float64{2, 7, 40, math.Inf(1)} {
			for _, sided := range []Sided{TwoSided, Upper} {
				for _, c := range []float64{0.05, 0.8, 2.4, 5} {
					for k := 2; k <= 4; k++ {
						r := Product(lambda[:k])
						p := &Plan{f: Family{DF: df, Sided: sided}, of: []int{0, 1, 2, 3}[:k], sign: alike(k, 1), r: r, lambda: lambda[:k]}
						b := p.box(alike(k, c))
						want, _ := network.FactorTail(lambda[:k], b, df)
						check := func(way string, got, tol float64) {
							e := math.Abs(got - want)
							worst[way] = max(worst[way], e/want)
							if e > tol*want {
								t.Errorf("%s: k %d df %v %v c %v lambda %v: %v, one factor %v (%.1e)", way, k, df, sided, c, lambda[:k], got, want, e/want)
							}
						}
						l, rank, err := region.Pivoted(r)
						ok(t, err)
						if rank != k {
							t.Fatalf("rank %d of %d", rank, k)
						}
						switch k {
						case 2:
							check(plane, cells.PlaneTail(l, b, df), 1e-11)
						case 3:
							check(sphere, cells.SphereTail(l, b, df), 1e-10)
						}
						if k == 4 && (c > 1 || sided == TwoSided) {
							// The same family as two factors, turned by an angle.
							load := make([][]float64, k)
							for i := range load {
								load[i] = []float64{lambda[i] * math.Cos(0.7), lambda[i] * math.Sin(0.7)}
							}
							got, rel := network.FactorsTail(load, b, df)
							check(network.Factors, got, 3e-9)
							if math.Abs(got-want) > max(rel, 1e-12)*want {
								t.Errorf("factors: error %.1e over its bound %.1e", math.Abs(got-want)/want, rel)
							}
						}
					}
				}
			}
		}
	}
	// A comparison that is the factor itself, or nearly.
	for _, first := range []float64{1, 0.999999, 0.999, 0.98} {
		lambda := []float64{first, 0.5, -0.3}
		l, _, err := region.Pivoted(Product(lambda))
		ok(t, err)
		for _, df := range []float64{3, 25, math.Inf(1)} {
			for _, c := range []float64{0.7, 2.4, 5} {
				b := (&Plan{f: Family{DF: df}, of: []int{0, 1, 2}, sign: alike(3, 1), r: Product(lambda)}).box(alike(3, c))
				got, _ := network.FactorTail(lambda, b, df)
				want := cells.SphereTail(l, b, df)
				worst["sharp"] = max(worst["sharp"], math.Abs(got-want)/want)
				if math.Abs(got-want) > 1e-10*want {
					t.Errorf("lambda %v df %v c %v: one factor %v, sphere %v", first, df, c, got, want)
				}
			}
		}
	}
	t.Log("largest relative differences: ", worst)
}

// The lattice keeps its bound where the value is known otherwise.
func TestLatticeKeepsBound(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short")
	}
	rng := rand.New(rand.NewPCG(5, 6))
	for _, k := range []int{4, 5, 6} {
		load := make([][]float64, k)
		r := make([][]float64, k)
		for i := range load {
			load[i] = []float64{0.3 + 0.5*rng.Float64(), 0.5 * rng.NormFloat64()}
			if s := math.Hypot(load[i][0], load[i][1]); s > 0.9 {
				load[i][0], load[i][1] = load[i][0]*0.9/s, load[i][1]*0.9/s
			}
		}
		for i := range r {
			r[i] = make([]float64, k)
			for j := range r[i] {
				r[i][j] = load[i][0]*load[j][0] + load[i][1]*load[j][1]
			}
			r[i][i] = 1
		}
		for _, c := range []float64{1.2, 2.6, 4.5} {
			for _, df := range []float64{6, math.Inf(1)} {
				if k == 6 && (c != 2.6 || df != 6) {
					continue
				}
				p, err := Family{Corr: r, DF: df, Tol: 1e-5}.prepare()
				ok(t, err)
				b := p.box(alike(k, c))
				want, _ := network.FactorsTail(load, b, df)
				p.load = nil // only the nearest single factor as aid
				got := p.latticeTail(b)
				if e := math.Abs(got.P - want); e > got.Error || got.Error > 1e-5 {
					t.Errorf("k %d c %v df %v: %v, exact %v: error %.1e, bound %.1e", k, c, df, got.P, want, e, got.Error)
				}
			}
		}
	}
}

// Relabelling permutes results; turning a comparison round changes nothing
// two-sided; every call gives the same bits.
func TestRelabelling(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, k := range []int{2, 3} {
		r := drawn(rng, k, k+9)
		ts := make([]float64, k)
		for i := range ts {
			ts[i] = 2.5 * rng.NormFloat64()
		}
		for _, sided := range []Sided{TwoSided, Upper, Lower} {
			f := Family{Corr: r, DF: 9, Sided: sided}
			p, bound, err := f.AdjustedP(ts)
			ok(t, err)
			again, _, err := f.AdjustedP(ts)
			ok(t, err)
			if !slices.Equal(p, again) {
				t.Errorf("two calls differ: %v, %v", p, again)
			}
			perm := rng.Perm(k)
			rp, tp := make([][]float64, k), make([]float64, k)
			for i := range perm {
				rp[i] = make([]float64, k)
				tp[i] = ts[perm[i]]
				for j := range perm {
					rp[i][j] = r[perm[i]][perm[j]]
				}
			}
			q, _, err := Family{Corr: rp, DF: 9, Sided: sided}.AdjustedP(tp)
			ok(t, err)
			for i := range perm {
				if math.Abs(q[i]-p[perm[i]]) > 2*bound+1e-12 {
					t.Errorf("k %d %v: relabelled p %v, was %v (bound %g)", k, sided, q[i], p[perm[i]], bound)
				}
			}
			// Turning everything round exchanges the sides.
			neg := make([]float64, k)
			for i := range neg {
				neg[i] = -ts[i]
			}
			other := map[Sided]Sided{TwoSided: TwoSided, Upper: Lower, Lower: Upper}[sided]
			q, _, err = Family{Corr: r, DF: 9, Sided: other}.AdjustedP(neg)
			ok(t, err)
			if !slices.Equal(p, q) {
				t.Errorf("k %d %v: turned round %v, was %v", k, sided, q, p)
			}
		}
	}
}

// The tail falls with the limit, lies between one comparison and Bonferroni,
// and the critical value is its inverse.
func TestMonotone(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for k := 2; k <= 3; k++ {
		for range 3 {
			r := drawn(rng, k, k+9)
			for _, sided := range []Sided{TwoSided, Upper} {
				f := Family{Corr: r, DF: 1 + 20*rng.Float64(), Sided: sided}
				before := 1.0
				for c := 0.0; c < 7; c += 0.45 {
					p, err := f.Tail(c)
					ok(t, err)
					one := f.RawP(c)
					if p.P > before+1e-9 || p.P < one*(1-1e-9) || p.P > math.Min(1, float64(k)*one)*(1+1e-9) {
						t.Errorf("%s k %d %v c %v: %v after %v; one alone %v", p.Method, k, sided, c, p.P, before, one)
					}
					before = p.P
				}
				for _, alpha := range []float64{0.3, 0.05, 0.001} {
					c, bound, err := f.Critical(alpha)
					ok(t, err)
					p, err := f.Tail(c)
					ok(t, err)
					if math.Abs(p.P-alpha) > 1e-8*alpha || bound > 1e-7 {
						t.Errorf("%s: P at the critical value of %v is %v, bound %g", p.Method, alpha, p.P, bound)
					}
				}
			}
		}
	}
}

// Comparisons that are the same, or turned round, count once.
func TestPerfectCorrelation(t *testing.T) {
	base := Family{Corr: [][]float64{{1, 0.4}, {0.4, 1}}, DF: 6}
	twin := Family{Corr: [][]float64{{1, 0.4, 1, -1}, {0.4, 1, 0.4, -0.4}, {1, 0.4, 1, -1}, {-1, -0.4, -1, 1}}, DF: 6}
	for _, c := range []float64{0.5, 2, 4} {
		a, err := base.Tail(c)
		ok(t, err)
		b, err := twin.Tail(c)
		ok(t, err)
		if a.P != b.P {
			t.Errorf("c %v: %v with twins, %v without", c, b.P, a.P)
		}
	}
	// One comparison both ways, one-sided, is a two-sided one.
	both := Family{Corr: [][]float64{{1, -1}, {-1, 1}}, DF: 6, Sided: Upper}
	two := Family{Corr: [][]float64{{1}}, DF: 6}
	c1, _, err := both.Critical(0.05)
	ok(t, err)
	c2, _, err := two.Critical(0.05)
	ok(t, err)
	if math.Abs(c1-c2) > 1e-12 {
		t.Errorf("both ways %v, two-sided %v", c1, c2)
	}
	// Limits of their own: the nearer counts.
	p, err := Family{Corr: [][]float64{{1, 1}, {1, 1}}, DF: 6, Sided: Upper}.TailEach([]float64{2, 3})
	ok(t, err)
	if want := region.UpperT(2, 6); math.Abs(p.P-want) > 1e-14 {
		t.Errorf("%v, want %v", p.P, want)
	}
	// Nearly the same comparison passes over smoothly.
	for _, e := range []float64{1e-3, 1e-5, 1e-7, 1e-9, 1e-11} {
		f := Family{Corr: [][]float64{{1, 1 - e}, {1 - e, 1}}, DF: 6}
		p, err := f.Tail(2)
		ok(t, err)
		one := f.RawP(2)
		if p.P < one || p.P > one*(1+2*math.Sqrt(e)) {
			t.Errorf("1-r = %g: %v against %v alone", e, p.P, one)
		}
	}
}

// Independent comparisons with a known deviation multiply.
func TestIndependentProduct(t *testing.T) {
	for _, k := range []int{2, 3, 7, 40} {
		r := Product(make([]float64, k))
		p, err := Family{Corr: r, DF: math.Inf(1)}.Tail(2.7)
		ok(t, err)
		want := -math.Expm1(float64(k) * math.Log1p(-math.Erfc(2.7/math.Sqrt2)))
		if math.Abs(p.P-want) > 1e-13 {
			t.Errorf("k %d: %v, want %v (%s)", k, p.P, want, p.Method)
		}
	}
	// Orthants of three normals: 1/8 + sum asin(r)/4pi (Sheppard).
	r := [][]float64{{1, 0.5, -0.2}, {0.5, 1, 0.3}, {-0.2, 0.3, 1}}
	p, err := Family{Corr: r, DF: math.Inf(1), Sided: Upper}.Tail(0)
	ok(t, err)
	want := 1 - (0.125 + (math.Asin(0.5)+math.Asin(-0.2)+math.Asin(0.3))/(4*math.Pi))
	if math.Abs(p.P-want) > 1e-9 {
		t.Errorf("orthant: %v, want %v (%s)", p.P, want, p.Method)
	}
}

// Step-down p-values are those of the closed test, done in full.
func TestStepDownIsClosed(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for range 6 {
		k := 4
		lambda := make([]float64, k)
		ts := make([]float64, k)
		for i := range lambda {
			lambda[i] = 0.2 + 0.7*rng.Float64()
			ts[i] = 2 * rng.NormFloat64()
		}
		r := Product(lambda)
		for _, sided := range []Sided{TwoSided, Upper, Lower} {
			f := Family{Corr: r, DF: 11, Sided: sided}
			got, _, err := f.StepDown(ts)
			ok(t, err)
			single, _, err := f.AdjustedP(ts)
			ok(t, err)
			want := make([]float64, k)
			for set := 1; set < 1<<k; set++ {
				sub := Family{DF: 11, Sided: sided}
				var in []int
				c := math.Inf(-1)
				for i := range k {
					if set>>i&1 == 1 {
						in = append(in, i)
						v, _ := f.limit(ts[i])
						c = max(c, v)
					}
				}
				for _, i := range in {
					row := make([]float64, len(in))
					for b, j := range in {
						row[b] = r[i][j]
					}
					sub.Corr = append(sub.Corr, row)
				}
				p, err := sub.Tail(c)
				ok(t, err)
				for _, i := range in {
					want[i] = max(want[i], p.P)
				}
			}
			for i := range k {
				if math.Abs(got[i]-want[i]) > 1e-11 || got[i] > single[i]+1e-11 {
					t.Errorf("%v %d: step-down %v, closed %v, single-step %v", sided, i, got[i], want[i], single[i])
				}
			}
		}
	}
}

// What cannot be is refused, and nothing else.
func TestRefusals(t *testing.T) {
	bad := map[string]Family{
		"none":      {DF: 3},
		"df":        {Corr: [][]float64{{1}}},
		"nan":       {Corr: [][]float64{{1, math.NaN()}, {math.NaN(), 1}}, DF: 3},
		"lopsided":  {Corr: [][]float64{{1, 0.2}, {0.3, 1}}, DF: 3},
		"ragged":    {Corr: [][]float64{{1, 0.2}, {0.2}}, DF: 3},
		"diagonal":  {Corr: [][]float64{{2, 0}, {0, 1}}, DF: 3},
		"over one":  {Corr: [][]float64{{1, 1.2}, {1.2, 1}}, DF: 3},
		"no matrix": {Corr: [][]float64{{1, 0.9, -0.9}, {0.9, 1, 0.9}, {-0.9, 0.9, 1}}, DF: 3},
		"side":      {Corr: [][]float64{{1}}, DF: 3, Sided: 5},
	}
	for name, f := range bad {
		if p, err := f.Tail(2); err == nil {
			t.Errorf("%s: gave %v", name, p)
		}
		if _, _, err := f.Critical(0.05); err == nil {
			t.Errorf("%s: gave a critical value", name)
		}
	}
	good := Family{Corr: [][]float64{{1, 0.3}, {0.3, 1}}, DF: 0.5}
	for _, c := range []float64{-3, 0, 1e-300, 1e300, math.Inf(1), math.Inf(-1)} {
		for _, s := range []Sided{TwoSided, Upper, Lower} {
			good.Sided = s
			p, err := good.Tail(c)
			if err != nil || math.IsNaN(p.P) || p.P < 0 || p.P > 1 {
				t.Errorf("c %v %v: %v %v", c, s, p, err)
			}
		}
	}
	if _, _, _, err := good.Intervals([]float64{1, 2}, []float64{0, 1}, 0.05); err == nil {
		t.Error("an interval without scatter")
	}
}

func BenchmarkGeneral(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, k := range []int{3, 4, 5} {
		f := Family{Corr: drawn(rng, k, k+9), DF: 12}
		m, _ := f.Method()
		b.Run(fmt.Sprint(k, m), func(b *testing.B) {
			for b.Loop() {
				_, _ = f.Tail(2.7)
			}
		})
	}
}
