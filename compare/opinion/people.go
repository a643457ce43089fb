package opinion

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/stat/agree"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/linear"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/stat/ordinal"
	"example.org/bookend/stat/simplex"
)

// agreement looks at the stints that all raters rated.
func (t *table) agreement(name string) *Agreement {
	if len(t.raters) < 2 {
		return nil
	}
	var rows [][]float64
	var list []agree.Rating
	for _, s := range t.stints {
		if len(s.rated[name]) != len(t.raters) {
			continue
		}
		row := make([]float64, len(t.raters))
		for i, rater := range t.raters {
			row[i] = s.rated[name][rater]
			list = append(list, agree.Rating{Object: s.ID, Rater: rater, Value: row[i]})
		}
		rows = append(rows, row)
	}
	if len(rows) < 3 {
		return nil
	}
	a := &Agreement{Stints: len(rows), Raters: len(t.raters)}
	icc, err := agree.IntraclassCorrelations(rows, 0.95)
	if err != nil {
		return nil
	}
	a.ICC, a.ICCMean = icc.Two1, icc.TwoK
	if c, err := agree.Rank(rows); err == nil {
		a.W, a.WP = c.W, c.FP
		if c.F == 0 {
			a.WP = c.P
		}
	}
	for _, of := range []struct {
		scale agree.Scale
		to    **float64
	}{{agree.Interval, &a.Alpha}, {agree.Ordinal, &a.AlphaOrdinal}} {
		if k, err := agree.Krippendorff(list, of.scale); err == nil && k.Defined {
			alpha := k.Alpha
			*of.to = &alpha
		}
	}
	return a
}

// pooled are the attributes over which a rater's severity, scatter and drift are
// taken together: those of one kind, best at the top where there are any.
func (t *table) pooled() []string {
	var top []string
	for _, a := range t.attributes {
		if !t.middle(a) {
			top = append(top, a)
		}
	}
	if len(top) == 0 {
		return t.attributes
	}
	return top
}

// people says how each rater rates: how hard, how repeatably, with what drift.
func (t *table) people(r *Result) {
	type sum struct{ v, w float64 }
	severity, variance := map[string]sum{}, map[string]float64{}
	if len(t.raters) > 1 {
		for _, a := range t.pooled() {
			s, err := agree.RaterSeverity(t.ratings(a, true), t.in.Control)
			if err != nil {
				continue
			}
			for _, e := range s.Raters {
				x := severity[e.Name]
				severity[e.Name] = sum{x.v + e.Value, x.w + 1}
				variance[e.Name] += e.SE * e.SE
			}
		}
	}
	for _, name := range t.raters {
		p := Rater{Name: name}
		for _, s := range t.stints {
			if hasRater(s, name) {
				p.Sheets++
				r.Sheets++
				if s.Code == t.in.Control {
					p.Controls++
				}
			}
		}
		if s := severity[name]; s.w > 0 {
			v := s.v / s.w
			// Attributes of one sheet go together: their mean is taken as no surer than
			// one of them.
			se := math.Sqrt(variance[name] / s.w)
			p.Severity, p.SeveritySE = &v, &se
		}
		if t.in.Sheet == Free {
			t.repeats(&p)
		}
		r.Raters = append(r.Raters, p)
	}
}

// repeats says how a rater rates the control again and again.
func (t *table) repeats(p *Rater) {
	ss, df, slope, slopes, least := 0.0, 0.0, 0.0, 0.0, 1.0
	tested := 0.0
	for _, a := range t.pooled() {
		var s drift.Sequence
		for _, st := range t.stints {
			if v, ok := st.rated[a][p.Name]; ok && st.Code == t.in.Control {
				s.At, s.Value = append(s.At, st.Position), append(s.Value, v)
			}
		}
		if len(s.At) < 3 {
			continue
		}
		e, n, err := drift.Residuals(s, 1)
		if err != nil {
			continue
		}
		for _, x := range e {
			ss += x * x
		}
		df += float64(n)
		if line, err := drift.Slope(s); err == nil {
			slope += line.Estimate
			slopes++
			if line.Tested {
				tested++
				least = min(least, line.P)
			}
		}
	}
	if df > 0 {
		sd := math.Sqrt(ss / df)
		p.Repeatability, p.DF = &sd, df
	}
	if slopes > 0 {
		slope /= slopes
		p.Drift = &slope
	}
	if tested > 0 {
		q := min(1, least*tested)
		p.DriftP = &q
	}
}

