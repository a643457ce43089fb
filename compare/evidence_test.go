package compare

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/programme"
)

// decel is a measure that is better where it is higher.
var decel = programme.Measure{ID: "deceleration", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2}

// gain is a difference measure.
var gain = programme.Measure{ID: "gain", Better: programme.Higher, Scale: programme.Difference}

// driven is one stint as tests write it.
type driven struct {
	code     string
	position float64
	block    string
	set      string
	clock    *float64
	values   []float64
	water    []float64
	stop     bool
}

func logOf(measure string, list []driven) programme.Log {
	var l programme.Log
	for i, d := range list {
		id := fmt.Sprintf("s%d", i+1)
		pos := d.position
		if pos == 0 {
			pos = float64(i + 1)
		}
		l.Stints = append(l.Stints, programme.Stint{ID: id, Code: d.code, Position: pos, Block: d.block, Set: d.set, ClockS: d.clock, Break: d.stop, Line: i + 2, File: "runs.csv"})
		for k, v := range d.values {
			run := programme.Run{ID: fmt.Sprintf("%s/%d", id, k+1), Stint: id, Number: k + 1, Line: i + 2, File: "runs.csv"}
			if d.water != nil {
				run.Covariates = map[string]float64{"water_depth_mm": d.water[k]}
			}
			l.Runs = append(l.Runs, run)
			l.Observations = append(l.Observations, programme.Observation{Run: run.ID, Measure: measure, Value: v})
		}
	}
	return l
}

func mustCompare(t *testing.T, in Input) *Result {
	t.Helper()
	r, err := Compare(in)
	if err != nil {
		t.Fatal(err)
	}
	sane(t, r)
	return r
}

func (r *Result) row(t *testing.T, code string) *Row {
	t.Helper()
	for i := range r.Rows {
		if r.Rows[i].Code == code {
			return &r.Rows[i]
		}
	}
	t.Fatalf("no row for %s", code)
	return nil
}

func (r *Result) stintOf(t *testing.T, code string) *Stint {
	t.Helper()
	for i := range r.Stints {
		if r.Stints[i].Code == code {
			return &r.Stints[i]
		}
	}
	t.Fatalf("no stint of %s", code)
	return nil
}

func TestRegulationBlockOfTheSecondSeries(t *testing.T) {
	golden.Run(t, "unece-r117-02", "worked-block", func(t *testing.T, c *golden.Case) {
		var in struct {
			Stints []struct {
				Code    string
				M       []float64
				Surface *float64 `json:"surface_c"`
			}
		}
		var want struct {
			References []struct{ Mean, CV float64 }
			CVal       float64
			Rows       []struct {
				Code                    string
				Mean, CV, Weighted, BFC float64
				BFCControl              float64 `json:"bfc_control"`
				Ratio, G                float64
			}
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var list []driven
		surface := map[string]float64{}
		for _, s := range in.Stints {
			list = append(list, driven{code: s.Code, values: s.M})
			if s.Surface != nil {
				surface[s.Code] = *s.Surface
			}
		}
		m := programme.Measure{ID: "distance", Unit: "m", Better: programme.Lower, Scale: programme.Ratio}
		r := mustCompare(t, Input{Log: logOf("distance", list), Measure: m, Control: "R",
			Settings: Settings{Profile: &ProfileSettings{ID: "r117-02-c1-vehicle", Value: Distance, SurfaceC: surface}}})
		// CV and CVal are printed to four decimals: half a unit.
		fourth := func(what string, got *float64, want float64) {
			t.Helper()
			if got == nil || math.Abs(*got-want) > 5e-5 {
				t.Errorf("%s = %v, want %v", what, *got, want)
			}
		}
		k := 0
		for i := range r.Stints {
			if s := &r.Stints[i]; s.Control {
				c.Near(t, "mean of reference", s.Mean, want.References[k].Mean)
				fourth("CV of reference", s.CV, want.References[k].CV)
				k++
			}
		}
		fourth("CVal", r.Brackets[0].Percent, want.CVal)
		if r.Block.Discarded || len(r.Block.Indicative) == 0 {
			t.Errorf("the block is discarded, or not called indicative: %v", r.Block)
		}
		for i, w := range want.Rows {
			g := r.Block.Rows[i]
			c.Near(t, w.Code+" mean", g.Mean, w.Mean)
			fourth(w.Code+" CV", g.CV, w.CV)
			c.Near(t, w.Code+" weighted reference", g.Weighted, w.Weighted)
			c.Near(t, w.Code+" BFC", *g.BFC, w.BFC)
			c.Near(t, w.Code+" BFC of the reference", *g.BFCControl, w.BFCControl)
			c.Near(t, w.Code+" ratio", g.Ratio, w.Ratio)
			c.Near(t, w.Code+" G", *g.Index, w.G)
			c.Near(t, w.Code+" index", *r.row(t, w.Code).Index/100, w.Ratio)
			if !g.Stands || !strings.HasPrefix(g.Class, "indicative ") {
				t.Errorf("%s: stands %v, class %q", w.Code, g.Stands, g.Class)
			}
		}
	})
	golden.Run(t, "unece-r117-02", "weights", func(t *testing.T, c *golden.Case) {
		var want struct{ Weights [][][2]float64 }
		c.JSON(t, "expected.json", &want)
		for n, rows := range want.Weights {
			list := []driven{{code: "R", values: []float64{7}}}
			for k := range rows {
				list = append(list, driven{code: fmt.Sprint("T", k), values: []float64{7.2}})
			}
			list = append(list, driven{code: "R", values: []float64{6.9}})
			r := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "R"})
			for k, w := range rows {
				got := r.Rows[k].Weights
				c.Near(t, "weight of the reference before", -got[0], w[0])
				c.Near(t, "weight of the reference after", -got[n+2], w[1])
				c.Near(t, "variance", r.Rows[k].Variance, 1+w[0]*w[0]+w[1]*w[1])
			}
		}
	})
}

