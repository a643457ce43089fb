package app

import (
	"context"
	"math"
	"runtime"
	"slices"
	"sync"

	"example.org/bookend/app/logger"
	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/match"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/soundness"
)

// cutRecording is a reduced recording of a test, and its pieces that may be runs.
type cutRecording struct {
	entry  RecordingEntry
	got    *logger.ReduceDocument
	pieces []match.Piece
	cut    []RecordedPiece // the same, with whose each is
}

// recordings reduces the recordings of a test, finds whose run each of their pieces
// is, and gives the runs their numbers. names is by recording which runs the log says
// it holds, in the order driven.
func (f *Folder) recordings(ctx context.Context, s *State, d *Driven, names map[string][]string) error {
	var all []cutRecording
	proc, err := f.Shelf.Procedure(d.Test.Test.Procedure)
	placed := err == nil && slices.ContainsFunc(proc.Spec().Needs, func(n programme.Need) bool { return n.Role == string(signal.Latitude) && n.Optional == "" })
	for _, r := range s.Recordings {
		if _, beside := s.MainOf(r); placed && r.Test == d.Test.Test.ID && !beside && r.Holds != nil && !r.Holds.Position {
			d.Log.Caveats.Add("recording_alone", caveat.Place{Test: r.Test, File: r.Name},
				"It holds no positions, and no recording of the test that does runs at the same time by its clock, or two do; nothing of it is used.")
			continue
		}
		if _, beside := s.MainOf(r); r.Test == d.Test.Test.ID && !beside {
			all = append(all, cutRecording{entry: r})
		}
	}
	if err := f.reduceAll(ctx, s, d.Test, all); err != nil {
		return err
	}
	for i := range all {
		c := &all[i]
		for _, p := range c.got.Results.Pieces {
			if p.Run != "" {
				c.pieces = append(c.pieces, match.Piece{FromS: p.FromS, ToS: p.ToS, Kind: match.Timed, Number: len(c.pieces) + 1, Flags: p.Flags})
				c.cut = append(c.cut, RecordedPiece{ReducedPiece: p})
			}
		}
	}
	if len(all) == 0 {
		return nil
	}
	s.ofMain(d.Test.Test.ID, names)
	rest, taken, err := f.byHand(s, d, all, names)
	if err != nil {
		return err
	}
	done := len(rest) == 0
	if !done {
		done, err = f.byClock(d, rest, names, taken)
	}
	if err == nil && !done {
		err = f.byOrder(d, rest, names)
	}
	for _, c := range all {
		d.Recorded = append(d.Recorded, Recorded{Recording: c.entry, Pieces: c.cut})
	}
	d.tellMoved(s)
	return err
}

// atOnce is how many recordings are reduced at the same time at most: each is held as
// a whole meanwhile (own choice).
const atOnce = 4

