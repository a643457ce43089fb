package app_test

import (
	"context"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
)

// What is remembered says the same as what is read anew, whoever wrote meanwhile,
// and a list that a reader adds to is that reader's alone.
func TestRememberedSaysWhatTheStoreSays(t *testing.T) {
	ctx := context.Background()
	store, err := sqlite.Create(ctx, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	mine := app.Remember(store)
	other := &app.Folder{Store: store, Author: "other", Device: "command line", Now: time.Now}
	same := func() *app.State {
		t.Helper()
		got, err := app.Rebuild(ctx, mine)
		if err != nil {
			t.Fatal(err)
		}
		want, err := app.Rebuild(ctx, store)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("remembered %+v\nread anew %+v", got, want)
		}
		return got
	}
	same()
	if err := other.Begin(ctx, programme.Programme{Title: "Wet stops"}); err != nil {
		t.Fatal(err)
	}
	s := same()
	s.Tests = append(s.Tests, app.TestEntry{Test: programme.Test{ID: "mine"}})
	for i := range 3 {
		if _, err := other.Log(ctx, "stint", map[string]any{"test": "wet-stop", "stint": string(rune('1' + i)), "code": "K"}); err != nil {
			t.Fatal(err)
		}
		same()
	}
	if again := same(); again == s || len(again.Tests) != 1 || again.Tests[0].Test.ID != "wet-stop" {
		t.Errorf("tests are %v", again.Tests)
	}
	late, table := app.Folder{Store: mine, Author: "lead", Device: "web", Now: time.Now}, filepath.Join(t.TempDir(), "stops.csv")
	if err := os.WriteFile(table, []byte("stint,code,value\n1,K,33.1\n1,K,33.0\n2,P,31.9\n2,P,32.1\n3,K,33.4\n3,K,33.6\n4,P,32.3\n4,P,32.2\n5,K,33.6\n5,K,33.9\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := late.Import(ctx, app.ImportRequest{Test: "dry-stop", Better: programme.Lower, Paths: []string{table}}); err != nil {
		t.Fatal(err)
	}
	report := func(store app.Store) string {
		t.Helper()
		f := app.Folder{Store: store, Author: "lead", Device: "web", Now: time.Now}
		d, err := f.ReportTests(ctx, app.TestsRequest{Control: "K", Tests: []string{"dry-stop"}})
		if err != nil {
			t.Fatal(err)
		}
		sum, err := d.SHA256()
		if err != nil {
			t.Fatal(err)
		}
		return sum
	}
	report(mine)  // the look is an entry
	for range 3 { // as it stands, with a run left out, with it taken in again; each twice from memory
		for range 2 {
			if got, want := report(mine), report(store); got != want {
				t.Fatal("the report from memory is another")
			}
		}
		if err := other.Exclude(ctx, "dry-stop", "2/1", "puddle"); err != nil {
			if err := other.Readmit(ctx, "dry-stop", "2/1"); err != nil {
				t.Fatal(err)
			}
		}
		report(mine)
	}
	same()
	all, err := mine.Entries(ctx, 0)
	if err != nil || len(all) < 8 {
		t.Fatalf("%d entries, %v", len(all), err)
	}
	after, err := mine.Entries(ctx, 3)
	if err != nil || len(after) != len(all)-3 || after[0].Sequence != 4 {
		t.Errorf("after 3: %v, %v", after, err)
	}
}
