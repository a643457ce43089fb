package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// exclusions lists what is left out, with its reason, and the results with and
// without it beside each other.
func (b *builder) exclusions() {
	s := Section{ID: "exclusions", Short: "Exclusions"}
	total := 0
	people := false
	for _, t := range b.tests {
		total += len(t.Log.Exclusions)
		for _, x := range t.Log.Exclusions {
			people = people || x.Person != ""
		}
	}
	if total == 0 {
		s.Title = say("Nothing is left out")
		s.Blocks = []Block{{Text: say("Every run that was entered is compared.")}}
		b.section(s)
		return
	}
	verb := " are left out; the verdicts with and without stand beside each other"
	if total == 1 {
		verb = " is left out; the verdicts with and without it stand beside each other"
	}
	s.Title = say(upper(count(total, "observation") + verb))
	t := Table{ID: "exclusions-table", Caption: say("What is left out, and why")}
	t.Columns = heads("runs", "code", "measure", "value", "reason")
	if people {
		t.Columns = append(t.Columns, Column{Head: say("by")})
	}
	for i := range b.tests {
		rt := &b.tests[i]
		var last *Row
		said := "" // of the last row, its runs and values aside
		for _, x := range rt.Log.Exclusions {
			letter := ""
			if st, ok := rt.stintOf(x.Run); ok {
				letter = st.Code
			}
			measure := "every measure"
			if x.Measure != "" {
				measure = x.Measure
			}
			var values []string
			for j := range rt.measures {
				m := &rt.measures[j]
				if m.r == nil || x.Measure != "" && x.Measure != m.r.Measure.ID {
					continue
				}
				if x.Measure != "" {
					measure = m.title
				}
				for _, o := range rt.Log.Observations {
					if o.Run == x.Run && m.of(o) {
						values = append(values, m.s.typed(o.Value))
					}
				}
			}
			const most = 3 // that a line holds; the run's own row has all of them
			text := strings.Join(values, ", ")
			if len(values) > most {
				text = values[0] + " and " + strconv.Itoa(len(values)-1) + " more"
			}
			if text == "" {
				text = "none"
			}
			run := link(x.Run, rt.runTo(x.Run))
			if same := strings.Join([]string{letter, measure, x.Reason, x.Person}, "\x00"); last != nil && same == said { // said once of all its runs
				last.Cells[0].Text = say(last.Cells[0].Text, ", ", run)
				last.Cells[3].Text = say(last.Cells[3].Text, "; "+text)
				continue
			} else {
				said = same
			}
			row := Row{Cells: []Cell{{Text: say(run), Head: true}, cell(code(letter)), cell(measure), cell(text), cell(x.Reason)}}
			if people {
				row.Cells = append(row.Cells, cell(x.Person))
			}
			t.Rows = append(t.Rows, row)
			last = &t.Rows[len(t.Rows)-1]
		}
	}
	s.Blocks = append(s.Blocks, Block{Table: &t})
	if w := b.withAndWithout("exclusions-effect", true); len(w.Rows) > 0 {
		s.Blocks = append(s.Blocks, Block{Table: w})
	}
	b.section(s)
}

// exclusionsEffect goes on with the measures that describe.
func (b *builder) exclusionsEffect() {
	if w := b.withAndWithout("exclusions-effects", false); len(w.Rows) > 0 {
		b.section(Section{ID: "exclusions-others", Of: "exclusions", Short: "With and without exclusions", Title: say("What the exclusions do to the measures that describe"), Blocks: []Block{{Table: w}}})
	}
}

