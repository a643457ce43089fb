// Package above draws the page of lines: the course as seen from above with each code's
// mean line and its spread, and what lies along it, one picture below the other on the
// same stations.
//
// Pictures are markup with the scales by which a script finds places on them; nothing
// here computes what is drawn. Hues, dashes and markers are those of figures. Lengths are
// written in the reader's unit; scales take m and s.
package above

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"example.org/bookend/app/lines"
	"example.org/bookend/figure"
	"example.org/bookend/unit"
)

// Drawing is one picture in units of its own, and how places on it are found.
type Drawing struct {
	W, H           int
	SX, SY, OX, OY float64 // x = OX + SX·station or east, y = OY − SY·the other
	Title          string
	Inside         template.HTML
}

// How large the pictures of the page of lines are, in their own units (own choice).
const (
	planWide  = 1000
	planHigh  = 560
	chartHigh = 260
)

// dash gives the dashes of a code's line as a list; empty for a solid one.
func dash(codes figure.Codes, of string) string {
	var out []string
	for _, d := range codes.Style(of).Dash {
		out = append(out, fmt.Sprintf("%.1f", d*1.4))
	}
	return strings.Join(out, " ")
}

// pen gives the attributes of a code's line.
func pen(codes figure.Codes, of string, width float64) string {
	out := fmt.Sprintf(`fill="none" stroke="%s" stroke-width="%.1f"`, codes.Style(of).Tone.Hex(), width)
	if d := dash(codes, of); d != "" {
		out += ` stroke-dasharray="` + d + `"`
	}
	return out
}

