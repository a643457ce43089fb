package main

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"example.org/bookend/compare"
)

// Claims: intervals cover the truth together in 95 % of programmes, and 5 % of
// programmes without a difference call one. All claims of a list together are
// rejected wrongly in no more than 0.1 % of simulations.
const (
	coverage = 0.95
	family   = 0.05
	rejectAt = 0.001
)

// atMost gives P(X <= x) of the binomial distribution of n trials.
func atMost(x, n int, p float64) float64 {
	if x >= n {
		return 1
	}
	a, _ := math.Lgamma(float64(n) + 1)
	b, _ := math.Lgamma(float64(x) + 1)
	c, _ := math.Lgamma(float64(n-x) + 1)
	term := math.Exp(a - b - c + float64(x)*math.Log(p) + float64(n-x)*math.Log1p(-p))
	sum := 0.0
	for i := x; i >= 0; i-- {
		sum += term
		term *= float64(i) / float64(n-i+1) * (1 - p) / p
		if float64(i) < float64(n)*p && term < 1e-17*sum {
			break
		}
	}
	return min(1, sum)
}

// pCoverage and pFamily give the exact p-value of a claim.
func (o *outcome) pCoverage() float64 { return atMost(o.covered, o.n, coverage) }
func (o *outcome) pFamily() float64   { return atMost(o.n-o.wrong, o.n, 1-family) }

type page struct {
	n            int
	commit, date string
	sum          string // SHA-256 of the list of designs
	designs      []*design
	got          map[string]*outcome
}

// claims counts the claims of the list, run or not.
func (p *page) claims() int {
	n := 0
	for _, d := range p.designs {
		if d.kind == claim {
			n += 2
		}
	}
	return n
}

// holds tells whether neither claim of a design is rejected.
func (p *page) holds(o *outcome) bool {
	return min(o.pCoverage(), o.pFamily()) >= rejectAt/float64(p.claims())
}

func (p *page) markdown() []byte {
	var b bytes.Buffer
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	say("# Do the intervals hold?")
	say("")
	say("Programmes are driven on a ground whose truth is known, and `compare` judges each as it judges a client's. Written by")
	say("`go run ./bench/coverage`, %d programmes a design%s. The designs and", p.n, p.from())
	say("their seeds are listed in `bench/coverage/designs.txt` (SHA-256 %s…), which was committed before the first run and is never", p.sum[:16])
	say("changed for a result.")
	say("")
	say("The values of a stint are level + tyre + drift + an effect of the stint, those of its runs scatter about it; all normal unless")
	say("said otherwise. A candidate is called different without differences where its interval, of the same programme with them, leaves the")
	say("truth out: shifting a tyre's values shifts its interval and nothing else, which the first %d programmes of each design show again.", chunk)
	say("Covered: all 95 %% intervals of a programme hold the truth, candidates differing by %g %% each from the next.", apart)
	say("Family error: programmes without any difference in which a candidate is called better or worse. Half-width: the median of all")
	say("intervals, in per cent (index points near 100) or units. Times known: the same over what it would be if both standard")
	say("deviations were known. df: the median of the scatter's degrees of freedom.")
	say("A record holds the control stints of earlier programmes, %d in each, on the same ground under the same drift.", controls)
	say("")
	say("## Within the model: claims")
	say("")
	say("Claimed is a coverage of at least 95 %% and a family error of at most 5 %%. A claim fails if an exact binomial test rejects it at")
	say("0.1 %% over all %d claims together, that is at p < %.2g.", p.claims(), rejectAt/float64(p.claims()))
	say("")
	p.table(&b, claim)
	held, failed, left := 0, 0, 0
	for _, d := range p.designs {
		if d.kind != claim {
			continue
		}
		o := p.got[d.id]
		switch {
		case o == nil:
			left++
		case p.holds(o):
			held++
		default:
			failed++
		}
	}
	say("")
	say("%d designs hold, %d fail, %d were not run.", held, failed, left)
	say("")
	say("## What a control stint, a second set and a record are worth")
	say("")
	say("Four candidates under a straight drift, set against the control by brackets; the stint standard deviation is 1 %%, that of a run")
	say("1 %%, with 6 runs a stint. Read the half-width down the table.")
	say("")
	p.table(&b, worth)
	say("")
	say("## Outside the model: reported, nothing claimed")
	say("")
	say("Bias is the largest mean error of any candidate's estimate, in per cent.")
	say("")
	p.table(&b, broke)
	say("")
	say("## What simpler methods give")
	say("")
	say("Family error in per cent, and in brackets the median half-width, of the same programmes without any difference: below 5 a method")
	say("keeps its word, above it candidates are called different that are not. The tool is `compare` with the correction that the design")
	say("names. All methods use Dunnett's intervals; one stint dropped at will counts as wrong if any of the analyses with one stint left")
	say("out, or none, calls a candidate different.")
	say("")
	p.simpler(&b)
	say("")
	say("Programmes from the synthetic ground, driven through procedures and compare together, are `bench/recovery`.")
	return b.Bytes()
}

func (p *page) from() string {
	s := ""
	if p.commit != "" {
		s += ", from commit " + p.commit
	}
	if p.date != "" {
		s += " of " + p.date
	}
	return s
}

