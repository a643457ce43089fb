// Package opinion compares what evaluators rate: each candidate against the
// control, attribute by attribute, through the same waist and by the same rules as
// what is measured.
//
// In the trade an evaluator rates attributes from 1 to 10, balance from -3 to 3, in
// half and quarter points, on one sheet a stint; the sheet is one observation. There are two kinds
// of sheet. On a free sheet the control is blind under several codes and rated like
// everything else: its repeats give each rater's scatter and drift, and verdicts
// have intervals. On an anchored sheet the control stands fixed and known: its
// rating says nothing of scatter, so candidates have estimates alone unless they
// are repeated, and then intervals from their own repeats; drift is not seen.
//
// Several raters of one stint share its fitment and its moment: their mean,
// freed of who rates how hard, is the stint's value. Raters who each drove stints
// of their own are blocks, joined through the control. Beside the linear
// comparison stands a cumulative-logit mixed model, for which the steps of the
// scale need not be alike.
//
// An attribute that is best in the middle is compared by its distance from the
// target that was declared, and is never summed with others. Where none was, its
// differences from the control stand as rated, a balance positive towards
// oversteer, and nothing is called better or worse. An overall stands only on the
// client's weights, with the share of all weightings under which each code leads
// and the weights at which the lead changes.
//
// Sources: the rules above are common practice, no source; Dunnett's intervals as
// package compare has them; Shrout and Fleiss (1979), Kendall's W, Krippendorff
// (2004) as package stat/agree; McCullagh (1980) as package stat/ordinal. Units:
// rating points, positive better; the ordinal model is on the logit scale. Limits:
// it believes that a free sheet was filled blind, and cannot tell whether it was.
package opinion

import (
	"fmt"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/stat/agree"
)

// Sheet is the kind of sheet that was filled.
type Sheet string

// The kinds of sheet.
const (
	Free     Sheet = "free"     // the control is rated blind, like everything else
	Anchored Sheet = "anchored" // the control's rating is fixed and known
)

// Input is what is compared.
type Input struct {
	Log      programme.Log // one run a stint, one observation a rater and attribute
	Control  string
	Also     []string // codes under which the control was rated too, blind
	Sheet    Sheet
	Targets  map[string]float64 // attributes that are best in the middle, and where; one without is described, not judged
	Weights  map[string]float64 // the client's, by attribute; nil: no overall
	Settings compare.Settings   // margin in points; scale is not looked at
}

// Result is what the sheets show.
type Result struct {
	Control    string
	Also       []string // codes under which it was rated too, blind
	Sheet      Sheet
	Codes      []string // candidates, in the order first rated
	Raters     []Rater
	Shared     bool // stints were rated by several raters; else each drove his own
	Attributes []Attribute
	Overall    *Overall // nil without weights
	Stints     int
	Sheets     int // of a stint and a rater
	Caveats    caveat.List
}

// Rater is how one rater rates.
type Rater struct {
	Name          string
	Sheets        int
	Controls      int      // of them on the control
	Severity      *float64 // points above the mean rater, over all attributes; nil with one rater
	SeveritySE    *float64
	Repeatability *float64 // standard deviation of the control's repeats about their line, over all attributes; nil without
	DF            float64  // of it
	Drift         *float64 // points a position, mean over attributes of the slopes of the control's ratings; nil without
	DriftP        *float64 // least p of any attribute's slope, times their number
}

// Attribute is one thing that was rated.
type Attribute struct {
	Name      string
	Middle    bool     // best in the middle
	Target    *float64 // where; nil: best at the top, or nobody has said where
	Rows      []Row
	Result    *compare.Result // the comparison behind the rows; nil on an anchored sheet or where there is none
	Failed    string          // why there are no rows; else empty
	Control   *float64        // the control's mean rating, as rated
	Agreement *Agreement      // nil where no two raters rated the same stints
	Ordinal   *Ordinal        // nil where Graded says why
	Graded    string
	RaterP    *float64 // test that raters are equally severe; nil with one rater
	Caveats   caveat.List
}

