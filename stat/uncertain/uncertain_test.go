package uncertain_test

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/tail"
	"example.org/bookend/stat/uncertain"
)

func ok[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

type gauge struct {
	LS       float64 `json:"ls_nm"`
	ULS      float64 `json:"u_ls"`
	NuLS     float64 `json:"nu_ls"`
	D        float64 `json:"d_nm"`
	UD0      float64 `json:"u_d0"`
	NuD0     float64 `json:"nu_d0"`
	UD1      float64 `json:"u_d1"`
	NuD1     float64 `json:"nu_d1"`
	UD2      float64 `json:"u_d2"`
	NuD2     float64 `json:"nu_d2"`
	AlphaS   float64 `json:"alpha_s"`
	AlphaSH  float64 `json:"alpha_s_half_width"`
	DAlphaH  float64 `json:"d_alpha_half_width"`
	NuDAlpha float64 `json:"nu_d_alpha"`
	DThetaH  float64 `json:"d_theta_half_width"`
	NuDTheta float64 `json:"nu_d_theta"`
	Theta    float64 `json:"theta_bar"`
	UTheta   float64 `json:"u_theta_bar"`
	DeltaH   float64 `json:"Delta_arcsine_half_width"`
}

// endGauge is JCGM 100:2008, H.1, with the difference of comparator readings
// and its two corrections as three inputs.
func endGauge(g gauge) (uncertain.Model, []uncertain.Input) {
	f := func(x []float64) float64 {
		ls, d, d1, d2, da, as, dt, th, cyc := x[0], x[1], x[2], x[3], x[4], x[5], x[6], x[7], x[8]
		return ls + d + d1 + d2 - ls*(da*(th+cyc)+as*dt)
	}
	r := uncertain.Rectangular
	return f, []uncertain.Input{
		{Name: "ls", Value: g.LS, U: g.ULS, DF: g.NuLS},
		{Name: "d0", Value: g.D, U: g.UD0, DF: g.NuD0},
		{Name: "d1", U: g.UD1, DF: g.NuD1},
		{Name: "d2", U: g.UD2, DF: g.NuD2},
		{Name: "d_alpha", U: uncertain.HalfWidth(g.DAlphaH, r), DF: g.NuDAlpha, Shape: r},
		{Name: "alpha_s", Value: g.AlphaS, U: uncertain.HalfWidth(g.AlphaSH, r), Shape: r},
		{Name: "d_theta", U: uncertain.HalfWidth(g.DThetaH, r), DF: g.NuDTheta, Shape: r},
		{Name: "theta", Value: g.Theta, U: g.UTheta},
		{Name: "cycle", U: uncertain.HalfWidth(g.DeltaH, uncertain.Arcsine), Shape: uncertain.Arcsine},
	}
}

func TestEndGauge(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "gum-h1", func(t *testing.T, c *golden.Case) {
		var g gauge
		var w struct {
			L          float64            `json:"l_nm"`
			Components map[string]float64 `json:"components_nm"`
			U          float64            `json:"uc_nm"`
			Nu         float64            `json:"nu_eff"`
			NuCut      float64            `json:"nu_eff_truncated"`
			T          float64            `json:"t99"`
			U99        float64            `json:"U99_nm"`
			Second     float64            `json:"second_order_term_nm"`
			USecond    float64            `json:"uc_with_second_order_nm"`
		}
		c.JSON(t, "inputs.json", &g)
		c.JSON(t, "expected.json", &w)
		f, in := endGauge(g)
		// Sensitivities by hand (H.1.3.4): strict; by differences of a length of
		// 5e7 nm, whose last bit is 7e-9 nm, to 1e-7.
		exact := []float64{1, 1, 1, 1, -g.LS * g.Theta, 0, -g.LS * g.AlphaS, 0, 0}
		b := ok[uncertain.Budget](t)(uncertain.Propagate(f, in, uncertain.Options{Confidence: 0.99, SecondOrder: true, Sensitivities: exact}))
		c.NearRel(t, "l", b.Value, w.L)
		for _, r := range b.Rows {
			if want, is := w.Components[r.Name]; is {
				c.NearRel(t, r.Name, r.Component, want)
			} else if r.Component > 1e-6 {
				t.Errorf("%s has component %v, want none", r.Name, r.Component)
			}
		}
		c.NearRel(t, "uc", b.U, w.U)
		c.NearRel(t, "nu_eff", b.DF, w.Nu)
		c.NearRel(t, "cut", math.Floor(b.DF), w.NuCut)
		c.NearRel(t, "t99", b.K, w.T)
		c.NearRel(t, "U99", b.Expanded, w.U99)
		// Differences of a 50 mm length in nanometres keep seven digits of the second order.
		if math.Abs(b.SecondOrder-w.Second) > 1e-6*w.Second || math.Abs(b.USecond-w.USecond) > 1e-6*w.USecond {
			t.Errorf("second order %v, uc with it %v", b.SecondOrder, b.USecond)
		}
		if !b.Caveats.Has("not_linear") {
			t.Error("second-order terms of an eighth of the variance are not said")
		}
		diff := ok[uncertain.Budget](t)(uncertain.Propagate(f, in, uncertain.Options{Confidence: 0.99}))
		for i, r := range diff.Rows {
			if math.Abs(r.Component-b.Rows[i].Component) > 1e-7*w.U {
				t.Errorf("%s by differences %v, by hand %v", r.Name, r.Component, b.Rows[i].Component)
			}
		}
		if math.Abs(diff.U-w.U) > 1e-8*w.U || math.Abs(diff.DF-w.Nu) > 1e-7*w.Nu || diff.USecond != diff.U {
			t.Errorf("by differences: uc %v, nu_eff %v", diff.U, diff.DF)
		}
	})
	golden.Run(t, "gum-jcgm-100", "h1-*", func(t *testing.T, c *golden.Case) {
		var g gauge
		var w struct {
			U       float64 `json:"uc_nm"`
			Nu      float64 `json:"nu_eff"`
			T       float64 `json:"t99"`
			U99     float64 `json:"U99_nm"`
			USecond float64 `json:"uc_second_order_nm"`
		}
		c.JSON(t, "inputs.json", &g)
		c.JSON(t, "expected.json", &w)
		f, in := endGauge(g)
		b := ok[uncertain.Budget](t)(uncertain.Propagate(f, in, uncertain.Options{Confidence: 0.99, SecondOrder: true}))
		c.Near(t, "uc", b.U, w.U)
		c.Near(t, "nu_eff", math.Floor(b.DF), w.Nu)
		c.Near(t, "U99", b.Expanded, w.U99)
		c.Near(t, "uc with second order", b.USecond, w.USecond)
		if math.Abs(b.K-w.T) > 0.005 {
			t.Errorf("t99 %v, want %v", b.K, w.T)
		}
		golden.Run(t, "gum-s1-jcgm-101", "9-5-*", func(t *testing.T, c *golden.Case) {
			var w struct {
				Value float64 `json:"value"`
				U     float64 `json:"u"`
			}
			c.JSON(t, "expected.json", &w)
			// Two limits are themselves uncertain (6.4.3): half widths of
			// 1e-6 by a tenth and 0.05 by a half, each drawn.
			r := uncertain.HalfWidth(1, uncertain.Rectangular)
			in := append([]uncertain.Input(nil), in...)
			in[4] = uncertain.Input{Name: "d_alpha", U: r, Shape: uncertain.Rectangular}
			in[6] = uncertain.Input{Name: "d_theta", U: r, Shape: uncertain.Rectangular}
			in = append(in, uncertain.Input{Name: "limit 1", U: r, Shape: uncertain.Rectangular}, uncertain.Input{Name: "limit 2", U: r, Shape: uncertain.Rectangular})
			h := func(x []float64) float64 {
				y := append([]float64(nil), x[:9]...)
				y[4] *= 1e-6 + 0.1e-6*x[9]
				y[6] *= 0.05 + 0.025*x[10]
				return f(y)
			}
			m := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(h, in, uncertain.Options{Confidence: 0.99}, 200_000, 1))
			c.Near(t, "value", m.Mean-5e7, w.Value)
			c.Near(t, "u", m.U, w.U)
			golden.Run(t, "r-4.2.2", "gauge-*", func(t *testing.T, c *golden.Case) {
				var w struct {
					Value float64 `json:"value"`
					U     float64 `json:"u"`
					Low   float64 `json:"low"`
					High  float64 `json:"high"`
					Width float64 `json:"width"`
				}
				c.JSON(t, "expected.json", &w)
				c.Near(t, "value", m.Mean-5e7, w.Value)
				c.Near(t, "u", m.U, w.U)
				c.Near(t, "low", m.Low-5e7, w.Low)
				c.Near(t, "high", m.High-5e7, w.High)
				c.Near(t, "width of the shortest", m.ShortHigh-m.ShortLow, w.Width)
			})
		})
	})
}

