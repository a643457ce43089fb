package day

import (
	"slices"

	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
)

// Usual gives the limits that stand where nobody set any: those that people at a
// track commonly stop for.
func Usual() programme.Profile {
	one := func(field string, low, high *float64, unit, clause, stands string) programme.Limit {
		return programme.Limit{Field: field, Low: low, High: high, Per: "run", Unit: unit, Stands: stands, Source: programme.Source{Key: programme.CommonPractice, Clause: clause}}
	}
	is := func(x float64) *float64 { return &x }
	return programme.Profile{
		ID: "usual", Version: 1, Title: "What people at a track commonly stop for", Source: programme.Source{Key: programme.CommonPractice},
		Limits: []programme.Limit{
			one("wind_mps", nil, is(5), "m/s", "wind above 5 m/s disturbs tests of handling", "wait for the wind"),
			one("brake_temperature_degc", nil, is(100), "°C", "discs cool below 100 °C before each stop", "wait for the brakes"),
			one("surface_temperature_change_degc", is(-10), is(10), "°C", "surface within 10 °C since the block began", "fit the control again, and declare a break if it has moved"),
			one("water_depth_change_m", is(-0.0005), is(0.0005), "m", "water within 0.5 mm since the block began", "wet anew, or fit the control again"),
		},
	}
}

// Values gives the numbers of an entry that limits may be about: its own fields
// by their keys, and what follows from them and the log so far:
// brake_temperature_degc (the hottest disc), least_tread_m (the shallowest
// groove), surface_temperature_change_degc and water_depth_change_m (against the
// first reading since the block began, of depth at the same spot).
func (v *View) Values(e programme.Entry, fields map[string]any) map[string]float64 {
	out := map[string]float64{}
	for k, x := range fields {
		if n, ok := x.(float64); ok {
			out[k] = n
		}
	}
	test, _ := fields["test"].(string)
	begun := v.begun(test)
	switch e.Kind {
	case runlog.BrakeTemperature:
		first := true
		for _, c := range runlog.Corners {
			if n, ok := out[c+"_degc"]; ok && (first || n > out["brake_temperature_degc"]) {
				out["brake_temperature_degc"], first = n, false
			}
		}
	case runlog.Tread:
		if list, ok := fields["grooves_m"].([]float64); ok {
			out["least_tread_m"] = slices.Min(list)
		}
	case runlog.Conditions:
		if now, ok := out["surface_temperature_degc"]; ok {
			for _, r := range v.Conditions {
				if r.SurfaceC != nil && r.When >= begun && (r.Test == test || r.Test == "") && r.Entry.ID != e.ID {
					out["surface_temperature_change_degc"] = now - *r.SurfaceC
					break
				}
			}
		}
	case runlog.Depth:
		for _, r := range v.Depths {
			if r.Test == test && r.Spot == fields["spot"] && r.When >= begun && r.Entry.ID != e.ID {
				out["water_depth_change_m"] = out["water_depth_m"] - r.DepthM
				break
			}
		}
	}
	return out
}

// leadNS is how long before a block's first stint its readings are taken: own
// choice.
const leadNS = 30 * 60 * 1e9

// begun gives when the block of a test that is being driven began, with the half
// hour before it; 0 before the first stint.
func (v *View) begun(test string) int64 {
	blocks := v.Blocks(test)
	if len(blocks) == 0 {
		return 0
	}
	b := blocks[len(blocks)-1]
	from := b.Stints[0].When - leadNS
	if n := len(blocks); n > 1 {
		before := blocks[n-2].Stints
		from = max(from, before[len(before)-1].When)
	}
	return from
}
