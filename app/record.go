package app

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"example.org/bookend/app/groundbook"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Kinds of entry about the control's record, each at version 1.
const (
	KindGround  = "ground"   // in the ground; body: GroundEntry
	KindSignoff = "sign_off" // in the programme and in the ground; body: SignoffEntry
	KindRecord  = "record"   // in the programme; body: RecordEntry: rows of the ground's record, copied
)

// GroundEntry is what a ground is.
type GroundEntry struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	Zone  string `json:"zone,omitempty"` // IANA
}

// SignoffEntry signs a test off: its results stand, and its control stints go
// into the ground's record.
type SignoffEntry struct {
	Programme string                   `json:"programme"`
	Test      string                   `json:"test"`
	Record    []groundbook.KeyedStints `json:"record"`
}

// RecordEntry is what a programme copied from the ground's record for one test.
type RecordEntry struct {
	Test   string       `json:"test"`
	Ground string       `json:"ground"` // hash of its newest entry then
	Reason string       `json:"reason,omitempty"`
	Copied []CopiedRows `json:"copied"`
}

// CopiedRows is the rows of one key, and their hash as a comparison prints it.
type CopiedRows struct {
	groundbook.KeyedStints
	SHA256 string `json:"sha256"`
	Why    string `json:"why,omitempty"` // there are none: why
}

// BeginGround enters what the ground is.
func (f *Folder) BeginGround(ctx context.Context, g GroundEntry) error {
	if strings.TrimSpace(g.Title) == "" {
		return fault.New(fault.Invalid, "the ground has no name").WithHint("--title 'Skerry Moor'")
	}
	if g.Zone != "" {
		if _, err := time.LoadLocation(g.Zone); err != nil {
			return fault.New(fault.Invalid, "%q is no IANA zone", g.Zone).WithHint("for example Europe/London")
		}
	}
	id, err := uuid.NewV7()
	if err != nil {
		return fault.New(fault.Internal, "making the ground's id: %w", err)
	}
	g.ID = id.String()
	return f.Put(ctx, KindGround, "", g)
}

// GroundState is what the entries of a ground amount to.
type GroundState struct {
	Ground  GroundEntry
	Record  []groundbook.KeyedStints // in the order of their keys; stints in the order signed off
	Entries int
	Head    string // hash of the newest entry
}

