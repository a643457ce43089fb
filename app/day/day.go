// Package day is what the entries of a run log amount to: a view, rebuilt from
// them whenever it is wanted and never changed alone.
//
// It puts stints and runs in order, ties readings of the day to runs, holds runs
// that an incident put in doubt until somebody released them, links a set whose
// tyre was changed to the old one, and shows what two devices said differently.
// Nothing is decided in silence: the first entry stands, the other is shown.
//
// Moments are nanoseconds of UTC. What a person typed as the moment counts;
// otherwise the device's clock does, mended by the offset that the device itself
// gave, or, where its entries arrive before they were made, by as much as that
// proves it to be ahead. A clock that is behind cannot be told from a network that
// is late, and is left alone.
//
// Water depth between two readings of a spot lies on the line between them, with
// the variance of both and that of a random walk tied down at both ends (a
// Brownian bridge) whose step is taken from the readings of the same cycle. It is
// never carried over a new wetting, and not beyond the last reading.
package day

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/unit"
)

// Logged is an entry of the run log and when what it tells of was.
type Logged struct {
	Entry programme.Entry
	When  int64 // ns of UTC
}

// Run is one run as logged, with what is known of the moment.
type Run struct {
	Logged
	runlog.RunBody
	ID       string // stint/run
	Results  []Result
	HeldBy   []string // entries of open incidents: it is not compared
	LeftOut  string   // why it is left out; empty: it counts
	Releaser string   // who said so
}

// Result is a value read off by a person.
type Result struct {
	Logged
	runlog.TimesBody
}

// Stint is one set on the vehicle as logged.
type Stint struct {
	Logged
	runlog.StintBody
	Runs   []*Run
	Closed []string // raters whose sheets are closed
	broken bool     // an incident's release declared a break before it
}

// Incident is something that went wrong, with its release where there is one.
type Incident struct {
	Logged
	runlog.IncidentBody
	Release *Release
	Held    []string // test and run of each run in doubt, in order: "lap 4/2"
}

// Release is what an inspection found.
type Release struct {
	Logged
	runlog.ReleaseBody
}

// Set is a set as it stands: the numbers of its tyres by position, and the set
// that it was made of where a tyre was changed.
type Set struct {
	ID, Code, Size string
	Tyres          map[string]string // number by position
	From           string            // the set before the tyre was changed
	Changed        string            // the position that was changed
	Reason         string
	Lost           bool
}

// Clash is entries that say different things of the same: the first stands.
type Clash struct {
	Kind, What string
	Stands     string   // id of the entry that stands
	Others     []string // ids of those that do not
}

// Corrected gives the id of the entry that several correct; false of a clash between
// entries that were made independently.
func (c Clash) Corrected() (id string, ok bool) { return strings.CutPrefix(c.What, correctionOf) }

// correctionOf is how the matter of a clash between corrections begins.
const correctionOf = "correction of entry "

// View is the run log of a programme as it stands.
type View struct {
	Entries    []Logged // of the run log, in the server's order
	Stints     []*Stint // by test, then in the order driven
	Incidents  []*Incident
	Sets       []*Set
	Ratings    []Rating
	Conditions []Reading
	Depths     []DepthReading
	Wettings   []Water
	Deviations []Deviation
	Clashes    []Clash
	Caveats    caveat.List

	cycles map[string][]cycle // wettings by test
	stints map[string]*Stint  // by test and stint
}

// Rating is a rating as logged.
type Rating struct {
	Logged
	runlog.RatingBody
}

// otherScale tells a balance that was rated from 1 to 10, as entries of version 1 are:
// it cannot be laid beside one from -3 to 3.
func (r Rating) otherScale() bool {
	return r.Entry.Version == 1 && attribute.ScaleOf(r.Attribute).Middle
}

// Reading is a reading of the day.
type Reading struct {
	Logged
	runlog.ConditionsBody
}

// DepthReading is a reading of water depth.
type DepthReading struct {
	Logged
	runlog.DepthBody
}

// Water is a wetting that starts or stops.
type Water struct {
	Logged
	runlog.WettingBody
}

// Deviation is a departure from the plan.
type Deviation struct {
	Logged
	runlog.DeviationBody
}

