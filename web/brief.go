package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/sight"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/brief"
	"example.org/bookend/web/brief/limits"
	"example.org/bookend/web/brief/plan"
	"example.org/bookend/web/form"
)

// briefed is the body of the brief's page.
type briefed struct {
	Programme programme.Programme
	Asks      string // what the vehicle asks of its tyres
	Tests     []briefedTest
	Sets      []brief.SetRow
	Over      []string // sets that are over what they are marked for
	Words     form.Form
	Set       form.Form
	Choose    brief.Choosing
	Test      *form.Form // nil: no test is asked for
	Plan      plan.Plan
	Limits    []limits.List // that entries of the run log are answered by
	Limiting  form.Form
	Wrong     string // what is wrong with what was typed, as a sentence
	List      any    // by which the script answers a size while it is typed
}

type briefedTest struct {
	ID, Title, Procedure, Surface string
	Otherwise, Usual              []setting // settings other than the procedure's own, and the rest
	Measures                      []string
	Change                        string // address of the form that changes it
}

// brief shows what is compared, for whom, on what, and by which tests.
func (f *face) brief(w http.ResponseWriter, r *http.Request) error {
	return f.briefWith(w, r, nil, nil)
}

// briefWith shows the brief; fill puts what was typed into the form that wrong is about.
func (f *face) briefWith(w http.ResponseWriter, r *http.Request, wrong error, fill func(*briefed, *seen)) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	pr, style, to, q := s.state.Programme, lookOf(r).style(), p.base()+"/brief", r.URL.Query()
	body := briefed{Programme: pr, Asks: brief.Asks(s.state.BriefOf(), style), Sets: brief.Sets(s.state, to), Over: brief.Over(s.state), List: app.SidewallList()}
	if body.Plan.Form, err = plan.Draft(s.state, measuredBy(p, s), to, s.opener()); err != nil {
		return err
	}
	frozen := ""
	if n := len(s.state.Plans); n > 0 {
		if body.Plan.Frozen, err = plan.Spell(&s.state.Plans[n-1].Plan, s.state, measuredBy(p, s)); err != nil {
			return err
		}
		for _, x := range s.state.Plans[1:] {
			body.Plan.Amended = append(body.Plan.Amended, x.Reason)
		}
		frozen = "A plan is frozen: first measures, margins and rules stand in it, and another question does not change them. Whatever is judged otherwise is listed in the report."
	}
	body.Words = brief.Words(s.state.BriefOf(), to, frozen, style)
	body.Set = brief.SetForm(s.state, to, q.Get("set"))
	body.Limits, body.Limiting = limits.Shown(s.state, to, style), limits.Form(s.state, to, q.Get("limits"), style)
	body.Choose = brief.Choose(s.state, p.Folder.Shelf, to, q)
	switch x, ok, err := brief.TestForm(s.state, p.Folder.Shelf, to, q, style); {
	case err != nil:
		return err
	case ok:
		body.Test = &x
	}
	for _, t := range s.state.Tests {
		b := briefedTest{ID: t.Test.ID, Title: t.Test.Title, Procedure: t.Test.Procedure, Surface: t.Test.Surface, Change: to + "?" + url.Values{"test": {t.Test.ID}}.Encode() + "#test"}
		if t.Test.Procedure != "" {
			proc, err := p.Folder.Shelf.Procedure(t.Test.Procedure)
			if err != nil {
				return err
			}
			b.Procedure = proc.Spec().Title
			usual, err := proc.Spec().Settings(nil)
			if err != nil {
				return err
			}
			for _, x := range t.Test.Parameters {
				if slices.Contains(usual, x) {
					b.Usual = append(b.Usual, settings(proc.Spec(), programme.Parameters{x}, style)...)
				} else {
					b.Otherwise = append(b.Otherwise, settings(proc.Spec(), programme.Parameters{x}, style)...)
				}
			}
		}
		for _, m := range measuredBy(p, s)(t.Test.ID) {
			b.Measures = append(b.Measures, m.Title)
		}
		body.Tests = append(body.Tests, b)
	}
	v := frame{Title: say("No question has been put yet"), Scripts: []string{"brief.js"}}
	if pr.Question != "" {
		v.Title = say(pr.Question)
	}
	v.Below = say(unit.Count(len(body.Tests), "test"), ", ", unit.Count(len(s.codes()), "code"), ".")
	status := http.StatusOK
	if wrong != nil {
		status = statuses[fault.CodeOf(wrong)]
		v.Title, v.Below = say(form.Sentence(wrong.Error())), say(form.Sentence(fault.HintOf(wrong)))
	}
	if fill != nil {
		fill(&body, s)
	}
	if body.Wrong != "" {
		v.Title = say(body.Wrong)
	}
	if body.Plan.Look != nil {
		v.Title, v.Below = say("The plan as it would be frozen"), say("Nothing is kept yet. Freeze it below, or go on typing.")
	}
	v.Body = body
	f.around(&v, p, s, "Brief")
	return f.hand(w, r, status, "brief", v, nil)
}

// measuredBy gives the measures of a test: its procedure's, or those that were brought in.
func measuredBy(p Programme, s *seen) plan.Measured {
	return func(test string) []programme.Measure {
		if t, err := s.state.Test(test); err == nil && t.Test.Procedure != "" {
			if proc, err := p.Folder.Shelf.Procedure(t.Test.Procedure); err == nil {
				return proc.Spec().Measures
			}
		}
		if d, err := s.test(test); err == nil {
			return d.Measures
		}
		return nil
	}
}

