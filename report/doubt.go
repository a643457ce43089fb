package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/compare"
	"example.org/bookend/compare/edition"
	"example.org/bookend/compare/wear"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// evidence says what the control shows beside its slope: whether it bends, whether
// it shifted at once and where, and whether each stint resembles the one before.
func (b *builder) evidence(m *measured) []Block {
	c := m.r.Controls
	t := Table{ID: m.id + "-drift", Caption: say("Evidence of drift in the control’s stints, " + m.title), Columns: heads("what was looked for", "#found", "#p", "what it says")}
	per := " a position"
	if m.r.Settings.By == compare.ByClock {
		per = " a second"
	}
	add := func(what, found string, p *float64, says Text) {
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(what), Head: true}, cell(found), b.p(p), {Text: says}}})
	}
	said := func(p *float64, yes, no string) Text {
		switch {
		case p == nil:
			return say("cannot be told from so few stints")
		case *p <= m.r.Settings.ShownLevel:
			return say(strong(yes))
		}
		return say(no)
	}
	if c.Slope != nil {
		add("a steady drift", significantBy(m.s, c.Slope.Estimate, b.in.Style)+per, c.Slope.P, said(c.Slope.P, "shown", "not shown"))
	}
	if c.Curvature != nil {
		add("a bend", significantBy(m.s, c.Curvature.Estimate, b.in.Style)+per+" squared", c.Curvature.P, said(c.Curvature.P, "shown: a straight line misses it", "not shown"))
	}
	if c.Shift != nil {
		p := c.Shift.P
		where := say("none to place")
		if len(c.ShiftStints) > 1 {
			var ids []Text
			for _, id := range c.ShiftStints {
				ids = append(ids, say(link(id, m.t.stintTo(id))))
			}
			where = say("most likely among stints ", list(ids))
		}
		says := say("not shown; ", where)
		if p <= m.r.Settings.ShownLevel {
			says = say(strong("shown"), ": ", where, "; a declared break there would keep it from the candidates")
		}
		add("a sudden shift beside it", significantBy(m.s, c.Shift.Size, b.in.Style), &p, says)
	}
	if c.LagOne != nil && c.LagOne.Defined {
		p := c.LagOne.P
		add("each stint like the one before", "correlation "+unit.Signed(c.LagOne.R, 2, b.in.Style), &p, said(&p, "shown: the ground drifts or wanders", "not shown"))
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []Block{{Table: &t}}
}

// errorParts says what scatter is made of, how degrees of freedom are counted, and
// what the run number does.
func (b *builder) errorParts(m *measured) []Block {
	e := m.r.Error
	amount := func(sd float64) string {
		if m.s.ratio {
			return plain(100*sd, 2, b.in.Style) + unit.NoBreak + "%"
		}
		return m.s.length(sd)
	}
	var parts []string
	for _, p := range e.Parts {
		text := "between " + strings.ReplaceAll(p.Name, "_", " ") + "s " + amount(p.SD)
		if p.Zero {
			text = "between " + strings.ReplaceAll(p.Name, "_", " ") + "s none that can be told"
		}
		parts = append(parts, text)
	}
	t := Text{}
	if len(parts) > 0 {
		t = say("Scatter: " + strings.Join(parts, ", ") + ".")
	}
	if e.DFMethod != "" {
		how := map[string]string{"stints less terms": "stints less terms fitted"}[e.DFMethod]
		if how == "" {
			how = e.DFMethod
		}
		t = say(t, " Degrees of freedom are counted by "+strings.ReplaceAll(how, "_", " ")+".")
	}
	if e.NumberSaid != "" {
		t = say(t, " "+strings.TrimSuffix(upper(e.NumberSaid), ".")+".")
	}
	if len(t) == 0 {
		return nil
	}
	return []Block{{Text: t}}
}

// about says what the verdicts are about, and why no more than that.
func (b *builder) aboutWhy(m *measured) []Block {
	var lines []Text
	at := map[string]int{}
	var who [][]string
	var why []string
	for _, row := range m.rows {
		w := row.Verdict.AboutWhy
		if w == "" {
			continue
		}
		// The same said of several candidates is said once.
		w = strings.ReplaceAll(w+" ", " of "+row.Code+" ", " of each ")
		w = strings.TrimSpace(strings.ReplaceAll(w, " of "+row.Code+",", " of each,"))
		i, ok := at[w]
		if !ok {
			i = len(why)
			at[w] = i
			why, who = append(why, w), append(who, nil)
		}
		who[i] = append(who[i], row.Code)
	}
	for i, w := range why {
		if len(who[i]) == 1 {
			w = strings.ReplaceAll(w, " of each", " of "+who[i][0])
		}
		lines = append(lines, say(codes(who[i]), ": about "+w+"."))
	}
	if len(lines) == 0 {
		return nil
	}
	lead := say("What the verdicts are about: " + m.r.Sets.Words() + ".")
	return []Block{{Text: lead}, {List: lines}}
}

