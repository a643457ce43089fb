// Package edition holds regulations' own ways of comparing, one edition beside
// the other: the weights' order, the limits by which a block stands or falls,
// the window of speed, and the index.
//
// In the trade it is the wet-grip or snow block R-T1-T2-T3-R of a named edition.
// Sources: UN R117 and what it quotes, by clause at every limit; what could not
// be seen says so, and coefficients that were never seen are not held here but
// asked for. Units: m, m/s² and coefficients of braking force; °C. Limits: what
// comes out is indicative, since bookend sees neither the surface's approval nor
// how the tyres were prepared.
package edition

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Spelled is one setting as used, spelt out.
type Spelled struct {
	Key     string // as in JSON: "drift_per_block"
	Value   string
	Default bool // nobody chose it
	Source  programme.Source
}

func own(why string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: why}
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Asked asks for a regulation's way of comparing: bracket by position, weights
// of the reference by place, validity limits, and its index.
type Asked struct {
	ID         string             // as Profiles names it
	Value      Quantity           // what the values are; default: by the measure's unit is the caller's choice, here deceleration
	Categories map[string]string  // by code: normal or snow; codes not named are normal
	SurfaceC   map[string]float64 // wetted surface temperature by code, °C, where runs do not carry surface_temperature_degc
	// Table holds the coefficients of the later series' second-order index by
	// category. They were not seen in a source and must come from the user.
	Table map[string]SecondOrder
}

// Quantity is what a profile's values are.
type Quantity string

// What values may be.
const (
	Distance     Quantity = "distance"     // m, over the profile's window of speed
	Deceleration Quantity = "deceleration" // m/s²
	Coefficient  Quantity = "coefficient"  // of braking force
)

// SecondOrder is one row of the later series' index: G = K (ratio - (A dR + B
// dT + C dR² + D dT²)), dR the reference's coefficient less R0, dT the surface
// temperature less T0 in °C.
type SecondOrder struct {
	K, A, B, C, D float64
	T0            float64 // °C
	R0            float64
	Source        string // where the user has them from; insisted on
}

// linearIndex is one row of the 02 series' index: G = (125 ratio + A (t - T0) +
// B (R/R0 - 1)) / 100.
type linearIndex struct{ a, b, t0, r0 float64 }

type indexForm int

const (
	ratioOnly indexForm = iota
	firstOrder
	secondOrder
)

// regulation is one edition of one method.
type regulation struct {
	programme.Profile
	from, to   float64 // km/h, window of a distance; 0: distances are not taken
	gravity    float64 // m/s², divides decelerations; 0: they are compared as they are
	form       indexForm
	rows       map[string]linearIndex
	label      []class
	labelMinus float64
}

type class struct {
	letter string
	least  float64
}

func limit(field string, low, high *float64, per, of, unit, key, clause, stands string) programme.Limit {
	return programme.Limit{Field: field, Low: low, High: high, Per: per, Of: of, Unit: unit, Source: programme.Source{Key: key, Clause: clause}, Stands: stands}
}

func is(x float64) *float64 { return &x }

// Words that stand when a limit is broken.
const (
	discardBlock   = "all data of the block are discarded"
	discardTyre    = "the candidate's data are discarded"
	discardBetween = "what lies between the two references is discarded"
	notMet         = "the condition is not met"
)

// c1Classes are those of C1 tyres: Regulation (EU) 2020/740 as given with
// (EU) 1235/2011, Annex I part B, relettered A to E.
var c1Classes = []class{{"A", 1.55}, {"B", 1.40}, {"C", 1.25}, {"D", 1.10}, {"E", 0}}

// Coefficients of the 02 series and EU 228/2011: UN R117 Annex 5, from memory
// (sure).
var firstOrderVehicle = map[string]linearIndex{
	"normal": {a: -0.4232, b: -8.297, t0: 20, r0: 0.68},
	"snow":   {a: 0.7721, b: 31.18, t0: 10, r0: 0.68},
}

