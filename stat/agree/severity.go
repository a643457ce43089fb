package agree

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Effect is what the additive model says of one object or rater; in rating
// units.
type Effect struct {
	Name    string
	N       int     // ratings it rests on
	Value   float64 // objects: against the reference; raters: severity, against the mean rater
	SE      float64 // 0 where no degrees of freedom are left
	RawMean float64 // plain mean of its ratings, biased where cells are missing
	Spread  float64 // root mean square of its residuals
}

// Severity is the additive model rating = level + object + rater, raters
// summing to zero.
type Severity struct {
	Reference string
	Level     float64  // the reference object as the mean rater rates it
	Objects   []Effect // in order of first appearance; the reference has 0 and SE 0
	Raters    []Effect // in order of first appearance
	Var       float64  // residual variance, in squared rating units
	DF        float64

	ObjectF, ObjectDF, ObjectP float64 // do objects differ, raters allowed for? F 0 where there is no error to hold it against
	RaterF, RaterDF, RaterP    float64 // do raters differ in severity, objects allowed for?
	Caveats                    caveat.List
}

// RaterSeverity fits the additive model by least squares, each rating one row;
// missing cells are not in the list and repeats count as rows. Object effects
// are against the reference object. Ratings that fall into parts with no rater
// in common cannot be compared and are refused.
func RaterSeverity(ratings []Rating, reference string) (Severity, error) {
	s := Severity{Reference: reference, ObjectP: 1, RaterP: 1}
	objects, raters := index{}, index{}
	for i, r := range ratings {
		if !(math.Abs(r.Value) <= largest) {
			return s, fault.New(fault.Invalid, "rating %d is no number, or beyond %g", i+1, largest).WithHint("leave missing ratings out")
		}
		objects.add(r.Object)
		raters.add(r.Rater)
	}
	ref, ok := objects.at[reference]
	if !ok {
		return s, fault.New(fault.NotFound, "no rating of the reference %q", reference)
	}
	no, nr, n := len(objects.names), len(raters.names), len(ratings)
	if no < 2 || nr < 2 {
		return s, fault.New(fault.Invalid, "severity needs at least 2 objects and 2 raters, not %d and %d", no, nr)
	}
	if away := apart(ratings, objects, raters); away != "" {
		return s, fault.New(fault.Invalid, "%q shares no rater, directly or through others, with %q", away, objects.names[0]).
			WithHint("let at least one rater rate objects of both parts")
	}
	// Columns: level, objects but the reference, raters but the last (which is
	// minus the sum of the others).
	cols := no + nr - 1
	objectCol := func(o int) int {
		switch {
		case o == ref:
			return -1
		case o > ref:
			return o
		}
		return o + 1
	}
	x := mat.NewDense(n, cols, nil)
	y := mat.NewVecDense(n, nil)
	center := 0.0
	for _, r := range ratings {
		center += r.Value / float64(n)
	}
	scale := 0.0
	for i, r := range ratings {
		x.Set(i, 0, 1)
		if c := objectCol(objects.at[r.Object]); c >= 0 {
			x.Set(i, c, 1)
		}
		if j := raters.at[r.Rater]; j < nr-1 {
			x.Set(i, no+j, 1)
		} else {
			for k := range nr - 1 {
				x.Set(i, no+k, -1)
			}
		}
		y.SetVec(i, r.Value-center)
		scale += sq(r.Value - center)
	}
	var qr mat.QR
	qr.Factorize(x)
	var b mat.VecDense
	if err := qr.SolveVecTo(&b, false, y); err != nil {
		return s, fault.New(fault.Internal, "the additive model has no solution: %w", err)
	}
	var rt, inv mat.Dense
	qr.RTo(&rt)
	if err := inv.Inverse(rt.Slice(0, cols, 0, cols)); err != nil {
		return s, fault.New(fault.Internal, "the additive model has no standard errors: %w", err)
	}
	resid := make([]float64, n)
	rss := 0.0
	for i := range resid {
		resid[i] = y.AtVec(i) - mat.Dot(x.RowView(i), &b)
		rss += sq(resid[i])
	}
	if rss <= 1e-26*(scale+sq(center)) {
		rss = 0
		clear(resid)
	}
	s.DF = float64(n - cols)
	s.Level = center + b.AtVec(0)
	if s.DF > 0 {
		s.Var = rss / s.DF
	} else {
		s.Caveats.Add("no_degrees_of_freedom", caveat.Place{}, "The additive model uses up all %d ratings: effects have no standard errors.", n)
	}
	// cov gives v' (X'X)^-1 v for a combination of coefficients.
	cov := func(weights map[int]float64) float64 {
		total := 0.0
		for c := range cols {
			d := 0.0
			for r := 0; r <= c; r++ { // in order, never over the map
				if w, ok := weights[r]; ok {
					d += w * inv.At(r, c)
				}
			}
			total += d * d
		}
		return total
	}
	for o, name := range objects.names {
		e := Effect{Name: name}
		if c := objectCol(o); c >= 0 {
			e.Value = b.AtVec(c)
			e.SE = math.Sqrt(s.Var * cov(map[int]float64{c: 1}))
		}
		s.Objects = append(s.Objects, e)
	}
	last := map[int]float64{}
	sum := 0.0
	for j, name := range raters.names {
		e := Effect{Name: name}
		if j < nr-1 {
			e.Value = b.AtVec(no + j)
			sum += e.Value
			last[no+j] = -1
			e.SE = math.Sqrt(s.Var * cov(map[int]float64{no + j: 1}))
		} else {
			e.Value = -sum
			e.SE = math.Sqrt(s.Var * cov(last))
		}
		s.Raters = append(s.Raters, e)
	}
	for i, r := range ratings {
		for _, e := range []*Effect{&s.Objects[objects.at[r.Object]], &s.Raters[raters.at[r.Rater]]} {
			e.N++
			e.RawMean += r.Value
			e.Spread += sq(resid[i])
		}
	}
	for _, list := range [][]Effect{s.Objects, s.Raters} {
		for i := range list {
			e := &list[i]
			e.RawMean /= float64(e.N)
			e.Spread = math.Sqrt(e.Spread / float64(e.N))
			if e.N == 1 {
				s.Caveats.Add("rated_once", caveat.Place{}, "%s rests on one rating.", e.Name)
			}
		}
	}
	s.ObjectDF, s.RaterDF = float64(no-1), float64(nr-1)
	if s.Var > 0 {
		s.ObjectF = math.Max(0, within(ratings, raters, false)-rss) / s.ObjectDF / s.Var
		s.RaterF = math.Max(0, within(ratings, objects, true)-rss) / s.RaterDF / s.Var
		s.ObjectP = tail.F(s.ObjectF, s.ObjectDF, s.DF)
		s.RaterP = tail.F(s.RaterF, s.RaterDF, s.DF)
	} else if s.DF > 0 {
		s.Caveats.Add("no_disagreement", caveat.Place{}, "The additive model fits every rating exactly: there is no error to hold differences against.")
	}
	return s, nil
}