// among sets candidates against each other, by letters.
func (b *builder) among(m *measured) []Block {
	g := m.r.Group
	if g == nil || len(g.Codes) < 2 {
		return nil
	}
	letters := say("Candidates among each other, all pairs at once: those that share a letter are not shown to differ. ")
	for i, c := range g.Codes {
		if i > 0 {
			letters = say(letters, ", ")
		}
		letters = say(letters, code(c), " "+g.Letters[i])
	}
	out := []Block{{Text: say(letters, ".")}}
	t := Table{ID: m.id + "-pairs", Caption: say("Candidates against each other, " + m.title), Columns: heads("", "against", "#difference", "#standard error", "shown to differ")}
	for _, p := range g.Pairs {
		d, se := "", ""
		if m.s.ratio {
			d = unit.Signed(100*math.Expm1(p.Difference), indexDigits, b.in.Style) + unit.NoBreak + "%"
			se = plain(100*p.SE, 2, b.in.Style) + unit.NoBreak + "%"
		} else {
			d, se = m.s.estimateIn(p.Difference), m.s.length(p.SE)
		}
		word := say("no")
		if p.Differ {
			better := p.B
			if p.Difference < 0 {
				better = p.A
			}
			word = say("yes: ", code(better), " is better")
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(code(p.B)), Head: true}, cell(code(p.A)), cell(d), cell(se), {Text: word}}})
	}
	if len(t.Rows) > 0 {
		out = append(out, Block{Table: &t})
	}
	return out
}

// wear says what the sets had been used, and how far estimates lean on it.
func (b *builder) wear(m *measured) []Block {
	w := m.r.Wear
	var out []Block
	for _, u := range w.Uses {
		name, by := "stints done", func(x float64) string { return trimZeros(plain(x, 1, b.in.Style), b.in.Style) }
		switch u.Kind {
		case "distance":
			name, by = "had run, km", func(x float64) string { return plain(x/1000, 1, b.in.Style) }
		case "tread":
			name, by = "tread, mm", func(x float64) string { return plain(1000*x, 1, b.in.Style) }
		}
		t := Table{ID: m.id + "-use-" + string(u.Kind), Caption: say("Use when fitted: " + name + ", " + m.title)}
		t.Columns = heads("", "#of its sets, as weighed", "#less than the control", "#bias of the estimate", "standing")
		biased := slices.ContainsFunc(u.Leans, func(l wear.Lean) bool { return l.Bias != nil })
		if !biased {
			t.Columns = slices.Delete(t.Columns, 3, 4)
		}
		over := false
		for _, l := range u.Leans {
			bias := "not measured"
			if l.Bias != nil {
				if m.s.ratio {
					bias = unit.Signed(100**l.Bias, 2, b.in.Style) + unit.NoBreak + "%"
				} else {
					bias = m.s.estimateIn(*l.Bias)
				}
				if l.BiasSE != nil {
					se := m.s.length(*l.BiasSE)
					if m.s.ratio {
						se = plain(100**l.BiasSE, 2, b.in.Style) + unit.NoBreak + "%"
					}
					bias += " (standard error " + se + ")"
				}
			}
			standing := say("within what is allowed")
			switch {
			case u.Limit == nil:
				standing = say("not judged: no limit was set")
			case l.Over:
				standing, over = say(Span{Text: "beyond the limit of " + by(*u.Limit), As: Broken}), true
			}
			row := Row{Cells: []Cell{{Text: say(code(l.Code)), Head: true}, cell(by(l.Use)), cell(by(l.Less))}}
			if biased {
				row.Cells = append(row.Cells, cell(bias))
			}
			row.Cells = append(row.Cells, Cell{Text: standing})
			t.Rows = append(t.Rows, row)
		}
		lean := slices.ContainsFunc(u.Leans, func(l wear.Lean) bool { return math.Abs(l.Less) > 1e-9 })
		if len(t.Rows) > 0 && (lean || over || !u.Counted) {
			out = append(out, Block{Table: &t})
		}
	}
	for _, x := range w.Replaced {
		text := fmt.Sprintf("The control’s set %s gave way to set %s between stints ", x.Old, x.New)
		t := say(text, link(x.Before, m.t.stintTo(x.Before)), " and ", link(x.After, m.t.stintTo(x.After)))
		if x.Overlapping {
			t = say(t, "; both were driven side by side, which joins them.")
		} else {
			t = say(t, " with no overlap: what the sets differ by is in the drift there.")
		}
		out = append(out, Block{Text: t})
	}
	return out
}

