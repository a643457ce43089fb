package lap

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/signal"
)

// read reads a recording as any evaluator's, with what the reader guesses.
func read(t *testing.T, name string) *signal.Recording {
	t.Helper()
	rec, err := delimited.New().Read(t.Context(), bytes.NewReader(openData(t, name)), ingest.Options{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// From the bytes of the files to lap times: within 0.01 s of those computed with
// numpy, and the same from both encodings of one recording.
func TestLapsFromFilesOfTwoDialects(t *testing.T) {
	var all map[string]expected
	if err := json.Unmarshal(openData(t, "laps/expected_laps.json"), &all); err != nil {
		t.Fatal(err)
	}
	want := all["psu_loop_4.csv"]
	c := want.course(t)
	a, b := read(t, "laps/psu_loop_4.csv"), read(t, "formats/derived_loop4_semicolon_decimalcomma_bom.csv")
	const first = 142667.60 // GPS time of week of the first sample, s
	for i := range want.Lap {
		time := func(rec *signal.Recording) float64 {
			shift := rec.ByRole(signal.Latitude).Base.T[0] - first
			return value(t, reduce(t, input(t, rec, c, want.Crossing[i]+shift-0.5, want.Crossing[i+1]+shift+0.5)), "lap_time", "")
		}
		x, y := time(a), time(b)
		if math.Abs(x-want.Lap[i]) > 0.01 {
			t.Errorf("lap %d: %v s, want %v", i+1, x, want.Lap[i])
		}
		if math.Abs(x-y) > 1e-9 {
			t.Errorf("lap %d: %v s and, re-encoded, %v s", i+1, x, y)
		}
	}
}
