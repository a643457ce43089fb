package figuretest

import (
	"fmt"
	"math"

	"example.org/bookend/figure"
	"example.org/bookend/unit"
)

func sampled(code string, lo, hi float64, n int, v, half func(x float64) float64) figure.Curve {
	q := figure.Curve{Code: code}
	for i := range n + 1 {
		x := lo + (hi-lo)*float64(i)/float64(n)
		q.X, q.Y = append(q.X, x), append(q.Y, v(x))
		if half != nil {
			q.Low, q.High = append(q.Low, v(x)-half(x)), append(q.High, v(x)+half(x))
		}
	}
	return q
}

// Gain is the scenario's dry handling lap.
func Gain() *figure.GainAlongTheLap {
	const length = 1870
	f := &figure.GainAlongTheLap{}
	f.Codes, f.Number, f.Test = Codes(), 6, "Handling lap, dry, 1.87 km"
	f.Title = figure.Say(figure.CodeOf("R"), " gains 0.84 s a lap, two thirds of it in Heron and Bank, where ", figure.CodeOf("W"), " loses most of its 0.71 s")
	f.TitleShort = figure.Say(figure.CodeOf("R"), " gains 0.84 s a lap, two thirds of it in Heron and Bank, where ", figure.CodeOf("W"), " loses")
	f.Sub = figure.Say("Time gained on the control up to each station, mean of nine laps a code. Bands: 95 %, all four together; grey: the control against itself.")
	f.SubShort = figure.Say("Time gained on the control up to each station. Bands: 95 %, all four together; grey: control.")
	f.Value = figure.Axis{Name: "time gained, s", Better: figure.Rising, Signed: true}
	f.Station = figure.Axis{Name: "station from the start gate, m"}
	f.Corners = []figure.Corner{{Name: "Kiln", From: 170, To: 285, Left: true}, {Name: "Ford", From: 430, To: 520}, {Name: "Heron", From: 680, To: 850, Left: true},
		{Name: "Step", From: 985, To: 1050}, {Name: "Cairn", From: 1165, To: 1260}, {Name: "Bank", From: 1390, To: 1560, Left: true}, {Name: "Gate", From: 1690, To: 1765}}
	shares := map[string][]float64{"R": {.06, .05, .3, .06, .09, .36, .08}, "P": {.2, .1, .2, .1, .1, .2, .1}, "T": {.5, -.6, .4, -.3, .9, .3, -.2}, "W": {.03, .06, .38, .05, .1, .33, .05}}
	total := map[string]float64{"R": .84, "P": .24, "T": -.05, "W": -.71}
	half := map[string]float64{"R": .26, "P": .24, "T": .23, "W": .29, "K": .17}
	step := func(u float64) float64 { u = math.Max(0, math.Min(1, u)); return u * u * (3 - 2*u) }
	for _, c := range f.Codes.Candidates {
		sum := 0.0
		for _, v := range shares[c] {
			sum += v
		}
		f.Curves = append(f.Curves, sampled(c, 0, length, 187, func(s float64) float64 {
			v := 0.0
			for i, k := range f.Corners {
				v += shares[c][i] / sum * step((s-k.From+15)/(k.To-k.From+90))
			}
			return total[c] * v
		}, func(s float64) float64 { return half[c] * math.Sqrt(s/length) }))
		f.Finishes = append(f.Finishes, figure.Finish{Code: c, Estimate: total[c], Low: P(total[c] - half[c]), High: P(total[c] + half[c]),
			Value: signed(total[c]) + " s", Interval: signed(total[c]-half[c]) + " to " + signed(total[c]+half[c])})
	}
	k := sampled("K", 0, length, 187, func(float64) float64 { return 0 }, func(s float64) float64 { return half["K"] * math.Sqrt(s/length) })
	f.Itself = &k
	f.Finishes = append(f.Finishes, figure.Finish{Code: "K", Low: P(-half["K"]), High: P(half["K"]), Value: "control", Interval: "±0.17"})
	return f
}

func signed(v float64) string { return unit.Signed(v, 2, unit.Style{}) }

