package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// compareFlags are the words of bookend compare as typed.
type compareFlags struct {
	control, better, margin, drift, perBlock, block, by, scale, reference, when, sided, measure string
	plan, reason                                                                                string
	columns                                                                                     []string
	covariates                                                                                  []string
	test, place, folder, average                                                                string
	rows, json                                                                                  bool
	profile                                                                                     profileFlags
	scatter                                                                                     scatterFlags
	codes                                                                                       codesFlags
	threshold                                                                                   thresholdFlags
}

func compareCommand() *cobra.Command {
	var f compareFlags
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
			data, err := app.ReadTable(args[0])
			if err != nil {
				return err
			}
			q, err := f.request(c, filepath.Base(args[0]), data)
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
	f.add(c)
	f.scatter.addHistory(c)
	fs := c.Flags()
	fs.StringVar(&f.measure, "measure", "", "which measure, where there are several")
	fs.StringVar(&f.test, "test", "", "a test of the programme, instead of a table")
	fs.StringVar(&f.place, "place", "", "of a measure with places: sector 2")
	f.codes.add(c)
	addFolder(c, &f.folder)
	fs.BoolVar(&f.json, "json", false, "print one JSON object")
	return c
}

// add gives a command the flags that say how a comparison is made.
func (f *compareFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringVar(&f.control, "control", "", "code of the control")
	fs.StringVar(&f.better, "better", "", "higher or lower: which values are better")
	fs.StringVar(&f.margin, "margin", "", "smallest difference that matters: index points (1), or with a unit (0.20m)")
	fs.StringVar(&f.drift, "drift", "bracket", "correction: none, bracket, linear or quadratic")
	fs.StringVar(&f.perBlock, "drift-per-block", "none", "drift of its own in each block: none, linear or quadratic")
	fs.StringVar(&f.block, "block", "", "column that names days, drivers or sessions")
	fs.StringVar(&f.by, "by", "position", "where a stint lies in the sequence: position or clock")
	fs.StringVar(&f.scale, "scale", "ratio", "ratio, difference, count or threshold")
	fs.StringVar(&f.reference, "reference", "first", "level of corrected values: first (control) or mean (of controls)")
	fs.StringVar(&f.when, "when", "always", "correct always, or if_shown by the control")
	fs.StringVar(&f.average, "average", "", "ratios from means or logs; default: means with a bracket, logs with a curve")
	fs.StringVar(&f.sided, "sided", "two", "intervals: two or one")
	f.profile.add(c)
	f.scatter.add(c)
	f.threshold.add(c)
	f.addPlan(c)
	fs.StringSliceVar(&f.columns, "columns", nil, "names in the table: code=trt,value=yield")
	fs.StringSliceVar(&f.covariates, "covariates", nil, "columns that enter the model beside the control")
	fs.BoolVar(&f.rows, "each-row-a-stint", false, "the table has no stint column: every row is a stint of its own")
}

func (f compareFlags) request(c *cobra.Command, name string, data []byte) (app.CompareRequest, error) {
	q := app.CompareRequest{
		Name: name, Data: data, Rows: f.rows, Control: f.control, Measure: f.measure, Block: f.block,
		Better: programme.Better(f.better), Scale: programme.Scale(f.scale), Columns: map[string]string{},
		Settings: compare.Settings{
			Drift: compare.Drift(f.drift), DriftPerBlock: compare.Drift(f.perBlock), By: compare.By(f.by),
			Reference: compare.Reference(f.reference), When: compare.When(f.when), Sided: compare.Sides(f.sided),
			Covariates: f.covariates, Average: compare.Average(f.average),
		},
	}
	if err := f.planned(c, &q); err != nil {
		return q, err
	}
	if f.control == "" && q.Plan == nil && name != "" {
		return q, fault.New(fault.Invalid, "no control is named").WithHint("name its code: --control K")
	}
	if f.better != "higher" && f.better != "lower" && (q.Plan == nil || f.better != "") {
		return q, fault.New(fault.Invalid, "it is not said which values are better").WithHint("--better higher, or --better lower")
	}
	switch q.Scale {
	case programme.Ratio, programme.Difference, programme.Count, programme.Threshold, "":
	default:
		return q, fault.New(fault.Invalid, "%q is no scale", f.scale).WithHint("--scale ratio, difference, count or threshold")
	}
	if name != "" && q.Plan == nil {
		if err := f.threshold.onlyThresholds(q.Scale); err != nil {
			return q, err
		}
	}
	if err := f.threshold.apply(&q.Settings); err != nil {
		return q, err
	}
	f.scatter.apply(&q.Settings)
	var err error
	if q.History, err = f.scatter.read(); err != nil {
		return q, err
	}
	if q.Columns, err = pairs(f.columns); err != nil {
		return q, err
	}
	if q.Settings.Profile, err = f.profile.settings(); err != nil {
		return q, err
	}
	if q.Settings.Profiles, err = f.profile.held(); err != nil {
		return q, err
	}
	if f.margin != "" {
		if q.Settings.Margin, err = app.ParseMargin(f.margin, f.scale); err != nil {
			return q, fault.At(err, "--margin")
		}
	}
	return q, nil
}

