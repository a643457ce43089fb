package frequency

import "example.org/bookend/programme"

// Ids of parameters.
const (
	paramWidth          = "averaging_width"
	paramCoherence      = "least_coherence"
	paramSpeed          = "set_speed"
	paramSpeedTolerance = "speed_tolerance"
)

const kmh = 1 / 3.6

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

var (
	standard = programme.Source{Key: "iso-7401", Clause: "clauses 12 to 14 (from memory)"}
	average  = programme.Source{Key: "daniell-1946", Clause: "average over neighbouring frequencies"}
)

const scatter = "independent from run to run after drift"

// spec is what frequency declares.
var spec = programme.Spec{
	ID:      "frequency",
	Version: 1,
	Title:   "Frequency response",
	About: "Steering that holds all frequencies from 0.2 to 3 Hz, swept or at random, at a set speed: how much and how late yaw rate and lateral " +
		"acceleration answer at each.",
	Sources: []programme.Source{standard, average},
	Cut:     programme.CutWhole,
	Needs: []programme.Need{
		{Role: "steering_angle", Unit: "rad", LeastHz: 20},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 20},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 20, Optional: "without it gains and phases of lateral acceleration are missing"},
		{Role: "speed", Unit: "m/s", LeastHz: 1, Optional: "without it the speed is not known"},
	},
	Parameters: []programme.Parameter{
		{ID: paramWidth, Title: "Width of averaging", Unit: "Hz", Default: 0.15, Low: 0.01, High: 1,
			Source: own("nine frequencies of a minute; a car's answer bends little over it"), About: "Spectra are averaged over so many hertz about each frequency; more leaves less noise and rounds off more."},
		{ID: paramCoherence, Title: "Least coherence", Unit: "1", Default: 0.9, Low: 0, High: 1, Source: programme.Source{Key: "iso-7401", Clause: "coherence of 0.9 or so (from memory)"},
			About: "Below it there is no gain and no phase."},
		{ID: paramSpeed, Title: "Set speed", Unit: "m/s", Shown: "km/h", Default: 80 * kmh, Low: 0, High: 100, Source: standard,
			About: "A run at another speed is told. 0: any."},
		{ID: paramSpeedTolerance, Title: "Tolerance of the speed", Unit: "m/s", Shown: "km/h", Default: 3 * kmh, Low: 0, High: 20,
			Source: own("gains change by 3 % for it"), About: "Either way about the set speed."},
	},
	Measures: []programme.Measure{
		{ID: "mean_speed", Title: "Mean speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the driver's foot", Source: standard,
			About: "Over the whole run."},
		{ID: "yaw_gain", Title: "Gain of yaw rate", Unit: "1/s", Better: programme.Undirected, Scale: programme.Ratio, Digits: 3, Places: true, Error: scatter, Source: standard,
			About: "Amplitude of yaw rate for that of the steering-wheel angle, at a frequency."},
		{ID: "yaw_phase", Title: "Phase of yaw rate", Unit: "rad", Shown: "°", Better: programme.Higher, Scale: programme.Difference, Digits: 1, Places: true, Error: scatter, Source: standard,
			About: "Negative where yaw rate comes later than the steering."},
		{ID: "yaw_coherence", Title: "Coherence of yaw rate", Unit: "1", Better: programme.Undirected, Scale: programme.Difference, Digits: 3, Places: true, Error: scatter, Source: average,
			About: "Share of yaw rate's power that goes with the steering."},
		{ID: "yaw_equivalent_time", Title: "Equivalent time of yaw rate", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: scatter, Source: standard,
			About: "The delay whose phase that at 1 Hz is: minus phase over 2π times the frequency."},
		{ID: "yaw_bandwidth", Title: "Bandwidth of yaw rate", Unit: "Hz", Better: programme.Higher, Scale: programme.Difference, Digits: 2, Error: scatter, Source: own("the usual 3 dB, from the lowest frequency"),
			About: "Where the gain has fallen by 3 dB from that at the lowest frequency."},
		{ID: "lateral_gain", Title: "Gain of lateral acceleration", Unit: "(m/s²)/rad", Shown: "(m/s²)/°", Better: programme.Undirected, Scale: programme.Ratio, Digits: 3, Places: true, Error: scatter, Source: standard,
			About: "Amplitude of lateral acceleration for that of the steering-wheel angle, at a frequency."},
		{ID: "lateral_phase", Title: "Phase of lateral acceleration", Unit: "rad", Shown: "°", Better: programme.Higher, Scale: programme.Difference, Digits: 1, Places: true, Error: scatter, Source: standard,
			About: "Negative where lateral acceleration comes later than the steering."},
		{ID: "lateral_coherence", Title: "Coherence of lateral acceleration", Unit: "1", Better: programme.Undirected, Scale: programme.Difference, Digits: 3, Places: true, Error: scatter, Source: average,
			About: "Share of lateral acceleration's power that goes with the steering."},
		{ID: "lateral_equivalent_time", Title: "Equivalent time of lateral acceleration", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: scatter, Source: standard,
			About: "As that of yaw rate."},
		{ID: "lateral_bandwidth", Title: "Bandwidth of lateral acceleration", Unit: "Hz", Better: programme.Higher, Scale: programme.Difference, Digits: 2, Error: scatter, Source: own("the usual 3 dB, from the lowest frequency"),
			About: "Where the gain has fallen by 3 dB from that at the lowest frequency."},
	},
}
