package lanechange

// Lane is one way between cones: stations from the first lane's beginning, edges as
// offsets from its middle, both in m. The first change is to the left; driven to the
// right, edges change sides.
type Lane struct {
	Name        string
	From, To    float64
	Right, Left float64
}

// Width gives the lane's width in m.
func (l Lane) Width() float64 { return l.Left - l.Right }

// mirrored gives the lane as laid out for a first change to the right.
func (l Lane) mirrored() Lane {
	l.Right, l.Left = -l.Left, -l.Right
	return l
}

// Names of the lanes; they are the places of observations.
const (
	entryLane = "entry lane"
	sideLane  = "side lane"
	exitLane  = "exit lane"
	lastLane  = "last lane"
)

// Layout gives the lanes of a layout for a vehicle of a width in m without mirrors.
// All but the side lane have their right edges in one line; a lane that is no way
// between cones is left out. Lengths and widths by ISO 3888-1 and ISO 3888-2, as
// docs/sources has them.
func Layout(layout string, width float64, exit string) []Lane {
	wide := func(times, plus float64) float64 { return times*width + plus }
	var out []Lane
	lane := func(name string, from, length, right, width float64) {
		out = append(out, Lane{Name: name, From: from, To: from + length, Right: right, Left: right + width})
	}
	entry := wide(1.1, 0.25)
	right := -entry / 2
	if layout == doubleChange { // 15, 30, 25, 25, 15, 15 m; the side lane 3.5 m aside
		lane(entryLane, 0, 15, right, entry)
		lane(sideLane, 45, 25, right+3.5, wide(1.2, 0.25))
		lane(exitLane, 95, 15, right, wide(1.3, 0.25))
		lane(lastLane, 110, 15, right, wide(1.3, 0.25))
		return out
	}
	// 12, 13.5, 11, 12.5, 12 m; the side lane's right edge 1 m left of the entry lane's
	// left one.
	lane(entryLane, 0, 12, right, entry)
	lane(sideLane, 25.5, 11, entry/2+1, wide(1, 1))
	last := wide(1.3, 0.25)
	switch exit {
	case exitAtLeast:
		last = max(last, exitBound)
	case exitAtMost:
		last = min(last, exitBound)
	}
	lane(exitLane, 49, 12, right, last)
	return out
}

// exitBound is the width in m that bounds the exit lane of ISO 3888-2 (clause as
// remembered; whether from below or above is a setting).
const exitBound = 3.0
