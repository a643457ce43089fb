// Command bookend compares tyres against a control tyre that opens and closes
// every sequence: what a recording holds (check), the numbers of its runs
// (reduce), and each candidate against the control (compare).
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"example.org/bookend/cmd/bookend/internal/blind"
	"example.org/bookend/cmd/bookend/internal/daylog"
	"example.org/bookend/cmd/bookend/internal/demo"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/grounds"
	"example.org/bookend/cmd/bookend/internal/orders"
	"example.org/bookend/cmd/bookend/internal/plans"
	"example.org/bookend/cmd/bookend/internal/ratings"
	"example.org/bookend/cmd/bookend/internal/recordings"
	"example.org/bookend/cmd/bookend/internal/reports"
	"example.org/bookend/cmd/bookend/internal/serving"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/cmd/bookend/internal/verdicts"
	"example.org/bookend/fault"
	"example.org/bookend/store/sqlite"
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// exits maps the codes of fault to the documented exit codes.
var exits = map[fault.Code]int{
	fault.Internal: 1, fault.Invalid: 2, fault.NotFound: 3, fault.Conflict: 4, fault.Unsupported: 5,
}

// run is the whole command: arguments in, exit code out.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	root := commands()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(context.Background())
	if err == nil {
		return 0
	}
	var f *fault.Error
	var s terminal.Strict
	if errors.As(err, &s) {
		return exitOf(err)
	}
	if !errors.As(err, &f) { // cobra's own: an unknown command, a wrong number of arguments
		err = fault.New(fault.Invalid, "%w", err).WithHint("see: bookend --help")
	}
	fmt.Fprintln(stderr, "bookend:", err)
	if hint := fault.HintOf(err); hint != "" {
		fmt.Fprintln(stderr, "  "+hint)
	}
	return exitOf(err)
}

// commands are all that bookend does, below its root.
func commands() *cobra.Command {
	var asJSON bool
	root := &cobra.Command{
		Use:           "bookend",
		Short:         "compare tyres against a control tyre that bookends every sequence",
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if _, err := os.Stat(sqlite.File); err == nil {
				return folders.Standing(c.Context(), ".", c.OutOrStdout(), asJSON)
			}
			if asJSON {
				return fault.New(fault.NotFound, "no programme here: there is no %s", sqlite.File).WithHint("go to a programme's folder, or make one: bookend new FOLDER")
			}
			fmt.Fprint(c.OutOrStdout(), next)
			return nil
		},
	}
	root.Flags().BoolVar(&asJSON, "json", false, "in a programme's folder: print where it stands as one JSON object")
	root.AddCommand(judging()...)
	root.AddCommand(daylog.Verb(), blind.Codes(), blind.Copy())
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return fault.New(fault.Invalid, "%w", err).WithHint("see: %s --help", c.CommandPath())
	})
	for _, c := range []func() *cobra.Command{
		orders.Advise,
		recordings.Assign,
		folders.Brief,
		recordings.Recut,
		recordings.Check,
		verdicts.Compare,
		orders.Cones,
		demo.Verb,
		folders.Exclude,
		reports.Explain,
		recordings.Import,
		recordings.Intake,
		verdicts.Interim,
		folders.New,
		orders.Order,
		serving.People,
		recordings.Procedures,
		recordings.Reduce,
		reports.Report,
		serving.Serve,
		orders.Sets,
		folders.Verify,
	} {
		root.AddCommand(c())
	}
	arrange(root)
	show(root)
	return root
}

const next = `Have a table of results, one row a run in the order driven, with the columns
stint, code and value? Then, with K the control:

  bookend compare TABLE.csv --control K --better lower --margin 1

Have a recording of laps or stops?

  bookend check FILE
  bookend reduce --procedure lap --gate LAT,LON,LAT,LON FILE
  bookend reduce --procedure braking --from 80 --to 20 FILE

Several days, several tests, a client? Begin a programme:

  bookend new FOLDER

See programmes as pages in the browser:

  bookend serve [FOLDER]

To see the whole job done on two made-up days:

  bookend demo

All verbs, in the order of the job:

  bookend help
`

// exitOf gives the exit code that an error asks for.
func exitOf(err error) int {
	var s terminal.Strict
	if errors.As(err, &s) {
		return s.Code
	}
	return exits[fault.CodeOf(err)]
}

// judging gives the verbs about what verdicts rest on: plan, ground, record, ratings and links.
func judging() []*cobra.Command {
	return []*cobra.Command{grounds.Ground(), verdicts.Link(), plans.Verb(), ratings.Verb(), grounds.Record(), grounds.Signoff(), grounds.Test()}
}
