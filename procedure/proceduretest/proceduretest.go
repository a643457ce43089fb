// Package proceduretest is the suite that every test procedure passes: what must
// hold of a procedure whatever its manoeuvre.
//
// The same input gives the same output and is not changed; a shifted clock, a
// resampled recording and a mirrored course give the same, or mirrored, numbers; a
// missing channel is a caveat or a fault, never a number that is none; every
// declared measure occurs or is explained; every limit, default and definition
// names a source that has a page.
package proceduretest

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/unit"
)

// Case is one run that the procedure reduces.
type Case struct {
	Name  string
	Input procedure.Input

	// Resampled is how far, in the measure's unit, each measure may move when every
	// channel is brought to another rate by linear interpolation. A measure that is
	// not listed may move by a thousandth of its size.
	Resampled map[string]float64
}

// Suite is a procedure with its cases.
type Suite struct {
	Procedure procedure.Procedure
	Cases     []Case
	Lateral   []string            // measures whose sign turns when the course is mirrored
	Mirrored  func(string) string // place by place, what it is on the mirrored course; nil: the same
	Explained map[string]string   // declared measures that no case yields, and why
}

// Run runs the suite.
func Run(t *testing.T, s Suite) {
	t.Helper()
	if len(s.Cases) == 0 {
		t.Fatal("proceduretest: no case")
	}
	t.Run("spec", s.spec)
	t.Run("every measure occurs", s.every)
	t.Run("overlay", s.overlay)
	for _, c := range s.Cases {
		t.Run(c.Name, func(t *testing.T) {
			t.Run("output is sound", func(t *testing.T) { s.sound(t, c) })
			t.Run("same input, same output", func(t *testing.T) { s.same(t, c) })
			t.Run("shifted clock", func(t *testing.T) { s.shifted(t, c) })
			t.Run("resampled", func(t *testing.T) { s.resampled(t, c) })
			t.Run("mirrored", func(t *testing.T) { s.mirrored(t, c) })
			t.Run("missing channel", func(t *testing.T) { s.missing(t, c) })
		})
	}
}

var snake = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

// root gives the checkout's root, where go.mod lies.
func root(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("proceduretest: no go.mod above the test")
		}
		dir = up
	}
}