type impedance struct {
	V   []float64 `json:"V"`
	I   []float64 `json:"I_A"`
	Phi []float64 `json:"phi_rad"`
}

var impedanceModels = []uncertain.Model{
	func(x []float64) float64 { return x[0] / x[1] * math.Cos(x[2]) },
	func(x []float64) float64 { return x[0] / x[1] * math.Sin(x[2]) },
	func(x []float64) float64 { return x[0] / x[1] },
}

func TestImpedance(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "gum-h2", func(t *testing.T, c *golden.Case) {
		var in impedance
		var w struct {
			Mean []float64 `json:"mean"`
			U    []float64 `json:"u"`
			VI   float64   `json:"r_VI"`
			VPhi float64   `json:"r_Vphi"`
			IPhi float64   `json:"r_Iphi"`
			RXZ  []float64 `json:"R_X_Z"`
			URXZ []float64 `json:"u_R_X_Z"`
			RX   float64   `json:"r_RX"`
			RZ   float64   `json:"r_RZ"`
			XZ   float64   `json:"r_XZ"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		x, r, err := uncertain.Readings([]string{"V", "I", "phi"}, [][]float64{in.V, in.I, in.Phi})
		if err != nil {
			t.Fatal(err)
		}
		for i := range x {
			c.NearRel(t, x[i].Name, x[i].Value, w.Mean[i])
			c.NearRel(t, "u("+x[i].Name+")", x[i].U, w.U[i])
		}
		c.NearRel(t, "r(V,I)", r[0][1], w.VI)
		c.NearRel(t, "r(V,phi)", r[0][2], w.VPhi)
		c.NearRel(t, "r(I,phi)", r[1][2], w.IPhi)
		j := ok[uncertain.Joint](t)(uncertain.PropagateJoint(impedanceModels, x, uncertain.Options{Correlation: r}))
		for i := range j.Values {
			c.NearRel(t, "result", j.Values[i], w.RXZ[i])
			c.NearRel(t, "its u", j.U[i], w.URXZ[i])
			if j.Budgets[i].DF != 4 {
				t.Errorf("df %v", j.Budgets[i].DF)
			}
		}
		c.NearRel(t, "r(R,X)", j.Correlation[0][1], w.RX)
		c.NearRel(t, "r(R,Z)", j.Correlation[2][0], w.RZ)
		c.NearRel(t, "r(X,Z)", j.Correlation[1][2], w.XZ)
		if !j.Caveats.Has("correlated_degrees_of_freedom") {
			t.Error("degrees of freedom of correlated inputs are not commented")
		}
		// The Monte Carlo beside it, normal inputs: within five standard errors of u.
		m := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(impedanceModels[0], x, uncertain.Options{Correlation: r}, 50_000, 4))
		if math.Abs(m.U-w.URXZ[0]) > 5*w.URXZ[0]/math.Sqrt(2*50_000) || math.Abs(m.Mean-w.RXZ[0]) > 5*m.UMeanError {
			t.Errorf("drawn %v, u %v", m.Mean, m.U)
		}
	})
	golden.Run(t, "gum-jcgm-100", "h2-*", func(t *testing.T, c *golden.Case) {
		var in impedance
		var w struct {
			R   float64 `json:"R"`
			UR  float64 `json:"uR"`
			X   float64 `json:"X"`
			UX  float64 `json:"uX"`
			Z   float64 `json:"Z"`
			UZ  float64 `json:"uZ"`
			RX  float64 `json:"rRX"`
			RZ  float64 `json:"rRZ"`
			RXZ float64 `json:"rXZ"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &w)
		x, r, err := uncertain.Readings([]string{"V", "I", "phi"}, [][]float64{in.V, in.I, in.Phi})
		if err != nil {
			t.Fatal(err)
		}
		j := ok[uncertain.Joint](t)(uncertain.PropagateJoint(impedanceModels, x, uncertain.Options{Correlation: r}))
		for i, p := range [][2]float64{{w.R, w.UR}, {w.X, w.UX}, {w.Z, w.UZ}} {
			c.Near(t, "result", j.Values[i], p[0])
			c.Near(t, "its u", j.U[i], p[1])
		}
		c.Near(t, "r(R,X)", j.Correlation[0][1], w.RX)
		c.Near(t, "r(R,Z)", j.Correlation[0][2], w.RZ)
		c.Near(t, "r(X,Z)", j.Correlation[1][2], w.RXZ)
	})
}

