package web

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"example.org/bookend/app/lines"
	"example.org/bookend/figure"
	"example.org/bookend/figure/svg"
	"example.org/bookend/report"
	"example.org/bookend/unit"
)

// How large the pictures of the page of lines are, in their own units (own choice).
const (
	planWide  = 1000
	planHigh  = 560
	chartHigh = 260
)

// linesTitle says who was farthest ahead of the control at the end, and who farthest
// behind it.
func linesTitle(l *lines.Lines, style unit.Style) report.Text {
	n := len(l.Station) - 1
	first, last := "", ""
	ahead, behind := 0.005, -0.005 // s, what two digits show
	for _, q := range l.Codes[1:] {
		if g := q.Gain[n]; g >= ahead {
			first, ahead = q.Code, g
		} else if g <= behind {
			last, behind = q.Code, g
		}
	}
	by := func(x float64) string { return " " + unit.Second.Format(math.Abs(x), 2, style) }
	switch {
	case first != "" && last != "":
		return say(code(first), " ended"+by(ahead)+" ahead of ", code(l.Control), ", ", code(last), by(behind)+" behind")
	case first != "":
		return say(code(first), " ended"+by(ahead)+" ahead of ", code(l.Control))
	case last != "":
		return say(code(last), " ended"+by(behind)+" behind ", code(l.Control))
	}
	return say("All codes ended with ", code(l.Control))
}

// pen gives the attributes of a code's line.
func pen(codes figure.Codes, of string, width float64) string {
	st := codes.Style(of)
	var dash []string
	for _, d := range st.Dash {
		dash = append(dash, fmt.Sprintf("%.1f", d*1.4))
	}
	out := fmt.Sprintf(`fill="none" stroke="%s" stroke-width="%.1f"`, st.Tone.Hex(), width)
	if dash != nil {
		out += ` stroke-dasharray="` + strings.Join(dash, " ") + `"`
	}
	return out
}

// way writes a line through places, left out where they hardly move.
func way(d drawing, x, y []float64) string {
	var b strings.Builder
	px, py := math.Inf(1), math.Inf(1)
	for i := range x {
		u, v := d.OX+d.SX*x[i], d.OY-d.SY*y[i]
		if i > 0 && i < len(x)-1 && math.Abs(u-px)+math.Abs(v-py) < 0.15 { // seen eight times nearer a point is 1.2
			continue
		}
		if b.Len() == 0 {
			fmt.Fprintf(&b, "M%.1f %.1f", u, v)
		} else {
			fmt.Fprintf(&b, "L%.1f %.1f", u, v)
		}
		px, py = u, v
	}
	return b.String()
}

