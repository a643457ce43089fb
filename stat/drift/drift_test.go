package drift_test

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/resample"
)

// dataFile reads a file of the open data set, which lies beside the checkout
// or where BOOKEND_DATA says; without it the test is skipped.
func dataFile(t *testing.T, name string) [][]string {
	t.Helper()
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "data")
	}
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		t.Skipf("the open data are not here: %v", err)
	}
	defer f.Close()
	var rows [][]string
	for s := bufio.NewScanner(f); s.Scan(); {
		if fields := strings.Fields(s.Text()); len(fields) > 0 {
			rows = append(rows, fields)
		}
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func ok[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func TestSlopeAndCurvatureAgreeWithR(t *testing.T) {
	golden.Run(t, "r-4.2.2", "slope-*", func(t *testing.T, c *golden.Case) {
		var v struct {
			X, Y    []float64
			Slope   float64 `json:"slope"`
			SlopeSE float64 `json:"slope_se"`
			SlopeP  float64 `json:"slope_p"`
			Curve   float64 `json:"curve"`
			CurveSE float64 `json:"curve_se"`
			CurveP  float64 `json:"curve_p"`
			CurveDF float64 `json:"curve_df"`
			SD      float64 `json:"residual_sd"`
		}
		c.JSON(t, "values.json", &v)
		s := drift.Sequence{At: v.X, Value: v.Y}
		line := ok[drift.Term](t)(drift.Slope(s))
		c.NearRel(t, "slope", line.Estimate, v.Slope)
		c.NearRel(t, "SE", line.SE, v.SlopeSE)
		c.NearRel(t, "p", line.P, v.SlopeP)
		curve := ok[drift.Term](t)(drift.Curvature(s))
		c.NearRel(t, "curvature", curve.Estimate, v.Curve)
		c.NearRel(t, "SE", curve.SE, v.CurveSE)
		c.NearRel(t, "p", curve.P, v.CurveP)
		c.NearRel(t, "df", curve.DF, v.CurveDF)
		c.NearRel(t, "residual SD", curve.ResidualSD, v.SD)
	})
}

func TestLineOfTwoWearMethods(t *testing.T) {
	golden.Run(t, "nist-dataplot", "line-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Intercept float64 `json:"intercept"`
			Slope     float64 `json:"slope"`
			SD        float64 `json:"residual_sd"`
		}
		c.JSON(t, "expected.json", &w)
		var s drift.Sequence
		var mean float64
		for _, r := range dataFile(t, "stats/nist_NATR533.DAT") {
			if len(r) != 2 {
				continue
			}
			y, err1 := strconv.ParseFloat(r[0], 64)
			x, err2 := strconv.ParseFloat(r[1], 64)
			if err1 == nil && err2 == nil {
				s.At, s.Value = append(s.At, x), append(s.Value, y)
				mean += x / 16
			}
		}
		if len(s.At) != 16 {
			t.Fatalf("%d tyres", len(s.At))
		}
		line := ok[drift.Term](t)(drift.Slope(s))
		c.Near(t, "intercept", line.Level-line.Estimate*mean, w.Intercept)
		c.Near(t, "residual SD", line.ResidualSD, w.SD)
		if math.Abs(line.Estimate-w.Slope) > 1e-6 {
			t.Errorf("slope %v, want %v", line.Estimate, w.Slope)
		}
	})
}

func TestTheilSen(t *testing.T) {
	for _, source := range []string{"sen-1968", "scipy-1.10.1"} {
		golden.Run(t, source, "*", func(t *testing.T, c *golden.Case) {
			var in struct {
				X, Y       []float64
				Confidence float64 `json:"confidence"`
			}
			var w struct {
				Slope     float64  `json:"slope"`
				Intercept *float64 `json:"intercept_median"`
				Low       float64  `json:"low"`
				High      float64  `json:"high"`
			}
			c.JSON(t, "inputs.json", &in)
			c.JSON(t, "expected.json", &w)
			r := ok[drift.TheilSen](t)(drift.FitTheilSen(drift.Sequence{At: in.X, Value: in.Y}, in.Confidence))
			c.Near(t, "slope", r.Slope, w.Slope)
			c.Near(t, "low", r.Low, w.Low)
			c.Near(t, "high", r.High, w.High)
			if w.Intercept != nil {
				c.Near(t, "intercept", r.Intercept, *w.Intercept)
			}
			if !r.Exact || r.Reached < in.Confidence {
				t.Errorf("reached %v", r.Reached)
			}
		})
	}
}

