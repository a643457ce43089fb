package circle

import "example.org/bookend/programme"

const kmh = 1 / 3.6

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

var (
	iso    = programme.Source{Key: "iso-4138", Clause: "understeer gradient; gradients against lateral acceleration (from memory)"}
	steps  = programme.Source{Key: "iso-4138", Clause: "8, increments of lateral acceleration of 0.5 m/s² at most"}
	method = programme.Source{Key: "iso-4138", Clause: "methods of constant radius, constant speed, constant steering angle (from memory)"}
	ncap   = programme.Source{Key: "euro-ncap-aeb-4.3.1", Clause: "4.3, filtering of data"}
	trade  = programme.Source{Key: programme.CommonPractice, Clause: "grip on a circle is the lateral acceleration that is held for a second"}
)

// Words of parameters.
const (
	constantRadius   = "constant_radius"
	constantSpeed    = "constant_speed"
	constantSteering = "constant_steering"

	bySpeedAndYaw   = "speed_times_yaw_rate"
	byAccelerometer = "accelerometer"
)

const (
	scatter    = "independent from run to run on the log scale, after drift"
	difference = "independent from run to run, after drift"
)

// spec is what circle declares.
var spec = programme.Spec{
	ID:      "circle",
	Version: 1,
	Title:   "Steady circle",
	About: "A circle driven ever faster, or a turn tightened at constant speed: lateral grip, and by how much more the steering wheel has " +
		"to be turned for each m/s². One recording is one run; both directions may be in it.",
	Sources: []programme.Source{iso, steps, method, trade},
	Cut:     programme.CutWhole,
	Needs: []programme.Need{
		{Role: "speed", Unit: "m/s", LeastHz: 10},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 20},
		{Role: "steering_angle", Unit: "rad", LeastHz: 20, Optional: "without steering there is grip alone, and no gradient"},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 20, Optional: "lateral acceleration is speed times yaw rate; an accelerometer can be chosen in its place"},
		{Role: "roll", Unit: "rad", LeastHz: 20, Optional: "without roll there is no roll gradient, and no levelling of an accelerometer"},
		{Role: "sideslip", Unit: "rad", LeastHz: 20, Optional: "without a channel sideslip is that of the motion, where positions and lateral acceleration allow one"},
		{Role: "latitude", Unit: "rad", LeastHz: 5, Optional: "without positions there is no sideslip but a recorded one"},
		{Role: "longitude", Unit: "rad", LeastHz: 5, Optional: "without positions there is no sideslip but a recorded one"},
	},
	Parameters: []programme.Parameter{
		{ID: "method", Title: "Method", Words: []string{constantRadius, constantSpeed, constantSteering}, Source: method,
			About: "What is held. With a constant radius the gradient needs no wheelbase, as far as the radius is held."},
		{ID: "steering_ratio", Title: "Steering ratio", Unit: "1", Default: 0, Low: 0, High: 40, Source: own("0: not told, and gradients are by the steering wheel alone"),
			About: "Angle of the steering wheel over that of the road wheels."},
		{ID: "wheelbase", Title: "Wheelbase", Unit: "m", Default: 0, Low: 0, High: 8, Source: own("0: not told"),
			About: "Takes out of the steering what the radius driven asks for. Needed unless the radius is constant."},
		{ID: "lateral", Title: "Lateral acceleration", Words: []string{bySpeedAndYaw, byAccelerometer}, Source: own("on a steady circle they are the same, and a body that leans puts some 5 to 10 % more into an accelerometer"),
			About: "Taken from speed times yaw rate, or from the accelerometer, levelled by roll where there is a roll channel."},
		{ID: "low", Title: "Lowest lateral acceleration of the gradient", Unit: "m/s²", Default: 1, Low: 0, High: 10, Source: own("below 1 m/s² a circle is driven at walking pace, and friction in the steering is most of what is seen"),
			About: "The line is laid through what lies above it."},
		{ID: "high", Title: "Highest lateral acceleration of the gradient", Unit: "m/s²", Default: 3, Low: 0.5, High: 15, Source: own("cars and vans are linear to 3 m/s² on a dry surface"),
			About: "The line is laid through what lies below it."},
		{ID: "increment", Title: "Increment of lateral acceleration", Unit: "m/s²", Default: 0.5, Low: 0.05, High: 2, Source: steps,
			About: "Samples are averaged within increments, and the line laid through these means, each weighing alike."},
		{ID: "least_speed", Title: "Least speed", Unit: "m/s", Shown: "km/h", Default: 3, Low: 0.5, High: 30, Source: own("slower than any circle is measured at"),
			About: "What is slower is not looked at."},
		{ID: "held", Title: "Time for which grip is held", Unit: "s", Default: 1, Low: 0.1, High: 10, Source: trade,
			About: "The greatest mean of lateral acceleration over this time is the grip."},
		{ID: "smoothing", Title: "Width of the mean under the gradients", Unit: "s", Default: 0.5, Low: 0, High: 5, Source: own("longer than what a driver corrects within, shorter than an increment takes"),
			About: "Speed, yaw rate and steering are averaged over it before they are set against each other."},
		{ID: "steady", Title: "Change of lateral acceleration that counts as steady", Unit: "m/s³", Default: 0.4, Low: 0.02, High: 10, Source: own("some four times what a speed that grows by 0.2 m/s² makes on a circle of 40 m; steering to and fro makes several m/s³"),
			About: "Root mean square over a second. What changes faster is left out of the gradients."},
		{ID: "cut_off", Title: "Filter", Unit: "Hz", Default: 10, Low: 0, High: 100, Source: ncap,
			About: "Cut-off of a Butterworth filter of twelve poles without phase, six forward and six backward, -3 dB in one pass. 0: none. Speed is not filtered."},
	},
	Measures: []programme.Measure{
		{ID: "lateral_grip", Title: "Lateral grip", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Places: true, Error: scatter, Source: trade,
			About: "By direction: greatest mean of lateral acceleration over the time for which grip is to be held."},
		{ID: "understeer_gradient", Title: "Understeer gradient", Unit: "rad/(m/s²)", Shown: "°/g", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Places: true, Error: difference, Source: iso,
			About: "By direction: slope against lateral acceleration of the steering angle over the steering ratio, less the wheelbase over the radius."},
		{ID: "steering_gradient", Title: "Steering gradient", Unit: "rad/(m/s²)", Shown: "°/(m/s²)", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Places: true, Error: difference, Source: iso,
			About: "By direction: slope of the steering-wheel angle against lateral acceleration, the radius as driven."},
		{ID: "sideslip_gradient", Title: "Sideslip gradient", Unit: "rad/(m/s²)", Shown: "°/g", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Places: true, Error: difference, Source: iso,
			About: "By direction: slope of sideslip against lateral acceleration, signs turned to a left-hand circle; negative where the tail goes out as it grows."},
		{ID: "roll_gradient", Title: "Roll gradient", Unit: "rad/(m/s²)", Shown: "°/g", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Places: true, Error: difference, Source: iso,
			About: "By direction: slope of roll against lateral acceleration, positive where the body leans outward."},
		{ID: "characteristic_speed", Title: "Characteristic speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 0, Places: true, Error: difference, Source: iso,
			About: "By direction: root of wheelbase over understeer gradient, where the vehicle understeers: at it the yaw gain is half the neutral one."},
		{ID: "critical_speed", Title: "Critical speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 0, Places: true, Error: difference, Source: iso,
			About: "By direction: root of wheelbase over minus the understeer gradient, where the vehicle oversteers."},
		{ID: "circle_radius", Title: "Radius driven", Unit: "m", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Places: true, Error: "the driver's line", Source: method,
			About: "By direction: mean of speed over yaw rate within the range of the gradient."},
	},
}
