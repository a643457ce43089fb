package report

import (
	"fmt"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// test makes the sections of a test that a client reads: its first measure, and its runs
// laid over each other.
func (b *builder) test(t *test) {
	for i := range t.measures {
		if t.measures[i].first {
			b.measure(&t.measures[i])
		}
	}
	b.laid(t)
}

// audit makes the sections of a test for whoever audits: what its first measure rests on,
// the measures that describe, conditions.
func (b *builder) audit(t *test) {
	for i := range t.measures {
		switch m := &t.measures[i]; {
		case m.first:
			b.restsOn(m)
		case i < detailed:
			b.measure(m)
		}
	}
	b.more(t)
	b.conditions(t)
}

// laid gives the figures in which the runs of a test lie over each other.
func (b *builder) laid(t *test) {
	if len(t.Laid) == 0 {
		return
	}
	s := Section{ID: t.id + "-laid", Short: "Runs over each other", Title: say("Runs laid over each other")}
	if t.Title != "" {
		s.Short += ": " + t.Title
		s.Title = say(t.Title + ": runs laid over each other")
	}
	s.Blocks = append(s.Blocks, Block{Text: say("Description: what is drawn here is not corrected for drift and decides nothing. It shows where along the manoeuvre the measures come from. Runs that are left out are not in it.")})
	for _, f := range t.Laid {
		if a, ok := f.(interface{ Above() *figure.Head }); ok {
			b.figures++
			h := a.Above()
			h.Codes, h.Comma, h.Number = b.doc.Codes, b.in.Style.Comma, b.figures
			h.Test = b.at(t, "")
		}
		s.Blocks = append(s.Blocks, b.drawn(f))
	}
	b.section(s)
}

// detailed is how many measures of a test have pages of their own; of the rest the
// candidates' table stands, and every run at the end (own choice: a report is read).
const detailed = 6

// more gives the measures of a test that have no pages of their own.
func (b *builder) more(t *test) {
	if len(t.measures) <= detailed {
		return
	}
	title := count(len(t.measures)-detailed, "more measure") + ", description alone"
	s := Section{ID: t.id + "-more", Short: "More measures", Begins: true, Title: say(upper(title))}
	if t.Title != "" {
		s.Short += ": " + t.Title
		s.Title = say(upper(title) + ", " + t.Title)
	}
	never := Table{ID: s.ID + "-alike", Caption: say("The same in every run: nothing to compare"), Columns: heads("measure", "#in every run", "#runs", "#stints")}
	list := Table{ID: s.ID + "-list", Caption: say("Each candidate against the control ", code(b.doc.Codes.Control), ": measures that describe")}
	for i := detailed; i < len(t.measures); i++ {
		m := &t.measures[i]
		if m.r == nil {
			s.Blocks = append(s.Blocks, Block{Text: say(upper(m.title) + " is not compared: " + m.failed + ".")})
			continue
		}
		if m.r.Alike != nil {
			never.Rows = append(never.Rows, Row{ID: m.id, Cells: []Cell{{Text: say(m.title), Head: true},
				number(m.s.value(*m.r.Alike), m.s.drawn(m.r.Alike), m.s.symbol()), cell(fmt.Sprint(m.r.Runs)), cell(fmt.Sprint(len(m.r.Stints)))}})
			continue
		}
		c := b.candidates(m).Table
		if len(list.Columns) == 0 {
			list.Columns = slices.Concat(heads("measure"), c.Columns)
			list.Columns[3].Head = say("index or difference")
		}
		for k, row := range c.Rows {
			row.Cells[0].Head = false
			if k == 0 {
				name := say(m.title, b.noted(m.general()))
				if !m.s.ratio {
					name = say(name, ", "+strings.TrimPrefix(m.s.what(), "difference, "))
				}
				row.Cells = slices.Insert(row.Cells, 0, Cell{Text: name, ID: m.id, Head: true, Rows: len(c.Rows)})
				row.Group = true
			}
			list.Rows = append(list.Rows, row)
		}
	}
	if len(list.Rows) > 0 {
		s.Blocks = append(s.Blocks, Block{Table: &list})
	}
	if len(never.Rows) > 0 {
		s.Blocks = append(s.Blocks, Block{Table: &never})
	}
	b.section(s)
}

// where says test and measure above a figure.
func (b *builder) where(m *measured) string { return b.at(m.t, m.title) }

// at says test, what of it, ground and surface, as far as they are told.
func (b *builder) at(t *test, what string) string {
	parts := []string{t.Title, what, b.in.Ground, t.Surface}
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), " · ")
}