func TestKendallAgreesWithR(t *testing.T) {
	golden.Run(t, "r-4.2.2", "kendall-*", func(t *testing.T, c *golden.Case) {
		var v struct {
			X, Y  []float64
			P     float64   `json:"p"`
			TiedX []float64 `json:"tied_x"`
			TiedY []float64 `json:"tied_y"`
			TiedP float64   `json:"tied_p"`
		}
		c.JSON(t, "values.json", &v)
		a := ok[drift.TheilSen](t)(drift.FitTheilSen(drift.Sequence{At: v.X, Value: v.Y}, 0.9))
		b := ok[drift.TheilSen](t)(drift.FitTheilSen(drift.Sequence{At: v.TiedX, Value: v.TiedY}, 0.9))
		c.NearRel(t, "exact p", a.P, v.P)
		c.NearRel(t, "p with ties", b.P, v.TiedP)
		if !a.Exact || b.Exact || !b.Caveats.Has("approximate_interval") {
			t.Error("exactness is not said rightly")
		}
	})
}

// Analytic: four rising values, 1 of 24 orders has no discordant pair.
func TestTheilSenCountsKendallOut(t *testing.T) {
	r := ok[drift.TheilSen](t)(drift.FitTheilSen(drift.Sequence{At: []float64{1, 2, 3, 4}, Value: []float64{1, 2, 4, 9}}, 0.95))
	if math.Abs(r.P-2.0/24) > 1e-15 || r.Bounded || math.Abs(r.Reached-(1-2.0/24)) > 1e-15 || !r.Caveats.Has("few_controls") {
		t.Errorf("%+v", r)
	}
	if r.Low != 1 || r.High != 5 {
		t.Errorf("extreme slopes %v, %v", r.Low, r.High)
	}
}

func TestLocalLevelOfTheNile(t *testing.T) {
	var v struct {
		Y     []float64 `json:"y"`
		Noise float64   `json:"noise"`
		Step  float64   `json:"step"`
		M2    float64   `json:"minus2_log_likelihood"`
	}
	var walk drift.Walk
	golden.Run(t, "r-4.2.2", "nile-*", func(t *testing.T, c *golden.Case) {
		c.JSON(t, "values.json", &v)
		s := drift.Sequence{Value: v.Y}
		for i := range v.Y {
			s.At = append(s.At, float64(i))
		}
		walk = ok[drift.Walk](t)(drift.FitWalk([]drift.Sequence{s}, 0, 0.95))
		c.NearRel(t, "noise", walk.Noise, v.Noise)
		c.NearRel(t, "step", walk.Step, v.Step)
		// First differences are not orthonormal: their determinant is n.
		if got := walk.Minus2Log + math.Log(float64(len(v.Y))); math.Abs(got-v.M2) > 1e-6 {
			t.Errorf("-2 log likelihood %v, want %v", got, v.M2)
		}
		if !(walk.StepLow > 0 && walk.StepLow < walk.Step && walk.Step < walk.StepHigh) || walk.P > 1e-6 {
			t.Errorf("%+v", walk)
		}
	})
	golden.Run(t, "r-4.2.2", "walk-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Low   float64 `json:"low"`
			High  float64 `json:"high"`
			Ratio float64 `json:"ratio"`
		}
		c.JSON(t, "values.json", &w)
		c.NearRel(t, "low", walk.StepLow, w.Low)
		c.NearRel(t, "high", walk.StepHigh, w.High)
		c.NearRel(t, "likelihood ratio", walk.Ratio, w.Ratio)
	})
	golden.Run(t, "durbin-koopman-2012", "nile", func(t *testing.T, c *golden.Case) {
		var w struct {
			Noise float64 `json:"noise"`
			Step  float64 `json:"step"`
			Log   float64 `json:"log_likelihood"`
		}
		c.JSON(t, "expected.json", &w)
		c.Near(t, "noise", walk.Noise, w.Noise)
		if math.Abs(walk.Step-w.Step) > 0.1 {
			t.Errorf("step %v, want %v", walk.Step, w.Step)
		}
		if l := -(walk.Minus2Log + math.Log(100)) / 2; math.Abs(l-w.Log) > 0.01 {
			t.Errorf("log likelihood %v, want %v", l, w.Log)
		}
	})
}

