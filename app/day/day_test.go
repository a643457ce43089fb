package day

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/clock"
	"example.org/bookend/internal/golden"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// book writes a run log for tests: minute is the device's clock.
type book struct {
	t       *testing.T
	entries []programme.Entry
}

func (b *book) put(minute float64, kind string, body any) string {
	return b.full(programme.Entry{Device: "tablet", Kind: kind}, minute, body)
}

func (b *book) full(e programme.Entry, minute float64, body any) string {
	b.t.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		b.t.Fatal(err)
	}
	n := len(b.entries) + 1
	e.ID, e.Version, e.Body, e.Sequence = fmt.Sprintf("00000000-0000-7000-8000-%012d", n), 1, text, int64(n)
	e.DeviceTime = clock.Instant{UnixNS: int64(minute * 60e9), Clock: clock.Device, OffsetS: e.DeviceTime.OffsetS}
	if e.Author == "" {
		e.Author = "lead"
	}
	b.entries = append(b.entries, e)
	return e.ID
}

func (b *book) view() *View {
	b.t.Helper()
	v, err := Build(b.entries)
	if err != nil {
		b.t.Fatal(err)
	}
	return v
}

type any1 = map[string]any

// stints logs stints 10 min apart with two runs each, one and six minutes after.
func (b *book) stints(test string, from float64, first int, codes ...string) {
	for i, c := range codes {
		id := fmt.Sprint(first + i)
		at := from + 10*float64(i)
		b.put(at, runlog.Stint, any1{"test": test, "stint": id, "code": c, "set": c + "1"})
		for r, m := range []float64{1, 6} {
			b.put(at+m, runlog.Run, any1{"test": test, "stint": id, "run": fmt.Sprint(r + 1)})
			b.put(at+m, runlog.Times, any1{"test": test, "stint": id, "run": fmt.Sprint(r + 1), "measure": "distance", "value": 30 + i, "unit": "m", "better": "lower"})
		}
	}
}

func held(v *View, test string) string {
	var out []string
	for _, s := range v.Of(test) {
		for _, r := range s.Runs {
			switch {
			case len(r.HeldBy) > 0:
				out = append(out, r.ID+" held")
			case r.LeftOut != "":
				out = append(out, r.ID+" out")
			}
		}
	}
	return strings.Join(out, ", ")
}

func breaks(v *View, test string) string {
	var out []string
	for _, s := range v.Of(test) {
		if s.Broken() {
			out = append(out, s.StintBody.Stint)
		}
	}
	return strings.Join(out, ", ")
}

