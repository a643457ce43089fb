package driver_test

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/ground"
)

func TestSineWithDwell(t *testing.T) {
	golden.Run(t, "un-r140", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			At [][2]float64 `json:"at"`
		}
		c.JSON(t, "case.json", &in)
		const amplitude = 2.5
		steer := driver.SineDwell(amplitude)
		for _, a := range in.At {
			c.Near(t, "steering", steer(a[0])/amplitude, a[1])
		}
	})
}

// A step rises at its rate and stays; a sweep's frequency grows evenly.
func TestStepAndSweep(t *testing.T) {
	step := driver.Step(-1, 5)
	for _, q := range [][2]float64{{-1, 0}, {0, 0}, {0.1, -0.5}, {0.2, -1}, {9, -1}} {
		if got := step(q[0]); math.Abs(got-q[1]) > 1e-12 {
			t.Errorf("%v s into a step: %v", q[0], got)
		}
	}
	// From 0.5 to 1.5 Hz in 10 s there are (0.5 + 1.5)/2 * 10 = 10 periods, as many
	// rising crossings of zero after the first.
	sweep := driver.Sweep(0.3, 0.5, 1.5, 10)
	rising, most := 0, 0.0
	for i := 1; i <= 10000; i++ {
		a, b := sweep(float64(i-1)/1000), sweep(float64(i)/1000)
		if a < 0 && b >= 0 {
			rising++
		}
		most = math.Max(most, math.Abs(b))
	}
	if rising < 9 || rising > 10 || math.Abs(most-0.3) > 1e-4 || sweep(10.1) != 0 {
		t.Errorf("%d periods up to %v, then %v", rising, most, sweep(10.1))
	}
}

// A pass holds its set speed within the manoeuvre until the throttle is released,
// follows its line, and comes round for the next.
func TestPasses(t *testing.T) {
	c := ground.Slalom(7, 36)
	const speed = 60 / 3.6
	s := session(c, "", driver.Professional("A"), 2, 0, 5)
	line := c.Weave(1.4)
	pass := driver.Pass{Speed: speed, From: c.Gates[0], To: c.Gates[1], Line: line}
	s.Passes([]driver.Pass{pass, pass})
	entered := 0
	for i := 1; i < len(s.Trace.Point); i++ {
		m := &s.Trace.Point[i]
		at := math.Mod(m.Station, c.Path.Length)
		if s.Trace.Point[i-1].Station <= c.Gates[0]+math.Floor(m.Station/c.Path.Length)*c.Path.Length && at > c.Gates[0] && at < c.Gates[0]+1 {
			entered++
		}
		if at > c.Gates[0] && at < c.Gates[1] {
			if math.Abs(m.VX-speed) > 1 {
				t.Fatalf("%v m/s at station %v", m.VX, at)
			}
			if o, _ := line(at); math.Abs(m.Offset-o) > 1 {
				t.Fatalf("%v m beside the path at station %v, meant %v", m.Offset, at, o)
			}
		}
	}
	if entered != 2 || s.Over() {
		t.Errorf("entered %d times, over: %v", entered, s.Over())
	}
}

// Asked for far too much, the vehicle leaves the course, and the session says so
// instead of driving on for an hour.
func TestLost(t *testing.T) {
	c := ground.CurvedTrough(60, 0.007)
	s := session(c, "", driver.Professional("A"), 2, 0, 35)
	s.Passes([]driver.Pass{{Speed: 40, From: c.Gates[0], To: c.Gates[1], Hold: true, Blind: true, Easy: 40}})
	if !s.Lost() || !s.Over() {
		t.Errorf("at 40 m/s on a radius of 60 m the vehicle is at station %v and not lost", s.Station())
	}
	if n := len(s.Trace.Point); n > 120*200 {
		t.Errorf("it took %d moments", n)
	}
}

// A machine steers at the speed asked for, the throttle held.
func TestMachine(t *testing.T) {
	s := session(ground.Pad(), "", driver.Professional("A"), 4, 0, 22)
	s.Machine(22, 3, 4, driver.Step(0.5, 7))
	p := s.Trace.Point
	if v := p[3*200].VX; math.Abs(v-22) > 0.4 {
		t.Errorf("steered at %v m/s", v)
	}
	if p[590].Steer != 0 || math.Abs(p[len(p)-1].Steer-0.5) > 1e-12 {
		t.Errorf("steering %v before, %v after", p[590].Steer, p[len(p)-1].Steer)
	}
	if p[700].Throttle != p[1200].Throttle || p[len(p)-1].YawRate < 0.1 {
		t.Errorf("throttle %v and %v, yaw rate %v", p[700].Throttle, p[1200].Throttle, p[len(p)-1].YawRate)
	}
}