// Welch's test of two means is the difference of two inputs with its effective
// degrees of freedom.
func TestWelchIsAPropagation(t *testing.T) {
	golden.Run(t, "nist-dataplot", "welch-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			P float64 `json:"p"`
		}
		c.JSON(t, "expected.json", &w)
		dir := os.Getenv("BOOKEND_DATA")
		if dir == "" {
			dir = filepath.Join("..", "..", "..", "shared", "data")
		}
		file, err := os.Open(filepath.Join(dir, "stats/nist_NATR323.DAT"))
		if err != nil {
			t.Skipf("the open data are not here: %v", err)
		}
		defer file.Close()
		var x [2][]float64
		for s := bufio.NewScanner(file); s.Scan(); {
			fields := strings.Fields(s.Text())
			if len(fields) != 2 {
				continue
			}
			a, err1 := strconv.ParseFloat(fields[0], 64)
			b, err2 := strconv.ParseFloat(fields[1], 64)
			if err1 != nil || err2 != nil {
				continue
			}
			x[0] = append(x[0], a)
			if b != -99 {
				x[1] = append(x[1], b)
			}
		}
		var in []uncertain.Input
		for i, name := range []string{"electrical", "mixtures"} {
			one, _, err := uncertain.Readings([]string{name}, x[i:i+1])
			if err != nil {
				t.Fatal(err)
			}
			in = append(in, one...)
		}
		b := ok[uncertain.Budget](t)(uncertain.Propagate(func(x []float64) float64 { return x[0] - x[1] }, in, uncertain.Options{}))
		c.Near(t, "p", tail.TwoSidedT(b.Value/b.U, b.DF), w.P)
	})
}

