package advice_test

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/advice"
	"example.org/bookend/order/drift"
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatalf("%v (%s)", err, fault.HintOf(err))
	}
}

func state(driven string) advice.State {
	r := order.Request{Control: "K", MostBetween: 3, Correction: drift.Bracket}
	for _, c := range []string{"P", "R", "T"} {
		r.Candidates = append(r.Candidates, order.Candidate{Code: c, Repeats: 1})
	}
	s := advice.State{Request: r, MostStints: -1, SD: 0.01, DF: 4}
	for _, b := range strings.Fields(driven) {
		s.Blocks = append(s.Blocks, strings.Split(b, ""))
	}
	return s
}

// What is said after so many stints, with the reason's words.
func TestNext(t *testing.T) {
	for _, c := range []struct {
		name   string
		driven string
		change func(*advice.State)
		next   advice.Kind
		code   string
		word   string
	}{
		{"nothing yet", "", nil, advice.Control, "K", "opens"},
		{"the control has opened", "K", nil, advice.Candidate, "P", "first stint"},
		{"three between", "KPRT", nil, advice.Control, "K", "no more may stand between"},
		{"time for one more", "KPRTKP", func(s *advice.State) { s.MostStints = 1 }, advice.Control, "K", "nothing else is left"},
		{"no time", "KPRTK", func(s *advice.State) { s.MostStints = 1 }, advice.Stop, "", "Time"},
		{"open without time", "KPRTKP", func(s *advice.State) { s.MostStints = 0 }, advice.Stop, "", "stays open"},
		{"something shown already", "KPRKTK", nil, advice.Candidate, "", "lowers the smallest difference"},
		{"worn sets", "KPRTK", func(s *advice.State) { s.Left = map[string]int{"P": 0, "T": 0} }, advice.Candidate, "R", "repeat"},
		{"all worn", "KPRTK", func(s *advice.State) { s.Left = map[string]int{"P": 0, "R": 0, "T": 0} }, advice.Stop, "", "wear"},
		{"held", "KPRKPK", func(s *advice.State) { s.Held = []string{"T"} }, advice.Candidate, "R", "repeat"},
		{"plan at its end", "KPRTKTRPK", func(s *advice.State) { s.Planned = 9 }, advice.Stop, "", "to its end"},
		{"control moved", "KPRTK", func(s *advice.State) { s.Check = &advice.Check{Moved: true, Text: "it is far off"} }, advice.Wait, "", "Look for the reason first"},
		{"all decided", "KPRTK", func(s *advice.State) { s.Decided = []string{"P", "R", "T"} }, advice.Stop, "", "decided"},
		{"new block", "KPRTK K", nil, advice.Candidate, "", ""},
	} {
		s := state(c.driven)
		if c.change != nil {
			c.change(&s)
		}
		a, err := advice.New().After(s)
		must(t, err)
		if a.Next != c.next || c.code != "" && a.Code != c.code || !strings.Contains(a.Reason, c.word) {
			t.Errorf("%s: %s %s: %s", c.name, a.Next, a.Code, a.Reason)
		}
		for _, word := range []string{"fast", "push", "quick", "speed"} {
			if strings.Contains(strings.ToLower(a.Reason), word) {
				t.Errorf("%s: %q", c.name, a.Reason)
			}
		}
	}
}

// "Stop" for certainty is said at a look of the plan and nowhere else, however
// small the scatter.
func TestStopsForCertaintyAtLooksAlone(t *testing.T) {
	s := state("KPRTKTRPK")
	s.Request.Test.Wanted = 10
	a, err := advice.New().After(s)
	must(t, err)
	if a.Next == advice.Stop || a.Largest == nil || *a.Largest >= 10 {
		t.Errorf("%s: %s", a.Next, a.Reason)
	}
	s.Looks = []advice.Look{{Stints: 9, Level: 0.02}}
	b, err := advice.New().After(s)
	must(t, err)
	if b.Next != advice.Stop || b.Look == nil || !strings.Contains(b.Reason, "look 1") {
		t.Errorf("%s: %s", b.Next, b.Reason)
	}
	// The level of the look is stricter: less can be shown.
	if !(*b.Largest > *a.Largest) {
		t.Errorf("%v at 2 %%, %v at 5 %%", *b.Largest, *a.Largest)
	}
	s.Request.Test.Wanted = 1e-6
	if b, err = advice.New().After(s); err != nil || b.Next != advice.Candidate {
		t.Errorf("%v %v", b, err)
	}
}

