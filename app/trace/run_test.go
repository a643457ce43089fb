package trace_test

import (
	"math"
	"testing"

	"example.org/bookend/app/trace"
	"example.org/bookend/signal"
)

// steady is a run at 20 m/s from second 5 to second 15 of a recording of 20 s at 100 Hz,
// whose one channel holds the time of the recording itself.
func steady() *trace.Run {
	c := &signal.Channel{Name: "clock", Role: "speed", Unit: "s", Base: &signal.Base{}}
	for i := range 2001 {
		c.Base.T, c.Values = append(c.Base.T, float64(i)/100), append(c.Values, float64(i)/100)
	}
	c.Valid = []signal.Span{{From: 0, To: len(c.Values)}}
	r := &trace.Run{Code: "K", Run: "1/1", Channels: trace.Of(&signal.Recording{Channels: []*signal.Channel{c}}).Channels}
	for s := 0.0; s <= 200; s += 10 {
		r.S, r.T = append(r.S, s), append(r.T, 5+s/20)
	}
	return r
}

// At 20 m/s station s is passed 5 + s/20 seconds into the recording (by hand): a column
// over stations holds the samples of its time, one over time since a gate those since then,
// and beyond the run's ends there is nothing.
func TestColumnsAlongTheCourse(t *testing.T) {
	r := steady()
	c := &r.Channels[0]
	for k, x := range c.Within(r.Along(-50, 250, 30)) { // 10 m, half a second each
		from := 5 + (-50+10*float64(k))/20
		if out := k < 5 || k >= 25; x.Empty != out {
			t.Errorf("column %d is empty: %v", k, x.Empty)
		} else if !out && (math.Abs(x.Low-from) > 0.0101 || math.Abs(x.High-(from+0.5)) > 0.0101) {
			t.Errorf("column %d from %v to %v, want from %v", k, x.Low, x.High, from)
		}
	}
	for k, x := range c.Within(r.Since(100, 0, 10, 10)) { // station 100 is passed at second 10
		if out := k >= 5; x.Empty != out || !out && math.Abs(x.Low-(10+float64(k))) > 0.0101 {
			t.Errorf("column %d since the gate: %+v", k, x)
		}
	}
	if got := r.Lasts(100); math.Abs(got-5) > 1e-9 {
		t.Errorf("the run lasts %v s from the gate", got)
	}
	if v, ok := c.At(r.When(33)); !ok || math.Abs(v-6.65) > 1e-9 {
		t.Errorf("at 33 m it is second %v", v)
	}
	if _, ok := c.At(20.5); ok {
		t.Error("a value after the last sample")
	}
	if low, high, ok := c.During(5, 15); !ok || low != 5 || high != 15 {
		t.Errorf("during the run from %v to %v", low, high)
	}
}

// A channel is found in another run by name, or else by role; units must agree.
func TestChannelsAreFound(t *testing.T) {
	r := steady()
	if r.Channel(trace.Channel{Name: "clock", Unit: "s"}) == nil || r.Channel(trace.Channel{Name: "v", Role: "speed", Unit: "s"}) == nil {
		t.Error("the channel is not found")
	}
	if r.Channel(trace.Channel{Name: "clock", Unit: "m"}) != nil || r.Channel(trace.Channel{Name: "v", Unit: "s"}) != nil {
		t.Error("another channel is found")
	}
}
