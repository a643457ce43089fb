// Package fitment tells set, fitment and tyre apart: whether what is said of a
// candidate holds for the sets that were driven or for the tyre.
//
// In the trade one set of a tyre is one specimen of it. A verdict is about the
// tyre only with at least two sets each of candidate and control, their difference
// being in the error, or with a set-to-set standard deviation stated from
// elsewhere. A set that is fitted twice is one set. Where every stint has a set of
// its own the scatter of stints carries the sets; where sets recur, set is a term
// of its own, nested in code; where one set of each is fitted again and again,
// nothing shows how sets differ.
//
// Source: own rules, reasoned above. Units: none; a set-to-set standard deviation
// is on the analysis scale. Limits: it believes the log's names of sets.
package fitment

import (
	"fmt"
	"math"

	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/compare/verdict"
)

// Carried says where the difference between the sets of one code is.
type Carried string

// Where it may be.
const (
	Nowhere  Carried = "nowhere" // no code was driven on two sets
	InStints Carried = "stints"  // every stint has a set of its own: the scatter of stints carries it
	InSets   Carried = "sets"    // a term of its own, nested in code
	InPart   Carried = "in_part" // some stints have sets of their own and some have not, and no term tells them apart
	OfRecord Carried = "record"  // the scatter is borrowed from a record that names no sets
	Unknown  Carried = "unnamed" // not every stint names its set
	Stated   Carried = "stated"  // its size was stated from elsewhere, and is in the error by that
)

// Where tells where the difference between sets is; term says that the error has
// a variance of its own for it, borrowed that it rests on a record.
func Where(q *sequence.Sequence, set setting.Settings, term, borrowed bool) Carried {
	if borrowed {
		if set.SetSD != nil {
			return Stated
		}
		return OfRecord
	}
	stints := map[[2]string]int{}
	several := false
	for i := range q.Stints {
		s := &q.Stints[i]
		if s.Set == "" {
			if set.SetSD != nil {
				return Stated
			}
			return Unknown
		}
		stints[[2]string{s.Code, s.Set}]++
	}
	own := true
	for _, n := range stints {
		own = own && n == 1
	}
	for _, code := range append([]string{q.Control}, q.Codes...) {
		several = several || len(q.SetsOf(code)) > 1
	}
	switch {
	case term:
		return InSets
	case own && several:
		return InStints
	case set.SetSD != nil:
		return Stated
	case several:
		return InPart
	}
	return Nowhere
}

// Words says so to people.
func (c Carried) Words() string {
	switch c {
	case InStints:
		return "every stint has a set of its own: what sets differ by is part of how stints scatter"
	case InSets:
		return "sets recur: what sets of one code differ by has a variance of its own"
	case InPart:
		return "some sets were fitted several times and some once: what sets differ by is in the scatter of stints only in part"
	case OfRecord:
		return "how stints scatter is borrowed from a record that names no sets: what sets differ by is not known to be in it"
	case Unknown:
		return "not every stint names its set: what sets differ by cannot be told from fitment and moment"
	case Stated:
		return "what sets differ by is not seen here and stands in the error as it was stated"
	}
	return "one set of each code was driven: the scatter of stints carries fitment and moment, not what sets differ by"
}

// About says what a verdict on a code is about, and why.
func About(q *sequence.Sequence, set setting.Settings, c Carried, code string) (verdict.About, string) {
	switch {
	case c == Stated:
		return verdict.ThisTyre, fmt.Sprintf("the tyre: sets are taken to differ by a standard deviation of %.3g (%s)", *set.SetSD, set.SetSDSource)
	case set.SetSD != nil:
		return verdict.ThisTyre, "the tyre: " + c.Words()
	}
	a, b := count(q, code), count(q, q.Control)
	switch {
	case c == Unknown || a.sets == 0 || b.sets == 0:
		return verdict.TheseSets, "the sets driven: not every stint names its set"
	case a.sets < 2 || b.sets < 2:
		return verdict.TheseSets, fmt.Sprintf("the sets driven: %s of %s and %s of the control %s", a.words(), code, b.words(), q.Control)
	case c == OfRecord:
		return verdict.TheseSets, "the sets driven: " + c.Words()
	case c != InSets && (a.sets < a.stints || b.sets < b.stints):
		return verdict.TheseSets, fmt.Sprintf("the sets driven: there are %s of %s and %s of the control %s, but what sets differ by could not be told from the stints", a.words(), code, b.words(), q.Control)
	}
	return verdict.ThisTyre, fmt.Sprintf("the tyre: %s of %s and %s of the control %s were driven, and what sets differ by is in the error", a.words(), code, b.words(), q.Control)
}

type driven struct{ sets, stints int }

func count(q *sequence.Sequence, code string) driven {
	d := driven{sets: len(q.SetsOf(code))}
	for i := range q.Stints {
		if q.Stints[i].Code == code {
			d.stints++
		}
	}
	return d
}

// words counts sets; a set fitted several times is one.
func (d driven) words() string {
	s := "one set"
	if d.sets != 1 {
		s = fmt.Sprintf("%d sets", d.sets)
	}
	if d.stints > d.sets {
		s += fmt.Sprintf(", fitted %d times", d.stints)
	}
	return s
}

// Added gives the variance that a stated set-to-set standard deviation adds to
// the estimate of a code, and the part of it that all estimates share, being the
// control's; zero unless it is that which stands in the error.
func Added(q *sequence.Sequence, set setting.Settings, c Carried, code string) (own, shared float64) {
	if c != Stated || set.SetSD == nil {
		return 0, 0
	}
	v := *set.SetSD * *set.SetSD
	sets := func(code string) float64 { return math.Max(1, float64(len(q.SetsOf(code)))) }
	return v / sets(code), v / sets(q.Control)
}
