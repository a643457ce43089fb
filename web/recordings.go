package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/sight"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// recorded is the body of the recordings' page.
type recorded struct {
	Tests []recordedTest
}

type recordedTest struct {
	Title string
	Rows  []recordedRow
}

type recordedRow struct {
	Name, To    string
	Codes       []string
	Runs, Count int
	Left        int
	Doubt       string // empty: matched and sound
	Size        string
}

// recordings lists what came off the loggers, and whose runs it holds.
func (f *face) recordings(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	c := s.counts()
	v := frame{}
	f.around(&v, p, s, "Recordings")
	var body recorded
	for _, t := range s.state.Tests {
		rt := recordedTest{Title: t.Test.Title}
		for i, rec := range s.state.Recordings {
			if rec.Test != t.Test.ID {
				continue
			}
			row := recordedRow{Name: rec.Name, To: v.Home + "/recordings/" + escape(t.Test.ID) + "/" + strconv.Itoa(i+1), Size: size(rec.Size)}
			d, err := s.test(t.Test.ID)
			if err != nil {
				row.Doubt = form.Sentence(err.Error())
				rt.Rows = append(rt.Rows, row)
				continue
			}
			runs := runsIn(d, rec)
			row.Runs = len(runs)
			for _, id := range runs {
				for _, run := range d.Log.Runs {
					if run.ID != id {
						continue
					}
					for _, st := range d.Log.Stints {
						if st.ID == run.Stint && !slices.Contains(row.Codes, st.Code) {
							row.Codes = append(row.Codes, st.Code)
						}
					}
				}
				for _, x := range d.Log.Exclusions {
					if x.Run == id {
						row.Left++
					}
				}
			}
			for _, k := range d.Log.Caveats {
				if k.Place.File == rec.Name {
					row.Doubt = k.Text
				}
			}
			rt.Rows = append(rt.Rows, row)
		}
		if len(rt.Rows) > 0 {
			body.Tests = append(body.Tests, rt)
		}
	}
	switch {
	case c.recordings == 0:
		v.Title, v.Below = say("No recording has been brought in yet"), say("bookend import FILES... --test NAME --procedure NAME brings them in; nothing on the card is altered.")
	case c.matched == c.recordings:
		v.Title = say(fmt.Sprintf("All %d recordings are matched to the run log", c.recordings))
	default:
		v.Title = say(fmt.Sprintf("%d of %d recordings are matched to the run log", c.matched, c.recordings))
	}
	v.Body = body
	return f.hand(w, r, http.StatusOK, "recordings", v, s.palette())
}

// runsIn gives the runs of the log that a recording holds, in the order driven.
func runsIn(d *app.Driven, rec app.RecordingEntry) []string {
	var out []string
	for _, p := range piecesOf(d, rec) {
		if p.LogRun != "" {
			out = append(out, p.LogRun)
		}
	}
	return out
}

// piecesOf gives the pieces of a recording that may be runs, with whose each is.
func piecesOf(d *app.Driven, rec app.RecordingEntry) []app.RecordedPiece {
	for _, r := range d.Recorded {
		if r.Recording.SHA256 == rec.SHA256 && r.Recording.Name == rec.Name {
			return r.Pieces
		}
	}
	return nil
}

// assigned is what a person may say, and has said, of whose a recording is.
type assigned struct {
	To     string // address that takes it
	Stints []assignedStint
	Said   *app.AssignedEntry // nil: nobody said anything
}

type assignedStint struct {
	ID, Code string
	Now      bool // it is of this stint now
}

// assign says of which stints a recording is. The reason is kept before anybody sees
// what that does to the verdicts.
func (f *face) assign(w http.ResponseWriter, r *http.Request) error {
	p, _, entry, err := f.written(r, "say whose a recording is")
	if err != nil {
		return err
	}
	if err := readForm(r); err != nil {
		return err
	}
	switch stint := r.PostForm.Get("stint"); stint {
	case "":
		return fault.New(fault.Invalid, "it is not said of which stint the recording is").WithHint("choose one, or that it is of none")
	case "-": // of none
		err = p.Folder.Assign(r.Context(), entry.Test, entry.SHA256, nil, r.PostForm.Get("reason"))
	default:
		err = p.Folder.Assign(r.Context(), entry.Test, entry.SHA256, []string{stint}, r.PostForm.Get("reason"))
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, p.base()+"/recordings/"+escape(entry.Test)+"/"+r.PathValue("number"), http.StatusSeeOther)
	return nil
}