var firstOrderTrailer = map[string]linearIndex{
	"normal": {a: -0.4232, b: -8.297, t0: 20, r0: 0.85},
	"snow":   {a: 0.7721, b: 31.18, t0: 10, r0: 0.85},
}

// wetVehicleConditions are those of the vehicle method for C1 tyres that a run
// log can show. UN R117 Annex 5 as second hand, ISO 23671:2021 as excerpted.
func wetVehicleConditions(key string) []programme.Limit {
	return []programme.Limit{
		limit("water_depth_m", is(0.0005), is(0.0015), "run", "", "m", key, "Annex 5, vehicle method: 1.0 ± 0.5 mm above the peaks of the pavement", notMet),
		limit("entry_speed_mps", is(83/3.6), is(87/3.6), "run", "", "m/s", key, "Annex 5, vehicle method: 85 ± 2 km/h", notMet),
	}
}

var regulations = []regulation{
	{
		Profile: programme.Profile{ID: "r117-02-c1-vehicle", Version: 1, Title: "UN R117, 02 series: wet grip of C1 tyres, vehicle method",
			Source: programme.Source{Key: "unece-r117-02", Clause: "Annex 5"},
			Limits: append([]programme.Limit{
				limit("cv", nil, is(3), "stint", "control", "%", "unece-r117-02", "Annex 5, validation (from memory, sure)", discardBlock),
				limit("cv", nil, is(3), "stint", "candidate", "%", "unece-r117-02", "Annex 5, validation (from memory, sure)", discardTyre),
				limit("reference_shift", nil, is(5), "bracket", "control", "%", "unece-r117-02", "validation between references as in Annex 7 (snow); for wet grip from memory", discardBetween),
				limit("runs", is(6), nil, "stint", "", "", "unece-r117-02", "at least 6 valid runs a test; ISO 23671:2021", notMet),
				limit("candidates_between", nil, is(3), "bracket", "", "", "unece-r117-02", "Annex 7, table 1: one to three candidates between references", notMet),
			}, wetVehicleConditions("unece-r117-02")...)},
		from: 80, to: 20, gravity: 9.81, form: firstOrder, rows: firstOrderVehicle, label: c1Classes, labelMinus: 0.03,
	},
	{
		Profile: programme.Profile{ID: "r117-02-c1-trailer", Version: 1, Title: "UN R117, 02 series: wet grip of C1 tyres, trailer method",
			Source: programme.Source{Key: "unece-r117-02", Clause: "Annex 5"},
			Limits: []programme.Limit{
				limit("cv", nil, is(5), "stint", "control", "%", "unece-r117-02", "Annex 5, trailer method (from memory, sure)", discardBlock),
				limit("cv", nil, is(5), "stint", "candidate", "%", "unece-r117-02", "Annex 5, trailer method (from memory, sure)", discardTyre),
				limit("reference_shift", nil, is(5), "bracket", "control", "%", "unece-r117-02", "validation between references as in Annex 7 (snow); for wet grip from memory", discardBetween),
				limit("runs", is(6), nil, "stint", "", "", "unece-r117-02", "at least 6 valid runs a test", notMet),
				limit("candidates_between", nil, is(3), "bracket", "", "", "unece-r117-02", "Annex 7, table 1: one to three candidates between references", notMet),
				limit("water_depth_m", is(0.0005), is(0.0015), "run", "", "m", "unece-r117-02", "Annex 5, trailer method: 1.0 ± 0.5 mm (from memory, sure)", notMet),
				limit("entry_speed_mps", is(63/3.6), is(67/3.6), "run", "", "m/s", "unece-r117-02", "Annex 5, trailer method: 65 ± 2 km/h (from memory, sure)", notMet),
			}},
		form: firstOrder, rows: firstOrderTrailer, label: c1Classes, labelMinus: 0.03,
	},
	{
		Profile: programme.Profile{ID: "r117-later-c1-vehicle", Version: 1, Title: "UN R117, later series (ISO 23671:2021): wet grip of C1 tyres, vehicle method",
			Source: programme.Source{Key: "unece-r117-later", Clause: "Annex 5"},
			Limits: append([]programme.Limit{
				limit("cv", nil, is(4), "stint", "control", "%", "unece-r117-later", "Annex 5, validation (for coefficients of braking force from memory)", discardBlock),
				limit("cv", nil, is(4), "stint", "candidate", "%", "unece-r117-later", "Annex 5, validation (for coefficients of braking force from memory)", discardTyre),
				limit("reference_shift", nil, is(5), "bracket", "control", "%", "unece-r117-later", "Annex 5, validation (from memory)", discardBetween),
				limit("runs", is(6), nil, "stint", "", "", "unece-r117-later", "at least 6 valid runs a test", notMet),
				limit("candidates_between", nil, is(3), "bracket", "", "", "unece-r117-later", "table of weights: one to three candidates between references", notMet),
			}, wetVehicleConditions("unece-r117-later")...)},
		from: 80, to: 20, gravity: 9.81, form: secondOrder, label: c1Classes, labelMinus: 0.03,
	},
	{
		Profile: programme.Profile{ID: "r117-c1-snow-brake", Version: 1, Title: "UN R117: braking on snow, C1 tyres",
			Source: programme.Source{Key: "unece-r117-02", Clause: "Annex 7"},
			Limits: []programme.Limit{
				limit("cv", nil, is(6), "stint", "control", "%", "unece-r117-02", "Annex 7, validation", discardBlock),
				limit("cv", nil, is(6), "stint", "candidate", "%", "unece-r117-02", "Annex 7, validation", discardTyre),
				limit("reference_shift", nil, is(5), "bracket", "control", "%", "unece-r117-02", "Annex 7, validation", discardBetween),
				limit("runs", is(6), nil, "stint", "", "", "unece-r117-02", "Annex 7: at least 6 repetitions", notMet),
				limit("candidates_between", nil, is(3), "bracket", "", "", "unece-r117-02", "Annex 7, table 1", notMet),
			}},
		form: ratioOnly,
	},
}

