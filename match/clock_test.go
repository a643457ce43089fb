package match

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// day is one day of a test as it was, and as it was written down: truth is what piece
// each run of the log really is, by the run's id.
type day struct {
	seen  []Seen
	log   []Logged
	truth map[string]int // start of the piece in whole ms by the true clock, which names it
	born  map[string]float64
	rnd   *rand.Rand
}

// made makes up a day: stints every twenty minutes with a few runs each, one
// recording a stint; somebody types the minute some seconds after the run has begun.
func made(seed uint64, stints, runs int) *day {
	d := &day{truth: map[string]int{}, born: map[string]float64{}, rnd: rand.New(rand.NewPCG(seed, 7))}
	for s := range stints {
		t := 8*3600 + 1200*float64(s) + 40*d.rnd.Float64()
		for r := range runs {
			id := fmt.Sprintf("%d/%d", s+1, r+1)
			file := fmt.Sprintf("stint%02d.csv", s+1)
			d.seen = append(d.seen, Seen{Recording: file, At: t, Piece: Piece{FromS: t, ToS: t + 60, Number: r + 1, Kind: Timed}})
			typed := 60 * math.Floor((t+12+6*d.rnd.NormFloat64())/60)
			d.log = append(d.log, Logged{Run: programme.Run{ID: id, Stint: fmt.Sprint(s + 1), Number: r + 1}, At: typed, Timed: true, Recording: file})
			d.truth[id] = int(math.Round(1000 * t))
			t += 85 + 50*d.rnd.Float64()
		}
	}
	return d
}

// check looks whether every pair that is used is right, and gives how many there are
// and how many have each doubt.
func (d *day) check(t *testing.T, w Whose) map[string]int {
	t.Helper()
	n := map[string]int{}
	for _, p := range w.Pairs {
		n[p.Doubt]++
		if got := int(math.Round(1000 * p.Seen.Piece.FromS)); p.Doubt == "" && got != d.truth[p.Logged.Run.ID] {
			t.Errorf("run %s is taken to be the piece at %.1f s, and is that at %.1f s", p.Logged.Run.ID, p.Seen.Piece.FromS, float64(d.truth[p.Logged.Run.ID])/1000)
		}
	}
	return n
}