func TestDriftTable(t *testing.T) {
	golden.Run(t, "astm-f1650", "drift-table", func(t *testing.T, c *golden.Case) {
		var in struct {
			Controls   [][2]float64
			Candidates [][3]any
		}
		var want struct {
			Line struct {
				Intercept, Slope float64
				ResidualSD       float64 `json:"residual_sd"`
				SE, T            float64
				DF               int
			}
			Mean float64
			Rows []struct {
				Code                                                  string
				Local, Index, Difference, First, Grand, Line, Ignored float64
			}
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var list []driven
		for _, k := range in.Controls {
			list = append(list, driven{code: "K", position: k[0], values: k[1:]})
		}
		for _, k := range in.Candidates {
			list = append(list, driven{code: k[0].(string), position: k[1].(float64), values: []float64{k[2].(float64)}})
		}
		log := logOf("deceleration", list)
		do := func(s Settings) *Result {
			return mustCompare(t, Input{Log: log, Measure: decel, Control: "K", Settings: s})
		}
		first := do(Settings{})
		grand := do(Settings{Reference: MeanOfControls})
		line := do(Settings{Drift: Linear, Average: Means})
		ignored := do(Settings{Drift: NoDrift, Average: Means})
		diff := do(Settings{Scale: programme.Difference})
		for _, w := range want.Rows {
			s := first.stintOf(t, w.Code)
			near6 := func(what string, got, want float64) {
				t.Helper()
				if math.Abs(got-want) > 5.1e-6 {
					t.Errorf("%s %s = %v, want %v", w.Code, what, got, want)
				}
			}
			near6("local control", *s.Local, w.Local)
			c.Near(t, w.Code+" index", *first.row(t, w.Code).Index, w.Index)
			c.Near(t, w.Code+" index of its stint", *s.Index, w.Index)
			near6("difference", *diff.row(t, w.Code).Difference, w.Difference)
			near6("difference of its stint", *s.Difference, w.Difference)
			near6("corrected to the first control", *first.row(t, w.Code).AtLevel, w.First)
			near6("corrected to the grand mean", *grand.row(t, w.Code).AtLevel, w.Grand)
			c.Near(t, w.Code+" index by the line", *line.row(t, w.Code).Index, w.Line)
			c.Near(t, w.Code+" index, drift ignored", *ignored.row(t, w.Code).Index, w.Ignored)
			// The index does not depend on the reference level.
			if *grand.row(t, w.Code).Index != *first.row(t, w.Code).Index {
				t.Errorf("%s: the index depends on the reference level", w.Code)
			}
		}
		k := first.Controls
		c.Near(t, "mean of controls", k.Mean, want.Mean)
		for _, x := range []struct {
			what      string
			got, want float64
		}{{"intercept", *k.Intercept, want.Line.Intercept}, {"slope", k.Slope.Estimate, want.Line.Slope},
			{"residual sd", *k.ResidualSD, want.Line.ResidualSD}, {"se", *k.Slope.SE, want.Line.SE}} {
			if math.Abs(x.got-x.want) > 5.1e-7 {
				t.Errorf("%s = %v, want %v", x.what, x.got, x.want)
			}
		}
		if math.Abs(*k.Slope.T-want.Line.T) > 5.1e-4 || k.DF != want.Line.DF {
			t.Errorf("t %v on %d df, want %v on %d", *k.Slope.T, k.DF, want.Line.T, want.Line.DF)
		}
	})
	golden.Run(t, "astm-f1650", "clock-weights", func(t *testing.T, c *golden.Case) {
		var in struct {
			Clock []float64 `json:"clock_s"`
		}
		var want struct{ Clock, Position []float64 }
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var list []driven
		for i, code := range []string{"K", "P", "W", "K"} {
			list = append(list, driven{code: code, clock: &in.Clock[i], values: []float64{7 + float64(i)/10}})
		}
		for by, w := range map[By][]float64{ByClock: want.Clock, ByPosition: want.Position} {
			r := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: Settings{By: by}})
			c.Near(t, "P by "+string(by), *r.Stints[1].After, w[0])
			c.Near(t, "W by "+string(by), *r.Stints[2].After, w[1])
		}
	})
	golden.Run(t, "cfr-49-575-104", "adjusted-traction", func(t *testing.T, c *golden.Case) {
		var in struct{ Control, Candidate, Level float64 }
		var want struct{ Adjusted float64 }
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		m := programme.Measure{ID: "mu", Unit: "1", Better: programme.Higher, Scale: programme.Difference}
		r := mustCompare(t, Input{Log: logOf("mu", []driven{{code: "K", values: []float64{in.Control}}, {code: "P", values: []float64{in.Candidate}}, {code: "K", values: []float64{in.Control}}}),
			Measure: m, Control: "K", Settings: Settings{Reference: StatedLevel, StatedLevel: &in.Level}})
		c.Near(t, "adjusted", *r.row(t, "P").AtLevel, want.Adjusted)
	})
}

