package strips

import (
	"cmp"
	"math"
	"net/url"
	"slices"

	"example.org/bookend/app/trace"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// Runs is how channels of runs laid over each other are asked for.
type Runs struct {
	Ask
	Time     bool     // over time since the gate, not over stations
	Gate     float64  // m of station
	Channels []string // empty: those that are drawn unless others are chosen
	At       *float64 // m of station, or s since the gate; nil: nowhere
}

// RunsAsked reads an address.
func RunsAsked(q url.Values) (Runs, error) {
	a := Runs{Time: q.Get("over") == "time", Channels: q["channel"]}
	var err error
	if q.Get("columns") == "" {
		q = url.Values{"columns": {"1"}, "from": q["from"], "to": q["to"], "gate": q["gate"], "at": q["at"]}
	}
	if a.Ask, err = Asked(q); err != nil {
		return a, err
	}
	gate, err := place(q, "gate")
	if err != nil {
		return a, err
	}
	if gate != nil {
		a.Gate = *gate
	}
	a.At, err = place(q, "at")
	return a, err
}

// Choice is a channel that may be drawn.
type Choice struct {
	Channel string `json:"channel"`
	Title   string `json:"title"`
	Drawn   bool   `json:"drawn"`
}

// Choices gives the channels that may be drawn of runs, the first one's, with those that
// are.
func Choices(runs []*trace.Run, a Runs) []Choice {
	if len(runs) == 0 {
		return nil
	}
	var out []Choice
	drawn := a.drawn(runs)
	for _, c := range trace.Shown(runs[0].Channels, len(runs[0].Channels)) {
		out = append(out, Choice{c.Name, Title(c.Name), slices.ContainsFunc(drawn, func(d trace.Channel) bool { return d.Name == c.Name })})
	}
	return out
}

// drawn gives the channels that are drawn.
func (a Runs) drawn(runs []*trace.Run) []trace.Channel {
	all := trace.Shown(runs[0].Channels, len(runs[0].Channels))
	if len(a.Channels) > 0 {
		all = slices.DeleteFunc(all, func(c trace.Channel) bool { return !slices.Contains(a.Channels, c.Name) })
	}
	return all[:min(len(all), mostStrips)]
}

// OfRuns gives the channels of runs, the control's first.
func OfRuns(runs []*trace.Run, a Runs, style unit.Style) (*Window, error) {
	if len(runs) == 0 {
		return nil, fault.New(fault.NotFound, "no run is asked for")
	}
	first, last := math.Inf(1), math.Inf(-1)
	for _, r := range runs {
		if a.Time {
			first, last = 0, math.Max(last, r.Lasts(a.Gate))
		} else {
			first, last = math.Min(first, r.S[0]), math.Max(last, r.S[len(r.S)-1])
		}
	}
	w, err := a.window(first, last)
	if err != nil {
		return nil, err
	}
	edges := make([]trace.Edges, len(runs))
	for i, r := range runs {
		if a.Time {
			edges[i] = r.Since(a.Gate, w.From, w.To, a.Columns)
		} else {
			edges[i] = r.Along(w.From, w.To, a.Columns)
		}
	}
	for _, like := range a.drawn(runs) {
		var s Strip
		for i, r := range runs {
			c := r.Channel(like)
			if c == nil {
				continue
			}
			low, high, ok := c.During(r.T[0], r.T[len(r.T)-1])
			if !ok {
				continue
			}
			if len(s.Lines) == 0 {
				s = strip(*c, style)
				s.Channel, s.Title = like.Name, Title(like.Name)
			}
			s.widen(low, high)
			l := Line{Code: r.Code, Run: r.Run}
			if a.At != nil {
				t := r.When(*a.At)
				if a.Time {
					t = r.When(a.Gate) + *a.At
				}
				if r.Within(t) {
					l.at, l.ok = c.At(t)
				}
			}
			s.put(l, c.Within(edges[i]))
		}
		for i := range s.Lines {
			l := &s.Lines[i]
			l.Low.digits = digits(s.Range[0], s.Range[1], drawnParts)
			l.High.digits = l.Low.digits
			if l.ok {
				l.At = unit.Number(s.show.from(l.at), s.digits, style)
			}
		}
		if len(s.Lines) > 0 {
			w.Strips = append(w.Strips, s)
		}
	}
	if a.At != nil {
		w.Says = w.apart(runs[0].Code, a, style)
	}
	return w, nil
}

// apart says in which channel a code lies farthest from the first, the control, for its
// range, at the place asked for.
func (w *Window) apart(control string, a Runs, style unit.Style) string {
	type found struct {
		strip     *Strip
		own, that Line
		far       float64
	}
	var all []found
	for i := range w.Strips {
		s := &w.Strips[i]
		if own := s.Lines[0]; own.Code == control && own.ok && s.Range[1] > s.Range[0] {
			for _, l := range s.Lines[1:] {
				if l.ok {
					all = append(all, found{s, own, l, math.Abs(s.show.from(l.at)-s.show.from(own.at)) / (s.Range[1] - s.Range[0])})
				}
			}
		}
	}
	where := "at " + Station(*a.At, style)
	if a.Time {
		where = unit.Second.Format(*a.At, 2, style) + " after the gate"
	}
	if len(all) == 0 {
		return "No channel of two runs has values " + where
	}
	far := slices.MaxFunc(all, func(x, y found) int { return cmp.Compare(x.far, y.far) })
	return far.that.Code + "’s " + far.strip.Title + " is " + far.strip.number(far.that.at, style) + ", " + control + "’s " + far.strip.number(far.own.at, style) + ", " + where
}

// Station writes a station in the reader's unit: "61.2 m".
func Station(m float64, style unit.Style) string {
	u := style.Of(unit.Metre)
	return u.Format(m, style.Digits(unit.Metre, 1), style)
}
