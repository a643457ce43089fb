package unit_test

import (
	"testing"

	"example.org/bookend/unit"
)

// A reader's unit takes the place of the one that a measure is read in, with decimals
// that show no less; what is no metre, speed, temperature or pressure stays.
func TestAReadersUnits(t *testing.T) {
	s := unit.Style{Speed: unit.MetrePerSecond, Length: unit.MustParse("ft"), Pressure: unit.MustParse("bar")}
	for _, c := range []struct {
		u, want unit.Unit
		digits  int
	}{
		{unit.KilometrePerHour, unit.MetrePerSecond, 3}, // 1 km/h is 0.28 m/s
		{unit.Metre, unit.MustParse("ft"), 2},           // 1 m is 3.3 ft
		{unit.MustParse("kPa"), unit.MustParse("bar"), 4},
		{unit.MustParse("mm"), unit.MustParse("mm"), 2},
		{unit.MustParse("°C"), unit.MustParse("°C"), 2},
		{unit.Second, unit.Second, 2},
	} {
		if got := s.Of(c.u); got != c.want || s.Digits(c.u, 2) != c.digits {
			t.Errorf("%v: %v with %d decimals, wanted %v with %d", c.u, got, s.Digits(c.u, 2), c.want, c.digits)
		}
	}
	if (unit.Style{}).Of(unit.Metre) != unit.Metre || !(unit.Style{}).Of(unit.Unit{}).IsZero() {
		t.Error("the zero style changes a unit")
	}
}