// Standing gives the entries that count, in the server's order: those that
// nothing superseded. Where two correct the same entry the first stands and the
// clash is told. origin gives, by an entry's id, the first entry of its line of
// corrections.
func Standing(entries []programme.Entry) (live []programme.Entry, origin map[string]programme.Entry, clashes []Clash) {
	gone := map[string]bool{}
	origin = map[string]programme.Entry{}
	for _, e := range entries {
		origin[e.ID] = e
		if e.Supersedes != "" {
			gone[e.Supersedes] = true
			if o, ok := origin[e.Supersedes]; ok {
				origin[e.ID] = o
			}
		}
	}
	at := map[string]int{}
	for _, e := range entries {
		if gone[e.ID] || e.Kind == programme.Withdrawal {
			continue
		}
		root := origin[e.ID].ID
		if i, ok := at[root]; ok {
			clashes[i].Others = append(clashes[i].Others, e.ID)
			continue
		}
		at[root] = len(clashes)
		clashes = append(clashes, Clash{Kind: e.Kind, What: correctionOf + root, Stands: e.ID})
		live = append(live, e)
	}
	return live, origin, slices.DeleteFunc(clashes, func(c Clash) bool { return len(c.Others) == 0 })
}

// Build makes the view of all entries of a programme, in the server's order;
// those of other kinds are passed over.
func Build(entries []programme.Entry) (*View, error) {
	live, origin, clashes := Standing(entries)
	b := builder{view: &View{}, ahead: ahead(entries), origin: origin, firsts: map[string]int{}}
	for _, c := range clashes {
		if _, ok := runlog.KindOf(c.Kind); ok {
			b.view.Clashes = append(b.view.Clashes, c)
		}
	}
	for _, e := range live {
		if _, ok := runlog.KindOf(e.Kind); !ok {
			continue
		}
		if err := b.take(e); err != nil {
			return nil, fault.At(err, "entry %d (%s)", e.Sequence, e.Kind)
		}
	}
	return b.finish()
}

// mostJitterNS is by how much an entry may arrive before it was made without its
// device's clock being called wrong: own choice, some seconds of network and of
// clocks set by hand.
const mostJitterNS = 5e9

// ahead gives, by device, how far its clock is ahead of the server's at least, in
// ns, where the device said nothing of it.
func ahead(entries []programme.Entry) map[string]int64 {
	out := map[string]int64{}
	for _, e := range entries {
		if e.DeviceTime.OffsetS != 0 || !e.ServerTime.Known() {
			continue
		}
		if by := e.DeviceTime.UnixNS - e.ServerTime.UnixNS; by > mostJitterNS && by > out[e.Device] {
			out[e.Device] = by
		}
	}
	return out
}

type builder struct {
	view     *View
	ahead    map[string]int64
	origin   map[string]programme.Entry
	firsts   map[string]int // index of a clash by what it is about
	runs     []*Run
	results  []Result
	closed   []Logged
	releases []*Release
	stints   []*Stint
	changes  []struct {
		Logged
		runlog.TyreChangedBody
	}
}

// when gives the moment of an entry with that "at" field. A correction without
// one is of the moment of what it corrects.
func (b *builder) when(e programme.Entry, at string) int64 {
	if ns, ok := runlog.MomentOf(at); ok {
		return ns
	}
	if o, ok := b.origin[e.ID]; ok && o.ID != e.ID {
		var first struct {
			At string `json:"at"`
		}
		_ = json.Unmarshal(o.Body, &first) // a body without one has none
		return b.when(programme.Entry{Device: o.Device, DeviceTime: o.DeviceTime}, first.At)
	}
	if e.DeviceTime.OffsetS != 0 {
		return e.DeviceTime.Add(e.DeviceTime.OffsetS).UnixNS
	}
	return e.DeviceTime.UnixNS - b.ahead[e.Device]
}

// fresh tells whether nothing of that name was logged before; what was is a
// clash.
func (b *builder) fresh(e programme.Entry, what string) bool {
	key := e.Kind + "\x00" + what
	i, ok := b.firsts[key]
	if !ok {
		b.firsts[key] = len(b.view.Clashes)
		b.view.Clashes = append(b.view.Clashes, Clash{Kind: e.Kind, What: what, Stands: e.ID})
		return true
	}
	b.view.Clashes[i].Others = append(b.view.Clashes[i].Others, e.ID)
	return false
}