// Row is one candidate in one attribute, in points, positive better.
type Row struct {
	Code        string
	Verdict     compare.Verdict
	Difference  *float64
	Low, High   *float64
	Mean        float64    // as rated
	ByRater     []*float64 // each rater's own difference, in the order of Raters
	Stints      int
	Detectable  *float64
	P           *float64 // adjusted for all candidates
	OrdinalOdds *float64 // logarithm of the odds of a higher rating than the control's, by the ordinal model
	OrdinalP    *float64 // unadjusted, of large numbers
}

// Agreement is how far raters agree over the stints that all of them rated.
type Agreement struct {
	Stints, Raters int
	ICC            agree.Coefficient // of one rating, these raters a sample: ICC(2,1)
	ICCMean        agree.Coefficient // of the mean of the raters: ICC(2,k)
	W              float64           // Kendall's
	WP             float64
	Alpha          *float64 // Krippendorff's, interval scale; nil where it has no value
	AlphaOrdinal   *float64
}

// Ordinal is the cumulative-logit model of an attribute.
type Ordinal struct {
	Random  []string // its random terms
	LogLik  float64
	Laplace bool
}

// Overall is the weighted sum of the attributes that are best at the top.
type Overall struct {
	Names   []string  // attributes summed
	Weights []float64 // of the client, summing to one
	Left    []string  // attributes that are not in it, being best in the middle or without weight
	Rows    []Row
	Result  *compare.Result
	Failed  string
	Leads   []Lead // of the control too, which comes first
	Exact   bool   // shares are exact; else they have errors
	Leader  string
	Turns   []Turn
}

// Lead is the share of all weightings under which a code leads.
type Lead struct {
	Code         string
	Share, Error float64
}

// Turn is the weight of an attribute at which another code takes the lead.
type Turn struct {
	Attribute string
	From, To  float64
	Leader    string
}

// sheetOf is one stint as rated.
type stint struct {
	programme.Stint
	rated map[string]map[string]float64 // by attribute and rater
}

type table struct {
	in         Input
	stints     []stint
	attributes []string
	raters     []string
	shared     bool
}

