package day

import "slices"

// Driven is what of a test counts as driven, for planning the rest anew.
type Driven struct {
	Codes []string // in the order driven, blocks divided by "/"
	Fresh bool     // what comes next begins a block of its own
	Lost  []string // codes of which no set is left
}

// Driven gives what of a test counts as driven: stints of which a run counts.
// What is held does not count yet.
func (v *View) Driven(test string) Driven {
	var d Driven
	for _, b := range v.Blocks(test) {
		any := false
		for _, s := range b.Stints {
			if !slices.ContainsFunc(s.Runs, func(r *Run) bool { return r.LeftOut == "" && len(r.HeldBy) == 0 }) {
				continue
			}
			if !any && len(d.Codes) > 0 {
				d.Codes = append(d.Codes, "/")
			}
			any = true
			d.Codes = append(d.Codes, s.Code)
		}
	}
	for _, i := range v.Incidents {
		if i.What == "lost_set" || i.Test != test && !everywhere(i.What) {
			continue
		}
		if i.Release == nil {
			d.Fresh = true // nobody has said yet that the block goes on
			continue
		}
		next := slices.ContainsFunc(v.Of(test), func(s *Stint) bool { return s.broken && s.When >= i.When })
		d.Fresh = d.Fresh || i.Release.Outcome == "break" && !next
	}
	sets, lost := map[string]int{}, map[string]int{}
	for _, s := range v.Sets {
		code := s.Code
		for _, st := range v.Stints {
			if code == "" && st.Set == s.ID {
				code = st.Code
			}
		}
		if code == "" {
			continue
		}
		sets[code]++
		if s.Lost {
			lost[code]++
		}
	}
	for _, code := range slices.Sorted(keys(lost)) {
		if lost[code] == sets[code] {
			d.Lost = append(d.Lost, code)
		}
	}
	return d
}
