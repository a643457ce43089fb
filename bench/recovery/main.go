// Command recovery finds by simulation whether procedures and comparison together
// find what is true of a synthetic ground: designs.txt lists programmes, each is
// driven many times by package sim, recorded, read, reduced and compared from the
// files alone. The page that it writes is docs/recovery.md.
//
// A claim is that the intervals of both candidates together cover the truth in at
// least 95 % of programmes, and that where no tyre differs at most 5 % of programmes
// call one different. It fails if an exact binomial test rejects it at 0.1 % over all
// claims together (Bonferroni). The scenario's own days bend and walk outside the
// fitted family; they are reported and claim nothing. The scenario's whole programmes
// are planned to find what differs by more than the margin in 99 % of cases; the
// share found is tested against that in the same way.
//
// Programme i is drawn from the design's seed and i alone, so that the page is the
// same however many processors there are; commit and date are handed in.
package main

import (
	"bytes"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"example.org/bookend/compare"
	"example.org/bookend/programme"
)

func main() {
	list := flag.String("designs", "bench/recovery/designs.txt", "the list of designs")
	n := flag.Int("n", 200, "programmes a design; of the kind power half as many")
	workers := flag.Int("workers", runtime.NumCPU(), "programmes at a time")
	commit := flag.String("commit", "", "commit that the page names")
	date := flag.String("date", "", "date that the page names")
	out := flag.String("out", "", "file to write; empty: standard output")
	only := flag.String("only", "", "designs to run, by id, with commas; empty: all")
	repeats := flag.Int("repeats", 40, "stints of each tyre that the truth is the mean of")
	keep := flag.String("keep", "", "folder in which the outcome of each design is kept, so that a run that was cut short goes on; empty: none")
	flag.Parse()
	if err := run(*list, *n, *workers, *repeats, *commit, *date, *out, *only, *keep); err != nil {
		fmt.Fprintln(os.Stderr, "recovery:", err)
		os.Exit(1)
	}
}

func run(list string, n, workers, repeats int, commit, date, out, only, keep string) error {
	text, err := os.ReadFile(list)
	if err != nil {
		return err
	}
	designs, err := parse(bytes.NewReader(text))
	if err != nil {
		return fmt.Errorf("%s: %w", list, err)
	}
	p := &page{n: n, repeats: repeats, commit: commit, date: date, sum: fmt.Sprintf("%x", sha256.Sum256(text)), designs: designs, got: map[string]*outcome{}}
	for _, d := range designs {
		if only != "" && !slices.Contains(strings.Split(only, ","), d.id) {
			continue
		}
		start := time.Now()
		of := n
		if d.kind == power {
			of = (n + 1) / 2
		}
		file := p.file(keep, d, of)
		o, err := recall(file)
		if err == nil && o == nil {
			if o, err = simulate(d, of, workers, repeats); err == nil {
				err = o.remember(file)
			}
		}
		if err != nil {
			return fmt.Errorf("design %s: %w", d.id, err)
		}
		p.got[d.id] = o
		fmt.Fprintf(os.Stderr, "%s %s, %.0f s\n", d.id, o, time.Since(start).Seconds())
		if out != "" { // after each design: the page then says what was not run
			if err := os.WriteFile(out, p.markdown(), 0o644); err != nil {
				return err
			}
		}
	}
	if out == "" {
		_, err = os.Stdout.Write(p.markdown())
	}
	return err
}

// outcome is what came of one design.
type outcome struct {
	N        int // programmes
	Covered  int // in which every interval holds the truth
	Wrong    int // programmes without differences in which one is called
	Null     int // programmes without differences
	Above    int // true differences above the margin, over all programmes
	Found    int // of them, called in their direction
	Invented int // verdicts that call a difference against the truth, or where there is none
	Without  int // programmes with a candidate without an interval
	Half     float64
	Bias     []float64 // mean error of each candidate's estimate
	Codes    []string
	Truth    []float64 // index, or difference, positive is better
	Ratio    bool
}

func (o *outcome) String() string {
	s := fmt.Sprintf("%d of %d covered", o.Covered, o.N)
	if o.Null > 0 {
		s += fmt.Sprintf(", %d of %d without differences call one", o.Wrong, o.Null)
	}
	if o.Above > 0 {
		s += fmt.Sprintf(", %d of %d found, %d invented", o.Found, o.Above, o.Invented)
	}
	return s
}

