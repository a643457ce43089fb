package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/app"
	"example.org/bookend/app/ordering"
	"example.org/bookend/caveat"
	"example.org/bookend/order"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// begun is the first half of a programme of wet stops, the rest not driven yet.
const begun = `stint,code,value
1,K,31.9
1,K,32.1
2,P,30.1
2,P,30.4
3,W,34.0
3,W,33.7
`

// What is left of a day is planned anew from what was driven and from the order that
// was taken, as the use case does it; taken, it is the order of the programme, and the
// deviation stands in the run log with its reason.
func TestPlanAnew(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", begun)
	asked := url.Values{"control": {"K"}, "candidates": {"P:2, W:2"}, "controls": {"3"}, "runs": {"2"}, "between": {"3"}, "stint_sd": {"0.8"}, "run_time": {"6"}, "start": {"08:00"}}
	if status, body := s.post("/p/tarn/order/take", url.Values{"test": {"wet-stop"}, "asked": {asked.Encode()}}); status != http.StatusOK {
		t.Fatalf("taking the order answers %d: %s", status, body)
	}
	_, body := s.get("/p/tarn/order/anew?test=wet-stop")
	wants(t, "the page", body, "3 stints driven", `value="K P W"`, `value="P:2, W:2"`, `name="reason"`)

	status, body := s.get("/p/tarn/order/anew?test=wet-stop&driven=K+P+W&reason=")
	if status != http.StatusUnprocessableEntity {
		t.Errorf("without a reason it answers %d", status)
	}
	wants(t, "the page", body, "No reason is given", `aria-invalid="true"`)

	ask := url.Values{"test": {"wet-stop"}, "driven": {"K P W"}, "reason": {"shower at 11:20"}, "start": {"11:40"}}
	for k, v := range asked {
		if k != "start" {
			ask[k] = v
		}
	}
	_, body = s.get("/p/tarn/order/anew?" + ask.Encode())
	q := ordering.ReorderRequest{Driven: []string{"K", "P", "W"}, Reason: "shower at 11:20"}
	q.Plan.Control, q.Plan.Candidates, q.Plan.ControlStints, q.Plan.Runs, q.Plan.MostBetween = "K", []order.Candidate{{Code: "P", Repeats: 2}, {Code: "W", Repeats: 2}}, 3, 2, 3
	q.Plan.Scatter, q.Plan.Test.Power = &programme.Scatter{StintSD: 0.008}, 0.8
	a, err := ordering.Reorder(q)
	if err != nil {
		t.Fatal(err)
	}
	var rest []string
	for _, x := range a.Rest.Rest {
		rest = append(rest, x.Code)
	}
	// Four wheels of four minutes from 11:40, then two runs of six.
	wants(t, "the page", body, fmt.Sprintf("3 stints driven, %d to go", len(rest)), "<td>11:40</td><td>11:56</td><td>11:56</td><td>12:08</td>", "the plan would have shown", "Drive wet-stop on in this order")

	status, body = s.post("/p/tarn/order/anew/take", url.Values{"asked": {ask.Encode()}})
	if status != http.StatusOK {
		t.Fatalf("taking it answers %d: %s", status, body)
	}
	wants(t, "the page", body, "planned anew after 3 stints: shower at 11:20", "a later one took its place")
	state, err := app.Rebuild(context.Background(), s.folder.Store)
	if err != nil {
		t.Fatal(err)
	}
	o, ok := state.Order("wet-stop")
	if want := "K P W " + strings.Join(rest, " "); !ok || strings.Join(o.Sequence, " ") != want || o.Anew == nil || o.ControlCode() != "K" {
		t.Errorf("the programme has %+v, not %s", o, want)
	}
	if len(state.Day.Deviations) != 1 || state.Day.Deviations[0].Reason != "shower at 11:20" || state.Day.Deviations[0].To == "" {
		t.Errorf("the run log has the deviations %+v", state.Day.Deviations)
	}
	if status, _ = s.post("/p/tarn/order/anew/take", url.Values{"asked": {ask.Encode()}}); status != http.StatusConflict {
		t.Errorf("taking it twice answers %d", status)
	}

	d, err := s.folder.Drive(context.Background(), state, "wet-stop")
	if err != nil || !slices.ContainsFunc(d.Log.Caveats, func(c caveat.Caveat) bool {
		return c.Code == "deviation" && strings.Contains(c.Text, "shower at 11:20")
	}) {
		t.Errorf("what was driven does not carry that the plan was left, so that no report can say it: %v", err)
	}

	// A set that is lost, and one that lasts for a stint less: what is left out is said.
	ask.Set("lost", "W")
	_, body = s.get("/p/tarn/order/anew?" + ask.Encode())
	wants(t, "the page", body, "Candidate W is driven once less than planned")
	for _, c := range []struct{ name, value, says string }{
		{"lost", "X", "neither control nor candidate"}, {"left", "P", "cannot be read"}, {"left", "P:many", "cannot be read"}, {"driven", "K X", "neither control nor candidate"}, {"start", "noon", "cannot be read"}, {"candidates", "", "No candidate"},
		{"daylight", "11:40-11:45", ""},
	} {
		bad := url.Values{}
		for k, v := range ask {
			bad[k] = v
		}
		bad.Set("lost", "")
		bad.Set(c.name, c.value)
		status, body := s.get("/p/tarn/order/anew?" + bad.Encode())
		if status < 400 || status >= 500 {
			t.Errorf("%s %q answers %d", c.name, c.value, status)
		}
		wants(t, c.name, body, c.says, "Plan the rest", "shower at 11:20")
	}
	if status, _ = s.post("/p/tarn/order/anew/take", url.Values{"asked": {"test=none&driven=K&reason=x&control=K&candidates=P"}}); status < 400 || status >= 500 {
		t.Errorf("a test that is not there answers %d", status)
	}
}

