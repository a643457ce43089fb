// Package orders holds the verbs of the run order: plan it, advise what next, lay the
// cones, look the sets through.
package orders

import (
	"bytes"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/ordering"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/cmd/bookend/internal/verdicts"
	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
	"example.org/bookend/order/drift"
	"example.org/bookend/order/fitment"
	"example.org/bookend/programme"
	"example.org/bookend/stat/manyone"
	"example.org/bookend/unit"
)

// orderFlags are the words of bookend order as typed.
type orderFlags struct {
	control, correction, aim, weights, sided, scale, unit string
	candidates, own                                       []string
	repeats, controls, blocks, between, runs              int
	openEnds, twice, reversed                             bool
	seed                                                  uint64
	walk, rise, bow, power                                float64
	wanted, stintSD, runSD, history, earlier              string
	stintDF                                               float64

	start, wheel, wetting, warmUp, runTime, cooling, after string
	crew, wheels                                           int
	breaks                                                 []string
	daylight, at, date, zone                               string

	wearRun, wearWarmUp, wearMost string
	sets, controlSets             int

	sizes, axles []string
	speed        string

	driven, lost, left []string
	fresh              bool
	reason             string

	sheet, title string
	json         bool
}

// Order is the verb order: the sequence of stints before the day, or the rest of it planned anew.
func Order() *cobra.Command {
	var f orderFlags
	c := &cobra.Command{
		Use:   "order",
		Short: "plan in which order sets are fitted, so that drift does least harm",
		Long: `Plan in which order sets are fitted: the control first, last and in between,
candidates where drift of surface, weather and driver harms least. The answer
says how well each candidate will be told from the control under four kinds of
drift, what one control stint more or fewer would do, and, with a scatter, the
smallest difference that the order can show.

A scatter is typed in (--stint-sd 0.8%, or with a unit), pooled from control
stints of earlier programmes (--history), or taken from an earlier table
(--earlier). Drift is in standard deviations of a stint mean.`,
		Example: `  bookend order --candidates P,R,T,W --controls 4
  bookend order --candidates P:2,R:2 --controls 3 --stint-sd 0.8% --wanted 2
  bookend order --candidates P:2,R:2 --controls 3 --driven K,P --fresh \
    --reason 'shower at 11:20'
  bookend order --candidates P,R,T --controls 3 --start 08:30 --run-time 6min \
    --wheel 4min --at 57.1,-4.5 --date 2026-11-25 --zone Europe/London`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			q, err := f.request(c)
			if err != nil {
				return err
			}
			if len(f.driven) > 0 {
				return f.again(c, q)
			}
			for _, name := range []string{"fresh", "lost", "left", "reason"} {
				if c.Flags().Changed(name) {
					return fault.New(fault.Invalid, "--%s is for planning the rest anew, and nothing was driven", name).WithHint("name what was driven: --driven K,P,R")
				}
			}
			a, err := ordering.Order(q)
			if err != nil {
				return err
			}
			if f.sheet != "" {
				if err := f.writeSheet(a); err != nil {
					return err
				}
			}
			return terminal.Answer(c.OutOrStdout(), f.json, a.Document(), func(out io.Writer) { printOrder(out, a) })
		},
	}
	f.add(c)
	return c
}

