package procedure

import (
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// Reduction is one run while it is being reduced: what it yields is gathered in Out.
type Reduction struct {
	In  Input
	Rec *signal.Recording // the first of In's
	Out Output
}

// Begin begins a reduction; a run without a recording is an invalid fault.
func Begin(in Input) (*Reduction, error) {
	if len(in.Recordings) == 0 {
		return nil, fault.New(fault.Invalid, "run %s has no recording", in.Run)
	}
	return &Reduction{In: in, Rec: in.Recordings[0]}, nil
}

// Doubt adds a caveat about the run at a time in s on the recording's base.
func (r *Reduction) Doubt(code string, t float64, format string, args ...any) {
	r.Out.Caveats.Add(code, caveat.Place{File: r.Rec.Name, Run: r.In.Run, TimeS: caveat.At(t)}, format, args...)
}

// Give adds an observation, its value in the measure's unit.
func (r *Reduction) Give(measure, place string, value float64) {
	r.Out.Observations = append(r.Out.Observations, programme.Observation{Run: r.In.Run, Measure: measure, Place: place, Value: value})
}

// Trace adds a trace; samples at which x does not increase are left out, and a trace
// of fewer than two is none.
func (r *Reduction) Trace(id, title string, x []float64, xUnit string, y []float64, yUnit string) {
	tr := Trace{ID: id, Title: title, XUnit: xUnit, YUnit: yUnit}
	for i := range x {
		if n := len(tr.X); n == 0 || x[i] > tr.X[n-1] {
			tr.X, tr.Y = append(tr.X, x[i]), append(tr.Y, y[i])
		}
	}
	if len(tr.X) > 1 {
		r.Out.Traces = append(r.Out.Traces, tr)
	}
}

// Channel gives the recording's channel of a role, nil where there is none or none of
// it is valid.
func (r *Reduction) Channel(role signal.Role) *signal.Channel {
	if c := r.Rec.ByRole(role); c != nil && len(c.Valid) > 0 {
		return c
	}
	return nil
}

// Needed gives the channel of a role that the procedure cannot do without; what is
// its name in words.
func (r *Reduction) Needed(role signal.Role, what string) (*signal.Channel, error) {
	if c := r.Channel(role); c != nil {
		return c, nil
	}
	return nil, fault.New(fault.Invalid, "the procedure needs the %s, and the recording has none", what).At("%s", r.Rec.Name).
		WithHint("name the column in a mapping file if it is there under another name")
}

// filterOrder is that of one pass: forward and backward it is the 12-pole phaseless
// Butterworth filter of docs/sources/euro-ncap-aeb-4.3.1.md.
const filterOrder = 6

// Filtered gives a channel filtered without delay by a Butterworth filter of twelve
// poles (six forward, six backward; the gain is 1/2 at the cut-off in Hz), or as it is
// for a cut-off of 0. A channel too slow or too short for the filter stays as it is,
// with a caveat.
func (r *Reduction) Filtered(c *signal.Channel, cutOff float64) *signal.Channel {
	if c == nil || cutOff == 0 {
		return c
	}
	out, doubt, err := c.Filtered(filterOrder, cutOff, signal.OnePass)
	if err != nil || len(out.Valid) == 0 {
		t := 0.0
		if len(c.Base.T) > 0 {
			t = c.Base.T[0]
		}
		r.Doubt("not_filtered", t, "Channel %s is too slow or too short for a filter of %g Hz, and is used as it is.", c.Name, cutOff)
		return c
	}
	r.Out.Caveats = append(r.Out.Caveats, doubt.Within(caveat.Place{File: r.Rec.Name, Run: r.In.Run})...)
	return out
}

// Longest gives the longest valid stretch of a channel in [from, to] s, its ends
// interpolated; empty where there is none.
func Longest(c *signal.Channel, from, to float64) signal.Stretch {
	var best signal.Stretch
	if c == nil {
		return best
	}
	length := -1.0
	for _, s := range c.All() {
		w := s.Cut(from, to)
		if n := len(w.T); n > 0 && w.T[n-1]-w.T[0] > length {
			best, length = w, w.T[n-1]-w.T[0]
		}
	}
	return best
}
