package web_test

import (
	"context"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"example.org/bookend/app"
	"example.org/bookend/app/testplan"
	"example.org/bookend/clock"
	"example.org/bookend/procedure/all"
	"example.org/bookend/programme"
)

// shod is a programme with the shelf of procedures, and forms to send to its brief.
func shod(t *testing.T) *served {
	s := serve(t, "Wet stops of two van tyres", stops)
	s.folder.Shelf.Procedures = all.Procedures()
	return s
}

func (s *served) programme() programme.Programme {
	s.t.Helper()
	state, err := app.Rebuild(context.Background(), s.folder.Store)
	if err != nil {
		s.t.Fatal(err)
	}
	return state.Programme
}

// Loads and speeds come in the units that stand beside the fields, with comma or point,
// and are in SI in the programme; sent again as shown they are the same.
func TestTheVehicleOnTheBrief(t *testing.T) {
	s := shod(t)
	form := url.Values{"title": {"Wet stops"}, "vehicle": {"panel van"}, "front_axle_kg": {"1100"}, "rear_axle_kg": {"1960,5"}, "top_speed_mps": {"100 mph"}, "twin_rear": {"yes"}}
	if code, body := s.post("/p/tarn/brief", form); code != http.StatusOK || !strings.Contains(body, "top speed 161") || !strings.Contains(body, "twin wheels behind") {
		t.Fatalf("%d %s", code, body)
	}
	asked := s.programme().Asked
	if asked.FrontKg != 1100 || asked.RearKg != 1960.5 || !asked.TwinRear || asked.TopMps < 44.70 || asked.TopMps > 44.71 { // 100 mph are 44.704 m/s by the definition of the mile
		t.Errorf("%+v", asked)
	}
	_, body := s.get("/p/tarn/brief")
	for name := range form {
		if v := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(body); v != nil && name != "twin_rear" {
			form.Set(name, v[1])
		}
	}
	if form.Get("top_speed_mps") != "160.9344" {
		t.Errorf("the top speed is shown as %s", form.Get("top_speed_mps"))
	}
	before := s.programme()
	if code, _ := s.post("/p/tarn/brief", form); code != http.StatusOK || s.programme().Asked != before.Asked {
		t.Errorf("%d: what was shown comes back as %+v", code, s.programme().Asked)
	}
	// What cannot be is said at its field, and everything typed stays.
	for name, bad := range map[string]string{"front_axle_kg": "a <b>lot</b>", "rear_axle_kg": "12 km/h", "top_speed_mps": "-3"} {
		q := url.Values{"title": {"Another title"}, "front_axle_kg": {"900"}, "rear_axle_kg": {"900"}, "top_speed_mps": {"120"}}
		q.Set(name, bad)
		code, body := s.post("/p/tarn/brief", q)
		if code != http.StatusUnprocessableEntity {
			t.Errorf("%s %q is answered %d", name, bad, code)
		}
		wants(t, name, body, `value="Another title"`, `aria-invalid="true"`, `id="words-`+name+`-wrong"`, `aria-describedby="words-`+name+`-wrong `, "cannot be read")
		if strings.Contains(body, "<b>lot") {
			t.Error("what was typed is markup")
		}
	}
	if code, body := s.post("/p/tarn/brief", url.Values{"title": {"T"}, "front_axle_kg": {"20"}, "rear_axle_kg": {""}, "top_speed_mps": {""}}); code != http.StatusUnprocessableEntity || !strings.Contains(body, `id="words-front_axle_kg-wrong"`) {
		t.Errorf("20 kg on an axle are answered %d", code)
	}
	if s.programme().Title != "Wet stops" {
		t.Error("a brief that was refused is kept")
	}
}

