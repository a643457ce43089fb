package orders

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/ordering"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/cmd/bookend/internal/verdicts"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/stat/looks"
	"example.org/bookend/unit"
)

// adviseFlags are the words of bookend advise as typed.
type adviseFlags struct {
	control, drift, scale, measure, wanted, spending, history string
	test, folder                                              string
	candidates, decided, held, left                           []string
	between, planned, time                                    int
	looks                                                     []int
	power                                                     float64
	json                                                      bool
}

// Advise is the verb advise: after a stint, which is best driven next, or that it is time to stop.
func Advise() *cobra.Command {
	var f adviseFlags
	c := &cobra.Command{
		Use:   "advise [TABLE.csv]",
		Short: "say after a stint what could be shown by now, and what the next stint is best",
		Long: `Say after a stint what could be shown by now, and what the next stint is best: the
control, a repeat of which candidate, or none. Of the table's values only the
scatter and the control's movement are used, never how a candidate compares.

Certainty is no reason to stop but at looks that the plan names (--looks), each
a test of its own at the level that it may spend: who stops as soon as the
scatter looks small, or a difference large, is wrong more often than 5 %. With
--wanted, or a plan's margin, it says how many stints it would still be, if they
went on to scatter as they do.`,
		Example: `  bookend advise DAY.csv --candidates P,R,T --wanted 2
  bookend advise DAY.csv --candidates P,R,T --looks 9,13,21 --time 8 --left P:1
  bookend advise --test wet-stop --candidates P,R,T`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if (len(args) == 0) == (f.test == "") {
				return fault.New(fault.Invalid, "neither a table nor a test is named, or both").
					WithHint("bookend advise TABLE.csv, or in a programme's folder bookend advise --test NAME")
			}
			q, err := f.request(c, args)
			if err != nil {
				return err
			}
			if f.test != "" {
				return folders.In(c.Context(), f.folder, func(folder *app.Folder) error {
					a, err := ordering.AdviseTest(c.Context(), folder, f.test, q)
					return f.print(c.OutOrStdout(), a, err)
				})
			}
			a, err := ordering.Advise(q)
			return f.print(c.OutOrStdout(), a, err)
		},
	}
	fs := c.Flags()
	fs.SortFlags = false
	fs.StringVar(&f.control, "control", "K", "code of the control")
	fs.StringSliceVar(&f.candidates, "candidates", nil, "codes under comparison, driven yet or not")
	fs.StringVar(&f.test, "test", "", "a test of the programme, instead of a table: its frozen plan says what is not said here")
	folders.Flag(c, &f.folder)
	fs.StringVar(&f.measure, "measure", "", "which measure, where there are several")
	fs.StringVar(&f.scale, "scale", "ratio", "ratio or difference")
	fs.StringVar(&f.drift, "drift", "bracket", "correction: none, bracket, linear or quadratic")
	fs.IntVar(&f.between, "between", 3, "most candidates between two controls; 0: any number")
	fs.StringVar(&f.wanted, "wanted", "", "difference to be shown: index points (2), or with a unit (0.5m)")
	fs.Float64Var(&f.power, "power", 0.8, "with which it is to be shown")
	fs.StringVar(&f.history, "history", "", "control stints of earlier programmes: programme, position, value [, block]")
	fs.IntVar(&f.planned, "planned", 0, "stints of the whole plan")
	fs.IntVar(&f.time, "time", -1, "stints that the day still allows")
	fs.StringSliceVar(&f.left, "left", nil, "stints that sets still last: P:1,R:2")
	fs.StringSliceVar(&f.held, "held", nil, "codes whose set is held until inspected")
	fs.IntSliceVar(&f.looks, "looks", nil, "stints after which the plan looks: 9,13,17")
	fs.StringVar(&f.spending, "spending", "obrien_fleming", "of the 5 % over the looks: obrien_fleming or pocock")
	fs.StringSliceVar(&f.decided, "decided", nil, "codes decided at an earlier look")
	terminal.JSONFlag(c, &f.json)
	return c
}

func (f *adviseFlags) print(out io.Writer, a *ordering.AdviceAnswer, err error) error {
	if err != nil {
		return err
	}
	return terminal.Answer(out, f.json, a.Document(), func(out io.Writer) { printAdvice(out, a) })
}

