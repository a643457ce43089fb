package programme

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// Settings completes given settings by the Spec's defaults, in the Spec's order,
// and checks each against its range, its words and what it has to lie above. An
// unknown id, a value out of range or not finite, one not above what it has to be, and
// a word that is no choice are invalid.
func (s Spec) Settings(given Parameters) (Parameters, error) {
	out := make(Parameters, 0, len(s.Parameters))
	for _, g := range given {
		if !slices.ContainsFunc(s.Parameters, func(p Parameter) bool { return p.ID == g.ID }) {
			var ids []string
			for _, p := range s.Parameters {
				ids = append(ids, p.ID)
			}
			return nil, fault.New(fault.Invalid, "procedure %s has no parameter %q", s.ID, g.ID).
				WithHint("it has: %s", strings.Join(ids, ", "))
		}
	}
	for _, p := range s.Parameters {
		set := Setting{ID: p.ID, Number: p.Default}
		if len(p.Words) > 0 {
			set = Setting{ID: p.ID, Word: p.Words[0]}
		}
		for _, g := range given {
			if g.ID == p.ID {
				set = g
			}
		}
		switch {
		case len(p.Words) > 0:
			if !slices.Contains(p.Words, set.Word) {
				return nil, fault.New(fault.Invalid, "parameter %s: %q is no choice", p.ID, set.Word).
					WithHint("choose one of: %s", strings.Join(p.Words, ", "))
			}
		case math.IsNaN(set.Number) || set.Number < p.Low || set.Number > p.High:
			u := unit.MustParse(cmp.Or(p.Shown, p.Unit, "1"))
			in := func(v float64) string { return strconv.FormatFloat(u.FromHouse(v), 'g', 6, 64) }
			return nil, fault.New(fault.Invalid, "parameter %s: %s is outside %s to %s", p.ID, strings.TrimSpace(in(set.Number)+" "+strings.TrimPrefix(u.Symbol(), "1")), in(p.Low), in(p.High)).
				WithHint("see the procedure's help for what it means")
		}
		out = append(out, set)
	}
	for i, p := range s.Parameters {
		if p.Above == "" {
			continue
		}
		if low := out.Number(p.Above); out[i].Number <= low {
			u := unit.MustParse(cmp.Or(p.Shown, p.Unit, "1"))
			j := slices.IndexFunc(s.Parameters, func(o Parameter) bool { return o.ID == p.Above })
			return nil, fault.New(fault.Invalid, "parameter %s: %g %s is not above %s, %g", p.ID, u.FromHouse(out[i].Number), u.Symbol(), p.Above, u.FromHouse(low)).
				WithHint("%s lies above %s", strings.ToLower(p.Title), strings.ToLower(s.Parameters[j].Title))
		}
	}
	return out, nil
}

// Setting reads what was typed for a parameter: a quantity with its unit, a bare number
// where it has none, or one of its words. Whether it is in range is Settings' to say.
func (s Spec) Setting(id, text string) (Setting, error) {
	for _, p := range s.Parameters {
		if p.ID != id || len(p.Words) > 0 {
			continue
		}
		if v, err := strconv.ParseFloat(text, 64); err == nil && (p.Unit == "" || p.Unit == "1") {
			return Setting{ID: id, Number: v}, nil
		}
		v, u, err := unit.ParseQuantity(text)
		if err != nil {
			return Setting{}, err
		}
		house, err := unit.Parse(p.Unit)
		if err != nil {
			return Setting{}, err
		}
		number, err := unit.Convert(v, u, house)
		if err != nil {
			return Setting{}, err
		}
		return Setting{ID: id, Number: number}, nil
	}
	return Setting{ID: id, Word: text}, nil // a word, or unknown: Settings says so
}
