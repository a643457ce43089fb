package step

import (
	"math"

	"example.org/bookend/programme"
)

// Ids of parameters.
const (
	paramFilter         = "filter_cutoff"
	paramLeast          = "least_step"
	paramRise           = "longest_rise"
	paramSpeed          = "step_speed"
	paramSpeedTolerance = "speed_tolerance"
	paramSteadyFrom     = "steady_from"
	paramSteadyFor      = "steady_for"
	paramBand           = "settling_band"
	paramDecay          = "decay_share"
	paramRearAxle       = "rear_axle"
	paramReference      = "reference_ahead"
	paramInertial       = "inertial_ahead"
)

const (
	kmh = 1 / 3.6
	deg = math.Pi / 180
)

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

var (
	standard = programme.Source{Key: "iso-7401", Clause: "clause 10, step input (from memory)"}
	filters  = programme.Source{Key: "euro-ncap-aeb-4.3.1", Clause: "4.3: 12-pole phaseless Butterworth, 10 Hz, for acceleration and yaw rate"}
)

const scatter = "independent from run to run after drift; steps to both sides belong to one stint"

// spec is what step declares.
var spec = programme.Spec{
	ID:      "step",
	Version: 1,
	Title:   "Step steer",
	About: "The steering wheel is turned quickly by a set angle and held, at a set speed: how soon, how far and how calmly the vehicle answers. " +
		"Times count from half of the steering's change.",
	Sources: []programme.Source{standard, filters},
	Cut:     programme.CutWhole,
	Needs: []programme.Need{
		{Role: "steering_angle", Unit: "rad", LeastHz: 50},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 50},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 50, Optional: "without it the answer of lateral acceleration is missing"},
		{Role: "speed", Unit: "m/s", LeastHz: 5, Optional: "without it the speed of the step is not known"},
		{Role: "sideslip", Unit: "rad", LeastHz: 20, Optional: "without it sideslip is that of the motion by positions and inertial sensors, where there are both"},
	},
	Parameters: []programme.Parameter{
		{ID: paramFilter, Title: "Cut-off of the filter", Unit: "Hz", Default: 10, Low: 0, High: 100, Source: filters,
			About: "Twelve poles, six each way, without delay; the gain is 1/2 at the cut-off. 0: not filtered."},
		{ID: paramLeast, Title: "Least step", Unit: "rad", Shown: "°", Default: 10 * deg, Low: 1 * deg, High: 720 * deg,
			Source: own("less is a correction of the driver's"), About: "A steering wheel that turns by less within twice the longest rise has not been stepped."},
		{ID: paramRise, Title: "Longest rise of the steering", Unit: "s", Default: 0.15, Low: 0.01, High: 2, Source: standard,
			About: "From 10 to 90 % of its change; a slower step is told."},
		{ID: paramSpeed, Title: "Set speed", Unit: "m/s", Shown: "km/h", Default: 80 * kmh, Low: 0, High: 100, Source: standard,
			About: "A step at another speed is told. 0: any."},
		{ID: paramSpeedTolerance, Title: "Tolerance of the speed", Unit: "m/s", Shown: "km/h", Default: 2 * kmh, Low: 0, High: 20,
			Source: own("that of R117's entry speed; gains change by 2 % for it"), About: "Either way about the set speed."},
		{ID: paramSteadyFrom, Title: "Steady from", Unit: "s", Default: 2, Low: 0.2, High: 20,
			Source: own("a car of 1 Hz and a damping of 0.3 is within 2 % of its steady value by then"), About: "Steady values are means over a window that begins so long after half the step."},
		{ID: paramSteadyFor, Title: "Steady for", Unit: "s", Default: 0.5, Low: 0.05, High: 10,
			Source: programme.Source{Key: "iso-15037-1", Clause: "7.2: means over 0.5 to 0.8 s (from memory)"}, About: "How long the window of steady values is."},
		{ID: paramBand, Title: "Settling band", Unit: "1", Shown: "%", Default: 0.05, Low: 0.001, High: 0.5,
			Source: own("5 % is usual in the theory of control"), About: "Yaw rate has settled when it stays within this share of its change about its steady value."},
		{ID: paramDecay, Title: "Least peak for the damping", Unit: "1", Shown: "%", Default: 0.02, Low: 0.001, High: 0.9,
			Source: own("below a fiftieth of the first peak noise decides"), About: "Peaks smaller than this share of the first one do not enter the logarithmic decrement."},
		{ID: paramRearAxle, Title: "Rear axle behind the reference point", Unit: "m", Default: 0, Low: 0, High: 10,
			Source: own("0: not stated; it helps the motion to tell sideslip"), About: "Used only where sideslip is not measured."},
		{ID: paramReference, Title: "Reference point ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the antenna's place stands for it"),
			About: "Where sideslip is asked for, usually the centre of gravity. Negative: behind. Used only where sideslip is not measured."},
		{ID: paramInertial, Title: "Acceleration sensor ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the sensor is taken to sit below the antenna"),
			About: "Negative: behind. Used only where sideslip is not measured."},
	},
	Measures: []programme.Measure{
		{ID: "steering_step", Title: "Step of the steering wheel", Unit: "rad", Shown: "°", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the driver's or the machine's hand", Source: standard,
			About: "Change of the steering-wheel angle, positive to the left."},
		{ID: "steering_rise_time", Title: "Rise of the steering", Unit: "s", Better: programme.Undirected, Scale: programme.Difference, Digits: 3, Error: "the driver's or the machine's hand", Source: standard,
			About: "From 10 to 90 % of the change."},
		{ID: "step_speed", Title: "Speed at the step", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the driver's foot", Source: standard,
			About: "Speed over ground at half of the steering's change."},
		{ID: "yaw_response_time", Title: "Response time of yaw rate", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: scatter, Source: standard,
			About: "From half of the steering's change to 90 % of the yaw rate's."},
		{ID: "yaw_peak_time", Title: "Peak response time of yaw rate", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: scatter, Source: standard,
			About: "From half of the steering's change to the greatest yaw rate."},
		{ID: "yaw_overshoot", Title: "Overshoot of yaw rate", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: scatter, Source: standard,
			About: "What the greatest yaw rate has beyond the steady one, as a share of its change."},
		{ID: "yaw_settling_time", Title: "Settling time of yaw rate", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: scatter, Source: own("the time after which yaw rate stays within the settling band; the theory of control has it so"),
			About: "From half of the steering's change."},
		{ID: "yaw_damping", Title: "Damping ratio of yaw", Unit: "1", Better: programme.Higher, Scale: programme.Difference, Digits: 3, Error: scatter, Source: programme.Source{Key: "vehicle-handbook", Clause: "logarithmic decrement"},
			About: "By the logarithmic decrement of the peaks of yaw rate about its steady value; three are needed."},
		{ID: "yaw_frequency", Title: "Frequency at which yaw dies down", Unit: "Hz", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: scatter, Source: programme.Source{Key: "vehicle-handbook", Clause: "logarithmic decrement"},
			About: "Of the damped swing of yaw rate."},
		{ID: "yaw_gain", Title: "Steady gain of yaw rate", Unit: "1/s", Better: programme.Undirected, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: standard,
			About: "Change of yaw rate for the change of the steering-wheel angle."},
		{ID: "lateral_response_time", Title: "Response time of lateral acceleration", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: scatter, Source: standard,
			About: "From half of the steering's change to 90 % of the lateral acceleration's."},
		{ID: "lateral_peak_time", Title: "Peak response time of lateral acceleration", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: scatter, Source: standard,
			About: "From half of the steering's change to the greatest lateral acceleration."},
		{ID: "lateral_overshoot", Title: "Overshoot of lateral acceleration", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: scatter, Source: standard,
			About: "What the greatest lateral acceleration has beyond the steady one, as a share of its change."},
		{ID: "lateral_gain", Title: "Steady gain of lateral acceleration", Unit: "(m/s²)/rad", Shown: "(m/s²)/°", Better: programme.Undirected, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: standard,
			About: "Change of lateral acceleration for the change of the steering-wheel angle."},
		{ID: "steady_lateral", Title: "Steady lateral acceleration", Unit: "m/s²", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: scatter, Source: standard,
			About: "Size of the change of lateral acceleration; the standard asks for 4 m/s², and 2 and 6 besides."},
		{ID: "steady_sideslip", Title: "Steady sideslip", Unit: "rad", Shown: "°", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: scatter, Source: standard,
			About: "Change of sideslip, turned as for a step to the left: negative where the tail hangs out."},
		{ID: "tb_factor", Title: "TB factor", Unit: "rad·s", Shown: "°·s", Better: programme.Undirected, Scale: programme.Difference, Digits: 3, Error: scatter, Source: standard,
			About: "Peak response time of yaw rate times steady sideslip, with its sign."},
	},
}
