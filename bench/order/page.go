package main

import (
	"bytes"
	"fmt"
	"math"
	"strings"
)

// Claims are tested against these; all of a list together are rejected wrongly in
// no more than 0.1 % of simulations.
const (
	planned  = 0.80
	family   = 0.05
	rejectAt = 0.001
)

// outcome is what came of one design.
type outcome struct {
	n        int
	order    string
	planned  int     // stints of the fixed plan
	showable float64 // that it shows, on the logarithm

	shown, real       int // candidates that differ: called rightly, following the advice (kind power: the least favoured); and how many there are
	fixedShown        int // of them by the fixed plan
	wrong, fixedWrong int // programmes without a difference in which one is called
	mistaken          int // programmes with differences in which a wrong one is called
	stints, squares   float64
	stintsNone        float64
	atPlanned         int // programmes at the planned scatter, and their stints
	stintsPlanned     float64
}

func (o *outcome) add(p *outcome) {
	o.shown += p.shown
	o.real += p.real
	o.fixedShown += p.fixedShown
	o.wrong += p.wrong
	o.fixedWrong += p.fixedWrong
	o.mistaken += p.mistaken
	o.stints += p.stints
	o.squares += p.squares
	o.stintsNone += p.stintsNone
	o.atPlanned += p.atPlanned
	o.stintsPlanned += p.stintsPlanned
}

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

// mean gives the stints on average where candidates differ, and the standard
// error of that.
func (o *outcome) mean() (mean, se float64) {
	n := float64(o.n)
	mean = o.stints / n
	return mean, math.Sqrt(math.Max(0, o.squares/n-mean*mean) / n)
}

// claims gives what a design claims, each with its p-value.
func (o *outcome) claims(d *design) []float64 {
	switch d.kind {
	case power:
		return []float64{atMost(o.shown, o.n, planned)}
	case advise:
		// Family error without differences, and beside some; power at the planned
		// scatter; fewer stints: a mean below the plan's by its own standard error.
		mean, se := o.mean()
		fewer := 0.5 * math.Erfc(-(float64(o.planned)-mean)/math.Max(se, 1e-12)/math.Sqrt2)
		return []float64{atMost(o.n-o.wrong, o.n, 1-family), atMost(o.n-o.mistaken, o.n, 1-family), atMost(o.shown, o.real, planned), fewer}
	}
	return nil
}

// perKind is how many claims a design makes.
var perKind = map[kind]int{power: 1, advise: 4}

type page struct {
	n            int
	commit, date string
	sum          string // SHA-256 of the list of designs
	designs      []*design
	got          map[string]*outcome
}

func (p *page) all() int {
	n := 0
	for _, d := range p.designs {
		n += perKind[d.kind]
	}
	return n
}

// verdict says whether a design's claims hold, and which does not.
func (p *page) verdict(d *design, o *outcome) string {
	names := map[kind][]string{power: {"power"}, advise: {"family error", "family error beside differences", "power", "fewer stints"}}[d.kind]
	var fails []string
	for i, v := range o.claims(d) {
		if v < rejectAt/float64(p.all()) {
			fails = append(fails, names[i])
		}
	}
	if len(fails) == 0 {
		return "holds"
	}
	return "fails: " + strings.Join(fails, ", ")
}

func percent(x, n int) string { return fmt.Sprintf("%.2f %%", 100*float64(x)/float64(n)) }

// line says for the terminal what came of a design.
func (o *outcome) line(d *design) string {
	if d.kind == power {
		return fmt.Sprintf("%s: shown %s", o.order, percent(o.shown, o.n))
	}
	if o.real == 0 {
		return fmt.Sprintf("%s: family error %s, %.2f stints", o.order, percent(o.wrong, o.n), o.stintsNone/float64(o.n))
	}
	mean, _ := o.mean()
	return fmt.Sprintf("%s: family error %s (mistaken %s), power %s against %s, %.2f stints against %d, %.2f at the planned scatter, %.2f without differences",
		o.order, percent(o.wrong, o.n), percent(o.mistaken, o.n), percent(o.shown, o.real), percent(o.fixedShown, o.real), mean, o.planned, o.stintsPlanned/math.Max(1, float64(o.atPlanned)), o.stintsNone/float64(o.n))
}

func (p *page) from() string {
	var s string
	if p.commit != "" {
		s = fmt.Sprintf(", commit `%s`", p.commit)
	}
	if p.date != "" {
		s += ", " + p.date
	}
	return s
}

