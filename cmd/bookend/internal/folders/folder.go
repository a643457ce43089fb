package folders

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
)

// New is the verb new: a programme begun in a folder that holds nothing yet.
func New() *cobra.Command {
	var p programme.Programme
	var vehicle vehicleFlags
	var asJSON bool
	c := &cobra.Command{
		Use:   "new FOLDER",
		Short: "begin a programme in a folder of its own",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) (err error) {
			if err := Headed(&p.Title, p.Zone, args[0]); err != nil {
				return err
			}
			if err := vehicle.apply(c, &p.Asked); err != nil {
				return err
			}
			if err := fromGround(c.Context(), args[0], &p); err != nil {
				return err
			}
			s, err := sqlite.Create(c.Context(), args[0])
			if err != nil {
				return err
			}
			defer Close(s, &err)
			a := Of(s)
			if err := a.Begin(c.Context(), p); err != nil {
				return err
			}
			sayDoubts(c.ErrOrStderr(), s)
			return SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("%s is begun. In its folder:\n\n%s", p.Title, strings.TrimSuffix(firstSteps, "\n")))
		},
	}
	fs := c.Flags()
	fs.StringVar(&p.Title, "title", "", "what is compared; default: the folder's name")
	fs.StringVar(&p.Client, "client", "", "for whom")
	fs.StringVar(&p.Ground, "ground", "", "where")
	fs.StringVar(&p.Zone, "zone", "", "the ground's IANA zone: Europe/London")
	fs.StringVar(&p.Vehicle, "vehicle", "", "on what, in words")
	fs.StringVar(&p.Question, "question", "", "what the client asks")
	vehicle.add(c)
	terminal.JSONFlag(c, &asJSON)
	return c
}

const firstSteps = `  bookend plan draft --test wet-stop --control K --margin 1 > plan.json
  bookend plan freeze plan.json
  bookend import RUNLOG.csv FILES... --test wet-stop --procedure braking
  bookend import STOPS.csv --test wet-stop --better lower

A run log names stint, code and, by run, the recording that holds it; a table of
values has the columns stint, code and value.
`

// Exclude is the verb exclude: a run left out of comparisons for a reason, or taken in again.
func Exclude() *cobra.Command {
	var dir, test, reason string
	var back, asJSON bool
	c := &cobra.Command{
		Use:   "exclude RUN",
		Short: "leave a run out of the comparison, with the reason",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return In(c.Context(), dir, func(a *app.Folder) error {
				if back {
					if err := a.Readmit(c.Context(), test, args[0]); err != nil {
						return err
					}
					return SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("Run %s of %s counts again.", args[0], test))
				}
				if err := a.Exclude(c.Context(), test, args[0], reason); err != nil {
					return err
				}
				return SayEntered(c.Context(), c.OutOrStdout(), a, asJSON,
					terminal.Wrap(fmt.Sprintf("Run %s of %s is left out: %s. It is kept, and verdicts are shown with and without it.", args[0], test, reason), 80, ""))
			})
		},
	}
	Flag(c, &dir)
	c.Flags().StringVar(&test, "test", "", "the test")
	c.Flags().StringVar(&reason, "reason", "", "why")
	c.Flags().BoolVar(&back, "back", false, "take the exclusion back")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// Verify is the verb verify: whether a byte of entries or raw files has changed.
func Verify() *cobra.Command {
	var dir, stood string
	var asJSON bool
	c := &cobra.Command{
		Use:   "verify",
		Short: "read the chain of entries and every raw file, and say whether a byte has changed",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return In(c.Context(), dir, func(a *app.Folder) error {
				if err := a.Store.Verify(c.Context()); err != nil {
					return err
				}
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				sayDoubts(c.ErrOrStderr(), a.Store)
				said := fmt.Sprintf("%d entries, nothing has changed. The chain stands at\n%s.", s.Entries, s.Head)
				if stood != "" {
					e, err := a.Stood(c.Context(), stood)
					if err != nil {
						return err
					}
					said += fmt.Sprintf("\nIt stood there at entry %d; nothing before that has changed since.", e.Sequence)
				}
				for _, g := range s.Gaps {
					said += "\n" + terminal.Wrap(g.String()+".", 80, "  ")
				}
				return SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, said)
			})
		},
	}
	Flag(c, &dir)
	c.Flags().StringVar(&stood, "stood", "", "hash at which the chain stood once, as a report names it: what was cut off since shows")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// standingTest is where a test of a programme stands.
