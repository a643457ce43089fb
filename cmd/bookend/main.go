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
	var s strictError
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
				return standing(c.Context(), ".", c.OutOrStdout(), asJSON)
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
	root.AddCommand(logCommand(), codesCommand(), copyCommand())
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return fault.New(fault.Invalid, "%w", err).WithHint("see: %s --help", c.CommandPath())
	})
	for _, c := range []func() *cobra.Command{
		adviseCommand,
		assignCommand,
		briefCommand,
		recutCommand,
		checkCommand,
		compareCommand,
		conesCommand,
		demoCommand,
		excludeCommand,
		explainCommand,
		importCommand,
		intakeCommand,
		interimCommand,
		newCommand,
		orderCommand,
		peopleCommand,
		proceduresCommand,
		reduceCommand,
		reportCommand,
		serveCommand,
		setsCommand,
		verifyCommand,
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
