package app_test

import (
	"context"
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
	all, err := mine.Entries(ctx, 0)
	if err != nil || len(all) != 4 {
		t.Fatalf("%d entries, %v", len(all), err)
	}
	late, err := mine.Entries(ctx, 3)
	if err != nil || len(late) != 1 || late[0].Sequence != 4 {
		t.Errorf("after 3: %v, %v", late, err)
	}
}