// Peak is the scenario's dry handling at the limit.
func Peak() *figure.PastThePeak {
	f := &figure.PastThePeak{}
	f.Codes, f.Number, f.Test = Codes(), 5, "Handling lap, dry: Heron and Bank, all limit corners"
	f.Title = figure.Say(figure.CodeOf("W"), " lets go suddenly: 4° past its peak it keeps 71 % of its grip, the control 88 %, ", figure.CodeOf("R"), " 94 %")
	f.TitleShort = figure.Say(figure.CodeOf("W"), " lets go suddenly: 4° past its peak 71 % of its grip is left, 88 % of the control’s")
	f.Sub = figure.Say("Lateral acceleration against rear sideslip, steady parts of 36 corner passages a code. Bands: 95 % interval of the mean curve. P and T lie inside the control’s band and are not drawn.")
	f.SubShort = figure.Say("Bands: 95 % of the mean curve. P and T lie inside the control’s band.")
	f.Value = figure.Axis{Name: "lateral acceleration, m/s²"}
	f.Slip = figure.Axis{Name: "sideslip at the rear axle, °"}
	for _, p := range []struct {
		code                  string
		top, at, keep, spread float64
		iv                    string
	}{{"K", 7.6, 5.4, .88, .16, "85 to 90"}, {"R", 8.1, 6.2, .94, .17, "92 to 96"}, {"W", 7.9, 4.5, .71, .26, "66 to 76"}} {
		v := func(b float64) float64 {
			if b < p.at {
				return p.top * (1 - math.Pow(1-b/p.at, 2.3))
			}
			a := 1.35 * (1 - p.keep)
			k := -math.Log(1 - (1-p.keep)/a)
			return p.top * (1 - a*(1-math.Exp(-k*math.Pow((b-p.at)/4, 1.7))))
		}
		w := func(b float64) float64 { return p.spread * (.35 + .9*(b/10)*(b/10)) }
		from := 0.0
		for v(from) < 3 {
			from += .01
		}
		f.Curves = append(f.Curves, sampled(p.code, from, math.Min(11, p.at+5), 120, v, w))
		q := figure.Peak{Code: p.code, X: p.at, Y: p.top, KeptX: p.at + 4, KeptY: v(p.at + 4), Value: fmt.Sprintf("keeps %.0f %%", 100*p.keep), Short: fmt.Sprintf("%.0f %%", 100*p.keep),
			Interval: p.iv, More: fmt.Sprintf("peak %.1f at %.1f°", p.top, p.at)}
		q.Low, q.High = P(q.KeptY-w(q.KeptX)), P(q.KeptY+w(q.KeptX))
		if p.code == "W" {
			q.Note = 1
		}
		f.Peaks = append(f.Peaks, q)
	}
	f.Notes = []figure.Note{{Text: figure.Say("W: 22 of 36 passages went 4° past the peak; the rest were caught sooner.")}}
	return f
}