func (s Suite) spec(t *testing.T) {
	p := s.Procedure
	spec := p.Spec()
	if !reflect.DeepEqual(spec, p.Spec()) {
		t.Error("Spec gives two values")
	}
	if !snake.MatchString(spec.ID) || spec.Version < 1 || spec.Title == "" || spec.About == "" || len(spec.Sources) == 0 {
		t.Errorf("id %q, version %d, title %q, %d sources", spec.ID, spec.Version, spec.Title, len(spec.Sources))
	}
	if !slices.Contains([]programme.Cut{programme.CutByGate, programme.CutByPass, programme.CutByStop, programme.CutWhole}, spec.Cut) {
		t.Errorf("runs are cut by %q", spec.Cut)
	}
	if !strings.HasPrefix(p.Help(), "# "+spec.Title+"\n") {
		t.Errorf("the help does not begin with %q", "# "+spec.Title)
	}
	dir := root(t)
	source := func(what string, src programme.Source) {
		t.Helper()
		switch src.Key {
		case "":
			t.Errorf("%s names no source", what)
		case programme.Own, programme.CommonPractice:
			if src.Clause == "" {
				t.Errorf("%s is %s without a reason", what, src.Key)
			}
		default:
			if _, err := os.Stat(filepath.Join(dir, "docs", "sources", src.Key+".md")); err != nil {
				t.Errorf("%s names %q, which has no page in docs/sources", what, src.Key)
			}
		}
	}
	for i, src := range spec.Sources {
		source("source "+string(rune('1'+i)), src)
	}
	known := func(what, symbol string) {
		t.Helper()
		if _, err := unit.Parse(symbol); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	seen := map[string]bool{}
	once := func(kind, id string) {
		t.Helper()
		if !snake.MatchString(id) || seen[kind+id] {
			t.Errorf("%s %q stands twice or is no name", kind, id)
		}
		seen[kind+id] = true
	}
	for _, n := range spec.Needs {
		once("channel", n.Role)
		known("channel "+n.Role, n.Unit)
		if !(n.LeastHz > 0) {
			t.Errorf("channel %s has no least rate", n.Role)
		}
	}
	for _, q := range spec.Parameters {
		what := "parameter " + q.ID
		once("parameter", q.ID)
		source(what, q.Source)
		if q.Title == "" || q.About == "" {
			t.Errorf("%s is not described", what)
		}
		if len(q.Words) == 0 {
			known(what, q.Unit)
			if !(q.Low <= q.Default && q.Default <= q.High) {
				t.Errorf("%s: default %g is outside %g to %g", what, q.Default, q.Low, q.High)
			}
		}
		if q.Shown != "" {
			known(what, q.Shown)
		}
	}
	if _, err := spec.Settings(nil); err != nil {
		t.Errorf("the defaults are refused: %v", err)
	}
	if len(spec.Measures) == 0 {
		t.Error("no measure")
	}
	for _, m := range spec.Measures {
		what := "measure " + m.ID
		once("measure", m.ID)
		source(what, m.Source)
		known(what, m.Unit)
		if m.Shown != "" {
			known(what, m.Shown)
		}
		if m.Title == "" || m.About == "" || m.Error == "" || m.Digits < 0 {
			t.Errorf("%s is not described", what)
		}
		if !slices.Contains([]programme.Better{programme.Higher, programme.Lower, programme.Nearest, programme.Undirected}, m.Better) ||
			!slices.Contains([]programme.Scale{programme.Ratio, programme.Difference, programme.Count, programme.Threshold}, m.Scale) {
			t.Errorf("%s: better %q, scale %q", what, m.Better, m.Scale)
		}
	}
}

func (s Suite) reduce(t *testing.T, in procedure.Input) procedure.Output {
	t.Helper()
	out, err := s.Procedure.Reduce(in)
	if err != nil {
		t.Fatalf("%v (hint: %s)", err, fault.HintOf(err))
	}
	return out
}

func (s Suite) every(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range s.Cases {
		for _, o := range s.reduce(t, c.Input).Observations {
			seen[o.Measure] = true
		}
	}
	for _, m := range s.Procedure.Spec().Measures {
		switch why := s.Explained[m.ID]; {
		case !seen[m.ID] && why == "":
			t.Errorf("no case yields %s, and nobody says why", m.ID)
		case seen[m.ID] && why != "":
			t.Errorf("%s occurs, though it is said that it does not: %s", m.ID, why)
		}
	}
}

func finite(xs ...float64) bool {
	return !slices.ContainsFunc(xs, func(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) })
}

func (s Suite) sound(t *testing.T, c Case) { s.holds(t, c.Input, s.reduce(t, c.Input)) }

// holds checks whatever must hold of any output.
func (s Suite) holds(t *testing.T, in procedure.Input, out procedure.Output) {
	t.Helper()
	spec := s.Procedure.Spec()
	seen := map[string]bool{}
	for _, o := range out.Observations {
		m, ok := spec.Measure(o.Measure)
		if !ok {
			t.Errorf("measure %s is not declared", o.Measure)
		}
		if o.Run != in.Run || o.Derivation != "" || (o.Rater != "") != (len(in.Ratings) > 0) {
			t.Errorf("%s: run %q, rater %q, derivation %q", o.Measure, o.Run, o.Rater, o.Derivation)
		}
		if !finite(o.Value) || o.Uncertainty != nil && !(finite(*o.Uncertainty) && *o.Uncertainty >= 0) {
			t.Errorf("%s at %q is %v", o.Measure, o.Place, o.Value)
		}
		if m.Scale == programme.Ratio && !(o.Value > 0) {
			t.Errorf("%s is compared as a ratio and is %v", o.Measure, o.Value)
		}
		if m.Places != (o.Place != "") {
			t.Errorf("%s has the place %q", o.Measure, o.Place)
		}
		if key := o.Measure + "\x00" + o.Place + "\x00" + o.Rater; seen[key] {
			t.Errorf("%s at %q occurs twice", o.Measure, o.Place)
		} else {
			seen[key] = true
		}
	}
	for _, q := range out.Caveats {
		if !snake.MatchString(q.Code) || !strings.HasSuffix(q.Text, ".") || strings.Contains(q.Text, "NaN") || strings.Contains(q.Text, "%!") {
			t.Errorf("caveat %s: %q", q.Code, q.Text)
		}
	}
	ids := map[string]bool{}
	for _, tr := range out.Traces {
		if ids[tr.ID] || !snake.MatchString(tr.ID) || tr.Title == "" {
			t.Errorf("trace %q stands twice or has no name", tr.ID)
		}
		ids[tr.ID] = true
		if len(tr.X) != len(tr.Y) || !finite(tr.X...) || !finite(tr.Y...) {
			t.Errorf("trace %s has %d places, %d values, or one that is not finite", tr.ID, len(tr.X), len(tr.Y))
		}
		for i := 1; i < len(tr.X); i++ {
			if !(tr.X[i] > tr.X[i-1]) {
				t.Errorf("trace %s does not increase at %d", tr.ID, i)
				break
			}
		}
		for _, u := range []string{tr.XUnit, tr.YUnit} {
			if _, err := unit.Parse(u); err != nil {
				t.Errorf("trace %s: %v", tr.ID, err)
			}
		}
	}
}

