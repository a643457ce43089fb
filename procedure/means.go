package procedure

import (
	"math"
	"slices"

	"example.org/bookend/course"
	"example.org/bookend/stat/tail"
)

// Mean is a code's mean of one trace over its stints, each stint being the mean of
// its runs.
type Mean struct {
	Code string
	X, Y []float64
	// Low and High are the ends of the 95 % interval of the mean over stints, each place
	// by itself, by Student's t; both nil for fewer than two stints.
	Low, High    []float64
	Runs, Stints int
}

// meanPlaces is at how many places a mean is taken (own choice: more than are seen on
// a figure's width).
const meanPlaces = 400

// confidence is that of the intervals: 95 %, as everywhere in a report.
const confidence = 0.95

// Means gives the mean of a trace for each code, in the order of their first runs, on
// places common to all runs. It is description: no correction for drift, no
// allowance for how many codes are compared; room compare gives verdicts.
func Means(in []Overlaid, trace string) []Mean {
	from, to := math.Inf(-1), math.Inf(1)
	type run struct {
		code, stint string
		x, y        []float64
	}
	var runs []run
	for _, o := range in {
		for _, tr := range o.Traces {
			if tr.ID == trace && len(tr.X) > 1 {
				runs = append(runs, run{o.Code, o.Stint, tr.X, tr.Y})
				from, to = math.Max(from, tr.X[0]), math.Min(to, tr.X[len(tr.X)-1])
			}
		}
	}
	if len(runs) == 0 || !(to > from) {
		return nil
	}
	grid := make([]float64, meanPlaces+1)
	for i := range grid {
		grid[i] = from + (to-from)*float64(i)/meanPlaces
	}
	grid[meanPlaces] = to
	var out []Mean
	for _, first := range runs {
		if slices.ContainsFunc(out, func(m Mean) bool { return m.Code == first.code }) {
			continue
		}
		m := Mean{Code: first.code, X: grid, Y: make([]float64, len(grid))}
		var stints []string
		var of [][]float64
		for _, r := range runs {
			if r.code != m.Code {
				continue
			}
			m.Runs++
			k := slices.Index(stints, r.stint)
			if k < 0 {
				k = len(stints)
				stints, of = append(stints, r.stint), append(of, make([]float64, len(grid)+1))
			}
			v, _ := course.ByStation(r.x, r.y, grid)
			for i := range v {
				of[k][i] += v[i]
			}
			of[k][len(grid)]++ // how many runs
		}
		m.Stints = len(stints)
		for _, s := range of {
			for i := range grid {
				s[i] /= s[len(grid)]
				m.Y[i] += s[i] / float64(len(of))
			}
		}
		if n := float64(len(of)); n >= 2 {
			t := Student(n - 1)
			for i := range grid {
				square := 0.0
				for _, s := range of {
					square += (s[i] - m.Y[i]) * (s[i] - m.Y[i])
				}
				half := t * math.Sqrt(square/(n-1)/n)
				m.Low, m.High = append(m.Low, m.Y[i]-half), append(m.High, m.Y[i]+half)
			}
		}
		out = append(out, m)
	}
	return out
}

// MeansOfEach gives what Means gives, each code over the places that its own runs share:
// for curves that end elsewhere for each.
func MeansOfEach(in []Overlaid, trace string) []Mean {
	var out []Mean
	for _, o := range in {
		if slices.ContainsFunc(out, func(m Mean) bool { return m.Code == o.Code }) {
			continue
		}
		var own []Overlaid
		for _, q := range in {
			if q.Code == o.Code {
				own = append(own, q)
			}
		}
		out = append(out, Means(own, trace)...)
	}
	return out
}

// BandWords says what the bands of means are, for the line below a figure's title; empty
// where no mean has an interval.
func BandWords(means []Mean) string {
	n := 0
	for _, m := range means {
		if m.Low != nil {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case len(means):
		return " Bands: 95 % interval of each mean by itself."
	}
	return " Bands, where a code has two stints: 95 % interval of its mean by itself."
}

// Student gives the t that Student's distribution of df degrees of freedom leaves
// between -t and t with a probability of 95 %.
func Student(df float64) float64 { return tail.TPoint((1-confidence)/2, df) }

// Scaled gives the mean with places and values multiplied, for the units of a figure.
func (m Mean) Scaled(x, y float64) Mean {
	times := func(v []float64, by float64) []float64 {
		if v == nil {
			return nil
		}
		out := make([]float64, len(v))
		for i := range v {
			out[i] = v[i] * by
		}
		return out
	}
	m.X, m.Y, m.Low, m.High = times(m.X, x), times(m.Y, y), times(m.Low, y), times(m.High, y)
	return m
}

// At gives the mean's value at a place, and its interval's ends where it has one.
func (m Mean) At(x float64) (y, low, high float64) {
	v, ok := course.ByStation(m.X, m.Y, []float64{x})
	if !ok[0] {
		return 0, 0, 0
	}
	y, low, high = v[0], v[0], v[0]
	if m.Low != nil {
		l, _ := course.ByStation(m.X, m.Low, []float64{x})
		h, _ := course.ByStation(m.X, m.High, []float64{x})
		low, high = l[0], h[0]
	}
	return y, low, high
}
