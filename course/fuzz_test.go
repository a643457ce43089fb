package course_test

import (
	"math"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/fault"
)

// Whatever is typed as a gate is a gate with finite posts or an invalid fault.
func FuzzParseGate(f *testing.F) {
	for _, s := range []string{"52.0001,-1.0002,52.0002,-1.0002", "1,2,3", "nan,1,2,3", "90,180,90,-180", "89.9999,0,89.9999,179", ",,,", "1e308,0,0,0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := course.ParseGate(text)
		if err != nil {
			if fault.CodeOf(err) != fault.Invalid {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		c, err := course.New(p)
		if err != nil {
			t.Fatalf("%q is a gate of no course: %v", text, err)
		}
		if w := c.Gates()[0].Width(); !(w > 0) || math.IsInf(w, 0) {
			t.Fatalf("%q is %v m wide", text, w)
		}
	})
}

// Whatever is given as a course is one that comes back from its canonical form with
// the same hash, or an invalid fault.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"{}", `{"origin":{"latitude_rad":0.9,"longitude_rad":0.1},"gates":[{"right":{"latitude_rad":0.9,"longitude_rad":0.1},"left":{"latitude_rad":0.9,"longitude_rad":0.100001}}]}`,
		`{"origin":{"latitude_rad":0,"longitude_rad":0},"reference":{"closed":true,"step_m":1,"points":[{"east_m":0,"north_m":0},{"east_m":1,"north_m":0},{"east_m":1,"north_m":1}]}}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := course.Parse(data)
		if err != nil {
			if fault.CodeOf(err) != fault.Invalid {
				t.Fatalf("%q: %v", data, err)
			}
			return
		}
		b, err := c.Canonical()
		if err != nil {
			t.Fatal(err)
		}
		d, err := course.Parse(b)
		if err != nil {
			t.Fatalf("%q became %q: %v", data, b, err)
		}
		h1, err1 := c.Hash()
		h2, err2 := d.Hash()
		if err1 != nil || err2 != nil || h1 != h2 {
			t.Fatalf("%q: %s, %s, %v, %v", data, h1, h2, err1, err2)
		}
	})
}
