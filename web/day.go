package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/app"
	"example.org/bookend/app/day"
	"example.org/bookend/app/sight"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/report"
	"example.org/bookend/unit"
)

// dayPage is the body of the page at the track.
type dayPage struct {
	Home   string
	Test   string
	Tests  []string
	Stints []dayStint
	Now    *dayStint
	Coming []string // codes still to be driven, by the order that was taken
	Filed  []string // codes of a test that is kept in tables, not in the run log, as they were driven
	Next   int      // number of the run that comes next
	Open   []dayIncident
	First  dayForm   // the run
	Forms  []dayForm // everything else
	Runs   []dayRun
	Lately []dayEntry
	Amend  *dayForm // an entry to be corrected, where the address names one
	Clash  []dayClash
	Notes  []string
	Script dayScript
	Author string
}

type dayStint struct {
	Number, Code, Set, Driver, When string
	Runs                            int
	Current                         bool
	Broken                          bool
}

type dayRun struct{ ID, Run, When, Entry, Remark, Held string }

type dayIncident struct {
	ID, Title, Text, When string
	Held                  []string
	Release               dayForm
}

type dayEntry struct {
	Title, Says, When, Who, Device string
	ID                             string
	Voice, Picture                 string // addresses
	Back                           string // where it is taken back; empty for those who may not
	Kind, Body                     string // of those who may correct it
	Was                            string // what the entry said in whose place it stands
	Counts                         bool   // of entries that clash
}

// dayForm is the form of one kind of entry.
type dayForm struct {
	Kind, Title, About string
	Version            int
	Fields             []dayField
	Do                 string // what its button says
	Voices             bool   // a voice may go with it
	To                 string // where it goes without a script
}

// dayField is one field of a form, with what the page knows already.
type dayField struct {
	runlog.Field
	ID, Value string
	Symbol    string   // unit that people type in
	Factor    float64  // from that unit to the one that is kept
	Kept      string   // filled in and hidden
	Known     []string // what is usually written; anything else may be
}

// dayScript is what the page's script needs: nothing that the page does not
// show.
type dayScript struct {
	Home   string                     `json:"programme"`
	Test   string                     `json:"test"`
	Stint  string                     `json:"stint"`
	Next   int                        `json:"next"`
	Coming []string                   `json:"coming"`
	Author string                     `json:"author"`
	Limits programme.Profile          `json:"limits"`
	Titles map[string]string          `json:"words"`
	Scales map[string]attribute.Scale `json:"scales"` // of ratings, by attribute
}

// hidden fields of a form are filled by where the page stands.
var dayHidden = []string{"test", "at", "voice", "picture", "from", "to", "incident"}

