package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/compare"
	"example.org/bookend/compare/digits"
	"example.org/bookend/compare/opinion"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Sheets is the rating sheets of one test, compared.
type Sheets struct {
	Title  string // of the test; empty: not told apart
	Log    programme.Log
	Result *opinion.Result
}

// Rated is what sections are about that tell of ratings.
const Rated = "ratings"

// ratings makes a section of each test's rating sheets.
func (b *builder) ratings() {
	for i := range b.in.Ratings {
		b.sheets(i, &b.in.Ratings[i])
	}
}

func (b *builder) points(v *float64) string {
	if v == nil {
		return "none"
	}
	return unit.Signed(*v, 2, b.in.Style)
}

// pointsOf writes a difference with the decimals of its interval: as many as it takes to
// see what is claimed.
func (b *builder) pointsOf(v, low, high *float64) string {
	if v == nil {
		return "none"
	}
	return unit.Signed(*v, digits.Ends(low, high, 0, 2), b.in.Style)
}

func (b *builder) pointsInterval(low, high *float64) string {
	n := digits.Ends(low, high, 0, 2)
	switch {
	case low != nil && high != nil:
		return unit.SignedInterval(*low, *high, n, b.in.Style)
	case low != nil:
		return "from " + unit.Signed(*low, n, b.in.Style)
	}
	return "none"
}

func attributeName(s string) string { return strings.ReplaceAll(s, "_", " ") }

// rated says what the sheets show, attribute by attribute, as a sentence.
func (b *builder) rated(r *opinion.Result) Text {
	var out []Text
	for _, c := range r.Codes {
		var better, worse []Text
		for _, a := range r.Attributes {
			for _, x := range a.Rows {
				if x.Code != c {
					continue
				}
				switch x.Verdict.Word {
				case compare.Better, compare.BetterLessThanMargin:
					better = append(better, say(attributeName(a.Name)))
				case compare.Worse, compare.WorseLessThanMargin:
					worse = append(worse, say(attributeName(a.Name)))
				}
			}
		}
		switch {
		case len(better) > 0 && len(worse) > 0:
			out = append(out, say(code(c), " is rated better in ", list(better), ", worse in ", list(worse)))
		case len(better) > 0:
			out = append(out, say(code(c), " is rated better in ", list(better)))
		case len(worse) > 0:
			out = append(out, say(code(c), " is rated worse in ", list(worse)))
		}
	}
	if len(out) == 0 {
		return say("Ratings: no candidate is shown to differ from ", code(r.Control))
	}
	t := Text{}
	for i, x := range out {
		if i == most {
			return say(t, "; the others stand in the table")
		}
		if i > 0 {
			t = say(t, "; ")
		}
		t = say(t, x)
	}
	return t
}

func (b *builder) sheets(n int, sh *Sheets) {
	r := sh.Result
	id := "ratings-" + strconv.Itoa(n+1)
	s := Section{ID: id, Short: "Ratings", Begins: true, About: Rated, Title: b.rated(r)}
	if sh.Title != "" {
		s.Short += ": " + sh.Title
	}
	who := count(len(r.Raters), "rater")
	lead := say(fmt.Sprintf("%s by %s on %s. The sheet is %s. ", count(r.Sheets, "sheet"), who, count(r.Stints, "stint"), r.Sheet))
	switch {
	case len(r.Raters) > 1 && r.Shared:
		lead = say(lead, "Several people rated a stint: their mean is its value, and stints, not people, are the error. ")
	case len(r.Raters) > 1:
		lead = say(lead, "Each rated stints of their own: raters are joined through the control. ")
	}
	if len(r.Also) > 0 {
		lead = say(lead, "The control was rated as ", codes(append([]string{r.Control}, r.Also...)), ". ")
	}
	lead = say(lead, "Ratings are description: the question is answered by the first measures.")
	var general []Text
	for _, c := range r.Caveats {
		general = append(general, say(b.note(c)))
	}
	for _, g := range general {
		lead = say(lead, g)
	}
	s.Blocks = append(s.Blocks, Block{Text: lead})
	if f := b.profile(sh); f != nil {
		s.Blocks = append(s.Blocks, b.drawn(f))
	}
	s.Blocks = append(s.Blocks, b.attributes(id, r), b.raters(id, r))
	if t := b.agreement(id, r); t != nil {
		s.Blocks = append(s.Blocks, Block{Table: t})
	}
	s.Blocks = append(s.Blocks, b.summed(id, r)...)
	s.Blocks = append(s.Blocks, Block{Table: b.sheetTable(id, sh)})
	b.section(s)
}

