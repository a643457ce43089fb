// Package register looks a tyre register through: what was driven, on which axle, how
// worn and how old, and which sets are no longer alike.
//
// Tables are typed by people: every cell that cannot be read is refused by its line.
// Columns name their units (tread_mm, mass_kg); inside, lengths are in m.
package register

import (
	"encoding/csv"
	"errors"
	"io"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/tyre"
	"example.org/bookend/tyre/sets"
	"example.org/bookend/unit"
)

// Request asks what is known of sets. Register is a table with a row for each
// time that a tyre was looked at: set, position, and what was seen of code, size,
// date_code, at, tread_mm (grooves divided by "/", places by blanks), hardness
// (readings in Shore A divided by blanks), hardness_degc, hardness_delay_s, mass_kg,
// width_mm, diameter_mm; break_in_km, break_in_cycles and break_in_rest_h once a
// set. Uses has a row for each time that a set was driven: set, at, and of test,
// stint, driver, runs, km, hot (yes or no).
type Request struct {
	Register, Uses Named
	Day            time.Time // on which the sets are judged
	Limits         sets.Limits
}

// Named is the bytes of a file.
type Named struct {
	Name string
	Data []byte
}

// Answer is the sets of a register, in the order of the register.
type Answer struct {
	Inputs []origin.Hashed
	Sets   []*sets.Set
	Day    time.Time
	Flags  []caveat.List // of each set
}

// Sets reads a register of sets and what they were used for.
func Sets(q Request) (*Answer, error) {
	a := &Answer{Day: q.Day}
	rows, err := q.Register.rows("set", "position")
	if err != nil {
		return nil, err
	}
	a.Inputs = append(a.Inputs, q.Register.hashed())
	for _, r := range rows {
		if err := a.look(r); err != nil {
			return nil, err
		}
	}
	if len(q.Uses.Data) > 0 {
		if rows, err = q.Uses.rows("set", "at"); err != nil {
			return nil, err
		}
		a.Inputs = append(a.Inputs, q.Uses.hashed())
		for _, r := range rows {
			if err := a.use(r); err != nil {
				return nil, err
			}
		}
	}
	for _, s := range a.Sets {
		sort.SliceStable(s.Uses, func(i, j int) bool { return s.Uses[i].At.Before(s.Uses[j].At) })
		for i := range s.Tyres {
			looks := s.Tyres[i].Looks
			sort.SliceStable(looks, func(i, j int) bool { return looks[i].At.Before(looks[j].At) })
		}
		if err := s.Check(); err != nil {
			return nil, fault.At(err, "%s", q.Register.Name)
		}
		a.Flags = append(a.Flags, s.Flags(q.Day, q.Limits))
	}
	return a, nil
}

func (n Named) hashed() origin.Hashed {
	return origin.Hashed{Name: n.Name, SHA256: origin.HashOf(n.Data)}
}

// row is one row of a table with its place.
type row struct {
	file  string
	line  int
	cells map[string]string
}

// rows reads a table with a header; the columns named have to be there, and every
// other has to be one that is known.
func (n Named) rows(needed ...string) ([]row, error) {
	if len(n.Data) > largestRegister {
		return nil, fault.New(fault.Unsupported, "%d bytes are too many for a register of sets", len(n.Data)).At("%s", n.Name).WithHint("part it by year or by size")
	}
	r := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(n.Data), "\ufeff")))
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	head, err := r.Read()
	if err != nil {
		return nil, fault.New(fault.Invalid, "there is no head line").At("%s:1", n.Name).WithHint("columns: %s", strings.Join(needed, ", "))
	}
	for i, h := range head {
		head[i] = strings.ToLower(strings.TrimSpace(h))
		if !slices.Contains(registerColumns, head[i]) {
			return nil, fault.New(fault.Invalid, "%q is no column of a register of sets", h).At("%s:1", n.Name).WithHint("columns: %s", strings.Join(registerColumns, ", "))
		}
	}
	for _, c := range needed {
		if !slices.Contains(head, c) {
			return nil, fault.New(fault.Invalid, "there is no column %s", c).At("%s:1", n.Name).WithHint("it needs %s", strings.Join(needed, ", "))
		}
	}
	var out []row
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		line, _ := r.FieldPos(0)
		if err != nil {
			return nil, fault.New(fault.Invalid, "%w", err).At("%s:%d", n.Name, line)
		}
		if len(cells) != len(head) {
			return nil, fault.New(fault.Invalid, "the row has %d cells, the head %d", len(cells), len(head)).At("%s:%d", n.Name, line).WithHint("every row has a cell for each column, if need be an empty one")
		}
		v := row{file: n.Name, line: line, cells: map[string]string{}}
		for i, c := range cells {
			v.cells[head[i]] = strings.TrimSpace(c)
		}
		out = append(out, v)
	}
}

// largestRegister bounds a register in bytes: some hundred thousand looks.
const largestRegister = 32 << 20

