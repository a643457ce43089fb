package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/bookend/app/testplan"
	"example.org/bookend/clock"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Kinds of entry about the plan, each at version 1.
const (
	KindPlan   = "plan"   // body: PlanEntry
	KindOpened = "opened" // body: OpenedEntry; a verdict was looked at
	KindChange = "change" // body: ChangeEntry; something is done otherwise than planned
)

// PlanEntry freezes a plan. A later one amends it.
type PlanEntry struct {
	Plan   testplan.Plan `json:"plan"`
	SHA256 string        `json:"sha256"`
	Reason string        `json:"reason,omitempty"` // of an amendment
}

// OpenedEntry says that verdicts of a test were looked at, and what they were.
type OpenedEntry struct {
	Test     string           `json:"test"`
	Plan     string           `json:"plan,omitempty"` // its hash
	Stints   int              `json:"stints"`         // driven by then
	Measures []OpenedVerdicts `json:"measures"`
}

// OpenedVerdicts is what was seen of one measure.
type OpenedVerdicts struct {
	Measure  string          `json:"measure"`
	Place    string          `json:"place,omitempty"`
	Settings string          `json:"settings_sha256"`
	Verdicts []OpenedVerdict `json:"verdicts"`
}

// OpenedVerdict is one candidate's.
type OpenedVerdict struct {
	Code    string `json:"code"`
	Verdict string `json:"verdict"`
}

// ChangeEntry is a setting that differs from the plan, with its reason.
type ChangeEntry struct {
	Test    string `json:"test"`
	What    string `json:"what"`
	Planned string `json:"planned"`
	Used    string `json:"used"`
	Reason  string `json:"reason"`
}

// Change is one thing that was done otherwise than planned.
type Change struct {
	What    string `json:"what"`
	Planned string `json:"planned"`
	Used    string `json:"used"`
	Reason  string `json:"reason,omitempty"`
	Person  string `json:"person,omitempty"`
	At      string `json:"at,omitempty"`    // RFC 3339; a table keeps no times
	After   bool   `json:"after,omitempty"` // after a verdict had been opened
}

// Planned is how a comparison stands to its plan.
type Planned struct {
	SHA256  string
	Plan    *testplan.Plan
	Test    *testplan.Test
	Frozen  string // when, RFC 3339; empty for tables
	Person  string // who froze it
	Late    string // why it was not fixed before the first candidate; else empty
	Look    string // which look this is
	Changes []Change
	Both    *compare.Both // the planned verdict; nil where it is the one given
	Failed  string        // why there is no planned verdict; else empty

	recut    bool           // a cut was moved, or a recording assigned, after a look
	amended  *testplan.Test // by a later plan; nil: not
	amending Change         // who amended it, when and why
}

// recordMissing is what a plan is short of that counts on a record where there
// is none: nobody chose it.
const recordMissing = "the ground's record"

// Override turns the settings of the plan into those asked for.
type Override func(compare.Settings) (compare.Settings, error)

func (o Override) over(s compare.Settings) (compare.Settings, error) {
	if o == nil {
		return s, nil
	}
	return o(s)
}

// spelt gives the settings as they are spelt out for a measure.
func spelt(s compare.Settings, m programme.Measure) ([]compare.Spelled, error) {
	_, list, err := s.Complete(m)
	return list, err
}

// differing lists what is set otherwise than planned.
func differing(planned, used []compare.Spelled) []Change {
	value := func(list []compare.Spelled, key string) string {
		var all []string // profiles held beside are several
		for _, s := range list {
			if s.Key == key && s.Value != "" {
				all = append(all, s.Value)
			}
		}
		if len(all) == 0 {
			return "none"
		}
		return strings.Join(all, ", ")
	}
	var out []Change
	seen := map[string]bool{}
	for _, s := range append(planned[:len(planned):len(planned)], used...) {
		if p, u := value(planned, s.Key), value(used, s.Key); p != u && !seen[s.Key] {
			out = append(out, Change{What: s.Key, Planned: p, Used: u})
		}
		seen[s.Key] = true
	}
	return out
}