// profile draws the ratings, attribute by attribute.
func (b *builder) profile(sh *Sheets) figure.Figure {
	r := sh.Result
	f := &figure.Profile{Value: figure.Axis{Name: "points from the control", Better: figure.Rising, Signed: true}}
	ss, df := 0.0, 0.0
	for _, p := range r.Raters {
		if p.Repeatability != nil {
			ss += *p.Repeatability * *p.Repeatability * p.DF
			df += p.DF
		}
	}
	band := ""
	if df > 0 {
		sd := math.Sqrt(ss / df)
		low := -sd
		f.BandLow, f.BandHigh = &low, &sd
		band = "; shaded: how a rater repeats the control, one standard deviation"
	}
	var notes []int
	for _, a := range r.Attributes {
		if a.Failed != "" {
			continue
		}
		x := figure.ProfileAttribute{Name: attributeName(a.Name)}
		if a.Target != nil {
			x.Name += ", best at " + trimZeros(unit.Number(*a.Target, 2, b.in.Style), b.in.Style)
		} else if a.Middle {
			x.Name += ", as rated"
		}
		if l := b.numbers(a.Caveats); len(l) > 0 {
			x.Note = l[0]
			notes = append(notes, l...)
		}
		for _, row := range a.Rows {
			q := figure.ProfileRating{Code: row.Code, Estimate: row.Difference, Low: row.Low, High: row.High}
			if row.Low != nil && row.High == nil {
				q.Low = nil // one-sided: the table has it
			}
			for _, v := range row.ByRater {
				if v != nil {
					q.Raters = append(q.Raters, *v)
				}
			}
			x.Ratings = append(x.Ratings, q)
		}
		if len(x.Ratings) > 0 {
			f.Attributes = append(f.Attributes, x)
		}
	}
	if len(f.Attributes) == 0 {
		return nil
	}
	b.figures++
	f.Head = figure.Head{Codes: b.doc.Codes, Comma: b.in.Style.Comma, Test: "Ratings", Number: b.figures, Title: b.rated(r).drawn(),
		Sub: figure.Say("Bars: the interval that holds for all candidates at once; ticks: each rater" + band + ".")}
	if sh.Title != "" {
		f.Test = sh.Title + " · Ratings"
	}
	all := b.marks.List()
	slices.Sort(notes)
	for _, n := range slices.Compact(notes) {
		c := all[n-1]
		text := c.Text
		var of []string
		for _, p := range c.Places {
			if p.Measure != "" {
				of = append(of, attributeName(p.Measure))
			}
		}
		if len(of) > 0 {
			text = upper(strings.Join(of, ", ")) + ": " + text
		}
		f.Notes = append(f.Notes, figure.Note{Number: n, Text: figure.Say(text)})
	}
	return f
}

