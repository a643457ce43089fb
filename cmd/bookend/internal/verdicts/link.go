package verdicts

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/linked"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/testplan"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/compare/digits"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Link is the verb link: tyres of two tables held against each other by a tyre that is in both.
func Link() *cobra.Command {
	var q linked.Request
	var controls [2]string
	var better, scale, drift, measure, marginText string
	var asJSON bool
	c := &cobra.Command{
		Use:   "link FIRST.csv SECOND.csv --link CODE",
		Short: "put tyres of one table against one of another, through a tyre that both have",
		Long: `A candidate and the reference may not fit one vehicle, or were driven in two
programmes. A link tyre that was driven in both joins them: the index is the
product of two, candidate against link and link against reference, and its
variance the sum of both. The link tyre is taken as the same tyre in both tables;
what its sets differ by, and what it wore between, nothing here can see.`,
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case q.Link == "":
				return fault.New(fault.Invalid, "no link tyre is named").WithHint("--link L: its code in the first table")
			case better != "higher" && better != "lower":
				return fault.New(fault.Invalid, "it is not said which values are better").WithHint("--better higher, or --better lower")
			case controls[0] == "" || controls[1] == "":
				return fault.New(fault.Invalid, "no control is named").WithHint("--control for the first table, --second-control for the second")
			}
			for i, r := range []*app.CompareRequest{&q.First, &q.Second} {
				data, err := logger.ReadTable(args[i])
				if err != nil {
					return err
				}
				*r = app.CompareRequest{Name: filepath.Base(args[i]), Data: data, Control: controls[i], Better: programme.Better(better),
					Scale: programme.Scale(scale), Measure: measure, Settings: compare.Settings{Drift: compare.Drift(drift), Quick: true}}
			}
			if marginText != "" {
				m, err := testplan.ParseMargin(marginText, scale)
				if err != nil {
					return fault.At(err, "--margin")
				}
				q.Margin = m
			}
			a, err := linked.Link(q)
			if err != nil {
				return err
			}
			return terminal.Answer(c.OutOrStdout(), asJSON, a.Document(), func(out io.Writer) { printLink(out, a) })
		},
	}
	fs := c.Flags()
	fs.StringVar(&q.Link, "link", "", "the link tyre's code in the first table")
	fs.StringVar(&q.LinkSecond, "second-link", "", "its code in the second; default: the same")
	fs.StringVar(&q.Against, "against", "", "of the second table, what all is put against; default: its control")
	fs.StringVar(&controls[0], "control", "", "code of the first table's control")
	fs.StringVar(&controls[1], "second-control", "", "code of the second's")
	fs.StringVar(&better, "better", "", "higher or lower: which values are better")
	fs.StringVar(&scale, "scale", "ratio", "ratio or difference")
	fs.StringVar(&drift, "drift", "bracket", "correction: none, bracket, linear or quadratic")
	fs.StringVar(&measure, "measure", "", "which measure, where there are several")
	fs.StringVar(&marginText, "margin", "", "smallest difference that matters: index points, or the unit")
	terminal.JSONFlag(c, &asJSON)
	return c
}

func printLink(out io.Writer, a *linked.Answer) {
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s against %s, through %s.", a.Title, a.Chain.Against, strings.Join(a.Chain.Through, ", ")), 78, ""))
	column, own := "difference", a.Digits
	if a.Ratio {
		column, own = "index", unit.IndexDigits
	}
	decimals := own // those that show whatever is claimed
	for _, r := range a.Chain.Rows {
		if a.Ratio {
			decimals = max(decimals, digits.Ends(r.IndexLow, r.IndexHigh, 100, own))
		} else {
			decimals = max(decimals, digits.Ends(r.Verdict.Low, r.Verdict.High, 0, own))
		}
	}
	fmt.Fprintln(out)
	terminal.PrintTable(out, "code\tverdict\t"+column+"\tinterval\tdf\tvariance, link by link", func(w io.Writer) {
		for _, r := range a.Chain.Rows {
			e, low, high := r.Verdict.Estimate, r.Verdict.Low, r.Verdict.High
			if a.Ratio {
				e, low, high = r.Index, r.IndexLow, r.IndexHigh
			}
			iv := "none"
			if low != nil && high != nil {
				iv = unit.Interval(*low, *high, decimals, unit.Plain)
			}
			var parts []string
			for _, p := range r.Parts {
				parts = append(parts, unit.Number(100*p, 0, unit.Plain)+" %")
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", r.Code, terminal.Brief(r.Verdict.Word), terminal.Maybe(e, decimals), iv, terminal.Degrees(r.DF), strings.Join(parts, ", "))
		}
	})
	terminal.NotesOf(a.Caveats).PrintApart(out)
}
