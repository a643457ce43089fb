package sensors

import (
	"math"
	"sort"
)

// Drive is how a vehicle is stirred in one of its motions. Accelerations and yaw
// rate die down toward 0 with their own time, and are stirred up to their own
// standard deviation: R. A. Singer, "Estimating optimal tracking filter performance
// for manned maneuvering targets", IEEE Transactions on Aerospace and Electronic
// Systems AES-6 (1970) 473; docs/sources/singer-1970.md.
type Drive struct {
	SD  float64 // m/s² or rad/s
	Tau float64 // s
}

// What a standing and what a moving vehicle is; own choices.
const (
	StillSpeed  = 0.15 // m/s, below which a measured speed is noise
	StillFor    = 1.0  // s
	MovingSpeed = 2.0  // m/s from which on the course tells where the vehicle points
	startYawSD  = 0.3  // rad
)

// RateBiasSD in rad/s is what a yaw rate sensor may show at rest, one standard
// deviation: 1.7 °/s. Own choice: the worst of the real recordings has 0.43 °/s.
const RateBiasSD = 0.03

// unseen is by how much accelerations and yaw rate are taken to be livelier than
// speed and course show over half a second, where no sensor shows them. Own
// choice: manoeuvres come in bursts; with it positions that were kept back for 2 s
// on real recordings lie within what is stated.
const unseen = 2.0

// Drives gives how a recording's vehicle is stirred: standard deviation and
// correlation time of longitudinal acceleration, lateral acceleration and yaw
// rate, from what it shows in steps of a tenth of a second or longer.
func (k *Kit) Drives() [3]Drive {
	least := [3]float64{0.3, 0.3, 0.02}              // m/s², m/s², rad/s: own choice, a vehicle that hardly does anything
	usual := [3]Drive{{1.5, 1.5}, {2, 1}, {0.15, 1}} // where a recording does not show it: a brisk drive, own choice
	var out [3]Drive
	t, v, turn := k.Turning()
	for i, kind := range [...]Kind{AccelX, AccelY, YawRate} {
		var x []float64
		step := 0.1
		if s := k.Find(kind); s != nil {
			x = binned(s.T, s.A, step)
		} else {
			step = 0.5
			switch kind {
			case AccelX:
				at, speed := t, v
				if at == nil {
					k.Grounds(func(t, v float64) { at, speed = append(at, t), append(speed, v) })
				}
				if at == nil {
					if s := k.Find(Wheels); s != nil {
						at, speed = s.T, s.A
					}
				}
				b := binned(at, speed, step)
				for j := 1; j < len(b); j++ {
					x = append(x, (b[j]-b[j-1])/step)
				}
			case AccelY:
				for j := range turn {
					x = append(x, turn[j]*v[j])
				}
				x = binned(t, x, step)
			case YawRate:
				x = binned(t, turn, step)
			}
		}
		out[i] = singer(x, step, usual[i])
		if k.Find(kind) == nil {
			out[i].SD *= unseen
		}
		out[i].SD = max(out[i].SD, least[i])
	}
	return out
}

// Turning gives moments at which the vehicle moves, its speed in m/s and the rate
// in rad/s at which its course turns, over half a second or one step.
func (k *Kit) Turning() (t, v, turn []float64) {
	at, e, n := k.Velocities()
	i := 0
	for j := range at {
		for i < j && at[j]-at[i+1] >= differenceOver-1e-9 {
			i++
		}
		dt := at[j] - at[i]
		if dt < 0.8*differenceOver || dt > 2 {
			continue
		}
		a, b := math.Hypot(e[i], n[i]), math.Hypot(e[j], n[j])
		if a < MovingSpeed || b < MovingSpeed {
			continue
		}
		d := math.Atan2(e[i]*n[j]-n[i]*e[j], e[i]*e[j]+n[i]*n[j])
		t, v, turn = append(t, 0.5*(at[i]+at[j])), append(v, 0.5*(a+b)), append(turn, d/dt)
	}
	return t, v, turn
}

// binned gives means over steps of the samples' time; steps without samples are
// passed over.
func binned(t, x []float64, step float64) []float64 {
	var out []float64
	for i := 0; i < len(t); {
		end := i + sort.SearchFloat64s(t[i:], t[i]+step-1e-9)
		sum := 0.0
		for _, v := range x[i:end] {
			sum += v
		}
		out = append(out, sum/float64(end-i))
		i = end
	}
	return out
}