// written gives the recording that an address names, to whoever may change what is said
// of it.
func (f *face) written(r *http.Request, what string) (p Programme, s *seen, entry app.RecordingEntry, err error) {
	if g, err := f.who(r, sight.Verdicts); err != nil || !writes(g.Role) {
		return p, nil, entry, forbidden(what)
	}
	if p, s, err = f.opened(r); err != nil {
		return p, nil, entry, err
	}
	entry, err = s.numbered(r)
	return p, s, entry, err
}

// unassign takes back what was said of a recording.
func (f *face) unassign(w http.ResponseWriter, r *http.Request) error {
	p, _, entry, err := f.written(r, "say whose a recording is")
	if err != nil {
		return err
	}
	if err := p.Folder.Unassign(r.Context(), entry.Test, entry.SHA256); err != nil {
		return err
	}
	http.Redirect(w, r, p.base()+"/recordings/"+escape(entry.Test)+"/"+r.PathValue("number"), http.StatusSeeOther)
	return nil
}

// numbered gives the recording that an address names by its number.
func (s *seen) numbered(r *http.Request) (app.RecordingEntry, error) {
	n, err := strconv.Atoi(r.PathValue("number"))
	if err != nil || n < 1 || n > len(s.state.Recordings) || s.state.Recordings[n-1].Test != r.PathValue("test") {
		return app.RecordingEntry{}, fault.New(fault.NotFound, "test %s has no recording %q", r.PathValue("test"), r.PathValue("number"))
	}
	return s.state.Recordings[n-1], nil
}

// cut is the body of one recording's page.
type cut struct {
	Test     string
	Entry    app.RecordingEntry
	Size     string
	Pieces   []cutPiece
	Settings []setting
	Doubts   []caveat.Caveat
	Assign   assigned
	To       string // address of the recording
	Spans    string // where its runs lie, in words
	Tenth    string // the step by which keys move a cut, s
	Comma    bool
	Cuts     []movable
	Moved    []app.KeptMoved
}

// movable is a piece whose ends can be moved, s of the recording.
type movable struct{ Piece, Run, Begin, End string }

type setting struct{ Name, Value string }

type cutPiece struct {
	Kind, From, To, Length string
	Run, RunTo             string
	Counts                 bool
	Flags                  []caveat.Caveat
	Numbers                []ranNumber
}