type standingTest struct {
	Test       string `json:"test"`
	Procedure  string `json:"procedure,omitempty"`
	Stints     int    `json:"stints"`
	Runs       int    `json:"runs"`
	Recordings int    `json:"recordings"`
	Out        int    `json:"left_out"`
	Waiting    int    `json:"waiting"` // of those left out: until somebody decides about their recording
	planned    bool
}

// standingDocument is the JSON of where a programme stands, schema "bookend.standing/1".
type standingDocument struct {
	Schema   string            `json:"schema"`
	Inputs   []origin.Hashed   `json:"inputs"`
	Settings map[string]string `json:"settings"`
	Results  struct {
		Title   string         `json:"title"`
		Client  string         `json:"client,omitempty"`
		Vehicle string         `json:"vehicle,omitempty"`
		Ground  string         `json:"ground,omitempty"`
		Plan    string         `json:"plan,omitempty"` // SHA-256 of the frozen one
		Tests   []standingTest `json:"tests"`
	} `json:"results"`
	Caveats caveat.List `json:"caveats"`
}

// Standing says where the programme stands, and what to do next in it.
func Standing(ctx context.Context, dir string, out io.Writer, asJSON bool) error {
	return In(ctx, dir, func(a *app.Folder) error {
		s, err := app.Rebuild(ctx, a.Store)
		if err != nil {
			return err
		}
		d := standingDocument{Schema: "bookend.standing/1", Inputs: []origin.Hashed{}, Settings: map[string]string{}, Caveats: caveat.List{}}
		r := &d.Results
		r.Title, r.Client, r.Vehicle, r.Ground, r.Tests = s.Programme.Title, s.Programme.Client, s.Programme.Vehicle, s.Programme.Ground, []standingTest{}
		if n := len(s.Plans); n > 0 {
			r.Plan = s.Plans[n-1].SHA256
		}
		for _, t := range s.Tests {
			row := standingTest{Test: t.Test.ID, Procedure: t.Test.Procedure}
			driven, err := a.Drive(ctx, s, t.Test.ID)
			if err != nil {
				return err
			}
			row.Stints, row.Runs, row.Out = len(driven.Log.Stints), len(driven.Log.Runs), len(driven.Log.Exclusions)
			for _, x := range driven.Log.Exclusions {
				if app.Waits(x) {
					row.Waiting++
				}
			}
			for _, r := range s.Recordings {
				if r.Test == t.Test.ID {
					row.Recordings++
				}
			}
			if n := len(s.Plans); n > 0 {
				_, row.planned = s.Plans[n-1].Plan.Test(t.Test.ID)
			}
			r.Tests = append(r.Tests, row)
		}
		return terminal.Answer(out, asJSON, d, func(out io.Writer) { printStanding(out, d) })
	})
}

func printStanding(out io.Writer, d standingDocument) {
	r := &d.Results
	head := []string{r.Title}
	for _, more := range []string{r.Client, r.Vehicle, r.Ground} {
		if more != "" {
			head = append(head, more)
		}
	}
	fmt.Fprintf(out, "%s\n\n", terminal.Wrap(strings.Join(head, ", "), 78, ""))
	if len(r.Tests) == 0 {
		fmt.Fprintf(out, "Nothing is imported yet.\n\n%s", firstSteps)
		return
	}
	terminal.PrintTable(out, "test\tprocedure\tstints\truns\trecordings\tleft out", func(w io.Writer) {
		for _, t := range r.Tests {
			fmt.Fprintf(w, "%s\t%s\t%d\t%d\t%d\t%d\n", t.Test, terminal.Or(t.Procedure, "typed"), t.Stints, t.Runs, t.Recordings, t.Out)
		}
	})
	var waiting []string
	for _, t := range r.Tests {
		switch t.Waiting {
		case 0:
		case 1:
			waiting = append(waiting, "1 run of "+t.Test)
		default:
			waiting = append(waiting, fmt.Sprintf("%d runs of %s", t.Waiting, t.Test))
		}
	}
	if len(waiting) > 0 {
		fmt.Fprintln(out, "\n"+terminal.Wrap("Left out because log and recordings do not agree, or a recording lacks a part: "+strings.Join(waiting, ", ")+
			". The notes of each comparison say what is wrong; bookend assign says whose a recording is.", 78, ""))
	}
	if r.Plan != "" {
		fmt.Fprintf(out, "\nNext, by the frozen plan %.12s:\n\n", r.Plan)
	} else {
		fmt.Fprintf(out, "\nNo plan is frozen: see bookend plan. Next, with the control's code in the place\nof K:\n\n")
	}
	for _, t := range r.Tests {
		flags := " --control K --margin 1"
		if t.planned {
			flags = ""
		}
		fmt.Fprintf(out, "  bookend compare --test %s%s\n", t.Test, flags)
	}
}
