package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/compare"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// group is the candidates of one verdict, in the order of their codes.
type group struct {
	word compare.Word
	rows []*compare.Row
}

// order is the order in which verdicts are said.
var order = []compare.Word{compare.Better, compare.BetterLessThanMargin, compare.Worse, compare.WorseLessThanMargin, compare.Same, compare.NotShown, compare.NotComputed}

func groups(rows []*compare.Row) []group {
	var out []group
	for _, w := range order {
		g := group{word: w}
		for _, r := range rows {
			if r.Verdict.Word == w {
				g.rows = append(g.rows, r)
			}
		}
		if len(g.rows) > 0 {
			out = append(out, g)
		}
	}
	return out
}

func (g group) letters() []string {
	var out []string
	for _, r := range g.rows {
		out = append(out, r.Code)
	}
	return out
}

// most is how many codes of a group are named with their figures.
const most = 4

// finding is one measure's answer as a sentence without its full stop. A figure
// is named only where the verdict says that it differs from the control, or
// that it does not by more than the margin. naming adds the measure's name.
func (b *builder) finding(m *measured, naming bool) Text {
	if m.r == nil {
		return say("There is no comparison of " + m.title)
	}
	if m.r.Alike != nil {
		return m.alike()
	}
	in := ""
	if naming && m.title != "value" {
		in = " in " + m.title
	}
	control := code(m.r.Control)
	gs := groups(m.rows)
	if len(gs) == 1 && gs[0].word == compare.NotShown && len(m.rows) > 1 {
		letters := gs[0].letters()
		if len(letters) == 2 {
			return say("Neither ", code(letters[0]), " nor ", code(letters[1]), " is shown to differ from ", control, in)
		}
		return say("None of ", codes(letters), " is shown to differ from ", control, in)
	}
	var out Text
	figured := false
	for i, g := range gs {
		if i > 0 {
			out = append(out, Span{Text: "; "})
		}
		var who []Text
		for _, r := range g.rows {
			t := say(code(r.Code))
			if e := estimateOf(m, r); e != nil && len(g.rows) <= most && figures(g.word) {
				switch {
				case !m.s.ratio:
					t = say(t, " ("+m.s.estimateIn(*e)+")")
				case !figured:
					t = say(t, " (index"+unit.NoBreak+m.s.estimate(*e)+")")
				default:
					t = say(t, " ("+m.s.estimate(*e)+")")
				}
				figured = true
			}
			who = append(who, t)
		}
		verb := " is "
		if len(g.rows) > 1 {
			verb = " are "
		}
		out = say(out, list(who), verb)
		from, than := Text{}, Text{}
		if i == 0 {
			from, than = say(" from ", control, in), say(" than ", control, in)
		}
		switch g.word {
		case compare.Better:
			out = say(out, "better", than)
		case compare.Worse:
			out = say(out, "worse", than)
		case compare.BetterLessThanMargin:
			out = say(out, "better", than, ", but by less than matters")
		case compare.WorseLessThanMargin:
			out = say(out, "worse", than, ", but by less than matters")
		case compare.Same:
			if i == 0 {
				out = say(out, "the same as ", control, in, " within the margin")
			} else {
				out = say(out, "the same within the margin")
			}
		case compare.NotShown:
			out = say(out, "not shown to differ", from)
		default:
			out = say(out[:len(out)-1], Span{Text: strings.Replace(strings.Replace(verb, " is ", " has no verdict", 1), " are ", " have no verdict", 1)})
			if i == 0 {
				out = say(out, " against ", control, in)
			}
		}
	}
	return out
}

// alike says of a measure that every run has the same value of that there is nothing
// to compare: "not shown: 0.00" would read as a finding.
func (m *measured) alike() Text {
	if *m.r.Alike == 0 {
		return say(upper(m.title) + " is " + m.s.value(0) + " in every run: nothing of it occurred, so there is nothing to compare")
	}
	return say(upper(m.title) + " is " + m.s.value(*m.r.Alike) + " in every run: there is nothing to compare")
}

// figures tells whether a verdict's estimate is named in a title.
func figures(w compare.Word) bool { return w != compare.NotShown && w != compare.NotComputed }

func estimateOf(m *measured, r *compare.Row) *float64 {
	if m.s.ratio {
		return r.Index
	}
	return r.Difference
}

