package above_test

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/app/lines"
	"example.org/bookend/figure"
	"example.org/bookend/unit"
	"example.org/bookend/web/above"
)

// bend gives a quarter circle of 100 m that n codes drive, each a metre outside of the
// one before.
func bend(names ...string) (*lines.Lines, figure.Codes) {
	l := &lines.Lines{Control: names[0], Cones: []lines.Place{{X: 100, Y: 0}}}
	for i := range 51 {
		l.Station = append(l.Station, 100*math.Pi/2*float64(i)/50)
	}
	for k, name := range names {
		q := lines.Line{Code: name, Runs: 4, Stints: 2}
		r := 100 + float64(k)
		for i := range l.Station {
			a := math.Pi / 2 * float64(i) / 50
			q.X, q.Y = append(q.X, r*math.Cos(a)), append(q.Y, r*math.Sin(a))
			q.Aside, q.Gain, q.Spread = append(q.Aside, -float64(k)), append(q.Gain, 0.001*float64(k*i)), append(q.Spread, 0.2)
		}
		l.Codes = append(l.Codes, q)
	}
	return l, figure.Codes{Control: names[0], Candidates: names[1:]}
}

// sound tells whether a drawing is one piece of markup.
func sound(t *testing.T, name string, d above.Drawing) string {
	t.Helper()
	text := string(d.Inside)
	if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
		t.Errorf("%s: a number is none", name)
	}
	x := xml.NewDecoder(strings.NewReader("<g>" + text + "</g>"))
	for {
		if _, err := x.Token(); err == io.EOF {
			return text
		} else if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
}

// The plan is one: a metre to the east is as long as one to the north, a place is where
// the drawing's scale puts it, and all of it lies within the sheet. Law, by hand: the
// control stands at station 0 on (100, 0).
func TestAPlanIsToScale(t *testing.T) {
	l, codes := bend("K", "P", "R")
	d := above.Plan(l, codes, 0, "P", "K", unit.Style{})
	text := sound(t, "plan", d)
	if d.SX != d.SY || d.SX <= 0 {
		t.Errorf("scales %v and %v", d.SX, d.SY)
	}
	want := fmt.Sprintf(`data-code="K" transform="translate(%.1f %.1f)"`, d.OX+d.SX*100, d.OY)
	if !strings.Contains(text, want) {
		t.Errorf("the control does not stand at %s", want)
	}
	for _, q := range l.Codes {
		for i := range q.X {
			if x, y := d.OX+d.SX*q.X[i], d.OY-d.SY*q.Y[i]; x < 0 || x > float64(d.W) || y < 0 || y > float64(d.H) {
				t.Fatalf("%s leaves the sheet at (%v, %v)", q.Code, x, y)
			}
		}
	}
}

// Labels at the ends of lines do not lie over each other, however near the lines end.
func TestLabelsKeepApart(t *testing.T) {
	l, codes := bend("K", "P", "R", "T", "W", "A", "B")
	for i := range l.Codes { // all end alike
		for k := range l.Codes[i].Gain {
			l.Codes[i].Gain[k] = 0.0001 * float64(i)
		}
	}
	text := sound(t, "time", above.Time(l, codes, 10, unit.Style{}))
	var at []float64
	for _, m := range regexp.MustCompile(`<text x="\d+" y="([0-9.]+)" class="lab"><tspan`).FindAllStringSubmatch(text, -1) {
		y, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		at = append(at, y)
	}
	if len(at) != 7 {
		t.Fatalf("%d labels", len(at))
	}
	for i := range at {
		for k := range i {
			if math.Abs(at[i]-at[k]) < 16.9 {
				t.Errorf("two labels at %v and %v", at[k], at[i])
			}
		}
	}
}

// Codes are typed by people, and what they typed is no markup.
func TestCodesAreNoMarkup(t *testing.T) {
	l, codes := bend("K", `<script>"&`)
	for name, d := range map[string]above.Drawing{
		"plan": above.Plan(l, codes, 3, `<script>"&`, "K", unit.Style{}), "time": above.Time(l, codes, 3, unit.Style{}), "aside": above.Aside(l, codes, 3, unit.Style{}),
	} {
		if text := sound(t, name, d); strings.Contains(text, "<script>") {
			t.Errorf("%s holds markup that was typed", name)
		}
	}
}

// A straight course is drawn with offsets longer than stations, and says by how much.
func TestAStraightCourseSaysHowOffsetsAreDrawn(t *testing.T) {
	l, codes := bend("K", "P")
	l.Straight = true
	for k := range l.Codes {
		for i := range l.Station {
			l.Codes[k].X[i], l.Codes[k].Y[i] = l.Station[i], float64(k)+math.Sin(l.Station[i]/10)
		}
	}
	l.Ways = []lines.Way{{From: 10, To: 20, Left: 1, Right: -1}}
	d := above.Plan(l, codes, 0, "P", "K", unit.Style{})
	sound(t, "plan", d)
	if want := fmt.Sprintf("offsets are drawn %.0f times as long as stations", d.SY/d.SX); !strings.Contains(d.Title, want) || d.SY < d.SX {
		t.Errorf("%q, wanted %q", d.Title, want)
	}
}
