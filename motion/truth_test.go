package motion_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/course"
	"example.org/bookend/motion"
	"example.org/bookend/signal"
)

// drive is a made-up drive whose motion is known: a single-track vehicle whose
// tyres saturate, steered and braked at random, at 200 samples a second. Mass,
// inertia and axles are those of the textbook's set A (docs/sources/bicycle-set-a.md).
type drive struct {
	t, east, north, yaw, vx, vy, r, ax, ay []float64
}

func newDrive(seed uint64, seconds float64, grip float64) *drive {
	const (
		m, iz, a, b = 1573.0, 2873.0, 1.1, 1.58
		cf, cr      = 160000.0, 160000.0 // N/rad an axle
		h           = 0.001
	)
	draw := rand.New(rand.NewPCG(seed, 11))
	d := &drive{}
	var e, n, yaw, vx, vy, r float64
	yaw = draw.Float64() * 6
	nf, nr := m*9.81*b/(a+b), m*9.81*a/(a+b)
	tyre := func(c, load, slip float64) float64 {
		top := grip * load
		return -top * math.Tanh(c*slip/top)
	}
	// The driver: a wanted speed and a wanted lateral acceleration, anew every few seconds.
	want, bend, until := 0.0, 0.0, 4.0
	steer, pull := 0.0, 0.0
	for k := 0; float64(k)*h < seconds; k++ {
		t := float64(k) * h
		if t >= until {
			until = t + 1.5 + 3*draw.Float64()
			want = 8 + 20*draw.Float64()
			bend = (2*draw.Float64() - 1) * 0.85 * grip * 9.81
			if draw.Float64() < 0.3 {
				bend = 0
			}
		}
		aim := math.Max(-0.6*grip*9.81, math.Min(3, 1.2*(want-vx)))
		if want == 0 {
			aim = 0
		}
		pull += (aim - pull) * h / 0.15
		angle := 0.0
		if vx > 2 {
			angle = bend * (a + b) / (vx * vx) * (1 + vx*vx/(39*39))
			angle = math.Max(-0.3, math.Min(0.3, angle))
		}
		steer += (angle - steer) * h / 0.12
		var ax, ay float64
		if vx < 2 {
			ax = pull
			r = vx * math.Tan(steer) / (a + b)
			old := vy
			vy = b * r
			ay = (vy-old)/h + r*vx
			vx = math.Max(0, vx+h*pull)
		} else {
			f := tyre(cf, nf, (vy+a*r)/vx-steer)
			g := tyre(cr, nr, (vy-b*r)/vx)
			ax = pull
			ay = (f + g) / m
			dr := (a*f - b*g) / iz
			vx, vy = vx+h*(ax+r*vy), vy+h*(ay-r*vx)
			r += h * dr
		}
		s, c := math.Sincos(yaw)
		e, n = e+h*(vx*c-vy*s), n+h*(vx*s+vy*c)
		yaw += h * r
		if k%5 == 4 {
			d.t = append(d.t, t+h)
			d.east, d.north, d.yaw = append(d.east, e), append(d.north, n), append(d.yaw, yaw)
			d.vx, d.vy, d.r = append(d.vx, vx), append(d.vy, vy), append(d.r, r)
			d.ax, d.ay = append(d.ax, ax), append(d.ay, ay)
		}
	}
	return d
}

// sensors say what a made-up recording holds, and how far from the truth.
type sensors struct {
	gnss     int // every how many truth samples; 0: none
	inertial int
	wheels   int
	slow     float64 // m
	antenna  motion.Lever
	mounted  motion.Lever
	withoutV bool
	lost     func(t float64) bool // no satellites then
}

