package pass

import (
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/fault"
)

// A body that stands across the axis has its corners where drawing it puts them.
func TestCornersAndDistances(t *testing.T) {
	p := &Pass{At: []float64{10}, Offset: []float64{2}, Turn: []float64{math.Pi / 2}, T: []float64{0}, Step: 0.01}
	b := Body{Width: 2, Ahead: 3, Behind: 1, Left: 0.5}
	// It points to the left of the axis: ahead is +offset, its left is back along the axis.
	for i, want := range []Spot{{9.5, 5}, {11.5, 5}, {9.5, 1}, {11.5, 1}} {
		got := p.Corners(0, b)[i]
		if math.Hypot(got.Station-want.Station, got.Offset-want.Offset) > 1e-12 {
			t.Errorf("corner %d is at %v, want %v", i, got, want)
		}
	}
	for _, q := range []struct {
		at   Spot
		want float64
	}{
		{Spot{10.5, 8}, 3},    // ahead of the front
		{Spot{10.5, 0}, 1},    // behind the rear
		{Spot{13.5, 3}, 2},    // beside
		{Spot{14.5, 9}, 5},    // off a corner: 3, 4, 5
		{Spot{10.5, 3}, -1},   // in the middle
		{Spot{9.75, 3}, -.25}, // inside, near a side
		{Spot{9.5, 3}, 0},     // on it
	} {
		if got := p.Apart(0, b, q.at); math.Abs(got-q.want) > 1e-12 {
			t.Errorf("%v is %v m apart, want %v", q.at, got, q.want)
		}
	}
}

// Stations count from the first gate's middle, offsets to the left.
func TestAxis(t *testing.T) {
	a := Axis{From: course.Point{East: 1, North: 2}, Length: 5, e: 0.6, n: 0.8}
	for _, q := range []struct {
		at              course.Point
		station, offset float64
	}{
		{course.Point{East: 1, North: 2}, 0, 0}, {course.Point{East: 4, North: 6}, 5, 0}, {course.Point{East: 1 - 0.8, North: 2 + 0.6}, 0, 1},
	} {
		if s, o := a.Locate(q.at); math.Abs(s-q.station) > 1e-12 || math.Abs(o-q.offset) > 1e-12 {
			t.Errorf("%v is at %v, %v", q.at, s, o)
		}
	}
	for _, c := range []*course.Course{nil, {Posts: make([]course.Posts, 1)}, {Posts: make([]course.Posts, 2)}} {
		if _, err := Between(c); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
			t.Errorf("%v", err)
		}
	}
}

// A sine beside a constant and a trend is found, whatever part of a period the
// values last.
func TestFit(t *testing.T) {
	for _, n := range []int{120, 200, 431} {
		v, w := make([]float64, n), make([]float64, n)
		for i := range v {
			x := 2 * math.Pi * 0.46 * 0.01 * float64(i)
			v[i] = 0.3 + 0.001*float64(i) + 2*math.Sin(x+1)
			w[i] = -0.1 + 0.5*math.Sin(x+1-0.25)
		}
		a, err1 := Fit(v, 0.01, 0.46)
		b, err2 := Fit(w, 0.01, 0.46)
		if err1 != nil || err2 != nil || math.Abs(a.Amplitude-2) > 1e-9 || math.Abs(b.Amplitude-0.5) > 1e-9 {
			t.Fatalf("%v %v, %v %v", a, err1, b, err2)
		}
		if got, want := b.Later(a, 0.46), 0.25/(2*math.Pi*0.46); math.Abs(got-want) > 1e-10 {
			t.Errorf("later by %v, want %v", got, want)
		}
		if math.Abs(a.Share-1) > 1e-9 || math.Abs(a.Middle-0.3-0.001*float64(n-1)/2) > 1e-9 {
			t.Errorf("%v", a)
		}
	}
	for _, q := range []struct {
		n        int
		step, hz float64
	}{{7, 0.1, 1}, {100, 0.001, 1}, {100, 0.01, 0}, {100, 0.1, 5}} {
		if _, err := Fit(make([]float64, q.n), q.step, q.hz); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", q, err)
		}
	}
}
