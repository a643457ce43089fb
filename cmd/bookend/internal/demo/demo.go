// Package demo drives a made-up day or two on a synthetic ground, compares what was
// driven and says beside it what is true.
package demo

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/testplan"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/cmd/bookend/internal/verdicts"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/match"
	"example.org/bookend/programme"
	"example.org/bookend/report/html"
	"example.org/bookend/sim"
	"example.org/bookend/sim/evaluator"
	"example.org/bookend/sim/vehicle"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/tyre"
)

// Verb is the verb demo: the whole job on made-up days, held against their truth if asked.
func Verb() *cobra.Command {
	var d demo
	var short bool
	c := &cobra.Command{
		Use:   "demo",
		Short: "the whole job on two made-up days: recordings, run logs and ratings in, verdicts and report out",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) (err error) {
			if d.folder == "" {
				d.folder = free("bookend-demo")
			}
			s, err := sqlite.Create(c.Context(), d.folder)
			if err != nil {
				return err
			}
			defer func() {
				if e := s.Close(); err == nil {
					err = e
				}
			}()
			if short {
				return demoOfStops(c.Context(), c.OutOrStdout(), s, d.folder, d.seed, d.truth)
			}
			d.out, d.progress = c.OutOrStdout(), terminal.NewProgress(c.ErrOrStderr())
			return d.run(c.Context(), s)
		},
	}
	c.Flags().StringVar(&d.folder, "folder", "", "where to make the programme; default: bookend-demo, or the next that is free")
	c.Flags().Uint64Var(&d.seed, "seed", 26, "which made-up days")
	c.Flags().BoolVar(&d.truth, "truth", false, "hold the verdicts against the truth that the days were made from, and write it down")
	c.Flags().BoolVar(&short, "short", false, "one day of wet stops alone, in a second")
	return c
}

// demo is the whole job on the synthetic ground.
type demo struct {
	folder   string
	seed     uint64
	truth    bool
	out      io.Writer
	progress *terminal.Progress
	scenario sim.Scenario
	held     int // true values that lie in their intervals
	of       int
	found    int // true differences above the margin that are called
	above    int
	missed   []string
	odd      []string // recordings that were found to be mislabelled
}

// demoTest says how a test of the scenario is done.
type demoTest struct {
	plan  testplan.Test
	given programme.Parameters
	place string // of a first measure that has places
	shown string // the first measure in the truth
	also  []string
}

// tests are the scenario's tests with their plans. Dry days have two segments, before
// and after the shower: a straight line in each. Margins are what the client in the
// scenario would pay for (own choice).
func (d *demo) tests() []demoTest {
	m := d.scenario.Mounting()
	number := func(id string, v float64) programme.Setting { return programme.Setting{ID: id, Number: v} }
	word := func(id, w string) programme.Setting { return programme.Setting{ID: id, Word: w} }
	body := programme.Parameters{number("vehicle_width", d.scenario.Build.Width), number("body_ahead", m.BodyAhead), number("body_behind", m.BodyBehind),
		number("inertial_ahead", m.SeatAhead), number("reference_ahead", m.CentreAhead)}
	plan := func(test, first, margin string, drift compare.Drift) testplan.Test {
		return testplan.Test{Test: test, First: first, Margin: margin, Drift: drift,
			Exclusions: []testplan.Rule{{ID: "traffic", Text: "the run was held up by another vehicle"}}}
	}
	rated := func(test string, first evaluator.Attribute) testplan.Test {
		p := plan(test, string(first), "0.5", compare.Linear)
		p.Better, p.Scale, p.Exclusions = programme.Higher, programme.Difference, nil
		return p
	}
	return []demoTest{
		{plan: plan("slalom", "yaw_phase_delay", "5ms", compare.Linear), shown: "yaw_delay",
			given: append(slices.Clip(body), number("set_speed", 45/3.6)), also: []string{"lateral_phase_delay", "steering_needed"}},
		{plan: plan("lane-change", "overshoot", "0.1m", compare.Linear), place: "side lane", shown: "overshoot_side",
			given: append(slices.Clip(body), word("layout", "iso_3888_1"), number("set_speed", 75/3.6)), also: []string{"recoil"}},
		{plan: plan("dry-lap", "lap_time", "0.5", compare.Linear), shown: "lap_time"},
		{plan: plan("wet-stop", "braking_distance", "1", compare.Quadratic), shown: "braking_distance",
			given: programme.Parameters{word("gradient", "level")}, also: []string{"mfdd"}},
		{plan: plan("wet-lap", "lap_time", "0.5", compare.Quadratic), shown: "lap_time"},
		{plan: rated("dry-ratings", evaluator.Response), shown: string(evaluator.Response), also: []string{string(evaluator.Grip), string(evaluator.Breakaway)}},
		{plan: rated("wet-ratings", evaluator.WetGrip), shown: string(evaluator.WetGrip), also: []string{string(evaluator.Floating)}},
	}
}