// within gives the sum of squares within the groups of one classification.
func within(ratings []Rating, g index, byObject bool) float64 {
	key := func(r Rating) int {
		if byObject {
			return g.at[r.Object]
		}
		return g.at[r.Rater]
	}
	mean, n := make([]float64, len(g.names)), make([]float64, len(g.names))
	for _, r := range ratings {
		mean[key(r)] += r.Value
		n[key(r)]++
	}
	ss := 0.0
	for _, r := range ratings {
		ss += sq(r.Value - mean[key(r)]/n[key(r)])
	}
	return ss
}

// apart names an object that no chain of common raters joins to the first
// one, or nothing.
func apart(ratings []Rating, objects, raters index) string {
	no := len(objects.names)
	parent := make([]int, no+len(raters.names))
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for _, r := range ratings {
		parent[find(objects.at[r.Object])] = find(no + raters.at[r.Rater])
	}
	for i, name := range objects.names {
		if find(i) != find(0) {
			return name
		}
	}
	return ""
}

// index numbers names in order of first appearance.
type index struct {
	names []string
	at    map[string]int
}

func (x *index) add(name string) {
	if x.at == nil {
		x.at = map[string]int{}
	}
	if _, ok := x.at[name]; !ok {
		x.at[name] = len(x.names)
		x.names = append(x.names, name)
	}
}
