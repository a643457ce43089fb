package lap

import (
	"math"

	"example.org/bookend/programme"
)

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

var trade = programme.Source{Key: programme.CommonPractice, Clause: "laps and sectors are timed from gate to gate"}

const scatter = "independent from lap to lap on the log scale, after drift and run number"

// Ids that room match heeds when it cuts laps; the words are the same there.
const (
	paramStandingSpeed = "standing_speed"
	paramStandingTime  = "standing_time"
)

// Ids of other parameters.
const (
	paramMotion     = "motion"
	paramPositionSD = "position_sd"
	paramReference  = "reference_ahead"
	paramAntenna    = "antenna_left"
	paramInertial   = "inertial_ahead"
	paramInertialY  = "inertial_left"
	paramRearAxle   = "rear_axle"
	paramWheelbase  = "wheelbase"
	paramRatio      = "steering_ratio"
	paramRadius     = "largest_radius"
	paramTurn       = "least_turn"
	paramJoin       = "join_corners"
	paramSpan       = "curvature_span"
	paramCorrection = "least_correction"
	paramPast       = "past_the_peak"
	paramFloatSlip  = "floating_slip"
	paramFloatYaw   = "floating_yaw"
	paramFloatFor   = "floating_for"
)

// motionSmoothed is the word for motion by all sensors at once.
const motionSmoothed = "smoothed"

const degree = math.Pi / 180

// Scatter of what laps yield.
const (
	even  = "independent from lap to lap after drift and run number"
	taken = "counts of several a lap, taken as even"
)