// putPlan looks a plan through, or freezes the one that was looked through.
func (f *face) putPlan(w http.ResponseWriter, r *http.Request) error {
	var look *plan.Spelled
	err := f.briefing(w, r, "#plan", func(p Programme, s *seen) error {
		drafted, err := plan.Read(s.state, measuredBy(p, s), r.PostForm)
		if err != nil {
			return err
		}
		x, err := plan.Spell(drafted, s.state, measuredBy(p, s))
		if err != nil {
			return err
		}
		if r.PostForm.Get("do") != "freeze" || r.PostForm.Get("looked") != x.SHA256 {
			look = x
			return errLook
		}
		_, _, err = p.Folder.FreezePlan(r.Context(), drafted, r.PostForm.Get("reason"))
		return err
	}, func(b *briefed, _ *seen, err error) {
		b.Plan.Form.Filled(r.PostForm)
		b.Wrong = b.Plan.Form.Blame(err)
	})
	if err != errLook {
		return err
	}
	return f.briefWith(w, r, nil, func(b *briefed, _ *seen) {
		b.Plan.Form.Filled(r.PostForm)
		b.Plan.Look, b.Plan.Form.Open, b.Plan.Form.Unsent = look, true, true
		b.Plan.Form.Kept["looked"], b.Plan.Form.Also = look.SHA256, "Freeze this plan"
	})
}

// putLimits sets the limits that entries of the run log are answered by.
func (f *face) putLimits(w http.ResponseWriter, r *http.Request) error {
	return f.briefing(w, r, "#limits", func(p Programme, s *seen) error {
		x, changed, err := limits.Read(s.state, r.PostForm, lookOf(r).style())
		if err != nil || !changed {
			return err
		}
		return p.Folder.SetLimits(r.Context(), x)
	}, func(b *briefed, s *seen, err error) {
		b.Limiting = limits.Form(s.state, b.Words.To, r.PostForm.Get("scope"), lookOf(r).style())
		b.Limiting.Filled(r.PostForm)
		b.Wrong = b.Limiting.Blame(err)
	})
}

// errLook says that a plan is to be looked through before it is frozen.
var errLook = fault.New(fault.Internal, "the plan is looked through")

// briefing answers a form of the brief's page: change does what was asked for. What is
// refused comes back in its form as it was typed; what went wrong within bookend does not.
func (f *face) briefing(w http.ResponseWriter, r *http.Request, at string, change func(Programme, *seen) error, fill func(*briefed, *seen, error)) error {
	if g, err := f.who(r, sight.Plan, sight.SetRecords); err != nil || !writes(g.Role) {
		return forbidden("change the brief")
	}
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	if err := readForm(r); err != nil {
		return err
	}
	err = change(p, s)
	if err != nil {
		if fault.CodeOf(err) == fault.Internal {
			return err
		}
		return f.briefWith(w, r, err, func(b *briefed, s *seen) { fill(b, s, err) })
	}
	http.Redirect(w, r, p.base()+"/brief"+at, http.StatusSeeOther)
	return nil
}

// toBrief leads from the address of one of its forms to the brief.
func (f *face) toBrief(w http.ResponseWriter, r *http.Request) error {
	p, err := f.find(r.Context(), r.PathValue("programme"))
	if err == nil {
		http.Redirect(w, r, p.base()+"/brief", http.StatusSeeOther)
	}
	return err
}

// rewrite puts another brief in the place of the one that stands.
func (f *face) rewrite(w http.ResponseWriter, r *http.Request) error {
	return f.briefing(w, r, "", func(p Programme, s *seen) error {
		b, err := brief.ReadWords(r.PostForm, s.state.BriefOf(), lookOf(r).style())
		if err != nil {
			return err
		}
		return p.Folder.Rewrite(r.Context(), b)
	}, func(b *briefed, _ *seen, err error) {
		b.Words.Filled(r.PostForm)
		b.Wrong = b.Words.Blame(err)
	})
}

// putSet puts a tyre set into the programme, changes one, or takes one away.
func (f *face) putSet(w http.ResponseWriter, r *http.Request) error {
	return f.briefing(w, r, "#sets", func(p Programme, s *seen) error {
		was, set := brief.ReadSet(s.state, r.PostForm)
		if r.PostForm.Get("do") == "away" {
			return p.Folder.TakeSet(r.Context(), was)
		}
		return p.Folder.PutSet(r.Context(), was, set)
	}, func(b *briefed, s *seen, err error) {
		b.Set = brief.SetForm(s.state, b.Words.To, r.PostForm.Get("was"))
		brief.Retype(&b.Set, s.state, r.PostForm)
		b.Wrong = b.Set.Blame(err)
	})
}

// putTest begins a test, or changes what one is.
func (f *face) putTest(w http.ResponseWriter, r *http.Request) error {
	return f.briefing(w, r, "#tests", func(p Programme, s *seen) error {
		q, err := brief.ReadTest(s.state, p.Folder.Shelf, r.PostForm, lookOf(r).style())
		if err != nil {
			return err
		}
		return p.Folder.SetTest(r.Context(), q)
	}, func(b *briefed, s *seen, err error) {
		p, e := f.find(r.Context(), r.PathValue("programme"))
		if e != nil {
			return
		}
		if x, ok, e := brief.TestForm(s.state, p.Folder.Shelf, b.Words.To, r.PostForm, lookOf(r).style()); e == nil && ok {
			x.Filled(r.PostForm)
			b.Wrong = x.Blame(err)
			b.Test = &x
		}
	})
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
				out = append(out, setting{d.Title, strings.ReplaceAll(x.Word, "_", " ")})
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
