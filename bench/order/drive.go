package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"example.org/bookend/compare"
	"example.org/bookend/order"
	"example.org/bookend/order/advice"
	"example.org/bookend/programme"
	"example.org/bookend/stat/looks"
)

// level is about the mean fully developed deceleration on a wet road, in m/s2:
// of no account, since ratios are compared.
const level = 8.0

// typed is the scatter that the plan is made for, on the logarithm.
func (d *design) typed() *programme.Scatter {
	return &programme.Scatter{StintSD: d.stint / 100, RunSD: d.run / 100, FromText: "the design"}
}

// fixed is the plan that is driven to its end.
type fixed struct {
	sequence []string
	showable float64 // smallest difference of the least favoured candidate, on the logarithm
	least    string  // that candidate
	wanted   float64 // difference that is to be shown
}

func newFixed(d *design) (*fixed, error) {
	p, err := order.Make(d.request())
	if err != nil {
		return nil, err
	}
	f := &fixed{showable: *p.Score.Detectable.Value}
	for _, s := range p.Sequence {
		f.sequence = append(f.sequence, s.Code)
	}
	v, err := order.ShowableBy(d.request(), [][]string{f.sequence}, 0.05, 0)
	if err != nil {
		return nil, err
	}
	most := 0
	for i := range v.InSD {
		if v.InSD[i] > v.InSD[most] {
			most = i
		}
	}
	f.least = v.Codes[most]
	f.wanted = d.wanted * f.showable
	return f, nil
}

// worker drives programmes of one design.
type worker struct {
	d       *design
	plan    *fixed
	codes   []string
	advisor *advice.Advisor
	measure programme.Measure
	y       []float64 // of stint and run, up to the most that may be driven
}

func newWorker(d *design, plan *fixed) (*worker, error) {
	w := &worker{d: d, plan: plan, advisor: advice.New(), measure: programme.Measure{
		ID: "made", Title: "made up", Unit: "m/s²", Better: programme.Higher, Scale: programme.Ratio, Digits: 2, Error: "normal", About: "a measure of the simulation",
	}}
	for i := range d.candidates {
		w.codes = append(w.codes, string(rune('P'+i)))
	}
	w.y = make([]float64, max(len(plan.sequence), d.most)*d.runs)
	return w, nil
}

// plannedLooks gives the looks of the plan: after so many passes of all
// candidates, with the level that each adds. They are fixed before the first
// stint: pass and closing controls of an undisturbed programme.
func (d *design) plannedLooks() ([]float64, []float64, error) {
	var fractions []float64
	for _, passes := range d.looks {
		fractions = append(fractions, float64(passes)/float64(d.looks[len(d.looks)-1]))
	}
	levels, err := looks.Increments(d.spending, 0.05, fractions)
	return fractions, levels, err
}

// draw draws the scatter of programme i.
func (w *worker) draw(i int) {
	d := w.d
	r := rand.New(rand.NewPCG(d.seed, uint64(i)))
	factor := d.scatter[i%len(d.scatter)]
	for s := range len(w.y) / d.runs {
		e := factor * d.stint * r.NormFloat64()
		if n := len(w.plan.sequence); n > 1 {
			e += d.rise * float64(s) / float64(n-1)
		}
		for k := range d.runs {
			w.y[s*d.runs+k] = (e + factor*d.run*r.NormFloat64()) / 100
		}
	}
}

// judge compares what was driven, candidates differing by truth.
func (w *worker) judge(sequence []string, truth map[string]float64, confidence float64) (*compare.Result, error) {
	var log programme.Log
	for i, code := range sequence {
		s := programme.Stint{ID: fmt.Sprint("s", i+1), Code: code, Position: float64(i + 1)}
		log.Stints = append(log.Stints, s)
		for k := range w.d.runs {
			run := programme.Run{ID: fmt.Sprintf("%s/%d", s.ID, k+1), Stint: s.ID, Number: k + 1}
			log.Runs = append(log.Runs, run)
			log.Observations = append(log.Observations, programme.Observation{Run: run.ID, Measure: w.measure.ID, Value: level * math.Exp(w.y[i*w.d.runs+k]+truth[code])})
		}
	}
	return compare.Compare(compare.Input{Log: log, Measure: w.measure, Control: "K", Settings: compare.Settings{
		Drift: compare.Drift(w.d.correction), Quick: true, Model: compare.StintMeans, Confidence: confidence,
	}})
}

// shown gives the codes that a result calls better or worse, with the sign.
func shown(r *compare.Result) map[string]int {
	out := map[string]int{}
	for _, row := range r.Rows {
		v := row.Verdict
		switch {
		case v.Low != nil && *v.Low > 0:
			out[row.Code] = 1
		case v.High != nil && *v.High < 0:
			out[row.Code] = -1
		}
	}
	return out
}

