package sequence

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/setting"
	"example.org/bookend/compare/threshold"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// beside gives what a run has of another measure, or in a column of its own; units
// are those of its first name.
type beside struct {
	names    []string
	observed map[string]float64
}

func newBeside(log programme.Log, names ...string) *beside {
	b := &beside{names: names, observed: map[string]float64{}}
	for _, o := range log.Observations {
		if o.Measure == names[0] && o.Place == "" {
			if _, twice := b.observed[o.Run]; !twice {
				b.observed[o.Run] = o.Value
			}
		}
	}
	return b
}

func (b *beside) of(run string, covariates map[string]float64) (float64, bool) {
	if v, ok := b.observed[run]; ok {
		return v, math.Abs(v) <= largest
	}
	for _, n := range b.names {
		if v, ok := covariates[n]; ok {
			return v, math.Abs(v) <= largest
		}
	}
	return 0, false
}

// attempts turns runs that were attempts into one threshold a stint. The measure
// is either the entry speed, with a measure or column beside it that says clean or
// not, or it is clean or not itself, with the entry speed beside it.
func (q *Sequence) attempts(in Input, all []Stint) error {
	set := in.Settings
	flags := true // all values are 0 or 1
	for i := range all {
		for _, r := range all[i].Runs {
			flags = flags && (r.Value == 0 || r.Value == 1)
		}
	}
	other, what := newBeside(in.Log, set.Clean), "whether it was clean ("+set.Clean+", 1 or 0)"
	if flags {
		other, what = newBeside(in.Log, set.Speed, set.Speed+"_mps"), "its entry speed ("+set.Speed+")"
	}
	var list []int
	var tries [][]threshold.Attempt
	least, most := math.MaxInt, 0
	for i := range all {
		f := &all[i]
		var compared []threshold.Attempt
		for k := range f.Runs {
			r := &f.Runs[k]
			v, ok := other.of(r.Run, r.Covariates)
			if !ok || !flags && v != 0 && v != 1 {
				return at(fault.New(fault.Invalid, "attempt %s does not say %s", r.Run, what).WithHint("a threshold needs the entry speed of every attempt, and whether it was clean"), programme.Run{ID: r.Run, Stint: f.ID, File: f.File, Line: r.Line})
			}
			clean := v == 1
			if flags {
				clean, r.Value = r.Value == 1, v
			}
			r.Clean = &clean
			if r.Compared {
				compared = append(compared, threshold.Attempt{Speed: r.Value, Clean: clean})
			}
		}
		f.Values, f.Numbers = nil, nil
		if len(compared) > 0 {
			list, tries = append(list, i), append(tries, compared)
			least, most = min(least, len(compared)), max(most, len(compared))
		}
	}
	if len(list) == 0 {
		return nil // said where stints without values are
	}
	fitted, err := threshold.Fit(tries)
	if err != nil {
		return fault.At(err, "measure %s", in.Measure.ID)
	}
	q.Width = fitted.Width
	for k, i := range list {
		f := &all[i]
		l := fitted.Levels[k]
		f.Level = &l
		f.Attempts = f.Runs
		n := float64(l.Attempts)
		for c := range f.Covariates {
			f.Covariates[c] /= n
		}
		one := RunValue{Run: f.ID, Number: 1, Value: l.Speed, Uncertainty: &l.SE, Compared: true, Covariates: map[string]float64{}, Line: f.Line}
		for _, r := range f.Attempts {
			for c := range r.Covariates {
				if m, ok := f.recorded(f.Attempts, c); ok {
					one.Covariates[c] = m
				}
			}
		}
		f.Runs, f.Values, f.Numbers = []RunValue{one}, []float64{l.Speed}, []int{1}
		q.censored(f, set)
	}
	if least != most {
		q.Caveats.Add("unequal_attempts", caveat.Place{}, "Stints had %d to %d attempts: a threshold found by more of them is surer than the others, and whoever may try more often gets further. Give every code as many.", least, most)
	}
	if m := set.Margin; m != nil {
		for _, i := range list {
			if s := all[i].Level.Step; s > m.Value*(1+1e-9) { // 2 km/h is 2 km/h, whatever rounding makes of it
				q.Caveats.Add("coarse_steps", caveat.Place{Stint: all[i].ID, Code: all[i].Code}, "Around its threshold the stint was tried in steps of %s, more than the margin of %s: what matters may lie between two attempts.", speed(s), speed(m.Value))
			}
		}
	}
	q.Caveats.Add("driven_at_the_limit", caveat.Place{}, "A threshold is found by driving at the limit. Overshoot and recoil at one set speed tell tyres apart without that.")
	return nil
}

// censored says what is known of a stint whose threshold was not reached.
func (q *Sequence) censored(f *Stint, set setting.Settings) {
	place := caveat.Place{Stint: f.ID, Code: f.Code}
	highest := 0.0
	for _, r := range f.Attempts {
		if r.Compared {
			highest = max(highest, r.Value)
		}
	}
	switch f.Level.Side {
	case threshold.Above:
		if set.Ceiling != nil && highest >= *set.Ceiling*(1-1e-9) {
			q.Caveats.Add("at_the_ceiling", place, "Every attempt was clean up to the ceiling of %s that the ground had set: the threshold is not below it, and no more is known.", speed(*set.Ceiling))
		} else {
			q.Caveats.Add("no_failed_attempt", place, "Every attempt was clean: the threshold is not below %s, and no more is known.", speed(highest))
		}
	case threshold.Below:
		q.Caveats.Add("no_clean_attempt", place, "No attempt was clean: the threshold is not above %s, and no more is known.", speed(f.Level.Speed))
	}
}

// Driven gives the runs that were driven: attempts where a threshold was found
// from them.
func (f *Stint) Driven() []RunValue {
	if f.Level != nil {
		return f.Attempts
	}
	return f.Runs
}

// Count gives how many of them are compared.
func (f *Stint) Count() int {
	if f.Level != nil {
		return f.Level.Attempts
	}
	return f.N()
}

// Bound gives on which side of what is stated a code's value lies: of its
// thresholds that were not reached; mixed where they lie on both sides.
func (q *Sequence) Bound(code string) (side threshold.Side, mixed bool) {
	for i := range q.Stints {
		l := q.Stints[i].Level
		if q.Stints[i].Code != code || l == nil || l.Side == threshold.Found {
			continue
		}
		if side != threshold.Found && side != l.Side {
			return side, true
		}
		side = l.Side
	}
	return side, false
}

// Apart gives the sequence in which each stint of a candidate whose threshold was
// not reached is a code of its own, so that what is not known of it goes neither
// into the drift nor into the scatter; itself where there is none.
func (q *Sequence) Apart() *Sequence {
	var codes []string
	own := map[string]bool{}
	for _, c := range q.Codes {
		if side, mixed := q.Bound(c); side != threshold.Found || mixed {
			own[c] = true
		} else {
			codes = append(codes, c)
		}
	}
	if len(own) == 0 {
		return q
	}
	out := *q
	out.Stints = append([]Stint(nil), q.Stints...)
	for i := range out.Stints {
		if s := &out.Stints[i]; own[s.Code] {
			s.Code = Alone(s.Code, s.ID)
			codes = append(codes, s.Code)
		}
	}
	out.Codes = codes
	return &out
}

// Alone is the code of a stint that stands apart.
func Alone(code, stint string) string { return code + "\x00" + stint }

// speed writes a speed or a step of speed, in m/s, as people read it.
func speed(v float64) string { return unit.KilometrePerHour.Format(v, 1, unit.Style{}) }