// way writes a line through places, left out where they hardly move.
func way(d Drawing, x, y []float64) string {
	var b strings.Builder
	px, py := math.Inf(1), math.Inf(1)
	for i := range x {
		u, v := d.OX+d.SX*x[i], d.OY-d.SY*y[i]
		if i > 0 && i < len(x)-1 && math.Abs(u-px)+math.Abs(v-py) < 0.15 { // seen twenty times nearer that is 3
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

// Plan draws the course from above, with the room between two codes at a station, or
// between one and the cones.
func Plan(l *lines.Lines, codes figure.Codes, at int, of, from string, style unit.Style) Drawing {
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
	d := Drawing{W: planWide, H: planHigh, Title: "The course from above, with each code’s mean line"}
	const edge = 30
	foot := edge // below it stand the stations, where they are straight
	if l.Straight {
		d.H, foot = 320, 44
		d.SX = (planWide - 2*edge - 30) / math.Max(1e-9, x1-x0)
		d.SY = math.Min(40*d.SX, float64(d.H-edge-foot)/math.Max(1e-9, y1-y0))
		d.Title += fmt.Sprintf("; offsets are drawn %.0f times as long as stations", d.SY/d.SX)
	} else {
		d.SX = math.Min((planWide-2*edge)/math.Max(1e-9, x1-x0), (planHigh-2*edge)/math.Max(1e-9, y1-y0))
		d.SY = d.SX
		d.H = int(math.Ceil((y1-y0)*d.SY)) + edge + foot
	}
	d.OX, d.OY = edge-d.SX*x0, float64(d.H-foot)+d.SY*y0
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
	b.WriteString(stations(l, d, style))
	for _, q := range l.Codes {
		if q.Spread != nil {
			fmt.Fprintf(&b, `<path d="%s" fill="%s" class="band"/>`, beside(l, d, q), codes.Style(q.Code).Tone.Hex())
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
	if l.Straight {
		b.WriteString(ends(codes, d.W-edge-30, float64(d.H-foot), edge, func(q lines.Line) (float64, string) { return d.OY - d.SY*q.Y[len(q.Y)-1], "" }, l))
	}
	b.WriteString(gap(l, d, at, of, from))
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

// beside gives the outline of a code's spread: one standard deviation of single runs to
// each side of its mean line.
func beside(l *lines.Lines, d Drawing, q lines.Line) string {
	n := len(q.X)
	side := func(by float64) (x, y []float64) {
		for i := range q.X {
			dx, dy := 0.0, 1.0
			if !l.Straight { // to the left of the way it goes
				a, b := max(i-1, 0), min(i+1, n-1)
				u, v := q.X[b]-q.X[a], q.Y[b]-q.Y[a]
				if long := math.Hypot(u, v); long > 0 {
					dx, dy = -v/long, u/long
				}
			}
			x, y = append(x, q.X[i]+by*q.Spread[i]*dx), append(y, q.Y[i]+by*q.Spread[i]*dy)
		}
		return x, y
	}
	lx, ly := side(1)
	rx, ry := side(-1)
	slices.Reverse(rx)
	slices.Reverse(ry)
	return way(d, lx, ly) + "L" + way(d, rx, ry)[1:] + "Z"
}

// stations marks round stations along the control's line, and where it is begun.
func stations(l *lines.Lines, d Drawing, style unit.Style) string {
	var b strings.Builder
	own := l.Codes[0]
	n := len(l.Station) - 1
	by := ScaleOf(style)
	step, digits := even(by.Length*l.Station[n], 8)
	for k := 0; step*float64(k) < by.Length*l.Station[n]; k++ {
		t := step * float64(k) / by.Length // m
		i, _ := slices.BinarySearch(l.Station, t)
		i = min(i, n)
		u, v := d.OX+d.SX*own.X[i], d.OY-d.SY*own.Y[i]
		text := unit.Number(by.Length*t, digits, style)
		if l.Straight {
			if t == 0 {
				text += "\u00a0" + by.LengthIn
			}
			fmt.Fprintf(&b, `<text x="%.1f" y="%d" class="tick mid">%s</text>`, d.OX+d.SX*t, d.H-8, text)
			continue
		}
		if t == 0 {
			text = "gate"
		}
		k, j := max(i-1, 0), min(i+1, n)
		du, dv := d.SX*(own.X[j]-own.X[k]), -d.SY*(own.Y[j]-own.Y[k])
		long := math.Max(1e-9, math.Hypot(du, dv))
		ru, rv := -dv/long, du/long // to the right on paper of the way it goes
		fmt.Fprintf(&b, `<path d="M%.1f %.1fL%.1f %.1f" class="post" vector-effect="non-scaling-stroke"/><text x="%.1f" y="%.1f" class="tick mid lab">%s</text>`,
			u-6*ru, v-6*rv, u+6*ru, v+6*rv, u+22*ru, v+16*rv+4, text)
	}
	return b.String()
}

// gap draws the room between two codes' mean lines at a station.
func gap(l *lines.Lines, d Drawing, at int, of, from string) string {
	var u, v []float64
	for _, name := range []string{from, of} {
		for _, q := range l.Codes {
			if q.Code == name {
				u, v = append(u, d.OX+d.SX*q.X[at]), append(v, d.OY-d.SY*q.Y[at])
			}
		}
	}
	way := ""
	if len(u) == 2 {
		way = fmt.Sprintf("M%.2f %.2fL%.2f %.2f", u[0], v[0], u[1], v[1])
	}
	if from == ToCones {
		way = toCones(l, d, at, of)
	}
	return fmt.Sprintf(`<path class="gap" d="%s" vector-effect="non-scaling-stroke"/>`, way)
}

// toCones draws the room between a code's body and the cones beside it.
func toCones(l *lines.Lines, d Drawing, at int, of string) string {
	var b strings.Builder
	cones, _ := l.ToCones(of, at)
	for _, c := range cones {
		body := c.Edge - c.Room
		if c.Side == "right" {
			body = c.Edge + c.Room
		}
		fmt.Fprintf(&b, "M%.2f %.2fL%.2f %.2f", d.OX+d.SX*l.Station[at], d.OY-d.SY*body, d.OX+d.SX*l.Station[at], d.OY-d.SY*c.Edge)
	}
	return b.String()
}

// ends writes each code at the end of its line, kept apart.
func ends(codes figure.Codes, right int, bottom, top float64, at func(lines.Line) (y float64, text string), l *lines.Lines) string {
	type end struct {
		code, text string
		y          float64
	}
	const apart = 17
	var all []end
	for _, q := range l.Codes {
		y, text := at(q)
		all = append(all, end{q.Code, text, y})
	}
	slices.SortStableFunc(all, func(a, c end) int {
		switch {
		case a.y < c.y:
			return -1
		case a.y > c.y:
			return 1
		}
		return 0
	})
	for i := 1; i < len(all); i++ {
		all[i].y = math.Max(all[i].y, all[i-1].y+apart)
	}
	if over := all[len(all)-1].y - bottom; over > 0 {
		for i := len(all) - 1; i >= 0; i-- {
			all[i].y = math.Min(all[i].y, bottom-float64(len(all)-1-i)*apart)
		}
	}
	var b strings.Builder
	for _, e := range all {
		fmt.Fprintf(&b, `<text x="%d" y="%.1f" class="lab"><tspan font-weight="600" fill="%s">%s</tspan> %s</text>`, right+8, math.Max(top, e.y)+4, codes.Style(e.code).Tone.Hex(), template.HTMLEscapeString(e.code), e.text)
	}
	return b.String()
}

// Time draws the time gained on the control along the stations.
func Time(l *lines.Lines, codes figure.Codes, at int, style unit.Style) Drawing {
	return along(l, codes, at, style, "Time gained on the control along the course, in s", 1, 2, func(q lines.Line) ([]float64, []float64) { return q.Gain, nil })
}

// Aside draws how far each code's mean line lies to the left of the control's along the
// stations, with the spread of its runs.
func Aside(l *lines.Lines, codes figure.Codes, at int, style unit.Style) Drawing {
	by := ScaleOf(style)
	return along(l, codes, at, style, "How far each mean line lies to the left of the control’s along the course, in "+by.LengthIn, by.Length, by.Offset, func(q lines.Line) ([]float64, []float64) { return q.Aside, q.Spread })
}

// along draws one line a code over the stations, with a band of so much to each side;
// values are written by so much larger, with so many decimals.
func along(l *lines.Lines, codes figure.Codes, at int, style unit.Style, title string, by float64, end int, of func(lines.Line) (y, half []float64)) Drawing {
	d := Drawing{W: planWide, H: chartHigh, Title: title}
	const left, right, top, bottom = 58, 84, 16, 40
	last := l.Station[len(l.Station)-1]
	low, high := 0.0, 0.0
	for _, q := range l.Codes {
		y, half := of(q)
		for i := range y {
			by := 0.0
			if half != nil {
				by = half[i]
			}
			low, high = math.Min(low, y[i]-by), math.Max(high, y[i]+by)
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
	step, digits := even(by*(high-low), 5)
	for k := math.Ceil(by * low / step); k*step <= by*high+1e-9; k++ {
		t := k * step
		y := d.OY - d.SY*t/by
		fmt.Fprintf(&b, `<path d="M%d %.1fH%d" class="grid"/><text x="%d" y="%.1f" class="tick end">%s</text>`, left, y, planWide-right, left-8, y+4, unit.Signed(t+0, digits, style))
	}
	long := ScaleOf(style)
	step, digits = even(long.Length*last, 8)
	for t := 0.0; t <= long.Length*last; t += step {
		fmt.Fprintf(&b, `<text x="%.1f" y="%d" class="tick mid">%s</text>`, d.OX+d.SX*t/long.Length, chartHigh-bottom+18, unit.Number(t, digits, style))
	}
	fmt.Fprintf(&b, `<text x="%d" y="%d" class="tick end">station, %s</text>`, planWide-right, chartHigh-4, long.LengthIn)
	for _, q := range l.Codes {
		y, half := of(q)
		if half == nil {
			continue
		}
		var lo, hi []float64
		for i := range y {
			lo, hi = append(lo, y[i]-half[i]), append(hi, y[i]+half[i])
		}
		back := slices.Clone(l.Station)
		slices.Reverse(back)
		slices.Reverse(lo)
		fmt.Fprintf(&b, `<path d="%sL%sZ" fill="%s" class="band"/>`, way(d, l.Station, hi), way(d, back, lo)[1:], codes.Style(q.Code).Tone.Hex())
	}
	fmt.Fprintf(&b, `<path d="M%d %.1fH%d" stroke="%s" fill="none" stroke-width="1.6"/>`, left, d.OY, planWide-right, figure.Ink.Hex())
	for i := len(l.Codes) - 1; i >= 1; i-- {
		q := l.Codes[i]
		y, _ := of(q)
		fmt.Fprintf(&b, `<path d="%s" %s/>`, way(d, l.Station, y), pen(codes, q.Code, 1.8))
	}
	b.WriteString(ends(codes, planWide-right, chartHigh-bottom+6, top, func(q lines.Line) (float64, string) {
		if q.Code == l.Control {
			return d.OY, "control"
		}
		y, _ := of(q)
		return d.OY - d.SY*y[len(y)-1], unit.Signed(by*y[len(y)-1], end, style)
	}, l))
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