// Whoever sees speeds in miles per hour types them so, with a decimal comma if wished.
func TestTheBriefInTheReadersUnits(t *testing.T) {
	s := shod(t)
	send := func(method string, form url.Values) string {
		r, err := http.NewRequest(method, s.url+"/p/tarn/brief", strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.AddCookie(&http.Cookie{Name: "look", Value: "paper.comma.speed-mph"})
		_, body := s.do(r)
		return body
	}
	send("POST", url.Values{"title": {"T"}, "front_axle_kg": {"1010,5"}, "rear_axle_kg": {""}, "top_speed_mps": {"99,5"}})
	if v := s.programme().Asked; v.FrontKg != 1010.5 || v.TopMps < 44.480 || v.TopMps > 44.481 { // 99.5 mph, 0.44704 m/s each by the definition of the mile
		t.Errorf("%+v", v)
	}
	wants(t, "the page", send("GET", nil), "Top speed, mph", `value="99,5"`, `value="1010,5"`, `data-factor="0.44704"`)
}

// Sets are added, changed and taken away; load index and speed symbol are held against the
// vehicle by the server, too; what holds a set is said.
func TestSetsOnTheBrief(t *testing.T) {
	s := shod(t)
	s.post("/p/tarn/brief", url.Values{"title": {"Wet stops"}, "front_axle_kg": {"1100"}, "rear_axle_kg": {"1960"}, "top_speed_mps": {"160"}})
	code, body := s.post("/p/tarn/brief/set", url.Values{"name": {"K1"}, "code": {"K"}, "size": {"205/65r16c 107/105t"}, "note": {"a <i>note</i>"}})
	if code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	}
	// Load index 107 is 975 kg, T is 190 km/h (UN R30, see package tyre).
	wants(t, "the page", body, "205/65 R16C 107/105T", "Load index 107: 975 kg a tyre", "Speed symbol T: up to 190 km/h", "<b>over</b> The rear axle puts 980 kg on a tyre, load index 107 carries 975 kg.",
		"a &lt;i&gt;note&lt;/i&gt;", "It was driven, as stint 1 of test wet-stop", "Set K1: the rear axle puts 980 kg on a tyre, load index 107 carries 975 kg.", `id="tyre-list"`, `"load_kg":[250,257,`)
	for _, c := range []struct {
		name   string
		form   url.Values
		status int
		says   []string
	}{
		{"a maker's word", url.Values{"name": {"Z1"}, "code": {"Z"}, "size": {"205/65 R16C 107/105T Gripmaster"}, "note": {"kept"}}, 422, []string{`id="set-size-wrong"`, "GRIPMASTER", `value="Z1"`, `value="kept"`, `value="205/65 R16C 107/105T Gripmaster"`, "is not understood"}},
		{"no code", url.Values{"name": {"Z1"}, "code": {""}}, 422, []string{`id="set-code-wrong"`}},
		{"a name that is there", url.Values{"name": {"K1"}, "code": {"Z"}}, 409, []string{`id="set-name-wrong"`, "There is a set K1 already"}},
		{"another code for a driven set", url.Values{"was": {"K1"}, "name": {"K1"}, "code": {"Z"}, "size": {"205/65 R16C 107/105T"}}, 409, []string{"keeps its name and code", "It was driven"}},
		{"a driven set taken away", url.Values{"was": {"K1"}, "do": {"away"}}, 409, []string{"Set K1 stays"}},
		{"a set that is not there", url.Values{"was": {"none"}, "name": {"none"}, "code": {"Z"}}, 404, []string{"There is no set"}},
		{"controls", url.Values{"name": {"Z\x001"}, "code": {"Z"}}, 422, []string{"cannot be printed"}},
		{"far too long", url.Values{"name": {strings.Repeat("Z", 5000)}, "code": {"Z"}, "size": {strings.Repeat("9", 5000)}}, 422, []string{`id="set-name-wrong"`}},
	} {
		code, body := s.post("/p/tarn/brief/set", c.form)
		if code != c.status {
			t.Errorf("%s is answered %d", c.name, code)
		}
		wants(t, c.name, body, c.says...)
		wants(t, c.name, body, "data-unsent")
		if n := len(s.programme().Sets); n != 1 {
			t.Errorf("%s: %d sets are kept", c.name, n)
		}
	}
	if code, body := s.get("/p/tarn/brief/set"); code != http.StatusOK || !strings.Contains(body, "What is compared") || strings.Contains(body, "data-unsent") {
		t.Errorf("the address of the form, loaded again, is answered %d", code)
	}
	_, form := s.get("/p/tarn/brief?set=K1")
	wants(t, "the form of a driven set", form, "Change set K1", "Its name and code stay as they are", "readonly", "It stays: it was driven", `<b>within</b> The front axle puts 550 kg on a tyre`)
	if strings.Contains(form, `value="away"`) {
		t.Error("a driven set can be taken away")
	}
	if code, _ := s.post("/p/tarn/brief/set", url.Values{"was": {"K1"}, "size": {"205/65 R16C 109/107T"}, "note": {""}}); code != 200 || s.programme().Sets[0] != (programme.Set{ID: "K1", Code: "K", Size: "205/65 R16C 109/107T"}) {
		t.Errorf("%d %+v", code, s.programme().Sets)
	}
	s.post("/p/tarn/brief/set", url.Values{"name": {"Z1"}, "code": {"Z"}})
	if _, form = s.get("/p/tarn/brief?set=Z1"); !strings.Contains(form, "Take set Z1 away") {
		t.Error("a set that nobody drove cannot be taken away")
	}
	if code, _ := s.post("/p/tarn/brief/set", url.Values{"was": {"Z1"}, "do": {"away"}}); code != 200 || len(s.programme().Sets) != 1 {
		t.Errorf("%d %+v", code, s.programme().Sets)
	}
}