func ends(m *measured, r *compare.Row) (low, high *float64) {
	if m.s.ratio {
		return r.IndexLow, r.IndexHigh
	}
	return r.DiffLow, r.DiffHigh
}

// firsts gives the first measures of the tests.
func (b *builder) firsts() []*measured {
	var out []*measured
	for i := range b.tests {
		for j := range b.tests[i].measures {
			if b.tests[i].measures[j].first {
				out = append(out, &b.tests[i].measures[j])
			}
		}
	}
	return out
}

// over says how a candidate stands over several measures: "is better in 2 of 3
// measures and shown worse in none".
func over(of []*measured, letter, noun string) string {
	n := map[compare.Word]int{}
	total := 0
	for _, m := range of {
		if m.r == nil {
			continue
		}
		if m.r.Alike != nil { // nothing was compared
			continue
		}
		for _, r := range m.rows {
			if r.Code == letter {
				n[r.Verdict.Word]++
				total++
			}
		}
	}
	all := fmt.Sprintf(" of %d %s", total, noun)
	better, worse := n[compare.Better], n[compare.Worse]
	less := n[compare.BetterLessThanMargin] + n[compare.WorseLessThanMargin]
	var s string
	switch {
	case total == 0:
		return "is not compared"
	case better > 0 && worse > 0:
		s = fmt.Sprintf("is better in %d and worse in %d%s", better, worse, all)
	case better > 0 && n[compare.WorseLessThanMargin] == 0:
		s = fmt.Sprintf("is better in %d%s and shown worse in none", better, all)
	case better > 0:
		s = fmt.Sprintf("is better in %d%s", better, all)
	case worse > 0 && n[compare.BetterLessThanMargin] == 0:
		s = fmt.Sprintf("is worse in %d%s and shown better in none", worse, all)
	case worse > 0:
		s = fmt.Sprintf("is worse in %d%s", worse, all)
	case n[compare.Same] == total:
		return fmt.Sprintf("is the same within the margin in all %d %s", total, noun)
	case less > 0:
		s = fmt.Sprintf("differs by less than matters in %d%s", less, all)
		return s
	default:
		return fmt.Sprintf("is shown neither better nor worse in any of %d %s", total, noun)
	}
	if less > 0 {
		s += fmt.Sprintf(", by less than matters in %d more", less)
	}
	return s
}

// spelt is how many tests' answers are spelt out candidate by candidate on the
// first page; of more, each has a line.
const spelt = 2

// lines is of how many tests each has a line; of more, the table has them alone.
const lines = 4

// brief says a test's answer in a line.
func (b *builder) brief(m *measured) Text {
	if m.r == nil {
		return say(upper(m.title) + " is not compared: " + m.failed + ".")
	}
	name := upper(m.title)
	if m.t.Title != "" {
		name = upper(m.t.Title) + ", " + m.title
	}
	return say(link(name, m.id), ": ", b.finding(m, false), b.noted(m.general()), ".")
}

// front fills the first page.
func (b *builder) front() {
	d := b.doc
	firsts := b.firsts()
	if len(firsts) == 1 {
		d.Title = b.finding(firsts[0], true)
	} else {
		letters := slices.Clone(d.Codes.Candidates)
		for i, l := range letters {
			if i == most {
				d.Title = say(d.Title, "; the others stand in the table")
				break
			}
			if i > 0 {
				d.Title = say(d.Title, "; ")
			}
			d.Title = say(d.Title, code(l), " "+over(firsts, l, "tests"))
		}
	}
	b.question()
	for _, m := range firsts {
		switch {
		case len(firsts) > lines:
		case len(firsts) > spelt:
			d.Answer = append(d.Answer, b.brief(m))
		default:
			b.answer(m, len(firsts) > 1)
		}
	}
	if len(firsts) > lines {
		d.Answer = append(d.Answer, say("The table answers, test by test, by each test’s first measure; every name and number opens what it rests on."))
	}
	var rest []*measured
	for i := range b.tests {
		for j := range b.tests[i].measures {
			if m := &b.tests[i].measures[j]; !m.first && m.r != nil {
				rest = append(rest, m)
			}
		}
	}
	if len(rest) > 0 {
		var who []Text
		for _, l := range d.Codes.Candidates {
			noun := "measures"
			if len(rest) == 1 {
				noun = "measure"
			}
			who = append(who, say(code(l), " "+over(rest, l, noun)))
		}
		t := say("Described beside it, not part of the answer: ")
		for i, w := range who {
			if i > 0 {
				t = say(t, "; ")
			}
			t = say(t, w)
		}
		if b.described = say(t, "."); len(firsts) <= lines {
			d.Answer = append(d.Answer, b.described)
		}
	}
	b.matrix()
	b.asides(firsts)
}

