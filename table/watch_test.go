package table

import (
	"strings"
	"testing"

	"example.org/bookend/unit"
)

// Sixty seconds are a minute and sixty minutes an hour: the SI brochure, 9th
// edition (2019), table 8. The expected values follow by hand.
func TestTimesOfAStopwatchAreSeconds(t *testing.T) {
	for cell, want := range map[string]float64{
		"1:23.45": 83.45, "0:59.9": 59.9, "01:02": 62, "1:02:03.4": 3723.4, "100:00": 6000,
	} {
		if got, ok := watched(cell, false); !ok || got != want {
			t.Errorf("%s is read as %v s (%v), not %v s", cell, got, ok, want)
		}
	}
	if got, ok := watched("1:23,45", true); !ok || got != 83.45 {
		t.Errorf("with a decimal comma 1:23,45 is read as %v s (%v)", got, ok)
	}
	for _, cell := range []string{"83.45", "1:60", "1:2", "1:99.1", ":12", "1:", "1:12.", "1.5:12", "-1:12.0", "1:12:13:14", "1:1e", "a:12", "", "1:12,5"} {
		if got, ok := watched(cell, false); ok {
			t.Errorf("%q is read as a time of %v s", cell, got)
		}
	}
}

func TestAColumnOfTimesIsInSeconds(t *testing.T) {
	got, err := Read(strings.NewReader("stint,code,value\n1,K,59.8\n2,P,1:00.25\n"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got.Unit != "s" || got.Decimals != 2 || got.Log.Observations[0].Value != 59.8 || got.Log.Observations[1].Value != 60.25 {
		t.Errorf("read in %q with %d decimals: %v", got.Unit, got.Decimals, got.Log.Observations)
	}
	if _, err := Read(strings.NewReader("stint,code,value_m\n1,K,59.8\n2,P,1:00.25\n"), Options{Name: "a.csv"}); err == nil || !strings.Contains(err.Error(), "a.csv:3: column value_m") {
		t.Errorf("a time among metres gives %v", err)
	}
}

func TestHeadingsStateTheirUnit(t *testing.T) {
	for heading, want := range map[string]string{"value_m": "m", "Value (km/h)": "km/h", "value [s]": "s", "value_km/h": "km/h"} {
		stem, u, ok := stated(heading)
		if !ok || !strings.EqualFold(stem, "value") || u != unit.MustParse(want) {
			t.Errorf("%s is read as %q in %v (%v)", heading, stem, u, ok)
		}
	}
	for _, heading := range []string{"value", "value (best)", "value (", "(m)", "rear/left"} {
		if stem, u, ok := stated(heading); ok {
			t.Errorf("%s is read as %q in %v", heading, stem, u)
		}
	}
	got, err := Read(strings.NewReader("stint,code,Distance (ft)\n1,K,100\n"), Options{Columns: map[string]string{"value": "distance (ft)"}})
	if err != nil || got.Log.Observations[0].Value != 30.48 { // a foot is 0.3048 m: NIST SP 811 (2008), appendix B.8
		t.Errorf("a column that is named keeps no unit: %v, %v", got, err)
	}
}
