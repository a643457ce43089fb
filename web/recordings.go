package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"example.org/bookend/app"
	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
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
				row.Doubt = sentence(err.Error())
				rt.Rows = append(rt.Rows, row)
				continue
			}
			runs := s.runsOf(t.Test.ID, rec.Name)
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

// runsOf gives the runs that the run log says a recording holds.
func (s *seen) runsOf(test, name string) []string {
	var out []string
	for _, t := range s.state.Tables {
		if t.Test == test {
			out = append(out, t.Recordings[name]...)
		}
	}
	return out
}

// cut is the body of one recording's page.
type cut struct {
	Test     string
	Entry    app.RecordingEntry
	Size     string
	Pieces   []cutPiece
	Settings []setting
	Doubts   []caveat.Caveat
}

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
	n, err := strconv.Atoi(r.PathValue("number"))
	if err != nil || n < 1 || n > len(s.state.Recordings) || s.state.Recordings[n-1].Test != r.PathValue("test") {
		return fault.New(fault.NotFound, "test %s has no recording %q", r.PathValue("test"), r.PathValue("number"))
	}
	entry := s.state.Recordings[n-1]
	test, err := s.state.Test(entry.Test)
	if err != nil {
		return err
	}
	got, err := p.Folder.Reduce(r.Context(), s.state, test, entry)
	if err != nil {
		return err
	}
	style := unit.Style{Comma: lookOf(r).Comma}
	proc, err := p.Folder.Shelf.Procedure(test.Test.Procedure)
	if err != nil {
		return err
	}
	body := cut{Test: test.Test.Title, Entry: entry, Size: size(entry.Size), Doubts: got.Caveats.Distinct()}
	body.Settings = settings(proc.Spec(), test.Test.Parameters, style)
	d, err := s.test(entry.Test)
	if err != nil {
		return err
	}
	runs := s.runsOf(entry.Test, entry.Name)
	at, doubts := 0, 0
	for _, x := range got.Results.Pieces {
		c := cutPiece{Kind: x.Kind, From: unit.Number(x.FromS, 2, style), To: unit.Number(x.ToS, 2, style), Counts: x.Counts, Flags: x.Flags}
		if x.Distance != nil {
			c.Length = unit.Number(*x.Distance, 1, style)
		}
		if x.Run != "" {
			if at < len(runs) {
				c.Run, c.RunTo = runs[at], p.runTo(entry.Test, runs[at])
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
		if len(x.Flags) > 0 {
			doubts++
		}
		body.Pieces = append(body.Pieces, c)
	}
	v := frame{Body: body}
	switch {
	case at != len(runs):
		v.Title = say(fmt.Sprintf("%s holds %s, and the run log names %d", entry.Name, plural(at, "run"), len(runs)))
	case doubts > 0:
		v.Title = say(fmt.Sprintf("%s holds %s, of which %d are in doubt", entry.Name, plural(at, "run"), doubts))
	default:
		v.Title = say(fmt.Sprintf("%s holds %s, none of them in doubt", entry.Name, plural(at, "run")))
	}
	f.around(&v, p, s, "Recordings")
	return f.hand(w, r, http.StatusOK, "recording", v, s.palette())
}

func size(n int64) string {
	if n < 1_000_000 {
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}
