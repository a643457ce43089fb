package sensors_test

import (
	"math"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/motion/sensors"
)

const degree = math.Pi / 180

func TestCarryingToTheReferencePoint(t *testing.T) {
	golden.Run(t, "iso-8855", "transfer", func(t *testing.T, c *golden.Case) {
		var q struct {
			X        float64 `json:"x_m"`
			Y        float64 `json:"y_m"`
			VX       float64 `json:"vx"`
			VY       float64 `json:"vy"`
			AX       float64 `json:"ax"`
			AY       float64 `json:"ay"`
			R        float64 `json:"r"`
			Rdot     float64 `json:"rdot"`
			VXAt     float64 `json:"vx_at"`
			VYAt     float64 `json:"vy_at"`
			Sideslip float64 `json:"sideslip_deg"`
			AXAt     float64 `json:"ax_at"`
			AYAt     float64 `json:"ay_at"`
		}
		c.JSON(t, "case.json", &q)
		l := sensors.Lever{X: q.X, Y: q.Y}
		vx, vy := l.Velocity(q.VX, q.VY, q.R)
		c.Near(t, "vx", vx, q.VXAt)
		c.Near(t, "vy", vy, q.VYAt)
		beta, ok := sensors.SideslipAngle(vx, vy)
		if !ok {
			t.Error("no sideslip at 20 m/s")
		}
		c.Near(t, "sideslip", beta/degree, q.Sideslip)
		ax, ay := l.Acceleration(q.AX, q.AY, q.R, q.Rdot)
		c.Near(t, "ax", ax, q.AXAt)
		c.Near(t, "ay", ay, q.AYAt)
	})
	golden.Run(t, "iso-8855", "roll", func(t *testing.T, c *golden.Case) {
		var q struct {
			AY    float64 `json:"ay"`
			Roll  float64 `json:"roll_deg"`
			G     float64 `json:"g"`
			Level float64 `json:"level"`
		}
		c.JSON(t, "case.json", &q)
		c.Near(t, "lateral acceleration", sensors.LevelLateral(q.AY, q.Roll*degree, q.G), q.Level)
	})
}

func TestGravityOfTheEllipsoid(t *testing.T) {
	golden.Run(t, "nima-tr8350-2", "*", func(t *testing.T, c *golden.Case) {
		var q struct {
			Equator float64 `json:"equator"`
			Pole    float64 `json:"pole"`
		}
		c.JSON(t, "case.json", &q)
		c.Near(t, "equator", sensors.Gravity(0), q.Equator)
		c.Near(t, "pole", sensors.Gravity(math.Pi/2), q.Pole)
	})
}

// Laws of levelling: a vehicle at rest that leans shows gravity's share and
// nothing is left of it; nose down is positive pitch and shows as braking.
func TestGravityIsTakenOutOfABodyAtRest(t *testing.T) {
	const g = 9.81
	for _, tilt := range []float64{-0.2, -0.01, 0, 0.05, 0.3} {
		if got := sensors.LevelLateral(g*math.Sin(tilt), tilt, g); math.Abs(got) > 1e-12 {
			t.Errorf("rolled by %g: %g m/s² are left", tilt, got)
		}
		if got := sensors.LevelLongitudinal(-g*math.Sin(tilt), tilt, g); math.Abs(got) > 1e-12 {
			t.Errorf("pitched by %g: %g m/s² are left", tilt, got)
		}
	}
	if _, ok := sensors.SideslipAngle(1, 0.5); ok {
		t.Error("a sideslip angle at walking pace")
	}
}