// withAndWithout sets verdicts without and with what is left out beside each other, of
// the first measures or of the others.
func (b *builder) withAndWithout(id string, firsts bool) *Table {
	w := Table{ID: id, Caption: say("Verdicts without and with what is left out")}
	w.Columns = heads("measure", "", "as reported", "#index or difference", "with every run in", "#index or difference")
	for i := range b.tests {
		for j := range b.tests[i].measures {
			m := &b.tests[i].measures[j]
			if m.r == nil || m.first != firsts || len(m.r.Excluded) == 0 || m.r.Alike != nil && m.all != nil && m.all.Alike != nil {
				continue
			}
			for k, row := range m.rows {
				r := Row{Group: k == 0 && len(w.Rows) > 0}
				if k == 0 {
					r.Cells = append(r.Cells, Cell{Text: say(link(b.named(m), m.id)), Head: true, Rows: len(m.rows)})
				}
				r.Cells = append(r.Cells, cell(code(row.Code)), cell(row.Verdict.Word.String()), cell(b.full(m, row)))
				switch {
				case m.all == nil:
					r.Cells = append(r.Cells, cell(em("no comparison: "+m.allErr)), cell("none"))
				default:
					at := slices.IndexFunc(m.all.Rows, func(x compare.Row) bool { return x.Code == row.Code })
					if at < 0 {
						r.Cells = append(r.Cells, cell(em("not driven")), cell("none"))
						break
					}
					x := &m.all.Rows[at]
					word := say(x.Verdict.Word.String())
					if x.Verdict.Word != row.Verdict.Word {
						word = say(strong(x.Verdict.Word.String()), " (another verdict)")
					}
					r.Cells = append(r.Cells, Cell{Text: word}, cell(b.full(m, x)))
				}
				w.Rows = append(w.Rows, r)
			}
		}
	}
	return &w
}

// named names a measure among those of several tests.
func (b *builder) named(m *measured) string {
	if len(b.tests) > 1 && m.t.Title != "" {
		return m.t.Title + ", " + m.title
	}
	return m.title
}

// full writes estimate and interval.
func (b *builder) full(m *measured, row *compare.Row) string {
	e := estimateOf(m, row)
	if e == nil {
		return "none"
	}
	text := m.s.estimateIn(*e)
	if iv := m.s.interval(ends(m, row)); iv != "" {
		text += " (" + iv + ")"
	}
	return text
}

func (t *test) stintOf(run string) (programme.Stint, bool) {
	i := slices.IndexFunc(t.Log.Runs, func(r programme.Run) bool { return r.ID == run })
	if i < 0 {
		return programme.Stint{}, false
	}
	j := slices.IndexFunc(t.Log.Stints, func(s programme.Stint) bool { return s.ID == t.Log.Runs[i].Stint })
	if j < 0 {
		return programme.Stint{}, false
	}
	return t.Log.Stints[j], true
}

// of tells whether an observation belongs to the measure.
func (m *measured) of(o programme.Observation) bool {
	return o.Measure == m.r.Measure.ID && o.Place == m.r.Place && (m.r.Rater == "" || o.Rater == m.r.Rater)
}

// typed writes a single value as it was typed or reduced: with the measure's
// digits, or more where it has more of them, up to six significant ones.
func (s scale) typed(x float64) string {
	v := s.in(x)
	text := significant(v, 6, s.style)
	short := unit.Number(v, s.digits, s.style)
	if long := trimZeros(text, s.style); len(long) > len(short) && !s.none {
		return short
	} else if len(long) > len(short) {
		return long
	}
	return short
}

