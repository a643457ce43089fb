package report

import (
	"fmt"

	"example.org/bookend/compare/watch"
	"example.org/bookend/figure"
	"example.org/bookend/unit"
)

// record says what the ground's record of control stints gave, what is said
// without it, and how the control stands on its charts.
func (b *builder) record(m *measured) []Block {
	r := m.r
	k := r.Record
	if k == nil {
		return nil
	}
	amount := func(sd float64) string {
		if m.s.ratio {
			return plain(100*sd, 2, b.in.Style) + unit.NoBreak + "%"
		}
		return m.s.length(sd)
	}
	lead := say(strong("The ground’s record. "))
	held := fmt.Sprintf("It holds %s of %s", count(len(k.Rows), "control stint"), count(k.Programmes, "earlier programme"))
	if k.RecordDF > 0 {
		held += fmt.Sprintf(", which scatter by %s about their own drift, on %s", amount(k.RecordSD), degrees(k.RecordDF, b.in.Style))
	}
	lead = say(lead, held+"; rows ", Span{Text: short12(k.Hash), As: Sum}, ". ")
	if k.OwnDF > 0 {
		lead = say(lead, fmt.Sprintf("This programme’s own stints scatter by %s, on %s. ", amount(k.OwnSD), degrees(k.OwnDF, b.in.Style)))
	}
	if k.FLimit > 0 {
		word := "within"
		if k.Refused {
			word = "beyond"
		}
		lead = say(lead, fmt.Sprintf("The ratio of the variances, F %s, is %s its 95%s%% limit, %s. ", plain(k.F, 2, b.in.Style), word, unit.NoBreak, plain(k.FLimit, 2, b.in.Style)))
	}
	if k.Used {
		lead = say(lead, fmt.Sprintf("Intervals above borrow from it (%s): %s, on %s.", k.Method, amount(k.SD), degrees(k.DF, b.in.Style)))
	} else {
		lead = say(lead, "It is not used: "+k.Why+".")
	}
	if k.Walk != nil {
		lead = say(lead, fmt.Sprintf(" From one place to the next the control walks by %s at random, as the record shows it; that is in every interval.", amount(k.Walk.StepSD)))
	}
	out := []Block{{Text: lead}}
	t := Table{ID: m.id + "-record", Caption: say("With the record and without it, " + m.title),
		Columns: heads("", "with the record", "#"+m.s.what(), "by this programme alone", "#interval alone")}
	for _, row := range m.rows {
		if row.Alone == nil {
			continue
		}
		low, high := row.Alone.DiffLow, row.Alone.DiffHigh
		if m.s.ratio {
			low, high = row.Alone.IndexLow, row.Alone.IndexHigh
		}
		iv := m.s.interval(low, high)
		if iv == "" {
			iv = "none"
		}
		alone := say(row.Alone.Verdict.Word.String())
		if row.Alone.Verdict.Word != row.Verdict.Word {
			alone = say(strong(row.Alone.Verdict.Word.String()), " (another verdict)")
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(link2(b, m, row.Code)), Head: true}, cell(row.Verdict.Word.String()), cell(b.full(m, row)), {Text: alone}, cell(iv)}})
	}
	if len(t.Rows) > 0 {
		out = append(out, Block{Table: &t})
	}
	if m.watch != nil {
		out = append(out, b.watched(m)...)
	}
	return out
}

// link2 is a candidate's letter, leading to its numbers.
func link2(b *builder, m *measured, letter string) Span {
	return Span{Text: letter, As: Code, To: b.candidateTo(m, letter)}
}

func short12(sum string) string { return sum[:min(len(sum), 12)] }

// watched draws the record's charts.
func (b *builder) watched(m *measured) []Block {
	w := m.watch
	by := func(v float64) float64 { // to the unit that people see
		if w.Percent {
			return v
		}
		return m.s.by(v)
	}
	name := "residual" + withUnit(m.s)
	scatter := "scatter of control stints" + withUnit(m.s)
	if w.Percent {
		name, scatter = "residual, %", "scatter of control stints, %"
	}
	f := &figure.ControlChart{Value: figure.Axis{Name: name, Signed: true, Better: figure.Nowhere}, Scatter: figure.Axis{Name: scatter, Better: figure.Nowhere}}
	if w.SD > 0 {
		hi, lo := by(3*w.SD), by(-3*w.SD)
		f.Limits = []figure.ChartLimit{{Low: &lo, High: &hi, LowText: "three sd", HighText: "three sd"}}
		p := by(w.SD)
		f.Pooled, f.PooledText, f.LimitText = &p, "pooled "+plain(p, 2, b.in.Style), "limit"
	}
	out, wide, moved, judged := 0, 0, 0, 0
	t := Table{ID: m.id + "-levels", Caption: say("The control’s record, programme by programme" + withUnit(m.s)),
		Columns: heads("programme", "#control stints", "#scatter", "#its limit", "#level", "#weighted average", "#its limits", "standing")}
	for _, p := range w.Programmes {
		g := figure.ChartGroup{Name: p.Name, Now: p.Now, Broken: p.Wide}
		n := 0
		for _, q := range p.Residuals {
			g.Residuals = append(g.Residuals, figure.ChartPoint{Value: by(q.Residual), Broken: q.Out})
			if q.Out {
				n++
			}
		}
		out += n
		sd, limit := "none", "none"
		if p.SD != nil {
			v := by(*p.SD)
			g.Scatter, sd = &v, plain(v, 2, b.in.Style)
		}
		if p.Limit != nil {
			v := by(*p.Limit)
			g.ScatterLimit, limit = &v, plain(v, 2, b.in.Style)
		}
		f.Programmes = append(f.Programmes, g)
		standing := say("steady")
		if p.SD == nil {
			standing = say(em("too few stints to say"))
		} else {
			judged++
		}
		switch {
		case p.Wide:
			wide++
			standing = say(Span{Text: "scatters too much", As: Broken})
		case n > 0:
			standing = say(Span{Text: count(n, "stint") + " beyond three sd", As: Broken})
		case p.LevelOut:
			moved++
			standing = say(Span{Text: "level moved", As: Broken})
		case p.EWMAOut:
			moved++
			standing = say(Span{Text: "slow shift", As: Broken})
		}
		avg, limits := "none", "none"
		if p.EWMA != nil {
			avg, limits = m.s.number(*p.EWMA), m.s.number(*p.EWMALow)+" to "+m.s.number(*p.EWMAHigh)
		}
		label := p.Name
		if p.Now {
			label = "this programme"
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Text: say(label), Head: true}, cell(fmt.Sprint(p.Stints)), cell(sd), cell(limit),
			cell(m.s.number(p.Level)), cell(avg), cell(limits), {Text: standing}}})
	}
	k := code(m.r.Control)
	title := say(k, " is steady over "+words(judged)+" programmes")
	switch {
	case wide > 0:
		title = say(k, " scatters more than its limit in "+words(wide)+" of "+words(judged)+" programmes")
	case out > 0:
		title = say(k, " has "+count(out, "stint")+" beyond three standard deviations")
	case moved > 0:
		title = say(k, " has moved in level over "+words(len(w.Programmes))+" programmes; its scatter holds")
	}
	f.Head = b.figureHead(m, title, "Marks: control stints, from their own programme’s mean and straight line; below: each programme’s scatter.", nil)
	return []Block{b.drawn(f), {Table: &t}}
}

// Watch is the ground's record on its charts.
type Watch = watch.Record
