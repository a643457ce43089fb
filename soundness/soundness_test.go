package soundness_test

import (
	"testing"

	"example.org/bookend/signal"
	"example.org/bookend/soundness"
)

// Ten samples at 10 Hz of which one is lost: nine steps, one of 0.2 s.
func TestRateGapsAndRangeByHand(t *testing.T) {
	base := &signal.Base{T: []float64{0, 0.1, 0.2, 0.3, 0.4, 0.7, 0.8, 0.9, 1.0}}
	rec := &signal.Recording{Channels: []*signal.Channel{
		{Name: "v", Role: signal.Speed, Unit: "m/s", SourceUnit: "km/h", Base: base,
			Values: []float64{1, 2, 3, 0, 0, 6, 7, 8, -2}, Valid: []signal.Span{{From: 0, To: 3}, {From: 5, To: 9}}},
		{Name: "empty", Base: base, Values: make([]float64, 9)},
		{Name: "single", Base: &signal.Base{T: []float64{4}}, Values: []float64{5}, Valid: []signal.Span{{From: 0, To: 1}}},
	}}
	c := soundness.Channels(rec)
	v := c[0]
	if v.Rate == nil || *v.Rate < 9.99 || *v.Rate > 10.01 || v.Gaps != 1 || v.LargestGap == nil || *v.LargestGap < 0.299 || *v.LargestGap > 0.301 {
		t.Errorf("cadence: %+v", v)
	}
	if v.Samples != 9 || v.Valid != 7 || *v.Low != -2 || *v.High != 8 || v.FromS != 0 || v.ToS != 1 {
		t.Errorf("range: %+v", v)
	}
	if c[1].Low != nil || c[1].Valid != 0 {
		t.Errorf("a channel without values has a range: %+v", c[1])
	}
	if c[2].Rate != nil || c[2].Gaps != 0 || *c[2].Low != 5 {
		t.Errorf("a single sample: %+v", c[2])
	}
}
