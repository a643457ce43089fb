package braking

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

func settings(t testing.TB, given ...programme.Setting) programme.Parameters {
	t.Helper()
	p, err := spec.Settings(given)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// reduce reduces a whole recording as one run.
func reduce(t testing.TB, rec *signal.Recording, given ...programme.Setting) procedure.Output {
	t.Helper()
	out, err := New().Reduce(whole(t, rec, given...))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func whole(t testing.TB, rec *signal.Recording, given ...programme.Setting) procedure.Input {
	t.Helper()
	base := rec.Channels[0].Base.T
	return procedure.Input{Run: "r1", Recordings: []*signal.Recording{rec}, FromS: base[0], ToS: base[len(base)-1], Parameters: settings(t, given...)}
}

func value(t testing.TB, out procedure.Output, measure string) float64 {
	t.Helper()
	for _, o := range out.Observations {
		if o.Measure == measure {
			return o.Value
		}
	}
	t.Fatalf("no %s; caveats: %v", measure, out.Caveats)
	return 0
}

func has(out procedure.Output, measure string) bool {
	for _, o := range out.Observations {
		if o.Measure == measure {
			return true
		}
	}
	return false
}

// meridian is the radius of curvature of the meridian of WGS 84 at 0.9 rad, in m.
var meridian = 6378137 * (1 - 0.0066943799901413) / math.Pow(1-0.0066943799901413*math.Pow(math.Sin(0.9), 2), 1.5)

// ramp is a stop from v m/s: a second of steady speed, then a deceleration that
// rises evenly to d m/s² within r s and stays until rest; then half a second of
// standing. It is driven due north on the ellipsoid. The brake switch closes at
// the onset, which lies between two samples.
func ramp(v, d, r, rate float64) *signal.Recording {
	const onset = 1.0
	speed := func(t float64) float64 {
		switch t -= onset; {
		case t <= 0:
			return v
		case t <= r:
			return v - d*t*t/(2*r)
		default:
			return math.Max(0, v-d*r/2-d*(t-r))
		}
	}
	driven := func(t float64) float64 {
		switch t -= onset; {
		case t <= 0:
			return v * (t + onset)
		case t <= r:
			return v*(t+onset) - d*t*t*t/(6*r)
		default:
			t = math.Min(t-r, (v-d*r/2)/d)
			return v*(onset+r) - d*r*r/6 + (v-d*r/2)*t - d*t*t/2
		}
	}
	end := onset + r + v/d + 0.5
	n := int(end * rate)
	b := &signal.Base{T: make([]float64, n)}
	sp, br, lat, lon := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		t := (float64(i) + 0.5) / rate
		b.T[i], sp[i] = t, speed(t)
		if t > onset {
			br[i] = 1
		}
		lat[i], lon[i] = 0.9+driven(t)/meridian, 0.1
	}
	all := []signal.Span{{From: 0, To: n}}
	return &signal.Recording{Name: "ramp.csv", Channels: []*signal.Channel{
		{Name: "speed", Role: signal.Speed, Unit: "m/s", Base: b, Values: sp, Valid: all},
		{Name: "brake", Role: signal.Brake, Unit: "1", Base: b, Values: br, Valid: all},
		{Name: "lat", Role: signal.Latitude, Unit: "rad", Base: b, Values: lat, Valid: all},
		{Name: "lon", Role: signal.Longitude, Unit: "rad", Base: b, Values: lon, Valid: all},
	}}
}

// withWheels adds wheels that roll free to the onset and slip by a share after it;
// they turn by scale units a metre.
func withWheels(rec *signal.Recording, scale float64, unit string, slips ...float64) *signal.Recording {
	v := rec.ByRole(signal.Speed)
	for k, slip := range slips {
		w := make([]float64, v.Len())
		for i := range w {
			w[i] = scale * v.Values[i]
			if v.Base.T[i] > 1 {
				w[i] *= 1 - slip
			}
		}
		rec.Channels = append(rec.Channels, &signal.Channel{Name: wheelPlaces[k].place, Role: wheelPlaces[k].role, Unit: unit, Base: v.Base, Values: w, Valid: v.Valid})
	}
	return rec
}

func TestFormulas(t *testing.T) {
	golden.Run(t, "un-r13h", "mfdd", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			V1     float64 `json:"v1_kmh"`
			Length float64 `json:"length_m"`
			Want   float64 `json:"mfdd_mps2"`
		}
		c.JSON(t, "case.json", &rows)
		for _, r := range rows {
			got, err := MFDD(0.8*r.V1/3.6, 0.1*r.V1/3.6, 5, 5+r.Length)
			if err != nil {
				t.Fatal(err)
			}
			c.Near(t, "mean fully developed deceleration", got, r.Want)
		}
	})
	golden.Run(t, "iso-21994", "square-of-speed", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			D    float64 `json:"distance_m"`
			From float64 `json:"from_kmh"`
			To   float64 `json:"to_kmh"`
			N1   float64 `json:"nominal_from_kmh"`
			N2   float64 `json:"nominal_to_kmh"`
			Want float64 `json:"corrected_m"`
		}
		c.JSON(t, "case.json", &rows)
		for _, r := range rows {
			got, err := CorrectDistance(r.D, r.From*kmh, r.To*kmh, r.N1*kmh, r.N2*kmh)
			if err != nil {
				t.Fatal(err)
			}
			c.Near(t, "corrected distance", got, r.Want)
		}
	})
	golden.Run(t, "unece-r117", "average-deceleration", func(t *testing.T, c *golden.Case) {
		var v struct {
			Numerators []struct {
				From  float64 `json:"from_kmh"`
				To    float64 `json:"to_kmh"`
				Value float64 `json:"value"`
			} `json:"numerators"`
			Distances []float64 `json:"distances_m"`
			Mean      float64   `json:"mean_of_decelerations"`
			OfMean    float64   `json:"deceleration_of_mean"`
		}
		c.JSON(t, "case.json", &v)
		for _, n := range v.Numerators {
			got, err := AverageDeceleration(n.From*kmh, n.To*kmh, 1)
			if err != nil || math.Abs(got-n.Value) > 5e-5 {
				t.Errorf("%g to %g km/h: %v (%v), want %v", n.From, n.To, got, err, n.Value)
			}
		}
		ad, d := 0.0, 0.0
		for _, x := range v.Distances {
			a, err := AverageDeceleration(80*kmh, 20*kmh, x)
			if err != nil {
				t.Fatal(err)
			}
			ad += a / float64(len(v.Distances))
			d += x / float64(len(v.Distances))
		}
		c.Near(t, "mean of decelerations", ad, v.Mean)
		of, _ := AverageDeceleration(80*kmh, 20*kmh, d)
		c.Near(t, "deceleration of the mean distance", of, v.OfMean)
	})
	golden.Run(t, "unece-r117-02", "force-coefficient", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			Distances []float64 `json:"distances_m"`
			AD        float64   `json:"ad"`
			BFC       float64   `json:"bfc"`
		}
		c.JSON(t, "case.json", &rows)
		for _, r := range rows {
			ad := 0.0
			for _, x := range r.Distances {
				a, err := AverageDeceleration(80*kmh, 20*kmh, x)
				if err != nil {
					t.Fatal(err)
				}
				ad += a / float64(len(r.Distances))
			}
			c.Near(t, "AD", ad, r.AD)
			c.Near(t, "BFC", ForceCoefficient(ad), r.BFC)
		}
	})
	golden.Run(t, "common-practice", "gradient", func(t *testing.T, c *golden.Case) {
		var v struct {
			Slope  float64 `json:"slope"`
			Change float64 `json:"change_mps2"`
		}
		c.JSON(t, "case.json", &v)
		c.Near(t, "change of deceleration", v.Slope*Gravity, v.Change)
	})
	for _, bad := range [][4]float64{{1, 2, 0, 1}, {2, 1, 1, 1}, {2, -1, 0, 1}, {math.NaN(), 1, 0, 1}} {
		if _, err := MFDD(bad[0], bad[1], bad[2], bad[3]); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", bad, err)
		}
	}
	if _, err := CorrectDistance(30, 1, 1, 2, 1); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no speed lost: %v", err)
	}
	if _, err := AverageDeceleration(2, 1, 0); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no distance: %v", err)
	}
}

