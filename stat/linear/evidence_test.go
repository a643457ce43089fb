package linear_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/linear"
)

// digits gives the number of matching digits, at most 15.
func digits(got, want float64) float64 {
	if got == want {
		return 15
	}
	if want == 0 {
		return min(15, -math.Log10(math.Abs(got)))
	}
	return min(15, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

// NIST StRD, linear least squares: certified values.
func TestNISTLinear(t *testing.T) {
	golden.Run(t, "nist-strd", "lls-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			X         [][]float64
			Y         []float64
			Degree    int
			Intercept bool
		}
		var want struct {
			Coef       []float64
			SE         []float64
			ResidualSD float64 `json:"residual_sd"`
			R2         float64
			ResidualDF int `json:"residual_df"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		d := linear.NewDesign(len(in.Y))
		if in.Intercept {
			if err := d.AddIntercept(); err != nil {
				t.Fatal(err)
			}
		}
		for j := range in.X[0] {
			x := make([]float64, len(in.Y))
			for i := range x {
				x[i] = in.X[i][j]
			}
			must(t, d.AddPowers(fmt.Sprintf("x%d", j), x, in.Degree))
		}
		m, err := linear.Fit(d, in.Y, linear.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if m.DF != want.ResidualDF {
			t.Errorf("df = %d, want %d", m.DF, want.ResidualDF)
		}
		coef, se := 15.0, 15.0
		for j, k := range m.Coefficients() {
			c.NearRel(t, "coefficient "+k.Name, k.Estimate, want.Coef[j])
			coef = min(coef, digits(k.Estimate, want.Coef[j]))
			if want.SE[j] == 0 {
				if k.StdErr > 1e-12 {
					t.Errorf("standard error of %s = %v, want 0", k.Name, k.StdErr)
				}
				continue
			}
			c.NearRel(t, "standard error of "+k.Name, k.StdErr, want.SE[j])
			se = min(se, digits(k.StdErr, want.SE[j]))
		}
		s, _ := m.Sigma()
		if want.ResidualSD == 0 {
			if !m.PerfectFit || s > 1e-12 {
				t.Errorf("sigma = %v, perfect fit %v, want 0, true", s, m.PerfectFit)
			}
		} else {
			c.NearRel(t, "residual sd", s, want.ResidualSD)
		}
		r2, _ := m.RSquared()
		c.NearRel(t, "R squared", r2, want.R2)
		t.Logf("digits: coefficients %.1f, standard errors %.1f, residual sd %.1f", coef, se, digits(s, want.ResidualSD))
	})
}

// NIST StRD, one-way analysis of variance: certified values.
func TestNISTAnova(t *testing.T) {
	golden.Run(t, "nist-strd", "anova-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Readings [][]float64
			Cells    []struct {
				First    float64
				Then     [2]float64
				Readings int
			}
		}
		var want struct {
			BetweenDF  int     `json:"between_df"`
			BetweenSS  float64 `json:"between_ss"`
			BetweenMS  float64 `json:"between_ms"`
			F          float64
			WithinDF   int     `json:"within_df"`
			WithinSS   float64 `json:"within_ss"`
			WithinMS   float64 `json:"within_ms"`
			R2         float64 `json:"r2"`
			ResidualSD float64 `json:"residual_sd"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for _, cell := range in.Cells {
			y := make([]float64, cell.Readings)
			y[0] = cell.First
			for i := 1; i < len(y); i++ {
				y[i] = cell.Then[(i-1)%2]
			}
			in.Readings = append(in.Readings, y)
		}
		var levels, group []string
		var y []float64
		for g, readings := range in.Readings {
			levels = append(levels, fmt.Sprint(g+1))
			for _, v := range readings {
				group, y = append(group, levels[g]), append(y, v)
			}
		}
		for _, coding := range []linear.Coding{linear.Treatment, linear.Sum} {
			d := linear.NewDesign(len(y))
			if err := d.AddIntercept(); err != nil {
				t.Fatal(err)
			}
			if err := d.AddFactor("cell", levels, group, coding); err != nil {
				t.Fatal(err)
			}
			m, err := linear.Fit(d, y, linear.Options{})
			if err != nil {
				t.Fatal(err)
			}
			f := m.Anova()[1]
			test, err := m.TestTerm("cell")
			if err != nil {
				t.Fatal(err)
			}
			if f.Num != want.BetweenDF || f.Den != want.WithinDF {
				t.Errorf("df = %d, %d, want %d, %d", f.Num, f.Den, want.BetweenDF, want.WithinDF)
			}
			s, _ := m.Sigma()
			r2, _ := m.RSquared()
			c.NearRel(t, "between SS", f.SS, want.BetweenSS)
			c.NearRel(t, "within SS", m.RSS, want.WithinSS)
			c.NearRel(t, "F", f.F, want.F)
			c.NearRel(t, "F of the contrasts", test.F, want.F)
			c.NearRel(t, "between MS", f.SS/float64(f.Num), want.BetweenMS)
			c.NearRel(t, "within MS", m.RSS/float64(m.DF), want.WithinMS)
			c.NearRel(t, "residual sd", s, want.ResidualSD)
			c.NearRel(t, "R squared", r2, want.R2)
			t.Logf("%s: digits of F %.1f", coding, digits(f.F, want.F))
		}
	})
}

// plan builds intercept, tyre against C, and drift in plain powers of -1..1.
func plan(t *testing.T, order []string, candidates []string, degree int, water []float64) *linear.Design {
	t.Helper()
	n := len(order)
	d := linear.NewDesign(n)
	must(t, d.AddIntercept())
	must(t, d.AddFactor("tyre", append([]string{"C"}, candidates...), order, linear.Treatment))
	for k := 1; k <= degree; k++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Pow(float64(2*i-(n-1))/float64(n-1), float64(k))
		}
		must(t, d.AddColumn(fmt.Sprintf("t^%d", k), x))
	}
	if water != nil {
		_, err := d.AddCentred("water depth", water)
		must(t, err)
	}
	return d
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// Run series with drift: least squares in 40 digits by mpmath.
func TestDriftSeries(t *testing.T) {
	golden.Run(t, "mpmath", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			RunOrder []string `json:"run_order"`
			Control  string
			Response []float64
			Degree   int
			Water    []float64 `json:"water_depth_mm"`
		}
		var want struct {
			Candidates  []string
			DF          int
			RSS, S2     float64
			Estimate    []float64
			SE, T       []float64
			Correlation [][]float64
			Intercept   float64
			OtherCoef   []float64 `json:"other_coef"`
			OtherSE     []float64 `json:"other_se"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		d := plan(t, in.RunOrder, want.Candidates, in.Degree, in.Water)
		m, err := linear.Fit(d, in.Response, linear.Options{})
		must(t, err)
		c.Near(t, "rss", m.RSS, want.RSS)
		c.Near(t, "intercept", m.Coef[0], want.Intercept)
		if m.DF != want.DF {
			t.Errorf("df = %d, want %d", m.DF, want.DF)
		}
		k := len(want.Candidates)
		l := make([][]float64, k)
		for i := range l {
			l[i] = make([]float64, len(m.Coef))
			l[i][1+i] = 1
		}
		ct, err := m.Contrasts(l)
		must(t, err)
		se, _ := ct.StdErr()
		ts, _ := ct.T()
		r, _ := ct.Correlation()
		for i := range k {
			c.Near(t, "estimate", ct.Estimate[i], want.Estimate[i])
			c.Near(t, "se", se[i], want.SE[i])
			c.Near(t, "t", ts[i], want.T[i])
			for j := range k {
				c.Near(t, "correlation", r[i][j], want.Correlation[i][j])
			}
		}
		for i, coef := range m.Coefficients()[1+k:] {
			c.Near(t, coef.Name, coef.Estimate, want.OtherCoef[i])
			c.Near(t, coef.Name+" se", coef.StdErr, want.OtherSE[i])
		}
		// The orthogonal basis spans the same drift: the contrasts may not move.
		o := linear.NewDesign(len(in.RunOrder))
		must(t, o.AddIntercept())
		must(t, o.AddFactor("tyre", append([]string{"C"}, want.Candidates...), in.RunOrder, linear.Treatment))
		at := make([]float64, len(in.RunOrder))
		for i := range at {
			at[i] = float64(i + 1)
		}
		_, err = o.AddPolynomial("drift", at, in.Degree)
		must(t, err)
		if in.Water != nil {
			_, err = o.AddCentred("water depth", in.Water)
			must(t, err)
		}
		mo, err := linear.Fit(o, in.Response, linear.Options{})
		must(t, err)
		for i := range k {
			c.Near(t, "estimate over the orthogonal basis", mo.Coef[1+i], want.Estimate[i])
		}
	})
}

// Augmented blocks (Federer 1956), the analogue of candidates driven once
// between controls.
func TestAugmentedBlocks(t *testing.T) {
	golden.Run(t, "agricolae", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Block, Treatment []string
			Y                []float64
		}
		var want struct {
			Means  map[string]float64 `json:"adjusted_means_equal_block_weights"`
			MSE    float64
			DF     int
			Blocks []float64 `json:"block_effects_vs_I"`
			Checks float64   `json:"sed_two_checks"`
			Same   float64   `json:"sed_two_new_same_block"`
			Other  float64   `json:"sed_two_new_different_blocks"`
			Mixed  float64   `json:"sed_check_vs_new"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		levels := slices.Clone(in.Treatment)
		slices.Sort(levels)
		levels = slices.Compact(levels)
		d := linear.NewDesign(len(in.Y))
		must(t, d.AddIntercept())
		must(t, d.AddFactor("block", []string{"I", "II", "III"}, in.Block, linear.Treatment))
		must(t, d.AddFactor("entry", levels, in.Treatment, linear.Sum))
		m, err := linear.Fit(d, in.Y, linear.Options{})
		must(t, err)
		if m.DF != want.DF {
			t.Errorf("df = %d, want %d", m.DF, want.DF)
		}
		s, _ := m.Sigma()
		c.Near(t, "mean square error", s*s, want.MSE)
		for i, v := range want.Blocks[1:] {
			c.Near(t, m.Names[1+i], m.Coef[1+i], v)
		}
		row := func(entry string) []float64 {
			r, err := d.At(linear.Setting{Levels: map[string]string{"entry": entry}})
			must(t, err)
			return r
		}
		for _, entry := range levels {
			ct, err := m.Contrasts([][]float64{row(entry)})
			must(t, err)
			c.Near(t, "adjusted mean "+entry, ct.Estimate[0], want.Means[entry])
		}
		sed := func(a, b string) float64 {
			l := row(a)
			for j, v := range row(b) {
				l[j] -= v
			}
			ct, err := m.Contrasts([][]float64{l})
			must(t, err)
			se, _ := ct.StdErr()
			return se[0]
		}
		c.Near(t, "two checks", sed("A", "B"), want.Checks)
		c.Near(t, "two entries of one block", sed("g", "k"), want.Same)
		c.Near(t, "two entries of different blocks", sed("g", "e"), want.Other)
		c.Near(t, "check and entry", sed("A", "g"), want.Mixed)
	})
}