// byRecording marks exclusions that no person chose.
const byRecording = "bookend, by the recording"

// Waits tells whether a run is left out until somebody says whose its recording is, or
// because the recording does not hold all of it; a person did not leave it out.
func Waits(x programme.Exclusion) bool { return x.Person == byRecording }

// foreseen gives the log with those exclusions alone that the plan foresaw, and
// lists the others. opened tells when an exclusion was entered after a verdict
// had been opened; nil: never.
func foreseen(t *testplan.Test, log programme.Log, opened func(programme.Exclusion) bool) (programme.Log, []Change) {
	out := log
	out.Exclusions = nil
	var changes []Change
	for _, x := range log.Exclusions {
		after := opened != nil && opened(x)
		rule := t.ByRule(x.Reason)
		if x.Person == byRecording || rule && !after {
			out.Exclusions = append(out.Exclusions, x)
			continue
		}
		c := Change{What: "run " + x.Run, Planned: "compared", Used: "left out", Reason: x.Reason, Person: x.Person, After: after}
		if x.Measure != "" {
			c.What += ", " + x.Measure
		}
		if rule {
			c.Planned = "compared, as nobody had left it out"
		}
		if x.At.Known() {
			c.At = x.At.Time().Format(time.RFC3339)
		}
		changes = append(changes, c)
	}
	return out, changes
}

// follow compares as asked and, where that differs from the plan, as planned
// beside it. In is the comparison as asked, but for the settings, which are
// asked's; the planned one is on the log and with the record of planned. one
// compares one measure.
func (p *Planned) follow(in compare.Input, asked Override, planned compare.Input, reason, person string, known []Change, one func(compare.Input) (*compare.Both, error)) (*compare.Both, error) {
	base, err := p.Test.Settings(in.Measure.ID, in.Measure.Scale)
	if err != nil {
		return nil, err
	}
	base.Block = in.Settings.Block
	stints := driven(in.Log)
	var ripe bool
	var confidence float64
	p.Look, confidence, ripe = p.Test.Look(stints)
	if len(p.Test.Looks) > 0 || !ripe {
		base.Confidence = confidence
	}
	a, err := spelt(base, in.Measure)
	if err != nil {
		return nil, fault.At(err, "the plan")
	}
	from := base
	if p.amended != nil {
		if from, err = p.amended.Settings(in.Measure.ID, in.Measure.Scale); err != nil {
			return nil, err
		}
		from.Block, from.Confidence = base.Block, base.Confidence
		list, err := spelt(from, in.Measure)
		if err != nil {
			return nil, fault.At(err, "the plan as amended")
		}
		for _, c := range differing(a, list) {
			k := p.amending
			k.What, k.Planned, k.Used = c.What, c.Planned, c.Used
			known = append(known[:len(known):len(known)], k)
		}
	}
	used, err := asked.over(from)
	if err != nil {
		return nil, err
	}
	b, err := spelt(used, in.Measure)
	if err != nil {
		return nil, err
	}
	settings := differing(a, b)
	for i, c := range settings {
		at := slices.IndexFunc(known, func(k Change) bool { return k.What == c.What && k.Used == c.Used })
		switch {
		case at >= 0:
			settings[i] = known[at]
			settings[i].Planned = c.Planned
		case strings.TrimSpace(reason) == "":
			return nil, fault.New(fault.Invalid, "the plan has %s %s, and %s is asked for", c.What, c.Planned, c.Used).
				WithHint("say why, and both verdicts are shown: --reason TEXT")
		default:
			settings[i].Reason, settings[i].Person = strings.TrimSpace(reason), person
		}
	}
	same := len(settings) == 0 && !p.recut && len(planned.Log.Exclusions) == len(in.Log.Exclusions)
	if in.Record != nil || planned.Record != nil {
		sums := [2]string{}
		for i, r := range []*compare.Record{in.Record, planned.Record} {
			if r != nil {
				if sums[i], err = r.Hash(); err != nil {
					return nil, err
				}
			}
		}
		same = same && sums[0] == sums[1]
	}
	p.Changes = append(settings, p.Changes...)
	if p.Test.Record == compare.RecordUsed && used.Record != compare.RecordNone && in.Record == nil {
		p.Changes = append(p.Changes, Change{What: recordMissing, Planned: "used", Used: "none, as there is none that fits"})
	}
	in.Settings = used
	both, err := one(in)
	if err != nil {
		return nil, err
	}
	if !same {
		planned.Settings = base
		if p.Both, err = one(planned); err != nil {
			p.Both, p.Failed = nil, err.Error()
		}
	}
	if !ripe {
		p.Changes = append(p.Changes, Change{What: "look", Planned: looksPlanned(p.Test), Used: fmt.Sprintf("after %d stints", stints)})
		interim(both, p.Look)
		interim(p.Both, p.Look)
	}
	return both, nil
}

