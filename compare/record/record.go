// Package record borrows from the ground's own history of control stints what
// three control stints cannot say: how stints scatter.
//
// In the trade the record is a check standard. It makes the ordinary programme
// decidable, honestly only under rules: each earlier programme counts after its
// own mean and drift; the variances are pooled plainly, or moderated from ten
// programmes on; degrees of freedom never exceed what record and programme really
// have; a programme that scatters more than the record allows refuses it. What
// the correction itself misses, a random walk of the control from stint to stint,
// is estimated from the record's sequences and is part of every standard error.
//
// Where the walk comes in: the variance of residuals about the record's lines
// already holds the part of the walk that those lines leave. An estimate by a
// layout that leaves more gets the rest on top; one that leaves less is not
// judged by less. Without an estimate of the walk, a straight line or parabola
// through fewer than five control stints gets nothing from the record.
//
// Sources: NIST/SEMATECH e-Handbook of Statistical Methods, chapter 2; Smyth
// (2004); both as package stat/pool has them. Units: the analysis scale;
// positions are places in the sequence, from 1. Limits: the record holds means of
// control stints, taken as of as many runs as this programme's; it knows no
// candidate and no client.
package record

import (
	"cmp"
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/pool"
)

// Row is one control stint of an earlier programme.
type Row struct {
	Programme string  `json:"programme"`
	Block     string  `json:"block,omitempty"` // day or driver within it, with a level and a drift of its own
	Position  float64 `json:"position"`        // in the sequence
	Value     float64 `json:"value"`           // mean of the stint, in the measure's unit
	Line      int     `json:"-"`               // in its file, for messages
}

// Record is the control stints of earlier programmes: one ground, surface,
// procedure, measure, control and vehicle, which whoever hands it over vouches
// for.
type Record struct {
	Name string // of its file, for messages
	Rows []Row
}

// Hash gives the SHA-256 of the rows' canonical JSON, in their order: what was
// used can be told from what the record has become since.
func (r *Record) Hash() (string, error) { return programme.Hash(r.Rows) }

// FewControls is the number of control stints in a block below which a borrowed
// variance is never put to a straight line without the walk's own variance:
// methods of this project, by simulation.
const FewControls = 5

// Asked is what the programme brings to the record.
type Asked struct {
	Ratio     bool                     // values are compared as logarithms
	Transform func(v float64) *float64 // of a value into what is compared; nil: none
	Degree    int                      // of the drift that counts as taken out: 1 or 2
	Modelled  bool                     // the correction is a line or parabola, not a bracket
	Own       pool.Contribution        // this programme's own scatter of stint means
	OwnWalk   float64                  // share of a walk's step variance in it, per degree of freedom
	Controls  int                      // fewest control stints in a block of this programme
}

// Borrowed is what the record gives.
type Borrowed struct {
	Name       string
	Hash       string // of the rows
	Rows       []Row  // those used, copied
	Programmes int    // with degrees of freedom

	Used     bool
	Why      string // not used: why
	Method   string // pooled, moderated, or own where it is not used
	SD       float64
	DF       float64
	OwnSD    float64 // this programme's own
	OwnDF    float64
	RecordSD float64 // of the record alone, pooled
	RecordDF float64
	PriorSD  *float64 // of a moderated variance
	PriorDF  *float64 // nil too where the programmes differ no more than chance makes them
	Capped   bool     // degrees of freedom were held to those that there really are
	Alike    float64  // p of the programmes sharing one variance (Bartlett)

	F, FLimit, P float64 // own variance over the record's, its 95 % point, and p; 0, 0, 1 where nothing can be checked
	Refused      bool

	Walk *Walk // nil: the record cannot tell a walk from scatter

	Caveats caveat.List
}

// Walk is the control's random walk as the record shows it.
type Walk struct {
	StepSD  float64 // from one position to the next
	LowSD   float64 // 95 % interval
	HighSD  *float64
	P       float64 // that there is none
	DF      int     // contrasts that it rests on
	Covered float64 // step variances that a variance on the record's residuals holds already
}

