// Package laid lays the laps of a test over each other, for figures: the time gained on
// the control along the lap, and lateral acceleration against sideslip past its peak.
//
// Times in s, stations in m, lateral acceleration in m/s², sideslip in rad in what comes
// in and in degrees in the figures. Everything is description: room compare gives
// verdicts. It sees traces of procedure lap and nothing else of it.
package laid

import (
	"math"
	"slices"
	"strconv"

	"example.org/bookend/course"
	"example.org/bookend/figure"
	"example.org/bookend/procedure"
	"example.org/bookend/procedure/lap/corner"
	"example.org/bookend/unit"
)

// Setting is what the figures need to know of the procedure.
type Setting struct {
	Title string      // of the test
	Way   float64     // rad, past the peak
	Rule  corner.Rule // of what a corner is
}

// Figures gives the figures that the traces of all runs allow.
func (q Setting) Figures(in []procedure.Overlaid) []figure.Figure {
	var out []figure.Figure
	if f := q.gain(in); f != nil {
		out = append(out, f)
	}
	if f := q.peak(in); f != nil {
		out = append(out, f)
	}
	return out
}

// places is how many stations a figure samples (own choice: two a point of the
// figure's width are more than is seen).
const places = 400

// timed is one run's time by station.
type timed struct {
	code, stint string
	x, y        []float64
}

// codesOf gives the codes in the order of their first runs.
func codesOf[T any](runs []T, code func(T) string) []string {
	var out []string
	for _, r := range runs {
		if !slices.Contains(out, code(r)) {
			out = append(out, code(r))
		}
	}
	return out
}

// byStation gives each run's time by station; own tells that stations are those of the
// first lap's path, because the course has no reference line.
func byStation(in []procedure.Overlaid) (runs []timed, own bool) {
	trace := func(o procedure.Overlaid, id string) (procedure.Trace, bool) {
		for _, tr := range o.Traces {
			if tr.ID == id && len(tr.X) > 1 {
				return tr, true
			}
		}
		return procedure.Trace{}, false
	}
	for _, o := range in {
		if tr, ok := trace(o, "time_by_station"); ok {
			runs = append(runs, timed{o.Code, o.Stint, tr.X, tr.Y})
		}
	}
	if len(runs) > 0 {
		return runs, false
	}
	var line *course.Line
	for _, o := range in {
		e, ok1 := trace(o, "east_by_time")
		n, ok2 := trace(o, "north_by_time")
		if !ok1 || !ok2 || len(e.X) != len(n.X) {
			continue
		}
		var at []course.Point
		for i := range e.X {
			at = append(at, course.Point{East: e.Y[i], North: n.Y[i]})
		}
		if line == nil {
			l, err := course.Learn(at, true, 1)
			if err != nil {
				continue // no closed lap to lay others onto
			}
			line = l
		}
		s, _ := line.Follow(at)
		s = line.Unwrap(s)
		first := s[0]
		q := timed{code: o.Code, stint: o.Stint}
		for i := range s {
			if k := len(q.x); k == 0 || s[i]-first > q.x[k-1] {
				q.x, q.y = append(q.x, s[i]-first), append(q.y, e.X[i])
			}
		}
		if len(q.x) > 1 {
			runs = append(runs, q)
		}
	}
	return runs, true
}