func (d *drive) record(seed uint64, s sensors) *signal.Recording {
	draw := rand.New(rand.NewPCG(seed, 12))
	rec := &signal.Recording{Name: "made-up"}
	add := func(every int, valid func(t float64) bool, names []signal.Role, value func(i int) []float64) {
		base := &signal.Base{}
		cols := make([][]float64, len(names))
		var spans []signal.Span
		for i := every - 1; i < len(d.t); i += every {
			ok := valid == nil || valid(d.t[i])
			if k := len(base.T); ok {
				if n := len(spans); n > 0 && spans[n-1].To == k {
					spans[n-1].To++
				} else {
					spans = append(spans, signal.Span{From: k, To: k + 1})
				}
			}
			base.T = append(base.T, d.t[i])
			for j, v := range value(i) {
				if !ok {
					v = 0
				}
				cols[j] = append(cols[j], v)
			}
		}
		for j, role := range names {
			rec.Channels = append(rec.Channels, &signal.Channel{Name: string(role), Role: role, Base: base, Values: cols[j], Valid: spans})
		}
	}
	if s.gnss > 0 {
		dt := 0.005 * float64(s.gnss)
		f := math.Exp(-dt / 100)
		ge, gn := s.slow*draw.NormFloat64(), s.slow*draw.NormFloat64()
		roles := []signal.Role{signal.East, signal.North, signal.VelocityEast, signal.VelocityNorth}
		if s.withoutV {
			roles = roles[:2]
		}
		valid := func(t float64) bool { return s.lost == nil || !s.lost(t) }
		add(s.gnss, valid, roles, func(i int) []float64 {
			ge = f*ge + s.slow*math.Sqrt(1-f*f)*draw.NormFloat64()
			gn = f*gn + s.slow*math.Sqrt(1-f*f)*draw.NormFloat64()
			sn, c := math.Sincos(d.yaw[i])
			vx, vy := d.vx[i]-s.antenna.Y*d.r[i], d.vy[i]+s.antenna.X*d.r[i]
			return []float64{
				d.east[i] + c*s.antenna.X - sn*s.antenna.Y + ge + 0.01*draw.NormFloat64(),
				d.north[i] + sn*s.antenna.X + c*s.antenna.Y + gn + 0.01*draw.NormFloat64(),
				vx*c - vy*sn + 0.03*draw.NormFloat64(), vx*sn + vy*c + 0.03*draw.NormFloat64(),
			}[:len(roles)]
		})
	}
	if s.inertial > 0 {
		br, bx, by := 0.01*draw.NormFloat64(), 0.2*draw.NormFloat64(), 0.2*draw.NormFloat64()
		kx, ky := 0.05+0.02*draw.NormFloat64(), 0.05+0.02*draw.NormFloat64()
		add(s.inertial, nil, []signal.Role{signal.YawRate, signal.AccelX, signal.AccelY}, func(i int) []float64 {
			rdot := 0.0
			if i > 0 && i+1 < len(d.r) {
				rdot = (d.r[i+1] - d.r[i-1]) / (d.t[i+1] - d.t[i-1])
			}
			// rigid body, the other way round
			ax := d.ax[i] - s.mounted.Y*rdot - s.mounted.X*d.r[i]*d.r[i]
			ay := d.ay[i] + s.mounted.X*rdot - s.mounted.Y*d.r[i]*d.r[i]
			return []float64{d.r[i] + br + 0.002*draw.NormFloat64(), (1+kx)*ax + bx + 0.1*draw.NormFloat64(), (1+ky)*ay + by + 0.1*draw.NormFloat64()}
		})
	}
	if s.wheels > 0 {
		k := 1 + 0.01*draw.NormFloat64()
		add(s.wheels, nil, []signal.Role{signal.WheelSpeedRL}, func(i int) []float64 {
			return []float64{k*d.vx[i]*(1+0.002*d.ax[i]) + 0.03*draw.NormFloat64()}
		})
	}
	return rec
}

// What each kind of recording gives, held against the truth: how far off it is,
// and whether it says so. Mean squares of errors over stated variances are 1 where
// standard deviations are honest; neighbouring errors are alike, so that the
// bounds are wide. The limits of sideslip and of position are those of the project's
// yardstick: 0.3° where it can be observed, 0.10 m without drift of the receiver.
func TestTheMotionOfMadeUpDrivesAndWhatIsSaidOfIt(t *testing.T) {
	gap := func(t float64) bool { return math.Mod(t, 20) > 15 }
	for _, q := range []struct {
		name     string
		s        sensors
		position float64 // greatest root mean square, m
		speed    float64 // m/s
		sideslip float64 // degrees
		// least of the mean squares of yaw and sideslip: an assumption may be wide, and the
		// ground of the made-up drives is level, where that of the model may slope and bank.
		least float64
	}{
		{"satellites alone", sensors{gnss: 10, slow: 0.02}, 0.05, 0.03, 1.0, 0.02},
		{"positions alone", sensors{gnss: 10, slow: 0.02, withoutV: true}, 0.05, 0.05, 1.0, 0.02},
		{"satellites and inertial", sensors{gnss: 10, slow: 0.02, inertial: 2}, 0.05, 0.01, 0.1, 0.08},
		{"a receiver by itself, levers", sensors{gnss: 10, slow: 1.5, inertial: 2, antenna: motion.Lever{X: -0.8, Y: 0.3}, mounted: motion.Lever{X: 0.5, Y: -0.2}}, 2.5, 0.02, 0.1, 0.08},
		{"wheels where satellites are lost", sensors{gnss: 10, slow: 0.02, inertial: 2, wheels: 4, lost: gap}, 0.06, 0.02, 0.1, 0.08},
	} {
		t.Run(q.name, func(t *testing.T) {
			var nees, within, square [6]float64
			count := 0.0
			seeds := uint64(6)
			if testing.Short() {
				seeds = 2
			}
			for seed := uint64(1); seed <= seeds; seed++ {
				d := newDrive(seed, 40, []float64{0.9, 0.45}[seed%2])
				m, err := motion.Smooth(d.record(seed, q.s), course.NewPlane(course.Position{}),
					motion.Settings{Antenna: q.s.antenna, Inertial: q.s.mounted, PositionSD: q.s.slow, RearAxle: -1.58})
				if err != nil {
					t.Fatal(err)
				}
				for _, o := range m.Innovations {
					if o.Numbers > 50 && o.MeanSquare > 1.3 {
						t.Errorf("seed %d: the %s has a mean square of %.2f", seed, o.Kind, o.MeanSquare)
					}
				}
				last := len(d.yaw) - 1
				turns := math.Round((m.Yaw.Value[len(m.Yaw.Value)-1]-d.yaw[last])/(2*math.Pi)) * 2 * math.Pi
				for i, at := range m.Base.T {
					j := int(math.Round(at/0.005)) - 1
					speed := math.Hypot(d.vx[j], d.vy[j])
					if i%10 != 0 || at < 8 || speed < 5 {
						continue
					}
					count++
					for k, z := range [...]struct{ off, sd float64 }{
						{m.East.Value[i] - d.east[j], m.East.SD[i]},
						{m.North.Value[i] - d.north[j], m.North.SD[i]},
						{m.Yaw.Value[i] - d.yaw[j] - turns, m.Yaw.SD[i]},
						{m.Speed.Value[i] - speed, m.Speed.SD[i]},
						{m.Sideslip.Value[i] - math.Atan2(d.vy[j], d.vx[j]), m.Sideslip.SD[i]},
						{m.YawRate.Value[i] - d.r[j], m.YawRate.SD[i]},
					} {
						square[k] += z.off * z.off
						nees[k] += z.off * z.off / (z.sd * z.sd)
						if math.Abs(z.off) < 1.96*z.sd {
							within[k]++
						}
					}
				}
			}
			for k, what := range [...]string{"east", "north", "yaw", "speed", "sideslip", "yaw rate"} {
				rms, mean, share := math.Sqrt(square[k]/count), nees[k]/count, within[k]/count
				t.Logf("%-8s off by %.4f, mean square over variance %.2f, within 95 %%: %.3f", what, rms, mean, share)
				least := 0.4
				if k == 2 || k == 4 || k == 5 {
					least = q.least
				}
				// The position error that all samples share has one value a drive: it is
				// judged by itself below.
				if !testing.Short() && k > 1 && (mean < least || mean > 1.6 || share < 0.90) {
					t.Errorf("%s: mean square over stated variance %.2f, within 95 %%: %.3f", what, mean, share)
				}
				limit := [...]float64{q.position, q.position, 1, q.speed, q.sideslip * degree, 1}[k]
				if rms > limit {
					t.Errorf("%s is off by %.4f, more than %.4f", what, rms, limit)
				}
			}
		})
	}
}

