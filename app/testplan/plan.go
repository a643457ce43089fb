// Package testplan is the plan of a programme as it is written before the first
// candidate is driven: the first measure of each test, margin, sides, correction,
// covariates, the rules for leaving runs out, and the looks.
//
// A plan is read from JSON, refused by name where it says nothing that can be
// followed, and known by its hash once it is frozen; whether verdicts follow it is said
// by package app. Margins are those of the measure, in per cent or in its unit.
package testplan

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/unit"
)

// Schema is the plan's name and version in its JSON.
const Schema = "bookend.plan/1"

// Plan says before the first candidate is driven how verdicts will be come by.
// Frozen, it is known by the SHA-256 of its canonical JSON; whatever is done
// otherwise later is shown as a change, with the planned verdict beside it.
type Plan struct {
	Schema  string `json:"schema"`
	Title   string `json:"title,omitempty"`
	Control string `json:"control"`
	Tests   []Test `json:"tests"`
}

// Test is how one test will be judged. What is left empty is decided by the
// defaults, and a plan that leaves it so has decided for them.
type Test struct {
	Test          string             `json:"test,omitempty"` // may be empty where there is one
	First         string             `json:"first"`          // the measure that answers the question
	Better        programme.Better   `json:"better,omitempty"`
	Scale         programme.Scale    `json:"scale,omitempty"`
	Margin        string             `json:"margin,omitempty"`  // of the first measure: index points (1), or with a unit (0.20m)
	Margins       map[string]string  `json:"margins,omitempty"` // of other measures, by id
	Sided         compare.Sides      `json:"sided,omitempty"`
	Drift         compare.Drift      `json:"drift,omitempty"`
	DriftPerBlock compare.Drift      `json:"drift_per_block,omitempty"`
	By            compare.By         `json:"by,omitempty"`
	When          compare.When       `json:"when,omitempty"`
	Reference     compare.Reference  `json:"reference,omitempty"`
	Average       compare.Average    `json:"average,omitempty"`
	Covariates    []string           `json:"covariates,omitempty"`
	Model         compare.Model      `json:"model,omitempty"`
	RunNumber     compare.RunNumber  `json:"run_number,omitempty"`
	TyreByBlock   compare.Across     `json:"tyre_by_block,omitempty"`
	Open          compare.Open       `json:"open,omitempty"`
	Ceiling       string             `json:"ceiling,omitempty"` // of a threshold: highest entry speed that the ground allows, with its unit
	Record        compare.Borrowing  `json:"record,omitempty"`  // the ground's record of the control: used, or none
	Limits        *programme.Profile `json:"limits,omitempty"`  // the evaluator's own limits of what is valid
	Beside        []string           `json:"beside,omitempty"`  // published editions whose limits are held beside, by id
	Weights       map[string]float64 `json:"weights,omitempty"` // what rated attributes weigh in the overall, of the client; relative to each other
	SetSD         *float64           `json:"set_sd,omitempty"`
	SetSDSource   string             `json:"set_sd_source,omitempty"`
	Confidence    float64            `json:"confidence,omitempty"`
	Filters       []string           `json:"filters,omitempty"` // of recordings, in words; a test with a procedure has them as its parameters
	Exclusions    []Rule             `json:"exclusions,omitempty"`
	Stints        int                `json:"stints,omitempty"` // how many will be driven; 0: as many as there are
	Looks         []Look             `json:"looks,omitempty"`
}

// Rule is a reason that leaves a run out, foreseen.
type Rule struct {
	ID   string `json:"id"`   // "traffic": an exclusion's reason begins with it
	Text string `json:"text"` // when it is used
}

// Look is a look at the verdicts before all stints are driven, and the part
// of the error that it spends. What the looks leave is for the end; all verdicts
// together, at all looks, then err no more often than the plan's confidence says
// (Bonferroni).
type Look struct {
	Stints int     `json:"stints"`
	Spends float64 `json:"spends"` // of the 0.05, say 0.01
}

// Read reads a plan. A key that is not known is refused: nobody must
// believe in a setting that nothing reads.
func Read(name string, data []byte) (*Plan, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	p := &Plan{}
	if err := d.Decode(p); err != nil {
		return nil, fault.New(fault.Invalid, "it is no plan: %w", err).At("%s", name).
			WithHint("bookend plan draft writes one to begin with")
	}
	if d.More() {
		return nil, fault.New(fault.Invalid, "something follows the plan").At("%s", name).WithHint("one file holds one plan")
	}
	if err := p.Check(); err != nil {
		return nil, fault.At(err, "%s", name)
	}
	return p, nil
}