func TestAStopThatIsKnownInClosedForm(t *testing.T) {
	golden.Run(t, "closed-forms", "ramp-stop", func(t *testing.T, c *golden.Case) {
		var v struct {
			From      float64 `json:"from_kmh"`
			Dec       float64 `json:"deceleration_mps2"`
			Ramp      float64 `json:"ramp_s"`
			Distance  float64 `json:"distance_m"`
			Corrected float64 `json:"corrected_to_100_kmh_m"`
			D8020     float64 `json:"distance_80_20_m"`
			T8020     float64 `json:"time_80_20_s"`
			MFDD      float64 `json:"mfdd_mps2"`
		}
		c.JSON(t, "case.json", &v)
		rec := ramp(v.From*kmh, v.Dec, v.Ramp, 1000)
		rest := programme.Setting{ID: "rest_speed", Number: 1e-4} // the closed form goes to rest itself
		out := reduce(t, rec, rest, programme.Setting{ID: "window", Word: windowRest}, programme.Setting{ID: "entry_speed", Number: 100 * kmh})
		c.Near(t, "distance to rest", value(t, out, "braking_distance"), v.Distance)
		c.Near(t, "stopping distance", value(t, out, "stopping_distance"), v.Distance)
		c.Near(t, "corrected to 100 km/h", value(t, out, "corrected_distance"), v.Corrected)
		c.Near(t, "distance by position", value(t, out, "distance_by_position"), v.Distance)
		c.Near(t, "mean fully developed deceleration", value(t, out, "mfdd"), v.MFDD)
		c.Near(t, "entry speed", value(t, out, "entry_speed"), v.From*kmh)
		out = reduce(t, rec)
		c.Near(t, "80 to 20 km/h", value(t, out, "braking_distance"), v.D8020)
		c.Near(t, "time from 80 to 20 km/h", value(t, out, "braking_time"), v.T8020)
		c.Near(t, "average deceleration", value(t, out, "average_deceleration"), v.Dec)
		out = reduce(t, rec, programme.Setting{ID: "window", Word: windowShare})
		want := (0.64 - 0.01) * math.Pow(v.From*kmh, 2) / (2 * v.Dec)
		c.Near(t, "0.8 to 0.1 of the speed at the onset", value(t, out, "braking_distance"), want)
	})
}

