// Package watch puts the control's record on its charts: the control tyre as the
// ground's check standard.
//
// In the trade the control is fitted at every programme, so that its stints, over
// programmes, say what nothing else says: how far the ground, the vehicle and the
// control itself hold still. Three things are watched: each control stint's
// residual from its own programme's mean and straight line, divided by what the
// line leaves of it so that all have one standard deviation, against three of
// them; each programme's scatter against the limit of its degrees of freedom; and
// the programmes' levels, by Shewhart's limits and by an exponentially weighted
// average that finds slow shifts.
//
// Sources: NIST/SEMATECH e-Handbook of Statistical Methods 2.2.2.1 (Shewhart and
// EWMA) and 2.2.3.2 (precision), as package stat/pool has them. Units: residuals
// and scatters in per cent (hundred times the logarithm) for ratios, else in the
// measure's unit; levels in the measure's unit. Limits: a straight line takes out
// each programme's drift; a block of fewer than three control stints shows no
// residual; a chart shows that something moved, not what.
package watch

import (
	"fmt"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/pool"
)

// Stint is one control stint of a record.
type Stint struct {
	Programme string // which programme
	Name      string // of the programme on the charts: its date
	Block     string // day or driver within it, with a drift of its own
	Position  float64
	Value     float64 // in the measure's unit
}

// Record is a record on its charts.
type Record struct {
	Stints     int         `json:"stints"`
	Percent    bool        `json:"percent"` // residuals and scatters are per cent; else in the unit
	SD         float64     `json:"sd"`      // pooled
	DF         float64     `json:"df"`
	Programmes []Programme `json:"programmes"`
	Caveats    caveat.List `json:"caveats"`
}

// Programme is one programme on the charts.
type Programme struct {
	Name      string   `json:"name"`
	Now       bool     `json:"now,omitempty"`
	Stints    int      `json:"stints"`
	Residuals []Point  `json:"residuals"`
	SD        *float64 `json:"sd,omitempty"`
	DF        int      `json:"df"`
	Limit     *float64 `json:"limit,omitempty"` // of SD, at 1 %
	Wide      bool     `json:"over,omitempty"`  // SD is over it
	Level     float64  `json:"level"`           // mean of its control stints, in the unit
	LevelOut  bool     `json:"level_out,omitempty"`
	EWMA      *float64 `json:"ewma,omitempty"` // of the levels, in the unit
	EWMALow   *float64 `json:"ewma_low,omitempty"`
	EWMAHigh  *float64 `json:"ewma_high,omitempty"`
	EWMAOut   bool     `json:"ewma_out,omitempty"`
}

// Point is one control stint's residual.
type Point struct {
	Block    string  `json:"block"`
	Position float64 `json:"position"`
	Residual float64 `json:"residual"`
	Out      bool    `json:"out,omitempty"` // beyond three standard deviations
}

// precisionLevel is the level of a programme's scatter on its chart: NIST
// e-Handbook 2.2.3.2.
const precisionLevel = 0.01

