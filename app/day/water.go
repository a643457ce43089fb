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

// cycle is a wetting cycle: from a start of the wetting up to the next, with the
// readings of each spot in it.
type cycle struct {
	from, to int64
	spots    []series
}

// series is the readings of one spot in one cycle, in the order of time.
type series struct {
	readings []DepthReading
	step     float64 // variance of the walk between them, m²/s
}

// wet sorts the readings of depth into the cycles of their tests. Wettings and
// readings stand in the order of time.
func (v *View) wet() {
	v.cycles = map[string][]cycle{}
	for _, w := range v.Wettings {
		if w.What != "start" {
			continue
		}
		list := v.cycles[w.Test]
		if n := len(list); n > 0 {
			list[n-1].to = w.When
		}
		v.cycles[w.Test] = append(list, cycle{from: w.When, to: math.MaxInt64})
	}
	for test, list := range v.cycles {
		for i := range list {
			c := &list[i]
			spots := map[string]*series{}
			for _, r := range v.Depths {
				if r.Test != test || r.When < c.from || r.When >= c.to {
					continue
				}
				if spots[r.Spot] == nil {
					spots[r.Spot] = &series{}
				}
				spots[r.Spot].readings = append(spots[r.Spot].readings, r)
			}
			for _, name := range slices.Sorted(keys(spots)) {
				s := spots[name]
				total := 0.0
				for k := 1; k < len(s.readings); k++ {
					dz := s.readings[k].DepthM - s.readings[k-1].DepthM
					s.step += dz * dz
					total += float64(s.readings[k].When-s.readings[k-1].When) / 1e9
				}
				if total > 0 {
					s.step /= total
				}
				c.spots = append(c.spots, *s)
			}
		}
	}
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
	list := v.cycles[test]
	i := sort.Search(len(list), func(i int) bool { return list[i].from > when })
	if i == 0 {
		return Depth{}, false
	}
	c := list[i-1]
	d.Of = len(c.spots)
	variance := 0.0
	for _, s := range c.spots {
		z, u, ok := s.at(when)
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

// at gives the depth of the spot at a moment, and its standard uncertainty.
func (s series) at(when int64) (z, u float64, ok bool) {
	i := sort.Search(len(s.readings), func(i int) bool { return s.readings[i].When >= when })
	if i < len(s.readings) && s.readings[i].When == when {
		return s.readings[i].DepthM, gauge(s.readings[i]), true
	}
	if i == 0 || i == len(s.readings) {
		return 0, 0, false
	}
	a, c := s.readings[i-1], s.readings[i]
	span, part := float64(c.When-a.When)/1e9, float64(when-a.When)/1e9
	w := part / span
	ua, uc := gauge(a), gauge(c)
	variance := (1-w)*(1-w)*ua*ua + w*w*uc*uc + s.step*part*(span-part)/span
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
