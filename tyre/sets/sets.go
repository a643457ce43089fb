// Package sets keeps the record of a set of tyres: what each of its tyres is, how
// deep, how hard and how heavy it was when it was looked at, and who used the set
// for what and when.
//
// A set is four (or two) numbered tyres by position. A changed tyre makes a new set
// that names the old one, since what was driven before was driven on other tyres.
// Flags say what a reader must know: they refuse nothing.
//
// Sources: common practice without a source (the tread map of three or four
// grooves at two or three places, hardness as the mean of several blocks at a
// stated temperature and reading delay, break-in), ASTM D2240 for Shore A, from
// memory; each limit names its own. Units: m, kg, °C, s; hardness in Shore A.
package sets

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/tyre"
)

// Look is what was measured on one tyre at one time. What was not measured is
// empty.
type Look struct {
	At        time.Time
	TreadM    [][]float64 // depth by groove, from the outer shoulder, and place around the tyre
	Hardness  []float64   // Shore A, a reading a block
	HardnessC *float64    // temperature of the rubber at the reading
	DelayS    *float64    // from pressing to reading
	MassKg    *float64    // of the tyre, without wheel
	WidthM    *float64    // section width, inflated
	DiameterM *float64    // outer, inflated
}

// Tyre is one tyre of a set.
type Tyre struct {
	Position string // "front left"; each once in a set
	Code     *tyre.DateCode
	Looks    []Look // in the order of their times
}

// Use is one time that the set was driven.
type Use struct {
	At     time.Time
	Test   string
	Stint  string
	By     string // who drove
	Runs   int
	Metres float64
	Hot    bool // it was brought to working temperature and cooled down after: a heat cycle
}

// BreakIn is what was done before the first test.
type BreakIn struct {
	Metres float64
	Cycles int           // heat cycles
	Rest   time.Duration // after the last of them
}

// Set is a set of tyres.
type Set struct {
	ID      string
	Code    string // under which it is driven
	Size    tyre.Size
	Tyres   []Tyre
	BreakIn *BreakIn
	Uses    []Use  // in the order of their times
	From    string // set that it comes from by a changed tyre; empty: none
	Changed string // position of that tyre
}

// Totals is what a set has behind it, break-in included.
type Totals struct {
	Uses, Runs, Cycles int
	Metres             float64
	By                 []string // who drove it, in the order of first use
	Tests              []string
	First, Last        time.Time // zero without a use
}

// Totals sums the set's use up to and without a moment; a zero time sums all.
func (s *Set) Totals(before time.Time) Totals {
	var t Totals
	if s.BreakIn != nil {
		t.Metres, t.Cycles = s.BreakIn.Metres, s.BreakIn.Cycles
	}
	for _, u := range s.Uses {
		if !before.IsZero() && !u.At.Before(before) {
			continue
		}
		t.Uses++
		t.Runs += u.Runs
		t.Metres += u.Metres
		if u.Hot {
			t.Cycles++
		}
		if u.By != "" && !slices.Contains(t.By, u.By) {
			t.By = append(t.By, u.By)
		}
		if u.Test != "" && !slices.Contains(t.Tests, u.Test) {
			t.Tests = append(t.Tests, u.Test)
		}
		if t.First.IsZero() || u.At.Before(t.First) {
			t.First = u.At
		}
		if u.At.After(t.Last) {
			t.Last = u.At
		}
	}
	return t
}

// Tread is a tyre's tread map summed up. Depths in m.
type Tread struct {
	Mean    float64
	Least   float64
	Grooves []float64 // mean of each, from the outer shoulder
	Across  float64   // largest less smallest groove mean: uneven across
	Around  float64   // largest spread of one groove around the tyre: flat spot
	Points  int
}

// TreadOf sums a tread map up; ok is false where there is none.
func TreadOf(depths [][]float64) (t Tread, ok bool) {
	t.Least = math.Inf(1)
	for _, groove := range depths {
		if len(groove) == 0 {
			continue
		}
		mean := 0.0
		for _, d := range groove {
			mean += d / float64(len(groove))
			t.Mean += d
			t.Least = min(t.Least, d)
			t.Points++
		}
		t.Grooves = append(t.Grooves, mean)
		t.Around = max(t.Around, slices.Max(groove)-slices.Min(groove))
	}
	if t.Points == 0 {
		return Tread{}, false
	}
	t.Mean /= float64(t.Points)
	t.Across = slices.Max(t.Grooves) - slices.Min(t.Grooves)
	return t, true
}

