package web_test

import (
	"context"
	"html"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/app"
	"example.org/bookend/app/ordering"
	"example.org/bookend/app/testplan"
	"example.org/bookend/programme"
)

// Eleven stints of a made-up day in m; P is well below the control.
const looked = `stint,code,value
1,K,33.10
2,P,30.10
3,R,33.20
4,T,33.00
5,K,33.12
6,T,33.05
7,R,33.21
8,P,30.11
9,K,33.14
10,W,33.00
`

// then is the control that closes the bracket: the look that the plan names.
const then = "stint,position,code,value\n11,11,K,33.15\n"

func (s *served) bring(name, table string) {
	s.t.Helper()
	path := filepath.Join(s.t.TempDir(), name)
	if err := os.WriteFile(path, []byte(table), 0o600); err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.folder.Import(context.Background(), app.ImportRequest{Test: "wet-stop", Better: programme.Lower, Paths: []string{path}}); err != nil {
		s.t.Fatal(err)
	}
}

func (s *served) looks() (n int, author string) {
	s.t.Helper()
	all, err := s.folder.Store.Entries(context.Background(), 0)
	if err != nil {
		s.t.Fatal(err)
	}
	for _, e := range all {
		if e.Kind == app.KindOpened {
			n, author = n+1, e.Author
		}
	}
	return n, author
}

func (s *served) freeze() {
	s.t.Helper()
	p := &testplan.Plan{Schema: testplan.Schema, Control: "K", Tests: []testplan.Test{{Test: "wet-stop", First: "value", Better: programme.Lower, Scale: programme.Ratio, Margin: "1", Drift: "bracket", Stints: 17,
		Looks: []testplan.Look{{Stints: 11, Spends: 0.02}}}}}
	if _, _, err := s.folder.FreezePlan(context.Background(), p, ""); err != nil {
		s.t.Fatal(err)
	}
}

// Advice on the page is the use case's, and no look: nothing is logged, and what the
// candidates' values are changes nothing of it.
func TestAdvicePage(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", "")
	s.freeze()
	s.bring("stops.csv", looked)
	status, body := s.get("/p/tarn/order/advice?test=wet-stop")
	if status != http.StatusOK {
		t.Fatalf("the page answers %d", status)
	}
	a, err := ordering.AdviseTest(context.Background(), s.folder, "wet-stop", ordering.AdviceRequest{Candidates: []string{"P", "R", "T", "W"}, MostBetween: 3, MostStints: -1, Power: 0.8})
	if err != nil {
		t.Fatal(err)
	}
	wants(t, "the page", body, html.EscapeString(a.Advice.Reason), "its bracket is open", `value="P, R, T, W"`, "no look, and nothing is logged")
	s.bring("then.csv", then)
	_, body = s.get("/p/tarn/order/advice?test=wet-stop")
	wants(t, "the page", body, "This is a look of the plan", "To the look that the plan names", "/p/tarn/interim?test=wet-stop")
	_, body = s.get("/p/tarn/order/advice?test=wet-stop&candidates=P,R,T,W&wanted=0,2")
	wants(t, "the page", body, "would show")
	_, body = s.get("/p/tarn/order/advice?test=wet-stop&candidates=P,R,T,W&time=1")
	wants(t, "the page", body, "<h1>No further stint is advised</h1>")
	_, body = s.get("/p/tarn/order/advice?test=wet-stop&candidates=P,R,T,W&left=P:0,R:0,W:0&looks=13,17")
	wants(t, "the page", body, "<h1>The next stint is best T</h1>")
	if n, _ := s.looks(); n != 0 {
		t.Errorf("asking for advice was logged as %d looks", n)
	}
	for _, c := range []struct{ name, value, says string }{
		{"candidates", "", "No candidate"}, {"candidates", "X", "X"}, {"time", "many", "cannot be read"}, {"left", "P", "cannot be read"}, {"looks", "9, then", "cannot be read"}, {"looks", "9, 7", ""}, {"wanted", "0.2 m", "index points"}, {"wanted", "much", "cannot be read"},
		{"power", "100", ""}, {"measure", "nothing", "nothing"}, {"drift", "cubist", ""}, {"history", "table x", "names no table"},
	} {
		q := url.Values{"test": {"wet-stop"}, "candidates": {"P, R, T, W"}, "wanted": {"2"}}
		q.Set(c.name, c.value)
		status, body := s.get("/p/tarn/order/advice?" + q.Encode())
		if status >= 500 && status != http.StatusNotImplemented {
			t.Errorf("%s %q answers %d", c.name, c.value, status)
		}
		wants(t, c.name+" "+c.value, body, c.says, "Ask what is next", html.EscapeString(c.value))
	}
}