// Sampling at 50, 100 and 500 Hz moves an interpolated distance by less than
// 0.02 m (the nearest sample would move it by up to 0.44 m).
func TestSamplingHardlyMovesTheDistance(t *testing.T) {
	var got []float64
	for _, rate := range []float64{50, 100, 500} {
		for _, given := range [][]programme.Setting{nil, {{ID: "from_speed", Number: 60 * kmh}}, {{ID: "window", Word: windowShare}}, {{ID: "window", Word: windowRest}}} {
			got = append(got, value(t, reduce(t, ramp(100.8*kmh, 8, 0.3, rate), given...), "braking_distance"))
		}
	}
	for i := range 4 {
		for _, d := range []float64{got[4+i] - got[i], got[8+i] - got[i]} {
			if math.Abs(d) > 0.02 {
				t.Errorf("window %d: %v m at 50 Hz, %v m at 100 Hz, %v m at 500 Hz", i, got[i], got[4+i], got[8+i])
			}
		}
	}
}

func TestOnsets(t *testing.T) {
	rec := ramp(100.8*kmh, 8, 0.3, 200)
	at := func(given ...programme.Setting) float64 {
		return value(t, reduce(t, rec, given...), "stopping_distance")
	}
	signal0 := at()
	// Smoothed over 0.1 s the ramp of 26.7 m/s³ passes 2 m/s² after 0.075 s; the
	// distance from there is shorter by 28 m/s times that.
	byDec := at(programme.Setting{ID: "onset", Word: onsetDeceleration})
	if d := signal0 - byDec; math.Abs(d-28*0.075) > 0.05 {
		t.Errorf("by deceleration %v m after the signal, want %v", d, 28*0.075)
	}
	bySpeed := at(programme.Setting{ID: "onset", Word: onsetSpeed}, programme.Setting{ID: "from_speed", Number: 80 * kmh})
	if want := math.Pow(80*kmh, 2) / 16; math.Abs(bySpeed-want) > 0.002 {
		t.Errorf("from 80 km/h to rest %v m, want %v", bySpeed, want)
	}
	// Without a brake signal the deceleration stands in, and says so.
	bare := ramp(100.8*kmh, 8, 0.3, 200)
	bare.Channels = append(bare.Channels[:1], bare.Channels[2:]...)
	out := reduce(t, bare)
	if !out.Caveats.Has("no_brake_signal") || math.Abs(value(t, out, "stopping_distance")-byDec) > 1e-9 {
		t.Errorf("without a signal: %v", out.Caveats)
	}
	// A signal that is on all the time is no onset.
	stuck := ramp(100.8*kmh, 8, 0.3, 200)
	b := stuck.ByRole(signal.Brake)
	for i := range b.Values {
		b.Values[i] = 1
	}
	if out := reduce(t, stuck); !out.Caveats.Has("brake_signal_unused") || math.Abs(value(t, out, "stopping_distance")-byDec) > 1e-9 {
		t.Errorf("a stuck signal: %v", out.Caveats)
	}
	// An earlier dab is told; the last application counts.
	dab := ramp(100.8*kmh, 8, 0.3, 200)
	b = dab.ByRole(signal.Brake)
	for i, tt := range b.Base.T {
		if tt > 0.2 && tt < 0.4 {
			b.Values[i] = 1
		}
	}
	if out := reduce(t, dab); !out.Caveats.Has("braked_before") || math.Abs(value(t, out, "stopping_distance")-signal0) > 1e-9 {
		t.Errorf("an earlier dab: %v", out.Caveats)
	}
}