// Analytic: a product of independent inputs has variance
// a^2 u_b^2 + b^2 u_a^2 + u_a^2 u_b^2 exactly, and a square about zero of a
// normal input has variance 2 u^4.
func TestSecondOrderIsExactWhereItCanBe(t *testing.T) {
	in := []uncertain.Input{{Name: "a", Value: 3, U: 0.4}, {Name: "b", Value: -2, U: 0.5}}
	b := ok[uncertain.Budget](t)(uncertain.Propagate(func(x []float64) float64 { return x[0] * x[1] }, in, uncertain.Options{SecondOrder: true}))
	want := math.Sqrt(9*0.25 + 4*0.16 + 0.16*0.25)
	if math.Abs(b.USecond-want) > 1e-12 || math.Abs(b.U-math.Sqrt(9*0.25+4*0.16)) > 1e-12 {
		t.Errorf("u %v and %v, want %v", b.U, b.USecond, want)
	}
	zero := []uncertain.Input{{Name: "x", U: 0.3}}
	b = ok[uncertain.Budget](t)(uncertain.Propagate(func(x []float64) float64 { return x[0] * x[0] }, zero, uncertain.Options{SecondOrder: true}))
	if math.Abs(b.USecond-math.Sqrt2*0.09) > 1e-12 || b.U > 1e-12 {
		t.Errorf("square: %v, %v", b.U, b.USecond)
	}
	// A cube about 1: f' 3, f'' 6, f''' 6: terms 18 + 18 times u^4.
	one := []uncertain.Input{{Name: "x", Value: 1, U: 0.01}}
	b = ok[uncertain.Budget](t)(uncertain.Propagate(func(x []float64) float64 { return x[0] * x[0] * x[0] }, one, uncertain.Options{SecondOrder: true}))
	if math.Abs(b.SecondVariance-36e-8) > 1e-12 {
		t.Errorf("cube: %v, want 36e-8", b.SecondVariance)
	}
}

