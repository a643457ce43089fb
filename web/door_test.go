package web_test

import (
	"context"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"example.org/bookend/app"
	"example.org/bookend/app/sight"
	"example.org/bookend/web"
)

// keys lets a few people in whose password is their name, written twice.
type keys map[string]sight.Role

func (k keys) Enter(name, password string) (web.Guest, bool, error) {
	role, ok := k[name]
	return web.Guest{Name: name, Role: role}, ok && password == name+name, nil
}

var crew = keys{"lead": sight.Lead, "driver": sight.Driver, "fitter": sight.Fitter, "engineer": sight.Engineer, "client": sight.Client}

// house is a programme behind a door.
type house struct {
	t      *testing.T
	url    string
	folder *app.Folder
	h      http.Handler
}

func behindDoor(t *testing.T, door web.Door) *house {
	t.Helper()
	s := serve(t, "Wet stops of two van tyres", stops)
	ctx := context.Background()
	for _, e := range []struct {
		kind string
		body map[string]any
	}{
		{"set", map[string]any{"set": "KARLSTADSET", "code": "K", "front_left": "TYRENUMBER1"}},
		{"stint", map[string]any{"test": "lap", "stint": "1", "code": "K", "set": "KARLSTADSET"}},
		{"pressures", map[string]any{"test": "lap", "stint": "1", "when": "cold", "front_left_kpa": 432.1}},
		{"run", map[string]any{"test": "lap", "stint": "1", "run": "1", "entry_speed_mps": 27.183}},
		{"times", map[string]any{"test": "lap", "stint": "1", "run": "1", "measure": "lap_time_s", "value": 91.2345, "better": "lower", "unit": "s"}},
		{"remark", map[string]any{"text": "the control feels soft, says SECRETREMARK"}},
		{"stint", map[string]any{"test": "lap", "stint": "2", "code": "P"}},
	} {
		if _, err := s.folder.Log(ctx, e.kind, e.body); err != nil {
			t.Fatal(err)
		}
	}
	h, err := web.New(web.Options{Ground: "Skerry Moor", Lead: "lead", Door: door, Programmes: func(context.Context) ([]web.Programme, error) {
		return []web.Programme{{Name: "tarn", Folder: s.folder}}, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	return &house{t: t, url: server.URL, folder: s.folder, h: h}
}

// as gives a browser in which somebody has signed in.
func (h *house) as(name string) *served {
	h.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		h.t.Fatal(err)
	}
	s := &served{t: h.t, url: h.url, folder: h.folder, client: &http.Client{Jar: jar}}
	if name != "" {
		if status, _ := s.post("/sign-in", url.Values{"name": {name}, "password": {name + name}, "back": {"/"}}); status != http.StatusOK {
			h.t.Fatalf("%s cannot sign in: %d", name, status)
		}
	}
	return s
}

var everywhere = []string{
	"/", "/p/tarn/", "/p/tarn/brief", "/p/tarn/day", "/p/tarn/day?test=lap", "/p/tarn/recordings", "/p/tarn/recordings/wet-stop/1", "/p/tarn/verdicts", "/p/tarn/verdicts?control=K&open=t1m1",
	"/p/tarn/runs/wet-stop/3%2F1", "/p/tarn/runs/wet-stop/1%2F1", "/p/tarn/report", "/p/tarn/report/whole", "/p/tarn/report/whole?control=K", "/p/tarn/changes", "/p/tarn/order", "/p/tarn/order?control=K&candidates=P,W", "/p/tarn/order/advice", "/p/tarn/order/advice?test=wet-stop&candidates=P,W", "/p/tarn/interim", "/p/tarn/interim?test=wet-stop&look=yes", "/p/tarn/order/anew", "/p/tarn/order/sheet?control=K&candidates=P,W", "/p/tarn/order/anew/sheet?control=K&candidates=P,W&driven=K&reason=x", "/p/tarn/order/anew?test=wet-stop&driven=K&reason=x", "/p/tarn/order/cones", "/p/tarn/order/cones?layout=slalom&width=1.8", "/p/tarn/order/cones/cones.csv?layout=slalom&width=1.8", "/p/tarn/lines", "/p/tarn/lines?test=wet-stop", "/p/tarn/lines/wet-stop/paths", "/p/tarn/ratings", "/p/tarn/day/blobs/0", "/p/tarn/day/manifest.json", "/worker.js", "/p/tarn/nothing", "/driver",
}

// crawl fetches every address that anybody knows of and every one that a page
// leads to.
func crawl(s *served, from []string) map[string]string {
	link := regexp.MustCompile(`(?:href|src|action)="(/[^"#]*)`)
	out := map[string]string{}
	todo := append([]string(nil), from...)
	for len(todo) > 0 {
		path := todo[0]
		todo = todo[1:]
		if _, done := out[path]; done || strings.HasSuffix(path, "/changes") {
			continue
		}
		_, out[path] = s.get(path)
		if strings.HasPrefix(path, "/static/") {
			continue
		}
		for _, m := range link.FindAllStringSubmatch(out[path], -1) {
			todo = append(todo, strings.ReplaceAll(m[1], "&amp;", "&"))
		}
	}
	return out
}

// Whoever drives finds, at no address, a set, a pressure, a time, a verdict, what
// others remarked, or anything that tells which code is the control.
func TestADriverFindsNothing(t *testing.T) {
	h := behindDoor(t, crew)
	s := h.as("driver")
	pages := crawl(s, everywhere)
	secret := regexp.MustCompile(`(?i)karlstadset|tyrenumber1|432\.1|4\.321|97\.9|27\.183|91\.23|secretremark|index 1|opens and closes|31\.9|\bbetter than\b|data-head|control tyre|is the control|control K`)
	for path, body := range pages {
		if strings.HasPrefix(path, "/static/") {
			continue
		}
		if path == "/driver" {
			continue // says what is hidden, in words
		}
		if found := secret.FindString(body); found != "" {
			t.Errorf("%s tells %q:\n%s", path, found, body)
		}
	}
	if !strings.Contains(pages["/p/tarn/day?test=lap"], "P is on the vehicle") {
		t.Errorf("the day does not say what is on the vehicle: %s", pages["/p/tarn/day?test=lap"])
	}
	// The control has the mark of one more candidate: no square.
	if strings.Contains(pages["/p/tarn/day?test=lap"], "M1.5 1.5h13v13h-13z") {
		t.Error("the control has its own mark")
	}
	if status, _ := s.post("/p/tarn/runs/wet-stop/3%2F1/out", url.Values{"reason": {"no"}}); status != http.StatusForbidden {
		t.Errorf("a driver leaves a run out: %d", status)
	}
	r, _ := http.NewRequest("GET", h.url+"/p/tarn/changes", nil)
	if status, _ := s.do(r); status != http.StatusForbidden {
		t.Errorf("a driver follows the chain: %d", status)
	}
	// The same pages, byte for byte, where another code is the control.
	other := behindDoor(t, crew)
	if got, want := clean(crawl(other.as("driver"), everywhere)["/p/tarn/day?test=lap"]), clean(pages["/p/tarn/day?test=lap"]); got != want {
		t.Errorf("the day's page differs:\n%s\n%s", got, want)
	}
}

func clean(page string) string {
	page = regexp.MustCompile(`[0-9]{2}:[0-9]{2}`).ReplaceAllString(page, "hh:mm")
	return regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`).ReplaceAllString(page, "id")
}

// The client sees the report and none of the raw log; a fitter sees sets and no
// verdicts; the engineer sees verdicts.
func TestRoles(t *testing.T) {
	h := behindDoor(t, crew)
	in := map[string]*served{} // five may sign in from one address at once
	for who := range crew {
		in[who] = h.as(who)
	}
	for _, c := range []struct {
		who, path string
		status    int
	}{
		{"client", "/p/tarn/report?control=K", 200}, {"client", "/p/tarn/report/whole?control=K", 200}, {"client", "/p/tarn/day", 403}, {"client", "/p/tarn/runs/wet-stop/3%2F1", 403},
		{"client", "/p/tarn/brief", 403}, {"fitter", "/p/tarn/day?test=lap", 200}, {"fitter", "/p/tarn/verdicts", 403}, {"fitter", "/p/tarn/report", 403},
		{"engineer", "/p/tarn/verdicts", 200}, {"engineer", "/p/tarn/day", 200}, {"lead", "/p/tarn/brief", 200}, {"driver", "/p/tarn/day", 200}, {"driver", "/p/tarn/report", 403},
	} {
		if status, body := in[c.who].get(c.path); status != c.status {
			t.Errorf("%s at %s: %d instead of %d: %s", c.who, c.path, status, c.status, body)
		}
	}
	if _, body := in["fitter"].get("/p/tarn/day?test=lap"); !strings.Contains(body, "KARLSTADSET") {
		t.Error("the fitter does not see the set")
	}
	for path, body := range crawl(in["client"], everywhere) {
		if strings.Contains(body, "SECRETREMARK") || strings.Contains(body, "432.1") {
			t.Errorf("the client finds the raw log at %s", path)
		}
	}
}

// Nobody sees anything before signing in; passwords cannot be tried in rows;
// sessions end and cannot be forged or fixed beforehand.
func TestSigningIn(t *testing.T) {
	h := behindDoor(t, crew)
	s := h.as("")
	s.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	for _, path := range everywhere {
		if strings.HasSuffix(path, "manifest.json") || path == "/worker.js" || strings.HasSuffix(path, "/nothing") {
			continue
		}
		status, body := s.get(path)
		if status != http.StatusSeeOther && status != http.StatusForbidden || strings.Contains(body, "Wet stops") {
			t.Errorf("%s answers %d before signing in", path, status)
		}
	}
	r, _ := http.NewRequest("PUT", h.url+"/p/tarn/day/outbox/x", strings.NewReader("{}"))
	if status, _ := s.do(r); status != http.StatusUnauthorized {
		t.Errorf("an outbox without signing in: %d", status)
	}
	r, _ = http.NewRequest("GET", h.url+"/p/tarn/verdicts", nil)
	r.Header.Set("Cookie", "session=AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA")
	if status, _ := s.do(r); status != http.StatusSeeOther {
		t.Errorf("a forged session: %d", status)
	}
	status, body := s.post("/sign-in", url.Values{"name": {"lead"}, "password": {"wrong"}})
	if status != http.StatusUnauthorized || !strings.Contains(body, "do not belong together") {
		t.Errorf("a wrong password: %d", status)
	}
	refused := 0
	for range 8 {
		if status, _ := s.post("/sign-in", url.Values{"name": {"lead"}, "password": {"wrong"}}); status == http.StatusConflict {
			refused++
		}
	}
	if refused < 3 {
		t.Errorf("of eight tries %d were refused", refused)
	}
	in := behindDoor(t, crew).as("lead")
	u, _ := url.Parse(in.url)
	before := in.client.Jar.Cookies(u)[0].Value
	if status, _ := in.get("/p/tarn/verdicts"); status != http.StatusOK {
		t.Errorf("signed in: %d", status)
	}
	if status, _ := in.post("/sign-out", nil); status != http.StatusOK {
		t.Errorf("signing out: %d", status)
	}
	r, _ = http.NewRequest("GET", in.url+"/p/tarn/verdicts", nil)
	r.Header.Set("Cookie", "session="+before)
	plain := &served{t: t, url: in.url, client: &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	if status, _ := plain.do(r); status != http.StatusSeeOther {
		t.Errorf("a session that ended: %d", status)
	}
}

// Where nobody signs in, handing over holds for every window of the machine.
func TestDriverModeOnLoopback(t *testing.T) {
	h := behindDoor(t, nil)
	lead, other := h.as(""), h.as("")
	if status, _ := lead.get("/p/tarn/verdicts"); status != http.StatusOK {
		t.Fatalf("before: %d", status)
	}
	if status, _ := lead.post("/driver", url.Values{"name": {"A. Holm"}, "word": {"abc"}}); status != http.StatusUnprocessableEntity {
		t.Errorf("a word of three letters: %d", status)
	}
	if status, body := lead.post("/driver", url.Values{"name": {"A. Holm"}, "word": {"harbour"}}); status != http.StatusOK || !strings.Contains(body, "A. Holm, driver") {
		t.Fatalf("handing over: %d", status)
	}
	for _, s := range []*served{lead, other} {
		for _, path := range []string{"/p/tarn/verdicts", "/p/tarn/report/whole?control=K", "/p/tarn/brief", "/p/tarn/runs/wet-stop/3%2F1"} {
			if status, _ := s.get(path); status != http.StatusForbidden {
				t.Errorf("%s answers %d in the driver's hands", path, status)
			}
		}
	}
	if status, _ := other.post("/driver", url.Values{"name": {"me"}, "word": {"mine all"}}); status != http.StatusForbidden {
		t.Errorf("the driver sets another word: %d", status)
	}
	if status, _ := other.post("/driver/back", url.Values{"word": {"guess"}}); status != http.StatusUnprocessableEntity {
		t.Errorf("a wrong word: %d", status)
	}
	if status, _ := other.post("/driver/back", url.Values{"word": {"harbour"}}); status != http.StatusOK {
		t.Errorf("the word: %d", status)
	}
	if status, _ := lead.get("/p/tarn/verdicts"); status != http.StatusOK {
		t.Errorf("after: %d", status)
	}
}

// An entry that somebody else made on a shared tablet stays there until that
// person signs in.
func TestEntriesAreTheirAuthors(t *testing.T) {
	h := behindDoor(t, crew)
	s := h.as("driver")
	entry := func(id, author string) *http.Request {
		r, err := http.NewRequest("PUT", h.url+"/p/tarn/day/outbox/"+id, strings.NewReader(`{"id":"`+id+`","kind":"remark","version":1,"body":{"text":"calm"},"author":"`+author+`","device":"tablet","counter":1,"device_time":{"unix_ns":1778659200000000000,"clock":"device"}}`))
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	const one, two = "019e2000-0000-7000-8000-000000000001", "019e2000-0000-7000-8000-000000000002"
	if status, body := s.do(entry(one, "engineer")); status != http.StatusForbidden || !strings.Contains(body, "stays on the tablet") {
		t.Errorf("another's entry: %d %s", status, body)
	}
	if status, body := s.do(entry(two, "driver")); status != http.StatusOK {
		t.Errorf("one's own entry: %d %s", status, body)
	}
	if status, body := s.do(entry(two, "driver")); status != http.StatusOK || !strings.Contains(body, `"again":true`) {
		t.Errorf("the same again: %d %s", status, body)
	}
}
