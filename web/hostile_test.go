package web_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/web"
)

// offer sends an entry as a device does.
func (s *served) offer(id, kind, author, body, supersedes string) (int, string) {
	s.t.Helper()
	more := ""
	if supersedes != "" {
		more = `"supersedes":"` + supersedes + `",`
	}
	text := `{"id":"` + id + `","kind":"` + kind + `","version":1,"body":` + body + `,` + more + `"author":"` + author + `","device":"tablet ` + id[24:] + `","counter":1,"device_time":{"unix_ns":1778659200000000000,"clock":"device"}}`
	r, err := http.NewRequest("PUT", s.url+"/p/tarn/day/outbox/"+id, strings.NewReader(text))
	if err != nil {
		s.t.Fatal(err)
	}
	return s.do(r)
}

func (s *served) put(path, body string, head ...string) (int, string) {
	s.t.Helper()
	r, err := http.NewRequest("PUT", s.url+path, strings.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	for i := 0; i+1 < len(head); i += 2 {
		r.Header.Set(head[i], head[i+1])
	}
	return s.do(r)
}

func entryID(n int) string { return fmt.Sprintf("019e2000-0000-7000-8000-%012x", n) }

// What people type into any field of the run log is text on every page and in the
// report, and never becomes part of the page.
func TestWhatIsTypedStaysText(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	const evil = `</script><script>alert(1)</script><img src=x onerror=alert(2)>\"'`
	shown := func(body string) bool {
		return strings.Contains(body, "<script>alert") || strings.Contains(body, "<img src=x")
	}
	for i, e := range []struct{ kind, body string }{
		{"stint", `{"test":"lap","stint":"` + evil + `","code":"` + evil + `","set":"` + evil + `","driver":"` + evil + `","break":true,"reason":"` + evil + `"}`},
		{"run", `{"test":"lap","stint":"` + evil + `","run":"` + evil + `","remark":"` + evil + `"}`},
		{"times", `{"test":"lap","stint":"` + evil + `","run":"` + evil + `","measure":"lap_time","value":91.2,"better":"lower","remark":"` + evil + `"}`},
		{"remark", `{"test":"lap","stint":"` + evil + `","run":"` + evil + `","text":"` + evil + `"}`},
		{"incident", `{"what":"shower","test":"lap","text":"` + evil + `"}`},
		{"deviation", `{"test":"lap","what":"` + evil + `","reason":"` + evil + `"}`},
		{"conditions", `{"test":"lap","air_temperature_degc":12,"remark":"` + evil + `"}`},
	} {
		if status, body := s.offer(entryID(100+i), e.kind, evil, e.body, ""); status != http.StatusOK {
			t.Fatalf("%s: %d %s", e.kind, status, body)
		}
	}
	if status, body := s.post("/p/tarn/runs/wet-stop/3%2F2/out", url.Values{"reason": {strings.ReplaceAll(evil, `\"`, `"`)}}); status != http.StatusOK || shown(body) {
		t.Errorf("a reason: %d, or it became part of the page", status)
	}
	for path, body := range crawl(s, everywhere) {
		if shown(body) {
			t.Errorf("%s has what was typed as its own", path)
		}
	}
}

// Bodies that are too large are refused before they are read, whatever they are
// sent to, and nothing of them is kept.
func TestOversizedBodies(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	large := strings.Repeat("x", 2<<20)
	entry := `{"id":"` + entryID(1) + `","kind":"remark","version":1,"body":{"text":"` + large + `"}}`
	if status, body := s.put("/p/tarn/day/outbox/"+entryID(1), entry); status != http.StatusRequestEntityTooLarge || !strings.Contains(body, `"kept":false`) {
		t.Errorf("an entry of 2 MiB: %d %s", status, body)
	}
	if status, _ := s.put("/p/tarn/day/blobs/"+strings.Repeat("0", 64), strings.Repeat("x", 17<<20)); status != http.StatusRequestEntityTooLarge {
		t.Errorf("a voice of 17 MiB: %d", status)
	}
	for _, path := range []string{"/look", "/p/tarn/day/entries/remark", "/p/tarn/runs/wet-stop/3%2F2/out", "/p/tarn/brief", "/p/tarn/brief/set", "/p/tarn/brief/test", "/p/tarn/brief/plan", "/p/tarn/brief/limits", "/p/tarn/order/take", "/p/tarn/order/table", "/p/tarn/order/anew/take", "/p/tarn/interim", "/driver", "/driver/back"} {
		if status, _ := s.post(path, url.Values{"text": {large}, "word": {large}}); status != http.StatusRequestEntityTooLarge {
			t.Errorf("a form of 2 MiB to %s: %d", path, status)
		}
	}
	r, err := http.NewRequest("GET", s.url+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", "look="+strings.Repeat("x", 60_000))
	if status, _ := s.do(r); status != http.StatusOK {
		t.Errorf("a cookie of 60 kB: %d", status)
	}
	all, err := s.folder.Store.Entries(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		if len(e.Body) > 1<<19 {
			t.Errorf("entry %d of kind %s has %d bytes", e.Sequence, e.Kind, len(e.Body))
		}
	}
}

// No address leads out of the programme, whatever is written in it.
func TestPathsLeadNowhereElse(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	s.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	for _, path := range []string{
		"/p/..%2f..%2f..%2fetc%2fpasswd/brief", "/p/tarn%00/brief", "/p/tarn/../../etc/passwd", "/p/%2e%2e/%2e%2e/etc/passwd", "/static/../web.go", "/static/..%2f..%2fweb.go/x", "/static/%2e%2e/%2e%2e/x",
		"/p/tarn/recordings/wet-stop/..%2f1", "/p/tarn/recordings/..%2f..%2fetc/1", "/p/tarn/recordings/wet-stop/-1", "/p/tarn/recordings/wet-stop/99999999999999999999", "/p/tarn/runs/..%2fwet-stop/1%2f1", "/p/tarn/day/blobs/..%2f..%2fprogramme.db",
		"/p/tarn/day/blobs/" + strings.Repeat("0", 64), "/p/tarn/day/blobs/programme.db", "/programme.db", "/sealed.db", "/authority.pem", "/p/tarn/programme.db",
	} {
		status, body := s.get(path)
		if status < 300 || status >= 500 || strings.Contains(body, "root:") || strings.Contains(body, "SQLite format") {
			t.Errorf("%s answers %d: %.80s", path, status, body)
		}
	}
	if status, _ := s.put("/p/tarn/day/outbox/..%2f..%2fx", `{}`); status != http.StatusUnprocessableEntity {
		t.Errorf("an entry under a path: %d", status)
	}
	if status, _ := s.put("/p/tarn/day/blobs/..%2fprogramme.db", "SQLite"); status != http.StatusConflict {
		t.Errorf("a voice under a path: %d", status)
	}
	for _, back := range []string{"//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere.example", "javascript:alert(1)", "/x\r\nSet-Cookie: session=1"} {
		r, err := http.NewRequest("POST", s.url+"/look", strings.NewReader(url.Values{"theme": {"dark"}, "back": {back}}.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		a, err := s.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		_ = a.Body.Close()
		if to := a.Header.Get("Location"); to != "/" {
			t.Errorf("back to %q leads to %q", back, to)
		}
	}
}

// Whatever changes something is refused where another site's page sent it or under
// another host's name, and changes nothing.
func TestOtherSitesChangeNothing(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	before, err := s.folder.Store.Entries(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	entry := `{"id":"` + entryID(1) + `","kind":"remark","version":1,"body":{"text":"forged"},"author":"lead","device":"x","counter":1,"device_time":{"unix_ns":1,"clock":"device"}}`
	for _, x := range []struct{ method, path, body string }{
		{"PUT", "/p/tarn/day/outbox/" + entryID(1), entry}, {"PUT", "/p/tarn/day/blobs/" + strings.Repeat("0", 64), "x"}, {"POST", "/p/tarn/day/entries/remark", "text=forged"},
		{"POST", "/p/tarn/day/back/" + entryID(1), ""}, {"POST", "/p/tarn/day/correct/" + entryID(1), "text=forged"}, {"POST", "/p/tarn/runs/wet-stop/3%2F2/out", "reason=forged"}, {"POST", "/driver", "name=x&word=forged"}, {"POST", "/look", "theme=dark"},
		{"POST", "/p/tarn/brief", "title=forged"}, {"POST", "/p/tarn/brief/set", "name=forged&code=F"}, {"POST", "/p/tarn/brief/test", "test=forged&procedure=typed"}, {"POST", "/p/tarn/brief/plan", "control=F"}, {"POST", "/p/tarn/brief/limits", "follow=none"}, {"POST", "/p/tarn/recordings/wet-stop/1/assign", "stint=1&reason=forged"}, {"POST", "/p/tarn/recordings/wet-stop/1/unassign", ""},
		{"POST", "/sign-in", "name=lead&password=leadlead"}, {"POST", "/sign-out", ""},
	} {
		for head, value := range map[string]string{"Origin": "http://elsewhere.example", "Sec-Fetch-Site": "cross-site"} {
			r, err := http.NewRequest(x.method, s.url+x.path, strings.NewReader(x.body))
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Header.Set(head, value)
			if status, _ := s.do(r); status != http.StatusForbidden {
				t.Errorf("%s %s with %s %s answers %d", x.method, x.path, head, value, status)
			}
		}
		for _, host := range []string{"elsewhere.example", "localhost.elsewhere.example", "127.0.0.1.elsewhere.example:8420", "192.0.2.7", "[2001:db8::1]:80", "0.0.0.0"} {
			r, err := http.NewRequest(x.method, s.url+x.path, strings.NewReader(x.body))
			if err != nil {
				t.Fatal(err)
			}
			r.Host = host
			if status, _ := s.do(r); status != http.StatusMisdirectedRequest {
				t.Errorf("%s %s as %s answers %d", x.method, x.path, host, status)
			}
		}
	}
	after, err := s.folder.Store.Entries(context.Background(), 0)
	if err != nil || len(after) != len(before) {
		t.Errorf("there are %d entries, before there were %d: %v", len(after), len(before), err)
	}
}

// Cookies that were made up, taken from another's answer before signing in, or
// written twice let nobody in and give nobody another role.
func TestForgedCookies(t *testing.T) {
	h := behindDoor(t, crew)
	stranger := h.as("")
	stranger.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	for _, cookie := range []string{
		"session=", "session=lead", "session=" + strings.Repeat("A", 43), "session=../../session", "session=%00", "session=' OR 1=1 --",
		"name=lead; role=lead", "session=x; session=lead; handed=", "look=dark; session=" + strings.Repeat("x", 8000),
	} {
		r, err := http.NewRequest("GET", h.url+"/p/tarn/verdicts", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Cookie", cookie)
		if status, body := stranger.do(r); status != http.StatusSeeOther || strings.Contains(body, "Wet stops") {
			t.Errorf("%.40s answers %d", cookie, status)
		}
	}
	driver := h.as("driver")
	u, err := url.Parse(h.url)
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequest("GET", h.url+"/p/tarn/verdicts", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", "role=lead; session="+driver.client.Jar.Cookies(u)[0].Value+"; name=lead")
	if status, _ := stranger.do(r); status != http.StatusForbidden {
		t.Errorf("a driver who says to be the lead: %d", status)
	}
}

// Who follows changes goes on being told beyond the server's limits on the time of
// a request and of an answer, and who does not read is let go.
func TestFollowingOutlastsTheLimits(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	h, err := web.New(web.Options{Programmes: func(context.Context) ([]web.Programme, error) {
		return []web.Programme{{Name: "tarn", Folder: s.folder}}, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewUnstartedServer(h)
	server.Config.ReadTimeout, server.Config.WriteTimeout = 300*time.Millisecond, 300*time.Millisecond
	server.Start()
	t.Cleanup(server.Close)
	c, err := net.Dial("tcp", server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.Close() }()
	if _, err := fmt.Fprintf(c, "GET /p/tarn/changes HTTP/1.1\r\nHost: localhost\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(1200 * time.Millisecond)
	if _, err := s.folder.Log(context.Background(), "remark", map[string]any{"text": "late"}); err != nil {
		t.Fatal(err)
	}
	state, err := app.Rebuild(context.Background(), s.folder.Store)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.SetReadDeadline(time.Now().Add(10 * time.Second)); err != nil {
		t.Fatal(err)
	}
	got := ""
	for b := make([]byte, 4096); !strings.Contains(got, state.Head); {
		n, err := c.Read(b)
		got += string(b[:n])
		if err != nil {
			t.Fatalf("cut off after %q: %v", got, err)
		}
	}
}

// A voice is kept with its remark and heard beside the run by those who may; what is
// no voice is handed out as a file and never run.
func TestVoices(t *testing.T) {
	h := behindDoor(t, crew)
	driver, fitter := h.as("driver"), h.as("fitter")
	voice := "\x1a\x45\xdf\xa3 made up, with the first bytes of WebM"
	page := "<!doctype html><script>alert(1)</script>"
	sum := func(s string) string { b := sha256.Sum256([]byte(s)); return hex.EncodeToString(b[:]) }
	for i, x := range []string{voice, page} {
		if status, body := driver.put("/p/tarn/day/blobs/"+sum(x), x); status != http.StatusNoContent {
			t.Fatalf("a voice: %d %s", status, body)
		}
		if status, body := driver.offer(entryID(i+1), "remark", "driver", `{"test":"lap","stint":"1","run":"1","voice":"`+sum(x)+`"}`, ""); status != http.StatusOK {
			t.Fatalf("its remark: %d %s", status, body)
		}
	}
	engineer := h.as("engineer")
	_, body := engineer.get("/p/tarn/runs/lap/1%2F1")
	wants(t, "the run", body, `<audio controls preload="none" src="/p/tarn/day/blobs/`+sum(voice))
	_, body = driver.get("/p/tarn/day?test=lap")
	wants(t, "the driver's day", body, `<audio controls preload="none" src="/p/tarn/day/blobs/`+sum(voice))
	for who, s := range map[string]*served{"driver": driver, "engineer": engineer, "fitter": fitter} {
		a, err := s.client.Get(h.url + "/p/tarn/day/blobs/" + sum(voice))
		if err != nil {
			t.Fatal(err)
		}
		_ = a.Body.Close()
		if a.StatusCode != http.StatusOK || a.Header.Get("Content-Type") != "audio/webm" {
			t.Errorf("%s hears %d, %s", who, a.StatusCode, a.Header.Get("Content-Type"))
		}
	}
	a, err := engineer.client.Get(h.url + "/p/tarn/day/blobs/" + sum(page))
	if err != nil {
		t.Fatal(err)
	}
	_ = a.Body.Close()
	if a.Header.Get("Content-Type") != "application/octet-stream" || a.Header.Get("Content-Disposition") != "attachment" || !strings.Contains(a.Header.Get("Content-Security-Policy"), "sandbox") {
		t.Errorf("a page that somebody sent as a voice comes as %v", a.Header)
	}
	if status, _ := h.as("client").get("/p/tarn/day/blobs/" + sum(voice)); status != http.StatusForbidden {
		t.Errorf("the client hears it: %d", status)
	}
	secret := "\x1a\x45\xdf\xa3 the engineer's own"
	if status, _ := engineer.put("/p/tarn/day/blobs/"+sum(secret), secret); status != http.StatusNoContent {
		t.Fatal(status)
	}
	if status, body := engineer.offer(entryID(9), "remark", "engineer", `{"voice":"`+sum(secret)+`"}`, ""); status != http.StatusOK {
		t.Fatal(status, body)
	}
	if status, _ := driver.get("/p/tarn/day/blobs/" + sum(secret)); status != http.StatusNotFound {
		t.Errorf("the driver hears the engineer: %d", status)
	}
}

// Whoever made an entry takes it back, and those who answer for the programme; a
// driver does not take back what others entered.
func TestTakingBack(t *testing.T) {
	h := behindDoor(t, crew)
	driver, engineer := h.as("driver"), h.as("engineer")
	for i, who := range []string{"driver", "engineer"} {
		s := map[string]*served{"driver": driver, "engineer": engineer}[who]
		if status, body := s.offer(entryID(i+1), "remark", who, `{"test":"lap","text":"said by `+who+`"}`, ""); status != http.StatusOK {
			t.Fatal(status, body)
		}
	}
	if status, body := driver.offer(entryID(11), "withdrawal", "driver", `{}`, entryID(2)); status != http.StatusUnprocessableEntity || !strings.Contains(body, "what others entered") {
		t.Errorf("a driver takes back the engineer's remark: %d %s", status, body)
	}
	if status, _ := driver.post("/p/tarn/day/back/"+entryID(2), url.Values{"back": {"/p/tarn/day?test=lap"}}); status != http.StatusForbidden {
		t.Errorf("by the form: %d", status)
	}
	_, body := driver.get("/p/tarn/day?test=lap")
	wants(t, "the driver's day", body, `action="/p/tarn/day/back/`+entryID(1)+`"`)
	if strings.Contains(body, "/p/tarn/day/back/"+entryID(2)) {
		t.Error("the driver is offered to take back the engineer's remark")
	}
	if status, body := driver.offer(entryID(12), "withdrawal", "driver", `{}`, entryID(1)); status != http.StatusOK {
		t.Errorf("a driver's own: %d %s", status, body)
	}
	if status, body := engineer.post("/p/tarn/day/back/"+entryID(2), url.Values{"back": {"/p/tarn/day?test=lap"}}); status != http.StatusOK || strings.Contains(body, "said by") {
		t.Errorf("the engineer's own, by the form: %d", status)
	}
}

// Whoever made an entry corrects it, as do those who answer for the programme; nobody
// corrects what is shown to them in part, and nothing becomes another kind of thing.
func TestCorrecting(t *testing.T) {
	h := behindDoor(t, crew)
	driver, engineer := h.as("driver"), h.as("engineer")
	for i, x := range []struct{ who, kind, body string }{
		{"driver", "remark", `{"test":"lap","text":"pulls left"}`},
		{"engineer", "remark", `{"test":"lap","text":"the engineer's own"}`},
		{"driver", "stint", `{"test":"lap","stint":"7","code":"P","set":"P1"}`},
		{"driver", "conditions", `{"test":"lap","wind_mps":3.123456789012345,"air_temperature_degc":-2.5}`},
	} {
		s := map[string]*served{"driver": driver, "engineer": engineer}[x.who]
		if status, body := s.offer(entryID(i+1), x.kind, x.who, x.body, ""); status != http.StatusOK {
			t.Fatal(status, body)
		}
	}
	_, body := driver.get("/p/tarn/day?test=lap")
	wants(t, "the driver's day", body, "correct="+entryID(1)+"#correct", "correct="+entryID(4)+"#correct")
	for _, not := range []int{2, 3} { // another's; one whose set a driver does not see
		if strings.Contains(body, "correct="+entryID(not)) {
			t.Errorf("the driver is offered to correct entry %d", not)
		}
	}
	for path, want := range map[string]int{entryID(1): http.StatusOK, entryID(2): http.StatusNotFound, entryID(3): http.StatusForbidden, entryID(77): http.StatusNotFound, "x": http.StatusNotFound} {
		if status, _ := driver.get("/p/tarn/day?test=lap&correct=" + path); status != want {
			t.Errorf("the driver is shown the form of %s: %d, want %d", path, status, want)
		}
		if want == http.StatusOK {
			continue
		}
		if status, _ := driver.post("/p/tarn/day/correct/"+path, url.Values{"text": {"forged"}, "code": {"K"}}); status != want {
			t.Errorf("the driver corrects %s: %d, want %d", path, status, want)
		}
	}
	if status, body := driver.offer(entryID(11), "remark", "driver", `{"test":"lap","text":"forged"}`, entryID(2)); status != http.StatusUnprocessableEntity || !strings.Contains(body, "what others entered") {
		t.Errorf("by the outbox: %d %s", status, body)
	}
	if status, body := driver.offer(entryID(12), "rating", "driver", `{"test":"lap","stint":"1","rater":"driver","attribute":"grip","value":6}`, entryID(1)); status != http.StatusUnprocessableEntity || !strings.Contains(body, "cannot stand in the place") {
		t.Errorf("a remark becomes a rating: %d %s", status, body)
	}
	// One field by the form: the others stay to the last digit.
	_, body = driver.get("/p/tarn/day?test=lap&correct=" + entryID(4))
	wants(t, "the form", body, `value="3.12345678901"`, `value="-2.5"`, "/p/tarn/day/correct/"+entryID(4))
	form := url.Values{"wind_mps": {"3.12345678901"}, "air_temperature_degc": {"\u22121,5"}}
	if status, body := driver.post("/p/tarn/day/correct/"+entryID(4), form); status != http.StatusOK || !strings.Contains(body, "corrected, before:") {
		t.Errorf("the driver's own: %d", status)
	}
	all, err := h.folder.Store.Entries(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	if e := all[len(all)-1]; e.Supersedes != entryID(4) || e.Author != "driver" || string(e.Body) != `{"air_temperature_degc":-1.5,"test":"lap","wind_mps":3.123456789012345}` {
		t.Errorf("kept is %s in the place of %s, by %s", e.Body, e.Supersedes, e.Author)
	}
	// What was corrected meanwhile is not corrected once more from an old page.
	if status, _ := driver.post("/p/tarn/day/correct/"+entryID(4), url.Values{"wind_mps": {"9"}}); status != http.StatusNotFound {
		t.Errorf("from an old page: %d", status)
	}
	if status, body := driver.post("/p/tarn/day/correct/"+entryID(1), url.Values{"text": {"pulls left"}}); status != http.StatusUnprocessableEntity || !strings.Contains(body, "othing is changed") {
		t.Errorf("nothing changed: %d", status)
	}
	if status, body := engineer.post("/p/tarn/day/correct/"+entryID(3), url.Values{"stint": {"7"}, "code": {"K"}, "set": {"P1"}}); status != http.StatusOK || !strings.Contains(body, "stint 7, code K") {
		t.Errorf("the engineer corrects the driver's stint: %d", status)
	}
	// Two corrections of one entry: both kept, both shown, either taken back.
	for i, text := range []string{"pulls right", "pulls hard"} {
		if status, body := driver.offer(entryID(21+i), "remark", "driver", `{"test":"lap","text":"`+text+`"}`, entryID(1)); status != http.StatusOK {
			t.Fatal(status, body)
		}
	}
	_, body = engineer.get("/p/tarn/day?test=lap")
	wants(t, "the engineer's day", body, "The same remark was corrected twice", "pulls right", "pulls hard", "/day/back/"+entryID(22))
	if status, body := engineer.post("/p/tarn/day/back/"+entryID(22), url.Values{"back": {"/p/tarn/day?test=lap"}}); status != http.StatusOK || strings.Contains(body, "corrected twice") {
		t.Errorf("the second is taken back: %d", status)
	}
}