func (b *builder) question() {
	d := b.doc
	if b.in.Question != "" {
		d.Question = []Text{say(b.in.Question)}
		return
	}
	var names []Text
	for _, m := range b.firsts() {
		names = append(names, say(m.title))
	}
	var asked []string // of whom a first measure says something
	for _, c := range d.Codes.Candidates {
		if slices.ContainsFunc(b.firsts(), func(m *measured) bool {
			return m.r == nil || slices.ContainsFunc(m.rows, func(r *compare.Row) bool { return r.Code == c })
		}) {
			asked = append(asked, c)
		}
	}
	if len(asked) == 0 {
		asked = d.Codes.Candidates
	}
	who := say("Is ", code(asked[0]))
	if len(asked) > 1 {
		who = say("Which of ", codes(asked), " is")
	}
	d.Question = []Text{say(who, " better or worse than the control ", code(d.Codes.Control), " in ", list(names), ", by how much, and how certain is that?")}
}

// answer says each candidate's verdict with its figures.
func (b *builder) answer(m *measured, naming bool) {
	d := b.doc
	if m.r == nil {
		d.Answer = append(d.Answer, say(upper(m.title)+" is not compared: "+m.failed+"."))
		return
	}
	if m.r.Alike != nil {
		d.Answer = append(d.Answer, say(m.alike(), "."))
		return
	}
	for i, r := range m.rows {
		t := say(code(r.Code), " ")
		if naming && i == 0 {
			t = say(upper(m.title)+": ", t)
		}
		t = say(t, b.saying(r.Verdict.Word))
		e := estimateOf(m, r)
		low, high := ends(m, r)
		if e != nil {
			t = say(t, ": "+m.s.whatFor()+" ", Span{Text: m.s.estimateIn(*e), As: Strong, To: b.candidateTo(m, r.Code)})
			if iv := m.s.interval(low, high); iv != "" {
				t = say(t, " ("+iv+")")
			}
		}
		t = say(t, b.noted(m.own(r)))
		if r.Verdict.Because != "" && r.Verdict.Word != compare.Better && r.Verdict.Word != compare.Worse {
			t = say(t, "; "+r.Verdict.Because)
		}
		t = say(t, ".")
		if len(m.rows) <= most {
			if at := b.atLevel(m, e, low, high); at != "" && figures(r.Verdict.Word) {
				t = say(t, " "+at)
			}
		}
		d.Answer = append(d.Answer, t)
	}
}

func (b *builder) saying(w compare.Word) Text {
	switch w {
	case compare.Better, compare.Worse:
		return say("is ", strong(w.String()))
	case compare.BetterLessThanMargin:
		return say("is ", strong("better"), ", by less than matters")
	case compare.WorseLessThanMargin:
		return say("is ", strong("worse"), ", by less than matters")
	case compare.Same:
		return say("is the same within the margin")
	case compare.NotShown:
		return say("is ", em("not shown"), " to differ")
	}
	return say("has no verdict")
}

func (s scale) whatFor() string {
	if s.ratio {
		return "index"
	}
	return "difference"
}

// atLevel turns an index into the measure's unit at the reference level.
func (b *builder) atLevel(m *measured, e, low, high *float64) string {
	if !m.s.ratio || m.s.none || e == nil || low == nil || high == nil || m.r.Level <= 0 {
		return ""
	}
	turn := func(index float64) float64 {
		if m.r.Measure.Better == programme.Lower {
			return m.r.Level*100/index - m.r.Level
		}
		return m.r.Level*index/100 - m.r.Level
	}
	x, y := turn(*low), turn(*high)
	for _, v := range []float64{turn(*e), x, y} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
	}
	if x > y {
		x, y = y, x
	}
	return fmt.Sprintf("At %s, %s, that is %s (%s).", level(m.r.Settings.Reference), m.s.value(m.r.Level),
		m.s.unit.Label(m.s.signed(turn(*e)), m.s.style), unit.SignedInterval(m.s.by(x), m.s.by(y), m.s.digits, m.s.style))
}