// spec is what lap declares.
var spec = programme.Spec{
	ID:      "lap",
	Version: 2,
	Title:   "Handling lap",
	About: "One lap of a course, from one crossing of the first gate to the next. Gates are crossed between samples, by linear " +
		"interpolation in position and time. Corners are found where the course bends; each has its speeds, its lateral grip and its balance.",
	Sources: []programme.Source{trade, {Key: "iogp-373-7-2", Clause: "geocentric/topocentric conversions"},
		{Key: "rauch-1965", Clause: "smoothing of the motion"}},
	Cut: programme.CutByGate,
	Needs: []programme.Need{
		{Role: "latitude", Unit: "rad", LeastHz: 5},
		{Role: "longitude", Unit: "rad", LeastHz: 5},
		{Role: "speed", Unit: "m/s", LeastHz: 5, Optional: "without it speed is taken from the positions, and is rougher"},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 20, Optional: "without it positions are as recorded, and sideslip is not known"},
		{Role: "acceleration_x", Unit: "m/s²", LeastHz: 20, Optional: "without it positions are as recorded, and sideslip is not known"},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 20, Optional: "without it lateral acceleration is that of the driven path"},
		{Role: "steering_angle", Unit: "rad", LeastHz: 20, Optional: "without it balance and corrections are missing"},
		{Role: "sideslip", Unit: "rad", LeastHz: 20, Optional: "used where motion is taken as recorded"},
		{Role: "wheel_speed_fl", Unit: "m/s", LeastHz: 20, Optional: "without it that wheel is not judged; without any, floating is told by yaw rate alone"},
		{Role: "wheel_speed_fr", Unit: "m/s", LeastHz: 20, Optional: "as the front left one"},
		{Role: "wheel_speed_rl", Unit: "m/s", LeastHz: 20, Optional: "as the front left one"},
		{Role: "wheel_speed_rr", Unit: "m/s", LeastHz: 20, Optional: "as the front left one"},
	},
	Parameters: []programme.Parameter{
		{ID: paramStandingSpeed, Title: "Speed below which the vehicle stands", Unit: "m/s", Default: 0.5, Low: 0.01, High: 5,
			Source: own("a vehicle that creeps is driving; half a metre a second is above the noise of a standing receiver"),
			About:  "A lap with a standstill in it is flagged and kept out of means."},
		{ID: paramStandingTime, Title: "Time for longer than which it stands", Unit: "s", Default: 2, Low: 0, High: 600,
			Source: own("a spin or a stall that is over in two seconds belongs to the lap"),
			About:  "Shorter standstills are part of the lap."},
		{ID: "length_share", Title: "Share by which a lap may be off the median length", Unit: "1", Shown: "%", Default: 0.05, Low: 0.001, High: 1,
			Source: own("lines of one course differ by up to 3 %, a missed corner by more than 5 %"),
			About:  "A lap that is longer or shorter is flagged and kept out of means."},
		{ID: "first_lap", Title: "First timed lap", Words: []string{"keep", "leave_out"},
			Source: programme.Source{Key: programme.CommonPractice, Clause: "the first timed lap is left out by rule, not by taste"},
			About:  "Whether the first timed lap of a recording counts. What comes before the first crossing never does."},
		{ID: paramMotion, Title: "Motion", Words: []string{motionSmoothed, "as_recorded"},
			Source: programme.Source{Key: "rauch-1965", Clause: "forward and backward pass"},
			About:  "From all sensors at once, forward and backward, or as channels were recorded."},
		{ID: paramPositionSD, Title: "Slow error of positions", Unit: "m", Default: 0, Low: 0, High: 20,
			Source: own("0: that of a receiver by itself, 1.5 m; 0.02 m with corrections from a station"), About: "Standard deviation of the position error that all samples of a minute share."},
		{ID: paramAntenna, Title: "Antenna to the left of the middle", Unit: "m", Default: 0, Low: -2, High: 2, Source: own("antennas are put in the middle of the roof"),
			About: "Negative: to the right."},
		{ID: paramInertial, Title: "Acceleration sensor ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the sensor is taken to sit below the antenna"),
			About: "Negative: behind."},
		{ID: paramInertialY, Title: "Acceleration sensor to the left of the middle", Unit: "m", Default: 0, Low: -2, High: 2, Source: own("sensors are put in the middle"),
			About: "Negative: to the right."},
		{ID: paramReference, Title: "Reference point ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the antenna's place stands for it"),
			About: "Where gates are crossed and sideslip and lateral acceleration are asked for, usually the centre of gravity. Negative: behind."},
		{ID: paramRearAxle, Title: "Rear axle behind the reference point", Unit: "m", Default: 0, Low: 0, High: 10,
			Source: own("0: not stated"), About: "Sideslip is that of the rear axle where it is stated, and better known."},
		{ID: paramWheelbase, Title: "Wheelbase", Unit: "m", Default: 0, Low: 0, High: 15, Source: own("0: not stated"), About: "For the neutral steering angle, wheelbase over radius."},
		{ID: paramRatio, Title: "Steering ratio", Unit: "1", Default: 0, Low: 0, High: 50, Source: own("0: not stated"), About: "Steering-wheel angle for that of the road wheels."},
		{ID: paramRadius, Title: "Largest radius of a corner", Unit: "m", Default: 120, Low: 5, High: 2000,
			Source: own("at 25 m/s a bend of 120 m asks for 5 m/s²; a wider one is driven flat"), About: "What bends less is a straight."},
		{ID: paramTurn, Title: "Least turn of a corner", Unit: "rad", Shown: "°", Default: 20 * degree, Low: 1 * degree, High: 360 * degree,
			Source: own("less is a kink"), About: "Bends that turn by less are no corners."},
		{ID: paramJoin, Title: "Gap over which bends are joined", Unit: "m", Default: 15, Low: 0, High: 200,
			Source: own("a corner that opens for less than a second is one corner"), About: "Two bends the same way with less between them are one corner."},
		{ID: paramSpan, Title: "Span of curvature", Unit: "m", Default: 20, Low: 2, High: 200,
			Source: own("short beside a corner; over it a position error of 3 cm bends a straight by a circle of 1 km and a half"), About: "Curvature is that of the circle through three points, the outer two so far apart."},
		{ID: paramCorrection, Title: "Least correction", Unit: "rad", Shown: "°", Default: 10 * degree, Low: 0.5 * degree, High: 180 * degree,
			Source: own("less is a hand that rests; twice the noise of what a steering sensor shows is far below"), About: "The steering wheel is reversed where it has gone back by so much."},
		{ID: paramPast, Title: "Way past the peak", Unit: "rad", Shown: "°", Default: 4 * degree, Low: 0.5 * degree, High: 20 * degree,
			Source: own("far enough for a sudden breakaway to be one, near enough for an evaluator to come back from"), About: "What is kept of the peak is read so far beyond it in sideslip."},
		{ID: paramFloatSlip, Title: "Slip of a floating wheel", Unit: "1", Shown: "%", Default: 0.15, Low: 0.01, High: 1,
			Source: programme.Source{Key: programme.CommonPractice, Clause: "15 % is the onset in aquaplaning tests"}, About: "Either way: a driven wheel that floats runs ahead, another stays behind."},
		{ID: paramFloatYaw, Title: "Share of yaw rate of a floating axle", Unit: "1", Shown: "%", Default: 0.4, Low: 0.01, High: 1,
			Source: own("understeer at the limit leaves about two thirds"), About: "Of what the steering usually yields in this lap; less is an axle that floats."},
		{ID: paramFloatFor, Title: "Least time of floating", Unit: "s", Default: 0.05, Low: 0, High: 5,
			Source: own("a few samples of a wheel speed"), About: "What is shorter is a bump or noise."},
	},
	Measures: []programme.Measure{
		{ID: "lap_time", Title: "Lap time", Unit: "s", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: trade,
			About: "From one crossing of the first gate to the next."},
		{ID: "sector_time", Title: "Sector time", Unit: "s", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Places: true, Error: scatter, Source: trade,
			About: "From one gate to the next; the last sector ends at the first gate."},
		{ID: "lap_distance", Title: "Lap distance", Unit: "m", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "the driver's line", Source: trade,
			About: "Length of the driven path between the crossings, in the course's plane."},
		{ID: "gate_offset", Title: "Offset at the gate", Unit: "m", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Places: true, Error: "the driver's line", Source: trade,
			About: "Where the gate is crossed, from its middle, positive to the left."},
		{ID: "least_speed", Title: "Least speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: scatter, Source: trade,
			About: "Least speed over ground within the lap."},
		{ID: "greatest_speed", Title: "Greatest speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: scatter, Source: trade,
			About: "Greatest speed over ground within the lap."},
		{ID: "standing_time", Title: "Time standing", Unit: "s", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "none: 0 in a good lap", Source: trade,
			About: "Time below the standing speed, standstills longer than the standing time alone."},
		{ID: "sustained_lateral", Title: "Sustained lateral acceleration", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: trade,
			About: "Greatest mean over a second within the lap, to either side."},
		{ID: "corner_entry_speed", Title: "Corner entry speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Places: true, Error: even, Source: trade,
			About: "Speed where the corner begins."},
		{ID: "corner_least_speed", Title: "Corner least speed", Unit: "m/s", Shown: "km/h", Better: programme.Higher, Scale: programme.Ratio, Digits: 1, Places: true, Error: scatter, Source: trade,
			About: "Least speed within the corner."},
		{ID: "corner_exit_speed", Title: "Corner exit speed", Unit: "m/s", Shown: "km/h", Better: programme.Higher, Scale: programme.Ratio, Digits: 1, Places: true, Error: scatter, Source: trade,
			About: "Speed where the corner ends."},
		{ID: "corner_peak_lateral", Title: "Corner peak lateral acceleration", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Places: true, Error: scatter, Source: trade,
			About: "Greatest lateral acceleration to the corner's side."},
		{ID: "corner_sustained_lateral", Title: "Corner sustained lateral acceleration", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Places: true, Error: scatter, Source: trade,
			About: "Greatest mean over a second, its middle within the corner."},
		{ID: "steering_balance", Title: "Steering beyond the neutral angle", Unit: "rad", Shown: "°", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Places: true, Error: even,
			Source: programme.Source{Key: "vehicle-handbook", Clause: "neutral steering angle: wheelbase over radius"},
			About:  "Road-wheel angle less wheelbase over the path's radius, where lateral acceleration is above four fifths of the corner's peak: positive is understeer."},
		{ID: "yaw_balance", Title: "Yaw rate for its kinematic value", Unit: "1", Shown: "%", Better: programme.Undirected, Scale: programme.Difference, Digits: 0, Places: true, Error: even,
			Source: programme.Source{Key: "vehicle-handbook", Clause: "kinematic yaw rate: speed times angle over wheelbase"},
			About:  "Yaw rate for what a vehicle without slip would show at that speed and steering, where the corner is driven in full: below 1 is understeer."},
		{ID: "steering_corrections", Title: "Steering corrections", Unit: "1", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: taken,
			Source: own("reversals of the steering wheel are what an evaluator counts"), About: "Reversals of the steering wheel by the least correction or more in the lap; those that the corners ask for are among them."},
		{ID: "sideslip_at_peak", Title: "Sideslip at the peak", Unit: "rad", Shown: "°", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: even,
			Source: own("the middle of the half degree with the greatest mean lateral acceleration"), About: "Size of the sideslip at the rear axle at which lateral acceleration is greatest, in the lap's corners together."},
		{ID: "grip_kept", Title: "Grip kept past the peak", Unit: "1", Shown: "%", Better: programme.Higher, Scale: programme.Difference, Digits: 0, Error: even,
			Source: own("a number for sudden or gradual: what is left a stated way past the peak"), About: "Lateral acceleration at the stated way of sideslip past the peak, for the peak, by a straight line through what lies beyond it."},
		{ID: "floating_time", Title: "Time floating", Unit: "s", Better: programme.Lower, Scale: programme.Difference, Digits: 2, Error: even,
			Source: programme.Source{Key: programme.CommonPractice, Clause: "a wheel speed off by 15 % says that the tyre floats"}, About: "For how long a wheel speed or yaw rate says that a tyre floated in the lap."},
		{ID: "corner_floating_time", Title: "Time floating in a corner", Unit: "s", Better: programme.Lower, Scale: programme.Difference, Digits: 2, Places: true, Error: even,
			Source: programme.Source{Key: programme.CommonPractice, Clause: "a wheel speed off by 15 % says that the tyre floats"}, About: "Likewise within a corner."},
	},
}