func (f *orderFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.SortFlags = false
	fs.StringVar(&f.control, "control", "K", "code of the control")
	fs.StringSliceVar(&f.candidates, "candidates", nil, "codes, with stints of each where they differ: P,R or P:2,R:1")
	fs.IntVar(&f.repeats, "repeats", 1, "stints of each candidate")
	fs.IntVar(&f.controls, "controls", 0, "stints of the control; by itself as few as the rules need, from 3")
	fs.IntVar(&f.between, "between", 3, "most candidates between two controls; 0: any number")
	fs.IntVar(&f.blocks, "blocks", 1, "days, drivers or sessions")
	fs.IntVar(&f.runs, "runs", 1, "runs a stint")
	fs.BoolVar(&f.openEnds, "open-ends", false, "the control need not open and close")
	fs.BoolVar(&f.twice, "same-twice", false, "a code may follow itself")
	fs.BoolVar(&f.reversed, "reversed", false, "each pass through the candidates in reverse of the one before")
	fs.StringVar(&f.correction, "correction", "bracket", "of the comparison to come: none, bracket, linear or quadratic")
	fs.StringVar(&f.aim, "aim", "largest", "make the largest variance small, or their mean")
	fs.StringVar(&f.weights, "drift-weights", "1,1,1,1", "of constant, linear, quadratic and random-walk drift")
	fs.Float64Var(&f.walk, "walk", 0, "step of the random walk a stint; by itself the history's, or 0.3")
	fs.Float64Var(&f.rise, "rise", -1, "of linear drift over a block; by itself as far as the walk goes")
	fs.Float64Var(&f.bow, "bow", -1, "of the parabola over its middle; by itself as the walk")
	fs.Uint64Var(&f.seed, "seed", 1, "draws one of the orders near the best, and the codes into it")
	fs.StringSliceVar(&f.own, "own", nil, "an order of your own, to be scored beside: K,P,R,K; blocks divided by /")

	fs.StringVar(&f.scale, "scale", "ratio", "ratio (index points) or difference (a unit)")
	fs.StringVar(&f.stintSD, "stint-sd", "", "standard deviation of stints: 0.8%, or with a unit 0.25m")
	fs.Float64Var(&f.stintDF, "stint-df", 0, "its degrees of freedom, where a record will be used")
	fs.StringVar(&f.runSD, "run-sd", "", "standard deviation of runs within a stint")
	fs.StringVar(&f.history, "history", "", "control stints of earlier programmes: programme, position, value [, block]")
	fs.StringVar(&f.earlier, "earlier", "", "table of an earlier programme")
	fs.StringVar(&f.wanted, "wanted", "", "smallest difference to be shown: index points (2), or with a unit (0.5m)")
	fs.Float64Var(&f.power, "power", 0.8, "with which it is to be shown")
	fs.StringVar(&f.sided, "sided", "two", "intervals: two or one")

	fs.StringVar(&f.runTime, "run-time", "", "one run with its way back: 6min; makes a timetable")
	fs.StringVar(&f.start, "start", "08:00", "first fitting begins")
	fs.StringVar(&f.wheel, "wheel", "4min", "to change one wheel, pressure set")
	fs.IntVar(&f.crew, "crew", 1, "wheels changed at once")
	fs.IntVar(&f.wheels, "wheels", 4, "of a set")
	fs.StringVar(&f.wetting, "wetting", "0min", "of the surface, after fitting")
	fs.StringVar(&f.warmUp, "warm-up", "0min", "out lap or warm-up")
	fs.StringVar(&f.cooling, "cooling", "0min", "between runs")
	fs.StringVar(&f.after, "after", "0min", "after the last run: tread, ratings")
	fs.StringSliceVar(&f.breaks, "break", nil, "a break: 12:00-12:45")
	fs.StringVar(&f.daylight, "daylight", "", "when there is light: 08:10-15:40")
	fs.StringVar(&f.at, "at", "", "LAT,LON of the ground: daylight is computed")
	fs.StringVar(&f.date, "date", "", "day of the test: 2026-11-25")
	fs.StringVar(&f.zone, "zone", "UTC", "of the ground's clock: Europe/London")

	fs.StringVar(&f.wearMost, "wear-most", "", "tread that a set may lose: 2mm; makes a wear budget")
	fs.StringVar(&f.wearRun, "wear-run", "0mm", "tread lost by a run")
	fs.StringVar(&f.wearWarmUp, "wear-warm-up", "0mm", "tread lost by a warm-up")
	fs.IntVar(&f.sets, "sets", 1, "of each candidate")
	fs.IntVar(&f.controlSets, "control-sets", 1, "of the control")

	fs.StringArrayVar(&f.sizes, "size", nil, "a size that is fitted, as marked: '205/55 R16 91V'")
	fs.StringArrayVar(&f.axles, "axle", nil, "load on an axle and cold pressure: front:900kg:230kPa[:350kPa at most]")
	fs.StringVar(&f.speed, "speed", "", "highest speed that may be reached: 130km/h")

	fs.StringSliceVar(&f.driven, "driven", nil, "plan the rest anew; driven so far: K,P,R; blocks divided by /")
	fs.BoolVar(&f.fresh, "fresh", false, "the rest begins a block of its own, as after a shower")
	fs.StringSliceVar(&f.lost, "lost", nil, "codes that cannot be driven any more")
	fs.StringSliceVar(&f.left, "left", nil, "stints that sets still last: P:1,R:2")
	fs.StringVar(&f.reason, "reason", "", "what happened: it is kept as a deviation from the plan")

	fs.StringVar(&f.sheet, "sheet", "", "write the run sheet: FILE.html or FILE.txt")
	fs.StringVar(&f.title, "title", "", "of the run sheet")
	terminal.JSONFlag(c, &f.json)
}

