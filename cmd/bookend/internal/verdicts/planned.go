package verdicts

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/testplan"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// addPlan gives a command the flags that hold it to a frozen plan.
func (f *Flags) addPlan(c *cobra.Command) {
	c.Flags().StringVar(&f.plan, "plan", "", "the frozen plan of a table (JSON); in a programme: bookend plan freeze")
	c.Flags().StringVar(&f.Reason, "reason", "", "why something is set otherwise than planned")
}

// PlanIn reads the plan in a file.
func PlanIn(path string) (*testplan.Plan, error) {
	data, err := logger.ReadTable(path)
	if err != nil {
		return nil, err
	}
	return testplan.Read(filepath.Base(path), data)
}

// planned reads the plan of a table, and keeps what was typed beside it.
func (f *Flags) planned(c *cobra.Command, q *app.CompareRequest) error {
	q.Reason, q.Author = f.Reason, folders.Author()
	q.Override = func(base compare.Settings) (compare.Settings, error) { return f.over(c, base) }
	if f.plan == "" {
		if f.Reason != "" && q.Name != "" {
			return fault.New(fault.Invalid, "--reason belongs to a plan").WithHint("name it with --plan")
		}
		return nil
	}
	if q.Name == "" {
		return fault.New(fault.Invalid, "--plan belongs to tables").WithHint("in a programme a plan is frozen: bookend plan freeze %s", f.plan)
	}
	var err error
	if q.Plan, err = PlanIn(f.plan); err != nil {
		return fault.At(err, "--plan")
	}
	// What was not typed is the plan's.
	if !c.Flags().Changed("scale") {
		q.Scale = ""
	}
	return nil
}

// over puts what was typed over the settings of the plan.
func (f *Flags) over(c *cobra.Command, s compare.Settings) (compare.Settings, error) {
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
		{"model", func() { s.Model = compare.Model(f.Scatter.model) }},
		{"run-number", func() { s.RunNumber = compare.RunNumber(f.Scatter.number) }},
		{"tyre-by-block", func() { s.TyreByBlock = compare.Across(f.Scatter.across) }},
		{"record", func() { s.Record = compare.Borrowing(f.Scatter.record) }},
		{"set-sd", func() { s.SetSD, s.SetSDSource = &f.Scatter.setSD, f.Scatter.setSource }},
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
		if s.Margin, err = testplan.ParseMargin(f.Margin, string(s.Scale)); err != nil {
			return s, fault.At(err, "--margin")
		}
	}
	if c.Flags().Changed("beside") || c.Flags().Changed("limits") {
		if s.Profiles, err = f.profile.Held(); err != nil {
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
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s %.12s%s. This is %s.", follows, p.SHA256, frozen, article(p.Look)), 78, ""))
	if p.Late != "" {
		fmt.Fprintln(out, terminal.Wrap("The plan came late: "+p.Late+".", 78, ""))
	}
	if len(p.Changes) > 0 {
		fmt.Fprintln(out, "Otherwise than planned:")
		for _, c := range p.Changes {
			fmt.Fprintln(out, "  "+terminal.Wrap(changeText(c), 76, "    "))
		}
	}
	if p.Failed != "" {
		fmt.Fprintln(out, terminal.Wrap("There is no planned verdict: "+p.Failed, 78, ""))
	}
	if p.Both == nil {
		return
	}
	fmt.Fprintln(out, "As planned:")
	r := p.Both.Result
	k := AgainstOf(r)
	for _, row := range r.Rows {
		later := ""
		if i := slices.IndexFunc(a.Both.Result.Rows, func(x compare.Row) bool { return x.Code == row.Code }); i >= 0 && a.Both.Result.Rows[i].Verdict.Word != row.Verdict.Word {
			later = "; now " + terminal.Short(a.Both.Result.Rows[i].Verdict.Word)
		}
		fmt.Fprintf(out, "  %s  %s, %s, %s%s\n", row.Code, terminal.Short(row.Verdict.Word), k.Estimate(row.Index, row.Difference),
			k.Interval(row.IndexLow, row.IndexHigh, row.DiffLow, row.DiffHigh, "no interval"), later)
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
