package edition

import (
	"fmt"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Finding is one value held against one limit.
type Finding struct {
	Limit    programme.Limit
	Profile  string // of the limit; empty for the evaluator's own
	Stint    string // or the first of a bracket
	To       string // the second of a bracket
	Run      string
	Code     string
	Value    *float64
	Standing programme.Standing
}

// Block is the block as the regulation has it.
type Block struct {
	Profile    programme.Profile
	Rows       []Row    // one a stint of a candidate
	Discarded  bool     // the control's scatter is over its limit: nothing of the block stands
	Indicative []string // why nothing here is a result under the regulation; never empty
}

// Row is one candidate stint under a regulation.
type Row struct {
	Code, Stint string
	Category    string
	Mean        float64  // mean deceleration in m/s², or mean coefficient
	CV          *float64 // per cent
	Weighted    float64  // of the references, in the unit of Mean
	BFC         *float64 // the candidate's coefficient of braking force; nil where decelerations are compared
	BFCControl  *float64
	Ratio       float64
	SurfaceC    *float64 // °C, when the candidate ran
	Index       *float64 // G; nil where something that it needs is missing
	Label       *float64 // the label's index, rounded to two decimals; nil where the edition has none
	Class       string   // what the label's index would fall into, "indicative C"; never a class
	Stands      bool     // no limit that discards it is broken
	Why         []string // what discards it, and what is missing
}

// Driven is one stint of a candidate as the block needs it, in the unit that
// the edition compares.
type Driven struct {
	Stint, Code string
	Mean        float64
	CV          *float64 // per cent
	Weighted    float64  // of the references, by place
	Before      string   // stint of the reference before
	Closed      bool     // a reference stands after
	SurfaceC    *float64 // °C, as recorded over its runs
}

// Block works the block out: candidates by the references around them, held
// against the findings on the edition's limits.
func (p *Asked) Block(stints []Driven, findings []Finding) (*Block, caveat.List) {
	var notes caveat.List
	reg := p.regulation()
	b := &Block{Profile: reg.Profile}
	b.Indicative = append(b.Indicative, "bookend does not see how surface, vehicle, load, pressure and tyres were prepared")
	missing := map[string]bool{}
	broken := map[string]string{}
	brokenBetween := map[string]bool{}
	for _, f := range findings {
		if f.Profile != p.ID {
			continue
		}
		switch f.Standing {
		case programme.Missing:
			if !missing[f.Limit.Field] {
				missing[f.Limit.Field] = true
				b.Indicative = append(b.Indicative, f.Limit.Field+" is not recorded for every stint")
			}
		case programme.Broken:
			switch f.Limit.Stands {
			case discardBlock:
				b.Discarded = true
			case discardTyre:
				broken[f.Stint] = fmt.Sprintf("%s %.2f %% is over %g %%", f.Limit.Field, *f.Value, *f.Limit.High)
			case discardBetween:
				brokenBetween[f.Stint] = true
			default:
				if key := "broken " + f.Limit.Field; !missing[key] {
					missing[key] = true
					b.Indicative = append(b.Indicative, f.Limit.Field+" is outside its limit")
				}
			}
		}
	}
	for _, s := range stints {
		row := Row{Code: s.Code, Stint: s.Stint, Category: p.Categories[s.Code], Mean: s.Mean, CV: s.CV, Weighted: s.Weighted, Ratio: s.Mean / s.Weighted, Stands: true}
		if row.Category == "" && reg.form != ratioOnly {
			row.Category = "normal"
		}
		reference := s.Weighted
		switch {
		case reg.gravity > 0:
			reference /= reg.gravity
			row.BFC, row.BFCControl = is(s.Mean/reg.gravity), is(reference)
		case reg.form != ratioOnly:
			row.BFC, row.BFCControl = is(s.Mean), is(reference)
		}
		row.SurfaceC = s.SurfaceC
		if t, ok := p.SurfaceC[s.Code]; ok && row.SurfaceC == nil {
			row.SurfaceC = is(t)
		}
		drop := func(why string) { row.Stands = false; row.Why = append(row.Why, why) }
		if b.Discarded {
			drop("the control's scatter is over its limit")
		}
		if why, ok := broken[s.Stint]; ok {
			drop(why)
		}
		if !s.Closed {
			drop("no reference closes the block")
		} else if brokenBetween[s.Before] {
			drop("the references around it differ by more than their limit")
		}
		switch reg.form {
		case ratioOnly:
			row.Index = is(row.Ratio)
		case firstOrder:
			if row.SurfaceC == nil {
				row.Why = append(row.Why, "the index needs the wetted surface temperature")
				break
			}
			c := reg.rows[row.Category]
			row.Index = is((row.Ratio*125 + c.a*(*row.SurfaceC-c.t0) + c.b*(reference/c.r0-1)) / 100)
			row.surface()
		case secondOrder:
			c, ok := p.Table[row.Category]
			if !ok {
				row.Why = append(row.Why, "the table of coefficients has no category "+row.Category)
				break
			}
			if row.SurfaceC == nil {
				row.Why = append(row.Why, "the index needs the wetted surface temperature")
				break
			}
			dr, dt := reference-c.R0, *row.SurfaceC-c.T0
			row.Index = is(c.K * (row.Ratio - (c.A*dr + c.B*dt + c.C*dr*dr + c.D*dt*dt)))
		}
		if row.Index == nil {
			notes.Add("no_regulation_index", caveat.Place{Stint: s.Stint, Code: s.Code}, "There is no index under %s: %s.", reg.ID, strings.Join(row.Why, "; "))
		}
		if row.Index != nil && len(reg.label) > 0 {
			label := roundTwo(*row.Index - reg.labelMinus)
			row.Label = is(label)
			for _, c := range reg.label {
				if label >= c.least || c.least == 0 {
					row.Class = "indicative " + c.letter
					break
				}
			}
		}
		b.Rows = append(b.Rows, row)
	}
	notes.Add("indicative", caveat.Place{}, "The block is worked as %s would have it, but what comes out is indicative: %s.", reg.Title, strings.Join(b.Indicative, "; "))
	return b, notes
}

// surface holds the wetted surface temperature against the 02 series' range.
func (row *Row) surface() {
	// UN R117, 02 series, Annex 5: 5 to 35 °C, snow tyres 2 to 20 °C (second hand).
	low, high := 5.0, 35.0
	if row.Category == "snow" {
		low, high = 2, 20
	}
	if t := *row.SurfaceC; t < low || t > high {
		row.Stands = false
		row.Why = append(row.Why, fmt.Sprintf("the wetted surface at %g °C is outside %g to %g °C", t, low, high))
	}
}

// roundTwo rounds to two decimals, ties to even, as the report prints.
func roundTwo(x float64) float64 {
	v, err := strconv.ParseFloat(unit.Number(x, 2, unit.Plain), 64)
	if err != nil {
		return x
	}
	return v
}
