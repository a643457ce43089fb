package web

import (
	"net/http"
	"strconv"
	"strings"

	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// briefed is the body of the brief's page.
type briefed struct {
	Programme programme.Programme
	Tests     []briefedTest
	Sets      []programme.Set
}

type briefedTest struct {
	Title, Procedure, Surface string
	Settings                  []setting
	Measures                  []string
}

// brief shows what is compared, for whom, on what, and by which tests.
func (f *face) brief(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	pr := s.state.Programme
	body := briefed{Programme: pr, Sets: pr.Sets}
	for _, t := range s.state.Tests {
		b := briefedTest{Title: t.Test.Title, Procedure: t.Test.Procedure, Surface: t.Test.Surface}
		if t.Test.Procedure != "" {
			proc, err := p.Folder.Shelf.Procedure(t.Test.Procedure)
			if err != nil {
				return err
			}
			b.Settings = settings(proc.Spec(), t.Test.Parameters, unit.Style{Comma: lookOf(r).Comma})
		}
		if d, err := s.test(t.Test.ID); err == nil {
			for _, m := range d.Measures {
				b.Measures = append(b.Measures, m.Title)
			}
		}
		body.Tests = append(body.Tests, b)
	}
	v := frame{Body: body, Title: say("No question has been put yet")}
	if pr.Question != "" {
		v.Title = say(pr.Question)
	}
	v.Below = say(plural(len(body.Tests), "test"), ", ", plural(len(s.codes()), "code"), ".")
	f.around(&v, p, s, "Brief")
	return f.hand(w, r, http.StatusOK, "brief", v, nil)
}

// settings prints a procedure's settings with their titles, in the units that
// people set them in.
func settings(spec programme.Spec, set programme.Parameters, style unit.Style) []setting {
	var out []setting
	for _, x := range set {
		for _, d := range spec.Parameters {
			if d.ID != x.ID {
				continue
			}
			if x.Word != "" {
				out = append(out, setting{d.Title, x.Word})
				continue
			}
			v, symbol := x.Number, d.Unit
			from, ok := unit.Known(d.Unit)
			if to, known := unit.Known(d.Shown); ok && known && d.Shown != "" {
				if c, err := unit.Convert(v, from, to); err == nil {
					v, symbol = c, to.Symbol()
				}
			}
			if symbol == "1" {
				symbol = ""
			}
			text := strings.TrimSuffix(strings.TrimRight(unit.Number(v, 4, style), "0"), ".")
			out = append(out, setting{d.Title, strings.TrimSpace(strings.TrimSuffix(text, ",") + " " + symbol)})
		}
	}
	return out
}

// plural gives a number with its noun.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}