// registerColumns are those of both tables.
var registerColumns = []string{
	"set", "position", "code", "size", "date_code", "at", "tread_mm", "hardness", "hardness_degc", "hardness_delay_s", "mass_kg", "width_mm", "diameter_mm",
	"break_in_km", "break_in_cycles", "break_in_rest_h", "from", "changed", "test", "stint", "driver", "runs", "km", "hot",
}

func (r row) bad(format string, args ...any) *fault.Error {
	return fault.New(fault.Invalid, format, args...).At("%s:%d", r.file, r.line)
}

// number reads a number in the unit of its column, times a factor; nil where the
// cell is empty.
func (r row) number(column string, factor float64) (*float64, error) {
	text := strings.Replace(r.cells[column], ",", ".", 1)
	if text == "" {
		return nil, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, r.bad("%s: %q is no number", column, r.cells[column])
	}
	v *= factor
	return &v, nil
}

// moments are how times are written.
var moments = []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02 15:04", "2006-01-02T15:04", time.DateOnly}

func (r row) at() (time.Time, error) {
	text := r.cells["at"]
	if text == "" {
		return time.Time{}, nil
	}
	for _, m := range moments {
		if t, err := time.Parse(m, text); err == nil {
			return t, nil
		}
	}
	return time.Time{}, r.bad("at: %q is no time", text).WithHint("for example 2026-11-25 09:30")
}

func (a *Answer) set(r row) *sets.Set {
	i := slices.IndexFunc(a.Sets, func(s *sets.Set) bool { return s.ID == r.cells["set"] })
	if i < 0 {
		return nil
	}
	return a.Sets[i]
}

// look takes a row of the register.
func (a *Answer) look(r row) error {
	s := a.set(r)
	if s == nil {
		s = &sets.Set{ID: r.cells["set"]}
		a.Sets = append(a.Sets, s)
	}
	if v := r.cells["code"]; v != "" {
		s.Code = v
	}
	if v := r.cells["from"]; v != "" {
		s.From, s.Changed = v, r.cells["changed"]
	}
	if v := r.cells["size"]; v != "" {
		size, err := tyre.ParseSize(v)
		if err != nil {
			return fault.At(err, "%s:%d", r.file, r.line)
		}
		if s.Size.WidthMM != 0 && !s.Size.Equal(size) {
			return r.bad("set %s is of the sizes %s and %s", s.ID, s.Size, size).WithHint("one size a set; staggered sizes are two sets")
		}
		s.Size = size
	}
	if err := breakIn(s, r); err != nil {
		return err
	}
	i := slices.IndexFunc(s.Tyres, func(t sets.Tyre) bool { return t.Position == r.cells["position"] })
	if i < 0 {
		i = len(s.Tyres)
		s.Tyres = append(s.Tyres, sets.Tyre{Position: r.cells["position"]})
	}
	t := &s.Tyres[i]
	if v := r.cells["date_code"]; v != "" {
		d, err := tyre.ParseDateCode(v)
		if err != nil {
			return fault.At(err, "%s:%d", r.file, r.line)
		}
		t.Code = &d
	}
	k := sets.Look{}
	var err error
	if k.At, err = r.at(); err != nil {
		return err
	}
	for _, c := range []struct {
		column string
		factor float64
		to     **float64
	}{{"hardness_degc", 1, &k.HardnessC}, {"hardness_delay_s", 1, &k.DelayS}, {"mass_kg", 1, &k.MassKg}, {"width_mm", 1e-3, &k.WidthM}, {"diameter_mm", 1e-3, &k.DiameterM}} {
		if *c.to, err = r.number(c.column, c.factor); err != nil {
			return err
		}
	}
	for _, groove := range strings.Split(r.cells["tread_mm"], "/") {
		depths, err := r.list("tread_mm", groove, 1e-3)
		if err != nil {
			return err
		}
		if len(depths) > 0 {
			k.TreadM = append(k.TreadM, depths)
		}
	}
	if k.Hardness, err = r.list("hardness", r.cells["hardness"], 1); err != nil {
		return err
	}
	t.Looks = append(t.Looks, k)
	return nil
}

func breakIn(s *sets.Set, r row) error {
	km, err := r.number("break_in_km", 1e3)
	if err != nil {
		return err
	}
	cycles, err := r.number("break_in_cycles", 1)
	if err != nil {
		return err
	}
	rest, err := r.number("break_in_rest_h", 3600)
	if err != nil {
		return err
	}
	if km == nil && cycles == nil && rest == nil {
		return nil
	}
	if s.BreakIn == nil {
		s.BreakIn = &sets.BreakIn{}
	}
	if km != nil {
		s.BreakIn.Metres = *km
	}
	if cycles != nil {
		if *cycles != math.Trunc(*cycles) || *cycles < 0 || *cycles > 1e6 {
			return r.bad("break_in_cycles: %v is no number of cycles", *cycles)
		}
		s.BreakIn.Cycles = int(*cycles)
	}
	if rest != nil {
		if *rest < 0 || *rest > 1e9 {
			return r.bad("break_in_rest_h: %v is no number of hours", *rest/3600)
		}
		s.BreakIn.Rest = time.Duration(*rest * float64(time.Second))
	}
	return nil
}

