package groundbook

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/bookend/app/origin"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	walk "example.org/bookend/stat/drift"
	"example.org/bookend/stat/pool"
	"example.org/bookend/table"
	"example.org/bookend/unit"
)

// History is a file of control stints of earlier programmes: columns programme,
// position and value, and block where there are days or drivers.
type History struct {
	Name string // for messages
	Data []byte
}

// History gives the control stints of one key of the ground's record as a history. Values
// stand in the measure's unit.
func (k KeyedStints) History() *History {
	var b strings.Builder
	b.WriteString("programme,block,position,value\n")
	for _, s := range k.Stints {
		quoted := func(text string) string { return `"` + strings.ReplaceAll(text, `"`, `""`) + `"` }
		fmt.Fprintf(&b, "%s,%s,%s,%s\n", quoted(s.Programme), quoted(s.Block), unit.Shortest(s.Position), unit.Shortest(s.Value))
	}
	return &History{Name: "of the ground, " + k.Key.String(), Data: []byte(b.String())}
}

// Record reads the history into a record of one measure; empty: the table's only
// one. The unit of its values has to be that of the comparison, an SI symbol; a
// history or a comparison that states none is taken as it is.
func (h *History) Record(measure, symbol string) (*compare.Record, origin.Hashed, error) {
	sum := sha256.Sum256(h.Data)
	hashed := origin.Hashed{Name: h.Name, SHA256: hex.EncodeToString(sum[:])}
	t, err := table.Read(bytes.NewReader(h.Data), table.Options{Name: h.Name, Columns: map[string]string{"code": "programme"}, EachRowAStint: true})
	if err != nil {
		return nil, hashed, err
	}
	if !slices.ContainsFunc(t.Columns, func(c string) bool { return c == "position" || c == "Position" }) {
		return nil, hashed, fault.New(fault.Invalid, "there is no column position").At("%s:1", h.Name).
			WithHint("the columns of a history are programme, position, value, and block where there are days or drivers")
	}
	if t.Unit != "" && symbol != "" && t.Unit != symbol {
		return nil, hashed, fault.New(fault.Invalid, "the history's values are in %s, those compared in %s", t.Unit, symbol).At("%s", h.Name).
			WithHint("a record holds the same measure")
	}
	if len(t.Measures) > 1 && !slices.Contains(t.Measures, measure) {
		return nil, hashed, fault.New(fault.NotFound, "the history has no measure %s", measure).At("%s", h.Name).WithHint("it has: %s", strings.Join(t.Measures, ", "))
	}
	if len(t.Measures) == 1 {
		measure = t.Measures[0]
	}
	out := &compare.Record{Name: h.Name}
	stints := map[string]int{}
	for i, s := range t.Log.Stints {
		stints[s.ID] = i
	}
	runs := map[string]string{}
	for _, r := range t.Log.Runs {
		runs[r.ID] = r.Stint
	}
	left := map[string]bool{}
	for _, x := range t.Log.Exclusions {
		left[x.Run] = true
	}
	for _, o := range t.Log.Observations {
		if o.Measure != measure || left[o.Run] {
			continue
		}
		s := t.Log.Stints[stints[runs[o.Run]]]
		out.Rows = append(out.Rows, compare.RecordRow{Programme: s.Code, Block: s.Block, Position: s.Position, Value: o.Value, Line: s.Line})
	}
	return out, hashed, nil
}

// Scatter pools the control sequences of a history about their own mean and
// straight line, and takes the control's random walk from them where they tell.
func (h *History) Scatter(scale programme.Scale, symbol string) (*programme.Scatter, origin.Hashed, error) {
	rec, hashed, err := h.Record("", symbol)
	if err != nil {
		return nil, hashed, err
	}
	at := map[string]int{}
	var all []walk.Sequence
	for _, r := range rec.Rows {
		key := r.Programme + "\x00" + r.Block
		i, ok := at[key]
		if !ok {
			i = len(all)
			at[key] = i
			all = append(all, walk.Sequence{})
		}
		v := r.Value
		if scale == programme.Ratio {
			if !(v > 0) {
				return nil, hashed, fault.New(fault.Invalid, "the value %v is not above 0 and has no ratio", v).At("%s:%d", h.Name, r.Line).WithHint("--scale difference")
			}
			v = math.Log(v)
		}
		all[i].At, all[i].Value = append(all[i].At, r.Position), append(all[i].Value, v)
	}
	sum, df, programmes := 0.0, 0.0, 0
	for i, s := range all {
		if len(s.At) < 3 { // nothing is left beside mean and line
			continue
		}
		c, err := pool.FromSequence(fmt.Sprint(i), s, 1)
		if err != nil {
			return nil, hashed, fault.At(err, "%s", h.Name)
		}
		sum += c.Variance * c.DF
		df += c.DF
		programmes++
	}
	if !(df > 0) || !(sum > 0) {
		return nil, hashed, fault.New(fault.Invalid, "the history has no control sequence that leaves anything beside its own mean and drift").At("%s", h.Name).
			WithHint("three control stints a programme at least")
	}
	out := &programme.Scatter{StintSD: math.Sqrt(sum / df), StintDF: df, FromText: fmt.Sprintf("the history %s: %d control sequences", h.Name, programmes)}
	if w, err := walk.FitWalk(all, 1, 0.95); err == nil && w.Step > 0 {
		out.DriftSD = math.Sqrt(w.Step)
	}
	return out, hashed, nil
}
