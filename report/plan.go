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
		lead := say("The plan")
		if p.Frozen != "" {
			lead = say(lead, " was frozen "+p.Frozen+" by "+p.Person+" and")
		}
		lead = say(lead, " has the SHA-256 ", Span{Text: p.SHA256, As: Sum}, ". This is "+p.Look+".")
		if p.Look == "at the end" {
			lead = say(lead[:len(lead)-1], ". This is the look at the end.")
		}
		if p.Late != "" {
			lead = say(lead, " ", strong("It came late: "+p.Late+"."))
		}
		s.Blocks = append(s.Blocks, Block{Text: lead})
		tab := Table{ID: t.id + "-plan", Caption: say("What was planned" + name), Columns: heads("what", "plan")}
		for _, l := range p.Lines {
			tab.Rows = append(tab.Rows, Row{Cells: []Cell{{Text: say(l[0]), Head: true}, cell(l[1])}})
		}
		s.Blocks = append(s.Blocks, Block{Table: &tab})
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

// beside sets the planned verdicts of a measure beside those given.
func (b *builder) beside(w *Table, m *measured) {
	if m.r == nil || m.planned == nil && m.planFailed == "" {
		return
	}
	for k, row := range m.rows {
		r := Row{Group: k == 0 && len(w.Rows) > 0}
		if k == 0 {
			r.Cells = append(r.Cells, Cell{Text: say(link(m.title, m.id)), Head: true, Rows: len(m.rows)})
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