// Hardness gives mean and spread (largest less smallest) of readings in Shore A.
func Hardness(readings []float64) (mean, spread float64, ok bool) {
	if len(readings) == 0 {
		return 0, 0, false
	}
	for _, v := range readings {
		mean += v / float64(len(readings))
	}
	return mean, slices.Max(readings) - slices.Min(readings), true
}

// Worn gives by how much each tyre's mean tread fell from its first look to its
// last, by position; tyres with fewer than two tread maps are left out.
func (s *Set) Worn() map[string]float64 {
	out := map[string]float64{}
	for _, t := range s.Tyres {
		first, last, n := 0.0, 0.0, 0
		for _, l := range t.Looks {
			if m, ok := TreadOf(l.TreadM); ok {
				if n == 0 {
					first = m.Mean
				}
				last = m.Mean
				n++
			}
		}
		if n > 1 {
			out[t.Position] = first - last
		}
	}
	return out
}

// Check refuses what is no record.
func (s *Set) Check() error {
	bad := func(format string, args ...any) *fault.Error {
		return fault.New(fault.Invalid, format, args...).At("set %s", s.ID)
	}
	if strings.TrimSpace(s.ID) == "" {
		return fault.New(fault.Invalid, "a set has no id").WithHint("give each set its own, for example P1")
	}
	seen := map[string]bool{}
	for _, t := range s.Tyres {
		if strings.TrimSpace(t.Position) == "" || seen[t.Position] {
			return bad("two tyres stand at the position %q", t.Position).WithHint("each position once: front left, front right, rear left, rear right")
		}
		seen[t.Position] = true
		for i, l := range t.Looks {
			if i > 0 && l.At.Before(t.Looks[i-1].At) {
				return bad("the looks at the %s tyre are not in the order of their times", t.Position)
			}
			for _, groove := range l.TreadM {
				for _, d := range groove {
					if !(d >= 0) || d > mostTread {
						return bad("the %s tyre has a tread of %v m", t.Position, d).WithHint("depths are 0 to %g m", mostTread)
					}
				}
			}
			for _, v := range l.Hardness {
				if !(v >= 0 && v <= 100) {
					return bad("the %s tyre has a hardness of %v Shore A", t.Position, v).WithHint("0 to 100")
				}
			}
			for _, v := range []*float64{l.MassKg, l.WidthM, l.DiameterM} {
				if v != nil && (!(*v > 0) || math.IsInf(*v, 0)) {
					return bad("a figure of the %s tyre is %v", t.Position, *v).WithHint("above 0")
				}
			}
			for _, v := range []*float64{l.HardnessC, l.DelayS} {
				if v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
					return bad("a figure of the %s tyre is %v", t.Position, *v)
				}
			}
		}
	}
	for i, u := range s.Uses {
		if u.Runs < 0 || !(u.Metres >= 0) || math.IsInf(u.Metres, 0) {
			return bad("use %d has %d runs over %v m", i+1, u.Runs, u.Metres).WithHint("0 or more")
		}
		if i > 0 && u.At.Before(s.Uses[i-1].At) {
			return bad("the uses are not in the order of their times")
		}
	}
	if b := s.BreakIn; b != nil && (!(b.Metres >= 0) || math.IsInf(b.Metres, 0) || b.Cycles < 0 || b.Rest < 0) {
		return bad("the break-in is %v m and %d heat cycles", b.Metres, b.Cycles).WithHint("0 or more")
	}
	return nil
}

// mostTread bounds a tread depth in m: truck tyres have some 25 mm.
const mostTread = 0.03

// Change gives the set that comes of changing the tyre at a position: a new set
// that names the old one, with a use of its own from now on.
func (s *Set) Change(position string, t Tyre, id string) (*Set, error) {
	if strings.TrimSpace(id) == "" || id == s.ID {
		return nil, fault.New(fault.Invalid, "a changed tyre makes a new set, and it has no id of its own").At("set %s", s.ID).WithHint("for example %s-2", s.ID)
	}
	at := slices.IndexFunc(s.Tyres, func(o Tyre) bool { return o.Position == position })
	if at < 0 {
		return nil, fault.New(fault.NotFound, "there is no tyre at the position %q", position).At("set %s", s.ID)
	}
	out := &Set{ID: id, Code: s.Code, Size: s.Size, Tyres: slices.Clone(s.Tyres), From: s.ID, Changed: position}
	t.Position = position
	out.Tyres[at] = t
	return out, out.Check()
}

