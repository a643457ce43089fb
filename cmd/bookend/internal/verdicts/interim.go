package verdicts

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
)

// Interim is the verb interim: estimates while a test goes on, entered as a look.
func Interim() *cobra.Command {
	var q app.TestRequest
	var folder string
	var asJSON bool
	c := &cobra.Command{
		Use:   "interim TEST",
		Short: "what a client may see while a test goes on: codes and intervals, no verdict before a planned look",
		Long: `What a client may see while a test goes on: codes, estimates and intervals,
marked with the stint reached, and open brackets. No verdict is told but at a look
that the frozen plan names. It is logged as a look. Whoever drives or rates is not
to see it.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			q.Test = args[0]
			return folders.In(c.Context(), folder, func(f *app.Folder) error {
				a, err := f.Interim(c.Context(), q)
				if err != nil {
					return err
				}
				return terminal.Answer(c.OutOrStdout(), asJSON, a.Document(), func(out io.Writer) { printInterim(out, a) })
			})
		},
	}
	fs := c.Flags()
	fs.StringVar(&q.Control, "control", "", "code of the control; by itself the plan's")
	fs.StringVar(&q.Measure, "measure", "", "which measure; by itself the plan's first")
	fs.StringVar(&q.Place, "place", "", "of a measure with places: sector 2")
	folders.Flag(c, &folder)
	terminal.JSONFlag(c, &asJSON)
	return c
}

// printInterim prints an interim view within 80 columns.
func printInterim(out io.Writer, a *app.InterimAnswer) {
	d := a.Document()
	r := a.Of.Both.Result
	of := ""
	if a.Planned > 0 {
		of = fmt.Sprintf(" of %d", a.Planned)
	}
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("INTERIM, after %d%s stints. %s against control %s.", a.Stints, of, r.Measure.Title, r.Control), 78, ""))
	if a.Look != "" {
		fmt.Fprintf(out, "%s.\n", strings.ToUpper(a.Look[:1])+a.Look[1:])
	}
	fmt.Fprintln(out)
	k := AgainstOf(r)
	if u := k.s.words(); u != "" && !k.ratio {
		fmt.Fprintf(out, "Difference to the control%s, positive is better.\n\n", u)
	}
	head := fmt.Sprintf("code\t%s\tinterval\tstints", k.Column())
	if a.Told {
		head += "\tverdict"
	}
	terminal.PrintTable(out, head, func(w io.Writer) {
		for i, row := range d.Results.Rows {
			fmt.Fprintf(w, "%s\t%s\t%s\t%d", row.Code, k.Estimate(row.Index, row.Difference),
				k.Interval(row.IndexLow, row.IndexHigh, row.DifferenceLow, row.DifferenceHigh, "none"), row.Stints)
			if a.Told {
				fmt.Fprintf(w, "\t%s", terminal.Short(r.Rows[i].Verdict.Word))
			}
			fmt.Fprintln(w)
		}
	})
	terminal.NotesOf(d.Caveats).Print(out)
	fmt.Fprintln(out, "This look is logged.")
}
