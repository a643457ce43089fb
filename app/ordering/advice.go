package ordering

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/origin"
	"example.org/bookend/app/testplan"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/advice"
	"example.org/bookend/order/drift"
	"example.org/bookend/programme"
	"example.org/bookend/stat/looks"
	"example.org/bookend/table"
	"example.org/bookend/unit"
)

// AdviceRequest asks what the next stint is best. The table holds what was driven
// so far; of its values only scatter and the control's movement are used.
type AdviceRequest struct {
	Table       app.CompareRequest
	Candidates  []string       // under comparison, driven yet or not
	MostBetween int            // candidates between two controls; 0: any number
	Left        map[string]int // stints that a code's sets still last
	MostStints  int            // that time allows from now on; negative: any
	Planned     int            // stints of the whole plan; 0: not told
	Wanted      float64        // difference to be shown, on the analysis scale; 0: not told
	Power       float64        // 0: 0.8
	Looks       []int          // stints after which the plan looks
	Spending    Spending       // of the 5 % over the looks
	Decided     []string       // at an earlier look
	Held        []string       // sets that are held

	planned []advice.Look // of a frozen plan; nil: as Looks says
}

// Spending is how looks spend the error: obrien_fleming or pocock.
type Spending = looks.Spending

// AdviceAnswer is the advice with what it was made from.
type AdviceAnswer struct {
	Inputs []origin.Hashed
	Advice *advice.Advice
	Scale  programme.Scale
	Unit   string
	Check  *advice.Check
	Odd    *advice.ScatterCheck
	Ahead  *advice.Ahead // how far it still is to what is wanted; nil: nothing is wanted, or known
}

// Advise says what the next stint is best, by a table of what was driven.
func Advise(q AdviceRequest) (*AdviceAnswer, error) {
	t := &q.Table
	if t.Scale == "" {
		t.Scale = programme.Ratio
	}
	log, measure, inputs, err := readTable(t)
	if err != nil {
		return nil, err
	}
	return q.advise(log, measure, inputs)
}

// AdviseTest says what the next stint of a test is best: the log is the programme's,
// control, correction, margin and looks are those of the frozen plan where there
// is one. Of the table in q only Measure, Control, Settings and History count.
func AdviseTest(ctx context.Context, f *app.Folder, test string, q AdviceRequest) (*AdviceAnswer, error) {
	s, err := app.Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	d, err := f.Drive(ctx, s, test)
	if err != nil {
		return nil, err
	}
	p, err := f.PlanInForce(ctx, test)
	if err != nil {
		return nil, err
	}
	if p != nil {
		if t, ok := p.Test(test); ok {
			if q.Table.Control == "" {
				q.Table.Control = p.Control
			}
			if err := q.byPlan(t); err != nil {
				return nil, err
			}
		}
	}
	if q.Table.Control == "" {
		return nil, app.NoControl()
	}
	m, err := d.Measure(q.Table.Measure)
	if err != nil {
		return nil, err
	}
	q.Table.Scale = m.Scale
	return q.advise(d.Log, m, d.Inputs)
}

// byPlan takes from a frozen plan what was not asked for otherwise.
func (q *AdviceRequest) byPlan(t *testplan.Test) error {
	if q.Table.Measure == "" {
		q.Table.Measure = t.First
	}
	if q.Table.Settings.Drift == "" {
		q.Table.Settings.Drift = t.Drift
	}
	if q.Planned == 0 {
		q.Planned = t.Stints
	}
	if q.Wanted == 0 && t.Margin != "" {
		m, err := testplan.ParseMargin(t.Margin, string(t.Scale))
		if err != nil {
			return err
		}
		if q.Wanted = m.Value; !m.InUnit {
			q.Wanted = math.Log1p(m.Value / 100)
		}
	}
	if len(q.Looks) > 0 || t.Stints == 0 {
		return nil
	}
	for _, l := range t.Looks {
		q.planned = append(q.planned, advice.Look{Stints: l.Stints, Level: l.Spends})
	}
	_, confidence, _ := t.Look(t.Stints)
	q.planned = append(q.planned, advice.Look{Stints: t.Stints, Level: 1 - confidence})
	return nil
}