func (f *orderFlags) request(c *cobra.Command) (ordering.Request, error) {
	q := ordering.Request{Scale: programme.Scale(f.scale)}
	q.Control, q.Blocks, q.MostBetween, q.Runs = f.control, f.blocks, f.between, f.runs
	q.OpenEnds, q.SameTwice, q.Reversed, q.Seed = f.openEnds, f.twice, f.reversed, f.seed
	q.Correction, q.Aim = drift.Correction(f.correction), drift.Aim(f.aim)
	if f.scale != "ratio" && f.scale != "difference" {
		return q, fault.New(fault.Invalid, "%q is no scale", f.scale).WithHint("--scale ratio, or --scale difference")
	}
	if len(f.candidates) == 0 {
		return q, fault.New(fault.Invalid, "no candidate is named").WithHint("for example --candidates P,R,T")
	}
	for _, text := range f.candidates {
		code, n, _ := strings.Cut(text, ":")
		k := order.Candidate{Code: code, Repeats: f.repeats}
		if n != "" {
			v, err := strconv.Atoi(n)
			if err != nil {
				return q, fault.New(fault.Invalid, "--candidates: %q is not CODE:STINTS", text).WithHint("for example P:2")
			}
			k.Repeats = v
		}
		q.Candidates = append(q.Candidates, k)
	}
	if q.ControlStints = f.controls; f.controls == 0 {
		q.ControlStints = order.UsualControls(q.Candidates, f.blocks, f.between)
	}
	if err := f.drift(c, &q); err != nil {
		return q, err
	}
	if err := f.scatter(&q); err != nil {
		return q, err
	}
	if err := f.times(c, &q); err != nil {
		return q, err
	}
	if err := f.wear(&q); err != nil {
		return q, err
	}
	if err := f.fitment(&q); err != nil {
		return q, err
	}
	q.Own = f.own
	return q, nil
}

func (f *orderFlags) drift(c *cobra.Command, q *ordering.Request) error {
	parts := strings.Split(f.weights, ",")
	if len(parts) != 4 {
		return fault.New(fault.Invalid, "--drift-weights: %q has not four weights", f.weights).WithHint("of constant, linear, quadratic and random-walk drift: 1,1,1,1")
	}
	for i, p := range parts {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil {
			return fault.New(fault.Invalid, "--drift-weights: %q is no number", p).WithHint("of constant, linear, quadratic and random-walk drift: 1,1,1,1")
		}
		q.Drift.Weights[i] = v
	}
	q.Drift.StepSD = f.walk
	if c.Flags().Changed("rise") {
		q.Drift.RiseSD = &f.rise
	}
	if c.Flags().Changed("bow") {
		q.Drift.BowSD = &f.bow
	}
	return nil
}

// deviation reads a standard deviation: per cent on the ratio scale, a quantity
// on the difference scale.
func (f *orderFlags) deviation(flag, text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	if f.scale == "ratio" {
		v, err := strconv.ParseFloat(strings.TrimSuffix(text, "%"), 64)
		if err != nil || !strings.HasSuffix(text, "%") || !(v > 0) {
			return 0, fault.New(fault.Invalid, "%s: %q is no percentage above 0", flag, text).WithHint("for example %s 0.8%%; with a unit: --scale difference", flag)
		}
		return v / 100, nil // a small deviation of the logarithm is one of the value over its level
	}
	return f.difference(flag, text)
}

func (f *orderFlags) difference(flag, text string) (float64, error) {
	v, u, err := unit.ParseQuantity(text)
	if err != nil {
		return 0, fault.At(err, "%s", flag)
	}
	if u.IsZero() {
		u = unit.One
	}
	house := u.House().Symbol()
	if f.unit != "" && f.unit != house {
		return 0, fault.New(fault.Invalid, "%s: %q is in %s, what stands before in %s", flag, text, house, f.unit).WithHint("scatter and what is wanted are of one measure, in its unit")
	}
	f.unit = house
	if v = u.DifferenceToHouse(v); !(v > 0) {
		return 0, fault.New(fault.Invalid, "%s: %q is not above 0", flag, text).WithHint("for example %s 0.25m", flag)
	}
	return v, nil
}

