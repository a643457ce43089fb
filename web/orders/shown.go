package orders

import (
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strings"

	"example.org/bookend/app/ordered"
	"example.org/bookend/app/ordering"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
	"example.org/bookend/order/fitment"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
	"example.org/bookend/web/orders/typed"
)

// Row is one stint of the table.
type Row struct {
	At                          int // place in the sequence with its "/", from 0
	Stint                       int
	Block                       int
	Code, Set                   string
	Fit, Drive, Run, End, Free  string
	Earlier, Later              string // addresses that ask for it there; empty: it cannot go there
	EarlierSpeaks, LaterSpeaks  string
	First, Control, BlockBegins bool
}

// Doubt is how well a candidate is told from the control, in variances of a stint
// mean.
type Doubt struct {
	Code  string
	Free  string
	Under [4]string
}

// Shown is an answer as the page prints it.
type Shown struct {
	Title, Below string
	Rows         []Row
	Blocks       bool
	Timed, Sets  bool
	Doubts       []Doubt
	Says         []string // what it can decide, and what else would do
	Own          []string // the price of one's own order; nil: the drawn one is shown
	Sequence     string   // as it is shown, blocks divided by "/"
	Uses         []Carried
	Speed        string // that the test may reach
	OwnCodes     string // as it is asked for
	Wear         []Worn
	Light        string
	Caveats      []string
	Drawing      template.HTML
}

// Worn is what a set loses.
type Worn struct {
	Set          string
	Stints, Runs int
	Worn, Left   string // mm
}

// Carried is how much of what a size carries is used.
type Carried struct {
	Size, Axle, Load, May, Top string
	Room                       string // share of what it may carry that is used, in %
}

// Sequence gives codes with "/" between blocks.
func Sequence(a *ordering.Answer) []string {
	var out []string
	block := 0
	for _, s := range a.Plan.Sequence {
		if block != 0 && s.Block != block {
			out = append(out, "/")
		}
		block = s.Block
		out = append(out, s.Code)
	}
	return out
}

// Show prints an answer. q is how it was asked for.
func Show(a *ordering.Answer, q url.Values, style unit.Style) *Shown {
	d := a.Document()
	r := d.Results
	n := func(x float64) string { return unit.Number(x, 2, style) }
	plan := a.Plan.Request
	out := &Shown{Blocks: plan.Blocks > 1, Timed: plan.Times != nil, Sets: plan.Wear != nil && a.Own == nil}
	sequence := Sequence(a)
	codes := sequence
	score := a.Plan.Score.Candidates
	if a.Own != nil {
		codes, score = typed.Codes(q.Get("own")), a.Own.Candidates
		out.OwnCodes = strings.Join(codes, " ")
	}
	fits := len(codes) == len(sequence)
	i := 0
	block := 1
	for at, c := range codes {
		if c == "/" {
			block++
			continue
		}
		row := Row{At: at, Stint: i + 1, Block: block, Code: c, First: i == 0, Control: c == plan.Control, BlockBegins: at > 0 && codes[at-1] == "/"}
		if i < len(r.Sequence) && fits && r.Sequence[i].Block == block {
			s := r.Sequence[i]
			row.Fit, row.Drive, row.Run, row.End, row.Free = s.Fit, s.Drive, s.Run, s.End, s.Free
			if a.Own == nil {
				row.Set = s.Set
			}
		}
		row.Earlier, row.EarlierSpeaks = moved(q, codes, at, -1), fmt.Sprintf("stint %d, %s, one place earlier", i+1, c)
		row.Later, row.LaterSpeaks = moved(q, codes, at, +1), fmt.Sprintf("stint %d, %s, one place later", i+1, c)
		out.Rows = append(out.Rows, row)
		i++
	}
	for _, c := range score {
		x := Doubt{Code: c.Code, Free: n(c.Free)}
		for m := range c.Under {
			x.Under[m] = n(c.Under[m]) + " (" + n(c.Best[m]) + ")"
		}
		out.Doubts = append(out.Doubts, x)
	}
	out.Sequence = strings.Join(codes, " ")
	out.carried(plan.Fitment, style)
	for _, u := range r.Wear {
		out.Wear = append(out.Wear, Worn{u.Set, u.Stints, u.Runs, n(1e3 * u.WornM), n(1e3 * u.LeftM)})
	}
	if l := r.Daylight; l != nil {
		out.Light = fmt.Sprintf("Daylight from %s to %s: sunrise and sunset at %s.", l.From, l.To, d.Settings["daylight_at"])
	}
	for _, c := range d.Caveats {
		out.Caveats = append(out.Caveats, c.Text)
	}
	out.say(a, &r, style)
	out.Drawing = Draw(out.Rows, plan.Control, a.Plan.Sequence, plan.Times != nil)
	return out
}

