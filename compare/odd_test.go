package compare

import (
	"strings"
	"testing"

	"example.org/bookend/programme"
)

// standing gives the caveats of what stands out, by code and run or stint.
func standing(r *Result) []string {
	var out []string
	for _, c := range r.Caveats {
		switch c.Code {
		case "typing_slip", "run_stands_out", "stint_scatters":
			out = append(out, c.Code+" "+c.Place.Stint+" "+c.Place.Run)
		}
	}
	return out
}

// What stands out is told and left in: a decimal point at another place, a run within its
// stint, a stint whose runs scatter more. What is even says nothing.
func TestWhatStandsOutIsShownAndStays(t *testing.T) {
	even := func() []driven {
		var list []driven
		for i, code := range strings.Fields("K P K P K") {
			v := 33.0
			if code == "P" {
				v = 32.1
			}
			d := driven{code: code}
			for _, e := range []float64{0, 0.1, -0.1, 0.05, -0.05} {
				d.values = append(d.values, v+e+0.02*float64(i))
			}
			list = append(list, d)
		}
		return list
	}
	do := func(list []driven, m programme.Measure) *Result {
		t.Helper()
		return mustCompare(t, Input{Log: logOf(m.ID, list), Measure: m, Control: "K"})
	}
	if got := standing(do(even(), decel)); got != nil {
		t.Errorf("even runs: %v", got)
	}
	list := even()
	list[2].values[3] += 2.5
	r := do(list, decel)
	got := strings.Join(standing(r), ", ")
	if !strings.Contains(got, "run_stands_out s3 s3/4") || !strings.Contains(got, "stint_scatters s3 ") {
		t.Errorf("one run is off: %s", got)
	}
	if r.Stints[2].N != 5 || len(r.Excluded) != 0 {
		t.Error("it was left out")
	}
	list = even()
	list[1].values[1] *= 10
	if got := strings.Join(standing(do(list, decel)), ", "); !strings.Contains(got, "typing_slip s2 s2/2") || strings.Contains(got, "run_stands_out s2") {
		t.Errorf("a decimal point is off: %s", got)
	}
	// A difference has no decimal point to be off: values may lie about 0.
	if got := strings.Join(standing(do(list, gain)), ", "); strings.Contains(got, "typing_slip") {
		t.Errorf("a difference: %s", got)
	}
}