// dayAt shows the run log of a test: what is on the vehicle, what comes next, and
// a form for everything that may happen.
func (f *face) dayAt(w http.ResponseWriter, r *http.Request) error {
	p, s, guest, err := f.atTrack(r)
	if err != nil {
		return err
	}
	v := s.state.Day
	all := sight.May(guest.Role, sight.SetRecords, false) // nothing is hidden of the run log
	zone, err := s.zone()
	if err != nil {
		return err
	}
	clock := func(ns int64) string { return time.Unix(0, ns).In(zone).Format("15:04") }
	body := dayPage{Home: p.base(), Tests: v.Tests(), Test: r.URL.Query().Get("test"), Author: p.Folder.Author}
	for _, t := range s.state.Tests {
		if !slices.Contains(body.Tests, t.Test.ID) {
			body.Tests = append(body.Tests, t.Test.ID)
		}
	}
	if body.Test == "" && len(v.Stints) > 0 {
		latest := v.Stints[0]
		for _, st := range v.Stints {
			if st.When > latest.When {
				latest = st
			}
		}
		body.Test = latest.Test
	}
	if body.Test == "" && len(body.Tests) > 0 {
		body.Test = body.Tests[len(body.Tests)-1]
	}
	var now *day.Stint
	for _, st := range v.Of(body.Test) {
		d := dayStint{Number: st.Stint, Code: st.Code, Driver: st.Driver, When: clock(st.When), Runs: len(st.Runs), Broken: st.Broken()}
		if all {
			d.Set = st.Set
		}
		body.Stints = append(body.Stints, d)
		now = st
	}
	body.Next = 1
	if now != nil {
		last := &body.Stints[len(body.Stints)-1]
		last.Current = true
		body.Now = last
		for _, run := range slices.Backward(now.Runs) {
			row := dayRun{ID: run.Entry.ID, Run: run.Run, When: clock(run.When), Held: strings.Join(run.HeldBy, ", ")}
			mine := all || run.Entry.Author == guest.Name
			if mine {
				row.Remark = run.Remark
			}
			if run.EntrySpeed != nil && mine {
				row.Entry = unit.Number(*run.EntrySpeed*3.6, 1, unit.Style{Comma: lookOf(r).Comma})
			}
			body.Runs = append(body.Runs, row)
			if n, err := strconv.Atoi(run.Run); err == nil && n >= body.Next {
				body.Next = n + 1
			}
		}
	}
	if all {
		body.Coming = s.state.Coming(body.Test)
	}
	if d, err := s.test(body.Test); err == nil && all && len(body.Stints) == 0 {
		for _, st := range d.Log.AsDriven() {
			body.Filed = append(body.Filed, st.Code)
		}
	}
	filled := map[string]string{"test": body.Test, "run": strconv.Itoa(body.Next), "rater": p.Folder.Author, "person": p.Folder.Author}
	if now != nil {
		filled["stint"] = now.Stint
		if all {
			filled["set"] = now.Set
		}
	}
	for _, i := range v.Open() {
		form := f.form(p, runlog.Release, filled)
		form.set("incident", i.Entry.ID)
		o := dayIncident{ID: i.Entry.ID, Title: i.Title(), When: clock(i.When), Held: i.Held, Release: form}
		if all || i.Entry.Author == guest.Name {
			o.Text = i.Text
		}
		body.Open = append(body.Open, o)
	}
	for _, k := range runlog.Kinds() {
		if !all && !slices.Contains(dayOfDrivers, k.ID) {
			continue
		}
		switch k.ID {
		case runlog.Run:
			body.First = f.form(p, k.ID, filled)
		case runlog.Release: // stands at its incident
		case runlog.Stint:
			next := map[string]string{"test": body.Test, "stint": strconv.Itoa(len(body.Stints) + 1)}
			if len(body.Coming) > 0 {
				next["code"] = body.Coming[0]
			}
			body.Forms = append(body.Forms, f.form(p, k.ID, next))
		default:
			body.Forms = append(body.Forms, f.form(p, k.ID, filled))
		}
	}
	seen, err := sight.RunLogOf(guest.Role, guest.Name, v)
	if err != nil {
		return err
	}
	whole, err := before(r.Context(), p, v)
	if err != nil {
		return err
	}
	if id := r.URL.Query().Get("correct"); id != "" {
		e, err := s.correctable(guest, id)
		if err != nil {
			return err
		}
		form, err := f.correction(p, e)
		if err != nil {
			return err
		}
		body.Amend = &form
	}
	for i := len(seen) - 1; i >= 0 && len(body.Lately) < 30; i-- {
		e := seen[i]
		k, _ := runlog.KindOf(e.Kind)
		says := app.Summary(programme.Entry{ID: e.ID, Kind: e.Kind, Version: e.Version, Body: e.Body})
		has := attachedTo(e.Body)
		d := dayEntry{Title: k.Title, Says: says, When: clock(e.WhenNS), Who: e.Author, Device: e.Device, ID: e.ID, Voice: p.blobTo(has.Voice), Picture: p.blobTo(has.Picture)}
		if mayTakeBack(guest, e.Author) {
			d.Back = p.base() + "/day/back/" + e.ID
		}
		if mayCorrect(guest, e, v) {
			d.Kind, d.Body = e.Kind, string(e.Body)
			if was, ok := whole[whole[e.ID].Supersedes]; ok {
				d.Was = app.Summary(was)
			}
		}
		body.Lately = append(body.Lately, d)
	}
	if !all {
		v = &day.View{} // what does not fit together may say what is not to be seen
	}
	body.Clash = clashes(p, v, whole, zone)
	for _, g := range s.state.Gaps {
		if !all {
			break
		}
		body.Notes = append(body.Notes, g.String()+".")
	}
	for _, c := range caveat.List(v.Caveats) {
		if c.Code == "entries_clash" {
			continue // both sides stand above
		}
		body.Notes = append(body.Notes, c.Text)
	}
	titles := map[string]string{}
	for _, k := range runlog.Kinds() {
		titles[k.ID] = k.Title
	}
	if !all {
		body.First.without("set", "use_m")
		for i := range body.Forms {
			body.Forms[i].without("set", "use_m")
		}
	}
	body.Script = dayScript{Home: body.Home, Test: body.Test, Next: body.Next, Coming: body.Coming, Author: body.Author, Limits: s.state.Limits(body.Test), Titles: titles, Scales: attribute.Scales()}
	if now != nil {
		body.Script.Stint = now.Stint
	}
	h := frame{Body: body, Class: "day", Title: dayTitle(body)}
	f.around(&h, p, s, "Day")
	h.Stands, h.Waits, h.Live = nil, nil, ""
	h.Scripts, h.Manifest = []string{"day.js"}, p.base()+"/day/manifest.json"
	codes := s.palette()
	if !sight.May(guest.Role, sight.Control, false) {
		codes = &figure.Codes{Candidates: s.codes()} // a blind control is one more candidate
	}
	return f.hand(w, r, http.StatusOK, "day", h, codes)
}