// Profiles gives the regulation profiles, editions side by side.
func Profiles() []programme.Profile {
	var out []programme.Profile
	for i := range regulations {
		out = append(out, regulations[i].Profile)
	}
	return out
}

func (p *Asked) regulation() *regulation {
	for i := range regulations {
		if regulations[i].ID == p.ID {
			return &regulations[i]
		}
	}
	return nil
}

// Limits gives the limits of the edition.
func (p *Asked) Limits() []programme.Limit { return p.regulation().Limits }

// Complete fills in what is left out and refuses what the edition does not have.
func (p Asked) Complete() (Asked, error) {
	reg := p.regulation()
	if reg == nil {
		return p, fault.New(fault.NotFound, "there is no profile %q", p.ID).WithHint("the profiles are %s", strings.Join(ids(), ", "))
	}
	if p.Value == "" {
		p.Value = Deceleration
		if reg.form != ratioOnly && reg.gravity == 0 {
			p.Value = Coefficient
		}
	}
	if !slices.Contains([]Quantity{Distance, Deceleration, Coefficient}, p.Value) {
		return p, fault.New(fault.Invalid, "profile value: %q is no choice", p.Value).WithHint("choose one of: %s, %s, %s", Distance, Deceleration, Coefficient)
	}
	switch {
	case p.Value == Distance && reg.from == 0:
		return p, fault.New(fault.Invalid, "profile %s has no window of speed for distances", p.ID).WithHint("give decelerations or coefficients")
	case p.Value == Deceleration && reg.form != ratioOnly && reg.gravity == 0:
		return p, fault.New(fault.Invalid, "profile %s compares coefficients of braking force", p.ID).WithHint("give coefficients")
	}
	for _, code := range keys(p.Categories) {
		c := p.Categories[code]
		switch reg.form {
		case firstOrder:
			if _, ok := reg.rows[c]; !ok {
				return p, fault.New(fault.Invalid, "code %s: profile %s has no category %q", code, p.ID, c).WithHint("choose normal or snow")
			}
		case secondOrder:
			if _, ok := p.Table[c]; !ok {
				return p, fault.New(fault.Invalid, "code %s: the table of coefficients has no category %q", code, c).WithHint("it has: %s", strings.Join(keys(p.Table), ", "))
			}
		}
	}
	for _, code := range keys(p.SurfaceC) {
		if !finite(p.SurfaceC[code]) {
			return p, fault.New(fault.Invalid, "code %s: the surface temperature is not finite", code)
		}
	}
	if reg.form == secondOrder {
		if len(p.Table) == 0 {
			return p, fault.New(fault.Unsupported, "profile %s needs its table of coefficients, which bookend does not hold", p.ID).
				WithHint("give the rows of the edition that you test to, with their source")
		}
		for _, c := range keys(p.Table) {
			t := p.Table[c]
			if strings.TrimSpace(t.Source) == "" {
				return p, fault.New(fault.Invalid, "the coefficients for category %q have no source", c).WithHint("say which edition and table they are from")
			}
			for _, v := range []float64{t.K, t.A, t.B, t.C, t.D, t.T0, t.R0} {
				if !finite(v) {
					return p, fault.New(fault.Invalid, "the coefficients for category %q are not all finite", c)
				}
			}
			if t.K <= 0 || t.R0 <= 0 {
				return p, fault.New(fault.Invalid, "the coefficients for category %q need K and R0 above 0", c)
			}
		}
	}
	return p, nil
}

