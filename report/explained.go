package report

import (
	"strconv"

	"example.org/bookend/compare/explain"
	"example.org/bookend/unit"
)

// Explain says which first measures explain which ratings of what a report is made of,
// without making the report. Ratings are those of rating sheets and those of tables that
// name a rater.
func Explain(in Input) (*explain.Result, error) {
	in.Style.ASCII = false
	b := &builder{in: in, doc: &Document{}}
	if err := b.gather(); err != nil {
		return nil, err
	}
	return explain.Explain(b.pairs())
}

// pairs gives the first measures of tests and the attributes that were rated.
func (b *builder) pairs() (measures, attributes []explain.Series) {
	for i := range b.tests {
		t := &b.tests[i]
		for j := range t.measures {
			m := &t.measures[j]
			switch {
			case m.r == nil:
			case t.rates(m.r.Measure.ID):
				attributes = append(attributes, explain.OfResult(t.Title, m.title, m.r))
			case m.first:
				measures = append(measures, explain.OfResult(t.Title, m.title, m.r))
			}
		}
	}
	for i := range b.in.Ratings {
		sh := &b.in.Ratings[i]
		for k := range sh.Result.Attributes {
			a := explain.OfAttribute(sh.Title, sh.Result.Control, &sh.Result.Attributes[k])
			a.Title = attributeName(a.Title)
			attributes = append(attributes, a)
		}
	}
	return measures, attributes
}

// rates tells whether a measure of a test was rated: its values name their rater.
func (t *test) rates(measure string) bool {
	for _, o := range t.Log.Observations {
		if o.Measure == measure {
			return o.Rater != ""
		}
	}
	return false
}

// explained makes the section about which measures explain which ratings; none where
// there is nothing to lay beside each other.
func (b *builder) explained() error {
	measures, attributes := b.pairs()
	if len(measures) == 0 || len(attributes) == 0 {
		return nil
	}
	r, err := explain.Explain(measures, attributes)
	if err != nil {
		return err
	}
	if r.Looked == 0 {
		return nil
	}
	shown := 0
	var first explain.Pair
	for _, q := range r.Pairs {
		if q.Shown {
			if shown++; shown == 1 {
				first = q
			}
		}
	}
	s := Section{ID: "explained", Short: "Measures and ratings", Begins: true, About: Rated}
	switch {
	case shown == 0:
		s.Title = say("No measure is shown to explain a rating: " + count(r.Looked, "pair") + " on " + count(r.Tyres, "tyre"))
	default:
		s.Title = say(upper(r.Measures[first.Measure].Named()) + " goes with “" + r.Attributes[first.Attribute].Named() + "”")
		if shown > 1 {
			s.Title = say(s.Title, ", and "+count(shown-1, "pair")+" more go together")
		}
		s.Title = say(s.Title, ", on "+count(r.Tyres, "tyre"))
	}
	lead := say("What instruments show of each tyre is laid beside what drivers said of it: against the control, positive better, drift taken out. The control is one of the " +
		words(r.Tyres) + " tyres. p is of permutations of the tyres, adjusted for all pairs together (Holm). That two things go together is no cause.")
	for _, c := range r.Caveats {
		lead = say(lead, b.note(c))
	}
	s.Blocks = append(s.Blocks, Block{Text: lead})

	best := Table{ID: "explained-best", Caption: say("The measure that goes best with each rating"),
		Columns: heads("rating", "measure", "#correlation", "#of ranks", "#tyres", "#p alone", "#p of all pairs", "shown")}
	for j := range r.Attributes {
		q, ok := r.Best(j)
		if !ok {
			best.Rows = append(best.Rows, Row{Cells: []Cell{{Text: say(r.Attributes[j].Named()), Head: true}, cell("fewer than four tyres have both"), {}, {}, {}, {}, {}, {}}})
			continue
		}
		word := "no"
		if q.Shown {
			word = "yes"
		}
		best.Rows = append(best.Rows, Row{Cells: []Cell{{Text: say(r.Attributes[j].Named()), Head: true}, cell(r.Measures[q.Measure].Named()),
			cell(b.correlation(q.Pearson)), cell(b.correlation(q.Spearman)), cell(strconv.Itoa(q.N)), cell(probability(q.PearsonP, b.in.Style)), cell(probability(q.Adjusted, b.in.Style)), cell(word)}})
	}
	s.Blocks = append(s.Blocks, Block{Table: &best})
	if len(r.Measures) > 1 {
		all := Table{ID: "explained-all", Caption: say("Correlation of every rating with every first measure"), Columns: heads("rating")}
		for i := range r.Measures {
			all.Columns = append(all.Columns, Column{Head: say(r.Measures[i].Named()), Numbers: true})
		}
		for j := range r.Attributes {
			row := Row{Cells: []Cell{{Text: say(r.Attributes[j].Named()), Head: true}}}
			for _, q := range r.Pairs {
				if q.Attribute != j {
					continue
				}
				v := "none"
				if q.Failed == "" {
					v = b.correlation(q.Pearson)
				}
				row.Cells = append(row.Cells, cell(v))
			}
			all.Rows = append(all.Rows, row)
		}
		s.Blocks = append(s.Blocks, Block{Table: &all})
	}
	b.section(s)
	return nil
}

func (b *builder) correlation(r float64) string { return unit.Signed(r, 2, b.in.Style) }
