// Package agree says how far raters, or two methods, agree: the six intraclass
// correlations, Kendall's W and Friedman's test, Krippendorff's alpha, limits
// of agreement, and raters' severity with cells missing.
//
// In the trade: do the evaluators see the same order of tyres, does one rate
// harder than another, and do two ways of measuring give the same? A rating
// table has one row an object (what is rated) and one column a rater; where
// cells may be missing, ratings come as a list and what is missing is simply
// not in it.
//
// Sources: Shrout and Fleiss, Psychological Bulletin 86 (1979) 420-428; Kendall
// and Babington Smith (1939) with ties after Zar, Biostatistical Analysis
// (2010), 20.16; Friedman (1937) with the F form of Iman and Davenport (1980);
// Krippendorff, Content Analysis (2004), chapter 11; Bland and Altman, Lancet
// (1986) i 307-310. Units are those of the ratings; coefficients have none.
// Limits: intervals assume normal scatter; p-values from chi-square are rough
// for few raters, and caveats say so.
package agree

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/tail"
)

// Coefficient is one intraclass correlation with its interval and the F test
// of zero. It has no value where Defined is false.
type Coefficient struct {
	Name      string // "ICC(2,1)": model, and ratings averaged (1 or k)
	Value     float64
	Low, High float64
	Defined   bool
	NoLow     bool    // there is no lower limit, and Low is 0
	F         float64 // 0 where the error is zero and F has no value
	DF1, DF2  float64
	P         float64
}

// Intraclass holds the mean squares of a table and its six correlations.
type Intraclass struct {
	Objects, Raters                        int
	Between, Within, Rater, Error          float64 // mean squares: BMS, WMS, JMS, EMS, in squared units
	One1, Two1, Three1, OneK, TwoK, ThreeK Coefficient
	RaterF, RaterP                         float64 // test that all raters are equally severe (JMS/EMS); 0 and 1 without error
	Confidence                             float64
	Caveats                                caveat.List
}

// All gives the six in the order of the publication: single ratings, then
// means.
func (c Intraclass) All() [6]Coefficient {
	return [6]Coefficient{c.One1, c.Two1, c.Three1, c.OneK, c.TwoK, c.ThreeK}
}

// IntraclassCorrelations computes the six coefficients of Shrout and Fleiss
// from a full table, objects by raters: ICC(1,.) raters differ from object to
// object; ICC(2,.) raters are a sample and absolute agreement counts; ICC(3,.)
// these raters, and only the order and spacing count.
func IntraclassCorrelations(table [][]float64, confidence float64) (Intraclass, error) {
	n, k, err := shape(table)
	r := Intraclass{Objects: n, Raters: k, Confidence: confidence}
	if err != nil {
		return r, err
	}
	if err := level(confidence); err != nil {
		return r, err
	}
	nf, kf := float64(n), float64(k)
	rows, cols := make([]float64, n), make([]float64, k)
	grand := 0.0
	for i, row := range table {
		for j, v := range row {
			rows[i] += v / kf
			cols[j] += v / nf
			grand += v / (nf * kf)
		}
	}
	var between, rater, within, resid, size float64
	for i, row := range table {
		between += kf * sq(rows[i]-grand)
		for j, v := range row {
			within += sq(v - rows[i])
			resid += sq(v - rows[i] - cols[j] + grand)
			size = math.Max(size, math.Abs(v))
		}
	}
	for j := range cols {
		rater += nf * sq(cols[j]-grand)
	}
	// Sums that are rounding of equal values are zero.
	tiny := nf * kf * sq(1e-14*size)
	for _, s := range []*float64{&between, &rater, &within, &resid} {
		if *s < tiny {
			*s = 0
		}
	}
	df1, df2, dfw := nf-1, (nf-1)*(kf-1), nf*(kf-1)
	r.Between, r.Rater, r.Within, r.Error = between/df1, rater/(kf-1), within/dfw, resid/df2
	bms, jms, wms, ems := r.Between, r.Rater, r.Within, r.Error
	r.RaterP = 1
	if ems > 0 {
		r.RaterF = jms / ems
		r.RaterP = tail.F(r.RaterF, kf-1, df2)
	}
	half := (1 - confidence) / 2

	oneWay := func(name string, err, dfe float64, mean bool) Coefficient {
		c := Coefficient{Name: name, DF1: df1, DF2: dfe, P: 1}
		ratio := func(b, e float64) float64 {
			if mean {
				return (b - e) / b
			}
			return (b - e) / (b + (kf-1)*e)
		}
		switch {
		case bms == 0:
			return c // nothing differs between objects: no value
		case err == 0:
			c.Value, c.Low, c.High, c.Defined, c.P = 1, 1, 1, true, 0
			return c
		}
		c.Defined = true
		c.Value = ratio(bms, err)
		c.F = bms / err
		c.P = tail.F(c.F, df1, dfe)
		low, high := c.F/tail.FPoint(half, df1, dfe), c.F*tail.FPoint(half, dfe, df1)
		c.Low, c.High = ratio(low, 1), ratio(high, 1)
		return c
	}
	r.One1 = oneWay("ICC(1,1)", wms, dfw, false)
	r.OneK = oneWay("ICC(1,k)", wms, dfw, true)
	r.Three1 = oneWay("ICC(3,1)", ems, df2, false)
	r.ThreeK = oneWay("ICC(3,k)", ems, df2, true)
	r.Two1, r.TwoK = twoWay(bms, jms, ems, nf, kf, half)

	switch {
	case bms == 0:
		r.Caveats.Add("objects_alike", caveat.Place{}, "The objects' means do not differ at all: an intraclass correlation has nothing to stand on.")
	case bms < ems:
		r.Caveats.Add("negative_agreement", caveat.Place{}, "The objects differ by less than the raters' disagreement: coefficients below zero mean no agreement.")
	}
	if wms == 0 {
		r.Caveats.Add("no_disagreement", caveat.Place{}, "The raters agree in every rating: the intervals have no width.")
	} else if ems == 0 && bms > 0 {
		r.Caveats.Add("no_error", caveat.Place{}, "The raters differ by a constant only: ICC(3,.) is 1 and its interval has no width.")
	}
	if k == 2 {
		r.Caveats.Add("two_raters", caveat.Place{}, "With two raters look at their differences and limits of agreement first; a coefficient hides a constant offset.")
	}
	return r, nil
}

