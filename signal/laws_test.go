package signal

import (
	"flag"
	"math"
	"testing"

	"pgregory.net/rapid"

	"example.org/bookend/fault"
)

func channel(t, v []float64, valid ...Span) *Channel {
	if valid == nil {
		valid = []Span{{0, len(v)}}
	}
	return &Channel{Name: "x", Base: &Base{T: t}, Values: v, Valid: valid}
}

// The draws are the same every time; -rapid.seed chooses others.
func init() {
	if err := flag.Set("rapid.seed", "26"); err != nil {
		panic(err)
	}
}

func TestCrossingsAreBetweenSamplesAndNotAcrossGaps(t *testing.T) {
	c := channel([]float64{0, 1, 2, 3, 4, 5, 6}, []float64{0, 2, 2, 0, 1, 1, 3})
	for _, q := range []struct {
		level float64
		way   Direction
		want  []float64
	}{
		{1, Rising, []float64{0.5, 4}},
		{1, Falling, []float64{2.5}},
		{1, Either, []float64{0.5, 2.5, 4}},
		{2, Rising, []float64{1, 5.5}},
		{2, Falling, nil},
		{9, Either, nil},
	} {
		got := c.Crossings(q.level, q.way, 0, 6)
		if len(got) != len(q.want) {
			t.Errorf("level %g: %v, want %v", q.level, got, q.want)
			continue
		}
		for i := range got {
			if got[i].T != q.want[i] {
				t.Errorf("level %g: %v, want %v", q.level, got, q.want)
			}
		}
	}
	if got := c.Crossings(1, Either, 1, 3); len(got) != 1 || got[0].T != 2.5 || got[0].Rising {
		t.Errorf("between 1 and 3 s: %v", got)
	}
	gap := channel([]float64{0, 1, 2, 3}, []float64{0, 0, 0, 5}, Span{0, 2}, Span{3, 4})
	if got := gap.Crossings(2, Either, 0, 3); len(got) != 0 {
		t.Errorf("a level passed within a gap was crossed: %v", got)
	}
}

func TestCrossingsOfAMirroredSignalAreTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-3, 3), 2, 40).Draw(t, "values")
		level := rapid.SampledFrom([]float64{0, 1, v[0], v[1]}).Draw(t, "level")
		s := Stretch{T: evenTimes(len(v), 10), V: v}
		m := Stretch{T: s.T, V: make([]float64, len(v))}
		for i := range v {
			m.V[i] = -v[i]
		}
		a, b := s.Crossings(level, Either), m.Crossings(-level, Either)
		if len(a) != len(b) {
			t.Fatalf("%v and %v", a, b)
		}
		for i := range a {
			if a[i].T != b[i].T || a[i].Rising == b[i].Rising {
				t.Fatalf("%v and %v", a, b)
			}
			if i > 0 && a[i].T < a[i-1].T {
				t.Fatalf("out of order: %v", a)
			}
		}
	})
}

func TestIntegralsAddUpAndAreExactOnStraightLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 30).Draw(t, "n")
		s := Stretch{T: make([]float64, n), V: make([]float64, n)}
		slope := rapid.Float64Range(-5, 5).Draw(t, "slope")
		for i := 1; i < n; i++ {
			s.T[i] = s.T[i-1] + rapid.Float64Range(0.001, 1).Draw(t, "step")
		}
		for i := range s.V {
			s.V[i] = 2 + slope*s.T[i]
		}
		end := s.T[n-1]
		a := rapid.Float64Range(0, 1).Draw(t, "a") * end
		b := a + rapid.Float64Range(0, 1).Draw(t, "b")*(end-a)
		got, ok := s.Integral(a, b)
		if want := 2*(b-a) + slope*(b*b-a*a)/2; !ok || math.Abs(got-want) > 1e-9*(1+end*end) {
			t.Fatalf("%v (%v), want %v", got, ok, want)
		}
		left, _ := s.Integral(0, a)
		right, _ := s.Integral(b, end)
		whole, _ := s.Integral(0, end)
		if math.Abs(left+got+right-whole) > 1e-9*(1+end*end) {
			t.Fatalf("%v + %v + %v is not %v", left, got, right, whole)
		}
		for i, d := range s.Derivative() {
			if math.Abs(d-slope) > 1e-6 {
				t.Fatalf("slope %v at %d, want %v", d, i, slope)
			}
		}
		for i, m := range s.MovingMean(0.3) {
			lo, hi := math.Max(0, s.T[i]-0.15), math.Min(end, s.T[i]+0.15)
			if want := 2 + slope*(lo+hi)/2; math.Abs(m-want) > 1e-9*(1+math.Abs(want)) {
				t.Fatalf("moving mean %v at %d, want %v", m, i, want)
			}
		}
	})
}