func (f *adviseFlags) request(c *cobra.Command, args []string) (ordering.AdviceRequest, error) {
	q := ordering.AdviceRequest{
		Candidates: f.candidates, MostBetween: f.between, MostStints: f.time, Planned: f.planned, Power: f.power, Looks: f.looks,
		Spending: looks.Spending(f.spending), Decided: f.decided, Held: f.held,
	}
	if len(f.candidates) == 0 {
		return q, fault.New(fault.Invalid, "no candidate is named").WithHint("for example --candidates P,R,T")
	}
	if f.scale != "ratio" && f.scale != "difference" {
		return q, fault.New(fault.Invalid, "%q is no scale", f.scale).WithHint("--scale ratio, or --scale difference")
	}
	q.Table = app.CompareRequest{Control: f.control, Measure: f.measure, Better: programme.Higher, Scale: programme.Scale(f.scale), Settings: compare.Settings{Drift: compare.Drift(f.drift)}}
	if len(args) > 0 {
		data, err := logger.ReadTable(args[0])
		if err != nil {
			return q, err
		}
		q.Table.Name, q.Table.Data = filepath.Base(args[0]), data
	} else {
		// What is not said is the plan's.
		if !c.Flags().Changed("control") {
			q.Table.Control = ""
		}
		if !c.Flags().Changed("drift") {
			q.Table.Settings.Drift = ""
		}
	}
	var err error
	if q.Table.History, err = verdicts.HistoryIn(f.history); err != nil {
		return q, err
	}
	if q.Left, err = stintsLeft(f.left); err != nil {
		return q, err
	}
	if f.wanted == "" {
		return q, nil
	}
	if f.scale == "ratio" {
		q.Wanted, err = points(f.wanted)
		return q, err
	}
	v, u, err := unit.ParseQuantity(f.wanted)
	if err != nil {
		return q, fault.At(err, "--wanted")
	}
	if !u.IsZero() {
		v = u.DifferenceToHouse(v)
	}
	if !(v > 0) {
		return q, fault.New(fault.Invalid, "--wanted: %q is not above 0", f.wanted).WithHint("for example --wanted 0.5m")
	}
	q.Wanted = v
	return q, nil
}

// printAdvice prints an advice within 80 columns: what is next comes first.
func printAdvice(out io.Writer, a *ordering.AdviceAnswer) {
	d := a.Document()
	r := d.Results
	head := map[string]string{"control": "Next: the control " + r.Code, "candidate": "Next: " + r.Code, "stop": "Stop", "wait": "Wait for the engineer"}[r.Next]
	fmt.Fprintf(out, "%s.\n%s\n\n", head, terminal.Wrap(r.Reason, 78, ""))
	say := func(x *float64) string {
		if x == nil {
			return "nothing yet"
		}
		return unit.Number(*x, 2, unit.Plain)
	}
	terminal.PrintTable(out, "code\tcould be shown by now, "+a.ShownUnit(), func(w io.Writer) {
		for _, row := range r.Rows {
			text := say(row.Detectable)
			if row.Open {
				text = "its bracket is open"
			}
			fmt.Fprintf(w, "%s\t%s\n", row.Code, text)
		}
	})
	if r.DF > 0 {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("After %s, on %s df, with a power as planned.", unit.Count(r.Stints, "stint"), terminal.Degrees(r.DF)), 78, ""))
	} else {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("After %s: too few to know how stints scatter.", unit.Count(r.Stints, "stint")), 78, ""))
	}
	if r.Level != nil {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("This is a look of the plan: verdicts are given here at a level of %s %% for all candidates together.", unit.Number(100**r.Level, 2, unit.Plain)), 78, ""))
	}
	if text := a.AheadSays(unit.Plain); text != "" {
		fmt.Fprintln(out, terminal.Wrap(text, 78, ""))
	}
	if len(r.Options) > 0 {
		fmt.Fprintln(out, "\nWhat could be next, with the control that closes it:")
		terminal.PrintTable(out, "next\tstints\tthen shows", func(w io.Writer) {
			for _, o := range r.Options {
				fmt.Fprintf(w, "%s\t%d\t%s\n", o.Code, o.Stints, say(o.After))
			}
		})
	}
	if c := r.Control; c != nil && !c.Moved {
		fmt.Fprintln(out, "\n"+terminal.Wrap(strings.ToUpper(c.Text[:1])+c.Text[1:]+".", 78, ""))
	}
	terminal.NotesOf(d.Caveats).Print(out)
}