// RebuildGround reads all entries of a ground's store.
func RebuildGround(ctx context.Context, store Store) (*GroundState, error) {
	entries, err := store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	s := &GroundState{Entries: len(entries)}
	superseded := map[string]bool{}
	for _, e := range entries {
		superseded[e.Supersedes] = true
	}
	for _, e := range entries {
		if superseded[e.ID] {
			continue
		}
		if e.Version != 1 || e.Kind != KindGround && e.Kind != KindSignoff {
			return nil, fault.New(fault.Unsupported, "entry %d of the ground (%s, version %d) is not known to this bookend", e.Sequence, e.Kind, e.Version).
				WithHint("use the newer bookend that wrote it")
		}
		var into any = &s.Ground
		var signed SignoffEntry
		if e.Kind == KindSignoff {
			into = &signed
		}
		if err := json.Unmarshal(e.Body, into); err != nil {
			return nil, fault.New(fault.Internal, "reading entry %d of the ground: %w", e.Sequence, err)
		}
		for _, k := range signed.Record {
			i := slices.IndexFunc(s.Record, func(o groundbook.KeyedStints) bool { return o.Key == k.Key })
			if i < 0 {
				s.Record = append(s.Record, groundbook.KeyedStints{Key: k.Key})
				i = len(s.Record) - 1
			}
			s.Record[i].Stints = append(s.Record[i].Stints, k.Stints...)
		}
	}
	slices.SortStableFunc(s.Record, func(a, b groundbook.KeyedStints) int { return strings.Compare(a.Key.String(), b.Key.String()) })
	if n := len(entries); n > 0 {
		if s.Head, err = entries[n-1].Hash(); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// keyOf gives the key of a measure of a test, or why there is none.
func keyOf(s *State, ground string, t TestEntry, m programme.Measure, place string, version int) (groundbook.RecordKey, string) {
	k := groundbook.RecordKey{Ground: ground, Surface: t.Test.Surface, Procedure: t.Test.Procedure, Version: version, Measure: m.ID, Place: place,
		Unit: m.Unit, Scale: m.Scale, ControlType: t.Test.ControlType, Vehicle: s.Programme.Vehicle}
	if k.Procedure == "" || version == 0 {
		k.Procedure, k.Version = "typed", 0
	}
	var missing []string
	for _, x := range []struct{ what, value string }{{"the test's surface", k.Surface}, {"the control's type", k.ControlType}, {"the programme's vehicle", k.Vehicle}} {
		if strings.TrimSpace(x.value) == "" {
			missing = append(missing, x.what)
		}
	}
	if len(missing) > 0 {
		return k, strings.Join(missing, ", ") + " is not told"
	}
	return k, ""
}

// version gives the version of the procedure that a measure of a test is from; 0
// for typed values.
func (f *Folder) version(t TestEntry, measure string) int {
	if t.Test.Procedure == "" {
		return 0
	}
	p, err := f.Shelf.Procedure(t.Test.Procedure)
	if err != nil {
		return 0
	}
	if _, ok := p.Spec().Measure(measure); !ok {
		return 0
	}
	return p.Spec().Version
}

// Describe enters what a test is: title, surface, what its control is, its first
// measure. What is empty is left as it was.
func (f *Folder) Describe(ctx context.Context, id string, d programme.Test) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	t, err := s.Test(id)
	if err != nil {
		return err
	}
	was := t.Test
	for _, x := range []struct {
		from string
		to   *string
	}{{d.Title, &t.Test.Title}, {d.Surface, &t.Test.Surface}, {d.ControlType, &t.Test.ControlType}, {d.First, &t.Test.First}} {
		if v := strings.TrimSpace(x.from); v != "" {
			*x.to = v
		}
	}
	if t.Test.Title == was.Title && t.Test.Surface == was.Surface && t.Test.ControlType == was.ControlType && t.Test.First == was.First {
		return fault.New(fault.Invalid, "nothing is said of test %s that is new", id).WithHint("--title, --surface, --control-type or --first")
	}
	return f.Put(ctx, KindTest, "", t)
}

// SignOff signs a test off: its control stints go into the ground's record, as
// they were compared. Once more, it supersedes what was signed off before.
func (f *Folder) SignOff(ctx context.Context, test, control string) (*SignoffEntry, error) {
	if f.Ground == nil {
		return nil, fault.New(fault.NotFound, "the programme lies in no ground's folder").
			WithHint("make one (bookend ground new FOLDER) and put the programme's folder into it")
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	g, err := RebuildGround(ctx, f.Ground)
	if err != nil {
		return nil, err
	}
	d, err := f.Drive(ctx, s, test)
	if err != nil {
		return nil, err
	}
	entries, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	h, err := historyOf(entries, test)
	if err != nil {
		return nil, err
	}
	if force, ok := h.inForce(); ok && control == "" {
		control = force.body.Plan.Control
	}
	if control == "" {
		return nil, NoControl()
	}
	body := SignoffEntry{Programme: s.Programme.ID, Test: test, Record: []groundbook.KeyedStints{}}
	at := f.Now()
	if zone, err := time.LoadLocation(g.Ground.Zone); err == nil && g.Ground.Zone != "" {
		at = at.In(zone)
	}
	for _, m := range d.Measures {
		for _, place := range placesOf(d.Log, m.ID) {
			key, why := keyOf(s, g.Ground.Title, d.Test, m, place, f.version(d.Test, m.ID))
			if why != "" {
				return nil, fault.New(fault.Invalid, "the record needs to know what it is of: %s", why).
					WithHint("bookend test %s --surface TEXT --control-type TEXT, and bookend new --vehicle", test)
			}
			r, err := compare.Compare(compare.Input{Log: d.Log, Measure: m, Place: place, Control: control,
				Settings: compare.Settings{Scale: m.Scale, Drift: compare.NoDrift, Quick: true}})
			if err != nil {
				continue // no control stint of it: nothing for the record
			}
			k := groundbook.KeyedStints{Key: key}
			for _, st := range r.Stints {
				if !st.Control || st.N == 0 {
					continue
				}
				block := test
				if st.Block != "" {
					block += ", " + st.Block
				}
				if st.Segment > 0 {
					block += fmt.Sprintf(", part %d", st.Segment+1)
				}
				row := groundbook.RecordStint{Programme: s.Programme.ID, Date: at.Format(time.DateOnly), Block: block, Position: st.Position, Value: st.Equal, Runs: st.N}
				if i := slices.IndexFunc(d.Log.Stints, func(o programme.Stint) bool { return o.ID == st.ID }); i >= 0 {
					row.Driver = d.Log.Stints[i].Driver
				}
				k.Stints = append(k.Stints, row)
			}
			if len(k.Stints) > 0 {
				body.Record = append(body.Record, k)
			}
		}
	}
	if len(body.Record) == 0 {
		return nil, fault.New(fault.NotFound, "test %s has no control stint with a value", test).WithHint("name the control's code: --control K")
	}
	return &body, f.keepSignoff(ctx, body)
}

// keepSignoff keeps a sign-off in the programme and, under the same id, in the
// ground: cut short between the two, signing off again finishes it.
func (f *Folder) keepSignoff(ctx context.Context, body SignoffEntry) error {
	entries, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return err
	}
	before := ""
	for _, e := range entries {
		if e.Kind != KindSignoff {
			continue
		}
		var was SignoffEntry
		if err := json.Unmarshal(e.Body, &was); err != nil {
			return fault.New(fault.Internal, "reading entry %d: %w", e.Sequence, err)
		}
		if was.Test == body.Test {
			before = e.ID
		}
	}
	known := func(id string) (*programme.Entry, error) {
		inGround, err := f.Ground.Entries(ctx, 0)
		if err != nil {
			return nil, err
		}
		if i := slices.IndexFunc(inGround, func(e programme.Entry) bool { return e.ID == id }); i >= 0 {
			return &inGround[i], nil
		}
		return nil, nil
	}
	if before != "" {
		there, err := known(before)
		if err != nil {
			return err
		}
		if there == nil { // cut short last time
			if err := f.copySignoff(ctx, entries, before); err != nil {
				return err
			}
		}
		if same, err := sameRows(entries, before, body); err != nil || same {
			return err
		}
	}
	if err := f.Put(ctx, KindSignoff, before, body); err != nil {
		return err
	}
	if entries, err = f.Store.Entries(ctx, 0); err != nil {
		return err
	}
	return f.copySignoff(ctx, entries, entries[len(entries)-1].ID)
}

// sameRows tells whether a sign-off says what was said before, but for its day.
func sameRows(entries []programme.Entry, id string, body SignoffEntry) (bool, error) {
	i := slices.IndexFunc(entries, func(e programme.Entry) bool { return e.ID == id })
	var was SignoffEntry
	if err := json.Unmarshal(entries[i].Body, &was); err != nil {
		return false, fault.New(fault.Internal, "reading entry %d: %w", entries[i].Sequence, err)
	}
	dateless := func(s SignoffEntry) (string, error) {
		var out []groundbook.KeyedStints
		for _, k := range s.Record {
			k.Stints = slices.Clone(k.Stints)
			for j := range k.Stints {
				k.Stints[j].Date = ""
			}
			out = append(out, k)
		}
		return programme.Hash(out)
	}
	a, err := dateless(was)
	if err != nil {
		return false, err
	}
	b, err := dateless(body)
	return a == b, err
}

func (f *Folder) copySignoff(ctx context.Context, entries []programme.Entry, id string) error {
	i := slices.IndexFunc(entries, func(e programme.Entry) bool { return e.ID == id })
	ground := &Folder{Store: f.Ground, Device: f.Device}
	return ground.putAs(ctx, entries[i])
}

// recordOf gives the rows of the ground's record that a test's measure may use:
// those copied into the programme. Where none are and the programme lies in a
// ground, they are copied now, which is an entry.
func (f *Folder) recordOf(ctx context.Context, s *State, d *Driven, m programme.Measure, place string) (*compare.Record, caveat.List, error) {
	find := func() *CopiedRows {
		for i := len(s.Copied) - 1; i >= 0; i-- {
			if s.Copied[i].Test != d.Test.Test.ID {
				continue
			}
			for j, c := range s.Copied[i].Copied {
				if c.Key.Measure == m.ID && c.Key.Place == place {
					return &s.Copied[i].Copied[j]
				}
			}
		}
		return nil
	}
	got := find()
	if got == nil && f.Ground != nil {
		if err := f.copyRecord(ctx, s, d, [][2]string{{m.ID, place}}, ""); err != nil {
			return nil, nil, err
		}
		got = find()
	}
	if got == nil {
		return nil, nil, nil
	}
	var notes caveat.List
	if len(got.Stints) == 0 {
		notes.Add("record_does_not_fit", caveat.Place{Measure: m.ID}, "The ground's record of control stints is not used: %s.", got.Why)
		return nil, notes, nil
	}
	r := got.Rows()
	sum, err := r.Hash()
	if err != nil {
		return nil, nil, err
	}
	if sum != got.SHA256 {
		return nil, nil, fault.New(fault.Conflict, "the rows copied from the ground's record have the hash %s, not %s", short(sum), short(got.SHA256)).
			WithHint("bookend verify says where the programme was changed")
	}
	least, most := got.Stints[0].Runs, got.Stints[0].Runs
	for _, x := range got.Stints {
		least, most = min(least, x.Runs), max(most, x.Runs)
	}
	here, there := runsOf(d.Log), fmt.Sprint(least)
	if most > least {
		there = fmt.Sprintf("%d to %d", least, most)
	}
	if here[0] < least || here[1] > most {
		notes.Add("record_of_other_runs", caveat.Place{Measure: m.ID}, "The record's control stints are means of %s runs, stints here have %d to %d: its scatter is taken as if they had the same.", there, here[0], here[1])
	}
	return r, notes, nil
}

// runsOf gives the fewest and most runs of a stint.
func runsOf(log programme.Log) [2]int {
	n := map[string]int{}
	for _, r := range log.Runs {
		n[r.Stint]++
	}
	out := [2]int{}
	for _, k := range n {
		if out[0] == 0 || k < out[0] {
			out[0] = k
		}
		out[1] = max(out[1], k)
	}
	return out
}

// copyRecord copies the rows for the measures of a test, pairs of id and place,
// from the ground into the programme.
func (f *Folder) copyRecord(ctx context.Context, s *State, d *Driven, measures [][2]string, reason string) error {
	g, err := RebuildGround(ctx, f.Ground)
	if err != nil {
		return err
	}
	e := RecordEntry{Test: d.Test.Test.ID, Ground: g.Head, Reason: reason}
	for _, of := range measures {
		m, err := d.Measure(of[0])
		if err != nil {
			return err
		}
		c, err := g.fitting(s, d.Test, m, of[1], f.version(d.Test, m.ID))
		if err != nil {
			return err
		}
		e.Copied = append(e.Copied, c)
	}
	if err := f.Put(ctx, KindRecord, "", e); err != nil {
		return err
	}
	s.Copied = append(s.Copied, e)
	return nil
}

// fitting gives the rows of the ground that fit a measure of a test, those of
// the programme itself left out, or says why there are none.
func (g *GroundState) fitting(s *State, t TestEntry, m programme.Measure, place string, version int) (CopiedRows, error) {
	key, why := keyOf(s, g.Ground.Title, t, m, place, version)
	c := CopiedRows{KeyedStints: groundbook.KeyedStints{Key: key, Stints: []groundbook.RecordStint{}}, Why: why}
	if named := s.Programme.Ground; why == "" && named != "" && named != g.Ground.Title {
		c.Why = fmt.Sprintf("the programme is of %s, the record of %s", named, g.Ground.Title)
	}
	if c.Why == "" {
		near := ""
		for _, k := range g.Record {
			if k.Key == key {
				for _, x := range k.Stints {
					if x.Programme != s.Programme.ID {
						c.Stints = append(c.Stints, x)
					}
				}
			} else if k.Key.Measure == m.ID && k.Key.Place == place {
				near = "; it has " + k.Key.String()
			}
		}
		if len(c.Stints) == 0 {
			c.Why = "it has none of " + key.String() + near
		}
	}
	var err error
	c.SHA256, err = c.Rows().Hash()
	return c, err
}

// RefreshRecord copies the ground's record anew for every measure of a test: an
// act that is entered, with its reason where verdicts were opened before.
func (f *Folder) RefreshRecord(ctx context.Context, test, reason string) (*RecordEntry, error) {
	if f.Ground == nil {
		return nil, fault.New(fault.NotFound, "the programme lies in no ground's folder").
			WithHint("make one (bookend ground new FOLDER) and put the programme's folder into it")
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return nil, err
	}
	entries, err := f.Store.Entries(ctx, 0)
	if err != nil {
		return nil, err
	}
	h, err := historyOf(entries, test)
	if err != nil {
		return nil, err
	}
	if len(h.opened) > 0 && strings.TrimSpace(reason) == "" {
		return nil, fault.New(fault.Invalid, "verdicts of %s were opened already, and no reason is given", test).
			WithHint("--reason: why the record is copied anew; the report lists it")
	}
	d, err := f.Drive(ctx, s, test)
	if err != nil {
		return nil, err
	}
	var of [][2]string
	for _, m := range d.Measures {
		for _, place := range placesOf(d.Log, m.ID) {
			of = append(of, [2]string{m.ID, place})
		}
	}
	if len(of) == 0 {
		_, err := d.Measure("")
		return nil, err
	}
	if err := f.copyRecord(ctx, s, d, of, strings.TrimSpace(reason)); err != nil {
		return nil, err
	}
	return &s.Copied[len(s.Copied)-1], nil
}

// putAs keeps an entry that was made elsewhere, under its id.
func (f *Folder) putAs(ctx context.Context, of programme.Entry) error {
	last, err := f.Store.Counter(ctx, f.Device)
	if err != nil {
		return err
	}
	_, _, err = f.Store.Put(ctx, programme.Entry{ID: of.ID, Kind: of.Kind, Version: of.Version, Body: of.Body, Supersedes: of.Supersedes,
		Author: of.Author, Device: f.Device, Counter: last + 1, DeviceTime: of.DeviceTime})
	return err
}
