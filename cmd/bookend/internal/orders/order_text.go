package orders

import (
	"fmt"
	"io"
	"strings"

	"example.org/bookend/app/ordered"
	"example.org/bookend/app/ordering"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/report/sheet"
	"example.org/bookend/unit"
)

// printOrder prints a planned order within 80 columns.
func printOrder(out io.Writer, a *ordering.Answer) {
	d := a.Document()
	p, r := a.Plan, d.Results
	q := p.Request
	fmt.Fprintf(out, "%s, %d of the control %s. Correction: %s. Seed %d.\n\n", unit.Count(len(p.Sequence), "stint"), q.ControlStints, q.Control, q.Correction, q.Seed)
	if q.Times == nil {
		printCodes(out, a)
	} else {
		printTimes(out, r.Sequence, q.Blocks > 1)
		if l := r.Daylight; l != nil {
			fmt.Fprintf(out, "Daylight %s to %s: sunrise and sunset at %s.\n", l.From, l.To, d.Settings["daylight_at"])
		}
	}

	fmt.Fprintln(out, "\nVariance of candidate less control, in that of a stint mean; best possible\nwith this order in brackets:")
	n := func(x float64) string { return unit.Number(x, 2, unit.Plain) }
	terminal.PrintTable(out, "code\tno drift\t"+strings.Join(drift.Models[:], "\t"), func(w io.Writer) {
		for _, c := range p.Score.Candidates {
			fmt.Fprintf(w, "%s\t%s", c.Code, n(c.Free))
			for m := range c.Under {
				fmt.Fprintf(w, "\t%s (%s)", n(c.Under[m]), n(c.Best[m]))
			}
			fmt.Fprintln(w)
		}
	})
	how := fmt.Sprintf("the best of %d that were tried", r.Best.Tried)
	if r.Best.Proven {
		how = fmt.Sprintf("the best there is, all %d tried", r.Best.Tried)
	}
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Criterion %s; %s has %s (%s). %s within 2 %% of it; one was drawn.",
		n(r.Criterion), strings.Join(r.Best.Sequence, " "), n(r.Best.Criterion), how, unit.Count(r.Best.Near, "order")), 78, ""))

	printDetectable(out, a, &r)
	if len(r.Wear) > 0 {
		fmt.Fprintln(out, "\nTread that each set loses, and what is left of its budget:")
		terminal.PrintTable(out, "set\tstints\truns\tworn, mm\tleft, mm", func(w io.Writer) {
			for _, u := range r.Wear {
				fmt.Fprintf(w, "%s\t%d\t%d\t%s\t%s\n", u.Set, u.Stints, u.Runs, n(u.WornM*1e3), n(u.LeftM*1e3))
			}
		})
	}
	if o := r.Own; o != nil {
		fmt.Fprintf(out, "\nYour own order: criterion %s, the best there is has %s of it.\n", n(o.Criterion), unit.Number(100*o.Efficiency, 0, unit.Plain)+" %")
	}
	terminal.NotesOf(d.Caveats).PrintApart(out)
	fmt.Fprintln(out, "\n"+terminal.Wrap("Limit-handling, evasive and wet tests can injure: a closed course, a qualified and briefed driver, belts and helmet, marshals and recovery in place, load and pressure within limits, stop rules agreed beforehand. The ground's rules come first.", 78, ""))
}

// printTimes prints stints with their times.
func printTimes(out io.Writer, list []ordered.Stint, blocks bool) {
	head := "stint\tset\tfit\tdrive\tfirst run\tover\tfree"
	if blocks {
		head = "day\t" + head
	}
	terminal.PrintTable(out, head, func(w io.Writer) {
		for _, s := range list {
			if blocks {
				fmt.Fprintf(w, "%d\t", s.Block)
			}
			fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\t%s\t%s\n", s.Position, s.Set, s.Fit, s.Drive, s.Run, s.End, s.Free)
		}
	})
}

// printReorder prints how to go on, within 80 columns.
func printReorder(out io.Writer, a *ordering.ReorderAnswer) {
	d := a.Document()
	r := d.Results
	fmt.Fprintf(out, "%s\n\n", terminal.Wrap(fmt.Sprintf("%s driven, %s to go.", unit.Count(r.After, "stint"), unit.Count(len(r.Sequence), "stint")), 78, ""))
	if len(r.Sequence) > 0 && r.Sequence[0].Fit != "" {
		printTimes(out, r.Sequence, false)
	} else {
		line := ""
		for _, s := range r.Sequence {
			line += s.Code + " "
		}
		fmt.Fprintln(out, terminal.Wrap(line, 78, "  "))
	}
	n := func(x float64) string { return unit.Number(x, 2, unit.Plain) }
	text := fmt.Sprintf("Criterion of the whole: %s", n(r.Criterion))
	if r.Planned > 0 {
		text += fmt.Sprintf("; as planned %s", n(r.Planned))
	}
	fmt.Fprintf(out, "\n%s.\n", text)
	shows := func(d *ordered.Detectable) string {
		if d == nil || d.Value == nil {
			return ""
		}
		return n(*d.Value) + " " + a.Of.ShownUnit()
	}
	if now := shows(r.Shown); now != "" {
		text := "The whole shows " + now
		if planned := shows(r.Expected); planned != "" {
			text += "; the plan would have shown " + planned
		}
		fmt.Fprintln(out, terminal.Wrap(text+".", 78, ""))
	}
	terminal.NotesOf(d.Caveats).Print(out)
}

