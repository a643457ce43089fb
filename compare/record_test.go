package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/manyone"
)

// The record from rows to errors, held to R: degrees of freedom after each
// programme's own line, pooled plainly or moderated, the cap, the upper check,
// the walk and what it adds.
func TestRecord(t *testing.T) {
	golden.Run(t, "limma-3.54.1", "record-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Control string
			Order   []string
			Values  []float64
			Record  []struct {
				Programme       string
				Position, Value float64
			}
		}
		var want struct {
			OwnVariance    float64  `json:"own_variance"`
			OwnDF          float64  `json:"own_df"`
			RecordVariance float64  `json:"record_variance"`
			RecordDF       float64  `json:"record_df"`
			PriorVariance  *float64 `json:"prior_variance"`
			PriorDF        *float64 `json:"prior_df"`
			Variance, DF   float64
			F              float64
			FLimit         float64 `json:"f_limit"`
			FP             float64 `json:"f_p"`
			Step           float64 `json:"step_variance"`
			Covered        float64
			Codes          []string
			Bracket        []float64 `json:"se_bracket"`
			Line           []float64 `json:"se_line"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		rec := &Record{Name: "history.csv"}
		for _, r := range in.Record {
			rec.Rows = append(rec.Rows, RecordRow{Programme: r.Programme, Position: r.Position, Value: r.Value})
		}
		var list []driven
		for i, code := range in.Order {
			list = append(list, driven{code: code, values: in.Values[i : i+1]})
		}
		for drift, se := range map[Drift][]float64{Bracket: want.Bracket, Linear: want.Line} {
			res := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: in.Control, Record: rec, Settings: Settings{Drift: drift}})
			b := res.Record
			if b == nil || !b.Used {
				t.Fatalf("%s: the record is not used: %+v", drift, b)
			}
			c.NearRel(t, "own variance", b.OwnSD*b.OwnSD, want.OwnVariance)
			c.NearRel(t, "own df", b.OwnDF, want.OwnDF)
			c.NearRel(t, "record's variance", b.RecordSD*b.RecordSD, want.RecordVariance)
			c.NearRel(t, "record's df", b.RecordDF, want.RecordDF)
			c.NearRel(t, "variance", b.SD*b.SD, want.Variance)
			c.NearRel(t, "df", b.DF, want.DF)
			c.NearRel(t, "F", b.F, want.F)
			c.NearRel(t, "F limit", b.FLimit, want.FLimit)
			c.NearRel(t, "p of F", b.P, want.FP)
			c.NearRel(t, "step", b.Walk.StepSD*b.Walk.StepSD, want.Step)
			c.NearRel(t, "covered", b.Walk.Covered, want.Covered)
			if (b.PriorDF != nil) != (want.PriorDF != nil) {
				t.Fatalf("prior %v, want %v", b.PriorDF, want.PriorDF)
			}
			if want.PriorDF != nil {
				c.NearRel(t, "prior's variance", *b.PriorSD**b.PriorSD, *want.PriorVariance)
				c.NearRel(t, "prior's df", *b.PriorDF, *want.PriorDF)
			}
			for i, code := range want.Codes {
				row := res.row(t, code)
				c.NearRel(t, string(drift)+" se of "+code, *row.SE, se[i])
				if row.Alone == nil || row.Alone.Verdict.DF != want.OwnDF || row.Verdict.DF != res.Error.DF || res.Error.DF != b.DF {
					t.Errorf("%s: what stands without the record is %+v", code, row.Alone)
				}
			}
		}
	})
}

// ground draws a record of programmes with n control stints each, and a
// programme of one set each between three controls.
func ground(r *rand.Rand, programmes, n int, sd, own float64) (*Record, []driven) {
	rec := &Record{Name: "history.csv"}
	for p := range programmes {
		for k := range n {
			rec.Rows = append(rec.Rows, RecordRow{Programme: fmt.Sprint("p", p), Position: float64(3*k + 1), Value: 7 + 0.05*float64(k)*float64(p%3) + sd*r.NormFloat64()})
		}
	}
	var list []driven
	for i, code := range strings.Fields("K P W K A B K") {
		list = append(list, driven{code: code, values: []float64{7 - 0.03*float64(i) + own*r.NormFloat64()}})
	}
	return rec, list
}

// A record of the same ground makes the three-control programme decidable: the
// intervals hold, and are not much wider than with a known variance.
func TestRecordHoldsWhatItSays(t *testing.T) {
	const programmes = 300
	r := rand.New(rand.NewPCG(12, 6))
	held, used := 0, 0
	known := 0.0
	var ratio []float64
	for range programmes {
		rec, list := ground(r, 5, 4, 0.1, 0.1)
		res, err := Compare(Input{Log: logOf("gain", list), Measure: gain, Control: "K", Record: rec, Settings: Settings{Quick: true}})
		if err != nil {
			t.Fatal(err)
		}
		ok := true
		for _, row := range res.Rows {
			ok = ok && *row.DiffLow <= 0 && 0 <= *row.DiffHigh
		}
		if ok {
			held++
		}
		if res.Record.Used {
			used++
		}
		row := res.Rows[0]
		if known == 0 { // by the weights of the bracket, the variance known
			f := manyone.Family{DF: math.Inf(1)}
			for _, a := range res.Rows {
				var line []float64
				for _, b := range res.Rows {
					line = append(line, dot(a.Weights, b.Weights)/math.Sqrt(dot(a.Weights, a.Weights)*dot(b.Weights, b.Weights)))
				}
				f.Corr = append(f.Corr, line)
			}
			if known, _, err = f.Critical(0.05); err != nil {
				t.Fatal(err)
			}
		}
		ratio = append(ratio, (*row.DiffHigh-*row.DiffLow)/2/(known*0.1*math.Sqrt(dot(row.Weights, row.Weights))))
	}
	// 4 standard errors of 300 programmes at 0.95: 0.05; the upper check refuses
	// the record in 1 of 20.
	if got := float64(held) / programmes; got < 0.95-0.05 {
		t.Errorf("intervals hold in %.3f of programmes, not in 0.95", got)
	}
	if got := float64(used) / programmes; math.Abs(got-0.95) > 0.05 {
		t.Errorf("the record is used in %.3f of programmes", got)
	}
	slices.Sort(ratio)
	if m := ratio[programmes/2]; m > 1.25 || m < 1 {
		t.Errorf("the median half-width is %.3f times that of a known variance", m)
	}
}

// The rules of the record.
func TestRecordsRules(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 2))
	do := func(rec *Record, list []driven, s Settings) *Result {
		return mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Record: rec, Settings: s})
	}
	rec, list := ground(r, 6, 4, 0.1, 0.1)
	// A programme that scatters more than the record allows refuses it.
	_, wild := ground(r, 0, 0, 0, 3)
	res := do(rec, wild, Settings{})
	if res.Record.Used || !res.Record.Refused || !res.Caveats.Has("record_refused") || res.Error.DF != 1 {
		t.Errorf("wild: %+v", res.Record)
	}
	for _, row := range res.Rows {
		if *row.DiffLow != *row.Alone.DiffLow || row.Verdict.Word != row.Alone.Verdict.Word {
			t.Errorf("a refused record changed %s", row.Code)
		}
	}
	// Without the record the programme is what it was.
	with := do(rec, list, Settings{})
	bare := do(nil, list, Settings{})
	for i, row := range with.Rows {
		if !with.Record.Used || *row.Alone.DiffLow != *bare.Rows[i].DiffLow || row.Alone.Verdict.DF != 1 {
			t.Errorf("%s: %+v", row.Code, row.Alone)
		}
	}
	if bare.Rows[0].Alone != nil || bare.Record != nil {
		t.Error("a record out of nothing")
	}
	// Sequences of three cannot tell a walk: a line through three controls gets
	// nothing, a bracket does.
	three, _ := ground(r, 8, 3, 0.1, 0.1)
	if res := do(three, list, Settings{Drift: Linear}); res.Record.Used || !res.Caveats.Has("record_without_walk") {
		t.Errorf("line: %+v", res.Record)
	}
	if res := do(three, list, Settings{Drift: Bracket}); !res.Record.Used || !res.Caveats.Has("misfit_unknown") {
		t.Errorf("bracket: %+v", res.Record)
	}
	// Pooled plainly below ten programmes, moderated from ten on, never more
	// degrees of freedom than there are.
	if with.Record.Method != "pooled" || !with.Caveats.Has("plain_pooling") || with.Record.DF != 6*2+1 {
		t.Errorf("%+v", with.Record)
	}
	many, _ := ground(r, 12, 4, 0.1, 0.1)
	if res := do(many, list, Settings{}); res.Record.Method != "moderated" || res.Record.DF > 12*2+1 {
		t.Errorf("%+v", res.Record)
	}
	// Days with tyre by day in the error: the record knows stints alone.
	days := append(slices.Clone(list), list...)
	for i := range days {
		days[i].block = []string{"monday", "tuesday"}[i/7]
		days[i].values = []float64{days[i].values[0] + 0.1*r.NormFloat64()}
	}
	if res := do(rec, days, Settings{Drift: Linear}); res.Record.Used || !res.Caveats.Has("record_not_with_terms") || res.Error.Model != Mixed {
		t.Errorf("days: %+v, %s", res.Record, res.Error.Model)
	}
	if res := do(rec, days, Settings{Drift: Linear, TyreByBlock: AsOne}); !res.Record.Used {
		t.Errorf("days as one: %+v", res.Record)
	}
	// No degrees of freedom of its own: the record alone, unchecked.
	short := list[:4]
	res = do(rec, short, Settings{})
	if !res.Record.Used || res.Record.OwnDF != 0 || res.Rows[0].DiffLow == nil || res.Rows[0].Alone.DiffLow != nil || !res.Caveats.Has("unchecked_record") || res.Caveats.Has("no_degrees_of_freedom") {
		t.Errorf("%+v %v", res.Record, res.Caveats)
	}
	// An open block is judged by the record's walk, where the plan allows it.
	open := append(slices.Clone(list), driven{code: "Z", values: []float64{9}})
	walks, _ := ground(r, 6, 6, 0.1, 0.1)
	level := 0.0
	for i := range walks.Rows {
		if walks.Rows[i].Position == 1 {
			level = 0
		}
		level += 0.3 * r.NormFloat64()
		walks.Rows[i].Value += level
	}
	res = do(walks, open, Settings{Open: OpenAllowed})
	if z := res.row(t, "Z"); res.Record.Walk == nil || z.DiffLow == nil || z.Alone.DiffLow != nil || z.Alone.Verdict.Word != NotShown {
		t.Errorf("open: %+v, walk %+v", z.Verdict, res.Record.Walk)
	}
	// The rows that were used are copied, with their hash; a changed row changes it.
	if len(with.Record.Rows) != 24 || len(with.Record.Hash) != 64 {
		t.Errorf("%d rows, hash %q", len(with.Record.Rows), with.Record.Hash)
	}
	other := &Record{Rows: slices.Clone(rec.Rows)}
	same, _ := other.Hash()
	other.Rows[3].Value += 1e-9
	if h, _ := other.Hash(); same != with.Record.Hash || h == same {
		t.Error("the hash does not tell rows apart")
	}
}

// A record that walks lets no estimate be judged by less than one that does not,
// and one whose line must bridge more is judged by more.
func TestRecordsWalk(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	rec, _ := ground(r, 30, 8, 0.02, 0)
	level := 0.0
	for i := range rec.Rows {
		if rec.Rows[i].Position == 1 {
			level = 0
		}
		level += 0.2 * r.NormFloat64()
		rec.Rows[i].Value += level
	}
	var list []driven
	for i, code := range strings.Fields("K P W K W P K") {
		list = append(list, driven{code: code, position: []float64{1, 15, 16, 30, 43, 44, 58}[i], values: []float64{7 + 0.15*math.Sin(float64(i*i))}})
	}
	res := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Record: rec})
	if !res.Record.Used || res.Record.Walk.StepSD < 0.05 {
		t.Fatalf("%+v, %+v", res.Record, res.Record.Walk)
	}
	for _, row := range res.Rows {
		if plain := res.Record.SD * math.Sqrt(dot(row.Weights, row.Weights)); *row.SE < plain*(1-1e-12) {
			t.Errorf("%s: %v is less than the pooled scatter gives, %v", row.Code, *row.SE, plain)
		}
	}
	if p := res.row(t, "P"); !(*p.SE > 1.05*res.Record.SD*math.Sqrt(dot(p.Weights, p.Weights))) {
		t.Error("the long bracket is judged as a short one")
	}
}

func TestRecordRefused(t *testing.T) {
	_, list := ground(rand.New(rand.NewPCG(1, 1)), 0, 0, 0, 0.1)
	rows := func(change func(r []RecordRow)) *Record {
		rec, _ := ground(rand.New(rand.NewPCG(1, 1)), 3, 4, 0.1, 0.1)
		for i := range rec.Rows {
			rec.Rows[i].Line = i + 2
		}
		change(rec.Rows)
		return rec
	}
	for _, c := range []struct {
		name   string
		change func(r []RecordRow)
		says   string
	}{
		{"not finite", func(r []RecordRow) { r[1].Value = math.NaN() }, "history.csv:3"},
		{"no programme", func(r []RecordRow) { r[2].Programme = "" }, "history.csv:4"},
		{"twice", func(r []RecordRow) { r[1].Position = 1 }, "history.csv:3"},
		{"not positive", func(r []RecordRow) { r[4].Value = -1 }, "history.csv:6"},
	} {
		_, err := Compare(Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Record: rows(c.change)})
		if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	for name, rec := range map[string]*Record{"empty": {}, "single stints": {Rows: []RecordRow{{Programme: "a", Position: 1, Value: 7}, {Programme: "b", Position: 1, Value: 7}}},
		"no scatter": rows(func(r []RecordRow) {
			for i := range r {
				r[i].Value = 7
			}
		})} {
		res := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Record: rec})
		if res.Record.Used || res.Error.DF != 1 {
			t.Errorf("%s: %+v", name, res.Record)
		}
	}
}

// Where the record's programmes scatter by different amounts, the verdict's footnote
// gives the coverage that simulation reached with such a record.
func TestAHeterogeneousRecordsFootnoteSaysWhatIsReached(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	rec := &Record{Name: "history.csv"}
	for p := range 6 {
		sd := 0.05
		if p%2 == 1 {
			sd = 0.5
		}
		for k := range 8 {
			rec.Rows = append(rec.Rows, RecordRow{Programme: fmt.Sprint("p", p), Position: float64(3*k + 1), Value: 7 + sd*r.NormFloat64()})
		}
	}
	_, list := ground(r, 1, 3, 0.1, 0.1)
	res := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Record: rec})
	if !res.Record.Used || !(res.Record.Alike < 0.05) {
		t.Fatalf("%+v", res.Record)
	}
	for _, c := range res.Caveats {
		if c.Code == "heterogeneous_record" && strings.Contains(c.Text, "96.7 %") && strings.Contains(c.Text, "docs/coverage.md, B17, B18") {
			return
		}
	}
	t.Errorf("no footnote says what is reached: %v", res.Caveats)
}