func TestTheEntrySpeedGateStopsTheCorrectionAlone(t *testing.T) {
	rec := ramp(100.8*kmh, 8, 0.3, 200)
	for _, q := range []struct {
		set  float64
		gate bool
	}{{100, true}, {102.7, true}, {98, false}, {103, false}} {
		out := reduce(t, rec, programme.Setting{ID: "window", Word: windowRest}, programme.Setting{ID: "entry_speed", Number: q.set * kmh})
		if has(out, "corrected_distance") != q.gate || out.Caveats.Has("entry_speed_outside") == q.gate || !has(out, "braking_distance") {
			t.Errorf("set to %g km/h: %v", q.set, out.Caveats)
		}
	}
	// Begun at 79 km/h the window 80 to 20 is short, and corrected for it.
	late := ramp(79*kmh, 8, 0.001, 1000)
	out := reduce(t, late)
	d, c := value(t, out, "braking_distance"), value(t, out, "corrected_distance")
	if math.Abs(c-28.9352) > 0.03 || !(d < c) || !out.Caveats.Has("window_begins_late") {
		t.Errorf("begun at 79 km/h: %v m, corrected %v m; %v", d, c, out.Caveats)
	}
	out = reduce(t, ramp(77*kmh, 8, 0.001, 1000))
	if has(out, "braking_distance") || !out.Caveats.Has("window_not_reached") || !has(out, "mfdd") {
		t.Errorf("begun at 77 km/h: %v", out.Caveats)
	}
}

