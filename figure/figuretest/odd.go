package figuretest

import (
	"fmt"

	"example.org/bookend/figure"
)

// Budget is the scenario's wet stop: where the doubt about R comes from.
func Budget() *figure.UncertaintyBudget {
	f := &figure.UncertaintyBudget{Code: "R", Estimate: -2.1}
	f.Codes, f.Test, f.Number = Codes(), "Wet stop, 80 to 20 km/h: R against the control", 9
	f.Title = figure.Say("Nearly half of the doubt is the fitting of a set: a second set would help most, more stops hardly at all")
	f.TitleShort = figure.Say("Nearly half of the doubt is the fitting of a set: a second set would help most")
	f.Sub = figure.Say("Above: shares of the variance behind the interval of −2.1 m. Below: the interval as it is, and as it would be.")
	f.SubShort = figure.Say("Shares of the variance behind −2.1 m; below: the interval as it is and as it would be.")
	f.Value = figure.Axis{Name: "difference from the control, m", Signed: true, Better: figure.Falling}
	f.Parts = []figure.BudgetPart{
		{Name: "stint to stint: set, fitment", Short: "stint", Share: .46},
		{Name: "drift of the control", Short: "drift", Share: .21},
		{Name: "stop to stop", Short: "stops", Share: .16},
		{Name: "water depth", Short: "water", Share: .09},
		{Name: "speed, distance", Share: .05},
		{Name: "rest", Share: .03},
	}
	f.Options = []figure.BudgetOption{
		{Name: "as it is", Low: -2.81, High: -1.39, Text: "−2.81 to −1.39 m", Now: true},
		{Name: "a second set of each", Low: -2.6, High: -1.6, Text: "−2.60 to −1.60 m"},
		{Name: "one more control in each half", Short: "one more control a half", Low: -2.76, High: -1.44, Text: "−2.76 to −1.44 m"},
		{Name: "twice the stops in each stint", Short: "twice the stops", Low: -2.77, High: -1.43, Text: "−2.77 to −1.43 m"},
	}
	return f
}

// Chart is the ground's record of control stints over programmes programmes.
func Chart(programmes int) *figure.ControlChart {
	f := &figure.ControlChart{}
	f.Codes, f.Number = Codes(), 12
	f.Test, f.TestShort = "Wet stop, 80 to 20 km/h · the control’s record at Skerry Moor, basalt lane", "Wet stop · the control’s record"
	f.Title = figure.Say("The control behaves as in the ", fmt.Sprint(programmes-1), " programmes before; one earlier stint lies beyond a limit", figure.MarkOf(1))
	f.TitleShort = figure.Say("The control behaves as before; one earlier stint lies beyond a limit", figure.MarkOf(1))
	f.Sub = figure.Say("Above: each control stint less its programme’s own mean and drift; 95 and 99.7 in 100 lie within the lines. Below: each programme’s scatter and the limit that 95 in 100 keep.")
	f.SubShort = figure.Say("Above: control stints less their programme’s mean and drift. Below: scatter a programme, and its 95 % limit.")
	f.Value = figure.Axis{Name: "control stint, m from its curve", Short: "stint from its curve, m", Signed: true}
	f.Scatter = figure.Axis{Name: "scatter of stints, m (standard deviation)", Short: "scatter, m"}
	f.Limits = []figure.ChartLimit{
		{Low: P(-.41), High: P(.41), LowText: "95 in 100", HighText: "95 in 100"},
		{Low: P(-.63), High: P(.63), LowText: "99.7 in 100", HighText: "99.7 in 100"},
	}
	f.Pooled, f.PooledText, f.LimitText = P(.21), "pooled 0.21", "upper limit"
	g := noise(11)
	note := ""
	for i := range programmes {
		n := 4 + (i*7)%4
		day := 3600 + 133 - (programmes-1-i)*12 // of an invented calendar, 30 days a month
		p := figure.ChartGroup{Name: fmt.Sprintf("%d %s", 1+day%30, []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}[day/30%12])}
		for range n {
			p.Residuals = append(p.Residuals, figure.ChartPoint{Value: .2 * g.next()})
		}
		p.Scatter, p.ScatterLimit = P(.14+.05*float64((i*5)%4)), P(.21*(1.3+.6/float64(n-2)))
		if i == programmes/3 {
			p.Residuals[1] = figure.ChartPoint{Value: .74, Broken: true, Note: 1}
			p.Scatter, p.Broken, p.Note = P(.38), true, 1
			note = p.Name
		}
		p.Now = i == programmes-1
		if p.Now {
			p.Name = "14 May"
		}
		f.Programmes = append(f.Programmes, p)
	}
	f.Notes = []figure.Note{{Text: figure.Say(note, ": the first stop on a lane wetted a minute before. The stint stays in the record; without it the pooled scatter is 0.20 m.")}}
	return f
}