// The rules of the trade for what goes wrong (common practice, no source): runs
// behind an incident are held until it is released; what the release found decides
// what becomes of them.
func TestRunsAreHeldUntilTheyAreReleased(t *testing.T) {
	for _, c := range []struct {
		name          string
		incident      any1
		at            float64
		release       string
		released      float64
		after         bool // stints 3 and 4 are driven before the release
		held, breaks  string
		observations  int
		otherTestHeld string
	}{
		{name: "a spin in the second run of stint 2, not released", incident: any1{"what": "spin", "test": "lap", "stint": "2", "run": "2", "text": "gate 7"}, at: 17,
			held: "2/2 held, 3/1 held, 3/2 held, 4/1 held, 4/2 held", observations: 3, otherTestHeld: "1/1 held, 1/2 held"},
		{name: "found as before", incident: any1{"what": "spin", "test": "lap", "stint": "2", "run": "2", "text": "gate 7"}, at: 17, release: "as_before", released: 19, observations: 8},
		{name: "left out", incident: any1{"what": "spin", "test": "lap", "stint": "2", "run": "2", "text": "gate 7"}, at: 17, release: "left_out", released: 19, held: "2/2 out", observations: 8},
		{name: "behind a break", incident: any1{"what": "spin", "test": "lap", "stint": "2", "run": "2", "text": "gate 7"}, at: 17, release: "break", released: 19,
			held: "2/2 out", breaks: "3", observations: 8},
		{name: "a shower between stints, released at once behind a break", incident: any1{"what": "shower", "test": "lap", "text": "rain"}, at: 18, release: "break", released: 19, breaks: "3", observations: 8},
		{name: "a shower holds its own test alone", incident: any1{"what": "shower", "test": "lap", "text": "rain"}, at: 18,
			held: "3/1 held, 3/2 held, 4/1 held, 4/2 held", observations: 4},
		{name: "released late: what was driven in between is left out", incident: any1{"what": "damage", "test": "lap", "stint": "2", "tyre": "front_left", "text": "cut"}, at: 18, release: "left_out", released: 35,
			held: "3/1 out, 3/2 out, 4/1 out", observations: 8},
		{name: "a lost set holds nothing", incident: any1{"what": "lost_set", "test": "lap", "set": "P1", "text": "puncture"}, at: 18, observations: 8},
		{name: "resumed at another wetness", incident: any1{"what": "other_wetness", "test": "lap", "stint": "3", "run": "1", "text": "puddles"}, at: 20, release: "break", released: 26,
			breaks: "3", observations: 8},
		{name: "the same, seen in the second run", incident: any1{"what": "other_wetness", "test": "lap", "stint": "3", "run": "2", "text": "puddles"}, at: 26, release: "break", released: 27,
			held: "3/2 out", breaks: "4", observations: 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := &book{t: t}
			b.stints("lap", 0, 1, "K", "P", "R", "K")
			b.stints("stop", 50, 1, "K")
			id := b.put(c.at, runlog.Incident, c.incident)
			if c.release != "" {
				b.put(c.released, runlog.Release, any1{"incident": id, "outcome": c.release, "finding": "looked at"})
			}
			v := b.view()
			if got := held(v, "lap"); got != c.held {
				t.Errorf("held %q, want %q", got, c.held)
			}
			if got := breaks(v, "lap"); got != c.breaks {
				t.Errorf("breaks before %q, want %q", got, c.breaks)
			}
			if got := held(v, "stop"); got != c.otherTestHeld {
				t.Errorf("in the other test %q, want %q", got, c.otherTestHeld)
			}
			q := v.Sequence("lap")
			if len(q.Log.Observations) != c.observations {
				t.Errorf("%d observations may be compared, want %d", len(q.Log.Observations), c.observations)
			}
			if len(q.Log.Runs) != 8 || len(q.Log.Stints) != 4 {
				t.Errorf("nothing may vanish: %d runs, %d stints", len(q.Log.Runs), len(q.Log.Stints))
			}
			if (len(v.Open()) > 0) != (c.release == "" && c.incident["what"] != "lost_set") {
				t.Errorf("%d incidents are open", len(v.Open()))
			}
		})
	}
}

// A block that a shower cut off from its closing control is open; the next one
// begins behind the break.
func TestABlockWithoutItsClosingControlIsOpen(t *testing.T) {
	b := &book{t: t}
	b.stints("stop", 0, 1, "K", "P", "R")
	id := b.put(31, runlog.Incident, any1{"what": "shower", "test": "stop", "text": "rain"})
	b.put(60, runlog.Release, any1{"incident": id, "outcome": "break", "finding": "watered anew"})
	b.stints("stop", 61, 4, "K", "R", "K")
	blocks := b.view().Blocks("stop")
	if len(blocks) != 2 || blocks[0].Closed("K") || !blocks[1].Closed("K") || len(blocks[0].Stints) != 3 {
		t.Fatalf("%d blocks", len(blocks))
	}
	if q := b.view().Sequence("stop"); !q.Log.Stints[3].Break || q.Log.Stints[0].Break {
		t.Error("the break does not reach the comparison")
	}
}