// anchored compares an anchored sheet: differences from the control's fixed
// rating, their scatter from candidates that were repeated.
func (t *table) anchored(a *Attribute, codes []string) {
	anchor := map[string]float64{}
	for _, s := range t.stints {
		if s.Code != t.in.Control {
			continue
		}
		for _, rater := range t.raters {
			v, ok := s.rated[a.Name][rater]
			if !ok {
				continue
			}
			if was, twice := anchor[rater]; twice && was != v {
				a.Failed = rater + " rated the control " + points(was) + " and " + points(v) + ": it is not fixed, so the sheet is free"
				return
			}
			anchor[rater] = v
		}
	}
	type group struct {
		code   string
		values []float64
		by     map[string][]float64
	}
	groups := make([]group, len(codes))
	ss, df := 0.0, 0.0
	for i, code := range codes {
		g := group{code: code, by: map[string][]float64{}}
		for _, s := range t.stints {
			if s.Code != code {
				continue
			}
			sum, n := 0.0, 0.0
			for _, rater := range t.raters {
				v, ok := s.rated[a.Name][rater]
				if !ok {
					continue
				}
				fixed, known := anchor[rater]
				if !known {
					a.Failed = rater + " rated candidates and no control"
					return
				}
				d := t.worth(a.Name, v) - t.worth(a.Name, fixed)
				g.by[rater] = append(g.by[rater], d)
				sum += d
				n++
			}
			if n > 0 {
				g.values = append(g.values, sum/n)
			}
		}
		m := mean(g.values)
		for _, v := range g.values {
			ss += (v - m) * (v - m)
		}
		df += math.Max(0, float64(len(g.values)-1))
		groups[i] = g
	}
	set, _, err := t.in.Settings.Complete(attributeMeasure(a.Name))
	if err != nil {
		a.Failed = err.Error()
		return
	}
	half := make([]float64, len(groups))
	sd := 0.0
	if df > 0 {
		sd = math.Sqrt(ss / df)
	}
	judged := 0
	for _, g := range groups {
		if len(g.values) > 0 {
			judged++
		}
	}
	if sd > 0 && judged > 0 {
		f := manyone.Family{DF: df, Sided: manyone.TwoSided, Corr: make([][]float64, judged)}
		if set.Sided == compare.OneSided {
			f.Sided = manyone.Upper
		}
		for i := range f.Corr { // the control is fixed: nothing is shared
			f.Corr[i] = make([]float64, judged)
			f.Corr[i][i] = 1
		}
		crit, _, err := f.Critical(1 - set.Confidence)
		if err != nil {
			a.Failed = err.Error()
			return
		}
		for i, g := range groups {
			if n := float64(len(g.values)); n > 0 {
				half[i] = crit * sd / math.Sqrt(n)
			}
		}
	}
	for i, g := range groups {
		if len(g.values) == 0 {
			continue
		}
		d := mean(g.values)
		row := Row{Code: g.code, Difference: &d, Stints: len(g.values)}
		grounds := compare.Grounds{Estimate: &d, DF: df, Comparisons: judged, Stints: row.Stints, Runs: row.Stints, Directed: t.directed(a.Name), About: compare.TheseSets,
			AboutWhy: "the sets driven, as these raters rate them against a control that they knew"}
		if set.Margin != nil {
			grounds.Margin = &set.Margin.Value
		}
		switch {
		case half[i] > 0:
			low, high := d-half[i], d+half[i]
			row.Low, grounds.Low = &low, &low
			if set.Sided == compare.TwoSided {
				row.High, grounds.High = &high, &high
			}
		case df > 0:
			grounds.Withheld = "repeated candidates were rated the same again: nothing scatters"
		default:
			grounds.Withheld = "the control’s rating is fixed and no candidate was repeated: there is nothing to judge by"
		}
		row.Verdict = compare.Judge(grounds)
		if len(t.raters) > 1 {
			for _, rater := range t.raters {
				var own *float64
				if v := g.by[rater]; len(v) > 0 {
					m := mean(v)
					own = &m
				}
				row.ByRater = append(row.ByRater, own)
			}
		}
		a.Rows = append(a.Rows, row)
	}
}

