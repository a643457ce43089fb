package figuretest

import (
	"fmt"
	"math"
	"strings"

	"example.org/bookend/figure"
)

// Room is the scenario's evasive lane change.
func Room() *figure.RoomPlot {
	f := &figure.RoomPlot{}
	f.Codes, f.Number, f.Test = Codes(), 3, "Lane change, 72 km/h at entry, dry"
	f.Title = figure.Say("At the exit ", figure.CodeOf("W"), " runs 0.42 m wider than the control and leaves 0.34 m to the cones; ", figure.CodeOf("R"), " runs 0.18 m tighter", figure.MarkOf(1))
	f.TitleShort = figure.Say("At the exit ", figure.CodeOf("W"), " runs 0.42 m wider than the control, ", figure.CodeOf("R"), " 0.18 m tighter", figure.MarkOf(1))
	f.Sub = figure.Say("Path of the right rear corner from above: mean of nine clean passes, shaded where nine passes in ten run.")
	f.SubShort = figure.Say("Right rear corner from above: mean of nine clean passes, shaded where nine in ten run.")
	f.Station = figure.Axis{Name: "station from the entry gate, m"}
	f.Ways = []figure.Way{{Name: "entry lane", From: 0, To: 12, Right: -1.2, Left: 1.2}, {Name: "side lane", From: 25.5, To: 36.5, Right: 2.2, Left: 5.2},
		{Name: "exit lane", From: 49, To: 61, Right: -1.2, Left: 1.8}}
	f.Stations = []float64{0, 12, 25.5, 36.5, 49, 61, 72}
	f.Detail = &figure.Detail{Name: "the exit, enlarged", From: 48, To: 62, Low: -1.4, High: .1}
	sig := func(u float64) float64 { return 1 / (1 + math.Exp(-u)) }
	step := func(u float64) float64 { u = math.Max(0, math.Min(1, u)); return u * u * (3 - 2*u) }
	type par struct{ lag, over, exit, wave, damp, spread float64 }
	set := map[string]par{"K": {0, .24, .40, 15, 17, .085}, "R": {-.35, .12, .12, 13, 12, .06}, "W": {.65, .42, .93, 17.2, 26, .105}}
	path := func(code string) func(s float64) float64 {
		p := set[code]
		return func(s float64) float64 {
			y := -.98 + 3.62*sig((s-18.2-p.lag)/2.6) - 3.0*sig((s-41.7-p.lag)/2.5) + p.over*math.Exp(-((s-33.5)/6)*((s-33.5)/6))
			if s > 44 {
				y -= p.exit * step((s-44)/7) * math.Sin(math.Pi*(s-44)/p.wave) * math.Exp(-(s-44)/p.damp)
			}
			return y
		}
	}
	for _, code := range []string{"K", "R", "W"} {
		f.Curves = append(f.Curves, sampled(code, 0, 72, 180, path(code), func(s float64) float64 {
			return set[code].spread * (.4 + .8*sig((s-16)/4) + .9*sig((s-44)/4))
		}))
	}
	gap := func(at, from, to, half float64, words string, note int) figure.Gap {
		d := math.Abs(to - from)
		g := figure.Gap{At: at, From: from, To: to, Low: P(to - half), High: P(to + half), Words: words, Value: fmt.Sprintf("%.2f m", d), Note: note}
		if note == 0 {
			g.Interval = fmt.Sprintf("%.2f to %.2f", d-half, d+half)
		}
		return g
	}
	f.Gaps = []figure.Gap{gap(52, path("K")(52), path("W")(52), .11, "K to W at 52 m", 0), gap(55.5, -1.2, path("W")(55.5), .14, "W to the cones at 55.5 m", 2)}
	f.Notes = []figure.Note{{Text: figure.Say("R to K at 52 m: 0.09 to 0.27 m.")},
		{Text: figure.Say("Interval 0.20 to 0.48 m; smallest of the nine passes 0.04 m. Standard uncertainty of position 0.02 m."),
			Short: figure.Say("0.20 to 0.48 m; smallest of nine passes 0.04 m.")}}
	return f
}

// Weave is the scenario's slalom.
func Weave() *figure.RoomPlot {
	f := &figure.RoomPlot{}
	f.Codes, f.Number, f.Test = Codes(), 7, "Slalom, 45 km/h, dry"
	f.Title = figure.Say("Past the last marker ", figure.CodeOf("W"), " needs 0.31 m more room than the control, ", figure.CodeOf("R"), " 0.14 m less")
	f.Sub = figure.Say("Path of the vehicle from above, mean of twelve passes a code; bands: 95 % interval of the mean.")
	f.SubShort = figure.Say("Mean of twelve passes a code; bands: 95 %.")
	f.Station = figure.Axis{Name: "station from the first gate, m"}
	for i := range 8 {
		f.Cones = append(f.Cones, figure.Cone{Station: 18 * float64(i+1)})
	}
	for _, q := range []struct {
		code    string
		a, grow float64
	}{{"K", 1.6, .06}, {"R", 1.55, .03}, {"W", 1.65, .14}} {
		f.Curves = append(f.Curves, sampled(q.code, 0, 162, 320, func(s float64) float64 {
			u := (s - 18) / 18
			return q.a * (1 + q.grow*u/3) * math.Cos(math.Pi*u) * math.Min(1, math.Max(0, s/18)) * math.Min(1, math.Max(0, (162-s)/12))
		}, func(s float64) float64 { return .05 + .0004*s }))
	}
	g := figure.Gap{At: 144, From: -1.82, To: -2.18, Words: "K to W at the last marker", Value: "0.31 m", Interval: "0.22 to 0.40"}
	f.Gaps = []figure.Gap{g}
	return f
}

// oddRooms gives plans from odd data.
func oddRooms(add func(string, figure.Figure)) {
	many := Room()
	many.Codes = Twelve()
	base := many.Curves[0]
	many.Curves, many.Gaps = nil, nil
	for i, c := range many.Codes.Candidates { // twelve codes on top of each other
		q := figure.Curve{Code: c}
		for j, x := range base.X {
			q.X, q.Y = append(q.X, x), append(q.Y, base.Y[j]+.01*float64(i))
		}
		many.Curves = append(many.Curves, q)
	}
	add("room-twelve", many)

	crowded := Room()
	crowded.Detail = nil
	for i := range 6 { // gaps side by side in the plan
		g := crowded.Gaps[0]
		g.At, g.Words = 50+float64(i), "K to W at some station or other, "+strings.Repeat("x", i)
		crowded.Gaps = append(crowded.Gaps, g)
	}
	add("room-crowded", crowded)

	bare := Room()
	bare.Ways, bare.Detail, bare.Gaps, bare.Stations = nil, nil, nil, nil
	for i := range bare.Curves {
		q := &bare.Curves[i]
		q.Low, q.High = nil, nil
		for j := range q.Y { // a straight line, all alike
			q.Y[j] = 0
		}
	}
	add("room-straight", bare)

	wide := Room()
	wide.Detail.From, wide.Detail.To, wide.Detail.Low, wide.Detail.High = 0, 72, -2, 6 // as large as the plan itself
	wide.Gaps = append(wide.Gaps, wide.Gaps[0], wide.Gaps[1], wide.Gaps[0])
	add("room-detail-of-all", wide)
}
