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

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/cmd/bookend/internal/verdicts"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/report/html"
	"example.org/bookend/sim/vehicle"
	"example.org/bookend/sim/wetstops"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/unit"
)

// demoOfStops is the short demonstration: one day of wet stops made up by closed
// forms.
func demoOfStops(ctx context.Context, out io.Writer, s *sqlite.Store, folder string, seed uint64, truth bool) error {
	paths, err := writeDay(filepath.Join(folder, "from-the-track"), seed)
	if err != nil {
		return err
	}
	a := folders.Of(s)
	build := vehicle.VanAsBuilt()
	if err := a.Begin(ctx, programme.Programme{
		Title: "Wet stops of four van tyres", Client: "Tarn Valley Ambulance", Ground: "Skerry Moor", Zone: "Europe/London",
		Vehicle: "3.5 t van", Question: "Which of P, R, T and W stops shorter in the wet than the tyre in use?",
		Sets: shodWith([]string{"K1", "K2", "K3", "P1", "P2", "R1", "R2", "T1", "T2", "W1", "W2"}), Asked: asksOfTyres(&build),
	}); err != nil {
		return err
	}
	if _, err := a.Import(ctx, app.ImportRequest{
		Test: "wet-stop", Procedure: "braking", Paths: paths, Given: programme.Parameters{{ID: "gradient", Word: "level"}},
	}); err != nil {
		return err
	}
	settings := compare.Settings{Drift: compare.Quadratic, Margin: &compare.Margin{Value: 1}}
	answer, err := a.Compare(ctx, app.TestRequest{
		Test: "wet-stop", Measure: "braking_distance", Control: wetstops.Control, Settings: settings,
	})
	if err != nil {
		return err
	}
	d, err := a.ReportTests(ctx, app.TestsRequest{
		Measures: []string{"braking_distance", "mfdd"}, Control: wetstops.Control, Settings: settings,
	})
	if err != nil {
		return err
	}
	var page bytes.Buffer
	if err := html.Write(&page, d); err != nil {
		return err
	}
	if err := terminal.Put(filepath.Join(folder, "report.html"), page.Bytes()); err != nil {
		return err
	}
	fmt.Fprintf(out, "A made-up day at Skerry Moor: %d recordings and a run log, in\n%s. Nothing in it is real.\n\n", len(paths)-1, filepath.Join(folder, "from-the-track"))
	verdicts.PrintComparison(out, answer)
	if truth {
		fmt.Fprintf(out, "\nThe truth, which nothing above has seen: index of the distance\n")
		for _, row := range answer.Both.Result.Rows {
			fmt.Fprintln(out, againstTruth(row))
		}
	}
	fmt.Fprintf(out, "\nThe report is %s; open it in a browser.\nThe programme is in %s. In that folder:\n\n  bookend\n  bookend compare --test wet-stop --control K --margin 1 --json\n\n%s",
		filepath.Join(folder, "report.html"), folder, cautions)
	return nil
}

func writeDay(dir string, seed uint64) ([]string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fault.New(fault.Invalid, "making the demo's folder: %w", err).At("%s", dir)
	}
	var paths []string
	for _, f := range wetstops.Day(seed) {
		path := filepath.Join(dir, f.Name)
		if err := os.WriteFile(path, []byte(f.Data), 0o644); err != nil {
			return nil, fault.New(fault.Invalid, "writing the demo's day: %w", err).At("%s", path)
		}
		paths = append(paths, path)
	}
	return paths, nil
}

// againstTruth says whether a verdict agrees with what the day was made from.
// Distances between two speeds are as the inverse of the deceleration, so the
// index is 100 times what the code is worth.
func againstTruth(row compare.Row) string {
	index := 100 * wetstops.Worth[row.Code]
	held := "inside the interval"
	if row.IndexLow == nil || row.IndexHigh == nil || index < *row.IndexLow || index > *row.IndexHigh {
		held = "outside the interval"
	}
	invented := []compare.Word{compare.Better, compare.BetterLessThanMargin}
	if index > 100 {
		invented = []compare.Word{compare.Worse, compare.WorseLessThanMargin}
	}
	if slices.Contains(invented, row.Verdict.Word) || row.Verdict.Word == compare.Same && math.Abs(index-100) > 1 {
		held += ", and the verdict is wrong"
	}
	return fmt.Sprintf("  %s  %s, %s", row.Code, unit.Number(index, 1, unit.Plain), held)
}

// cautions end what a demonstration prints.
const cautions = `Wet and limit-handling tests injure people. Drive on a closed course, briefed
and qualified, with belts, helmet, marshals and recovery; the proving ground's
rules, local codes and licensed practice come first. Nothing here calls a tyre
safe.
`
