package web_test

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/web"
)

// stops is a made-up table of wet stops in m: K the control, W longer.
const stops = `stint,code,value
1,K,31.9
1,K,32.1
1,K,32.0
2,P,30.1
2,P,30.4
2,P,30.2
3,W,34.0
3,W,33.7
3,W,34.1
4,K,32.4
4,K,32.2
4,K,32.3
5,W,34.4
5,W,34.2
5,W,34.5
6,P,30.7
6,P,30.6
6,P,30.9
7,K,32.6
7,K,32.8
7,K,32.7
`

// served is a programme behind the face.
type served struct {
	t      *testing.T
	url    string
	folder *app.Folder
	client *http.Client
}

func serve(t *testing.T, title, table string) *served {
	t.Helper()
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "tarn")
	store, err := sqlite.Create(ctx, dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	f := &app.Folder{Store: store, Author: "lead", Device: "test", Now: time.Now}
	if err := f.Begin(ctx, programme.Programme{Title: title, Client: "Tarn Valley Ambulance", Ground: "Skerry Moor", Question: "Which stops shorter?"}); err != nil {
		t.Fatal(err)
	}
	if table != "" {
		path := filepath.Join(t.TempDir(), "stops.csv")
		if err := os.WriteFile(path, []byte(table), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := f.Import(ctx, app.ImportRequest{Test: "wet-stop", Better: programme.Lower, Paths: []string{path}}); err != nil {
			t.Fatal(err)
		}
	}
	h, err := web.New(web.Options{Ground: "Skerry Moor", Lead: "lead", Programmes: func(context.Context) ([]web.Programme, error) {
		return []web.Programme{{Name: "tarn", Folder: f}}, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return &served{t: t, url: s.URL, folder: f, client: s.Client()}
}

func (s *served) do(r *http.Request) (int, string) {
	s.t.Helper()
	a, err := s.client.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer func() { _ = a.Body.Close() }()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return a.StatusCode, string(b)
}

func (s *served) get(path string) (int, string) {
	s.t.Helper()
	r, err := http.NewRequest("GET", s.url+path, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	return s.do(r)
}

func (s *served) post(path string, form url.Values, head ...string) (int, string) {
	s.t.Helper()
	r, err := http.NewRequest("POST", s.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(head); i += 2 {
		r.Header.Set(head[i], head[i+1])
	}
	return s.do(r)
}

func wants(t *testing.T, what, body string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(body, w) {
			t.Errorf("%s does not say %q:\n%s", what, w, body)
		}
	}
}

// Every page of a programme answers, its heading is its title, and each link
// from one leads to another that answers.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	heading := regexp.MustCompile(`(?s)<h1>(.*?)</h1>`)
	link := regexp.MustCompile(`href="(/[^"#]*)`)
	seen := map[string]bool{}
	todo := []string{"/"}
	for len(todo) > 0 {
		path := todo[0]
		todo = todo[1:]
		if seen[path] {
			continue
		}
		seen[path] = true
		status, body := s.get(path)
		if status != http.StatusOK {
			t.Errorf("%s answers %d", path, status)
			continue
		}
		if strings.HasPrefix(path, "/static/") || strings.HasSuffix(path, "/manifest.json") {
			continue
		}
		if h := heading.FindStringSubmatch(body); h == nil || strings.TrimSpace(h[1]) == "" {
			t.Errorf("%s has no heading", path)
		}
		if strings.Contains(body, "ZgotmplZ") || strings.Contains(body, "<no value>") {
			t.Errorf("%s was not printed whole", path)
		}
		for _, m := range link.FindAllStringSubmatch(body, -1) {
			todo = append(todo, strings.ReplaceAll(m[1], "&amp;", "&"))
		}
	}
	for _, path := range []string{"/p/tarn/brief", "/p/tarn/recordings", "/p/tarn/verdicts", "/p/tarn/report", "/p/tarn/report/whole"} {
		if !seen[path] {
			t.Errorf("no link leads to %s", path)
		}
	}
}

// A verdict on the page is that of the use case, and opens to its figures.
func TestVerdictsAreThoseOfTheUseCase(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	d, err := s.folder.ReportTests(context.Background(), app.TestsRequest{Control: "K"})
	if err != nil {
		t.Fatal(err)
	}
	_, body := s.get("/p/tarn/verdicts")
	wants(t, "the page", body, "K opens and closes every sequence")
	for _, row := range d.Matrix[0].Rows {
		for _, c := range row.Cells {
			if c.Verdict != nil {
				wants(t, "the page", body, c.Verdict.Interval, c.Verdict.Estimate.String())
			}
		}
	}
	_, body = s.get("/p/tarn/verdicts?open=" + d.Sections[0].ID)
	wants(t, "what is open", body, "aria-expanded", "<figure", "Fold in", d.Sections[0].Title[0].Text)
	status, body := s.get("/p/tarn/verdicts?margin=much")
	if status != http.StatusUnprocessableEntity {
		t.Errorf("a margin that is no number answers %d", status)
	}
	wants(t, "the page", body, "is no number of index points", "for example 2")
}

// Leaving a run out needs its reason, changes the verdict, tells pages that are
// open, and can be taken back.
func TestLeavingOutARun(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	_, before := s.get("/p/tarn/verdicts")
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, "GET", s.url+"/p/tarn/changes", nil)
	if err != nil {
		t.Fatal(err)
	}
	live, err := s.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = live.Body.Close() }()
	news := bufio.NewScanner(live.Body)
	next := func() string {
		for news.Scan() {
			if head, ok := strings.CutPrefix(news.Text(), "data: "); ok {
				return head
			}
		}
		t.Fatal("no event came")
		return ""
	}
	first := next()

	run := "/p/tarn/runs/wet-stop/" + url.PathEscape("3/2")
	status, body := s.get(run)
	if status != http.StatusOK {
		t.Fatalf("the run answers %d: %s", status, body)
	}
	wants(t, "the form", body, `action="`+run+`/out"`)
	status, body = s.post(run+"/out", url.Values{"reason": {" "}})
	if status != http.StatusUnprocessableEntity {
		t.Errorf("without a reason it answers %d", status)
	}
	wants(t, "the page", body, "No reason is given")
	if status, body = s.post(run+"/out", url.Values{"reason": {"puddle"}}); status != http.StatusOK {
		t.Fatalf("leaving out answers %d: %s", status, body)
	}
	wants(t, "the run's page", body, "is left out: puddle", "Take it in again")
	if next() == first {
		t.Error("an open page was told nothing new")
	}
	_, after := s.get("/p/tarn/verdicts")
	if after == before {
		t.Error("the verdicts are as before")
	}
	if status, _ = s.post(run+"/out", url.Values{"reason": {"again"}}); status != http.StatusConflict {
		t.Errorf("leaving out twice answers %d", status)
	}
	if status, _ = s.post(run+"/back", nil); status != http.StatusOK {
		t.Errorf("taking back answers %d", status)
	}
	_, back := s.get("/p/tarn/verdicts")
	clean := func(page string) string { return regexp.MustCompile(`data-head="[^"]*"`).ReplaceAllString(page, "") }
	if clean(back) != clean(before) {
		t.Error("taken back, the verdicts are not as before")
	}
}

// Hostile requests are refused, and what people typed never becomes code.
func TestHostile(t *testing.T) {
	s := serve(t, `<script>alert(1)</script>`, stops)
	for _, path := range []string{"/", "/p/tarn/brief", "/p/tarn/verdicts"} {
		_, body := s.get(path)
		if strings.Contains(body, "<script>alert") {
			t.Errorf("%s runs what was typed", path)
		}
	}
	r, _ := http.NewRequest("GET", s.url+"/p/tarn/verdicts", nil)
	r.Host = "elsewhere.example"
	if status, _ := s.do(r); status != http.StatusMisdirectedRequest {
		t.Errorf("another host's name answers %d", status)
	}
	run := "/p/tarn/runs/wet-stop/" + url.PathEscape("3/2") + "/out"
	if status, _ := s.post(run, url.Values{"reason": {"forged"}}, "Origin", "http://elsewhere.example"); status != http.StatusForbidden {
		t.Errorf("another site's form answers %d", status)
	}
	if status, _ := s.post(run, url.Values{"reason": {"forged"}}, "Sec-Fetch-Site", "cross-site"); status != http.StatusForbidden {
		t.Errorf("another site's form answers %d", status)
	}
	if status, _ := s.post(run, url.Values{"reason": {strings.Repeat("x", 2<<20)}}); status != http.StatusRequestEntityTooLarge {
		t.Errorf("a form of 2 MiB answers %d", status)
	}
	for _, path := range []string{"/p/nowhere/verdicts", "/p/..%2f..%2fetc/brief", "/p/tarn/runs/wet-stop/none", "/p/tarn/runs/none/1", "/p/tarn/recordings/wet-stop/7", "/static/0/bookend.css", "/nothing"} {
		if status, _ := s.get(path); status != http.StatusNotFound {
			t.Errorf("%s answers %d", path, status)
		}
	}
	if status, body := s.post("/look", url.Values{"theme": {"dark"}, "back": {"//elsewhere.example/"}}); status != http.StatusOK || !strings.Contains(body, "programme is open") {
		t.Errorf("the way back leads elsewhere: %d", status)
	}
	a, err := s.client.Get(s.url + "/p/tarn/verdicts")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = a.Body.Close() }()
	for _, want := range []string{"default-src 'none'", "frame-ancestors 'none'", "script-src 'self'"} {
		if p := a.Header.Get("Content-Security-Policy"); !strings.Contains(p, want) {
			t.Errorf("the policy %q lacks %s", p, want)
		}
	}
}

// A programme without anything says so on every page.
func TestNothingYet(t *testing.T) {
	s := serve(t, "Begun today", "")
	for path, words := range map[string]string{"/p/tarn/verdicts": "No verdict can be given yet", "/p/tarn/recordings": "No recording has been brought in yet", "/p/tarn/brief": "Which stops shorter?"} {
		status, body := s.get(path)
		if status != http.StatusOK {
			t.Errorf("%s answers %d", path, status)
		}
		wants(t, path, body, words)
	}
	if status, body := s.get("/p/tarn/report"); status != http.StatusUnprocessableEntity || !strings.Contains(body, "which code is the control") {
		t.Errorf("the report answers %d", status)
	}
}

// The theme and the numbers are kept for the person who chose them.
func TestLook(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	r, _ := http.NewRequest("GET", s.url+"/p/tarn/verdicts", nil)
	r.Header.Set("Cookie", "look=sunlight.comma")
	_, body := s.do(r)
	wants(t, "the page", body, `data-theme="sunlight"`)
	if !regexp.MustCompile(`\d+,\d\d to \d+,\d\d`).MatchString(body) {
		t.Error("no interval has a decimal comma")
	}
	r.Header.Set("Cookie", `look="><b>`)
	if _, body = s.do(r); strings.Contains(body, `data-theme`) {
		t.Error("a forged look is taken")
	}
}

// Fonts go out with their copyright notices and their licence, as condition 2 of the SIL
// Open Font License 1.1 asks (figure/fonts has its text): the style sheet says where.
func TestFontsGoOutWithTheirLicence(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	_, body := s.get("/")
	sheet := regexp.MustCompile(`href="((/static/[^"]+/)bookend\.css)"`).FindStringSubmatch(body)
	if sheet == nil {
		t.Fatal("the page names no style sheet")
	}
	_, css := s.get(sheet[1])
	wants(t, "the style sheet", css, ".woff2", "SIL Open Font License 1.1, fonts-licence.txt")
	status, text := s.get(sheet[2] + "fonts-licence.txt")
	if status != http.StatusOK {
		t.Fatalf("the licence answers %d", status)
	}
	wants(t, "the licence", text, "Reserved Font Name 'Source'", "SIL OPEN FONT LICENSE Version 1.1", "PERMISSION & CONDITIONS")
}

// The scripts of a page stay far below what a slow tablet can bear.
func TestScriptsAreSmall(t *testing.T) {
	s := serve(t, "Wet stops of two van tyres", stops)
	_, body := s.get("/p/tarn/verdicts")
	total := 0
	for _, m := range regexp.MustCompile(`src="(/static/[^"]+\.js)"`).FindAllStringSubmatch(body, -1) {
		r, _ := http.NewRequest("GET", s.url+m[1], nil)
		r.Header.Set("Accept-Encoding", "gzip")
		_, b := s.do(r)
		total += len(b)
	}
	if total == 0 || total > 150_000 {
		t.Errorf("the page's scripts have %d bytes compressed", total)
	}
}

// The page of orders plans from its address alone: the same question, the same order.
func TestTheOrderIsPlannedFromItsAddress(t *testing.T) {
	s := serve(t, "Wet stops", stops)
	ask := "/p/tarn/order?control=K&candidates=P+R&repeats=2&controls=3&stint-sd=0.8&run-time=6&start=09:15"
	code, body := s.get(ask)
	if code != http.StatusOK {
		t.Errorf("%d: %s", code, body)
	}
	wants(t, "the order", body, "3 of them the control K", "09:15", "index points")
	if _, again := s.get(ask); again != body {
		t.Error("the same question is answered otherwise")
	}
	for _, bad := range []string{"candidates=P&repeats=none", "candidates=P&stint-sd=-1", "candidates=P&run-time=6&start=25:00", "candidates=P&controls=999"} {
		if code, _ := s.get("/p/tarn/order?" + bad); code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", bad, code)
		}
	}
}

