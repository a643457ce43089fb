package agree

import (
	"math"
	"slices"

	"example.org/bookend/signal"
)

// Fit is how a signal y agrees with what x lets expect of it:
// y(t) = slope * x(t - delay) + offset.
type Fit struct {
	Seconds     float64
	Correlation float64 // after the delay is taken out
	Spread      float64 // of x: its standard deviation, in its unit

	// The slope lies between the regression of y on x and that of x on y, the nearer
	// the two the less noise there is; each with its standard error by leaving out
	// one block of the time after the other.
	SlopeLow, SlopeHigh float64 // the low one nearer to 0
	SlopeSE             float64
	Slope               float64 // their geometric mean
	Offset, OffsetSE    float64 // in y's unit, at that slope
	Shift, ShiftSE      float64 // mean of y - x, in y's unit: the offset if the slope is 1
	Residual            float64 // standard deviation of y about the line, in its unit

	Delay, DelaySE float64 // s, positive where y is late
	DelayKnown     bool
}

// How a fit is made; own choices.
const (
	leastSeconds = 4.0  // of both signals together
	pieceSeconds = 10.0 // one delay each
	blocks       = 20   // for the standard errors, of at least
	blockSeconds = 3.0  // s each
	sameShape    = 0.7  // least correlation at the best lag for a delay to count
	leastPieces  = 2    // one alone may be chance
	apart        = 0.1  // s; pieces that lie farther from their middle on the mean do not agree
	aside        = 0.2  // s from the best delay, where
	steeper      = 1.1  // times as much of the variance must be left
	plainer      = 2.0  // times less of the variance must be left with a delay than without
	evenSeconds  = 0.02 // s; pieces whose delays scatter by more say nothing about small ones
)

// Between fits y on x, both on one grid; delays of up to longest s either way are
// looked for, in pieces in which x moves by a standard deviation of at least spread.
// delayed says from which delay on it is taken out before the rest is fitted. ok is false where the two are together for less than four seconds.
func Between(x, y Series, longest, delayed, spread float64) (f Fit, ok bool) {
	both := Of(func(v ...float64) (float64, bool) { return 0, true }, x, y)
	if both.Seconds() < leastSeconds {
		return Fit{}, false
	}
	f.delay(x, y, both, longest, spread)
	if f.DelayKnown && math.Abs(f.Delay) > delayed {
		y = y.Moved(f.Delay)
	}
	return f, f.line(x, y)
}

// delay finds the delay by pieces of the time.
func (f *Fit) delay(x, y, both Series, longest, spread float64) {
	step := x.Grid.Step
	reach := int(longest/step + 1e-9)
	length := int(pieceSeconds / step)
	type piece struct{ delay, weight float64 }
	for _, sign := range []float64{1, -1} {
		var found []piece
		total, agreed := 0.0, 0.0
		for _, r := range both.runs() {
			for from := r.From; from+int(leastSeconds/step) <= r.To; from += length {
				to := min(from+length, r.To)
				if r.To-to < int(leastSeconds/step) {
					to = r.To
				}
				a, b := x.V[from:to], slices.Clone(y.V[from:to])
				for i := range b {
					b[i] *= sign
				}
				w := energy(a)
				if w < spread*spread*float64(len(a)) {
					continue
				}
				if to-from < 4*reach {
					total += w
					continue
				}
				lag, err := signal.Delay(a, b, step, longest)
				if err == nil && lag.Correlation >= sameShape && flat(a, b, lag, step) {
					continue // it says nothing
				}
				total += w
				if err != nil || lag.Correlation < sameShape {
					continue
				}
				agreed += w
				found = append(found, piece{lag.Delay, w})
			}
		}
		// Half of what moves must agree, or the delays are those of a few chance pieces.
		if len(found) < leastPieces || agreed < 0.5*total {
			continue
		}
		slices.SortFunc(found, func(a, b piece) int {
			switch {
			case a.delay < b.delay:
				return -1
			case a.delay > b.delay:
				return 1
			}
			return 0
		})
		sum := 0.0
		for _, p := range found {
			sum += p.weight
			if sum >= 0.5*agreed {
				f.Delay = p.delay
				break
			}
		}
		dev, weight := 0.0, 0.0
		for _, p := range found {
			dev += p.weight * math.Abs(p.delay-f.Delay)
			weight += p.weight
		}
		if dev > apart*weight {
			f.Delay = 0
			continue
		}
		f.DelaySE = math.Max(1.25*dev/weight, evenSeconds/2) / math.Sqrt(float64(len(found))) // 1.25: from a normal variable's mean absolute value
		f.DelayKnown = true
		return
	}
}

func sq(x float64) float64 { return x * x }

