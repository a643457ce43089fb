package report

import (
	"slices"
	"strings"

	"example.org/bookend/compare"
)

// Plan is how a test stands to the plan that was frozen before it was driven.
type Plan struct {
	SHA256  string
	Frozen  string // when, as it is printed; empty where it is not known
	Person  string
	Late    string // why it was not fixed before the first candidate; else empty
	Look    string // which look at the verdicts this is
	Lines   [][2]string
	Changes []Change
}

// Change is one thing that was done otherwise than planned.
type Change struct {
	What, Planned, Used string
	Reason, Person, At  string
	After               bool // after a verdict had been opened
}

// plans says what was planned, what was done otherwise, and what the planned
// verdicts are beside those given.
func (b *builder) plans() {
	any, changed := false, 0
	for _, t := range b.tests {
		if t.Plan != nil {
			any = true
			changed += len(t.Plan.Changes)
		}
	}
	s := Section{ID: "plan", Short: "Plan"}
	if !any {
		s.Title = say("No plan was frozen: read the verdicts as found after the fact")
		s.Blocks = []Block{{Text: say("A plan frozen before the first candidate is driven fixes measure, margin, sides, correction and the reasons that leave runs out. Without one, a reader cannot know whether they were chosen with the results in view.")}}
		b.section(s)
		return
	}
	switch changed {
	case 0:
		s.Title = say("The verdicts follow the frozen plan")
	case 1:
		s.Title = say("One thing was done otherwise than planned; the planned verdicts stand beside")
	default:
		s.Title = say(upper(words(changed)) + " things were done otherwise than planned; the planned verdicts stand beside")
	}
	s.Blocks = append(s.Blocks, b.planned()...)
	for i := range b.tests {
		t := &b.tests[i]
		p := t.Plan
		name := ""
		if len(b.tests) > 1 {
			name = ", " + t.name(i)
		}
		if p == nil {
			s.Blocks = append(s.Blocks, Block{Text: say("No plan is frozen for " + t.name(i) + ".")})
			continue
		}
		if len(p.Changes) == 0 {
			continue
		}
		ch := Table{ID: t.id + "-changes", Caption: say("What was done otherwise" + name), Columns: heads("what", "planned", "done", "reason", "by", "when")}
		for _, c := range p.Changes {
			when := c.At
			if when == "" {
				when = "not told"
			}
			if c.After {
				when += ", after a verdict had been opened"
			}
			what := say(strings.ReplaceAll(c.What, "_", " "))
			if id, ok := strings.CutPrefix(c.What, "run "); ok {
				what = say("run ", link(id, t.runTo(id)))
			}
			reason := cell(c.Reason)
			if c.Reason == "" {
				reason = cell(em("none given"))
			}
			ch.Rows = append(ch.Rows, Row{Cells: []Cell{{Text: what, Head: true}, cell(strings.ReplaceAll(c.Planned, "_", " ")),
				cell(strings.ReplaceAll(c.Used, "_", " ")), reason, cell(c.Person), cell(when)}})
		}
		s.Blocks = append(s.Blocks, Block{Table: &ch})
	}
	w := Table{ID: "plan-effect", Caption: say("Verdicts as planned and as given"), Columns: heads("measure", "", "as planned", "#index or difference", "as given", "#index or difference")}
	for i := range b.tests {
		for j := range b.tests[i].measures {
			b.beside(&w, &b.tests[i].measures[j])
		}
	}
	if len(w.Rows) > 0 {
		s.Blocks = append(s.Blocks, Block{Table: &w})
	}
	b.section(s)
}

