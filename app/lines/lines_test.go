package lines_test

import (
	"math"
	"testing"

	"example.org/bookend/app/lines"
	"example.org/bookend/procedure"
)

// round is a lap of a circle of radius r about the origin in so many seconds.
func round(code, stint, run string, r, seconds float64) procedure.Overlaid {
	e := procedure.Trace{ID: "east_by_time", XUnit: "s", YUnit: "m"}
	n := procedure.Trace{ID: "north_by_time", XUnit: "s", YUnit: "m"}
	for t := 0.0; t <= seconds+1e-9; t += 0.05 {
		a := 2 * math.Pi * t / seconds
		e.X, e.Y = append(e.X, t), append(e.Y, r*math.Cos(a))
		n.X, n.Y = append(n.X, t), append(n.Y, r*math.Sin(a))
	}
	return procedure.Overlaid{Code: code, Stint: stint, Run: run, Traces: []procedure.Trace{e, n}}
}

// Laps of circles: a line 1 m farther out runs 1 m to the right of one driven to the
// left, whoever is 1 s faster round has gained 1 s at the end and half of it half way.
func TestLapsOfCircles(t *testing.T) {
	l := lines.Lay([]procedure.Overlaid{
		round("K", "1", "1/1", 100, 40), round("K", "3", "3/1", 100, 40), round("P", "2", "2/1", 101, 39), round("P", "4", "4/1", 101, 39),
	})
	if l == nil || l.Control != "K" || !l.Closed || l.Straight || len(l.Codes) != 2 {
		t.Fatalf("%+v", l)
	}
	k, p := l.Codes[0], l.Codes[1]
	n := len(l.Station) - 1
	for i := range l.Station {
		if math.Abs(k.Aside[i]) > 1e-9 || math.Abs(k.Gain[i]) > 1e-9 {
			t.Fatalf("the control against itself at %.1f m: %v, %v", l.Station[i], k.Aside[i], k.Gain[i])
		}
		if i > n/20 && i < n-n/20 && math.Abs(p.Aside[i]+1) > 0.05 { // the line closes in short chords
			t.Fatalf("at %.1f m P is %.3f m to the left", l.Station[i], p.Aside[i])
		}
		if i > n/20 && i < n-n/20 && math.Abs(math.Hypot(p.X[i], p.Y[i])-101) > 0.1 {
			t.Fatalf("at %.1f m P is %.3f m from the middle", l.Station[i], math.Hypot(p.X[i], p.Y[i]))
		}
	}
	if math.Abs(p.Gain[n]-1) > 0.03 || math.Abs(p.Gain[n/2]-0.5) > 0.03 {
		t.Errorf("P gained %.3f s by half way and %.3f s in all", p.Gain[n/2], p.Gain[n])
	}
	if p.Low == nil || p.Runs != 2 || p.Stints != 2 {
		t.Errorf("%+v", p)
	}
	// A run driven again is where it was.
	x, y := p.Driven.At(39.0 / 4)
	if math.Hypot(x, y-101) > 0.2 || p.Driven.Run != "2/1" {
		t.Errorf("run %s is at %.2f, %.2f after a quarter", p.Driven.Run, x, y)
	}
	if x, y = p.Driven.At(1000); math.Hypot(x-101, y) > 0.5 {
		t.Errorf("it ends at %.2f, %.2f", x, y)
	}
}

// along is a straight run at a speed with an offset.
func along(code, stint string, v, offset float64) procedure.Overlaid {
	o := procedure.Trace{ID: "offset_by_station"}
	s := procedure.Trace{ID: "speed_by_station"}
	for x := 0.0; x <= 100; x++ {
		o.X, o.Y = append(o.X, x), append(o.Y, offset)
		s.X, s.Y = append(s.X, x), append(s.Y, v)
	}
	return procedure.Overlaid{Code: code, Stint: stint, Run: stint + "/1", Traces: []procedure.Trace{o, s, {ID: "markers", X: []float64{20, 40}, Y: []float64{0, 0}}}}
}

// A slalom begun on the other side is turned over; time comes from speed.
func TestStraightRuns(t *testing.T) {
	l := lines.Lay([]procedure.Overlaid{along("K", "1", 20, 1), along("P", "2", 25, -1.5)})
	if l == nil || l.Closed || !l.Straight || len(l.Cones) != 2 {
		t.Fatalf("%+v", l)
	}
	p := l.Codes[1]
	n := len(l.Station) - 1
	if math.Abs(p.Aside[n/2]-0.5) > 1e-9 || math.Abs(p.Gain[n]-1) > 1e-9 || p.Low != nil || math.Abs(p.Speed[n/2]-25) > 1e-9 {
		t.Errorf("%v m aside, %v s gained, %v m/s", p.Aside[n/2], p.Gain[n], p.Speed[n/2])
	}
	if lines.Lay([]procedure.Overlaid{along("K", "1", 20, 1)}) != nil {
		t.Error("one code alone makes lines")
	}
}

