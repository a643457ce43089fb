package braking

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// From the bytes of the file to the distance, with what the reader guesses of roles
// and units, duplicate stamps and all.
func TestARealStopFromItsFile(t *testing.T) {
	dir := os.Getenv("BOOKEND_DATA")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "data")
	}
	f, err := os.Open(filepath.Join(dir, "braking", "roadview_abs_stop_1khz.csv"))
	if os.IsNotExist(err) {
		t.Skip("the open data are not here (braking/roadview_abs_stop_1khz.csv); set BOOKEND_DATA")
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rec, err := delimited.New().Read(t.Context(), f, ingest.Options{Name: "roadview_abs_stop_1khz.csv"})
	if err != nil {
		t.Fatal(err)
	}
	in := whole(t, rec, programme.Setting{ID: "from_speed", Number: 60 * kmh}, programme.Setting{ID: "to_speed", Number: 10 * kmh})
	base := rec.SpeedOverGround()
	if base == nil {
		for _, c := range rec.Channels {
			t.Logf("%s is %q in %q", c.Name, c.Role, c.Unit)
		}
		t.Fatal("no speed over ground")
	}
	in.FromS, in.ToS = base.Base.T[0], base.Base.T[base.Len()-1]
	out, err := New().Reduce(in)
	if err != nil {
		t.Fatal(err)
	}
	for measure, want := range map[string]float64{"braking_distance": 12.042, "braking_time": 1.2367, "mfdd": 11.39, "stopping_distance": 20.87, "entry_speed": 18.913} {
		if got := value(t, out, measure); math.Abs(got/want-1) > 0.005 {
			t.Errorf("%s is %v, want %v within 0.5 %%", measure, got, want)
		}
	}
	if rec.ByRole(signal.Brake) == nil || out.Caveats.Has("no_brake_signal") || !out.Caveats.Has("rebound") {
		t.Errorf("caveats: %v", out.Caveats)
	}
	for _, c := range out.Caveats {
		t.Log(c.Code, c.Text)
	}
}