func keys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// Spelled spells the settings out.
func (p *Asked) Spelled() []Spelled {
	reg := p.regulation()
	out := []Spelled{
		{"profile", p.ID + "/" + strconv.Itoa(reg.Version), false, reg.Source},
		{"profile_value", string(p.Value), false, own("what the values are")},
	}
	if reg.from > 0 {
		out = append(out, Spelled{"profile_window_kmh", unit.Shortest(reg.from) + " to " + unit.Shortest(reg.to), true, programme.Source{Key: reg.Source.Key, Clause: "Annex 5: evaluation window"}})
	}
	if reg.gravity > 0 {
		out = append(out, Spelled{"profile_gravity_mps2", unit.Shortest(reg.gravity), true, programme.Source{Key: reg.Source.Key, Clause: "Annex 5: g = 9.81 m/s² (from memory, sure)"}})
	}
	for _, code := range keys(p.Categories) {
		out = append(out, Spelled{"profile_category " + code, p.Categories[code], false, own("the client's")})
	}
	for _, code := range keys(p.SurfaceC) {
		out = append(out, Spelled{"profile_surface_temperature_degc " + code, unit.Shortest(p.SurfaceC[code]), false, own("as typed")})
	}
	for _, c := range keys(p.Table) {
		t := p.Table[c]
		out = append(out, Spelled{"profile_coefficients " + c, fmt.Sprintf("K %g, a %g, b %g, c %g, d %g, t0 %g, r0 %g", t.K, t.A, t.B, t.C, t.D, t.T0, t.R0), false, own(t.Source)})
	}
	return out
}

// Transform gives what the profile compares from a value: the mean deceleration
// over the window from a distance, so that it is decelerations that are
// averaged and weighted, never distances.
func (p *Asked) Transform(v float64) (float64, *fault.Error) {
	reg := p.regulation()
	switch {
	case p.Value == Distance:
		if v <= 0 {
			return 0, fault.New(fault.Invalid, "a distance of %v m gives no deceleration", v).WithHint("distances are above 0")
		}
		from, to := reg.from/3.6, reg.to/3.6
		return math.Abs(to*to-from*from) / (2 * v), nil
	case p.Value == Coefficient && reg.gravity > 0:
		return v * reg.gravity, nil
	}
	return v, nil
}

// Compared gives the measure that a profile compares.
func (p *Asked) Compared(m programme.Measure) programme.Measure {
	reg := p.regulation()
	m.Better, m.Scale, m.Target = programme.Higher, programme.Ratio, nil
	if p.Value == Distance || p.Value == Coefficient && reg.gravity > 0 {
		m.Unit, m.Shown, m.Digits = "m/s²", "", 3
	}
	return m
}
