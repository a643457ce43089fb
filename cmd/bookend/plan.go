package main

import (
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// addPlan gives a command the flags that hold it to a frozen plan.
func (f *compareFlags) addPlan(c *cobra.Command) {
	c.Flags().StringVar(&f.plan, "plan", "", "the frozen plan of a table (JSON); in a programme: bookend plan freeze")
	c.Flags().StringVar(&f.reason, "reason", "", "why something is set otherwise than planned")
}

// planned reads the plan of a table, and keeps what was typed beside it.
func (f *compareFlags) planned(c *cobra.Command, q *app.CompareRequest) error {
	q.Reason, q.Author = f.reason, author()
	q.Override = func(base compare.Settings) (compare.Settings, error) { return f.over(c, base) }
	if f.plan == "" {
		if f.reason != "" && q.Name != "" {
			return fault.New(fault.Invalid, "--reason belongs to a plan").WithHint("name it with --plan")
		}
		return nil
	}
	if q.Name == "" {
		return fault.New(fault.Invalid, "--plan belongs to tables").WithHint("in a programme a plan is frozen: bookend plan freeze %s", f.plan)
	}
	data, err := app.ReadTable(f.plan)
	if err != nil {
		return fault.At(err, "--plan")
	}
	if q.Plan, err = app.ReadPlan(filepath.Base(f.plan), data); err != nil {
		return err
	}
	// What was not typed is the plan's.
	if !c.Flags().Changed("scale") {
		q.Scale = ""
	}
	return nil
}

// over puts what was typed over the settings of the plan.
func (f *compareFlags) over(c *cobra.Command, s compare.Settings) (compare.Settings, error) {
	for _, of := range []struct {
		flag string
		set  func()
	}{
		{"drift", func() { s.Drift, s.Average = compare.Drift(f.drift), "" }},
		{"drift-per-block", func() { s.DriftPerBlock = compare.Drift(f.perBlock) }},
		{"by", func() { s.By = compare.By(f.by) }},
		{"reference", func() { s.Reference = compare.Reference(f.reference) }},
		{"when", func() { s.When = compare.When(f.when) }},
		{"average", func() { s.Average = compare.Average(f.average) }},
		{"sided", func() { s.Sided = compare.Sides(f.sided) }},
		{"covariates", func() { s.Covariates = f.covariates }},
		{"model", func() { s.Model = compare.Model(f.scatter.model) }},
		{"run-number", func() { s.RunNumber = compare.RunNumber(f.scatter.number) }},
		{"tyre-by-block", func() { s.TyreByBlock = compare.Across(f.scatter.across) }},
		{"record", func() { s.Record = compare.Borrowing(f.scatter.record) }},
		{"set-sd", func() { s.SetSD, s.SetSDSource = &f.scatter.setSD, f.scatter.setSource }},
	} {
		if c.Flags().Changed(of.flag) {
			of.set()
		}
	}
	if s.Scale == programme.Threshold {
		if err := f.threshold.apply(&s); err != nil {
			return s, err
		}
	}
	var err error
	if c.Flags().Changed("margin") {
		if s.Margin, err = app.ParseMargin(f.margin, string(s.Scale)); err != nil {
			return s, fault.At(err, "--margin")
		}
	}
	if c.Flags().Changed("beside") || c.Flags().Changed("limits") {
		if s.Profiles, err = f.profile.held(); err != nil {
			return s, err
		}
	}
	if c.Flags().Changed("profile") {
		if s.Profile, err = f.profile.settings(); err != nil {
			return s, err
		}
	}
	return s, nil
}

// judging gives the verbs about what verdicts rest on: plan, ground, record, ratings and links.
func judging() []*cobra.Command {
	return []*cobra.Command{groundCommand(), linkCommand(), planCommand(), ratingsCommand(), recordCommand(), signoffCommand(), testCommand()}
}

func planCommand() *cobra.Command {
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
	var p app.Plan
	var t app.PlanTest
	var better, scale, drift, sided, record string
	var own profileFlags
	var rules, weights []string
	c := &cobra.Command{
		Use:   "draft",
		Short: "print a plan to begin with",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			t.Better, t.Scale = programme.Better(better), programme.Scale(scale)
			t.Drift, t.Sided, t.Record = compare.Drift(drift), compare.Sides(sided), compare.Borrowing(record)
			limits, err := own.held()
			if err != nil {
				return err
			}
			if len(limits) > 0 {
				t.Limits = &limits[0]
			}
			if t.Weights, err = numbers("weights", weights); err != nil {
				return err
			}
			for _, pair := range rules {
				id, text, ok := strings.Cut(pair, "=")
				if !ok {
					return fault.New(fault.Invalid, "--rule: %q is not ID=TEXT", pair).WithHint(`for example --rule traffic="another vehicle within 100 m"`)
				}
				t.Exclusions = append(t.Exclusions, app.PlanRule{ID: id, Text: text})
			}
			p.Schema, p.Tests = app.PlanSchema, []app.PlanTest{t}
			text, err := json.MarshalIndent(p, "", "  ")
			if err != nil {
				return fault.New(fault.Internal, "writing the plan: %w", err)
			}
			if _, err := app.ReadPlan("the draft", text); err != nil {
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
	fs.StringVar(&own.limits, "limits", "", "the evaluator's own profile of limits (JSON)")
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
			data, err := app.ReadTable(args[0])
			if err != nil {
				return err
			}
			p, err := app.ReadPlan(filepath.Base(args[0]), data)
			if err != nil {
				return err
			}
			return inFolder(c.Context(), dir, func(a *app.Folder) error {
				sum, again, err := a.FreezePlan(c.Context(), p, reason)
				if err != nil {
					return err
				}
				word := "is frozen"
				if again {
					word = "was frozen already"
				}
				return sayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("The plan %s, sha256\n%s.", word, sum))
			})
		},
	}
	addFolder(c, &dir)
	c.Flags().StringVar(&reason, "reason", "", "why the frozen plan is amended")
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

// planDocument is the JSON of bookend plan show.
type planDocument struct {
	Schema  string       `json:"schema"`
	Results []planResult `json:"results"`
}

type planResult struct {
	SHA256 string    `json:"sha256"`
	Reason string    `json:"reason,omitempty"`
	Plan   *app.Plan `json:"plan"`
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
				data, err := app.ReadTable(args[0])
				if err != nil {
					return err
				}
				p, err := app.ReadPlan(filepath.Base(args[0]), data)
				if err != nil {
					return err
				}
				sum, err := p.Hash()
				if err != nil {
					return err
				}
				list = append(list, planResult{SHA256: sum, Plan: p})
			} else if err := inFolder(c.Context(), dir, func(a *app.Folder) error {
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
				return printJSON(c.OutOrStdout(), planDocument{app.PlanSchema, list})
			}
			for i, p := range list {
				if i > 0 {
					fmt.Fprintln(c.OutOrStdout())
				}
				if p.Reason != "" {
					fmt.Fprintln(c.OutOrStdout(), wrap("Amended: "+p.Reason, 78, ""))
				}
				spellPlan(c.OutOrStdout(), p.Plan, p.SHA256)
			}
			return nil
		},
	}
	addFolder(c, &dir)
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

