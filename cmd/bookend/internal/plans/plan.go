// Package plans holds the verbs of the plan: draft it, freeze it before the first
// candidate, show it.
package plans

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/testplan"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/cmd/bookend/internal/verdicts"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// Verb is the verb plan: what is settled before the first candidate is driven.
func Verb() *cobra.Command {
	c := &cobra.Command{
		Use:   "plan",
		Short: "say before the first candidate is driven how verdicts will be come by",
		Long: `A plan fixes the first measure of each test, margin, sides, correction,
covariates, filters, whether the ground's record is used, the evaluator's own
limits, what rated attributes weigh, the rules for leaving runs out, and the
looks. Frozen, it is known by its hash: the first verdict follows it, and whatever
is done otherwise is listed with time, person and reason, the planned verdict
beside the later one. Weights other than the frozen ones are refused.

  bookend plan draft --control K --first value --margin 1 > plan.json
  bookend plan show plan.json
  bookend plan freeze plan.json`,
		Args: cobra.NoArgs,
	}
	c.AddCommand(planDraftCommand(), planFreezeCommand(), planShowCommand())
	return c
}

func planDraftCommand() *cobra.Command {
	var p testplan.Plan
	var t testplan.Test
	var better, scale, drift, sided, record string
	var own verdicts.ProfileFlags
	var rules, weights []string
	c := &cobra.Command{
		Use:   "draft",
		Short: "print a plan to begin with",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			t.Better, t.Scale = programme.Better(better), programme.Scale(scale)
			t.Drift, t.Sided, t.Record = compare.Drift(drift), compare.Sides(sided), compare.Borrowing(record)
			limits, err := own.Held()
			if err != nil {
				return err
			}
			if len(limits) > 0 {
				t.Limits = &limits[0]
			}
			if t.Weights, err = terminal.Numbers("weights", weights); err != nil {
				return err
			}
			for _, pair := range rules {
				id, text, ok := strings.Cut(pair, "=")
				if !ok {
					return fault.New(fault.Invalid, "--rule: %q is not ID=TEXT", pair).WithHint(`for example --rule traffic="another vehicle within 100 m"`)
				}
				t.Exclusions = append(t.Exclusions, testplan.Rule{ID: id, Text: text})
			}
			p.Schema, p.Tests = testplan.Schema, []testplan.Test{t}
			text, err := json.MarshalIndent(p, "", "  ")
			if err != nil {
				return fault.New(fault.Internal, "writing the plan: %w", err)
			}
			if _, err := testplan.Read("the draft", text); err != nil {
				return err
			}
			fmt.Fprintln(c.OutOrStdout(), string(text))
			return nil
		},
	}
	fs := c.Flags()
	fs.StringVar(&p.Title, "title", "", "what is compared")
	fs.StringVar(&p.Control, "control", "", "code of the control")
	fs.StringVar(&t.Test, "test", "", "the test's name in its programme")
	fs.StringVar(&t.First, "first", "value", "the measure that answers the question")
	fs.StringVar(&better, "better", "", "higher or lower, of a table's values")
	fs.StringVar(&scale, "scale", "", "ratio, difference, count or threshold, of a table's values")
	fs.StringVar(&t.Margin, "margin", "", "smallest difference that matters: index points (1), or with a unit (0.20m)")
	fs.StringVar(&drift, "drift", "bracket", "correction: none, bracket, linear or quadratic")
	fs.StringSliceVar(&t.Covariates, "covariates", nil, "columns that enter the model beside the control")
	fs.StringVar(&sided, "sided", "two", "intervals: two or one")
	fs.StringArrayVar(&t.Filters, "filter", nil, "a filter of the recordings, in words")
	fs.StringArrayVar(&rules, "rule", nil, `a reason that leaves runs out: traffic="another vehicle within 100 m"`)
	fs.StringSliceVar(&weights, "weights", nil, "what rated attributes weigh in the overall, of the client: grip=3,comfort=1")
	fs.StringVar(&record, "record", "", "the ground's record of the control: used or none; default used where there is one")
	fs.StringSliceVar(&t.Beside, "beside", nil, "published editions whose limits are held beside, by their ids")
	fs.StringVar(&own.Limits, "limits", "", "the evaluator's own profile of limits (JSON)")
	fs.IntVar(&t.Stints, "stints", 0, "how many stints will be driven")
	return c
}

func planFreezeCommand() *cobra.Command {
	var dir, reason string
	var asJSON bool
	c := &cobra.Command{
		Use:   "freeze PLAN.json",
		Short: "freeze the plan in the programme; a later one amends it and needs a reason",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			p, err := verdicts.PlanIn(args[0])
			if err != nil {
				return err
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				sum, again, err := a.FreezePlan(c.Context(), p, reason)
				if err != nil {
					return err
				}
				word := "is frozen"
				if again {
					word = "was frozen already"
				}
				return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("The plan %s, sha256\n%s.", word, sum))
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&reason, "reason", "", "why the frozen plan is amended")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// planDocument is the JSON of bookend plan show.
type planDocument struct {
	Schema  string       `json:"schema"`
	Results []planResult `json:"results"`
}

type planResult struct {
	SHA256 string         `json:"sha256"`
	Reason string         `json:"reason,omitempty"`
	Plan   *testplan.Plan `json:"plan"`
}

func planShowCommand() *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use:   "show [PLAN.json]",
		Short: "spell a plan out: that of a file, or those frozen in the programme",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var list []planResult
			if len(args) == 1 {
				p, err := verdicts.PlanIn(args[0])
				if err != nil {
					return err
				}
				sum, err := p.Hash()
				if err != nil {
					return err
				}
				list = append(list, planResult{SHA256: sum, Plan: p})
			} else if err := folders.In(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				for i := range s.Plans {
					list = append(list, planResult{SHA256: s.Plans[i].SHA256, Reason: s.Plans[i].Reason, Plan: &s.Plans[i].Plan})
				}
				return nil
			}); err != nil {
				return err
			}
			if len(list) == 0 {
				return fault.New(fault.NotFound, "no plan is frozen").WithHint("bookend plan freeze PLAN.json")
			}
			if asJSON {
				return terminal.PrintJSON(c.OutOrStdout(), planDocument{testplan.Schema, list})
			}
			for i, p := range list {
				if i > 0 {
					fmt.Fprintln(c.OutOrStdout())
				}
				if p.Reason != "" {
					fmt.Fprintln(c.OutOrStdout(), terminal.Wrap("Amended: "+p.Reason, 78, ""))
				}
				spellPlan(c.OutOrStdout(), p.Plan, p.SHA256)
			}
			return nil
		},
	}
	folders.Flag(c, &dir)
	terminal.JSONFlag(c, &asJSON)
	return c
}

func spellPlan(out io.Writer, p *testplan.Plan, sum string) {
	if p.Title != "" {
		fmt.Fprintln(out, terminal.Wrap(p.Title, 78, ""))
	}
	fmt.Fprintf(out, "Control %s. SHA-256 of the plan:\n%s\n", p.Control, sum)
	for i := range p.Tests {
		t := &p.Tests[i]
		fmt.Fprintln(out)
		if t.Test != "" {
			fmt.Fprintf(out, "Test %s\n", t.Test)
		}
		for _, l := range t.Lines() {
			fmt.Fprintf(out, "  %-16s%s\n", l[0], terminal.Wrap(l[1], 60, strings.Repeat(" ", 18)))
		}
	}
}