// advise says what the next stint is best.
func (q *AdviceRequest) advise(log programme.Log, measure programme.Measure, inputs []origin.Hashed) (*AdviceAnswer, error) {
	t := &q.Table
	a := &AdviceAnswer{Inputs: append([]origin.Hashed{}, inputs...), Scale: t.Scale, Unit: measure.Unit}
	r := order.Request{Control: t.Control, MostBetween: q.MostBetween, Correction: correctionOf(t.Settings.Drift)}
	r.Test.Wanted, r.Test.Power = q.Wanted, q.Power
	for _, c := range q.Candidates {
		r.Candidates = append(r.Candidates, order.Candidate{Code: c, Repeats: 1})
	}
	s := advice.State{Request: r, Left: q.Left, MostStints: q.MostStints, Planned: q.Planned, Decided: q.Decided, Held: q.Held, Looks: q.planned}
	got, err := q.driven(log, measure, &s)
	if err != nil {
		return nil, err
	}
	if len(q.Looks) > 0 {
		if s.Looks, err = plannedLooks(q.Looks, q.Spending); err != nil {
			return nil, err
		}
	}
	sd, df := s.SD, s.DF
	if s.RecordDF > 0 {
		a.Odd = advice.CheckScatter(s.SD, s.DF, s.RecordSD, s.RecordDF)
		sd, df = s.RecordSD, s.RecordDF
	}
	if a.Check, err = advice.CheckControl(got.controls, sd, df, got.walk); err != nil {
		return nil, err
	}
	s.Check = a.Check
	advisor := advice.New()
	if a.Advice, err = advisor.After(s); err != nil {
		return nil, err
	}
	if a.Ahead, err = advisor.Ahead(s); err != nil {
		return nil, err
	}
	return a, nil
}

func correctionOf(d compare.Drift) drift.Correction {
	switch d {
	case compare.NoDrift:
		return drift.None
	case compare.Linear:
		return drift.Linear
	case compare.Quadratic:
		return drift.Quadratic
	}
	return drift.Bracket
}

// plannedLooks gives the looks of a plan with the level that each adds; the
// fraction of the information is that of the stints.
func plannedLooks(stints []int, spending looks.Spending) ([]advice.Look, error) {
	if spending == "" {
		spending = looks.OBrienFleming
	}
	last := float64(stints[len(stints)-1])
	var fractions []float64
	for _, n := range stints {
		fractions = append(fractions, float64(n)/math.Max(1, last))
	}
	levels, err := looks.Increments(spending, 0.05, fractions)
	if err != nil {
		return nil, err
	}
	var out []advice.Look
	for i, n := range stints {
		out = append(out, advice.Look{Stints: n, Level: levels[i]})
	}
	return out, nil
}

// drivenSoFar is what the log tells beside the codes.
type drivenSoFar struct {
	controls []advice.Point // of the last block
	walk     float64
}

// driven reads what was driven: codes by block, and the scatter as the comparison
// judges it. Too few stints to compare leave the scatter unknown.
func (q *AdviceRequest) driven(log programme.Log, measure programme.Measure, s *advice.State) (*drivenSoFar, error) {
	t := &q.Table
	out := &drivenSoFar{}
	if t.History != nil {
		sc, _, err := t.History.Scatter(t.Scale, "")
		if err != nil {
			return nil, err
		}
		s.RecordSD, s.RecordDF, out.walk = sc.StintSD, sc.StintDF, sc.DriftSD
	}
	stints := log.AsDriven()
	means := stintMeans(&log, measure.ID, t.Scale)
	block := ""
	for i, st := range stints {
		if i == 0 || st.Block != block || st.Break {
			s.Blocks = append(s.Blocks, nil)
			out.controls = nil
			block = st.Block
		}
		last := len(s.Blocks) - 1
		s.Blocks[last] = append(s.Blocks[last], st.Code)
		if m, ok := means[st.ID]; ok && st.Code == t.Control {
			out.controls = append(out.controls, advice.Point{At: st.Position, Mean: m})
		}
	}
	set := t.Settings
	set.Scale, set.Quick = t.Scale, true
	r, err := compare.Compare(compare.Input{Log: log, Measure: measure, Control: t.Control, Settings: set})
	switch {
	case err == nil:
		if e := r.Error; e.SD != nil && e.DF > 0 {
			s.SD, s.DF = *e.SD, e.DF
		}
	case fault.CodeOf(err) == fault.Internal:
		return nil, err
	}
	return out, nil
}

