// Package simplex says which of several objects leads when criteria are summed by
// weights, and over what share of all weightings.
//
// In the trade somebody has weighted the attributes of a tyre; before the sum is
// believed it is worth knowing whether other weights would have named another
// tyre. Weights are not negative and sum to one: they fill a simplex, and the
// weightings under which one object leads are a convex part of it. Of two and
// three criteria the parts are cut out exactly; of more, weightings are drawn
// evenly (a Dirichlet distribution with all parameters one) by a fixed seed, and
// the share has a standard error.
//
// Source: cutting a convex polygon by a half-plane, and even draws from a simplex
// as normalised exponentials (Devroye, Non-Uniform Random Variate Generation,
// 1986, chapter V.2; from memory). Values are in any one unit; shares have none. Limits:
// values are taken as known, their scatter is not in a share.
package simplex

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.org/bookend/fault"
)

// Draws is how many weightings are drawn where parts are not cut out exactly: a
// share has a standard error of at most 0.0016.
const Draws = 100_000

// seed makes the draws the same on every call.
const seed = 1955

// Lead is an object's share of all weightings under which it leads; objects of
// equal values share alike.
type Lead struct {
	Share float64
	Error float64 // standard error; 0 where the share is exact
}

// Leads gives the share of every object, rows of values, one a criterion, higher
// better. Exact tells that no draws were needed.
func Leads(values [][]float64) (leads []Lead, exact bool, err error) {
	n, err := check(values)
	if err != nil {
		return nil, false, err
	}
	leads = make([]Lead, len(values))
	kin := alike(values)
	switch n {
	case 1:
		best := slices.MaxFunc(values, func(a, b []float64) int { return compare(a[0], b[0]) })[0]
		ties := 0.0
		for _, v := range values {
			if v[0] == best {
				ties++
			}
		}
		for i, v := range values {
			if v[0] == best {
				leads[i].Share = 1 / ties
			}
		}
		return leads, true, nil
	case 2, 3:
		for i := range values {
			leads[i].Share = part(values, i) / float64(kin[i])
		}
		return leads, true, nil
	}
	r := rand.New(rand.NewPCG(seed, uint64(n)))
	w := make([]float64, n)
	hits := make([]float64, len(values))
	for range Draws {
		for k := range w {
			w[k] = r.ExpFloat64()
		}
		best, at := math.Inf(-1), 0
		for i := range values {
			s := 0.0
			for k, x := range w {
				s += x * values[i][k]
			}
			if s > best {
				best, at = s, i
			}
		}
		hits[at]++
	}
	for i := range leads {
		total := 0.0 // the first of its like is drawn for all of them
		for j := range values {
			if slices.Equal(values[i], values[j]) {
				total += hits[j]
			}
		}
		p := total / Draws
		leads[i] = Lead{p / float64(kin[i]), math.Sqrt(p*(1-p)/Draws) / float64(kin[i])}
	}
	return leads, false, nil
}

// Turn is the weight of one criterion at which another object takes the lead, the
// other criteria keeping their proportions.
type Turn struct {
	Criterion int
	From      float64 // the criterion's weight as given
	To        float64 // the weight at which the lead changes
	Leader    int     // who leads beyond it
}

// Turns gives, for each criterion, the nearest weight above and the nearest below
// the given one at which the lead changes; none where it never does. Weights need
// not sum to one.
func Turns(values [][]float64, weights []float64) (leader int, turns []Turn, err error) {
	n, err := check(values)
	if err != nil {
		return 0, nil, err
	}
	if len(weights) != n {
		return 0, nil, fault.New(fault.Invalid, "%d weights for %d criteria", len(weights), n)
	}
	total := 0.0
	for _, w := range weights {
		if !(w >= 0) || math.IsInf(w, 0) {
			return 0, nil, fault.New(fault.Invalid, "a weight is %v", w).WithHint("weights are 0 or more")
		}
		total += w
	}
	if total == 0 {
		return 0, nil, fault.New(fault.Invalid, "all weights are 0")
	}
	score := make([]float64, len(values))
	for i := range values {
		for k, w := range weights {
			score[i] += w / total * values[i][k]
		}
		if score[i] > score[leader] {
			leader = i
		}
	}
	for k, w := range weights {
		from := w / total
		if from == 1 {
			continue // nothing else has a proportion to keep
		}
		// With the weight at t, an object scores (1-t) rest + t value.
		rest := func(i int) float64 { return (score[i] - from*values[i][k]) / (1 - from) }
		up, down := Turn{k, from, math.Inf(1), -1}, Turn{k, from, math.Inf(-1), -1}
		for i := range values {
			if i == leader {
				continue
			}
			a, b := rest(leader)-rest(i), values[leader][k]-values[i][k]
			if a == b {
				continue
			}
			t := a / (a - b)
			switch {
			case t > from && t <= 1 && t < up.To && b < a:
				up.To, up.Leader = t, i
			case t < from && t >= 0 && t > down.To && a < b:
				down.To, down.Leader = t, i
			}
		}
		for _, t := range []Turn{down, up} {
			if t.Leader >= 0 {
				turns = append(turns, t)
			}
		}
	}
	return leader, turns, nil
}

func check(values [][]float64) (criteria int, err error) {
	if len(values) == 0 || len(values[0]) == 0 {
		return 0, fault.New(fault.Invalid, "there is nothing to weight")
	}
	for _, row := range values {
		if len(row) != len(values[0]) {
			return 0, fault.New(fault.Invalid, "one object has %d values, another %d", len(values[0]), len(row))
		}
		for _, v := range row {
			if !(math.Abs(v) <= 1e100) {
				return 0, fault.New(fault.Invalid, "a value is %v", v).WithHint("leave out what has none")
			}
		}
	}
	return len(values[0]), nil
}

// alike gives how many objects have the values of each.
func alike(values [][]float64) []int {
	out := make([]int, len(values))
	for i := range values {
		for j := range values {
			if slices.Equal(values[i], values[j]) {
				out[i]++
			}
		}
	}
	return out
}

// part gives the share of the simplex of two or three weights in which object i
// is not beaten: the triangle (or its edge) cut by one half-plane an opponent.
func part(values [][]float64, i int) float64 {
	three := len(values[i]) == 3
	// A corner is a weighting; a line of two corners is one-dimensional.
	corners := [][]float64{{1, 0}, {0, 1}}
	if three {
		corners = [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	}
	for j := range values {
		if slices.Equal(values[i], values[j]) {
			continue
		}
		lead := func(w []float64) float64 {
			s := 0.0
			for k, x := range w {
				s += x * (values[i][k] - values[j][k])
			}
			return s
		}
		var kept [][]float64
		for c := range corners {
			a, b := corners[c], corners[(c+1)%len(corners)]
			x, y := lead(a), lead(b)
			if x >= 0 {
				kept = append(kept, a)
			}
			if !three && c == 1 {
				break // an edge has one side
			}
			if x > 0 && y < 0 || x < 0 && y > 0 {
				t := x / (x - y)
				cut := make([]float64, len(a))
				for k := range cut {
					cut[k] = a[k] + t*(b[k]-a[k])
				}
				kept = append(kept, cut)
			}
		}
		corners = kept
		if len(corners) < 2 {
			return 0
		}
	}
	if !three {
		return math.Abs(corners[0][0] - corners[len(corners)-1][0])
	}
	area := 0.0
	for c := range corners {
		a, b := corners[c], corners[(c+1)%len(corners)]
		area += a[0]*b[1] - b[0]*a[1]
	}
	return math.Abs(area) // of the triangle whose area is a half
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