func (f *orderFlags) scatter(q *ordering.Request) error {
	var s programme.Scatter
	var err error
	if s.StintSD, err = f.deviation("--stint-sd", f.stintSD); err != nil {
		return err
	}
	if s.RunSD, err = f.deviation("--run-sd", f.runSD); err != nil {
		return err
	}
	s.StintDF, s.FromText = f.stintDF, "typed in"
	if f.stintSD != "" || f.runSD != "" {
		q.Scatter = &s
	}
	if q.History, err = verdicts.HistoryIn(f.history); err != nil {
		return err
	}
	if f.earlier != "" {
		data, err := logger.ReadTable(f.earlier)
		if err != nil {
			return fault.At(err, "--earlier")
		}
		q.Earlier = &app.CompareRequest{Name: filepath.Base(f.earlier), Data: data, Better: programme.Higher}
	}
	if f.wanted != "" {
		if f.scale == "ratio" {
			q.Test.Wanted, err = points(f.wanted)
		} else {
			q.Test.Wanted, err = f.difference("--wanted", f.wanted)
		}
		if err != nil {
			return err
		}
	}
	q.Unit = f.unit
	q.Test.Power = f.power
	switch f.sided {
	case "two":
		q.Test.Sided = manyone.TwoSided
	case "one":
		q.Test.Sided = manyone.Upper
	default:
		return fault.New(fault.Invalid, "--sided: %q is neither two nor one", f.sided).WithHint("--sided two, or --sided one")
	}
	return nil
}

// duration reads a span of time.
func duration(flag, text string) (float64, error) {
	return quantity(flag, text, unit.Second, "6min")
}

// quantity reads a quantity of the dimension of a unit, in its house unit.
func quantity(flag, text string, of unit.Unit, example string) (float64, error) {
	v, u, err := unit.ParseQuantity(text)
	if err != nil {
		return 0, fault.At(err, "%s", flag)
	}
	if u.IsZero() || u.Dimension() != of.Dimension() {
		return 0, fault.New(fault.Invalid, "%s: %q is no %s", flag, text, of.Dimension()).WithHint("for example %s %s", flag, example)
	}
	return u.ToHouse(v), nil
}

// clockOf reads a time of the day, in s from midnight.
func clockOf(flag, text string) (float64, error) {
	h, m, ok := strings.Cut(text, ":")
	hours, err1 := strconv.Atoi(h)
	minutes, err2 := strconv.Atoi(m)
	if !ok || err1 != nil || err2 != nil || hours < 0 || hours > 24 || minutes < 0 || minutes > 59 || len(m) != 2 {
		return 0, fault.New(fault.Invalid, "%s: %q is no time of the day", flag, text).WithHint("for example 08:30")
	}
	return float64(hours*3600 + minutes*60), nil
}

func spanOf(flag, text string) (day.Span, error) {
	from, to, ok := strings.Cut(text, "-")
	if !ok {
		return day.Span{}, fault.New(fault.Invalid, "%s: %q is no span of the day", flag, text).WithHint("for example 12:00-12:45")
	}
	a, err := clockOf(flag, from)
	if err != nil {
		return day.Span{}, err
	}
	b, err := clockOf(flag, to)
	return day.Span{FromS: a, ToS: b}, err
}

func (f *orderFlags) times(c *cobra.Command, q *ordering.Request) error {
	if f.runTime == "" {
		for _, name := range []string{"start", "wheel", "wetting", "warm-up", "cooling", "after", "break", "daylight", "at", "date", "crew"} {
			if c.Flags().Changed(name) {
				return fault.New(fault.Invalid, "--%s belongs to a timetable, and it is not said how long a run takes", name).WithHint("for example --run-time 6min")
			}
		}
		return nil
	}
	t := day.Times{Crew: f.crew, Wheels: f.wheels}
	var err error
	for _, d := range []struct {
		flag, text string
		to         *float64
	}{{"--run-time", f.runTime, &t.RunS}, {"--wheel", f.wheel, &t.WheelS}, {"--wetting", f.wetting, &t.WettingS}, {"--warm-up", f.warmUp, &t.WarmUpS}, {"--cooling", f.cooling, &t.CoolingS}, {"--after", f.after, &t.AfterS}} {
		if *d.to, err = duration(d.flag, d.text); err != nil {
			return err
		}
	}
	if t.StartS, err = clockOf("--start", f.start); err != nil {
		return err
	}
	for _, b := range f.breaks {
		s, err := spanOf("--break", b)
		if err != nil {
			return err
		}
		t.Breaks = append(t.Breaks, s)
	}
	if f.daylight != "" {
		s, err := spanOf("--daylight", f.daylight)
		if err != nil {
			return err
		}
		t.Light = &s
	}
	q.Times = &t
	if f.at == "" {
		return nil
	}
	if f.daylight != "" {
		return fault.New(fault.Invalid, "daylight is typed in and to be computed").WithHint("--daylight, or --at and --date")
	}
	lat, lon, err := place(f.at)
	if err != nil {
		return err
	}
	q.Sun = &ordering.SunAt{Sun: day.Sun{Latitude: lat, Longitude: lon}, Day: f.date, Zone: f.zone}
	return nil
}

