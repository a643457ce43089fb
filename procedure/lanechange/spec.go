package lanechange

import "example.org/bookend/programme"

const (
	kmh = 1 / 3.6
	deg = 0.017453292519943295 // π/180
)

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

func practice(what string) programme.Source {
	return programme.Source{Key: programme.CommonPractice, Clause: what}
}

var (
	part1    = programme.Source{Key: "iso-3888-1", Clause: "dimensions of the track (from memory)"}
	part2    = programme.Source{Key: "iso-3888-2", Clause: "dimensions of the track; throttle released 2 m after the entry, where the speed is measured (from memory)"}
	ncap     = programme.Source{Key: "euro-ncap-aeb-4.3.1", Clause: "4.3, filtering of data"}
	general  = programme.Source{Key: "iso-15037-1", Clause: "7.2, initial driving condition: means over 0.5 to 0.8 s (from memory)"}
	dwell    = programme.Source{Key: "un-r140", Clause: "yaw rate 1.000 s and 1.750 s after the steering has come back, against the second peak"}
	trade    = practice("an evasive lane change is read by clean entry speed, overshoot, recoil, settling and room")
	handbook = programme.Source{Key: "vehicle-handbook", Clause: "logarithmic decrement"}
)

// Words of parameters.
const (
	obstacle     = "iso_3888_2"
	doubleChange = "iso_3888_1"

	exitAtLeast = "at_least_3_m"
	exitAtMost  = "at_most_3_m"
	exitFree    = "not_bounded"
)

const (
	scatter    = "independent from run to run on the log scale, after drift"
	difference = "independent from run to run, after drift"
)