// gain gives the time gained on the control along the lap: at each station of the
// reference line the mean time of the control's stints less that of the code's, a
// stint's time being the mean of its laps. Bands are 95 % intervals from how stints
// scatter about their code's mean, all codes' scatter pooled, each place by itself;
// without two stints of a code there are none.
//
// Without a reference line stations are counted along the path of the first lap, onto which
// the others are laid. There is no figure with fewer than two codes.
func (q Setting) gain(in []procedure.Overlaid) figure.Figure {
	runs, own := byStation(in)
	codes := codesOf(runs, func(r timed) string { return r.code })
	if len(codes) < 2 {
		return nil
	}
	// The grid ends where the shortest lap does.
	end := math.Inf(1)
	for _, r := range runs {
		end = math.Min(end, r.x[len(r.x)-1])
	}
	grid := make([]float64, places+1)
	for i := range grid {
		grid[i] = end * float64(i) / places
	}
	grid[places] = end
	means := make([][]float64, len(codes))
	stints := make([]float64, len(codes))
	square, df := make([]float64, len(grid)), 0.0
	spread, spreadDF := 0.0, 0.0 // of lap times within stints
	for c, code := range codes {
		var of [][]float64
		var names []string
		for _, r := range runs {
			if r.code == code && !slices.Contains(names, r.stint) {
				names = append(names, r.stint)
			}
		}
		means[c] = make([]float64, len(grid))
		for _, name := range names {
			n := 0.0
			sum := make([]float64, len(grid))
			var last []float64
			for _, r := range runs {
				if r.code != code || r.stint != name {
					continue
				}
				v, _ := course.ByStation(r.x, r.y, grid)
				n++
				for i := range v {
					sum[i] += v[i]
				}
				last = append(last, r.y[len(r.y)-1])
			}
			mean := 0.0
			for _, v := range last {
				mean += v / n
			}
			for _, v := range last {
				spread += (v - mean) * (v - mean)
			}
			spreadDF += n - 1
			for i := range sum {
				sum[i] /= n
				means[c][i] += sum[i] / float64(len(names))
			}
			of = append(of, sum)
		}
		stints[c] = float64(len(names))
		for _, s := range of {
			for i := range s {
				square[i] += (s[i] - means[c][i]) * (s[i] - means[c][i])
			}
		}
		df += stints[c] - 1
	}
	f := &figure.GainAlongTheLap{
		Value:   figure.Axis{Name: "time gained, s", Better: figure.Rising, Signed: true},
		Station: figure.Axis{Name: "station from the start gate, m"},
		Corners: q.bends(in),
	}
	f.Codes = figure.Codes{Control: codes[0], Candidates: codes[1:]}
	f.Test = q.Title
	banded := df >= 1
	if own {
		f.Station.Name = "station along the first lap's path, m"
	}
	words := "Means of stints. It describes without correction for drift and gives no verdict."
	if banded {
		words += " Bands are 95 % by the scatter of all codes’ stints; grey: the control."
	}
	var once []string
	for c := range codes {
		if stints[c] == 1 {
			once = append(once, codes[c])
		}
	}
	if single := procedure.OnOneStint(once, len(codes)); single != "" {
		words += " " + single + "."
	}
	if spreadDF >= 1 {
		words += " Laps of a stint scatter by " + unit.Second.Format(math.Sqrt(spread/spreadDF), 2, unit.Style{}) + "."
	}
	f.Sub = figure.Say(words)
	f.SubShort = figure.Say("Means of stints. No verdict.")
	half := func(i int, c int) float64 {
		return procedure.Student(df) * math.Sqrt(square[i]/df*(1/stints[c]+1/stints[0]))
	}
	for c := 1; c < len(codes); c++ {
		q := figure.Curve{Code: codes[c], X: grid, Y: make([]float64, len(grid))}
		for i := range q.Y {
			q.Y[i] = means[0][i] - means[c][i]
			if banded {
				h := half(i, c)
				q.Low, q.High = append(q.Low, q.Y[i]-h), append(q.High, q.Y[i]+h)
			}
		}
		e := figure.Finish{Code: codes[c], Estimate: q.Y[places], Value: unit.Second.FormatDifference(q.Y[places], 2, unit.Style{})}
		if banded {
			low, high := q.Low[places], q.High[places]
			e.Low, e.High = &low, &high
			e.Interval = unit.SignedInterval(low, high, 2, unit.Style{})
		}
		f.Curves, f.Finishes = append(f.Curves, q), append(f.Finishes, e)
	}
	f.Title = ended(codes[0], f.Finishes)
	if banded && stints[0] > 1 {
		itself := figure.Curve{Code: codes[0], X: grid, Y: make([]float64, len(grid))}
		for i := range grid {
			h := procedure.Student(df) * math.Sqrt(square[i]/df/stints[0])
			itself.Low, itself.High = append(itself.Low, -h), append(itself.High, h)
		}
		f.Itself = &itself
		low, high := itself.Low[places], itself.High[places]
		f.Finishes = append(f.Finishes, figure.Finish{Code: codes[0], Low: &low, High: &high, Value: "control", Interval: unit.PlusMinus(high, 2, unit.Style{})})
	}
	return f
}

// ended says who was farthest ahead of the control at the end of the lap, and who farthest
// behind it.
func ended(control string, list []figure.Finish) figure.Text {
	first, last := list[0], list[0]
	for _, e := range list {
		if e.Estimate > first.Estimate {
			first = e
		}
		if e.Estimate < last.Estimate {
			last = e
		}
	}
	by := func(e figure.Finish) string { return " " + unit.Second.Format(math.Abs(e.Estimate), 2, unit.Style{}) }
	const seen = 0.005 // s, what two digits show
	switch {
	case first.Estimate >= seen && last.Estimate <= -seen:
		return figure.Say(figure.CodeOf(first.Code), " ended the lap"+by(first)+" ahead of ", figure.CodeOf(control), ", ", figure.CodeOf(last.Code), by(last)+" behind")
	case first.Estimate >= seen:
		return figure.Say(figure.CodeOf(first.Code), " ended the lap"+by(first)+" ahead of ", figure.CodeOf(control))
	case last.Estimate <= -seen:
		return figure.Say(figure.CodeOf(last.Code), " ended the lap"+by(last)+" behind ", figure.CodeOf(control))
	}
	return figure.Say("All codes ended the lap with ", figure.CodeOf(control))
}