func spellPlan(out io.Writer, p *app.Plan, sum string) {
	if p.Title != "" {
		fmt.Fprintln(out, wrap(p.Title, 78, ""))
	}
	fmt.Fprintf(out, "Control %s. SHA-256 of the plan:\n%s\n", p.Control, sum)
	for i := range p.Tests {
		t := &p.Tests[i]
		fmt.Fprintln(out)
		if t.Test != "" {
			fmt.Fprintf(out, "Test %s\n", t.Test)
		}
		for _, l := range t.Lines() {
			fmt.Fprintf(out, "  %-16s%s\n", l[0], wrap(l[1], 60, strings.Repeat(" ", 18)))
		}
	}
}

// printPlan says how the verdicts stand to the plan, and lists what was changed.
func printPlan(out io.Writer, a *app.CompareAnswer) {
	p := a.Plan
	if p == nil {
		return
	}
	frozen := ""
	if p.Frozen != "" {
		frozen = fmt.Sprintf(", frozen %s by %s", p.Frozen, p.Person)
	}
	follows := "The verdicts follow the plan"
	if p.Both != nil || p.Failed != "" {
		follows = "The verdicts above do not follow the plan"
	}
	fmt.Fprintln(out, wrap(fmt.Sprintf("%s %.12s%s. This is %s.", follows, p.SHA256, frozen, article(p.Look)), 78, ""))
	if p.Late != "" {
		fmt.Fprintln(out, wrap("The plan came late: "+p.Late+".", 78, ""))
	}
	if len(p.Changes) > 0 {
		fmt.Fprintln(out, "Otherwise than planned:")
		for _, c := range p.Changes {
			fmt.Fprintln(out, "  "+wrap(changeText(c), 76, "    "))
		}
	}
	if p.Failed != "" {
		fmt.Fprintln(out, wrap("There is no planned verdict: "+p.Failed, 78, ""))
	}
	if p.Both == nil {
		return
	}
	fmt.Fprintln(out, "As planned:")
	r := p.Both.Result
	k := againstOf(r)
	for _, row := range r.Rows {
		later := ""
		if i := slices.IndexFunc(a.Both.Result.Rows, func(x compare.Row) bool { return x.Code == row.Code }); i >= 0 && a.Both.Result.Rows[i].Verdict.Word != row.Verdict.Word {
			later = "; now " + short(a.Both.Result.Rows[i].Verdict.Word)
		}
		fmt.Fprintf(out, "  %s  %s, %s, %s%s\n", row.Code, short(row.Verdict.Word), k.estimate(row.Index, row.Difference),
			k.interval(row.IndexLow, row.IndexHigh, row.DiffLow, row.DiffHigh, "no interval"), later)
	}
}

func article(look string) string {
	if look == "at the end" {
		return "the look at the end"
	}
	return look
}

// changeText says one change as a line.
func changeText(c app.Change) string {
	text := strings.ReplaceAll(c.What, "_", " ") + ": planned " + strings.ReplaceAll(c.Planned, "_", " ") + ", now " + strings.ReplaceAll(c.Used, "_", " ")
	if c.After {
		text += ", after a verdict had been opened"
	}
	var who []string
	for _, s := range []string{c.Person, c.At} {
		if s != "" {
			who = append(who, s)
		}
	}
	if len(who) > 0 {
		text += " (" + strings.Join(who, ", ") + ")"
	}
	if c.Reason != "" {
		text += ": " + c.Reason
	}
	return text
}
