package day

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/bookend/caveat"
	"example.org/bookend/programme/runlog"
)

// everywhere tells whether an incident puts later runs of every test in doubt:
// the vehicle may have suffered. Water concerns its own test's surface alone; a
// lost set holds no run. (The trade's caution: common practice, no source.)
func everywhere(what string) bool {
	return what == runlog.Spin || what == runlog.Damage || what == runlog.Another
}

// doubted tells whether an incident puts runs in doubt at all.
func doubted(what string) bool { return what != runlog.LostSet }

// after tells whether a run was driven after an incident began. Within the test
// that the incident names the order of stints and runs decides where it is known,
// elsewhere the clock.
func (v *View) after(i *Incident, s *Stint, r *Run) bool {
	if s.Test != i.Test {
		return everywhere(i.What) && r.When >= i.When
	}
	if i.Stint == "" {
		return r.When >= i.When
	}
	of := v.Of(i.Test)
	at := slices.IndexFunc(of, func(o *Stint) bool { return o.StintBody.Stint == i.Stint })
	here := slices.Index(of, s)
	switch {
	case at < 0:
		return r.When >= i.When
	case here != at:
		return here > at
	case i.IncidentBody.Run == "":
		return r.When >= i.When
	}
	first := slices.IndexFunc(s.Runs, func(o *Run) bool { return o.RunBody.Run == i.IncidentBody.Run })
	if first < 0 {
		return r.When >= i.When
	}
	return slices.Index(s.Runs, r) >= first
}

// hold works out which runs are in doubt, and what their release made of them.
func (b *builder) hold() {
	v := b.view
	for _, r := range b.releases {
		i := v.Incident(r.ReleaseBody.Incident)
		if i == nil {
			v.Caveats.Add("release_of_nothing", caveat.Place{}, "Entry %d releases an incident that does not stand; it releases nothing.", r.Entry.Sequence)
			continue
		}
		i.Release = r
	}
	for _, i := range v.Incidents {
		if i.What == runlog.LostSet {
			if s := v.Set(i.Set); s != nil {
				s.Lost = true
			} else {
				v.Sets = append(v.Sets, &Set{ID: i.Set, Tyres: map[string]string{}, Lost: true})
			}
			for _, s := range v.Stints {
				if s.Set == i.Set && s.When > i.When {
					v.Caveats.Add("set_lost", caveat.Place{Test: s.Test, Stint: s.StintBody.Stint}, "Set %s was called lost before it was fitted here.", i.Set)
				}
			}
		}
		if !doubted(i.What) {
			continue
		}
		for _, s := range v.Stints {
			b.doubt(i, s)
		}
		b.breakAfter(i)
		if len(i.Held) > 0 && i.Release == nil {
			v.Caveats.Add("runs_held", caveat.Place{Test: i.Test, Stint: i.Stint}, "%s: %d runs are held until they are released and are not compared.", i.Title(), len(i.Held))
		}
	}
}

// doubt marks the runs of a stint that an incident put in doubt.
func (b *builder) doubt(i *Incident, s *Stint) {
	for _, r := range s.Runs {
		if !b.view.after(i, s, r) || i.Release != nil && r.When >= i.Release.When {
			continue
		}
		i.Held = append(i.Held, s.Test+" "+r.ID)
		out := false
		switch {
		case i.Release == nil:
			r.HeldBy = append(r.HeldBy, i.Entry.ID)
		case i.Release.Outcome == runlog.LeftOut:
			out = true
		case i.Release.Outcome == runlog.Break:
			out = b.straddles(i, s) // the drift before it and behind it are two
		}
		if out && r.LeftOut == "" {
			r.LeftOut, r.Releaser = fmt.Sprintf("%s; released: %s", i.Title(), i.Release.Finding), i.Release.Entry.Author
		}
	}
}

// straddles tells whether an incident happened within a stint: a run of it was
// driven before.
func (b *builder) straddles(i *Incident, s *Stint) bool {
	return slices.ContainsFunc(s.Runs, func(r *Run) bool { return !b.view.after(i, s, r) })
}

// breakAfter declares the break that a release asks for before the next stint of
// each test that it concerns.
func (b *builder) breakAfter(i *Incident) {
	if i.Release == nil || i.Release.Outcome != runlog.Break {
		return
	}
	v := b.view
	for _, test := range v.Tests() {
		if test != i.Test && !everywhere(i.What) {
			continue
		}
		of := v.Of(test)
		at := -1
		if test == i.Test && i.Stint != "" {
			at = slices.IndexFunc(of, func(o *Stint) bool { return o.StintBody.Stint == i.Stint })
		}
		for k, s := range of {
			behind := at >= 0 && k >= at || at < 0 && (s.When >= i.When || len(s.Runs) > 0)
			if behind && !b.straddles(i, s) {
				s.broken = true
				break
			}
		}
	}
}

// Incident gives the incident of that entry, nil where there is none.
func (v *View) Incident(entry string) *Incident {
	for _, i := range v.Incidents {
		if i.Entry.ID == entry {
			return i
		}
	}
	return nil
}

// Open gives the incidents that hold runs, now or as soon as some are driven, and
// have not been released.
func (v *View) Open() []*Incident {
	var out []*Incident
	for _, i := range v.Incidents {
		if i.Release == nil && doubted(i.What) {
			out = append(out, i)
		}
	}
	return out
}

// Title says in a few words what happened and where.
func (i *Incident) Title() string {
	words := []string{sentence(strings.ReplaceAll(i.What, "_", " "))}
	if i.Tyre != "" {
		words = append(words, "tyre "+strings.ReplaceAll(i.Tyre, "_", " "))
	}
	if i.Set != "" {
		words = append(words, "set "+i.Set)
	}
	where := i.Test
	if i.Stint != "" {
		where += " stint " + i.Stint
	}
	return fmt.Sprintf("%s, %s, %s", strings.Join(words, ", "), where, time.Unix(0, i.When).UTC().Format("15:04 UTC"))
}

// Broken tells whether a declared break lies before the stint, and why.
func (s *Stint) Broken() bool { return s.Break || s.broken }

// Block is the stints of a test between two declared breaks.
type Block struct {
	Test   string
	Stints []*Stint
}

// Blocks gives the blocks of a test.
func (v *View) Blocks(test string) []Block {
	var out []Block
	for _, s := range v.Of(test) {
		if len(out) == 0 || s.Broken() {
			out = append(out, Block{Test: test})
		}
		out[len(out)-1].Stints = append(out[len(out)-1].Stints, s)
	}
	return out
}

// Closed tells whether a block begins and ends with a control stint of which a
// run counts. Which code is the control must be known to whoever asks.
func (b Block) Closed(control string) bool {
	counts := func(s *Stint) bool {
		return s.Code == control && slices.ContainsFunc(s.Runs, func(r *Run) bool { return r.LeftOut == "" && len(r.HeldBy) == 0 })
	}
	n := len(b.Stints)
	return n > 1 && counts(b.Stints[0]) && counts(b.Stints[n-1])
}