// Generalised least squares with known lag-1 correlation: R nlme.
func TestKnownCovariance(t *testing.T) {
	golden.Run(t, "nlme-3.1-162", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			I    []float64
			Tyre []string
			Y    []float64
		}
		var want struct {
			Phi, Sigma float64
			Coef, SE   []float64
			LogLik     float64 `json:"logLik"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		n := len(in.Y)
		d := linear.NewDesign(n)
		must(t, d.AddIntercept())
		must(t, d.AddFactor("tyre", []string{"C", "A", "B", "D"}, in.Tyre, linear.Treatment))
		must(t, d.AddColumn("run", in.I))
		v := make([][]float64, n)
		for i := range v {
			v[i] = make([]float64, n)
			for j := range v[i] {
				v[i][j] = math.Pow(want.Phi, math.Abs(float64(i-j)))
			}
		}
		m, err := linear.Fit(d, in.Y, linear.Options{Covariance: v})
		must(t, err)
		s, _ := m.Sigma()
		c.Near(t, "sigma", s, want.Sigma)
		for j, k := range m.Coefficients() {
			c.Near(t, k.Name, k.Estimate, want.Coef[j])
			c.Near(t, k.Name+" se", k.StdErr, want.SE[j])
		}
		ll, _ := m.RestrictedLogLik()
		c.Near(t, "restricted log likelihood", ll, want.LogLik)
	})
}

// Variances of candidate less control for given run orders after drift.
func TestRunOrderVariances(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "run-order-criteria", func(t *testing.T, c *golden.Case) {
		type criteria struct {
			A, MV float64
			Var   map[string]float64
			Corr  float64 `json:"corr_first_two"`
		}
		var in map[string]string
		var want map[string]struct {
			Order                  string
			Deg0, Deg1, Deg2, Deg3 criteria
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for name, w := range want {
			if in[name] != w.Order {
				t.Fatalf("%s: %s is not %s", name, in[name], w.Order)
			}
			for degree, cr := range []criteria{w.Deg0, w.Deg1, w.Deg2, w.Deg3} {
				v, r := orderVariances(t, w.Order, degree, nil)
				sum, largest := 0.0, 0.0
				for _, k := range candidatesOf(w.Order) {
					c.Near(t, name+" var "+k, v[k], cr.Var[k])
					sum += v[k]
					largest = max(largest, v[k])
				}
				c.Near(t, name+" sum", sum, cr.A)
				c.Near(t, name+" largest", largest, cr.MV)
				c.Near(t, name+" correlation", r[0][1], cr.Corr)
			}
		}
	})
}

func candidatesOf(order string) []string {
	var out []string
	for _, r := range order {
		if r != 'C' && !slices.Contains(out, string(r)) {
			out = append(out, string(r))
		}
	}
	slices.Sort(out)
	return out
}

func orderVariances(t *testing.T, order string, degree int, v [][]float64) (map[string]float64, [][]float64) {
	t.Helper()
	var runs []string
	at := make([]float64, len(order))
	for i, r := range order {
		runs = append(runs, string(r))
		at[i] = float64(i)
	}
	k := candidatesOf(order)
	d := linear.NewDesign(len(runs))
	must(t, d.AddIntercept())
	must(t, d.AddFactor("tyre", append([]string{"C"}, k...), runs, linear.Treatment))
	if degree > 0 {
		_, err := d.AddPolynomial("drift", at, degree)
		must(t, err)
	}
	m, err := linear.Fit(d, make([]float64, len(runs)), linear.Options{Covariance: v})
	must(t, err)
	l := make([][]float64, len(k))
	out := map[string]float64{}
	for i := range k {
		l[i] = make([]float64, len(m.Coef))
		l[i][1+i] = 1
	}
	ct, err := m.Contrasts(l)
	must(t, err)
	for i := range k {
		out[k[i]] = ct.Unscaled[i][i]
	}
	r, ok := ct.Correlation()
	if !ok {
		t.Fatal("no correlation")
	}
	return out, r
}

// Variances by least squares with the true covariance of drifting noise.
func TestDriftNoise(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "drift-noise-gls", func(t *testing.T, c *golden.Case) {
		var in []struct {
			Order, Noise string
			Par          float64
		}
		var want []struct {
			GLS  float64            `json:"gls_mean_var"`
			Mean map[string]float64 `json:"mean_var"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for q, x := range in {
			n := len(x.Order)
			v := make([][]float64, n)
			for i := range v {
				v[i] = make([]float64, n)
				for j := range v[i] {
					switch x.Noise {
					case "rw":
						v[i][j] = x.Par * float64(min(i, j))
						if i == j {
							v[i][j]++
						}
					case "ar1":
						v[i][j] = math.Pow(x.Par, math.Abs(float64(i-j)))
					default:
						if i == j {
							v[i][j] = 1
						}
					}
				}
			}
			mean := func(m map[string]float64) float64 {
				s := 0.0
				for _, k := range candidatesOf(x.Order) {
					s += m[k]
				}
				return s / float64(len(m))
			}
			g, _ := orderVariances(t, x.Order, 0, v)
			c.Near(t, fmt.Sprint(x, " generalised"), mean(g), want[q].GLS)
			if x.Noise == "iid" {
				for degree := range 4 {
					o, _ := orderVariances(t, x.Order, degree, nil)
					c.Near(t, fmt.Sprint(x, degree), mean(o), want[q].Mean[fmt.Sprintf("poly%d", degree)])
				}
			}
		}
	})
}

