package app

import (
	"context"
	"fmt"
	"testing"

	"example.org/bookend/procedure"
)

// laidOver gives code, stint and run of what is laid over each other.
func laidOver(t *testing.T, f *Folder) (in []procedure.Overlaid, names string) {
	t.Helper()
	s := state(t, f)
	d, err := f.Drive(context.Background(), s, "wet-stop")
	if err != nil {
		t.Fatal(err)
	}
	if in, err = f.Overlaid(context.Background(), s, d, "K"); err != nil {
		t.Fatal(err)
	}
	for _, o := range in {
		names += fmt.Sprintf("%s %s %s;", o.Code, o.Stint, o.Run)
	}
	return in, names
}

func TestRunsAreLaidOverEachOtherTheControlsFirst(t *testing.T) {
	f, _ := moor(t)
	card := t.TempDir()
	brought(t, f, file(t, card, "a.csv", stopsLog(2, "")), file(t, card, "b.csv", stopsLog(2, "")), file(t, card, "c.csv", stopsLog(2, "")))
	in, names := laidOver(t, f)
	if want := "K 1 1/1;K 1 1/2;K 3 3/1;K 3 3/2;P 2 2/1;P 2 2/2;"; names != want {
		t.Fatalf("%s, want %s", names, want)
	}
	for _, o := range in {
		if len(o.Traces) == 0 || len(o.Traces[0].X) < 100 {
			t.Fatalf("run %s has no trace of its stop", o.Run)
		}
	}
	// What is kept is what the recording gives.
	s := state(t, f)
	d, err := f.Drive(context.Background(), s, "wet-stop")
	if err != nil {
		t.Fatal(err)
	}
	w, err := f.work(context.Background(), s, d.Test, d.Recorded[0].Recording)
	if err != nil {
		t.Fatal(err)
	}
	got, err := f.reduceRaw(context.Background(), s, w)
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(got.Overlaid[1].Traces) != fmt.Sprint(in[1].Traces) {
		t.Error("the kept traces are not those of the recording")
	}
	if p := d.Recorded[1].Pieces; len(p) != 2 || p[0].LogRun != "2/1" || p[1].LogRun != "2/2" {
		t.Errorf("whose the pieces are: %+v", p)
	}

	// A run that is left out is not laid over the others.
	if err := f.Exclude(context.Background(), "wet-stop", "3/1", "traffic"); err != nil {
		t.Fatal(err)
	}
	if _, names = laidOver(t, f); names != "K 1 1/1;K 1 1/2;K 3 3/2;P 2 2/1;P 2 2/2;" {
		t.Error(names)
	}

	// Without the control there is nothing to lay others beside.
	s = state(t, f)
	if d, err = f.Drive(context.Background(), s, "wet-stop"); err != nil {
		t.Fatal(err)
	}
	if in, err = f.Overlaid(context.Background(), s, d, "Z"); err != nil || in != nil {
		t.Errorf("%v %v", in, err)
	}
}