func looksPlanned(t *testplan.Test) string {
	var after []string
	for _, l := range t.Looks {
		after = append(after, fmt.Sprint(l.Stints))
	}
	return "after " + strings.Join(append(after, fmt.Sprint(t.Stints)), " and ") + " stints"
}

// interim takes the words of the verdicts away: there is none before a planned
// look.
func interim(b *compare.Both, look string) {
	if b == nil {
		return
	}
	for _, r := range []*compare.Result{b.Result, b.All} {
		if r == nil {
			continue
		}
		for i := range r.Rows {
			v := &r.Rows[i].Verdict
			about, why := v.About, v.AboutWhy
			*v = compare.Judge(compare.Grounds{DF: v.DF, Comparisons: v.Comparisons, Stints: v.Stints, Runs: v.Runs,
				About: about, AboutWhy: why, Withheld: "interim: " + look})
			r.Rows[i].Alone = nil
		}
	}
}

// driven counts the stints that have runs.
func driven(log programme.Log) int {
	with := map[string]bool{}
	for _, r := range log.Runs {
		with[r.Stint] = true
	}
	return len(with)
}

// inTable compares a table by its plan.
func (q *CompareRequest) inTable(in compare.Input) (*compare.Both, *Planned, error) {
	t, _ := q.Plan.Test("")
	hash, err := q.Plan.Hash()
	if err != nil {
		return nil, nil, err
	}
	p := &Planned{SHA256: hash, Plan: q.Plan, Test: t}
	planned, changes := foreseen(t, in.Log, nil)
	p.Changes = changes
	for i, c := range p.Changes {
		if c.Person == "" {
			p.Changes[i].Person = "the table"
		}
	}
	beside := in
	beside.Log = planned
	both, err := p.follow(in, q.Override, beside, q.Reason, q.Author, nil, compare.CompareBoth)
	return both, p, err
}

// fromPlan fills in what the plan says and the request does not; what it says
// otherwise is refused, being another question.
func (q *CompareRequest) fromPlan() error {
	t, ok := q.Plan.Test("")
	if !ok {
		return fault.New(fault.Invalid, "the plan is of %d tests, and a table is one", len(q.Plan.Tests)).WithHint("freeze it in a programme, or write a plan of one test")
	}
	other := func(what, planned, asked string) error {
		return fault.New(fault.Invalid, "the plan has %s %s, and %s is asked for", what, planned, asked).WithHint("that is another question: write another plan")
	}
	switch {
	case q.Control != "" && q.Control != q.Plan.Control:
		return other("control", q.Plan.Control, q.Control)
	case q.Better != "" && t.Better != "" && q.Better != t.Better:
		return other("better", string(t.Better), string(q.Better))
	case q.Scale != "" && t.Scale != "" && q.Scale != t.Scale:
		return other("scale", string(t.Scale), string(q.Scale))
	}
	q.Control = q.Plan.Control
	if t.Better != "" {
		q.Better = t.Better
	}
	if t.Scale != "" {
		q.Scale = t.Scale
	}
	if q.Measure == "" {
		q.Measure = t.First
	}
	if q.Better == "" {
		return fault.New(fault.Invalid, "neither the plan nor the request says which values are better").WithHint("--better higher, or --better lower")
	}
	return nil
}

// keptEntry is an entry about the plan with who kept it and when.
type keptEntry[T any] struct {
	sequence int64
	at       clock.Instant
	person   string
	body     T
}