// method says how the numbers were come by, with every setting spelt out.
func (b *builder) method() {
	s := Section{ID: "method", Short: "Method", Begins: true, Title: say("Method: the control’s drift is taken out, stints are compared, all candidates are judged together")}
	k := code(b.doc.Codes.Control)
	var lead *measured
	for i := range b.tests {
		for j := range b.tests[i].measures {
			if m := &b.tests[i].measures[j]; m.r != nil && lead == nil {
				lead = m
			}
		}
	}
	r := lead.r
	if !r.Corrected {
		s.Title = say("Method: stints are compared as driven, all candidates are judged together")
	}
	p := func(parts ...any) { s.Blocks = append(s.Blocks, Block{Text: say(parts...)}) }
	p("The unit of comparison is the stint: one set, fitted once. Runs of one stint share its fitment and its moment and are no independent replicates; their mean enters, and how stints scatter, not how runs do, is the error.")
	drift := "none: candidates stand against the mean of the controls as driven"
	switch r.Settings.Drift {
	case compare.Bracket:
		drift = "each candidate stint stands against the control interpolated between the control stints before and after it"
	case compare.Linear:
		drift = "one model holds the tyres and a straight line for the drift"
	case compare.Quadratic:
		drift = "one model holds the tyres and a parabola for the drift"
	}
	p("Drift (", r.Correction, "): "+drift+". It is never carried across a declared break, nor from one block to another.")
	if lead.s.ratio {
		how := "100 times candidate by control"
		if r.Measure.Better == programme.Lower {
			how = "100 times control by candidate"
		}
		p("Index of "+lead.title+": "+how+", so that ", k, " is 100 and higher is better. It is worked on the logarithmic scale.")
	} else {
		p("Difference of " + lead.title + ": candidate less control in the measure’s unit, signed so that positive is better.")
	}
	if r.Critical > 0 {
		p(fmt.Sprintf("Intervals: the standard error of each estimate times %s, the point at which all %s hold together with %s (%s), on %s. The standard errors and the correlations between candidates follow from what each stint mean weighs in each estimate.",
			plain(r.Critical, 4, b.in.Style), count(r.Rows[0].Verdict.Comparisons, "interval"), percent(r.Settings.Confidence, b.doc.Comma), r.Method, degrees(r.Error.DF, b.in.Style)))
	}
	p("A verdict is better or worse if the whole interval lies on one side of the control, the same if it lies within the margin, and not shown if neither. The p-values beside it test no difference: adjusted for all candidates of the measure together, and alone.")
	if b.in.Blind != "" {
		p("Who knew what: " + b.in.Blind + ".")
	} else {
		p("Who knew which tyre was fitted is not told: read ratings, and runs that a driver can shape, as open.")
	}
	t := Table{ID: "settings", Caption: say("Settings, each spelt out, " + lead.title)}
	t.Columns = heads("setting", "value", "chosen by", "source")
	for _, x := range r.Spelled {
		t.Rows = append(t.Rows, b.setting(x))
	}
	s.Blocks = append(s.Blocks, Block{Table: &t})
	o := Table{ID: "settings-other", Caption: say("Where other measures are set otherwise")}
	o.Columns = heads("setting", "value", "chosen by", "source", "measures")
	type line struct {
		x  compare.Spelled
		of map[string]bool // measures' ids in the document
	}
	var lines []*line
	for i := range b.tests {
		for j := range b.tests[i].measures {
			m := &b.tests[i].measures[j]
			if m.r == nil || m == lead {
				continue
			}
			for _, x := range m.r.Spelled {
				if slices.ContainsFunc(r.Spelled, func(y compare.Spelled) bool { return y.Key == x.Key && y.Value == x.Value }) {
					continue
				}
				at := slices.IndexFunc(lines, func(l *line) bool { return l.x == x })
				if at < 0 {
					lines = append(lines, &line{x, map[string]bool{}})
					at = len(lines) - 1
				}
				lines[at].of[m.id] = true
			}
		}
	}
	slices.SortStableFunc(lines, func(p, q *line) int { return strings.Compare(p.x.Key, q.x.Key) })
	for _, l := range lines {
		row := b.setting(l.x)
		row.Cells = append(row.Cells, cell(b.those(l.of)))
		o.Rows = append(o.Rows, row)
	}
	if len(o.Rows) > 0 {
		s.Blocks = append(s.Blocks, Block{Table: &o})
	}
	d := Table{ID: "measures", Caption: say("Measures")}
	d.Columns = heads("measure", "better", "compared as", "definition", "assumed of its scatter", "source")
	said := map[string]bool{} // a measure with places, or in several tests, is defined once
	for i := range b.tests {
		for j := range b.tests[i].measures {
			m := &b.tests[i].measures[j]
			if m.r == nil {
				continue
			}
			x := m.r.Measure
			name := lower(x.Title)
			if !m.s.none {
				name += ", " + m.s.unit.Symbol()
			}
			row := Row{Cells: []Cell{{Text: say(name), Head: true}, cell(string(x.Better)), cell(string(m.r.Scale)), cell(x.About), cell(x.Error), cell(sourceText(x.Source))}}
			key := ""
			for _, c := range row.Cells {
				key += c.Text.String() + "\x00"
			}
			if !said[key] {
				said[key] = true
				d.Rows = append(d.Rows, row)
			}
		}
	}
	s.Blocks = append(s.Blocks, Block{Table: &d})
	b.section(s)
}