func (s Suite) same(t *testing.T, c Case) {
	before := clone(c.Input)
	a, b := s.reduce(t, c.Input), s.reduce(t, c.Input)
	if !reflect.DeepEqual(a, b) {
		t.Error("two reductions differ")
	}
	if !reflect.DeepEqual(before, c.Input) {
		t.Error("the input was changed")
	}
}

// compare holds two outputs against each other; tol is how far a measure of a value
// may be off.
func compare(t *testing.T, want, got procedure.Output, tol func(measure string, value float64) float64) {
	t.Helper()
	find := func(o programme.Observation) (programme.Observation, bool) {
		for _, q := range got.Observations {
			if q.Measure == o.Measure && q.Place == o.Place && q.Rater == o.Rater {
				return q, true
			}
		}
		return programme.Observation{}, false
	}
	for _, o := range want.Observations {
		q, ok := find(o)
		if !ok {
			t.Errorf("%s at %q is gone; caveats: %v", o.Measure, o.Place, got.Caveats)
		} else if d := math.Abs(q.Value - o.Value); !(d <= tol(o.Measure, o.Value)) {
			t.Errorf("%s at %q is %v, was %v", o.Measure, o.Place, q.Value, o.Value)
		}
	}
	if len(got.Observations) != len(want.Observations) {
		t.Errorf("%d observations, were %d", len(got.Observations), len(want.Observations))
	}
}