func TestANewSetIsLinkedToTheOldOne(t *testing.T) {
	b := &book{t: t}
	b.put(0, runlog.Set, any1{"set": "P1", "code": "P", "front_left": "11", "front_right": "12", "rear_left": "13", "rear_right": "14"})
	b.put(5, runlog.TyreChanged, any1{"set": "P1", "new_set": "P1b", "tyre": "rear_left", "number": "17", "reason": "cut"})
	b.put(6, runlog.Incident, any1{"what": "lost_set", "test": "lap", "set": "P1", "text": "cut"})
	b.put(9, runlog.Stint, any1{"test": "lap", "stint": "1", "code": "P", "set": "P1"})
	v := b.view()
	n := v.Set("P1b")
	if n == nil || n.From != "P1" || n.Code != "P" || n.Tyres["rear_left"] != "17" || n.Tyres["front_left"] != "11" || len(n.Tyres) != 4 {
		t.Fatalf("%+v", n)
	}
	if old := v.Set("P1"); old.Tyres["rear_left"] != "13" || !old.Lost {
		t.Errorf("%+v", old)
	}
	if !v.Caveats.Has("set_lost") {
		t.Error("a lost set was fitted, and nobody says so")
	}
}

// Two tablets that wrote meanwhile: both keep their entries, the first stands, the
// clash is shown.
func TestWhatTwoDevicesSayDifferentlyIsShown(t *testing.T) {
	b := &book{t: t}
	first := b.put(0, runlog.Stint, any1{"test": "lap", "stint": "1", "code": "K"})
	other := b.full(programme.Entry{Device: "second tablet", Kind: runlog.Stint}, 1, any1{"test": "lap", "stint": "1", "code": "P"})
	v := b.view()
	if len(v.Stints) != 1 || v.Stints[0].Code != "K" || len(v.Clashes) != 1 || v.Clashes[0].Stands != first || !slices.Equal(v.Clashes[0].Others, []string{other}) {
		t.Errorf("%+v", v.Clashes)
	}
	if len(v.Entries) != 2 {
		t.Errorf("%d entries, want both", len(v.Entries))
	}
	// Two corrections of one entry clash, too; taking one back settles it.
	x := b.full(programme.Entry{Device: "tablet", Kind: runlog.Stint, Supersedes: first}, 2, any1{"test": "lap", "stint": "1", "code": "R"})
	y := b.full(programme.Entry{Device: "tablet", Kind: runlog.Stint, Supersedes: first}, 3, any1{"test": "lap", "stint": "1", "code": "T"})
	b.full(programme.Entry{Device: "tablet", Kind: programme.Withdrawal, Supersedes: other}, 4, any1{})
	if v = b.view(); v.Stints[0].Code != "R" || len(v.Clashes) != 1 || v.Clashes[0].Others[0] != y {
		t.Errorf("%+v", v.Clashes)
	}
	b.full(programme.Entry{Device: "tablet", Kind: programme.Withdrawal, Supersedes: x}, 4, any1{})
	if v = b.view(); v.Stints[0].Code != "T" || len(v.Clashes) != 0 {
		t.Errorf("%s, %+v", v.Stints[0].Code, v.Clashes)
	}
}

// A correction is of the moment of what it corrects, unless it says another.
func TestACorrectionKeepsItsMoment(t *testing.T) {
	b := &book{t: t}
	b.stints("lap", 0, 1, "K", "P", "K")
	b.full(programme.Entry{Device: "tablet", Kind: runlog.Stint, Supersedes: b.entries[0].ID}, 300, any1{"test": "lap", "stint": "1", "code": "K", "driver": "second"})
	v := b.view()
	if of := v.Of("lap"); of[0].StintBody.Stint != "1" || of[0].Driver != "second" || of[0].When != 0 {
		t.Errorf("the corrected stint moved: %+v", of[0].StintBody)
	}
}

// A tablet whose clock is an hour ahead sends entries from the future: that proves
// it, and they are put where they belong. One that is behind cannot be told from a
// late network and is left alone, unless it says its own offset.
func TestAClockThatIsAheadIsMended(t *testing.T) {
	b := &book{t: t}
	at := func(minute float64) clock.Instant {
		return clock.Instant{UnixNS: int64(minute * 60e9), Clock: clock.Server}
	}
	b.full(programme.Entry{Device: "right", Kind: runlog.Stint, ServerTime: at(10)}, 10, any1{"test": "lap", "stint": "1", "code": "K"})
	b.full(programme.Entry{Device: "ahead", Kind: runlog.Stint, ServerTime: at(20)}, 80, any1{"test": "lap", "stint": "2", "code": "P"})
	b.full(programme.Entry{Device: "right", Kind: runlog.Stint, ServerTime: at(30)}, 30, any1{"test": "lap", "stint": "3", "code": "K"})
	b.full(programme.Entry{Device: "says", Kind: runlog.Stint, ServerTime: at(40), DeviceTime: clock.Instant{OffsetS: 3600}}, -20, any1{"test": "lap", "stint": "4", "code": "P"})
	v := b.view()
	order := ""
	for _, s := range v.Of("lap") {
		order += s.StintBody.Stint
	}
	if order != "1234" || !v.Caveats.Has("device_clock_ahead") {
		t.Errorf("driven in the order %s, %v", order, v.Caveats)
	}
}