// runTest compares one measure of a test of the programme.
func (f *compareFlags) runTest(c *cobra.Command) error {
	if f.test == "" {
		return fault.New(fault.Invalid, "neither a table nor a test is named").
			WithHint("bookend compare TABLE.csv, or in a programme's folder bookend compare --test NAME")
	}
	if err := f.refuseOfTables(c); err != nil {
		return err
	}
	if f.scatter.history != "" {
		return fault.New(fault.Invalid, "--history belongs to tables").WithHint("a programme's record lies in its ground, not in a file")
	}
	return inFolder(c.Context(), f.folder, func(a *app.Folder) error {
		if err := f.codes.apply(c, a); err != nil {
			return err
		}
		q, err := f.request(c, "", nil)
		if err != nil {
			return err
		}
		p := newProgress(c.ErrOrStderr())
		a.Progress = p.step
		defer p.done()
		return withGround(c.Context(), f.folder, a, func(a *app.Folder) error {
			answer, err := a.Compare(c.Context(), app.TestRequest{
				Test: f.test, Measure: f.measure, Place: f.place, Control: f.control, Settings: q.Settings,
				Override: q.Override, Reason: f.reason,
			})
			if err != nil {
				return err
			}
			return f.print(c.OutOrStdout(), answer)
		})
	})
}

// refuseOfTables refuses the flags that mean nothing to a programme's test, and
// fills in what the test says itself.
func (f *compareFlags) refuseOfTables(c *cobra.Command) error {
	for _, of := range [][2]string{
		{"better", "the test says which values are better"},
		{"scale", "the measure says how it is compared"},
		{"columns", "columns are named at import"},
		{"each-row-a-stint", "stints are told apart at import"},
		{"block", "the tables' column block is used"},
	} {
		if c.Flags().Changed(of[0]) {
			return fault.New(fault.Invalid, "--%s belongs to tables", of[0]).WithHint("%s", of[1])
		}
	}
	f.better = string(programme.Higher) // the measure's own direction counts
	return nil
}

// pairs reads NAME=COLUMN, by bookend's name.
func pairs(list []string) (map[string]string, error) {
	out := map[string]string{}
	for _, pair := range list {
		ours, theirs, ok := strings.Cut(pair, "=")
		if !ok {
			return nil, fault.New(fault.Invalid, "--columns: %q is not NAME=COLUMN", pair).WithHint("for example --columns code=trt,value=yield")
		}
		out[ours] = theirs
	}
	return out, nil
}

func (f compareFlags) print(out io.Writer, a *app.CompareAnswer) error {
	if f.json {
		return printJSON(out, a.Document())
	}
	printComparison(out, a)
	return nil
}