func (d *day) match(t *testing.T) Whose {
	t.Helper()
	w, err := ByClock(d.seen, d.log)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// row gives the place of a run in the log.
func (d *day) row(id string) int {
	return slices.IndexFunc(d.log, func(l Logged) bool { return l.Run.ID == id })
}

// A day without mishaps: every run is found, and the offset is that of the clocks
// within its stated error (typed minutes lie on the mean 18 s before the run began).
func TestClocksAgreeOverADay(t *testing.T) {
	for seed := range uint64(6) {
		d := made(seed, 13, 6)
		mean := 0.0
		for i := range d.log {
			mean += (d.seen[i].At - d.log[i].At) / float64(len(d.log))
		}
		w := d.match(t)
		if n := d.check(t, w); n[""] != 78 || len(w.Missing)+len(w.Extra) > 0 {
			t.Errorf("seed %d: %v, %d missing, %d extra", seed, n, len(w.Missing), len(w.Extra))
		}
		c := w.Clocks[0]
		if len(w.Clocks) != 1 || math.Abs(c.OffsetS-mean) > 3*c.SE || c.SE > 5 || len(w.Caveats) != 0 {
			t.Errorf("seed %d: %+v, want %.1f s; %v", seed, w.Clocks, mean, w.Caveats)
		}
	}
}

// Logs that are an hour off after the clocks went back: all of the log, and from the
// second day on.
func TestAnHourOff(t *testing.T) {
	d := made(1, 9, 5)
	for i := range d.log {
		d.log[i].At -= 3600
	}
	w := d.match(t)
	if n := d.check(t, w); n[""] != 45 || math.Abs(w.Clocks[0].OffsetS-3618) > 15 || !w.Caveats.Has("clock_hour") || !w.Caveats.Has("clock_offset") {
		t.Errorf("%v %+v %v", n, w.Clocks, w.Caveats)
	}

	d = made(2, 14, 5)
	for i := range d.log {
		if i >= 35 { // the second day, when the log's clock has been put back
			d.seen[i].At += 86400
			d.log[i].At += 86400 - 3600
		}
	}
	w = d.match(t)
	if n := d.check(t, w); n[""] != 70 || len(w.Clocks) != 2 || !w.Caveats.Has("clock_segments") || !w.Caveats.Has("clock_hour") {
		t.Errorf("%v %+v %v", n, w.Clocks, w.Caveats)
	}
}

// Two runs stand in the log at each other's place, times and all.
func TestTwoRunsSwapped(t *testing.T) {
	for seed := range uint64(6) {
		d := made(seed, 9, 5)
		i, j := d.row("4/2"), d.row("4/4")
		d.log[i], d.log[j] = d.log[j], d.log[i]
		w := d.match(t)
		n := d.check(t, w)
		if n[OutOfOrder] < 2 || n[OutOfOrder] > 3 || n[""] < 42 || !w.Caveats.Has(OutOfOrder) || len(w.Missing)+len(w.Extra) > 0 {
			t.Errorf("seed %d: %v, %d missing, %d extra", seed, n, len(w.Missing), len(w.Extra))
		}
	}
}

// The log names the recordings of two stints the wrong way round.
func TestTwoRecordingsSwapped(t *testing.T) {
	d := made(3, 13, 6)
	for i, l := range d.log {
		switch l.Run.Stint {
		case "5":
			d.log[i].Recording = "stint06.csv"
		case "6":
			d.log[i].Recording = "stint05.csv"
		}
	}
	w := d.match(t)
	if n := d.check(t, w); n[Mislabelled] != 12 || n[""] != 66 {
		t.Errorf("%v", n)
	}
	for _, p := range w.Pairs {
		if bad := p.Logged.Run.Stint == "5" || p.Logged.Run.Stint == "6"; bad != (p.Doubt == Mislabelled) {
			t.Errorf("run %s: %q", p.Logged.Run.ID, p.Doubt)
		}
	}
}

// A run that was not logged, a warm-up before the first, and a run that was not
// recorded: each is said to be one, and no other run suffers by it.
func TestMissingAndExtraRuns(t *testing.T) {
	for seed := range uint64(6) {
		d := made(seed, 13, 6)
		i := d.row("7/3")
		d.log = slices.Delete(d.log, i, i+1)
		w := d.match(t)
		if n := d.check(t, w); n[""]+n[Unclear] != 77 || n[Unclear] > 2 || len(w.Extra) != 1 || int(math.Round(1000*w.Extra[0].At)) != d.truth["7/3"] || !w.Caveats.Has("run_extra") {
			t.Errorf("not logged, seed %d: %v, extra %v", seed, n, w.Extra)
		}

		d = made(seed, 13, 6)
		warm := d.seen[0].At - 130
		d.seen = append([]Seen{{Recording: "stint01.csv", At: warm, Piece: Piece{FromS: warm, ToS: warm + 60, Kind: Timed}}}, d.seen...)
		w = d.match(t)
		if n := d.check(t, w); n[""]+n[Unclear] != 78 || n[Unclear] > 1 || len(w.Extra) != 1 || w.Extra[0].At != warm {
			t.Errorf("warm-up, seed %d: %v, extra %v", seed, n, w.Extra)
		}

		d = made(seed, 13, 6)
		k := d.row("2/6")
		d.seen = slices.Delete(d.seen, k, k+1)
		w = d.match(t)
		if n := d.check(t, w); n[""]+n[Unclear] != 77 || n[Unclear] > 1 || len(w.Missing) != 1 || w.Missing[0].Run.ID != "2/6" || !w.Caveats.Has("run_missing") {
			t.Errorf("not recorded, seed %d: %v, missing %v", seed, n, w.Missing)
		}
	}
}

// A logger whose clock gains 40 s in an hour.
func TestADriftingClock(t *testing.T) {
	d := made(5, 13, 6)
	for i := range d.seen {
		d.seen[i].At += 40*(d.seen[i].At-8*3600)/3600 + 17
	}
	w := d.match(t)
	if n := d.check(t, w); n[""] != 78 || len(w.Clocks) != 1 || math.Abs(w.Clocks[0].PerHourS-40) > 3 || !w.Caveats.Has("clock_drift") {
		t.Errorf("%v %+v %v", n, w.Clocks, w.Caveats)
	}
}

// A mistyped time: by its place it is the run, by its clock it is not, and it is not
// used.
func TestAMistypedTime(t *testing.T) {
	d := made(6, 9, 5)
	d.log[d.row("3/3")].At += 18 * 60 * 100
	w := d.match(t)
	if n := d.check(t, w); n[""] != 44 || n[ClockOff] != 1 || !w.Caveats.Has(ClockOff) {
		t.Errorf("%v %v", n, w.Caveats)
	}
}

// Runs without a time are found by their place between others.
func TestUntimedRuns(t *testing.T) {
	d := made(8, 9, 5)
	for _, id := range []string{"3/3", "3/4", "9/5", "1/1"} {
		d.log[d.row(id)].Timed = false
	}
	w := d.match(t)
	if n := d.check(t, w); n[""] != 45 {
		t.Errorf("%v %v", n, w.Caveats)
	}
	// None timed at all: by order alone, or not at all.
	for i := range d.log {
		d.log[i].Timed = false
	}
	if n := d.check(t, d.match(t)); n[""] != 45 {
		t.Errorf("by order: %v", n)
	}
	if _, err := ByClock(d.seen[1:], d.log); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("by order, one missing: %v", err)
	}
}

