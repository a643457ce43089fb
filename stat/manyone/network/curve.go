package network

import (
	"math"
	"runtime"
	"sync"

	"example.org/bookend/stat/manyone/region"
)

// Curve is the tail of a family for a deviation that is known, P(max > x),
// as a function of one limit common to all comparisons: every tail on any
// degrees of freedom and every critical value is an integral over it. It is
// held as the ratio to Bonferroni's bound, which lies between one over the
// number of comparisons and 1, by Chebyshev polynomials in pieces that are made
// when first wanted. A piece does not depend on what was asked for before.
type Curve struct {
	Method string  // OneFactor or Factors
	count  float64 // single tails in Bonferroni's bound
	make   func() func(x float64) float64
	grade
	pieces [len(knots) - 1]piece
}

// knots part the pieces: where the tail is near 1 and turns within the root of
// what correlations leave of it, where critical values lie, and past farKnot,
// where no tail that a curve is asked for has weight.
var knots = [...]float64{0, 2.5, 7, 10.5}

const farKnot = 7

// grade is how exact a curve is to be.
type grade struct {
	rel   float64             // bound on the relative error of a tail
	tol   float64             // last terms of a polynomial that are taken for rounding
	nodes [len(knots) - 1]int // terms of a piece that do for most families
	depth float64             // to which the deviation is followed, in logarithms
	wider float64             // first step in the deviation, over the usual one
	near  float64             // how little halving the step is to matter
}

// One factor costs little; with several a tail is no better than its factors
// fit.
var (
	fine   = grade{rel: 1e-11, tol: 1e-12, nodes: [...]int{33, 26, 12}, depth: 32, wider: 1, near: 1e-8}
	coarse = grade{rel: FactorsRel, tol: 1e-10, nodes: [...]int{26, 21, 9}, depth: 26, wider: 1.4, near: 2e-6}
)

// mostAtOnce bounds the processors that one piece is made on: own choice.
const mostAtOnce = 4

// mostHalved is how often a piece is halved where its terms do not do.
const mostHalved = 5

// piece is the ratio between two knots, in one part or, halved, in more.
type piece struct {
	once  sync.Once
	parts []part
}

type part struct {
	from, to float64
	c        []float64
}

// build makes a piece. The values at its points are taken on all processors and added
// up in order.
func (c *Curve) build(i int) {
	fs := make([]func(float64) float64, min(runtime.GOMAXPROCS(0), mostAtOnce))
	for w := range fs {
		fs[w] = c.make()
	}
	tol := c.tol
	if knots[i] >= farKnot {
		tol = 1e-8
	}
	var add func(from, to float64, halved int)
	add = func(from, to float64, halved int) {
		n := c.nodes[i]
		p := part{from: from, to: to, c: make([]float64, n)}
		angle := math.Pi / float64(n)
		values := make([]float64, n)
		var all sync.WaitGroup
		for w, f := range fs {
			all.Go(func() {
				for j := w; j < n; j += len(fs) {
					x := (from+to)/2 + (to-from)/2*math.Cos(angle*(float64(j)+0.5))
					values[j] = f(x) / (c.count * region.UpperPhi(x)) * 2 / float64(n)
				}
			})
		}
		all.Wait()
		for j, v := range values {
			for k := range p.c {
				p.c[k] += v * math.Cos(angle*float64(k)*(float64(j)+0.5))
			}
		}
		p.c[0] /= 2
		if last := max(math.Abs(p.c[n-1]), math.Abs(p.c[n-2])); last > tol*math.Abs(p.c[0]) && halved < mostHalved {
			mid := (from + to) / 2
			add(from, mid, halved+1)
			add(mid, to, halved+1)
			return
		}
		c.pieces[i].parts = append(c.pieces[i].parts, p)
	}
	add(knots[i], knots[i+1], 0)
}

// at gives the tail at a limit x >= 0. Past the last knot, where it is below
// 1e-25 a comparison, the ratio is taken as it is there.
func (c *Curve) at(x float64) float64 {
	bound := c.count * region.UpperPhi(x)
	i := 0
	for i < len(c.pieces)-1 && x >= knots[i+1] {
		i++
	}
	p := &c.pieces[i]
	p.once.Do(func() { c.build(i) })
	k := 0
	for k < len(p.parts)-1 && x >= p.parts[k].to {
		k++
	}
	q := &p.parts[k]
	u := 2 * (min(2*(x-q.from)/(q.to-q.from)-1, 1))
	b1, b2 := 0.0, 0.0
	for k := len(q.c) - 1; k > 0; k-- {
		b1, b2 = u*b1-b2+q.c[k], b1
	}
	return bound * (u/2*b1 - b2 + q.c[0])
}

// Tail gives P(max T > limit) on df degrees of freedom, limit >= 0, and a
// bound on its relative error.
func (c *Curve) Tail(limit, df float64) (value, rel float64) {
	v, rel := region.OverScaleTo(df, c.depth, c.wider, c.near, func(s float64) float64 { return min(1, c.count*region.UpperPhi(limit*s)) }, func(s, _ float64) float64 { return c.at(limit * s) })
	return v, max(rel, c.rel)
}
