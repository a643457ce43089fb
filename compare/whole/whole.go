// Package whole holds the verdicts of a programme together: the first measure of
// each test answers the client's question, adjusted for there being several
// tests, and everything else is description.
//
// In the trade three tests with four candidates on ten measures are 120 verdicts,
// and some of them are right by luck. Within one measure the intervals hold for all
// candidates at once; over tests the first measures are adjusted step by step:
// Holm's procedure over the tests, Dunnett's step-down within each of them. With
// one test it is Dunnett's step-down, with one candidate it is Holm's.
//
// Why it holds: an intersection of hypotheses is rejected if, with m tests in it,
// any test's part is rejected at the level over m by its largest t. That is closed
// testing (Marcus, Peritz and Gabriel 1976), and its short cut is the one below:
// what is smallest is taken out first, and tests leave m only when nothing of them
// is left. Whatever the dependence between tests.
//
// Sources: Holm (1979), Dunnett and Tamhane (1991), as package stat/manyone has
// them. Units: none. Limits: sameness is judged by intervals of the level over the
// number of tests (Bonferroni), a claim of its own beside that of difference.
package whole

import (
	"fmt"
	"math"

	"example.org/bookend/compare"
	"example.org/bookend/compare/joint"
	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/unit"
)

// Test is what is asked of one test.
type Test struct {
	ID, Title string
	First     *compare.Result   // of the first measure
	Others    []*compare.Result // the rest, which is description
}

// Programme is the verdicts of all tests.
type Programme struct {
	Tests      int
	Measures   int // compared, places counted one by one
	Verdicts   int // given in all, "not shown" among them
	Firsts     int // of those on first measures
	Adjusted   bool
	Confidence float64
	Answers    []Answer // first measures: test by test, in the order of the rows
}

// Answer is a verdict on a first measure.
type Answer struct {
	Test, Code string
	Verdict    compare.Verdict // of its own test
	P          *float64        // adjusted within its test
	Over       *float64        // adjusted over all tests, step by step
	// Holds says whether what the verdict claims stands over all tests; nil where
	// it claims nothing, or nothing is adjusted.
	Holds *bool
}

// Together holds the verdicts together. Tests without a first measure count with
// their others.
func Together(tests []Test) (*Programme, error) {
	p := &Programme{Tests: len(tests)}
	count := func(r *compare.Result) (n int) {
		for _, row := range r.Rows {
			if row.Verdict.Word != compare.NotComputed {
				n++
			}
		}
		return n
	}
	var firsts []*joint.Estimates
	var sided []compare.Sides
	at := map[int]int{}
	for i, t := range tests {
		for _, r := range t.Others {
			p.Measures++
			p.Verdicts += count(r)
		}
		if t.First == nil {
			continue
		}
		p.Measures++
		n := count(t.First)
		p.Verdicts, p.Firsts = p.Verdicts+n, p.Firsts+n
		c := t.First.Settings.Confidence
		if p.Confidence != 0 && c != p.Confidence {
			return nil, fault.New(fault.Invalid, "test %s is judged at a confidence of %v, another one at %v", t.ID, c, p.Confidence).
				WithHint("first measures that are read together have one confidence")
		}
		p.Confidence = c
		if t.First.Joint != nil {
			at[i] = len(firsts)
			firsts, sided = append(firsts, t.First.Joint), append(sided, t.First.Settings.Sided)
		}
	}
	over, err := Adjust(firsts, sided)
	if err != nil {
		return nil, err
	}
	p.Adjusted = len(firsts) > 1
	alpha := 1 - p.Confidence
	for i, t := range tests {
		if t.First == nil {
			continue
		}
		k, judged := at[i]
		point := joint.Point{}
		if judged {
			if point, err = joint.Critical(joint.Family(firsts[k].Cov, firsts[k].DF, sided[k]), alpha/float64(len(firsts))); err != nil {
				return nil, fault.At(err, "test %s", t.ID)
			}
		}
		for r := range t.First.Rows {
			row := &t.First.Rows[r]
			a := Answer{Test: t.ID, Code: row.Code, Verdict: row.Verdict, P: row.P}
			j := -1
			if judged {
				for n, c := range firsts[k].Codes {
					if c == row.Code {
						j = n
					}
				}
			}
			if j >= 0 {
				v := over[k][j]
				a.Over = &v
				inside := func() bool {
					m := row.Verdict.Margin
					return m != nil && math.Abs(firsts[k].Estimate[j])+point.Value*math.Sqrt(firsts[k].Cov[j][j]) < *m
				}
				holds := func(b bool) { a.Holds = &b }
				switch row.Verdict.Word {
				case compare.Better, compare.Worse:
					holds(v <= alpha)
				case compare.Same:
					holds(inside())
				case compare.BetterLessThanMargin, compare.WorseLessThanMargin:
					holds(v <= alpha && inside())
				}
			}
			p.Answers = append(p.Answers, a)
		}
	}
	return p, nil
}

