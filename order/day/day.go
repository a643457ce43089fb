// Package day fits an order into a day: when each stint is fitted, driven and
// over, between breaks and within daylight, and what it wears off each set.
//
// A stint is a fitting by the crew, wetting of the surface, a warm-up, and runs
// with cooling between them; then tread is measured and ratings are written.
// Daylight is the time between sunrise and sunset by Meeus, Astronomical
// Algorithms (1998), chapters 15, 25 and 28. What a stage takes is what the
// evaluator says: there is no default that would look like a measured one.
// Units: s from midnight of the ground's clock, m of tread. Limits: each block
// is one day; a day that holds no sunrise or sunset has light all day or none.
package day

import (
	"fmt"
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// Span is a span of the day, in s from midnight.
type Span struct{ FromS, ToS float64 }

// Times is what a day is made of, in s. Each stint is a fitting, wetting, a
// warm-up and its runs with cooling between them.
type Times struct {
	StartS   float64 // when the first fitting begins, s from midnight
	WheelS   float64 // to change one wheel, pressure set
	Crew     int     // wheels changed at once; default 1
	Wheels   int     // of a set; default 4
	WettingS float64 // of the surface, after fitting
	WarmUpS  float64 // out lap or warm-up, not timed
	RunS     float64 // one run with its way back
	CoolingS float64 // between two runs of a stint
	AfterS   float64 // after the last run: tread, ratings, coming in
	Breaks   []Span  // nothing is begun that would not be finished before them
	Light    *Span   // nothing is driven outside of it; nil: any time
}

// Slot is one stint in the timetable, in s from midnight of its day.
type Slot struct {
	FitS   float64 // fitting begins
	DriveS float64 // wetting is over, the warm-up begins
	RunS   float64 // the first run begins
	EndS   float64 // the last run is over
	FreeS  float64 // the vehicle is free for the next fitting
}

func (t Times) complete() Times {
	if t.Crew == 0 {
		t.Crew = 1
	}
	if t.Wheels == 0 {
		t.Wheels = 4
	}
	return t
}

const day = 24 * 3600

func (t Times) check() error {
	for _, v := range []float64{t.StartS, t.WheelS, t.WettingS, t.WarmUpS, t.RunS, t.CoolingS, t.AfterS} {
		if !(v >= 0) || v > day {
			return fault.New(fault.Invalid, "a time of the day's plan is %v s", v).WithHint("times are 0 s to 24 h")
		}
	}
	if !(t.RunS > 0) {
		return fault.New(fault.Invalid, "a run takes no time").WithHint("say how long one run takes with its way back")
	}
	if t.Crew < 1 || t.Wheels < 1 {
		return fault.New(fault.Invalid, "a crew of %d changes %d wheels", t.Crew, t.Wheels).WithHint("at least one of each")
	}
	spans := t.Breaks
	if t.Light != nil {
		spans = append(spans[:len(spans):len(spans)], *t.Light)
	}
	for _, s := range spans {
		if !(s.FromS >= 0) || !(s.ToS > s.FromS) || s.ToS > day {
			return fault.New(fault.Invalid, "%s to %s is no span of a day", Clock(s.FromS), Clock(s.ToS)).WithHint("from before to, both within the day")
		}
	}
	return nil
}

// fit gives how long fitting a set takes.
func (t Times) fit() float64 {
	return math.Ceil(float64(t.Wheels)/float64(t.Crew)) * t.WheelS
}

// stint gives how long a stint of so many runs takes from the fitting on, and
// its parts.
func (t Times) stint(runs int) (drive, run, end, free float64) {
	drive = t.fit() + t.WettingS
	run = drive + t.WarmUpS
	end = run + float64(runs)*t.RunS + float64(runs-1)*t.CoolingS
	return drive, run, end, end + t.AfterS
}

// Clock writes s from midnight as a time of the day, to the minute.
func Clock(s float64) string {
	m := int(math.Round(s / 60))
	return fmt.Sprintf("%02d:%02d", m/60, m%60)
}

// schedule gives the slots of one block's stints, one day, and how many of them
// end within the light. A stint whose time would run into a break begins after
// it, its fitting included.
func (t Times) schedule(stints, runs int) (slots []Slot, within int) {
	drive, run, end, free := t.stint(runs)
	now := t.StartS
	for range stints {
		for moved := true; moved; {
			moved = false
			for _, b := range t.Breaks {
				if now < b.ToS && now+free > b.FromS {
					now, moved = b.ToS, true
				}
			}
			if t.Light != nil && now+drive < t.Light.FromS {
				now, moved = t.Light.FromS-drive, true
			}
		}
		s := Slot{now, now + drive, now + run, now + end, now + free}
		slots = append(slots, s)
		last := float64(day)
		if t.Light != nil {
			last = t.Light.ToS
		}
		// Half a second: clocks are read to the minute.
		if s.EndS <= last+0.5 {
			within = len(slots)
		}
		now = s.FreeS
	}
	return slots, within
}

// Timetable gives a slot for every stint, each block a day; a day that does not
// hold its stints is a clash.
func (t Times) Timetable(lengths []int, runs int) ([]Slot, error) {
	t = t.complete()
	if err := t.check(); err != nil {
		return nil, err
	}
	var all []Slot
	for b, n := range lengths {
		slots, within := t.schedule(n, runs)
		if within < n {
			_, _, _, each := t.stint(runs)
			name := "the day"
			if len(lengths) > 1 {
				name = fmt.Sprintf("day %d", b+1)
			}
			until := "midnight"
			if t.Light != nil {
				until = Clock(t.Light.ToS)
			}
			what := fmt.Sprintf("%d stints of %.0f min from %s", n, each/60, Clock(t.StartS))
			for _, s := range t.Breaks {
				what += fmt.Sprintf("; a break from %s to %s", Clock(s.FromS), Clock(s.ToS))
			}
			return nil, fault.New(fault.Invalid, "%s cannot hold all of: %s; nothing driven after %s", name, what, until).
				WithHint("%d of the stints fit: plan fewer runs or repeats, another day, a larger crew, or an earlier start", within)
		}
		all = append(all, slots...)
	}
	return all, nil
}

// Fit gives how many stints of so many runs end within the day that begins at
// StartS.
func (t Times) Fit(runs int) (int, error) {
	t = t.complete()
	if err := t.check(); err != nil {
		return 0, err
	}
	// mostStints of a day: of one minute each.
	_, within := t.schedule(24*60, runs)
	return within, nil
}

// BreaksInside says which breaks fall between a candidate and one of the
// controls that it is compared with. Codes are of the stints; lengths of the
// blocks.
func (t Times) BreaksInside(codes []string, control string, lengths []int, slots []Slot) caveat.List {
	var list caveat.List
	for _, b := range t.Breaks {
		at := 0
		for _, n := range lengths {
			for i := at + 1; i < at+n; i++ {
				if slots[i-1].FreeS <= b.FromS+0.5 && slots[i].FitS >= b.ToS-0.5 && (codes[i-1] != control || codes[i] != control) {
					list.Add("break_inside_bracket", caveat.Place{}, "The break from %s to %s falls between stints %d (%s) and %d (%s), inside a bracket: drift over the break is taken as if it were steady. A control before and after it would show.",
						Clock(b.FromS), Clock(b.ToS), i, codes[i-1], i+1, codes[i])
				}
			}
			at += n
		}
	}
	return list.Distinct()
}
