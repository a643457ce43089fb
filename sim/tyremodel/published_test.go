package tyremodel_test

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/sim/tyremodel"
)

// printed is a figure and the unit of its last printed digit.
type printed [2]float64

func (p printed) near(t *testing.T, c *golden.Case, what string, got float64) {
	t.Helper()
	c.Near(t, what, (got-p[0])/p[1], 0)
}

// row is a printed curve: values are x, y and the unit of y's last digit.
type row struct {
	Load float64      `json:"load_kn"`
	D    printed      `json:"d"`
	BCD  printed      `json:"bcd"`
	B    printed      `json:"b"`
	E    printed      `json:"e"`
	At   [][3]float64 `json:"at"`
	Peak printed      `json:"peak"`
}

func (r row) hold(t *testing.T, c *golden.Case, k tyremodel.Curve, x float64) {
	t.Helper()
	for _, p := range []struct {
		what string
		want printed
		got  float64
	}{{"D", r.D, k.D}, {"BCD", r.BCD, k.Slope()}, {"B", r.B, k.B}, {"E", r.E, k.E}} {
		if p.want[1] != 0 {
			p.want.near(t, c, p.what, p.got)
		}
	}
	for _, a := range r.At {
		printed{a[1], a[2]}.near(t, c, "value", k.At(a[0]*x))
	}
	peak, top, ok := k.Peak()
	if !ok {
		t.Fatal("no peak is found")
	}
	r.Peak.near(t, c, "peak", peak/x)
	if top != k.D || k.At(peak) < k.D*(1-1e-12) {
		t.Errorf("the peak is %v, not D = %v", k.At(peak), k.D)
	}
}

func TestSet1987(t *testing.T) {
	golden.Run(t, "bakker-1987", "*", func(t *testing.T, c *golden.Case) {
		var lateral, longitudinal []row
		c.JSON(t, "lateral.json", &lateral)
		c.JSON(t, "longitudinal.json", &longitudinal)
		var s tyremodel.Set1987
		for _, r := range lateral {
			r.hold(t, c, s.Lateral(r.Load), 1)
		}
		for _, r := range longitudinal {
			r.hold(t, c, s.Longitudinal(r.Load), 1)
		}
	})
}

// The aligning torque has no printed figure here: it opposes the slip where the
// tyre grips, and changes its sign beyond.
func TestSet1987AligningTurnsOver(t *testing.T) {
	k := tyremodel.Set1987{}.Aligning(4)
	if !(k.At(2) < 0) || !(k.At(2) < k.At(8)) {
		t.Errorf("torque at 2° %v, at 8° %v", k.At(2), k.At(8))
	}
}

func TestSet2020(t *testing.T) {
	golden.Run(t, "commonroad-2020a", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Load         float64 `json:"load_n"`
			Lateral      row     `json:"lateral"`
			Longitudinal row     `json:"longitudinal"`
		}
		c.JSON(t, "case.json", &in)
		s := tyremodel.CommonRoad()
		in.Lateral.hold(t, c, s.Lateral(in.Load), math.Pi/180)
		in.Longitudinal.hold(t, c, s.Longitudinal(in.Load), 1)
	})
}

// Combined slip leaves what there is alone, takes from both, and mirrors.
func TestWeights(t *testing.T) {
	s := tyremodel.CommonRoad()
	if long, lat := s.Weights(0, 0); long != 1 || lat != 1 {
		t.Errorf("without the other slip the weights are %v and %v", long, lat)
	}
	before := [2]float64{1, 1}
	for _, x := range []float64{0.01, 0.03, 0.1, 0.2} {
		long, lat := s.Weights(x, x)
		if !(long < before[0] && lat < before[1] && long > 0 && lat > 0) {
			t.Errorf("at %v: %v and %v after %v", x, long, lat, before)
		}
		before = [2]float64{long, lat}
		if a, b := s.Weights(-x, -x); a != long || b != lat {
			t.Errorf("at %v mirrored: %v and %v", x, a, b)
		}
	}
}

