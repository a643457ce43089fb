package reports

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Explain is the verb explain: which measures go with which ratings over the tyres.
func Explain() *cobra.Command {
	var f reportFlags
	c := &cobra.Command{
		Use:   "explain",
		Short: "say which measures explain which ratings, and on how many tyres that rests",
		Long: `Lay what instruments show of each tyre beside what drivers said of it: the first
measure of each test against every rated attribute, by how far they go together
over the tyres (correlation, and that of ranks). p is of permutations of the
tyres, adjusted for all pairs together. With few tyres nothing can be shown, and
that is said. What two things have in common is no cause.

  bookend explain --control K`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			f.Scale, f.Better = "ratio", string(programme.Higher) // the measures' own count
			sheets, err := f.sheets.Settings()
			if err != nil {
				return err
			}
			var answer *app.ExplainAnswer
			if err := f.In(c, func(a *app.Folder) (err error) {
				answer, err = a.Explain(c.Context(), app.TestsRequest{Tests: f.tests, Control: f.Control, Ratings: sheets})
				return err
			}); err != nil {
				return err
			}
			return terminal.Answer(c.OutOrStdout(), f.AsJSON, answer.Document(), func(out io.Writer) { printExplained(out, answer) })
		},
	}
	fs := c.Flags()
	fs.StringVar(&f.Control, "control", "", "code of the control; default: as the frozen plan has it")
	fs.StringSliceVar(&f.tests, "test", nil, "tests of the programme; default: all")
	f.sheets.Add(c, "ratings-")
	f.Codes.Add(c)
	folders.Flag(c, &f.Folder)
	terminal.JSONFlag(c, &f.AsJSON)
	return c
}

// printExplained prints the best measure of each rating within 80 columns.
func printExplained(out io.Writer, a *app.ExplainAnswer) {
	r := a.Result
	looked := fmt.Sprintf("%d pairs were looked at; p is adjusted for all of them together.", r.Looked)
	if r.Looked == 1 {
		looked = "1 pair was looked at."
	}
	fmt.Fprintf(out, "Which measure goes with which rating, on %d tyres, the control among them.\n%s\n\n", r.Tyres, looked)
	for j := range r.Attributes {
		fmt.Fprintln(out, terminal.Wrap(r.Attributes[j].Named(), 78, ""))
		q, ok := r.Best(j)
		if !ok {
			fmt.Fprintln(out, "  no measure: fewer than four tyres have both")
			continue
		}
		word := "not shown"
		if q.Shown {
			word = "shown"
		}
		fmt.Fprintf(out, "  %s\n", terminal.Wrap(fmt.Sprintf("%s: correlation %s, of ranks %s, p %s, %s", r.Measures[q.Measure].Named(),
			unit.Signed(q.Pearson, 2, unit.Plain), unit.Signed(q.Spearman, 2, unit.Plain), unit.Number(q.Adjusted, 3, unit.Plain), word), 76, "    "))
	}
	terminal.NotesOf(r.Caveats).Print(out)
}