func TestDerivativeOfAParabolaIsExactOnUnevenSamples(t *testing.T) {
	s := Stretch{T: []float64{0, 0.1, 0.35, 0.4, 1}}
	for _, x := range s.T {
		s.V = append(s.V, 3*x*x-x)
	}
	for i, d := range s.Derivative() {
		if want := 6*s.T[i] - 1; math.Abs(d-want) > 1e-12 {
			t.Errorf("at %g: %v, want %v", s.T[i], d, want)
		}
	}
}

func TestWindowsThatLeaveTheirSpanHaveNoValue(t *testing.T) {
	c := channel([]float64{0, 1, 2, 3, 4}, []float64{1, 1, 0, 1, 1}, Span{0, 2}, Span{3, 5})
	if _, ok := c.Integral(0.5, 3.5); ok {
		t.Error("integrated across a gap")
	}
	if v, ok := c.Integral(3.25, 3.75); !ok || v != 0.5 {
		t.Errorf("within a span: %v, %v", v, ok)
	}
	if _, ok := c.At(2); ok {
		t.Error("a value within a gap")
	}
	if c.Covers(0, 3) || !c.Covers(3, 4) {
		t.Error("Covers does not know the spans")
	}
	if _, ok := c.Integral(1, 0); ok {
		t.Error("a window that ends before it begins")
	}
}

func TestResamplingKeepsGapsAndPairsStandWhereBothAreValid(t *testing.T) {
	c := channel([]float64{0, 1, 2, 3, 4, 5}, []float64{0, 1, 0, 3, 4, 5}, Span{0, 2}, Span{3, 6})
	out := c.Resample(Even(0, 5, 0.5))
	if len(out.Valid) != 2 || out.Valid[0] != (Span{0, 3}) || out.Valid[1] != (Span{6, 11}) {
		t.Errorf("valid: %v", out.Valid)
	}
	if out.Values[7] != 3.5 || out.Values[4] != 0 {
		t.Errorf("values: %v", out.Values)
	}
	d := channel([]float64{0.5, 4.5}, []float64{10, 14})
	ps := Pair(c, d, 0, 5)
	if len(ps) != 2 || len(ps[0].T) != 1 || ps[0].T[0] != 1 || ps[0].B[0] != 10.5 || len(ps[1].T) != 2 || ps[1].A[1] != 4 {
		t.Errorf("paired: %+v", ps)
	}
	r := &Recording{Channels: []*Channel{
		{Role: VelocityNorth, Base: c.Base, Values: []float64{3, 3, 0, 3, 3, 3}, Valid: c.Valid},
		{Role: VelocityEast, Base: c.Base, Values: []float64{4, 4, 4, 4, 4, 0}, Valid: []Span{{0, 5}}},
	}}
	v := r.SpeedOverGround()
	if v == nil || len(v.Valid) != 2 || v.Valid[1] != (Span{3, 5}) || v.Values[3] != 5 || v.Values[5] != 0 {
		t.Errorf("speed over ground: %+v", v)
	}
	if (&Recording{}).SpeedOverGround() != nil {
		t.Error("a speed out of nothing")
	}
}

func TestBelow(t *testing.T) {
	s := Stretch{T: []float64{0, 1, 2, 3, 4}, V: []float64{0, 2, 0, 0, 2}}
	got := s.Below(1)
	if len(got) != 2 || got[0] != [2]float64{0, 0.5} || got[1] != [2]float64{1.5, 3.5} {
		t.Errorf("%v", got)
	}
}

// Filtering keeps what is constant, is linear, and reads the same backward.
func TestFiltersAreLinearAndWithoutDelay(t *testing.T) {
	for _, order := range []int{1, 2, 3, 5, 6} {
		f, err := NewLowPass(order, 5, BothPasses, 100)
		if err != nil {
			t.Fatal(err)
		}
		if g := f.Gain(5); math.Abs(g*g-math.Sqrt(0.5)) > 1e-12 {
			t.Errorf("order %d: gain of both passes at the cut-off is %v", order, g*g)
		}
		x, back := make([]float64, 800), make([]float64, 800)
		for i := range x {
			x[i] = math.Sin(0.0005*float64(i*i)) + 0.01*float64(i)
		}
		copy(back, x)
		reverse(back)
		y, err := f.ZeroPhase(x)
		if err != nil {
			t.Fatal(err)
		}
		z, _ := f.ZeroPhase(back)
		reverse(z)
		worst := 0.0
		for i := 300; i < 500; i++ { // at the ends the passes begin differently
			worst = math.Max(worst, math.Abs(y[i]-z[i]))
		}
		if worst > 1e-6 {
			t.Errorf("order %d: backward differs by %v", order, worst)
		}
		for i := range x {
			x[i] = 7
		}
		y, _ = f.ZeroPhase(x)
		for i := range y {
			if math.Abs(y[i]-7) > 1e-10 {
				t.Fatalf("order %d: a constant became %v", order, y[i])
			}
		}
	}
}