// Runs of one way have no spread, and one that is laid aside has the room it was laid
// aside by, at every station (analytic: the offsets are the test's own).
func TestRoomAndSpread(t *testing.T) {
	l := lines.Lay([]procedure.Overlaid{
		along("K", "1", 20, 1), along("K", "4", 20, 1), along("P", "2", 20, 1.5), along("P", "5", 20, 1.5), along("R", "3", 20, 0.25), along("R", "6", 20, 0.25),
	})
	for _, q := range l.Codes {
		for k := range l.Station {
			if q.Spread[k] > 1e-12 {
				t.Fatalf("%s spreads by %g m at %.1f m", q.Code, q.Spread[k], l.Station[k])
			}
		}
	}
	r, ok := l.Between("P", "R")
	if !ok || r.Low == nil {
		t.Fatalf("%+v", r)
	}
	for k := range l.Station {
		for _, v := range []float64{r.Left[k], r.Low[k], r.High[k]} {
			if math.Abs(v-1.25) > 1e-9 {
				t.Fatalf("P lies %v (%v to %v) m to the left of R at %.1f m", r.Left[k], r.Low[k], r.High[k], l.Station[k])
			}
		}
	}
	if _, ok := l.Between("P", "W"); ok {
		t.Error("room to a code that was not driven")
	}
}

// Two stints each at 1 and 1.2 m, and at 2 and 2.2 m: the means lie 1 m apart, the pooled
// standard deviation is 0.1·√2 m with 2 degrees of freedom, and 95 % lie within
// t = 4.303 (every table of Student's t, 97.5 %, 2 degrees) of the standard error.
func TestIntervalOfRoom(t *testing.T) {
	l := lines.Lay([]procedure.Overlaid{along("K", "1", 20, 1), along("K", "3", 20, 1.2), along("P", "2", 20, 2), along("P", "4", 20, 2.2)})
	r, _ := l.Between("P", "K")
	half := 4.303 * 0.1 * math.Sqrt2
	if k := len(r.Left) / 2; math.Abs(r.Left[k]-1) > 1e-9 || math.Abs(r.Low[k]-(1-half)) > 1e-3 || math.Abs(r.High[k]-(1+half)) > 1e-3 {
		t.Errorf("%v (%v to %v), want 1 (%v to %v)", r.Left[k], r.Low[k], r.High[k], 1-half, 1+half)
	}
	// Single runs: 1 and 1.2 have a standard deviation of 0.1·√2.
	if s := l.Codes[0].Spread[10]; math.Abs(s-0.1*math.Sqrt2) > 1e-9 {
		t.Errorf("spread %v", s)
	}
	alone := lines.Lay([]procedure.Overlaid{along("K", "1", 20, 1), along("P", "2", 20, 2)})
	if r, ok := alone.Between("P", "K"); !ok || r.Low != nil || alone.Codes[0].Spread != nil {
		t.Errorf("one stint each has an interval: %+v", r)
	}
}

// Half an hour at 100 Hz, 180,000 places, is driven again from few, and at any moment it is
// within 3 cm of where the recording had it; at a station it is when the recording was.
func TestHalfAnHourDrivenAgain(t *testing.T) {
	const seconds, r = 1800.0, 4000.0
	long := func(code, stint string) procedure.Overlaid {
		e, n := procedure.Trace{ID: "east_by_time"}, procedure.Trace{ID: "north_by_time"}
		for i := 0; i <= 180_000; i++ {
			at := float64(i) / 100
			a := 2 * math.Pi * at / seconds
			e.X, e.Y = append(e.X, at), append(e.Y, r*math.Cos(a))
			n.X, n.Y = append(n.X, at), append(n.Y, r*math.Sin(a))
		}
		return procedure.Overlaid{Code: code, Stint: stint, Run: stint + "/1", Traces: []procedure.Trace{e, n}}
	}
	l := lines.Lay([]procedure.Overlaid{long("K", "1"), long("P", "2")})
	if l == nil || len(l.Runs()) != 2 {
		t.Fatal("no lines")
	}
	d, ok := l.Run("2/1")
	if !ok || d.Code != "P" {
		t.Fatalf("%+v", d)
	}
	if len(d.T) > 5000 {
		t.Errorf("%d places are sent", len(d.T))
	}
	for at := 0.5; at < seconds-1; at += 7.31 {
		a := 2 * math.Pi * at / seconds
		x, y := d.At(at)
		if far := math.Hypot(x-r*math.Cos(a), y-r*math.Sin(a)); far > 0.03 {
			t.Fatalf("%.3f m away after %.2f s", far, at)
		}
		if s := r * a; math.Abs(d.When(s)-at) > 0.01 {
			t.Fatalf("at %.1f m after %.3f s, driven after %.3f s", s, d.When(s), at)
		}
	}
	if _, ok := l.Run("none"); ok {
		t.Error("a run that was not driven")
	}
}

