// Command order finds by simulation whether package order plans what it says:
// whether the smallest difference that a plan shows is shown with the planned
// power, and whether following the advice after each stint keeps the family error
// and takes fewer stints than the fixed plan. designs.txt lists the programmes;
// package compare judges each as it judges a client's. The page that it writes is
// docs/order-proof.md.
//
// A claim fails if an exact binomial test rejects it at 0.1 % over all claims
// together (Bonferroni): power below the planned one, family error above 5 %.
// Programme i of a design is drawn from the pair of the design's seed and i, so
// that the page is the same however many processors there are; commit and date
// are handed in, never read from a clock.
package main

import (
	"bytes"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

func main() {
	list := flag.String("designs", "bench/order/designs.txt", "the list of designs")
	n := flag.Int("n", 20000, "programmes a design")
	workers := flag.Int("workers", 2, "programmes at a time")
	commit := flag.String("commit", "", "commit that the page names")
	date := flag.String("date", "", "date that the page names")
	out := flag.String("out", "", "file to write; empty: standard output")
	only := flag.String("only", "", "designs to run, by id, with commas; empty: all")
	flag.Parse()
	if err := run(*list, *n, *workers, *commit, *date, *out, *only); err != nil {
		fmt.Fprintln(os.Stderr, "order:", err)
		os.Exit(1)
	}
}

func run(list string, n, workers int, commit, date, out, only string) error {
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
		o, err := simulate(d, n, workers)
		if err != nil {
			return fmt.Errorf("design %s: %w", d.id, err)
		}
		p.got[d.id] = o
		fmt.Fprintf(os.Stderr, "%s %s, %.0f s\n", d.id, o.line(d), time.Since(start).Seconds())
	}
	b := p.markdown()
	if out == "" {
		_, err = os.Stdout.Write(b)
		return err
	}
	return os.WriteFile(out, b, 0o644)
}

// chunk is how many programmes one worker takes at a time; sums are taken by
// chunk, in their order.
const chunk = 250

// simulate drives a design n times.
func simulate(d *design, n, workers int) (*outcome, error) {
	o := &outcome{n: n}
	plan, err := newFixed(d)
	if err != nil {
		return nil, err
	}
	o.showable, o.planned, o.order = plan.showable, len(plan.sequence), strings.Join(plan.sequence, "")
	parts := make([]outcome, (n+chunk-1)/chunk)
	errs := make([]error, len(parts))
	next := make(chan int)
	var wait sync.WaitGroup
	for range max(1, workers) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			w, err := newWorker(d, plan)
			for c := range next {
				if errs[c] = err; err != nil {
					continue
				}
				for i := c * chunk; i < min(n, (c+1)*chunk) && errs[c] == nil; i++ {
					errs[c] = w.programme(i, &parts[c])
				}
			}
		}()
	}
	for c := range parts {
		next <- c
	}
	close(next)
	wait.Wait()
	for c := range parts {
		if errs[c] != nil {
			return nil, errs[c]
		}
		o.add(&parts[c])
	}
	return o, nil
}