// The six sets' own errors pool the scatter of runs: 18 degrees of freedom from
// runs that share a fitment. Ours come from stint means about tyre and line,
// which here leave one; so estimates and weights are held, not the errors.
func TestBracketOfSixSets(t *testing.T) {
	golden.Run(t, "mpmath", "bracket-six-sets", func(t *testing.T, c *golden.Case) {
		var in struct {
			Sets []struct {
				Tyre   string
				Runs   []float64
				Values []float64
			}
		}
		var want struct {
			PooledS2 float64 `json:"pooled_s2"`
			DF       float64
			Results  []struct {
				Tyre         string
				Mean         float64
				Position     float64
				After        float64 `json:"w_after"`
				Interpolated float64 `json:"interpolated_control"`
				Difference   float64
				SE           float64 `json:"se_difference"`
				Ratio        float64 `json:"ratio_percent"`
				SERatio      float64 `json:"se_ratio_percent_delta"`
			}
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var list []driven
		for _, s := range in.Sets {
			mean := 0.0
			for _, r := range s.Runs {
				mean += r / float64(len(s.Runs))
			}
			list = append(list, driven{code: s.Tyre, position: mean, values: s.Values})
		}
		ratio := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "C"})
		diff := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "C", Settings: Settings{Scale: programme.Difference}})
		for _, w := range want.Results {
			s := ratio.stintOf(t, w.Tyre)
			c.NearRel(t, w.Tyre+" mean", s.Mean, w.Mean)
			c.NearRel(t, w.Tyre+" position", s.Position, w.Position)
			c.NearRel(t, w.Tyre+" weight after", *s.After, w.After)
			c.NearRel(t, w.Tyre+" local control", *s.Local, w.Interpolated)
			c.NearRel(t, w.Tyre+" difference", *diff.row(t, w.Tyre).Difference, w.Difference)
			c.NearRel(t, w.Tyre+" ratio", *ratio.row(t, w.Tyre).Index, w.Ratio)
			// The same weights: their error is the pooled run variance over four runs.
			c.NearRel(t, w.Tyre+" error from the weights", math.Sqrt(want.PooledS2/4*diff.row(t, w.Tyre).Variance), w.SE)
			if diff.row(t, w.Tyre).Verdict.DF == want.DF {
				t.Errorf("%s: the runs were taken for the error", w.Tyre)
			}
			if !(w.SERatio > 0) {
				t.Errorf("%s: no printed error", w.Tyre)
			}
		}
	})
}

