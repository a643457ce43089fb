package day

import (
	"math"
	"slices"
	"sort"
)

// Depth is the water depth at a moment, over the spots that were read before and
// after it within the same wetting cycle.
type Depth struct {
	Mean        float64 // m
	Uncertainty float64 // standard, m
	Spots       int     // that it is the mean of
	Of          int     // spots that were read in this cycle
}

// cycle gives the wetting cycle of a moment: from the last start of the wetting
// up to the next. ok is false before the first start.
func (v *View) cycle(test string, when int64) (from, to int64, ok bool) {
	to = math.MaxInt64
	for _, w := range v.Wettings {
		if w.Test != test || w.What != "start" {
			continue
		}
		if w.When > when {
			to = w.When
			break
		}
		from, ok = w.When, true
	}
	return from, to, ok
}

// SinceWetting gives for how long, in s, the surface has not been wetted at a
// moment: 0 while water runs. ok is false before the first start.
func (v *View) SinceWetting(test string, when int64) (s float64, ok bool) {
	var stopped int64
	running := false
	for _, w := range v.Wettings {
		if w.Test != test || w.When > when {
			continue
		}
		if w.What == "start" {
			running, ok = true, true
		} else if running {
			running, stopped = false, w.When
		}
	}
	if !ok || running {
		return 0, ok
	}
	return float64(when-stopped) / 1e9, true
}

// DefaultGauge is the standard uncertainty, in m, of a depth read without one: a
// gauge read to 0.1 mm, rectangular to either side (common practice; GUM 4.3.7).
const DefaultGauge = 0.0001 / 1.7320508075688772

// DepthAt gives the water depth of a test at a moment; ok is false where no spot
// was read before and after it in the same wetting cycle.
func (v *View) DepthAt(test string, when int64) (d Depth, ok bool) {
	from, to, ok := v.cycle(test, when)
	if !ok {
		return Depth{}, false
	}
	spots := map[string][]DepthReading{}
	for _, r := range v.Depths {
		if r.Test == test && r.When >= from && r.When < to {
			spots[r.Spot] = append(spots[r.Spot], r)
		}
	}
	names := slices.Sorted(keys(spots))
	d.Of = len(names)
	variance := 0.0
	for _, name := range names {
		z, u, ok := between(spots[name], when)
		if !ok {
			continue
		}
		d.Mean += z
		variance += u * u
		d.Spots++
	}
	if d.Spots == 0 {
		return Depth{}, false
	}
	d.Mean /= float64(d.Spots)
	d.Uncertainty = math.Sqrt(variance) / float64(d.Spots)
	return d, true
}

func gauge(r DepthReading) float64 {
	if r.UncertaintyM != nil {
		return *r.UncertaintyM
	}
	return DefaultGauge
}

// between gives the depth of one spot at a moment from its readings in time
// order, and its standard uncertainty.
func between(readings []DepthReading, when int64) (z, u float64, ok bool) {
	i := sort.Search(len(readings), func(i int) bool { return readings[i].When >= when })
	if i < len(readings) && readings[i].When == when {
		return readings[i].DepthM, gauge(readings[i]), true
	}
	if i == 0 || i == len(readings) {
		return 0, 0, false
	}
	a, c := readings[i-1], readings[i]
	span, part := float64(c.When-a.When)/1e9, float64(when-a.When)/1e9
	w := part / span
	step := 0.0 // variance of the walk, m²/s
	total := 0.0
	for k := 1; k < len(readings); k++ {
		dz := readings[k].DepthM - readings[k-1].DepthM
		step += dz * dz
		total += float64(readings[k].When-readings[k-1].When) / 1e9
	}
	step /= total
	ua, uc := gauge(a), gauge(c)
	variance := (1-w)*(1-w)*ua*ua + w*w*uc*uc + step*part*(span-part)/span
	return a.DepthM + w*(c.DepthM-a.DepthM), math.Sqrt(variance), true
}

// mostAgeNS is how old a reading of the day may be to count for a run: 30 min, as
// consumer test protocols ask at least (references: from memory).
const mostAgeNS = 30 * 60 * 1e9

// ConditionsAt gives what was read of the day nearest to a moment, each field by
// itself, no further away than 30 min; by key of the run log.
func (v *View) ConditionsAt(test string, when int64) map[string]float64 {
	out := map[string]float64{}
	age := map[string]int64{}
	for _, r := range v.Conditions {
		if r.Test != "" && r.Test != test {
			continue
		}
		far := max(r.When-when, when-r.When)
		if far > mostAgeNS {
			continue
		}
		for key, value := range r.fields() {
			if old, ok := age[key]; value != nil && (!ok || far < old) {
				out[key], age[key] = *value, far
			}
		}
	}
	return out
}

func (r Reading) fields() map[string]*float64 {
	return map[string]*float64{
		"air_temperature_degc": r.AirC, "surface_temperature_degc": r.SurfaceC, "water_temperature_degc": r.WaterC,
		"wind_mps": r.WindMps, "humidity_percent": r.Humidity,
	}
}

// covariates gives what is known of the moment of a run.
func (v *View) covariates(r *Run) map[string]float64 {
	out := v.ConditionsAt(r.Test, r.When)
	if s, ok := v.SinceWetting(r.Test, r.When); ok {
		out["since_wetting_s"] = s
	}
	if d, ok := v.DepthAt(r.Test, r.When); ok {
		out["water_depth_m"] = d.Mean
		out["water_depth_uncertainty_m"] = d.Uncertainty
	}
	if r.EntrySpeed != nil {
		out["entry_speed_mps"] = *r.EntrySpeed
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

// watered tells whether depths were read in a test at all.
func (v *View) watered(test string) bool {
	return slices.ContainsFunc(v.Depths, func(d DepthReading) bool { return d.Test == test })
}
