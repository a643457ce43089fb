package web

import (
	"net/http"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/sight"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// briefed is the body of the brief's page.
type briefed struct {
	Programme programme.Programme
	Tests     []briefedTest
	Sets      []programme.Set
	To        string // address that takes another brief
	Frozen    string // says that a plan is frozen; empty: none is
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
	body := briefed{Programme: pr, Sets: pr.Sets, To: p.base() + "/brief"}
	if n := len(s.state.Plans); n > 0 {
		body.Frozen = "A plan is frozen: first measures, margins and rules stand in it, and another question does not change them. Whatever is judged otherwise is listed in the report."
	}
	for _, t := range s.state.Tests {
		b := briefedTest{Title: t.Test.Title, Procedure: t.Test.Procedure, Surface: t.Test.Surface}
		if t.Test.Procedure != "" {
			proc, err := p.Folder.Shelf.Procedure(t.Test.Procedure)
			if err != nil {
				return err
			}
			b.Settings = settings(proc.Spec(), t.Test.Parameters, lookOf(r).style())
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

// rewrite puts another brief in the place of the one that stands.
func (f *face) rewrite(w http.ResponseWriter, r *http.Request) error {
	if g, err := f.who(r, sight.Plan, sight.SetRecords); err != nil || !writes(g.Role) {
		return forbidden("change the brief")
	}
	p, _, err := f.opened(r)
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return fault.New(fault.Invalid, "reading the form: %w", err)
	}
	q := r.PostForm
	err = p.Folder.Rewrite(r.Context(), app.Brief{Title: q.Get("title"), Client: q.Get("client"), Ground: q.Get("ground"), Zone: q.Get("zone"), Vehicle: q.Get("vehicle"), Question: q.Get("question")})
	if err != nil {
		return err
	}
	http.Redirect(w, r, p.base()+"/brief", http.StatusSeeOther)
	return nil
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
			if u, ok := unit.Known(symbol); ok && style.Of(u) != u {
				if c, err := unit.Convert(v, u, style.Of(u)); err == nil {
					v, symbol = c, style.Of(u).Symbol()
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