// list reads numbers divided by blanks.
func (r row) list(column, text string, factor float64) ([]float64, error) {
	var out []float64
	for _, f := range strings.Fields(text) {
		v, err := strconv.ParseFloat(strings.Replace(f, ",", ".", 1), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, r.bad("%s: %q is no number", column, f)
		}
		out = append(out, v*factor)
	}
	return out, nil
}

// use takes a row of the table of uses.
func (a *Answer) use(r row) error {
	s := a.set(r)
	if s == nil {
		return fault.New(fault.NotFound, "set %s is not in the register", r.cells["set"]).At("%s:%d", r.file, r.line).WithHint("give it a row in the register, or mend its name")
	}
	u := sets.Use{Test: r.cells["test"], Stint: r.cells["stint"], By: r.cells["driver"]}
	var err error
	if u.At, err = r.at(); err != nil {
		return err
	}
	runs, err := r.number("runs", 1)
	if err != nil {
		return err
	}
	if runs != nil {
		if *runs != math.Trunc(*runs) || math.Abs(*runs) > 1e6 {
			return r.bad("runs: %v is no whole number", *runs)
		}
		u.Runs = int(*runs)
	}
	km, err := r.number("km", 1e3)
	if err != nil {
		return err
	}
	if km != nil {
		u.Metres = *km
	}
	switch r.cells["hot"] {
	case "yes", "1", "true":
		u.Hot = true
	case "", "no", "0", "false":
	default:
		return r.bad("hot: %q is neither yes nor no", r.cells["hot"])
	}
	s.Uses = append(s.Uses, u)
	return nil
}

// Document is the JSON of a register, schema "bookend.sets/1".
type Document origin.Document[Results]

// Results is the part of the JSON that holds the sets.
type Results struct {
	Sets []SetRow `json:"sets"`
}

// SetRow is one set.
type SetRow struct {
	Set      string    `json:"set"`
	Code     string    `json:"code,omitempty"`
	Size     string    `json:"size,omitempty"`
	From     string    `json:"from,omitempty"`
	Tyres    []TyreRow `json:"tyres"`
	Uses     int       `json:"uses"`
	Runs     int       `json:"runs"`
	DrivenM  float64   `json:"driven_m"`
	Cycles   int       `json:"heat_cycles"`
	Drivers  []string  `json:"drivers"`
	Tests    []string  `json:"tests"`
	LastUsed string    `json:"last_used,omitempty"`
}

// TyreRow is what was last seen of one tyre.
type TyreRow struct {
	Position string   `json:"position"`
	DateCode string   `json:"date_code,omitempty"`
	From     string   `json:"week_begins,omitempty"`
	Years    *float64 `json:"age_years,omitempty"`
	TreadM   *float64 `json:"tread_m,omitempty"`
	LeastM   *float64 `json:"tread_least_m,omitempty"`
	WornM    *float64 `json:"worn_m,omitempty"`
	Hardness *float64 `json:"hardness_shore,omitempty"`
	MassKg   *float64 `json:"mass_kg,omitempty"`
}

// Document gives the answer in the form of its JSON.
func (a *Answer) Document() Document {
	d := Document{Schema: "bookend.sets/1", Inputs: a.Inputs, Settings: map[string]string{"day": a.Day.Format(time.DateOnly)}, Caveats: caveat.List{}}
	d.Results.Sets = []SetRow{}
	for i, s := range a.Sets {
		t := s.Totals(time.Time{})
		r := SetRow{Set: s.ID, Code: s.Code, From: s.From, Tyres: []TyreRow{}, Uses: t.Uses, Runs: t.Runs, DrivenM: t.Metres, Cycles: t.Cycles,
			Drivers: append([]string{}, t.By...), Tests: append([]string{}, t.Tests...)}
		if s.Size.WidthMM != 0 {
			r.Size = s.Size.String()
		}
		if !t.Last.IsZero() {
			r.LastUsed = t.Last.Format(time.DateOnly)
		}
		worn := s.Worn()
		for _, k := range s.Tyres {
			v := TyreRow{Position: k.Position}
			if c := k.Code; c != nil {
				first, _ := c.Days()
				years := c.YearsAt(a.Day)
				v.DateCode, v.From, v.Years = c.String(), first.Format(time.DateOnly), &years
			}
			for _, l := range k.Looks {
				if m, ok := sets.TreadOf(l.TreadM); ok {
					mean, least := m.Mean, m.Least
					v.TreadM, v.LeastM = &mean, &least
				}
				if h, _, ok := sets.Hardness(l.Hardness); ok {
					v.Hardness = &h
				}
				if l.MassKg != nil {
					v.MassKg = l.MassKg
				}
			}
			if w, ok := worn[k.Position]; ok {
				v.WornM = &w
			}
			r.Tyres = append(r.Tyres, v)
		}
		d.Results.Sets = append(d.Results.Sets, r)
		d.Caveats = append(d.Caveats, a.Flags[i]...)
	}
	return d
}

// Millimetres prints a depth of tread in m as people read it.
func Millimetres(m *float64) string {
	if m == nil {
		return "-"
	}
	return unit.Number(*m*1e3, 1, unit.Plain)
}