// Profile is the scenario's dry handling as two evaluators rated it.
func Profile() *figure.Profile {
	f := &figure.Profile{BandLow: P(-.35), BandHigh: P(.35)}
	f.Codes, f.Number = Codes(), 7
	f.Test = "Ratings, dry handling, two evaluators"
	f.Title = figure.Say("Both evaluators rate ", figure.CodeOf("R"), " above the control in response and at the limit, and ", figure.CodeOf("W"), " below it once the limit is passed")
	f.TitleShort = figure.Say("Both evaluators put ", figure.CodeOf("R"), " above the control at the limit and ", figure.CodeOf("W"), " below it")
	f.Sub = figure.Say("Rating less the control’s, points on a scale of 10; each evaluator’s severity and drift taken out.", figure.MarkOf(1), " Bars: 95 %, all four together. Small ticks: evaluator A above the bar, B below. Shaded: the blind control’s own repeatability.")
	f.SubShort = figure.Say("Rating less the control’s, points of 10.", figure.MarkOf(1), " Bars 95 %; ticks: evaluator A above, B below. Shaded: the control’s own repeatability.")
	f.Value = figure.Axis{Name: "points from the control", Short: "points", Better: figure.Rising, Signed: true}
	g := noise(21)
	for _, a := range []struct {
		name, short string
		e           [4]float64 // P R T W
	}{
		{"Response on centre", "Response", [4]float64{.2, .7, .1, -.2}}, {"Precision", "", [4]float64{.3, .8, 0, -.4}}, {"Grip build-up", "", [4]float64{.1, .5, .2, .1}},
		{"Balance at entry", "", [4]float64{.2, .3, -.1, -.3}}, {"Balance at exit", "", [4]float64{.4, .9, .1, -.7}}, {"Breakaway", "", [4]float64{.3, 1.1, -.1, -1.4}},
		{"Recovery", "", [4]float64{.2, 1, 0, -1.2}}, {"Comfort over joints", "Comfort", [4]float64{-.1, -.6, .1, .5}},
	} {
		q := figure.ProfileAttribute{Name: a.name, Short: a.short}
		for i, c := range f.Codes.Candidates {
			half := .42
			if c == "W" {
				half = .5
			}
			e := a.e[i] + .04*g.next()
			d := .12 + .1*g.next()
			q.Ratings = append(q.Ratings, figure.ProfileRating{Code: c, Estimate: P(e), Low: P(e - half), High: P(e + half), Raters: []float64{e + d, e - d}})
			word := ""
			if e-half > 0 {
				word = "better"
			} else if e+half < 0 {
				word = "worse"
			}
			if word != "" {
				if len(q.Finding) > 0 {
					q.Finding = append(q.Finding, figure.Span{Text: ", "})
				}
				q.Finding = append(q.Finding, figure.CodeOf(c), figure.Span{Text: " "}, figure.StrongOf(word))
			}
		}
		if len(q.Finding) == 0 {
			q.Finding = figure.Say(figure.EmOf("none shown to differ"))
		}
		f.Attributes = append(f.Attributes, q)
	}
	f.Notes = []figure.Note{{Text: figure.Say("Four sets, two evaluators, 14 stints; agreement between the evaluators 0.81 (intraclass correlation, 0.66 to 0.90)."), Short: figure.Say("Two evaluators, 14 stints; agreement 0.81 (0.66 to 0.90).")}}
	return f
}

func strip(d Day, title string) *figure.BracketStrip {
	f := d.Strip()
	f.Test = "Wet stop, 80 to 20 km/h · Skerry Moor, basalt lane"
	f.Title = figure.Say(title)
	f.Sub = figure.Say("Stint means with 95 % intervals; dots: single stops.")
	return f
}

