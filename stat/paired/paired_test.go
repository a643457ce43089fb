package paired_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/stat/paired"
)

type input struct {
	Items []string
	Pairs []paired.Pair
}

func TestCitations(t *testing.T) {
	for _, source := range []string{"numpy-1.24", "bradleyterry2-1.1-2"} {
		golden.Run(t, source, "citations", func(t *testing.T, c *golden.Case) {
			var in input
			c.JSON(t, "inputs.json", &in)
			var want struct {
				Log, SE          []float64
				LogLik, Deviance float64
				DF               int
			}
			c.JSON(t, "expected.json", &want)
			for _, rule := range []paired.Rule{paired.NoTies, paired.Davidson} {
				m, err := paired.Fit(in.Items, in.Pairs, rule)
				if err != nil {
					t.Fatal(err)
				}
				for i, v := range want.Log {
					c.Near(t, m.Items[i+1], m.Log[i+1], v)
					c.Near(t, "error of "+m.Items[i+1], m.StdErr[i+1], want.SE[i])
				}
				if want.LogLik != 0 {
					c.NearRel(t, "log likelihood", m.LogLik, want.LogLik)
				} else if math.Abs(m.Deviance-want.Deviance) > 5e-5 || m.DevianceDF != want.DF {
					t.Errorf("deviance %v on %d, want %v on %d", m.Deviance, m.DevianceDF, want.Deviance, want.DF)
				}
				if m.HasNu || m.Caveats.Has("no_ties") != (rule == paired.Davidson) {
					t.Errorf("nu %v, caveats %v", m.HasNu, m.Caveats)
				}
			}
		})
	}
}

func TestPuddings(t *testing.T) {
	golden.Run(t, "davidson-1970", "puddings", func(t *testing.T, c *golden.Case) {
		var in input
		c.JSON(t, "inputs.json", &in)
		var want struct {
			Worth, Log, SE    []float64
			Nu, LogLik, Equal float64
			P                 float64
			DF                int
		}
		c.JSON(t, "expected.json", &want)
		m, err := paired.Fit(in.Items, in.Pairs, paired.Davidson)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range want.Worth {
			c.Near(t, "worth", m.Worth[i], v)
		}
		for i, v := range want.Log {
			c.Near(t, "log worth", m.Log[i+1], v)
			c.Near(t, "its error", m.StdErr[i+1], want.SE[i])
		}
		c.Near(t, "nu", m.Nu, want.Nu)
		c.Near(t, "error of log nu", m.NuErr, want.SE[5])
		c.NearRel(t, "log likelihood", m.LogLik, want.LogLik)
		c.Near(t, "ratio", m.Equal, want.Equal)
		c.Near(t, "p", m.EqualP, want.P)
		if m.EqualDF != want.DF {
			t.Errorf("df %d, want %d", m.EqualDF, want.DF)
		}
		// At the maximum each item's expected score is its score (analytic),
		// and so is the number of ties.
		score, expected, ties, tied := map[string]float64{}, map[string]float64{}, 0.0, 0.0
		for _, p := range in.Pairs {
			n := p.WinsA + p.WinsB + p.Ties
			a, b, tie, err := m.Probabilities(p.A, p.B)
			if err != nil || math.Abs(a+b+tie-1) > 1e-14 {
				t.Fatal(a, b, tie, err)
			}
			score[p.A] += p.WinsA + p.Ties/2
			score[p.B] += p.WinsB + p.Ties/2
			expected[p.A] += n * (a + tie/2)
			expected[p.B] += n * (b + tie/2)
			ties, tied = ties+p.Ties, tied+n*tie
		}
		for item, s := range score {
			if math.Abs(s-expected[item]) > 1e-9 {
				t.Errorf("%s scores %v, expected %v", item, s, expected[item])
			}
		}
		if math.Abs(ties-tied) > 1e-9 {
			t.Errorf("%v ties, expected %v", ties, tied)
		}
	})
}

func pairs(list ...any) []paired.Pair {
	var out []paired.Pair
	for i := 0; i < len(list); i += 5 {
		out = append(out, paired.Pair{A: list[i].(string), B: list[i+1].(string), WinsA: float64(list[i+2].(int)), WinsB: float64(list[i+3].(int)), Ties: float64(list[i+4].(int))})
	}
	return out
}

// Two items: the log odds of the counts, and the error of a binomial (analytic).
func TestTwoItems(t *testing.T) {
	m, err := paired.Fit([]string{"K", "P"}, pairs("K", "P", 7, 12, 0), paired.NoTies)
	if err != nil {
		t.Fatal(err)
	}
	e, se, _, err := m.Difference("P", "K")
	if err != nil || math.Abs(e-math.Log(12.0/7)) > 1e-12 || math.Abs(se-math.Sqrt(1.0/7+1.0/12)) > 1e-12 {
		t.Error(e, se, err)
	}
	if m.DevianceDF != 0 || m.Deviance > 1e-9 {
		t.Errorf("deviance %v on %d", m.Deviance, m.DevianceDF)
	}
}

