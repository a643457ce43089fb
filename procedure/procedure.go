// Package procedure says what a test procedure is: how the motion of one run
// becomes the numbers of its manoeuvre.
//
// A procedure is one folder. It declares a programme.Spec and has two steps.
// Reduce sees one run and the test's fixed course and parameters, never another
// run or a code. Overlay sees the traces of all runs of a test with their codes
// and gives figures as data, never an observation. Whatever is relative to the
// control is a contrast made by room compare, or a figure made by Overlay.
package procedure

import (
	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// Procedure is one test procedure.
type Procedure interface {
	// Spec declares the procedure. It gives the same value at every call.
	Spec() programme.Spec

	// Help gives the procedure's page in Markdown.
	Help() string

	// Reduce turns one run into observations, traces and caveats. It changes
	// nothing that it is given, and gives the same for the same. A channel that
	// is missing is a caveat where the Spec calls it optional and an invalid
	// fault where it does not.
	Reduce(in Input) (Output, error)

	// Overlay lays the traces of all runs of a test over each other.
	Overlay(in []Overlaid) ([]figure.Figure, error)
}

// Input is what Reduce sees.
type Input struct {
	Run        string              // id of the run, only to be written into its observations
	Recordings []*signal.Recording // what was recorded of it; those of several instruments come as one, joined
	FromS      float64             // the run's window on the first recording's base, s
	ToS        float64
	Course     *course.Course       // the test's; nil where the procedure needs none
	Parameters programme.Parameters // complete, by Spec.Settings
	Ratings    []programme.Rating   // of the run's sheets, for the procedure that reads those; it has no recording
}

// Output is what a run yields. Observations carry no derivation yet; whoever
// calls Reduce knows the raw files and fills it in.
type Output struct {
	Observations []programme.Observation
	Traces       []Trace
	Caveats      caveat.List
}

// Trace is values of one run by station or by time from an event.
type Trace struct {
	ID    string // "speed_by_station"
	Title string
	X     []float64 // station in m, or time from the event in s; increasing
	XUnit string
	Y     []float64
	YUnit string
}

// TimeFromCut is the id of the trace by which a station of a run is found in its
// recording: time in s since the run's cut, the FromS of Input, by station in m.
const TimeFromCut = "time_from_cut_by_station"

// Overlaid is one run's traces with the code it was driven under.
type Overlaid struct {
	Code   string
	Stint  string
	Run    string
	Traces []Trace
}
