package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"example.org/bookend/compare"
	"example.org/bookend/programme"
)

// apart is how much each candidate differs from the next, in per cent, when
// coverage is counted.
const apart = 2.0

// controls is the number of control stints in each earlier programme of a record.
const controls = 4

// level is about the mean fully developed deceleration on a wet road, in m/s2:
// of no account, since ratios are compared.
const level = 8.0

// ground draws programmes of one design. It is used by one worker.
type ground struct {
	d     *design
	codes []string
	of    []int     // of each stint: which candidate, -1 the control
	y     []float64 // analysis scale, of each run, in the order of the observations
	in    compare.Input
}

func newGround(d *design) *ground {
	g := &ground{d: d, codes: d.codes()}
	m := programme.Measure{ID: "made", Title: "made up", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Error: "normal", About: "a measure of the simulation"}
	if !d.ratio {
		m.Unit, m.Scale = "1", programme.Difference
	}
	log := programme.Log{}
	for i := range len(d.order) {
		code := d.order[i : i+1]
		at := -1
		for k, c := range g.codes {
			if c == code {
				at = k
			}
		}
		g.of = append(g.of, at)
		s := programme.Stint{ID: fmt.Sprint("s", i+1), Code: code, Position: float64(i + 1)}
		if d.days > 1 {
			s.Block = fmt.Sprint("day ", 1+i*d.days/len(d.order))
		}
		log.Stints = append(log.Stints, s)
		for k := range d.runs[i] {
			run := programme.Run{ID: fmt.Sprintf("%s/%d", s.ID, k+1), Stint: s.ID, Number: k + 1}
			log.Runs = append(log.Runs, run)
			log.Observations = append(log.Observations, programme.Observation{Run: run.ID, Measure: m.ID})
		}
	}
	g.y = make([]float64, len(log.Runs))
	g.in = compare.Input{Log: log, Measure: m, Control: "K", Settings: compare.Settings{Drift: d.fit, Quick: true}}
	return g
}

// tyre gives which candidate stint i has, the control being the last.
func (g *ground) tyre(i int) int {
	if g.of[i] < 0 {
		return len(g.codes)
	}
	return g.of[i]
}

// truth gives candidate k against the control on the analysis scale, of the
// size that per cent have there.
func (d *design) truth(k int) float64 {
	return d.unit() * apart * (float64(k) - float64(len(d.codes())-1)/2)
}

// unit is one per cent on the analysis scale.
func (d *design) unit() float64 {
	if d.ratio {
		return 0.01
	}
	return 1
}

// driftAt gives what the surface does at stint i of n, walks apart.
func (d *design) driftAt(i, n int) float64 {
	u := 2*float64(i)/float64(n-1) - 1 // -1 at the first stint, 1 at the last
	switch d.drift {
	case "linear":
		return d.size * (u + 1) / 2
	case "bow":
		return d.size * (1 - u*u)
	case "curved":
		return d.size*(u+1)/2 + d.bow*(1-u*u)
	case "step":
		if 2*i >= n {
			return d.size
		}
	}
	return 0
}

// draw makes programme number i: the runs as if no candidate differed from
// the control.
func (g *ground) draw(i int) {
	d := g.d
	r := rand.New(rand.NewPCG(d.seed, uint64(i)))
	n := len(d.order)
	walk, worn := 0.0, 0.0
	set := make([]float64, len(g.codes)+1) // the control last
	day := make([]float64, d.days*len(set))
	if d.sets == "set" {
		for k := range set {
			set[k] = d.setSD * r.NormFloat64()
		}
	}
	if d.dayByTyre > 0 {
		for k := range day {
			day[k] = d.dayByTyre * r.NormFloat64()
		}
	}
	at := 0
	g.in.Record = g.record(i)
	for s := range n {
		c := g.tyre(s)
		e := d.stint * r.NormFloat64()
		if d.tails > 0 {
			e /= math.Sqrt(chi2(r, d.tails) / (d.tails - 2))
		}
		v := d.driftAt(s, n) + walk + set[c] + day[d.days*c+s*d.days/n]
		if g.of[s] < 0 {
			v -= worn
			worn += d.wear
		} else {
			e *= d.other
		}
		if d.sets == "sets" {
			v += d.setSD * r.NormFloat64()
		}
		v += e
		if d.drift == "walk" {
			walk += d.size * r.NormFloat64()
		}
		warm := d.warm
		for range d.runs[s] {
			g.y[at] = d.unit() * (v - warm + d.run*r.NormFloat64())
			warm /= 2
			at++
		}
	}
}

// between is how many stints lie from one control stint of an earlier programme
// to the next: two candidates between controls, as in the designs.
const between = 3

// record draws the control stints of the earlier programmes of programme number
// i, from a stream of its own: four in each, on the same ground, under the same
// drift.
func (g *ground) record(i int) *compare.Record {
	d := g.d
	if d.record == 0 {
		return nil
	}
	r := rand.New(rand.NewPCG(^d.seed, uint64(i)))
	rec := &compare.Record{Name: "record"}
	n := 1 + between*(controls-1)
	for p := range d.record / controls {
		stint := d.stint
		if d.ground != 1 && r.IntN(2) == 0 {
			stint /= d.ground
		} else {
			stint *= d.ground
		}
		walk := 0.0
		for s := range n {
			if s%between == 0 {
				runs := d.runs[s/between]
				v := d.driftAt(s, n) + walk + stint*r.NormFloat64() + d.run*r.NormFloat64()/math.Sqrt(float64(runs))
				v *= d.unit()
				if d.ratio {
					v = level * math.Exp(v)
				}
				rec.Rows = append(rec.Rows, compare.RecordRow{Programme: fmt.Sprint("earlier ", p+1), Position: float64(s + 1), Value: v})
			}
			if d.drift == "walk" {
				walk += d.size * r.NormFloat64()
			}
		}
	}
	return rec
}

// chi2 draws from chi-square with a whole number of degrees of freedom.
func chi2(r *rand.Rand, df float64) float64 {
	s := 0.0
	for range int(df) {
		z := r.NormFloat64()
		s += z * z
	}
	return s
}

// compare gives what compare makes of the programme drawn, the candidates
// different or not.
func (g *ground) compare(different bool, set compare.Settings) (*compare.Result, error) {
	at := 0
	for s, c := range g.of {
		shift := 0.0
		if different && c >= 0 {
			shift = g.d.truth(c)
		}
		for range g.d.runs[s] {
			v := g.y[at] + shift
			if g.d.ratio {
				v = level * math.Exp(v)
			}
			g.in.Log.Observations[at].Value = v
			at++
		}
	}
	in := g.in
	in.Settings = set
	return compare.Compare(in)
}
