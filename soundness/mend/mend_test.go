package mend_test

import (
	"math"
	"slices"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/signal"
	"example.org/bookend/soundness/mend"
)

func recording() *signal.Recording {
	base := &signal.Base{T: []float64{0, 1, 2, 3, 4, 5}}
	all := []signal.Span{{From: 0, To: 6}}
	return &signal.Recording{Name: "a.csv", Channels: []*signal.Channel{
		{Name: "v", Unit: "m/s", Base: base, Values: []float64{1, 2, 3, 4, 5, 6}, Valid: all},
		{Name: "ay", Unit: "m/s²", Base: base, Values: []float64{0, -1, 0, 1, 0, 0}, Valid: []signal.Span{{From: 0, To: 4}}},
	}}
}

// What each mend does to five values, by hand.
func TestEachMendByHand(t *testing.T) {
	for _, c := range []struct {
		name   string
		mends  []mend.Mend
		values []float64
		valid  []signal.Span
		times  []float64
	}{
		{"scale", []mend.Mend{{Channel: "v", What: mend.Scale, Value: 3.6}}, []float64{3.6, 7.2, 10.8, 14.4, 18, 21.6}, nil, nil},
		{"offset", []mend.Mend{{Channel: "v", What: mend.Offset, Value: -1}}, []float64{0, 1, 2, 3, 4, 5}, nil, nil},
		{"sign", []mend.Mend{{Channel: "v", What: mend.Sign, Value: -1}}, []float64{-1, -2, -3, -4, -5, -6}, nil, nil},
		{"in order", []mend.Mend{{Channel: "v", What: mend.Scale, Value: 2}, {Channel: "v", What: mend.Offset, Value: 1}}, []float64{3, 5, 7, 9, 11, 13}, nil, nil},
		{"a part", []mend.Mend{{Channel: "v", What: mend.From, Value: 2}, {Channel: "v", What: mend.To, Value: 3}, {Channel: "v", What: mend.Offset, Value: 10}}, []float64{1, 2, 13, 14, 5, 6}, nil, nil},
		{"a part alone", []mend.Mend{{Channel: "v", What: mend.From, Value: 4}, {Channel: "v", What: mend.Offset, Value: 10}, {Channel: "v", What: mend.Scale, Value: 2}}, []float64{2, 4, 6, 8, 30, 32}, nil, nil},
		{"drop", []mend.Mend{{Channel: "v", What: mend.From, Value: 2}, {Channel: "v", What: mend.To, Value: 3}, {Channel: "v", What: mend.Drop}}, []float64{1, 2, 0, 0, 5, 6}, []signal.Span{{From: 0, To: 2}, {From: 4, To: 6}}, nil},
		{"above", []mend.Mend{{Channel: "v", What: mend.DropAbove, Value: 5}}, []float64{1, 2, 3, 4, 0, 0}, []signal.Span{{From: 0, To: 4}}, nil},
		{"below", []mend.Mend{{Channel: "v", What: mend.DropBelow, Value: 2}}, []float64{0, 0, 3, 4, 5, 6}, []signal.Span{{From: 2, To: 6}}, nil},
		{"move", []mend.Mend{{Channel: "v", What: mend.Move, Value: -0.25}}, []float64{1, 2, 3, 4, 5, 6}, nil, []float64{-0.25, 0.75, 1.75, 2.75, 3.75, 4.75}},
		{"clock", []mend.Mend{{Channel: "v", What: mend.From, Value: 3}, {Channel: "v", What: mend.Move, Value: -0.5}}, []float64{1, 2, 3, 4, 5, 6}, nil, []float64{0, 1, 2, 2.5, 3.5, 4.5}},
		{"split", []mend.Mend{{Channel: "v", What: mend.Split, Value: 0.9}}, []float64{1, 2, 3, 4, 5, 6}, []signal.Span{{From: 0, To: 1}, {From: 1, To: 2}, {From: 2, To: 3}, {From: 3, To: 4}, {From: 4, To: 5}, {From: 5, To: 6}}, nil},
	} {
		before := recording()
		got, err := mend.Apply(before, c.mends)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		v := got.Channels[0]
		for i := range c.values {
			if math.Abs(v.Values[i]-c.values[i]) > 1e-12 {
				t.Errorf("%s: values %v, want %v", c.name, v.Values, c.values)
				break
			}
		}
		if c.valid != nil && !slices.Equal(v.Valid, c.valid) {
			t.Errorf("%s: valid %v, want %v", c.name, v.Valid, c.valid)
		}
		if c.times != nil && !slices.Equal(v.Base.T, c.times) {
			t.Errorf("%s: times %v, want %v", c.name, v.Base.T, c.times)
		}
		if len(v.History) != len(c.mends) || v.History[0].What != c.mends[0].What || v.History[0].Value != c.mends[0].Value {
			t.Errorf("%s: history %v", c.name, v.History)
		}
		// Neither the other channel nor what was handed in is touched.
		if got.Channels[1] != before.Channels[1] || !slices.Equal(before.Channels[0].Values, recording().Channels[0].Values) ||
			!slices.Equal(before.Channels[0].Base.T, recording().Channels[0].Base.T) || len(before.Channels[0].History) != 0 {
			t.Errorf("%s: the recording that was handed in has changed", c.name)
		}
	}
}

// Channels that are moved alike stay on one base; invalid samples stay 0.
func TestMovedChannelsStayTogether(t *testing.T) {
	got, err := mend.Apply(recording(), []mend.Mend{
		{Channel: "v", What: mend.Move, Value: 0.5}, {Channel: "ay", What: mend.Move, Value: 0.5}, {Channel: "ay", What: mend.Offset, Value: 2},
	})
	if err != nil {
		t.Fatal(err)
	}
	if got.Channels[0].Base != got.Channels[1].Base {
		t.Error("two bases")
	}
	if got.Channels[1].Values[4] != 0 || got.Channels[1].Values[3] != 3 {
		t.Errorf("values %v", got.Channels[1].Values)
	}
}

func TestMendsThatCannotBeMade(t *testing.T) {
	for _, c := range []struct {
		m    mend.Mend
		code fault.Code
	}{
		{mend.Mend{Channel: "w", What: mend.Scale, Value: 2}, fault.NotFound},
		{mend.Mend{Channel: "v", What: mend.Scale}, fault.Invalid},
		{mend.Mend{Channel: "v", What: mend.Scale, Value: math.NaN()}, fault.Invalid},
		{mend.Mend{Channel: "v", What: "polish", Value: 1}, fault.Invalid},
		{mend.Mend{Channel: "v", What: mend.Split}, fault.Invalid},
	} {
		if _, err := mend.Apply(recording(), []mend.Mend{c.m}); fault.CodeOf(err) != c.code {
			t.Errorf("%v: %v", c.m, err)
		}
	}
	// Moved so far back that time would run backward.
	_, err := mend.Apply(recording(), []mend.Mend{{Channel: "v", What: mend.From, Value: 3}, {Channel: "v", What: mend.Move, Value: -1}})
	if fault.CodeOf(err) != fault.Invalid {
		t.Errorf("time backward: %v", err)
	}
	// A mend of another file is passed over.
	got, err := mend.Apply(recording(), []mend.Mend{{File: "b.csv", Channel: "v", What: mend.Scale, Value: 2}})
	if err != nil || got.Channels[0].Values[0] != 1 {
		t.Errorf("another file: %v %v", err, got)
	}
}