func TestSupplementOneExamples(t *testing.T) {
	golden.Run(t, "gum-s1-jcgm-101", "9-2-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Normal float64 `json:"normal"`
			Rect   float64 `json:"rectangular"`
			U      float64 `json:"u"`
		}
		c.JSON(t, "expected.json", &w)
		sum := func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }
		for shape, want := range map[uncertain.Shape]float64{uncertain.Normal: w.Normal, uncertain.Rectangular: w.Rect} {
			in := make([]uncertain.Input, 4)
			for i := range in {
				in[i] = uncertain.Input{Name: strconv.Itoa(i), U: 1, Shape: shape}
			}
			m := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(sum, in, uncertain.Options{}, 400_000, 2))
			c.Near(t, "u", m.U, w.U)
			c.Near(t, "low", m.Low, -want)
			c.Near(t, "high", m.High, want)
			c.Near(t, "half the shortest", (m.ShortHigh-m.ShortLow)/2, want)
		}
	})
	golden.Run(t, "gum-s1-jcgm-101", "9-4-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Mean float64 `json:"mean"`
			U    float64 `json:"u"`
			Low  float64 `json:"short_low"`
			High float64 `json:"short_high"`
		}
		c.JSON(t, "expected.json", &w)
		f := func(x []float64) float64 { return x[0]*x[0] + x[1]*x[1] }
		in := []uncertain.Input{{Name: "x1", U: 0.005}, {Name: "x2", U: 0.005}}
		m := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(f, in, uncertain.Options{}, 300_000, 7))
		c.Near(t, "mean", m.Mean, w.Mean)
		c.Near(t, "u", m.U, w.U)
		c.Near(t, "low", m.ShortLow, w.Low)
		c.Near(t, "high", m.ShortHigh, w.High)
		b := ok[uncertain.Budget](t)(uncertain.Propagate(f, in, uncertain.Options{SecondOrder: true}))
		if b.U > 1e-15 || math.Abs(b.USecond-w.U) > 1e-12 || !b.Caveats.Has("no_uncertainty") {
			t.Errorf("first order %v, second %v", b.U, b.USecond)
		}
	})
}

// Analytic: each shape has its standard deviation and, for t, its tails.
func TestShapesAreDrawnWithTheirSpread(t *testing.T) {
	same := func(x []float64) float64 { return x[0] }
	for _, s := range []uncertain.Shape{uncertain.Normal, uncertain.Rectangular, uncertain.Triangular, uncertain.Arcsine} {
		in := []uncertain.Input{{Name: "x", Value: 5, U: 2, Shape: s}}
		m := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(same, in, uncertain.Options{}, 100_000, 3))
		if math.Abs(m.U-2) > 0.03 || math.Abs(m.Mean-5) > 5*m.UMeanError {
			t.Errorf("shape %d: mean %v, u %v", s, m.Mean, m.U)
		}
	}
	for _, df := range []float64{3, 8.5} {
		in := []uncertain.Input{{Name: "x", U: 1, DF: df}}
		m := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(same, in, uncertain.Options{}, 200_000, 3))
		if want := tail.TPoint(0.025, df); math.Abs(m.High-want) > 0.05 || math.Abs(m.Low+want) > 0.05 {
			t.Errorf("t with %v df: %v to %v, want %v", df, m.Low, m.High, want)
		}
	}
}