// readTable reads the table and the measure that is looked at.
func readTable(t *app.CompareRequest) (programme.Log, programme.Measure, []origin.Hashed, error) {
	got, err := table.Read(bytes.NewReader(t.Data), table.Options{Name: t.Name, Columns: t.Columns, EachRowAStint: t.Rows})
	if err != nil {
		return programme.Log{}, programme.Measure{}, nil, err
	}
	measure := t.Measure
	if measure == "" {
		if len(got.Measures) != 1 {
			return programme.Log{}, programme.Measure{}, nil, fault.New(fault.Invalid, "the table holds several measures").At("%s", t.Name).
				WithHint("choose one with --measure: %s", strings.Join(got.Measures, ", "))
		}
		measure = got.Measures[0]
	}
	sum := sha256.Sum256(t.Data)
	return got.Log, app.Typed(measure, got, t.Better, t.Scale), []origin.Hashed{{Name: t.Name, SHA256: hex.EncodeToString(sum[:])}}, nil
}

// stintMeans gives the mean of each stint's runs on the analysis scale; a stint
// with a value that has no logarithm has none.
func stintMeans(log *programme.Log, measure string, scale programme.Scale) map[string]float64 {
	stint := map[string]string{}
	for _, r := range log.Runs {
		stint[r.ID] = r.Stint
	}
	left := map[string]bool{}
	for _, x := range log.Exclusions {
		left[x.Run] = true
	}
	sums, n := map[string]float64{}, map[string]float64{}
	for _, o := range log.Observations {
		if o.Measure != measure || left[o.Run] {
			continue
		}
		v := o.Value
		if scale == programme.Ratio {
			if !(v > 0) {
				continue
			}
			v = math.Log(v)
		}
		sums[stint[o.Run]] += v
		n[stint[o.Run]]++
	}
	for id := range sums {
		sums[id] /= n[id]
	}
	return sums
}

// AdviceDocument is the JSON of an advice, schema "bookend.advice/1".
type AdviceDocument origin.Document[AdviceResults]

// AdviceResults is the part of the JSON that holds the numbers. Differences are
// in index points or the unit.
type AdviceResults struct {
	Stints  int            `json:"stints"` // driven
	Next    string         `json:"next"`   // control, candidate, stop or wait
	Code    string         `json:"code,omitempty"`
	Reason  string         `json:"reason"`
	Gain    *float64       `json:"gain,omitempty"`       // fall of the smallest difference that can be shown, a stint
	Now     *float64       `json:"detectable,omitempty"` // of every candidate undecided
	After   *float64       `json:"after,omitempty"`
	Rows    []AdviceRow    `json:"rows"`
	Options []AdviceOption `json:"options"`
	Level   *float64       `json:"look_level,omitempty"` // of the look that stands here
	SD      float64        `json:"sd"`
	DF      float64        `json:"df"`
	Control *AdviceCheck   `json:"control,omitempty"`
	Ahead   *AdviceAhead   `json:"ahead,omitempty"`
}

// AdviceAhead is how many stints would still be needed, if they scattered on as they do.
type AdviceAhead struct {
	Stints     int      `json:"stints"`
	Codes      []string `json:"codes"`                // the control that closes it last
	Detectable *float64 `json:"detectable,omitempty"` // then
	Reached    bool     `json:"reached"`              // false: not with the sets that are left, or too far
}

// AdviceRow is what could be shown of one candidate by now.
type AdviceRow struct {
	Code       string   `json:"code"`
	Detectable *float64 `json:"detectable,omitempty"`
	Open       bool     `json:"open,omitempty"` // its bracket is not closed
}

