package sinedwell

import (
	"bytes"
	"math"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/procedure/sinedwell/truth"
)

// On the synthetic ground what is left of yaw is known. The filter passes the steering's
// return to zero up to 10 ms late, and yaw rate has noise of 0.1 °/s beside peaks of 20
// and more: 0.02 is allowed.
func TestTheTruthIsRecovered(t *testing.T) {
	d, err := truth.Dwells(2.5, 4, 5)
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for i := range d.Stint.Runs {
		f := d.Recordings(i)[0]
		rec, err := delimited.New().Read(t.Context(), bytes.NewReader(f.Data), ingest.Options{Name: f.Name})
		if err != nil {
			t.Fatal(err)
		}
		out := reduce(t, input(t, rec))
		for _, q := range []struct {
			measure string
			after   float64
		}{{"yaw_ratio_1000_ms", 1}, {"yaw_ratio_1750_ms", 1.75}} {
			got, was := value(t, out, q.measure), truth.Left(d.Trace(i), q.after)
			worst = math.Max(worst, math.Abs(got-was))
			if math.Abs(got-was) > 0.02 {
				t.Errorf("run %d: %s is %.4f, was %.4f", i+1, q.measure, got, was)
			}
		}
	}
	t.Logf("off by up to %.4f", worst)
}
