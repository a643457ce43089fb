package driver_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/sim/driver"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/tyremodel"
	"example.org/bookend/sim/vehicle"
)

func session(c *ground.Course, words string, d driver.Driver, seed uint64, station, speed float64) *driver.Session {
	ch, err := tyremodel.Say(words)
	if err != nil {
		panic(err)
	}
	v := vehicle.New(vehicle.VanAsBuilt(), ch.Of(tyremodel.Van()), 15)
	return driver.Start(v, c, d, driver.Surroundings{Grip: 1, Water: 1}, rand.New(rand.NewPCG(seed, 7)), station, speed)
}

// laps gives the times in s between crossings of the first gate, and the largest
// offset in m.
func laps(s *driver.Session) (times []float64, aside float64) {
	l, gate := s.Course.Path.Length, s.Course.Gates[0]
	last := math.NaN()
	for i := 1; i < len(s.Trace.Point); i++ {
		a, b := &s.Trace.Point[i-1], &s.Trace.Point[i]
		n := math.Floor((b.Station - gate) / l)
		if math.Floor((a.Station-gate)/l) < n {
			u := (gate + n*l - a.Station) / (b.Station - a.Station)
			at := a.T + u*(b.T-a.T)
			if !math.IsNaN(last) {
				times = append(times, at-last)
			}
			last = at
		}
		aside = math.Max(aside, math.Abs(b.Offset))
	}
	return times, aside
}

func mean(x []float64) (m, sd float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - m) * (v - m) / float64(len(x)-1)
	}
	return m, math.Sqrt(sd)
}

// At the limit the vehicle stays on the road, uses most of its grip, and laps
// scatter as a professional's do (0.1 to 1 %, common practice says 0.3 to 0.7).
func TestLaps(t *testing.T) {
	for _, c := range []*ground.Course{ground.DryHandling(), ground.WetHandling()} {
		s := session(c, "", driver.Professional("A"), 3, c.Gates[0]-150, 5)
		s.Laps(6, nil)
		times, aside := laps(s)
		if len(times) != 6 {
			t.Fatalf("%s: %d laps", c.Name, len(times))
		}
		m, sd := mean(times[1:]) // the first warms the tyres
		if sd/m < 0.001 || sd/m > 0.01 {
			t.Errorf("%s: laps %v scatter by %.2f %%", c.Name, times, 100*sd/m)
		}
		if aside > c.Half-0.5 {
			t.Errorf("%s: %v m aside", c.Name, aside)
		}
		most := 0.0
		for i := range s.Trace.Point {
			most = math.Max(most, math.Abs(s.Trace.Point[i].AY))
		}
		if most < 4.5 || most > 8.5 {
			t.Errorf("%s: lateral acceleration up to %v m/s²", c.Name, most)
		}
	}
}

// More grip laps faster, less grip slower; so do stops.
func TestGripShows(t *testing.T) {
	lap := func(words string) float64 {
		c := ground.WetHandling()
		s := session(c, words, driver.Professional("A"), 3, c.Gates[0]-150, 5)
		s.Laps(3, nil)
		times, _ := laps(s)
		m, _ := mean(times)
		return m
	}
	control, more, less := lap(""), lap("much more wet grip"), lap("much less wet grip")
	if !(more < 0.99*control && less > 1.01*control) {
		t.Errorf("wet laps: control %v s, more grip %v s, less grip %v s", control, more, less)
	}
	stop := func(words string) float64 {
		s := session(ground.BrakingStraight(0.001), words, driver.Professional("A"), 3, 0, 3)
		s.Stops(2, 85/3.6, ground.LaneFrom+6)
		d, from := 0.0, 0.0
		for i := 1; i < len(s.Trace.Point); i++ {
			a, b := &s.Trace.Point[i-1], &s.Trace.Point[i]
			if b.Brake > 0.5 && a.VX >= 80/3.6 && b.VX < 80/3.6 {
				from = b.Distance
			}
			if b.Brake > 0.5 && a.VX >= 20/3.6 && b.VX < 20/3.6 {
				d += (b.Distance - from) / 2
			}
		}
		return d
	}
	k, p, r := stop(""), stop("more wet grip"), stop("less wet grip")
	if !(p < 0.98*k && r > 1.02*k && k > 25 && k < 50) {
		t.Errorf("wet stops: control %v m, more grip %v m, less grip %v m", k, p, r)
	}
}

// Stops are entered at the set speed, by a tenth of a metre a second or so, and end
// at rest on the lane.
func TestStops(t *testing.T) {
	c := ground.BrakingStraight(0.001)
	s := session(c, "", driver.Professional("A"), 9, 0, 3)
	s.Stops(5, 85/3.6, ground.LaneFrom+6)
	rests, moving := 0, false
	for i := 1; i < len(s.Trace.Point); i++ {
		a, b := &s.Trace.Point[i-1], &s.Trace.Point[i]
		if a.Brake == 0 && b.Brake > 0 && b.VX > 20 {
			if v := b.VX * 3.6; math.Abs(v-85) > 2 {
				t.Errorf("entered at %v km/h", v)
			}
		}
		moving = moving || b.VX > 5
		if moving && b.VX < 0.05 && b.Brake == 1 {
			rests++
			moving = false
			if st := math.Mod(b.Station, c.Path.Length); st > ground.LaneTo || math.Abs(b.Offset) > 1 {
				t.Errorf("at rest at station %v, offset %v", st, b.Offset)
			}
		}
	}
	if rests != 5 {
		t.Errorf("%d stops", rests)
	}
}

// The same seed drives the same; another seed another lap.
func TestSeeds(t *testing.T) {
	drive := func(seed uint64) []vehicle.Moment {
		c := ground.WetHandling()
		s := session(c, "", driver.Professional("A"), seed, c.Gates[0]-150, 5)
		s.Laps(1, nil)
		return s.Trace.Point
	}
	a, b, other := drive(5), drive(5), drive(6)
	if len(a) != len(b) {
		t.Fatal("the same seed drives another length")
	}
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("the same seed differs at moment %d", i)
		}
	}
	if len(a) == len(other) && a[len(a)-1] == other[len(other)-1] {
		t.Error("another seed drives the same")
	}
}

// How many times faster than real time a lap is driven, as reported beside ns/op.
func BenchmarkLaps(b *testing.B) {
	c := ground.DryHandling()
	driven := 0.0
	for b.Loop() {
		s := session(c, "", driver.Professional("A"), 3, c.Gates[0]-150, 5)
		s.Laps(1, nil)
		driven += s.Vehicle.State.T
	}
	b.ReportMetric(driven/b.Elapsed().Seconds(), "x-real-time")
}
