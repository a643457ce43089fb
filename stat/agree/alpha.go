package agree

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// Scale says what differences between ratings mean to Krippendorff's alpha.
type Scale int

// The four scales.
const (
	Nominal  Scale = iota // names: the same or not
	Ordinal               // ranks: how many ratings lie between
	Interval              // numbers: squared difference
	Ratio                 // numbers with a zero: squared difference over sum; none negative
)

func (s Scale) String() string {
	return [...]string{"nominal", "ordinal", "interval", "ratio"}[s]
}

// Rating is one rating of one object by one rater.
type Rating struct {
	Object, Rater string
	Value         float64 // on the scale used
}

// Reliability is Krippendorff's alpha: 1 full agreement, 0 what chance would
// give. It has no value where Defined is false.
type Reliability struct {
	Scale    Scale
	Alpha    float64
	Defined  bool
	Objects  int     // objects with at least two ratings
	Pairable int     // their ratings
	Observed float64 // disagreement within objects, in the scale's own unit
	Expected float64 // disagreement if ratings were dealt out at random
	Caveats  caveat.List
}

// Krippendorff computes alpha from a list of ratings; what is not in the list
// is missing. Objects rated once say nothing and are passed over. A rater who
// rates an object twice counts as two readings of it.
func Krippendorff(ratings []Rating, scale Scale) (Reliability, error) {
	r := Reliability{Scale: scale}
	var names []string
	byObject := map[string][]float64{}
	for i, x := range ratings {
		if !(math.Abs(x.Value) <= largest) {
			return r, fault.New(fault.Invalid, "rating %d is no number, or beyond %g", i+1, largest).WithHint("leave missing ratings out")
		}
		if scale == Ratio && x.Value < 0 {
			return r, fault.New(fault.Invalid, "rating %d is negative, which a ratio scale does not know", i+1)
		}
		if _, ok := byObject[x.Object]; !ok {
			names = append(names, x.Object)
		}
		byObject[x.Object] = append(byObject[x.Object], x.Value)
	}
	var values []float64 // distinct, sorted
	single := 0
	for _, o := range names {
		if len(byObject[o]) < 2 {
			single++
			continue
		}
		r.Objects++
		r.Pairable += len(byObject[o])
		values = append(values, byObject[o]...)
	}
	if single > 0 {
		r.Caveats.Add("rated_once", caveat.Place{}, "%d of %d objects have one rating only and are passed over.", single, len(names))
	}
	if r.Pairable < 2 {
		return r, fault.New(fault.Invalid, "no object has two ratings: there is no agreement to compute")
	}
	slices.Sort(values)
	values = slices.Compact(values)
	at := func(v float64) int { i, _ := slices.BinarySearch(values, v); return i }
	k := len(values)
	o := make([][]float64, k)
	for i := range o {
		o[i] = make([]float64, k)
	}
	for _, name := range names {
		x := byObject[name]
		if len(x) < 2 {
			continue
		}
		w := 1 / float64(len(x)-1)
		for i := range x {
			for j := range x {
				if i != j {
					o[at(x[i])][at(x[j])] += w
				}
			}
		}
	}
	n := make([]float64, k)
	total := 0.0
	for i := range o {
		for j := range o[i] {
			n[i] += o[i][j]
		}
		total += n[i]
	}
	distance := func(a, b int) float64 { // a < b
		switch scale {
		case Nominal:
			return 1
		case Ordinal:
			s := -(n[a] + n[b]) / 2
			for g := a; g <= b; g++ {
				s += n[g]
			}
			return s * s
		case Interval:
			return sq(values[b] - values[a])
		}
		return sq((values[b] - values[a]) / (values[a] + values[b]))
	}
	for a := range k {
		for b := a + 1; b < k; b++ {
			d := distance(a, b)
			r.Observed += 2 * o[a][b] * d / total
			r.Expected += 2 * n[a] * n[b] * d / (total * (total - 1))
		}
	}
	if r.Expected == 0 {
		r.Caveats.Add("all_alike", caveat.Place{}, "All ratings are the same: alpha compares with chance, and there is nothing to compare.")
		return r, nil
	}
	r.Alpha, r.Defined = 1-r.Observed/r.Expected, true
	return r, nil
}