// Chart puts stints on the charts, programmes in the order in which they occur;
// ratio tells that values are compared as ratios; now names the programme that
// stands in the bracket, empty where none does. The limits are those of all
// programmes but that one, as far as there are others.
func Chart(stints []Stint, ratio bool, now string) (*Record, error) {
	w := &Record{Stints: len(stints), Percent: ratio, Caveats: caveat.List{}}
	on := func(v float64) (float64, error) {
		if !ratio {
			return v, nil
		}
		if !(v > 0) {
			return 0, fault.New(fault.Invalid, "the record's value %v is not above 0 and has no ratio", v)
		}
		return 100 * math.Log(v), nil
	}
	var ids []string
	for _, s := range stints {
		if !slices.Contains(ids, s.Programme) {
			ids = append(ids, s.Programme)
		}
	}
	named := map[string]int{}
	var groups []pool.Contribution
	var levels []float64
	for _, id := range ids {
		p := Programme{Now: id == now && now != ""}
		var blocks []string
		of := map[string][]Stint{}
		sum, n := 0.0, 0
		for _, s := range stints {
			if s.Programme != id {
				continue
			}
			p.Name = s.Name
			v, err := on(s.Value)
			if err != nil {
				return nil, err
			}
			sum += v
			n++
			if !slices.Contains(blocks, s.Block) {
				blocks = append(blocks, s.Block)
			}
			of[s.Block] = append(of[s.Block], s)
		}
		p.Stints = n
		mean := sum / float64(n)
		levels = append(levels, mean)
		p.Level = mean
		if ratio {
			p.Level = math.Exp(mean / 100)
		}
		g := pool.Contribution{Label: id}
		for _, b := range blocks {
			points, ss, df, err := residuals(of[b], on)
			if err != nil {
				return nil, err
			}
			p.Residuals = append(p.Residuals, points...)
			g.Variance += ss
			g.DF += float64(df)
		}
		if g.DF > 0 {
			g.Variance /= g.DF
			sd := math.Sqrt(g.Variance)
			p.SD, p.DF = &sd, int(g.DF)
		}
		groups = append(groups, g)
		if named[p.Name]++; named[p.Name] > 1 {
			p.Name = fmt.Sprintf("%s (%d)", p.Name, named[p.Name])
		}
		w.Programmes = append(w.Programmes, p)
	}
	// The present programme stands last, so that it is no part of its own limits.
	slices.SortStableFunc(w.Programmes, func(a, b Programme) int { return last(a.Now) - last(b.Now) })
	if i := slices.Index(ids, now); i >= 0 && now != "" {
		groups = append(slices.Delete(slices.Clone(groups), i, i+1), groups[i])
		levels = append(slices.Delete(slices.Clone(levels), i, i+1), levels[i])
	}
	usable := slices.DeleteFunc(slices.Clone(groups), func(g pool.Contribution) bool { return g.DF == 0 })
	if len(usable) == 0 {
		w.Caveats.Add("no_record", caveat.Place{}, "No programme has three control stints in a row: nothing is known of their scatter yet.")
		return w, nil
	}
	base := len(usable)
	if now != "" && usable[base-1].Label == now && base > 1 {
		base--
	}
	precision, err := pool.Precision(usable, base, precisionLevel)
	if err != nil {
		return nil, err
	}
	w.SD, w.DF = precision.Pooled, precision.DF
	w.Caveats = append(w.Caveats, precision.Caveats...)
	at := 0
	for i := range w.Programmes {
		p := &w.Programmes[i]
		if groups[i].DF > 0 {
			q := precision.Points[at]
			at++
			p.Limit, p.Wide = &q.High, q.Out
		}
		for j := range p.Residuals {
			p.Residuals[j].Out = w.SD > 0 && math.Abs(p.Residuals[j].Residual) > 3*w.SD // NIST e-Handbook 2.2.2.1: three standard deviations
		}
	}
	return w, w.charted(levels, ratio)
}

// charted charts the programmes' levels: a surface that polishes, a control
// type that changes with its age.
func (w *Record) charted(levels []float64, ratio bool) error {
	base := len(levels)
	if base > 0 && w.Programmes[base-1].Now {
		base--
	}
	if base < 3 {
		w.Caveats.Add("few_programmes", caveat.Place{}, "With %d programmes the level has no chart yet.", base)
		return nil
	}
	shewhart, err := pool.Shewhart(levels, pool.ChartOptions{Scale: pool.MovingRange, Baseline: base})
	if err != nil {
		return err
	}
	ewma, err := pool.EWMA(levels, pool.ChartOptions{Scale: pool.MovingRange, Baseline: base})
	if err != nil {
		return err
	}
	w.Caveats = append(w.Caveats, shewhart.Caveats...)
	back := func(v float64) *float64 {
		if ratio {
			v = math.Exp(v / 100)
		}
		return &v
	}
	for i := range w.Programmes {
		p, e := &w.Programmes[i], ewma.Points[i]
		p.LevelOut = len(shewhart.Points[i].Broken) > 0
		p.EWMA, p.EWMALow, p.EWMAHigh, p.EWMAOut = back(e.Statistic), back(e.Low), back(e.High), len(e.Broken) > 0
	}
	return nil
}

// residuals gives a block's residuals about its own straight line, each over what
// the line leaves of it, the sum of their squares before that, and the degrees of
// freedom; nothing where the block is too short.
func residuals(stints []Stint, on func(float64) (float64, error)) ([]Point, float64, int, error) {
	stints = slices.Clone(stints)
	slices.SortStableFunc(stints, func(a, b Stint) int {
		switch {
		case a.Position < b.Position:
			return -1
		case a.Position > b.Position:
			return 1
		}
		return 0
	})
	if len(stints) < 3 {
		return nil, 0, 0, nil
	}
	s := drift.Sequence{}
	for _, x := range stints {
		v, err := on(x.Value)
		if err != nil {
			return nil, 0, 0, err
		}
		s.At, s.Value = append(s.At, x.Position), append(s.Value, v)
	}
	resid, df, err := drift.Residuals(s, 1)
	if err != nil {
		return nil, 0, 0, err
	}
	var out []Point
	ss := 0.0
	for i, e := range resid {
		ss += e * e
		unit := drift.Sequence{At: s.At, Value: make([]float64, len(s.At))}
		unit.Value[i] = 1
		left, _, err := drift.Residuals(unit, 1)
		if err != nil {
			return nil, 0, 0, err
		}
		r := 0.0
		if left[i] > 1e-9 { // a stint that the line goes through says nothing
			r = e / math.Sqrt(left[i])
		}
		out = append(out, Point{Block: stints[i].Block, Position: stints[i].Position, Residual: r})
	}
	return out, ss, df, nil
}

func last(now bool) int {
	if now {
		return 1
	}
	return 0
}
