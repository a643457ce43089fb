// Package verdicts holds the verbs that judge candidates against the control: compare,
// its interim look, and comparisons linked by a tyre that both drove. The flags that
// say how a verdict is come by are here, for the report as well.
package verdicts

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/testplan"
	"example.org/bookend/caveat"
	"example.org/bookend/cmd/bookend/internal/blind"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Flags are the words of bookend compare as typed.
type Flags struct {
	Control, Better, Margin, drift, perBlock, block, by, Scale, reference, when, sided, measure string
	plan, Reason                                                                                string
	columns                                                                                     []string
	covariates                                                                                  []string
	test, place, Folder, average                                                                string
	rows, AsJSON                                                                                bool
	profile                                                                                     ProfileFlags
	Scatter                                                                                     scatterFlags
	Codes                                                                                       blind.Flags
	threshold                                                                                   thresholdFlags
}

// Compare is the verb compare: verdicts on the candidates of a table or of a test.
func Compare() *cobra.Command {
	var f Flags
	c := &cobra.Command{
		Use:   "compare [TABLE.csv]",
		Short: "put every candidate of a table, or of a test, against the control",
		Long: `Put every candidate against the control, with the drift that the control shows
taken out, and say of each: better, worse, the same within the margin, or not
shown.

TABLE.csv has a line a run, in the order driven, and the columns stint (one
fitting of one set), code (of the tyre) and value; run, block, driver, clock and
excluded (why a run is left out) may stand beside. Commas, semicolons and tabs
separate columns, a decimal comma is read, a heading may end in a unit: value_m,
value (km/h). Times may be 1:23.45. Without a margin nothing is called the same.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return f.runTest(c)
			}
			if f.test != "" {
				return fault.New(fault.Invalid, "a table and a test are both named").WithHint("name one of them")
			}
			data, err := logger.ReadTable(args[0])
			if err != nil {
				return err
			}
			q, err := f.Request(c, filepath.Base(args[0]), data)
			if err != nil {
				return err
			}
			a, err := app.CompareTable(q)
			if err != nil {
				return err
			}
			return f.print(c.OutOrStdout(), a)
		},
	}
	f.Add(c)
	f.Scatter.AddHistory(c)
	fs := c.Flags()
	fs.StringVar(&f.measure, "measure", "", "which measure, where there are several")
	fs.StringVar(&f.test, "test", "", "a test of the programme, instead of a table")
	fs.StringVar(&f.place, "place", "", "of a measure with places: sector 2")
	f.Codes.Add(c)
	folders.Flag(c, &f.Folder)
	terminal.JSONFlag(c, &f.AsJSON)
	return c
}

// Add gives a command the flags that say how a comparison is made.
func (f *Flags) Add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringVar(&f.Control, "control", "", "code of the control")
	fs.StringVar(&f.Better, "better", "", "higher or lower: which values are better")
	fs.StringVar(&f.Margin, "margin", "", "smallest difference that matters: index points (1), or with a unit (0.20m)")
	fs.StringVar(&f.drift, "drift", "bracket", "correction: none, bracket, linear or quadratic")
	fs.StringVar(&f.perBlock, "drift-per-block", "none", "drift of its own in each block: none, linear or quadratic")
	fs.StringVar(&f.block, "block", "", "column that names days, drivers or sessions")
	fs.StringVar(&f.by, "by", "position", "where a stint lies in the sequence: position or clock")
	fs.StringVar(&f.Scale, "scale", "ratio", "ratio, difference, count or threshold")
	fs.StringVar(&f.reference, "reference", "first", "level of corrected values: first (control) or mean (of controls)")
	fs.StringVar(&f.when, "when", "always", "correct always, or if_shown by the control")
	fs.StringVar(&f.average, "average", "", "ratios from means or logs; default: means with a bracket, logs with a curve")
	fs.StringVar(&f.sided, "sided", "two", "intervals: two or one")
	f.profile.add(c)
	f.Scatter.add(c)
	f.threshold.add(c)
	f.addPlan(c)
	fs.StringSliceVar(&f.columns, "columns", nil, "names in the table: code=trt,value=yield")
	fs.StringSliceVar(&f.covariates, "covariates", nil, "columns that enter the model beside the control")
	fs.BoolVar(&f.rows, "each-row-a-stint", false, "the table has no stint column: every row is a stint of its own")
}

// Request gives what is asked of a table, by the flags as typed.
func (f Flags) Request(c *cobra.Command, name string, data []byte) (app.CompareRequest, error) {
	q := app.CompareRequest{
		Name: name, Data: data, Rows: f.rows, Control: f.Control, Measure: f.measure, Block: f.block,
		Better: programme.Better(f.Better), Scale: programme.Scale(f.Scale), Columns: map[string]string{},
		Settings: compare.Settings{
			Drift: compare.Drift(f.drift), DriftPerBlock: compare.Drift(f.perBlock), By: compare.By(f.by),
			Reference: compare.Reference(f.reference), When: compare.When(f.when), Sided: compare.Sides(f.sided),
			Covariates: f.covariates, Average: compare.Average(f.average),
		},
	}
	if err := f.planned(c, &q); err != nil {
		return q, err
	}
	if f.Control == "" && q.Plan == nil && name != "" {
		return q, fault.New(fault.Invalid, "no control is named").WithHint("name its code: --control K")
	}
	if f.Better != "higher" && f.Better != "lower" && (q.Plan == nil || f.Better != "") {
		return q, fault.New(fault.Invalid, "it is not said which values are better").WithHint("--better higher, or --better lower")
	}
	switch q.Scale {
	case programme.Ratio, programme.Difference, programme.Count, programme.Threshold, "":
	default:
		return q, fault.New(fault.Invalid, "%q is no scale", f.Scale).WithHint("--scale ratio, difference, count or threshold")
	}
	if name != "" && q.Plan == nil {
		if err := f.threshold.onlyThresholds(q.Scale); err != nil {
			return q, err
		}
	}
	if err := f.threshold.apply(&q.Settings); err != nil {
		return q, err
	}
	f.Scatter.apply(&q.Settings)
	var err error
	if q.History, err = f.Scatter.read(); err != nil {
		return q, err
	}
	if q.Columns, err = terminal.Pairs(f.columns); err != nil {
		return q, err
	}
	if q.Settings.Profile, err = f.profile.settings(); err != nil {
		return q, err
	}
	if q.Settings.Profiles, err = f.profile.Held(); err != nil {
		return q, err
	}
	if f.Margin != "" {
		if q.Settings.Margin, err = testplan.ParseMargin(f.Margin, f.Scale); err != nil {
			return q, fault.At(err, "--margin")
		}
	}
	return q, nil
}

// runTest compares one measure of a test of the programme.
func (f *Flags) runTest(c *cobra.Command) error {
	if f.test == "" {
		return fault.New(fault.Invalid, "neither a table nor a test is named").
			WithHint("bookend compare TABLE.csv, or in a programme's folder bookend compare --test NAME")
	}
	if err := f.RefuseOfTables(c); err != nil {
		return err
	}
	var answer *app.CompareAnswer
	if err := f.In(c, func(a *app.Folder) error {
		q, err := f.Request(c, "", nil)
		if err != nil {
			return err
		}
		answer, err = a.Compare(c.Context(), app.TestRequest{
			Test: f.test, Measure: f.measure, Place: f.place, Control: f.Control, Settings: q.Settings,
			Override: q.Override, Reason: f.Reason,
		})
		return err
	}); err != nil {
		return err
	}
	return f.print(c.OutOrStdout(), answer)
}

// In opens the programme, its codes where that is asked for, and its ground, and shows how
// far long work has come until use is through.
func (f *Flags) In(c *cobra.Command, use func(*app.Folder) error) error {
	return folders.OnGround(c.Context(), f.Folder, func(a *app.Folder) error {
		if err := f.Codes.Apply(c, a); err != nil {
			return err
		}
		p := terminal.NewProgress(c.ErrOrStderr())
		a.Progress = p.Step
		defer p.Done()
		return use(a)
	})
}

// RefuseOfTables refuses the flags that mean nothing to a programme's test, and
// fills in what the test says itself.
func (f *Flags) RefuseOfTables(c *cobra.Command) error {
	for _, of := range [][2]string{
		{"better", "the test says which values are better"},
		{"scale", "the measure says how it is compared"},
		{"columns", "columns are named at import"},
		{"each-row-a-stint", "stints are told apart at import"},
		{"block", "the tables' column block is used"},
		{"history", "a programme's record lies in its ground, not in a file"},
	} {
		if c.Flags().Changed(of[0]) {
			return fault.New(fault.Invalid, "--%s belongs to tables", of[0]).WithHint("%s", of[1])
		}
	}
	f.Better = string(programme.Higher) // the measure's own direction counts
	return nil
}

func (f Flags) print(out io.Writer, a *app.CompareAnswer) error {
	return terminal.Answer(out, f.AsJSON, a.Document(), func(out io.Writer) { PrintComparison(out, a) })
}

// PrintComparison prints the answer within 80 columns.
func PrintComparison(out io.Writer, a *app.CompareAnswer) {
	r := a.Both.Result
	s := shownIn(r)
	if title := a.Title(); title != "" {
		fmt.Fprintf(out, "%s.\n\n", terminal.Wrap(terminal.Typewritten(title), 78, ""))
	}
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s against control %s. Correction: %s.", terminal.UpperFirst(r.Measure.Title), r.Control, r.Correction), 78, ""))
	if r.Scale == programme.Ratio {
		fmt.Fprintln(out, "Index: control 100, higher is better.")
	} else {
		fmt.Fprintf(out, "Difference to the control%s, positive is better.\n", s.words())
	}
	fmt.Fprintf(out, "Margin: %s.\n", marginOf(r, s))
	fmt.Fprintln(out)
	var notes terminal.Notes
	if r.Alike != nil {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%d runs in %d stints were compared. What never differs says nothing about the tyres.", r.Runs, len(r.Stints)), 78, ""))
		for _, c := range append(r.Caveats[:len(r.Caveats):len(r.Caveats)], a.Log.Caveats...) {
			notes.Mark(c)
		}
		printPlan(out, a)
		notes.Print(out)
		return
	}
	k := AgainstOf(r)
	terminal.PrintTable(out, fmt.Sprintf("code\tverdict\t%s\tinterval\tshowable\tstints\truns\tnote", k.Column()), func(w io.Writer) {
		for _, row := range r.Rows {
			var marks []string
			for _, c := range row.Caveats.Within(caveat.Place{Code: row.Code}) {
				marks = append(marks, strconv.Itoa(notes.Mark(c)))
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\t%d\t%s\n", row.Code, terminal.Brief(row.Verdict.Word), k.Estimate(row.Index, row.Difference),
				k.Interval(row.IndexLow, row.IndexHigh, row.DiffLow, row.DiffHigh, "none"), k.Least(row.Detectable), row.Stints, row.Runs, strings.Join(marks, " "))
		}
	})
	for _, c := range append(r.Caveats[:len(r.Caveats):len(r.Caveats)], a.Log.Caveats...) {
		notes.Mark(c)
	}
	fmt.Fprintln(out)
	if slices.ContainsFunc(r.Rows, func(row compare.Row) bool { return row.Verdict.Word == compare.Same }) {
		fmt.Fprintln(out, "Same: the whole interval lies within the margin.")
	}
	if r.Error.DF > 0 {
		fmt.Fprintf(out, "Showable: the least difference that could have been shown with a power of 80 %%.\n%d compared together: the 95 %% intervals hold for all at once, on %s df.\n",
			len(r.Rows), terminal.Degrees(r.Error.DF))
	} else {
		fmt.Fprintf(out, "%d compared together, with no degrees of freedom: estimates without intervals.\n", len(r.Rows))
	}
	printThresholds(out, r)
	printDoubt(out, r)
	printRecord(out, r)
	printPlan(out, a)
	printLimits(out, r)
	if r.Block != nil {
		printRegulation(out, r.Block, r.Validity)
	}
	if all := a.Both.All; all != nil {
		fmt.Fprintf(out, "Runs left out: %d. With every run in:\n", LeftOut(r))
		k := AgainstOf(all)
		for _, row := range all.Rows {
			fmt.Fprintf(out, "  %s  %s, %s\n", row.Code, terminal.Short(row.Verdict.Word), k.Estimate(row.Index, row.Difference))
		}
	} else if a.Both.AllErr != "" {
		fmt.Fprintln(out, terminal.Wrap("With every run in there is no comparison: "+a.Both.AllErr, 78, ""))
	}
	notes.Print(out)
}

// marginOf says what difference matters, in the words that it was typed in: a
// verdict means nothing without.
func marginOf(r *compare.Result, s shown) string {
	m := r.Settings.Margin
	switch {
	case m == nil:
		return "none, so nothing is called the same"
	case !m.InUnit && m.Value == 1:
		return "1 index point"
	case !m.InUnit:
		return unit.Shortest(m.Value) + " index points"
	}
	// What was converted at the door and back has lost its last bits.
	text := strconv.FormatFloat(s.by(m.Value), 'g', 12, 64)
	if s.u.IsZero() {
		return text + " in the unit of the values"
	}
	return text + " " + s.u.ASCII()
}

// LeftOut counts the runs that bear on the measure and are excluded.
func LeftOut(r *compare.Result) int {
	runs := map[string]bool{}
	for _, x := range r.Excluded {
		runs[x.Run] = true
	}
	return len(runs)
}