// track is where what came from the track lies.
func (d *demo) track() string { return filepath.Join(d.folder, "from-the-track") }

func (d *demo) run(ctx context.Context, s *sqlite.Store) error {
	d.scenario = sim.SkerryMoor(d.seed)
	a := folders.Of(s)
	if err := a.Begin(ctx, programme.Programme{
		Title: d.scenario.Title, Client: d.scenario.Client, Ground: d.scenario.Ground, Zone: d.scenario.Zone, Vehicle: d.scenario.Vehicle,
		Question: "Which of P, R, T and W suits the vans better than the tyre in use, at what, and by how much?",
		Sets:     shodWith(d.sets()), Asked: asksOfTyres(&d.scenario.Build),
	}); err != nil {
		return err
	}
	files, bytes, err := d.drive()
	if err != nil {
		return err
	}
	fmt.Fprintf(d.out, "Two made-up days at %s: %d recordings, run logs and rating sheets,\n%d MB, in %s. Nothing in them is real.\n",
		d.scenario.Ground, files, bytes>>20, d.track())
	tests := d.tests()
	plan := testplan.Plan{Schema: testplan.Schema, Title: d.scenario.Title, Control: d.scenario.Control}
	q := app.TestsRequest{}
	for _, t := range tests {
		plan.Tests = append(plan.Tests, t.plan)
		for _, m := range append([]string{t.plan.First}, t.also...) {
			if !slices.Contains(q.Measures, m) {
				q.Measures = append(q.Measures, m)
			}
		}
	}
	sum, _, err := a.FreezePlan(ctx, &plan, "")
	if err != nil {
		return err
	}
	fmt.Fprintf(d.out, "The plan was frozen before anything was imported: %s.\n", sum[:12])
	for _, t := range tests {
		if err := d.test(ctx, a, t); err != nil {
			return fault.At(err, "test %s", t.plan.Test)
		}
	}
	return d.report(ctx, a, q)
}

// sets gives the sets of every test, each once, as they first occur.
func (d *demo) sets() []string {
	var out []string
	for _, t := range d.scenario.Tests {
		for i, code := range t.Order {
			set := code + "1" // as the scenario names a set where it says nothing
			if i < len(t.Sets) {
				set = t.Sets[i]
			}
			if !slices.Contains(out, set) {
				out = append(out, set)
			}
		}
	}
	slices.Sort(out)
	return out
}

// demoSize is the made-up size of every tyre of the demonstrations: what a van of 3.5 t has.
const demoSize = "235/65 R16C 115/113R"

// shodWith gives sets of the demonstrations' size; the code is the first letter of a set's name.
func shodWith(names []string) []programme.Set {
	var out []programme.Set
	for _, n := range names {
		out = append(out, programme.Set{ID: n, Code: n[:1], Size: demoSize})
	}
	return out
}

// asksOfTyres gives what a made-up vehicle asks of its tyres: its axle loads at rest to the
// nearest 10 kg, and a top speed of 150 km/h.
func asksOfTyres(b *vehicle.Build) tyre.Asked {
	ten := func(kg float64) float64 { return 10 * math.Round(kg/10) }
	return tyre.Asked{FrontKg: ten(b.Mass * b.Rear / b.Base()), RearKg: ten(b.Mass * b.Front / b.Base()), TopMps: 150 / 3.6}
}

// drive has the days driven and writes down what comes of them.
func (d *demo) drive() (files int, size int64, err error) {
	if err := os.MkdirAll(d.track(), 0o755); err != nil {
		return 0, 0, fault.New(fault.Invalid, "making the demo's folder: %w", err).At("%s", d.track())
	}
	truth := sim.NewTruthSheet()
	for i := range d.scenario.Tests {
		t := &d.scenario.Tests[i]
		d.progress.Step(i+1, len(d.scenario.Tests), "driving "+t.ID)
		if err := d.scenario.Write(t, func(f sim.File) error {
			files, size = files+1, size+int64(len(f.Data))
			return terminal.Put(filepath.Join(d.track(), f.Name), f.Data)
		}, func(st *sim.Stint) error { truth.Add(st); return nil }); err != nil {
			return files, size, err
		}
	}
	for i := range d.scenario.Ratings {
		f, err := d.scenario.Sheets(&d.scenario.Ratings[i])
		if err != nil {
			return files, size, err
		}
		files, size = files+1, size+int64(len(f.Data))
		if err := terminal.Put(filepath.Join(d.track(), f.Name), f.Data); err != nil {
			return files, size, err
		}
	}
	if !d.truth {
		return files, size, nil
	}
	dir := filepath.Join(d.folder, "truth")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return files, size, fault.New(fault.Invalid, "making the demo's folder: %w", err).At("%s", dir)
	}
	for _, f := range truth.Files() {
		if err := terminal.Put(filepath.Join(dir, f.Name), f.Data); err != nil {
			return files, size, err
		}
	}
	return files, size, nil
}