func TestRelaxationAndEllipse(t *testing.T) {
	golden.Run(t, "vehicle-handbook", "relaxation-and-ellipse", func(t *testing.T, c *golden.Case) {
		var in struct {
			Relaxation struct {
				Sigma float64      `json:"sigma_m"`
				Speed float64      `json:"speed_mps"`
				At    [][3]float64 `json:"at"`
			} `json:"relaxation"`
			Ellipse struct {
				MuX  float64 `json:"mu_x"`
				MuY  float64 `json:"mu_y"`
				Load float64 `json:"load_n"`
				Long float64 `json:"long_n"`
				Lat  printed `json:"lat_n"`
			} `json:"ellipse"`
		}
		c.JSON(t, "case.json", &in)
		r := in.Relaxation
		for _, a := range r.At {
			printed{a[1], a[2]}.near(t, c, "slip", 100*tyremodel.Relax(0, 1, r.Speed, r.Sigma, a[0]))
		}
		e := in.Ellipse
		e.Lat.near(t, c, "lateral force", tyremodel.Ellipse(e.MuX, e.MuY, e.Load, e.Long))
	})
	if got := tyremodel.Ellipse(1, 1, 1000, 1001); got != 0 {
		t.Errorf("more than the tyre has leaves %v N", got)
	}
}

const (
	mph  = 0.44704
	kmh  = 1 / 3.6
	psi  = 6894.757293168361
	inch = 0.0254
)

func TestFloatingSpeeds(t *testing.T) {
	golden.Run(t, "nasa-tn-d-2056", "*", func(t *testing.T, c *golden.Case) {
		var in []struct {
			KPa float64 `json:"kpa"`
			PSI float64 `json:"psi"`
			MPH printed `json:"mph"`
			KMH printed `json:"kmh"`
		}
		c.JSON(t, "case.json", &in)
		for _, r := range in {
			v := tyremodel.HorneSpeed(r.KPa*1e3 + r.PSI*psi)
			if r.MPH[1] != 0 {
				r.MPH.near(t, c, "mph", v/mph)
			}
			if r.KMH[1] != 0 {
				r.KMH.near(t, c, "km/h", v/kmh)
			}
		}
	})
	golden.Run(t, "horne-1986", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			PSI   float64 `json:"psi"`
			Shape float64 `json:"width_by_length"`
			MPH   printed `json:"mph"`
		}
		c.JSON(t, "case.json", &in)
		in.MPH.near(t, c, "mph", tyremodel.HorneFootprintSpeed(in.PSI*psi, in.Shape)/mph)
	})
	golden.Run(t, "tti-hydroplaning", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Ivey struct {
				PSI    float64 `json:"psi"`
				Aspect float64 `json:"aspect"`
				MPH    printed `json:"mph"`
			} `json:"ivey"`
			Gallaway struct {
				SpinDown float64 `json:"spin_down_percent"`
				PSI      float64 `json:"psi"`
				Tread    float64 `json:"tread_32nds"`
				Water    float64 `json:"water_in"`
				Texture  float64 `json:"texture_in"`
				MPH      printed `json:"mph"`
			} `json:"gallaway"`
		}
		c.JSON(t, "case.json", &in)
		in.Ivey.MPH.near(t, c, "Ivey, mph", tyremodel.IveySpeed(in.Ivey.PSI*psi, in.Ivey.Aspect)/mph)
		g := in.Gallaway
		got := tyremodel.GallawaySpeed(g.SpinDown/100, g.PSI*psi, g.Tread*inch/32, g.Water*inch, g.Texture*inch)
		g.MPH.near(t, c, "Gallaway, mph", got/mph)
	})
}

// The factors of the curve come back from its features.
func TestFactorsFromFeatures(t *testing.T) {
	k := tyremodel.Set1987{}.Lateral(4)
	if c := tyremodel.ShapeFactor(k.Far(), k.D); math.Abs(c-k.C) > 1e-12 {
		t.Errorf("C = %v, want %v", c, k.C)
	}
	x, _, _ := k.Peak()
	if e := tyremodel.CurvatureFactor(k.B, k.C, x); math.Abs(e-k.E) > 1e-9 {
		t.Errorf("E = %v, want %v", e, k.E)
	}
	if _, _, ok := (tyremodel.Curve{B: 1, C: 1, D: 1}).Peak(); ok {
		t.Error("a curve that only rises has a peak")
	}
}