// reduceAll reduces recordings, as many at a time as there are processors. The fault is
// that of the first recording that has one, in their order.
func (f *Folder) reduceAll(ctx context.Context, s *State, test TestEntry, all []cutRecording) error {
	errs := make([]error, len(all))
	free := make(chan struct{}, min(atOnce, runtime.GOMAXPROCS(0)))
	var wait sync.WaitGroup
	for i := range all {
		free <- struct{}{}
		if f.Progress != nil {
			f.Progress(i+1, len(all), all[i].entry.Name)
		}
		wait.Go(func() {
			all[i].got, errs[i] = f.Reduce(ctx, s, test, all[i].entry)
			<-free
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// byClock matches all recordings of a test to its log by order and clock together;
// done is false where one of them has no clock or the log has too few times, so that
// order must do.
func (f *Folder) byClock(d *Driven, all []*cutRecording, names map[string][]string, taken map[string]bool) (done bool, err error) {
	named := map[string]string{}
	for _, c := range all {
		name := nameIn(names, c.entry)
		for _, id := range names[name] {
			named[id] = name
		}
	}
	begins := make([]clock.Instant, len(all))
	origin := int64(math.MaxInt64)
	for i, c := range all {
		begins[i] = c.got.Results.Began
		if !begins[i].Known() {
			return false, nil
		}
		origin = min(origin, begins[i].UnixNS)
	}
	const minute = 60_000_000_000
	origin -= origin % minute
	seconds := func(at clock.Instant) float64 { return float64(at.UnixNS-origin)/1e9 + at.OffsetS }
	var seen []match.Seen
	for i, c := range all {
		for _, p := range c.pieces {
			seen = append(seen, match.Seen{Recording: nameIn(names, c.entry), Source: i, Piece: p, At: seconds(begins[i]) + p.FromS})
		}
	}
	var log []match.Logged
	timed := 0
	alone := ownTimes(d.Log.Runs)
	for i, r := range d.Log.Runs {
		l := match.Logged{Run: r, Recording: named[r.ID], Timed: alone[i]}
		if taken[r.ID] || l.Recording == "" && len(named) > 0 {
			continue // given by hand, driven without a logger, or in a recording that has not come
		}
		if l.Timed {
			l.At = seconds(r.At)
			timed++
		}
		log = append(log, l)
	}
	if timed < 3 || len(log) == 0 {
		return false, nil
	}
	w, err := f.whoseRuns(d.Test.Test.ID, seen, log)
	if fault.CodeOf(err) == fault.Conflict && len(named) > 0 { // order within each named recording may still say it
		d.Log.Caveats.Add("clock_unclear", caveat.Place{Test: d.Test.Test.ID},
			"The clocks of recordings and run log do not say whose each run is: %v. It is told by order within each recording alone.", err)
		return false, nil
	}
	if err != nil {
		return false, err
	}
	for _, c := range all {
		d.use(c)
	}
	for _, p := range w.Pairs {
		if err := f.give(d, all[p.Seen.Source], p.Seen.Piece, p.Logged.Run, doubtful(p)); err != nil {
			return false, err
		}
	}
	d.Log.Caveats = append(d.Log.Caveats, w.Caveats.Within(caveat.Place{Test: d.Test.Test.ID})...)
	return true, nil
}

// nameIn gives the name that the log has for a recording: with its hash where the log
// writes it so, to tell recordings of one name apart.
func nameIn(names map[string][]string, r RecordingEntry) string {
	if label := labelOf(r); len(names[label]) > 0 {
		return label
	}
	return r.Name
}

// ownTimes tells which runs have a time of their own: where one time stands for all
// runs of a stint it is the first one's.
func ownTimes(runs []programme.Run) []bool {
	out := make([]bool, len(runs))
	several := map[string]bool{} // stints whose runs have several times
	first := map[string]int{}
	for i, r := range runs {
		out[i] = r.At.Known()
		if k, ok := first[r.Stint]; !ok {
			first[r.Stint] = i
		} else if runs[k].At != r.At {
			several[r.Stint] = true
		}
	}
	for i, r := range runs {
		if first[r.Stint] != i && !several[r.Stint] {
			out[i] = false
		}
	}
	return out
}

// doubtful says why a pair is not used yet; empty for one that is.
func doubtful(p match.Pair) string {
	switch p.Doubt {
	case match.Mislabelled:
		return "By order and clock it is in recording " + p.Seen.Recording + ", and the log names " + p.Logged.Recording + "."
	case match.OutOfOrder:
		return "By its clock it stands at another place than in the log."
	case match.ClockOff:
		return "By its place in the log it is this run, by its clock it is not."
	case match.Unclear:
		return "A run that was not logged, or not recorded, may as well be this one."
	}
	return ""
}

// byOrder matches each recording to the runs that the log names for it, by order.
func (f *Folder) byOrder(d *Driven, all []*cutRecording, names map[string][]string) error {
	for _, c := range all {
		name := nameIn(names, c.entry)
		if twin := slices.IndexFunc(all, func(o *cutRecording) bool {
			return len(names[name]) > 0 && o.entry.SHA256 != c.entry.SHA256 && nameIn(names, o.entry) == name
		}); twin >= 0 {
			return fault.New(fault.Conflict, "two recordings are called %s, and no clock says which of them the log means", name).
				WithHint("in the log, write %s or %s", labelOf(c.entry), labelOf(all[twin].entry))
		}
		if len(names[name]) == 0 {
			d.Log.Caveats.Add("recording_unmatched", caveat.Place{Test: d.Test.Test.ID, File: c.entry.Name},
				"No run of the run log names this recording, and clocks do not tell whose it is; nothing of it is used. A column recording in the run log says which runs it holds.")
			continue
		}
		var wanted []programme.Run
		for _, id := range names[name] {
			i := slices.IndexFunc(d.Log.Runs, func(o programme.Run) bool { return o.ID == id })
			if i < 0 {
				return fault.New(fault.Internal, "run %s of %s is in no table", id, c.entry.Name)
			}
			wanted = append(wanted, d.Log.Runs[i])
		}
		if err := f.inOrder(d, c, wanted); err != nil {
			return fault.At(err, "%s", c.entry.Name)
		}
	}
	return nil
}

// inOrder gives a recording's pieces to runs one after another; where it holds more or
// fewer the times between them have to tell which they are.
func (f *Folder) inOrder(d *Driven, c *cutRecording, wanted []programme.Run) error {
	owned, err := match.ByOrder(c.pieces, wanted)
	if err != nil {
		done, e := f.byTimes(d, c, wanted)
		if e != nil {
			return e
		}
		if done {
			return nil
		}
		return err
	}
	d.use(c)
	for _, o := range owned {
		if err := f.give(d, c, o.Piece, o.Run, ""); err != nil {
			return err
		}
	}
	return nil
}

// byTimes matches one recording, which holds more or fewer runs than the log lists for
// it, by the times between them: where it has no clock, its own seconds will do. done
// is false where that does not tell either.
func (f *Folder) byTimes(d *Driven, c *cutRecording, wanted []programme.Run) (done bool, err error) {
	var seen []match.Seen
	for _, p := range c.pieces {
		seen = append(seen, match.Seen{Recording: c.entry.Name, Piece: p, At: p.FromS})
	}
	const minute = 60_000_000_000
	origin, timed := int64(0), 0
	var log []match.Logged
	alone := ownTimes(wanted)
	for i, r := range wanted {
		l := match.Logged{Run: r, Timed: alone[i]}
		if l.Timed {
			if timed++; timed == 1 {
				origin = r.At.UnixNS - r.At.UnixNS%minute
			}
			l.At = float64(r.At.UnixNS-origin)/1e9 + r.At.OffsetS
		}
		log = append(log, l)
	}
	if timed < 3 || len(seen) < 3 {
		return false, nil
	}
	w, err := match.ByClock(seen, log)
	if fault.CodeOf(err) == fault.Conflict {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	d.use(c)
	for _, p := range w.Pairs {
		if err := f.give(d, c, p.Seen.Piece, p.Logged.Run, doubtful(p)); err != nil {
			return false, err
		}
	}
	for _, k := range w.Caveats.Within(caveat.Place{Test: d.Test.Test.ID, File: c.entry.Name}) {
		if k.Code != "clock_offset" && k.Code != "clock_hour" { // seconds from nowhere in particular
			d.Log.Caveats = append(d.Log.Caveats, k)
		}
	}
	return true, nil
}

// use takes a recording among what the test rests on, with what is wrong with it.
func (d *Driven) use(c *cutRecording) {
	d.Inputs = append(d.Inputs, c.got.Inputs...)
	for _, k := range c.got.Caveats {
		if soundness.Finds(k.Code) {
			k.Place = k.Place.Within(caveat.Place{Test: d.Test.Test.ID, File: c.entry.Name})
			d.Log.Caveats = append(d.Log.Caveats, k)
		}
	}
}

// give gives a run the numbers of its piece; doubt, if there is any, and what the
// recording flags leave it out.
func (f *Folder) give(d *Driven, c *cutRecording, p match.Piece, run programme.Run, doubt string) error {
	proc, err := f.Shelf.Procedure(d.Test.Test.Procedure)
	if err != nil {
		return err
	}
	spec := proc.Spec()
	piece := &c.cut[p.Number-1]
	piece.LogRun, piece.Doubt = run.ID, doubt
	for _, v := range c.got.Results.Observations {
		if v.Run != piece.Run {
			continue
		}
		m, _ := spec.Measure(v.Measure)
		if !slices.ContainsFunc(d.Measures, func(k programme.Measure) bool { return k.ID == m.ID }) {
			d.Measures = append(d.Measures, m)
		}
		d.Log.Observations = append(d.Log.Observations, programme.Observation{
			Run: run.ID, Measure: v.Measure, Place: v.Place, Value: v.Value, Uncertainty: v.Uncertainty,
			Caveats: v.Caveats, Derivation: v.Derivation,
		})
	}
	why := doubt
	if why == "" && len(p.Flags) > 0 {
		why = p.Flags[0].Text
	}
	if why != "" && !slices.ContainsFunc(d.Log.Exclusions, func(x programme.Exclusion) bool { return x.Run == run.ID && x.Measure == "" }) {
		d.Log.Exclusions = append(d.Log.Exclusions, programme.Exclusion{Run: run.ID, Reason: why, Person: byRecording})
	}
	return nil
}
