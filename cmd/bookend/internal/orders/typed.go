package orders

import (
	"math"
	"strconv"
	"strings"

	"example.org/bookend/fault"
)

// points reads the difference that is wanted on the ratio scale: index points as typed,
// the difference of logarithms as given.
func points(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v > 0) {
		return 0, fault.New(fault.Invalid, "--wanted: %q is no number of index points above 0", text).WithHint("for example --wanted 2")
	}
	return math.Log1p(v / 100), nil
}

// place reads the latitude and longitude of --at, in degrees.
func place(text string) (lat, lon float64, err error) {
	a, b, ok := strings.Cut(text, ",")
	lat, err1 := strconv.ParseFloat(a, 64)
	lon, err2 := strconv.ParseFloat(b, 64)
	if !ok || err1 != nil || err2 != nil {
		return 0, 0, fault.New(fault.Invalid, "--at: %q is not LAT,LON", text).WithHint("in degrees, for example --at 57.1,-4.5")
	}
	return lat, lon, nil
}