// recording shows how one recording was cut and what its pieces yielded.
func (f *face) recording(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	entry, err := s.numbered(r)
	if err != nil {
		return err
	}
	test, err := s.state.Test(entry.Test)
	if err != nil {
		return err
	}
	got, err := p.Folder.Reduce(r.Context(), s.state, test, entry)
	if err != nil {
		return err
	}
	style := lookOf(r).style()
	proc, err := p.Folder.Shelf.Procedure(test.Test.Procedure)
	if err != nil {
		return err
	}
	body := cut{Test: test.Test.Title, Entry: entry, Size: size(entry.Size), Doubts: once(got.Caveats)}
	body.Comma, body.Tenth = style.Comma, unit.Number(0.1, 1, style)
	body.Settings = settings(proc.Spec(), test.Test.Parameters, style)
	d, err := s.test(entry.Test)
	if err != nil {
		return err
	}
	pieces := piecesOf(d, entry)
	at, doubts, known := 0, 0, 0
	var stints []string
	for _, x := range got.Results.Pieces {
		c := cutPiece{Kind: x.Kind, From: unit.Number(x.FromS, 2, style), To: unit.Number(x.ToS, 2, style), Counts: x.Counts, Flags: x.Flags}
		if x.Distance != nil {
			c.Length = unit.Number(*x.Distance, 1, style)
		}
		if x.Run != "" {
			m := movable{Piece: x.Run, Begin: unit.Number(x.FromS, cutDigits, unit.Plain), End: unit.Number(x.ToS, cutDigits, unit.Plain)}
			if at < len(pieces) {
				m.Run = pieces[at].LogRun
			}
			body.Cuts = append(body.Cuts, m)
			if at < len(pieces) && pieces[at].LogRun != "" {
				c.Run, c.RunTo = pieces[at].LogRun, p.runTo(entry.Test, pieces[at].LogRun)
				known++
				for _, run := range d.Log.Runs {
					if run.ID == c.Run && !slices.Contains(stints, run.Stint) {
						stints = append(stints, run.Stint)
					}
				}
				if pieces[at].Doubt != "" {
					c.Flags = append(c.Flags[:len(c.Flags):len(c.Flags)], caveat.Caveat{Code: "doubt", Text: pieces[at].Doubt})
				}
			}
			at++
			for _, o := range got.Results.Observations {
				m, err := d.Measure(o.Measure)
				if o.Run != x.Run || o.Place != "" || err != nil {
					continue
				}
				number := ranNumber{Title: m.Title}
				number.Value, number.Unit = shown(o.Value, m, style)
				c.Numbers = append(c.Numbers, number)
			}
		}
		if len(c.Flags) > 0 {
			doubts++
		}
		body.Pieces = append(body.Pieces, c)
	}
	body.Spans = spans(got.Results.Pieces, style)
	body.Moved = s.state.MovedIn(entry)
	body.Assign.To = p.base() + "/recordings/" + escape(entry.Test) + "/" + r.PathValue("number")
	for _, st := range d.Log.Stints {
		body.Assign.Stints = append(body.Assign.Stints, assignedStint{st.ID, st.Code, slices.Contains(stints, st.ID)})
	}
	for _, k := range s.state.Assigned {
		if k.Test == entry.Test && k.SHA256 == entry.SHA256 {
			said := k.AssignedEntry
			body.Assign.Said = &said
		}
	}
	body.To = body.Assign.To
	v := frame{Body: body, Scripts: []string{"traces.js"}}
	switch {
	case body.Assign.Said != nil && len(body.Assign.Said.Stints) == 0:
		v.Title = say(fmt.Sprintf("%s is of no stint and is not used", entry.Name))
	case known < at:
		v.Title = say(fmt.Sprintf("%s holds %s, of which %d are a run of the log", entry.Name, unit.Count(at, "run"), known))
	case doubts > 0:
		v.Title = say(fmt.Sprintf("%s holds %s, of which %d are in doubt", entry.Name, unit.Count(at, "run"), doubts))
	default:
		v.Title = say(fmt.Sprintf("%s holds %s, none of them in doubt", entry.Name, unit.Count(at, "run")))
	}
	f.around(&v, p, s, "Recordings")
	return f.hand(w, r, http.StatusOK, "recording", v, s.palette())
}

// spans says where the timed pieces of a recording lie.
func spans(pieces []logger.ReducedPiece, style unit.Style) string {
	n, from, to := 0, 0.0, 0.0
	for _, x := range pieces {
		if x.Run == "" {
			continue
		}
		if n == 0 {
			from = x.FromS
		}
		n, to = n+1, x.ToS
	}
	switch n {
	case 0:
		return "No run is cut out of it"
	case 1:
		return "Its run lies from " + unit.Second.Format(from, 2, style) + " to " + unit.Second.Format(to, 2, style)
	}
	return "Its " + unit.Count(n, "run") + " lie between " + unit.Second.Format(from, 2, style) + " and " + unit.Second.Format(to, 2, style)
}

func size(n int64) string {
	if n < 1_000_000 {
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

// once gives what is said of several runs in the same words once.
func once(l caveat.List) []caveat.Caveat {
	var out []caveat.Caveat
	for _, c := range l {
		if !slices.ContainsFunc(out, func(o caveat.Caveat) bool { return o.Code == c.Code && o.Text == c.Text }) {
			out = append(out, c)
		}
	}
	return out
}
