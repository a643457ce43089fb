// Package ratings holds the verb about what raters said, and the flags that say how
// their sheets are read.
package ratings

import (
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/opinions"
	"example.org/bookend/cmd/bookend/internal/blind"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/compare/digits"
	"example.org/bookend/compare/opinion"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// SheetFlags say how rating sheets are to be read and compared.
type SheetFlags struct {
	sheet, margin          string
	also, targets, weights []string
	columns                []string
	drift, by              string
}

// Add declares the flags, their words beginning with the prefix.
func (f *SheetFlags) Add(c *cobra.Command, prefix string) {
	fs := c.Flags()
	fs.StringVar(&f.sheet, "sheet", "free", "free: the control is rated blind; anchored: its rating is fixed and known")
	fs.StringSliceVar(&f.also, "blind-control", nil, "codes under which the control was rated too, blind")
	fs.StringSliceVar(&f.targets, "best-at", nil, "attributes that are best in the middle, and where: steering_effort=6")
	fs.StringSliceVar(&f.weights, "weights", nil, "what attributes weigh, of the client: grip=3,comfort=1")
	fs.StringVar(&f.margin, prefix+"margin", "", "smallest difference that matters, in points: 0.5")
}

// Request asks for the sheets in a file.
func (f *SheetFlags) Request(path, control string) (opinions.Request, error) {
	q, err := f.Settings()
	if err != nil {
		return q, err
	}
	q.Name, q.Control = filepath.Base(path), control
	q.Data, err = logger.ReadTable(path)
	return q, err
}

// Settings says how sheets are compared, whichever they are.
func (f *SheetFlags) Settings() (opinions.Request, error) {
	q := opinions.Request{Also: f.also, Sheet: opinion.Sheet(f.sheet), Settings: compare.Settings{Drift: compare.Drift(f.drift), By: compare.By(f.by)}}
	var err error
	if q.Targets, err = terminal.Numbers("best-at", f.targets); err != nil {
		return q, err
	}
	if q.Weights, err = terminal.Numbers("weights", f.weights); err != nil {
		return q, err
	}
	if q.Columns, err = terminal.Pairs(f.columns); err != nil {
		return q, err
	}
	if f.margin != "" {
		v, err := strconv.ParseFloat(f.margin, 64)
		if err != nil || !(v > 0) || v > 9 {
			return q, fault.New(fault.Invalid, "%q is no margin in points", f.margin).WithHint("for example 0.5")
		}
		q.Settings.Margin = &compare.Margin{Value: v, InUnit: true}
	}
	return q, nil
}

// Verb is the verb ratings: what drivers felt, compared attribute by attribute and weighed.
func Verb() *cobra.Command {
	var f SheetFlags
	var sealed blind.Flags
	var control, test, dir string
	var asJSON bool
	c := &cobra.Command{
		Use:   "ratings [SHEETS.csv]",
		Short: "put what evaluators rate against the control, attribute by attribute",
		Long: `Compare rating sheets: columns stint, code, rater, attribute and value, one
line an attribute that one rater rated on one stint, in quarter points: from 1 to
10; balance at entry, in mid-corner and at exit from -3, heavy understeer, by 0,
neutral, to 3, heavy oversteer.

On a free sheet the control is rated blind, under several codes, like everything
else: its repeats say how each rater scatters and drifts, and verdicts have
intervals. On an anchored sheet its rating is fixed and known: candidates have
estimates alone unless they are repeated.

An attribute that is best in the middle is compared by its distance from the
target (--best-at 'balance at entry=0') and is in no sum; a balance without a
target is described, and never better or worse. The weighted sum (--weights) stands with the
share of all weightings under which each code leads, and the weights at which
the lead changes.

With --test the sheets are those of the run log, once every one is closed.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if (test == "") != (len(args) == 1) {
				return fault.New(fault.Invalid, "name a table of sheets, or a test whose sheets the run log holds: one of them").WithHint("bookend ratings SHEETS.csv, or bookend ratings --test NAME")
			}
			if control == "" {
				return fault.New(fault.Invalid, "no control is named").WithHint("name its code: --control K")
			}
			if test != "" {
				return folders.In(c.Context(), dir, func(a *app.Folder) error {
					if err := sealed.Apply(c, a); err != nil {
						return err
					}
					q, err := f.Settings()
					if err != nil {
						return err
					}
					q.Control = control
					answer, err := a.CompareRatings(c.Context(), test, q)
					if err != nil {
						return err
					}
					return terminal.Answer(c.OutOrStdout(), asJSON, answer.Document(), func(out io.Writer) { printRatings(out, answer) })
				})
			}
			q, err := f.Request(args[0], control)
			if err != nil {
				return err
			}
			a, err := opinions.Compare(q)
			if err != nil {
				return err
			}
			return terminal.Answer(c.OutOrStdout(), asJSON, a.Document(), func(out io.Writer) { printRatings(out, a) })
		},
	}
	f.Add(c, "")
	fs := c.Flags()
	sealed.Add(c)
	folders.Flag(c, &dir)
	fs.StringVar(&test, "test", "", "a test whose sheets the run log holds, instead of a table")
	fs.StringVar(&control, "control", "", "code of the control")
	fs.StringVar(&f.drift, "drift", "bracket", "correction: none, bracket, linear or quadratic")
	fs.StringVar(&f.by, "by", "position", "where a stint lies in the sequence: position or clock")
	fs.StringSliceVar(&f.columns, "columns", nil, "names in the sheet: code=tyre,value=points")
	terminal.JSONFlag(c, &asJSON)
	return c
}

func pointsText(low, high *float64) string {
	n := pointDigits(low, high)
	switch {
	case low != nil && high != nil:
		return unit.SignedInterval(*low, *high, n, unit.Plain)
	case low != nil:
		return "from " + unit.Signed(*low, n, unit.Plain)
	}
	return "none"
}

// pointDigits is with how many decimals a difference in points is printed.
func pointDigits(low, high *float64) int { return digits.Ends(low, high, 0, 2) }

// points writes a difference with the decimals of its interval.
func points(v, low, high *float64) string {
	if v == nil {
		return "none"
	}
	return unit.Signed(*v, pointDigits(low, high), unit.Plain)
}

func signedOr(v *float64) string {
	if v == nil {
		return "none"
	}
	return unit.Signed(*v, 2, unit.Plain)
}

// printRatings prints the answer within 80 columns.
func printRatings(out io.Writer, a *opinions.Answer) {
	r := a.Result
	sheets := fmt.Sprintf("%d sheets by %d raters on %d stints", r.Sheets, len(r.Raters), r.Stints)
	if len(r.Raters) == 1 {
		sheets = fmt.Sprintf("%d sheets by one rater", r.Sheets)
	}
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Ratings against control %s: %s. %s. Points, positive is better.", r.Control, sheets, sheetWord(r.Sheet)), 78, ""))
	fmt.Fprintln(out)
	terminal.PrintTable(out, "attribute\tcode\tverdict\tpoints\tinterval\tshowable\tstints", func(w io.Writer) {
		rows := func(name string, list []opinion.Row) {
			for i, x := range list {
				if i > 0 {
					name = ""
				}
				fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%d\n", name, x.Code, terminal.Brief(x.Verdict.Word), points(x.Difference, x.Low, x.High), pointsText(x.Low, x.High), terminal.Maybe(x.Detectable, 2), x.Stints)
			}
		}
		for _, x := range r.Attributes {
			if x.Failed == "" {
				rows(x.Name, x.Rows)
			}
		}
	})
	for _, x := range r.Attributes {
		if x.Failed != "" {
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s is not compared: %s.", x.Name, x.Failed), 78, "  "))
		}
		if x.Target != nil {
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s is best at %g: the distance from there is compared, and is in no sum.", x.Name, *x.Target), 78, "  "))
		}
	}
	fmt.Fprintln(out)
	terminal.PrintTable(out, "rater\tsheets\tof control\tseverity\trepeats within\tdf\tdrift/stint\tp", func(w io.Writer) {
		for _, p := range r.Raters {
			fmt.Fprintf(w, "%s\t%d\t%d\t%s\t%s\t%s\t%s\t%s\n", p.Name, p.Sheets, p.Controls, signedOr(p.Severity), terminal.Maybe(p.Repeatability, 2), terminal.Degrees(p.DF), signedOr(p.Drift), terminal.Maybe(p.DriftP, 3))
		}
	})
	printAgreement(out, r)
	printOrdinal(out, r)
	printOverall(out, r)
	terminal.NotesOf(a.Caveats()).PrintApart(out)
}

func sheetWord(s opinion.Sheet) string {
	if s == opinion.Anchored {
		return "Anchored sheet: the control's rating is fixed and known"
	}
	return "Free sheet: the control is rated blind"
}

func printAgreement(out io.Writer, r *opinion.Result) {
	any := false
	for _, x := range r.Attributes {
		any = any || x.Agreement != nil
	}
	if !any {
		return
	}
	fmt.Fprintln(out)
	terminal.PrintTable(out, "agreement\tstints\tICC(2,1)\tinterval\tICC(2,k)\tKendall's W\tp\talpha", func(w io.Writer) {
		for _, x := range r.Attributes {
			g := x.Agreement
			if g == nil {
				continue
			}
			icc, iv, mean := "none", "none", "none"
			if g.ICC.Defined {
				icc, iv = unit.Number(g.ICC.Value, 2, unit.Plain), unit.Interval(g.ICC.Low, g.ICC.High, 2, unit.Plain)
			}
			if g.ICCMean.Defined {
				mean = unit.Number(g.ICCMean.Value, 2, unit.Plain)
			}
			fmt.Fprintf(w, "%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\n", x.Name, g.Stints, icc, iv, mean, unit.Number(g.W, 2, unit.Plain), unit.Number(g.WP, 3, unit.Plain), terminal.Maybe(g.Alpha, 2))
		}
	})
}

func printOrdinal(out io.Writer, r *opinion.Result) {
	any := false
	for _, x := range r.Attributes {
		any = any || x.Ordinal != nil
	}
	if !any {
		return
	}
	fmt.Fprintln(out, "\nThe steps of the scale need not be alike (ordinal model): log odds of a\nhigher rating than the control's, p alone and of large numbers.")
	terminal.PrintTable(out, "attribute\tcode\tlog odds\tp\trandom", func(w io.Writer) {
		for _, x := range r.Attributes {
			if x.Ordinal == nil {
				continue
			}
			for i, row := range x.Rows {
				name, random := "", ""
				if i == 0 {
					name, random = x.Name, terminal.Or(strings.Join(x.Ordinal.Random, ", "), "none")
				}
				fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", name, row.Code, signedOr(row.OrdinalOdds), terminal.Maybe(row.OrdinalP, 3), random)
			}
		}
	})
}

func printOverall(out io.Writer, r *opinion.Result) {
	o := r.Overall
	if o == nil {
		return
	}
	var weights []string
	for i, n := range o.Names {
		weights = append(weights, fmt.Sprintf("%s %s %%", n, unit.Number(100*o.Weights[i], 0, unit.Plain)))
	}
	fmt.Fprintln(out)
	fmt.Fprintln(out, terminal.Wrap("Overall by the client's weights: "+strings.Join(weights, ", ")+".", 78, ""))
	if len(o.Left) > 0 {
		fmt.Fprintln(out, terminal.Wrap("Not in it: "+strings.Join(o.Left, ", ")+".", 78, ""))
	}
	if o.Failed != "" {
		fmt.Fprintln(out, terminal.Wrap(terminal.UpperFirst(o.Failed)+".", 78, ""))
	}
	terminal.PrintTable(out, "code\tverdict\tpoints\tinterval\tleads over\terror", func(w io.Writer) {
		for _, l := range o.Leads {
			word, d, iv := "control", "0", ""
			for _, x := range o.Rows {
				if x.Code == l.Code {
					word, d, iv = terminal.Brief(x.Verdict.Word), points(x.Difference, x.Low, x.High), pointsText(x.Low, x.High)
				}
			}
			e := "exact"
			if !o.Exact {
				e = "±" + unit.Number(100*l.Error, 2, unit.Plain)
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s %%\t%s\n", l.Code, word, d, iv, unit.Number(100*l.Share, 1, unit.Plain), e)
		}
	})
	fmt.Fprintln(out, "Leads over: the share of all weightings under which it comes first.")
	if len(o.Turns) == 0 {
		fmt.Fprintf(out, "%s leads whatever a single attribute weighs.\n", o.Leader)
	}
	for _, t := range o.Turns {
		word := "above"
		if t.To < t.From {
			word = "below"
		}
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s leads, but with %s weighing %s %s %% (not %s %%) %s would.", o.Leader, t.Attribute, word,
			unit.Number(100*t.To, 0, unit.Plain), unit.Number(100*t.From, 0, unit.Plain), t.Leader), 78, "  "))
	}
}