// Laws: the same seed gives the same bits; scaling a result scales U and K not
// at all; reordering inputs changes nothing; shares sum to one.
func TestLaws(t *testing.T) {
	f := func(x []float64) float64 { return x[0]*x[0]/(2*x[1]) + x[2] }
	in := []uncertain.Input{{Name: "v", Value: 22.2, U: 0.05, DF: 9}, {Name: "a", Value: 9.1, U: 0.02, DF: 4}, {Name: "s", Value: 0.1, U: 0.01}}
	a := ok[uncertain.Budget](t)(uncertain.Propagate(f, in, uncertain.Options{}))
	g := func(x []float64) float64 { return 1000 * f([]float64{x[2], x[1], x[0]}) }
	b := ok[uncertain.Budget](t)(uncertain.Propagate(g, []uncertain.Input{in[2], in[1], in[0]}, uncertain.Options{}))
	if math.Abs(b.U-1000*a.U) > 1e-9*b.U || math.Abs(a.DF-b.DF) > 1e-8 || math.Abs(a.K-b.K) > 1e-12 {
		t.Errorf("%+v against %+v", a, b)
	}
	sum := 0.0
	for _, r := range a.Rows {
		sum += r.Share
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("shares sum to %v", sum)
	}
	// Analytic sensitivities of v^2/(2a).
	if want := 22.2 / 9.1; math.Abs(a.Rows[0].Sensitivity-want) > 1e-9 {
		t.Errorf("sensitivity to v %v, want %v", a.Rows[0].Sensitivity, want)
	}
	if want := -22.2 * 22.2 / (2 * 9.1 * 9.1); math.Abs(a.Rows[1].Sensitivity-want) > 1e-9 {
		t.Errorf("sensitivity to a %v, want %v", a.Rows[1].Sensitivity, want)
	}
	m := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(f, in, uncertain.Options{}, 20_000, 5))
	n := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(f, in, uncertain.Options{}, 20_000, 5))
	o := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(f, in, uncertain.Options{}, 20_000, 6))
	if m.U != n.U || m.Low != n.Low || m.ShortHigh != n.ShortHigh || m.U == o.U {
		t.Error("a seed does not fix the draws")
	}
	// Perfectly correlated equal inputs: their difference has no uncertainty.
	one := [][]float64{{1, 1}, {1, 1}}
	pair := []uncertain.Input{{Name: "p", Value: 1, U: 0.1}, {Name: "q", Value: 2, U: 0.1}}
	d := ok[uncertain.Budget](t)(uncertain.Propagate(func(x []float64) float64 { return x[1] - x[0] }, pair, uncertain.Options{Correlation: one}))
	if d.U > 1e-8 {
		t.Errorf("u of a difference of equals: %v", d.U)
	}
	md := ok[uncertain.MonteCarlo](t)(uncertain.Simulate(func(x []float64) float64 { return x[1] - x[0] }, pair, uncertain.Options{Correlation: one}, 1000, 1))
	if md.U > 1e-4 {
		t.Errorf("drawn: %v", md.U)
	}
}