// test does one test: files in, verdict out.
func (d *demo) test(ctx context.Context, a *app.Folder, t demoTest) error {
	a.Progress = d.progress.Step
	title, in, known, err := d.from(t)
	if err != nil {
		return err
	}
	if _, err := a.Import(ctx, in); err != nil {
		return err
	}
	if err := a.Describe(ctx, t.plan.Test, programme.Test{Title: title}); err != nil {
		return err
	}
	answer, err := a.Compare(ctx, app.TestRequest{Test: t.plan.Test, Place: t.place})
	if err != nil {
		return err
	}
	d.progress.Done()
	truth := []sim.Known(nil)
	if d.truth {
		if truth, err = known(); err != nil {
			return err
		}
	}
	fmt.Fprintf(d.out, "\n%s\n\n", title)
	d.print(answer, truth, t.shown)
	return nil
}

// from finds what came from the track of a test, and how its truth is had.
func (d *demo) from(t demoTest) (title string, in app.ImportRequest, known func() ([]sim.Known, error), err error) {
	in = app.ImportRequest{Test: t.plan.Test, Given: t.given, Progress: d.progress.Step}
	for i := range d.scenario.Ratings {
		if r := &d.scenario.Ratings[i]; r.ID == t.plan.Test {
			in.Paths, in.Columns = []string{filepath.Join(d.track(), r.ID+".csv")}, map[string]string{"measure": "attribute"}
			in.Better, in.Scale = programme.Higher, programme.Difference
			return r.Title, in, func() ([]sim.Known, error) { return d.scenario.Worth(r) }, nil
		}
	}
	st, err := d.scenario.Test(t.plan.Test)
	if err != nil {
		return "", in, nil, err
	}
	in.Procedure = st.Procedure
	in.Paths, err = filepath.Glob(filepath.Join(d.track(), st.ID+"-*.csv"))
	if err != nil || len(in.Paths) == 0 {
		return "", in, nil, fault.New(fault.NotFound, "there are no files of it").At("%s", d.track()).WithHint("the demo wrote them a moment ago: is the folder still there?")
	}
	slices.Sort(in.Paths)
	for _, g := range d.scenario.Gates(st) {
		in.Gates = append(in.Gates, fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", g[0], g[1], g[2], g[3]))
	}
	return st.Title, in, func() ([]sim.Known, error) { return d.scenario.Reference(st, repeats) }, nil
}

// repeats is how many stints of each tyre the truth is the mean of: enough that the
// driver's scatter in it is a small part of a margin.
const repeats = 6

// print prints a test's verdicts, and beside them whether the truth lies in their
// intervals.
func (d *demo) print(answer *app.CompareAnswer, known []sim.Known, measure string) {
	r := answer.Both.Result
	fmt.Fprintln(d.out, terminal.Wrap(fmt.Sprintf("%s against control %s. Correction: %s.", r.Measure.Title, r.Control, r.Correction), 78, ""))
	k := verdicts.AgainstOf(r)
	head := "code\tverdict\t" + k.Column()
	if u := k.Unit(); u != "" {
		head += ", " + u
	}
	head += "\tinterval\tshowable"
	if known != nil {
		head += "\ttruth"
	}
	terminal.PrintTable(d.out, head, func(w io.Writer) {
		for _, row := range r.Rows {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s", row.Code, terminal.Brief(row.Verdict.Word), k.Estimate(row.Index, row.Difference),
				k.Interval(row.IndexLow, row.IndexHigh, row.DiffLow, row.DiffHigh, "none"), k.Least(row.Detectable))
			if known != nil {
				fmt.Fprintf(w, "\t%s", d.against(answer, row, known, measure, k))
			}
			fmt.Fprintln(w)
		}
	})
	if n := verdicts.LeftOut(r); n > 0 {
		fmt.Fprintf(d.out, "Runs left out: %d.\n", n)
	}
	for _, name := range mislabelled(answer) {
		d.odd = append(d.odd, name)
		fmt.Fprintln(d.out, terminal.Wrap(fmt.Sprintf("%s: the run log names another recording for its runs, and by order and clock they are in this one. They are not used until somebody has decided.", name), 78, ""))
	}
}