// A vehicle 2 m wide, 3 m ahead of and 1 m behind its antenna, straight along at an offset
// of 0.5 m reaches from -0.5 to 1.5 m: in a lane from -1 to 1.6 m there are 0.1 m on its
// left and 0.5 m on its right, beside a marker on the axis it reaches 0.5 m past it, and
// between cones stand none (by hand). Its clock is that of its trace, which runs at 10 m/s.
func TestRoomToCones(t *testing.T) {
	driven := func(code, stint string, lanes bool) procedure.Overlaid {
		o := along(code, stint, 20, 0.5)
		o.Traces = o.Traces[:2]
		for _, c := range []struct {
			id        string
			by, aside float64
		}{{"front_left", 3, 1}, {"front_right", 3, -1}, {"rear_left", -1, 1}, {"rear_right", -1, -1}} {
			tr := procedure.Trace{ID: c.id + "_by_station"}
			for x := 0.0; x <= 100; x++ {
				tr.X, tr.Y = append(tr.X, x+c.by), append(tr.Y, 0.5+c.aside)
			}
			o.Traces = append(o.Traces, tr)
		}
		clock := procedure.Trace{ID: procedure.TimeFromCut}
		for x := 0.0; x <= 100; x++ {
			clock.X, clock.Y = append(clock.X, x), append(clock.Y, 2+x/10)
		}
		o.Traces = append(o.Traces, clock)
		if !lanes {
			return with(o, procedure.Trace{ID: "markers", X: []float64{20, 60}, Y: []float64{0, 0}})
		}
		o = with(o, procedure.Trace{ID: "left_edges", X: []float64{10, 30, 50, 70}, Y: []float64{1.6, 1.6, 4, 4}})
		return with(o, procedure.Trace{ID: "right_edges", X: []float64{10, 30, 50, 70}, Y: []float64{-1, -1, 1, 1}})
	}
	l := lines.Lay([]procedure.Overlaid{driven("K", "1", true), driven("P", "2", true)})
	at := func(l *lines.Lines, s float64) int {
		for k, x := range l.Station {
			if x >= s {
				return k
			}
		}
		return 0
	}
	got, ok := l.ToCones("P", at(l, 20))
	if !ok || len(got) != 2 || got[0].Side != "left" || math.Abs(got[0].Room-0.1) > 1e-9 || got[1].Side != "right" || math.Abs(got[1].Room-0.5) > 1e-9 {
		t.Errorf("in the lane: %+v, %v", got, ok)
	}
	if got, ok := l.ToCones("P", at(l, 40)); !ok || len(got) != 0 {
		t.Errorf("between lanes: %+v, %v", got, ok)
	}
	if got, _ := l.ToCones("P", at(l, 60)); len(got) != 2 || math.Abs(got[1].Room+1.5) > 1e-9 || got[1].Low != got[1].Room {
		t.Errorf("outside the second lane: %+v", got)
	}
	if code, k, c, ok := l.Tightest(); !ok || code != "K" || math.Abs(l.Station[k]-50) > 1 || math.Abs(c.Room+1.5) > 1e-9 {
		t.Errorf("%s at %v: %+v", code, l.Station[k], c)
	}
	when, where, ok := l.Clock("2/1")
	if n := len(when) - 1; !ok || math.Abs(when[0]-2) > 1e-9 || math.Abs(when[n]-(2+where[n]/10)) > 1e-9 {
		t.Errorf("the clock: %v", when)
	}
	m := lines.Lay([]procedure.Overlaid{driven("K", "1", false), driven("P", "2", false)})
	if got, ok := m.ToCones("K", at(m, 60)); !ok || len(got) != 1 || got[0].Side != "right" || math.Abs(got[0].Room+0.5) > 1e-9 {
		t.Errorf("beside a marker: %+v, %v", got, ok)
	}
	if _, ok := lines.Lay([]procedure.Overlaid{along("K", "1", 20, 1), along("P", "2", 20, 1)}).ToCones("K", 5); ok {
		t.Error("room of a vehicle whose width nobody told")
	}
}

func with(o procedure.Overlaid, tr procedure.Trace) procedure.Overlaid {
	o.Traces = append(o.Traces, tr)
	return o
}