// Adjust gives p-values adjusted over tests, step by step, in the order of the
// tests' codes.
func Adjust(tests []*joint.Estimates, sided []compare.Sides) ([][]float64, error) {
	families := make([]manyone.Family, len(tests))
	out := make([][]float64, len(tests))
	left := make([][]int, len(tests)) // largest t first
	size := make([][]float64, len(tests))
	for i, e := range tests {
		if len(e.Codes) > manyone.MaxComparisons {
			return nil, fault.New(fault.Unsupported, "%d candidates in one test are too many to be judged together, at most %d are done", len(e.Codes), manyone.MaxComparisons)
		}
		families[i] = joint.Family(e.Cov, e.DF, sided[i])
		out[i], size[i] = make([]float64, len(e.Codes)), make([]float64, len(e.Codes))
		for j := range e.Codes {
			t := e.Estimate[j] / math.Sqrt(e.Cov[j][j])
			if families[i].Sided == manyone.TwoSided {
				t = math.Abs(t)
			}
			size[i][j] = t
			at := len(left[i])
			for at > 0 && size[i][left[i][at-1]] < t {
				at--
			}
			left[i] = append(left[i], 0)
			copy(left[i][at+1:], left[i][at:])
			left[i][at] = j
		}
	}
	// head is the p-value of what is left of a test, by its largest t.
	head := make([]float64, len(tests))
	again := func(i int) error {
		if len(left[i]) == 0 {
			return nil
		}
		sub := families[i]
		sub.Corr = make([][]float64, len(left[i]))
		for a, x := range left[i] {
			for _, y := range left[i] {
				sub.Corr[a] = append(sub.Corr[a], families[i].Corr[x][y])
			}
		}
		p, err := joint.Adjusted(sub, size[i][left[i][0]])
		head[i] = p
		return err
	}
	for i := range tests {
		if err := again(i); err != nil {
			return nil, err
		}
	}
	so := 0.0
	for {
		next, m := -1, 0
		for i := range tests {
			if len(left[i]) == 0 {
				continue
			}
			m++
			if next < 0 || head[i] < head[next] {
				next = i
			}
		}
		if next < 0 {
			return out, nil
		}
		so = max(so, min(1, float64(m)*head[next]))
		out[next][left[next][0]] = so
		left[next] = left[next][1:]
		if err := again(next); err != nil {
			return nil, err
		}
	}
}

// Words says how many verdicts were given, and what becomes of them.
func (p *Programme) Words() []string {
	out := []string{fmt.Sprintf("%s given on %s of %s. %s on first measures and answer the question; the others describe.",
		were(p.Verdicts, "verdict"), unit.Count(p.Measures, "measure"), unit.Count(p.Tests, "test"), are(p.Firsts))}
	switch {
	case p.Adjusted:
		failed := 0
		for _, a := range p.Answers {
			if a.Holds != nil && !*a.Holds {
				failed++
			}
		}
		s := "First measures are adjusted over the tests step by step (Holm's procedure, Dunnett's within each test)"
		switch failed {
		case 0:
			s += "; every claim stands over all of them."
		case 1:
			s += "; one claim of a single test does not stand over all of them."
		default:
			s += fmt.Sprintf("; %d claims of single tests do not stand over all of them.", failed)
		}
		out = append(out, s)
	case p.Firsts > 0:
		out = append(out, "There is one test with an interval: nothing is adjusted over tests.")
	}
	if rest := p.Verdicts - p.Firsts; rest > 0 {
		out = append(out, fmt.Sprintf("The %s that describe hold at %g %% within their own measure, not all together: among many, some are wrong by chance.", unit.Count(rest, "verdict"), 100*p.Confidence))
	}
	return out
}

func were(n int, word string) string {
	if n == 1 {
		return "1 " + word + " was"
	}
	return fmt.Sprintf("%d %ss were", n, word)
}

func are(n int) string {
	if n == 1 {
		return "1 is"
	}
	return fmt.Sprintf("%d are", n)
}
