package motion

import (
	"math"

	"example.org/bookend/motion/kalman"
	"example.org/bookend/motion/sensors"
)

// The states, in order. The first moving ones are always there; of the others
// only those that a recording's sensors call for.
const (
	east   = iota // m, of the reference point in the plane
	north         // m
	yaw           // rad, of the vehicle's x axis, anticlockwise from east
	velX          // m/s, along the vehicle's x axis
	velY          // m/s, along its y axis
	rate          // rad/s, yaw rate
	accX          // m/s², of the reference point along the vehicle's axes, gravity left out
	accY          // m/s²
	moving        // how many states there always are
)

const (
	rateBias = moving + iota // rad/s, what the yaw rate sensor shows too much
	accXBias                 // m/s², likewise, with the slope of the ground
	accYBias                 // m/s², likewise, with its bank
	accXTilt                 // 1, what the body's pitching adds to a longitudinal acceleration, as a share of it
	accYTilt                 // 1, what the body's rolling adds to a lateral acceleration, as a share of it
	scale                    // 1, what the wheels' speed shows for 1 m/s over ground
	softness                 // rad/(m/s²), slip angle of the rear axle for a lateral acceleration
	eastSlow                 // m, slow part of the position error
	northSlow
	allStates
)

// Standard deviations at the start, and how far a state that is meant to stand
// still may wander in a second (as a random walk). All are own choices, in the
// order of magnitude of automotive sensors; each is only a start that
// measurements soon outweigh.
const (
	rateBiasWalk = 1e-4  // rad/s per root second: 0.06 °/s in 100 s
	accBiasSD    = 0.5   // m/s²: a sensor mounted 3° askew
	accBiasWalk  = 0.05  // m/s² per root second: the slope of the ground changes by 1.6 % in 10 s
	tiltMean     = 0.05  // 1: the body rolls or pitches 2.9° for 9.8 m/s²
	tiltSD       = 0.04  // 1
	levelledSD   = 0.01  // 1, where roll or pitch was measured and gravity is taken out
	tiltWalk     = 1e-4  // 1 per root second
	scaleSD      = 0.03  // 1: worn to new tyre
	scaleWalk    = 2e-4  // 1 per root second: growth with speed and temperature
	softMean     = 0.006 // rad/(m/s²): between the 0.0033 and 0.0063 of the two published cars below and vans
	softSD       = 0.004 // rad/(m/s²)
	softWalk     = 1e-4  // rad/(m/s²) per root second
	slowTau      = 100   // s, for which a slow position error keeps its value: satellites move on
)

// longestStep is the longest step in s by which the motion is carried forward at
// a time. Own choice: at 1 rad/s the direction turns by 3° in it, and the second
// order that is kept leaves 1e-5 of it.
const longestStep = 0.05

type model struct {
	n     int
	at    [allStates]int   // place of a state, -1 if it is not there
	drive [3]sensors.Drive // of accX, accY, rate
	walk  []float64        // variance per second of the states beyond the moving ones; 0 for slow ones
	slow  float64          // m, of the slow position error

	phi, whole, work, q, next []float64
}

func newModel(has func(state int) bool, slow float64) *model {
	m := &model{slow: slow}
	for s := range allStates {
		m.at[s] = -1
		if s < moving || has(s) {
			m.at[s] = m.n
			m.n++
		}
	}
	m.walk = make([]float64, m.n)
	for s, w := range map[int]float64{
		rateBias: rateBiasWalk, accXBias: accBiasWalk, accYBias: accBiasWalk, accXTilt: tiltWalk, accYTilt: tiltWalk,
		scale: scaleWalk, softness: softWalk,
	} {
		if m.at[s] >= 0 {
			m.walk[m.at[s]] = w * w
		}
	}
	m.phi, m.whole, m.work = make([]float64, m.n*m.n), make([]float64, m.n*m.n), make([]float64, m.n*m.n)
	m.q, m.next = make([]float64, m.n), make([]float64, m.n)
	return m
}