// dayOfDrivers are the kinds of entry that whoever drives and rates makes.
var dayOfDrivers = []string{runlog.Cautions, runlog.Stint, runlog.Run, runlog.Conditions, runlog.Wetting, runlog.Depth, runlog.BrakeTemperature,
	runlog.Fuel, runlog.Remark, runlog.Rating, runlog.SheetClosed, runlog.Incident}

// dayTitle says what is to be done now.
func dayTitle(b dayPage) report.Text {
	switch {
	case len(b.Open) > 0:
		return say("Runs are held: ", b.Open[0].Title)
	case b.Now != nil:
		return say(code(b.Now.Code), " is on the vehicle: run ", strconv.Itoa(b.Next), " comes next")
	case len(b.Coming) > 0:
		return say(code(b.Coming[0]), " is fitted first for ", b.Test)
	case len(b.Filed) > 0:
		return say(b.Test, " came in as a table of ", unit.Count(len(b.Filed), "stint"))
	case b.Test != "":
		return say("Nothing is on the vehicle yet for ", b.Test)
	}
	return say("The day begins with its first stint")
}

// form makes the form of a kind, with what is known filled in.
func (f *face) form(p Programme, kind string, filled map[string]string) dayForm {
	k, _ := runlog.KindOf(kind)
	form := dayForm{Kind: k.ID, Title: k.Title, About: k.About, Version: k.Version, Do: "Enter " + k.Title, Voices: true, To: p.base() + "/day/entries/" + k.ID}
	for _, x := range k.Fields {
		d := dayField{Field: x, ID: k.ID + "-" + x.Key, Value: filled[x.Key], Symbol: x.Unit, Factor: 1}
		if x.Shown != "" {
			from, to := unit.MustParse(x.Shown), unit.MustParse(x.Unit)
			if v, err := unit.Convert(1, from, to); err == nil {
				d.Symbol, d.Factor = from.Symbol(), v
			}
		}
		if kind == runlog.Rating && x.Key == "attribute" {
			for _, a := range attribute.All() {
				d.Known = append(d.Known, a.Name)
			}
		}
		if slices.Contains(dayHidden, x.Key) {
			d.Kept = d.Value
			if d.Value == "" {
				d.Kept = "-"
			}
			if x.Key == "test" && d.Value == "" {
				d.Kept = ""
			}
		}
		form.Fields = append(form.Fields, d)
	}
	return form
}

// without takes fields out of a form.
func (d *dayForm) without(keys ...string) {
	d.Fields = slices.DeleteFunc(d.Fields, func(x dayField) bool { return slices.Contains(keys, x.Key) })
}

// set fills a hidden field.
func (d *dayForm) set(key, value string) {
	for i := range d.Fields {
		if d.Fields[i].Key == key {
			d.Fields[i].Value, d.Fields[i].Kept = value, value
		}
	}
}

// enter keeps an entry typed into a page without a script, and goes back to the
// day. What the limits say is shown there.
func (f *face) enter(w http.ResponseWriter, r *http.Request) error {
	p, _, err := f.opened(r)
	if err != nil {
		return err
	}
	k, ok := runlog.KindOf(r.PathValue("kind"))
	if !ok {
		return fault.New(fault.NotFound, "there is no kind of entry %q", r.PathValue("kind"))
	}
	if err := readForm(r); err != nil {
		return err
	}
	body := map[string]any{}
	for _, x := range k.Fields {
		v, err := fromForm(x, strings.TrimSpace(r.PostForm.Get(x.Key)))
		if err != nil {
			return err
		}
		if v != nil {
			body[x.Key] = v
		}
	}
	if _, err := p.Folder.Log(r.Context(), k.ID, body); err != nil {
		return err
	}
	test, _ := body["test"].(string)
	http.Redirect(w, r, p.base()+"/day?test="+url.QueryEscape(test), http.StatusSeeOther)
	return nil
}

