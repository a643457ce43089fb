package web

import (
	"encoding/json"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/trace"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// drawnAtOnce is how many channels are drawn below each other, and mostColumns how wide
// a picture may be asked for (own choices: more is not read on one screen).
const (
	drawnAtOnce = 8
	mostColumns = 4000
)

// traced is a window of a recording's traces as the script takes it; times in s, values
// in the channel's unit, null where no valid sample lies.
type traced struct {
	From     float64         `json:"from_s"`
	To       float64         `json:"to_s"`
	Channels []tracedChannel `json:"channels"`
}

type tracedChannel struct {
	Name string     `json:"channel"`
	Unit string     `json:"unit"`
	Low  []*float64 `json:"low"`
	High []*float64 `json:"high"`
	Of   [2]float64 `json:"range"` // least and greatest of all
}

// traces gives least and greatest values of a recording's channels, a column each.
func (f *face) traces(w http.ResponseWriter, r *http.Request) error {
	p, s, err := f.opened(r)
	if err != nil {
		return err
	}
	entry, err := s.numbered(r)
	if err != nil {
		return err
	}
	t, err := p.Folder.Drawn(r.Context(), s.state, entry, &f.shelf)
	if err != nil {
		return err
	}
	columns, err := strconv.Atoi(r.URL.Query().Get("columns"))
	if err != nil || columns < 1 || columns > mostColumns {
		return fault.New(fault.Invalid, "traces are drawn in 1 to %d columns", mostColumns)
	}
	out := traced{From: t.FromS, To: t.ToS, Channels: []tracedChannel{}}
	for _, end := range []struct {
		name string
		at   *float64
	}{{"from", &out.From}, {"to", &out.To}} {
		if text := r.URL.Query().Get(end.name); text != "" {
			if *end.at, err = strconv.ParseFloat(text, 64); err != nil || math.IsNaN(*end.at) || math.IsInf(*end.at, 0) {
				return fault.New(fault.Invalid, "%q is no time", text)
			}
		}
	}
	if !(out.To > out.From) {
		return fault.New(fault.Invalid, "the window ends before it begins")
	}
	for _, c := range shownChannels(t) {
		k := tracedChannel{Name: c.Name, Unit: c.Unit, Of: [2]float64{c.Low, c.High}}
		for _, x := range c.Columns(out.From, out.To, columns) {
			if x.Empty {
				k.Low, k.High = append(k.Low, nil), append(k.High, nil)
				continue
			}
			low, high := float64(float32(x.Low)), float64(float32(x.High))
			k.Low, k.High = append(k.Low, &low), append(k.High, &high)
		}
		out.Channels = append(out.Channels, k)
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(w).Encode(out)
}

// shownChannels gives the channels that are drawn: those whose role is known first,
// what moves before what stands still.
func shownChannels(t *trace.Traces) []trace.Channel {
	out := slices.Clone(t.Channels)
	rank := func(c trace.Channel) int {
		switch {
		case c.Low == c.High:
			return 2
		case c.Role == "" || c.Role == "latitude" || c.Role == "longitude":
			return 1
		}
		return 0
	}
	slices.SortStableFunc(out, func(a, b trace.Channel) int { return rank(a) - rank(b) })
	return out[:min(len(out), drawnAtOnce)]
}

// cutDigits is how many decimals of a second the ends of a cut are printed with (own
// choice: no logger samples more often).
const cutDigits = 3

// recut moves a cut, with the reason, or takes the last move back.
func (f *face) recut(w http.ResponseWriter, r *http.Request) error {
	p, s, entry, err := f.written(r, "move a cut")
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return fault.New(fault.Invalid, "reading the form: %w", err)
	}
	q := app.CutRequest{Test: entry.Test, Recording: entry.SHA256, Reason: r.PostForm.Get("reason")}
	if q.Piece, err = strconv.Atoi(r.PostForm.Get("piece")); err != nil {
		return fault.New(fault.Invalid, "it is not said which run's cut is moved")
	}
	if r.PostForm.Get("back") != "" {
		err = p.Folder.UnmoveCut(r.Context(), q)
	} else {
		test, err := s.state.Test(entry.Test)
		if err != nil {
			return err
		}
		now, err := p.Folder.Reduce(r.Context(), s.state, test, entry)
		if err != nil {
			return err
		}
		shown := map[string]string{} // the ends as the page printed them: sent back as they were, they stay
		for _, x := range now.Results.Pieces {
			if x.Run == strconv.Itoa(q.Piece) {
				shown["begin"], shown["end"] = unit.Number(x.FromS, cutDigits, unit.Plain), unit.Number(x.ToS, cutDigits, unit.Plain)
			}
		}
		for _, end := range []struct {
			name string
			at   **float64
		}{{"begin", &q.FromS}, {"end", &q.ToS}} {
			text := strings.Replace(strings.TrimSpace(r.PostForm.Get(end.name)), ",", ".", 1)
			if text == "" || text == shown[end.name] {
				continue // as it is
			}
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return fault.New(fault.Invalid, "%q is no time", text).WithHint("in s of the recording, for example 61.25")
			}
			*end.at = &v
		}
		if err := p.Folder.MoveCut(r.Context(), q); err != nil {
			return err
		}
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, p.base()+"/recordings/"+escape(entry.Test)+"/"+r.PathValue("number"), http.StatusSeeOther)
	return nil
}
