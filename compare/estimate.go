package compare

import (
	"math"
	"strconv"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/linear"
)

func degree(d Drift) int {
	switch d {
	case Linear:
		return 1
	case Quadratic:
		return 2
	}
	return 0
}

// fitted is a linear model of stint means: a level for each segment, drift,
// tyres against the control, covariates.
type fitted struct {
	m          *linear.Model
	q          *sequence
	rows       []int // stints in the model
	x          [][]float64
	common     *linear.Polynomial
	from       int                  // lowest degree of the common drift in the model
	own        []*linear.Polynomial // a segment's own drift
	ownAt      []int                // its first column
	commonAt   int
	tyreAt     map[string]int
	covariates []string
	covAt      int
	means      []float64
	unscaled   [][]float64
}

// fit fits y over the stints named. Without tyres all rows are the control's.
func (q *sequence) fit(rows []int, y []float64, common, perBlock int, tyres bool, covariates []string) (*fitted, error) {
	f := &fitted{q: q, rows: rows, tyreAt: map[string]int{}, covariates: covariates, own: make([]*linear.Polynomial, q.segments), ownAt: make([]int, q.segments)}
	// How many different places there are decides how many degrees there can be.
	us := make([]float64, len(rows))
	bySegment := make([][]float64, q.segments)
	for k, i := range rows {
		us[k] = q.stints[i].u
		bySegment[q.stints[i].segment] = append(bySegment[q.stints[i].segment], us[k])
	}
	f.from = perBlock + 1
	n := q.segments
	f.commonAt = n
	if d := min(common, distinct(us)-1); d >= f.from {
		p, err := linear.NewPolynomial(us, d)
		if err != nil {
			return nil, err
		}
		f.common = p
		n += d - perBlock
	}
	for s := range q.segments {
		f.ownAt[s] = n
		if d := min(perBlock, distinct(bySegment[s])-1); d >= 1 {
			p, err := linear.NewPolynomial(bySegment[s], d)
			if err != nil {
				return nil, err
			}
			f.own[s] = p
			n += d
		}
	}
	if tyres {
		for _, c := range q.codes {
			f.tyreAt[c] = n
			n++
		}
	}
	f.covAt = n
	n += len(covariates)
	for _, c := range covariates {
		mean := 0.0
		for _, i := range rows {
			mean += q.stints[i].covariates[c] / float64(len(rows))
		}
		f.means = append(f.means, mean)
	}
	names := make([]string, n) // no face shows them
	columns := make([][]float64, n)
	for j := range columns {
		columns[j] = make([]float64, len(rows))
		names[j] = strconv.Itoa(j)
	}
	f.x = make([][]float64, len(rows))
	for k, i := range rows {
		s := &q.stints[i]
		row := f.at(s.segment, s.u, s.stint.Code, s.covariates)
		f.x[k] = row
		for j, v := range row {
			columns[j][k] = v
		}
	}
	var err error
	f.m, err = linear.FitColumns(names, columns, y, linear.Options{Aliased: linear.DropAliased})
	if err != nil {
		return nil, err
	}
	f.unscaled = f.m.Unscaled()
	return f, nil
}

func distinct(x []float64) int {
	seen := map[float64]bool{}
	for _, v := range x {
		seen[v] = true
	}
	return len(seen)
}

// at gives the row of the design for a code at a place of a segment; nil
// covariates stand at their means.
func (f *fitted) at(segment int, u float64, code string, covariates map[string]float64) []float64 {
	row := make([]float64, f.covAt+len(f.covariates))
	row[segment] = 1
	if f.common != nil {
		copy(row[f.commonAt:], f.common.At(u)[f.from:])
	}
	if p := f.own[segment]; p != nil {
		copy(row[f.ownAt[segment]:], p.At(u)[1:])
	}
	if j, ok := f.tyreAt[code]; ok {
		row[j] = 1
	}
	for k, c := range f.covariates {
		if covariates != nil {
			row[f.covAt+k] = covariates[c] - f.means[k]
		}
	}
	return row
}

// predict gives L beta with its weights over all stints; ok is false where the
// stints do not determine it.
func (f *fitted) predict(l []float64) (value float64, weights []float64, ok bool) {
	c, err := f.m.Contrasts([][]float64{l})
	if err != nil {
		return 0, nil, false
	}
	ul := make([]float64, len(l))
	for j := range ul {
		ul[j] = dot(f.unscaled[j], l)
	}
	weights = make([]float64, len(f.q.stints))
	for k, i := range f.rows {
		weights[i] = dot(f.x[k], ul)
	}
	return c.Estimate[0], weights, true
}

// scatter is where the stint variance comes from.
type scatter struct {
	f       *fitted
	about   string
	isFlat  bool // no residual beyond rounding
	caveats caveat.List
	between *FResult
}

