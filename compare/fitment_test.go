package compare

import (
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/bookend/compare/fitment"
)

// onSets is a sequence whose stints name their sets: "K1 P1 K2 P2".
func onSets(seed uint64, sets string) []driven {
	r := rand.New(rand.NewPCG(seed, 3))
	var list []driven
	for _, s := range strings.Fields(sets) {
		d := driven{code: s[:1], values: []float64{7 + 0.3*float64(s[0]%3) + 0.05*r.NormFloat64()}}
		if len(s) > 1 {
			d.set = s
		}
		list = append(list, d)
	}
	return list
}

// What a verdict is about: two sets of each, with their difference in the
// error, or its size stated; a set fitted twice is one set.
func TestAboutWhat(t *testing.T) {
	sd := 0.01
	stated := Settings{SetSD: &sd, SetSDSource: "ten sets of one type, last winter"}
	for _, c := range []struct {
		name, sets string
		s          Settings
		carried    fitment.Carried
		about      About
		says       string
	}{
		{"one set of each, fitted again", "K1 P1 K1 P1 K1", Settings{}, fitment.Nowhere, TheseSets, "the sets driven: one set, fitted 2 times of P and one set, fitted 3 times of the control K"},
		{"a set of its own for every stint", "K1 P1 K2 P2 K3", Settings{}, fitment.InStints, ThisTyre, "2 sets of P and 3 sets of the control K"},
		{"two of the candidate, one of the control", "K1 P1 K1 P2 K1", Settings{Model: StintMeans}, fitment.InPart, TheseSets, "one set, fitted 3 times of the control"},
		{"two of the control, one of the candidate", "K1 P1 K2 P1 K3", Settings{Model: StintMeans}, fitment.InPart, TheseSets, "one set, fitted 2 times of P"},
		{"two of each, not told from the stints", "K1 P1 K2 P2 K1", Settings{Model: StintMeans}, fitment.InPart, TheseSets, "could not be told from the stints"},
		{"two of each, a term of their own", "K1 P1 K2 P2 K1 P1 K2 P2 K1", Settings{Drift: Linear}, fitment.InSets, ThisTyre, "2 sets, fitted 4 times of P"},
		{"sets without names", "K P K P K", Settings{}, fitment.Unknown, TheseSets, "not every stint names its set"},
		{"stated", "K1 P1 K1 P1 K1", stated, fitment.Stated, ThisTyre, "last winter"},
		{"stated, without names", "K P K P K", stated, fitment.Stated, ThisTyre, "0.01"},
		{"stated, and driven", "K1 P1 K2 P2 K3", stated, fitment.InStints, ThisTyre, "a set of its own"},
	} {
		r := mustCompare(t, Input{Log: logOf("deceleration", onSets(4, c.sets)), Measure: decel, Control: "K", Settings: c.s})
		v := r.row(t, "P").Verdict
		if r.Sets != c.carried || v.About != c.about || !strings.Contains(v.AboutWhy, c.says) || r.Sets.Words() == "" {
			t.Errorf("%s: %s, %s (%s)", c.name, r.Sets, v.About, v.AboutWhy)
		}
	}
}

// A stated set-to-set deviation is added once for each set, and shared where it
// is the control's; where the sets driven carry it already it is not added again.
func TestStatedSets(t *testing.T) {
	sd := 0.05
	list := onSets(8, "K1 P1 R1 K1 R1 P2 K1")
	se := func(s Settings) (p, r float64) {
		s.Model = StintMeans
		res := mustCompare(t, Input{Log: logOf("deceleration", list), Measure: decel, Control: "K", Settings: s})
		return *res.row(t, "P").SE, *res.row(t, "R").SE
	}
	p0, r0 := se(Settings{})
	p1, r1 := se(Settings{SetSD: &sd, SetSDSource: "stated"})
	if got := p1*p1 - p0*p0; !near(got, sd*sd*(1.0/2+1), 1e-9) {
		t.Errorf("P, two sets: %v", got)
	}
	if got := r1*r1 - r0*r0; !near(got, sd*sd*2, 1e-9) {
		t.Errorf("R, one set: %v", got)
	}
	for i := range list {
		list[i].set = list[i].code + string(rune('a'+i))
	}
	p2, _ := se(Settings{})
	p3, _ := se(Settings{SetSD: &sd, SetSDSource: "stated"})
	if p2 != p3 {
		t.Errorf("sets that the stints carry are added again: %v and %v", p2, p3)
	}
}

// A record names no sets: a variance borrowed from it makes no verdict about the
// tyre.
func TestRecordIsAboutTheseSets(t *testing.T) {
	rec, list := ground(rand.New(rand.NewPCG(2, 2)), 6, 4, 0.1, 0.1)
	for i := range list {
		list[i].set = list[i].code + string(rune('a'+i))
	}
	list = append(list, list[1], list[0])
	list[7].set, list[8].set = "P2", "K9"
	r := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Record: rec})
	if p := r.row(t, "P"); !r.Record.Used || p.Verdict.About != TheseSets || p.Alone.Verdict.About != ThisTyre {
		t.Errorf("with the record %s, alone %s", p.Verdict.AboutWhy, p.Alone.Verdict.AboutWhy)
	}
}