// carried says what sizes carry of what the test asks.
func (out *Shown) carried(f *order.Fitment, style unit.Style) {
	if f == nil {
		return
	}
	speed := func(mps float64) string {
		u := style.Of(unit.KilometrePerHour)
		return unit.Number(u.FromHouse(mps), 0, style) + " " + u.Symbol()
	}
	out.Speed = speed(f.Duty.SpeedMps)
	for _, u := range fitment.Uses(f) {
		c := Carried{Size: u.Size, Axle: u.Axle, Top: "not marked", May: "not marked"}
		if u.TopMps > 0 {
			c.Top = speed(u.TopMps)
		}
		if u.MayKg > 0 {
			c.May = unit.Number(u.MayKg, 0, style)
		}
		if u.LoadKg > 0 {
			c.Load = unit.Number(u.LoadKg, 0, style)
			if u.MayKg > 0 && !u.Doubted {
				c.Room = unit.Number(100*u.LoadKg/u.MayKg, 0, style)
			}
		}
		out.Uses = append(out.Uses, c)
	}
}

// moved gives the address that asks for the order with one stint one place on.
func moved(q url.Values, codes []string, at, by int) string {
	to := at + by
	if to < 0 || to >= len(codes) || codes[to] == "/" || codes[to] == codes[at] {
		return ""
	}
	next := slices.Clone(codes)
	next[at], next[to] = next[to], next[at]
	k := Kept(q)
	k.Set("own", strings.Join(next, " "))
	return "?" + k.Encode() + "#driven"
}

// say puts the answer into words.
func (out *Shown) say(a *ordering.Answer, r *ordered.Results, style unit.Style) {
	q := a.Plan.Request
	n := func(x float64) string { return unit.Number(x, 2, style) }
	shows := func(d *ordered.Detectable) string {
		switch {
		case d == nil:
			return "shows nothing: no degrees of freedom"
		case d.Value == nil:
			return fmt.Sprintf("shows %s standard deviations of a stint mean", n(d.SD))
		}
		return fmt.Sprintf("shows %s %s", n(*d.Value), a.ShownUnit())
	}
	out.Title = fmt.Sprintf("%s in this order", form.Sentence(unit.Count(len(a.Plan.Sequence), "stint")))
	if last := a.Plan.Sequence[len(a.Plan.Sequence)-1].Slot; last != nil && q.Blocks <= 1 {
		out.Title = fmt.Sprintf("%s, over at %s,", form.Sentence(unit.Count(len(a.Plan.Sequence), "stint")), day.Clock(last.FreeS))
	}
	d := r.Detectable
	criterion, own := r.Criterion, ""
	if r.Own != nil {
		d, criterion, own = r.Own.Detectable, r.Own.Criterion, "your own order "
	}
	switch {
	case d == nil:
		out.Title += " leave nothing to judge by: no degrees of freedom"
	case d.Value == nil:
		out.Title += fmt.Sprintf(" show what differs by %s standard deviations of a stint mean", n(d.SD))
	default:
		out.Title += fmt.Sprintf(" show what differs by %s %s", n(*d.Value), a.ShownUnit())
	}
	how := fmt.Sprintf("the best of %d that were tried", r.Best.Tried)
	if r.Best.Proven {
		how = fmt.Sprintf("the best there is, all %d tried", r.Best.Tried)
	}
	out.Below = fmt.Sprintf("%d of them the control %s. Power %s %%, confidence %s %% for all candidates together, correction %s.", q.ControlStints, q.Control,
		unit.Number(100*q.Test.Power, 0, style), unit.Number(100*q.Test.Confidence, 0, style), q.Correction)
	out.Says = append(out.Says, fmt.Sprintf("Criterion of %sthis order %s; %s has %s (%s). %s within 2 %% of it: one was drawn by seed %d.", map[bool]string{true: "your own, ", false: ""}[own != ""],
		n(criterion), strings.Join(r.Best.Sequence, " "), n(r.Best.Criterion), how, form.Sentence(unit.Count(r.Best.Near, "order"))+" "+map[bool]string{true: "is", false: "are"}[r.Best.Near == 1], q.Seed))
	if d != nil && d.Walk != nil {
		out.Says = append(out.Says, fmt.Sprintf("Where drift is a random walk: %s %s.", n(*d.Walk), a.ShownUnit()))
	}
	if d != nil && d.Record != nil {
		out.Says = append(out.Says, fmt.Sprintf("With the scatter of the record beside its own: %s %s.", n(*d.Record), a.ShownUnit()))
	}
	for _, o := range []struct {
		word string
		of   *ordered.Other
	}{{"One control stint more", r.More}, {"One control stint fewer", r.Fewer}} {
		switch {
		case o.of == nil:
		case o.of.Clash != "":
			out.Says = append(out.Says, fmt.Sprintf("%s: %s.", o.word, o.of.Clash))
		default:
			out.Says = append(out.Says, fmt.Sprintf("%s (%s) %s.", o.word, unit.Count(o.of.Stints, "stint"), shows(o.of.Detectable)))
		}
	}
	if x := r.Needed; x != nil {
		text := fmt.Sprintf("To show %s %s: %s of each candidate and %d of the control, %s in all, of %s.", n(a.Shown(q.Test.Wanted)), a.ShownUnit(),
			unit.Count(x.Repeats, "stint"), x.Controls, unit.Count(x.Stints, "stint"), unit.Count(x.Runs, "run"))
		if x.Sets > 0 {
			text += fmt.Sprintf(" Sets by wear: %d of each candidate, %d of the control.", x.Sets, x.ControlSets)
		}
		out.Says = append(out.Says, text)
	}
	if r.RunsNeeded > 0 {
		out.Says = append(out.Says, fmt.Sprintf("Or with this order: %s a stint.", unit.Count(r.RunsNeeded, "run")))
	}
	if s := q.Scatter; s != nil {
		text := "Scatter: " + s.FromText
		if s.StintSD > 0 && (len(a.Inputs) > 0) {
			if a.Scale == programme.Ratio {
				text += fmt.Sprintf("; stints by %s %%", unit.Number(100*s.StintSD, 2, style))
			} else {
				text += fmt.Sprintf("; stints by %s %s", n(s.StintSD), a.Unit)
			}
			text += fmt.Sprintf(" on %s degrees of freedom", unit.Number(s.StintDF, 0, style))
		}
		for _, in := range a.Inputs {
			text += fmt.Sprintf("; read from SHA-256 %.12s", in.SHA256)
		}
		out.Says = append(out.Says, text+".")
	}
	if o := r.Own; o != nil {
		out.Own = append(out.Own, fmt.Sprintf("It %s; the order drawn %s.", shows(o.Detectable), shows(r.Detectable)))
		out.Own = append(out.Own, fmt.Sprintf("Criterion %s against %s of the best there is: %s %% as good.", n(o.Criterion), n(r.Best.Criterion), unit.Number(100*o.Efficiency, 0, style)))
	}
}