func TestDriftModels(t *testing.T) {
	golden.Run(t, "mpmath", "drift-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Order    []string `json:"run_order"`
			Control  string
			Response []float64
			Water    []float64 `json:"water_depth_mm"`
		}
		var want struct {
			Candidates      []string
			DF              float64
			S2, Intercept   float64
			Estimate, SE, T []float64
			Correlation     [][]float64
			Other           []float64    `json:"other_coef"`
			OtherSE         []float64    `json:"other_se"`
			P               []float64    `json:"p_dunnett_two"`
			Critical        float64      `json:"crit_two_05"`
			CI              [][2]float64 `json:"ci95"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var list []driven
		for i, code := range in.Order {
			d := driven{code: code, values: in.Response[i : i+1]}
			if in.Water != nil {
				d.water = in.Water[i : i+1]
			}
			list = append(list, d)
		}
		set := Settings{Drift: Linear}
		if in.Water != nil {
			set = Settings{Drift: Quadratic, Covariates: []string{"water_depth_mm"}}
		}
		r := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: in.Control, Settings: set})
		c.Near(t, "s²", *r.Error.SD**r.Error.SD, want.S2)
		c.Near(t, "critical value", r.Critical, want.Critical)
		if r.Error.DF != want.DF {
			t.Errorf("df %v, want %v", r.Error.DF, want.DF)
		}
		for i, code := range want.Candidates {
			row := r.row(t, code)
			c.Near(t, code, *row.Difference, want.Estimate[i])
			c.Near(t, code+" se", *row.SE, want.SE[i])
			c.Near(t, code+" t", *row.T, want.T[i])
			c.Near(t, code+" p", *row.P, want.P[i])
			c.Near(t, code+" low", *row.DiffLow, want.CI[i][0])
			c.Near(t, code+" high", *row.DiffHigh, want.CI[i][1])
			for j := range want.Candidates {
				o := r.row(t, want.Candidates[j])
				c.Near(t, "correlation", dot(row.Weights, o.Weights)/math.Sqrt(row.Variance*o.Variance), want.Correlation[i][j])
			}
		}
		// The control in the middle of the session, covariates at their means.
		mid := r.Curve[len(r.Curve)/2]
		c.Near(t, "intercept", mid.Value, want.Intercept)
		half := float64(len(in.Order)-1) / 2
		if in.Water == nil {
			c.Near(t, "slope", r.Error.Slope.Estimate*half, want.Other[0])
			c.Near(t, "se of slope", *r.Error.Slope.SE*half, want.OtherSE[0])
		} else {
			first, last := r.Curve[0], r.Curve[len(r.Curve)-1]
			c.Near(t, "slope", (last.Value-first.Value)/2, want.Other[0])
			c.Near(t, "curvature", (last.Value+first.Value)/2-mid.Value, want.Other[1])
			c.Near(t, "water", r.Error.Covariates[0].Estimate, want.Other[2])
			c.Near(t, "se of water", *r.Error.Covariates[0].SE, want.OtherSE[2])
		}
	})
}

func TestVarianceOfRunOrders(t *testing.T) {
	golden.Run(t, "numpy-1.24", "run-order-variance", func(t *testing.T, c *golden.Case) {
		var want map[string]struct {
			Order    string
			Variance []map[string]float64
		}
		c.JSON(t, "expected.json", &want)
		for name, w := range want {
			var list []driven
			for i, code := range w.Order {
				list = append(list, driven{code: string(code), values: []float64{math.Sin(float64(i * i))}}) // any values
			}
			for d, drift := range []Drift{NoDrift, Linear, Quadratic} {
				r, err := Compare(Input{Log: logOf("gain", list), Measure: gain, Control: "C", Settings: Settings{Drift: drift, Open: OpenAllowed}})
				if err != nil {
					if drift == Quadratic && strings.Count(w.Order, "C") < 4 {
						continue // refused: see the degenerate layouts
					}
					t.Fatal(name, drift, err)
				}
				for code, v := range w.Variance[d] {
					c.NearRel(t, name+" "+string(drift)+" "+code, r.row(t, code).Variance, v)
				}
			}
		}
	})
}

// dataDir gives the folder of open data, or skips.
func dataDir(t *testing.T, name string) string {
	t.Helper()
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "shared", "data")
	}
	path := filepath.Join(dir, name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("the open data are not here (%s); set BOOKEND_DATA", name)
	}
	return path
}

// Each cow is a block with a drift line of its own, and a curvature common to
// all is allowed for: 10 levels, 10 slopes, one curvature and one treatment from
// 30 yields leave 8 degrees of freedom. That is the two-sample t of middle less
// mean of outer periods: a common curvature is the mean of both groups, the
// treatment half their difference.
func TestSwitchback(t *testing.T) {
	path := dataDir(t, "drift/agridat_brandt.switchback.txt")
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var list []driven
	lines := bufio.NewScanner(file)
	lines.Scan()
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		v, err := strconv.ParseFloat(f[4], 64)
		if err != nil {
			t.Fatal(err)
		}
		period, err := strconv.ParseFloat(strings.TrimPrefix(f[3], "P"), 64)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, driven{code: f[2], block: f[1], position: period, values: []float64{v}})
	}
	golden.Run(t, "agridat", "switchback", func(t *testing.T, c *golden.Case) {
		var want struct {
			Gain, T  float64
			DF       float64
			P        float64
			CommonT  float64 `json:"common_period_t"`
			CommonDF float64 `json:"common_period_df"`
		}
		c.JSON(t, "expected.json", &want)
		in := Input{Log: logOf("gain", list), Measure: gain, Control: "T1",
			Settings: Settings{Block: "cow", DriftPerBlock: Linear, Drift: Quadratic, Scale: programme.Difference}}
		r := mustCompare(t, in)
		row := r.row(t, "T2")
		if math.Abs(*row.Difference-want.Gain) > 0.005 {
			t.Errorf("gain %v, want %v", *row.Difference, want.Gain)
		}
		c.Near(t, "t", *row.T, want.T)
		c.Near(t, "p", *row.P, want.P)
		if row.Verdict.DF != want.DF || row.Verdict.Word != Better {
			t.Errorf("%v on %v degrees of freedom", row.Verdict.Word, row.Verdict.DF)
		}
		// The lines of the table as they are, without a column for the period:
		// each cow's own line takes the difference up.
		plain := append([]driven(nil), list...)
		for i := range plain {
			plain[i].position = 0
		}
		asIs := in
		asIs.Log = logOf("gain", plain)
		c.Near(t, "t in the order of lines", *mustCompare(t, asIs).row(t, "T2").T, want.T)
		// A period effect common to all cows, and none of their own, is another question.
		in.Settings.DriftPerBlock, in.Settings.TyreByBlock = "", AsOne
		r = mustCompare(t, in)
		if got := r.row(t, "T2"); math.Abs(*got.T-want.CommonT) > 5e-4 || got.Verdict.DF != want.CommonDF {
			t.Errorf("common periods: t %v on %v, want %v on %v", *got.T, got.Verdict.DF, want.CommonT, want.CommonDF)
		}
	})
}

func TestThreeControlSets(t *testing.T) {
	golden.Run(t, "common-practice", "three-control-sets", func(t *testing.T, c *golden.Case) {
		var in struct{ Order []string }
		var want struct {
			DF   float64
			Half float64 `json:"half_width"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var list []driven
		values := []float64{7.50, 7.80, 7.62, 7.38, 7.90, 7.31, 7.42}
		for i, code := range in.Order {
			list = append(list, driven{code: code, set: fmt.Sprint(code, i), values: []float64{values[i], values[i] + 0.04, values[i] - 0.04}})
		}
		for _, s := range []Settings{{}, {Drift: Linear}} {
			r := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: s})
			if r.Error.DF != want.DF {
				t.Errorf("df %v, want %v", r.Error.DF, want.DF)
			}
			for _, row := range r.Rows {
				// The half-width is some 28 times the estimated deviation, which
				// with one degree of freedom is on the mean sqrt(2/pi) of the true one.
				half := (*row.Verdict.High - *row.Verdict.Low) / 2 / *r.Error.SD * math.Sqrt(2/math.Pi)
				c.Near(t, r.Correction+" "+row.Code, half, want.Half)
				if row.Verdict.Word != NotShown || row.Verdict.About != TheseSets || row.Verdict.Comparisons != 4 {
					t.Errorf("%s: %+v", row.Code, row.Verdict)
				}
			}
			if !r.Caveats.Has("few_degrees_of_freedom") {
				t.Error("nothing says how little one degree of freedom can show")
			}
		}
	})
	golden.Run(t, "common-practice", "index", func(t *testing.T, c *golden.Case) {
		var want struct {
			Rows []struct {
				Control, Candidate float64
				Better             programme.Better
				Index              float64
			}
		}
		c.JSON(t, "expected.json", &want)
		for _, w := range want.Rows {
			m := programme.Measure{ID: "m", Better: w.Better, Scale: programme.Ratio}
			k := []float64{w.Control}
			r := mustCompare(t, Input{Log: logOf("m", []driven{{code: "K", values: k}, {code: "P", values: []float64{w.Candidate}}, {code: "K", values: k}}), Measure: m, Control: "K"})
			c.Near(t, "index", *r.Rows[0].Index, w.Index)
		}
	})
}

