package aquaplanecurve

import "example.org/bookend/programme"

// Ids of parameters.
const (
	paramFilter = "filter_cutoff"
	paramStep   = "speed_step"
	paramFrom   = "from_speed"
	paramTo     = "to_speed"
	paramFallen = "fallen_to"

	paramMotion     = "motion"
	paramPositionSD = "position_sd"
	paramReference  = "reference_ahead"
	paramInertial   = "inertial_ahead"
	paramRearAxle   = "rear_axle"
)

// motionSmoothed is the word for motion by all sensors at once.
const motionSmoothed = "smoothed"

const kmh = 1 / 3.6

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

var (
	tests    = programme.Source{Key: "aquaplaning-tests", Clause: "curve"}
	practice = programme.Source{Key: programme.CommonPractice, Clause: "figures of the curve of lateral acceleration by speed"}
)

const scatter = "independent from series to series on the log scale, after drift"

// spec is what aquaplanecurve declares.
var spec = programme.Spec{
	ID:      "aquaplane_curve",
	Version: 1,
	Title:   "Aquaplaning, curve",
	About: "Passes through a trough of standing water on a circle, each step faster than the one before: how much lateral acceleration is left in " +
		"the trough by speed, and the area below that curve.",
	Sources: []programme.Source{tests, practice},
	Cut:     programme.CutWhole,
	Needs: []programme.Need{
		{Role: "latitude", Unit: "rad", LeastHz: 10},
		{Role: "longitude", Unit: "rad", LeastHz: 10},
		{Role: "speed", Unit: "m/s", LeastHz: 10},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 50},
		{Role: "acceleration_x", Unit: "m/s²", LeastHz: 20, Optional: "without it the gravity that a leaning body adds stays in lateral acceleration"},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 20, Optional: "without it the gravity that a leaning body adds stays in lateral acceleration"},
	},
	Parameters: []programme.Parameter{
		{ID: paramFilter, Title: "Cut-off of the filter", Unit: "Hz", Default: 10, Low: 0, High: 100,
			Source: programme.Source{Key: "euro-ncap-aeb-4.3.1", Clause: "4.3: 12-pole phaseless Butterworth, 10 Hz, for acceleration and yaw rate"},
			About:  "Of the sensor's lateral acceleration, where it is used; twelve poles, six each way, without delay; the gain is 1/2 at the cut-off. 0: not filtered."},
		{ID: paramMotion, Title: "Motion", Words: []string{motionSmoothed, "as_recorded"},
			Source: programme.Source{Key: "rauch-1965", Clause: "forward and backward pass"},
			About:  "Lateral acceleration by all sensors at once, or the sensor's."},
		{ID: paramPositionSD, Title: "Slow error of positions", Unit: "m", Default: 0, Low: 0, High: 20,
			Source: own("0: that of a receiver by itself, 1.5 m; 0.02 m with corrections from a station"), About: "Standard deviation of the position error that all samples of a minute share."},
		{ID: paramInertial, Title: "Acceleration sensor ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the sensor is taken to sit below the antenna"),
			About: "Negative: behind."},
		{ID: paramReference, Title: "Reference point ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the antenna's place stands for it"),
			About: "Where lateral acceleration is asked for, usually the centre of gravity. Negative: behind."},
		{ID: paramRearAxle, Title: "Rear axle behind the reference point", Unit: "m", Default: 0, Low: 0, High: 10,
			Source: own("0: not stated"), About: "Helps the motion to tell which way the vehicle points."},
		{ID: paramStep, Title: "Step of speed", Unit: "m/s", Shown: "km/h", Default: 5 * kmh, Low: 0.5 * kmh, High: 30 * kmh, Source: tests,
			About: "Passes whose entry speeds round to one multiple of it are one step."},
		{ID: paramFrom, Title: "Area from", Unit: "m/s", Shown: "km/h", Default: 60 * kmh, Low: 5 * kmh, High: 200 * kmh, Source: tests,
			About: "Lower speed of the area below the curve."},
		{ID: paramTo, Title: "Area to", Unit: "m/s", Shown: "km/h", Above: paramFrom, Default: 90 * kmh, Low: 10 * kmh, High: 250 * kmh, Source: practice,
			About: "Upper speed of the area below the curve."},
		{ID: paramFallen, Title: "Fallen to", Unit: "m/s²", Default: 1, Low: 0, High: 10, Source: own("half of a gentle curve on dry ground"),
			About: "The floating speed is that at which lateral acceleration has fallen to it."},
	},
	Measures: []programme.Measure{
		{ID: "floating_area", Title: "Area below lateral acceleration by speed", Unit: "m²/s³", Shown: "km/h·m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: practice,
			About: "Between the two speeds, by the trapezoidal rule over the means of the steps."},
		{ID: "greatest_trough_lateral", Title: "Greatest lateral acceleration in the trough", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: practice,
			About: "The greatest of the steps' means."},
		{ID: "speed_of_greatest", Title: "Speed of the greatest", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "one of the steps", Source: practice,
			About: "Mean entry speed of the step with the greatest lateral acceleration."},
		{ID: "floating_speed", Title: "Floating speed", Unit: "m/s", Shown: "km/h", Better: programme.Higher, Scale: programme.Ratio, Digits: 1, Error: scatter, Source: practice,
			About: "Where lateral acceleration has fallen to the set value, between the steps' means."},
		{ID: "trough_lateral", Title: "Least lateral acceleration in the trough", Unit: "m/s²", Better: programme.Higher, Scale: programme.Difference, Digits: 2, Places: true, Error: "independent from series to series after drift", Source: tests,
			About: "Mean over the passes of one step of speed; to the inside of the circle."},
		{ID: "passes", Title: "Passes", Unit: "1", Better: programme.Undirected, Scale: programme.Difference, Digits: 0, Error: "none: it is counted", Source: tests,
			About: "Whole passes through the trough in the series."},
	},
}