// Limits are those that flags go by.
type Limits struct {
	OldYears  float64       // age of a tyre
	LeastM    float64       // tread
	AcrossM   float64       // between grooves of a tyre
	AroundM   float64       // around one groove
	BetweenM  float64       // between tyres of one axle
	Hardness  float64       // Shore A, between tyres of the set
	MassShare float64       // between tyres of one size, of their mean
	BreakInM  float64       // driven before the first test
	Cycles    int           // heat cycles before the first test
	Rest      time.Duration // after them
}

// DefaultLimits are common practice without a source where none is named.
var DefaultLimits = Limits{
	OldYears:  tyre.OldYears, // ISO 15037-1, from memory
	LeastM:    1.6e-3,        // legal minimum of many countries, from memory: below it no comparison is of a tyre in use
	AcrossM:   1e-3,          // common practice
	AroundM:   0.5e-3,        // common practice
	BetweenM:  0.5e-3,        // common practice; a limit-handling session costs 0.1 to 0.5 mm
	Hardness:  3,             // common practice: readings scatter by 1 to 2 points
	MassShare: 0.03,          // bookend's own
	BreakInM:  50e3,          // common practice: 50 to 150 km on the road, or laps and rest
	Cycles:    1,             // common practice: two or three laps
	Rest:      24 * time.Hour,
}

// Flags says what is to be known of a set on a day.
func (s *Set) Flags(day time.Time, l Limits) caveat.List {
	var list caveat.List
	place := caveat.Place{Code: s.Code}
	add := func(code, format string, args ...any) {
		list.Add(code, place, "Set %s: %s", s.ID, fmt.Sprintf(format, args...))
	}
	var codes []tyre.DateCode
	for _, t := range s.Tyres {
		if t.Code != nil {
			codes = append(codes, *t.Code)
		}
	}
	for _, c := range tyre.DateFlags(codes, day, l.OldYears) {
		c.Place = place
		list = append(list, c)
	}
	if n := len(s.Tyres); n > 0 && len(codes) > 0 && len(codes) < n {
		add("date_codes_missing", "%d of its %d tyres have no date code noted.", n-len(codes), n)
	}
	s.treadFlags(l, add)
	s.hardnessFlags(l, add)
	s.otherFlags(l, add)
	return list.Distinct()
}

// axle gives the first word of a position, which names the axle.
func axle(position string) string {
	first, _, _ := strings.Cut(position, " ")
	return first
}

// last gives the newest look of a tyre for which has is true.
func (t *Tyre) last(has func(*Look) bool) *Look {
	for i := len(t.Looks) - 1; i >= 0; i-- {
		if has(&t.Looks[i]) {
			return &t.Looks[i]
		}
	}
	return nil
}

func (s *Set) treadFlags(l Limits, add func(code, format string, args ...any)) {
	least, most := map[string]float64{}, map[string]float64{}
	var axles []string
	for i := range s.Tyres {
		t := &s.Tyres[i]
		k := t.last(func(k *Look) bool { _, ok := TreadOf(k.TreadM); return ok })
		if k == nil {
			add("no_tread", "the %s tyre's tread is not measured.", t.Position)
			continue
		}
		m, _ := TreadOf(k.TreadM)
		if m.Least < l.LeastM {
			add("tread_below_limit", "the %s tyre has %.1f mm of tread left in one place, less than %.1f mm.", t.Position, m.Least*1e3, l.LeastM*1e3)
		}
		if m.Across > l.AcrossM {
			add("uneven_across", "the %s tyre's grooves differ by %.1f mm across, more than %.1f mm.", t.Position, m.Across*1e3, l.AcrossM*1e3)
		}
		if m.Around > l.AroundM {
			add("uneven_around", "the %s tyre's tread differs by %.1f mm around, more than %.1f mm: a flat spot.", t.Position, m.Around*1e3, l.AroundM*1e3)
		}
		if m.Points < 6 {
			add("sparse_tread_map", "the %s tyre's tread map has %d points; three grooves at two places make six.", t.Position, m.Points)
		}
		a := axle(t.Position)
		if _, ok := least[a]; !ok {
			axles = append(axles, a)
			least[a], most[a] = m.Mean, m.Mean
		}
		least[a], most[a] = min(least[a], m.Mean), max(most[a], m.Mean)
	}
	for _, a := range axles {
		if d := most[a] - least[a]; d > l.BetweenM {
			add("uneven_axle", "the %s tyres' treads differ by %.1f mm, more than %.1f mm.", a, d*1e3, l.BetweenM*1e3)
		}
	}
}