func read[T any](e programme.Entry) (T, error) {
	var v T
	if err := runlog.Check(e.Kind, e.Version, e.Body); err != nil {
		return v, err
	}
	if err := json.Unmarshal(e.Body, &v); err != nil {
		return v, fault.New(fault.Internal, "reading the entry: %w", err)
	}
	return v, nil
}

// add reads an entry, notes that it is there, and hands its body on unless
// something of the same name stands already.
func add[T any](b *builder, e programme.Entry, at func(T) string, name func(T) string, use func(Logged, T)) error {
	v, err := read[T](e)
	if err != nil {
		return err
	}
	l := Logged{Entry: e, When: b.when(e, at(v))}
	b.view.Entries = append(b.view.Entries, l)
	if name != nil && !b.fresh(e, name(v)) {
		return nil
	}
	use(l, v)
	return nil
}

func (b *builder) take(e programme.Entry) error {
	v := b.view
	switch e.Kind {
	case runlog.Stint:
		return add(b, e, func(x runlog.StintBody) string { return x.At },
			func(x runlog.StintBody) string { return fmt.Sprintf("stint %s of %s", x.Stint, x.Test) },
			func(l Logged, x runlog.StintBody) { b.stints = append(b.stints, &Stint{Logged: l, StintBody: x}) })
	case runlog.Run:
		return add(b, e, func(x runlog.RunBody) string { return x.At },
			func(x runlog.RunBody) string { return fmt.Sprintf("run %s/%s of %s", x.Stint, x.Run, x.Test) },
			func(l Logged, x runlog.RunBody) {
				b.runs = append(b.runs, &Run{Logged: l, RunBody: x, ID: x.Stint + "/" + x.Run})
			})
	case runlog.Times:
		return add(b, e, func(x runlog.TimesBody) string { return x.At },
			func(x runlog.TimesBody) string {
				return strings.TrimSpace(fmt.Sprintf("%s of run %s/%s of %s %s", x.Measure, x.Stint, x.Run, x.Test, x.Place))
			},
			func(l Logged, x runlog.TimesBody) { b.results = append(b.results, Result{l, x}) })
	case runlog.Conditions:
		return add(b, e, func(x runlog.ConditionsBody) string { return x.At }, nil,
			func(l Logged, x runlog.ConditionsBody) { v.Conditions = append(v.Conditions, Reading{l, x}) })
	case runlog.Depth:
		return add(b, e, func(x runlog.DepthBody) string { return x.At }, nil,
			func(l Logged, x runlog.DepthBody) { v.Depths = append(v.Depths, DepthReading{l, x}) })
	case runlog.Wetting:
		return add(b, e, func(x runlog.WettingBody) string { return x.At }, nil,
			func(l Logged, x runlog.WettingBody) { v.Wettings = append(v.Wettings, Water{l, x}) })
	case runlog.Incident:
		return add(b, e, func(x runlog.IncidentBody) string { return x.At }, nil,
			func(l Logged, x runlog.IncidentBody) {
				v.Incidents = append(v.Incidents, &Incident{Logged: l, IncidentBody: x})
			})
	case runlog.Release:
		return add(b, e, func(x runlog.ReleaseBody) string { return x.At },
			func(x runlog.ReleaseBody) string { return "release of incident " + x.Incident },
			func(l Logged, x runlog.ReleaseBody) { b.releases = append(b.releases, &Release{l, x}) })
	case runlog.Rating:
		return add(b, e, func(x runlog.RatingBody) string { return x.At },
			func(x runlog.RatingBody) string {
				return fmt.Sprintf("%s of stint %s of %s by %s", x.Attribute, x.Stint, x.Test, x.Rater)
			},
			func(l Logged, x runlog.RatingBody) { v.Ratings = append(v.Ratings, Rating{l, x}) })
	case runlog.SheetClosed:
		return add(b, e, func(x runlog.SheetClosedBody) string { return x.At }, nil,
			func(l Logged, _ runlog.SheetClosedBody) { b.closed = append(b.closed, l) })
	case runlog.Set:
		return add(b, e, func(runlog.SetBody) string { return "" },
			func(x runlog.SetBody) string { return "set " + x.Set },
			func(_ Logged, x runlog.SetBody) {
				s := &Set{ID: x.Set, Code: x.Code, Size: x.Size, Tyres: map[string]string{}}
				for i, n := range []string{x.FrontLeft, x.FrontRight, x.RearLeft, x.RearRight} {
					if n != "" {
						s.Tyres[runlog.Corners[i]] = n
					}
				}
				v.Sets = append(v.Sets, s)
			})
	case runlog.TyreChanged:
		return add(b, e, func(x runlog.TyreChangedBody) string { return x.At },
			func(x runlog.TyreChangedBody) string { return "set " + x.NewSet },
			func(l Logged, x runlog.TyreChangedBody) {
				b.changes = append(b.changes, struct {
					Logged
					runlog.TyreChangedBody
				}{l, x})
			})
	case runlog.Deviation:
		return add(b, e, func(x runlog.DeviationBody) string { return x.At }, nil,
			func(l Logged, x runlog.DeviationBody) { v.Deviations = append(v.Deviations, Deviation{l, x}) })
	}
	return add(b, e, func(x struct {
		At string `json:"at"`
	}) string {
		return x.At
	}, nil, func(Logged, struct {
		At string `json:"at"`
	}) {
	})
}