// An incident that holds what follows is offered, and what was driven is what counts.
func TestPlanAnewAfterAnIncident(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", "")
	ctx := context.Background()
	log := func(kind string, body string) {
		t.Helper()
		if _, err := s.folder.Log(ctx, kind, json.RawMessage(body)); err != nil {
			t.Fatal(err)
		}
	}
	log(runlog.Stint, `{"test":"lap","stint":"1","code":"K","set":"K1"}`)
	log(runlog.Run, `{"test":"lap","stint":"1","run":"1"}`)
	log(runlog.Stint, `{"test":"lap","stint":"2","code":"P","set":"P1"}`)
	log(runlog.Run, `{"test":"lap","stint":"2","run":"1"}`)
	log(runlog.Incident, `{"what":"shower","test":"lap","text":"from the west"}`)
	_, body := s.get("/p/tarn/order/anew?test=lap")
	wants(t, "the page", body, "2 stints driven", `value="K P"`, `name="fresh" value="yes" checked`, "hower")
	// The shower holds nothing that was driven before it: a whole order that does not begin
	// with it is no order of this test any more.
	ask := url.Values{"control": {"K"}, "candidates": {"P:1"}, "controls": {"2"}, "own": {"K P K"}}
	status, body := s.post("/p/tarn/order/take", url.Values{"test": {"lap"}, "asked": {ask.Encode()}})
	if status != http.StatusOK {
		t.Errorf("an order that begins with what was driven answers %d: %s", status, body)
	}
	ask.Set("candidates", "P:1, W:1")
	ask.Set("own", "K W P K")
	status, body = s.post("/p/tarn/order/take", url.Values{"test": {"lap"}, "asked": {ask.Encode()}})
	if status != http.StatusConflict {
		t.Errorf("an order that does not begin with what was driven answers %d", status)
	}
	wants(t, "the page", body, "K P is driven already", "lan the rest anew")
}