// printComparison prints the answer within 80 columns.
func printComparison(out io.Writer, a *app.CompareAnswer) {
	r := a.Both.Result
	s := shownIn(r)
	if title := a.Title(); title != "" {
		fmt.Fprintf(out, "%s.\n\n", wrap(typewritten(title), 78, ""))
	}
	fmt.Fprintln(out, wrap(fmt.Sprintf("%s against control %s. Correction: %s.", upperFirst(r.Measure.Title), r.Control, r.Correction), 78, ""))
	if r.Scale == programme.Ratio {
		fmt.Fprintln(out, "Index: control 100, higher is better.")
	} else {
		fmt.Fprintf(out, "Difference to the control%s, positive is better.\n", s.words())
	}
	fmt.Fprintf(out, "Margin: %s.\n", marginOf(r, s))
	fmt.Fprintln(out)
	var notes notes
	if r.Alike != nil {
		fmt.Fprintln(out, wrap(fmt.Sprintf("%d runs in %d stints were compared. What never differs says nothing about the tyres.", r.Runs, len(r.Stints)), 78, ""))
		for _, c := range append(r.Caveats[:len(r.Caveats):len(r.Caveats)], a.Log.Caveats...) {
			notes.mark(c)
		}
		printPlan(out, a)
		notes.print(out)
		return
	}
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	k := againstOf(r)
	fmt.Fprintf(w, "code\tverdict\t%s\tinterval\tshowable\tstints\truns\tnote\n", k.column())
	for _, row := range r.Rows {
		var marks []string
		for _, c := range row.Caveats.Within(caveat.Place{Code: row.Code}) {
			marks = append(marks, strconv.Itoa(notes.mark(c)))
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\t%d\t%s\n", row.Code, brief(row.Verdict.Word), k.estimate(row.Index, row.Difference),
			k.interval(row.IndexLow, row.IndexHigh, row.DiffLow, row.DiffHigh, "none"), k.least(row.Detectable), row.Stints, row.Runs, strings.Join(marks, " "))
	}
	_ = w.Flush() // a builder takes everything
	fmt.Fprint(out, trimmed(b.String()))
	for _, c := range append(r.Caveats[:len(r.Caveats):len(r.Caveats)], a.Log.Caveats...) {
		notes.mark(c)
	}
	fmt.Fprintln(out)
	if slices.ContainsFunc(r.Rows, func(row compare.Row) bool { return row.Verdict.Word == compare.Same }) {
		fmt.Fprintln(out, "Same: the whole interval lies within the margin.")
	}
	if r.Error.DF > 0 {
		fmt.Fprintf(out, "Showable: the least difference that could have been shown with a power of 80 %%.\n%d compared together: the 95 %% intervals hold for all at once, on %s df.\n",
			len(r.Rows), degrees(r.Error.DF))
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
		fmt.Fprintf(out, "Runs left out: %d. With every run in:\n", leftOut(r))
		k := againstOf(all)
		for _, row := range all.Rows {
			fmt.Fprintf(out, "  %s  %s, %s\n", row.Code, short(row.Verdict.Word), k.estimate(row.Index, row.Difference))
		}
	} else if a.Both.AllErr != "" {
		fmt.Fprintln(out, wrap("With every run in there is no comparison: "+a.Both.AllErr, 78, ""))
	}
	notes.print(out)
}

// typewritten turns the report's signs into those of a terminal, as the numbers below
// them have.
func typewritten(text string) string {
	return strings.NewReplacer("−", "-", unit.NoBreak, " ", "’", "'").Replace(text)
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

// degrees prints degrees of freedom: whole ones as they are, those of a mixed
// model with one decimal.
func degrees(df float64) string {
	if whole := math.Round(df); math.Abs(df-whole) < 0.005 {
		return unit.Number(whole, 0, unit.Plain)
	}
	return unit.Number(df, 1, unit.Plain)
}

// short gives the word of a verdict as a narrow table has it.
func short(w compare.Word) string {
	switch w {
	case compare.BetterLessThanMargin:
		return "better < margin"
	case compare.WorseLessThanMargin:
		return "worse < margin"
	}
	return w.String()
}

// trimmed takes the blanks off the ends of lines.
func trimmed(text string) string {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(line, " ")
	}
	return strings.Join(lines, "\n")
}

// leftOut counts the runs that bear on the measure and are excluded.
func leftOut(r *compare.Result) int {
	runs := map[string]bool{}
	for _, x := range r.Excluded {
		runs[x.Run] = true
	}
	return len(runs)
}

func maybe(v *float64, digits int) string {
	if v == nil {
		return "none"
	}
	return unit.Number(*v, digits, unit.Plain)
}

// wrap breaks text at blanks so that no line is longer than width, if it can.
func wrap(text string, width int, indent string) string {
	var b strings.Builder
	line := 0
	for i, word := range strings.Fields(text) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case line+1+n > width:
			b.WriteString("\n" + indent)
			line = len(indent)
		default:
			b.WriteByte(' ')
			line++
		}
		b.WriteString(word)
		line += n
	}
	return b.String()
}