func TestDegenerateInput(t *testing.T) {
	bad := func(what string, err error, code fault.Code) {
		t.Helper()
		if fault.CodeOf(err) != code {
			t.Errorf("%s: %v", what, err)
		}
	}
	same := func(x []float64) float64 { return x[0] }
	one := []uncertain.Input{{Name: "x", Value: 1, U: 0.1}}
	_, err := uncertain.Propagate(same, nil, uncertain.Options{})
	bad("no inputs", err, fault.Invalid)
	_, err = uncertain.Propagate(same, []uncertain.Input{{Name: "x", U: -1}}, uncertain.Options{})
	bad("negative", err, fault.Invalid)
	_, err = uncertain.Propagate(func(x []float64) float64 { return math.Log(x[0]) }, []uncertain.Input{{Name: "x", Value: -1, U: 1}}, uncertain.Options{})
	bad("no value", err, fault.Invalid)
	_, err = uncertain.Propagate(func(x []float64) float64 { return math.Log(x[0]) }, []uncertain.Input{{Name: "x", Value: 0.1, U: 1}}, uncertain.Options{})
	bad("no derivative", err, fault.Invalid)
	_, err = uncertain.Propagate(same, one, uncertain.Options{Correlation: [][]float64{{0.5}}})
	bad("diagonal", err, fault.Invalid)
	_, err = uncertain.Propagate(same, one, uncertain.Options{Sensitivities: []float64{1, 2}})
	bad("sensitivities", err, fault.Invalid)
	_, err = uncertain.Simulate(same, one, uncertain.Options{}, 10, 1)
	bad("few trials", err, fault.Invalid)
	three := []uncertain.Input{{Name: "a", U: 1}, {Name: "b", U: 1}, {Name: "c", U: 1}}
	impossible := [][]float64{{1, 0.9, 0.9}, {0.9, 1, -0.9}, {0.9, -0.9, 1}}
	_, err = uncertain.Simulate(same, three, uncertain.Options{Correlation: impossible}, 1000, 1)
	bad("impossible correlation", err, fault.Invalid)
	pair := []uncertain.Input{{Name: "a", U: 1, Shape: uncertain.Rectangular}, {Name: "b", U: 1}}
	half := [][]float64{{1, 0.5}, {0.5, 1}}
	_, err = uncertain.Simulate(same, pair, uncertain.Options{Correlation: half}, 1000, 1)
	bad("correlated rectangle", err, fault.Unsupported)
	_, err = uncertain.Propagate(same, pair, uncertain.Options{Correlation: half, SecondOrder: true})
	bad("correlated second order", err, fault.Unsupported)
	_, _, err = uncertain.Readings([]string{"a"}, [][]float64{{1}})
	bad("one reading", err, fault.Invalid)
	in, r, err := uncertain.Readings([]string{"a", "b"}, [][]float64{{0.1, 0.1, 0.1}, {1, 2, 4}})
	if err != nil || in[0].U != 0 || r[0][1] != 0 || r[1][1] != 1 {
		t.Errorf("equal readings: %v %v %v", in, r, err)
	}
	exact := []uncertain.Input{{Name: "x", Value: 2}}
	b, err := uncertain.Propagate(same, exact, uncertain.Options{SecondOrder: true})
	if err != nil || b.U != 0 || math.IsNaN(b.K) || b.Expanded != 0 || !b.Caveats.Has("no_uncertainty") {
		t.Errorf("exact input: %+v %v", b, err)
	}
	m, err := uncertain.Simulate(same, exact, uncertain.Options{}, 1000, 1)
	if err != nil || m.U != 0 || m.Low != 2 || m.High != 2 {
		t.Errorf("exact input drawn: %+v %v", m, err)
	}
	m, err = uncertain.Simulate(func(x []float64) float64 { return math.Sqrt(x[0]) }, []uncertain.Input{{Name: "x", Value: 0.1, U: 0.1, DF: 1}}, uncertain.Options{}, 1000, 1)
	if err != nil || m.Without == 0 || !m.Caveats.Has("draws_without_value") || !m.Caveats.Has("no_standard_deviation") {
		t.Errorf("root: %+v %v", m, err)
	}
	// Half a degree of freedom in effect: the factor is that of one.
	low, err := uncertain.Propagate(same, []uncertain.Input{{Name: "x", U: 1, DF: 0.5}}, uncertain.Options{})
	if err != nil || math.Abs(low.K-tail.TPoint(0.025, 1)) > 1e-9 {
		t.Errorf("half a degree: %+v %v", low, err)
	}
}