// Where codes are sealed, their letters are the only ones; nothing of who is who is on the page.
func TestSealedCodesOnTheBrief(t *testing.T) {
	s := shod(t)
	e := programme.Entry{ID: "00000000-0000-7000-8000-000000000001", Kind: app.KindSealed, Version: 1, Body: []byte(`{"codes":["A","C"],"sha256":"5ec2e7"}`), Author: "lead", Device: "key", Counter: 1,
		DeviceTime: clock.Instant{UnixNS: 1, Clock: clock.Device}}
	if _, _, err := s.folder.Store.Put(context.Background(), e); err != nil {
		t.Fatal(err)
	}
	_, body := s.get("/p/tarn/brief")
	wants(t, "the form", body, `<select id="set-code" name="code" required`, `<option value="A">A</option><option value="C">C</option>`)
	if code, body := s.post("/p/tarn/brief/set", url.Values{"name": {"Z1"}, "code": {"Z"}}); code != http.StatusConflict || !strings.Contains(body, "none of the sealed codes") {
		t.Errorf("an unsealed code is answered %d", code)
	}
	_, body = s.post("/p/tarn/brief/set", url.Values{"name": {"A1"}, "code": {"A"}})
	if strings.Contains(body, "5ec2e7") || len(s.programme().Sets) != 1 {
		t.Errorf("%+v", s.programme().Sets)
	}
}