// one is what came of one programme.
type one struct {
	estimates, lows, highs []float64
	words                  []compare.Word
	whole, ratio           bool
	codes                  []string
	better                 programme.Better
	called                 bool // in the programme without differences
	err                    error
}

// simulate drives a design's programmes.
func simulate(d *design, n, workers, repeats int) (*outcome, error) {
	known, err := d.known(repeats)
	if err != nil {
		return nil, err
	}
	all := make([]one, n)
	next := make(chan int)
	var wait sync.WaitGroup
	for range max(1, workers) {
		wait.Go(func() {
			for i := range next {
				all[i] = d.once(i)
			}
		})
	}
	for i := range all {
		next <- i
	}
	close(next)
	wait.Wait()
	o := &outcome{N: n}
	if d.kind != power {
		o.Null = n
	}
	var halves []float64
	for i := range all {
		x := &all[i]
		if x.err != nil {
			return nil, fmt.Errorf("programme %d: %w", i, x.err)
		}
		if o.Codes == nil {
			o.Codes, o.Ratio, o.Bias = x.codes, x.ratio, make([]float64, len(x.codes))
			for _, code := range x.codes {
				o.Truth = append(o.Truth, true_(known[code], known["K"], x.ratio, x.better))
			}
		}
		if x.called {
			o.Wrong++
		}
		if !x.whole {
			o.Without++
			continue
		}
		held := true
		for k := range x.codes {
			held = held && x.lows[k] <= o.Truth[k] && o.Truth[k] <= x.highs[k]
			halves = append(halves, (x.highs[k]-x.lows[k])/2)
			o.Bias[k] += (x.estimates[k] - o.Truth[k]) / float64(n)
			o.judge(x.words[k], o.Truth[k], d.margin)
		}
		if held {
			o.Covered++
		}
	}
	slices.Sort(halves)
	if len(halves) > 0 {
		o.Half = halves[len(halves)/2]
	}
	return o, nil
}

// true_ gives the index of a value against the control's, or its difference, positive
// being better.
func true_(own, control float64, ratio bool, better programme.Better) float64 {
	switch {
	case ratio && better == programme.Lower:
		return 100 * control / own
	case ratio:
		return 100 * own / control
	case better == programme.Lower:
		return control - own
	}
	return own - control
}

// judge counts a verdict. Where the truth lies within a hundredth of the margin of
// the control's there is no difference.
func (o *outcome) judge(w compare.Word, truth, margin float64) {
	if o.Ratio {
		truth -= 100
	}
	better := w == compare.Better || w == compare.BetterLessThanMargin
	worse := w == compare.Worse || w == compare.WorseLessThanMargin
	if truth > margin || truth < -margin {
		o.Above++
		if better && truth > 0 || worse && truth < 0 {
			o.Found++
		}
	}
	if better && truth < 0.01*margin || worse && truth > -0.01*margin {
		o.Invented++
	}
}

// once drives one programme, and one without differences.
func (d *design) once(i int) (x one) {
	seed := d.seed*1_000_000 + uint64(i)
	r, err := d.programme(seed, true)
	if err != nil {
		return one{err: err}
	}
	x.whole, x.ratio, x.better = true, r.Scale == programme.Ratio, r.Measure.Better
	for _, row := range r.Rows {
		e, low, high := row.Difference, row.DiffLow, row.DiffHigh
		if x.ratio {
			e, low, high = row.Index, row.IndexLow, row.IndexHigh
		}
		x.codes = append(x.codes, row.Code)
		if e == nil || low == nil || high == nil {
			x.whole = false
			continue
		}
		x.estimates, x.lows, x.highs, x.words = append(x.estimates, *e), append(x.lows, *low), append(x.highs, *high), append(x.words, row.Verdict.Word)
	}
	if d.kind == power {
		return x
	}
	if r, err = d.programme(seed+500_000, false); err != nil {
		return one{err: err}
	}
	for _, row := range r.Rows {
		switch row.Verdict.Word {
		case compare.Better, compare.BetterLessThanMargin, compare.Worse, compare.WorseLessThanMargin:
			x.called = true
		}
	}
	return x
}
