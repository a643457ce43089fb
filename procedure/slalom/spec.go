package slalom

import "example.org/bookend/programme"

const kmh = 1 / 3.6

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

func practice(what string) programme.Source {
	return programme.Source{Key: programme.CommonPractice, Clause: what}
}

var (
	trade  = practice("a slalom at a set speed is read by delay, steering needed, room used and markers touched")
	ncap   = programme.Source{Key: "euro-ncap-aeb-4.3.1", Clause: "4.3, filtering of data"}
	closed = programme.Source{Key: "closed-forms", Clause: "phase of a sine over its frequency"}
)

const (
	scatter    = "independent from run to run on the log scale, after drift"
	difference = "independent from run to run, after drift"

	dropEnds = "first_and_last"
	dropNone = "none"
)

// spec is what slalom declares.
var spec = programme.Spec{
	ID:      "slalom",
	Version: 1,
	Title:   "Slalom",
	About: "One pass through a straight row of markers at even spacing, at a set speed, from a gate before the first marker to a gate " +
		"after the last.",
	Sources: []programme.Source{trade, ncap, closed},
	Cut:     programme.CutByPass,
	Needs: []programme.Need{
		{Role: "latitude", Unit: "rad", LeastHz: 5},
		{Role: "longitude", Unit: "rad", LeastHz: 5},
		{Role: "speed", Unit: "m/s", LeastHz: 5, Optional: "without it speed is that of the positions"},
		{Role: "steering_angle", Unit: "rad", LeastHz: 50, Optional: "without steering there are no delays, gains or steering figures"},
		{Role: "yaw_rate", Unit: "rad/s", LeastHz: 50, Optional: "without yaw rate there is no delay to it, no gain and no sideslip"},
		{Role: "acceleration_y", Unit: "m/s²", LeastHz: 50, Optional: "without lateral acceleration there is no delay to it and no sideslip"},
		{Role: "roll", Unit: "rad", LeastHz: 50, Optional: "without roll the gravity in the lateral acceleration is estimated"},
		{Role: "steering_torque", Unit: "N·m", LeastHz: 50, Optional: "without torque there is no work of steering"},
	},
	Parameters: []programme.Parameter{
		{ID: "marker_spacing", Title: "Spacing of the markers", Unit: "m", Default: 18, Low: 5, High: 100, Source: practice("18 m is the usual spacing, 36 m that for higher speeds"),
			About: "From one marker to the next along the straight."},
		{ID: "first_marker", Title: "First marker after the first gate", Unit: "m", Default: 0, Low: 0, High: 300, Source: own("a gate one spacing before the first marker is easily laid out"),
			About: "0: one spacing after the first gate."},
		{ID: "markers", Title: "Number of markers", Unit: "1", Default: 0, Low: 0, High: 50, Source: own("as many as the gates leave room for"),
			About: "0: as many as stand between the gates, the last at least a quarter of a spacing before the last gate."},
		{ID: "drop", Title: "Markers left out of steering and motion", Words: []string{dropEnds, dropNone}, Source: practice("first and last gate are dropped: the way in and the way out are no slalom"),
			About: "Delays, gains, amplitudes and growth are taken from the markers that are left."},
		{ID: "set_speed", Title: "Set speed", Unit: "m/s", Shown: "km/h", Default: 0, Low: 0, High: 250 * kmh, Source: own("0: none was set"),
			About: "What the driver was to hold; 0 where none was set."},
		{ID: "speed_tolerance", Title: "Tolerance of the set speed", Unit: "m/s", Shown: "km/h", Default: 2 * kmh, Low: 0, High: 30 * kmh, Source: practice("set speeds are held to 2 km/h, as in ISO 7401 and in braking"),
			About: "A run whose entry or mean speed lies outside is marked."},
		{ID: "vehicle_width", Title: "Width of the vehicle", Unit: "m", Default: 0, Low: 0, High: 3, Source: own("0: not told"),
			About: "Without mirrors. 0: room is that of the antenna alone, and nothing says whether a marker was touched."},
		{ID: "body_ahead", Title: "Body ahead of the antenna", Unit: "m", Default: 0, Low: 0, High: 15, Source: own("0: the antenna's place stands for the whole body"),
			About: "From the antenna to the front end, so that corners that swing out are seen."},
		{ID: "body_behind", Title: "Body behind the antenna", Unit: "m", Default: 0, Low: 0, High: 15, Source: own("0: the antenna's place stands for the whole body"),
			About: "From the antenna to the rear end."},
		{ID: "antenna_left", Title: "Antenna to the left of the middle", Unit: "m", Default: 0, Low: -2, High: 2, Source: own("antennas are put in the middle of the roof"),
			About: "Negative: to the right."},
		{ID: "inertial_ahead", Title: "Acceleration sensor ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the sensor is taken to sit below the antenna"),
			About: "Negative: behind. A sensor 0.1 m away from where it is said to be shifts the delay to lateral acceleration by 0.1 m over the speed: 8 ms at 45 km/h."},
		{ID: "reference_ahead", Title: "Reference point ahead of the antenna", Unit: "m", Default: 0, Low: -10, High: 10, Source: own("0: not told, and the antenna's place stands for it"),
			About: "Where sideslip and lateral acceleration are asked for, usually the centre of gravity. Negative: behind."},
		{ID: "position_sd", Title: "Standard deviation of positions", Unit: "m", Default: 0, Low: 0, High: 20, Source: own("0: not told, and room has no uncertainty"),
			About: "Of the error that all positions of a run share, each of east and north: 0.02 m for a fixed carrier-phase solution."},
		{ID: "marker_radius", Title: "Radius of a marker's foot", Unit: "m", Default: 0.15, Low: 0, High: 1, Source: own("the foot of a cone of 500 mm is some 0.3 m wide"),
			About: "A marker is touched where the body comes nearer to its middle."},
		{ID: "cut_off", Title: "Filter", Unit: "Hz", Default: 10, Low: 0, High: 100, Source: ncap,
			About: "Cut-off of a Butterworth filter of twelve poles without phase, six forward and six backward, -3 dB in one pass, of steering, yaw rate and lateral acceleration. 0: none. Positions and speed are not filtered."},
		{ID: "longest_delay", Title: "Longest delay", Unit: "s", Default: 0.4, Low: 0.02, High: 2, Source: own("a road vehicle answers within 0.3 s; half a period of a slalom is about 1 s"),
			About: "Lags up to it are looked at, either way, but no longer than a third of the period."},
	},
	Measures: []programme.Measure{
		{ID: "yaw_delay", Title: "Delay from steering to yaw rate", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: difference, Source: trade,
			About: "Lag of greatest correlation, normalised on the overlap, between samples by a parabola."},
		{ID: "lateral_delay", Title: "Delay from steering to lateral acceleration", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: difference, Source: trade,
			About: "As the delay to yaw rate."},
		{ID: "yaw_phase_delay", Title: "Delay to yaw rate by phase", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: difference, Source: closed,
			About: "Phase of the sine at the slalom's frequency, by least squares, over that frequency."},
		{ID: "lateral_phase_delay", Title: "Delay to lateral acceleration by phase", Unit: "s", Shown: "ms", Better: programme.Lower, Scale: programme.Difference, Digits: 0, Error: difference, Source: closed,
			About: "As the delay to yaw rate by phase."},
		{ID: "yaw_gain", Title: "Yaw gain", Unit: "1/s", Better: programme.Undirected, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: trade,
			About: "Amplitude of yaw rate over that of the steering-wheel angle, at the slalom's frequency."},
		{ID: "lateral_gain", Title: "Lateral gain", Unit: "(m/s²)/rad", Shown: "(m/s²)/°", Better: programme.Undirected, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: trade,
			About: "Amplitude of lateral acceleration over that of the steering-wheel angle, at the slalom's frequency."},
		{ID: "steering_needed", Title: "Steering needed", Unit: "rad", Shown: "°", Better: programme.Lower, Scale: programme.Ratio, Digits: 1, Error: scatter, Source: trade,
			About: "Mean of the greatest steering-wheel angles, one a marker, from their middle."},
		{ID: "steering_rate", Title: "Steering rate", Unit: "rad/s", Shown: "°/s", Better: programme.Lower, Scale: programme.Ratio, Digits: 0, Error: scatter, Source: trade,
			About: "Root mean square of the steering wheel's angular speed."},
		{ID: "steering_travel", Title: "Steering travel", Unit: "rad", Shown: "°", Better: programme.Lower, Scale: programme.Ratio, Digits: 0, Error: scatter, Source: trade,
			About: "All that the steering wheel is turned, to and fro, divided by the number of half waves: the work of steering where no torque is known."},
		{ID: "steering_work", Title: "Work of steering", Unit: "J", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: trade,
			About: "Torque times angular speed over time where the driver turns the wheel against it, divided by the number of half waves."},
		{ID: "room_used", Title: "Room used", Unit: "m", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Places: true, Error: scatter, Source: trade,
			About: "By marker, and past the last: the farthest that any part of the body comes from the course's straight, within half a spacing of the marker."},
		{ID: "marker_gap", Title: "Gap to the marker", Unit: "m", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Places: true, Error: difference, Source: trade,
			About: "By marker: least distance of the body from the marker's foot; negative where the body passes over it."},
		{ID: "markers_touched", Title: "Markers touched", Unit: "1", Better: programme.Lower, Scale: programme.Count, Digits: 0, Error: "a count", Source: trade,
			About: "Markers whose foot the body comes over, by position. What marshals count goes before it."},
		{ID: "yaw_growth", Title: "Growth of yaw rate", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "Change of the greatest yaw rates from the first marker to the last, by a straight line through them, as a share of their mean."},
		{ID: "sideslip_growth", Title: "Growth of sideslip", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "As the growth of yaw rate."},
		{ID: "offset_growth", Title: "Growth of offset", Unit: "1", Shown: "%", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "As the growth of yaw rate, of the antenna's greatest offsets."},
		{ID: "marker_yaw_rate", Title: "Yaw rate at the markers", Unit: "rad/s", Shown: "°/s", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "Mean of the greatest yaw rates, one a marker."},
		{ID: "marker_lateral", Title: "Lateral acceleration at the markers", Unit: "m/s²", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: difference, Source: trade,
			About: "Mean of the greatest lateral accelerations, one a marker."},
		{ID: "marker_sideslip", Title: "Sideslip at the markers", Unit: "rad", Shown: "°", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: difference, Source: trade,
			About: "Mean of the greatest sideslip angles at the reference point, one a marker."},
		{ID: "asymmetry", Title: "Asymmetry", Unit: "1", Shown: "%", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "Greatest lateral accelerations to the left less those to the right, as a share of their mean."},
		{ID: "slalom_time", Title: "Time through the slalom", Unit: "s", Better: programme.Lower, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: trade,
			About: "From the first gate to the last. At a set speed it shows the driver's pace, not the tyre."},
		{ID: "mean_speed", Title: "Mean speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "set by the driver", Source: trade,
			About: "Over the time through the slalom."},
		{ID: "entry_speed", Title: "Entry speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "set by the driver", Source: trade,
			About: "Speed at the first gate."},
		{ID: "speed_lost", Title: "Speed lost", Unit: "m/s", Shown: "km/h", Better: programme.Lower, Scale: programme.Difference, Digits: 1, Error: difference, Source: trade,
			About: "Speed at the first gate less that at the last."},
	},
}
