package web_test

import (
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/app/ordering"
	"example.org/bookend/order"
	"example.org/bookend/programme"
)

// An order on the page is that of the use case: sequence, clock and what it can
// show. Moved by hand it has its price, and taken it is an entry of the programme.
func TestOrder(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	status, body := s.get("/p/tarn/order")
	if status != http.StatusOK {
		t.Fatalf("the page answers %d", status)
	}
	wants(t, "the page", body, "No order is chosen yet", `value="P:2, W:2"`, `value="K"`)

	ask := url.Values{"control": {"K"}, "candidates": {"P:2, W:2"}, "controls": {"3"}, "runs": {"3"}, "seed": {"7"}, "stint_sd": {"0,8"}, "run_time": {"6"}, "start": {"08:30"}, "wheel": {"4"}}
	_, body = s.get("/p/tarn/order?" + ask.Encode())
	q := ordering.Request{}
	q.Control, q.Candidates, q.ControlStints, q.Runs, q.Seed = "K", []order.Candidate{{Code: "P", Repeats: 2}, {Code: "W", Repeats: 2}}, 3, 3, 7
	q.Scatter = &programme.Scatter{StintSD: 0.008}
	q.Test.Power, q.MostBetween = 0.8, 3
	a, err := ordering.Order(q)
	if err != nil {
		t.Fatal(err)
	}
	rows := regexp.MustCompile(`(?s)<th scope="row"><span class="code[^>]*>(?:<svg.*?</svg>)?([A-Z])</span></th>`).FindAllStringSubmatch(body[strings.Index(body, `id="driven"`):strings.Index(body, "What it can decide")], -1)
	var got, want []string
	for _, r := range rows {
		got = append(got, r[1])
	}
	for _, x := range a.Plan.Sequence {
		want = append(want, x.Code)
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("the page has %v, the use case %v", got, want)
	}
	// 8:30, four wheels of four minutes, then three runs of six minutes.
	wants(t, "the timetable", body, "<td>08:30</td><td>08:46</td><td>08:46</td><td>09:04</td>", "index points", "Run sheet to print")

	later := regexp.MustCompile(`href="/p/tarn/order(\?[^"]*)">later<span class="vh">: stint 2,`).FindStringSubmatch(body)
	if later == nil {
		t.Fatal("no stint can go elsewhere")
	}
	_, moved := s.get("/p/tarn/order" + strings.TrimSuffix(html.UnescapeString(later[1]), "#driven"))
	wants(t, "the moved order", moved, "the order drawn shows", "Back to the order drawn")

	status, body = s.post("/p/tarn/order/take", url.Values{"test": {"wet-stop"}, "asked": {ask.Encode()}})
	if status != http.StatusOK {
		t.Fatalf("taking it answers %d: %s", status, body)
	}
	wants(t, "the page", body, "The order of 1 test is chosen", "wet-stop", "drawn")
	state, err := app.Rebuild(context.Background(), s.folder.Store)
	if err != nil {
		t.Fatal(err)
	}
	if o, ok := state.Order("wet-stop"); !ok || strings.Join(o.Sequence, " ") != strings.Join(want, " ") {
		t.Errorf("the programme has %+v", o)
	}
	if status, _ = s.post("/p/tarn/order/take", url.Values{"test": {"wet-stop"}, "asked": {ask.Encode()}}); status != http.StatusConflict {
		t.Errorf("taking it twice answers %d", status)
	}
	if status, _ = s.post("/p/tarn/order/take", url.Values{"asked": {ask.Encode()}}); status != http.StatusUnprocessableEntity {
		t.Errorf("without a test it answers %d", status)
	}
}