// bends gives the corners of the course for a figure, from the first run that has its
// curvature by station.
func (q Setting) bends(in []procedure.Overlaid) []figure.Corner {
	for _, o := range in {
		for _, tr := range o.Traces {
			if tr.ID != "curvature_by_station" {
				continue
			}
			var out []figure.Corner
			for _, c := range q.Rule.Find(tr.X, tr.Y) {
				out = append(out, figure.Corner{Name: strconv.Itoa(c.Number), From: c.From, To: c.To, Left: c.Left})
			}
			return out
		}
	}
	return nil
}

// How lateral acceleration stands against sideslip; own choices: by halves of a degree up
// to a spin; what is past the peak says something where half of the stated way is seen.
const (
	SlipStep    = 0.5 * degree // rad
	SlipMost    = 20 * degree  // rad
	PastAtLeast = 0.5          // share of the way
	degree      = math.Pi / 180
)

// Past the peak in a figure; own choices: a step of sideslip is drawn for a code where
// half of its stints have it, and a curve has four steps or more.
const (
	stintShare = 0.5
	leastSteps = 4
)

// peak gives lateral acceleration against sideslip at the rear axle, means of stints for
// each code, and what each keeps past its peak. There is none with fewer than two codes.
func (q Setting) peak(in []procedure.Overlaid) figure.Figure {
	type lapCurve struct {
		code, stint string
		at          map[int]float64 // by step of sideslip
	}
	var runs []lapCurve
	for _, o := range in {
		for _, tr := range o.Traces {
			if tr.ID != "lateral_by_sideslip" {
				continue
			}
			l := lapCurve{o.Code, o.Stint, map[int]float64{}}
			for i, x := range tr.X {
				l.at[int(math.Round(x/SlipStep-0.5))] = tr.Y[i]
			}
			runs = append(runs, l)
		}
	}
	codes := codesOf(runs, func(r lapCurve) string { return r.code })
	if len(codes) < 2 {
		return nil
	}
	f := &figure.PastThePeak{
		Value: figure.Axis{Name: "lateral acceleration, m/s²"},
		Slip:  figure.Axis{Name: "sideslip at the rear axle, °"},
	}
	f.Codes = figure.Codes{Control: codes[0], Candidates: codes[1:]}
	f.Test = q.Title
	way := q.Way
	const drawn = "Lateral acceleration against sideslip, both at the rear axle, in the corners of all laps: means of stints. "
	f.Sub = figure.Say(drawn, "Kept: ", unit.Degree.Format(way, 0, unit.Style{}), " past the peak. It describes and gives no verdict.")
	f.SubShort = figure.Say("Means of stints. Kept: ", unit.Degree.Format(way, 0, unit.Style{}), " past the peak. No verdict.")
	steps := make([][]step, len(codes))
	var once []string
	for c, code := range codes {
		var stints []string
		for _, r := range runs {
			if r.code == code && !slices.Contains(stints, r.stint) {
				stints = append(stints, r.stint)
			}
		}
		if len(stints) == 1 {
			once = append(once, code)
		}
		for k := range int(SlipMost / SlipStep) {
			var of []float64
			for _, stint := range stints {
				sum, n := 0.0, 0.0
				for _, r := range runs {
					if v, ok := r.at[k]; ok && r.code == code && r.stint == stint {
						sum, n = sum+v, n+1
					}
				}
				if n > 0 {
					of = append(of, sum/n)
				}
			}
			n := float64(len(of))
			if n == 0 || n < stintShare*float64(len(stints)) {
				if len(steps[c]) > 0 {
					break // a curve has no gap
				}
				continue
			}
			p := step{k: k, n: n}
			for _, v := range of {
				p.mean += v / n
			}
			for _, v := range of {
				p.square += (v - p.mean) * (v - p.mean)
			}
			steps[c] = append(steps[c], p)
		}
	}
	banded := false
	for c, code := range codes {
		if len(steps[c]) < leastSteps {
			continue
		}
		q := figure.Curve{Code: code}
		for _, p := range steps[c] {
			q.X, q.Y = append(q.X, (float64(p.k)+0.5)*SlipStep/degree), append(q.Y, p.mean)
		}
		if half := halves(steps, c); half != nil {
			banded = true
			for i, h := range half {
				q.Low, q.High = append(q.Low, q.Y[i]-h), append(q.High, q.Y[i]+h)
			}
		}
		f.Curves = append(f.Curves, q)
		if m, ok := mark(q, way/degree); ok {
			f.Peaks = append(f.Peaks, m)
		}
	}
	if len(f.Curves) < 2 {
		return nil
	}
	if len(f.Peaks) > 0 {
		f.Title = kept(codes[0], f.Peaks)
	} else {
		f.Title = short(f.Curves)
		f.TitleShort = figure.Say("No code went past its peak")
		f.Sub = figure.Say(drawn, "It describes and gives no verdict.")
		f.SubShort = figure.Say("Means of stints. No verdict.")
	}
	if banded {
		f.Sub = append(f.Sub, figure.Span{Text: " Bands, where they can be had, are 95 % of the mean, by the scatter of all codes’ stints."})
	}
	if single := procedure.OnOneStint(once, len(codes)); single != "" {
		f.Sub = append(f.Sub, figure.Span{Text: " " + single + "."})
	}
	return f
}