func (p *page) markdown() []byte {
	var b bytes.Buffer
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	say("# Does a plan show what it says, and does the advice save stints?")
	say("")
	say("Programmes are planned by `order`, driven on a ground whose truth is known, and judged by `compare` as a client's are.")
	say("Written by `go run ./bench/order`, %d programmes a design%s. Designs and seeds are listed in", p.n, p.from())
	say("`bench/order/designs.txt` (SHA-256 %s…), which was committed before the first run and is never changed for a result.", p.sum[:16])
	say("A claim fails if an exact binomial test rejects it at 0.1 %% over all %d claims of the list together (Bonferroni); that the", p.all())
	say("mean number of stints is below the plan's, and the power not below it, by the normal test at the same level.")
	held, run := 0, 0
	for _, d := range p.designs {
		if o := p.got[d.id]; o != nil && perKind[d.kind] > 0 {
			run++
			if p.verdict(d, o) == "holds" {
				held++
			}
		}
	}
	say("")
	say("%d of %d designs hold.", held, run)
	say("")
	say("## The planned smallest difference is shown with the planned power")
	say("")
	say("The least favoured candidate differs from the control by just what the plan says it shows with a power of 80 %%; the others")
	say("do not differ. Per cent of the programmes in which it is called different, on the right side.")
	say("")
	say("| design | order | correction | runs | planned to show | shown | claim |")
	say("|---|---|---|---:|---:|---:|---|")
	for _, d := range p.designs {
		if o := p.got[d.id]; o != nil && d.kind == power {
			say("| %s | %s | %s | %d | %.2f %% | %s | %s |", d.id, o.order, d.correction, d.runs, 100*math.Expm1(o.showable), percent(o.shown, o.n), p.verdict(d, o))
		}
	}
	say("")
	say("## Following the advice after each stint")
	say("")
	say("The plan names its looks: after so many passes through the candidates that are not decided yet, when the bracket is closed.")
	say("Each look is a test of its own at the level that the spending function adds there. The stopping rule: a candidate that is")
	say("called different at a look is decided and not driven again; the programme ends when all are decided, when at a look whatever")
	say("is wanted could be shown of every candidate that is left, at the last look, or when the most stints are driven, where the last")
	say("look has what is left of the level. Between looks the advice alone chooses the next stint, by scatter and drift. The fixed plan")
	say("is driven to its end and judged once.")
	say("")
	say("Power: of the candidates that differ by what is wanted, how many are called rightly, at the planned scatter. Beside")
	say("differences: programmes in which a candidate that does not differ is called different, or one on the wrong side. Stints: where")
	say("candidates differ so; then at the planned scatter alone; then where none does.")
	say("")
	say("| design | candidates' differences, in what is wanted | scatter | looks after passes | family error | beside differences | power | of the plan | stints of the plan | stints | at planned scatter | without differences | claims |")
	say("|---|---|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---|")
	for _, d := range p.designs {
		if o := p.got[d.id]; o != nil && d.kind == advise {
			mean, _ := o.mean()
			say("| %s | %s | %s | %s, %s | %s | %s | %s | %s | %d | %.2f | %.2f | %.2f | %s |", d.id, words(d.truth), words(d.scatter), words(d.looks), strings.ReplaceAll(string(d.spending), "_", " "),
				percent(o.wrong, o.n), percent(o.mistaken, o.n), percent(o.shown, o.real), percent(o.fixedShown, o.real), o.planned, mean, o.stintsPlanned/math.Max(1, float64(o.atPlanned)), o.stintsNone/float64(o.n), p.verdict(d, o))
		}
	}
	say("")
	say("## Why the advice never stops by scatter alone")
	say("")
	say("Without planned looks, somebody stops as soon as the smallest difference that can be shown, by the scatter seen so far, is")
	say("small enough, and gives the verdict at 5 %%. The differences are never looked at, and still the family error is not kept: it")
	say("is the small estimates of the scatter that stop. Reported; it claims nothing.")
	say("")
	say("| design | may stop after passes | family error | stints |")
	say("|---|---|---:|---:|")
	for _, d := range p.designs {
		if o := p.got[d.id]; o != nil && d.kind == naive {
			say("| %s | %s | %s | %.2f |", d.id, words(d.looks), percent(o.wrong, o.n), o.stintsNone/float64(o.n))
		}
	}
	say("")
	say("## Designs")
	say("")
	say("```")
	for _, d := range p.designs {
		say("%s", d.line)
	}
	say("```")
	return b.Bytes()
}

func words[T int | float64](list []T) string {
	var out []string
	for _, v := range list {
		out = append(out, fmt.Sprint(v))
	}
	return strings.Join(out, ", ")
}