// The run sheet of an order has its stints with their times and the cautions, and says
// of no code that it is the control's: whoever drives reads it.
func TestRunSheet(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	ask := url.Values{"control": {"K"}, "candidates": {"P:2, W:2"}, "controls": {"3"}, "runs": {"3"}, "run_time": {"6"}, "start": {"08:30"}, "date": {"2026-06-03"}, "breaks": {"12:00-12:45"}, "test": {"wet-stop"}}
	sheets := map[string]string{"drawn": "/p/tarn/order/sheet?" + ask.Encode()}
	ask.Set("own", "K P W K W P K")
	sheets["own"] = "/p/tarn/order/sheet?" + ask.Encode()
	ask.Del("own")
	ask.Set("driven", "K P")
	ask.Set("reason", "a set is late")
	sheets["rest"] = "/p/tarn/order/anew/sheet?" + ask.Encode()
	for name, at := range sheets {
		status, body := s.get(at)
		if status != http.StatusOK {
			t.Errorf("%s answers %d", name, status)
			continue
		}
		wants(t, name, body, "Wet stops of two van tyres, wet-stop", "2026-06-03", "08:30", "closed course", "spin")
		// The cautions speak of no control tyre either.
		if strings.Contains(strings.ToLower(body), "control") {
			t.Errorf("%s says which code is the control", name)
		}
	}
	_, body := s.get(sheets["rest"])
	wants(t, "rest", body, "planned anew: a set is late")
	for _, at := range []string{"/p/tarn/order/sheet?control=K&candidates=", "/p/tarn/order/anew/sheet?test=wet-stop&driven=K&reason="} {
		status, body := s.get(at)
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%s answers %d: %s", at, status, body)
		}
		wants(t, at, body, `aria-invalid="true"`, `-wrong"`)
	}
}

// What cannot be read or cannot be planned is said above the form, which stays as
// it was filled in, and at the field that it is about.
func TestOrderThatCannotBe(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	for _, c := range []struct{ name, value, says string }{
		{"stint_sd", "much", "cannot be read"}, {"runs", "-1", "cannot be read"}, {"start", "25 o’clock", "cannot be read"},
		{"candidates", "", "No candidate is named"}, {"control", "", "No control is named"}, {"between", "1", "control"}, {"seed", "x", "cannot be read"}, {"at", "north", "cannot be read"},
	} {
		ask := url.Values{"control": {"K"}, "candidates": {"P:3, W:3"}, "controls": {"2"}, "run_time": {"5"}}
		ask.Set(c.name, c.value)
		status, body := s.get("/p/tarn/order?" + ask.Encode())
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%s %q answers %d", c.name, c.value, status)
		}
		wants(t, c.name, body, c.says, "Search for the order")
		if c.name != "between" { // which is about how the codes go together
			wants(t, c.name, body, `id="o-`+c.name+`-wrong"`, `aria-invalid="true" autofocus aria-describedby="o-`+c.name+`-wrong `)
		}
	}
}

// A search that takes more than a moment says so to who opened it in a browser,
// is begun once, and ends when it is cancelled; who reads without a browser waits.
func TestLongWorkIsToldAndCancelled(t *testing.T) {
	if testing.Short() {
		t.Skip("searches for more than a second")
	}
	s := serve(t, "Wet stops of two van tyres", stops)
	// A difference that no programme of 200 stints shows makes the search try many sizes.
	ask := "/p/tarn/order?" + url.Values{"control": {"K"}, "candidates": {"A:8,B:8,C:8,D:8,E:8,F:8,G:8,H:8,I:8,L:8,M:8,N:8"}, "controls": {"50"}, "between": {"0"}, "stint_sd": {"5"}, "wanted": {"0.01"}}.Encode()
	open := func() (int, string) {
		r, err := http.NewRequest("GET", s.url+ask, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Sec-Fetch-Dest", "document")
		return s.do(r)
	}
	began := time.Now()
	status, body := open()
	if status != http.StatusAccepted {
		t.Fatalf("it answers %d after %v", status, time.Since(began))
	}
	wants(t, "the page", body, "The search for the order takes a while", `<meta http-equiv="refresh"`, "Cancel it", "<progress", "work.js")
	id := regexp.MustCompile(`action="(/pieces/[A-Z0-9]+)/cancel"`).FindStringSubmatch(body)
	if id == nil {
		t.Fatal("it cannot be cancelled")
	}
	if _, said := s.get(id[1]); !strings.Contains(said, `"ended":false`) || !strings.Contains(said, "Orders are tried") {
		t.Errorf("asked how far it is, it says %s", said)
	}
	if _, again := open(); !strings.Contains(again, id[1]) {
		t.Error("opened again, it was begun again")
	}
	began = time.Now()
	status, body = s.post(id[1]+"/cancel", url.Values{"back": {ask}})
	if status != http.StatusOK || time.Since(began) > 4*time.Second {
		t.Errorf("cancelling answers %d after %v", status, time.Since(began))
	}
	wants(t, "the page", body, "The search for the order was cancelled", "Begin it again")
	if _, said := s.get(id[1]); !strings.Contains(said, `"ended":true`) {
		t.Errorf("cancelled, it says %s", said)
	}
	if status, _ = s.post("/pieces/NOTHING/cancel", nil); status != http.StatusNotFound {
		t.Errorf("what was never begun answers %d", status)
	}
}
