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

// Recut is the verb recut: a run that begins or ends elsewhere in its recording, or no longer.
func Recut() *cobra.Command {
	var dir, reason string
	var q app.CutRequest
	var from, to float64
	var back, asJSON bool
	c := &cobra.Command{
		Use:   "recut [RECORDING]",
		Short: "lay the begin or the end of a run elsewhere in its recording",
		Long: `Recordings are cut into runs by gates or by speed. Where a cut lies wrong, a person
lays it elsewhere: the run is meant by its name in the log (--run), or by the
recording and the number of the piece as its page shows it (--piece). Times are
in s from the recording's first sample. The reason is kept before anybody sees
what it does; all that rests on the run is computed anew, the report tells of
it, and --back takes the last move back.

  bookend recut --test dry-lap --run 03/2 --to 118.4 --reason 'by the pit lane'
  bookend recut lap-03.csv --test dry-lap --piece 2 --from 61.2 \
    --reason 'traffic'
  bookend recut --test dry-lap --run 03/2 --back`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				q.Recording = args[0]
			}
			q.Reason = reason
			if c.Flags().Changed("from") {
				q.FromS = &from
			}
			if c.Flags().Changed("to") {
				q.ToS = &to
			}
			if back && (q.FromS != nil || q.ToS != nil) {
				return fault.New(fault.Invalid, "--back says nothing new").WithHint("leave --from and --to out")
			}
			what := "run " + q.Run
			if q.Run == "" {
				what = fmt.Sprintf("piece %d of %s", q.Piece, q.Recording)
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				if back {
					if err := a.UnmoveCut(c.Context(), q); err != nil {
						return err
					}
					return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("The cut of %s lies again where it did.", what))
				}
				if err := a.MoveCut(c.Context(), q); err != nil {
					return err
				}
				return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, terminal.Wrap(fmt.Sprintf("The cut of %s is moved: %s.", what, strings.TrimSuffix(reason, ".")), 80, ""))
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&q.Test, "test", "", "the test")
	c.Flags().StringVar(&q.Run, "run", "", "the run, as the log has it")
	c.Flags().IntVar(&q.Piece, "piece", 0, "the piece of the recording that may be a run, from 1")
	c.Flags().Float64Var(&from, "from", 0, "where it begins, s of the recording")
	c.Flags().Float64Var(&to, "to", 0, "where it ends, s of the recording")
	c.Flags().StringVar(&reason, "reason", "", "why")
	c.Flags().BoolVar(&back, "back", false, "take the last move of this cut back")
	terminal.JSONFlag(c, &asJSON)
	return c
}
