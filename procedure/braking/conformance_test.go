package braking

import (
	"strings"
	"testing"

	"example.org/bookend/procedure/proceduretest"
	"example.org/bookend/programme"
)

func TestConformance(t *testing.T) {
	rec := withWheels(ramp(100.8*kmh, 8, 0.3, 200), 2.9, "rad/s", 0.05, 0.08, 0.02, 0.04)
	moved := map[string]float64{
		// A switch places the onset within half a step of 5 ms at 28 m/s.
		"stopping_distance": 0.15, "stopping_time": 0.006, "braking_distance": 0.15, "braking_time": 0.006, "corrected_distance": 0.15,
		"distance_by_position": 0.15, "average_deceleration": 0.03, "braking_force_coefficient": 0.003, "mfdd": 0.03,
		// The step between the samples about the onset is half rolled free.
		"mean_slip": 0.002, "greatest_slip": 0.002, "entry_speed": 0.01,
	}
	var cases []proceduretest.Case
	for _, q := range []struct {
		name  string
		given []programme.Setting
	}{
		{"80 to 20 km/h", nil},
		{"to rest", []programme.Setting{{ID: "window", Word: windowRest}, {ID: "entry_speed", Number: 100 * kmh}}},
		{"0.8 to 0.1", []programme.Setting{{ID: "window", Word: windowShare}}},
		{"by deceleration", []programme.Setting{{ID: "onset", Word: onsetDeceleration}}},
		{"by speed", []programme.Setting{{ID: "onset", Word: onsetSpeed}}},
		{"60 km/h to rest", []programme.Setting{{ID: "from_speed", Number: 60 * kmh}, {ID: "to_speed"}, {ID: "gradient", Word: "level"}}},
	} {
		cases = append(cases, proceduretest.Case{Name: q.name, Input: whole(t, rec, q.given...), Resampled: moved})
	}
	proceduretest.Run(t, proceduretest.Suite{
		Procedure: New(),
		Cases:     cases,
		Mirrored: func(place string) string {
			switch {
			case strings.HasSuffix(place, " left"):
				return strings.TrimSuffix(place, "left") + "right"
			case strings.HasSuffix(place, " right"):
				return strings.TrimSuffix(place, "right") + "left"
			}
			return place
		},
	})
}