func level(r compare.Reference) string {
	switch r {
	case compare.MeanOfControls:
		return "the mean level of the controls"
	case compare.StatedLevel:
		return "the stated level"
	}
	return "the level of the first control"
}

// wide is how many candidates stand beside each other in the matrix.
const wide = 6

// fits is how many measures the table of the first page takes; of more, it has the
// first ones and the others follow on the next.
const fits = 8

// matrix makes the table of verdicts, in as many tables as its width needs.
func (b *builder) matrix() {
	letters := b.doc.Codes.Candidates
	n := 0
	for i := range b.tests {
		n += len(b.tests[i].measures)
	}
	b.firstsAlone = n > fits && len(b.tests) > 1
	for from := 0; from < len(letters); from += wide {
		b.doc.Matrix = append(b.doc.Matrix, b.verdicts(letters[from:min(from+wide, len(letters))], len(b.doc.Matrix)+1))
	}
}

func (b *builder) verdicts(letters []string, number int) Table {
	t := Table{ID: fmt.Sprintf("verdicts-%d", number), Caption: say("Verdicts: each candidate against the control ", code(b.doc.Codes.Control))}
	tests := len(b.tests) > 1
	if tests {
		t.Columns = append(t.Columns, Column{Head: say("Test")})
	}
	t.Columns = append(t.Columns, Column{Head: say("Measure")})
	for _, l := range letters {
		t.Columns = append(t.Columns, Column{Head: say(code(l))})
	}
	for i := range b.tests {
		rt := &b.tests[i]
		for j := range rt.measures {
			m := &rt.measures[j]
			if b.firstsAlone && !m.first {
				continue
			}
			row := Row{Group: tests && j == 0}
			if tests && j == 0 {
				rows := len(rt.measures)
				if b.firstsAlone {
					rows = 1
				}
				row.Cells = append(row.Cells, Cell{Text: say(rt.name(i)), Head: true, Rows: rows})
			}
			name := say(link(m.title, m.id))
			if m.r != nil {
				name = say(name, b.noted(m.general()))
				if !m.s.ratio {
					name = say(name, ", "+strings.TrimPrefix(m.s.what(), "difference, "))
				}
			}
			if b.several && m.first && !b.firstsAlone {
				name = say(name, " ", em("first measure"))
			}
			row.Cells = append(row.Cells, Cell{Text: name, Head: true})
			for _, l := range letters {
				row.Cells = append(row.Cells, b.verdict(m, l))
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

func (t *test) name(i int) string {
	if t.Title != "" {
		return t.Title
	}
	return fmt.Sprintf("Test %d", i+1)
}

// verdict is one cell of the matrix.
func (b *builder) verdict(m *measured, letter string) Cell {
	if m.r == nil {
		return Cell{Text: say(em("not computed"))}
	}
	i := slices.IndexFunc(m.rows, func(r *compare.Row) bool { return r.Code == letter })
	if i < 0 {
		return Cell{Text: say(em("not driven"))}
	}
	r := m.rows[i]
	if a := m.r.Alike; a != nil && *a == 0 {
		return Cell{Text: say(em("did not occur"))}
	} else if a != nil {
		return Cell{Text: say(em("alike in every run: " + m.s.value(*a)))}
	}
	v := &Verdict{Word: figure.Verdict(r.Verdict.Word.Key())}
	_, v.More = v.Word.Words()
	e := estimateOf(m, r)
	low, high := ends(m, r)
	marks := b.noted(m.own(r))
	if e == nil {
		return Cell{Text: marks, Verdict: v}
	}
	v.Estimate = say(link(m.s.estimate(*e), b.candidateTo(m, letter)), marks)
	v.Interval = m.s.interval(low, high)
	v.Strip = &figure.VerdictStrip{Codes: b.doc.Codes, Code: letter, Verdict: v.Word, Control: m.control(), Margin: m.margin(),
		Estimate: m.s.axis(e), Low: m.s.axis(low), High: m.upper(e, low, high), Reach: m.reach(),
		Reading: figure.Reading{Value: m.s.estimateIn(*e), Interval: v.Interval}}
	c := Cell{Text: say(r.Verdict.Word.String()+" ", v.Estimate), Value: m.s.axis(e), Verdict: v}
	if !m.s.ratio {
		c.Unit = m.s.symbol()
	}
	return c
}

// control is where the control stands on the measure's axis.
func (m *measured) control() float64 {
	if m.s.ratio {
		return 100
	}
	return 0
}

// margin is the band within which a difference does not matter, as it is drawn.
func (m *measured) margin() *figure.Margin {
	for _, r := range m.rows {
		if h := r.Verdict.Margin; h != nil {
			if !m.s.ratio {
				v := m.s.by(*h)
				return &figure.Margin{Low: -v, High: v, LowText: m.s.signed(-*h), HighText: m.s.signed(*h)}
			}
			lo, hi := 100*math.Exp(-*h), 100*math.Exp(*h)
			return &figure.Margin{Low: lo, High: hi, LowText: m.s.estimate(lo), HighText: m.s.estimate(hi)}
		}
	}
	return nil
}

// upper is the upper end as it is drawn. A one-sided interval has none: it runs
// out of the figure and ends in an arrowhead.
func (m *measured) upper(e, low, high *float64) *float64 {
	if high == nil && low != nil && e != nil {
		far := *e + 50*math.Max(*e-*low, m.reach())
		return m.s.axis(&far)
	}
	return m.s.axis(high)
}

// reach is how far the measure's strips run to either side of the control: over
// every estimate and the interval about it, but an interval several times as
// wide as the least may leave the strip.
func (m *measured) reach() float64 {
	least := math.Inf(1)
	for _, r := range m.rows {
		if e := m.s.axis(estimateOf(m, r)); e != nil {
			if low, _ := ends(m, r); low != nil {
				least = math.Min(least, math.Abs(*e-*m.s.axis(low)))
			}
		}
	}
	reach := 0.0
	if g := m.margin(); g != nil {
		reach = 2.2 * math.Max(g.High-m.control(), m.control()-g.Low)
	}
	for _, r := range m.rows {
		e := m.s.axis(estimateOf(m, r))
		if e == nil {
			continue
		}
		half := 0.0
		low, high := ends(m, r)
		for _, p := range []*float64{m.s.axis(low), m.s.axis(high)} {
			if p != nil {
				half = math.Max(half, math.Abs(*p-*e))
			}
		}
		reach = math.Max(reach, math.Abs(*e-m.control())+math.Min(half, 3*least))
	}
	reach *= 1.06
	if math.IsNaN(reach) || math.IsInf(reach, 0) {
		return 0
	}
	return reach
}

// asides fills the lower part of the first page.
func (b *builder) asides(firsts []*measured) {
	d := b.doc
	control := code(d.Codes.Control)
	ratio, difference, margin, oneSided := false, false, false, false
	confidence := 0.0
	for i := range b.tests {
		for j := range b.tests[i].measures {
			m := &b.tests[i].measures[j]
			if m.r == nil {
				continue
			}
			ratio, difference = ratio || m.s.ratio, difference || !m.s.ratio
			margin = margin || m.margin() != nil
			oneSided = oneSided || m.r.Settings.Sided == compare.OneSided
			confidence = m.r.Settings.Confidence
		}
	}
	read := Aside{Title: "How to read it"}
	if ratio {
		read.Texts = append(read.Texts, say("Index: the control ", control, " is 100, higher is better."))
	}
	if difference {
		read.Texts = append(read.Texts, say("Differences: from the control ", control, ", in the measure’s unit, positive is better."))
	}
	iv := say("In brackets: the " + percent(confidence, d.Comma) + " interval that holds for all candidates of a measure at once. Small figures are numbers of notes.")
	if oneSided {
		iv = say(iv, " A one-sided interval has no upper end: worse was not asked for.")
	}
	read.Texts = append(read.Texts, iv)
	t := say(strong("better"), ", ", strong("worse"), ": the interval lies on one side of ", control, ". ")
	if margin {
		t = say(t, "same: it lies within the margin (grey). ", em("not shown"), ": neither.")
	} else {
		t = say(t, em("not shown"), ": it does not. No margin was agreed, so nothing is called the same.")
	}
	read.Texts = append(read.Texts, t)

	sure := Aside{Title: "How sure"}
	if len(firsts) > spelt {
		sure.Texts = append(sure.Texts, b.sureAll(firsts))
	}
	for _, m := range firsts {
		if m.r != nil && len(firsts) <= spelt {
			sure.Texts = append(sure.Texts, b.sure(m, len(firsts) > 1)...)
		}
	}
	if len(firsts) > spelt {
		sure.Texts = append(sure.Texts, b.countedShort())
	} else {
		sure.Texts = append(sure.Texts, b.counted()...)
		if b.together != nil && b.together.Adjusted && b.fallen() > 0 {
			sure.Texts = append(sure.Texts, b.standing())
		}
	}
	sure.Texts = append(sure.Texts, b.plannedSaid())

	d.Asides = []Aside{read, sure, b.holds(firsts)}
}

func percent(share float64, comma bool) string {
	style := unit.Style{Comma: comma}
	return trimZeros(unit.Number(100*share, 2, style), style) + unit.NoBreak + "%"
}

// sure says what a measure's verdicts rest on.
func (b *builder) sure(m *measured, naming bool) []Text {
	r := m.r
	if r.Alike != nil {
		return nil
	}
	lead := ""
	if naming {
		lead = upper(m.title) + ": "
	}
	t := say(lead+count(len(r.Stints), "stint")+" of "+count(r.Runs, "run")+", the control ", code(r.Control), " in "+words(r.Controls.Stints))
	if n := len(r.Controls.Sets); n > 0 {
		t = say(t, " on "+count(n, "set"))
	}
	if r.Corrected {
		t = say(t, "; drift is taken out ("+r.Correction+")")
	} else {
		t = say(t, "; drift is not taken out")
	}
	out := []Text{say(t, ".")}
	var least, greatest *float64
	for _, row := range m.rows {
		if row.Detectable != nil && (least == nil || *row.Detectable < *least) {
			least = row.Detectable
		}
		if row.Detectable != nil && (greatest == nil || *row.Detectable > *greatest) {
			greatest = row.Detectable
		}
	}
	switch {
	case r.Error.DF == 0:
		out = append(out, say("There is nothing to judge by: as many terms as stints. The estimates stand without intervals, and no difference is shown. One more control stint, or candidates repeated in reversed order, would give that."))
	case least == nil:
		out = append(out, say("The scatter of stints is known from "+degrees(r.Error.DF, b.in.Style)+"."))
	default:
		text := m.s.points(*least)
		if m.s.points(*greatest) != text {
			text += " to " + m.s.points(*greatest)
		}
		out = append(out, say("With "+degrees(r.Error.DF, b.in.Style)+" a difference of "+m.s.pointsUnit(text)+" could have been shown (power "+percent(r.Settings.Power, b.doc.Comma)+")."))
	}
	return out
}

// sureAll says for many tests together what their verdicts rest on.
func (b *builder) sureAll(firsts []*measured) Text {
	stints, controls := [2]int{math.MaxInt, 0}, [2]int{math.MaxInt, 0}
	none := 0
	for _, m := range firsts {
		if m.r == nil {
			continue
		}
		n, k := len(m.r.Stints), m.r.Controls.Stints
		stints = [2]int{min(stints[0], n), max(stints[1], n)}
		controls = [2]int{min(controls[0], k), max(controls[1], k)}
		if m.r.Error.DF == 0 {
			none++
		}
	}
	to := func(x [2]int) string {
		if x[0] == x[1] {
			return fmt.Sprint(x[0])
		}
		return fmt.Sprintf("%d to %d", x[0], x[1])
	}
	t := say("Each test has "+to(stints)+" stints, ", code(b.doc.Codes.Control), " in "+to(controls)+" of them. What could have been shown stands with each measure.")
	if none > 0 {
		t = say(t, " "+upper(count(none, "test"))+" had nothing to judge by.")
	}
	return t
}

// degrees writes degrees of freedom: whole ones as they are, others, as a mixed
// model has them, with one decimal.
func degrees(n float64, style unit.Style) string {
	text := plain(n, 1, style)
	if whole := math.Round(n); math.Abs(n-whole) < 0.005 {
		text = plain(whole, 0, style)
	}
	if text == "1" {
		return "1" + unit.NoBreak + "degree of freedom"
	}
	return text + unit.NoBreak + "degrees of freedom"
}

// points writes a least difference that could have been shown.
func (s scale) points(d float64) string {
	if s.ratio {
		return unit.Number(d, s.index, s.style)
	}
	return unit.Number(s.by(d), s.digits, s.style)
}

func (s scale) pointsUnit(text string) string {
	switch {
	case s.ratio:
		return text + " index points"
	case s.none:
		return text
	}
	return s.unit.Label(text, s.style)
}

// holds says what the verdicts hold for.
func (b *builder) holds(firsts []*measured) Aside {
	a := Aside{Title: "Holds for"}
	vehicle, ground := "the vehicle and load as driven", "this ground"
	if b.in.Vehicle != "" {
		vehicle = b.in.Vehicle + ", loaded as driven"
	}
	if b.in.Ground != "" {
		ground = b.in.Ground
	}
	t := say(upper(vehicle) + ", on " + ground)
	var every programme.Log
	for _, rt := range b.tests {
		every.Runs = append(every.Runs, rt.Log.Runs...)
	}
	ranges := b.ranges(every, covariatesOf(every, b.in.Style))
	if len(ranges) > 0 {
		t = say(t, ", "+strings.Join(ranges, ", "))
	}
	a.Texts = append(a.Texts, say(t, "."))
	for _, m := range firsts {
		if m.r == nil {
			continue
		}
		var sets, tyres []string
		for _, r := range m.rows {
			if r.Verdict.About == compare.ThisTyre {
				tyres = append(tyres, r.Code)
			} else {
				sets = append(sets, r.Code)
			}
		}
		t := Text{}
		if len(tyres) > 0 {
			t = say(codes(tyres), ": about the tyre, since it and the control were driven on two sets or more. ")
		}
		if len(sets) > 0 {
			t = say(t, codes(sets), ": about the sets that were driven, no others.")
		}
		a.Texts = append(a.Texts, t)
		break
	}
	n := 0
	for _, rt := range b.tests {
		n += len(rt.Log.Exclusions)
	}
	if n > 0 {
		verb := " are"
		if n == 1 {
			verb = " is"
		}
		a.Texts = append(a.Texts, say(link(count(n, "exclusion"), "exclusions"), verb+" listed with reasons, the results with and without beside each other."))
	} else {
		a.Texts = append(a.Texts, say("No run is left out."))
	}
	a.Texts = append(a.Texts, say("No statement on safety, and no type approval."))
	return a
}

// listedInFront is how many measures the list of every measure may have to stand before
// the tests: what a page holds.
const listedInFront = 30

// listed is how many measures there are.
func (b *builder) listed() int {
	n := 0
	for i := range b.tests {
		n += len(b.tests[i].measures)
	}
	return n
}

// every is the verdicts of all measures, where the first page has the first ones
// alone.
func (b *builder) every() {
	if !b.firstsAlone {
		return
	}
	s := Section{ID: "every-measure", Short: "Every measure", Begins: true, Title: say("Every measure: the first of each test answers the question, the others describe")}
	if len(b.firsts()) > lines && len(b.described) > 0 {
		s.Blocks = append(s.Blocks, Block{Text: b.described})
	}
	if b.listed() > listedInFront { // each test's own tables say it
		if len(s.Blocks) > 0 {
			s.Short, s.Title = "Measures that describe", say("Measures that describe: each test’s tables have them one by one")
			b.section(s)
		}
		return
	}
	b.firstsAlone = false
	letters := b.doc.Codes.Candidates
	for from := 0; from < len(letters); from += wide {
		t := b.verdicts(letters[from:min(from+wide, len(letters))], 0)
		t.ID = fmt.Sprintf("every-%d", from/wide+1)
		for i := range t.Rows {
			for j := range t.Rows[i].Cells {
				c := &t.Rows[i].Cells[j]
				if c.Verdict != nil {
					text := c.Text
					if len(text) > 1 {
						text = say(strings.TrimSpace(text[0].Text)+": ", text[1:])
					}
					if c.Verdict.Interval != "" {
						text = say(text, " ("+c.Verdict.Interval+")")
					}
					*c = Cell{Text: text, Value: c.Value, Unit: c.Unit}
				}
			}
		}
		s.Blocks = append(s.Blocks, Block{Table: &t})
	}
	b.firstsAlone = true
	b.section(s)
}