// exchanged counts the recordings that the run logs name for each other's stints.
func (d *demo) exchanged() int {
	n := 0
	for _, t := range d.scenario.Tests {
		for _, x := range t.Incidents {
			if x.Kind == sim.Swapped {
				n += 2
			}
		}
	}
	return n
}

// mislabelled gives the recordings whose runs the log looks for in another one.
func mislabelled(answer *app.CompareAnswer) []string {
	var out []string
	for _, c := range answer.Caveats() {
		if c.Code == match.Mislabelled && !slices.Contains(out, c.Place.File) {
			out = append(out, c.Place.File)
		}
	}
	slices.Sort(out)
	return out
}

func find(known []sim.Known, code, measure string) (float64, bool) {
	for i := range known {
		if known[i].Code == code {
			return known[i].Value(measure)
		}
	}
	return 0, false
}

// against says whether a verdict agrees with the truth: in or out of the interval,
// and wrong where the truth contradicts it.
func (d *demo) against(answer *app.CompareAnswer, row compare.Row, known []sim.Known, measure string, k verdicts.Against) string {
	r := answer.Both.Result
	own, ok1 := find(known, row.Code, measure)
	control, ok2 := find(known, r.Control, measure)
	if !ok1 || !ok2 {
		return "not known"
	}
	low, high, same, margin := row.DiffLow, row.DiffHigh, 0.0, 0.0
	true_ := own - control
	if r.Measure.Better == programme.Lower {
		true_ = control - own
	}
	if r.Scale == programme.Ratio {
		low, high, same = row.IndexLow, row.IndexHigh, 100
		true_ = 100 * own / control
		if r.Measure.Better == programme.Lower {
			true_ = 100 * control / own
		}
	}
	if m := r.Settings.Margin; m != nil {
		margin = m.Value
	}
	d.of++
	word := "out"
	if low != nil && high != nil && true_ >= *low && true_ <= *high {
		word = "in"
		d.held++
	}
	text := fmt.Sprintf("%s, %s", k.Estimate(&true_, &true_), word)
	if math.Abs(true_-same) > margin {
		d.above++
		if shows(row.Verdict.Word, true_-same) {
			d.found++
		}
	}
	if wrong(row.Verdict.Word, true_-same, margin) {
		d.missed = append(d.missed, fmt.Sprintf("%s of %s", r.Measure.Title, row.Code))
		text += ", wrong"
	}
	return text
}

// shows tells a verdict that calls a difference in its direction.
func shows(w compare.Word, difference float64) bool {
	switch w {
	case compare.Better, compare.BetterLessThanMargin:
		return difference > 0
	case compare.Worse, compare.WorseLessThanMargin:
		return difference < 0
	}
	return false
}

// wrong tells a verdict that the truth contradicts: better though it is worse, the
// same though it differs by more than the margin.
func wrong(w compare.Word, difference, margin float64) bool {
	switch w {
	case compare.Better, compare.BetterLessThanMargin:
		return difference < 0
	case compare.Worse, compare.WorseLessThanMargin:
		return difference > 0
	case compare.Same:
		return difference > margin || difference < -margin
	}
	return false
}

// report writes the report of all tests and says where everything lies.
func (d *demo) report(ctx context.Context, a *app.Folder, q app.TestsRequest) error {
	doc, err := a.ReportTests(ctx, q)
	if err != nil {
		return err
	}
	var page bytes.Buffer
	if err := html.Write(&page, doc); err != nil {
		return err
	}
	if err := terminal.Put(filepath.Join(d.folder, "report.html"), page.Bytes()); err != nil {
		return err
	}
	d.progress.Done()
	if d.truth {
		fmt.Fprintf(d.out, `
The truth, which nothing above has seen, is written down in %s:
  true values that lie in their intervals (in above): %d of %d
  true differences above the margin that are found: %d of %d
  wrong verdicts: %d
  recordings exchanged in the run log that are found: %d of %d
`, filepath.Join(d.folder, "truth"), d.held, d.of, d.found, d.above, len(d.missed), len(d.odd), d.exchanged())
	}
	fmt.Fprintf(d.out, "\nThe report is %s; open it in a browser.\nThe programme is in %s. In that folder:\n\n  bookend\n  bookend compare --test wet-stop --json\n\n%s",
		filepath.Join(d.folder, "report.html"), d.folder, cautions)
	return nil
}

// free gives the name, or the name with the first number that is not taken.
func free(name string) string {
	for i := 1; ; i++ {
		dir := name
		if i > 1 {
			dir = fmt.Sprintf("%s-%d", name, i)
		}
		if _, err := os.Stat(dir); err != nil {
			return dir
		}
	}
}