func TestSlipIsThatOfTheWheels(t *testing.T) {
	want := []float64{0.05, 0.10, 0.02, 0}
	for _, q := range []struct {
		scale float64
		unit  string
	}{{1, "m/s"}, {1.02, "m/s"}, {2.9, "rad/s"}, {3.6, ""}} {
		out := reduce(t, withWheels(ramp(100.8*kmh, 8, 0.3, 200), q.scale, q.unit, want...))
		n := 0
		for _, o := range out.Observations {
			if o.Measure == "mean_slip" || o.Measure == "greatest_slip" {
				for k, w := range wheelPlaces {
					if w.place == o.Place {
						n++
						// The step between the samples about the onset is half rolled free.
						if math.Abs(o.Value-want[k]) > 1e-4 {
							t.Errorf("%s at %s is %v, want %v", o.Measure, o.Place, o.Value, want[k])
						}
					}
				}
			}
		}
		if n != 8 {
			t.Errorf("%d slips", n)
		}
	}
	out := reduce(t, withWheels(ramp(100.8*kmh, 8, 0.3, 200), 2.9, "rad/s", want...), programme.Setting{ID: "wheels", Word: wheelsRecorded})
	if has(out, "mean_slip") || !out.Caveats.Has("wheel_speed_unscaled") {
		t.Errorf("a rotation taken as recorded: %v", out.Caveats)
	}
	out = reduce(t, withWheels(ramp(100.8*kmh, 8, 0.3, 200), 1.02, "m/s", want...), programme.Setting{ID: "wheels", Word: wheelsRecorded})
	if got := value(t, out, "mean_slip"); math.Abs(got-(1-1.02*0.95)) > 1e-9 {
		t.Errorf("as recorded: %v", got)
	}
}

func TestDistancesThatDisagreeAreTold(t *testing.T) {
	rec := ramp(100.8*kmh, 8, 0.3, 200)
	v := rec.ByRole(signal.Speed)
	if reduce(t, rec).Caveats.Has("distance_disagrees") {
		t.Error("agreeing distances disagree")
	}
	for i := range v.Values {
		v.Values[i] *= 0.97
	}
	if !reduce(t, rec).Caveats.Has("distance_disagrees") {
		t.Error("a scale error of 3 % goes unseen")
	}
}

func TestRunsThatCannotBeReducedSayWhy(t *testing.T) {
	slow := whole(t, ramp(40*kmh, 8, 0.3, 200))
	noSpeed := whole(t, ramp(100*kmh, 8, 0.3, 200))
	noSpeed.Recordings[0].Channels = noSpeed.Recordings[0].Channels[1:]
	noStop := whole(t, ramp(100*kmh, 8, 0.3, 200))
	noStop.ToS = 1.5
	flat := whole(t, ramp(100*kmh, 8, 0.3, 200), programme.Setting{ID: "onset", Word: onsetDeceleration}, programme.Setting{ID: "onset_deceleration", Number: 20})
	outside := whole(t, ramp(100*kmh, 8, 0.3, 200))
	outside.FromS, outside.ToS = 100, 200
	for name, in := range map[string]procedure.Input{"too slow": slow, "no speed": noSpeed, "no stop": noStop, "no onset": flat, "outside": outside, "nothing": {}} {
		if _, err := New().Reduce(in); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		} else if name != "outside" && name != "nothing" && fault.HintOf(err) == "" {
			t.Errorf("%s has no hint: %v", name, err)
		}
	}
}