func TestFilteringAChannelGoesSpanBySpanAndSaysWhatItDid(t *testing.T) {
	n := 300
	tt, v := evenTimes(n, 100), make([]float64, n)
	for i := range v {
		v[i] = tt[i]
	}
	c := channel(tt, v, Span{0, 100}, Span{110, 115}, Span{120, n})
	out, doubt, err := c.Filtered(4, 10, OnePass)
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Valid) != 2 || !doubt.Has("too_short_to_filter") || doubt.Has("uneven_rate") {
		t.Errorf("valid %v, caveats %v", out.Valid, doubt)
	}
	for _, s := range out.Valid {
		for i := s.From; i < s.To; i++ {
			if math.Abs(out.Values[i]-tt[i]) > 1e-3 { // odd extension goes on straight; the passes begin as if level
				t.Fatalf("a straight line is %v at %v s", out.Values[i], tt[i])
			}
		}
	}
	uneven := channel(append([]float64(nil), tt...), v)
	for i := range uneven.Base.T {
		uneven.Base.T[i] += 0.003 * math.Sin(float64(i))
	}
	if _, doubt, err = uneven.Filtered(2, 10, OnePass); err != nil || !doubt.Has("uneven_rate") {
		t.Errorf("%v, %v", doubt, err)
	}
	if c.Values[5] != tt[5] {
		t.Error("the channel was changed")
	}
}

func TestWhatCannotBeFilteredOrTimedIsRefused(t *testing.T) {
	invalid := func(what string, err error) {
		t.Helper()
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	for _, q := range [][3]float64{{0, 5, 100}, {13, 5, 100}, {2, 50, 100}, {2, 0, 100}, {2, 5, math.Inf(1)}, {2, math.NaN(), 100}} {
		_, err := NewLowPass(int(q[0]), q[1], OnePass, q[2])
		invalid("filter", err)
	}
	_, err := SavitzkyGolay(make([]float64, 9), 4, 2, 0, 1)
	invalid("even window", err)
	_, err = SavitzkyGolay(make([]float64, 3), 5, 2, 0, 1)
	invalid("short", err)
	flat, up := make([]float64, 50), evenTimes(50, 1)
	_, err = Delay(flat, up, 1, 5)
	invalid("flat signal", err)
	_, err = Delay(up[:10], up[:10], 1, 5)
	invalid("too few samples", err)
	s := Stretch{T: evenTimes(50, 10), V: up}
	_, err = s.Step(0, 0, 100, 0.05)
	invalid("never reached", err)
	_, err = s.Step(0, 1, 1, 0.05)
	invalid("no change", err)
	_, err = s.Decrement(0, 0.1)
	invalid("no peaks", err)
}

func BenchmarkCrossings(b *testing.B) {
	n := 1_000_000
	v := make([]float64, n)
	for i := range v {
		v[i] = math.Sin(float64(i) / 1000)
	}
	c := channel(evenTimes(n, 1000), v)
	b.SetBytes(int64(8 * n))
	for b.Loop() {
		c.Crossings(0.5, Either, 0, 1000)
	}
}

func BenchmarkZeroPhase(b *testing.B) {
	f, err := NewLowPass(6, 10, OnePass, 1000)
	if err != nil {
		b.Fatal(err)
	}
	x := make([]float64, 100_000)
	for i := range x {
		x[i] = math.Sin(float64(i) / 100)
	}
	b.SetBytes(int64(8 * len(x)))
	for b.Loop() {
		if _, err := f.ZeroPhase(x); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDelay(b *testing.B) {
	x, y := make([]float64, 6000), make([]float64, 6000)
	for i := range x {
		x[i] = math.Sin(float64(i)/50) + math.Sin(float64(i)/17)
		y[i] = math.Sin(float64(i-7)/50) + math.Sin(float64(i-7)/17)
	}
	for b.Loop() {
		if _, err := Delay(x, y, 0.01, 0.3); err != nil {
			b.Fatal(err)
		}
	}
}
