package frequency

import (
	"bytes"
	"math"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure/frequency/truth"
)

// On the synthetic ground, as recorded with noise: gains within 3 % and phases within 3°
// of what a sine fitted to the true motion says, by other code and another method.
func TestTheTruthIsRecovered(t *testing.T) {
	worstGain, worstPhase := 0.0, 0.0
	for seed, words := range []string{"", "much softer sidewall"} {
		d, err := truth.Sweep(words, 0.3, uint64(seed+1))
		if err != nil {
			t.Fatal(err)
		}
		f := d.Recordings(0)[0]
		rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
		if err != nil {
			t.Fatal(err)
		}
		out := reduce(t, input(t, rec))
		for _, hz := range []float64{0.5, 1, 1.5, 2} {
			gain, ok := find(out, "yaw_gain", place(hz))
			phase, _ := find(out, "yaw_phase", place(hz))
			if !ok {
				t.Errorf("%q: no gain at %g Hz; %v", words, hz, out.Caveats)
				continue
			}
			was, turn := truth.Answer(d.Trace(0), hz)
			worstGain, worstPhase = math.Max(worstGain, math.Abs(gain/was-1)), math.Max(worstPhase, math.Abs(phase-turn))
			if math.Abs(gain/was-1) > 0.03 || math.Abs(phase-turn) > 3*math.Pi/180 {
				t.Errorf("%q at %g Hz: gain %.4f and phase %.2f°, were %.4f and %.2f°", words, hz, gain, phase*180/math.Pi, was, turn*180/math.Pi)
			}
		}
	}
	t.Logf("gains off by up to %.2f %%, phases by up to %.2f°", 100*worstGain, worstPhase*180/math.Pi)
}