// history is what happened to a test's plan, in order.
type history struct {
	plans     []keptEntry[PlanEntry]
	opened    []keptEntry[OpenedEntry]
	changes   []keptEntry[ChangeEntry]
	excluded  map[string]keptEntry[ExclusionEntry] // by entry
	withdrawn []keptEntry[ExclusionEntry]          // when and by whom it was taken back
	tables    []keptEntry[TableEntry]
	records   []keptEntry[RecordEntry]
	assigned  []keptEntry[AssignedEntry]
	unsaid    []keptEntry[AssignedEntry] // when and by whom it was taken back
	moved     []keptEntry[MovedEntry]
	unmoved   []keptEntry[MovedEntry]  // when and by whom it was taken back
	limits    []keptEntry[LimitsEntry] // of the run log
}

func historyOf(entries []programme.Entry, test string) (*history, error) {
	h := &history{excluded: map[string]keptEntry[ExclusionEntry]{}}
	moved, assigned := map[string]MovedEntry{}, map[string]AssignedEntry{}
	for _, e := range entries {
		var err error
		switch e.Kind {
		case KindPlan:
			var k keptEntry[PlanEntry]
			if k, err = keptOf[PlanEntry](e); err == nil {
				if _, ok := k.body.Plan.Test(test); ok {
					h.plans = append(h.plans, k)
				}
			}
		case KindOpened:
			var k keptEntry[OpenedEntry]
			if k, err = keptOf[OpenedEntry](e); err == nil && k.body.Test == test {
				h.opened = append(h.opened, k)
			}
		case KindChange:
			var k keptEntry[ChangeEntry]
			if k, err = keptOf[ChangeEntry](e); err == nil && k.body.Test == test {
				h.changes = append(h.changes, k)
			}
		case KindExclusion:
			var k keptEntry[ExclusionEntry]
			if k, err = keptOf[ExclusionEntry](e); err == nil && k.body.Test == test {
				h.excluded[e.ID] = k
			}
		case KindWithdrawal:
			if x, ok := h.excluded[e.Supersedes]; ok {
				h.withdrawn = append(h.withdrawn, keptEntry[ExclusionEntry]{e.Sequence, e.ServerTime, e.Author, x.body})
			}
			if m, ok := moved[e.Supersedes]; ok {
				h.unmoved = append(h.unmoved, keptEntry[MovedEntry]{e.Sequence, e.ServerTime, e.Author, m})
			}
			if a, ok := assigned[e.Supersedes]; ok {
				h.unsaid = append(h.unsaid, keptEntry[AssignedEntry]{e.Sequence, e.ServerTime, e.Author, a})
			}
		case KindMoved:
			var k keptEntry[MovedEntry]
			if k, err = keptOf[MovedEntry](e); err == nil && k.body.Test == test {
				h.moved, moved[e.ID] = append(h.moved, k), k.body
			}
		case KindAssigned:
			var k keptEntry[AssignedEntry]
			if k, err = keptOf[AssignedEntry](e); err == nil && k.body.Test == test {
				h.assigned, assigned[e.ID] = append(h.assigned, k), k.body
			}
		case KindLimits:
			var k keptEntry[LimitsEntry]
			if k, err = keptOf[LimitsEntry](e); err == nil && (k.body.Test == "" || k.body.Test == test) {
				h.limits = append(h.limits, k)
			}
		case KindRecord:
			var k keptEntry[RecordEntry]
			if k, err = keptOf[RecordEntry](e); err == nil && k.body.Test == test {
				h.records = append(h.records, k)
			}
		case KindTable:
			// A table is long, and most are another test's.
			if !mayName(e.Body, test) {
				continue
			}
			var of keptEntry[ofTest]
			if of, err = keptOf[ofTest](e); err == nil && of.body.Test == test {
				var k keptEntry[TableEntry]
				if k, err = keptOf[TableEntry](e); err == nil {
					h.tables = append(h.tables, k)
				}
			}
		}
		if err != nil {
			return nil, err
		}
	}
	return h, nil
}

