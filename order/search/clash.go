package search

import (
	"fmt"
	"slices"
	"strings"

	"example.org/bookend/fault"
)

// Clash says which constraints do not go together; nil where some order keeps
// them all. Counts are compared first, since they say most; whatever they do not
// decide is decided by looking for an order, and by looking again with one rule
// left out at a time.
func (l *Layout) Clash() error {
	r := &l.Rules
	clash := func(hint string, rules ...string) error {
		return fault.New(fault.Invalid, "no order can keep all of: %s", strings.Join(rules, "; ")).WithHint("%s", hint)
	}
	ends := "the control opens and closes"
	if r.Blocks > 1 {
		ends = fmt.Sprintf("the control opens and closes each of %d blocks", r.Blocks)
	}
	controls := many(r.Total[0], "control stint")
	candidates := l.N() - r.Total[0]
	driven := many(candidates, "candidate stint")
	between := fmt.Sprintf("at most %d between two controls", r.MostBetween)

	if len(r.Done) > 0 {
		// Whatever was driven may have broken a rule: only looking tells.
		return l.clashByLooking(clash, controls, driven, ends, between)
	}
	if r.Blocks > l.N() {
		return clash("plan fewer blocks", many(r.Blocks, "block"), many(l.N(), "stint"))
	}
	if least := 2 * r.Blocks; !r.OpenEnds && r.Total[0] < least {
		return clash(fmt.Sprintf("plan at least %s", many(least, "control stint")), ends, controls)
	}
	if r.Blocks == 1 && r.Total[0] < r.LeastForFit {
		return clash("plan another control stint, or correct by bracket or straight line",
			fmt.Sprintf("a correction that needs %s", many(r.LeastForFit, "control stint")), controls)
	}
	for b, n := range l.Lengths {
		here := ""
		if r.Blocks > 1 {
			here = fmt.Sprintf(" in block %d", b+1)
		}
		driven := many(n-l.Control[b], "candidate stint") + here
		controls := many(l.Control[b], "control stint") + here
		gaps := l.Control[b] - 1
		if r.OpenEnds {
			gaps += 2
		}
		if r.MostBetween > 0 && n-l.Control[b] > gaps*r.MostBetween {
			need := (n-l.Control[b]+r.MostBetween-1)/r.MostBetween + 1
			if r.OpenEnds {
				need = max(1, need-2)
			}
			rules := []string{between, controls, driven}
			if !r.OpenEnds {
				rules = append(rules, ends)
			}
			return clash(fmt.Sprintf("plan %s%s, fewer repeats, or let more stand between", many(need, "control stint"), here), rules...)
		}
		if !r.SameTwice && n-l.Control[b] < l.Control[b]-1 {
			return clash("plan fewer control stints, or more repeats", "no code follows itself", controls, driven)
		}
	}
	if r.Reversed {
		for c := 2; c < len(r.Codes); c++ {
			if r.Total[c] != r.Total[1] {
				return clash("give every candidate as many stints, or do without reversed passes",
					"each pass through all candidates in reverse of the one before",
					fmt.Sprintf("%s has %s, %s has %d", r.Codes[1], many(r.Total[1], "stint"), r.Codes[c], r.Total[c]))
			}
		}
	}
	return l.clashByLooking(clash, controls, driven, ends, between)
}

// clashByLooking looks for an order, and where there is none, for one with a
// rule left out.
func (l *Layout) clashByLooking(clash func(hint string, rules ...string) error, controls, driven, ends, between string) error {
	if seq, sure := l.Any(nil, existsNodes); seq != nil || !sure {
		return nil
	}
	r := &l.Rules
	// Which rule alone stands in the way?
	rules := []string{controls, driven}
	var without []string
	try := func(rule, leave string, change func(r *Rules)) {
		rules = append(rules, rule)
		other := *r
		change(&other)
		if seq, _ := New(other).Any(nil, existsNodes); seq != nil {
			without = append(without, leave)
		}
	}
	if !r.OpenEnds {
		try(ends, "without the control at both ends", func(r *Rules) { r.OpenEnds = true })
	}
	if r.MostBetween > 0 {
		try(between, "with more between two controls", func(r *Rules) { r.MostBetween = 0 })
	}
	if !r.SameTwice {
		try("no code follows itself", "if a code may follow itself", func(r *Rules) { r.SameTwice = true })
	}
	if r.Reversed {
		try("each pass in reverse of the one before", "without reversed passes", func(r *Rules) { r.Reversed = false })
	}
	for extra := 1; extra <= 3; extra++ {
		other := *r
		other.Total = slices.Clone(r.Total)
		other.Total[0] += extra
		if seq, _ := New(other).Any(nil, existsNodes); seq != nil {
			without = append(without, fmt.Sprintf("with %s", many(other.Total[0], "control stint")))
			break
		}
	}
	hint := "leave out one of them"
	if len(without) > 0 {
		hint = "there is one " + strings.Join(without, ", or ")
	}
	return clash(hint, rules...)
}