// planned says what was planned: what all tests share once, the rest test by test.
func (b *builder) planned() []Block {
	var out []Block
	var with []int
	said := map[string]bool{}
	for i := range b.tests {
		p := b.tests[i].Plan
		if p == nil {
			continue
		}
		with = append(with, i)
		if key := p.SHA256 + p.Look + p.Late; !said[key] {
			said[key] = true
			lead := say("The plan")
			if p.Frozen != "" {
				lead = say(lead, " was frozen "+p.Frozen+" by "+p.Person+" and")
			}
			look := p.Look
			if look == "at the end" {
				look = "the look at the end"
			}
			lead = say(lead, " has the SHA-256 ", Span{Text: p.SHA256, As: Sum}, ". This is "+look+".")
			if p.Late != "" {
				lead = say(lead, " ", strong("It came late: "+p.Late+"."))
			}
			out = append(out, Block{Text: lead})
		}
	}
	shared := func(l [2]string) bool {
		for _, i := range with {
			if !slices.Contains(b.tests[i].Plan.Lines, l) {
				return false
			}
		}
		return true
	}
	all := Table{ID: "plan-shared", Caption: say("What was planned"), Columns: heads("what", "plan")}
	each := Table{ID: "plan-each", Caption: say("What was planned test by test"), Columns: heads("test", "what", "plan")}
	for n, i := range with {
		first := true
		for _, l := range b.tests[i].Plan.Lines {
			if shared(l) {
				if n == 0 {
					all.Rows = append(all.Rows, Row{Cells: []Cell{{Text: say(l[0]), Head: true}, cell(l[1])}})
				}
				continue
			}
			name := ""
			if first {
				name = b.tests[i].name(i)
			}
			each.Rows = append(each.Rows, Row{Group: first && len(each.Rows) > 0, Cells: []Cell{{Text: say(name), Head: true}, cell(l[0]), cell(l[1])}})
			first = false
		}
	}
	for _, t := range []*Table{&all, &each} {
		if len(t.Rows) > 0 {
			out = append(out, Block{Table: t})
		}
	}
	return out
}

// beside sets the planned verdicts of a measure beside those given.
func (b *builder) beside(w *Table, m *measured) {
	if m.r == nil || m.planned == nil && m.planFailed == "" || m.r.Alike != nil && m.planned != nil && m.planned.Alike != nil {
		return
	}
	for k, row := range m.rows {
		r := Row{Group: k == 0 && len(w.Rows) > 0}
		if k == 0 {
			r.Cells = append(r.Cells, Cell{Text: say(link(b.named(m), m.id)), Head: true, Rows: len(m.rows)})
		}
		r.Cells = append(r.Cells, cell(code(row.Code)))
		given := say(row.Verdict.Word.String())
		if m.planned == nil {
			r.Cells = append(r.Cells, cell(em("no comparison: "+m.planFailed)), cell("none"))
		} else if at := slices.IndexFunc(m.planned.Rows, func(x compare.Row) bool { return x.Code == row.Code }); at < 0 {
			r.Cells = append(r.Cells, cell(em("not driven")), cell("none"))
		} else {
			x := &m.planned.Rows[at]
			r.Cells = append(r.Cells, cell(x.Verdict.Word.String()), cell(b.full(m, x)))
			if x.Verdict.Word != row.Verdict.Word {
				given = say(strong(row.Verdict.Word.String()), " (another verdict)")
			}
		}
		r.Cells = append(r.Cells, Cell{Text: given}, cell(b.full(m, row)))
		w.Rows = append(w.Rows, r)
	}
}

// plannedSaid says on the first page how the verdicts stand to the plan.
func (b *builder) plannedSaid() Text {
	any, changed, late := false, 0, false
	for _, t := range b.tests {
		if t.Plan != nil {
			any, late = true, late || t.Plan.Late != ""
			changed += len(t.Plan.Changes)
		}
	}
	switch {
	case !any:
		return say("No ", link("plan", "plan"), " was frozen before the first candidate was driven.")
	case changed > 0:
		return say("Otherwise than ", link("planned", "plan"), ": "+count(changed, "change")+"; the planned verdicts stand beside.")
	case late:
		return say("They follow a ", link("plan", "plan"), " that came late.")
	}
	return say("They follow the ", link("frozen plan", "plan"), ".")
}