// A test is begun with its procedure's settings, in the units that stand beside them.
func TestTestsOnTheBrief(t *testing.T) {
	s := shod(t)
	_, body := s.get("/p/tarn/brief?procedure=braking")
	wants(t, "the form", body, "Begin a test: straight-line braking", `name="p-from_speed" value="80"`, "Upper speed of the window, km/h", `<option value="speeds" selected>`)
	form := url.Values{"test": {"dry-stop"}, "procedure": {"braking"}, "title": {"Dry stops"}, "surface": {"asphalt"}, "p-window": {"speeds"}, "p-from_speed": {"100"}, "p-to_speed": {"10,5"}, "gates": {""}, "first": {"mfdd"}}
	code, body := s.post("/p/tarn/brief/test", form)
	if code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	}
	wants(t, "the page", body, "Dry stops", "Upper speed of the window 100", "Lower speed of the window 10.5", "asphalt")
	state, err := app.Rebuild(context.Background(), s.folder.Store)
	if err != nil {
		t.Fatal(err)
	}
	x, err := state.Test("dry-stop")
	if v := x.Test.Parameters.Number("from_speed"); err != nil || v < 27.777 || v > 27.778 || x.Test.First != "mfdd" {
		t.Errorf("%v: %+v", err, x)
	}
	for _, c := range []struct {
		name, field, value string
		status             int
		says               string
	}{
		{"too fast", "p-from_speed", "5000", 422, `id="test-p-from_speed-wrong"`}, {"no number", "p-from_speed", "<fast>", 422, `id="test-p-from_speed-wrong"`},
		{"below the lower one", "p-from_speed", "5", 422, `id="test-p-from_speed-wrong"`}, {"no choice", "p-window", "none", 422, `id="test-p-window-wrong"`}, {"no gate", "gates", "here, there", 422, `id="test-gates-wrong"`},
		{"no name", "test", "", 422, "No test is named"}, {"no procedure", "procedure", "none", 404, "none"},
	} {
		q := url.Values{}
		for k, v := range form {
			q[k] = v
		}
		q.Set(c.field, c.value)
		code, body := s.post("/p/tarn/brief/test", q)
		if code != c.status {
			t.Errorf("%s is answered %d", c.name, code)
		}
		wants(t, c.name, body, c.says)
		if c.field != "procedure" {
			wants(t, c.name, body, `value="Dry stops"`)
		}
	}
	// Settings change while nothing is brought in; afterwards they are held, and say why.
	form.Set("p-from_speed", "90")
	if code, body := s.post("/p/tarn/brief/test", form); code != http.StatusOK || !strings.Contains(body, "Upper speed of the window 90") {
		t.Errorf("%d", code)
	}
	_, body = s.get("/p/tarn/brief?test=wet-stop")
	wants(t, "a test that is under way", body, "Its procedure, gates and settings stay as they are: a table of it was brought in")
	if strings.Contains(body, "Another procedure for") {
		t.Error("another procedure is offered to a test that keeps its own")
	}
	if code, _ := s.post("/p/tarn/brief/test", url.Values{"test": {"wet-stop"}, "procedure": {"braking"}}); code != http.StatusConflict {
		t.Errorf("setting it up otherwise is answered %d", code)
	}
	if code, body := s.post("/p/tarn/brief/test", url.Values{"test": {"wet-stop"}, "title": {"Stops in the wet"}}); code != http.StatusOK || !strings.Contains(body, "Stops in the wet") {
		t.Errorf("its title is answered %d", code)
	}
	if code, _ := s.get("/p/tarn/brief?procedure=none"); code != http.StatusNotFound {
		t.Errorf("a procedure that is not there is answered %d", code)
	}
}