// The brief is changed by an entry; what is wrong changes nothing.
func TestTheBriefIsRewritten(t *testing.T) {
	s := serve(t, "Wet stops", stops)
	form := url.Values{"title": {"Wet stops"}, "client": {"Tarn Valley Ambulance"}, "ground": {"Skerry Moor"}, "question": {"Which stops shortest when <wet>?"}}
	if code, body := s.post("/p/tarn/brief", form); code != http.StatusOK || !strings.Contains(body, "Which stops shortest when &lt;wet&gt;?") {
		t.Errorf("%d: %s", code, body)
	}
	form.Set("title", "")
	if code, _ := s.post("/p/tarn/brief", form); code != http.StatusUnprocessableEntity {
		t.Errorf("a brief without a title is answered %d", code)
	}
}

// A person sees the units that were chosen, in the browser that chose them; nothing that
// is kept changes.
func TestUnitsArePerPerson(t *testing.T) {
	s := serve(t, "Wet stops", strings.ReplaceAll(stops, "value", "value_m"))
	if _, body := s.get("/p/tarn/runs/wet-stop/1%2F1"); !strings.Contains(body, "31.9") {
		t.Errorf("as measured: %s", body)
	}
	r, err := http.NewRequest("GET", s.url+"/p/tarn/runs/wet-stop/1%2F1", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", "look=paper.comma.length-ft.speed-mph.pressure-none")
	code, body := s.do(r)
	if code != http.StatusOK {
		t.Fatal(code)
	}
	wants(t, "a run in feet", body, "104,66", "<td>ft</td>") // 31.9 m / 0.3048 m (NIST SP 811, B.8)
	r.URL.Path, r.URL.RawPath = "/p/tarn/verdicts", ""
	r.URL.RawQuery = "control=K&open=t1m1"
	if code, body := s.do(r); code != http.StatusOK || !strings.Contains(body, "ft") {
		t.Errorf("verdicts in feet: %d", code)
	}
	code, body = s.post("/look", url.Values{"theme": {"dark"}, "speed": {"mps"}, "length": {"furlong"}, "back": {"/p/tarn/brief"}})
	if code != http.StatusOK {
		t.Errorf("%d %s", code, body)
	}
}