// mayName tells whether JSON can hold a string: it does so letter by letter unless
// something in it is escaped.
func mayName(body []byte, s string) bool {
	q, err := json.Marshal(s)
	return err != nil || bytes.IndexByte(q, '\\') >= 0 || bytes.Contains(body, q) || bytes.IndexByte(body, '\\') >= 0
}

// ofTest is what tells whose an entry is.
type ofTest struct {
	Test string `json:"test"`
}

func keptOf[T any](e programme.Entry) (keptEntry[T], error) {
	k := keptEntry[T]{sequence: e.Sequence, at: e.ServerTime, person: e.Author}
	if err := json.Unmarshal(e.Body, &k.body); err != nil {
		return k, fault.New(fault.Internal, "reading entry %d (%s): %w", e.Sequence, e.Kind, err)
	}
	return k, nil
}

// changesAfter gives what entries changed after a look: who kept each, and when, beside
// what tell says of it.
func changesAfter[T any](h *history, list []keptEntry[T], tell func(T) Change) []Change {
	var out []Change
	for _, k := range list {
		if h.after(k.sequence) {
			c := tell(k.body)
			c.Person, c.At, c.After = k.person, stamp(k.at), true
			out = append(out, c)
		}
	}
	return out
}

func stamp(at clock.Instant) string { return at.Time().Format(time.RFC3339) }

// after tells whether an entry was kept after a verdict had been opened.
func (h *history) after(sequence int64) bool {
	return len(h.opened) > 0 && sequence > h.opened[0].sequence
}

// inForce gives the plan that the first verdict follows: the last one frozen
// before a verdict was opened, else the first one after.
func (h *history) inForce() (keptEntry[PlanEntry], bool) {
	var out keptEntry[PlanEntry]
	for i, p := range h.plans {
		if i == 0 || !h.after(p.sequence) {
			out = p
		}
	}
	return out, len(h.plans) > 0
}

// PlanInForce gives the plan that is in force for a test; nil where none is frozen.
func (f *Folder) PlanInForce(ctx context.Context, test string) (*testplan.Plan, error) {
	entries, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	h, err := historyOf(entries, test)
	if err != nil {
		return nil, err
	}
	force, ok := h.inForce()
	if !ok {
		return nil, nil
	}
	return &force.body.Plan, nil
}

// planned gives how a test stands to its plan, with all that was changed; nil
// where no plan is frozen. The log is turned into the planned one.
func (h *history) planned(test string, log programme.Log) (*Planned, programme.Log, error) {
	force, ok := h.inForce()
	if !ok {
		return nil, log, nil
	}
	t, _ := force.body.Plan.Test(test)
	p := &Planned{SHA256: force.body.SHA256, Plan: &force.body.Plan, Test: t, Frozen: stamp(force.at), Person: force.person}
	before := 0
	for _, k := range h.tables {
		if k.sequence < force.sequence {
			before += driven(k.body.Log)
		}
	}
	switch {
	case h.after(force.sequence):
		p.Late = "it was frozen after a verdict had been opened"
	case before > 0:
		p.Late = fmt.Sprintf("it was frozen when %d stints had been entered already", before)
	}
	for _, k := range h.plans {
		if k.sequence > force.sequence {
			c := Change{What: "plan", Planned: short(force.body.SHA256), Used: "amended to " + short(k.body.SHA256),
				Reason: k.body.Reason, Person: k.person, At: stamp(k.at), After: h.after(k.sequence)}
			p.Changes, p.amending = append(p.Changes, c), c
			p.amended, _ = k.body.Plan.Test(test)
		}
	}
	at := map[string]keptEntry[ExclusionEntry]{}
	for _, k := range h.excluded {
		if o, ok := at[exclusionKey(k.body.Exclusion)]; !ok || k.sequence > o.sequence {
			at[exclusionKey(k.body.Exclusion)] = k
		}
	}
	planned, changes := foreseen(t, log, func(x programme.Exclusion) bool {
		k, ok := at[exclusionKey(x)]
		return ok && h.after(k.sequence)
	})
	p.Changes = append(p.Changes, changes...)
	for _, k := range h.withdrawn {
		x := k.body.Exclusion
		if !h.after(k.sequence) || !t.ByRule(x.Reason) || slices.ContainsFunc(log.Exclusions, func(o programme.Exclusion) bool { return o.Run == x.Run && o.Measure == x.Measure }) {
			continue
		}
		planned.Exclusions = append(planned.Exclusions, x)
		p.Changes = append(p.Changes, Change{What: "run " + x.Run, Planned: "left out: " + x.Reason, Used: "compared", Person: k.person, At: stamp(k.at), After: true})
	}
	for _, k := range h.records {
		if h.after(k.sequence) && k.body.Reason != "" {
			p.Changes = append(p.Changes, Change{What: "record", Planned: "as copied before", Used: "copied anew from the ground", Reason: k.body.Reason,
				Person: k.person, At: stamp(k.at), After: true})
		}
	}
	for _, k := range h.tables {
		if h.after(k.sequence) && (t.Stints == 0 || driven(log) > t.Stints) {
			p.Changes = append(p.Changes, Change{What: "stints", Planned: "those there were", Used: fmt.Sprintf("%d more, of %s", driven(k.body.Log), k.body.Name),
				Person: k.person, At: stamp(k.at), After: true})
		}
	}
	held := "the usual ones"
	for _, k := range h.limits {
		now := k.body.Profile.ID + "/" + fmt.Sprint(k.body.Profile.Version)
		if k.sequence > force.sequence {
			p.Changes = append(p.Changes, Change{What: "limits of the run log", Planned: held, Used: now, Person: k.person, At: stamp(k.at), After: h.after(k.sequence)})
			continue
		}
		held = now
	}
	p.Changes = append(p.Changes, h.reassigned()...)
	p.Changes = append(p.Changes, h.recuts()...)
	return p, planned, nil
}