// those names measures of the document: a test where all of its measures are meant, a
// measure without its places where all of them are.
func (b *builder) those(ids map[string]bool) string {
	var out []string
	for i := range b.tests {
		t := &b.tests[i]
		var names []string
		meant, compared := map[string]int{}, map[string]int{}
		sum := 0
		for j := range t.measures {
			if m := &t.measures[j]; m.r != nil {
				compared[m.r.Measure.ID]++
				compared[""]++
				if ids[m.id] {
					meant[m.r.Measure.ID]++
					sum++
				}
			}
		}
		for j := range t.measures {
			m := &t.measures[j]
			if m.r == nil || !ids[m.id] {
				continue
			}
			name := m.title
			if id := m.r.Measure.ID; meant[id] == compared[id] {
				name = lower(m.r.Measure.Title)
			}
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
		switch {
		case len(names) == 0:
		case sum == compared[""] && sum > 1 && len(b.tests) > 1:
			out = append(out, t.name(i)+": all")
		case len(b.tests) > 1:
			out = append(out, t.name(i)+": "+strings.Join(names, ", "))
		default:
			out = append(out, strings.Join(names, ", "))
		}
	}
	return strings.Join(out, "; ")
}

func (b *builder) setting(x compare.Spelled) Row {
	by := "the evaluator"
	if x.Default {
		by = "default"
	}
	value := x.Value
	if value == "" {
		value = "none"
	}
	return Row{Cells: []Cell{{Text: say(strings.ReplaceAll(x.Key, "_", " ")), Head: true}, cell(strings.ReplaceAll(value, "_", " ")), cell(by), cell(sourceText(x.Source))}}
}

// sourceText writes a source as readers know it.
func sourceText(s programme.Source) string {
	switch s.Key {
	case programme.Own:
		return "own choice: " + s.Clause
	case programme.CommonPractice:
		return strings.TrimSuffix("common practice, no source: "+s.Clause, ": ")
	}
	return s.String()
}

// limits says what the results do not say.
func (b *builder) limits() {
	s := Section{ID: "limits", Short: "Limits of validity", Title: say("Limits of validity: what these results do not say")}
	ground := "this ground"
	if b.in.Ground != "" {
		ground = b.in.Ground
	}
	vehicle := "one vehicle, its load and its set-up"
	if b.in.Vehicle != "" {
		vehicle = b.in.Vehicle + ", its load and its set-up"
	}
	items := []Text{
		say("They hold for " + vehicle + ", for the surface driven on " + ground + ", and for the conditions recorded; elsewhere tyres may stand in another order."),
		say("“These sets” means the sets that were driven: how much one set of a make differs from the next is not in the interval. “This tyre” is said only where candidate and control were driven on two sets or more."),
		say("“Not shown” is not “the same”: a difference smaller than what could have been shown may well be there."),
		say("What wears the control looks like drift and is given to the candidates."),
		say("Intervals hold for the candidates of one measure together, not for all measures together."),
		say("They are no result under a regulation and no type approval, and say nothing about the behaviour of tyres on a road."),
	}
	s.Blocks = []Block{{List: items}}
	b.section(s)
}

// cautions are those that the tool always carries (common practice, no source).
func (b *builder) cautions() {
	b.section(Section{ID: "cautions", Short: "Cautions", Title: say("Cautions"), Blocks: []Block{
		{Text: say("Limit-handling, evasive and wet tests can injure. Whoever repeats them needs:")},
		{List: []Text{
			say("a closed course, with marshals and recovery in place;"),
			say("a qualified and briefed driver, with belts and helmet;"),
			say("load and pressure within the limits of tyre and vehicle;"),
			say("criteria for stopping, agreed beforehand."),
		}},
		{Text: say("The proving ground’s rules, local codes and licensed practice come first.")},
	}})
}

// sets lists the tyre sets by code.
func (b *builder) sets() {
	s := Section{ID: "sets", Short: "Tyre sets", Title: say("Tyre sets, by code")}
	type line struct {
		code, set    string
		stints, runs int
		uses         []float64
		size, note   string
	}
	var lines []*line
	for _, t := range b.tests {
		for _, st := range t.Log.Stints {
			i := slices.IndexFunc(lines, func(l *line) bool { return l.code == st.Code && l.set == st.Set })
			if i < 0 {
				lines = append(lines, &line{code: st.Code, set: st.Set})
				i = len(lines) - 1
			}
			l := lines[i]
			l.stints++
			for _, r := range t.Log.Runs {
				if r.Stint == st.ID {
					l.runs++
				}
			}
			if st.UseM != nil {
				l.uses = append(l.uses, *st.UseM)
			}
		}
	}
	records := false
	for _, l := range lines {
		for _, x := range b.in.Sets {
			if x.ID == l.set && x.Code == l.code {
				l.size, l.note = x.Size, x.Note
				records = records || x.Size != "" || x.Note != ""
			}
		}
	}
	slices.SortStableFunc(lines, func(a, c *line) int {
		if d := b.doc.Codes.Order(a.code) - b.doc.Codes.Order(c.code); d != 0 {
			return d
		}
		return strings.Compare(a.set, c.set)
	})
	t := Table{ID: "sets-table", Caption: say("Sets as driven")}
	t.Columns = heads("code", "set", "#stints", "#runs", "#had run when fitted, km")
	if records {
		t.Columns = append(t.Columns, heads("size", "note")...)
	}
	for i, l := range lines {
		set := l.set
		if set == "" {
			set = "not told"
		}
		use := "not told"
		if len(l.uses) > 0 {
			use = plain(l.uses[0]/1000, 1, b.in.Style)
			if len(l.uses) > 1 {
				use = plain(slices.Min(l.uses)/1000, 1, b.in.Style) + " to " + plain(slices.Max(l.uses)/1000, 1, b.in.Style)
			}
		}
		row := Row{Group: i > 0 && lines[i-1].code != l.code, Cells: []Cell{{Text: say(code(l.code)), Head: true}, cell(set), cell(fmt.Sprint(l.stints)), cell(fmt.Sprint(l.runs)), cell(use)}}
		if records {
			row.Cells = append(row.Cells, cell(l.size), cell(l.note))
		}
		t.Rows = append(t.Rows, row)
	}
	s.Blocks = []Block{{Text: say("What a code stands for is not in this document.")}, {Table: &t}}
	b.section(s)
}

// runs lists every run, those left out marked.
func (b *builder) runs() {
	for i := range b.tests {
		t := &b.tests[i]
		title := "Every run"
		if len(b.tests) > 1 {
			title += ", " + t.name(i)
		}
		s := Section{ID: t.id + "-runs", Short: title, Begins: true, Title: say(title)}
		const columns = 10 // that a sheet's width holds
		var ms []*measured
		for j := range t.measures {
			if t.measures[j].r != nil {
				ms = append(ms, &t.measures[j])
			}
		}
		of := map[string][]programme.Observation{} // by run
		for _, o := range t.Log.Observations {
			of[o.Run] = append(of[o.Run], o)
		}
		for from := 0; from < len(ms); from += columns {
			s.Blocks = append(s.Blocks, Block{Table: b.runTable(t, ms[from:min(from+columns, len(ms))], of, from == 0)})
		}
		if k := b.remarks(t, ms); len(k.Rows) > 0 {
			s.Blocks = append(s.Blocks, Block{Table: k})
		}
		if k := b.conditionsByRun(t); len(t.covs) > 0 && k != nil {
			s.Blocks = append(s.Blocks, Block{Table: k})
		}
		b.section(s)
	}
}

// remarks lists what was said of runs and why they are left out, the same once.
func (b *builder) remarks(t *test, ms []*measured) *Table {
	tab := &Table{ID: t.id + "-remarks", Caption: say("Remarks, and why runs are left out"), Columns: heads("runs", "what")}
	at := map[string]int{}
	add := func(run, what string) {
		i, ok := at[what]
		if !ok {
			i = len(tab.Rows)
			at[what] = i
			tab.Rows = append(tab.Rows, Row{Cells: []Cell{{Head: true}, cell(what)}})
		}
		c := &tab.Rows[i].Cells[0]
		if len(c.Text) > 0 {
			c.Text = say(c.Text, ", ")
		}
		c.Text = say(c.Text, link(run, t.runTo(run)))
	}
	for _, r := range t.Log.Runs {
		if r.Remark != "" {
			add(r.ID, r.Remark)
		}
		said := map[string]bool{}
		for _, m := range ms {
			reason, out := m.excluded(t, r.ID)
			if !out {
				continue
			}
			what := "left out: " + reason
			if len(ms) > 1 && m.only(t, r.ID) {
				what = m.title + " left out: " + reason
			}
			if !said[what] {
				said[what] = true
				add(r.ID, what)
			}
		}
	}
	return tab
}

// runTable prints the runs with some of the measures; of holds the test's observations
// by run.
func (b *builder) runTable(t *test, ms []*measured, of map[string][]programme.Observation, anchors bool) *Table {
	tab := &Table{ID: ms[0].id + "-runs", Caption: say("Runs in the order of their stints")}
	tab.Columns = heads("stint", "code", "run")
	for _, m := range ms {
		tab.Columns = append(tab.Columns, Column{Head: say(m.axisName()), Numbers: true})
	}
	for _, st := range t.Log.Stints {
		var rows []Row
		for _, r := range t.Log.Runs {
			if r.Stint != st.ID {
				continue
			}
			row := Row{}
			var marks Text
			var values []Cell
			for _, m := range ms {
				c := cell("")
				_, out := m.excluded(t, r.ID)
				for _, o := range of[r.ID] {
					if !m.of(o) {
						continue
					}
					v := o.Value
					as := Plain
					if out {
						as = Gone
						row.Left = true
					}
					if len(c.Text) > 0 {
						c.Text = say(c.Text, ", ")
					}
					c.Text = say(c.Text, Span{Text: m.s.typed(o.Value), As: as})
					c.Value, c.Unit = m.s.drawn(&v), m.s.symbol()
				}
				marks = say(marks, b.noted(m.atRun(r.ID)))
				values = append(values, c)
			}
			if anchors {
				row.ID = t.runTo(r.ID)
			}
			name := strings.TrimPrefix(r.ID, st.ID+"/")
			row.Cells = append(row.Cells, cell(name, marks))
			row.Cells = append(row.Cells, values...)
			rows = append(rows, row)
		}
		for k := range rows {
			if k == 0 {
				head := []Cell{{Text: say(st.ID), Head: true, Rows: len(rows)}, {Text: say(code(st.Code)), Rows: len(rows)}}
				rows[k].Cells = append(head, rows[k].Cells...)
				rows[k].Group = true
			}
		}
		tab.Rows = append(tab.Rows, rows...)
	}
	if anchors {
		b.anchor(t, tab)
	}
	return tab
}

// anchor names the first cell of each stint, so that links lead there.
func (b *builder) anchor(t *test, tab *Table) {
	for i := range tab.Rows {
		if c := &tab.Rows[i].Cells[0]; c.Head {
			c.ID = t.stintTo(c.Text.String())
		}
	}
}

// excluded tells whether a run is left out for the measure, and why.
func (m *measured) excluded(t *test, run string) (string, bool) {
	for _, x := range t.Log.Exclusions {
		if x.Run == run && (x.Measure == "" || x.Measure == m.r.Measure.ID) {
			return x.Reason, true
		}
	}
	return "", false
}

// only tells whether the run is left out for single measures.
func (m *measured) only(t *test, run string) bool {
	return slices.ContainsFunc(t.Log.Exclusions, func(x programme.Exclusion) bool { return x.Run == run && x.Measure != "" })
}

// conditionsByRun gives the conditions of each run, runs of a stint with the same
// readings in one row; nil where all runs of every stint have the same, as the table of
// stints shows them.
func (b *builder) conditionsByRun(t *test) *Table {
	tab := &Table{ID: t.id + "-runs-conditions", Caption: say("Conditions by run")}
	tab.Columns = heads("stint", "runs")
	for _, c := range t.covs {
		tab.Columns = append(tab.Columns, Column{Head: say(c.head()), Numbers: true})
	}
	vary := false
	for _, st := range t.Log.Stints {
		from := len(tab.Rows)
		first, last := "", ""
		for _, r := range t.Log.Runs {
			if r.Stint != st.ID {
				continue
			}
			name := strings.TrimPrefix(r.ID, st.ID+"/")
			row := Row{Cells: []Cell{cell(name)}}
			for _, c := range t.covs {
				v, ok := r.Covariates[c.key]
				if !ok {
					row.Cells = append(row.Cells, cell("none"))
					continue
				}
				x, u := c.in(v), ""
				if !c.none {
					u = c.unit.Symbol()
				}
				row.Cells = append(row.Cells, number(c.text(v, b.in.Style), &x, u))
			}
			if n := len(tab.Rows); n > from && slices.EqualFunc(tab.Rows[n-1].Cells[1:], row.Cells[1:], func(p, q Cell) bool { return p.Text.String() == q.Text.String() }) {
				last = name
				tab.Rows[n-1].Cells[0] = cell(first + " to " + last)
				continue
			}
			first = name
			tab.Rows = append(tab.Rows, row)
		}
		if n := len(tab.Rows) - from; n > 0 {
			vary = vary || n > 1
			tab.Rows[from].Group = true
			tab.Rows[from].Cells = slices.Insert(tab.Rows[from].Cells, 0, Cell{Text: say(link(st.ID, t.stintTo(st.ID))), Head: true, Rows: n})
		}
	}
	if !vary {
		return nil
	}
	return tab
}

// notes puts the numbered notes behind the results.
func (b *builder) notes() {
	var general caveat.List
	for i := range b.tests {
		general = append(general, b.tests[i].Log.Caveats...)
		for j := range b.tests[i].measures {
			if m := &b.tests[i].measures[j]; m.r != nil {
				general = append(general, m.r.Caveats...)
			}
		}
	}
	b.numbers(general.Distinct()) // whatever has not been marked at a number
	for i, c := range b.marks.List() {
		n := i + 1
		b.doc.Notes = append(b.doc.Notes, Note{Number: n, ID: fmt.Sprintf("note-%d", n), Code: c.Code, Where: upper(b.wherever(c.Places)), Text: c.Text})
	}
}

// hashes says what the document was made from.
func (b *builder) hashes() {
	s := Section{ID: "hashes", Short: "What it was made from", Title: say("What this document was made from")}
	t := Table{ID: "inputs", Caption: say("Inputs, each with the SHA-256 of its bytes")}
	t.Columns = heads("input", "SHA-256")
	for _, h := range b.in.Inputs {
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(h.Name), Head: true}, {Text: say(Span{Text: h.SHA256, As: Sum})}}})
	}
	s.Blocks = []Block{
		{Text: say("Same input, same bytes: the same inputs and settings give this document again, byte for byte, whatever the day and the computer’s clock. It carries no time of printing.")},
		{Table: &t},
	}
	b.section(s)
}