func (s *Set) hardnessFlags(l Limits, add func(code, format string, args ...any)) {
	low, high, n := math.Inf(1), math.Inf(-1), 0
	var how *Look
	for i := range s.Tyres {
		t := &s.Tyres[i]
		k := t.last(func(k *Look) bool { return len(k.Hardness) > 0 })
		if k == nil {
			continue
		}
		n++
		if k.HardnessC == nil || k.DelayS == nil {
			add("hardness_not_stated", "the %s tyre's hardness stands without its temperature or reading delay.", t.Position)
		} else if how != nil && how.HardnessC != nil && how.DelayS != nil && (math.Abs(*how.HardnessC-*k.HardnessC) > 5 || *how.DelayS != *k.DelayS) {
			add("hardness_not_comparable", "the %s tyre's hardness was read at %.0f °C after %g s, another's at %.0f °C after %g s.", t.Position, *k.HardnessC, *k.DelayS, *how.HardnessC, *how.DelayS)
		}
		how = k
		mean, _, _ := Hardness(k.Hardness)
		low, high = min(low, mean), max(high, mean)
	}
	if n > 1 && high-low > l.Hardness {
		add("hardness_differs", "its tyres differ by %.1f points Shore A, more than %g.", high-low, l.Hardness)
	}
}

func (s *Set) otherFlags(l Limits, add func(code, format string, args ...any)) {
	var masses []float64
	nominal, _ := s.Size.Dimensions()
	for i := range s.Tyres {
		t := &s.Tyres[i]
		if k := t.last(func(k *Look) bool { return k.MassKg != nil }); k != nil {
			masses = append(masses, *k.MassKg)
		}
		if k := t.last(func(k *Look) bool { return k.DiameterM != nil }); k != nil && nominal.Diameter > 0 {
			// A new tyre is within some 3 % of its nominal diameter; ETRTO's margins,
			// from memory.
			if d := *k.DiameterM/nominal.Diameter - 1; math.Abs(d) > 0.03 {
				add("diameter_off", "the %s tyre's diameter is %.1f %% off the nominal %.0f mm of %s.", t.Position, 100*d, nominal.Diameter*1e3, s.Size)
			}
		}
	}
	if len(masses) > 1 {
		mean := 0.0
		for _, m := range masses {
			mean += m / float64(len(masses))
		}
		if d := slices.Max(masses) - slices.Min(masses); d > l.MassShare*mean {
			add("mass_differs", "its tyres differ by %.2f kg, more than %.0f %% of their mean.", d, 100*l.MassShare)
		}
	}
	switch b := s.BreakIn; {
	case b == nil:
		add("break_in_not_told", "it is not told how it was broken in.")
	case b.Metres < l.BreakInM && b.Cycles < l.Cycles:
		add("not_broken_in", "it was broken in over %.0f km and %d heat cycles, less than %.0f km or %d.", b.Metres/1e3, b.Cycles, l.BreakInM/1e3, l.Cycles)
	case b.Cycles > 0 && b.Rest < l.Rest:
		add("short_rest", "it rested %.0f h after its break-in, less than %.0f h.", b.Rest.Hours(), l.Rest.Hours())
	}
	if s.From != "" {
		add("changed_tyre", "it comes of set %s by a changed tyre, %s: what was driven on that set is not of these tyres.", s.From, s.Changed)
	}
	if n := len(s.Tyres); n != 4 && n != 2 && n != 0 {
		add("odd_number_of_tyres", "it has %d tyres noted.", n)
	}
}