// recordBefore gives the rows of the ground's record that were copied for a
// measure before a verdict was opened; nil where none were.
func (h *history) recordBefore(measure, place string) *compare.Record {
	var out *compare.Record
	for _, k := range h.records {
		for _, c := range k.body.Copied {
			if c.Key.Measure == measure && c.Key.Place == place && !h.after(k.sequence) {
				if out = nil; len(c.Stints) > 0 {
					out = c.Rows()
				}
			}
		}
	}
	return out
}

func exclusionKey(x programme.Exclusion) string {
	return x.Run + "\x00" + x.Measure + "\x00" + x.Reason
}

// known gives the changes of settings that were reasoned already.
func (h *history) known() []Change {
	var out []Change
	for _, k := range h.changes {
		out = append(out, Change{What: k.body.What, Planned: k.body.Planned, Used: k.body.Used, Reason: k.body.Reason,
			Person: k.person, At: stamp(k.at), After: h.after(k.sequence)})
	}
	return out
}

func short(sum string) string { return sum[:min(len(sum), 12)] }

// compareOf compares one measure of a test by its plan, where one is frozen. A
// change that is new is entered, with its reason, before its effect is given out.
func (f *Folder) compareOf(ctx context.Context, h *history, in compare.Input, test string, asked Override, reason string) (*compare.Both, *Planned, error) {
	p, planned, err := h.planned(test, in.Log)
	if err != nil {
		return nil, nil, err
	}
	if p == nil {
		if in.Settings, err = asked.over(in.Settings); err != nil {
			return nil, nil, err
		}
		both, err := f.compareBoth(test, in)
		return both, nil, err
	}
	if in.Control != p.Plan.Control {
		return nil, nil, fault.New(fault.Invalid, "the plan has control %s, and %s is asked for", p.Plan.Control, in.Control).
			WithHint("that is another question: write another plan")
	}
	if then, ok, err := f.asLooked(ctx, h, test); err != nil {
		return nil, nil, err
	} else if ok {
		if _, planned, err = h.planned(test, then); err != nil {
			return nil, nil, err
		}
		p.recut = true
	}
	known := h.known()
	beside := in
	beside.Log = planned
	if len(h.opened) > 0 {
		beside.Record = h.recordBefore(in.Measure.ID, in.Place)
	}
	both, err := p.follow(in, asked, beside, reason, f.Author, known, func(in compare.Input) (*compare.Both, error) { return f.compareBoth(test, in) })
	if err != nil {
		return nil, nil, err
	}
	for i, c := range p.Changes {
		if c.At != "" || c.What == "look" || c.What == recordMissing || strings.HasPrefix(c.What, "run ") || strings.HasPrefix(c.What, "recording ") {
			continue
		}
		body := ChangeEntry{Test: test, What: c.What, Planned: c.Planned, Used: c.Used, Reason: c.Reason}
		if err := f.Put(ctx, KindChange, "", body); err != nil {
			return nil, nil, err
		}
		e := keptEntry[ChangeEntry]{sequence: 1 << 62, at: clock.Instant{UnixNS: f.Now().UnixNano(), Clock: clock.Device}, person: f.Author, body: body}
		h.changes = append(h.changes, e)
		p.Changes[i].At, p.Changes[i].After = stamp(e.at), len(h.opened) > 0
	}
	return both, p, nil
}

