package match

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

var (
	lapSpec  = programme.Spec{ID: "lap", Cut: programme.CutByGate}
	passSpec = programme.Spec{ID: "slalom", Cut: programme.CutByPass}
	stopSpec = programme.Spec{ID: "braking", Cut: programme.CutByStop}
)

const (
	lat0 = 0.9 // rad
	lon0 = -0.02
)

// Radii of curvature of the ellipsoid at lat0 in m, north and east, to lay out a
// test ground by other means than the plane's.
var (
	w2    = 1 - 0.0066943799901413*math.Pow(math.Sin(lat0), 2)
	north = 6378137 * (1 - 0.0066943799901413) / math.Pow(w2, 1.5)
	east  = 6378137 / math.Sqrt(w2)
)

// at gives the position of a place in metres east and north on the test ground.
func at(e, n float64) course.Position {
	return course.Position{Latitude: lat0 + n/north, Longitude: lon0 + e/(east*math.Cos(lat0))}
}

func ground(t *testing.T, gates ...[4]float64) *course.Course {
	t.Helper()
	var posts []course.Posts
	for _, g := range gates {
		posts = append(posts, course.Posts{Right: at(g[0], g[1]), Left: at(g[2], g[3])})
	}
	c, err := course.New(posts...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// loops is a vehicle on a circle of radius 50 m about (-50, 0), driven to the left
// through (0, 0) heading north, at 10 samples a second; speed by time is given.
// It begins a quarter before the gate.
func loops(speed func(t float64) float64, seconds float64) *signal.Recording {
	n := int(seconds*10) + 1
	b := &signal.Base{T: make([]float64, n)}
	lat, lon, v := make([]float64, n), make([]float64, n), make([]float64, n)
	s := -50 * math.Pi / 2
	for i := range n {
		t := float64(i) / 10
		b.T[i] = t
		v[i] = speed(t)
		p := at(-50+50*math.Cos(s/50), 50*math.Sin(s/50))
		lat[i], lon[i] = p.Latitude, p.Longitude
		s += speed(t+0.05) * 0.1
	}
	all := []signal.Span{{From: 0, To: n}}
	return &signal.Recording{Name: "loops.csv", Channels: []*signal.Channel{
		{Name: "lat", Role: signal.Latitude, Unit: "rad", Base: b, Values: lat, Valid: all},
		{Name: "lon", Role: signal.Longitude, Unit: "rad", Base: b, Values: lon, Valid: all},
		{Name: "v", Role: signal.Speed, Unit: "m/s", Base: b, Values: v, Valid: all},
	}}
}

func steady(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// start is a gate at the origin, driven north: right post east.
var start = [4]float64{6, 0, -6, 0}

func TestLapsAreCutBetweenCrossingsWithOutLapAndInLap(t *testing.T) {
	lap := 2 * math.Pi * 50 / 20
	pieces, doubt, err := Cut(loops(steady(20), lap*3.5), ground(t, start), lapSpec, nil)
	if err != nil || len(doubt) != 0 {
		t.Fatal(err, doubt)
	}
	var kinds []string
	for _, p := range pieces {
		kinds = append(kinds, string(p.Kind))
		if p.Kind == Timed && (math.Abs(p.ToS-p.FromS-lap) > 1e-3 || math.Abs(p.LengthM-2*math.Pi*50) > 0.1 || !p.Counts()) {
			t.Errorf("lap %+v, want %v s", p, lap)
		}
	}
	if got := strings.Join(kinds, " "); got != "out_lap timed timed timed in_lap" {
		t.Errorf("pieces: %s", got)
	}
	if pieces[1].Number != 1 || pieces[3].Number != 3 || pieces[0].Number != 0 {
		t.Errorf("numbers: %+v", pieces)
	}
}

func TestAStandingLapAndALongLapAreFlaggedWithTheReason(t *testing.T) {
	stop := func(t float64) float64 {
		if t > 25 && t < 29 {
			return 0
		}
		return 20
	}
	pieces, _, err := Cut(loops(stop, 100), ground(t, start), lapSpec, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pieces {
		if want := p.Number == 2; p.Flags.Has(FlagStanding) != want {
			t.Errorf("lap %d: %v", p.Number, p.Flags)
		}
		if p.Number == 2 && (p.Counts() || !strings.Contains(p.Flags[0].Text, "stood for 3.8 s") || p.Flags[0].Place.File != "loops.csv") {
			t.Errorf("%+v", p.Flags)
		}
	}
	// Standing for less than the set time is driving.
	pieces, _, err = Cut(loops(stop, 100), ground(t, start), lapSpec, programme.Parameters{{ID: ParamStandingTime, Number: 5}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pieces {
		if p.Flags.Has(FlagStanding) {
			t.Errorf("lap %d: %v", p.Number, p.Flags)
		}
	}
	odd := []Piece{{Kind: Timed, LengthM: 100}, {Kind: Timed, LengthM: 101}, {Kind: Timed, LengthM: 110}, {Kind: OutLap, LengthM: 3}}
	flagLengths(odd, 0.05)
	if odd[0].Flags != nil || odd[1].Flags != nil || !odd[2].Flags.Has(FlagLength) || odd[3].Flags != nil {
		t.Errorf("%+v", odd)
	}
	two := []Piece{{Kind: Timed, LengthM: 100}, {Kind: Timed, LengthM: 200}}
	flagLengths(two, 0.05)
	if two[0].Flags != nil || two[1].Flags != nil {
		t.Error("two lengths judged each other")
	}
}

func TestTheFirstTimedLapIsLeftOutByRuleOnly(t *testing.T) {
	for word, want := range map[string]bool{"keep": false, LeaveOut: true} {
		pieces, _, err := Cut(loops(steady(20), 60), ground(t, start), lapSpec, programme.Parameters{{ID: ParamFirstLap, Word: word}})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range pieces {
			if p.Flags.Has(FlagFirst) != (want && p.Number == 1) {
				t.Errorf("%s: lap %d: %v", word, p.Number, p.Flags)
			}
		}
	}
}

func TestAGateThatIsNeverCrossedSaysHowNearItWasAndWhichWay(t *testing.T) {
	rec := loops(steady(20), 60)
	for _, q := range []struct {
		gate [4]float64
		hint string
	}{
		{[4]float64{40, 0, 30, 0}, "within 30.0 m"},
		{[4]float64{-6, 0, 6, 0}, "the other way"},
		{[4]float64{5000, 0, 4990, 0}, "within 5.0 km"},
	} {
		_, _, err := Cut(rec, ground(t, q.gate), lapSpec, nil)
		if fault.CodeOf(err) != fault.Invalid || !strings.Contains(fault.HintOf(err), q.hint) || !strings.Contains(err.Error(), "loops.csv") {
			t.Errorf("%v: %v; hint %q, want %q", q.gate, err, fault.HintOf(err), q.hint)
		}
	}
	_, _, err := Cut(rec, nil, lapSpec, nil)
	if fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
		t.Errorf("no course: %v", err)
	}
	_, _, err = Cut(&signal.Recording{Name: "x"}, ground(t, start), lapSpec, nil)
	if fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
		t.Errorf("no positions: %v", err)
	}
}

func TestAReceiverThatStandsOnTheLineCrossesItOnce(t *testing.T) {
	rec := loops(steady(20), 40)
	lat := rec.ByRole(signal.Latitude)
	k := 0
	for i, tt := range lat.Base.T {
		if tt > 20 && tt < 24 { // about the second crossing: to and fro by 0.3 m
			p := at(0, 0.3*math.Pow(-1, float64(k)))
			k++
			lat.Values[i], rec.ByRole(signal.Longitude).Values[i] = p.Latitude, p.Longitude
		}
	}
	pieces, doubt, err := Cut(rec, ground(t, start), lapSpec, nil)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range pieces {
		if p.Kind == Timed {
			n++
		}
	}
	if n != 2 || !doubt.Has("gate_crossed_again") {
		t.Errorf("%d laps, %v", n, doubt)
	}
}

func TestAGapIsNotCrossedAndIsFlagged(t *testing.T) {
	rec := loops(steady(20), 60)
	n := rec.Channels[0].Len()
	rec.Channels[0].Valid = []signal.Span{{From: 0, To: 150}, {From: 160, To: n}}
	pieces, _, err := Cut(rec, ground(t, start), lapSpec, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pieces {
		if want := p.FromS < 14.9 && p.ToS > 15.9; p.Flags.Has(FlagGap) != want {
			t.Errorf("%+v", p)
		}
	}
}

func TestWithoutASpeedChannelStandingIsJudgedByPositions(t *testing.T) {
	rec := loops(func(t float64) float64 {
		if t > 25 && t < 29 {
			return 0
		}
		return 20
	}, 100)
	rec.Channels = rec.Channels[:2]
	pieces, doubt, err := Cut(rec, ground(t, start), lapSpec, nil)
	if err != nil || !doubt.Has("no_speed") {
		t.Fatal(err, doubt)
	}
	for _, p := range pieces {
		if p.Flags.Has(FlagStanding) != (p.Number == 2) {
			t.Errorf("lap %d: %v", p.Number, p.Flags)
		}
	}
}

func TestPassesRunFromTheFirstGateToTheLast(t *testing.T) {
	// The second gate is a quarter round, where the circle heads west.
	c := ground(t, start, [4]float64{-50, 56, -50, 44})
	pieces, _, err := Cut(loops(steady(20), 60), c, passSpec, nil)
	if err != nil || len(pieces) != 4 {
		t.Fatal(err, pieces)
	}
	for _, p := range pieces {
		if math.Abs(p.ToS-p.FromS-50*math.Pi/2/20) > 2e-3 {
			t.Errorf("%+v", p)
		}
	}
	if _, _, err := Cut(loops(steady(20), 60), ground(t, start), passSpec, nil); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("one gate: %v", err)
	}
	_, _, err = Cut(loops(steady(20), 60), ground(t, start, [4]float64{-50, 44, -50, 56}), passSpec, nil)
	if !strings.Contains(fault.HintOf(err), "the other way") {
		t.Errorf("last gate the wrong way: %v, %s", err, fault.HintOf(err))
	}
}

// stops is a vehicle that drives off to v m/s and brakes at 8 m/s², for each v.
func stops(vs ...float64) *signal.Recording {
	var t, v []float64
	now, speed := 0.0, 0.0
	add := func(a, until float64) {
		for (until-speed)*a > 0 {
			now += 0.01
			speed += a * 0.01
			t, v = append(t, now), append(v, math.Max(0, speed))
		}
		speed = math.Max(0, until)
	}
	hold := func(s float64) {
		for range int(s * 100) {
			now += 0.01
			t, v = append(t, now), append(v, speed)
		}
	}
	hold(2)
	for _, top := range vs {
		add(3, top)
		hold(1)
		add(-8, 0)
		hold(4)
	}
	return &signal.Recording{Name: "stops.csv", Channels: []*signal.Channel{
		{Name: "v", Role: signal.Speed, Unit: "m/s", Base: &signal.Base{T: t}, Values: v, Valid: []signal.Span{{From: 0, To: len(v)}}},
	}}
}

func TestStopsAreFoundBySpeed(t *testing.T) {
	rec := stops(25, 3, 24, 15)
	pieces, _, err := Cut(rec, nil, stopSpec, programme.Parameters{{ID: ParamWindow, Word: "to_rest"}})
	if err != nil || len(pieces) != 3 {
		t.Fatalf("%v, %+v", err, pieces)
	}
	speed := rec.ByRole(signal.Speed)
	for i, p := range pieces {
		top := 0.0
		for _, s := range speed.Stretches(p.FromS, p.ToS) {
			for _, v := range s.V {
				top = math.Max(top, v)
			}
		}
		if want := []float64{25, 24, 15}[i]; math.Abs(top-want) > 0.1 || p.Number != i+1 {
			t.Errorf("stop %d tops at %v m/s, want %v", i+1, top, want)
		}
		if i > 0 && p.FromS < pieces[i-1].ToS {
			t.Errorf("stops %d and %d overlap", i, i+1)
		}
		if end, _ := speed.At(p.ToS); end != 0 {
			t.Errorf("stop %d ends at %v m/s", i+1, end)
		}
	}
	// Between 80 and 20 km/h only the two that came to 76 km/h are tries.
	pieces, _, err = Cut(rec, nil, stopSpec, programme.Parameters{
		{ID: ParamWindow, Word: WindowSpeeds}, {ID: ParamFromSpeed, Number: 80 / 3.6}, {ID: ParamToSpeed, Number: 20 / 3.6}})
	if err != nil || len(pieces) != 2 {
		t.Errorf("%v, %+v", err, pieces)
	}
	_, _, err = Cut(stops(3), nil, stopSpec, nil)
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(fault.HintOf(err), "10.9 km/h") {
		t.Errorf("no stop: %v, %s", err, fault.HintOf(err))
	}
	if _, _, err = Cut(&signal.Recording{}, nil, stopSpec, nil); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no speed: %v", err)
	}
}

func TestAWholeRecordingIsOnePiece(t *testing.T) {
	pieces, _, err := Cut(loops(steady(20), 60), nil, programme.Spec{Cut: programme.CutWhole}, nil)
	if err != nil || len(pieces) != 1 || pieces[0].FromS != 0 || pieces[0].ToS != 60 || !pieces[0].Counts() {
		t.Errorf("%v, %+v", err, pieces)
	}
	if _, _, err := Cut(&signal.Recording{}, nil, programme.Spec{Cut: programme.CutWhole}, nil); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("empty: %v", err)
	}
	if _, _, err := Cut(&signal.Recording{}, nil, programme.Spec{Cut: "by_moon"}, nil); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("unknown cut: %v", err)
	}
}

func TestRunsAreGivenOutByOrderOrNotAtAll(t *testing.T) {
	pieces := []Piece{{FromS: 0, Kind: OutLap}, {FromS: 9, Kind: Timed, Number: 2}, {FromS: 5, Kind: Timed, Number: 1, Flags: caveat.List{{Code: FlagStanding}}}}
	owned, err := ByOrder(pieces, []programme.Run{{ID: "a"}, {ID: "b"}})
	if err != nil || len(owned) != 2 || owned[0].Run.ID != "a" || owned[0].Piece.Number != 1 || owned[1].Piece.Number != 2 {
		t.Errorf("%v, %+v", err, owned)
	}
	if _, err := ByOrder(pieces, []programme.Run{{ID: "a"}}); fault.CodeOf(err) != fault.Conflict || fault.HintOf(err) == "" {
		t.Errorf("too few runs: %v", err)
	}
}
