// Command coverage finds by simulation whether the intervals of package compare
// hold what they promise: designs.txt lists programmes, each is driven many
// times on a ground whose truth is known, and compare itself judges every one.
// The page that it writes is docs/coverage.md.
//
// A claim is that the intervals of all candidates together cover the truth in
// at least 95 % of programmes, and that where no candidate differs from the
// control at most 5 % of programmes call one different. It fails if an exact
// binomial test rejects it at 0.1 % over all claims together (Bonferroni).
// Designs outside the model are reported and claim nothing.
//
// Programme i of a design is drawn from the pair of the design's seed and i, so
// that the page is the same however many processors there are; commit and date
// are handed in, never read from a clock.
package main

import (
	"bytes"
	"crypto/sha256"
	"flag"
	"fmt"
	"math"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"example.org/bookend/compare"
)

func main() {
	list := flag.String("designs", "bench/coverage/designs.txt", "the list of designs")
	n := flag.Int("n", 20000, "programmes a design")
	workers := flag.Int("workers", runtime.NumCPU(), "programmes at a time")
	commit := flag.String("commit", "", "commit that the page names")
	date := flag.String("date", "", "date that the page names")
	out := flag.String("out", "", "file to write; empty: standard output")
	keep := flag.String("keep", "", "folder in which the outcome of each design is kept, so that a run that was cut short goes on; empty: none")
	only := flag.String("only", "", "designs to run, by id, with commas; empty: all")
	flag.Parse()
	if err := run(*list, *n, *workers, *commit, *date, *out, *only, *keep); err != nil {
		fmt.Fprintln(os.Stderr, "coverage:", err)
		os.Exit(1)
	}
}

func run(list string, n, workers int, commit, date, out, only, keep string) error {
	text, err := os.ReadFile(list)
	if err != nil {
		return err
	}
	designs, err := parse(bytes.NewReader(text))
	if err != nil {
		return fmt.Errorf("%s: %w", list, err)
	}
	p := &page{n: n, commit: commit, date: date, sum: fmt.Sprintf("%x", sha256.Sum256(text)), designs: designs, got: map[string]*outcome{}}
	for _, d := range designs {
		if only != "" && !slices.Contains(strings.Split(only, ","), d.id) {
			continue
		}
		start := time.Now()
		o, err := recall(keep, commit, p.sum, d, n)
		if o == nil && err == nil {
			if o, err = simulate(d, n, workers); err == nil {
				err = o.remember(keep, commit, p.sum, d)
			}
		}
		if err != nil {
			return fmt.Errorf("design %s: %w", d.id, err)
		}
		p.got[d.id] = o
		fmt.Fprintf(os.Stderr, "%s %.2f %% covered, family error %.2f %%, %.0f s\n", d.id, 100*float64(o.covered)/float64(o.n), 100*float64(o.wrong)/float64(o.n), time.Since(start).Seconds())
	}
	b := p.markdown()
	if out == "" {
		_, err = os.Stdout.Write(b)
		return err
	}
	return os.WriteFile(out, b, 0o644)
}

// outcome is what came of one design.
type outcome struct {
	n       int
	covered int // programmes in which every interval holds the truth
	wrong   int // programmes without differences in which one is called
	missing int // programmes with a candidate without an interval
	half    float64
	known   float64   // the same if the variances were known
	bias    []float64 // mean error of each candidate's estimate
	df      float64   // median
	simpler *[howManySimpler]simplerOutcome
}

type simplerOutcome struct {
	wrong int
	half  float64
}

// chunk is how many programmes one worker takes at a time; sums are taken by
// chunk, in their order.
const chunk = 250