// A plan is typed, looked through and frozen as the command line freezes it; amending needs a
// reason; what the form does not have stays as it was frozen.
func TestThePlanOnTheBrief(t *testing.T) {
	s := shod(t)
	state := func() *app.State {
		t.Helper()
		x, err := app.Rebuild(context.Background(), s.folder.Store)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	_, body := s.get("/p/tarn/brief")
	wants(t, "the page", body, "No plan is frozen", `name="control" value="K"`, `name="t0" value="wet-stop"`, `name="t0-margin"`)
	form := url.Values{"title": {"Wet stops"}, "control": {"K"}, "t0": {"wet-stop"}, "t0-in": {"yes"}, "t0-first": {"value"}, "t0-margin": {"2,5"}, "t0-better": {"lower"}, "t0-drift": {"linear"}, "t0-stints": {"7"},
		"t0-weights": {"grip=3, comfort=1"}, "t0-rules": {"traffic = another vehicle within 100 m"}, "t0-b-r117-02-c1-vehicle": {"yes"}, "t0-l0-field": {"cv"}, "t0-l0-high": {"3,5"}, "t0-l0-of": {"candidate"}, "do": {"freeze"}}
	n := state().Entries
	code, body := s.post("/p/tarn/brief/plan", form) // freezing what was not looked through shows it
	if code != http.StatusOK || state().Entries != n {
		t.Fatalf("%d, %d entries", code, state().Entries-n)
	}
	wants(t, "what is looked through", body, "The plan as it would be frozen", "2.5", "linear", "grip 75 %", "comfort 25 %", "traffic: another vehicle within 100 m", "cv of candidate to 3.5 %", "r117-02-c1-vehicle", "Freeze this plan", `value="2,5"`)
	sum := regexp.MustCompile(`name="looked" value="([0-9a-f]{64})"`).FindStringSubmatch(body)
	if sum == nil {
		t.Fatal("the plan that was looked through has no hash")
	}
	form.Set("looked", sum[1])
	form.Set("t0-margin", "3")
	if code, body = s.post("/p/tarn/brief/plan", form); code != http.StatusOK || state().Entries != n || !strings.Contains(body, "as it would be frozen") {
		t.Errorf("another plan than the one looked through is frozen: %d", code)
	}
	form.Set("t0-margin", "2,5")
	if code, body = s.post("/p/tarn/brief/plan", form); code != http.StatusOK || len(state().Plans) != 1 || state().Plans[0].SHA256 != sum[1] {
		t.Fatalf("%d %+v", code, state().Plans)
	}
	wants(t, "the page", body, "The plan is frozen: what follows stands", "Amend the frozen plan", sum[1])
	// The same plan as a file of the command line has the same hash: one use case, one meaning.
	p, err := testplan.Read("plan.json", []byte(`{"schema":"bookend.plan/1","title":"Wet stops","control":"K","tests":[{"test":"wet-stop","first":"value","margin":"2.5","better":"lower","drift":"linear","stints":7,"weights":{"grip":3,"comfort":1},
		"beside":["r117-02-c1-vehicle"],"limits":{"id":"own","version":0,"title":"The evaluator’s own limits","source":{"key":""},"limits":[{"field":"cv","high":3.5,"per":"","of":"candidate","unit":"%","source":{"key":""},"stands":""}]},
		"exclusions":[{"id":"traffic","text":"another vehicle within 100 m"}]}]}`))
	if err != nil {
		t.Fatal(err)
	}
	if h, err := p.Hash(); err != nil || h != sum[1] {
		t.Errorf("by file the plan is %s: %v", h, err)
	}
	for _, c := range []struct{ name, field, value, says string }{
		{"no margin", "t0-margin", "much", `id="plan-form-t0-margin-wrong"`}, {"a margin of nothing", "t0-margin", "-1", `id="plan-form-t0-margin-wrong"`}, {"no first measure", "t0-first", "", `id="plan-form-t0-first-wrong"`},
		{"no weight", "t0-weights", "grip", `id="plan-form-t0-weights-wrong"`}, {"a weight of nothing", "t0-weights", "grip=0", `id="plan-form-t0-weights-wrong"`}, {"no rule", "t0-rules", "<script>", `id="plan-form-t0-rules-wrong"`},
		{"a limit on nothing", "t0-l0-field", "", `id="plan-form-t0-l0-field-wrong"`}, {"a limit without a unit", "t0-l0-field", "water", `id="plan-form-t0-l0-field-wrong"`}, {"a limit that is none", "t0-l0-high", "x", `id="plan-form-t0-l0-high-wrong"`},
		{"half a stint", "t0-stints", "2.5", `id="plan-form-t0-stints-wrong"`}, {"no control", "control", "", `id="plan-form-control-wrong"`}, {"no drift", "t0-drift", "sideways", "is no choice"}, {"an edition beside and own", "t0-l0-of", "nobody", "is of"},
	} {
		q := url.Values{"looked": {"x"}, "reason": {"kept <as typed>"}}
		for k, v := range form {
			q[k] = v
		}
		q.Set(c.field, c.value)
		code, body := s.post("/p/tarn/brief/plan", q)
		if code != http.StatusUnprocessableEntity || len(state().Plans) != 1 {
			t.Errorf("%s is answered %d", c.name, code)
		}
		wants(t, c.name, body, c.says, `value="kept &lt;as typed&gt;"`)
		if strings.Contains(body, "<script>\n") || strings.Contains(body, "<as typed>") {
			t.Errorf("%s: what was typed is markup", c.name)
		}
	}
	// An amendment without a reason is refused, with one it is kept.
	form.Set("t0-margin", "1")
	_, body = s.post("/p/tarn/brief/plan", form)
	form.Set("looked", regexp.MustCompile(`name="looked" value="([0-9a-f]{64})"`).FindStringSubmatch(body)[1])
	if code, body = s.post("/p/tarn/brief/plan", form); code != http.StatusConflict || !strings.Contains(body, "A plan is frozen already") {
		t.Errorf("an amendment without a reason is answered %d", code)
	}
	form.Set("reason", "the client asked for it")
	if code, body = s.post("/p/tarn/brief/plan", form); code != http.StatusOK || len(state().Plans) != 2 || !strings.Contains(body, "Amended: the client asked for it") {
		t.Errorf("%d, %d plans", code, len(state().Plans))
	}
}

// What a form does not have (looks, a ceiling) is kept of the frozen plan, and the form as it
// is shown gives the frozen plan again.
func TestTheShownPlanIsTheFrozenOne(t *testing.T) {
	s := shod(t)
	p, err := testplan.Read("plan.json", []byte(`{"schema":"bookend.plan/1","control":"K","tests":[{"first":"value","margin":"2","sided":"two","drift":"bracket","record":"used","stints":7,"looks":[{"stints":3,"spends":0.01}],"confidence":0.9,
		"limits":{"id":"house","version":2,"title":"House rules","source":{"key":"own","clause":"ours"},"limits":[{"field":"water_depth_m","low":0.0005,"per":"run","unit":"m","source":{"key":"own"},"stands":"wet anew"}]}}]}`))
	if err != nil {
		t.Fatal(err)
	}
	sum, _, err := s.folder.FreezePlan(context.Background(), p, "")
	if err != nil {
		t.Fatal(err)
	}
	_, body := s.get("/p/tarn/brief")
	part := body[strings.Index(body, `<details class="opening tools" id="plan-form"`):]
	form := url.Values{"reason": {"none"}}
	for _, m := range regexp.MustCompile(`<input[^>]* name="([^"]+)" value="([^"]*)"( checked)?`).FindAllStringSubmatch(part, -1) {
		if !strings.Contains(m[0], "checkbox") || m[3] != "" {
			form.Set(m[1], m[2])
		}
	}
	for _, m := range regexp.MustCompile(`(?s)<select id="[^"]+" name="([^"]+)".*?</select>`).FindAllStringSubmatch(part, -1) {
		if o := regexp.MustCompile(`<option value="([^"]*)" selected>`).FindStringSubmatch(m[0]); o != nil {
			form.Set(m[1], o[1])
		}
	}
	form.Set("do", "look")
	_, body = s.post("/p/tarn/brief/plan", form)
	if m := regexp.MustCompile(`name="looked" value="([0-9a-f]{64})"`).FindStringSubmatch(body); m == nil || m[1] != sum {
		t.Errorf("%v is shown of %s: %v", m, sum, form)
	}
}

// The limits that the day's entries are answered by are those on the brief: what is changed
// is the evaluator's own, the rest keeps its source.
func TestLimitsOnTheBrief(t *testing.T) {
	s := shod(t)
	limits := func(test string) programme.Profile {
		t.Helper()
		p, err := s.folder.LimitsOf(context.Background(), test)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	_, body := s.get("/p/tarn/brief")
	wants(t, "the page", body, "What people at a track commonly stop for", "at most 5\u00a0m/s", "-0.5 to 0.5\u00a0mm", "common practice, no source")
	shown := func(body string) url.Values {
		part := body[strings.Index(body, `id="limits-form"`):]
		form := url.Values{}
		for _, m := range regexp.MustCompile(`<input[^>]* name="([^"]+)" value="([^"]*)"`).FindAllStringSubmatch(part, -1) {
			form.Set(m[1], strings.ReplaceAll(m[2], "&#43;", "+"))
		}
		return form
	}
	form := shown(body)
	before := limits("")
	if code, _ := s.post("/p/tarn/brief/limits", form); code != http.StatusOK || limits("").ID != before.ID {
		t.Errorf("what is shown changes something: %d %+v", code, limits(""))
	}
	form.Set("l0-high", "6,5")
	form.Set("n0-field", "water_depth_m")
	form.Set("n0-low", "0.5")
	form.Set("n0-stands", "wet <again>")
	code, body := s.post("/p/tarn/brief/limits", form)
	p := limits("wet-stop") // it has none of its own
	if code != http.StatusOK || p.ID != "own" || len(p.Limits) != len(before.Limits)+1 || *p.Limits[0].High != 6.5 || p.Limits[0].Source.Key != programme.Own || p.Limits[1].Source != before.Limits[1].Source {
		t.Fatalf("%d %+v", code, p)
	}
	if l := p.Limits[len(p.Limits)-1]; l.Unit != "m" || *l.Low != 0.0005 || l.High != nil || l.Stands != "wet <again>" { // 0.5 mm
		t.Errorf("%+v", l)
	}
	wants(t, "the page", body, "at least 0.5\u00a0mm", "wet &lt;again&gt;")
	// One test has its own, by an edition; a row without bounds goes.
	_, body = s.get("/p/tarn/brief?limits=test%3Awet-stop")
	form = shown(body)
	form.Set("follow", "r117-02-c1-vehicle")
	if code, _ := s.post("/p/tarn/brief/limits", form); code != http.StatusOK || limits("wet-stop").ID != "r117-02-c1-vehicle" || limits("").ID != "own" {
		t.Errorf("%d %s", code, limits("wet-stop").ID)
	}
	_, body = s.get("/p/tarn/brief")
	form = shown(body)
	form.Set("l0-high", "")
	if code, _ := s.post("/p/tarn/brief/limits", form); code != http.StatusOK || len(limits("").Limits) != len(before.Limits) {
		t.Errorf("%d %+v", code, limits(""))
	}
	n := limits("").Version
	_, body = s.get("/p/tarn/brief")
	for _, c := range []struct {
		field, value string
		status       int
		says         string
	}{
		{"l0-high", "<warm>", 422, `id="limits-form-l0-high-wrong"`}, {"n0-low", "1", 422, `id="limits-form-n0-field-wrong"`}, {"n0-field", "colour", 422, "is nothing that the run log has"}, {"n0-field", "wind_mps", 422, "has no bound"},
		{"l0", "other", 409, "changed meanwhile"}, {"scope", "test:none", 404, "There is no test"}, {"follow", "none", 404, "no profile"},
	} {
		form := shown(body)
		form.Set(c.field, c.value)
		code, body := s.post("/p/tarn/brief/limits", form)
		if code != c.status || limits("").Version != n {
			t.Errorf("%s %q is answered %d", c.field, c.value, code)
		}
		wants(t, c.field, body, c.says)
	}
}

// Whoever may not know what is driven neither sees the brief nor changes it, by any of its forms.
func TestTheBriefIsNotForEverybody(t *testing.T) {
	h := behindDoor(t, crew)
	before, err := h.folder.Store.Entries(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, who := range []string{"driver", "fitter", "client"} {
		s := h.as(who)
		for _, path := range []string{"/p/tarn/brief", "/p/tarn/brief?set=K1", "/p/tarn/brief?procedure=braking", "/p/tarn/brief?limits=every-test"} {
			if status, body := s.get(path); status != http.StatusForbidden || strings.Contains(body, "tyre-list") {
				t.Errorf("%s sees %s: %d", who, path, status)
			}
		}
		for path, form := range map[string]url.Values{"": {"title": {"x"}}, "/set": {"name": {"X1"}, "code": {"X"}}, "/test": {"test": {"x"}, "procedure": {"typed"}}, "/plan": {"control": {"K"}}, "/limits": {"scope": {"every-test"}, "follow": {"r117-02-c1-vehicle"}}} {
			if status, _ := s.post("/p/tarn/brief"+path, form); status != http.StatusForbidden {
				t.Errorf("%s changes the brief by %s: %d", who, path, status)
			}
		}
	}
	after, err := h.folder.Store.Entries(context.Background(), 0)
	if err != nil || len(after) != len(before) {
		t.Errorf("%d entries were made: %v", len(after)-len(before), err)
	}
	if status, _ := h.as("engineer").post("/p/tarn/brief/set", url.Values{"name": {"X1"}, "code": {"X"}}); status != http.StatusOK {
		t.Errorf("an engineer adds a set: %d", status)
	}
}