// Answer is the scenario's step of steering.
func Answer() *figure.AnswerCurve {
	f := &figure.AnswerCurve{}
	f.Codes, f.Number, f.Test = Codes(), 4, "Step of steering, 80 km/h, dry"
	f.Title = figure.Say(figure.CodeOf("R"), " answers the wheel 37 ms sooner than the control; ", figure.CodeOf("W"), " answers 41 ms later and swings over", figure.MarkOf(1))
	f.TitleShort = figure.Say(figure.CodeOf("R"), " answers 37 ms sooner than the control, ", figure.CodeOf("W"), " 41 ms later, and swings over", figure.MarkOf(1))
	f.Sub = figure.Say("All passes laid over each other where the wheel reaches half of its step. Means of twelve passes; bands: 95 % interval of the mean. Delay: to half of the final value.")
	f.SubShort = figure.Say("Laid over each other at half the step. Means of 12; bands 95 %. Delay: to half of the final value.")
	f.Time = figure.Axis{Name: "time from half the steering step, s"}
	steer := figure.Panel{Value: figure.Axis{Name: "steering wheel, °"}, Words: "all codes, within 0.7°"}
	steer.Curves = []figure.Curve{sampled("", -.2, 1.2, 240, func(t float64) float64 { return 36 / (1 + math.Exp(-t/.032)) }, func(float64) float64 { return .7 })}
	f.Panels = []figure.Panel{steer}
	response := func(t, d, wn, z float64) float64 {
		u := t - d
		if u <= 0 {
			return 0
		}
		wd := wn * math.Sqrt(1-z*z)
		return 1 - math.Exp(-z*wn*u)*(math.Cos(wd*u)+z*wn/wd*math.Sin(wd*u))
	}
	type par struct {
		code           string
		final, d, w, z float64
		half           float64 // of the delay, s
	}
	for i, set := range [][]par{
		{{"K", 14.6, -.035, 9.4, .70, .009}, {"R", 14.9, -.04, 12.2, .74, .008}, {"W", 14.2, -.02, 7.2, .47, .015}},
		{{"K", 4.9, .005, 8, .74, .011}, {"R", 5.1, -.004, 10.2, .78, .009}, {"W", 4.75, .02, 6.3, .55, .017}}} {
		p := figure.Panel{Value: figure.Axis{Name: []string{"yaw rate, °/s", "lateral acceleration, m/s²"}[i]}}
		for _, q := range set {
			v := func(t float64) float64 { return q.final * response(t, q.d, q.w, q.z) }
			p.Curves = append(p.Curves, sampled(q.code, -.2, 1.2, 240, v, func(t float64) float64 { return .03 * q.final * (1 - math.Exp(-math.Max(0, t+.03)/.18)) }))
			at := 0.0
			for v(at) < q.final/2 {
				at += .0005
			}
			p.Delays = append(p.Delays, figure.Delay{Code: q.code, At: at, Low: at - q.half, High: at + q.half, Y: q.final / 2,
				Value: fmt.Sprintf("%.0f ms", 1000*at), Interval: fmt.Sprintf("%.0f to %.0f", 1000*(at-q.half), 1000*(at+q.half))})
		}
		f.Panels = append(f.Panels, p)
	}
	f.Notes = []figure.Note{{Text: figure.Say("Yaw rate, against the control: R −37 ms (−47 to −27), W +41 ms (+25 to +57).")}}
	return f
}

// oddCurves gives curves from odd data.
func oddCurves(add func(string, figure.Figure)) {
	g := Gain()
	g.Codes = Twelve()
	base := g.Curves[0]
	g.Curves, g.Finishes = nil, nil
	for i, c := range g.Codes.Candidates { // twelve codes that end close together
		q := figure.Curve{Code: c}
		for j, x := range base.X {
			q.X, q.Y = append(q.X, x), append(q.Y, base.Y[j]+.004*float64(i))
		}
		g.Curves = append(g.Curves, q)
		g.Finishes = append(g.Finishes, figure.Finish{Code: c, Estimate: q.Y[len(q.Y)-1], Low: P(-.1), High: P(.6), Value: fmt.Sprintf("+0.2%d s", i%10), Interval: "−0.10 to +0.60"})
	}
	g.Itself = nil
	g.Corners = append(g.Corners, figure.Corner{Name: "Long Thorn Bottom", From: 1770, To: 1800}, figure.Corner{Name: "Last", From: 1805, To: 1840})
	add("gain-twelve", g)

	p := Peak()
	for i := range p.Curves { // all the same
		c := p.Curves[i].Code
		p.Curves[i], p.Peaks[i].X, p.Peaks[i].Y, p.Peaks[i].KeptX, p.Peaks[i].KeptY = p.Curves[0], p.Peaks[0].X, p.Peaks[0].Y, p.Peaks[0].KeptX, p.Peaks[0].KeptY
		p.Curves[i].Code = c
	}
	add("peak-same", p)

	a := Answer()
	a.Panels = a.Panels[1:2]
	for i := range a.Panels[0].Delays {
		a.Panels[0].Delays[i].At, a.Panels[0].Delays[i].Low, a.Panels[0].Delays[i].High = 1.1, .2, 3
		a.Panels[0].Delays[i].Value, a.Panels[0].Delays[i].Interval = "1100 ms", "200 to 3000"
	}
	add("answer-late", a)
}
