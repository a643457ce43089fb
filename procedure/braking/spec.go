package braking

import "example.org/bookend/programme"

// Words of parameters.
const (
	windowSpeeds = "speeds"
	windowRest   = "to_rest"
	windowShare  = "share"

	onsetSignal       = "signal"
	onsetDeceleration = "deceleration"
	onsetSpeed        = "speed"

	wheelsFree     = "from_free_rolling"
	wheelsRecorded = "as_recorded"

	gradientUnknown = "unknown"
)

const kmh = 1 / 3.6

func own(reason string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: reason}
}

var (
	r117  = programme.Source{Key: "unece-r117-02", Clause: "Annex 5, vehicle method: window 80 to 20 km/h (second hand)"}
	r117a = programme.Source{Key: "unece-r117", Clause: "Annex 7, average deceleration"}
	r117b = programme.Source{Key: "unece-r117-02", Clause: "Annex 5, vehicle method: entry 85 ± 2 km/h (second hand)"}
	r13   = programme.Source{Key: "un-r13h", Clause: "Annex 3, mean fully developed deceleration (from memory)"}
	iso   = programme.Source{Key: "iso-21994", Clause: "correction by the square of speed (from memory)"}
	trade = programme.Source{Key: programme.CommonPractice, Clause: "stops are timed and measured from the first braking"}
)