// finish puts together what belongs together.
func (b *builder) finish() (*View, error) {
	v := b.view
	v.Clashes = slices.DeleteFunc(v.Clashes, func(c Clash) bool { return len(c.Others) == 0 })
	for _, d := range slices.Sorted(keys(b.ahead)) {
		v.Caveats.Add("device_clock_ahead", caveat.Place{}, "The clock of %s is ahead by %s at least: its entries came before they were made. Their times are shown less that.", d, seconds(b.ahead[d]))
	}
	for _, r := range v.Ratings {
		if r.otherScale() {
			v.Caveats.Add("rated_on_another_scale", caveat.Place{Test: r.Test, Stint: r.RatingBody.Stint}, "%s of stint %s was rated %s by %s on a scale from 1 to 10; it goes from %g to %g, so that this rating is not used.",
				sentence(r.Attribute), r.RatingBody.Stint, unit.Shortest(r.Value), r.Rater, attribute.Balance.Low, attribute.Balance.High)
		}
	}
	for _, c := range v.Clashes {
		if _, corrected := c.Corrected(); corrected {
			k, _ := runlog.KindOf(c.Kind)
			v.Caveats.Add("entries_clash", caveat.Place{}, "%d corrections were made of the same %s; the first stands, the others are kept and shown.", 1+len(c.Others), k.Title)
			continue
		}
		v.Caveats.Add("entries_clash", caveat.Place{}, "%s was entered %d times; the first stands, the others are kept and shown.", sentence(c.What), 1+len(c.Others))
	}
	byTest := func(a, c *Stint) int {
		return cmp.Or(cmp.Compare(a.Test, c.Test), cmp.Compare(a.When, c.When), cmp.Compare(a.Entry.Sequence, c.Entry.Sequence))
	}
	slices.SortStableFunc(b.stints, byTest)
	v.Stints, v.stints = b.stints, map[string]*Stint{}
	for _, s := range v.Stints {
		v.stints[s.Test+"\x00"+s.StintBody.Stint] = s
	}
	sortRuns(b.runs)
	for _, r := range b.runs {
		s := v.Stint(r.Test, r.Stint)
		if s == nil {
			v.Caveats.Add("run_without_stint", caveat.Place{Test: r.Test, Run: r.ID}, "The run was logged, its stint was not; it is not used.")
			continue
		}
		s.Runs = append(s.Runs, r)
	}
	for _, x := range b.results {
		r := v.Run(x.Test, x.Stint+"/"+x.Run)
		if r == nil {
			s := v.Stint(x.Test, x.Stint)
			if s == nil {
				v.Caveats.Add("result_without_stint", caveat.Place{Test: x.Test, Run: x.Stint + "/" + x.Run}, "A value was logged, its stint was not; it is not used.")
				continue
			}
			r = &Run{Logged: x.Logged, RunBody: runlog.RunBody{Test: x.Test, Stint: x.Stint, Run: x.Run}, ID: x.Stint + "/" + x.Run}
			s.Runs = append(s.Runs, r)
			sortRuns(s.Runs)
		}
		r.Results = append(r.Results, x)
	}
	closing := map[string]int64{} // the first of a test, stint and rater, by its place in the server's order
	for _, l := range b.closed {
		c, err := read[runlog.SheetClosedBody](l.Entry)
		if err != nil {
			return nil, err
		}
		if key := c.Test + "\x00" + c.Stint + "\x00" + c.Rater; closing[key] == 0 {
			closing[key] = l.Entry.Sequence
		}
		if s := v.Stint(c.Test, c.Stint); s != nil && !slices.Contains(s.Closed, c.Rater) {
			s.Closed = append(s.Closed, c.Rater)
		}
	}
	for _, r := range v.Ratings {
		if after := closing[r.Test+"\x00"+r.RatingBody.Stint+"\x00"+r.Rater]; after == 0 || r.Entry.Sequence < after {
			continue
		}
		what := "rated"
		if r.Entry.Supersedes != "" {
			what = "corrected"
		}
		v.Caveats.Add("rated_after_closing", caveat.Place{Test: r.Test, Stint: r.RatingBody.Stint}, "%s of stint %s was %s by %s after the sheet was closed, when times could be seen.",
			sentence(r.Attribute), r.RatingBody.Stint, what, r.Rater)
	}
	for _, x := range b.changes {
		n := &Set{ID: x.NewSet, From: x.Set, Changed: x.Tyre, Reason: x.Reason, Tyres: map[string]string{}}
		if old := v.Set(x.Set); old != nil {
			n.Code, n.Size = old.Code, old.Size
			for p, number := range old.Tyres {
				n.Tyres[p] = number
			}
		} else {
			v.Caveats.Add("set_unknown", caveat.Place{}, "Set %s, whose tyre was changed, has no record of its own.", x.Set)
		}
		n.Tyres[x.Tyre] = x.Number
		v.Sets = append(v.Sets, n)
	}
	slices.SortStableFunc(v.Wettings, func(a, c Water) int { return cmp.Compare(a.When, c.When) })
	slices.SortStableFunc(v.Depths, func(a, c DepthReading) int { return cmp.Compare(a.When, c.When) })
	slices.SortStableFunc(v.Conditions, func(a, c Reading) int { return cmp.Compare(a.When, c.When) })
	v.wet()
	b.hold()
	return v, nil
}