// open enters that verdicts were looked at, once for what was seen.
func (f *Folder) open(ctx context.Context, h *history, test, plan string, stints int, seen []*compare.Both) error {
	body, err := h.unseen(test, plan, stints, seen)
	if err != nil || len(body.Measures) == 0 {
		return err
	}
	return f.Put(ctx, KindOpened, "", body)
}

// unseen gives what of a look nobody has seen before.
func (h *history) unseen(test, plan string, stints int, seen []*compare.Both) (OpenedEntry, error) {
	body := OpenedEntry{Test: test, Plan: plan, Stints: stints, Measures: []OpenedVerdicts{}}
	for _, b := range seen {
		if b == nil {
			continue
		}
		r := b.Result
		o := OpenedVerdicts{Measure: r.Measure.ID, Place: r.Place, Verdicts: []OpenedVerdict{}}
		settings := map[string]string{}
		for _, s := range r.Spelled {
			settings[s.Key] = s.Value
		}
		var err error
		if o.Settings, err = programme.Hash(settings); err != nil {
			return body, err
		}
		for _, row := range r.Rows {
			o.Verdicts = append(o.Verdicts, OpenedVerdict{row.Code, row.Verdict.Word.Key()})
		}
		already := func(k keptEntry[OpenedEntry]) bool {
			return k.body.Stints == stints && k.body.Plan == plan && slices.ContainsFunc(k.body.Measures, func(x OpenedVerdicts) bool {
				return x.Measure == o.Measure && x.Place == o.Place && x.Settings == o.Settings && slices.Equal(x.Verdicts, o.Verdicts)
			})
		}
		if !slices.ContainsFunc(h.opened, already) {
			body.Measures = append(body.Measures, o)
		}
	}
	return body, nil
}

// FreezePlan freezes a plan in the programme, or amends the frozen one with a
// reason. It says what the plan's hash is, and whether it was frozen already.
func (f *Folder) FreezePlan(ctx context.Context, p *testplan.Plan, reason string) (sum string, again bool, err error) {
	if err := p.Check(); err != nil {
		return "", false, err
	}
	for _, t := range p.Tests {
		if t.Test == "" && len(p.Tests) == 1 {
			continue
		}
		if t.Test == "" {
			return "", false, fault.New(fault.Invalid, "a test of the plan has no name").WithHint(`"test": "wet-stop", as it is imported`)
		}
	}
	if sum, err = p.Hash(); err != nil {
		return "", false, err
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return "", false, err
	}
	if n := len(s.Plans); n > 0 {
		switch {
		case s.Plans[n-1].SHA256 == sum:
			return sum, true, nil
		case strings.TrimSpace(reason) == "":
			return "", false, fault.New(fault.Conflict, "a plan is frozen already, %s", short(s.Plans[n-1].SHA256)).
				WithHint("to amend it, say why: --reason TEXT; the report lists it")
		}
	} else {
		reason = ""
	}
	return sum, false, f.Put(ctx, KindPlan, "", PlanEntry{Plan: *p, SHA256: sum, Reason: strings.TrimSpace(reason)})
}
