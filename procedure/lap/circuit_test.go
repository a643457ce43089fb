package lap

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/lap/corner"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// The circuit: two straights and two left-hand bends of half a turn, driven over and
// over; a vehicle whose steering, yaw and sideslip follow the path by formulas.
const (
	tight     = 40.0  // m, radius of the bends
	easing    = 20.0  // m over which curvature comes and goes
	straights = 150.0 // m
	fast      = 22.0  // m/s
	slow      = 15.0  // m/s
	base      = 2.7   // m
	geared    = 16.0
	rear      = 1.5   // m
	under     = 0.003 // rad/(m/s²), of the road wheels beyond the neutral angle
	soft      = 0.006 // rad/(m/s²), slip of the rear axle
)

// bendLength is how long a bend is, easings included: curvature rises and falls as a
// cosine, so that each easing turns by half of what its length would at full curvature.
var bendLength = math.Pi*tight + easing

var round = 2 * (bendLength + straights)

// shape gives curvature and speed at a station, by the formulas.
func shape(s float64) (k, v float64) {
	s = math.Mod(math.Mod(s, round/2)+round/2, round/2)
	ease := func(x float64) float64 { return 0.5 - 0.5*math.Cos(math.Pi*math.Max(0, math.Min(1, x))) }
	into, out := s-straights, straights+bendLength-s
	if into < 0 {
		k = 0
	} else {
		k = ease(into/easing) * ease(out/easing) / tight
	}
	// Slowing 50 m before the bend, faster again from 30 m before its end.
	down := ease((into + 50) / 45)
	up := ease((30 - out) / 60)
	if into < -50 {
		up = ease((30 + s) / 60)
		if s > 30 {
			up = 1
		}
		return k, slow + (fast-slow)*up
	}
	return k, fast - (fast-slow)*down*(1-up)
}

// wet says what is wrong with the rear left wheel, and by how much the tail hangs out
// besides in the middle of the first bend.
type wet struct{ from, to, slip, slide float64 } // m from the gate, 1, rad

// lap of the circuit from 60 m before the gate, which lies in the middle of a straight.
func circuit(rate, seconds float64, float wet) *signal.Recording {
	b := &signal.Base{}
	rec := &signal.Recording{Name: "circuit.csv"}
	roles := []struct {
		role signal.Role
		unit string
	}{
		{signal.Latitude, "rad"}, {signal.Longitude, "rad"}, {signal.Speed, "m/s"}, {signal.YawRate, "rad/s"}, {signal.AccelX, "m/s²"}, {signal.AccelY, "m/s²"},
		{signal.SteeringAngle, "rad"}, {signal.Sideslip, "rad"}, {signal.WheelSpeedFL, "m/s"}, {signal.WheelSpeedFR, "m/s"}, {signal.WheelSpeedRL, "m/s"}, {signal.WheelSpeedRR, "m/s"},
	}
	const h = 0.001
	s, way := straights/2-60, 0.0 // way: the course, from north to the left
	e, n := 0.0, -60.0
	steps := int(math.Round(1 / rate / h))
	out := func(s float64) float64 {
		if q := s - straights - bendLength/2; math.Abs(q) < 30 {
			return float.slide * math.Pow(math.Cos(math.Pi*q/60), 2)
		}
		return 0
	}
	shape := func(s float64) (k, v float64) { // a tail that hangs out takes speed, and so lateral acceleration
		k, v = shape(s)
		return k, v * (1 - 0.8*out(s))
	}
	slipAt := func(s float64) float64 { // at the reference point: that of the rear axle carried forward
		k, v := shape(s)
		return rear*k - soft*v*v*k - out(s)
	}
	var cols [12][]float64
	for i := 0; float64(i)*h <= seconds; i++ {
		k, v := shape(s)
		if i%steps == 0 {
			_, v1 := shape(s - 0.05)
			_, v2 := shape(s + 0.05)
			gain, an := v*(v2-v1)/0.1, v*v*k
			beta := slipAt(s)
			turn := v*k - v*(slipAt(s+0.05)-slipAt(s-0.05))/0.1
			p := at(e, n)
			sb, cb := math.Sincos(beta)
			wheel := v
			if q := s - straights/2; q >= float.from && q <= float.to {
				wheel = v * (1 + float.slip)
			}
			b.T = append(b.T, float64(i)*h)
			for j, x := range []float64{p.Latitude, p.Longitude, v, turn, gain*cb + an*sb, an*cb - gain*sb, geared * (base*k + under*v*v*k), beta, v, v, wheel, v} {
				cols[j] = append(cols[j], x)
			}
		}
		mid, _ := shape(s + v*h/2)
		sin, cos := math.Sincos(way + mid*v*h/2)
		e, n = e-v*h*sin, n+v*h*cos
		way += mid * v * h
		s += v * h
	}
	for j, q := range roles {
		rec.Channels = append(rec.Channels, &signal.Channel{Name: string(q.role), Role: q.role, Unit: q.unit, Base: b, Values: cols[j], Valid: []signal.Span{{From: 0, To: len(b.T)}}})
	}
	return rec
}

