package agree_test

import (
	"math"
	"testing"

	"example.org/bookend/signal"
	"example.org/bookend/soundness/agree"
)

// channel samples a function at a rate from 0 s to 60 s.
func channel(hz float64, f func(t float64) float64) *signal.Channel {
	b := signal.Even(0, 60, 1/hz)
	c := &signal.Channel{Base: b, Values: make([]float64, len(b.T)), Valid: []signal.Span{{From: 0, To: len(b.T)}}}
	for i, t := range b.T {
		c.Values[i] = f(t)
	}
	return c
}

// wander is smooth and never repeats itself within a minute.
func wander(t float64) float64 {
	return 2*math.Sin(0.9*t) + 1.3*math.Sin(2.3*t+0.4) + 0.8*math.Sin(4.1*t+1.1)
}

var grid = agree.NewGrid(0, 60, 0.05)

func on(c *signal.Channel) agree.Series { return agree.On(c, grid).Low(1.5) }

// A known factor, offset and delay are found, at rates of their own.
func TestALineAndADelayAreFound(t *testing.T) {
	x := on(channel(20, wander))
	y := on(channel(100, func(t float64) float64 { return 1.25*wander(t-0.3) - 0.4 }))
	f, ok := agree.Between(x, y, 1, 0.02, 0.5)
	if !ok || !f.DelayKnown || math.Abs(f.Delay-0.3) > 0.005 || math.Abs(f.Slope-1.25) > 0.005 || math.Abs(f.Offset+0.4) > 0.01 || f.Correlation < 0.999 {
		t.Errorf("%v %+v", ok, f)
	}
	// Turned over, and late, too.
	z := on(channel(50, func(t float64) float64 { return -wander(t - 0.12) }))
	f, ok = agree.Between(x, z, 1, 0.02, 0.5)
	if !ok || !f.DelayKnown || math.Abs(f.Delay-0.12) > 0.005 || math.Abs(f.Slope+1) > 0.005 {
		t.Errorf("turned over: %v %+v", ok, f)
	}
}

// What moves evenly shows no delay, however well it agrees.
func TestARampShowsNoDelay(t *testing.T) {
	x := on(channel(20, func(t float64) float64 { return 0.2 * t }))
	y := on(channel(20, func(t float64) float64 { return 0.2*(t-0.4) + 0.01*math.Sin(7*t) }))
	f, ok := agree.Between(x, y, 1, 0.02, 0.1)
	if !ok || f.DelayKnown {
		t.Errorf("%v %+v", ok, f)
	}
}

// Less than four seconds together say nothing.
func TestTooLittleTogether(t *testing.T) {
	x := on(channel(20, wander))
	if f, ok := agree.Between(x.Within(0, 30), x.Within(27, 60), 1, 0.02, 0); ok {
		t.Errorf("%+v", f)
	}
}

// The slope of a sine is its cosine; a gap of a second is not bridged.
func TestSlopeAndGap(t *testing.T) {
	c := channel(100, math.Sin)
	c.Valid = []signal.Span{{From: 0, To: 3000}, {From: 3100, To: c.Len()}}
	s := agree.On(c, grid)
	d := s.Slope()
	for i := range d.V {
		at := grid.At(i)
		if d.OK[i] && at > 0.2 && at < 59.8 && math.Abs(d.V[i]-math.Cos(at)) > 1e-3 {
			t.Fatalf("slope at %v s: %v, want %v", at, d.V[i], math.Cos(at))
		}
		if s.OK[i] && at > 30.05 && at < 30.95 {
			t.Fatalf("a value at %v s, within the gap", at)
		}
	}
	if m := s.Moved(0.1); math.Abs(m.V[200]-math.Sin(10.1)) > 1e-3 {
		t.Errorf("moved: %v", m.V[200])
	}
}