func (s *scatter) df() int       { return s.f.m.DF }
func (s *scatter) perfect() bool { return s.isFlat }

// sd gives the stint standard deviation on the analysis scale.
func (s *scatter) sd() (float64, bool) {
	if s.isFlat || s.f.m.DF == 0 {
		return 0, false
	}
	return s.f.m.Sigma()
}

// scatter fits tyre plus drift, at least a straight line, to the stint means.
func (q *sequence) scatter(drift Drift, set Settings) (*scatter, error) {
	rows, y := make([]int, len(q.stints)), make([]float64, len(q.stints))
	for i := range rows {
		rows[i], y[i] = i, q.stints[i].y
	}
	own := degree(set.DriftPerBlock)
	f, err := q.fit(rows, y, max(1, degree(drift)), own, true, set.Covariates)
	if err != nil {
		return nil, err
	}
	for _, a := range f.m.Aliased {
		if a.Column >= f.covAt {
			return nil, fault.New(fault.Invalid, "covariate %s cannot be told apart from tyres, drift and the other covariates", set.Covariates[a.Column-f.covAt]).
				WithHint("leave it out")
		}
	}
	s := &scatter{f: f, about: "stint means about tyre and straight line"}
	if drift == Quadratic {
		s.about = "stint means about tyre and parabola"
	}
	if own > 0 {
		s.about += ", with drift of its own in each block"
	}
	size := 0.0
	for _, v := range y {
		size = max(size, math.Abs(v))
	}
	if f.m.DF > 0 {
		// Sixteen units in the last place: what the means of runs are rounded by.
		s.isFlat = true
		for _, e := range f.m.Residuals {
			if math.Abs(e) > 16*0x1p-52*size {
				s.isFlat = false
			}
		}
	}
	switch {
	case f.m.DF == 0:
		s.caveats.Add("no_degrees_of_freedom", caveat.Place{}, "There are as many terms as stints: estimates, but nothing to judge them by. Another control stint, or candidates repeated in reversed order, would give that.")
	case s.isFlat:
		s.caveats.Add("no_scatter", caveat.Place{}, "The stint means lie on tyre and drift to the last digit: there is no scatter to judge by.")
	case f.m.DF < 3:
		s.caveats.Add("few_degrees_of_freedom", caveat.Place{}, "The scatter of stints is known from %d degree%s of freedom: intervals are very wide. Another control stint, or candidates repeated in reversed order, would narrow them most.", f.m.DF, plural(f.m.DF))
	}
	if err := q.interaction(s, rows, y); err != nil {
		return nil, err
	}
	return s, nil
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

// interaction tests tyre by block, where there are blocks and degrees of freedom.
func (q *sequence) interaction(s *scatter, rows []int, y []float64) error {
	if len(q.blocks) < 2 || s.f.m.DF == 0 || s.isFlat {
		return nil
	}
	var columns [][]float64
	var names []string
	n := len(rows)
	for j := range s.f.covAt + len(s.f.covariates) {
		c := make([]float64, n)
		for k := range rows {
			c[k] = s.f.x[k][j]
		}
		columns, names = append(columns, c), append(names, strconv.Itoa(len(names)))
	}
	for _, code := range q.codes {
		for b := range q.blocks[1:] {
			c := make([]float64, n)
			for k, i := range rows {
				if f := &q.stints[i]; f.stint.Code == code && q.blockOf[f.segment] == b+1 {
					c[k] = 1
				}
			}
			columns, names = append(columns, c), append(names, strconv.Itoa(len(names)))
		}
	}
	large, err := linear.FitColumns(names, columns, y, linear.Options{Aliased: linear.DropAliased})
	if err != nil {
		return err
	}
	num, den := large.Rank-s.f.m.Rank, large.DF
	if num <= 0 || den <= 0 || !(large.RSS > 0) || large.PerfectFit {
		return nil
	}
	f := max(0, s.f.m.RSS-large.RSS) / float64(num) / (large.RSS / float64(den))
	s.between = &FResult{F: f, P: linear.UpperF(f, float64(num), float64(den)), Num: num, Den: den}
	if s.between.P < 0.05 {
		s.caveats.Add("tyre_by_block", caveat.Place{}, "The candidates stand differently to the control from block to block (F %.2f on %d and %d degrees of freedom, p %.3f): read the blocks one by one as well.", f, num, den, s.between.P)
	}
	return nil
}

func (s *scatter) report(set Settings) ErrorModel {
	f := s.f
	e := ErrorModel{Model: set.Model, About: s.about, DF: f.m.DF, Rows: f.m.N, Rank: f.m.Rank, Perfect: s.isFlat, Between: s.between}
	sigma, ok := s.sd()
	if ok {
		e.SD = some(sigma)
		if set.Scale == programme.Ratio {
			e.Percent = some(100 * math.Expm1(sigma))
		}
	}
	term := func(name string, l []float64) *Term {
		v, _, ok := f.predict(l)
		if !ok {
			return nil
		}
		t := &Term{Name: name, Estimate: v}
		if sd, ok := s.sd(); ok {
			c, err := f.m.Contrasts([][]float64{l})
			if err == nil && c.Unscaled[0][0] > 0 {
				se := sd * math.Sqrt(c.Unscaled[0][0])
				t.SE, t.T = some(se), some(v/se)
				t.P = some(linear.TwoSidedT(v/se, float64(f.m.DF)))
			}
		}
		return t
	}
	width := f.covAt + len(f.covariates)
	if f.common != nil && f.common.Degree() == 1 {
		l := make([]float64, width)
		l[f.commonAt] = f.common.At(f.common.Middle + f.common.Half)[1] / f.common.Half
		l[f.commonAt] -= f.common.At(f.common.Middle)[1] / f.common.Half
		e.Slope = term("drift", l)
	}
	for k, c := range f.covariates {
		l := make([]float64, width)
		l[f.covAt+k] = 1
		if t := term(c, l); t != nil {
			t.Mean = f.means[k]
			e.Covariates = append(e.Covariates, *t)
		}
	}
	return e
}

// neighbours gives the control stints around stint i in its segment, -1 where
// there is none.
func (q *sequence) neighbours(i int) (before, after int) {
	before, after = -1, -1
	for _, c := range q.controls {
		if q.stints[c].segment != q.stints[i].segment {
			continue
		}
		if c < i {
			before = c
		}
		if c > i && after < 0 {
			after = c
		}
	}
	return before, after
}

// against compares a mean with the control's on the analysis scale, positive
// better.
func (q *sequence) against(mean, control float64) float64 {
	if q.ratio {
		return q.sign * math.Log(mean/control)
	}
	return q.sign * (mean - control)
}

// bracket interpolates the control between its stints before and after.
func (q *sequence) bracket(set Settings) (*estimates, error) {
	n := len(q.stints)
	e := &estimates{local: make([]local, n)}
	opens := make([]*anchor, n)
	for i := range q.stints {
		f := &q.stints[i]
		w := make([]float64, n)
		if f.control {
			w[i] = 1
			e.local[i] = local{ok: true, value: f.mean, weights: w}
			continue
		}
		before, after := q.neighbours(i)
		switch {
		case before >= 0 && after >= 0:
			b, a := &q.stints[before], &q.stints[after]
			t := (f.x - b.x) / (a.x - b.x)
			w[before], w[after] = 1-t, t
			e.local[i] = local{ok: true, value: (1-t)*b.mean + t*a.mean, weights: w, after: some(t)}
		case before >= 0:
			w[before] = 1
			e.local[i] = local{ok: true, value: q.stints[before].mean, weights: w}
			opens[i] = &anchor{control: before, distance: f.x - q.stints[before].x}
		default:
			return nil, fault.New(fault.Internal, "stint %s has no control before it", f.stint.ID)
		}
	}
	q.average(e, opens)
	// The control's curve, and what it moved from bracket to bracket.
	for s := range q.segments {
		last := -1
		for _, c := range q.controls {
			if q.stints[c].segment != s {
				continue
			}
			if last >= 0 {
				a, b := &q.stints[last], &q.stints[c]
				const steps = 8
				for k := range steps {
					t := float64(k) / steps
					w := make([]float64, n)
					w[last], w[c] = 1-t, t
					e.curve = append(e.curve, curvePoint{s, a.x + t*(b.x-a.x), (1-t)*a.mean + t*b.mean, w})
				}
			}
			last = c
		}
		if last >= 0 {
			w := make([]float64, n)
			w[last] = 1
			e.curve = append(e.curve, curvePoint{s, q.stints[last].x, q.stints[last].mean, w})
		}
	}
	return e, nil
}

// average makes one estimate a candidate from its stints against the local
// control.
func (q *sequence) average(e *estimates, opens []*anchor) {
	for _, code := range q.codes {
		est := estimate{code: code, ok: true, weights: make([]float64, len(q.stints))}
		m := 0.0
		for i := range q.stints {
			if q.stints[i].stint.Code == code {
				m++
			}
		}
		for i := range q.stints {
			if q.stints[i].stint.Code != code {
				continue
			}
			l := e.local[i]
			if !l.ok || q.ratio && l.value <= 0 {
				est.ok, est.why = false, "the control cannot be had at stint "+q.stints[i].stint.ID
				break
			}
			est.value += q.against(q.stints[i].mean, l.value) / m
			est.weights[i] += q.sign / m
			for j, w := range l.weights {
				est.weights[j] -= q.sign * w / m
			}
			if opens != nil && opens[i] != nil {
				o := *opens[i]
				o.weight = q.sign / m
				est.open = append(est.open, o)
			}
		}
		e.list = append(e.list, est)
	}
}

// curveOfControls fits the control's own stint means, in the measure's unit,
// and divides each candidate's mean by the curve.
func (q *sequence) curveOfControls(drift Drift) (*estimates, error) {
	y := make([]float64, len(q.controls))
	for k, i := range q.controls {
		y[k] = q.stints[i].mean
	}
	f, err := q.fit(q.controls, y, degree(drift), 0, false, nil)
	if err != nil {
		return nil, err
	}
	e := &estimates{local: make([]local, len(q.stints))}
	for i := range q.stints {
		s := &q.stints[i]
		if f.common != nil || drift == NoDrift {
			e.local[i].value, e.local[i].weights, e.local[i].ok = f.predict(f.at(s.segment, s.u, "", nil))
		}
	}
	q.average(e, nil)
	q.mark(e, drift)
	q.sample(e, f, func(v float64) float64 { return v })
	return e, nil
}

// model takes the estimates from the model of stint means itself.
func (q *sequence) model(sc *scatter, drift Drift, set Settings) (*estimates, error) {
	f := sc.f
	if drift == NoDrift {
		rows, y := make([]int, len(q.stints)), make([]float64, len(q.stints))
		for i := range rows {
			rows[i], y[i] = i, q.stints[i].y
		}
		var err error
		if f, err = q.fit(rows, y, 0, degree(set.DriftPerBlock), true, set.Covariates); err != nil {
			return nil, err
		}
	}
	back := func(v float64) float64 { return v }
	if q.ratio {
		back = math.Exp
	}
	e := &estimates{local: make([]local, len(q.stints))}
	any := false
	for _, code := range q.codes {
		est := estimate{code: code, why: "its stints cannot be told apart from drift and block"}
		l := make([]float64, f.covAt+len(f.covariates))
		l[f.tyreAt[code]] = 1
		v, w, ok := f.predict(l)
		if ok {
			est.ok, est.why, est.value = true, "", q.sign*v
			for i := range w {
				w[i] *= q.sign
			}
			est.weights = w
			any = true
		}
		e.list = append(e.list, est)
	}
	if !any {
		return nil, fault.New(fault.Invalid, "with %s no candidate can be told apart from the drift", correction(set, drift)).
			WithHint("fit the control again, repeat candidates, or choose a simpler correction")
	}
	for i := range q.stints {
		s := &q.stints[i]
		v, w, ok := f.predict(f.at(s.segment, s.u, q.control, s.covariates))
		if ok {
			e.local[i] = local{ok: true, value: back(v), weights: w}
		}
	}
	q.mark(e, drift)
	q.sample(e, f, back)
	return e, nil
}

// mark says which candidates rest on a drift carried beyond the controls: those
// of one block alone; where blocks recur, the model holds them together.
func (q *sequence) mark(e *estimates, drift Drift) {
	if drift == NoDrift {
		return
	}
	for i := range q.stints {
		s := &q.stints[i]
		before, after := q.neighbours(i)
		if s.control || before >= 0 && after >= 0 {
			continue
		}
		if len(q.blocks) > 1 {
			e.caveats.Add("outside_controls", caveat.Place{Stint: s.stint.ID, Code: s.stint.Code}, "The stint does not lie between two controls of its block: it rests on the drift model.")
			continue
		}
		for k := range e.list {
			if e.list[k].code == s.stint.Code {
				e.list[k].blind = true
			}
		}
	}
}

// curveSteps is how finely the control's curve is sampled over a segment: fine
// enough for a parabola on the width of a page.
const curveSteps = 32

func (q *sequence) sample(e *estimates, f *fitted, back func(float64) float64) {
	for s := range q.segments {
		low, high, shift, has := 0.0, 0.0, 0.0, false
		for i := range q.stints {
			t := &q.stints[i]
			if t.segment != s {
				continue
			}
			if !has {
				low, shift, has = t.u, t.x-t.u, true
			}
			high = t.u
		}
		steps := curveSteps
		if high == low {
			steps = 0
		}
		for k := 0; k <= steps; k++ {
			u := low
			if steps > 0 {
				u += (high - low) * float64(k) / float64(steps)
			}
			v, w, ok := f.predict(f.at(s, u, q.control, nil))
			if b := back(v); ok && finite(b) {
				e.curve = append(e.curve, curvePoint{s, u + shift, b, w})
			}
		}
	}
}
