package tyremodel_test

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/sim/tyremodel"
)

var dry = tyremodel.Footing{Grip: 1, Share: 1}

func worn(t tyremodel.Tyre) tyremodel.Condition {
	return tyremodel.Condition{Tread: t.Tread, TemperatureC: t.BestC}
}

// A tyre's force opposes its slip, mirrors, and is less where both slips share it.
func TestForceLaws(t *testing.T) {
	tyre := tyremodel.Van()
	for _, load := range []float64{2000, 8500, 14000} {
		long, _ := tyre.Force(load, dry, 0, 0.05)
		_, lat := tyre.Force(load, dry, 0.05, 0)
		if !(long > 0 && lat < 0) {
			t.Fatalf("load %v: forces %v, %v", load, long, lat)
		}
		bothLong, bothLat := tyre.Force(load, dry, 0.05, 0.05)
		if !(bothLong > 0 && bothLong < long && bothLat < 0 && bothLat > lat) {
			t.Errorf("load %v: together %v, %v; alone %v, %v", load, bothLong, bothLat, long, lat)
		}
		mLong, mLat := tyre.Force(load, dry, -0.05, -0.05)
		if mLong != -bothLong || mLat != -bothLat {
			t.Errorf("load %v: mirrored %v, %v", load, mLong, mLat)
		}
		// Nowhere outside the friction ellipse of its peaks.
		muX, muY := tyre.Longitudinal(load, dry).D/load, tyre.Lateral(load, dry).D/load
		for a := 0.0; a < 0.6; a += 0.02 {
			for k := -1.0; k < 1; k += 0.05 {
				x, y := tyre.Force(load, dry, a, k)
				if left := tyremodel.Ellipse(muX, muY, load, x); math.Abs(y) > left+1e-6*load {
					t.Fatalf("load %v, angle %v, slip %v: %v N beside %v N, the ellipse leaves %v N", load, a, k, y, x, left)
				}
			}
		}
	}
	if long, lat := tyre.Force(0, dry, 0.1, 0.1); long != 0 || lat != 0 {
		t.Errorf("a wheel in the air gives %v, %v", long, lat)
	}
}

// Friction falls with load; cornering stiffness grows less than load does.
func TestLoadSensitivity(t *testing.T) {
	tyre := tyremodel.Van()
	before := [2]float64{math.Inf(1), math.Inf(1)}
	for load := 2000.0; load <= 16000; load += 1000 {
		mu, stiff := tyre.Lateral(load, dry).D/load, tyre.CorneringStiffness(load)/load
		if !(mu < before[0] && stiff < before[1]) {
			t.Errorf("at %v N: friction %v after %v, stiffness %v after %v", load, mu, before[0], stiff, before[1])
		}
		before = [2]float64{mu, stiff}
	}
	if got := tyre.CorneringStiffness(tyre.Nominal); math.Abs(got-tyre.LatStiffness*tyre.Nominal) > 1e-6 {
		t.Errorf("at the nominal load %v", got)
	}
}

