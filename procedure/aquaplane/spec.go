package aquaplane

import "example.org/bookend/programme"

// Ids of parameters, and words.
const (
	paramAxle      = "driven_axle"
	paramWet       = "wet_side"
	paramSlip      = "onset_slip"
	paramHold      = "onset_hold"
	paramReference = "reference_time"

	axleFront = "front"
	wetEither = "either"
	wetRight  = "right"
	wetLeft   = "left"
)

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

var tests = programme.Source{Key: "aquaplaning-tests", Clause: "longitudinal"}

const scatter = "independent from pass to pass on the log scale, after drift"

// spec is what aquaplane declares.
var spec = programme.Spec{
	ID:      "aquaplane",
	Version: 1,
	Title:   "Aquaplaning, straight",
	About: "One side's wheels run through a trough of standing water while the driven axle accelerates hard: the speed at which the wet wheel " +
		"turns a stated share faster than the dry one.",
	Sources: []programme.Source{tests},
	Cut:     programme.CutByPass,
	Needs: []programme.Need{
		{Role: "wheel_speed_rl", Unit: "m/s", LeastHz: 50, Optional: "without it there is no onset where the rear axle is driven"},
		{Role: "wheel_speed_rr", Unit: "m/s", LeastHz: 50, Optional: "without it there is no onset where the rear axle is driven"},
		{Role: "wheel_speed_fl", Unit: "m/s", LeastHz: 50, Optional: "without it there is no onset where the front axle is driven"},
		{Role: "wheel_speed_fr", Unit: "m/s", LeastHz: 50, Optional: "without it there is no onset where the front axle is driven"},
		{Role: "speed", Unit: "m/s", LeastHz: 10},
	},
	Parameters: []programme.Parameter{
		{ID: paramAxle, Title: "Driven axle", Words: []string{"rear", axleFront}, Source: own("as the vehicle is built"), About: "The axle whose wheels are compared."},
		{ID: paramWet, Title: "Side in the water", Words: []string{wetEither, wetRight, wetLeft}, Source: own("the wheel that floats is the one that turns faster"),
			About: "Whose wheel floats; the other one is dry. Either: the one that turns faster."},
		{ID: paramSlip, Title: "Slip at the onset", Unit: "1", Shown: "%", Default: 0.15, Low: 0.01, High: 2, Source: tests,
			About: "By how much faster the wet wheel turns than the dry one."},
		{ID: paramHold, Title: "Time for which it holds", Unit: "s", Default: 0.05, Low: 0, High: 2, Source: own("a few samples, so that a bump is no onset"),
			About: "The slip stays at the onset's or above for so long."},
		{ID: paramReference, Title: "Time before the water", Unit: "s", Default: 1, Low: 0.1, High: 30, Source: own("some turns of a wheel"),
			About: "Over which the two wheels are made equal, both of them dry."},
	},
	Measures: []programme.Measure{
		{ID: "onset_speed", Title: "Onset speed of aquaplaning", Unit: "m/s", Shown: "km/h", Better: programme.Higher, Scale: programme.Ratio, Digits: 1, Error: scatter, Source: tests,
			About: "Speed over ground at which the wet wheel's slip rises through the onset's and stays."},
		{ID: "entry_speed", Title: "Entry speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the driver's foot", Source: tests,
			About: "Speed over ground where the water begins."},
		{ID: "top_speed", Title: "Top speed in the water", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the driver's foot", Source: tests,
			About: "Greatest speed over ground in the pass: a tyre that did not float is known to float above it only."},
		{ID: "greatest_float_slip", Title: "Greatest slip of the wet wheel", Unit: "1", Shown: "%", Better: programme.Undirected, Scale: programme.Difference, Digits: 0, Error: "when the driver lifts", Source: tests,
			About: "In the pass, against the dry wheel."},
	},
}