// byBlock gives the verdicts block by block, where that was asked for.
func (b *builder) byBlock(m *measured) []Block {
	if len(m.r.PerBlock) == 0 {
		return nil
	}
	t := Table{ID: m.id + "-blocks", Caption: say("Block by block, " + m.title), Columns: heads("block", "", "verdict", "#"+m.s.what(), "#stints")}
	for _, x := range m.r.PerBlock {
		if x.Result == nil {
			t.Rows = append(t.Rows, Row{Group: len(t.Rows) > 0, Cells: []Cell{{Text: say(x.Block), Head: true}, cell(""), cell(em("no comparison: " + x.Err)), cell("none"), cell("none")}})
			continue
		}
		for i := range x.Result.Rows {
			row := &x.Result.Rows[i]
			r := Row{Group: i == 0 && len(t.Rows) > 0}
			if i == 0 {
				r.Cells = append(r.Cells, Cell{Text: say(x.Block), Head: true, Rows: len(x.Result.Rows)})
			}
			r.Cells = append(r.Cells, cell(code(row.Code)), Cell{Text: b.word(row.Verdict)}, cell(b.full(m, row)), cell(fmt.Sprint(row.Stints)))
			t.Rows = append(t.Rows, r)
		}
	}
	return []Block{{Table: &t}}
}

// byDay sets candidates against the control block by block, without verdicts.
func (b *builder) byDay(m *measured) []Block {
	if len(m.r.PerBlock) > 0 || len(m.r.Error.ByBlock) == 0 {
		return nil
	}
	name := m.r.Settings.Block
	if name == "" {
		name = "block"
	}
	t := Table{ID: m.id + "-by-block", Caption: say("Each candidate against the control, " + name + " by " + name + ": where they disagree, without verdicts"), Columns: heads("", name, "#"+m.s.what(), "#standard error", "#stints")}
	last := ""
	for _, x := range m.r.Error.ByBlock {
		e, se := "none", "none"
		if x.Estimate != nil {
			v := *x.Estimate
			if m.s.ratio {
				v = 100 * math.Exp(v)
			}
			e = m.s.estimate(v)
		}
		if x.SE != nil {
			se = m.s.length(*x.SE)
			if m.s.ratio {
				se = plain(100**x.SE, 2, b.in.Style) + unit.NoBreak + "%"
			}
		}
		t.Rows = append(t.Rows, Row{Group: last != "" && last != x.Code, Cells: []Cell{{Text: say(link2(b, m, x.Code)), Head: true}, cell(x.Block), cell(e), cell(se), cell(fmt.Sprint(x.Stints))}})
		last = x.Code
	}
	return []Block{{Table: &t}}
}

// sideBySide holds the limits of several profiles beside each other; nil where
// there are fewer than two.
func (b *builder) sideBySide(m *measured) *Table {
	var profiles []string
	for _, f := range m.r.Validity {
		if !slices.Contains(profiles, f.Profile) {
			profiles = append(profiles, f.Profile)
		}
	}
	if len(profiles) < 2 {
		return nil
	}
	t := &Table{ID: m.id + "-editions", Caption: say("Editions side by side: bounds, and how often they were kept and broken"), Columns: heads("limit", "of")}
	for _, p := range profiles {
		if p == "" {
			p = "the evaluator’s own"
		}
		t.Columns = append(t.Columns, Column{Head: say(p)})
	}
	for _, l := range edition.SideBySide(m.r.Validity) {
		of := l.Of
		if of == "" {
			of = "all"
		}
		limit := programme.Limit{Field: l.Field, Unit: l.Unit}
		c := covariateOf(l.Field, b.in.Style)
		row := Row{Cells: []Cell{{Text: say(fieldName(c, limit)), Head: true}, cell(of + ", each " + l.Per)}}
		for _, p := range profiles {
			text := say("no limit")
			for _, x := range l.Cells {
				if x.Profile != p {
					continue
				}
				limit.Low, limit.High = x.Low, x.High
				text = say(boundsText(c, limit, b.in.Style)+": ", fmt.Sprintf("%d kept", x.Within))
				if x.Missing > 0 {
					text = say(text, fmt.Sprintf(", %d not recorded", x.Missing))
				}
				if x.Broken > 0 {
					text = say(text, ", ", Span{Text: fmt.Sprintf("%d broken", x.Broken), As: Broken})
				}
				text = say(text, " (", sourceText(x.Source), ")")
			}
			row.Cells = append(row.Cells, Cell{Text: text})
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// thresholds gives what the attempts of each stint say.
func (b *builder) thresholds(m *measured) []Block {
	t := Table{ID: m.id + "-thresholds", Caption: say("Attempts by stint, " + m.title + withUnit(m.s)), Columns: heads("stint", "code", "#attempts", "#clean", "#threshold", "#standard error of its attempts", "#largest step")}
	for _, s := range m.r.Stints {
		l := s.Threshold
		if l == nil {
			continue
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(link(s.ID, m.t.stintTo(s.ID))), Head: true}, cell(code(s.Code)), cell(fmt.Sprint(l.Attempts)),
			cell(fmt.Sprint(l.Clean)), cell(m.s.number(l.Speed)), cell(m.s.length(l.SE)), cell(m.s.length(l.Step))}})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []Block{{Table: &t}}
}