// singer gives standard deviation and correlation time of a signal in even steps:
// the latter from how alike it is half a second on.
func singer(x []float64, step float64, usual Drive) Drive {
	lag := max(1, int(0.5/step+0.5))
	if len(x) < 20+lag {
		return usual
	}
	// About 0, to which the motion dies down, and not about the mean: a vehicle that goes
	// round a circle is stirred by all of its lateral acceleration.
	variance, change := 0.0, 0.0
	for i, v := range x {
		variance += v * v
		if i >= lag {
			d := v - x[i-lag]
			change += d * d
		}
	}
	variance /= float64(len(x))
	change /= float64(len(x) - lag)
	if variance == 0 {
		return usual
	}
	alike := 1 - change/(2*variance)
	tau := 5.0 // s, the longest; own choice
	if alike < 0.9 {
		tau = 0.3 // the shortest; own choice
		if alike > 0.2 {
			tau = max(tau, -float64(lag)*step/math.Log(alike))
		}
	}
	return Drive{math.Sqrt(variance), tau}
}

// Standing gives the stretches, from and to in s, in which every measured speed
// says for a second or more that the vehicle stands; a tenth of a second is left
// off each end.
func (k *Kit) Standing() [][2]float64 {
	var t, v []float64
	k.Grounds(func(at, speed float64) { t, v = append(t, at), append(v, speed) })
	if t == nil {
		if s := k.Find(Wheels); s != nil {
			t, v = s.T, s.A
		}
	}
	var out [][2]float64
	begin := -1
	for i := 0; i <= len(t); i++ {
		if i < len(t) && math.Abs(v[i]) < StillSpeed && (begin < 0 || t[i]-t[i-1] < StillFor) {
			if begin < 0 {
				begin = i
			}
			continue
		}
		if begin >= 0 && t[i-1]-t[begin] >= StillFor {
			out = append(out, [2]float64{t[begin] + 0.1, t[i-1] - 0.1})
		}
		begin = -1
	}
	return out
}

// Start gives yaw and speed at the first moment with their standard deviations:
// the course of the first sample that moves, carried back by the yaw rate.
func (k *Kit) Start(at float64) (yaw, yawSD, speed, speedSD float64) {
	speedSD, yawSD = 30, math.Pi
	t, e, n := k.Velocities()
	if v := k.Find(Speed); v != nil {
		speed, speedSD = math.Abs(v.A[0]), 1+5*(v.T[0]-at)
	} else if t != nil {
		speed, speedSD = math.Hypot(e[0], n[0]), 1+5*(t[0]-at)
	} else if v := k.Find(Wheels); v != nil {
		speed, speedSD = math.Abs(v.A[0]), 1+5*(v.T[0]-at)
	}
	for i := range t {
		if math.Hypot(e[i], n[i]) < MovingSpeed {
			continue
		}
		yaw, yawSD = math.Atan2(n[i], e[i]), startYawSD
		if r := k.Find(YawRate); r != nil {
			for j := 0; j+1 < len(r.T) && r.T[j+1] <= t[i]; j++ {
				yaw -= r.A[j] * (r.T[j+1] - r.T[j])
			}
			yawSD = math.Hypot(yawSD, min(RateBiasSD*(t[i]-at), math.Pi))
		}
		break
	}
	return yaw, yawSD, speed, speedSD
}

// assumedEvery is how often, in s, something about the vehicle is assumed. Own choice:
// what the rear axle does is another thing half a second later.
const assumedEvery = 0.5

// Assume adds the moments at which something about the vehicle is assumed.
func (k *Kit) Assume() {
	from, to := math.Inf(1), math.Inf(-1)
	for i := range k.Sensors {
		t := k.Sensors[i].T
		from, to = min(from, t[0]), max(to, t[len(t)-1])
	}
	rear := Sensor{Kind: Rear, SD: 1}
	for i := 0; ; i++ {
		t := from + assumedEvery*float64(i)
		if t > to {
			break
		}
		rear.T, rear.A = append(rear.T, t), append(rear.A, 0)
	}
	still := Sensor{Kind: Standstill, SD: 1}
	for _, p := range k.Standing() {
		for i := 0; ; i++ {
			t := p[0] + assumedEvery*float64(i)
			if t > p[1] {
				break
			}
			still.T, still.A = append(still.T, t), append(still.A, 0)
		}
	}
	k.Add(rear)
	k.Add(still)
}
