package web_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"example.org/bookend/programme/runlog"
)

// The day's page says what comes next by the order that was taken, until the day goes
// another way; a test that is kept in tables is said to be.
func TestTheDayFollowsTheOrder(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", "")
	log := func(kind string, body string) {
		t.Helper()
		if _, err := s.folder.Log(context.Background(), kind, json.RawMessage(body)); err != nil {
			t.Fatal(err)
		}
	}
	ask := url.Values{"control": {"K"}, "candidates": {"P:1, W:1"}, "controls": {"2"}, "own": {"K P W K"}}
	if status, body := s.post("/p/tarn/order/take", url.Values{"test": {"lap"}, "asked": {ask.Encode()}}); status != http.StatusOK {
		t.Fatalf("taking the order answers %d: %s", status, body)
	}
	_, body := s.get("/p/tarn/day?test=lap")
	wants(t, "before the first stint", body, "is fitted first for lap", "The order of lap", ", to come", `"coming":["K","P","W","K"]`)

	log(runlog.Stint, `{"test":"lap","stint":"1","code":"K","set":"K1"}`)
	_, body = s.get("/p/tarn/day?test=lap")
	wants(t, "with the control fitted", body, "P comes next, by the order", `"coming":["P","W","K"]`)
	log(runlog.Run, `{"test":"lap","stint":"1","run":"1"}`)
	_, body = s.get("/p/tarn/day?test=lap")
	wants(t, "with a run driven", body, "P comes next, by the order", `"coming":["P","W","K"]`)

	log(runlog.Stint, `{"test":"lap","stint":"2","code":"W","set":"W1"}`)
	_, body = s.get("/p/tarn/day?test=lap")
	if strings.Contains(body, "comes next, by the order") || strings.Contains(body, ", to come") {
		t.Error("another code than the order's is on the vehicle, and the page still follows the order")
	}

	s = serve(t, "Wet stops of two van tyres", begun)
	_, body = s.get("/p/tarn/day?test=wet-stop")
	wants(t, "a test in tables", body, "wet-stop came in as a table of 3 stints", "by the tables that were brought in", "until the whole of it is kept in one place")
}

// An order tells by how often a code comes which one is the control: it is for those who
// may know.
func TestWhoSeesTheOrderOnTheDay(t *testing.T) {
	h := behindDoor(t, crew)
	ask := url.Values{"control": {"K"}, "candidates": {"P:1, W:1"}, "controls": {"2"}, "own": {"K P W K"}}
	if status, body := h.as("lead").post("/p/tarn/order/take", url.Values{"test": {"lap"}, "asked": {ask.Encode()}}); status != http.StatusOK {
		t.Fatalf("taking the order answers %d: %s", status, body)
	}
	for name, sees := range map[string]bool{"lead": true, "fitter": true, "engineer": true, "driver": false} {
		status, body := h.as(name).get("/p/tarn/day?test=lap")
		if status != http.StatusOK || strings.Contains(body, ", to come") != sees || strings.Contains(body, `"coming":["`) != sees {
			t.Errorf("%s: the day answers %d, the order in it: %t", name, status, strings.Contains(body, ", to come"))
		}
	}
}
