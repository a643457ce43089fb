package advice

import (
	"fmt"
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Point is one control stint: its place in the sequence and its mean on the
// scatter's scale.
type Point struct{ At, Mean float64 }

// Check says whether the newest control stint is where those before it let one
// expect it.
type Check struct {
	Expected float64 // mean of the newest control, by the line through those before it, or by the one before
	Seen     float64
	Limit    float64 // largest distance from it that scatter explains
	Moved    bool
	Again    bool // the newest control repeats one that had moved
	Text     string
}

// checkLevel is the error level of one check: one control in a hundred is called
// moved though only scatter moved it. bookend's own choice.
const checkLevel = 0.01

// CheckControl holds the newest control stint against those before it in its
// block: against the only one, with a random walk of the step given beside the
// scatter, or from three on against the straight line through them. Standard
// deviations are of a stint mean, df its degrees of freedom. It is nil where
// there is nothing to hold it against.
func CheckControl(points []Point, sd, df, stepSD float64) (*Check, error) {
	for _, p := range points {
		if math.IsNaN(p.At) || math.IsInf(p.At, 0) || math.IsNaN(p.Mean) || math.IsInf(p.Mean, 0) {
			return nil, fault.New(fault.Invalid, "control stint at %v has the mean %v", p.At, p.Mean)
		}
	}
	if !(sd >= 0) || !(df >= 0) || !(stepSD >= 0) || math.IsInf(sd, 0) || math.IsInf(stepSD, 0) {
		return nil, fault.New(fault.Invalid, "the scatter is %v on %v degrees of freedom, the step %v", sd, df, stepSD).WithHint("they are 0 or more")
	}
	n := len(points) - 1
	if n < 1 || !(sd > 0) || !(df > 0) {
		return nil, nil
	}
	newest := points[n]
	c := &Check{Seen: newest.Mean}
	variance := 0.0
	if n < 3 {
		last := points[n-1]
		c.Expected = last.Mean
		variance = 2*sd*sd + stepSD*stepSD*math.Abs(newest.At-last.At)
	} else {
		mx, my := 0.0, 0.0
		for _, p := range points[:n] {
			mx += p.At / float64(n)
			my += p.Mean / float64(n)
		}
		sxx, sxy := 0.0, 0.0
		for _, p := range points[:n] {
			sxx += (p.At - mx) * (p.At - mx)
			sxy += (p.At - mx) * (p.Mean - my)
		}
		if !(sxx > 0) {
			return nil, fault.New(fault.Invalid, "the control stints stand at one place")
		}
		d := newest.At - mx
		c.Expected = my + sxy/sxx*d
		variance = sd * sd * (1 + 1/float64(n) + d*d/sxx)
		variance += stepSD * stepSD * math.Abs(newest.At-points[n-1].At)
	}
	c.Limit = tail.TPoint(checkLevel/2, df) * math.Sqrt(variance)
	if c.Moved = math.Abs(c.Seen-c.Expected) > c.Limit; c.Moved {
		c.Text = fmt.Sprintf("it is %.3g from where the controls before let one expect it, and scatter explains %.3g", math.Abs(c.Seen-c.Expected), c.Limit)
	} else {
		c.Text = "the control is where it was, as far as scatter tells"
	}
	return c, nil
}

// ScatterCheck says whether a programme's own scatter is that of the record.
type ScatterCheck struct {
	Ratio float64 // own variance over the record's
	Limit float64 // largest ratio that chance explains
	Odd   bool
}

// CheckScatter holds this programme's scatter against the record's; nil where one
// of them is not known.
func CheckScatter(sd, df, recordSD, recordDF float64) *ScatterCheck {
	if !(df > 0) || !(recordDF > 0) || !(recordSD > 0) {
		return nil
	}
	c := &ScatterCheck{Ratio: sd * sd / (recordSD * recordSD), Limit: tail.FPoint(0.05, df, recordDF)} // as the record's own upper check, NIST e-Handbook 2.2.3.2
	c.Odd = c.Ratio > c.Limit
	return c
}
