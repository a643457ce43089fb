package vehicle_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/sim/vehicle"
)

// printed is a figure and the unit of its last printed digit.
type printed [2]float64

func (p printed) near(t *testing.T, c *golden.Case, what string, got float64) {
	t.Helper()
	c.Near(t, what, (got-p[0])/p[1], 0)
}

type set struct {
	Mass    float64 `json:"mass_kg"`
	Inertia float64 `json:"inertia_kgm2"`
	Front   float64 `json:"front_m"`
	Rear    float64 `json:"rear_m"`
	FrontC  float64 `json:"front_npr"`
	RearC   float64 `json:"rear_npr"`
}

func (s set) bicycle() vehicle.Bicycle { return vehicle.Bicycle(s) }

func TestBicycleSetA(t *testing.T) {
	golden.Run(t, "bicycle-set-a", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			set
			Understeer     printed `json:"understeer"`
			UndersteerDegG printed `json:"understeer_degg"`
			Characteristic printed `json:"characteristic_mps"`
			Speeds         []struct {
				Speed     float64 `json:"speed_mps"`
				Yaw       printed `json:"yaw"`
				Lateral   printed `json:"lateral"`
				Sideslip  printed `json:"sideslip"`
				Frequency printed `json:"frequency"`
				Damping   printed `json:"damping"`
				T90       printed `json:"t90_s"`
				Peak      printed `json:"peak_s"`
				Overshoot printed `json:"overshoot"`
			} `json:"speeds"`
		}
		c.JSON(t, "case.json", &in)
		b := in.bicycle()
		in.Understeer.near(t, c, "K", b.Understeer())
		in.UndersteerDegG.near(t, c, "K, deg/g", b.Understeer()*180/math.Pi*9.81)
		in.Characteristic.near(t, c, "characteristic speed", b.CharacteristicSpeed())
		for _, s := range in.Speeds {
			yaw, lateral, sideslip := b.Gains(s.Speed)
			s.Yaw.near(t, c, "yaw gain", yaw)
			s.Lateral.near(t, c, "lateral gain", lateral)
			s.Sideslip.near(t, c, "sideslip gain", sideslip)
			frequency, damping := b.Modes(s.Speed)
			s.Frequency.near(t, c, "natural frequency", frequency)
			s.Damping.near(t, c, "damping", damping)
			a := b.StepSteer(s.Speed, 0)
			s.T90.near(t, c, "T90", a.YawT90)
			s.Peak.near(t, c, "peak time", a.YawPeak)
			s.Overshoot.near(t, c, "overshoot, per cent", 100*a.YawOvershoot)
		}
	})
}

func TestNeutralBicycle(t *testing.T) {
	golden.Run(t, "commonroad-2020a", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Mass    float64 `json:"mass_kg"`
			Inertia float64 `json:"inertia_kgm2"`
			Front   float64 `json:"front_m"`
			Rear    float64 `json:"rear_m"`
			Mu      float64 `json:"mu"`
			Slope   float64 `json:"slope"`
			Gravity float64 `json:"gravity"`
			FrontC  printed `json:"front_npr"`
			RearC   printed `json:"rear_npr"`
			Speed   float64 `json:"speed_mps"`
			Yaw     printed `json:"yaw"`
			Damping printed `json:"damping"`
		}
		c.JSON(t, "case.json", &in)
		weight := in.Mu * in.Slope * in.Mass * in.Gravity / (in.Front + in.Rear)
		b := vehicle.Bicycle{Mass: in.Mass, Inertia: in.Inertia, Front: in.Front, Rear: in.Rear, FrontC: weight * in.Rear, RearC: weight * in.Front}
		in.FrontC.near(t, c, "front axle", b.FrontC)
		in.RearC.near(t, c, "rear axle", b.RearC)
		if k := b.Understeer(); math.Abs(k) > 1e-15 {
			t.Errorf("K = %v of a neutral vehicle", k)
		}
		yaw, _, _ := b.Gains(in.Speed)
		in.Yaw.near(t, c, "yaw gain", yaw)
		_, damping := b.Modes(in.Speed)
		in.Damping.near(t, c, "damping", damping)
	})
}

func TestISO7401(t *testing.T) {
	golden.Run(t, "iso-7401", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			set
			Speed            float64 `json:"speed_kmh"`
			Rise             float64 `json:"rise_s"`
			Yaw              printed `json:"yaw"`
			T90              printed `json:"t90_s"`
			Peak             printed `json:"peak_s"`
			Overshoot        printed `json:"overshoot"`
			LateralT90       printed `json:"lateral_t90_s"`
			LateralOvershoot printed `json:"lateral_overshoot"`
			TB               printed `json:"tb"`
			Frequencies      []struct {
				Hz         float64 `json:"hz"`
				Yaw        printed `json:"yaw"`
				YawDeg     printed `json:"yaw_deg"`
				Lateral    printed `json:"lateral"`
				LateralDeg printed `json:"lateral_deg"`
			} `json:"frequencies"`
		}
		c.JSON(t, "case.json", &in)
		b, v := in.bicycle(), in.Speed/3.6
		a := b.StepSteer(v, in.Rise)
		in.Yaw.near(t, c, "yaw gain", a.YawGain)
		in.T90.near(t, c, "yaw T90", a.YawT90)
		in.Peak.near(t, c, "yaw peak time", a.YawPeak)
		in.Overshoot.near(t, c, "yaw overshoot, per cent", 100*a.YawOvershoot)
		in.LateralT90.near(t, c, "lateral T90", a.LateralT90)
		in.LateralOvershoot.near(t, c, "lateral overshoot, per cent", 100*a.LateralOver)
		in.TB.near(t, c, "TB, s·deg for a degree", a.TB)
		for _, f := range in.Frequencies {
			yaw, lateral := b.Response(v, f.Hz)
			f.Yaw.near(t, c, "yaw gain", cmplx.Abs(yaw))
			f.YawDeg.near(t, c, "yaw phase", vehicle.Phase(yaw))
			f.Lateral.near(t, c, "lateral gain", cmplx.Abs(lateral))
			f.LateralDeg.near(t, c, "lateral phase", vehicle.Phase(lateral))
		}
	})
}

func TestLoadTransfer(t *testing.T) {
	golden.Run(t, "vehicle-handbook", "load-transfer", func(t *testing.T, c *golden.Case) {
		type one struct {
			Mass   float64 `json:"mass_kg"`
			A      float64 `json:"acceleration_mps2"`
			Height float64 `json:"height_m"`
			Base   float64 `json:"base_m"`
			Want   printed `json:"transfer_n"`
		}
		var in struct {
			Longitudinal one `json:"longitudinal"`
			Lateral      one `json:"lateral"`
		}
		c.JSON(t, "case.json", &in)
		l := in.Longitudinal
		l.Want.near(t, c, "longitudinal", vehicle.LongitudinalTransfer(l.Mass, l.A, l.Height, l.Base))
		l = in.Lateral
		l.Want.near(t, c, "lateral", vehicle.LateralTransfer(l.Mass, l.A, l.Height, l.Base))
	})
}
