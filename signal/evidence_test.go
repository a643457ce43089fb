package signal

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
)

func nearAll(t *testing.T, c *golden.Case, what string, got, want []float64) {
	t.Helper()
	if len(got) != len(want) || len(got) == 0 {
		t.Fatalf("%s: %d values, want %d", what, len(got), len(want))
	}
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= c.Tol) {
			t.Fatalf("%s: value %d is %v, want %v within %g (%s)", what, i, got[i], want[i], c.Tol, c.Source)
		}
	}
}

func TestButterworthIsThatOfScipy(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "butterworth-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rate   float64   `json:"fs"`
			Order  int       `json:"order"`
			CutOff float64   `json:"cutoff_hz"`
			X      []float64 `json:"x"`
		}
		var want struct {
			Hz     []float64 `json:"freq_hz"`
			DB     []float64 `json:"gain_db"`
			Filt   []float64 `json:"filtfilt"`
			NoPad  []float64 `json:"filtfilt_nopad"`
			Pad60  []float64 `json:"filtfilt_padlen60"`
			SOSPad []float64 `json:"sosfiltfilt"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		f, err := NewLowPass(in.Order, in.CutOff, OnePass, in.Rate)
		if err != nil {
			t.Fatal(err)
		}
		for i, hz := range want.Hz {
			// Decibels far down amplify the last digit of the response near half the rate.
			if db := 20 * math.Log10(f.Gain(hz)); math.Abs(db-want.DB[i]) > 1e-9*(1+math.Abs(want.DB[i])) {
				t.Errorf("gain at %g Hz is %v dB, want %v", hz, db, want.DB[i])
			}
		}
		y, err := f.ZeroPhase(in.X)
		if err != nil {
			t.Fatal(err)
		}
		nearAll(t, c, "filtfilt", y, want.Filt)
		nearAll(t, c, "sosfiltfilt", y, want.SOSPad)
		for pad, w := range map[int][]float64{0: want.NoPad, 60: want.Pad60} {
			y, err := f.zeroPhase(in.X, pad)
			if err != nil {
				t.Fatal(err)
			}
			nearAll(t, c, "filtfilt with other padding", y, w)
		}
	})
}

func TestTwelvePolesAreSixForwardAndBackward(t *testing.T) {
	golden.Run(t, "closed-forms", "twelve-poles", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			CutOff float64 `json:"cut_off_hz"`
			Hz     float64 `json:"hz"`
			Gain   float64 `json:"gain"`
		}
		c.JSON(t, "case.json", &rows)
		for _, r := range rows {
			f, err := NewLowPass(6, r.CutOff, OnePass, 10e3)
			if err != nil {
				t.Fatal(err)
			}
			g := f.Gain(r.Hz)
			c.Near(t, "gain of both passes", g*g, r.Gain)
		}
	})
}

func TestSavitzkyGolay(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "savgol-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rate       float64   `json:"fs"`
			X          []float64 `json:"x"`
			Window     int       `json:"window"`
			Degree     int       `json:"polyorder"`
			Derivative int       `json:"deriv"`
		}
		var want struct {
			Y []float64 `json:"y"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		y, err := SavitzkyGolay(in.X, in.Window, in.Degree, in.Derivative, 1/in.Rate)
		if err != nil {
			t.Fatal(err)
		}
		nearAll(t, c, "smoothed", y, want.Y)
	})
	golden.Run(t, "savitzky-golay-1964", "quadratic-5-points", func(t *testing.T, c *golden.Case) {
		var v struct {
			Integers []float64 `json:"integers"`
			Norm     float64   `json:"norm"`
		}
		c.JSON(t, "case.json", &v)
		for _, degree := range []int{2, 3} {
			for i, w := range weights(5, degree, 0, 0) {
				c.Near(t, "weight", w, v.Integers[i]/v.Norm)
			}
		}
	})
}

