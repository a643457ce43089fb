// Package wetstops makes up one day of wet stops at Skerry Moor, by closed
// forms: the simplest programme with a known truth. It writes what a logger and
// a fitter would, text logs and a run log; it computes nothing that it is used to
// check.
//
// A stop is made like this. The van rolls at 90 km/h, the brake is stamped, the
// deceleration ramps up linearly in 0.25 s and then stays at the level of the
// run, with a ripple of 0.4 m/s² at 11 Hz as anti-lock braking gives. The level
// is 7.2 m/s² times what the code is worth, times the surface's drift over the
// day, times a scatter of the stint (0.5 %) and one of the run (1.2 %), both
// normal. The logger writes 50 rows a second: time, speed with a noise of
// 0.03 km/h, brake switch, position, longitudinal acceleration with a noise of
// 0.05 m/s². Water depth is read at three spots of the lane for every stop.
//
// Everything is invented. The same seed gives the same bytes. SI units; files
// carry the units in their names of columns.
package wetstops

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// File is one file of the day.
type File struct {
	Name string
	Data string
}

// Control is the code of the control.
const Control = "K"

// Worth is what each code's deceleration is, the control's being 1: the truth.
var Worth = map[string]float64{"K": 1, "P": 1.062, "R": 1.003, "T": 1.018, "W": 0.955}

// order is which code, on which set, is driven in which stint.
var order = []struct{ code, set string }{
	{"K", "K1"}, {"P", "P1"}, {"R", "R1"}, {"K", "K2"}, {"T", "T1"}, {"W", "W1"}, {"K", "K3"},
	{"W", "W2"}, {"T", "T2"}, {"K", "K1"}, {"R", "R2"}, {"P", "P2"}, {"K", "K2"},
}

const (
	runs     = 6    // stops a stint
	rate     = 50.0 // rows a second
	entry    = 90 / 3.6
	level    = 7.2 // m/s², of the control in the first stint
	stintSD  = 0.005
	runSD    = 0.012
	radius   = 6.4e6  // m, near enough the earth's radius for a lane of 400 m
	originN  = 57.5   // ° north, in the open sea: nobody's ground
	originE  = -18.25 // ° east
	puddleAt = 8      // stint, from 1, whose fourth stop meets a puddle
)

// RunLog is the name of the run log among the files.
const RunLog = "runlog.csv"

// Day gives the files of the day: the run log first, then a recording a stint.
func Day(seed uint64) []File {
	lots := rand.New(rand.NewPCG(seed, 0x626f6f6b656e64))
	var log strings.Builder
	log.WriteString("stint,code,set,run,clock,recording,water_depth_entry_mm,water_depth_middle_mm,water_depth_exit_mm,surface_temperature_degc,excluded\n")
	files := []File{{Name: RunLog}}
	for i, s := range order {
		name := fmt.Sprintf("stint%02d.csv", i+1)
		x := float64(i) / float64(len(order)-1)
		drift := 1 - 0.045*x + 0.015*x*x // the surface polishes, less and less
		stint := math.Exp(stintSD * lots.NormFloat64())
		w := writer{lots: lots}
		w.text.WriteString("time_s,speed_kmh,brake,latitude_deg,longitude_deg,acceleration_x_mps2\n")
		for r := range runs {
			a := level * Worth[s.code] * drift * stint * math.Exp(runSD*lots.NormFloat64())
			why := ""
			depth := 1.0 + 0.1*lots.NormFloat64()
			if i+1 == puddleAt && r == 3 {
				a, depth, why = a*0.9, depth+0.9, "puddle at the middle spot"
			}
			w.stop(a)
			minutes := 9*60 + 30*i + 3*r
			fmt.Fprintf(&log, "%d,%s,%s,%d,%02d:%02d,%s,%.1f,%.1f,%.1f,%.1f,%s\n", i+1, s.code, s.set, r+1, minutes/60, minutes%60, name,
				depth+0.05, depth, depth-0.1, 14+6*x+0.1*lots.NormFloat64(), why)
		}
		files = append(files, File{Name: name, Data: w.text.String()})
	}
	files[0].Data = log.String()
	return files
}

type writer struct {
	lots *rand.Rand
	text strings.Builder
	n    int
	at   float64 // m along the lane
}

func (w *writer) row(speed, acceleration float64, brake int) {
	w.at += speed / rate
	fmt.Fprintf(&w.text, "%.2f,%.3f,%d,%.9f,%.9f,%.3f\n", float64(w.n)/rate, 3.6*speed+0.03*w.lots.NormFloat64(), brake,
		originN+w.at/radius*180/math.Pi, originE, acceleration+0.05*w.lots.NormFloat64())
	w.n++
}

// stop drives to the start, up to speed, and stops at a deceleration in m/s².
func (w *writer) stop(a float64) {
	w.at = 0
	const up, roll, rest = 8.0, 2.0, 3.0
	for i := range int(up * rate) {
		w.row(entry*float64(i)/(up*rate), entry/up, 0)
	}
	for range int(roll * rate) {
		w.row(entry, 0, 0)
	}
	const ramp, ripple, hz = 0.25, 0.4, 11.0
	for i := 0; ; i++ {
		t := float64(i) / rate
		// The integral of the deceleration: the ramp's square, then the level; the
		// ripple begins at the end of the ramp and has no mean.
		lost, now := a*t*t/(2*ramp), a*t/ramp
		if t > ramp {
			w := 2 * math.Pi * hz
			lost = a*(t-ramp/2) + ripple/w*(1-math.Cos(w*(t-ramp)))
			now = a + ripple*math.Sin(w*(t-ramp))
		}
		if lost >= entry {
			break
		}
		w.row(entry-lost, -now, 1)
	}
	for range int(rest * rate) {
		w.row(0, 0, 1)
	}
}
