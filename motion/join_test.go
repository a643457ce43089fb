package motion_test

import (
	"math"
	"testing"

	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/motion"
	"example.org/bookend/signal"
)

func recording(name string, anchor clock.Instant, t ...float64) *signal.Recording {
	return &signal.Recording{Name: name, Anchor: anchor, Channels: []*signal.Channel{{
		Name: "x of " + name, Base: &signal.Base{T: t}, Values: make([]float64, len(t)), Valid: []signal.Span{{From: 0, To: len(t)}},
	}}}
}

func TestRecordingsOfOneDriveAreLaidOnOneTimeAxis(t *testing.T) {
	none := clock.Instant{}
	at := func(s float64, source clock.Source) clock.Instant {
		return clock.Instant{UnixNS: 1_700_000_000_000_000_000 + int64(s*1e9), Clock: source}
	}
	a := recording("a", at(0, clock.GNSS), 0, 1, 2)
	b := recording("b", at(1.5, clock.GNSS), 0, 1)
	got, err := motion.Join(a, b)
	if err != nil {
		t.Fatal(err)
	}
	if x := got.Channels[1].Base.T; x[0] != 1.5 || x[1] != 2.5 {
		t.Errorf("the second recording stands at %v s", x)
	}
	if b.Channels[0].Base.T[0] != 0 {
		t.Error("the recording that was joined is changed")
	}
	if got.Name != "a, b" || len(got.Caveats) != 0 {
		t.Errorf("%s, %v", got.Name, got.Caveats)
	}
	c := recording("c", at(1, clock.Logger), 0)
	c.Anchor.OffsetS = 0.25
	got, err = motion.Join(a, c)
	if err != nil {
		t.Fatal(err)
	}
	if x := got.Channels[1].Base.T[0]; x != 1.25 || !got.Caveats.Has("other_clock") {
		t.Errorf("by another clock: %g s, %v", x, got.Caveats)
	}
	for _, q := range []struct {
		why  string
		recs []*signal.Recording
	}{
		{"none", nil},
		{"one without a clock", []*signal.Recording{a, recording("n", none, 0, 1)}},
		{"days apart", []*signal.Recording{a, recording("d", at(3*86400, clock.GNSS), 0)}},
		{"seconds that do not overlap", []*signal.Recording{recording("n", none, 0, 1), recording("m", none, 5, 6)}},
	} {
		if _, err := motion.Join(q.recs...); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", q.why, err)
		}
	}
	if got, err := motion.Join(recording("n", none, 100, 101), recording("m", none, 100.5, 102)); err != nil || got.Channels[1].Base.T[0] != 100.5 {
		t.Errorf("two that count from the same moment: %v", err)
	}
}

// A drive that stands 4 s and then goes straight on, east at 10 m/s, with known
// zero errors: at the standstill those of rates and accelerations, on the straight
// that of the steering too.
func TestZerosFromStandstillAndStraight(t *testing.T) {
	base := &signal.Base{}
	var ve, vn, r, ax, steer []float64
	for i := range 2001 {
		at := float64(i) * 0.01
		v := math.Max(0, math.Min(10, 2*(at-4)))
		base.T = append(base.T, at)
		ve, vn = append(ve, v), append(vn, 0)
		r = append(r, 0.005)
		a := 0.3
		if v > 0 && v < 10 {
			a += 2
		}
		ax = append(ax, a)
		steer = append(steer, -0.04)
	}
	rec := &signal.Recording{}
	for _, c := range []struct {
		role signal.Role
		v    []float64
	}{{signal.VelocityEast, ve}, {signal.VelocityNorth, vn}, {signal.YawRate, r}, {signal.AccelX, ax}, {signal.SteeringAngle, steer}} {
		rec.Channels = append(rec.Channels, &signal.Channel{Name: string(c.role), Role: c.role, Base: base, Values: c.v, Valid: []signal.Span{{From: 0, To: len(c.v)}}})
	}
	want := map[string]float64{"yaw_rate standstill": 0.005, "acceleration_x standstill": 0.3, "yaw_rate straight": 0.005, "steering_angle straight": -0.04}
	for _, z := range motion.Zeros(rec) {
		key := z.Channel.Name + " " + z.At
		w, ok := want[key]
		if !ok {
			t.Errorf("a zero that is not asked for: %s", key)
			continue
		}
		delete(want, key)
		if math.Abs(z.Offset-w) > 1e-9 || z.Pieces != 1 || z.SD != 0 || z.Seconds < 2 {
			t.Errorf("%s: %+v, want %g", key, z, w)
		}
	}
	if len(want) > 0 {
		t.Errorf("not found: %v", want)
	}
}
