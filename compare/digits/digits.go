// Package digits says with how many decimals what stands against the control is
// printed, alike in the report, on the pages and in the terminal.
//
// In the trade: "worse, 0.0 (-0.1 to 0.0)" contradicts itself on paper. A difference
// that is claimed has to be seen in the digits beside it; one that is not claimed
// needs no more than the measure has.
//
// Source: house choice. Units: those of the face; an index is held against 100, a
// difference against 0. Limits: it grows by up to three decimals; what is still not
// seen then is smaller than a thousandth of what the measure is read to, and the
// verdict "by less than matters" says the rest.
package digits

import (
	"math"

	"example.org/bookend/compare"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// more is how many decimals may be added.
const more = 3

// Of gives the decimals with which estimates and intervals of the result are printed:
// those of an index, or own, those that the measure's differences have in the unit of
// the reader; and as many more as it takes that no difference that is shown has an
// interval that reads as if it reached the control. by turns a difference into the
// reader's unit; nil leaves it as it is.
func Of(r *compare.Result, own int, by func(float64) float64) int {
	if r.Scale == programme.Ratio {
		own = unit.IndexDigits
	}
	return Rows(r.Rows, r.Scale == programme.Ratio, own, by)
}

// Rows gives the same for rows alone, from own decimals on.
func Rows(rows []compare.Row, ratio bool, own int, by func(float64) float64) int {
	digits := own
	for i := range rows {
		low, high, control := turned(rows[i].DiffLow, by), turned(rows[i].DiffHigh, by), 0.0
		if ratio {
			low, high, control = rows[i].IndexLow, rows[i].IndexHigh, 100
		}
		digits = max(digits, Ends(low, high, control, own))
	}
	return digits
}

// Ends gives the same for one interval as it is printed, against where the control
// stands; an end that is nil is not there.
func Ends(low, high *float64, control float64, own int) int {
	digits := own
	lost := func() bool {
		return low != nil && *low > control && gone(*low-control, digits) || high != nil && *high < control && gone(*high-control, digits)
	}
	for digits < own+more && lost() {
		digits++
	}
	return digits
}

func turned(x *float64, by func(float64) float64) *float64 {
	if x == nil || by == nil {
		return x
	}
	v := by(*x)
	return &v
}

// gone tells whether a distance from the control is lost in rounding.
func gone(x float64, digits int) bool { return math.Abs(x)*math.Pow10(digits) <= 0.5 }
