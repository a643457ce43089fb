package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/compare/wear"
)

// used is a programme whose tyres lose so much for every stint that their set had
// done, beside a drift; sets are named "K1 P1 P2".
func used(sets string, loss, drift, sd float64, r *rand.Rand) []driven {
	var list []driven
	before := map[string]int{}
	for i, s := range strings.Fields(sets) {
		d := driven{code: s[:1], set: s}
		for range 3 {
			d.values = append(d.values, 7+map[byte]float64{'P': 0.4, 'R': -0.3}[s[0]]-loss*float64(before[s])+drift*float64(i)+sd*r.NormFloat64())
		}
		before[s]++
		list = append(list, d)
	}
	return list
}

func useOf(t *testing.T, r *Result, k wear.Kind) *wear.Use {
	t.Helper()
	i := slices.IndexFunc(r.Wear.Uses, func(u wear.Use) bool { return u.Kind == k })
	if i < 0 {
		t.Fatalf("nothing is known of %s", k)
	}
	return &r.Wear.Uses[i]
}

// What the control loses by its use is given to the candidates, and the lean says
// exactly by how much.
func TestWearLeansTheEstimate(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const order = "K1 P1 R1 K1 R1 P2 K1 P1 K1"
	for _, d := range corrections {
		if d.Drift == Quadratic {
			continue
		}
		for _, loss := range []float64{0, 0.07} {
			in := Input{Log: logOf("gain", used(order, loss, 0, 0, r)), Measure: gain, Control: "K", Settings: d}
			res := mustCompare(t, in)
			for _, l := range useOf(t, res, wear.Stints).Leans {
				truth := map[string]float64{"P": 0.4, "R": -0.3}[l.Code]
				if got := *res.row(t, l.Code).Difference - truth; !near(got, loss*l.PerUnit, 1e-9) {
					t.Errorf("%s, %s: off by %v, said to be %v", d.Drift, l.Code, got, loss*l.PerUnit)
				}
			}
		}
	}
	// By hand: P between two controls of which the first had done none and the
	// second one stint, at a third of the way.
	res := mustCompare(t, Input{Log: logOf("gain", used("K1 P1 R1 K1", 0.1, 0, 0.01, r)), Measure: gain, Control: "K"})
	leans := useOf(t, res, wear.Stints).Leans
	if !near(leans[0].Less, 1./3, 1e-12) || !near(leans[1].Less, 2./3, 1e-12) || leans[0].Over || res.Caveats.Has("unequal_use") {
		t.Errorf("%+v", leans)
	}
	res = mustCompare(t, Input{Log: logOf("gain", used("K1 P1 R1 K1 R1 P2 K1 P3 R2 K1", 0.1, 0, 0.01, r)), Measure: gain, Control: "K"})
	if l := useOf(t, res, wear.Stints).Leans[0]; !l.Over || !res.Caveats.Has("unequal_use") || l.Bias != nil {
		t.Errorf("a control that ran on and on draws no caveat: %+v", l)
	}
	if why := useOf(t, res, wear.Stints).Why; !strings.Contains(why, "fresh control set") {
		t.Errorf("wear was told from drift by one set: %q", why)
	}
}

// A fresh control set beside a used one measures wear beside the drift: within
// three of its own standard errors in all of 200 programmes but a few.
func TestFreshSetMeasuresWear(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	missed := 0
	for range 200 {
		list := used("K1 P1 K1 R1 K1 P1 K2 K1 R1 K2 P1 K1 K2", 0.1, -0.03, 0.02, r)
		res := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: Linear, Quick: true}})
		m := useOf(t, res, wear.Stints).Measured
		if m == nil || m.SE == nil {
			t.Fatal("wear was not measured")
		}
		if math.Abs(m.Estimate+0.1) > 3**m.SE {
			missed++
		}
		for _, l := range useOf(t, res, wear.Stints).Leans {
			if !near(*l.Bias, -m.Estimate*l.Less, 1e-12) {
				t.Errorf("%s: bias %v", l.Code, *l.Bias)
			}
		}
	}
	// Beyond 3 on 5 degrees of freedom lie 3 %: 6, with 4 standard deviations 16.
	if missed > 16 {
		t.Errorf("%d of 200 lie beyond 3 standard errors", missed)
	}
}

// Use in columns of the table, and limits of it.
func TestRecordedUse(t *testing.T) {
	list := used("K1 P1 R1 K1 R2 P2 K1", 0, 0, 0.02, rand.New(rand.NewPCG(2, 9)))
	log := logOf("gain", list)
	for i := range log.Stints {
		m := 1000.0
		if log.Stints[i].Code == "K" {
			m = 31000
		}
		log.Stints[i].UseM = &m
	}
	for i := range log.Runs {
		k := map[bool]float64{true: 1, false: 0}[strings.HasPrefix(log.Runs[i].Stint, "s1") || strings.HasPrefix(log.Runs[i].Stint, "s4") || strings.HasPrefix(log.Runs[i].Stint, "s7")]
		log.Runs[i].Covariates = map[string]float64{wear.StintsColumn: 5 * k, wear.TreadColumn: 0.008 - 0.001*k}
	}
	limit, tread := 20000.0, 0.0005
	r := mustCompare(t, Input{Log: log, Measure: gain, Control: "K", Settings: Settings{UseLimitM: &limit, TreadLimitM: &tread, UseLimitStints: 6}})
	for kind, want := range map[wear.Kind]float64{wear.Distance: 30000, wear.Stints: 5, wear.Tread: 0.001} {
		u := useOf(t, r, kind)
		if u.Counted {
			t.Errorf("%s was counted though it is recorded", kind)
		}
		for _, l := range u.Leans {
			if !near(l.Less, want, 1e-9) || l.Over != (kind != wear.Stints) {
				t.Errorf("%s, %s: %+v", kind, l.Code, l)
			}
		}
	}
	text := ""
	for _, c := range r.Caveats {
		if c.Code == "unequal_use" && c.Place.Code == "P" {
			text += c.Text + "\n"
		}
	}
	for _, part := range []string{"30 km less", "limit 20 km", "better than it is by 30 times what a tyre loses in a kilometre", "1 mm of tread less", "alike in it"} {
		if !strings.Contains(text, part) {
			t.Errorf("%q is not said: %s", part, text)
		}
	}
}

// A worn control set is replaced beside the old one or at a declared break.
func TestReplacedControlSet(t *testing.T) {
	for _, c := range []struct {
		sets     string
		stop     int
		caveat   bool
		replaced int
	}{
		{"K1 P1 K1 R1 K2 P2 K2", -1, true, 1},
		{"K1 P1 K1 K2 R1 K2 P2 K2", -1, false, 1},       // driven one after the other
		{"K1 P1 K2 R1 K1 P2 K2", -1, false, 0},          // rotated
		{"K1 P1 K2 R1 K3 P2 K4", -1, false, 0},          // a sample of sets
		{"K1 P1 K1 K2 R1 K2 P2 K2", 3, false, 0},        // a declared break
		{"K3 P1 K1 R1 K1 P2 K2 R1 K3 K2", -1, false, 1}, // another set is carried through
	} {
		list := used(c.sets, 0, 0, 0.02, rand.New(rand.NewPCG(4, 2)))
		if c.stop >= 0 {
			list[c.stop].stop = true
		}
		r := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: Settings{Drift: Linear}})
		if r.Caveats.Has("control_set_replaced") != c.caveat || len(r.Wear.Replaced) != c.replaced {
			t.Errorf("%s: %+v, %v", c.sets, r.Wear.Replaced, r.Caveats)
		}
	}
}
