package attribute_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/programme/attribute"
)

// The trade's two scales, and which attribute is on which.
func TestScalesOfTheSheet(t *testing.T) {
	golden.Run(t, "common-practice", "scales", func(t *testing.T, c *golden.Case) {
		var q struct {
			Middle  []string   `json:"middle"`
			Top     []string   `json:"top"`
			Points  [2]float64 `json:"points"`
			Balance [2]float64 `json:"balance"`
			Finest  float64    `json:"finest"`
		}
		c.JSON(t, "case.json", &q)
		check := func(name string, middle bool, ends [2]float64) {
			s := attribute.ScaleOf(name)
			if s.Middle != middle {
				t.Errorf("%s: best in the middle is %v", name, s.Middle)
			}
			c.Near(t, name, s.Low, ends[0])
			c.Near(t, name, s.High, ends[1])
			c.Near(t, name, s.Step, q.Finest)
		}
		for _, name := range q.Middle {
			check(name, true, q.Balance)
		}
		for _, name := range q.Top {
			check(name, false, q.Points)
		}
		n := 0
		for _, a := range attribute.All() {
			if a.Scale.Middle {
				n++
			}
			if a.Group == "" || a.About == "" {
				t.Errorf("%s is not explained", a.Name)
			}
		}
		if n != len(q.Middle) {
			t.Errorf("%d attributes are best in the middle, not %d", n, len(q.Middle))
		}
	})
}

// The vectors that the day's page passes, too: web/script/part/scale.js.
func TestWhatIsARating(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "scales.json"))
	if err != nil {
		t.Fatal(err)
	}
	var q struct {
		Scales  map[string]attribute.Scale `json:"scales"`
		Vectors []struct {
			Attribute string  `json:"attribute"`
			Value     float64 `json:"value"`
			Rating    bool    `json:"rating"`
		} `json:"vectors"`
	}
	if err := json.Unmarshal(text, &q); err != nil {
		t.Fatal(err)
	}
	own := attribute.Scales()
	if len(own) != len(q.Scales) {
		t.Errorf("%d scales, not %d", len(own), len(q.Scales))
	}
	for key, s := range q.Scales {
		if o := own[key]; o.Low != s.Low || o.High != s.High || o.Step != s.Step {
			t.Errorf("%q is on the scale %v, not %v", key, o, s)
		}
	}
	for _, v := range q.Vectors {
		err := attribute.Check(v.Attribute, v.Value)
		if (err == nil) != v.Rating {
			t.Errorf("%s %g: %v", v.Attribute, v.Value, err)
		}
		if err != nil && (fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "") {
			t.Errorf("%s %g: %v, %q", v.Attribute, v.Value, err, fault.HintOf(err))
		}
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if attribute.Check("response", v) == nil || attribute.Check("balance at exit", v) == nil {
			t.Errorf("%g is a rating", v)
		}
	}
}

// A balance that is written as no attribute of the sheet is told which ones are.
func TestAHintNamesTheScale(t *testing.T) {
	for _, c := range []struct {
		name string
		v    float64
		hint string
	}{
		{"Response", 11, "response is rated from 1 to 10, in steps of 0.25"},
		{"balance_at_exit", 4, "balance at exit is rated from -3, heavy understeer"},
		{"balance", -2, "balance at entry, balance in mid-corner, balance at exit"},
		{strings.Repeat("long ", 100), 0, "from 1 to 10"},
	} {
		err := attribute.Check(c.name, c.v)
		if hint := fault.HintOf(err); !strings.Contains(hint, c.hint) || len(err.Error()) > 200 || len(hint) > 300 {
			t.Errorf("%.20s: %v; %s", c.name, err, hint)
		}
	}
}
