package course_test

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
)

func rad(deg float64) float64 { return deg * math.Pi / 180 }

func TestTopocentricExampleOfTheGuidanceNote(t *testing.T) {
	golden.Run(t, "iogp-373-7-2", "topocentric", func(t *testing.T, c *golden.Case) {
		var v struct {
			OriginDeg [2]float64 `json:"origin_deg"`
			OriginH   float64    `json:"origin_height_m"`
			PointDeg  [2]float64 `json:"point_deg"`
			PointH    float64    `json:"point_height_m"`
			ENU       [3]float64 `json:"enu_m"`
		}
		c.JSON(t, "case.json", &v)
		p := course.NewPlane(course.Position{Latitude: rad(v.OriginDeg[0]), Longitude: rad(v.OriginDeg[1]), Height: v.OriginH})
		e, n, u := p.ENU(course.Position{Latitude: rad(v.PointDeg[0]), Longitude: rad(v.PointDeg[1]), Height: v.PointH})
		c.Near(t, "east", e, v.ENU[0])
		c.Near(t, "north", n, v.ENU[1])
		c.Near(t, "up", u, v.ENU[2])
	})
}

// Over the lengths of a proving ground the plane gives the geodesic's length.
func TestShortBaselinesAreThoseOnTheEllipsoid(t *testing.T) {
	golden.Run(t, "pyproj-3.4.1", "short-baselines", func(t *testing.T, c *golden.Case) {
		var in []struct {
			Lat1 float64 `json:"lat1"`
			Lon1 float64 `json:"lon1"`
			Lat2 float64 `json:"lat2"`
			Lon2 float64 `json:"lon2"`
			H    float64 `json:"h"`
		}
		var want []struct {
			Geodesic float64    `json:"geodesic_m"`
			ENU      [3]float64 `json:"enu"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		if len(in) == 0 || len(in) != len(want) {
			t.Fatalf("%d baselines, %d results", len(in), len(want))
		}
		for i, q := range in {
			p := course.NewPlane(course.Position{Latitude: rad(q.Lat1), Longitude: rad(q.Lon1), Height: q.H})
			e, n, u := p.ENU(course.Position{Latitude: rad(q.Lat2), Longitude: rad(q.Lon2), Height: q.H})
			c.Near(t, "east", e, want[i].ENU[0])
			c.Near(t, "north", n, want[i].ENU[1])
			c.Near(t, "up", u, want[i].ENU[2])
			ground := course.NewPlane(course.Position{Latitude: rad(q.Lat1), Longitude: rad(q.Lon1)})
			at := ground.Place(rad(q.Lat2), rad(q.Lon2))
			c.Near(t, "length at height 0", course.Point{}.Distance(at), want[i].Geodesic)
		}
	})
}

func TestAGateIsCrossedOneWayOnceAndWhereTheTrackCrossesIt(t *testing.T) {
	// Driven north: the right post is east of the left one.
	g := course.Gate{Right: course.Point{East: 4}, Left: course.Point{East: -4}}
	part, offset, ok := g.Crossing(course.Point{East: 1, North: -1}, course.Point{East: 1, North: 3})
	if !ok || part != 0.25 || offset != -1 {
		t.Errorf("part %v, offset %v, %v", part, offset, ok)
	}
	if _, _, ok := g.Crossing(course.Point{East: 1, North: 3}, course.Point{East: 1, North: -1}); ok {
		t.Error("crossing the other way counted")
	}
	if _, _, ok := g.Crossing(course.Point{East: 9, North: -1}, course.Point{East: 9, North: 3}); ok {
		t.Error("passing beside the posts counted")
	}
	_, _, into := g.Crossing(course.Point{North: -1}, course.Point{})
	_, _, out := g.Crossing(course.Point{}, course.Point{North: 1})
	if !into || out {
		t.Errorf("a sample on the gate: into %v, out %v, want it counted once", into, out)
	}
}

func TestATrackTellsHowNearAGateItCame(t *testing.T) {
	g := course.Gate{Right: course.Point{East: 4}, Left: course.Point{East: -4}}
	straight := func(east float64) course.Track {
		var tr course.Track
		for i := range 11 {
			tr.T = append(tr.T, float64(i))
			tr.At = append(tr.At, course.Point{East: east, North: float64(i) - 5.5})
		}
		return tr
	}
	if m, at := straight(7).Nearest(g); math.Abs(m-3) > 1e-12 || math.Abs(at-5.5) > 1e-12 {
		t.Errorf("3 m beside the right post at 5.5 s: %v m at %v s", m, at)
	}
	got := straight(-2).Crossings(g)
	if len(got) != 1 || got[0].Offset != 2 || got[0].T != 5.5 || got[0].Speed != 1 {
		t.Errorf("crossing 2 m left at 5.5 s at 1 m/s: %+v", got)
	}
	if m, _ := straight(-2).Nearest(g); m != 0 {
		t.Errorf("a track through the gate stays %v m away", m)
	}
	if b := straight(1).Between(2.25, 4.5); math.Abs(b.Length()-2.25) > 1e-12 || b.T[0] != 2.25 || len(b.T) != 4 {
		t.Errorf("part of the track: %+v", b)
	}
	if b := straight(1).Between(20, 30); len(b.T) != 0 {
		t.Errorf("outside the track: %+v", b)
	}
}

func TestGatesAreReadAsTyped(t *testing.T) {
	p, err := course.ParseGate("52.0001, -1.0002,52.0002,-1.0002")
	if err != nil || math.Abs(p.Right.Latitude-rad(52.0001)) > 1e-15 || math.Abs(p.Left.Longitude-rad(-1.0002)) > 1e-15 {
		t.Fatalf("%+v, %v", p, err)
	}
	for text, says := range map[string]string{
		"52,1,52":                             "3 numbers instead of 4",
		"52,1,52,":                            `"" is no number`,
		"52,1,nan,1":                          "is no number",
		"152,1,52,1":                          "outside ±90",
		"52,181,52,1":                         "outside ±180",
		"52.0001,-1.0002,52.0001,-1.0002":     "same place",
		"-1.0002,52.0001,52.0002,-1.0002":     "apart",
		"52,0001,-1,0002,52,0002,-1,00020001": "8 numbers",
	} {
		if _, err := course.ParseGate(text); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), says) || fault.HintOf(err) == "" {
			t.Errorf("%q: %v (hint %q), want it to say %q", text, err, fault.HintOf(err), says)
		}
	}
}

func gates(t *testing.T, texts ...string) []course.Posts {
	t.Helper()
	var out []course.Posts
	for _, text := range texts {
		p, err := course.ParseGate(text)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	return out
}

func TestACourseIsItsHashAndComesBackFromItsJSON(t *testing.T) {
	g := gates(t, "52.0001,-1.0002,52.0002,-1.0002", "52.0011,-1.0002,52.0012,-1.0002")
	c, err := course.New(g...)
	if err != nil {
		t.Fatal(err)
	}
	c.Reference, err = course.Learn(circle(80, 0), true, 2)
	if err != nil {
		t.Fatal(err)
	}
	b, err := c.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	d, err := course.Parse(b)
	if err != nil {
		t.Fatal(err)
	}
	h1, err1 := c.Hash()
	h2, err2 := d.Hash()
	if err1 != nil || err2 != nil || h1 != h2 || len(h1) != 64 {
		t.Errorf("%v %v: %s became %s", err1, err2, h1, h2)
	}
	other, err := course.New(g[1], g[0])
	if err != nil {
		t.Fatal(err)
	}
	if h3, _ := other.Hash(); h3 == h1 {
		t.Error("gates in another order are the same course")
	}
	mid := c.Gates()[0].Middle()
	if math.Hypot(mid.East, mid.North) > 1e-3 {
		t.Errorf("the first gate's middle is %v, not the origin", mid)
	}
	for _, bad := range []string{"", "{}x", `{"origin":{"latitude_rad":9,"longitude_rad":0}}`, `{"colour":1}`,
		`{"origin":{"latitude_rad":0,"longitude_rad":0},"reference":{"closed":true,"step_m":0,"points":[]}}`} {
		if _, err := course.Parse([]byte(bad)); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if _, err := course.New(); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no gate: %v", err)
	}
}

// circle is a lap of radius r m about (0, r), driven to the left from the origin
// to the east; it ends the given distance in m outside of where it began.
func circle(r, outside float64) []course.Point {
	var out []course.Point
	const n = 2000
	for i := range n + 1 {
		a := 2 * math.Pi * float64(i) / n
		q := r + outside*float64(i)/n
		out = append(out, course.Point{East: q * math.Sin(a), North: r - q*math.Cos(a)})
	}
	return out
}

// On a circle station, offset and curvature are known in closed form.
func TestStationOffsetAndCurvatureOnACircle(t *testing.T) {
	const r = 80.0
	l, err := course.Learn(circle(r, 0), true, 1)
	if err != nil {
		t.Fatal(err)
	}
	if got := l.Length(); math.Abs(got-2*math.Pi*r) > 2e-3 {
		t.Errorf("length %v, want %v", got, 2*math.Pi*r)
	}
	for _, a := range []float64{0.001, 0.5, 1.7, 3.1, 6.28} {
		for _, left := range []float64{-5, 0, 3} {
			q := r - left // left of the way is toward the centre
			p := course.Point{East: q * math.Sin(a), North: r - q*math.Cos(a)}
			s, off := l.Locate(p)
			// The line is straight between points 1 m apart, so that its direction is
			// up to half a step over the radius off, and the station by that times the offset.
			if math.Abs(s-r*a) > 0.005+math.Abs(left)*0.5/r || math.Abs(off-left) > 0.002 {
				t.Errorf("at %v rad, %v m left: station %v (want %v), offset %v", a, left, s, r*a, off)
			}
		}
	}
	for i, k := range l.Curvature(10) {
		if math.Abs(k-1/r) > 1e-4 {
			t.Fatalf("curvature at point %d is %v, want %v", i, k, 1/r)
		}
	}
	p, heading := l.At(math.Pi * r / 2)
	if p.Distance(course.Point{East: r, North: r}) > 0.01 || math.Abs(heading-math.Pi/2) > 0.01 {
		t.Errorf("a quarter round: %v, heading %v", p, heading)
	}
}

// The mirrored line has mirrored offsets and curvature.
func TestAMirroredLineMirrorsOffsetAndCurvature(t *testing.T) {
	mirror := func(ps []course.Point) []course.Point {
		out := make([]course.Point, len(ps))
		for i, p := range ps {
			out[i] = course.Point{East: -p.East, North: p.North}
		}
		return out
	}
	path := circle(60, 2)
	a, err := course.Learn(path, true, 1)
	if err != nil {
		t.Fatal(err)
	}
	b, err := course.Learn(mirror(path), true, 1)
	if err != nil {
		t.Fatal(err)
	}
	sa, oa := a.Follow(path)
	sb, ob := b.Follow(mirror(path))
	for i := range path {
		if math.Abs(sa[i]-sb[i]) > 1e-9 || math.Abs(oa[i]+ob[i]) > 1e-9 {
			t.Fatalf("point %d: station %v and %v, offset %v and %v", i, sa[i], sb[i], oa[i], ob[i])
		}
	}
	ka, kb := a.Curvature(8), b.Curvature(8)
	for i := range ka {
		if math.Abs(ka[i]+kb[i]) > 1e-9 {
			t.Fatalf("curvature %d: %v and %v", i, ka[i], kb[i])
		}
	}
}

func TestALapThatEndsBesideItsStartIsClosedAndOneThatDoesNotEndThereIsRefused(t *testing.T) {
	l, err := course.Learn(circle(80, 3), true, 1)
	if err != nil {
		t.Fatal(err)
	}
	n := len(l.Points)
	if d := l.Points[n-1].Distance(l.Points[0]); math.Abs(d-l.Step) > 0.05 {
		t.Errorf("the last step is %v m, the others %v", d, l.Step)
	}
	half := circle(80, 0)[:1200]
	if _, err := course.Learn(half, true, 1); fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
		t.Errorf("half a lap closed: %v", err)
	}
	open, err := course.Learn(half, false, 1)
	if err != nil {
		t.Fatal(err)
	}
	if want := 2 * math.Pi * 80 * 1199 / 2000; math.Abs(open.Length()-want) > 0.05 {
		t.Errorf("open line %v m, want %v", open.Length(), want)
	}
	for _, bad := range [][]course.Point{nil, {{}}, {{}, {East: 1}}, {{}, {East: math.NaN()}, {East: 40}}} {
		if _, err := course.Learn(bad, false, 1); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", bad, err)
		}
	}
	if _, err := course.Learn(half, false, 0); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("step 0: %v", err)
	}
}

// A line that crosses itself is followed as driven: at the crossing of a figure
// of eight the station goes on instead of jumping to the other branch.
func TestAFigureOfEightIsFollowedThroughItsCrossing(t *testing.T) {
	var path []course.Point
	for i := range 4001 {
		a := 2 * math.Pi * (float64(i)/4000 + 0.1)
		path = append(path, course.Point{East: 100 * math.Sin(a), North: 50 * math.Sin(2*a)})
	}
	l, err := course.Learn(path, true, 1)
	if err != nil {
		t.Fatal(err)
	}
	s, off := l.Follow(path)
	s = l.Unwrap(s)
	for i := 1; i < len(s); i++ {
		if s[i] < s[i-1]-0.01 || s[i] > s[i-1]+1 {
			t.Fatalf("station goes from %v to %v at point %d", s[i-1], s[i], i)
		}
		if math.Abs(off[i]) > 0.05 {
			t.Fatalf("offset %v at point %d", off[i], i)
		}
	}
	if math.Abs(s[len(s)-1]-l.Length()) > 0.1 {
		t.Errorf("round once is station %v of %v", s[len(s)-1], l.Length())
	}
}

func TestValuesByStation(t *testing.T) {
	out, ok := course.ByStation([]float64{0, 10, 9, 20}, []float64{0, 100, 0, 300}, []float64{-1, 0, 5, 15, 20, 21})
	want := []float64{0, 0, 50, 200, 300, 0}
	inside := []bool{false, true, true, true, true, false}
	for i := range want {
		if out[i] != want[i] || ok[i] != inside[i] {
			t.Errorf("grid %d: %v %v, want %v %v", i, out[i], ok[i], want[i], inside[i])
		}
	}
}

func BenchmarkTrack(b *testing.B) {
	p := course.NewPlane(course.Position{Latitude: 0.9, Longitude: -0.02})
	n := 20000
	t, lat, lon := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range t {
		t[i], lat[i], lon[i] = float64(i)/20, 0.9+1e-7*float64(i%500), -0.02+1e-7*float64(i%300)
	}
	for b.Loop() {
		p.Track(t, lat, lon)
	}
}

func BenchmarkFollow(b *testing.B) {
	path := circle(250, 0)
	l, err := course.Learn(path, true, 1)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		l.Follow(path)
	}
}
