// Package verdict turns an estimate with its interval into one of a few words:
// better, worse, the same within the margin, or not shown.
//
// In the trade it is what the client reads first, so one constructor alone makes
// it, and what a verdict rests on travels with it. Source: the rules of
// intervals inside and outside a margin (two one-sided tests, Schuirmann 1987,
// are less strict than the two-sided interval used here). Units: the analysis
// scale, positive better: the logarithm of the ratio, or the difference in the
// measure's unit. Limits: it judges what it is given; whether the interval
// holds for all candidates together is its maker's business.
package verdict

import (
	"fmt"
	"math"

	"example.org/bookend/fault"
)

// Word is the word of a verdict. Its zero value is NotComputed.
type Word int

// The words.
const (
	NotComputed          Word = iota
	Better                    // the whole interval lies on the good side of the control
	BetterLessThanMargin      // on the good side, and all of it inside the margin
	Same                      // the whole interval lies inside the margin, and holds the control
	NotShown                  // none of the others
	WorseLessThanMargin       // on the bad side, and all of it inside the margin
	Worse                     // the whole interval lies on the bad side of the control
)

var words = [...]struct{ key, text string }{
	NotComputed:          {"not_computed", "not computed"},
	Better:               {"better", "better"},
	BetterLessThanMargin: {"better_less_than_margin", "better, by less than matters"},
	Same:                 {"same", "same within the margin"},
	NotShown:             {"not_shown", "not shown"},
	WorseLessThanMargin:  {"worse_less_than_margin", "worse, by less than matters"},
	Worse:                {"worse", "worse"},
}

// String gives the word as people read it.
func (w Word) String() string {
	if w < 0 || int(w) >= len(words) {
		return words[NotComputed].text
	}
	return words[w].text
}

// Key gives the word as JSON has it.
func (w Word) Key() string {
	if w < 0 || int(w) >= len(words) {
		return words[NotComputed].key
	}
	return words[w].key
}

// MarshalText writes the key.
func (w Word) MarshalText() ([]byte, error) { return []byte(w.Key()), nil }

// UnmarshalText reads a key.
func (w *Word) UnmarshalText(b []byte) error {
	for i := range words {
		if words[i].key == string(b) {
			*w = Word(i)
			return nil
		}
	}
	return fault.New(fault.Invalid, "%q is no verdict", b)
}

// About says what a verdict is about.
type About string

// What a verdict is about.
const (
	TheseSets About = "these_sets" // the sets that were driven, no others
	ThisTyre  About = "this_tyre"  // at least two sets of candidate and control
)

// String gives it as people read it.
func (a About) String() string {
	if a == ThisTyre {
		return "about this tyre"
	}
	return "about these sets"
}

// Verdict is what is said of a candidate against the control, with all that it
// rests on. Judge alone makes one; its zero value reads "not computed". Estimate
// and interval stand on the analysis scale, positive better: the logarithm of
// the ratio, or the difference in the measure's unit.
type Verdict struct {
	Word        Word
	Estimate    *float64
	Low, High   *float64 // simultaneous interval; High is nil where one side is asked for
	Margin      *float64 // half-width of what does not matter, on the analysis scale
	DF          float64  // of the interval
	Comparisons int      // judged together
	Stints      int      // of the candidate
	Runs        int      // of the candidate
	About       About
	AboutWhy    string // what it is about, in words, and why no more than that
	Because     string // why there is no more to say: no interval, an open block, no direction; else empty
}

// Grounds is what a verdict is made from.
type Grounds struct {
	Estimate, Low, High *float64
	Margin              *float64
	DF                  float64
	Comparisons         int
	Stints, Runs        int
	About               About
	AboutWhy            string
	Directed            bool   // the measure says what is better
	Withheld            string // why no verdict may be given though there is an interval; else empty
}

// Judge makes a verdict. Numbers that are not finite, an interval that does not
// hold its estimate, and a margin that is not positive are a programmer's slip
// and panic.
func Judge(g Grounds) Verdict {
	for _, p := range []*float64{g.Estimate, g.Low, g.High, g.Margin} {
		if p != nil && !finite(*p) {
			panic(fmt.Sprintf("verdict: a verdict from %v", *p))
		}
	}
	v := Verdict{Estimate: g.Estimate, Low: g.Low, High: g.High, Margin: g.Margin, DF: g.DF, Comparisons: g.Comparisons,
		Stints: g.Stints, Runs: g.Runs, About: g.About, AboutWhy: g.AboutWhy}
	if g.Margin != nil && *g.Margin <= 0 {
		panic("verdict: a margin that is not positive")
	}
	if g.Estimate == nil {
		v.Low, v.High = nil, nil
		v.Because = g.Withheld
		return v
	}
	if g.Low != nil && *g.Low > *g.Estimate || g.High != nil && *g.High < *g.Estimate {
		panic("verdict: an interval without its estimate")
	}
	switch {
	case !g.Directed:
		v.Because = "the measure has no direction without the client's target"
		return v
	case g.Withheld != "":
		v.Word, v.Because = NotShown, g.Withheld
		return v
	case g.Low == nil && g.High == nil:
		v.Word, v.Because = NotShown, "there is no interval"
		return v
	}
	low, high := math.Inf(-1), math.Inf(1)
	if g.Low != nil {
		low = *g.Low
	}
	if g.High != nil {
		high = *g.High
	}
	inside := g.Margin != nil && low > -*g.Margin && high < *g.Margin
	switch {
	case low > 0 && inside:
		v.Word = BetterLessThanMargin
	case low > 0:
		v.Word = Better
	case high < 0 && inside:
		v.Word = WorseLessThanMargin
	case high < 0:
		v.Word = Worse
	case inside:
		v.Word = Same
	default:
		v.Word = NotShown
	}
	return v
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