// plan draws the course from above.
func plan(l *lines.Lines, codes figure.Codes, at int) drawing {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	take := func(x, y float64) {
		x0, x1, y0, y1 = math.Min(x0, x), math.Max(x1, x), math.Min(y0, y), math.Max(y1, y)
	}
	for _, q := range l.Codes {
		for i := range q.X {
			take(q.X[i], q.Y[i])
		}
	}
	for _, w := range l.Ways {
		take(w.From, w.Left)
		take(w.To, w.Right)
	}
	d := drawing{W: planWide, H: planHigh, Title: "The course from above, with each code’s mean line"}
	const edge = 30
	if l.Straight {
		d.H = 300
		d.SX = (planWide - 2*edge) / math.Max(1e-9, x1-x0)
		d.SY = math.Min(40*d.SX, (float64(d.H)-2*edge)/math.Max(1e-9, y1-y0))
		d.Title += fmt.Sprintf("; offsets are drawn %.0f times as long as stations", d.SY/d.SX)
	} else {
		d.SX = math.Min((planWide-2*edge)/math.Max(1e-9, x1-x0), (planHigh-2*edge)/math.Max(1e-9, y1-y0))
		d.SY = d.SX
		d.H = int(math.Ceil((y1-y0)*d.SY)) + 2*edge
	}
	d.OX, d.OY = edge-d.SX*x0, float64(d.H)-edge+d.SY*y0
	if !l.Straight {
		d.OX = (planWide-(x1-x0)*d.SX)/2 - d.SX*x0
	}
	var b strings.Builder
	for _, w := range l.Ways {
		fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" class="way"/>`, d.OX+d.SX*w.From, d.OY-d.SY*w.Left, d.SX*(w.To-w.From), d.SY*(w.Left-w.Right))
	}
	for _, c := range l.Cones {
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="4" class="cone"/>`, d.OX+d.SX*c.X, d.OY-d.SY*c.Y)
	}
	if l.Straight { // off course the line itself is the mean; bands across it
		own := l.Codes[0].Y
		for _, q := range l.Codes {
			if q.Low == nil {
				continue
			}
			var low, high []float64
			for i := range own {
				low, high = append(low, own[i]+q.Low[i]), append(high, own[i]+q.High[i])
			}
			back := slices.Clone(q.X)
			slices.Reverse(back)
			slices.Reverse(low)
			fmt.Fprintf(&b, `<path d="%s%sZ" fill="%s" class="band"/>`, way(d, q.X, high), strings.Replace(way(d, back, low), "M", "L", 1), codes.Style(q.Code).Tone.Hex())
		}
	} else {
		for _, q := range l.Codes { // each code's own runs, thin
			fmt.Fprintf(&b, `<path d="%s" class="ran" %s vector-effect="non-scaling-stroke"/>`, way(d, q.Driven.X, q.Driven.Y), pen(figure.Codes{Control: q.Code}, q.Code, 0.6))
		}
	}
	for i := len(l.Codes) - 1; i >= 0; i-- { // the control on top
		q := l.Codes[i]
		width := 1.8
		if i == 0 {
			width = 2.4
		}
		fmt.Fprintf(&b, `<path d="%s" %s vector-effect="non-scaling-stroke"/>`, way(d, q.X, q.Y), pen(codes, q.Code, width))
	}
	fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" class="lab">gate</text>`, d.OX+d.SX*l.Codes[0].X[0]+8, d.OY-d.SY*l.Codes[0].Y[0]-8)
	for i := len(l.Codes) - 1; i >= 0; i-- {
		q := l.Codes[i]
		fmt.Fprintf(&b, `<g class="at" data-code="%s" transform="translate(%.1f %.1f)">%s</g>`, template.HTMLEscapeString(q.Code), d.OX+d.SX*q.X[at], d.OY-d.SY*q.Y[at], dot(codes, q.Code))
	}
	d.Inside = template.HTML(b.String())
	return d
}

// dot is a code's marker with its letter's tone.
func dot(codes figure.Codes, of string) string {
	st := codes.Style(of)
	return fmt.Sprintf(`<circle r="7" fill="%s"/><circle r="7" fill="none" stroke="%s" stroke-width="1.5"/><text y="3.6" class="in">%s</text>`,
		st.Tone.Hex(), figure.Paper.Hex(), template.HTMLEscapeString(of))
}

