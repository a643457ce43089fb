package recordings

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Import is the verb import: recordings, run logs and tables of values brought into a test.
func Import() *cobra.Command {
	var q app.ImportRequest
	var f ReduceFlags
	var dir, better, scale, secondDir string
	var columns []string
	var asJSON bool
	c := &cobra.Command{
		Use:   "import FILE...",
		Short: "bring run logs, tables and recordings into a test of the programme",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			q.Paths, q.Procedure, q.Gates, q.Mends = args, f.Procedure, f.Gates, f.mends
			q.Better, q.Scale = programme.Better(better), programme.Scale(scale)
			q.Options = app.FileOptions{Zone: f.file.zone, Date: f.file.date, Reader: f.file.reader}
			if _, err := f.file.options(); err != nil {
				return err
			}
			if f.file.mapping != "" {
				text, err := os.ReadFile(f.file.mapping)
				if err != nil {
					return fault.New(fault.NotFound, "--mapping: %w", err).WithHint("name the mapping table")
				}
				q.Options.Mapping = string(text)
			}
			var err error
			if q.Columns, err = terminal.Pairs(columns); err != nil {
				return err
			}
			if q.Procedure != "" {
				if q.Given, err = f.Given(c); err != nil {
					return err
				}
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				p := terminal.NewProgress(c.ErrOrStderr())
				q.Progress = p.Step
				done, err := a.Import(c.Context(), q)
				p.Done()
				if err != nil {
					return err
				}
				var copies []app.Copied
				if secondDir != "" {
					if copies, err = second(c, a, app.Media{Kept: dir, Second: secondDir}, done); err != nil {
						return err
					}
				}
				if asJSON {
					return terminal.PrintJSON(c.OutOrStdout(), struct {
						Schema  string         `json:"schema"`
						Results []app.Imported `json:"results"`
						Copies  []app.Copied   `json:"copies,omitempty"`
					}{"bookend.import/1", done, copies})
				}
				for _, d := range done {
					what := d.Kind
					if d.Runs > 0 {
						what = fmt.Sprintf("%s of %d runs", what, d.Runs)
					}
					if d.Mends > 0 {
						what = fmt.Sprintf("%s with %d mends", what, d.Mends)
					}
					if d.Again {
						what += ", here already"
					}
					fmt.Fprintf(c.OutOrStdout(), "%s: %s, sha256 %s…\n", d.Name, what, d.SHA256[:16])
					if d.Another {
						fmt.Fprintln(c.OutOrStdout(), terminal.Wrap(fmt.Sprintf("Another recording of test %s is called %s and has other content; both are kept. bookend intake tells them apart.", q.Test, d.Name), 80, "  "))
					}
				}
				if copies != nil {
					printCopies(c.OutOrStdout(), fmt.Sprintf("Second copies in %s:", secondDir), copies)
				}
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	f.file.add(c)
	f.AddProcedure(c)
	f.addMends(c)
	fs := c.Flags()
	fs.StringVar(&q.Test, "test", "", "the test: one manoeuvre on one surface")
	fs.StringVar(&better, "better", "", "of typed values: higher or lower")
	fs.StringVar(&scale, "scale", "ratio", "of typed values: ratio, difference, count or threshold")
	fs.StringSliceVar(&columns, "columns", nil, "names in the table: code=tyre,value=metres")
	fs.StringVar(&secondDir, "second", "", "a folder on a second medium: copy the recordings there too, and verify them")
	terminal.JSONFlag(c, &asJSON)
	return c
}