// The slow part of a receiver's error is drawn once or so a drive, so that many
// short drives are needed to tell whether the stated one is honest: over 120 of
// them the sum of squares over variances is chi-squared with 240 degrees of
// freedom, whose 99.9 % range is 0.72 to 1.33 times that.
func TestTheSharedErrorOfAReceiverIsStated(t *testing.T) {
	for _, slow := range []float64{0.02, 1.5} {
		mean, n := 0.0, 0.0
		for seed := uint64(1); seed <= 120; seed++ {
			d := newDrive(seed, 10, 0.9)
			m, err := motion.Smooth(d.record(seed, sensors{gnss: 20, slow: slow}), course.NewPlane(course.Position{}), motion.Settings{PositionSD: slow, RearAxle: -1.58})
			if err != nil {
				t.Fatal(err)
			}
			i := 80
			j := int(math.Round(m.Base.T[i]/0.005)) - 1
			e, f := (m.East.Value[i]-d.east[j])/m.East.SD[i], (m.North.Value[i]-d.north[j])/m.North.SD[i]
			mean += e*e + f*f
			n += 2
		}
		mean /= n
		t.Logf("slow error of %g m: mean square over stated variance %.2f", slow, mean)
		if mean < 0.72 || mean > 1.33 {
			t.Errorf("slow error of %g m: mean square over stated variance %.2f", slow, mean)
		}
	}
}

// A recording that is not there all the time, or not at all.
func TestWhatCannotBeSmoothedIsRefused(t *testing.T) {
	d := newDrive(1, 6, 0.9)
	if _, err := motion.Smooth(d.record(1, sensors{inertial: 2}), course.NewPlane(course.Position{}), motion.Settings{}); err == nil {
		t.Error("accelerations alone were smoothed")
	}
	still := newDrive(1, 3, 0.9) // it does not move before 4 s
	m, err := motion.Smooth(still.record(1, sensors{gnss: 10, inertial: 2, slow: 0.02}), course.NewPlane(course.Position{}), motion.Settings{PositionSD: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.SideslipValid) > 0 || m.Yaw.SD[10] < 1 {
		t.Errorf("a vehicle that stands has a sideslip (%v) or a heading (± %g rad)", m.SideslipValid, m.Yaw.SD[10])
	}
	for _, z := range m.Constants {
		if math.IsNaN(z.Value) || math.IsNaN(z.SD) {
			t.Errorf("%s is not a number", z.What)
		}
	}
}

func BenchmarkSmooth(b *testing.B) {
	d := newDrive(1, 60, 0.9)
	rec := d.record(1, sensors{gnss: 10, slow: 0.02, inertial: 2, wheels: 4})
	for b.Loop() {
		if _, err := motion.Smooth(rec, course.NewPlane(course.Position{}), motion.Settings{PositionSD: 0.02, RearAxle: -1.58}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(60/(b.Elapsed().Seconds()/float64(b.N)), "times-real-time")
}