// sequences sorts the rows into the control sequences of programmes and blocks,
// on the analysis scale.
func (r *Record) sequences(a Asked) (names []string, of map[string][]drift.Sequence, err error) {
	type key struct{ programme, block string }
	at := map[key]int{}
	of = map[string][]drift.Sequence{}
	for i, row := range r.Rows {
		where := func(f *fault.Error) error {
			if row.Line > 0 {
				return f.At("%s:%d", r.Name, row.Line)
			}
			return f.At("%s, row %d", cmp.Or(r.Name, "the record"), i+1)
		}
		if row.Programme == "" {
			return nil, nil, where(fault.New(fault.Invalid, "the record's row names no programme").WithHint("degrees of freedom are counted programme by programme"))
		}
		v := row.Value
		if !(math.Abs(v) <= largest) || !(math.Abs(row.Position) <= largest) {
			return nil, nil, where(fault.New(fault.Invalid, "position or value of the record is not finite").WithHint("leave a missing value out"))
		}
		if a.Transform != nil {
			t := a.Transform(v)
			if t == nil {
				return nil, nil, where(fault.New(fault.Invalid, "the record's value %v cannot be compared", v))
			}
			v = *t
		}
		if a.Ratio {
			if v <= 0 {
				return nil, nil, where(fault.New(fault.Invalid, "the record's value %v is not above 0 and has no ratio", row.Value).WithHint("compare as a difference, or mend the record"))
			}
			v = math.Log(v)
		}
		k := key{row.Programme, row.Block}
		n, ok := at[k]
		if !ok {
			if !slices.Contains(names, row.Programme) {
				names = append(names, row.Programme)
			}
			n = len(of[row.Programme])
			at[k] = n
			of[row.Programme] = append(of[row.Programme], drift.Sequence{})
		}
		s := &of[row.Programme][n]
		if slices.Contains(s.At, row.Position) {
			return nil, nil, where(fault.New(fault.Invalid, "two control stints of programme %s stand at position %g", row.Programme, row.Position).WithHint("one row a stint: the mean of its runs; days and drivers in a column block"))
		}
		s.At, s.Value = append(s.At, row.Position), append(s.Value, v)
	}
	return names, of, nil
}

const largest = 1e100

// Borrow decides what the record gives to a programme.
func (r *Record) Borrow(a Asked) (*Borrowed, error) {
	b := &Borrowed{Name: r.Name, Rows: slices.Clone(r.Rows), Method: string(pool.OwnAlone), DF: a.Own.DF, OwnDF: a.Own.DF, Alike: 1, P: 1}
	if a.Own.DF > 0 {
		b.OwnSD = math.Sqrt(a.Own.Variance)
		b.SD = b.OwnSD
	}
	names, of, err := r.sequences(a)
	if err != nil {
		return nil, err
	}
	if b.Hash, err = r.Hash(); err != nil {
		return nil, err
	}
	var list []pool.Contribution
	var all []drift.Sequence
	trace, df := 0.0, 0.0
	short := 0
	for _, name := range names {
		c := pool.Contribution{Label: name}
		for _, s := range of[name] {
			all = append(all, s)
			if len(s.At) < a.Degree+2 {
				short++
				continue
			}
			one, err := pool.FromSequence(name, s, a.Degree)
			if err != nil {
				return nil, err
			}
			t, err := leaves(s.At, a.Degree)
			if err != nil {
				return nil, err
			}
			c.Variance += one.Variance * one.DF
			c.DF += one.DF
			trace += t
			df += one.DF
		}
		if c.DF > 0 {
			c.Variance /= c.DF
		}
		list = append(list, c)
	}
	if short > 0 {
		b.Caveats.Add("short_sequences", caveat.Place{}, "%d of the record's %d control sequences are too short to leave anything beside their own mean and drift; they give nothing.", short, len(all))
	}
	if df == 0 {
		b.Why = "the record has no control sequence long enough to leave anything beside its own mean and drift"
		b.Caveats.Add("no_record", caveat.Place{}, "The record is not used: %s.", b.Why)
		return b, nil
	}
	got, err := pool.Borrow(a.Own, list)
	if err != nil {
		return nil, err
	}
	b.take(got)
	for _, c := range got.Caveats {
		if c.Code != "no_degrees_of_freedom" { // said above, sequence by sequence
			b.Caveats = append(b.Caveats, c)
		}
	}
	w, err := drift.FitWalk(all, a.Degree, 0.95)
	if err == nil {
		b.Walk = &Walk{StepSD: math.Sqrt(w.Step), LowSD: math.Sqrt(w.StepLow), P: w.P, DF: w.Contrasts}
		if w.Bounded {
			high := math.Sqrt(w.StepHigh)
			b.Walk.HighSD = &high
		}
		b.Walk.Covered = (trace + a.OwnWalk*a.Own.DF) / (df + a.Own.DF)
	}
	switch {
	case got.Refused:
		b.Why = "the control scatters more in this programme than the record allows"
	case got.Variance == 0:
		b.Why = "nothing scatters in it"
		b.Caveats.Add("no_record", caveat.Place{}, "The record is not used: %s.", b.Why)
	case b.Walk == nil && a.Modelled && a.Controls < FewControls:
		b.Why = "the record cannot tell how far a line through so few controls misses"
		b.Caveats.Add("record_without_walk", caveat.Place{}, "The record is not used: its control sequences cannot tell a random walk from scatter, and a line through %d control stints (fewer than %d) may miss by more than its residuals show. A bracket can use it, as can programmes of more control stints.", a.Controls, FewControls)
	default:
		b.Used = true
		if b.Walk == nil {
			b.Caveats.Add("misfit_unknown", caveat.Place{}, "The record cannot tell how far the control walks between its stints; what its own residuals hold of that is in the borrowed scatter, no more.")
		}
	}
	if !b.Used {
		b.Decline(b.Why)
	}
	return b, nil
}