// attributes is the table of what is said, attribute by attribute.
func (b *builder) attributes(id string, r *opinion.Result) Block {
	t := Table{ID: id + "-attributes", Caption: say("Each candidate against the control ", code(r.Control), ", in points, positive better")}
	t.Columns = heads("attribute", "", "verdict", "#points", "#interval", "#could have been shown", "#p, adjusted", "#mean rating", "#stints")
	graded := slices.ContainsFunc(r.Attributes, func(a opinion.Attribute) bool { return a.Ordinal != nil })
	if graded {
		t.Columns = append(t.Columns, heads("#log odds, ordinal", "#p, ordinal, alone")...)
	}
	for _, a := range r.Attributes {
		name := say(attributeName(a.Name))
		if a.Target != nil {
			name = say(name, ", best at "+trimZeros(unit.Number(*a.Target, 2, b.in.Style), b.in.Style))
		} else if a.Middle {
			name = say(name, ", as rated")
		}
		name = say(name, b.noted(a.Caveats))
		if a.Failed != "" {
			x := Row{Group: len(t.Rows) > 0, Cells: []Cell{{Text: name, Head: true}, cell(""), cell(em("not compared: " + a.Failed))}}
			for len(x.Cells) < len(t.Columns) {
				x.Cells = append(x.Cells, cell(""))
			}
			t.Rows = append(t.Rows, x)
			continue
		}
		for i, row := range a.Rows {
			x := Row{Group: i == 0 && len(t.Rows) > 0}
			if i == 0 {
				x.Cells = append(x.Cells, Cell{Text: name, Head: true, Rows: len(a.Rows)})
			}
			show := "not known"
			if row.Detectable != nil {
				show = unit.Number(*row.Detectable, 2, b.in.Style)
			}
			odds, p := "none", cell("none")
			if row.OrdinalOdds != nil {
				odds = unit.Signed(*row.OrdinalOdds, 2, b.in.Style)
			}
			if row.OrdinalP != nil {
				p = b.p(row.OrdinalP)
			}
			x.Cells = append(x.Cells, cell(code(row.Code)), Cell{Text: b.word(row.Verdict)}, number(b.pointsOf(row.Difference, row.Low, row.High), row.Difference, "points"),
				cell(b.pointsInterval(row.Low, row.High)), cell(show), b.p(row.P), cell(unit.Number(row.Mean, 2, b.in.Style)), cell(fmt.Sprint(row.Stints)))
			if graded {
				x.Cells = append(x.Cells, cell(odds), p)
			}
			t.Rows = append(t.Rows, x)
		}
	}
	return Block{Table: &t}
}

// word writes a verdict, and why there is no more.
func (b *builder) word(v compare.Verdict) Text {
	t := say(v.Word.String())
	switch v.Word {
	case compare.Better, compare.Worse, compare.BetterLessThanMargin, compare.WorseLessThanMargin:
		t = say(strong(v.Word.String()))
	case compare.NotShown, compare.NotComputed:
		t = say(em(v.Word.String()))
	}
	if v.Because != "" {
		t = say(t, ": "+v.Because)
	}
	return t
}

// raters is the table of the people.
func (b *builder) raters(id string, r *opinion.Result) Block {
	t := Table{ID: id + "-raters", Caption: say("Raters: how hard each rates, and how the control is rated again")}
	t.Columns = heads("rater", "#sheets", "#of the control", "#severity, points above the mean rater", "#repeats within (sd)", "#df", "#drift of the control’s ratings, points a stint", "#p of drift")
	for _, p := range r.Raters {
		repeat, df := "not known", "none"
		if p.Repeatability != nil {
			repeat, df = unit.Number(*p.Repeatability, 2, b.in.Style), unit.Number(p.DF, 0, b.in.Style)
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(p.Name), Head: true}, cell(fmt.Sprint(p.Sheets)), cell(fmt.Sprint(p.Controls)),
			cell(b.points(p.Severity)), cell(repeat), cell(df), cell(b.points(p.Drift)), b.p(p.DriftP)}})
	}
	return Block{Table: &t}
}

// agreement is the table of how far raters agree; nil where nobody shared a stint.
func (b *builder) agreement(id string, r *opinion.Result) *Table {
	t := Table{ID: id + "-agreement", Caption: say("Agreement over the stints that all of them rated")}
	t.Columns = heads("attribute", "#stints", "#one rating, ICC(2,1)", "#95"+unit.NoBreak+"% interval", "#their mean, ICC(2,k)", "#Kendall’s W", "#p", "#Krippendorff’s α", "#the same, ordinal")
	opt := func(v *float64) Cell {
		if v == nil {
			return cell("none")
		}
		return number(unit.Number(*v, 2, b.in.Style), v, "")
	}
	for _, a := range r.Attributes {
		g := a.Agreement
		if g == nil {
			continue
		}
		icc, iv, mean := "none", "none", "none"
		if g.ICC.Defined {
			icc = unit.Number(g.ICC.Value, 2, b.in.Style)
			iv = unit.Interval(g.ICC.Low, g.ICC.High, 2, b.in.Style)
		}
		if g.ICCMean.Defined {
			mean = unit.Number(g.ICCMean.Value, 2, b.in.Style)
		}
		w, p := g.W, g.WP
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(attributeName(a.Name)), Head: true}, cell(fmt.Sprint(g.Stints)), cell(icc), cell(iv), cell(mean),
			opt(&w), b.p(&p), opt(g.Alpha), opt(g.AlphaOrdinal)}})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return &t
}