// What is said to be shown is what package order computes, and the gain is what
// the stints bring.
func TestGain(t *testing.T) {
	s := state("KPRKTKPRK")
	a, err := advice.New().After(s)
	must(t, err)
	now, err := order.ShowableBy(s.Request, s.Blocks, 0.05, 0)
	must(t, err)
	if math.Abs(*a.Largest-0.01*now.Largest([]string{"P", "R", "T"})) > 1e-12 {
		t.Errorf("%v", *a.Largest)
	}
	if a.Code != "T" {
		t.Errorf("%s: %s", a.Code, a.Reason)
	}
	found := false
	for _, o := range a.Options {
		if o.Code == "T" && o.Kind == advice.Candidate {
			found = true
			if g := (*a.Largest - o.After) / float64(o.Stints); math.Abs(g-o.Gain) > 1e-15 || !(g > 0) {
				t.Errorf("%+v of %v", o, *a.Largest)
			}
		}
	}
	if !found {
		t.Errorf("%+v", a.Options)
	}
	// A record makes more showable, and an open bracket shows nothing of its code.
	s.RecordSD, s.RecordDF = 0.01, 20
	b, err := advice.New().After(s)
	must(t, err)
	if !(*b.Largest < *a.Largest) {
		t.Errorf("with a record %v, without %v", *b.Largest, *a.Largest)
	}
	s = state("KPRKT")
	c, err := advice.New().After(s)
	must(t, err)
	for _, v := range c.Now {
		if v.Code == "T" && (!v.Open || v.Value != nil) {
			t.Errorf("%+v", v)
		}
	}
}

// Following the advice keeps the rules of the order and ends.
func TestFollowed(t *testing.T) {
	a := advice.New()
	s := state("K")
	s.Planned = 21
	s.MostStints = 22
	for range 40 {
		v, err := a.After(s)
		must(t, err)
		if v.Next == advice.Stop {
			break
		}
		code := v.Code
		s.Blocks[0] = append(s.Blocks[0], code)
		s.MostStints--
	}
	text := strings.Join(s.Blocks[0], "")
	if !strings.HasSuffix(text, "K") || len(text) > 23 || len(text) < 18 {
		t.Errorf("%s", text)
	}
	for _, c := range []string{"P", "R", "T"} {
		if n := strings.Count(text, c); n < 3 || n > 6 {
			t.Errorf("%s: %s is driven %d times", text, c, n)
		}
	}
	for _, part := range strings.Split(text, "K") {
		if len(part) > 3 {
			t.Errorf("%s: four between controls", text)
		}
	}
}

// The check of the control, by hand: against one control the limit is the 99 %
// point of t times the deviation of a difference of two stints.
func TestCheckControl(t *testing.T) {
	// t(0.995; 10) is 3.16927 (any table of Student's t).
	c, err := advice.CheckControl([]advice.Point{{1, 5}, {5, 5.4}}, 0.1, 10, 0)
	must(t, err)
	if want := 3.16927 * 0.1 * math.Sqrt2; math.Abs(c.Limit-want) > 1e-5 || c.Moved {
		t.Errorf("%+v, want %v", c, want)
	}
	if c, err = advice.CheckControl([]advice.Point{{1, 5}, {5, 5.5}}, 0.1, 10, 0); err != nil || !c.Moved {
		t.Errorf("%+v", c)
	}
	// A straight drift is no movement, a step off it is.
	line := []advice.Point{{1, 1}, {4, 1.3}, {7, 1.6}, {10, 1.9}}
	if c, err = advice.CheckControl(line, 0.01, 10, 0); err != nil || c.Moved || math.Abs(c.Expected-1.9) > 1e-12 {
		t.Errorf("%+v", c)
	}
	line[3].Mean = 2.1
	if c, err = advice.CheckControl(line, 0.01, 10, 0); err != nil || !c.Moved {
		t.Errorf("%+v", c)
	}
	if c, err = advice.CheckControl(line[:1], 0.01, 10, 0); err != nil || c != nil {
		t.Errorf("%+v", c)
	}
	if _, err = advice.CheckControl([]advice.Point{{1, math.NaN()}}, 0.1, 10, 0); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	// F(0.95; 4, 20) is 2.8661 (any table of F).
	if s := advice.CheckScatter(0.17, 4, 0.1, 20); s.Odd != (2.89 > 2.8661) || math.Abs(s.Limit-2.8661) > 1e-4 {
		t.Errorf("%+v", s)
	}
}

func TestBadStates(t *testing.T) {
	for _, change := range []func(*advice.State){
		func(s *advice.State) { s.SD = math.NaN() },
		func(s *advice.State) { s.Looks = []advice.Look{{Stints: 5, Level: 0}} },
		func(s *advice.State) { s.Looks = []advice.Look{{5, 0.01}, {5, 0.01}} },
	} {
		s := state("KPK")
		change(&s)
		if _, err := advice.New().After(s); fault.CodeOf(err) != fault.Invalid {
			t.Error(err)
		}
	}
	if _, err := advice.New().After(state("KXK")); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
}
