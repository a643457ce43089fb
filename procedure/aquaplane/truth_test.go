package aquaplane

import (
	"bytes"
	"math"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure/aquaplane/truth"
)

// On the synthetic ground the speed at which the wet wheel really turns 15 % faster is
// known; wheel speeds have noise of 0.02 km/h there and are written to 0.01.
func TestTheTruthIsRecovered(t *testing.T) {
	worst := 0.0
	for seed, words := range []string{"", "floats earlier"} {
		d, err := truth.Passes(words, 3, uint64(seed+1))
		if err != nil {
			t.Fatal(err)
		}
		for i, run := range d.Stint.Runs {
			f := d.Recordings(i)[0]
			rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
			if err != nil {
				t.Fatal(err)
			}
			behind := float64(rec.Anchor.UnixNS-d.Stint.Start.UnixNano()) / 1e9
			out := reduceOne(t, input(t, rec, run.From-behind, run.To-behind))
			was, ok := run.Value("float_speed")
			got, too := find(out, "onset_speed")
			if ok != too {
				t.Errorf("%q, run %d: floats %v, found %v: %v", words, i+1, ok, too, out.Caveats)
				continue
			}
			worst = math.Max(worst, math.Abs(got-was))
			if math.Abs(got-was) > 0.5*kmh {
				t.Errorf("%q, run %d: %.2f km/h, was %.2f", words, i+1, got/kmh, was/kmh)
			}
		}
	}
	t.Logf("off by up to %.3f km/h", worst/kmh)
}