func (b *builder) measure(m *measured) {
	s := Section{ID: m.id, Short: upper(m.title), Begins: m.first, Title: b.finding(m, true)}
	if len(b.tests) > 1 && m.t.Title != "" {
		s.Short = m.t.Title + ": " + m.title
	}
	if m.r != nil && m.t.rates(m.r.Measure.ID) {
		s.About = Rated
	}
	if m.r == nil {
		s.Blocks = append(s.Blocks, Block{Text: say(upper(m.title) + " is not compared: " + m.failed + ".")})
		b.section(s)
		return
	}
	if m.r.Alike != nil {
		t := say(upper(count(m.r.Runs, "run"))+" in "+count(len(m.r.Stints), "stint")+" were compared, the control ", code(m.r.Control), " in "+words(m.r.Controls.Stints)+". What never differs says nothing about the tyres.")
		if g := b.noted(m.general()); len(g) > 0 {
			t = say(t, " Notes to it: ", spaced(g), ".")
		}
		s.Blocks = append(s.Blocks, Block{Text: t})
		b.section(s)
		return
	}
	kind := "This is the test’s first measure: it answers the question."
	if !b.several || !m.first { // what describes stands in the appendix
		kind = ""
	}
	var notes []Block
	said := ""
	if m.first && len(m.t.covs) > 0 {
		said = b.conditionsSaid(m.t)
	}
	if g := b.noted(m.general()); len(g) > 0 || kind != "" || said != "" {
		lead := say(kind)
		if said != "" {
			if kind != "" {
				lead = say(lead, " ")
			}
			words, rest, _ := strings.Cut(said, ":")
			lead = say(lead, link(words, m.t.id+"-conditions"), ":"+rest+".")
			kind = said
		}
		if len(g) > 0 {
			if kind != "" {
				lead = say(lead, " ")
			}
			lead = say(lead, "Notes to all of its figures: ", spaced(g), ".")
		}
		notes = []Block{{Text: lead}}
	}
	if m.first {
		s.Blocks = append(append(s.Blocks, notes...), b.strip(m), b.ladder(m), b.candidates(m))
		s.Blocks = append(s.Blocks, m.doubt()...)
	} else {
		// Figures come last: tables break over a sheet's end, figures do not.
		s.Blocks = append(append(s.Blocks, b.candidates(m), b.values(m)), notes...)
		s.Blocks = append(s.Blocks, b.control(m)...)
		s.Blocks = append(s.Blocks, b.stints(m))
		s.Blocks = append(s.Blocks, b.thresholds(m)...)
		s.Blocks = append(s.Blocks, b.strip(m), b.ladder(m))
	}
	s.Blocks = append(s.Blocks, b.record(m)...)
	s.Blocks = append(s.Blocks, b.byBlock(m)...)
	s.Blocks = append(s.Blocks, b.byDay(m)...)
	s.Blocks = append(s.Blocks, b.validity(m)...)
	s.Blocks = append(s.Blocks, b.regulation(m)...)
	b.section(s)
}

// restsOn is what a first measure's verdicts rest on, to the last table.
func (b *builder) restsOn(m *measured) {
	if m.r == nil || m.r.Alike != nil {
		return
	}
	s := Section{ID: m.id + "-rests", Of: m.id, Short: "What it rests on: " + m.title, Title: say("What the verdicts on " + m.title + " rest on")}
	if len(b.tests) > 1 && m.t.Title != "" {
		s.Short = m.t.Title + ": what it rests on"
		s.Title = say(m.t.Title + ": what the verdicts on " + m.title + " rest on")
	}
	if m.t.rates(m.r.Measure.ID) {
		s.About = Rated
	}
	s.Blocks = append(s.Blocks, b.values(m), b.stints(m))
	s.Blocks = append(s.Blocks, b.thresholds(m)...)
	s.Blocks = append(s.Blocks, b.control(m)...)
	s.Blocks = append(s.Blocks, b.budget(m)...)
	s.Blocks = append(s.Blocks, b.brackets(m)...)
	s.Blocks = append(s.Blocks, b.evidence(m)...)
	s.Blocks = append(s.Blocks, b.errorParts(m)...)
	s.Blocks = append(s.Blocks, b.among(m)...)
	s.Blocks = append(s.Blocks, b.aboutWhy(m)...)
	s.Blocks = append(s.Blocks, b.wear(m)...)
	b.section(s)
}

// spaced sets marks as numbers of a list: 1, 2, 3, not raised.
func spaced(marks Text) Text {
	var out []Text
	for _, m := range marks {
		out = append(out, say(link(m.Text, m.To)))
	}
	return list(out)
}

// figureHead fills what stands above and below a figure.
func (b *builder) figureHead(m *measured, title Text, sub string, notes []int) figure.Head {
	b.figures++
	h := figure.Head{Codes: b.doc.Codes, Comma: b.in.Style.Comma, Test: b.where(m), Number: b.figures, Title: title.drawn(), Sub: figure.Say(sub)}
	all := b.marks.List()
	slices.Sort(notes)
	for _, n := range slices.Compact(notes) {
		c := all[n-1]
		text := c.Text
		var here []caveat.Place // the figure's measure is named above it
		for _, p := range c.Places {
			if p.Measure == "" || p.Measure == m.r.Measure.ID {
				p.Measure = ""
				here = append(here, p)
			}
		}
		if w := b.wherever(here); w != "" {
			text = upper(w) + ": " + text
		}
		h.Notes = append(h.Notes, figure.Note{Number: n, Text: figure.Say(text)})
	}
	return h
}

// place says where a caveat is, without what the reader sees anyway.
func (b *builder) place(p caveat.Place) string {
	var parts []string
	add := func(word, v string) {
		if v != "" {
			parts = append(parts, word+v)
		}
	}
	add("", b.measureSaid(p.Measure))
	add("code ", p.Code)
	if p.Run != "" {
		add("run ", p.Run)
	} else {
		add("stint ", p.Stint)
	}
	add("channel ", p.Channel)
	if p.File != "" && p.Line > 0 {
		add("", fmt.Sprintf("%s:%d", p.File, p.Line))
	} else {
		add("", p.File)
	}
	if p.TimeS != nil {
		add("at ", plain(*p.TimeS, 2, b.in.Style)+unit.NoBreak+"s")
	}
	return strings.Join(parts, ", ")
}