// spec is what lanechange declares.
var spec = programme.Spec{
	ID:      "lanechange",
	Version: 1,
	Title:   "Evasive lane change",
	About: "One pass through the ways between cones of ISO 3888-1 or ISO 3888-2, laid out for the vehicle's width, from the gate at which " +
		"the first lane begins to the gate at which the last one ends.",
	Sources: []programme.Source{part2, part1, trade, dwell, ncap},
	Cut:     programme.CutByPass,
	Needs: []programme.Need{
		{Role: "latitude", Unit: "rad", LeastHz: 5},
		{Role: "longitude", Unit: "rad", LeastHz: 5},
		{Role: "speed", Unit: "m/s", LeastHz: 5, Optional: "without it speed is that of the positions"},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 50, Optional: "without yaw rate there is no recoil, no settling and no sideslip"},
		{Role: "steering_angle", Unit: "rad", LeastHz: 50, Optional: "without steering nothing says where the last counter-steer begins, so that there is no recoil and no settling"},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 50, Optional: "without lateral acceleration there is no sideslip"},
		{Role: "roll", Unit: "rad", LeastHz: 50, Optional: "without roll the gravity in the lateral acceleration is estimated"},
		{Role: "throttle", Unit: "1", LeastHz: 10, Optional: "without it nothing says whether the throttle was released"},
	},
	Parameters: []programme.Parameter{
		{ID: "layout", Title: "Layout", Words: []string{obstacle, doubleChange}, Source: part2,
			About: "Which ways stand between the cones: the obstacle avoidance of ISO 3888-2, or the double lane change of ISO 3888-1."},
		{ID: "vehicle_width", Title: "Width of the vehicle", Unit: "m", Default: 0, Low: 0, High: 3, Source: own("0: not told; the layout cannot be laid out without it"),
			About: "Without mirrors. It has to be given."},
		{ID: "body_ahead", Title: "Body ahead of the antenna", Unit: "m", Default: 0, Low: 0, High: 15, Source: own("0: not told"),
			About: "From the antenna to the front end."},
		{ID: "body_behind", Title: "Body behind the antenna", Unit: "m", Default: 0, Low: 0, High: 15, Source: own("0: not told"),
			About: "From the antenna to the rear end."},
		{ID: "antenna_left", Title: "Antenna to the left of the middle", Unit: "m", Default: 0, Low: -2, High: 2, Source: own("antennas are put in the middle of the roof"),
			About: "Negative: to the right."},
		{ID: "inertial_ahead", Title: "Acceleration sensor ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the sensor is taken to sit below the antenna"),
			About: "Negative: behind."},
		{ID: "reference_ahead", Title: "Reference point ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the antenna's place stands for it"),
			About: "Where sideslip and lateral acceleration are asked for, usually the centre of gravity. Negative: behind."},
		{ID: "position_sd", Title: "Standard deviation of positions", Unit: "m", Default: 0, Low: 0, High: 20, Source: own("0: not told, and room has no uncertainty"),
			About: "Of the error that all positions of a run share, each of east and north: 0.02 m for a fixed carrier-phase solution."},
		{ID: "exit_width", Title: "Bound of the exit lane", Words: []string{exitAtLeast, exitAtMost, exitFree}, Source: part2,
			About: "Whether the exit lane of ISO 3888-2 is 3 m wide at least, 3 m at most, or as its formula gives it."},
		{ID: "speed_station", Title: "Where the entry speed is taken", Unit: "m", Default: 2, Low: 0, High: 15, Source: part2,
			About: "After the beginning of the first lane; there the throttle is released too."},
		{ID: "set_speed", Title: "Set speed", Unit: "m/s", Shown: "km/h", Default: 0, Low: 0, High: 250 * kmh, Source: own("0: none was set"),
			About: "What the driver was to enter at; 0 where none was set."},
		{ID: "speed_tolerance", Title: "Tolerance of the set speed", Unit: "m/s", Shown: "km/h", Default: 2 * kmh, Low: 0, High: 30 * kmh, Source: practice("set speeds are held to 2 km/h, as in braking"),
			About: "A run whose entry speed lies outside is marked."},
		{ID: "slide_angle", Title: "Sideslip that counts as sliding", Unit: "rad", Shown: "°", Default: 4 * deg, Low: 0.5 * deg, High: 30 * deg, Source: own("below the limit of grip a road vehicle's centre of gravity slips 1 to 3°"),
			About: "Time and distance spent beyond it are the slide."},
		{ID: "swing", Title: "Least swing of the steering wheel", Unit: "1", Shown: "%", Default: 0.2, Low: 0.02, High: 0.9, Source: own("corrections are smaller, the four swings of the manoeuvre larger than a fifth of the largest"),
			About: "As a share of the largest; smaller ones are corrections, not swings."},
		{ID: "settled", Title: "Yaw rate that counts as settled", Unit: "1", Shown: "%", Default: 0.1, Low: 0.01, High: 0.5, Source: own("a tenth of the peak before is some 3 °/s, which no driver steers against"),
			About: "As a share of the peak before the last counter-steer."},
		{ID: "after", Title: "Looked at after the last lane", Unit: "s", Default: 3, Low: 0, High: 20, Source: own("a vehicle is straight again within two seconds"),
			About: "For settling and for what is left of the yaw rate."},
		{ID: "zero_window", Title: "Time before the first lane that shows the zeros", Unit: "s", Default: 0.8, Low: 0.1, High: 1, Source: general,
			About: "What steering and yaw rate show on the average over it is taken for their zero."},
		{ID: "cut_off", Title: "Filter", Unit: "Hz", Default: 10, Low: 0, High: 100, Source: ncap,
			About: "Cut-off of a Butterworth filter of twelve poles without phase, six forward and six backward, -3 dB in one pass, of steering, yaw rate and lateral acceleration. 0: none. Positions and speed are not filtered."},
	},
	Measures: []programme.Measure{
		{ID: "entry_speed", Title: "Entry speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "set by the driver", Source: part2,
			About: "Speed where the throttle is released."},
		{ID: "exit_speed", Title: "Exit speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "Speed where the last lane ends."},
		{ID: "speed_lost", Title: "Speed lost", Unit: "m/s", Shown: "km/h", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "Entry speed less exit speed."},
		{ID: "clean", Title: "Clean", Unit: "1", Better: programme.Higher, Scale: programme.Threshold, Digits: 0, Error: "one attempt at its entry speed", Source: part2,
			About: "1 where no part of the body left a lane, 0 where it did: with the entry speed an attempt at the highest clean entry speed. What marshals saw of the cones goes before it."},
		{ID: "lane_room", Title: "Room left in the lane", Unit: "m", Better: programme.Higher, Scale: programme.Difference, Digits: 2, Places: true, Error: difference, Source: trade,
			About: "By lane: least distance of the body from the lane's edges and end cones; negative where it left the lane."},
		{ID: "room_used", Title: "Room used", Unit: "m", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Places: true, Error: scatter, Source: trade,
			About: "By lane: from the rightmost to the leftmost that any part of the body comes within it."},
		{ID: "overshoot", Title: "Overshoot", Unit: "m", Better: programme.Lower, Scale: programme.Difference, Digits: 2, Places: true, Error: difference, Source: trade,
			About: "By lane: how far the body comes past the edge that the change leads toward; negative where it stays inside by so much."},
		{ID: "slide_time", Title: "Time sliding", Unit: "s", Better: programme.Lower, Scale: programme.Difference, Digits: 2, Error: difference, Source: trade,
			About: "How long sideslip is greater than the stated one, from the first lane to the end of what is looked at."},
		{ID: "slide_distance", Title: "Distance sliding", Unit: "m", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "How far the vehicle goes meanwhile."},
		{ID: "recoil", Title: "Recoil", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Ratio, Digits: 0, Error: scatter, Source: trade,
			About: "Greatest yaw rate to the side of the last counter-steer after it begins, against the greatest to the other side before it."},
		{ID: "recoil_acceleration", Title: "Yaw acceleration of the recoil", Unit: "rad/s²", Shown: "°/s²", Better: programme.Lower, Scale: programme.Ratio, Digits: 0, Error: scatter, Source: trade,
			About: "Greatest change of yaw rate from the beginning of the last counter-steer to the recoil's peak."},
		{ID: "yaw_ratio_1000_ms", Title: "Yaw rate left after 1.000 s", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: dwell,
			About: "Yaw rate 1.000 s after the last counter-steer ends, against the peak before it, positive to the side of that peak."},
		{ID: "yaw_ratio_1750_ms", Title: "Yaw rate left after 1.750 s", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: dwell,
			About: "The same after 1.750 s."},
		{ID: "yaw_settling_time", Title: "Settling time of yaw rate", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: difference, Source: own("the time after which yaw rate stays within a share of its peak; the theory of control has it so"),
			About: "From the beginning of the last counter-steer until yaw rate stays below the settled share of the peak before."},
		{ID: "yaw_damping", Title: "Damping ratio of yaw", Unit: "1", Better: programme.Higher, Scale: programme.Difference, Digits: 3, Error: difference, Source: handbook,
			About: "By logarithmic decrement of the yaw rate's peaks from the recoil on, at least three down to the settled share of the first. The driver's hands are part of it."},
		{ID: "peak_yaw_rate", Title: "Greatest yaw rate", Unit: "rad/s", Shown: "°/s", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "To either side."},
		{ID: "peak_lateral", Title: "Greatest lateral acceleration", Unit: "m/s²", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: difference, Source: trade,
			About: "To either side, at the reference point."},
		{ID: "peak_sideslip", Title: "Greatest sideslip", Unit: "rad", Shown: "°", Better: programme.Lower, Scale: programme.Difference, Digits: 2, Error: difference, Source: trade,
			About: "To either side, at the reference point."},
	},
}