// printCodes prints the sequence as codes alone, a block a line.
func printCodes(out io.Writer, a *ordering.Answer) {
	block, line := 1, ""
	flush := func() {
		if a.Plan.Request.Blocks > 1 {
			line = fmt.Sprintf("block %d: %s", block, line)
		}
		fmt.Fprintln(out, terminal.Wrap(line, 78, "  "))
		line = ""
	}
	for _, s := range a.Plan.Sequence {
		if s.Block != block {
			flush()
			block = s.Block
		}
		line += s.Set + " "
	}
	flush()
}

// printDetectable says what the order can show, what a control stint more or
// fewer would do, and what the wanted difference needs.
func printDetectable(out io.Writer, a *ordering.Answer, r *ordered.Results) {
	q := a.Plan.Request
	say := func(x *float64) string {
		if x == nil {
			return "none"
		}
		return unit.Number(*x, 2, unit.Plain) + " " + a.ShownUnit()
	}
	percent := unit.Number(100*q.Test.Power, 0, unit.Plain)
	one := func(d *ordered.Detectable) string {
		switch {
		case d == nil:
			return "shows nothing: no degrees of freedom"
		case d.Value == nil:
			return fmt.Sprintf("shows %s standard deviations of a stint mean, on %d df", unit.Number(d.SD, 2, unit.Plain), d.DF)
		}
		return fmt.Sprintf("shows %s, on %d df", say(d.Value), d.DF)
	}
	fmt.Fprintln(out)
	d := r.Detectable
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("With a power of %s %% this order %s.", percent, one(d)), 78, ""))
	if d != nil && d.Walk != nil {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Where drift is a random walk: %s.", say(d.Walk)), 78, ""))
	}
	if d != nil && d.Record != nil {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("With the scatter of the record beside its own: %s.", say(d.Record)), 78, ""))
	}
	for _, o := range []struct {
		word string
		of   *ordered.Other
	}{{"One control stint more", r.More}, {"One control stint fewer", r.Fewer}} {
		switch {
		case o.of == nil:
		case o.of.Clash != "":
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s: %s.", o.word, o.of.Clash), 78, "  "))
		default:
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s (%s): %s.", o.word, unit.Count(o.of.Stints, "stint"), one(o.of.Detectable)), 78, "  "))
		}
	}
	if n := r.Needed; n != nil {
		text := fmt.Sprintf("To show %s: %s of each candidate and %d of the control, %s in all, of %s.",
			say(number(a.Shown(q.Test.Wanted))), unit.Count(n.Repeats, "stint"), n.Controls, unit.Count(n.Stints, "stint"), unit.Count(n.Runs, "run"))
		if n.Sets > 0 {
			text += fmt.Sprintf(" Sets by wear: %d of each candidate, %d of the control.", n.Sets, n.ControlSets)
		}
		fmt.Fprintln(out, terminal.Wrap(text, 78, ""))
	}
	if r.RunsNeeded > 0 {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Or with this order: %s a stint.", unit.Count(r.RunsNeeded, "run")), 78, ""))
	}
	if s := q.Scatter; s != nil {
		fmt.Fprintln(out, terminal.Wrap("Scatter: "+s.FromText+".", 78, ""))
	}
}

func number(x float64) *float64 { return &x }

// sheetOf makes the run sheet of an order.
func sheetOf(a *ordering.Answer, title, date string) *sheet.Sheet {
	q := a.Plan.Request
	s := &sheet.Sheet{Title: title, Day: date, Runs: q.Runs, Content: fmt.Sprintf("Order drawn by seed %d.", q.Seed)}
	if title == "" {
		s.Title = unit.Count(len(a.Plan.Sequence), "stint")
	}
	if a.Light != nil {
		s.Light = day.Clock(a.Light.FromS) + " to " + day.Clock(a.Light.ToS)
	}
	for _, st := range a.Document().Results.Sequence {
		row := sheet.Row{Stint: st.Position, Set: st.Set, Fit: st.Fit, Drive: st.Drive, End: st.End}
		if q.Blocks > 1 {
			row.Block = st.Block
		}
		s.Rows = append(s.Rows, row)
	}
	if q.Times != nil {
		for _, b := range q.Times.Breaks {
			s.Notes = append(s.Notes, fmt.Sprintf("Break from %s to %s.", day.Clock(b.FromS), day.Clock(b.ToS)))
		}
	}
	return s
}
