package ordering

import (
	"fmt"
	"strings"

	"example.org/bookend/app/ordered"
	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
)

// ReorderRequest asks how to go on after something went wrong.
type ReorderRequest struct {
	Plan   Request  // as planned; its times begin now
	Driven []string // codes driven; blocks divided by "/"
	Fresh  bool     // what is left begins a block of its own
	Lost   []string // codes that cannot be driven any more
	Left   map[string]int
	Reason string
}

// ReorderAnswer is how to go on.
type ReorderAnswer struct {
	Of   *Answer // what the request was completed to; no plan in it
	Rest *order.Replanned

	driven   int
	control  string
	sequence []string // driven, blocks divided by "/"
}

// Reorder plans the rest anew: what is driven is kept. It is a deviation from the
// plan, and its document is what the run log keeps of it.
func Reorder(q ReorderRequest) (*ReorderAnswer, error) {
	a := &Answer{Scale: q.Plan.Scale, Unit: q.Plan.Unit, Inputs: []origin.Hashed{}, Sun: q.Plan.Sun}
	if a.Scale == "" {
		a.Scale = "ratio"
	}
	if err := q.Plan.known(a); err != nil {
		return nil, err
	}
	if q.Plan.Sun != nil {
		light, err := q.Plan.Sun.light()
		if err != nil {
			return nil, err
		}
		a.Light = &light
		if q.Plan.Times == nil {
			return nil, fault.New(fault.Invalid, "daylight is computed for a day without a timetable").WithHint("say how long a run takes: --run-time 6min")
		}
		if q.Plan.Times.Light == nil {
			times := *q.Plan.Times
			times.Light = &light
			q.Plan.Times = &times
		}
	}
	blocks := blocksOf(q.Driven)
	driven := 0
	for _, b := range blocks {
		driven += len(b)
	}
	r, err := order.Again(order.Replan{Request: q.Plan.Request, Driven: blocks, Fresh: q.Fresh, Lost: q.Lost, Left: q.Left, Reason: q.Reason})
	if err != nil {
		return nil, err
	}
	return &ReorderAnswer{Of: a, Rest: r, driven: driven, control: q.Plan.Control, sequence: q.Driven}, nil
}

// blocksOf divides codes into blocks at "/".
func blocksOf(codes []string) [][]string {
	var out [][]string
	block := []string{}
	for _, c := range codes {
		if c == "/" {
			out, block = append(out, block), []string{}
			continue
		}
		block = append(block, c)
	}
	return append(out, block)
}

// Document gives the answer in the form of its JSON.
func (a *ReorderAnswer) Document() ordered.ReorderDocument {
	p := a.Rest
	d := ordered.ReorderDocument{Schema: "bookend.reorder/1", Inputs: a.Of.Inputs, Settings: map[string]string{"scale": string(a.Of.Scale)}, Caveats: append(caveat.List{}, p.Caveats...)}
	r := &d.Results
	r.Reason, r.After, r.Criterion, r.Proven = p.Reason, a.driven, p.Score.Criterion, p.Proven
	r.Sequence, r.Without = stintsOf(p.Rest), []ordered.Without{}
	for _, c := range p.Left {
		r.Without = append(r.Without, ordered.Without{Code: c.Code, Stints: c.Repeats})
	}
	r.Shown = a.Of.detectable(p.Score.Detectable)
	if p.Planned != nil {
		r.Planned, r.Expected = p.Planned.Criterion, a.Of.detectable(p.Planned.Detectable)
	}
	if s := a.Of.Sun; s != nil {
		d.Settings["daylight_at"] = fmt.Sprintf("%v,%v on %s", s.Latitude, s.Longitude, strings.TrimSpace(s.Day))
	}
	return d
}

func stintsOf(list []order.Stint) []ordered.Stint {
	out := []ordered.Stint{}
	for _, s := range list {
		o := ordered.Stint{Position: s.Position, Block: s.Block, Code: s.Code, Set: s.Set}
		if t := s.Slot; t != nil {
			o.Fit, o.Drive, o.Run, o.End, o.Free = day.Clock(t.FitS), day.Clock(t.DriveS), day.Clock(t.RunS), day.Clock(t.EndS), day.Clock(t.FreeS)
		}
		out = append(out, o)
	}
	return out
}
