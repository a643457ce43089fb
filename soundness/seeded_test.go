package soundness_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/signal"
	"example.org/bookend/sim"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/write"
	"example.org/bookend/soundness"
	"example.org/bookend/soundness/mend"
)

// logged is a recording as a logger of the synthetic ground wrote it, to be spoilt
// before it is read: rows of cells, and the time of each row in s.
type logged struct {
	names []string
	cells [][]string
	t     []float64
}

// simulated drives one stint and gives its recording.
func simulated(t testing.TB, seed uint64, test string, runs int) *logged {
	t.Helper()
	s := sim.SkerryMoor(seed)
	d, err := s.Test(test)
	if err != nil {
		t.Fatal(err)
	}
	d.Order, d.Runs, d.Incidents = []string{"K"}, runs, nil
	var first *write.File
	take := func(f write.File) error {
		if first == nil {
			first = &f
		}
		return nil
	}
	if err := s.Write(d, take, nil); err != nil {
		t.Fatal(err)
	}
	l := &logged{}
	for i, line := range strings.Split(strings.TrimSuffix(string(first.Data), "\n"), "\n") {
		row := strings.Split(line, ",")
		if i == 0 {
			l.names = row
			continue
		}
		at, err := time.Parse("2006-01-02T15:04:05.000Z", row[0])
		if err != nil {
			t.Fatal(err)
		}
		l.cells = append(l.cells, row)
		l.t = append(l.t, float64(at.UnixMilli())/1000)
	}
	return l
}

// copied gives a copy that can be spoilt by itself.
func (l *logged) copied() *logged {
	out := &logged{names: l.names, t: slices.Clone(l.t)}
	for _, r := range l.cells {
		out.cells = append(out.cells, slices.Clone(r))
	}
	return out
}

func (l *logged) column(name string) int {
	i := slices.Index(l.names, name)
	if i < 0 {
		panic("no column " + name)
	}
	return i
}

// values gives a column as numbers; missing cells are NaN, which stays in the test.
func (l *logged) values(name string) []float64 {
	k := l.column(name)
	out := make([]float64, len(l.cells))
	for i, r := range l.cells {
		out[i] = math.NaN()
		if r[k] != "" {
			out[i], _ = strconv.ParseFloat(r[k], 64)
		}
	}
	return out
}

// change rewrites a column cell by cell with four decimals.
func (l *logged) change(name string, f func(i int, v float64) float64) {
	k := l.column(name)
	v := l.values(name)
	for i := range l.cells {
		if x := f(i, v[i]); !math.IsNaN(x) {
			l.cells[i][k] = strconv.FormatFloat(x, 'f', 4, 64)
		}
	}
}