// circuitGates are the start gate, and one in the middle of the other straight.
func circuitGates(t testing.TB) *course.Course {
	t.Helper()
	// The far straight lies about two radii to the left, and is driven south.
	c, err := course.New(course.Posts{Right: at(6, 0), Left: at(-6, 0)}, course.Posts{Right: at(-2*tight-60, 0), Left: at(-20, 0)})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

var vehicleKnown = []programme.Setting{{ID: paramRearAxle, Number: rear}, {ID: paramWheelbase, Number: base}, {ID: paramRatio, Number: geared}, {ID: paramPositionSD, Number: 0.02}}

func circuitInput(t testing.TB, rec *signal.Recording, given ...programme.Setting) procedure.Input {
	t.Helper()
	in := input(t, rec, circuitGates(t), 1, rec.Channels[0].Base.T[len(rec.Channels[0].Base.T)-1]-0.5)
	p, err := spec.Settings(append(append([]programme.Setting{}, vehicleKnown...), given...))
	if err != nil {
		t.Fatal(err)
	}
	in.Parameters = p
	return in
}

// On the circuit everything is known from the formulas.
func TestCornersOfACircuit(t *testing.T) {
	dry := circuit(100, 40, wet{})
	out := reduce(t, circuitInput(t, dry))
	want := 0.0
	for s := 0.0; s < round; s += 0.01 {
		_, v := shape(straights/2 + s)
		want += 0.01 / v
	}
	// Greatest mean of v² k over a second, and greatest value, by steps of a millisecond.
	grip, top := 0.0, 0.0
	var last []float64
	sum := 0.0
	for s := 0.0; s < round; {
		k, v := shape(straights/2 + s)
		last = append(last, v*v*k)
		sum += v * v * k
		if n := len(last); n > 1000 {
			sum -= last[n-1001]
		}
		grip, top = math.Max(grip, sum/1000), math.Max(top, v*v*k)
		s += v * 0.001
	}
	_, entry := shape(straights + easing/math.Pi*math.Acos(1-2*tight/120))
	check := func(out procedure.Output, measure, place string, want, tol float64) {
		t.Helper()
		if got := value(t, out, measure, place); !(math.Abs(got-want) <= tol) {
			t.Errorf("%s %s is %v, want %v within %v", measure, place, got, want, tol)
		}
	}
	check(out, "lap_time", "", want, 0.003)
	check(out, "sustained_lateral", "", grip, 0.01*grip)
	for _, place := range []string{"corner 1", "corner 2"} {
		check(out, "corner_entry_speed", place, entry, 0.3)
		check(out, "corner_least_speed", place, slow, 0.05)
		check(out, "corner_peak_lateral", place, top, 0.02*top)
		check(out, "corner_sustained_lateral", place, grip, 0.01*grip)
		// Driven in full between four fifths of the peak and it.
		check(out, "steering_balance", place, under*0.9*top, 0.1*under*top)
		check(out, "yaw_balance", place, base/tight/(base/tight+under*0.9*top), 0.02)
		check(out, "corner_floating_time", place, 0, 0)
	}
	check(out, "floating_time", "", 0, 0)
	// From 0 to full lock and back, twice: the wheel is turned back twice and turned in once more.
	check(out, "steering_corrections", "", 3, 0)
	floated := reduce(t, circuitInput(t, circuit(100, 40, wet{from: 150, to: 165, slip: 0.3})))
	check(floated, "corner_floating_time", "corner 1", 15/slow, 0.05)
	check(floated, "corner_floating_time", "corner 2", 0, 0)
	check(floated, "floating_time", "", 15/slow, 0.05)
	lagging := reduce(t, circuitInput(t, circuit(100, 40, wet{from: 150, to: 165, slip: -0.4})))
	check(lagging, "floating_time", "", 15/slow, 0.05)
	// Without a reference line the corners are those of the lap's own path, and it is said.
	if !out.Caveats.Has("corners_by_lap") {
		t.Error(out.Caveats)
	}
	// A tail that hangs out by 8° takes 11 % of the speed and 21 % of lateral acceleration: what is kept at 4°
	// is near 1 - 0.11, with what the turning tail's own acceleration adds and takes.
	slid := reduce(t, circuitInput(t, circuit(100, 40, wet{slide: 8 * deg})))
	check(slid, "grip_kept", "", 0.89, 0.05)
	// As recorded, without smoothing, the same.
	plain := reduce(t, circuitInput(t, dry, programme.Setting{ID: paramMotion, Word: "as_recorded"}))
	for _, o := range plain.Observations {
		if o.Measure != "gate_offset" && o.Measure != "sideslip_at_peak" && o.Measure != "yaw_balance" {
			check(out, o.Measure, o.Place, o.Value, 0.03*math.Abs(o.Value)+0.003)
		}
	}
}

// What is kept past the peak, for a grip that is known: a parabola up to its peak at 5°,
// and then a straight line that loses 3 % a degree.
func TestGripKeptPastAKnownPeak(t *testing.T) {
	for _, loss := range []float64{0.03, 0.08, 0} {
		grip := func(slip float64) float64 {
			q := slip / (5 * deg)
			if q <= 1 {
				return 8 * (1 - 0.7*(1-q)*(1-q))
			}
			return 8 * (1 - loss*(slip/deg-5))
		}
		for _, side := range []float64{1, -1} {
			w := &moved{slips: true, rearOfNull: rear}
			for i := range 3000 {
				at := float64(i) / 100
				slip := 10 * deg * math.Pow(math.Sin(math.Pi*at/10), 2)
				w.t, w.v, w.ax, w.station = append(w.t, at), append(w.v, 20), append(w.ax, 0), append(w.station, 20*at)
				// Steady: no change of yaw rate, so that the reference point has the rear axle's lateral acceleration.
				w.ay, w.yaw = append(w.ay, side*grip(slip)), append(w.yaw, side*0.3)
				w.sideslip = append(w.sideslip, -side*slip+rear*side*0.3/20)
			}
			r := &run{in: circuitInput(t, circuit(20, 1, wet{})), rec: &signal.Recording{}}
			r.past(w)
			want := 1 - 4*loss
			// Sideslip goes by halves of a degree: at 8 % a degree the peak is known to 2 %.
			if got := value(t, r.out, "grip_kept", ""); math.Abs(got-want) > 0.025 {
				t.Errorf("side %+g, losing %g a degree: keeps %v, want %v", side, loss, got, want)
			}
			if loss > 0 {
				if got := value(t, r.out, "sideslip_at_peak", ""); math.Abs(got-5*deg) > 0.3*deg {
					t.Errorf("peak at %v°", got/deg)
				}
			}
		}
	}
	// A lap that stops short of it says so.
	out := reduce(t, circuitInput(t, circuit(50, 40, wet{})))
	if !out.Caveats.Has("peak_not_passed") {
		t.Error(out.Caveats)
	}
}

func TestReversalsOfTheSteeringWheel(t *testing.T) {
	wave := func(n int, size float64) (x []float64) {
		for i := range 1000 {
			x = append(x, size*math.Sin(2*math.Pi*float64(n)*float64(i)/1000))
		}
		return x
	}
	for _, q := range []struct {
		name string
		x    []float64
		want int
	}{
		{"a wave of three periods turns six times", wave(3, 30*deg), 6},
		{"less than the threshold is none", wave(3, 4*deg), 0},
		{"never moved", make([]float64, 50), 0},
		{"one turn in and out", wave(1, 30*deg)[:500], 1},
		{"nothing", nil, 0},
	} {
		if got := reversals(q.x, 10*deg); got != q.want {
			t.Errorf("%s: %d, want %d", q.name, got, q.want)
		}
	}
	// Noise below the threshold adds none.
	x := wave(3, 30*deg)
	for i := range x {
		x[i] += 2 * deg * math.Sin(float64(i)*1.7)
	}
	if got := reversals(x, 10*deg); got != 6 {
		t.Errorf("with noise: %d", got)
	}
}

// An axle that floats turns the vehicle less than its steering usually does.
func TestFloatingByYawRate(t *testing.T) {
	w := &moved{steers: true, inertial: true}
	for i := range 2000 {
		at := float64(i) / 100
		steer := 0.5 * math.Sin(2*math.Pi*at/10)
		yaw := 0.6 * steer
		if at > 12 && at < 13 {
			yaw *= 0.2
		}
		w.t, w.v, w.ax, w.ay, w.station = append(w.t, at), append(w.v, 20), append(w.ax, 0), append(w.ay, 20*yaw), append(w.station, 20*at)
		w.steer, w.yaw = append(w.steer, steer), append(w.yaw, yaw)
	}
	r := &run{in: circuitInput(t, circuit(20, 1, wet{})), rec: &signal.Recording{}}
	r.floating(w, []corner.Corner{{Number: 1, From: 200, To: 300, Left: true}})
	if got := value(t, r.out, "floating_time", ""); math.Abs(got-1) > 0.03 {
		t.Errorf("%v s, want 1", got)
	}
	if got := value(t, r.out, "corner_floating_time", "corner 1"); math.Abs(got-1) > 0.03 {
		t.Errorf("in the corner %v s, want 1", got)
	}
}

// Two codes, one a twentieth slower and with its tail out: both figures are there, and say
// as much.
func TestTheFiguresOfALap(t *testing.T) {
	var runs, bare []procedure.Overlaid
	for i, f := range []wet{{slide: 8 * deg}, {slide: 9 * deg}, {slide: 8.2 * deg}, {slide: 9.2 * deg}} {
		in := circuitInput(t, circuit(25, 40, f))
		bare = append(bare, procedure.Overlaid{Code: []string{"K", "P"}[i%2], Stint: string(rune('1' + i)), Run: "1", Traces: reduce(t, in).Traces})
		in.Course.Reference = circuitLine(t, in.Course)
		out := reduce(t, in)
		runs = append(runs, procedure.Overlaid{Code: []string{"K", "P"}[i%2], Stint: string(rune('1' + i)), Run: "1", Traces: out.Traces})
	}
	figs, err := New().Overlay(runs)
	if err != nil || len(figs) != 2 {
		t.Fatal(err, figs)
	}
	g, ok := figs[0].(*figure.GainAlongTheLap)
	if !ok || len(g.Corners) != 2 || !g.Corners[0].Left || g.Itself == nil || len(g.Finishes) != 2 {
		t.Errorf("%+v", figs[0])
	}
	for i, x := range []float64{straights/2 + easing/2, straights*1.5 + bendLength + easing/2} {
		if got := g.Corners[i].From; math.Abs(got-x) > 8 {
			t.Errorf("corner %d begins at %v m, near %v", i+1, got, x)
		}
	}
	// Without a reference line the first lap's path stands for it, and says the same.
	plain, err := New().Overlay(bare)
	if err != nil || len(plain) != 2 {
		t.Fatal(err, plain)
	}
	b := plain[0].(*figure.GainAlongTheLap)
	for i := range b.Finishes {
		if math.Abs(b.Finishes[i].Estimate-g.Finishes[i].Estimate) > 0.002 {
			t.Errorf("%s gains %v s by the line, %v by the first lap's path", b.Finishes[i].Code, g.Finishes[i].Estimate, b.Finishes[i].Estimate)
		}
	}
	if !strings.Contains(b.Station.Name, "first lap") {
		t.Errorf("stations are %q", b.Station.Name)
	}
	p, ok := figs[1].(*figure.PastThePeak)
	if !ok || len(p.Curves) != 2 || len(p.Peaks) != 2 {
		t.Errorf("%+v", figs[1])
	}
}

// circuitLine is the circuit's own middle as its reference line.
func circuitLine(t testing.TB, c *course.Course) *course.Line {
	t.Helper()
	var path []course.Point
	e, n, way := 0.0, 0.0, 0.0
	for s := 0.0; s < round; s += 0.05 {
		k, _ := shape(straights/2 + s)
		way += k * 0.05
		e, n = e-0.05*math.Sin(way), n+0.05*math.Cos(way)
		path = append(path, course.Point{East: e, North: n})
	}
	l, err := course.Learn(path, true, 1)
	if err != nil {
		t.Fatal(err)
	}
	return l
}