// wherever says where alike caveats are, as place does.
func (b *builder) wherever(places []caveat.Place) string {
	if len(places) == 1 {
		return b.place(places[0])
	}
	list := slices.Clone(places)
	for i := range list {
		list[i].Test, list[i].Measure = "", b.measureSaid(list[i].Measure)
	}
	return caveat.Where(list)
}

// measureSaid gives a measure's title, or nothing where there is but one.
func (b *builder) measureSaid(id string) string {
	if !b.several && len(b.tests) <= 1 {
		return ""
	}
	for i := range b.tests {
		for j := range b.tests[i].measures {
			if m := &b.tests[i].measures[j]; m.r != nil && m.r.Measure.ID == id {
				return m.r.Measure.Title
			}
		}
	}
	return id
}

func first(n []int) int {
	if len(n) == 0 {
		return 0
	}
	return n[0]
}

func toward(m programme.Measure) figure.Toward {
	switch m.Better {
	case programme.Higher:
		return figure.Rising
	case programme.Lower:
		return figure.Falling
	}
	return figure.Nowhere
}

// along gives where each compared stint stands on the strip's axis, and how the
// control's curve is put there. Blocks and segments whose places overlap are set
// one after another.
func along(r *compare.Result) (order []int, at []float64, shift []float64) {
	for i := range r.Stints {
		order = append(order, i)
	}
	segments := 0
	for _, s := range r.Stints {
		segments = max(segments, s.Segment+1)
	}
	shift = make([]float64, segments)
	overlap := false
	for i := 1; i < len(r.Stints); i++ {
		overlap = overlap || r.Stints[i].X < r.Stints[i-1].X || r.Stints[i].X == r.Stints[i-1].X && r.Stints[i].Segment != r.Stints[i-1].Segment
	}
	if overlap {
		slices.SortStableFunc(order, func(a, b int) int {
			x, y := r.Stints[a], r.Stints[b]
			switch {
			case x.Segment != y.Segment:
				return x.Segment - y.Segment
			case x.X < y.X:
				return -1
			case x.X > y.X:
				return 1
			}
			return 0
		})
		step := stepOf(r, order)
		end, begun := 0.0, false
		for k := 0; k < len(order); {
			g := r.Stints[order[k]].Segment
			low := r.Stints[order[k]].X
			if begun {
				shift[g] = end + step - low
			}
			for ; k < len(order) && r.Stints[order[k]].Segment == g; k++ {
				end = r.Stints[order[k]].X + shift[g]
			}
			begun = true
		}
	}
	for _, i := range order {
		at = append(at, r.Stints[i].X+shift[r.Stints[i].Segment])
	}
	return order, at, shift
}