// cullis is a field trial in which one plot in six is a control: ten columns of 67
// rows, each column a block; of the entries only those with several plots.
func cullis(t *testing.T) []driven {
	t.Helper()
	file, err := os.Open(dataDir(t, "drift/agridat_cullis.earlygen.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	count := map[string]int{}
	var all []driven
	lines := bufio.NewScanner(file)
	lines.Scan()
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		row, err := strconv.ParseFloat(f[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		if f[4] == "NA" {
			continue
		}
		v, err := strconv.ParseFloat(f[4], 64)
		if err != nil {
			t.Fatal(err)
		}
		count[f[0]]++
		all = append(all, driven{code: f[0], block: "column " + f[2], position: row, values: []float64{v}})
	}
	var list []driven
	for _, d := range all {
		if count[d.code] > 1 {
			list = append(list, d)
		}
	}
	return list
}

// Interpolating between neighbouring controls lowers the spread within the
// replicated entries; "if the control shows drift" finds that it does.
func TestCorrectionLowersTheSpread(t *testing.T) {
	list := cullis(t)
	golden.Run(t, "agridat", "cullis-spread", func(t *testing.T, c *golden.Case) {
		var want struct {
			Raw, Corrected float64
			DF             int
		}
		c.JSON(t, "expected.json", &want)
		for _, when := range []When{Always, IfShown} {
			r := mustCompare(t, Input{Log: logOf("yield", list), Measure: programme.Measure{ID: "yield", Better: programme.Higher, Scale: programme.Difference}, Control: "Kite",
				Settings: Settings{Drift: Bracket, Block: "column", TyreByBlock: AsOne, When: when}})
			if !r.Corrected {
				t.Fatalf("%s: not corrected: %+v", when, r.Controls)
			}
			raw, corrected, df := spread(r, func(s Stint) float64 { return s.Mean }), spread(r, func(s Stint) float64 { return *s.Difference }), 0
			for _, row := range r.Rows {
				df += row.Stints - 1
			}
			c.Near(t, "raw", raw, want.Raw)
			c.Near(t, "corrected", corrected, want.Corrected)
			if df != want.DF {
				t.Errorf("%d degrees of freedom", df)
			}
		}
	})
}

// spread is the pooled standard deviation of stints within candidates.
func spread(r *Result, value func(Stint) float64) float64 {
	ss, df := 0.0, 0.0
	for _, row := range r.Rows {
		m, n := 0.0, 0.0
		for _, s := range r.Stints {
			if s.Code == row.Code {
				m, n = m+value(s), n+1
			}
		}
		for _, s := range r.Stints {
			if s.Code == row.Code {
				ss += (value(s) - m/n) * (value(s) - m/n)
			}
		}
		df += n - 1
	}
	return math.Sqrt(ss / df)
}