// A tyre's orders are free of a trend where the orthogonal polynomial of
// position sums to zero over its runs.
func TestTrendFree(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "trend-free", func(t *testing.T, c *golden.Case) {
		var in []string
		var want []struct {
			Order  string
			Linear map[string]float64 `json:"linear_imbalance"`
			Square map[string]float64 `json:"quadratic_imbalance"`
			Cubic  map[string]float64 `json:"cubic_imbalance"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for _, w := range want {
			n := len(w.Order)
			at := make([]float64, n)
			for i := range at {
				at[i] = float64(i)
			}
			p, err := linear.NewPolynomial(at, 3)
			must(t, err)
			sums := map[rune][3]float64{}
			for i, r := range w.Order {
				v := p.At(at[i])
				s := sums[r]
				for k := range s {
					s[k] += v[k+1]
				}
				sums[r] = s
			}
			// The source scales its polynomials in its own way: one factor a degree.
			for k, table := range []map[string]float64{w.Linear, w.Square, w.Cubic} {
				scale, ref := 0.0, 0.0
				for tyre, v := range table {
					if math.Abs(v) > math.Abs(ref) || math.Abs(v) == math.Abs(ref) && v > ref {
						ref, scale = v, sums[rune(tyre[0])][k]
					}
				}
				if ref != 0 {
					scale /= ref
					if scale <= 0 {
						t.Errorf("%s: degree %d has the wrong sign", w.Order, k+1)
					}
				}
				for tyre, v := range table {
					c.Near(t, fmt.Sprintf("%s: degree %d of %s", w.Order, k+1, tyre), sums[rune(tyre[0])][k], scale*v)
				}
			}
		}
	})
}
