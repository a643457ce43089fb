package sinedwell

import (
	"math"

	"example.org/bookend/programme"
)

// Ids of parameters.
const (
	paramSteerFilter    = "steering_filter_cutoff"
	paramFilter         = "filter_cutoff"
	paramSpeed          = "entry_speed"
	paramSpeedTolerance = "entry_tolerance"
	paramNormal         = "normal_angle"
	paramMultiple       = "least_multiple"
	paramLimit1000      = "limit_1000_ms"
	paramLimit1750      = "limit_1750_ms"
	paramDisplacement   = "least_displacement"
)

const (
	kmh = 1 / 3.6
	deg = math.Pi / 180
)

var (
	standard = programme.Source{Key: "un-r140", Clause: "sine with dwell: conditions and data processing"}
	limits   = programme.Source{Key: "un-r140", Clause: "limits (from memory)"}
)

const scatter = "independent from run to run after drift, at one amplitude"

// spec is what sinedwell declares.
var spec = programme.Spec{
	ID:      "sinedwell",
	Version: 1,
	Title:   "Sine with dwell",
	About: "One sine of steering with a dwell at its second peak, by a machine: how much of the yaw rate is left one second and one and three " +
		"quarters after the steering has ended, and how far the vehicle has moved aside.",
	Sources: []programme.Source{standard},
	Cut:     programme.CutWhole,
	Needs: []programme.Need{
		{Role: "steering_angle", Unit: "rad", LeastHz: 100},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 100},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 100, Optional: "without it the displacement is missing"},
		{Role: "roll", Unit: "rad", LeastHz: 50, Optional: "without it the gravity that a leaning body adds stays in lateral acceleration and displacement"},
		{Role: "speed", Unit: "m/s", LeastHz: 5, Optional: "without it the entry speed is not known"},
	},
	Parameters: []programme.Parameter{
		{ID: paramSteerFilter, Title: "Cut-off of the filter of steering", Unit: "Hz", Default: 10, Low: 0, High: 100, Source: standard,
			About: "Twelve poles, six each way, without delay; the gain is 1/2 at the cut-off. 0: not filtered."},
		{ID: paramFilter, Title: "Cut-off of the filter of yaw rate and lateral acceleration", Unit: "Hz", Default: 6, Low: 0, High: 100, Source: standard,
			About: "As that of steering."},
		{ID: paramSpeed, Title: "Entry speed", Unit: "m/s", Shown: "km/h", Default: 80 * kmh, Low: 0, High: 100, Source: standard,
			About: "At the beginning of steering. 0: any."},
		{ID: paramSpeedTolerance, Title: "Tolerance of the entry speed", Unit: "m/s", Shown: "km/h", Default: 2 * kmh, Low: 0, High: 20, Source: standard,
			About: "Either way about the entry speed."},
		{ID: paramNormal, Title: "Normal steering angle", Unit: "rad", Shown: "°", Default: 0, Low: 0, High: 720 * deg, Source: standard,
			About: "The angle that gives 3.0 m/s² at 80 km/h with slowly increasing steer; amplitudes are multiples of it. 0: not stated."},
		{ID: paramMultiple, Title: "Least multiple for the displacement's limit", Unit: "1", Default: 5, Low: 0, High: 10, Source: limits,
			About: "Below it displacement has no limit."},
		{ID: paramLimit1000, Title: "Most yaw left after 1 s", Unit: "1", Shown: "%", Default: 0.35, Low: 0, High: 10, Source: limits,
			About: "More is told."},
		{ID: paramLimit1750, Title: "Most yaw left after 1.75 s", Unit: "1", Shown: "%", Default: 0.20, Low: 0, High: 10, Source: limits,
			About: "More is told."},
		{ID: paramDisplacement, Title: "Least displacement", Unit: "m", Default: 1.83, Low: 0, High: 10, Source: limits,
			About: "For vehicles up to 3500 kg; 1.52 m above. Less is told, where the normal angle is stated."},
	},
	Measures: []programme.Measure{
		{ID: "first_steering_side", Title: "Side of the first steering", Unit: "1", Better: programme.Undirected, Scale: programme.Difference, Digits: 0, Error: "none: it is chosen", Source: standard,
			About: "1 to the left, -1 to the right."},
		{ID: "steering_amplitude", Title: "Steering amplitude", Unit: "rad", Shown: "°", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the machine's", Source: standard,
			About: "Half of what lies between the two peaks of the steering-wheel angle."},
		{ID: "steering_multiple", Title: "Multiple of the normal angle", Unit: "1", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: "the machine's", Source: standard,
			About: "Steering amplitude for the normal steering angle, where that is stated."},
		{ID: "entry_speed", Title: "Entry speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the driver's foot", Source: standard,
			About: "Speed over ground at the beginning of steering."},
		{ID: "first_yaw_peak", Title: "First peak of yaw rate", Unit: "rad/s", Shown: "°/s", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: scatter, Source: standard,
			About: "Greatest yaw rate to the side of the first steering."},
		{ID: "second_yaw_peak", Title: "Second peak of yaw rate", Unit: "rad/s", Shown: "°/s", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: scatter, Source: standard,
			About: "Greatest yaw rate to the other side between the reversal and the end of the steering."},
		{ID: "second_peak_delay", Title: "Delay of the second peak", Unit: "s", Shown: "ms", Better: programme.Undirected, Scale: programme.Difference, Digits: 0, Error: scatter,
			Source: programme.Source{Key: programme.Own, Clause: "how late the tail follows the reversal"},
			About:  "From the steering's first return through zero to the second peak of yaw rate."},
		{ID: "yaw_ratio_1000_ms", Title: "Yaw left after 1 s", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: scatter, Source: standard,
			About: "Yaw rate 1.000 s after the end of the steering for its second peak; negative where it has gone to the other side."},
		{ID: "yaw_ratio_1750_ms", Title: "Yaw left after 1.75 s", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: scatter, Source: standard,
			About: "Likewise 1.750 s after it."},
		{ID: "lateral_displacement", Title: "Displacement after 1.07 s", Unit: "m", Better: programme.Higher, Scale: programme.Difference, Digits: 2, Error: scatter, Source: standard,
			About: "Double integral of lateral acceleration over the 1.07 s after the beginning of steering."},
		{ID: "peak_lateral", Title: "Peak lateral acceleration", Unit: "m/s²", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: scatter, Source: standard,
			About: "Greatest size of lateral acceleration while the wheel is turned."},
	},
}