func mean(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// graded fits the cumulative-logit mixed model: codes and, where the control
// shows it, place in the sequence fixed; raters and, where a stint has several
// sheets, stints random.
func (t *table) graded(a *Attribute) {
	var values, at []float64
	var codes, raters, stints []string
	control := 0
	for _, s := range t.stints {
		for _, rater := range t.raters {
			v, ok := s.rated[a.Name][rater]
			if !ok {
				continue
			}
			values, at = append(values, t.worth(a.Name, v)), append(at, s.Position)
			codes, raters, stints = append(codes, s.Code), append(raters, rater), append(stints, s.ID)
		}
		if s.Code == t.in.Control {
			control++
		}
	}
	if t.in.Sheet == Anchored {
		a.Graded = "the control’s rating is fixed"
		return
	}
	levels := []string{t.in.Control}
	for _, c := range codes {
		if !slices.Contains(levels, c) {
			levels = append(levels, c)
		}
	}
	d := linear.NewDesign(len(values))
	if err := d.AddIntercept(); err != nil {
		a.Graded = err.Error()
		return
	}
	if err := d.AddFactor("code", levels, codes, linear.Treatment); err != nil {
		a.Graded = err.Error()
		return
	}
	if control > 2 {
		if _, err := d.AddCentred("position", at); err != nil {
			a.Graded = err.Error()
			return
		}
	}
	var random []ordinal.Random
	if len(t.raters) > 1 {
		random = append(random, ordinal.Random{Name: "rater", Groups: raters})
	}
	if t.shared {
		random = append(random, ordinal.Random{Name: "stint", Groups: stints})
	}
	labels, category, err := ordinal.Categories(values)
	if err != nil {
		a.Graded = err.Error()
		return
	}
	m, err := ordinal.Fit(d, category, labels, random, ordinal.Options{})
	if err != nil {
		a.Graded = err.Error()
		for _, c := range levels[1:] {
			if strings.Contains(a.Graded, "code["+c+"]") {
				a.Graded = "the ratings of " + c + " lie apart from those of the control, so that their odds have no limit"
			}
		}
		return
	}
	a.Ordinal = &Ordinal{LogLik: m.LogLik, Laplace: m.Laplace}
	for _, x := range random {
		a.Ordinal.Random = append(a.Ordinal.Random, x.Name)
	}
	a.Caveats = append(a.Caveats, m.Caveats...)
	against := 0
	for i := range a.Rows {
		for _, c := range m.Coefficients {
			if c.Name != "code["+a.Rows[i].Code+"]" {
				continue
			}
			odds, p := c.Estimate, c.P
			a.Rows[i].OrdinalOdds, a.Rows[i].OrdinalP = &odds, &p
			w := a.Rows[i].Verdict.Word
			if w == compare.Better && odds < 0 || w == compare.Worse && odds > 0 {
				against++
			}
		}
	}
	if against > 0 {
		a.Caveats.Add("ordinal_disagrees", caveat.Place{Measure: a.Name}, "The ordinal model, for which the steps of the scale need not be alike, puts %d candidates on the other side of the control.", against)
	}
}

// overall sums the attributes by the client's weights.
func (t *table) overall(r *Result) (*Overall, error) {
	o := &Overall{}
	total := 0.0
	for i := range r.Attributes {
		a := &r.Attributes[i]
		w, ok := t.in.Weights[a.Name]
		switch {
		case ok && a.Middle:
			return nil, noSum(a.Name)
		case !ok || w == 0 || a.Failed != "":
			o.Left = append(o.Left, a.Name)
			continue
		case !(w > 0) || math.IsInf(w, 0):
			return nil, noWeight(a.Name, w)
		}
		o.Names, o.Weights = append(o.Names, a.Name), append(o.Weights, w)
		total += w
	}
	if len(o.Names) == 0 {
		return nil, noWeights()
	}
	for i := range o.Weights {
		o.Weights[i] /= total
	}
	if t.in.Sheet == Free {
		sum := map[string]float64{}
		count := map[string]int{}
		for i, name := range o.Names {
			values, _, err := t.values(name)
			if err != nil {
				o.Failed = err.Error()
				break
			}
			for id, v := range values {
				sum[id] += o.Weights[i] * v
				count[id]++
			}
		}
		for id, n := range count {
			if n < len(o.Names) {
				delete(sum, id)
			}
		}
		if o.Failed == "" {
			res, err := t.compareOf("", sum, !t.shared && len(t.raters) > 1)
			if err != nil {
				o.Failed = err.Error()
			} else {
				o.Result, o.Rows = res, t.rows("", res)
			}
		}
	} else {
		o.Failed = "on an anchored sheet the weighted sum is an estimate alone"
	}
	codes := append([]string{t.in.Control}, r.Codes...)
	var values [][]float64
	var who []string
	for _, c := range codes {
		row := make([]float64, len(o.Names))
		whole := true
		for i, name := range o.Names {
			if c == t.in.Control {
				continue
			}
			a := r.Attributes[slices.IndexFunc(r.Attributes, func(x Attribute) bool { return x.Name == name })]
			k := slices.IndexFunc(a.Rows, func(x Row) bool { return x.Code == c })
			if k < 0 || a.Rows[k].Difference == nil {
				whole = false
				break
			}
			row[i] = *a.Rows[k].Difference
		}
		if whole {
			values, who = append(values, row), append(who, c)
		}
	}
	if o.Rows == nil {
		for i, c := range who {
			if c == t.in.Control {
				continue
			}
			d := 0.0
			for k, w := range o.Weights {
				d += w * values[i][k]
			}
			o.Rows = append(o.Rows, Row{Code: c, Difference: &d})
		}
	}
	leads, exact, err := simplex.Leads(values)
	if err != nil {
		return nil, err
	}
	o.Exact = exact
	for i, l := range leads {
		o.Leads = append(o.Leads, Lead{Code: who[i], Share: l.Share, Error: l.Error})
	}
	leader, turns, err := simplex.Turns(values, o.Weights)
	if err != nil {
		return nil, err
	}
	o.Leader = who[leader]
	for _, x := range turns {
		o.Turns = append(o.Turns, Turn{Attribute: o.Names[x.Criterion], From: x.From, To: x.To, Leader: who[x.Leader]})
	}
	return o, nil
}