// chart draws the time gained on the control along the stations.
func chart(l *lines.Lines, codes figure.Codes, at int, style unit.Style) drawing {
	d := drawing{W: planWide, H: chartHigh, Title: "Time gained on the control along the course, in s"}
	const left, right, top, bottom = 58, 84, 16, 40
	last := l.Station[len(l.Station)-1]
	low, high := 0.0, 0.0
	for _, q := range l.Codes {
		for _, g := range q.Gain {
			low, high = math.Min(low, g), math.Max(high, g)
		}
	}
	if high-low < 0.02 {
		low, high = low-0.01, high+0.01
	}
	pad := 0.06 * (high - low)
	low, high = low-pad, high+pad
	d.SX, d.SY = (planWide-left-right)/last, (chartHigh-top-bottom)/(high-low)
	d.OX, d.OY = left, top+d.SY*high
	var b strings.Builder
	step, digits := even(high-low, 5)
	for t := math.Ceil(low/step) * step; t <= high+1e-9; t += step {
		y := d.OY - d.SY*t
		fmt.Fprintf(&b, `<path d="M%d %.1fH%d" class="grid"/><text x="%d" y="%.1f" class="tick end">%s</text>`, left, y, planWide-right, left-8, y+4, unit.Signed(t+0, digits, style))
	}
	step, _ = even(last, 8)
	for t := 0.0; t <= last; t += step {
		fmt.Fprintf(&b, `<text x="%.1f" y="%d" class="tick mid">%.0f</text>`, d.OX+d.SX*t, chartHigh-bottom+18, t)
	}
	fmt.Fprintf(&b, `<text x="%d" y="%d" class="tick end">station, m</text>`, planWide-right, chartHigh-4)
	fmt.Fprintf(&b, `<path d="M%d %.1fH%d" stroke="%s" fill="none" stroke-width="1.6"/>`, left, d.OY, planWide-right, figure.Ink.Hex())
	// Labels at the ends keep apart.
	type end struct {
		code string
		y    float64
	}
	var ends []end
	for _, q := range l.Codes {
		ends = append(ends, end{q.Code, d.OY - d.SY*q.Gain[len(q.Gain)-1]})
	}
	slices.SortStableFunc(ends, func(a, c end) int {
		switch {
		case a.y < c.y:
			return -1
		case a.y > c.y:
			return 1
		}
		return 0
	})
	for i := 1; i < len(ends); i++ {
		ends[i].y = math.Max(ends[i].y, ends[i-1].y+17)
	}
	if over := ends[len(ends)-1].y - (chartHigh - bottom + 6); over > 0 {
		for i := range ends {
			ends[i].y -= over
		}
	}
	for i := len(l.Codes) - 1; i >= 1; i-- {
		q := l.Codes[i]
		fmt.Fprintf(&b, `<path d="%s" %s/>`, way(d, l.Station, q.Gain), pen(codes, q.Code, 1.8))
	}
	for _, e := range ends {
		for _, q := range l.Codes {
			if q.Code != e.code {
				continue
			}
			text := unit.Signed(q.Gain[len(q.Gain)-1], 2, style)
			if q.Code == l.Control {
				text = "control"
			}
			fmt.Fprintf(&b, `<text x="%d" y="%.1f" class="lab"><tspan font-weight="600" fill="%s">%s</tspan> %s</text>`, planWide-right+8, e.y+4, codes.Style(q.Code).Tone.Hex(), template.HTMLEscapeString(q.Code), text)
		}
	}
	fmt.Fprintf(&b, `<path class="cursor" d="M0 %dV%d" transform="translate(%.1f 0)"/>`, top, chartHigh-bottom, d.OX+d.SX*l.Station[at])
	d.Inside = template.HTML(b.String())
	return d
}

// even gives a round step that makes about n of a length, and its decimals.
func even(length float64, n float64) (step float64, digits int) {
	raw := length / n
	p := math.Floor(math.Log10(raw))
	step = math.Pow(10, p)
	switch f := raw / step; {
	case f > 5:
		step *= 10
		p++
	case f > 2:
		step *= 5
	case f > 1:
		step *= 2
	}
	return step, int(math.Max(0, -p))
}

// picture draws a figure for two widths.
func picture(id string, f figure.Figure) (linedFigure, error) {
	var out linedFigure
	for _, w := range []figure.Width{figure.Full, figure.Half} {
		d, err := f.Draw(w)
		if err != nil {
			return out, err
		}
		if w == figure.Half {
			out.Half = template.HTML(svg.String(d, svg.Options{ID: id + "-half"}))
		} else {
			out.Full = template.HTML(svg.String(d, svg.Options{ID: id}))
		}
	}
	return out, nil
}