// An interim look is logged under the name of who looks, once for what is seen; no
// word of a verdict is said before the look that the plan names.
func TestInterimPage(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", "")
	s.freeze()
	s.bring("stops.csv", looked)
	_, body := s.get("/p/tarn/interim?test=wet-stop&look=yes")
	wants(t, "the page", body, "10 stints of wet-stop driven", "a look that was not planned, after 10 of 17 stints", "Look, and have it logged")
	if n, _ := s.looks(); n != 0 || strings.Contains(body, "Interval") {
		t.Fatalf("opening the page was a look: %d are logged", n)
	}
	status, body := s.post("/p/tarn/interim", url.Values{"test": {"wet-stop"}})
	if status != http.StatusOK {
		t.Fatalf("looking answers %d: %s", status, body)
	}
	c, err := s.folder.Interim(context.Background(), app.TestRequest{Test: "wet-stop"})
	if err != nil {
		t.Fatal(err)
	}
	wants(t, "the page", body, "Interim, after 10 of 17 stints", "No verdict is told before a look", "No control has closed the bracket of W yet", "Interval", "A look that was not planned", "not told yet")
	for _, word := range []string{"<td>better", "<td>worse", "not shown<", "is better", "Verdict at this look"} {
		if strings.Contains(body, word) {
			t.Errorf("the page says %q before a planned look", word)
		}
	}
	if c.Told {
		t.Error("the use case tells verdicts at a look that nobody planned")
	}
	n, author := s.looks()
	if n != 1 || author != "lead" {
		t.Errorf("%d looks are logged, the last by %q", n, author)
	}
	s.get("/p/tarn/interim?test=wet-stop&look=yes")
	if again, _ := s.looks(); again != n {
		t.Errorf("reading it again was logged as %d looks more", again-n)
	}
	s.bring("then.csv", then)
	_, body = s.get("/p/tarn/interim?test=wet-stop&look=yes")
	wants(t, "the page", body, "the last look was after 10", "planned look 1, after 11 of 17 stints")
	_, body = s.post("/p/tarn/interim", url.Values{"test": {"wet-stop"}})
	wants(t, "the page", body, "Planned look 1, after 11 of 17 stints", "Verdict at this look", "<td>better</td>")
	if again, _ := s.looks(); again != n+1 {
		t.Errorf("%d looks are logged", again)
	}
	for _, q := range []url.Values{{"test": {"none"}}, {"test": {"wet-stop"}, "measure": {"none"}}, {"test": {"wet-stop"}, "control": {"X"}}} {
		if status, body := s.post("/p/tarn/interim", q); status < 400 || status >= 500 {
			t.Errorf("%v answers %d: %s", q, status, body)
		}
	}
}

// Whoever drives, rates or fits sees neither advice nor an interim view; the client sees
// the interim view, and the look stands under the client's name.
func TestWhoMayLook(t *testing.T) {
	h := behindDoor(t, crew)
	in := map[string]*served{}
	for name, want := range map[string][3]int{"lead": {200, 200, 200}, "engineer": {200, 200, 200}, "driver": {403, 403, 403}, "fitter": {403, 403, 403}, "client": {403, 200, 403}} {
		s := h.as(name)
		in[name] = s
		for i, path := range []string{"/p/tarn/order/advice?test=wet-stop", "/p/tarn/interim?test=wet-stop", "/p/tarn/order/anew?test=wet-stop"} {
			if status, _ := s.get(path); status != want[i] {
				t.Errorf("%s: %s answers %d, not %d", name, path, status, want[i])
			}
		}
	}
	driver := in["driver"]
	before, _ := driver.looks()
	if status, body := driver.post("/p/tarn/interim", url.Values{"test": {"wet-stop"}}); status != http.StatusForbidden || strings.Contains(body, "Interval") {
		t.Errorf("a driver's look answers %d", status)
	}
	if n, _ := driver.looks(); n != before {
		t.Error("a driver's look was logged as one")
	}
	client := in["client"]
	status, body := client.post("/p/tarn/interim", url.Values{"test": {"wet-stop"}})
	if status != http.StatusOK {
		t.Fatalf("a client's look answers %d: %s", status, body)
	}
	wants(t, "the page", body, "Interim, after", "Interval")
	if strings.Contains(body, "/order/advice") || strings.Contains(body, "/order/anew") {
		t.Error("a client is led to what a client may not see")
	}
	if n, author := client.looks(); n != before+1 || author != "client" {
		t.Errorf("%d looks, the last by %q", n-before, author)
	}
	for _, path := range []string{"/p/tarn/order/anew/take", "/p/tarn/order/take", "/p/tarn/order/table"} {
		for _, name := range []string{"driver", "fitter", "client"} {
			if status, _ := in[name].post(path, url.Values{"asked": {"control=K&candidates=P"}, "test": {"wet-stop"}}); status != http.StatusForbidden {
				t.Errorf("%s: %s answers %d", name, path, status)
			}
		}
	}
}