// summed is the overall by the client's weights, and how far the order depends on
// them.
func (b *builder) summed(id string, r *opinion.Result) []Block {
	o := r.Overall
	if o == nil {
		return []Block{{Text: say("There is no overall: the client has given no weights.")}}
	}
	var weights []string
	for i, n := range o.Names {
		weights = append(weights, attributeName(n)+" "+unit.Number(100*o.Weights[i], 0, b.in.Style)+unit.NoBreak+"%")
	}
	lead := say(strong("Overall by the client’s weights: "), strings.Join(weights, ", ")+".")
	if len(o.Left) > 0 {
		var left []string
		for _, n := range o.Left {
			left = append(left, attributeName(n))
		}
		lead = say(lead, " Not in it, being best in the middle or without weight: "+strings.Join(left, ", ")+".")
	}
	if o.Failed != "" {
		lead = say(lead, " "+upper(o.Failed)+".")
	}
	t := Table{ID: id + "-overall", Caption: say("Overall, and the share of all weightings under which each leads")}
	t.Columns = heads("", "verdict", "#points", "#interval", "#leads over", "#error of that")
	for _, l := range o.Leads {
		row := Row{Cells: []Cell{{Text: say(code(l.Code)), Head: true}}}
		i := slices.IndexFunc(o.Rows, func(x opinion.Row) bool { return x.Code == l.Code })
		if i < 0 {
			row.Cells = append(row.Cells, cell("the control"), cell("0"), cell(""))
		} else {
			x := &o.Rows[i]
			word := b.word(x.Verdict)
			if o.Result == nil {
				word = say(em("an estimate alone"))
			}
			row.Cells = append(row.Cells, Cell{Text: word}, number(b.pointsOf(x.Difference, x.Low, x.High), x.Difference, "points"), cell(b.pointsInterval(x.Low, x.High)))
		}
		e := "exact"
		if !o.Exact {
			e = "±" + unit.Number(100*l.Error, 2, b.in.Style) + unit.NoBreak + "%"
		}
		row.Cells = append(row.Cells, cell(unit.Number(100*l.Share, 1, b.in.Style)+unit.NoBreak+"%"), cell(e))
		t.Rows = append(t.Rows, row)
	}
	turn := say(code(o.Leader), " leads whatever a single attribute weighs.")
	for i, x := range o.Turns {
		if i == 0 {
			turn = say(code(o.Leader), " leads; the lead would change")
		} else {
			turn = say(turn, ",")
		}
		word := " above "
		if x.To < x.From {
			word = " below "
		}
		turn = say(turn, " to ", code(x.Leader), " with "+attributeName(x.Attribute)+word+unit.Number(100*x.To, 0, b.in.Style)+unit.NoBreak+"%")
	}
	if len(o.Turns) > 0 {
		turn = say(turn, ".")
	}
	return []Block{{Text: lead}, {Table: &t}, {Text: say(turn, " The shares take the ratings as known; their intervals stand above.")}}
}

// sheetTable is every rating.
func (b *builder) sheetTable(id string, sh *Sheets) *Table {
	r := sh.Result
	t := &Table{ID: id + "-sheets", Caption: say("Every sheet, in the order of the stints")}
	t.Columns = heads("stint", "code", "rater")
	for _, a := range r.Attributes {
		t.Columns = append(t.Columns, Column{Head: say(attributeName(a.Name)), Numbers: true})
	}
	runs := map[string]string{}
	for _, x := range sh.Log.Runs {
		runs[x.ID] = x.Stint
	}
	for _, st := range sh.Log.Stints {
		first := true
		for _, p := range r.Raters {
			row := Row{Group: first && len(t.Rows) > 0}
			some := false
			var cells []Cell
			for _, a := range r.Attributes {
				text := "none"
				for _, o := range sh.Log.Observations {
					if runs[o.Run] == st.ID && o.Rater == p.Name && o.Measure == a.Name {
						text, some = trimZeros(unit.Number(o.Value, 2, b.in.Style), b.in.Style), true
					}
				}
				cells = append(cells, cell(text))
			}
			if !some {
				continue
			}
			row.Cells = append([]Cell{{Text: say(st.ID), Head: true}, cell(code(st.Code)), cell(p.Name)}, cells...)
			t.Rows = append(t.Rows, row)
			first = false
		}
	}
	return t
}
