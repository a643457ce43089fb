package orders

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/bookend/app/logger"
	"example.org/bookend/app/register"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/tyre/sets"
	"example.org/bookend/unit"
)

// Sets is the verb sets: a register of tyre sets and their uses, held against limits of age, wear and heat.
func Sets() *cobra.Command {
	var uses, on string
	var asJSON bool
	c := &cobra.Command{
		Use:   "sets REGISTER.csv",
		Short: "what is known of tyre sets: age, tread, hardness, mass, kilometres, who used them; flags",
		Long: `What is known of tyre sets. REGISTER.csv has a row for each time that a tyre was
looked at: set, position, and of code, size, date_code, at, tread_mm (grooves
divided by /, places by blanks), hardness, hardness_degc, hardness_delay_s,
mass_kg, width_mm, diameter_mm, break_in_km, break_in_cycles, break_in_rest_h,
from and changed (a changed tyre makes a new set). --uses has a row for each
time that a set was driven: set, at, and of test, stint, driver, runs, km, hot.`,
		Example: `  bookend sets SETS.csv --uses USES.csv --on 2026-11-25`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if on == "" {
				return fault.New(fault.Invalid, "it is not said on which day the sets are judged").WithHint("the day of the test: --on 2026-11-25")
			}
			day, err := time.Parse(time.DateOnly, on)
			if err != nil {
				return fault.New(fault.Invalid, "--on: %q is no day", on).WithHint("the day of the test: --on 2026-11-25")
			}
			q := register.Request{Day: day, Limits: sets.DefaultLimits, Register: register.Named{Name: filepath.Base(args[0])}}
			if q.Register.Data, err = logger.ReadTable(args[0]); err != nil {
				return err
			}
			if uses != "" {
				q.Uses.Name = filepath.Base(uses)
				if q.Uses.Data, err = logger.ReadTable(uses); err != nil {
					return fault.At(err, "--uses")
				}
			}
			a, err := register.Sets(q)
			if err != nil {
				return err
			}
			return terminal.Answer(c.OutOrStdout(), asJSON, a.Document(), func(out io.Writer) { printSets(out, a) })
		},
	}
	fs := c.Flags()
	fs.StringVar(&uses, "uses", "", "table of what the sets were driven")
	fs.StringVar(&on, "on", "", "day on which the sets are judged: 2026-11-25")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// printSets prints a register within 80 columns.
func printSets(out io.Writer, a *register.Answer) {
	var notes terminal.Notes
	d := a.Document()
	for i, s := range d.Results.Sets {
		fmt.Fprintf(out, "%s", s.Set)
		if s.Code != "" && s.Code != s.Set {
			fmt.Fprintf(out, ", driven as %s", s.Code)
		}
		if s.Size != "" {
			fmt.Fprintf(out, ", %s", s.Size)
		}
		fmt.Fprintln(out)
		text := fmt.Sprintf("%s km, %s, %s, %s", unit.Number(s.DrivenM/1e3, 0, unit.Plain), unit.Count(s.Cycles, "heat cycle"), unit.Count(s.Uses, "use"), unit.Count(s.Runs, "run"))
		if len(s.Drivers) > 0 {
			text += ", by " + strings.Join(s.Drivers, ", ")
		}
		if len(s.Tests) > 0 {
			text += ", for " + strings.Join(s.Tests, ", ")
		}
		if s.LastUsed != "" {
			text += ", last on " + s.LastUsed
		}
		fmt.Fprintln(out, "  "+terminal.Wrap(text, 76, "  "))
		one := func(v *float64, digits int) string {
			if v == nil {
				return "-"
			}
			return unit.Number(*v, digits, unit.Plain)
		}
		terminal.PrintTable(out, "  tyre\tmade\tage, y\ttread\tleast\tworn, mm\tShore A\tmass, kg", func(w io.Writer) {
			for _, t := range s.Tyres {
				made := t.DateCode
				if made == "" {
					made = "-"
				}
				fmt.Fprintf(w, "  %s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", t.Position, made, one(t.Years, 1), register.Millimetres(t.TreadM), register.Millimetres(t.LeastM), register.Millimetres(t.WornM), one(t.Hardness, 0), one(t.MassKg, 2))
			}
		})
		var marks []string
		for _, c := range a.Flags[i] {
			marks = append(marks, fmt.Sprint(notes.Mark(c)))
		}
		if len(marks) > 0 {
			fmt.Fprintf(out, "  notes %s\n", strings.Join(marks, " "))
		}
		fmt.Fprintln(out)
	}
	notes.Print(out)
}