func (f *orderFlags) wear(q *ordering.Request) error {
	w := day.Wear{Sets: f.sets, ControlSets: f.controlSets}
	if f.wearMost != "" {
		var err error
		for _, d := range []struct {
			flag, text string
			to         *float64
		}{{"--wear-most", f.wearMost, &w.MostM}, {"--wear-run", f.wearRun, &w.RunM}, {"--wear-warm-up", f.wearWarmUp, &w.WarmUpM}} {
			if *d.to, err = quantity(d.flag, d.text, unit.Metre, "0.1mm"); err != nil {
				return err
			}
		}
	}
	if f.wearMost != "" || f.sets != 1 || f.controlSets != 1 {
		q.Wear = &w
	}
	return nil
}

func (f *orderFlags) fitment(q *ordering.Request) error {
	if len(f.sizes) == 0 && len(f.axles) == 0 && f.speed == "" {
		return nil
	}
	if len(f.sizes) == 0 || f.speed == "" {
		return fault.New(fault.Invalid, "load, speed and pressure are to be checked, but size or speed is missing").
			WithHint("--size '205/55 R16 91V' --axle front:900kg:230kPa --speed 130km/h")
	}
	speed, err := quantity("--speed", f.speed, unit.MetrePerSecond, "130km/h")
	if err != nil {
		return err
	}
	fit, field, err := fitment.Parse(f.sizes, f.axles, speed)
	if err != nil {
		return fault.At(err, "%s", map[string]string{fitment.Sizes: "--size", fitment.Axles: "--axle", fitment.Speed: "--speed"}[field])
	}
	q.Fitment = fit
	return nil
}

// again plans the rest anew.
func (f *orderFlags) again(c *cobra.Command, plan ordering.Request) error {
	q := ordering.ReorderRequest{Plan: plan, Driven: f.driven, Fresh: f.fresh, Lost: f.lost, Reason: f.reason}
	var err error
	if q.Left, err = stintsLeft(f.left); err != nil {
		return err
	}
	if f.sheet != "" {
		return fault.New(fault.Invalid, "--sheet prints a whole plan").WithHint("leave it out with --driven")
	}
	a, err := ordering.Reorder(q)
	if err != nil {
		return err
	}
	return terminal.Answer(c.OutOrStdout(), f.json, a.Document(), func(out io.Writer) { printReorder(out, a) })
}

// stintsLeft reads CODE:STINTS pairs.
func stintsLeft(list []string) (map[string]int, error) {
	var out map[string]int
	for _, text := range list {
		code, n, _ := strings.Cut(text, ":")
		v, err := strconv.Atoi(n)
		if err != nil || v < 0 {
			return nil, fault.New(fault.Invalid, "--left: %q is not CODE:STINTS", text).WithHint("for example P:1")
		}
		if out == nil {
			out = map[string]int{}
		}
		out[code] = v
	}
	return out, nil
}

// writeSheet writes the run sheet, HTML or text by the file's ending.
func (f *orderFlags) writeSheet(a *ordering.Answer) error {
	s := sheetOf(a, f.title, f.date)
	var b bytes.Buffer
	var err error
	switch strings.ToLower(filepath.Ext(f.sheet)) {
	case ".html", ".htm":
		err = s.HTML(&b)
	case ".txt":
		err = s.Text(&b)
	default:
		return fault.New(fault.Invalid, "--sheet: %q ends neither in .html nor in .txt", f.sheet).WithHint("for example --sheet run-sheet.html")
	}
	if err != nil {
		return err
	}
	return terminal.Put(f.sheet, b.Bytes())
}