// flat tells whether two signals go nearly as well together with another delay as with
// the best one: as what moves slowly does.
func flat(a, b []float64, best signal.Lag, step float64) bool {
	left := 1 - sq(best.Correlation)
	if math.Abs(best.Delay) > evenSeconds && 1-sq(together(a, b, 0)) < plainer*left {
		return true
	}
	off := max(1, int(aside/step))
	for _, lag := range [...]int{best.Samples - off, best.Samples + off} {
		if 1-sq(together(a, b, lag)) < steeper*left {
			return true
		}
	}
	return false
}

// together gives the correlation of two signals, the second moved by a lag in samples.
func together(a, b []float64, lag int) float64 {
	var s sums
	for i := max(0, -lag); i < min(len(a), len(a)-lag); i++ {
		x, y := a[i]-a[0], b[i+lag]-b[0]
		s = sums{s.n + 1, s.x + x, s.y + y, s.xx + x*x, s.xy + x*y, s.yy + y*y}
	}
	return s.lines().r
}

func energy(v []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x
	}
	mean /= float64(len(v))
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	return sum
}

// sums are what a line is fitted from.
type sums struct{ n, x, y, xx, xy, yy float64 }

func (s sums) less(o sums) sums {
	return sums{s.n - o.n, s.x - o.x, s.y - o.y, s.xx - o.xx, s.xy - o.xy, s.yy - o.yy}
}

type lines struct{ low, high, mid, offset, shift, r, residual float64 }

func (s sums) lines() lines {
	mx, my := s.x/s.n, s.y/s.n
	sxx, sxy, syy := s.xx-s.n*mx*mx, s.xy-s.n*mx*my, s.yy-s.n*my*my
	var l lines
	l.shift = my - mx
	if !(sxx > 0) || !(syy > 0) || sxy == 0 {
		l.offset = my
		return l
	}
	l.low, l.high = sxy/sxx, syy/sxy
	l.r = sxy / math.Sqrt(sxx*syy)
	l.mid = math.Copysign(math.Sqrt(syy/sxx), sxy)
	l.offset = my - l.mid*mx
	l.residual = math.Sqrt(math.Max(0, syy-sxy*sxy/sxx) / s.n)
	return l
}

// line fits the rest; false where nothing is left to fit.
func (f *Fit) line(x, y Series) bool {
	step := x.Grid.Step
	total := 0
	for i := range x.V {
		if x.OK[i] && y.OK[i] {
			total++
		}
	}
	f.Seconds = float64(total) * step
	if f.Seconds < leastSeconds {
		return false
	}
	size := max(total/blocks+1, int(blockSeconds/step))
	var all sums
	var part []sums
	n := 0
	// Values are counted from the first pair, so that squares lose nothing.
	x0, y0 := math.NaN(), 0.0
	for i := range x.V {
		if !x.OK[i] || !y.OK[i] {
			continue
		}
		if math.IsNaN(x0) {
			x0, y0 = x.V[i], y.V[i]
		}
		a, b := x.V[i]-x0, y.V[i]-y0
		s := sums{1, a, b, a * a, a * b, b * b}
		if n%size == 0 {
			part = append(part, sums{})
		}
		n++
		p := &part[len(part)-1]
		*p = sums{p.n + s.n, p.x + s.x, p.y + s.y, p.xx + s.xx, p.xy + s.xy, p.yy + s.yy}
	}
	for _, p := range part {
		all = sums{all.n + p.n, all.x + p.x, all.y + p.y, all.xx + p.xx, all.xy + p.xy, all.yy + p.yy}
	}
	l := all.lines()
	f.SlopeLow, f.SlopeHigh, f.Slope, f.Correlation, f.Residual = l.low, l.high, l.mid, l.r, l.residual
	f.Offset = l.offset + y0 - l.mid*x0
	f.Shift = l.shift + y0 - x0
	f.Spread = math.Sqrt(math.Max(0, all.xx/all.n-all.x*all.x/(all.n*all.n)))
	k := float64(len(part))
	if k < 2 {
		f.SlopeSE, f.OffsetSE, f.ShiftSE = math.Inf(1), math.Inf(1), math.Inf(1)
		return true
	}
	var slope, offset, shift float64
	for _, p := range part {
		j := all.less(p).lines()
		slope += (j.mid - l.mid) * (j.mid - l.mid)
		o := (j.offset + y0 - j.mid*x0) - f.Offset
		offset += o * o
		shift += (j.shift - l.shift) * (j.shift - l.shift)
	}
	f.SlopeSE, f.OffsetSE, f.ShiftSE = math.Sqrt(slope*(k-1)/k), math.Sqrt(offset*(k-1)/k), math.Sqrt(shift*(k-1)/k)
	return true
}
