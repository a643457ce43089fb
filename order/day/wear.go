package day

import (
	"fmt"
	"math"

	"example.org/bookend/fault"
)

// Wear is the wear budget of a set. Lengths in m of tread depth.
type Wear struct {
	RunM        float64 // worn by a run
	WarmUpM     float64 // by a warm-up
	MostM       float64 // that a set may lose
	Sets        int     // of each candidate; default 1
	ControlSets int     // default 1
}

// Use is what one set is worn by in a plan.
type Use struct {
	Set    string
	Code   string
	Stints int
	Runs   int
	WornM  float64
	LeftM  float64
}

func (w Wear) complete() Wear {
	if w.Sets == 0 {
		w.Sets = 1
	}
	if w.ControlSets == 0 {
		w.ControlSets = 1
	}
	return w
}

func (w Wear) check() error {
	for _, v := range []float64{w.RunM, w.WarmUpM, w.MostM} {
		if !(v >= 0) || !finite(v) {
			return fault.New(fault.Invalid, "a figure of the wear budget is %v m", v).WithHint("give depths of 0 or more")
		}
	}
	if w.Sets < 1 || w.ControlSets < 1 {
		return fault.New(fault.Invalid, "there are %d sets a candidate and %d of the control", w.Sets, w.ControlSets).WithHint("at least one of each")
	}
	return nil
}

// perStint gives what a stint wears a set by.
func (w Wear) perStint(runs int) float64 { return w.WarmUpM + float64(runs)*w.RunM }

// StintsOf gives how many stints a set lasts; the second result is false where
// it does not wear.
func (w Wear) StintsOf(runs int) (int, bool) {
	each := w.perStint(runs)
	if each == 0 {
		return 0, false
	}
	return int(math.Floor(w.MostM/each + 1e-9)), true
}

// SetsFor gives how many sets so many stints need; 0 where one stint is more
// than a set may lose.
func (w Wear) SetsFor(stints, runs int) int {
	n, wears := w.StintsOf(runs)
	if !wears {
		return 1
	}
	if n == 0 {
		return 0
	}
	return (stints + n - 1) / n
}

// Assign gives each stint its set, in rotation, and what each set is worn by. A
// set over its budget is a clash. Codes are of the stints, the control among
// them; used is what sets have lost before, by name, in m.
func (w Wear) Assign(stints []string, control string, runs int, used map[string]float64) (sets []string, uses []Use, err error) {
	w = w.complete()
	if err := w.check(); err != nil {
		return nil, nil, err
	}
	total, done := map[string]int{}, map[string]int{}
	var codes []string
	for _, c := range stints {
		if total[c] == 0 {
			codes = append(codes, c)
		}
		total[c]++
	}
	n := func(code string) int {
		if code == control {
			return min(w.ControlSets, total[code])
		}
		return min(w.Sets, total[code])
	}
	at := map[string]int{}
	for _, code := range codes {
		for s := range n(code) {
			name := fmt.Sprintf("%s%d", code, s+1)
			at[name] = len(uses)
			uses = append(uses, Use{Set: name, Code: code, WornM: used[name], LeftM: w.MostM - used[name]})
		}
	}
	for _, c := range stints {
		name := fmt.Sprintf("%s%d", c, done[c]%n(c)+1)
		done[c]++
		sets = append(sets, name)
		u := &uses[at[name]]
		u.Stints++
		u.Runs += runs
		u.WornM += w.perStint(runs)
		u.LeftM = w.MostM - u.WornM
	}
	if w.MostM == 0 && w.perStint(runs) == 0 {
		return sets, nil, nil // no budget: sets alone
	}
	for _, u := range uses {
		if u.WornM > w.MostM*(1+1e-9) {
			n, _ := w.StintsOf(runs)
			hint := fmt.Sprintf("a set lasts %d stints of %d runs: plan more sets, or fewer runs or repeats", n, runs)
			if n == 0 {
				hint = fmt.Sprintf("not even one stint of %d runs is within the budget: plan fewer runs", runs)
			}
			return nil, nil, fault.New(fault.Invalid, "set %s cannot keep all of: %d stints of %d runs; %.2f mm a run and %.2f mm a warm-up; at most %.2f mm",
				u.Set, u.Stints, runs, w.RunM*1e3, w.WarmUpM*1e3, w.MostM*1e3).WithHint("%s", hint)
		}
	}
	return sets, uses, nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