func TestResamplingIsThatOfNumpy(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "resample-jittered", func(t *testing.T, c *golden.Case) {
		var in struct {
			T    []float64 `json:"t"`
			X    []float64 `json:"x"`
			Grid []float64 `json:"grid"`
		}
		var want struct {
			Linear []float64 `json:"linear"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		ch := &Channel{Base: &Base{T: in.T}, Values: in.X, Valid: []Span{{0, len(in.X)}}}
		out := ch.Resample(&Base{T: in.Grid})
		if !out.AllValid() {
			t.Fatalf("valid: %v", out.Valid)
		}
		nearAll(t, c, "resampled", out.Values, want.Linear)
	})
}

func TestDelayBySampleAndParabola(t *testing.T) {
	golden.Run(t, "scipy-1.10.1", "delay-*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rate   float64   `json:"fs"`
			A      []float64 `json:"a"`
			B      []float64 `json:"b"`
			True   float64   `json:"true_delay_s"`
			MaxLag int       `json:"max_lag_samples"`
		}
		var want struct {
			Lag    int     `json:"pearson_lag_samples"`
			Part   float64 `json:"pearson_parabolic_offset"`
			Delay  float64 `json:"delay_s_pearson"`
			Height float64 `json:"pearson_peak"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		l, err := Delay(in.A, in.B, 1/in.Rate, float64(in.MaxLag)/in.Rate)
		if err != nil {
			t.Fatal(err)
		}
		if l.Samples != want.Lag {
			t.Errorf("lag %d samples, want %d", l.Samples, want.Lag)
		}
		c.Near(t, "part of a sample", l.Part, want.Part)
		c.Near(t, "delay", l.Delay, want.Delay)
		c.Near(t, "correlation", l.Correlation, want.Height)
		if math.Abs(l.Delay-in.True) > 0.0005 {
			t.Errorf("delay %v s, made with %v s", l.Delay, in.True)
		}
	})
}

func TestFreeDecay(t *testing.T) {
	golden.Run(t, "closed-forms", "free-decay", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rate float64   `json:"fs"`
			Y    []float64 `json:"y"`
		}
		var want struct {
			Zeta float64 `json:"zeta"`
			Hz   float64 `json:"damped_hz"`
		}
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		d, err := (Stretch{T: evenTimes(len(in.Y), in.Rate), V: in.Y}).Decrement(0, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		c.Near(t, "damping", d.Damping, want.Zeta)
		if math.Abs(d.Frequency-want.Hz) > 0.02 {
			t.Errorf("%v Hz, want %v", d.Frequency, want.Hz)
		}
	})
}

func evenTimes(n int, rate float64) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(i) / rate
	}
	return t
}

type stepWant struct {
	Overshoot float64 `json:"overshoot_ratio"`
	Peak      float64 `json:"peak_time_s"`
	T10       float64 `json:"t10_s"`
	T50       float64 `json:"t50_s"`
	T90       float64 `json:"t90_s"`
	Settling  float64 `json:"settling_5pct_s"`
	Decrement float64 `json:"log_decrement"`
}

func (w stepWant) hold(t *testing.T, c *golden.Case, a StepAnswer) {
	t.Helper()
	c.Near(t, "overshoot", a.Overshoot, w.Overshoot)
	c.Near(t, "peak time", a.Peak, w.Peak)
	c.Near(t, "t10", a.T10, w.T10)
	c.Near(t, "t50", a.T50, w.T50)
	c.Near(t, "t90", a.T90, w.T90)
	c.Near(t, "settling", a.Settling, w.Settling)
}

func TestStepAnswers(t *testing.T) {
	golden.Run(t, "closed-forms", "step-sampled", func(t *testing.T, c *golden.Case) {
		var in struct {
			Rate float64   `json:"fs"`
			T0   float64   `json:"t0"`
			Y    []float64 `json:"y"`
		}
		var want stepWant
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		a, err := (Stretch{T: evenTimes(len(in.Y), in.Rate), V: in.Y}).Step(in.T0, 0, 1, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		want.hold(t, c, a)
	})
	golden.Run(t, "closed-forms", "step-metrics", func(t *testing.T, c *golden.Case) {
		var in []struct {
			Zeta float64 `json:"zeta"`
			W    float64 `json:"wn"`
		}
		var want []stepWant
		c.JSON(t, "inputs.json", &in)
		c.JSON(t, "expected.json", &want)
		for k, q := range in {
			s := Stretch{T: evenTimes(60_001, 20e3), V: make([]float64, 60_001)}
			wd := q.W * math.Sqrt(1-q.Zeta*q.Zeta)
			for i, x := range s.T {
				s.V[i] = 1 - math.Exp(-q.Zeta*q.W*x)*(math.Cos(wd*x)+q.Zeta*q.W/wd*math.Sin(wd*x))
			}
			a, err := s.Step(0, 0, 1, 0.05)
			if err != nil {
				t.Fatal(err)
			}
			want[k].hold(t, c, a)
			if q.Zeta < 0.5 { // beyond, the third peak drowns in rounding of nothing
				d, err := s.Decrement(1, 1e-4)
				if err != nil {
					t.Fatal(err)
				}
				c.NearRel(t, "decrement", d.Decrement, want[k].Decrement)
			}
		}
	})
}