// twoWay gives ICC(2,1) and ICC(2,k) with the limits of Shrout and Fleiss
// (1979), p. 424, after Satterthwaite.
func twoWay(bms, jms, ems, n, k, half float64) (one, mean Coefficient) {
	one = Coefficient{Name: "ICC(2,1)", DF1: n - 1, DF2: (n - 1) * (k - 1), P: 1}
	mean = one
	mean.Name = "ICC(2,k)"
	d1 := bms + (k-1)*ems + k*(jms-ems)/n
	dk := bms + (jms-ems)/n
	if bms == 0 || d1 <= 0 || dk <= 0 {
		return one, mean
	}
	one.Defined, mean.Defined = true, true
	one.Value, mean.Value = (bms-ems)/d1, (bms-ems)/dk
	if ems == 0 {
		one.P, mean.P = 0, 0
		one.Low, one.High, mean.Low, mean.High = one.Value, one.Value, mean.Value, mean.Value
		if jms == 0 {
			return one, mean
		}
	} else {
		one.F = bms / ems
		one.P = tail.F(one.F, one.DF1, one.DF2)
		mean.F, mean.P = one.F, one.P
	}
	icc := one.Value
	// Degrees of freedom of the mixture of JMS and EMS, written with mean
	// squares so that an error of zero needs no special case.
	a := k * icc / (n * (1 - icc))
	b := 1 + k*icc*(n-1)/(n*(1-icc))
	if icc >= 1 {
		one.Low, one.High, mean.Low, mean.High = 1, 1, 1, 1
		return one, mean
	}
	v := sq(a*jms+b*ems) / (sq(a*jms)/(k-1) + sq(b*ems)/((n-1)*(k-1)))
	if !(v >= 1) {
		v = 1 // a negative coefficient can push the mixture's degrees of freedom below any of its parts
	}
	fu := tail.FPoint(half, n-1, v)
	fl := tail.FPoint(half, v, n-1)
	mix := k*jms + (k*n-k-n)*ems
	one.Low = math.Max(-1/(k-1), n*(bms-fu*ems)/(fu*mix+n*bms))
	one.High = n * (fl*bms - ems) / (mix + n*fl*bms)
	if room := 1 + one.Low*(k-1); room > 1e-12 {
		mean.Low = one.Low * k / room
	} else {
		mean.NoLow = true
	}
	mean.High = one.High * k / (1 + one.High*(k-1))
	return one, mean
}

// largest is the greatest size of a rating or value admitted: squares and
// their sums stay far from overflow, and nothing that is rated comes near it.
const largest = 1e100

// shape checks that a table is full: n rows of k values, at least two of each.
func shape(table [][]float64) (n, k int, err error) {
	n = len(table)
	if n < 2 {
		return n, 0, fault.New(fault.Invalid, "agreement needs at least 2 objects, not %d", n)
	}
	k = len(table[0])
	if k < 2 {
		return n, k, fault.New(fault.Invalid, "agreement needs at least 2 raters, not %d", k)
	}
	for i, row := range table {
		if len(row) != k {
			return n, k, fault.New(fault.Invalid, "object %d has %d ratings, object 1 has %d", i+1, len(row), k).
				WithHint("leave out objects or raters with missing cells, or use the additive model or Krippendorff's alpha, which allow them")
		}
		for j, v := range row {
			if !(math.Abs(v) <= largest) {
				return n, k, fault.New(fault.Invalid, "rating of object %d by rater %d is no number, or beyond %g", i+1, j+1, largest)
			}
		}
	}
	return n, k, nil
}

func level(confidence float64) error {
	if !(confidence > 0 && confidence < 1) {
		return fault.New(fault.Invalid, "a confidence lies between 0 and 1, not at %v", confidence)
	}
	return nil
}

func sq(x float64) float64 { return x * x }