func stepOf(r *compare.Result, order []int) float64 {
	var steps []float64
	for k := 1; k < len(order); k++ {
		a, b := r.Stints[order[k-1]], r.Stints[order[k]]
		if a.Segment == b.Segment && b.X > a.X {
			steps = append(steps, b.X-a.X)
		}
	}
	if len(steps) == 0 {
		return 1
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// strip is the bracket strip of a measure.
func (b *builder) strip(m *measured) Block {
	r := m.r
	order, at, shift := along(r)
	f := &figure.BracketStrip{}
	days := 0.0
	if r.Settings.By == compare.ByClock && len(at) > 0 && !absolute(m.t.Log) {
		f.Clock = true
	}
	var notes []int
	index := map[string]int{}
	reasons := map[string]int{}
	for k, i := range order {
		s := r.Stints[i]
		index[s.ID] = k
		mean := s.Mean
		st := figure.StripStint{Code: s.Code, AtS: at[k] - days, Mean: m.s.drawn(&mean), Low: m.s.drawn(s.MeanLow), High: m.s.drawn(s.MeanHigh)}
		if l := b.numbers(m.atStint(s.ID)); len(l) > 0 {
			st.Note = first(l)
			notes = append(notes, l...)
		}
		for _, run := range s.Runs {
			v := run.Value
			q := figure.StripRun{Value: *m.s.drawn(&v), LeftOut: run.Excluded}
			if l := b.numbers(m.atRun(run.Run)); len(l) > 0 {
				q.Note = first(l)
				notes = append(notes, l...)
				q.Broken = m.brokenRun(run.Run)
			}
			if run.Excluded {
				reasons[run.Reason]++
			}
			st.Runs = append(st.Runs, q)
		}
		f.Stints = append(f.Stints, st)
	}
	var d *figure.Drift
	segment := -1
	for _, p := range r.Curve {
		if d == nil || p.Segment != segment {
			f.Drift = append(f.Drift, figure.Drift{})
			d = &f.Drift[len(f.Drift)-1]
			segment = p.Segment
		}
		v := p.Value
		d.AtS = append(d.AtS, p.X+shift[p.Segment]-days)
		d.Value = append(d.Value, *m.s.drawn(&v))
		if p.Low != nil && p.High != nil {
			d.Low = append(d.Low, *m.s.drawn(p.Low))
			d.High = append(d.High, *m.s.drawn(p.High))
		}
	}
	band := ""
	for i := range f.Drift {
		if len(f.Drift[i].Low) != len(f.Drift[i].AtS) {
			f.Drift[i].Low, f.Drift[i].High = nil, nil
		} else if len(f.Drift[i].Low) > 0 {
			band = ", with its " + percent(r.Settings.Confidence, b.doc.Comma) + " band"
		}
	}
	for _, q := range r.Brackets {
		from, ok := index[q.From]
		to, also := index[q.To]
		if ok && also && to > from+1 {
			f.Brackets = append(f.Brackets, figure.Bracket{From: from, To: to})
		}
	}
	for k := 1; k < len(order); k++ {
		x, y := r.Stints[order[k-1]], r.Stints[order[k]]
		if x.Segment == y.Segment {
			continue
		}
		w := []string{"break"}
		if x.Block != y.Block && y.Block != "" {
			w = []string{r.Settings.Block, y.Block}
			if r.Settings.Block == "" {
				w = []string{"block", y.Block}
			}
		}
		f.Breaks = append(f.Breaks, figure.Break{Before: k, Words: w})
	}
	for _, c := range m.t.covs {
		row := figure.ConditionRow{Name: c.head()}
		some := false
		for _, i := range order {
			text := ""
			if v, ok := meanOf(r.Stints[i], c.key); ok {
				text, some = c.mean(v, b.in.Style), true
			}
			row.Cells = append(row.Cells, figure.Cell{Text: text, Broken: text != "" && m.brokenStint(r.Stints[i].ID, c.key)})
		}
		if some && len(f.Conditions) < 4 {
			f.Conditions = append(f.Conditions, row)
		}
	}
	f.Value = figure.Axis{Name: m.axisName(), Better: toward(r.Measure), Signed: false}
	f.DriftName, f.DriftShort = figure.Say("what the control was worth"), figure.Say("the control")
	whisker := "Markers: stint means; whiskers: their " + percent(r.Settings.Confidence, b.doc.Comma) + " interval from the scatter of their own runs; dots: single runs."
	if !slices.ContainsFunc(r.Stints, func(s compare.Stint) bool { return s.MeanLow != nil }) {
		whisker = "Markers: stint means; dots: single runs."
	}
	if len(reasons) > 0 {
		whisker += " Ringed: runs left out."
	}
	if len(f.Drift) > 0 {
		whisker += " Line: what the control was worth" + band + "."
	}
	f.Head = b.figureHead(m, b.drifted(m), whisker, notes)
	return b.drawn(f)
}

// absolute tells whether the stints' clock is that of the calendar: hours and
// minutes at the ground cannot be read from it without the ground's zone.
func absolute(l programme.Log) bool {
	for _, s := range l.Stints {
		if s.ClockS != nil && (*s.ClockS < 0 || *s.ClockS > 31*86400) {
			return true
		}
	}
	return false
}

func (m *measured) axisName() string {
	if m.s.none {
		return m.title
	}
	return m.title + ", " + m.s.unit.Symbol()
}

func (b *builder) drawn(f figure.Figure) Block {
	return Block{Figure: &Drawn{ID: fmt.Sprintf("figure-%d", b.figures), Figure: f}}
}

// brokenRun tells whether a run breaks a limit.
func (m *measured) brokenRun(id string) bool {
	return slices.ContainsFunc(m.r.Validity, func(f compare.Finding) bool { return f.Run == id && f.Standing == programme.Broken })
}

// brokenStint tells whether a stint, or a run of it, breaks a limit of a field.
func (m *measured) brokenStint(id, field string) bool {
	return slices.ContainsFunc(m.r.Validity, func(f compare.Finding) bool {
		return f.Stint == id && f.Limit.Field == field && f.Standing == programme.Broken
	})
}

// meanOf gives the mean of a condition over the runs of a stint that are compared.
func meanOf(s compare.Stint, key string) (float64, bool) {
	sum, n := 0.0, 0
	for _, r := range s.Runs {
		if v, ok := r.Covariates[key]; ok && r.Compared {
			sum += v
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / float64(n), true
}

// drifted says what the control did over the sequence.
func (b *builder) drifted(m *measured) Text {
	c := m.r.Controls
	k := code(m.r.Control)
	span := m.s.value(c.Low)
	if m.s.value(c.High) != span {
		span = m.s.number(c.Low) + " to " + m.s.value(c.High)
	}
	switch {
	case c.Stints < 2:
		return say(k, " was driven once, at "+span+": its drift is not known")
	case c.Test == nil && !c.Shown:
		return say(k, " went through "+span+" in "+words(c.Stints)+" stints; whether it drifted cannot be told")
	case c.Shown:
		return say(k, " is shown to drift: "+span+" over "+words(c.Stints)+" stints")
	}
	return say(k, " is not shown to drift: "+span+" over "+words(c.Stints)+" stints")
}

// ladder is the interval ladder of a measure.
func (b *builder) ladder(m *measured) Block {
	r := m.r
	f := &figure.IntervalLadder{Control: m.control(), Margin: m.margin(), Stints: "stints"}
	f.Value = figure.Axis{Name: m.s.what(), Better: figure.Rising, Signed: !m.s.ratio}
	if r.Measure.Better == programme.Undirected || r.Measure.Better == "" {
		f.Value.Better = figure.Nowhere
	}
	f.Columns = []string{m.s.what()}
	var notes []int
	for _, row := range m.rows {
		e := estimateOf(m, row)
		low, high := ends(m, row)
		q := figure.LadderRow{Code: row.Code, Verdict: figure.Verdict(row.Verdict.Word.Key()), Estimate: m.s.axis(e), Low: m.s.axis(low), High: m.upper(e, low, high), Stints: fmt.Sprint(row.Stints)}
		n := b.numbers(m.own(row))
		notes = append(notes, n...)
		q.Note = first(n)
		if e != nil {
			reading := figure.Reading{Value: m.s.estimate(*e), Interval: m.s.interval(low, high)}
			if len(n) > 1 {
				reading.Note = n[1]
			}
			q.Readings = []figure.Reading{reading}
		}
		f.Rows = append(f.Rows, q)
	}
	sub := "Bars: the " + percent(r.Settings.Confidence, b.doc.Comma) + " interval that holds for all candidates at once"
	if r.Error.DF == 0 {
		sub = "Markers: estimates. There are no degrees of freedom, so there is no interval"
	} else {
		sub += ", on " + degrees(r.Error.DF, b.in.Style)
	}
	if f.Margin != nil {
		sub += "; shaded: the margin"
	}
	f.Head = b.figureHead(m, b.finding(m, true), sub+".", notes)
	return b.drawn(f)
}

// cells helps to write rows.
func cell(parts ...any) Cell { return Cell{Text: say(parts...)} }

func number(text string, v *float64, u string) Cell {
	if v == nil {
		return Cell{Text: say(text)}
	}
	return Cell{Text: say(text), Value: v, Unit: u}
}

func heads(names ...string) []Column {
	var out []Column
	for _, n := range names {
		c := Column{}
		if rest, ok := strings.CutPrefix(n, "#"); ok {
			c.Numbers, n = true, rest
		}
		c.Head = say(n)
		out = append(out, c)
	}
	return out
}

// candidates is the table of what is said of each candidate.
func (b *builder) candidates(m *measured) Block {
	r := m.r
	t := Table{ID: m.id + "-candidates", Caption: say("Each candidate against the control ", code(r.Control), ", "+m.title)}
	t.Columns = heads("", "verdict", "#"+m.s.what(), "#"+percent(r.Settings.Confidence, b.doc.Comma)+" interval", "#could have been shown", "#p, adjusted", "#p, step by step", "#p, alone", "about", "#stints", "#runs")
	for _, row := range m.rows {
		e := estimateOf(m, row)
		low, high := ends(m, row)
		var word Text
		switch row.Verdict.Word {
		case compare.Better, compare.Worse, compare.BetterLessThanMargin, compare.WorseLessThanMargin:
			word = say(strong(row.Verdict.Word.String()))
		case compare.Same:
			word = say(row.Verdict.Word.String())
		default:
			word = say(em(row.Verdict.Word.String()))
		}
		if row.Verdict.Because != "" {
			word = say(word, ": "+row.Verdict.Because)
		}
		about := "these sets"
		if row.Verdict.About == compare.ThisTyre {
			about = "this tyre"
		}
		estimate := "none"
		if e != nil {
			estimate = m.s.estimate(*e)
		}
		iv := m.s.interval(low, high)
		if iv == "" {
			iv = "none"
		}
		show := Cell{Text: say("not known")}
		if row.Detectable != nil {
			show = number(m.s.points(*row.Detectable), m.s.axis(row.Detectable), m.s.symbolOfIndex())
		}
		t.Rows = append(t.Rows, Row{ID: b.candidateTo(m, row.Code), Cells: []Cell{
			{Text: say(code(row.Code), b.noted(m.own(row))), Head: true},
			{Text: word}, number(estimate, m.s.axis(e), m.s.symbolOfIndex()), cell(iv), show,
			b.p(row.P), b.p(row.StepP), b.p(row.RawP), cell(about), cell(fmt.Sprint(row.Stints)), cell(fmt.Sprint(row.Runs)),
		}})
	}
	return Block{Table: &t}
}

func (s scale) symbolOfIndex() string {
	if s.ratio {
		return ""
	}
	return s.symbol()
}

func (b *builder) p(p *float64) Cell {
	if p == nil {
		return cell("none")
	}
	return number(probability(*p, b.in.Style), p, "")
}

// values is the table of values as driven and corrected.
func (b *builder) values(m *measured) Block {
	r := m.r
	t := Table{ID: m.id + "-values", Caption: say("Values of " + m.title + withUnit(m.s) + ": as driven, and at " + level(r.Settings.Reference) + ", " + m.s.value(r.Level))}
	t.Columns = heads("", "#mean as driven", "#at that level", "#standard error", "#t", "sets", "stints: mean, and the number that opens its runs")
	row := func(letter string, mean float64, at *float64, se, tt *float64, sets []string) {
		at2 := "none"
		if at != nil {
			at2 = m.s.number(*at)
		}
		seText, tText := "none", "none"
		if letter == r.Control {
			seText, tText = "", ""
		}
		if se != nil {
			if m.s.ratio {
				seText = plain(100**se, 2, b.in.Style) + unit.NoBreak + "%"
			} else {
				seText = m.s.length(*se)
			}
		}
		if tt != nil {
			tText = plain(*tt, 2, b.in.Style)
		}
		var each []Text
		for _, s := range r.Stints {
			if s.Code == letter {
				each = append(each, say(m.s.number(s.Mean)+" (", link(s.ID, m.t.stintTo(s.ID)), ")"))
			}
		}
		var joined Text
		for i, e := range each {
			if i > 0 {
				joined = say(joined, ", ")
			}
			joined = say(joined, e)
		}
		v := m.s.in(mean)
		t.Rows = append(t.Rows, Row{Group: letter != r.Control && len(t.Rows) == 1, Cells: []Cell{
			{Text: say(code(letter)), Head: true}, number(m.s.number(mean), &v, m.s.symbol()), number(at2, m.s.drawn(at), m.s.symbol()),
			number(seText, nil, ""), number(tText, tt, ""), cell(strings.Join(sets, ", ")), {Text: joined},
		}})
	}
	level := r.Level
	row(r.Control, r.Controls.Mean, &level, nil, nil, r.Controls.Sets)
	for _, x := range m.rows {
		row(x.Code, x.Mean, x.AtLevel, x.SE, x.T, x.Sets)
	}
	return Block{Table: &t}
}

func withUnit(s scale) string {
	if s.none {
		return ""
	}
	return " in " + s.unit.Symbol()
}

// stints is the table of stints in the order driven.
func (b *builder) stints(m *measured) Block {
	r := m.r
	t := Table{ID: m.id + "-stints", Caption: say("Stints in the order driven, " + m.title + withUnit(m.s))}
	against := "against the control there"
	if m.s.ratio {
		against = "index there"
	}
	t.Columns = heads("stint", "code", "set", "#"+string(r.Settings.By), "#runs", "#mean", "#scatter of runs", "#control there", "#"+against)
	blocks := slices.ContainsFunc(r.Stints, func(s compare.Stint) bool { return s.Block != "" })
	if blocks {
		name := r.Settings.Block
		if name == "" {
			name = "block"
		}
		t.Columns = slices.Insert(t.Columns, 3, Column{Head: say(name)})
	}
	for i, s := range r.Stints {
		scatter := "none"
		var sv *float64
		switch {
		case s.CV != nil:
			scatter, sv = plain(*s.CV, 2, b.in.Style)+unit.NoBreak+"%", s.CV
		case s.SD != nil:
			scatter, sv = plain(m.s.by(*s.SD), m.s.digits, b.in.Style), s.SD
		}
		there, idx := "none", "none"
		var iv *float64
		if s.Control {
			idx = ""
		}
		if s.Local != nil {
			there = m.s.number(*s.Local)
		}
		switch {
		case s.Control:
		case m.s.ratio && s.Index != nil:
			idx, iv = m.s.estimate(*s.Index), s.Index
		case !m.s.ratio && s.Difference != nil:
			idx, iv = m.s.signed(*s.Difference), s.Difference
		}
		at := plain(s.X, 2, b.in.Style)
		at = trimZeros(at, b.in.Style)
		if r.Settings.By == compare.ByClock {
			at = clockText(s.X, absolute(m.t.Log), b.in.Style)
		}
		v := s.Mean
		marks := b.noted(m.atStint(s.ID))
		row := Row{Cells: []Cell{
			{Text: say(link(s.ID, m.t.stintTo(s.ID)), marks), Head: true}, cell(code(s.Code)), cell(s.Set),
			cell(at), cell(fmt.Sprint(s.N)), number(m.s.number(s.Mean), m.s.drawn(&v), m.s.symbol()),
			number(scatter, sv, ""), number(there, m.s.drawn(s.Local), m.s.symbol()), number(idx, iv, ""),
		}}
		if blocks {
			row.Cells = slices.Insert(row.Cells, 3, cell(s.Block))
		}
		row.Group = i > 0 && s.Segment != r.Stints[i-1].Segment
		t.Rows = append(t.Rows, row)
	}
	return Block{Table: &t}
}

// clockText writes seconds of a day as a time of day, others as seconds.
func clockText(s float64, absolute bool, style unit.Style) string {
	if absolute {
		return trimZeros(plain(s, 0, style), style) + unit.NoBreak + "s"
	}
	m := int(s/60+0.5) % (24 * 60)
	return fmt.Sprintf("%02d:%02d", m/60, m%60)
}

// control says what the control did, and what each bracket shows.
func (b *builder) control(m *measured) []Block {
	r, c := m.r, m.r.Controls
	t := say("The control ", code(r.Control), ": "+count(c.Stints, "stint")+", mean "+m.s.value(c.Mean)+", "+m.s.number(c.Low)+" to "+m.s.value(c.High))
	if c.Slope != nil {
		per := " a position"
		if r.Settings.By == compare.ByClock {
			per = " a second"
		}
		t = say(t, "; a straight line through its stints moves by "+significantBy(m.s, c.Slope.Estimate, b.in.Style)+per)
		if c.Slope.SE != nil {
			t = say(t, " (standard error "+significantBy(m.s, *c.Slope.SE, b.in.Style)+")")
		}
		if c.WorthPercent != nil {
			t = say(t, ", "+unit.Signed(*c.WorthPercent, 2, b.in.Style)+unit.NoBreak+"% from its first to its last")
		}
	}
	t = say(t, ". ")
	if c.Test != nil {
		t = say(t, fmt.Sprintf("F test of the drift: F %s on %d and %d degrees of freedom, p %s. ", plain(c.Test.F, 2, b.in.Style), c.Test.Num, c.Test.Den, probability(c.Test.P, b.in.Style)))
	}
	e := r.Error
	if e.SD != nil {
		sd := m.s.length(*e.SD)
		if e.Percent != nil {
			sd = plain(*e.Percent, 2, b.in.Style) + unit.NoBreak + "%"
		}
		t = say(t, "Stint means scatter about "+e.About+" with a standard deviation of "+sd+", on "+degrees(e.DF, b.in.Style)+".")
	} else {
		t = say(t, "How stint means scatter about "+e.About+" is not known.")
	}
	out := []Block{{Text: t}}
	if e.Between != nil {
		out = append(out, Block{Text: say(fmt.Sprintf("Tyre by block: F %s on %d and %d degrees of freedom, p %s.", plain(e.Between.F, 2, b.in.Style), e.Between.Num, e.Between.Den, probability(e.Between.P, b.in.Style)))})
	}
	if len(e.Covariates) > 0 {
		ct := Table{ID: m.id + "-covariates", Caption: say("Conditions in the model, on the analysis scale, per unit of the column")}
		ct.Columns = heads("condition", "#coefficient", "#standard error", "#t", "#p", "#centred at")
		for _, x := range e.Covariates {
			row := Row{Cells: []Cell{{Text: say(covariateOf(x.Name, b.in.Style).name), Head: true}, cell(significant(x.Estimate, 4, b.in.Style))}}
			opt := func(p *float64, digits int) Cell {
				if p == nil {
					return cell("none")
				}
				return cell(significant(*p, digits, b.in.Style))
			}
			cv := covariateOf(x.Name, b.in.Style)
			row.Cells = append(row.Cells, opt(x.SE, 3), opt(x.T, 3), b.p(x.P), cell(cv.mean(x.Mean, b.in.Style)))
			ct.Rows = append(ct.Rows, row)
		}
		out = append(out, Block{Table: &ct})
	}
	return out
}

// brackets is what the control moved by from bracket to bracket.
func (b *builder) brackets(m *measured) []Block {
	r := m.r
	var out []Block
	if len(r.Brackets) > 0 {
		bt := Table{ID: m.id + "-brackets", Caption: say("Brackets: what the control moved by between its neighbouring stints" + withUnit(m.s))}
		bt.Columns = heads("from", "to", "candidates between", "#change")
		if m.s.ratio { // of what is compared by differences, points or delays, a per cent says nothing
			bt.Columns = append(bt.Columns, heads("#in per cent")...)
		}
		code := map[string]string{}
		for _, s := range r.Stints {
			code[s.ID] = s.Code
		}
		for _, q := range r.Brackets {
			var between []Text
			for _, id := range q.Candidates {
				between = append(between, say(Span{Text: code[id], As: Code}, " (", link(id, m.t.stintTo(id)), ")"))
			}
			p := "none"
			if q.Percent != nil {
				p = plain(*q.Percent, 2, b.in.Style) + unit.NoBreak + "%"
			}
			row := Row{Cells: []Cell{
				{Text: say(link(q.From, m.t.stintTo(q.From))), Head: true}, cell(link(q.To, m.t.stintTo(q.To))), {Text: list(between)},
				cell(m.s.signed(q.Change)),
			}}
			if m.s.ratio {
				row.Cells = append(row.Cells, cell(p))
			}
			bt.Rows = append(bt.Rows, row)
		}
		out = append(out, Block{Table: &bt})
	}
	return out
}

func significantBy(s scale, d float64, style unit.Style) string {
	v := s.by(d)
	t := significant(v, 3, style)
	if v > 0 {
		t = "+" + t
	}
	if s.none {
		return t
	}
	return s.unit.Label(t, style)
}

// validity holds what was driven against its limits: one row a limit, and every
// broken one by name.
func (b *builder) validity(m *measured) []Block {
	if len(m.r.Validity) == 0 {
		return nil
	}
	type line struct {
		f               compare.Finding
		within, missing int
		broken          []compare.Finding
	}
	var lines []*line
	for _, f := range m.r.Validity {
		i := slices.IndexFunc(lines, func(l *line) bool {
			return l.f.Limit.Field == f.Limit.Field && l.f.Limit.Of == f.Limit.Of && l.f.Profile == f.Profile && l.f.Limit.Source == f.Limit.Source
		})
		if i < 0 {
			lines = append(lines, &line{f: f})
			i = len(lines) - 1
		}
		switch f.Standing {
		case programme.Within:
			lines[i].within++
		case programme.Broken:
			lines[i].broken = append(lines[i].broken, f)
		default:
			lines[i].missing++
		}
	}
	t := Table{ID: m.id + "-validity", Caption: say("Validity: what was driven, held against its limits")}
	t.Columns = heads("limit", "bounds", "of", "#kept", "#not recorded", "broken", "what stands then", "source")
	for _, l := range lines {
		c := covariateOf(l.f.Limit.Field, b.in.Style)
		var broken []Text
		for _, f := range l.broken {
			where := "stint " + f.Stint
			to := m.t.stintTo(f.Stint)
			switch {
			case f.Run != "":
				where, to = "run "+f.Run, m.t.runTo(f.Run)
			case f.To != "":
				where += " to " + f.To
			}
			v := ""
			if f.Value != nil {
				v = limitText(c, l.f.Limit, *f.Value, b.in.Style)
			}
			broken = append(broken, say(link(where, to), ": ", Span{Text: v, As: Broken}))
		}
		joined := say("none")
		for i, x := range broken {
			if i == 0 {
				joined = x
			} else {
				joined = say(joined, "; ", x)
			}
		}
		of := l.f.Limit.Of
		if of == "" {
			of = "all"
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{
			{Text: say(fieldName(c, l.f.Limit)), Head: true}, cell(boundsText(c, l.f.Limit, b.in.Style)), cell(of + ", each " + l.f.Limit.Per),
			cell(fmt.Sprint(l.within)), cell(fmt.Sprint(l.missing)), {Text: joined}, cell(l.f.Limit.Stands), cell(l.f.Limit.Source.String()),
		}})
	}
	out := []Block{{Table: &t}}
	if side := b.sideBySide(m); side != nil {
		out = append(out, Block{Table: side})
	}
	return out
}

func fieldName(c covariate, l programme.Limit) string {
	switch l.Field {
	case "cv":
		return "scatter of runs"
	case "reference_shift":
		return "shift of the control"
	case "candidates_between":
		return "stints between controls"
	}
	return c.name
}

// limitText writes a value held against a limit, in the unit people see.
func limitText(c covariate, l programme.Limit, v float64, style unit.Style) string {
	if l.Unit == "%" {
		return plain(v, 2, style) + unit.NoBreak + "%"
	}
	if c.none {
		return trimZeros(significant(v, 4, style), style)
	}
	return c.unit.Label(trimZeros(significant(c.in(v), 4, style), style), style)
}

func boundsText(c covariate, l programme.Limit, style unit.Style) string {
	switch {
	case l.Low != nil && l.High != nil:
		low := trimZeros(significant(c.in(*l.Low), 4, style), style)
		return low + " to " + limitText(c, l, *l.High, style)
	case l.Low != nil:
		return "at least " + limitText(c, l, *l.Low, style)
	case l.High != nil:
		return "at most " + limitText(c, l, *l.High, style)
	}
	return "none"
}

// regulation is the block as the regulation has it, marked as indicative.
func (b *builder) regulation(m *measured) []Block {
	r := m.r
	if r.Block == nil {
		return nil
	}
	lead := say(strong("Indicative. "), "The block is worked as "+r.Block.Profile.Title+" would have it, and is no result under it: "+strings.Join(r.Block.Indicative, "; ")+".")
	if r.Block.Discarded {
		lead = say(lead, " The control’s scatter is over its limit: nothing of the block stands.")
	}
	t := Table{ID: m.id + "-regulation", Caption: say("Indicative: " + r.Block.Profile.Title)}
	t.Columns = heads("code", "stint", "category", "#mean", "#scatter", "#weighted control", "#ratio", "#surface, °C", "#index", "#label index", "class", "stands")
	opt := func(p *float64, digits int) Cell {
		if p == nil {
			return cell("none")
		}
		return number(plain(*p, digits, b.in.Style), p, "")
	}
	for _, x := range r.Block.Rows {
		stands := "yes"
		if !x.Stands {
			stands = "no"
		}
		if len(x.Why) > 0 {
			stands += ": " + strings.Join(x.Why, "; ")
		}
		mean, weighted, ratio := x.Mean, x.Weighted, x.Ratio
		cv := opt(x.CV, 2)
		if x.CV != nil {
			cv.Text = say(plain(*x.CV, 2, b.in.Style) + unit.NoBreak + "%")
		}
		class := x.Class
		if class == "" {
			class = "none"
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{
			{Text: say(code(x.Code)), Head: true}, cell(link(x.Stint, m.t.stintTo(x.Stint))), cell(x.Category), opt(&mean, 3), cv, opt(&weighted, 3),
			opt(&ratio, 4), opt(x.SurfaceC, 1), opt(x.Index, 4), opt(x.Label, 2), cell(class), cell(stands),
		}})
	}
	return []Block{{Text: lead}, {Table: &t}}
}

// conditions is the table of conditions by stint.
func (b *builder) conditions(t *test) {
	if len(t.covs) == 0 {
		return
	}
	title := "Conditions"
	if t.Title != "" {
		title += ", " + t.Title
	}
	s := Section{ID: t.id + "-conditions", Short: title, Title: say(b.conditionsSaid(t))}
	tab := Table{ID: t.id + "-conditions-table", Caption: say("Conditions by stint, means over its runs; from least to greatest where they differ")}
	if b.conditionsByRun(t) == nil {
		tab.Caption = say("Conditions by stint, the same in all of its runs")
	}
	tab.Columns = heads("stint", "code")
	for _, c := range t.covs {
		tab.Columns = append(tab.Columns, Column{Head: say(c.head()), Numbers: true})
	}
	for _, st := range t.Log.Stints {
		row := Row{Cells: []Cell{{Text: say(link(st.ID, t.stintTo(st.ID))), Head: true}, cell(code(st.Code))}}
		for _, c := range t.covs {
			sum, n, lo, hi := 0.0, 0, 0.0, 0.0
			for _, r := range t.Log.Runs {
				v, ok := r.Covariates[c.key]
				if !ok || r.Stint != st.ID {
					continue
				}
				if n == 0 {
					lo, hi = v, v
				}
				lo, hi = min(lo, v), max(hi, v)
				sum += v
				n++
			}
			if n == 0 {
				row.Cells = append(row.Cells, cell("not recorded"))
				continue
			}
			mean := c.in(sum / float64(n))
			text := c.mean(sum/float64(n), b.in.Style)
			if hi > lo {
				text += " (" + c.mean(lo, b.in.Style) + " to " + c.mean(hi, b.in.Style) + ")"
			}
			u := ""
			if !c.none {
				u = c.unit.Symbol()
			}
			row.Cells = append(row.Cells, number(text, &mean, u))
		}
		tab.Rows = append(tab.Rows, row)
	}
	s.Blocks = append(s.Blocks, Block{Table: &tab})
	b.section(s)
}

func (b *builder) conditionsSaid(t *test) string {
	return "Conditions: " + strings.Join(b.ranges(t.Log, t.covs), ", ")
}