func (d *design) driftText() string {
	switch d.drift {
	case "none":
		return "none"
	case "curved":
		return fmt.Sprintf("line %g, bow %g", d.size, d.bow)
	case "linear":
		return fmt.Sprintf("line %g", d.size)
	case "walk":
		return fmt.Sprintf("random walk %g a stint", d.size)
	}
	return fmt.Sprintf("%s %g", d.drift, d.size)
}

func (d *design) runsText() string {
	least, most := d.runs[0], d.runs[0]
	for _, n := range d.runs {
		least, most = min(least, n), max(most, n)
	}
	if least == most {
		return fmt.Sprint(least)
	}
	return fmt.Sprintf("%d to %d", least, most)
}

// beside says what a design has besides the model.
func (d *design) beside() string {
	var s []string
	if d.sets == "set" {
		s = append(s, fmt.Sprintf("sets of a tyre differ by %g %%, one set each", d.setSD))
	}
	if d.sets == "sets" {
		s = append(s, fmt.Sprintf("sets of a tyre differ by %g %%, a set each stint", d.setSD))
	}
	if d.wear != 0 {
		s = append(s, fmt.Sprintf("the control wears by %g %% a stint", d.wear))
	}
	if d.other != 1 {
		s = append(s, fmt.Sprintf("candidates scatter %g times as much", d.other))
	}
	if d.tails != 0 {
		s = append(s, fmt.Sprintf("stints from Student's t, %g df", d.tails))
	}
	if d.warm != 0 {
		s = append(s, fmt.Sprintf("first runs worse by %g %%", d.warm))
	}
	if d.days != 1 {
		s = append(s, fmt.Sprintf("%d days, tyre by day %g %%", d.days, d.dayByTyre))
	}
	if d.ground != 1 {
		s = append(s, fmt.Sprintf("the record's ground differs by %g times", d.ground))
	}
	return strings.Join(s, "; ")
}

func (p *page) table(b *bytes.Buffer, k kind) {
	last := map[kind]string{claim: "p coverage | p family | claim", worth: "bias", broke: "bias"}[k]
	extra := ""
	if k == broke {
		extra = " besides |"
	}
	fmt.Fprintf(b, "| design | order | correction | drift %% |%s runs | stint, run %% | record | df | covered %% | family error %% | half-width | times known | %s |\n", extra, last)
	columns := 12 + strings.Count(last, "|") + 1
	if k == broke {
		columns++
	}
	fmt.Fprintf(b, "|%s\n", strings.Repeat("---|", columns))
	for _, d := range p.designs {
		if d.kind != k {
			continue
		}
		record := "none"
		if d.record > 0 {
			record = fmt.Sprint(d.record)
		}
		fit := string(d.fit)
		if !d.ratio {
			fit += ", difference"
		}
		fmt.Fprintf(b, "| %s | %s | %s | %s |", d.id, d.order, fit, d.driftText())
		if k == broke {
			fmt.Fprintf(b, " %s |", d.beside())
		}
		fmt.Fprintf(b, " %s | %g, %g | %s |", d.runsText(), d.stint, d.run, record)
		o := p.got[d.id]
		if o == nil {
			fmt.Fprintf(b, "%s\n", strings.Repeat(" |", columns-7-map[bool]int{true: 1}[k == broke]))
			continue
		}
		fmt.Fprintf(b, " %.3g | %.2f | %.2f | %.3g | %.2f |", o.df, 100*float64(o.covered)/float64(o.n), 100*float64(o.wrong)/float64(o.n), o.half, o.half/o.known)
		if k == claim {
			word := "holds"
			if !p.holds(o) {
				word = "**fails**"
			}
			fmt.Fprintf(b, " %.2g | %.2g | %s |\n", o.pCoverage(), o.pFamily(), word)
			continue
		}
		worst := 0.0
		for _, v := range o.bias {
			if math.Abs(v) > math.Abs(worst) {
				worst = v
			}
		}
		fmt.Fprintf(b, " %.2f |\n", worst)
	}
}

func (p *page) simpler(b *bytes.Buffer) {
	fmt.Fprintf(b, "| design | drift %% | the tool |")
	for _, name := range simplerNames {
		fmt.Fprintf(b, " %s |", name)
	}
	fmt.Fprintf(b, "\n|%s\n", strings.Repeat("---|", 3+len(simplerNames)))
	for _, d := range p.designs {
		o := p.got[d.id]
		if o == nil || o.simpler == nil {
			continue
		}
		fmt.Fprintf(b, "| %s, %s, %s | %s | %.1f (%.3g) |", d.id, d.order, map[compare.Drift]string{compare.Bracket: "bracket", compare.Linear: "line", compare.Quadratic: "parabola", compare.NoDrift: "none"}[d.fit], d.driftText(), 100*float64(o.wrong)/float64(o.n), o.half)
		for _, s := range o.simpler {
			fmt.Fprintf(b, " %.1f (%.3g) |", 100*float64(s.wrong)/float64(o.n), s.half)
		}
		fmt.Fprintln(b)
	}
}