// Laws of the walk: shifting a sequence changes nothing, scaling by k scales
// variances by k squared, and a unit of position twice as long doubles the step.
func TestWalkLaws(t *testing.T) {
	s := []drift.Sequence{
		{At: []float64{1, 4, 7, 10, 13}, Value: []float64{7.5, 7.41, 7.47, 7.26, 7.31}},
		{At: []float64{1, 5, 9, 12}, Value: []float64{6.2, 6.3, 6.05, 6.11}},
		{At: []float64{2, 4, 8}, Value: []float64{8.1, 8.16, 8.31}},
	}
	a := ok[drift.Walk](t)(drift.FitWalk(s, 0, 0.95))
	var moved []drift.Sequence
	for i := len(s) - 1; i >= 0; i-- {
		m := drift.Sequence{}
		for j := len(s[i].At) - 1; j >= 0; j-- { // order within and between does not matter
			m.At = append(m.At, 100+s[i].At[j]/2)
			m.Value = append(m.Value, 3*s[i].Value[j]-float64(i))
		}
		moved = append(moved, m)
	}
	b := ok[drift.Walk](t)(drift.FitWalk(moved, 0, 0.95))
	for _, p := range [][2]float64{{18 * a.Step, b.Step}, {9 * a.Noise, b.Noise}, {18 * a.StepHigh, b.StepHigh}, {a.Ratio, b.Ratio}} {
		if math.Abs(p[0]-p[1]) > 1e-6*math.Abs(p[0]) {
			t.Errorf("%v against %v", p[0], p[1])
		}
	}
	if a.Contrasts != 9 || a.Sequences != 3 || !a.Caveats.Has("few_controls") {
		t.Errorf("%+v", a)
	}
	// A line added to each sequence is taken out by degree 1.
	withLine := []drift.Sequence{}
	for i, q := range s {
		m := drift.Sequence{At: q.At}
		for j := range q.At {
			m.Value = append(m.Value, q.Value[j]+float64(i-1)*q.At[j])
		}
		withLine = append(withLine, m)
	}
	c := ok[drift.Walk](t)(drift.FitWalk(s, 1, 0.95))
	d := ok[drift.Walk](t)(drift.FitWalk(withLine, 1, 0.95))
	if math.Abs(c.Minus2Log-d.Minus2Log) > 1e-8 || c.Contrasts != 6 {
		t.Errorf("degree 1: %+v against %+v", c, d)
	}
}

// Truth: sequences made with a known walk are recovered. 400 sequences of five
// controls with step 0.5 and noise 1; the estimates' sampling standard
// deviation is some 0.07 and 0.08 (inverse information at the truth).
func TestWalkIsRecoveredFromMadeSequences(t *testing.T) {
	g := resample.Generator(11)
	normal := func() float64 {
		u := (float64(g.Uint64()>>11) + 0.5) / (1 << 53)
		w := (float64(g.Uint64()>>11) + 0.5) / (1 << 53)
		return math.Sqrt(-2*math.Log(u)) * math.Cos(2*math.Pi*w)
	}
	var all []drift.Sequence
	for range 400 {
		level := 100 * normal()
		var s drift.Sequence
		for i := range 5 {
			if i > 0 {
				level += math.Sqrt(0.5) * normal()
			}
			s.At = append(s.At, float64(i))
			s.Value = append(s.Value, level+normal())
		}
		all = append(all, s)
	}
	w := ok[drift.Walk](t)(drift.FitWalk(all, 0, 0.95))
	if math.Abs(w.Step-0.5) > 0.25 || math.Abs(w.Noise-1) > 0.3 || w.StepLow > 0.5 || w.StepHigh < 0.5 {
		t.Errorf("step %v (%v to %v), noise %v", w.Step, w.StepLow, w.StepHigh, w.Noise)
	}
}

func TestLagOneOnFieldTrials(t *testing.T) {
	golden.Run(t, "agridat", "cullis-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Lag float64 `json:"lag1"`
		}
		c.JSON(t, "expected.json", &w)
		byCol := map[string]*drift.Sequence{}
		var cols []string
		for _, r := range dataFile(t, "drift/agridat_cullis.earlygen.txt")[1:] {
			if r[0] != "Kite" || r[4] == "NA" {
				continue
			}
			if byCol[r[2]] == nil {
				byCol[r[2]] = &drift.Sequence{}
				cols = append(cols, r[2])
			}
			s := byCol[r[2]]
			s.At, s.Value = append(s.At, number(t, r[1])), append(s.Value, number(t, r[4]))
		}
		var all []drift.Sequence
		for _, k := range cols {
			all = append(all, *byCol[k])
		}
		r := ok[drift.Correlation](t)(drift.LagOne(resample.Options{}, all...))
		c.Near(t, "lag-1 correlation", r.R, w.Lag)
		if r.P > 1e-6 {
			t.Errorf("p %v", r.P)
		}
	})
	golden.Run(t, "agridat", "besag-*", func(t *testing.T, c *golden.Case) {
		var w map[string]float64
		c.JSON(t, "expected.json", &w)
		rows := dataFile(t, "drift/agridat_besag.checks.txt")[1:]
		for name, want := range w {
			byCol := map[string]drift.Sequence{}
			var cols []string
			for _, r := range rows {
				if strings.Trim(r[3], `"`) != name {
					continue
				}
				s, seen := byCol[r[2]]
				if !seen {
					cols = append(cols, r[2])
				}
				s.At, s.Value = append(s.At, number(t, r[1])), append(s.Value, number(t, r[0]))
				byCol[r[2]] = s
			}
			var all []drift.Sequence
			for _, k := range cols {
				all = append(all, byCol[k])
			}
			r := ok[drift.Correlation](t)(drift.LagOne(resample.Options{}, all...))
			c.Near(t, name, r.R, want)
		}
	})
}