// A real stop with wheel-speed modulation, against values computed with numpy by
// whoever put the open recordings together: distances and decelerations within
// 0.5 %. Stamps that stand twice are dropped here, as a reader does.
func TestARealStop(t *testing.T) {
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "data")
	}
	data, err := os.ReadFile(filepath.Join(dir, "braking", "roadview_abs_stop_1khz.csv"))
	if os.IsNotExist(err) {
		t.Skip("the open data are not here (braking/roadview_abs_stop_1khz.csv); set BOOKEND_DATA")
	}
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	b := &signal.Base{}
	roles := map[int]signal.Role{1: signal.Speed, 4: signal.Brake, 7: signal.WheelSpeedFL, 8: signal.WheelSpeedFR, 9: signal.WheelSpeedRL, 10: signal.WheelSpeedRR}
	rec := &signal.Recording{Name: "roadview_abs_stop_1khz.csv"}
	for k := range rows[0] {
		if role, ok := roles[k]; ok {
			unit := ""
			if role == signal.Speed {
				unit = "m/s"
			}
			rec.Channels = append(rec.Channels, &signal.Channel{Name: rows[0][k], Role: role, Unit: unit, Base: b})
		}
	}
	for _, row := range rows[1:] {
		x, err := strconv.ParseFloat(row[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(b.T); n > 0 && x <= b.T[n-1] {
			continue
		}
		b.T = append(b.T, x)
		i := 0
		for k := range row {
			if _, ok := roles[k]; ok {
				v, err := strconv.ParseFloat(row[k], 64)
				if err != nil {
					t.Fatal(err)
				}
				rec.Channels[i].Values = append(rec.Channels[i].Values, v)
				i++
			}
		}
	}
	for _, c := range rec.Channels {
		c.Valid = []signal.Span{{From: 0, To: len(b.T)}}
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got/want-1) > 0.005 {
			t.Errorf("%s is %v, want %v within 0.5 %%", what, got, want)
		}
	}
	out := reduce(t, rec, programme.Setting{ID: "window", Word: windowRest})
	near("speed at the onset", value(t, out, "entry_speed"), 18.913)
	near("distance to rest", value(t, out, "braking_distance"), 20.87)
	// The time published with the recording, 2.222 s, runs to the last fall below
	// 0.1 m/s, after the body has swung back to -0.45 m/s and forward again. Rest is
	// the first fall here, 0.28 s earlier; the distance hardly differs.
	if got := value(t, out, "braking_time"); math.Abs(got-1.939) > 0.005 {
		t.Errorf("time to the first fall below 0.1 m/s is %v", got)
	}
	falls := rec.Channels[0].Crossings(0.1, signal.Falling, 6.7508, 9.5)
	near("time to the last fall below 0.1 m/s", falls[len(falls)-1].T-6.7508, 2.222)
	near("mean fully developed deceleration", value(t, out, "mfdd"), 11.39)
	for _, code := range []string{"rebound", "no_positions", "gradient_unknown"} {
		if !out.Caveats.Has(code) {
			t.Errorf("no caveat %s: %v", code, out.Caveats)
		}
	}
	out = reduce(t, rec, programme.Setting{ID: "window", Word: windowShare})
	near("distance of the developed deceleration", value(t, out, "braking_distance"), 9.889)
	out = reduce(t, rec, programme.Setting{ID: "from_speed", Number: 60 * kmh}, programme.Setting{ID: "to_speed", Number: 10 * kmh})
	near("60 to 10 km/h", value(t, out, "braking_distance"), 12.042)
	near("time from 60 to 10 km/h", value(t, out, "braking_time"), 1.2367)
	out = reduce(t, rec, programme.Setting{ID: "from_speed", Number: 18}, programme.Setting{ID: "to_speed", Number: 1})
	near("18 to 1 m/s", value(t, out, "braking_distance"), 15.374)
	// The slips published with the recording, mean 0.046 and greatest 0.196, come
	// without the scale of the wheel speeds or a least speed: 0.01 is asked for.
	for _, o := range reduce(t, rec, programme.Setting{ID: "window", Word: windowRest}).Observations {
		if o.Place == "wheel front left" {
			want := map[string]float64{"mean_slip": 0.046, "greatest_slip": 0.196}[o.Measure]
			if math.Abs(o.Value-want) > 0.01 {
				t.Errorf("%s is %v, want %v", o.Measure, o.Value, want)
			}
			t.Logf("%s: %.4f", o.Measure, o.Value)
		}
	}
}

func BenchmarkReduce(b *testing.B) {
	in := whole(b, withWheels(ramp(100.8*kmh, 8, 0.3, 1000), 1, "m/s", 0.05, 0.05, 0.05, 0.05))
	for b.Loop() {
		if _, err := New().Reduce(in); err != nil {
			b.Fatal(err)
		}
	}
}
