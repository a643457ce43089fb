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