// Compare compares ratings.
func Compare(in Input) (*Result, error) {
	if in.Sheet == "" {
		in.Sheet = Free
	}
	if in.Sheet != Free && in.Sheet != Anchored {
		return nil, fault.New(fault.Invalid, "%q is no kind of sheet", in.Sheet).WithHint("free: the control is rated blind; anchored: it is fixed and known")
	}
	if in.Control == "" {
		return nil, fault.New(fault.Invalid, "no control is named")
	}
	if m := in.Settings.Margin; m != nil && !m.InUnit {
		in.Settings.Margin = &compare.Margin{Value: m.Value, InUnit: true}
	}
	t, err := gather(in)
	if err != nil {
		return nil, err
	}
	r := &Result{Control: in.Control, Also: in.Also, Sheet: in.Sheet, Shared: t.shared, Stints: len(t.stints)}
	for _, s := range t.stints {
		if s.Code != in.Control && !slices.Contains(r.Codes, s.Code) {
			r.Codes = append(r.Codes, s.Code)
		}
	}
	if len(r.Codes) == 0 {
		return nil, fault.New(fault.Invalid, "no candidate was rated")
	}
	if in.Sheet == Anchored {
		r.Caveats.Add("anchored_sheet", caveat.Place{}, "The control stood fixed and known on every sheet: its rating says nothing of scatter, and drift of the raters is not seen.")
	}
	if len(t.raters) == 1 {
		r.Caveats.Add("one_rater", caveat.Place{}, "One person rated: what is said holds for this rater.")
	}
	for _, a := range t.attributes {
		r.Attributes = append(r.Attributes, t.attribute(a, r))
	}
	if !slices.ContainsFunc(r.Attributes, func(a Attribute) bool { return a.Failed == "" }) {
		return nil, fault.New(fault.Invalid, "no attribute can be compared: %s", r.Attributes[0].Failed)
	}
	t.people(r)
	if in.Weights != nil {
		if r.Overall, err = t.overall(r); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// gather sorts the observations into stints.
func gather(in Input) (*table, error) {
	t := &table{in: in}
	of := map[string]int{}
	for i, s := range in.Log.Stints {
		if slices.Contains(in.Also, s.Code) {
			s.Code = in.Control
		}
		t.stints = append(t.stints, stint{Stint: s, rated: map[string]map[string]float64{}})
		of[s.ID] = i
	}
	run := map[string]int{}
	for _, x := range in.Log.Runs {
		i, ok := of[x.Stint]
		if !ok {
			return nil, fault.New(fault.Invalid, "run %s is of stint %q, which is not in the log", x.ID, x.Stint)
		}
		run[x.ID] = i
	}
	left := map[string]bool{}
	for _, x := range in.Log.Exclusions {
		left[x.Run] = true
	}
	for _, o := range in.Log.Observations {
		if o.Rater == "" || left[o.Run] {
			continue
		}
		i, ok := run[o.Run]
		if !ok {
			return nil, fault.New(fault.Invalid, "a rating of %s belongs to run %q, which is not in the log", o.Measure, o.Run)
		}
		if math.IsNaN(o.Value) || math.IsInf(o.Value, 0) {
			return nil, fault.New(fault.Invalid, "a rating of %s is no number", o.Measure)
		}
		if !slices.Contains(t.attributes, o.Measure) {
			t.attributes = append(t.attributes, o.Measure)
		}
		if !slices.Contains(t.raters, o.Rater) {
			t.raters = append(t.raters, o.Rater)
		}
		m := t.stints[i].rated
		if m[o.Measure] == nil {
			m[o.Measure] = map[string]float64{}
		}
		if _, twice := m[o.Measure][o.Rater]; twice {
			return nil, fault.New(fault.Invalid, "%s rated %s of stint %s twice", o.Rater, o.Measure, t.stints[i].ID).WithHint("one sheet a stint and rater")
		}
		m[o.Measure][o.Rater] = o.Value
		t.shared = t.shared || len(m[o.Measure]) > 1
	}
	t.stints = slices.DeleteFunc(t.stints, func(s stint) bool { return len(s.rated) == 0 })
	switch {
	case len(t.stints) == 0:
		return nil, fault.New(fault.NotFound, "there are no ratings").WithHint("one line one attribute that one rater rated on one stint: stint, code, rater, attribute, value")
	case !slices.ContainsFunc(t.stints, func(s stint) bool { return s.Code == in.Control }):
		return nil, fault.New(fault.NotFound, "the control %s was not rated", in.Control).WithHint("the codes rated are %s", t.codes())
	}
	for _, s := range t.stints {
		if s.Code == "" {
			return nil, fault.New(fault.Invalid, "stint %s has no code", s.ID).WithHint("add a column code to the sheet")
		}
	}
	for _, named := range []map[string]float64{in.Targets, in.Weights} {
		var ids []string
		for a := range named {
			ids = append(ids, a)
		}
		slices.Sort(ids)
		for _, a := range ids {
			if !slices.Contains(t.attributes, a) {
				return nil, fault.New(fault.NotFound, "no attribute %q was rated", a).WithHint("rated were: %s", join(t.attributes))
			}
		}
	}
	return t, nil
}

func (t *table) codes() string {
	var out []string
	for _, s := range t.stints {
		if !slices.Contains(out, s.Code) {
			out = append(out, s.Code)
		}
	}
	return join(out)
}

func join(words []string) string {
	out := ""
	for i, w := range words {
		if i > 0 {
			out += ", "
		}
		out += w
	}
	return out
}

// worth turns a rating into what is compared, higher better: itself, or its
// distance from where the attribute is best, turned round.
func (t *table) worth(attribute string, v float64) float64 {
	if target, ok := t.in.Targets[attribute]; ok {
		return -math.Abs(v - target)
	}
	return v
}

// middle tells an attribute that is best in the middle: by its own scale, or because
// a target is declared.
func (t *table) middle(name string) bool {
	_, ok := t.in.Targets[name]
	return ok || attribute.ScaleOf(name).Middle
}

// directed tells an attribute of which more, or nearer to a target, is better.
func (t *table) directed(name string) bool {
	_, ok := t.in.Targets[name]
	return ok || !attribute.ScaleOf(name).Middle
}

// attribute compares one attribute.
func (t *table) attribute(name string, r *Result) Attribute {
	a := Attribute{Name: name, Middle: t.middle(name)}
	if target, ok := t.in.Targets[name]; ok {
		a.Target = &target
	} else if a.Middle {
		a.Caveats.Add("no_target", caveat.Place{Measure: name}, "Nobody has said where it is best: differences are as rated, more towards oversteer positive, and none is better or worse.")
	}
	if len(t.raters) > 1 {
		if s, err := agree.RaterSeverity(t.ratings(name, true), t.in.Control); err == nil && s.DF > 0 && s.RaterF > 0 {
			a.RaterP = &s.RaterP
		}
	}
	a.Agreement = t.agreement(name)
	a.Control = t.mean(name, t.in.Control)
	if t.in.Sheet == Anchored {
		t.anchored(&a, r.Codes)
	} else {
		values, notes, err := t.values(name)
		a.Caveats = append(a.Caveats, notes...)
		if err == nil {
			a.Result, err = t.compare(name, values)
		}
		if err != nil {
			a.Failed = err.Error()
			return a
		}
		a.Rows = t.rows(name, a.Result)
		a.Caveats = append(a.Caveats, a.Result.Caveats...)
	}
	for i := range a.Rows {
		if m := t.mean(name, a.Rows[i].Code); m != nil {
			a.Rows[i].Mean = *m
		}
	}
	if t.graded(&a); a.Graded != "" && t.in.Sheet == Free {
		a.Caveats.Add("no_ordinal_model", caveat.Place{Measure: name}, "There is no ordinal model beside the linear comparison: %s.", a.Graded)
	}
	for i := range a.Caveats { // the measure behind the comparison has a name of its own
		a.Caveats[i].Place.Measure = name
	}
	a.Caveats = slices.DeleteFunc(a.Caveats.Distinct(), func(c caveat.Caveat) bool {
		return c.Code == "one_run_a_stint" // a sheet is one observation
	})
	return a
}

// rows takes the verdicts of a comparison, each rater's own beside them.
func (t *table) rows(name string, r *compare.Result) []Row {
	own := make([]*compare.Result, len(t.raters))
	if len(t.raters) > 1 && name != "" {
		for i, rater := range t.raters {
			values := map[string]float64{}
			for _, s := range t.stints {
				if v, ok := s.rated[name][rater]; ok {
					values[s.ID] = t.worth(name, v)
				}
			}
			alone := *t
			alone.in.Settings.Quick = true // its estimates alone are taken
			if x, err := alone.compareOf(name, values, false); err == nil {
				own[i] = x
			}
		}
	}
	var out []Row
	for _, x := range r.Rows {
		row := Row{Code: x.Code, Verdict: x.Verdict, Difference: x.Difference, Low: x.DiffLow, High: x.DiffHigh, Mean: x.Mean,
			Stints: x.Stints, Detectable: x.Detectable, P: x.P}
		if len(t.raters) > 1 && name != "" {
			row.ByRater = make([]*float64, len(t.raters))
			for i, o := range own {
				if o == nil {
					continue
				}
				if k := slices.IndexFunc(o.Rows, func(y compare.Row) bool { return y.Code == x.Code }); k >= 0 {
					row.ByRater[i] = o.Rows[k].Difference
				}
			}
		}
		out = append(out, row)
	}
	return out
}

// values gives each stint's value: the mean over its raters, freed of their
// severity where not all rated it.
func (t *table) values(name string) (map[string]float64, caveat.List, error) {
	var notes caveat.List
	even := true
	first := -1
	for _, s := range t.stints {
		n := len(s.rated[name])
		if n == 0 {
			continue
		}
		if first < 0 {
			first = n
		}
		even = even && n == first
	}
	severity := map[string]float64{}
	if t.shared && (!even || first < len(t.raters)) {
		var list []agree.Rating
		for _, s := range t.stints {
			for _, rater := range t.raters {
				if v, ok := s.rated[name][rater]; ok {
					list = append(list, agree.Rating{Object: s.ID, Rater: rater, Value: t.worth(name, v)})
				}
			}
		}
		got, err := agree.RaterSeverity(list, list[0].Object)
		if err != nil {
			return nil, notes, fault.At(err, "sheets are missing, and raters cannot be told apart from stints")
		}
		for _, e := range got.Raters {
			severity[e.Name] = e.Value
		}
		notes.Add("sheets_missing", caveat.Place{Measure: name}, "Not every rater rated every stint: means are freed of who rates how hard, as the other sheets show it, and taken as equally certain.")
	}
	out := map[string]float64{}
	for _, s := range t.stints {
		sum, n := 0.0, 0.0
		for _, rater := range t.raters {
			if v, ok := s.rated[name][rater]; ok {
				sum += t.worth(name, v) - severity[rater]
				n++
			}
		}
		if n > 0 {
			out[s.ID] = sum / n
		}
	}
	return out, notes, nil
}

// compare compares values by stint; raters who each drove their own are blocks.
func (t *table) compare(name string, values map[string]float64) (*compare.Result, error) {
	return t.compareOf(name, values, !t.shared && len(t.raters) > 1)
}

func (t *table) compareOf(name string, values map[string]float64, blocks bool) (*compare.Result, error) {
	log := programme.Log{}
	for _, s := range t.stints {
		v, ok := values[s.ID]
		if !ok {
			continue
		}
		st := s.Stint
		if blocks {
			for _, rater := range t.raters {
				if hasRater(s, rater) {
					st.Block = rater
				}
			}
		}
		log.Stints = append(log.Stints, st)
		run := programme.Run{ID: s.ID + "/sheet", Stint: s.ID, Number: 1}
		log.Runs = append(log.Runs, run)
		log.Observations = append(log.Observations, programme.Observation{Run: run.ID, Measure: "rating", Value: v})
	}
	set := t.in.Settings
	set.Scale = programme.Difference
	if set.Average == compare.Logs {
		set.Average = ""
	}
	if blocks {
		set.Block = "rater"
	}
	m := programme.Measure{ID: "rating", Title: name, Unit: "1", Better: programme.Higher, Scale: programme.Difference, Digits: 2,
		Error: "scatter of stint means alike for all codes", About: "rating points, " + attribute.ScaleOf(name).Words, Source: programme.Source{Key: programme.CommonPractice}}
	if !t.directed(name) {
		m.Better = programme.Undirected
	}
	return compare.Compare(compare.Input{Log: log, Measure: m, Control: t.in.Control, Settings: set})
}

func hasRater(s stint, rater string) bool {
	for _, by := range s.rated {
		if _, ok := by[rater]; ok {
			return true
		}
	}
	return false
}

// mean gives the mean rating of a code, as rated.
func (t *table) mean(name, code string) *float64 {
	sum, n := 0.0, 0
	for _, s := range t.stints {
		if s.Code != code {
			continue
		}
		for _, rater := range t.raters {
			if v, ok := s.rated[name][rater]; ok {
				sum += v
				n++
			}
		}
	}
	if n == 0 {
		return nil
	}
	sum /= float64(n)
	return &sum
}

// ratings gives what was rated, objects being codes or stints.
func (t *table) ratings(name string, codes bool) []agree.Rating {
	var out []agree.Rating
	for _, s := range t.stints {
		object := s.ID
		if codes {
			object = s.Code
		}
		for _, rater := range t.raters {
			if v, ok := s.rated[name][rater]; ok {
				out = append(out, agree.Rating{Object: object, Rater: rater, Value: v})
			}
		}
	}
	return out
}

// String names the kind of sheet.
func (s Sheet) String() string {
	if s == Anchored {
		return "anchored: the control’s rating is fixed and known"
	}
	return "free: the control is rated blind, like everything else"
}

// points writes points for a fault's text.
func points(v float64) string { return fmt.Sprintf("%.2f", v) }

func attributeMeasure(name string) programme.Measure {
	return programme.Measure{ID: "rating", Title: name, Unit: "1", Better: programme.Higher, Scale: programme.Difference}
}

func noSum(name string) error {
	return fault.New(fault.Invalid, "%s is best in the middle and cannot be summed", name).WithHint("leave its weight out: it stands beside the overall")
}

func noWeight(name string, w float64) error {
	return fault.New(fault.Invalid, "the weight of %s is %v", name, w).WithHint("weights are 0 or more; they are taken in proportion")
}

func noWeights() error {
	return fault.New(fault.Invalid, "no attribute that can be summed has a weight").WithHint("give weights to attributes that are best at the top")
}