// read reads what is left as the reader of text logs does.
func (l *logged) read(t testing.TB, name string) *signal.Recording {
	t.Helper()
	var b bytes.Buffer
	fmt.Fprintln(&b, strings.Join(l.names, ","))
	for i, r := range l.cells {
		at := time.UnixMilli(int64(math.Round(l.t[i] * 1000))).UTC().Format("2006-01-02T15:04:05.000Z")
		fmt.Fprintln(&b, at+","+strings.Join(r[1:], ","))
	}
	rec, err := delimited.New().Read(context.Background(), &b, ingest.Options{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// midway gives the row at a share of the time in which the vehicle is quick: it
// moves at more than 8 m/s for a second about it.
func (l *logged) midway(share float64) int {
	v := l.values("speed_kmh")
	second := l.rows(1)
	for i := int(share * float64(len(v))); i+2*second < len(v); i++ {
		if slices.Min(v[max(0, i-second):i+2*second]) > 8*3.6 {
			return i
		}
	}
	panic("the vehicle never moves")
}

// rows gives how many rows a time in s is.
func (l *logged) rows(seconds float64) int { return int(math.Round(seconds / (l.t[1] - l.t[0]))) }

// late lets a column come later by a time in s.
func (l *logged) late(name string, seconds float64) {
	k, rows := l.column(name), l.rows(seconds)
	for i := len(l.cells) - 1; i >= rows; i-- {
		l.cells[i][k] = l.cells[i-rows][k]
	}
	for i := range rows {
		l.cells[i][k] = ""
	}
}

// seed is one fault and what is to be found.
type seed struct {
	name    string
	on      string // test of the scenario
	spoil   func(l *logged)
	code    string   // of the finding
	channel string   // that it is about; empty: whichever
	also    []string // other codes that the same fault may show rightly
	mended  func(m []mend.Mend) bool
}

func by(what string, want, within float64) func([]mend.Mend) bool {
	return func(m []mend.Mend) bool {
		return slices.ContainsFunc(m, func(x mend.Mend) bool { return x.What == what && math.Abs(x.Value-want) <= within })
	}
}

func scaled(name string, f float64) func(*logged) {
	return func(l *logged) { l.change(name, func(_ int, v float64) float64 { return f * v }) }
}

func shifted(name string, d float64) func(*logged) {
	return func(l *logged) { l.change(name, func(_ int, v float64) float64 { return v + d }) }
}

func stuck(name string, seconds float64) func(*logged) {
	return func(l *logged) {
		at := l.midway(0.4)
		k := l.column(name)
		for i := at; i < at+l.rows(seconds); i++ {
			l.cells[i][k] = l.cells[at][k]
		}
	}
}

func clipped(name string, share float64) func(*logged) {
	return func(l *logged) {
		most := 0.0
		for _, v := range l.values(name) {
			if !math.IsNaN(v) {
				most = math.Max(most, math.Abs(v))
			}
		}
		limit := math.Round(most*share*100) / 100
		l.change(name, func(_ int, v float64) float64 { return math.Max(-limit, math.Min(limit, v)) })
	}
}

const perDegree = math.Pi / 180

func seeds() []seed {
	var out []seed
	add := func(on, code, channel string, spoil func(*logged), mended func([]mend.Mend) bool, also ...string) {
		out = append(out, seed{name: code + " " + channel + " " + on, on: on, spoil: spoil, code: code, channel: channel, also: also, mended: mended})
	}
	for _, c := range []string{"ay_mps2", "yaw_rate_degps", "steering_angle_deg"} {
		add("dry-lap", "flipped_sign", c, scaled(c, -1), by(mend.Sign, -1, 0))
	}
	add("wet-stop", "flipped_sign", "ax_mps2", scaled("ax_mps2", -1), by(mend.Sign, -1, 0))
	add("wet-lap", "flipped_sign", "ax_mps2", scaled("ax_mps2", -1), by(mend.Sign, -1, 0))

	add("dry-lap", "wrong_unit", "wheel_speed_fl_kmh", scaled("wheel_speed_fl_kmh", 1/3.6), by(mend.Scale, 3.6, 1e-9))
	add("wet-stop", "wrong_unit", "wheel_speed_rr_kmh", scaled("wheel_speed_rr_kmh", 1/1.609344), by(mend.Scale, 1.609344, 1e-9))
	add("dry-lap", "wrong_unit", "ay_mps2", scaled("ay_mps2", 1/9.80665), by(mend.Scale, 9.80665, 1e-9))
	add("wet-stop", "wrong_unit", "ax_mps2", scaled("ax_mps2", 1/9.80665), by(mend.Scale, 9.80665, 1e-9))
	add("wet-lap", "wrong_unit", "yaw_rate_degps", scaled("yaw_rate_degps", perDegree), by(mend.Scale, 1/perDegree, 1e-9))
	add("dry-lap", "wrong_unit", "steering_angle_deg", scaled("steering_angle_deg", perDegree), by(mend.Scale, 1/perDegree, 1e-9))

	add("dry-lap", "scale_error", "wheel_speed_fr_kmh", scaled("wheel_speed_fr_kmh", 0.88), by(mend.Scale, 1/0.88, 0.04))
	add("wet-stop", "scale_error", "wheel_speed_fr_kmh", scaled("wheel_speed_fr_kmh", 1.05), by(mend.Scale, 1/1.05, 0.02))
	add("dry-lap", "scale_error", "yaw_rate_degps", scaled("yaw_rate_degps", 1.12), by(mend.Scale, 1/1.12, 0.02))
	add("dry-lap", "scale_error", "ay_mps2", scaled("ay_mps2", 0.8), by(mend.Scale, 1/0.8, 0.15))
	add("wet-stop", "scale_error", "ax_mps2", scaled("ax_mps2", 1.3), by(mend.Scale, 1/1.3, 0.08))

	add("dry-lap", "offset", "yaw_rate_degps", shifted("yaw_rate_degps", -0.6), by(mend.Offset, 0.6*perDegree, 0.2*perDegree))
	add("wet-lap", "offset", "ay_mps2", shifted("ay_mps2", 0.6), by(mend.Offset, -0.6, 0.2))
	add("wet-stop", "offset", "ax_mps2", shifted("ax_mps2", -0.8), by(mend.Offset, 0.8, 0.3))
	add("dry-lap", "offset", "steering_angle_deg", shifted("steering_angle_deg", 6), by(mend.Offset, -6*perDegree, 2*perDegree))

	add("dry-lap", "stuck_channel", "ay_mps2", stuck("ay_mps2", 2), nil)
	add("wet-lap", "stuck_channel", "yaw_rate_degps", stuck("yaw_rate_degps", 3), nil)
	add("wet-lap", "stuck_channel", "speed_kmh", stuck("speed_kmh", 2), nil)
	add("dry-lap", "stuck_channel", "wheel_speed_rl_kmh", stuck("wheel_speed_rl_kmh", 2), nil)
	add("dry-lap", "stuck_channel", "steering_angle_deg", stuck("steering_angle_deg", 6), nil)

	add("dry-lap", "clipped_channel", "ay_mps2", clipped("ay_mps2", 0.6), nil)
	add("dry-lap", "clipped_channel", "yaw_rate_degps", clipped("yaw_rate_degps", 0.6), nil)
	add("wet-stop", "clipped_channel", "ax_mps2", clipped("ax_mps2", 0.6), nil)

	add("dry-lap", "clock_jump", "", func(l *logged) {
		for i := l.midway(0.5); i < len(l.t); i++ {
			l.t[i] += 2.5
		}
	}, by(mend.Move, -2.5, 0.02))
	add("wet-stop", "clock_jump", "", func(l *logged) {
		for i := l.midway(0.3); i < len(l.t); i++ {
			l.t[i] += 60
		}
	}, by(mend.Move, -60, 0.02))
	add("dry-lap", "gap", "", func(l *logged) {
		i := l.midway(0.5)
		l.cells, l.t = slices.Delete(l.cells, i, i+l.rows(1.5)), slices.Delete(l.t, i, i+l.rows(1.5))
	}, by(mend.Split, 0.1, 0.05))

	add("dry-lap", "duplicate_stamp", "", func(l *logged) {
		for _, i := range []int{l.midway(0.2), l.midway(0.5), l.midway(0.7)} {
			l.t[i+1] = l.t[i]
		}
	}, nil)
	add("wet-stop", "backward_stamp", "", func(l *logged) {
		for i := l.midway(0.6); i < len(l.t); i++ {
			l.t[i] -= 1.2
		}
	}, nil)
	add("dry-lap", "late_channel", "yaw_rate_degps", func(l *logged) { l.late("yaw_rate_degps", 0.4) }, by(mend.Move, -0.4, 0.1))
	add("dry-lap", "late_channel", "ay_mps2", func(l *logged) { l.late("ay_mps2", 0.25) }, by(mend.Move, -0.25, 0.08))
	add("wet-stop", "late_channel", "wheel_speed_fl_kmh", func(l *logged) { l.late("wheel_speed_fl_kmh", 0.3) }, by(mend.Move, -0.3, 0.05))
	add("dry-lap", "late_channel", "steering_angle_deg", func(l *logged) { l.late("steering_angle_deg", 0.6) }, nil)
	add("dry-lap", "late_channel", "speed_kmh", func(l *logged) {
		for _, c := range []string{"latitude_deg", "longitude_deg", "speed_kmh", "course_deg"} {
			l.late(c, 0.3)
		}
	}, by(mend.Move, -0.3, 0.08))

	add("dry-lap", "contradicts", "ay_mps2", func(l *logged) {
		a, b := l.column("ay_mps2"), l.column("brake")
		for _, r := range l.cells {
			r[a] = r[b]
		}
	}, nil, "offset")
	return out
}

// judged says what was found, one line a finding.
func judged(f []soundness.Finding) string {
	var b strings.Builder
	for _, x := range f {
		fmt.Fprintf(&b, "  %s: %s: %s %v\n", x.Code, x.Place, x.Text, x.Mends)
	}
	return b.String()
}

// Each fault, seeded into a sound recording of the synthetic ground, is found and
// named rightly, with a mend that is near what was done, and nothing else is said.
// Truth is what the test itself did to the file.
func TestSeededFaultsAreFoundAndNamed(t *testing.T) {
	sound := map[string]*logged{}
	drives := []uint64{11}
	if os.Getenv("BOOKEND_PROOF") != "" {
		drives = []uint64{11, 12, 13, 14, 15, 16, 17, 18, 19, 20}
	}
	for _, drive := range drives {
		clear(sound)
		for _, s := range seeds() {
			if sound[s.on] == nil {
				sound[s.on] = simulated(t, drive, s.on, 2)
			}
			t.Run(fmt.Sprintf("%s %d", s.name, drive), func(t *testing.T) {
				l := sound[s.on].copied()
				s.spoil(l)
				rec := l.read(t, "spoilt.csv")
				got, err := soundness.Judge(rec)
				if err != nil {
					t.Fatal(err)
				}
				found := rec.Caveats.Has(s.code) && (s.code == "duplicate_stamp" || s.code == "backward_stamp") // the reader says so
				for _, f := range got {
					switch {
					case f.Code == s.code && (s.channel == "" || f.Place.Channel == s.channel):
						found = true
						if s.mended != nil && !s.mended(f.Mends) {
							t.Errorf("the mend is %v", f.Mends)
						}
						if len(f.Mends) == 0 {
							t.Error("no mend is proposed")
						}
					case !slices.Contains(s.also, f.Code):
						t.Errorf("it says besides: %s %s: %s", f.Code, f.Place, f.Text)
					}
				}
				if !found {
					t.Errorf("not found; said was:\n%s", judged(got))
				}
			})
		}
	}
}

// kinds is every manoeuvre of the synthetic ground, a few runs each.
var kinds = []sim.Ask{
	{Kind: sim.Stops, Runs: 2}, {Kind: sim.Laps, Runs: 2}, {Kind: sim.Laps, Course: ground.WetHandling(), Runs: 2}, {Kind: sim.Slalom, Runs: 3},
	{Kind: sim.LaneChange, Runs: 3}, {Kind: sim.Circle, Runs: 1}, {Kind: sim.StepSteer, Runs: 1}, {Kind: sim.Sweep, Runs: 1},
	{Kind: sim.SineDwell, Runs: 1}, {Kind: sim.FloatLine, Runs: 2}, {Kind: sim.FloatCircle, Runs: 1},
}

// Sound recordings of any manoeuvre draw no finding: a hundred of one logger with
// BOOKEND_PROOF=1, else a few.
func TestSoundRecordingsDrawNothing(t *testing.T) {
	n := len(kinds)
	if os.Getenv("BOOKEND_PROOF") != "" {
		n = 10 * len(kinds)
	}
	alarms := 0
	for i := range n {
		a := kinds[i%len(kinds)]
		a.Seed = uint64(100 + i)
		d, err := sim.Drive(a)
		if err != nil {
			t.Fatal(err)
		}
		rec := text(t, d.Files[0].Name, d.Files[0].Data, "")
		got, err := soundness.Judge(rec)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) > 0 {
			alarms++
			t.Errorf("seed %d, %s:\n%s", a.Seed, a.Kind, judged(got))
		}
	}
	t.Logf("%d of %d recordings draw a false alarm", alarms, n)
}

// On a handling lap every role that has something beside it is confirmed; a channel
// whose content is another's is not.
func TestRolesAreConfirmedByPhysics(t *testing.T) {
	l := simulated(t, 11, "wet-lap", 2)
	names := func(rec *signal.Recording) map[string]float64 {
		_, sure, err := soundness.Examine(rec)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]float64{}
		for _, c := range sure {
			out[c.Channel] = c.Correlation
		}
		return out
	}
	got := names(l.read(t, "sound.csv"))
	for _, c := range []string{"speed_kmh", "ax_mps2", "ay_mps2", "yaw_rate_degps", "steering_angle_deg", "wheel_speed_fl_kmh", "wheel_speed_rr_kmh"} {
		if r := got[c]; r < 0.8 {
			t.Errorf("%s is not confirmed: %.2f", c, r)
		}
	}
	a, b := l.column("ay_mps2"), l.column("throttle")
	for _, r := range l.cells {
		r[a] = r[b]
	}
	if r, ok := names(l.read(t, "spoilt.csv"))["ay_mps2"]; ok {
		t.Errorf("a throttle is confirmed as a lateral acceleration: %.2f", r)
	}
}