// Depth between readings: the variance of a random walk tied down at both
// readings, computed in exact fractions from the walk's covariance.
func TestDepthBetweenReadings(t *testing.T) {
	golden.Run(t, "python-3.11", "depth-between-readings", func(t *testing.T, c *golden.Case) {
		var in map[string]struct {
			Minute      []float64 `json:"minute"`
			Depth       []float64 `json:"depth_mm"`
			Uncertainty []float64 `json:"uncertainty_mm"`
		}
		var want []struct {
			Minute      float64 `json:"minute"`
			Depth       float64 `json:"depth_m"`
			Uncertainty float64 `json:"uncertainty_m"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		b := &book{t: t}
		b.put(-1, runlog.Wetting, any1{"test": "stop", "what": "start"})
		for spot, s := range in {
			for i := range s.Minute {
				b.put(s.Minute[i], runlog.Depth, any1{"test": "stop", "spot": spot, "water_depth_m": s.Depth[i] / 1e3, "uncertainty_m": s.Uncertainty[i] / 1e3})
			}
		}
		v := b.view()
		for _, w := range want {
			d, ok := v.DepthAt("stop", int64(w.Minute*60e9))
			if !ok || d.Spots != 2 || d.Of != 2 {
				t.Fatalf("minute %g: %+v", w.Minute, d)
			}
			c.NearRel(t, fmt.Sprintf("depth at minute %g", w.Minute), d.Mean, w.Depth)
			c.NearRel(t, fmt.Sprintf("uncertainty at minute %g", w.Minute), d.Uncertainty, w.Uncertainty)
		}
	})
}

// Depth is never carried over a new wetting nor beyond the last reading; minutes
// since wetting count from when the water stopped.
func TestDepthStaysWithinItsWetting(t *testing.T) {
	b := &book{t: t}
	b.put(0, runlog.Depth, any1{"test": "stop", "spot": "middle", "water_depth_m": 0.002})
	b.put(5, runlog.Wetting, any1{"test": "stop", "what": "start"})
	b.put(8, runlog.Wetting, any1{"test": "stop", "what": "stop"})
	b.put(10, runlog.Depth, any1{"test": "stop", "spot": "middle", "water_depth_m": 0.0012})
	b.put(20, runlog.Depth, any1{"test": "stop", "spot": "middle", "water_depth_m": 0.0008})
	b.put(30, runlog.Wetting, any1{"test": "stop", "what": "start"})
	b.put(40, runlog.Depth, any1{"test": "stop", "spot": "middle", "water_depth_m": 0.0012})
	v := b.view()
	for _, c := range []struct {
		minute float64
		known  bool
		depth  float64
		since  float64 // s; -1: not known
	}{
		{2, false, 0, -1}, {6, false, 0, 0}, {9, false, 0, 60}, {10, true, 0.0012, 120}, {15, true, 0.001, 420},
		{20, true, 0.0008, 720}, {25, false, 0, 1020}, {35, false, 0, 0}, {40, true, 0.0012, 0}, {41, false, 0, 0},
	} {
		at := int64(c.minute * 60e9)
		d, ok := v.DepthAt("stop", at)
		if ok != c.known || ok && (d.Mean < c.depth-1e-12 || d.Mean > c.depth+1e-12) {
			t.Errorf("minute %g: %v %v, want %v %v", c.minute, d.Mean, ok, c.depth, c.known)
		}
		if since, ok := v.SinceWetting("stop", at); ok != (c.since >= 0) || ok && since != c.since {
			t.Errorf("minute %g: %v s since wetting, %v", c.minute, since, ok)
		}
	}
	// A reading without an uncertainty has that of a gauge read to 0.1 mm.
	if d, _ := v.DepthAt("stop", int64(10*60e9)); d.Uncertainty != DefaultGauge {
		t.Errorf("%v", d.Uncertainty)
	}
}

// What was read of the day counts for a run within half an hour, each field by
// itself.
func TestConditionsCountForRunsNearThem(t *testing.T) {
	b := &book{t: t}
	b.put(0, runlog.Conditions, any1{"air_temperature_degc": 12, "wind_mps": 2})
	b.put(20, runlog.Conditions, any1{"test": "stop", "wind_mps": 4})
	b.put(20, runlog.Conditions, any1{"test": "lap", "wind_mps": 9})
	b.stints("stop", 15, 1, "K")
	b.stints("stop", 60, 2, "K")
	q := b.view().Sequence("stop")
	if c := q.Log.Runs[0].Covariates; c["air_temperature_degc"] != 12 || c["wind_mps"] != 4 || len(c) != 2 {
		t.Errorf("run 1/1: %v", c)
	}
	if c := q.Log.Runs[2].Covariates; c != nil {
		t.Errorf("run 2/1: %v", c)
	}
	if m := q.Measures; len(m) != 1 || m[0].ID != "distance" || m[0].Better != programme.Lower || m[0].Unit != "m" {
		t.Errorf("%+v", m)
	}
}

func TestSheetsAndWhenTheyAreClosed(t *testing.T) {
	b := &book{t: t}
	b.stints("lap", 0, 1, "A", "B")
	for _, r := range []struct{ stint, rater string }{{"1", "first"}, {"1", "second"}, {"2", "first"}} {
		b.put(30, runlog.Rating, any1{"test": "lap", "stint": r.stint, "rater": r.rater, "attribute": "precision", "value": 6.5})
	}
	for _, r := range []struct{ stint, rater string }{{"1", "first"}, {"2", "first"}} {
		b.put(40, runlog.SheetClosed, any1{"test": "lap", "stint": r.stint, "rater": r.rater})
	}
	v := b.view()
	if v.SheetsClosed("lap") {
		t.Error("the second rater's sheet is still open")
	}
	b.put(50, runlog.SheetClosed, any1{"test": "lap", "stint": "1", "rater": "second"})
	if v = b.view(); !v.SheetsClosed("lap") {
		t.Error("all sheets are closed")
	}
	if s := v.Sheets("lap"); len(s.Observations) != 3 || s.Observations[0].Rater != "first" || s.Observations[0].Run != "1/sheet" || len(s.Stints) != 2 {
		t.Errorf("%+v", s)
	}
}

// A rating that is made or corrected once its sheet is closed counts, and is told: its
// rater could see times by then.
func TestWhatIsRatedAfterClosingIsTold(t *testing.T) {
	b := &book{t: t}
	b.stints("lap", 0, 1, "A")
	rating := func(attribute string, value float64) any1 {
		return any1{"test": "lap", "stint": "1", "rater": "first", "attribute": attribute, "value": value}
	}
	early := b.put(30, runlog.Rating, rating("precision", 6.5))
	b.put(31, runlog.Rating, rating("response", 6.5))
	b.put(40, runlog.SheetClosed, any1{"test": "lap", "stint": "1", "rater": "first"})
	if v := b.view(); v.Caveats.Has("rated_after_closing") {
		t.Errorf("told of a sheet that was filled before: %v", v.Caveats)
	}
	b.full(programme.Entry{Device: "tablet", Kind: runlog.Rating, Supersedes: early}, 50, rating("precision", 7))
	b.put(51, runlog.Rating, rating("lateral grip", 7))
	v := b.view()
	var told []string
	for _, c := range v.Caveats {
		if c.Code == "rated_after_closing" {
			told = append(told, c.Text)
		}
	}
	if len(told) != 2 || !strings.Contains(told[0]+told[1], "Precision of stint 1 was corrected by first") || !strings.Contains(told[0]+told[1], "Lateral grip of stint 1 was rated by first") {
		t.Errorf("%q", told)
	}
	if s := v.Sheets("lap"); len(s.Observations) != 3 {
		t.Errorf("%+v", s.Observations)
	}
}

// Version 1 of a rating knew one scale for every attribute: a balance on it is told and
// not laid beside others.
func TestABalanceOfVersionOneIsToldAndNotUsed(t *testing.T) {
	b := &book{t: t}
	b.stints("lap", 0, 1, "A")
	b.put(30, runlog.Rating, any1{"test": "lap", "stint": "1", "rater": "first", "attribute": "balance at entry", "value": 6})
	b.put(31, runlog.Rating, any1{"test": "lap", "stint": "1", "rater": "first", "attribute": "precision", "value": 6})
	b.put(32, runlog.Rating, any1{"test": "lap", "stint": "1", "rater": "second", "attribute": "balance at entry", "value": -1.5})
	b.entries[len(b.entries)-1].Version = 2
	v := b.view()
	if s := v.Sheets("lap"); len(s.Observations) != 2 || s.Observations[0].Measure != "precision" || s.Observations[1].Value != -1.5 {
		t.Errorf("%+v", s.Observations)
	}
	if !v.Caveats.Has("rated_on_another_scale") {
		t.Errorf("nothing is said: %v", v.Caveats)
	}
}

// A result without its run makes the run; without its stint it is told and not
// used.
func TestWhatHasNoStintIsTold(t *testing.T) {
	b := &book{t: t}
	b.put(0, runlog.Stint, any1{"test": "stop", "stint": "1", "code": "K"})
	b.put(1, runlog.Times, any1{"test": "stop", "stint": "1", "run": "1", "measure": "distance", "value": 30})
	b.put(2, runlog.Times, any1{"test": "stop", "stint": "9", "run": "1", "measure": "distance", "value": 30})
	b.put(3, runlog.Run, any1{"test": "stop", "stint": "8", "run": "1"})
	v := b.view()
	if r := v.Run("stop", "1/1"); r == nil || len(r.Results) != 1 || !v.Caveats.Has("result_without_stint") || !v.Caveats.Has("run_without_stint") {
		t.Errorf("%v", v.Caveats)
	}
}

// What counts as driven, for planning the rest: common practice, no source.
func TestWhatCountsAsDriven(t *testing.T) {
	b := &book{t: t}
	b.put(-5, runlog.Set, any1{"set": "R1", "code": "R"})
	b.put(-4, runlog.Set, any1{"set": "P1", "code": "P"})
	b.put(-3, runlog.Set, any1{"set": "P2", "code": "P"})
	b.stints("lap", 0, 1, "K", "P", "R", "K")
	told := func(want string) {
		t.Helper()
		d := b.view().Driven("lap")
		if got := fmt.Sprintf("%s fresh %v lost %s", strings.Join(d.Codes, ","), d.Fresh, strings.Join(d.Lost, ",")); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	told("K,P,R,K fresh false lost ")
	spin := b.put(25, runlog.Incident, any1{"what": "spin", "test": "lap", "stint": "3", "run": "1", "text": "x"})
	told("K,P fresh true lost ")
	b.put(28, runlog.Release, any1{"incident": spin, "outcome": "as_before", "finding": "sound"})
	told("K,P,R,K fresh false lost ")
	shower := b.put(41, runlog.Incident, any1{"what": "shower", "test": "lap", "text": "x"})
	b.put(42, runlog.Release, any1{"incident": shower, "outcome": "break", "finding": "dry"})
	told("K,P,R,K fresh true lost ")
	b.stints("lap", 43, 5, "K")
	told("K,P,R,K,/,K fresh false lost ")
	b.put(60, runlog.Incident, any1{"what": "lost_set", "test": "lap", "set": "R1", "text": "x"})
	b.put(60, runlog.Incident, any1{"what": "lost_set", "test": "lap", "set": "P1", "text": "x"})
	told("K,P,R,K,/,K fresh false lost R")
}