func TestSlowShiftOfTheMassStandardIsFound(t *testing.T) {
	golden.Run(t, "nist-ehandbook", "mass-*", func(t *testing.T, c *golden.Case) {
		var w struct {
			Year float64 `json:"year"`
		}
		c.JSON(t, "expected.json", &w)
		var s drift.Sequence
		for _, r := range dataFile(t, "stats/nist_MASS.DAT") {
			if len(r) == 6 && strings.HasPrefix(r[2], "-19") {
				s.At, s.Value = append(s.At, number(t, r[0])), append(s.Value, number(t, r[2]))
			}
		}
		if len(s.At) != 217 {
			t.Fatalf("%d rows", len(s.At))
		}
		shift := ok[drift.Shift](t)(drift.SuddenShift(s, 0, resample.Options{Draws: 2000, Seed: 1}))
		c.Near(t, "year of the shift", (shift.From+shift.To)/2, w.Year)
		if shift.Size <= 0 || shift.P > 1.0/2001+1e-12 {
			t.Errorf("%+v", shift)
		}
		line := ok[drift.Term](t)(drift.Slope(s))
		if line.Estimate <= 0 || line.P > 1e-4 {
			t.Errorf("slope %v, p %v", line.Estimate, line.P)
		}
	})
}

// Analytic: in 1, 1.1, 5, 5.1 the split in the middle is best; of the 24
// orders 8 put the low pair together at either end.
func TestShiftCountsAllOrders(t *testing.T) {
	s := drift.Sequence{At: []float64{1, 2, 3, 4}, Value: []float64{1, 1.1, 5, 5.1}}
	r := ok[drift.Shift](t)(drift.SuddenShift(s, 0, resample.Options{}))
	if r.Before != 2 || r.From != 2 || r.To != 3 || math.Abs(r.Size-4) > 1e-12 || !r.Exact || math.Abs(r.P-8.0/24) > 1e-15 {
		t.Errorf("%+v", r)
	}
	// Twice the log likelihood ratio: n log(SST/SSW), SST 16.01, SSW 0.01.
	if want := 4 * math.Log(16.01/0.01); math.Abs(r.LogRatio-want) > 1e-9 {
		t.Errorf("log ratio %v, want %v", r.LogRatio, want)
	}
	// A step beside a slope: the line alone is no shift.
	x := drift.Sequence{At: []float64{1, 2, 3, 4, 5, 6, 7}, Value: []float64{1, 2.1, 2.9, 8.1, 9, 9.9, 11.1}}
	beside := ok[drift.Shift](t)(drift.SuddenShift(x, 1, resample.Options{}))
	if beside.Before != 3 || beside.Size < 3 || beside.P > 0.05 || !beside.Caveats.Has("approximate_permutation") {
		t.Errorf("%+v", beside)
	}
}