// spec is what braking declares.
var spec = programme.Spec{
	ID:      "braking",
	Version: 1,
	Title:   "Straight-line braking",
	About: "A stop, or a fall of speed, in a straight line. The distance is the integral of speed between crossings that are " +
		"interpolated between samples.",
	Sources: []programme.Source{r117, r117a, r13, iso},
	Cut:     programme.CutByStop,
	Needs: []programme.Need{
		{Role: "speed", Unit: "m/s", LeastHz: 50},
		{Role: "brake", Unit: "1", LeastHz: 100, Optional: "without a brake signal the onset is found by deceleration, which is later"},
		{Role: "latitude", Unit: "rad", LeastHz: 5, Optional: "without positions the distance has no second source"},
		{Role: "longitude", Unit: "rad", LeastHz: 5, Optional: "without positions the distance has no second source"},
		{Role: "wheel_speed_fl", Unit: "m/s", LeastHz: 50, Optional: "without wheel speeds there is no slip"},
		{Role: "wheel_speed_fr", Unit: "m/s", LeastHz: 50, Optional: "without wheel speeds there is no slip"},
		{Role: "wheel_speed_rl", Unit: "m/s", LeastHz: 50, Optional: "without wheel speeds there is no slip"},
		{Role: "wheel_speed_rr", Unit: "m/s", LeastHz: 50, Optional: "without wheel speeds there is no slip"},
	},
	Parameters: []programme.Parameter{
		{ID: "window", Title: "Window", Words: []string{windowSpeeds, windowRest, windowShare}, Source: r117,
			About: "Where the distance is measured: between two speeds, from the onset to rest, or from 0.8 to 0.1 of the speed at the onset."},
		{ID: "from_speed", Title: "Upper speed of the window", Unit: "m/s", Shown: "km/h", Default: 80 * kmh, Low: 1 * kmh, High: 400 * kmh, Above: "to_speed", Flag: "from", Source: r117,
			About: "Where the window between speeds begins. 80 and 60 km/h are usual."},
		{ID: "to_speed", Title: "Lower speed of the window", Unit: "m/s", Shown: "km/h", Default: 20 * kmh, Low: 0, High: 390 * kmh, Flag: "to", Source: r117,
			About: "Where the window between speeds ends; 0 is rest."},
		{ID: "onset", Title: "Onset", Words: []string{onsetSignal, onsetDeceleration, onsetSpeed}, Source: trade,
			About: "What the start of braking is taken from: the brake signal, the deceleration, or the speed falling through the upper one."},
		{ID: "brake_level", Title: "Brake signal that counts as braking", Unit: "1", Default: 0.05, Low: 0.001, High: 1,
			Source: own("a twentieth of the pedal's travel is above the noise of a released one and reached within some milliseconds of a stamped one"),
			About:  "Share of the pedal's travel, or of a switch."},
		{ID: "onset_deceleration", Title: "Deceleration that counts as braking", Unit: "m/s²", Default: 2, Low: 0.2, High: 20,
			Source: own("above what a closed throttle gives, 0.5 to 1.7 m/s², and passed within 0.1 s of a stamped pedal"),
			About:  "For an onset by deceleration. The onset is where the deceleration last rises through it."},
		{ID: "smoothing", Title: "Width of the mean under the deceleration", Unit: "s", Default: 0.1, Low: 0, High: 1,
			Source: own("longer than a period of wheel-speed modulation, shorter than the build-up of the brake"),
			About:  "Speed is averaged over this time before the deceleration for the onset is taken from it; no distance is touched by it."},
		{ID: "rest_speed", Title: "Speed that counts as rest", Unit: "m/s", Default: 0.1, Low: 1e-6, High: 2,
			Source: own("above the noise of a standing receiver, and worth less than a millimetre of distance"),
			About:  "Rest is the first time that the speed falls to it; the rebound after it is not measured."},
		{ID: "entry_speed", Title: "Entry speed set", Unit: "m/s", Shown: "km/h", Default: 0, Low: 0, High: 400 * kmh, Source: r117b,
			About: "What the driver was to enter at; 0 where none was set. The distance to rest is corrected to it."},
		{ID: "entry_tolerance", Title: "Tolerance of the entry speed", Unit: "m/s", Shown: "km/h", Default: 2 * kmh, Low: 0, High: 50 * kmh, Source: r117b,
			About: "Outside of it nothing is corrected, and the run is marked."},
		{ID: "least_entry", Title: "Least speed of a stop", Unit: "m/s", Shown: "km/h", Default: 20 * kmh, Low: 1 * kmh, High: 300 * kmh,
			Source: own("slower than any entry speed, faster than manoeuvring"),
			About:  "A fall to rest from below it is no stop of the test."},
		{ID: "wheels", Title: "Scale of the wheel speeds", Words: []string{wheelsFree, wheelsRecorded},
			Source: own("rolling radii are seldom entered to better than 2 %, as much as the slip sought"),
			About:  "Taken from the second before the onset, in which the wheels are said to roll free, or as recorded."},
		{ID: "slip_least_speed", Title: "Least speed for slip", Unit: "m/s", Default: 3, Low: 0.1, High: 30,
			Source: own("below it a wheel's pulses come too seldom, and a small error of speed is a large one of slip"),
			About:  "Slip is taken in the window while the speed is above it."},
		{ID: "gradient", Title: "Gradient of the surface", Words: []string{gradientUnknown, "level", "both_ways"}, Source: trade,
			About: "Whether the surface is known to be level, or stops are driven in both directions. Each 1 % of slope changes the deceleration by 0.098 m/s²."},
	},
	Measures: []programme.Measure{
		{ID: "braking_distance", Title: "Braking distance", Unit: "m", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: r117,
			About: "Distance covered in the window: the integral of speed."},
		{ID: "corrected_distance", Title: "Corrected distance", Unit: "m", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: iso,
			About: "The braking distance brought to the set speeds by the square of speed, only within the tolerance."},
		{ID: "braking_time", Title: "Braking time", Unit: "s", Better: programme.Lower, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: trade,
			About: "Time spent in the window."},
		{ID: "average_deceleration", Title: "Average deceleration", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: r117a,
			About: "AD: difference of the squares of the window's speeds over twice its distance."},
		{ID: "braking_force_coefficient", Title: "Braking force coefficient", Unit: "1", Better: programme.Higher, Scale: programme.Ratio, Digits: 3, Error: scatter,
			Source: programme.Source{Key: "unece-r117-02", Clause: "Annex 5, BFC = AD / 9.81 (from memory)"}, About: "BFC: average deceleration over 9.81 m/s²."},
		{ID: "mfdd", Title: "Mean fully developed deceleration", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: r13,
			About: "From 0.8 to 0.1 of the speed at the onset, whatever the window."},
		{ID: "stopping_distance", Title: "Stopping distance", Unit: "m", Better: programme.Lower, Scale: programme.Ratio, Digits: 2, Error: scatter, Source: trade,
			About: "From the onset to rest, whatever the window."},
		{ID: "stopping_time", Title: "Stopping time", Unit: "s", Better: programme.Lower, Scale: programme.Ratio, Digits: 3, Error: scatter, Source: trade,
			About: "From the onset to rest, whatever the window."},
		{ID: "entry_speed", Title: "Entry speed", Unit: "m/s", Shown: "km/h", Better: programme.Undirected, Scale: programme.Difference, Digits: 1, Error: "set by the driver", Source: trade,
			About: "Speed at the onset."},
		{ID: "distance_by_position", Title: "Distance by position", Unit: "m", Better: programme.Undirected, Scale: programme.Difference, Digits: 2, Error: "noise of the positions at both ends",
			Source: own("a second source for the distance: a speed's scale error shows"), About: "Straight distance between the positions at both ends of the window; a check on the integral of speed."},
		{ID: "mean_slip", Title: "Mean slip", Unit: "1", Better: programme.Undirected, Scale: programme.Difference, Digits: 3, Places: true, Error: scatter, Source: trade,
			About: "By wheel: mean by time of (speed - wheel speed) / speed in the window."},
		{ID: "greatest_slip", Title: "Greatest slip", Unit: "1", Better: programme.Undirected, Scale: programme.Difference, Digits: 3, Places: true, Error: scatter, Source: trade,
			About: "By wheel: greatest (speed - wheel speed) / speed in the window."},
	},
}

const scatter = "independent from run to run on the log scale, after drift"
