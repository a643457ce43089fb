package lap

import "example.org/bookend/programme"

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

// spec is what lap declares.
var spec = programme.Spec{
	ID:      "lap",
	Version: 1,
	Title:   "Handling lap",
	About: "One lap of a course, from one crossing of the first gate to the next. Gates are crossed between samples, by linear " +
		"interpolation in position and time.",
	Sources: []programme.Source{trade, {Key: "iogp-373-7-2", Clause: "geocentric/topocentric conversions"}},
	Cut:     programme.CutByGate,
	Needs: []programme.Need{
		{Role: "latitude", Unit: "rad", LeastHz: 5},
		{Role: "longitude", Unit: "rad", LeastHz: 5},
		{Role: "speed", Unit: "m/s", LeastHz: 5, Optional: "without it speed is taken from the positions, and is rougher"},
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
	},
}
