package day_test

import (
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/order/day"
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
}

// A day by hand: fitting 4 wheels by a crew of 2 at 4 min is 8 min, wetting 5,
// warm-up 10, three runs of 6 with 4 between them, 10 after: 59 min. From 08:00
// the third stint would run into the break at 10:45.
func TestTimetableByHand(t *testing.T) {
	times := day.Times{StartS: 8 * 3600, WheelS: 240, Crew: 2, WettingS: 300, WarmUpS: 600, RunS: 360, CoolingS: 240, AfterS: 600,
		Breaks: []day.Span{{FromS: 10.75 * 3600, ToS: 11.25 * 3600}}, Light: &day.Span{FromS: 8.5 * 3600, ToS: 13.5 * 3600}}
	slots, err := times.Timetable([]int{4}, 3)
	must(t, err)
	// The first is driven from 08:30 on: fitting begins 13 min before.
	want := []string{"08:17 08:30 08:40 09:06 09:16", "09:16 09:29 09:39 10:05 10:15", "11:15 11:28 11:38 12:04 12:14", "12:14 12:27 12:37 13:03 13:13"}
	for i, s := range slots {
		got := strings.Join([]string{day.Clock(s.FitS), day.Clock(s.DriveS), day.Clock(s.RunS), day.Clock(s.EndS), day.Clock(s.FreeS)}, " ")
		if got != want[i] {
			t.Errorf("stint %d: %s, want %s", i+1, got, want[i])
		}
	}
	if n, err := times.Fit(3); err != nil || n != 4 {
		t.Errorf("%d fit: %v", n, err)
	}
	if list := times.BreaksInside([]string{"K", "P", "R", "K"}, "K", []int{4}, slots); len(list) != 1 || !strings.Contains(list[0].Text, "stints 2 (P) and 3 (R)") {
		t.Errorf("%v", list)
	}
	if list := times.BreaksInside([]string{"P", "K", "K", "R"}, "K", []int{4}, slots); len(list) != 0 {
		t.Errorf("%v", list)
	}
	_, err = times.Timetable([]int{5}, 3)
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "5 stints") || !strings.Contains(err.Error(), "13:30") || !strings.Contains(fault.HintOf(err), "4 of the stints fit") {
		t.Errorf("%v (%s)", err, fault.HintOf(err))
	}
}

// Sets in rotation, and what they lose.
func TestWearByHand(t *testing.T) {
	w := day.Wear{RunM: 0.1e-3, WarmUpM: 0.2e-3, MostM: 1.5e-3, ControlSets: 2}
	sets, uses, err := w.Assign(strings.Split("KPRKRPK", ""), "K", 3, map[string]float64{"R1": 0.25e-3})
	must(t, err)
	if got := strings.Join(sets, " "); got != "K1 P1 R1 K2 R1 P1 K1" {
		t.Error(got)
	}
	for _, u := range uses {
		want := map[string]float64{"K1": 1e-3, "K2": 0.5e-3, "P1": 1e-3, "R1": 1.25e-3}[u.Set]
		if math.Abs(u.WornM-want) > 1e-12 || math.Abs(u.WornM+u.LeftM-1.5e-3) > 1e-12 {
			t.Errorf("%+v, want %v", u, want)
		}
	}
	if n, wears := w.StintsOf(3); n != 3 || !wears || w.SetsFor(7, 3) != 3 {
		t.Errorf("%d, %d", n, w.SetsFor(7, 3))
	}
	if _, _, err := w.Assign(strings.Split("KPRKRPK", ""), "K", 3, map[string]float64{"R1": 0.75e-3}); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "set R1") {
		t.Errorf("%v", err)
	}
}

func TestSunOfMeeus(t *testing.T) {
	golden.Run(t, "meeus-1998", "sun-1992", func(t *testing.T, c *golden.Case) {
		var in string
		var want struct {
			Declination float64 `json:"declination_deg"`
			Equation    float64 `json:"equation_deg"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		at, err := time.Parse(time.RFC3339, in)
		must(t, err)
		d, e := day.Place(at)
		c.Near(t, "declination", d*180/math.Pi, want.Declination)
		c.Near(t, "equation of time", e*180/math.Pi, want.Equation)
	})
}

func TestSunrise(t *testing.T) {
	golden.Run(t, "ephem-4.1.4", "sunrise", func(t *testing.T, c *golden.Case) {
		var in [][3]any
		var want [][2]string
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		worst := 0.0
		for i, q := range in {
			lon := q[1].(float64)
			zone := time.FixedZone("", int(math.Round(lon/15))*3600)
			on, err := time.ParseInLocation(time.DateOnly, q[2].(string), zone)
			must(t, err)
			rise, set, _, both := day.Sun{Latitude: q[0].(float64), Longitude: lon}.Rise(on)
			if !both {
				t.Errorf("%v: no sun", q)
				continue
			}
			for k, got := range []time.Time{rise, set} {
				w, err := time.Parse(time.RFC3339, want[i][k])
				must(t, err)
				worst = math.Max(worst, math.Abs(got.Sub(w).Seconds()))
				c.Near(t, q[2].(string), got.Sub(w).Seconds(), 0)
			}
		}
		t.Logf("worst %.0f s", worst)
	})
}

// The midnight sun, the polar night, and a place whose sunset lies on the next
// day of its zone's clock.
func TestSunThatDoesNotSet(t *testing.T) {
	north := day.Sun{Latitude: 69.6, Longitude: 18.9}
	zone, err := time.LoadLocation("Europe/Oslo")
	must(t, err)
	if l, ok := north.Light(time.Date(2026, 6, 21, 0, 0, 0, 0, zone)); !ok || l.FromS != 0 || l.ToS != 24*3600 {
		t.Errorf("%v %v", l, ok)
	}
	if _, ok := north.Light(time.Date(2026, 12, 21, 0, 0, 0, 0, zone)); ok {
		t.Error("the sun rose in the polar night")
	}
	l, ok := day.Sun{Latitude: 57, Longitude: -4}.Light(time.Date(2026, 6, 21, 23, 0, 0, 0, time.UTC))
	if !ok || math.Abs(l.FromS-3.4*3600) > 1200 || math.Abs(l.ToS-21.2*3600) > 1200 { // about 03:25 and 21:10 by the ephem rows nearby
		t.Errorf("%v", l)
	}
}
