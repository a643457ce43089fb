package verdicts

import (
	"fmt"
	"io"
	"strings"

	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/unit"
)

// printDoubt says what the control shows, how candidates stand among each other,
// and where the doubt of the widest interval comes from.
func printDoubt(out io.Writer, r *compare.Result) {
	if text := controlText(r); text != "" {
		fmt.Fprintln(out, terminal.Wrap(text, 78, ""))
	}
	if g := r.Group; g != nil && len(g.Codes) > 1 {
		var list []string
		for i, c := range g.Codes {
			list = append(list, c+" "+g.Letters[i])
		}
		fmt.Fprintln(out, terminal.Wrap("Among each other, those that share a letter are not shown to differ: "+strings.Join(list, ", ")+".", 78, ""))
	}
	widest, half := -1, 0.0
	for i := range r.Budget {
		for j := range r.Rows {
			v := &r.Rows[j].Verdict
			if r.Rows[j].Code == r.Budget[i].Code && v.Low != nil && *v.Estimate-*v.Low > half*(1+1e-9) {
				widest, half = i, *v.Estimate-*v.Low
			}
		}
	}
	if widest >= 0 {
		fmt.Fprintln(out, terminal.Wrap(strings.Join(r.Budget[widest].Words(), " "), 78, ""))
	}
	for _, b := range r.PerBlock {
		if b.Result == nil {
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Block %s: no comparison: %s.", b.Block, b.Err), 78, "  "))
			continue
		}
		k := AgainstOf(b.Result)
		for _, row := range b.Result.Rows {
			fmt.Fprintf(out, "Block %s: %s  %s, %s\n", b.Block, row.Code, terminal.Short(row.Verdict.Word), k.Estimate(row.Index, row.Difference))
		}
	}
}

// controlText says what the control's stints show beside their means.
func controlText(r *compare.Result) string {
	c := r.Controls
	p := func(v float64) string {
		if v < 0.0001 {
			return "p < 0.0001"
		}
		return "p " + unit.Number(v, 4, unit.Plain)
	}
	var parts []string
	if c.Test != nil {
		word := "not shown"
		if c.Shown {
			word = "shown"
		}
		parts = append(parts, fmt.Sprintf("drift %s (%s)", word, p(c.Test.P)))
	}
	if c.Curvature != nil && c.Curvature.P != nil {
		parts = append(parts, "bend "+p(*c.Curvature.P))
	}
	if c.Shift != nil {
		text := "sudden shift " + p(c.Shift.P)
		if len(c.ShiftStints) > 1 && c.Shift.P <= r.Settings.ShownLevel {
			text += " between stints " + c.ShiftStints[0] + " and " + c.ShiftStints[len(c.ShiftStints)-1]
		}
		parts = append(parts, text)
	}
	if c.LagOne != nil && c.LagOne.Defined {
		parts = append(parts, fmt.Sprintf("each stint like the one before %s (%s)", unit.Signed(c.LagOne.R, 2, unit.Plain), p(c.LagOne.P)))
	}
	if len(parts) == 0 {
		return ""
	}
	return fmt.Sprintf("The control in its %d stints: %s.", c.Stints, strings.Join(parts, "; "))
}
