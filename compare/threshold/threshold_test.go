package threshold

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
)

func TestFirth(t *testing.T) {
	golden.Run(t, "r-4.2.2", "firth", func(t *testing.T, c *golden.Case) {
		var in struct {
			Stints []struct{ Speed, Clean []float64 }
		}
		var want struct {
			Threshold, SE []float64
			Width         float64
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		var stints [][]Attempt
		for _, s := range in.Stints {
			var list []Attempt
			for k := range s.Speed {
				list = append(list, Attempt{s.Speed[k], s.Clean[k] == 1})
			}
			stints = append(stints, list)
		}
		got, err := Fit(stints)
		if err != nil {
			t.Fatal(err)
		}
		c.NearRel(t, "width", got.Width, want.Width)
		for i, l := range got.Levels {
			if l.Side != Found {
				t.Fatalf("stint %d: %+v", i+1, l)
			}
			c.NearRel(t, "threshold", l.Speed, want.Threshold[i])
			c.NearRel(t, "standard error", l.SE, want.SE[i])
		}
	})
}

func draw(r *rand.Rand, at, width float64, speeds ...float64) []Attempt {
	var out []Attempt
	for _, v := range speeds {
		out = append(out, Attempt{v, r.Float64() < 1/(1+math.Exp((v-at)/width))})
	}
	return out
}

// Shifting the speeds shifts the thresholds, scaling them scales them, and the
// order of attempts does not matter.
func TestLaws(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	var stints [][]Attempt
	for i := range 6 {
		stints = append(stints, draw(r, 20+0.5*float64(i), 0.7, 18, 19, 20, 21, 22, 23, 19.5, 20.5, 21.5))
	}
	a, err := Fit(stints)
	if err != nil {
		t.Fatal(err)
	}
	other := make([][]Attempt, len(stints))
	for i, s := range stints {
		for k := len(s) - 1; k >= 0; k-- {
			other[i] = append(other[i], Attempt{3.6*s[k].Speed - 10, s[k].Clean})
		}
	}
	b, err := Fit(other)
	if err != nil {
		t.Fatal(err)
	}
	for i := range a.Levels {
		x, y := a.Levels[i], b.Levels[i]
		if math.Abs(3.6*x.Speed-10-y.Speed) > 1e-8 || math.Abs(3.6*x.SE-y.SE) > 1e-8 || x.Side != y.Side {
			t.Errorf("stint %d: %+v and %+v", i+1, x, y)
		}
	}
}

// A stint without a failed attempt, or without a clean one, says on which side its
// threshold lies; it is finite.
func TestCensored(t *testing.T) {
	at := func(clean ...bool) []Attempt {
		var out []Attempt
		for i, c := range clean {
			out = append(out, Attempt{20 + float64(i), c})
		}
		return out
	}
	got, err := Fit([][]Attempt{at(true, true, true, false, false), at(true, true, true, true, true), at(false, false, false, false, false), at(true, true, false, true, false)})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Side{Found, Above, Below, Found} {
		if got.Levels[i].Side != want {
			t.Errorf("stint %d lies %d", i+1, got.Levels[i].Side)
		}
	}
	if l := got.Levels; l[1].Speed > 24 || l[2].Speed < 20 || l[1].Speed <= l[0].Speed || l[0].Step != 1 || l[1].Clean != 5 {
		t.Errorf("%+v", l)
	}
	for name, s := range map[string][][]Attempt{
		"nothing":      {},
		"an empty one": {at(true, false), {}},
		"all clean":    {at(true, true)},
		"none clean":   {at(false, false)},
		"one speed":    {{{20, true}, {20, false}}},
		"reversed":     {at(false, false, false, true, true, true), at(false, false, true, true, true)},
	} {
		if _, err := Fit(s); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Thresholds are found without bias: of 1,500 stints, within 4 standard errors.
func TestNoBias(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 2))
	sum, square, n := 0.0, 0.0, 0.0
	for range 250 {
		var stints [][]Attempt
		for range 6 {
			stints = append(stints, draw(r, 21, 0.8, 19, 20, 20.5, 21, 21.5, 22, 23, 20, 21, 22))
		}
		f, err := Fit(stints)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range f.Levels {
			d := l.Speed - 21
			sum, square, n = sum+d, square+d*d, n+1
		}
	}
	if m := sum / n; math.Abs(m) > 4*math.Sqrt(square)/n {
		t.Errorf("thresholds are off by %v", m)
	}
}