// simulate drives a design n times.
func simulate(d *design, n, workers int) (*outcome, error) {
	o := &outcome{n: n, bias: make([]float64, len(d.codes()))}
	if err := o.ifKnown(d); err != nil {
		return nil, err
	}
	type part struct {
		covered, wrong, missing int
		bias                    []float64
		half, df                []float64
		simplerWrong            [howManySimpler]int
		simplerHalf             [howManySimpler][]float64
		err                     error
	}
	parts := make([]part, (n+chunk-1)/chunk)
	next := make(chan int)
	var wait sync.WaitGroup
	for range max(1, workers) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			g := newGround(d)
			var s *simplerMethods
			for c := range next {
				p := &parts[c]
				p.bias = make([]float64, len(g.codes))
				for i := c * chunk; i < min(n, (c+1)*chunk) && p.err == nil; i++ {
					g.draw(i)
					p.err = func() error {
						r, err := g.compare(true, g.in.Settings)
						if err != nil {
							return err
						}
						held, whole := true, true
						p.df = append(p.df, r.Error.DF)
						for k := range r.Rows {
							v := r.Rows[k].Verdict
							if v.Low == nil || v.High == nil {
								whole = false
								continue
							}
							truth := d.truth(k)
							held = held && *v.Low <= truth && truth <= *v.High
							p.half = append(p.half, (*v.High-*v.Low)/2)
							p.bias[k] += *v.Estimate - truth
						}
						if !whole {
							p.missing++
						}
						if held && whole {
							p.covered++
						}
						// Shifting a tyre's values shifts its interval and changes nothing else (a
						// law of compare's own tests), so without differences a candidate is
						// called where its interval leaves the truth out. The first programmes of
						// every design are compared both ways, and have to agree.
						if !held {
							p.wrong++
						}
						if c == 0 || d.simpler {
							if r, err = g.compare(false, g.in.Settings); err != nil {
								return err
							}
							if called(r) == held {
								return fmt.Errorf("programme %d: called %v without differences, held %v with them", i, called(r), held)
							}
						}
						if !d.simpler {
							return nil
						}
						if s == nil {
							if s, err = newSimpler(g, r); err != nil {
								return err
							}
							g.draw(i)
						}
						any, err := s.shown(&p.simplerHalf)
						for m, yes := range any {
							if yes {
								p.simplerWrong[m]++
							}
						}
						return err
					}()
				}
			}
		}()
	}
	for c := range parts {
		next <- c
	}
	close(next)
	wait.Wait()
	var half, df []float64
	var simplerHalf [howManySimpler][]float64
	if d.simpler {
		o.simpler = new([howManySimpler]simplerOutcome)
	}
	for c := range parts {
		p := &parts[c]
		if p.err != nil {
			return nil, p.err
		}
		o.covered += p.covered
		o.wrong += p.wrong
		o.missing += p.missing
		half, df = append(half, p.half...), append(df, p.df...)
		for k := range o.bias {
			o.bias[k] += p.bias[k] / float64(n)
		}
		if d.simpler {
			for m := range p.simplerWrong {
				o.simpler[m].wrong += p.simplerWrong[m]
				simplerHalf[m] = append(simplerHalf[m], p.simplerHalf[m]...)
			}
		}
	}
	o.half, o.df = median(half)/d.unit(), median(df)
	for k := range o.bias {
		o.bias[k] /= d.unit()
	}
	if d.simpler {
		for m := range simplerHalf {
			o.simpler[m].half = median(simplerHalf[m]) / d.unit()
		}
	}
	return o, nil
}

// called tells whether a verdict calls any candidate different from the
// control.
func called(r *compare.Result) bool {
	for i := range r.Rows {
		switch r.Rows[i].Verdict.Word {
		case compare.Better, compare.BetterLessThanMargin, compare.Worse, compare.WorseLessThanMargin:
			return true
		}
	}
	return false
}

// ifKnown works out the half-width that the design would have if the variances
// were known.
func (o *outcome) ifKnown(d *design) error {
	g := newGround(d)
	g.draw(0)
	r, err := g.compare(false, g.in.Settings)
	if err != nil {
		return err
	}
	variances := make([]float64, len(g.of))
	for i, n := range d.runs {
		variances[i] = d.stint*d.stint + d.run*d.run/float64(n)
	}
	var weights [][]float64
	for i := range r.Rows {
		weights = append(weights, r.Rows[i].Weights)
	}
	se, critical, err := judged(weights, variances, math.Inf(1))
	if err != nil {
		return err
	}
	for k := range se {
		se[k] *= critical
	}
	o.known = median(se)
	return nil
}

// median gives the middle value, of two the lower.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	y := slices.Clone(x)
	slices.Sort(y)
	return y[(len(y)-1)/2]
}