// programme drives programme i and counts what comes of it.
func (w *worker) programme(i int, o *outcome) error {
	w.draw(i)
	if w.d.kind == power {
		r, err := w.judge(w.plan.sequence, map[string]float64{w.plan.least: w.plan.showable}, 0.95)
		if err != nil {
			return err
		}
		if shown(r)[w.plan.least] == 1 {
			o.shown++
		}
		return nil
	}
	none, truth := map[string]float64{}, map[string]float64{}
	for k, c := range w.codes {
		if v := w.d.truth[k]; v != 0 {
			truth[c] = v * w.plan.wanted
		}
	}
	for k, t := range []map[string]float64{none, truth} {
		if k == 1 && len(truth) == 0 {
			break // counted already
		}
		r, err := w.judge(w.plan.sequence, t, 0.95)
		if err != nil {
			return err
		}
		fixedShown := shown(r)
		adviceShown, stints, err := w.follow(t)
		if err != nil {
			return err
		}
		if len(t) == 0 {
			if len(fixedShown) > 0 {
				o.fixedWrong++
			}
			if len(adviceShown) > 0 {
				o.wrong++
			}
			o.stintsNone += float64(stints)
			continue
		}
		if planned := w.d.scatter[i%len(w.d.scatter)] == slices.Max(w.d.scatter); planned {
			o.atPlanned++
			o.stintsPlanned += float64(stints)
			for k, c := range w.codes {
				if math.Abs(w.d.truth[k]) != 1 {
					continue
				}
				sign := int(w.d.truth[k])
				o.real++
				if fixedShown[c] == sign {
					o.fixedShown++
				}
				if adviceShown[c] == sign {
					o.shown++
				}
			}
		}
		o.stints += float64(stints)
		o.squares += float64(stints) * float64(stints)
		// Candidates without a difference, and wrong signs, called in the mixed truth.
		mistaken := false
		for c, s := range adviceShown {
			if t[c]*float64(s) <= 0 {
				mistaken = true
			}
		}
		if mistaken {
			o.mistaken++
		}
	}
	return nil
}

// follow drives by the advice until it says stop: what was shown at the looks,
// and the stints that it took.
func (w *worker) follow(truth map[string]float64) (map[string]int, int, error) {
	d := w.d
	_, levels, err := d.plannedLooks()
	if err != nil {
		return nil, 0, err
	}
	out := map[string]int{}
	r := d.request()
	r.Test.Wanted = w.plan.wanted
	state := advice.State{Request: r, MostStints: d.most, Looks: nil}
	var sequence []string
	look, ended := 0, false // ended: nothing more can be driven, and what is left to be said is said now
	for {
		state.Blocks = [][]string{sequence}
		state.MostStints = d.most - len(sequence)
		// A look stands where every undecided candidate has had its passes and the
		// bracket is closed; its number, not its stints, decides the level.
		closed := len(sequence) > 0 && sequence[len(sequence)-1] == "K"
		at := closed && (w.passes(sequence, state.Decided) >= d.looks[look] || ended)
		if ended && !at {
			return out, len(sequence), nil // the bracket could not be closed: there is no verdict
		}
		level := levels[look]
		if ended {
			// Time ends it, which nobody chose by what was seen: the last look has what
			// is left.
			for _, l := range levels[look+1:] {
				level += l
			}
		}
		state.Looks = []advice.Look{{Stints: math.MaxInt32, Level: level}}
		if at {
			state.Looks[0].Stints = len(sequence)
		}
		if d.kind == naive {
			state.Looks[0].Level = 0.05
		}
		if at {
			confidence := 1 - level
			if d.kind == naive {
				confidence = 0.95
			}
			res, err := w.judge(sequence, truth, confidence)
			if err != nil {
				return nil, 0, err
			}
			state.SD, state.DF = *res.Error.SD, res.Error.DF
			if d.kind == naive {
				// Stops by scatter alone: the verdict is given when it stops.
				a, err := w.advisor.After(state)
				if err != nil {
					return nil, 0, err
				}
				if look++; a.Next == advice.Stop || look == len(d.looks) || ended {
					return shown(res), len(sequence), nil
				}
				continue
			}
			for c, s := range shown(res) {
				if !slices.Contains(state.Decided, c) {
					out[c] = s
				}
			}
			state.Decided = state.Decided[:0]
			for _, c := range w.codes {
				if out[c] != 0 {
					state.Decided = append(state.Decided, c)
				}
			}
			a, err := w.advisor.After(state)
			if err != nil {
				return nil, 0, err
			}
			if look++; a.Next == advice.Stop || look == len(d.looks) || ended {
				return out, len(sequence), nil
			}
			// The look is over; what comes next is chosen at the next one's level.
			state.Looks = []advice.Look{{Stints: math.MaxInt32, Level: levels[look]}}
		}
		a, err := w.advisor.After(state)
		if err != nil {
			return nil, 0, err
		}
		switch a.Next {
		case advice.Control:
			sequence = append(sequence, "K")
		case advice.Candidate:
			sequence = append(sequence, a.Code)
		default:
			ended = true
		}
	}
}

// passes gives the fewest stints that an undecided candidate has.
func (w *worker) passes(sequence, decided []string) int {
	least := math.MaxInt32
	for _, c := range w.codes {
		if slices.Contains(decided, c) {
			continue
		}
		n := 0
		for _, s := range sequence {
			if s == c {
				n++
			}
		}
		least = min(least, n)
	}
	return least
}