// Draw lays an order along the day: posts are the control, boxes candidates as
// wide as they last; without a timetable each stint is as wide as another. One row
// a block. stints are those of the rows, with their times where timed.
func Draw(rows []Row, control string, stints []order.Stint, timed bool) template.HTML {
	const width, high = 1000.0, 96.0
	if len(rows) == 0 {
		return ""
	}
	first := rows[0]
	from, to := float64(first.Stint-1), float64(rows[len(rows)-1].Stint)
	slots := map[int]*day.Slot{}
	for _, s := range stints {
		slots[s.Position] = s.Slot
	}
	blocks := 1
	for _, r := range rows {
		blocks = max(blocks, r.Block-first.Block+1)
		timed = timed && r.Fit != "" && slots[r.Stint] != nil
	}
	if timed {
		from, to = slots[first.Stint].FitS, 0
		for _, r := range rows {
			from, to = min(from, slots[r.Stint].FitS), max(to, slots[r.Stint].FreeS)
		}
		from, to = 3600*float64(int(from/3600)), 3600*float64(int((to+3599)/3600))
	}
	x := func(v float64) float64 { return 20 + (width-40)*(v-from)/(to-from) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="drawn along" viewBox="0 0 %g %g" role="img" aria-label="The order along the day: posts are the control %s, boxes the candidates">`, width, 30+(high+26)*float64(blocks), template.HTMLEscapeString(control))
	for block := range blocks {
		base := (high+26)*float64(block) + high
		fmt.Fprintf(&b, `<path class="axis" d="M20 %g H%g"/>`, base, width-20)
		if timed {
			every := 3600.0
			if to-from <= 4*3600 {
				every = 1800
			}
			for v := from; v <= to; v += every {
				fmt.Fprintf(&b, `<path class="axis" d="M%.1f %g v6"/><text class="tick mid" x="%.1f" y="%g">%s</text>`, x(v), base, x(v), base+20, day.Clock(v))
			}
		}
		for _, r := range rows {
			if r.Block-first.Block != block {
				continue
			}
			left, right := float64(r.Stint-1)+0.1, float64(r.Stint)-0.1
			if timed {
				left, right = slots[r.Stint].DriveS, slots[r.Stint].EndS
			}
			l, w := x(left), max(8, x(right)-x(left)-2)
			fmt.Fprintf(&b, `<g data-at="%d">`, r.At)
			name := template.HTMLEscapeString(r.Code)
			if r.Control {
				fmt.Fprintf(&b, `<rect class="post" x="%.1f" y="%g" width="8" height="%g"/><text class="lab mid" x="%.1f" y="%g">%s</text></g>`, l+w/2-4, base-high+26, high-26, l+w/2, base-high+18, name)
				continue
			}
			fmt.Fprintf(&b, `<rect class="box" x="%.1f" y="%g" width="%.1f" height="44"/><text class="lab mid" x="%.1f" y="%g">%s</text></g>`, l, base-44, w, l+w/2, base-17, name)
		}
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}