// Six are six candidates' codes.
func Six() figure.Codes {
	return figure.Codes{Control: "K", Candidates: []string{"P", "R", "T", "W", "X", "Z"}}
}

// Twelve are twelve candidates' codes.
func Twelve() figure.Codes {
	return figure.Codes{Control: "K", Candidates: []string{"A", "B", "C", "D", "E", "F", "G", "H", "J", "L", "M", "N"}}
}

// Odd gives figures from odd data.
func Odd() []Specimen {
	base := Day{Codes: Codes(), StartS: 9 * 3600, StepS: 20 * 60, BreakS: 80 * 60, Runs: 6, Level: 36.5, Effects: map[string]float64{}, Scatter: .3, Half: .34, Bow: 1, Seed: 3}
	var out []Specimen
	add := func(name string, f figure.Figure) { out = append(out, Specimen{"odd-" + name, f}) }

	two := base
	two.Order, two.Effects = "KRPK", map[string]float64{"R": -1.5, "P": .2}
	add("strip-two-controls", strip(two, "Two control stints alone hold the sequence: no interval without the ground’s record"))

	one := base
	one.Order, one.Runs = "RK", 1
	f := strip(one, "One stint of R, and the control once")
	f.Drift = nil
	add("strip-open", f)

	close6 := base
	close6.Codes, close6.Order, close6.Scatter = Six(), "KPRKTWKXZKRPK KZXKWTKPRKTWKXZK", .35
	close6.Effects = map[string]float64{"P": .1, "R": -.1, "T": .05, "W": .15, "X": -.12, "Z": .02}
	f = strip(close6, "None of the six is shown to differ from the control")
	conditions(f)
	add("strip-six-close", f)

	forty := base
	forty.Codes, forty.Order, forty.StepS = Six(), "KPRKTWKXZKPRKTWKXZKPK KXZKTWKPRKXZKTWKPRK", 11*60
	forty.Effects = map[string]float64{"P": -.8, "R": -2, "T": .3, "W": 1.8, "X": 1, "Z": -.4}
	f = strip(forty, "Forty stints in a day")
	conditions(f)
	add("strip-forty", f)

	night := base
	night.Order, night.BreakS = "KPRKTWK KWTKRPK KPRKTWK", 15*3600
	night.Effects = map[string]float64{"P": -.75, "R": -2.1, "T": .12, "W": 2}
	f = strip(night, "Three days, two nights between")
	for i := range f.Breaks {
		f.Breaks[i].Words = []string{"night"}
	}
	add("strip-three-days", f)

	left := base
	left.Order, left.Effects = "KPRKTWKRPK", map[string]float64{"P": -.75, "R": -2.1, "T": .12, "W": 2}
	f = strip(left, "Stops left out lie where they lie, or beyond the axis with an arrow")
	for i, k := range []struct {
		stint  int
		off    float64
		broken bool
	}{{1, 9, true}, {2, .9, false}, {3, -12, true}, {5, 1.4, true}, {5, 1.1, false}, {7, .3, true}} {
		s := &f.Stints[k.stint]
		s.Runs[i%6] = figure.StripRun{Value: *s.Mean + k.off, LeftOut: true, Broken: k.broken, Note: i + 1}
		f.Notes = append(f.Notes, figure.Note{Text: figure.Say(fmt.Sprintf("Stop %d: left out; with it the index is 0.%d lower.", 100+i, i))})
	}
	f.Stints[8].Low, f.Stints[8].High, f.Stints[8].Note = P(*f.Stints[8].Mean-15), P(*f.Stints[8].Mean+15), 7
	f.Notes = append(f.Notes, figure.Note{Text: figure.Say("Two stops alone: the interval is 30 m wide.")})
	add("strip-left-out", f)

	flat := base
	flat.Order, flat.Scatter, flat.Half, flat.Bow = "KPRKTWK", 0, 0, 0
	f = strip(flat, "Every stop the same")
	add("strip-flat", f)

	long := base
	long.Order, long.Effects = "KPRKTWKRPK", map[string]float64{"P": -.75, "R": -2.1, "T": .12, "W": 2}
	f = strip(long, "A title that says a great deal more than two lines of a figure can hold, since the client asked for every condition to be named in it: water, wind, surface, clock, driver and load, and for the order too; it goes on and on until it has filled a third line and part of a fourth at either width")
	f.Test = "Straight-line braking on the wet, 80 to 20 km/h, antilock, at half and at full load, with and without the second driver · Skerry Moor, basalt lane, second half of its length · 14 May"
	names := map[string]string{"K": "CONTROL", "P": "PROTO-7", "R": "R12b", "T": "T-ÄÖ", "W": "WWWW"}
	f.Codes = figure.Codes{Control: "CONTROL", Candidates: []string{"PROTO-7", "R12b", "T-ÄÖ", "WWWW"}}
	for i := range f.Stints {
		f.Stints[i].Code = names[f.Stints[i].Code]
	}
	conditions(f)
	f.Conditions[0].Name = "temperature of the lane’s surface in the shade, °C"
	add("strip-long-words", f)

	huge := base
	huge.Order, huge.Level, huge.Effects, huge.Scatter, huge.Half, huge.Bow = "KPRKTWK", 3.65e9, map[string]float64{"P": -7e7, "R": -2e8, "W": 2e8}, 3e7, 3e7, 1e8
	f = strip(huge, "Very large numbers")
	f.Value = figure.Axis{Name: "work, J", Better: figure.Falling}
	add("strip-huge", f)

	tiny := base
	tiny.Order, tiny.Level, tiny.Effects, tiny.Scatter, tiny.Half, tiny.Bow = "KPRKTWK", 3.65e-6, map[string]float64{"P": -7e-8, "R": -2e-7, "W": 2e-7}, 3e-8, 3e-8, 1e-7
	f = strip(tiny, "Very small numbers")
	f.Clock = false
	f.Value = figure.Axis{Name: "film, m", Better: figure.Rising}
	add("strip-tiny", f)

	// ladders
	l := ladder(Codes(), []rung{{"R", figure.Better, 106.3, 104.2, 108.5, 0, 0, figure.Reading{}, 0}})
	l.Title = figure.Say("One candidate alone: ", figure.CodeOf("R"), " is better")
	add("ladder-one", l)

	var six []rung
	for i, k := range Six().Candidates {
		e := 100.4 + .1*float64(i)
		v := figure.NotShown
		if i == 2 {
			v = figure.BetterLess
		}
		six = append(six, rung{k, v, e, e - 1.6, e + 1.6, e - 2.8, e + 2.8, figure.Reading{Value: fmt.Sprintf("−0.%d", i), Interval: "−0.6 to +0.4"}, 0})
	}
	l = ladder(Six(), six)
	l.Margin = &figure.Margin{Low: 99.7, High: 100.3, LowText: "99.7", HighText: "100.3"}
	l.Title = figure.Say("Six candidates lie within 0.5 % of each other, and only ", figure.CodeOf("T"), " is shown better, by less than matters")
	add("ladder-six-close", l)

	var twelve []rung
	for i, k := range Twelve().Candidates {
		e := 92 + 1.4*float64(i)
		twelve = append(twelve, rung{k, figure.NotShown, e, e - 3, e + 3, e - 5, e + 5, figure.Reading{}, 0})
	}
	l = ladder(Twelve(), twelve)
	l.Title = figure.Say("Twelve candidates")
	add("ladder-twelve", l)

	l = ladder(Codes(), []rung{
		{"P", figure.NotShown, 101, 60, 142, 10, 200, figure.Reading{}, 1},
		{"R", figure.Better, 118.3, 116.2, 120.5, 115, 122, figure.Reading{}, 0},
		{"T", figure.Better, 119.7, 117.7, 121.8, 116, 124, figure.Reading{}, 0},
	})
	l.Rows = append(l.Rows, figure.LadderRow{Code: "W", Verdict: figure.NotDone, Note: 2})
	l.Title = figure.Say("Two far ahead, one with hardly any interval to speak of, one not computed")
	l.Notes = []figure.Note{{Text: figure.Say("One degree of freedom.")}, {Text: figure.Say("W: no stint between two controls.")}}
	add("ladder-wide", l)

	l = &figure.IntervalLadder{}
	l.Codes, l.Comma = Codes(), true
	l.Title = figure.Say("Differenzen mit Komma: ", figure.CodeOf("R"), " antwortet 37 ms früher")
	l.Value = figure.Axis{Name: "delay against the control, ms", Better: figure.Falling, Signed: true}
	l.Rows = []figure.LadderRow{
		{Code: "R", Verdict: figure.Better, Estimate: P(-36.5), Low: P(-47), High: P(-27), Readings: []figure.Reading{{Value: "−36,5", Interval: "−47,0 to −27,0"}}},
		{Code: "W", Verdict: figure.Worse, Estimate: P(41), Low: P(25), High: P(57), Readings: []figure.Reading{{Value: "+41,0", Interval: "+25,0 to +57,0"}}},
		{Code: "T", Verdict: figure.NotShown, Estimate: P(2.5), Readings: []figure.Reading{{Value: "+2,5"}}},
	}
	add("ladder-difference", l)

	l = ladder(figure.Codes{Control: "CONTROL", Candidates: []string{"PROTO-7-second-build", "R"}}, []rung{
		{"PROTO-7-second-build", figure.WorseLess, 1.0012345e9, 1.0002e9, 1.002e9, 0, 0, figure.Reading{Value: "−1234567.8", Interval: "−2345678.9 to −1.0"}, 0},
		{"R", figure.Same, 1e9, .9996e9, 1.0003e9, 0, 0, figure.Reading{Value: "+12.3", Interval: "−0.6 to +24.8"}, 0},
	})
	l.Control, l.Margin = 1e9, &figure.Margin{Low: .9985e9, High: 1.0015e9, LowText: "998500000", HighText: "1001500000"}
	l.Title = figure.Say("Long codes and long numbers")
	add("ladder-long", l)

	// budgets
	b := Budget()
	b.Parts = []figure.BudgetPart{{Name: "stint to stint: set, fitment", Short: "stint", Share: .93}, {Name: "drift of the control", Short: "drift", Share: .021}, {Name: "stop to stop", Share: .02},
		{Name: "water depth", Share: .012}, {Name: "speed, distance", Share: .009}, {Name: "temperature of the surface", Short: "surface", Share: .005}, {Name: "wind", Share: .0031}, {Name: "nothing", Share: 0}}
	b.Options = b.Options[:1]
	add("budget-one-large", b)
	b = Budget()
	b.Parts = []figure.BudgetPart{{Name: "stint to stint", Share: 1}}
	b.Estimate, b.Options = 2.1, []figure.BudgetOption{
		{Name: "as it is, with three control stints and the ground’s own record of forty-one", Low: -8, High: 12.2, Now: true, Text: "−8.0 to +12.2 m"},
		{Name: "a second set", Low: 1, High: 3.2, Text: "+1.0 to +3.2 m"}}
	add("budget-one-part", b)

	// profiles
	pr := Profile()
	pr.Codes = Twelve()
	for i := range pr.Attributes {
		a := &pr.Attributes[i]
		a.Ratings, a.Finding = nil, figure.Say("a finding that takes more than one line to say, as findings do")
		for k, c := range pr.Codes.Candidates {
			r := figure.ProfileRating{Code: c, Estimate: P(.1*float64(k) - .5 + .05*float64(i))}
			if k%3 == 0 { // on the anchored sheet there is no interval
				r.Low, r.High = P(*r.Estimate-.3-float64(k)), P(*r.Estimate+.3)
			}
			a.Ratings = append(a.Ratings, r)
		}
	}
	pr.Attributes[1].Name, pr.Attributes[1].Short = "Willingness to turn in when the throttle is lifted in the middle of a corner", ""
	add("profile-twelve", pr)

	oddCurves(add)
	oddRooms(add)

	// charts
	ch := Chart(40)
	add("chart-forty", ch)
	ch = Chart(1)
	ch.Title, ch.TitleShort = figure.Say("The first programme of this record"), nil
	add("chart-first", ch)
	ch = Chart(9)
	ch.Programmes[3].Residuals[1].Value = 9
	for i := range ch.Programmes {
		ch.Programmes[i].Scatter, ch.Programmes[i].ScatterLimit = nil, nil
	}
	add("chart-wild", ch)
	return out
}
