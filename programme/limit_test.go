package programme

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/fault"
)

// The vectors say by hand how a value stands to a limit; whatever else judges
// typed values (the page at the track) passes the same file.
func TestLimitsPassTheSharedVectors(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "limits.json"))
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Name     string             `json:"name"`
		Limits   []Limit            `json:"limits"`
		Values   map[string]float64 `json:"values"`
		Standing []Standing         `json:"standing"`
	}
	if err := json.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) < 15 {
		t.Fatalf("only %d vectors", len(cases))
	}
	for _, c := range cases {
		got := []Standing{}
		for _, a := range (Profile{Limits: c.Limits}).Answers(c.Values) {
			got = append(got, a.Standing)
		}
		if !slices.Equal(got, c.Standing) {
			t.Errorf("%s: %v, want %v", c.Name, got, c.Standing)
		}
	}
	nan := math.NaN()
	if (Limit{}).Judge(nil) != Missing || (Limit{}).Judge(&nan) != Missing {
		t.Error("what is missing is neither within nor broken")
	}
}

func TestAProfileThatSaysTooLittleIsRefused(t *testing.T) {
	one, two := 1.0, 2.0
	source := Source{Key: Own}
	for says, p := range map[string]Profile{
		"needs an id": {},
		"no field":    {ID: "a", Version: 1, Title: "a", Limits: []Limit{{Low: &one, Source: source}}},
		"neither low": {ID: "a", Version: 1, Title: "a", Limits: []Limit{{Field: "wind_mps", Source: source}}},
		"above":       {ID: "a", Version: 1, Title: "a", Limits: []Limit{{Field: "wind_mps", Low: &two, High: &one, Source: source}}},
		"no source":   {ID: "a", Version: 1, Title: "a", Limits: []Limit{{Field: "wind_mps", High: &one}}},
	} {
		if err := p.Check(); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
	}
	if err := (Profile{ID: "a", Version: 1, Title: "a", Limits: []Limit{{Field: "wind_mps", High: &one, Source: source}}}).Check(); err != nil {
		t.Error(err)
	}
}