// Decline puts the programme's own scatter in the record's place, and says why.
func (b *Borrowed) Decline(why string) {
	b.Used, b.Why = false, why
	b.Method, b.SD, b.DF, b.Capped = string(pool.OwnAlone), b.OwnSD, b.OwnDF, false
}

func (b *Borrowed) take(g pool.Borrowed) {
	b.Programmes = g.Record.Programmes
	b.Method, b.SD, b.DF = string(g.Method), math.Sqrt(g.Variance), g.DF
	b.RecordSD, b.RecordDF, b.Alike = math.Sqrt(g.Record.Variance), g.Record.DF, g.Record.P
	b.F, b.FLimit, b.P, b.Refused, b.Capped = g.F, g.FLimit, g.P, g.Refused, g.Capped
	if g.Prior != nil {
		sd := math.Sqrt(g.Prior.Variance)
		b.PriorSD = &sd
		if d := g.Prior.DF; !math.IsInf(d, 1) {
			b.PriorDF = &d
		}
	}
}

// leaves gives what a polynomial leaves of a random walk of unit step: the trace
// of residual maker and walk.
func leaves(at []float64, degree int) (float64, error) {
	at = slices.Clone(at)
	slices.Sort(at)
	sum := 0.0
	for j := range at {
		k := drift.Sequence{At: at, Value: make([]float64, len(at))}
		for i := range at {
			k.Value[i] = min(at[i], at[j]) - at[0]
		}
		r, _, err := drift.Residuals(k, degree)
		if err != nil {
			return 0, err
		}
		sum += r[j]
	}
	return sum, nil
}

// Covariance gives the covariance of estimates under the borrowed variance:
// weights holds the products of their stint weights, walk what a random walk of
// unit step does to them.
func (b *Borrowed) Covariance(weights, walk [][]float64) [][]float64 {
	n := len(weights)
	out := make([][]float64, n)
	s2, step, covered := b.SD*b.SD, 0.0, 0.0
	if b.Walk != nil {
		step, covered = b.Walk.StepSD*b.Walk.StepSD, b.Walk.Covered
	}
	noise := max(0, s2-step*covered)
	model := func(i, j int) float64 { return noise*weights[i][j] + step*walk[i][j] }
	for i := range out {
		out[i] = make([]float64, n)
	}
	for i := range n {
		out[i][i] = max(s2*weights[i][i], model(i, i))
	}
	for i := range n {
		for j := range i {
			c := model(i, j)
			if d := model(i, i) * model(j, j); d > 0 {
				c *= math.Sqrt(out[i][i] * out[j][j] / d)
			}
			out[i][j], out[j][i] = c, c
		}
	}
	return out
}
