package main

import (
	"bytes"
	"fmt"
	"math"
	"strings"
)

// Claims, and at what they are rejected over all of them together.
const (
	coverage = 0.95
	family   = 0.05
	planned  = 0.99
	rejectAt = 0.001
)

// atMost gives P(X <= x) of the binomial distribution of n trials.
func atMost(x, n int, p float64) float64 {
	sum := 0.0
	for i := 0; i <= x && i <= n; i++ {
		a, _ := math.Lgamma(float64(n) + 1)
		b, _ := math.Lgamma(float64(i) + 1)
		c, _ := math.Lgamma(float64(n-i) + 1)
		sum += math.Exp(a - b - c + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return math.Min(1, sum)
}

type page struct {
	n, repeats   int
	commit, date string
	sum          string // SHA-256 of the list of designs
	designs      []*design
	got          map[string]*outcome
}

// tests counts the claims of the list, run or not: two of each claim, one of each
// power.
func (p *page) tests() int {
	n := 0
	for _, d := range p.designs {
		switch d.kind {
		case claim:
			n += 2
		case power:
			n++
		}
	}
	return n
}

// holds tells whether no claim of an outcome is rejected.
func (p *page) holds(d *design, o *outcome) bool {
	level := rejectAt / float64(p.tests())
	switch d.kind {
	case claim:
		return atMost(o.Covered, o.N, coverage) > level && atMost(o.Null-o.Wrong, o.Null, 1-family) > level
	case power:
		return atMost(o.Found, o.Above, planned) > level
	}
	return true
}

func (p *page) markdown() []byte {
	var b bytes.Buffer
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	say("# Is the truth of a synthetic ground found?")
	say("")
	say("Written by `go run ./bench/recovery`%s. Programmes of the designs in `bench/recovery/designs.txt` (SHA-256 `%s`)", p.from(), p.sum[:16])
	say("are driven on the synthetic ground, recorded by its instruments, and read, cut, reduced and compared from the files alone. What the")
	say("tyres truly show is the mean of %d stints of each on a day that stands still.", p.repeats)
	say("")
	say("Claimed is a coverage of at least 95 %%, by all intervals of a programme together, and where no tyre differs a family error of at")
	say("most 5 %%. A claim fails if an exact binomial test rejects it at 0.1 %% over all %d tests of the list together (Bonferroni).", p.tests())
	say("")
	run, held := 0, 0
	for _, d := range p.designs {
		if o := p.got[d.id]; o != nil && d.kind != report {
			run++
			if p.holds(d, o) {
				held++
			}
		}
	}
	say("%d of %d designs that claim something hold; %d programmes a design, half as many of the demonstration's.", held, run, p.n)
	for _, part := range []struct {
		kind  kind
		title string
	}{{claim, "Days that drift along a straight line"}, {report, "Days that bend and walk: reported, claims nothing"}} {
		say("\n## %s\n", part.title)
		say("| design | test | measure | correction | tyre | truth | bias | half-width | covered | of no difference, one called | holds |")
		say("|---|---|---|---|---|---:|---:|---:|---:|---:|---|")
		for _, d := range p.designs {
			if d.kind != part.kind {
				continue
			}
			o := p.got[d.id]
			if o == nil {
				say("| %s | %s | %s | %s | %s | | | | not run | | |", d.id, d.test, strings.TrimSpace(d.measure+" "+d.place), d.fit, d.words)
				continue
			}
			say("| %s | %s | %s | %s | %s | %s | %s | %.3g | %d of %d | %d of %d | %s |", d.id, d.test, strings.TrimSpace(d.measure+" "+d.place), d.fit, d.words,
				list(o.Truth, o), list(o.Bias, o), o.Half, o.Covered, o.N, o.Wrong, o.Null, p.word(d, o))
		}
	}
	say("\n## The demonstration's programmes\n")
	say("True differences above the margin, found or not, over all programmes; planned to be found in 99 %% of cases.\n")
	say("| design | test | measure | correction | truth | half-width | found | invented | covered | holds |")
	say("|---|---|---|---|---:|---:|---:|---:|---:|---|")
	for _, d := range p.designs {
		o := p.got[d.id]
		switch {
		case d.kind != power:
		case o == nil:
			say("| %s | %s | %s | %s | | | not run | | | |", d.id, d.test, strings.TrimSpace(d.measure+" "+d.place), d.fit)
		default:
			say("| %s | %s | %s | %s | %s | %.3g | %d of %d | %d | %d of %d | %s |", d.id, d.test, strings.TrimSpace(d.measure+" "+d.place), d.fit,
				list(o.Truth, o), o.Half, o.Found, o.Above, o.Invented, o.Covered, o.N, p.word(d, o))
		}
	}
	say("\nTruth: index, control 100, or the difference in SI units, positive is better; candidates in the order P, R, T, W. Bias: mean error of the")
	say("estimates. Invented: a difference called against the truth, or where there is none.")
	return b.Bytes()
}

func (p *page) word(d *design, o *outcome) string {
	switch {
	case d.kind == report:
		return ""
	case p.holds(d, o):
		return "yes"
	}
	return "no"
}

func list(x []float64, o *outcome) string {
	var out []string
	for i := range x {
		out = append(out, fmt.Sprintf("%s %.4g", o.Codes[i], x[i]))
	}
	return strings.Join(out, ", ")
}

func (p *page) from() string {
	if p.commit == "" {
		return ""
	}
	return " from commit " + p.commit + " of " + p.date
}