// Laws: shift, scale, mirror in time, reorder of the rows.
func TestDriftLaws(t *testing.T) {
	s := drift.Sequence{At: []float64{1, 3, 4, 6, 9, 11}, Value: []float64{7.5, 7.44, 7.47, 7.3, 7.31, 7.2}}
	var m drift.Sequence
	for i := len(s.At) - 1; i >= 0; i-- {
		m.At = append(m.At, 50-2*s.At[i]) // time reversed and stretched
		m.Value = append(m.Value, 10+3*s.Value[i])
	}
	perm := []int{3, 0, 5, 1, 4, 2}
	var p drift.Sequence
	for _, i := range perm {
		p.At, p.Value = append(p.At, m.At[i]), append(p.Value, m.Value[i])
	}
	a := ok[drift.Evidence](t)(drift.Look(s, resample.Options{}))
	b := ok[drift.Evidence](t)(drift.Look(p, resample.Options{}))
	for _, v := range [][2]float64{
		{a.Slope.Estimate * -1.5, b.Slope.Estimate}, {a.Slope.P, b.Slope.P},
		{a.Curvature.Estimate * 0.75, b.Curvature.Estimate}, {a.Curvature.P, b.Curvature.P},
		{a.Shift.Size * -3, b.Shift.Size}, {a.Shift.P, b.Shift.P}, {a.Shift.LogRatio, b.Shift.LogRatio},
		{a.LagOne.R, b.LagOne.R}, {a.LagOne.P, b.LagOne.P},
		{a.Robust.Slope * -1.5, b.Robust.Slope}, {a.Robust.Low * -1.5, b.Robust.High}, {a.Robust.P, b.Robust.P},
	} {
		if math.Abs(v[0]-v[1]) > 1e-10 {
			t.Errorf("%v against %v", v[0], v[1])
		}
	}
}

func TestDegenerateSequences(t *testing.T) {
	sound := func(what string, v ...float64) {
		t.Helper()
		for _, x := range v {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s: %v", what, v)
				return
			}
		}
	}
	line := func(n int) drift.Sequence {
		var s drift.Sequence
		for i := range n {
			s.At, s.Value = append(s.At, float64(i)), append(s.Value, 0.1*float64(i)+3)
		}
		return s
	}
	flat := line(6)
	for i := range flat.Value {
		flat.Value[i] = 0.1
	}
	same := line(5)
	for i := range same.At {
		same.At[i] = 2
	}
	ties := line(8)
	for i := range ties.At {
		ties.At[i] = math.Floor(ties.At[i] / 2)
		ties.Value[i] = float64(i % 2)
	}
	forty := line(40)
	for i := range forty.Value {
		forty.Value[i] += math.Sin(float64(i * i))
	}
	cases := map[string]drift.Sequence{
		"one": line(1), "two": line(2), "three on a line": line(3), "six on a line": line(6), "equal": flat, "one position": same, "ties": ties, "forty": forty,
		"step without scatter": {At: []float64{1, 2, 3, 4}, Value: []float64{1, 1, 2, 2}},
	}
	var names []string
	for name := range cases {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		e, err := drift.Look(cases[name], resample.Options{Draws: 200})
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, x := range []*drift.Term{e.Slope, e.Curvature} {
			if x != nil {
				sound(name, x.Estimate, x.SE, x.T, x.P, x.ResidualSD, x.Level)
			}
		}
		if e.Shift != nil {
			sound(name, e.Shift.Size, e.Shift.LogRatio, e.Shift.P)
		}
		if e.LagOne != nil {
			sound(name, e.LagOne.R, e.LagOne.P)
		}
		if e.Robust != nil {
			sound(name, e.Robust.Slope, e.Robust.Low, e.Robust.High, e.Robust.P, e.Robust.Reached)
		}
		if name != "forty" && len(e.Caveats) == 0 {
			t.Errorf("%s: nothing is said", name)
		}
		for degree := range 2 {
			w, err := drift.FitWalk([]drift.Sequence{cases[name]}, degree, 0.95)
			if err != nil && fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%s: %v", name, err)
			}
			sound(name, w.Step, w.StepLow, w.StepHigh, w.Noise, w.Ratio, w.P)
		}
	}
	one, _ := drift.Look(line(1), resample.Options{})
	if one.Slope != nil || one.Shift != nil || !one.Caveats.Has("too_few_controls") {
		t.Errorf("one control: %+v", one)
	}
	bad := func(what string, err error) {
		t.Helper()
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	_, err := drift.Look(drift.Sequence{}, resample.Options{})
	bad("nothing", err)
	_, err = drift.Slope(drift.Sequence{At: []float64{1, 2}, Value: []float64{1}})
	bad("lengths", err)
	_, err = drift.Slope(drift.Sequence{At: []float64{1, math.Inf(1)}, Value: []float64{1, 2}})
	bad("no number", err)
	_, err = drift.FitWalk([]drift.Sequence{line(2), line(2)}, 0, 0.95)
	bad("sequences of two at one distance cannot tell", err)
	_, err = drift.FitTheilSen(line(5), 1.5)
	bad("confidence", err)
	_, _, err = drift.Residuals(line(2), 2)
	bad("residuals", err)
	r, df, err := drift.Residuals(line(4), 1)
	if err != nil || df != 2 || len(r) != 4 || r[0] != 0 {
		t.Errorf("residuals %v, df %d, %v", r, df, err)
	}
}