func sortRuns(runs []*Run) {
	slices.SortStableFunc(runs, func(a, c *Run) int {
		return cmp.Or(cmp.Compare(a.When, c.When), cmp.Compare(a.Entry.Sequence, c.Entry.Sequence))
	})
}

func keys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func seconds(ns int64) string {
	if s := ns / 1e9; s < 600 {
		return fmt.Sprintf("%d s", s)
	}
	return fmt.Sprintf("%d min", ns/60e9)
}

// Stint gives a stint of a test, nil where there is none.
func (v *View) Stint(test, stint string) *Stint { return v.stints[test+"\x00"+stint] }

// Run gives a run of a test by its id (stint/run), nil where there is none.
func (v *View) Run(test, id string) *Run {
	// A stint's name may hold a slash, too: every cut is tried.
	for i := range len(id) {
		if id[i] != '/' {
			continue
		}
		s := v.Stint(test, id[:i])
		if s == nil {
			continue
		}
		for _, r := range s.Runs {
			if r.ID == id {
				return r
			}
		}
	}
	return nil
}

// Set gives a set, nil where it has no record.
func (v *View) Set(id string) *Set {
	for _, s := range v.Sets {
		if s.ID == id {
			return s
		}
	}
	return nil
}

// Of gives the stints of a test in the order driven.
func (v *View) Of(test string) []*Stint {
	var out []*Stint
	for _, s := range v.Stints {
		if s.Test == test {
			out = append(out, s)
		}
	}
	return out
}

// Tests gives the tests that the run log names, in the order of the alphabet.
func (v *View) Tests() []string {
	var out []string
	for _, s := range v.Stints {
		if !slices.Contains(out, s.Test) {
			out = append(out, s.Test)
		}
	}
	return out
}

// SheetsClosed tells whether every rater of a test has closed the sheets of all stints
// that were rated: until then times are hidden from whoever rates.
func (v *View) SheetsClosed(test string) bool {
	for _, r := range v.Ratings {
		if r.Test != test {
			continue
		}
		if s := v.Stint(test, r.RatingBody.Stint); s == nil || !slices.Contains(s.Closed, r.Rater) {
			return false
		}
	}
	return true
}

func instant(ns int64) clock.Instant { return clock.Instant{UnixNS: ns, Clock: clock.Typed} }
