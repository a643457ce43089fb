package sensor

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/internal/golden"
	"example.org/bookend/sim/ground"
	"example.org/bookend/sim/vehicle"
)

// What an accelerometer away from the centre of gravity shows is what the worked
// line transfers back.
func TestSeatOfTheAccelerometer(t *testing.T) {
	golden.Run(t, "iso-8855", "*", func(t *testing.T, c *golden.Case) {
		var in struct {
			Yaw    float64 `json:"yaw_rate_radps"`
			YawDot float64 `json:"yaw_acceleration_radps2"`
			X      float64 `json:"x_m"`
			Y      float64 `json:"y_m"`
			Sensor struct {
				AX float64 `json:"ax_mps2"`
				AY float64 `json:"ay_mps2"`
			} `json:"sensor"`
			Reference struct {
				AX float64 `json:"ax_mps2"`
				AY float64 `json:"ay_mps2"`
			} `json:"reference"`
			Roll struct {
				Deg      float64 `json:"deg"`
				Measured float64 `json:"measured_mps2"`
				Lateral  float64 `json:"lateral_mps2"`
			} `json:"roll"`
		}
		c.JSON(t, "case.json", &in)
		d := Device{Seat: [2]float64{in.X, in.Y}}
		var x Sight
		x.AX, x.AY, x.YawRate, x.YawAccel = in.Reference.AX, in.Reference.AY, in.Yaw, in.YawDot
		d.meet(&x, ground.SkerryMoor, 0, 0)
		c.Near(t, "ax at the sensor", x.SensorAX, in.Sensor.AX)
		c.Near(t, "ay at the sensor", x.SensorAY, in.Sensor.AY)
		var rolled Sight
		rolled.AY, rolled.Roll = in.Roll.Lateral, in.Roll.Deg*math.Pi/180
		(&Device{}).meet(&rolled, ground.SkerryMoor, 0, 0)
		c.Near(t, "ay with roll", rolled.SensorAY, in.Roll.Measured)
	})
}

// straight is a drive due north-east at 20 m/s whose steering angle is the time.
func straight() *vehicle.Trace {
	tr := vehicle.NewTrace()
	for i := range 4001 {
		s := vehicle.State{T: float64(i) / vehicle.TraceHz, Heading: math.Pi / 4, VX: 20}
		s.East, s.North = 20*s.T*math.Sqrt2/2, 20*s.T*math.Sqrt2/2
		s.Controls.Steer = s.T
		tr.Add(&s, 20*s.T, 0, math.Pi/4)
	}
	return tr
}

// Values are as old as the delay, stamps are those of the instrument's own clock.
func TestClocksAndDelay(t *testing.T) {
	d := Device{Name: "x", Hz: 50, Delay: 0.1, Offset: 3, Millionths: 100,
		Channels: []Channel{{"t", 6, Error{}, func(x *Sight) float64 { return x.Steer }}}}
	tab := d.Record(straight(), ground.SkerryMoor, rand.New(rand.NewPCG(1, 1)))
	if n := len(tab.Stamp); n < 990 || n > 1001 {
		t.Fatalf("%d samples of 20 s at 50 Hz", n)
	}
	for i, s := range tab.Stamp {
		truly := (s - 3) / (1 + 100e-6)
		if math.Abs(tab.Columns[0][i]-(truly-0.1)) > 1e-9 {
			t.Fatalf("stamp %v shows what was at %v", s, tab.Columns[0][i])
		}
	}
	if step := tab.Stamp[1] - tab.Stamp[0]; math.Abs(step-0.02) > 1e-12 {
		t.Errorf("its own clock steps by %v", step)
	}
}

// Noise, bias, scale and resolution are as stated; what is lost is lost.
func TestErrors(t *testing.T) {
	d := Device{Name: "x", Hz: 200, Missing: 0.1, Outages: []Outage{{From: 5, To: 6}},
		Channels: []Channel{
			{"a", 6, Error{Noise: 0.5, Bias: 2, Scale: 0.1}, func(*Sight) float64 { return 10 }},
			{"b", 6, Error{Step: 0.25}, func(x *Sight) float64 { return x.T }},
		}}
	tab := d.Record(straight(), ground.SkerryMoor, rand.New(rand.NewPCG(1, 1)))
	sum, sq, n, out := 0.0, 0.0, 0.0, 0
	for i, v := range tab.Columns[0] {
		if math.IsNaN(v) {
			out++
			if s := tab.Stamp[i]; s < 5 || s >= 6 {
				t.Errorf("no value at %v s", s)
			}
			continue
		}
		sum, sq, n = sum+v, sq+(v-13)*(v-13), n+1
		if b := tab.Columns[1][i] * 4; b != math.Round(b) {
			t.Errorf("%v is no quarter", b/4)
		}
	}
	if m := sum / n; math.Abs(m-13) > 4*0.5/math.Sqrt(n) {
		t.Errorf("mean %v, want 13", m)
	}
	if sd := math.Sqrt(sq / n); math.Abs(sd-0.5) > 4*0.5/math.Sqrt(2*n) {
		t.Errorf("scatter %v, want 0.5", sd)
	}
	if out < 150 || out > 200 {
		t.Errorf("%d values missing of a second at 200 Hz of which a tenth is lost", out)
	}
	if share := 1 - float64(len(tab.Stamp))/4001; math.Abs(share-0.1) > 0.02 {
		t.Errorf("%v of the samples are lost", share)
	}
}

// Positions lie on the path, as far aside as the fix is wrong; the antenna's course
// is the heading, clockwise from north.
func TestFix(t *testing.T) {
	for _, fix := range []Fix{Corrected, Uncorrected} {
		d := Logger(20, 0.345, rand.New(rand.NewPCG(2, 2)))
		d.Fix = fix
		tab := d.Record(straight(), ground.SkerryMoor, rand.New(rand.NewPCG(3, 3)))
		lat := tab.Columns[0]
		north := (lat[len(lat)-1] - lat[0]) * math.Pi / 180 * 6.376e6 // meridian radius there, to 1 %
		if want := 20 * 20 * math.Sqrt2 / 2; math.Abs(north-want) > 0.01*want+5*(fix.White+fix.Slow) {
			t.Errorf("%v m to the north, want %v", north, want)
		}
		for i, c := range tab.Columns[3] {
			if math.Abs(c-45) > 0.5 {
				t.Fatalf("course %v° at sample %d", c, i)
			}
		}
	}
}
