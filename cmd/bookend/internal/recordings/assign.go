package recordings

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
)

// Assign is the verb assign: whose a recording is, said by a person.
func Assign() *cobra.Command {
	var dir, test, reason string
	var stints []string
	var nobody, back, asJSON bool
	c := &cobra.Command{
		Use:   "assign RECORDING",
		Short: "say of which stint a recording is, where log and clocks do not agree",
		Long: `A recording that the run log names for one stint and that by order and clock is of
another is found and kept out: whose it is, is for a person to say. What is said
is an entry with its reason, made before anybody sees what it does; it can be
taken back, and the report tells of it.

  bookend assign wet-stop-03.csv --test wet-stop --stint 5 \
    --reason 'saved under the next name'
  bookend assign warm-up.csv --test wet-stop --none --reason 'a warm-up lap'`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case back && (nobody || len(stints) > 0):
				return fault.New(fault.Invalid, "--back says nothing new").WithHint("leave --stint and --none out")
			case !back && nobody == (len(stints) > 0):
				return fault.New(fault.Invalid, "it is not said of which stint the recording is").WithHint("--stint 5, or --none where it is of no stint")
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				if back {
					if err := a.Unassign(c.Context(), test, args[0]); err != nil {
						return err
					}
					return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("Log and clocks say again whose %s is.", args[0]))
				}
				if err := a.Assign(c.Context(), test, args[0], stints, reason); err != nil {
					return err
				}
				what := "is taken as of stint " + strings.Join(stints, ", ")
				if nobody {
					what = "is of no stint and not used"
				}
				return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, terminal.Wrap(fmt.Sprintf("%s %s: %s.", args[0], what, strings.TrimSuffix(reason, ".")), 80, ""))
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&test, "test", "", "the test")
	c.Flags().StringSliceVar(&stints, "stint", nil, "the stints that it holds, in the order driven")
	c.Flags().BoolVar(&nobody, "none", false, "it is of no stint of the log")
	c.Flags().StringVar(&reason, "reason", "", "why")
	c.Flags().BoolVar(&back, "back", false, "take back what was said")
	terminal.JSONFlag(c, &asJSON)
	return c
}