func codes(l caveat.List) []string {
	var out []string
	for _, c := range l {
		out = append(out, c.Code)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func (s Suite) shifted(t *testing.T, c Case) {
	in := clone(c.Input)
	const by = 1234.5
	in.FromS += by
	in.ToS += by
	for _, b := range bases(in) {
		for i := range b.T {
			b.T[i] += by
		}
	}
	for _, r := range in.Recordings {
		r.Anchor = r.Anchor.Add(-by)
	}
	want, got := s.reduce(t, c.Input), s.reduce(t, in)
	compare(t, want, got, func(_ string, v float64) float64 { return 1e-7 * (1 + math.Abs(v)) })
	if !slices.Equal(codes(want.Caveats), codes(got.Caveats)) {
		t.Errorf("caveats %v, were %v", codes(got.Caveats), codes(want.Caveats))
	}
}

// bases gives every base of the input once.
func bases(in procedure.Input) []*signal.Base {
	var out []*signal.Base
	for _, r := range in.Recordings {
		for _, ch := range r.Channels {
			if !slices.Contains(out, ch.Base) {
				out = append(out, ch.Base)
			}
		}
	}
	return out
}

// switches are roles that are on or off: between samples they have no value, so
// that the nearest sample stands for it.
var switches = []signal.Role{signal.Brake, signal.BeamTrigger}

func (s Suite) resampled(t *testing.T, c Case) {
	want := s.reduce(t, c.Input)
	for _, faster := range []float64{2, 1.37} {
		in := clone(c.Input)
		fine := map[*signal.Base]*signal.Base{}
		for _, b := range bases(in) {
			if step := b.Step(); step > 0 {
				fine[b] = signal.Even(b.T[0], b.T[len(b.T)-1], step/faster)
			}
		}
		for _, r := range in.Recordings {
			for i, ch := range r.Channels {
				b, ok := fine[ch.Base]
				if !ok {
					continue
				}
				out := ch.Resample(b)
				if slices.Contains(switches, ch.Role) {
					for k, at := range b.T {
						j, _ := slices.BinarySearch(ch.Base.T, at)
						j = min(j, len(ch.Base.T)-1)
						if j > 0 && at-ch.Base.T[j-1] < ch.Base.T[j]-at {
							j--
						}
						if out.ValidAt(k) {
							out.Values[k] = ch.Values[j]
						}
					}
				}
				r.Channels[i] = out
			}
		}
		last := in.ToS
		for _, b := range fine { // the finer base may end up to a step earlier
			last = math.Min(last, b.T[len(b.T)-1])
		}
		in.ToS = math.Min(in.ToS, last)
		compare(t, want, s.reduce(t, in), func(measure string, v float64) float64 {
			if tol, ok := c.Resampled[measure]; ok {
				return tol
			}
			return 1e-3 * math.Abs(v)
		})
	}
}

// odd are roles whose sign turns in a mirror, and pairs those that change places.
var (
	odd = []signal.Role{signal.East, signal.VelocityEast, signal.CourseAngle, signal.Heading, signal.AccelY, signal.YawRate,
		signal.RollRate, signal.Roll, signal.Sideslip, signal.SteeringAngle, signal.SteeringTorque}
	pairs = map[signal.Role]signal.Role{signal.WheelSpeedFL: signal.WheelSpeedFR, signal.WheelSpeedFR: signal.WheelSpeedFL,
		signal.WheelSpeedRL: signal.WheelSpeedRR, signal.WheelSpeedRR: signal.WheelSpeedRL}
)

// Mirror gives the input as it would be in a mirror that stands north and south
// through the course's origin (without a course: through the first longitude).
func Mirror(in procedure.Input) procedure.Input {
	out := clone(in)
	axis := 0.0
	if out.Course != nil {
		axis = out.Course.Origin.Longitude
	} else {
		for _, r := range out.Recordings {
			if c := r.ByRole(signal.Longitude); c != nil && len(c.Valid) > 0 {
				axis = c.Values[c.Valid[0].From]
				break
			}
		}
	}
	for _, r := range out.Recordings {
		for _, c := range r.Channels {
			for _, v := range c.Valid {
				for i := v.From; i < v.To; i++ {
					switch {
					case c.Role == signal.Longitude:
						c.Values[i] = 2*axis - c.Values[i]
					case slices.Contains(odd, c.Role):
						c.Values[i] = -c.Values[i]
					}
				}
			}
			if other, ok := pairs[c.Role]; ok {
				c.Role = other
			}
		}
	}
	if c := out.Course; c != nil {
		flip := func(p course.Position) course.Position {
			p.Longitude = 2*axis - p.Longitude
			return p
		}
		for i, p := range c.Posts {
			c.Posts[i] = course.Posts{Right: flip(p.Left), Left: flip(p.Right)}
		}
		if c.Reference != nil {
			for i := range c.Reference.Points {
				c.Reference.Points[i].East = -c.Reference.Points[i].East
			}
		}
	}
	return out
}

func (s Suite) mirrored(t *testing.T, c Case) {
	want := s.reduce(t, c.Input)
	for i, o := range want.Observations {
		if slices.Contains(s.Lateral, o.Measure) {
			want.Observations[i].Value = -o.Value
		}
		if s.Mirrored != nil {
			want.Observations[i].Place = s.Mirrored(o.Place)
		}
	}
	got := s.reduce(t, Mirror(c.Input))
	compare(t, want, got, func(_ string, v float64) float64 { return 1e-6 * (1 + math.Abs(v)) })
	if !slices.Equal(codes(want.Caveats), codes(got.Caveats)) {
		t.Errorf("caveats %v, were %v", codes(got.Caveats), codes(want.Caveats))
	}
}

func (s Suite) missing(t *testing.T, c Case) {
	want := s.reduce(t, c.Input)
	for _, n := range s.Procedure.Spec().Needs {
		in := clone(c.Input)
		had := false
		for _, r := range in.Recordings {
			kept := r.Channels[:0]
			for _, ch := range r.Channels {
				if string(ch.Role) == n.Role {
					had = true
				} else {
					kept = append(kept, ch)
				}
			}
			r.Channels = kept
		}
		out, err := s.Procedure.Reduce(in)
		switch {
		case n.Optional == "" && had:
			if fault.CodeOf(err) != fault.Invalid || fault.HintOf(err) == "" {
				t.Errorf("without %s, which it needs: %v", n.Role, err)
			}
		case err != nil:
			t.Errorf("without %s, which it can do without: %v", n.Role, err)
		default:
			s.holds(t, in, out)
			// A channel that the parameters leave unused may go without a word.
			if had && slices.Equal(codes(out.Caveats), codes(want.Caveats)) && !reflect.DeepEqual(out.Observations, want.Observations) {
				t.Errorf("the numbers change without %s, and nobody is told", n.Role)
			}
		}
		// There, but never valid: the same as missing, without a number that is none.
		in = clone(c.Input)
		for _, r := range in.Recordings {
			for _, ch := range r.Channels {
				if string(ch.Role) == n.Role {
					ch.Valid = nil
					clear(ch.Values)
				}
			}
		}
		if out, err := s.Procedure.Reduce(in); err == nil {
			s.holds(t, in, out)
		} else if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("with %s never valid: %v", n.Role, err)
		}
	}
}

func (s Suite) overlay(t *testing.T) {
	var runs []procedure.Overlaid
	for i, c := range s.Cases {
		out := s.reduce(t, c.Input)
		for _, code := range []string{"K", "P"} {
			runs = append(runs, procedure.Overlaid{Code: code, Stint: code + "1", Run: string(rune('a' + i)), Traces: out.Traces})
		}
	}
	for _, in := range [][]procedure.Overlaid{nil, {{Code: "K"}}, runs} {
		a, err := s.Procedure.Overlay(in)
		if err != nil {
			t.Errorf("%d runs: %v", len(in), err)
		}
		b, _ := s.Procedure.Overlay(in)
		if len(a) != len(b) {
			t.Errorf("%d figures, then %d", len(a), len(b))
			continue
		}
		for i, f := range a {
			x, err1 := figure.Marshal(f)
			y, err2 := figure.Marshal(b[i])
			if err1 != nil || err2 != nil || string(x) != string(y) {
				t.Errorf("figure %d differs from itself: %v, %v", i, err1, err2)
			}
			for _, w := range []figure.Width{figure.Full, figure.Half} {
				if _, err := f.Draw(w); err != nil {
					t.Errorf("figure %d: %v", i, err)
				}
			}
		}
	}
}

// clone gives a copy of the input that shares nothing with it, bases that channels
// share among each other aside.
func clone(in procedure.Input) procedure.Input {
	out := in
	out.Parameters = slices.Clone(in.Parameters)
	out.Ratings = slices.Clone(in.Ratings)
	if in.Course != nil {
		b, err := json.Marshal(in.Course)
		if err != nil {
			panic(err)
		}
		out.Course = new(course.Course)
		if err := json.Unmarshal(b, out.Course); err != nil {
			panic(err)
		}
	}
	out.Recordings = nil
	copied := map[*signal.Base]*signal.Base{}
	for _, r := range in.Recordings {
		q := *r
		q.Caveats = slices.Clone(r.Caveats)
		q.Channels = nil
		for _, ch := range r.Channels {
			d := *ch
			if copied[ch.Base] == nil {
				copied[ch.Base] = &signal.Base{T: slices.Clone(ch.Base.T)}
			}
			d.Base = copied[ch.Base]
			d.Values = slices.Clone(ch.Values)
			d.Valid = slices.Clone(ch.Valid)
			d.History = slices.Clone(ch.History)
			q.Channels = append(q.Channels, &d)
		}
		out.Recordings = append(out.Recordings, &q)
	}
	return out
}