// AdviceOption is one thing that can be done next, its closing control included.
type AdviceOption struct {
	Next   string   `json:"next"`
	Code   string   `json:"code"`
	Stints int      `json:"stints"`
	After  *float64 `json:"after,omitempty"`
}

// AdviceCheck says where the newest control is.
type AdviceCheck struct {
	Moved bool    `json:"moved"`
	Off   float64 `json:"off"` // from what is expected, on the analysis scale
	Limit float64 `json:"limit"`
	Text  string  `json:"text"`
}

// Shown gives a difference on the analysis scale as people read it.
func (a *AdviceAnswer) Shown(x *float64) *float64 {
	if x == nil || math.IsInf(*x, 0) {
		return nil
	}
	v := *x
	if a.Scale == programme.Ratio {
		v = 100 * math.Expm1(v)
	}
	return &v
}

// ShownUnit names what Shown is in.
func (a *AdviceAnswer) ShownUnit() string {
	if a.Scale == programme.Ratio {
		return "index points"
	}
	return a.Unit
}

// AheadSays says how many stints would still be needed; empty where nothing is known
// of it.
func (a *AdviceAnswer) AheadSays(style unit.Style) string {
	r := a.Document().Results
	h := r.Ahead
	switch {
	case h == nil:
		return ""
	case h.Reached && h.Stints == 0:
		return "What is to be shown could be shown by now of every candidate; that ends the day at a look of the plan alone, since a scatter that looks small may be chance."
	case h.Reached:
		stints := "one stint more"
		if h.Stints > 1 {
			stints = fmt.Sprintf("%d stints more", h.Stints)
		}
		return fmt.Sprintf("If stints go on to scatter as they do, %s (%s) would show %s %s of every candidate.", stints, strings.Join(h.Codes, " "), unit.Number(*h.Detectable, 2, style), a.ShownUnit())
	case h.Detectable == nil:
		return "With the sets that are left nothing can be shown of every candidate."
	}
	return fmt.Sprintf("What is to be shown is out of reach: %d stints more would show %s %s, as stints scatter and with the sets that are left.", h.Stints, unit.Number(*h.Detectable, 2, style), a.ShownUnit())
}

// Document gives the answer in the form of its JSON.
func (a *AdviceAnswer) Document() AdviceDocument {
	v := a.Advice
	d := AdviceDocument{Schema: "bookend.advice/1", Inputs: a.Inputs, Settings: map[string]string{"scale": string(a.Scale), "uses": "scatter and drift, no candidate's difference"},
		Caveats: append(caveat.List{}, v.Caveats...)}
	r := &d.Results
	r.Stints, r.Next, r.Code, r.Reason, r.SD, r.DF = v.Driven, string(v.Next), v.Code, v.Reason, v.SD, v.DF
	r.Now, r.After = a.Shown(v.Largest), a.Shown(v.After)
	if v.Gain > 0 && v.Largest != nil {
		r.Gain = a.Shown(&v.Gain)
	}
	if v.Look != nil {
		r.Level = &v.Look.Level
	}
	r.Rows, r.Options = []AdviceRow{}, []AdviceOption{}
	for _, c := range v.Now {
		r.Rows = append(r.Rows, AdviceRow{Code: c.Code, Detectable: a.Shown(c.Value), Open: c.Open})
	}
	for _, o := range v.Options {
		after := o.After
		code := o.Code
		r.Options = append(r.Options, AdviceOption{Next: string(o.Kind), Code: code, Stints: o.Stints, After: a.Shown(&after)})
	}
	if c := a.Check; c != nil {
		r.Control = &AdviceCheck{Moved: c.Moved, Off: c.Seen - c.Expected, Limit: c.Limit, Text: c.Text}
	}
	if h := a.Ahead; h != nil {
		most := h.Largest
		r.Ahead = &AdviceAhead{Stints: len(h.Codes), Codes: append([]string{}, h.Codes...), Detectable: a.Shown(&most), Reached: h.Reached}
	}
	if o := a.Odd; o != nil && o.Odd {
		d.Caveats.Add("scatter_odd", caveat.Place{}, "This programme scatters more than the record: its variance is %.1f times the record's, and chance explains %.1f.", o.Ratio, o.Limit)
	}
	return d
}