// Hash gives the SHA-256 of the plan's canonical JSON.
func (p *Plan) Hash() (string, error) { return programme.Hash(p) }

// Check refuses a plan that cannot be followed.
func (p *Plan) Check() error {
	switch {
	case p.Schema != Schema:
		return fault.New(fault.Unsupported, "its schema is %q, not %q", p.Schema, Schema).WithHint("bookend plan draft writes one to begin with")
	case p.Control == "":
		return fault.New(fault.Invalid, "the plan names no control").WithHint(`"control": "K"`)
	case len(p.Tests) == 0:
		return fault.New(fault.Invalid, "the plan has no test").WithHint(`"tests": [{"first": "value", ...}]`)
	}
	for i := range p.Tests {
		t := &p.Tests[i]
		at := "test " + strconv.Itoa(i+1)
		if t.Test != "" {
			at = "test " + t.Test
		}
		for _, o := range p.Tests[:i] {
			if o.Test == t.Test {
				return fault.New(fault.Invalid, "%s stands twice", at).WithHint("each test has a name of its own and one first measure")
			}
		}
		if err := t.check(); err != nil {
			return fault.At(err, "%s", at)
		}
	}
	return nil
}

func (t *Test) check() error {
	if t.First == "" {
		return fault.New(fault.Invalid, "no first measure is named").WithHint("one measure answers the question; the others are description")
	}
	if t.Better != "" && t.Better != programme.Higher && t.Better != programme.Lower {
		return fault.New(fault.Invalid, "%q says not which values are better", t.Better).WithHint("higher, or lower")
	}
	for i, r := range t.Exclusions {
		if strings.TrimSpace(r.ID) == "" || strings.TrimSpace(r.Text) == "" {
			return fault.New(fault.Invalid, "rule %d for leaving runs out has no id or no text", i+1).WithHint(`{"id": "traffic", "text": "another vehicle within 100 m"}`)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(t.Weights)) {
		if w := t.Weights[id]; strings.TrimSpace(id) == "" || !(w > 0) || w > mostWeight {
			return fault.New(fault.Invalid, "%q weighs %v", id, w).At("weights").WithHint("an attribute and a number above 0, relative to the others: grip=3")
		}
		if attribute.ScaleOf(id).Middle {
			return fault.New(fault.Invalid, "%s is best in the middle and cannot be summed", id).At("weights").WithHint("leave its weight out: it stands beside the overall")
		}
	}
	if t.Stints < 0 {
		return fault.New(fault.Invalid, "%d stints are planned", t.Stints)
	}
	alpha := 1 - t.confidence()
	spent := 0.0
	for i, l := range t.Looks {
		switch {
		case t.Stints == 0:
			return fault.New(fault.Invalid, "there are looks, but it is not said how many stints will be driven").WithHint(`"stints": 13`)
		case l.Stints < 1 || l.Stints >= t.Stints || i > 0 && l.Stints <= t.Looks[i-1].Stints:
			return fault.New(fault.Invalid, "look %d is after %d stints", i+1, l.Stints).WithHint("looks stand in order, before the last stint")
		case !(l.Spends > 0):
			return fault.New(fault.Invalid, "look %d spends %v of the error", i+1, l.Spends).WithHint("a look that may lead to a verdict spends some: 0.01")
		}
		spent += l.Spends
	}
	if len(t.Looks) > 0 && spent >= alpha*(1-1e-9) {
		return fault.New(fault.Invalid, "the looks spend %.4g of the error, and there is %.4g of it", spent, alpha).WithHint("leave some for the end")
	}
	scale := t.Scale
	if scale == "" {
		scale = programme.Ratio
	}
	if t.Ceiling != "" {
		if _, err := ParseCeiling(t.Ceiling); err != nil {
			return err
		}
	}
	for id, m := range t.Margins {
		if id == t.First {
			return fault.New(fault.Invalid, "the first measure's margin stands twice").WithHint("give it as margin alone")
		}
		if _, err := ParseMargin(m, string(scale)); err != nil {
			return fault.At(err, "margin of %s", id)
		}
	}
	set, err := t.Settings(t.First, scale)
	if err != nil {
		return err
	}
	better := t.Better
	if better == "" {
		better = programme.Higher
	}
	in := "1" // what the measure is in is not the plan's to say: a margin is taken at its word
	if set.Margin != nil && set.Margin.Typed != "" {
		in = set.Margin.Typed
	}
	_, _, err = set.Complete(programme.Measure{ID: t.First, Title: t.First, Better: better, Scale: scale, Unit: in})
	return err
}

// mostWeight bounds a weight, bookend's own: weights are relative to each other.
const mostWeight = 1e6

// Weighed spells what rated attributes weigh, in per cent of their sum; empty where nothing does.
func (t *Test) Weighed() string {
	sum := 0.0
	ids := slices.Sorted(maps.Keys(t.Weights))
	for _, id := range ids {
		sum += t.Weights[id]
	}
	var out []string
	for _, id := range ids {
		out = append(out, strings.ReplaceAll(id, "_", " ")+" "+unit.Number(100*t.Weights[id]/sum, 0, unit.Plain)+" %")
	}
	return strings.Join(out, ", ")
}

func (t *Test) confidence() float64 {
	if t.Confidence == 0 {
		return 0.95 // as compare has it
	}
	return t.Confidence
}

// Settings gives the plan's settings for a measure of the test.
func (t *Test) Settings(measure string, scale programme.Scale) (compare.Settings, error) {
	s := compare.Settings{
		Drift: t.Drift, DriftPerBlock: t.DriftPerBlock, By: t.By, When: t.When, Reference: t.Reference, Average: t.Average,
		Covariates: t.Covariates, Sided: t.Sided, Model: t.Model, RunNumber: t.RunNumber, TyreByBlock: t.TyreByBlock,
		Open: t.Open, Record: t.Record, SetSD: t.SetSD, SetSDSource: t.SetSDSource, Confidence: t.Confidence, Scale: scale,
	}
	for _, id := range t.Beside {
		s.Profiles = append(s.Profiles, programme.Profile{ID: id})
	}
	if t.Limits != nil {
		s.Profiles = append(s.Profiles, *t.Limits)
	}
	if scale != programme.Ratio && s.Average == compare.Logs {
		s.Average = "" // means nothing to a difference
	}
	if t.Ceiling != "" && scale == programme.Threshold {
		v, err := ParseCeiling(t.Ceiling)
		if err != nil {
			return s, err
		}
		s.Ceiling = &v
	}
	text := t.Margins[measure]
	if measure == t.First {
		text = t.Margin
	}
	if text != "" {
		m, err := ParseMargin(text, string(scale))
		if err != nil {
			return s, err
		}
		s.Margin = m
	}
	return s, nil
}

// Look says which look it is after so many stints: its words, the confidence
// that it has, and whether it was planned.
func (t *Test) Look(stints int) (words string, confidence float64, planned bool) {
	confidence = t.confidence()
	left := confidence
	for _, l := range t.Looks {
		left += l.Spends
	}
	if t.Stints == 0 || stints >= t.Stints {
		return "at the end", left, true
	}
	for i, l := range t.Looks {
		if l.Stints == stints {
			return fmt.Sprintf("planned look %d, after %d of %d stints", i+1, stints, t.Stints), 1 - l.Spends, true
		}
	}
	return fmt.Sprintf("a look that was not planned, after %d of %d stints", stints, t.Stints), left, false
}

// ByRule tells whether an exclusion's reason is one that the plan foresaw.
func (t *Test) ByRule(reason string) bool {
	reason = strings.ToLower(strings.TrimSpace(reason))
	return slices.ContainsFunc(t.Exclusions, func(r Rule) bool {
		rest, ok := strings.CutPrefix(reason, strings.ToLower(strings.TrimSpace(r.ID)))
		return ok && (rest == "" || strings.ContainsAny(rest[:1], " :,;.("))
	})
}

// Test gives the plan of a test; the only one where it has no name.
func (p *Plan) Test(id string) (*Test, bool) {
	for i := range p.Tests {
		if p.Tests[i].Test == id {
			return &p.Tests[i], true
		}
	}
	if len(p.Tests) == 1 && (p.Tests[0].Test == "" || id == "") {
		return &p.Tests[0], true
	}
	return nil, false
}

// Lines spells the plan of a test out, key by key, for people.
func (t *Test) Lines() [][2]string {
	or := func(v, otherwise string) string {
		if v == "" {
			return otherwise
		}
		return strings.ReplaceAll(v, "_", " ")
	}
	sides := map[compare.Sides]string{"": "two-sided: worse is asked for too", compare.TwoSided: "two-sided: worse is asked for too", compare.OneSided: "one-sided: better alone"}
	drift := or(string(t.Drift), "bracket")
	if t.Drift == "" && (t.DriftPerBlock != "" || len(t.Covariates) > 0) {
		drift = "linear"
	}
	out := [][2]string{
		{"first measure", t.First}, {"margin", or(t.Margin, "none: nothing is called the same")}, {"sides", sides[t.Sided]},
		{"correction", drift + ", by " + or(string(t.By), "position") + ", " + or(string(t.When), "always")},
		{"covariates", or(strings.Join(t.Covariates, ", "), "none")},
		{"confidence", unit.Shortest(t.confidence())},
		{"filters", or(strings.Join(t.Filters, "; "), "as the procedure has them")},
	}
	record := "the ground's, where there is one that fits"
	if t.Record == compare.RecordNone {
		record = "none: the test's own scatter alone"
	}
	out = append(out, [2]string{"record", record})
	limits := slices.Clone(t.Beside)
	if t.Limits != nil {
		for _, l := range t.Limits.Limits {
			limits = append(limits, limitText(l))
		}
	}
	out = append(out, [2]string{"own limits", or(strings.Join(limits, "; "), "none")})
	if w := t.Weighed(); w != "" {
		out = append(out, [2]string{"weights", w})
	}
	if t.Ceiling != "" {
		out = append(out, [2]string{"ceiling", t.Ceiling + ", set beforehand by the ground"})
	}
	if t.DriftPerBlock != "" {
		out = append(out, [2]string{"drift per block", string(t.DriftPerBlock)})
	}
	if len(t.Exclusions) == 0 {
		out = append(out, [2]string{"left out", "nothing that a rule foresees"})
	}
	for _, r := range t.Exclusions {
		out = append(out, [2]string{"left out", r.ID + ": " + r.Text})
	}
	if t.Stints > 0 {
		out = append(out, [2]string{"stints", strconv.Itoa(t.Stints)})
	}
	looks := "none before the end"
	for i, l := range t.Looks {
		if i == 0 {
			looks = ""
		} else {
			looks += ", "
		}
		looks += fmt.Sprintf("after %d stints, spending %s of %s", l.Stints, unit.Shortest(l.Spends), strconv.FormatFloat(1-t.confidence(), 'g', 3, 64))
	}
	return append(out, [2]string{"looks", looks})
}

// limitText says a limit in words, as its file has it.
func limitText(l programme.Limit) string {
	text := strings.TrimSuffix(l.Field, "_"+l.Unit)
	if l.Of != "" {
		text += " of " + l.Of
	}
	switch {
	case l.Low != nil && l.High != nil:
		text += " " + unit.Shortest(*l.Low) + " to " + unit.Shortest(*l.High)
	case l.Low != nil:
		text += " from " + unit.Shortest(*l.Low)
	case l.High != nil:
		text += " to " + unit.Shortest(*l.High)
	}
	return strings.ReplaceAll(strings.TrimSpace(text+" "+l.Unit), "_", " ")
}

// ParseCeiling reads the highest entry speed that a ground allows, with its unit, and
// gives it in m/s.
func ParseCeiling(text string) (float64, error) {
	v, u, err := unit.ParseQuantity(text)
	if err != nil {
		return 0, fault.At(err, "ceiling")
	}
	if u.IsZero() || u.Dimension() != unit.Speed || !(v > 0) {
		return 0, fault.New(fault.Invalid, "the ceiling %q is no speed", text).WithHint("with its unit: 90km/h")
	}
	return u.ToHouse(v), nil
}

// ParseMargin reads a margin: a bare number is index points on the ratio scale
// and the measure's own unit on the others.
func ParseMargin(text, scale string) (*compare.Margin, error) {
	if v, err := strconv.ParseFloat(text, 64); err == nil && v > 0 && v <= 1e12 {
		return &compare.Margin{Value: v, InUnit: scale != string(programme.Ratio), Bare: true}, nil
	}
	v, u, err := unit.ParseQuantity(text)
	if err != nil {
		return nil, fault.At(err, "margin")
	}
	value := v
	if u != (unit.Unit{}) { // a bare number that is not above 0 comes here too
		value = u.DifferenceToHouse(v)
	}
	if !(value > 0) || u == (unit.Unit{}) {
		return nil, fault.New(fault.Invalid, "the margin %q is not greater than 0", text).WithHint("for example 1, or 0.20m")
	}
	return &compare.Margin{Value: value, InUnit: true, Typed: u.Symbol()}, nil
}
