package procedure

import (
	"math"
	"slices"
	"strings"

	"example.org/bookend/course"
	"example.org/bookend/stat/tail"
)

// Mean is a code's mean of one trace over its stints, each stint being the mean of
// its runs.
type Mean struct {
	Code string
	X, Y []float64
	// Low and High are the ends of the 95 % interval of the mean over stints, each place
	// by itself, by Student's t: stints scatter about their code's mean, and the scatter of
	// all codes is pooled. Both nil where no code that is seen there has two stints.
	Low, High    []float64
	Runs, Stints int

	square []float64 // sum of squares of its stints about it
}

// meanPlaces is at how many places a mean is taken (own choice: more than are seen on
// a figure's width).
const meanPlaces = 400

// confidence is that of the intervals: 95 %, as everywhere in a report.
const confidence = 0.95

// Means gives the mean of a trace for each code, in the order of their first runs, on
// places common to all runs. It is description: no correction for drift, no
// allowance for how many codes are compared; room compare gives verdicts.
func Means(in []Overlaid, trace string) []Mean { return banded(unbanded(in, trace)) }

func unbanded(in []Overlaid, trace string) []Mean {
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
		m.square = make([]float64, len(grid))
		for _, s := range of {
			for i := range grid {
				m.square[i] += (s[i] - m.Y[i]) * (s[i] - m.Y[i])
			}
		}
		out = append(out, m)
	}
	return out
}

// banded gives means their intervals.
func banded(means []Mean) []Mean {
	for k := range means {
		m := &means[k]
		square, df := make([]float64, len(m.X)), make([]float64, len(m.X))
		for _, q := range means {
			if q.Stints < 2 {
				continue
			}
			v, ok := course.ByStation(q.X, q.square, m.X)
			for i := range v {
				if ok[i] {
					square[i], df[i] = square[i]+v[i], df[i]+float64(q.Stints-1)
				}
			}
		}
		if slices.Min(df) < 1 {
			continue
		}
		of, t := 0.0, 0.0
		for i := range m.X {
			if df[i] != of {
				of, t = df[i], Student(df[i])
			}
			half := t * math.Sqrt(square[i]/df[i]/float64(m.Stints))
			m.Low, m.High = append(m.Low, m.Y[i]-half), append(m.High, m.Y[i]+half)
		}
	}
	return means
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
		out = append(out, unbanded(own, trace)...)
	}
	return banded(out)
}

// BandWords says what the bands of means are and which codes rest on one stint, for the
// line below a figure's title.
func BandWords(means []Mean) string {
	n := 0
	for _, m := range means {
		if m.Low != nil {
			n++
		}
	}
	var once []string
	for _, m := range means {
		if m.Stints == 1 {
			once = append(once, m.Code)
		}
	}
	words := OnOneStint(once, len(means))
	if words != "" {
		words = " " + words + "."
	}
	switch n {
	case 0:
		return words
	case len(means):
		return " Bands are 95 % of each mean, by the scatter of all codes’ stints." + words
	}
	return " Bands, where they can be had, are 95 % of the mean, by the scatter of all codes’ stints." + words
}

// OnOneStint says which codes, of how many, rest on one stint each: what scatters from
// stint to stint is then known from the others alone, or not at all. Empty for none.
func OnOneStint(codes []string, of int) string {
	switch n := len(codes); {
	case n == 0:
		return ""
	case n == of:
		return "Each code rests on one stint"
	case n == 1:
		return codes[0] + " rests on one stint"
	default:
		return strings.Join(codes[:n-1], ", ") + " and " + codes[n-1] + " rest on one stint each"
	}
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
	m.square = times(m.square, y*y)
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