func TestOrderAndReferenceDoNotMatter(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	items := []string{"K", "P", "R", "T", "W"}
	var list []paired.Pair
	for i := range items {
		for j := range i {
			list = append(list, paired.Pair{A: items[i], B: items[j], WinsA: float64(1 + r.IntN(9)), WinsB: float64(1 + r.IntN(9)), Ties: float64(r.IntN(4))})
		}
	}
	a, err := paired.Fit(items, list, paired.Davidson)
	if err != nil {
		t.Fatal(err)
	}
	var turned []paired.Pair
	for _, i := range r.Perm(len(list)) {
		p := list[i]
		// Split over two lines, and turned round.
		turned = append(turned, paired.Pair{A: p.B, B: p.A, WinsA: p.WinsB, WinsB: p.WinsA - 1}, paired.Pair{A: p.A, B: p.B, WinsA: 1, Ties: p.Ties})
	}
	b, err := paired.Fit([]string{"W", "R", "K", "P", "T"}, turned, paired.Davidson)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range items {
		for _, y := range items {
			ea, sa, pa, _ := a.Difference(x, y)
			eb, sb, pb, _ := b.Difference(x, y)
			if math.Abs(ea-eb) > 1e-11 || math.Abs(sa-sb) > 1e-11 || math.Abs(pa-pb) > 1e-10 {
				t.Errorf("%s and %s: %v (%v) and %v (%v)", x, y, ea, sa, eb, sb)
			}
		}
	}
	if math.Abs(a.Deviance-b.Deviance) > 1e-9 || math.Abs(a.Nu-b.Nu) > 1e-11 {
		t.Error(a.Deviance, b.Deviance, a.Nu, b.Nu)
	}
	c := a.Covariance()
	if _, se, _, _ := a.Difference("R", "T"); math.Abs(c[2][2]+c[3][3]-2*c[2][3]-se*se) > 1e-14 {
		t.Error("covariance and error disagree")
	}
}

func TestWorthsWithoutLimitAreRefusedByName(t *testing.T) {
	abc := []string{"K", "P", "R"}
	for _, c := range []struct {
		items []string
		pairs []paired.Pair
		rule  paired.Rule
		say   string
	}{
		{abc, pairs("K", "P", 3, 2, 0, "R", "K", 4, 0, 0, "R", "P", 5, 0, 0), 0, "R won every comparison"},
		{abc, pairs("K", "P", 3, 2, 0, "R", "K", 0, 4, 0, "R", "P", 0, 5, 0), 0, "R lost every comparison"},
		{append(abc, "T"), pairs("K", "P", 3, 2, 0, "R", "T", 1, 4, 0, "R", "P", 5, 0, 0), 0, "R, T won every comparison"},
		{append(abc, "T"), pairs("K", "P", 3, 2, 1, "R", "T", 1, 4, 1), 0, "K, P were never compared with the rest"},
		{append(abc, "T"), pairs("K", "P", 3, 2, 1, "R", "P", 1, 4, 1), 0, "T was never compared"},
		{append(abc, "T"), pairs("K", "P", 3, 2, 1, "R", "P", 1, 4, 1, "T", "P", 0, 0, 0), 0, "T was never compared"},
		{abc, pairs("K", "P", 0, 0, 2, "R", "K", 0, 0, 4), 0, "every comparison is a tie"},
		{abc, pairs("K", "P", 1, 2, 2, "R", "K", 1, 2, 4), paired.NoTies, "has ties"},
		{abc, pairs("K", "K", 1, 2, 2), 0, "with itself"},
		{abc, pairs("K", "X", 1, 2, 2), 0, "not among the items"},
		{abc, pairs("K", "P", -1, 2, 2), 0, "a count is -1"},
		{abc, []paired.Pair{{A: "K", B: "P", WinsA: math.NaN()}}, 0, "a count is NaN"},
		{[]string{"K", "K"}, nil, 0, "named twice"},
		{[]string{"K"}, nil, 0, "cannot be compared"},
		{abc, nil, 0, "never compared"},
		{abc, nil, 7, "no rule"},
	} {
		_, err := paired.Fit(c.items, c.pairs, c.rule)
		if fault.CodeOf(err) != fault.Invalid || !strings.Contains(fmt.Sprint(err), c.say) {
			t.Errorf("%v, want %q", err, c.say)
		}
	}
	// A tie with the winner is limit enough.
	m, err := paired.Fit(abc, pairs("K", "P", 3, 2, 0, "R", "K", 4, 0, 1, "R", "P", 5, 0, 0), paired.Davidson)
	if err != nil || !(m.Log[2] > 0) {
		t.Errorf("%+v, %v", m, err)
	}
	m, err = paired.Fit(abc, pairs("K", "P", 3, 2, 0, "R", "K", 4, 0, 1, "R", "P", 5, 0, 0), paired.HalfTies)
	if err != nil || !m.Caveats.Has("ties_halved") || !m.Caveats.Has("few_comparisons") {
		t.Errorf("%+v, %v", m, err)
	}
	if _, _, _, err := m.Difference("K", "X"); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
	if _, _, _, err := m.Probabilities("K", "X"); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
}

// Lopsided counts: nothing but numbers.
func TestLopsidedCountsGiveNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	fits := 0
	for range 300 {
		k := 2 + r.IntN(6)
		var items []string
		for i := range k {
			items = append(items, fmt.Sprint(i))
		}
		var list []paired.Pair
		for range 3 * k {
			i, j := r.IntN(k), r.IntN(k)
			if i == j {
				continue
			}
			p := paired.Pair{A: items[i], B: items[j]}
			switch r.IntN(4) {
			case 0:
				p.WinsA = math.Pow(10, float64(r.IntN(7)))
			case 1:
				p.WinsB = 1
			case 2:
				p.Ties = float64(r.IntN(3))
			default:
				p.WinsA, p.WinsB = 1, 1
			}
			list = append(list, p)
		}
		m, err := paired.Fit(items, list, paired.Davidson)
		if err != nil {
			if fault.CodeOf(err) != fault.Invalid {
				t.Error(err)
			}
			continue
		}
		fits++
		for i := range m.Log {
			for _, v := range []float64{m.Log[i], m.StdErr[i], m.Worth[i], m.Nu, m.LogNu, m.NuErr, m.LogLik, m.Deviance, m.DevianceP, m.EqualP} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v", m)
				}
			}
		}
	}
	if fits < 50 {
		t.Errorf("only %d fits", fits)
	}
}