// Six evenly spaced laps and five lines in the log: nothing says which is missing, and
// nothing is guessed.
func TestEvenlySpacedRunsAreNotGuessed(t *testing.T) {
	var seen []Seen
	var log []Logged
	for i := range 6 {
		at := 36000 + 60*float64(i)
		seen = append(seen, Seen{Recording: "laps.csv", At: at, Piece: Piece{FromS: at, Kind: Timed}})
		if i < 5 {
			log = append(log, Logged{Run: programme.Run{ID: fmt.Sprint(i + 1)}, At: at, Timed: true})
		}
	}
	if _, err := ByClock(seen, log); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("%v", err)
	}
	if w, err := ByClock(seen[:5], log); err != nil || len(w.Pairs) != 5 || w.Pairs[4].Doubt != "" || w.Pairs[4].Seen.At != seen[4].At {
		t.Errorf("as many of both: %v %v", w, err)
	}
}

// Days with several mishaps each, a thousand with BOOKEND_PROOF=1: whatever is used is
// right.
func TestNothingIsGuessedWrongly(t *testing.T) {
	used, doubted, refused := 0, 0, 0
	days := 50
	if os.Getenv("BOOKEND_PROOF") != "" {
		days = 1000
	}
	for seed := range uint64(days) {
		d := made(1000+seed, 8, 5)
		offset := []float64{0, 3600, -3600, 137, -1e6}[d.rnd.IntN(5)]
		rate := 30 * (d.rnd.Float64() - 0.5) / 3600
		for i := range d.seen {
			d.seen[i].At += offset + rate*(d.seen[i].At-8*3600)
		}
		for range 1 + d.rnd.IntN(3) {
			i, k := d.rnd.IntN(len(d.log)), d.rnd.IntN(len(d.seen))
			switch d.rnd.IntN(6) {
			case 0:
				d.log = slices.Delete(d.log, i, i+1)
			case 1:
				d.seen = slices.Delete(d.seen, k, k+1)
			case 2:
				s := d.seen[k]
				s.At += 20 + 60*d.rnd.Float64()
				s.Piece.FromS = -float64(k)
				d.seen = slices.Insert(d.seen, k+1, s)
			case 3:
				j := d.rnd.IntN(len(d.log))
				d.log[i], d.log[j] = d.log[j], d.log[i]
			case 4:
				d.log[i].At += 60 * float64(d.rnd.IntN(300)-150)
			case 5:
				d.log[i].Timed = false
			}
		}
		for i := range d.log {
			d.log[i].Recording = ""
		}
		w, err := ByClock(d.seen, d.log)
		if err != nil {
			refused++
			continue
		}
		n := d.check(t, w)
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
		used += n[""]
		doubted += len(w.Pairs) - n[""]
	}
	t.Logf("%d runs used, %d doubted, %d days refused", used, doubted, refused)
	if used < days*40*85/100 {
		t.Errorf("of %d runs %d are used", 40*days, used)
	}
}