// Wet friction falls with depth and with speed, a worn tyre's more; in deep water
// the tyre floats past its floating speed.
func TestWater(t *testing.T) {
	tyre := tyremodel.Van()
	c := worn(tyre)
	floats := tyre.FloatSpeed(360e3)
	left := func(depth, speed float64, c tyremodel.Condition) float64 {
		f := tyre.Footing(tyremodel.Surface{Grip: 1, Depth: depth}, c, speed, floats)
		return f.Grip * f.Share
	}
	if got := left(0, 30, c); got != 1 {
		t.Errorf("dry, at its best temperature: %v", got)
	}
	for _, v := range []float64{5, 15, 25} {
		before := 1.0
		for _, d := range []float64{0.0001, 0.0005, 0.001, 0.002, 0.004, 0.008} {
			got := left(d, v, c)
			if !(got < before && got > 0) {
				t.Errorf("depth %v at %v m/s: %v after %v", d, v, got, before)
			}
			if faster := left(d, v+5, c); !(faster < got) {
				t.Errorf("depth %v: %v at %v m/s and %v five faster", d, got, v, faster)
			}
			before = got
		}
	}
	old := tyremodel.Condition{Tread: 0.002, TemperatureC: tyre.BestC}
	if !(left(0.003, 22, old) < left(0.003, 22, c)) {
		t.Error("a worn tread grips as well in deep water as a new one")
	}
	f := tyre.Footing(tyremodel.Surface{Grip: 1, Depth: 0.020}, old, 1.1*floats, floats)
	if f.Share > 0.05 {
		t.Errorf("past its floating speed in deep water the contact carries %v of the load", f.Share)
	}
	if f := tyre.Footing(tyremodel.Surface{Grip: 1, Depth: 0.020}, old, 0.3*floats, floats); f.Share < 0.9 {
		t.Errorf("slowly in deep water the contact carries %v of the load", f.Share)
	}
}

// Sliding heats and wears; standing cools.
func TestWarm(t *testing.T) {
	tyre := tyremodel.Van()
	c := tyremodel.Condition{Tread: tyre.Tread, TemperatureC: 15}
	for range 1000 {
		c = tyre.Warm(c, 10e3, 18, 15, 0.05)
	}
	if !(c.TemperatureC > 25 && c.TemperatureC < 120) || !(c.Tread < tyre.Tread) {
		t.Errorf("after 50 s of 10 kW: %+v", c)
	}
	hot := c.TemperatureC
	for range 20000 {
		c = tyre.Warm(c, 0, 0, 15, 0.05)
	}
	if !(c.TemperatureC < hot-5 && c.TemperatureC > 15) {
		t.Errorf("after standing: %v °C", c.TemperatureC)
	}
}

// What evaluators say does to the tyre what they mean by it.
func TestSay(t *testing.T) {
	control := tyremodel.Van()
	of := func(words string) tyremodel.Tyre {
		t.Helper()
		c, err := tyremodel.Say(words)
		if err != nil {
			t.Fatal(err)
		}
		return c.Of(control)
	}
	if got := of(""); got != control {
		t.Errorf("nothing said: %+v", got)
	}
	soft := of("softer sidewall")
	if !(soft.Relaxation > control.Relaxation && soft.LatStiffness < control.LatStiffness && soft.LatPeak == control.LatPeak) {
		t.Errorf("softer: %+v", soft)
	}
	if more := of("much softer sidewall"); !(more.Relaxation > soft.Relaxation) {
		t.Error("much softer is no softer than softer")
	}
	if little := of("a little softer sidewall"); !(little.Relaxation < soft.Relaxation && little.Relaxation > control.Relaxation) {
		t.Error("a little softer is no less soft")
	}
	lateral := func(words string) tyremodel.Curve {
		tyre := of(words)
		return tyre.Lateral(8500, dry)
	}
	sudden := lateral("sudden breakaway")
	was := control.Lateral(8500, dry)
	if !(sudden.Far() < was.Far() && sudden.D == was.D && math.Abs(sudden.Slope()-was.Slope()) < 1e-6*was.Slope()) {
		t.Errorf("sudden: far %v after %v, peak %v and %v, slope %v and %v", sudden.Far(), was.Far(), sudden.D, was.D, sudden.Slope(), was.Slope())
	}
	if gradual := lateral("gradual breakaway"); !(gradual.Far() > was.Far()) {
		t.Error("gradual drops more")
	}
	two := of("more wet grip,  Floats Later")
	if !(two.WetShare > control.WetShare && two.FloatFactor > control.FloatFactor) {
		t.Errorf("two words: %+v", two)
	}
	_, err := tyremodel.Say("rounder")
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "rounder") {
		t.Errorf("a word that is not known: %v", err)
	}
}