// turn gives the rate of change of the moving states.
func (m *model) turn(d *[moving]float64, x []float64) {
	s, c := math.Sincos(x[yaw])
	d[east] = x[velX]*c - x[velY]*s
	d[north] = x[velX]*s + x[velY]*c
	d[yaw] = x[rate]
	d[velX] = x[accX] + x[rate]*x[velY]
	d[velY] = x[accY] - x[rate]*x[velX]
	d[accX] = -x[accX] / m.drive[0].Tau
	d[accY] = -x[accY] / m.drive[1].Tau
	d[rate] = -x[rate] / m.drive[2].Tau
}

// forward carries a state dt s forward and leaves in m.whole the matrix by which
// small differences of it are carried.
func (m *model) forward(g *kalman.State, dt float64) {
	n := m.n
	steps := int(math.Ceil(dt/longestStep - 1e-9))
	if steps < 1 {
		steps = 1
	}
	h := dt / float64(steps)
	kalman.Unit(m.whole, n)
	for range steps {
		m.step(g, h)
		if steps == 1 {
			m.whole, m.phi = m.phi, m.whole
			return
		}
		kalman.Left(m.work, m.phi, m.whole, n, moving)
		m.whole, m.work = m.work, m.whole
	}
}

// step carries a state h s forward by the midpoint rule, and its covariance to
// second order in h.
func (m *model) step(g *kalman.State, h float64) {
	n := m.n
	var d [moving]float64
	m.turn(&d, g.X)
	mid := m.next
	copy(mid, g.X)
	for i := range d {
		mid[i] += 0.5 * h * d[i]
	}
	m.turn(&d, mid)

	// a is the slope of turn at the midpoint.
	s, c := math.Sincos(mid[yaw])
	var a [moving][moving]float64
	a[east][yaw] = -mid[velX]*s - mid[velY]*c
	a[east][velX], a[east][velY] = c, -s
	a[north][yaw] = mid[velX]*c - mid[velY]*s
	a[north][velX], a[north][velY] = s, c
	a[yaw][rate] = 1
	a[velX][velY], a[velX][rate], a[velX][accX] = mid[rate], mid[velY], 1
	a[velY][velX], a[velY][rate], a[velY][accY] = -mid[rate], -mid[velX], 1
	a[accX][accX] = -1 / m.drive[0].Tau
	a[accY][accY] = -1 / m.drive[1].Tau
	a[rate][rate] = -1 / m.drive[2].Tau

	kalman.Unit(m.phi, n)
	for i := range moving {
		for k := range moving {
			v := a[i][k]
			if v == 0 {
				continue
			}
			m.phi[i*n+k] += h * v
			for j := range moving {
				m.phi[i*n+j] += 0.5 * h * h * v * a[k][j]
			}
		}
	}
	for i := range m.q {
		m.q[i] = h * m.walk[i]
	}
	for i, s := range [...]int{accX, accY, rate} {
		v := m.drive[i]
		m.q[s] = v.SD * v.SD * -math.Expm1(-2*h/v.Tau)
	}
	for i := range d {
		g.X[i] += h * d[i]
	}
	for _, s := range [...]int{eastSlow, northSlow} {
		if k := m.at[s]; k >= 0 {
			f := math.Exp(-h / slowTau)
			m.phi[k*n+k] = f
			g.X[k] *= f
			m.q[k] = m.slow * m.slow * (1 - f*f)
		}
	}
	g.Propagate(m.phi, moving, m.q, m.work)
	// What stirs an acceleration or the yaw rate within the step moves its velocity or the
	// yaw as well, as white noise does that is integrated twice. Without it these would go
	// on by the step's first value, and come half a step late in every bend.
	for i, s := range [...]int{accX, accY, rate} {
		k, v := [...]int{velX, velY, yaw}[i], m.q[s]
		g.P[k*n+k] += v * h * h / 3
		g.P[k*n+s] += v * h / 2
		g.P[s*n+k] += v * h / 2
	}
}