// step is a code's mean at one step of sideslip over the n stints that have it, and the
// sum of squares of these about it.
type step struct {
	k               int
	n, mean, square float64
}

// halves gives half of the 95 % interval of code c's mean at each of its steps: all codes'
// scatter from stint to stint is pooled, step by step. It is nil where a step is repeated
// by no code.
func halves(steps [][]step, c int) []float64 {
	var out []float64
	for _, p := range steps[c] {
		square, df := 0.0, 0.0
		for _, of := range steps {
			for _, o := range of {
				if o.k == p.k {
					square, df = square+o.square, df+o.n-1
				}
			}
		}
		if df < 1 {
			return nil
		}
		out = append(out, procedure.Student(df)*math.Sqrt(square/df/p.n))
	}
	return out
}

// short says, where no code went past its peak, who held least or most beside the
// control at the largest sideslip that all of them reached.
func short(list []figure.Curve) figure.Text {
	means := make([]procedure.Mean, len(list))
	for i, q := range list {
		means[i] = procedure.Mean{Code: q.Code, X: q.X, Y: q.Y}
	}
	const seen = 0.05 // m/s², what one digit shows
	if x, ok := procedure.LastShared(means); ok {
		if m, by, ok := procedure.Farthest(means, x); ok && math.Abs(by) >= seen {
			way := " more than "
			if by < 0 {
				way = " less than "
			}
			return figure.Say("No code went past its peak; at "+unit.Degree.Format(x*degree, 2, unit.Style{})+" of sideslip ", figure.CodeOf(m.Code),
				" held "+unit.MetrePerSecondSquared.Format(math.Abs(by), 1, unit.Style{})+way, figure.CodeOf(list[0].Code))
		}
	}
	return figure.Say("No code went past its peak; all held what ", figure.CodeOf(list[0].Code), " held")
}

// kept says who keeps least of the grip past its peak, and what the control keeps.
func kept(control string, peaks []figure.Peak) figure.Text {
	share := func(p figure.Peak) float64 { return p.KeptY / p.Y }
	least, own := peaks[0], -1
	for i, p := range peaks {
		if share(p) < share(least) {
			least = p
		}
		if p.Code == control {
			own = i
		}
	}
	t := figure.Say(figure.CodeOf(least.Code), " keeps least of its grip past the peak, "+least.Short)
	if own >= 0 && least.Code != control {
		t = append(t, figure.Say("; ", figure.CodeOf(control), " keeps "+peaks[own].Short)...)
	}
	return t
}

// mark gives a curve's peak and what is kept a way in ° beyond it, or as far as the
// curve goes if that is half the way or more.
func mark(q figure.Curve, way float64) (figure.Peak, bool) {
	top := 0
	for i := range q.Y {
		if q.Y[i] > q.Y[top] {
			top = i
		}
	}
	last := q.X[len(q.X)-1]
	if last-q.X[top] < PastAtLeast*way {
		return figure.Peak{}, false
	}
	at := math.Min(last, q.X[top]+way)
	kept, _ := course.ByStation(q.X, q.Y, []float64{at})
	share := kept[0] / q.Y[top]
	p := figure.Peak{Code: q.Code, X: q.X[top], Y: q.Y[top], KeptX: at, KeptY: kept[0],
		Value: "keeps " + unit.Percent.Format(share, 0, unit.Style{}), Short: unit.Percent.Format(share, 0, unit.Style{}),
		More: "peak " + unit.Number(q.Y[top], 1, unit.Style{}) + " at " + unit.Number(q.X[top], 1, unit.Style{}) + "°"}
	if at < q.X[top]+way-1e-9 {
		p.More += ", read at " + unit.Number(at-q.X[top], 1, unit.Style{}) + "°"
	}
	if q.Low != nil {
		l, _ := course.ByStation(q.X, q.Low, []float64{at})
		h, _ := course.ByStation(q.X, q.High, []float64{at})
		p.Low, p.High = &l[0], &h[0]
		p.Interval = unit.Interval(100*l[0]/q.Y[top], 100*h[0]/q.Y[top], 0, unit.Style{})
	}
	return p, true
}
