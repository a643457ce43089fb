package report

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/compare"
	"example.org/bookend/compare/budget"
	"example.org/bookend/figure"
	"example.org/bookend/unit"
)

// partName names a part of the budget: in full, and where room is short.
var partName = map[string][2]string{
	"own_stints":     {"the candidate’s own stints", "own stints"},
	"control_stints": {"the control’s stints", "control"},
	"other_stints":   {"other candidates’ stints, which join the blocks", "others"},
	"runs":           {"runs within stints", "runs"},
	"measurement":    {"measurement", "measurement"},
	"drift":          {"taking the drift out", "drift"},
	"sets":           {"between sets of one tyre", "sets"},
	"tyre_by_block":  {"tyre by block", "by block"},
	"wander":         {"how the ground wanders between controls", "wander"},
	"rough":          {"variances known roughly", "rough"},
}

// options is how many remedies are drawn and listed: own choice, what fits.
const options = 4

// doubtful gives the budget of the candidate with the widest interval, its row and half
// the width, 0 where there is none; nil where there is no budget.
func (m *measured) doubtful() (k *budget.Row, x *compare.Row, half float64) {
	for i := range m.r.Budget {
		q := &m.r.Budget[i]
		row := &m.r.Rows[slices.IndexFunc(m.r.Rows, func(y compare.Row) bool { return y.Code == q.Code })]
		if k == nil {
			k, x = q, row
		}
		if v := row.Verdict; v.Low != nil && *v.Estimate-*v.Low > half*(1+1e-9) {
			k, x, half = q, row, *v.Estimate-*v.Low
		}
	}
	return k, x, half
}

// doubt says in words where the doubt comes from and what would narrow it most.
func (m *measured) doubt() []Block {
	k, _, _ := m.doubtful()
	if k == nil {
		return nil
	}
	return []Block{{Text: say(strings.Join(k.Words(), " "))}}
}

// budget shows where the doubt comes from and what would narrow it most: the figure
// for the candidate with the widest interval, the shares of all in a table. The words
// stand with the verdicts.
func (b *builder) budget(m *measured) []Block {
	k, x, half := m.doubtful()
	if k == nil {
		return nil
	}
	r := m.r
	var out []Block
	if half > 0 && x.Verdict.High != nil {
		f := &figure.UncertaintyBudget{Code: k.Code, Control: m.control(), Estimate: *m.s.axis(estimateOf(m, x))}
		f.Value = figure.Axis{Name: m.s.what(), Better: figure.Rising, Signed: !m.s.ratio}
		for _, p := range k.Parts {
			n := partName[string(p.Key)]
			f.Parts = append(f.Parts, figure.BudgetPart{Name: n[0], Short: n[1], Share: p.Share})
		}
		option := func(name, short string, factor float64, now bool) {
			lo, hi := *x.Verdict.Estimate-half*factor, *x.Verdict.Estimate+half*factor
			if m.s.ratio {
				lo, hi = 100*math.Exp(lo), 100*math.Exp(hi)
			}
			low, high := m.s.axis(&lo), m.s.axis(&hi)
			f.Options = append(f.Options, figure.BudgetOption{Name: name, Short: short, Low: *low, High: *high, Text: m.s.interval(&lo, &hi), Now: now})
		}
		option("as it is", "as it is", 1, true)
		for _, q := range k.Remedies {
			if q.Narrower >= 0.5 && len(f.Options) <= options {
				option(q.What, "", 1-q.Narrower/100, false)
			}
		}
		title := say("The interval of ", code(k.Code), " comes most from ", partName[string(k.Parts[0].Key)][0])
		f.Head = b.figureHead(m, title, "Bar: shares of the variance; below: the interval as it is, and as it would be.", nil)
		out = append(out, b.drawn(f))
	}
	if len(r.Budget) > 1 {
		out = append(out, Block{Table: b.shares(m)})
	}
	return out
}

// shares is the table of every candidate's budget.
func (b *builder) shares(m *measured) *Table {
	r := m.r
	var keys []string
	for _, x := range r.Budget {
		for _, p := range x.Parts {
			if !slices.Contains(keys, string(p.Key)) {
				keys = append(keys, string(p.Key))
			}
		}
	}
	t := &Table{ID: m.id + "-budget", Caption: say("Where each interval’s variance comes from, and what would narrow it most, " + m.title)}
	t.Columns = heads("")
	for _, k := range keys {
		t.Columns = append(t.Columns, Column{Head: say(partName[k][0]), Numbers: true})
	}
	t.Columns = append(t.Columns, Column{Head: say("what would narrow it most")})
	for _, c := range m.rows {
		i := slices.IndexFunc(r.Budget, func(x budget.Row) bool { return x.Code == c.Code })
		if i < 0 {
			continue
		}
		x := &r.Budget[i]
		row := Row{Cells: []Cell{{Text: say(link2(b, m, c.Code)), Head: true}}}
		for _, k := range keys {
			text := ""
			for _, p := range x.Parts {
				if string(p.Key) == k {
					text = b.percentOf(p.Share)
				}
			}
			row.Cells = append(row.Cells, cell(text))
		}
		help := "nothing that was tried"
		if len(x.Remedies) > 0 && x.Remedies[0].Narrower >= 0.5 {
			help = x.Remedies[0].What + ": by " + plain(x.Remedies[0].Narrower, 0, b.in.Style) + unit.NoBreak + "%"
		}
		row.Cells = append(row.Cells, cell(help))
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (b *builder) percentOf(share float64) string {
	if share < 0.005 {
		return "< 1" + unit.NoBreak + "%"
	}
	return plain(100*share, 0, b.in.Style) + unit.NoBreak + "%"
}