// take keeps one entry of a device's outbox. The device keeps it, too, until it
// is answered: 200 with the receipt, 409 where other bytes stand under its id, 422
// where it is malformed. The same bytes again are answered as the first time.
func (f *face) take(w http.ResponseWriter, r *http.Request) {
	answer := func(status int, receipt app.Receipt) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_ = json.NewEncoder(w).Encode(receipt) // whoever asked may be gone
	}
	refuse := func(err error) {
		code := fault.CodeOf(err)
		answer(statuses[code], app.Receipt{ID: r.PathValue("id"), Code: code, Text: err.Error(), Hint: fault.HintOf(err)})
	}
	guest, err := f.who(r, sight.RunLog)
	if err != nil {
		answer(refused(err), app.Receipt{ID: r.PathValue("id"), Code: fault.Invalid, Text: err.Error()})
		return
	}
	p, err := f.find(r.Context(), r.PathValue("programme"))
	if err != nil {
		refuse(err)
		return
	}
	b, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostForm))
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		answer(http.StatusRequestEntityTooLarge, app.Receipt{ID: r.PathValue("id"), Code: fault.Invalid, Text: "an entry has at most 1 MiB"})
		return
	}
	if err != nil {
		refuse(fault.New(fault.Invalid, "reading the entry: %w", err))
		return
	}
	var e programme.Entry
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		refuse(fault.New(fault.Invalid, "this is no entry: %w", err))
		return
	}
	if e.ID != r.PathValue("id") {
		refuse(fault.New(fault.Invalid, "the address names entry %s, the entry itself %s", r.PathValue("id"), e.ID))
		return
	}
	if f.doors.door != nil && e.Author != guest.Name && guest.Role != sight.Lead {
		answer(http.StatusForbidden, app.Receipt{ID: e.ID, Code: fault.Invalid, Text: "this was entered by " + e.Author + ", and you are " + guest.Name, Hint: "it stays on the tablet until " + e.Author + " signs in there"})
		return
	}
	if e.Supersedes != "" && !writes(guest.Role) {
		all, err := p.Folder.Store.Entries(r.Context(), 0)
		if err != nil {
			refuse(err)
			return
		}
		if slices.ContainsFunc(all, func(old programme.Entry) bool { return old.ID == e.Supersedes && !mayTakeBack(guest, old.Author) }) {
			answer(http.StatusUnprocessableEntity, app.Receipt{ID: e.ID, Code: fault.Invalid, Text: "your role may not take back or correct what others entered", Hint: "whoever leads the programme may"})
			return
		}
	}
	got, err := p.Folder.Append(r.Context(), []programme.Entry{e})
	if err != nil && len(got) == 0 {
		refuse(err)
		return
	}
	status := http.StatusOK
	if !got[0].Kept {
		status = statuses[got[0].Code]
	}
	answer(status, got[0])
}

// manifest lets a tablet install the day's page.
func (f *face) manifest(w http.ResponseWriter, r *http.Request) {
	p, err := f.find(r.Context(), r.PathValue("programme"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/manifest+json")
	_ = json.NewEncoder(w).Encode(map[string]any{ // whoever asked may be gone
		"name": "bookend, the day of " + p.Name, "short_name": "bookend", "start_url": p.base() + "/day", "scope": p.base() + "/day",
		"display": "standalone", "background_color": "#ffffff", "theme_color": "#000000",
		"icons": []map[string]string{{"src": "/static/" + f.sheets.sum + "/posts.svg", "sizes": "any", "type": "image/svg+xml"}},
	})
}

// worker is the script that answers for the day's page without a network. Its
// address is at the top, since it may answer for nothing above itself.
func (f *face) worker(w http.ResponseWriter, r *http.Request) {
	file := f.sheets.files["worker.js"]
	w.Header().Set("Content-Type", file.kind)
	w.Header().Set("Cache-Control", "no-cache")
	fmt.Fprintf(w, "const sheets = %q;\n", "/static/"+f.sheets.sum+"/")
	_, _ = w.Write(file.plain) // whoever asked may be gone
}
