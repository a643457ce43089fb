package unit_test

import (
	"encoding/json"
	"flag"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/bookend/fault"
	"example.org/bookend/internal/golden"
	"example.org/bookend/unit"
)

// The draws are the same every time; -rapid.seed chooses others.
func init() {
	if err := flag.Set("rapid.seed", "26"); err != nil {
		panic(err)
	}
}

func TestFactorsAreThePublishedOnes(t *testing.T) {
	golden.Run(t, "nist-sp-811", "*", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			Value    float64
			From, To string
			Gives    float64
		}
		c.JSON(t, "conversions.json", &rows)
		for _, r := range rows {
			got, err := unit.Convert(r.Value, parse(t, r.From), parse(t, r.To))
			if err != nil {
				t.Error(err)
				continue
			}
			c.NearRel(t, r.From+" in "+r.To, got, r.Gives)
		}
	})
}

func TestFactsOfTheTradeComeOutToTheirDigits(t *testing.T) {
	golden.Run(t, "common-practice", "*", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			Value    float64
			From, To string
			Digits   int
			Prints   string
		}
		c.JSON(t, "printed.json", &rows)
		for _, r := range rows {
			got := parse(t, r.To).Format(parse(t, r.From).ToHouse(r.Value), r.Digits, unit.Plain)
			if got != r.Prints {
				t.Errorf("%v %s is written %q, want %q (%s)", r.Value, r.From, got, r.Prints, c.Where)
			}
		}
	})
}

func TestTiesGoToTheEvenDigitAsByHand(t *testing.T) {
	golden.Run(t, "iso-80000-1", "*", func(t *testing.T, c *golden.Case) {
		var rows []struct {
			Value  float64
			Digits int
			Prints string
		}
		c.JSON(t, "rounded.json", &rows)
		for _, r := range rows {
			if got := unit.Number(r.Value, r.Digits, unit.Style{}); got != r.Prints {
				t.Errorf("%v with %d decimals is %q, want %q (%s)", r.Value, r.Digits, got, r.Prints, c.Where)
			}
		}
	})
}

func parse(t *testing.T, spelling string) unit.Unit {
	t.Helper()
	u, err := unit.Parse(spelling)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// Spellings that loggers, spreadsheets and standards use for one unit.
func TestSpellingsOfLoggerHeaders(t *testing.T) {
	for symbol, spellings := range map[string]string{
		"km/h":  "km/h kph kmh KM/H KPH Km/h km/hr kmph",
		"m/s":   "m/s M/S m/sec mps m·s⁻¹",
		"mph":   "mph MPH mi/h",
		"kn":    "kn knots Knots kt kts",
		"ft/s":  "ft/s fps",
		"m/s²":  "m/s² m/s^2 m/s2 m/s/s m/s**2 m·s^-2 m/sÂ²",
		"g":     "g G",
		"°":     "deg ° Deg DEG degrees º",
		"rad":   "rad RAD",
		"°/s":   "deg/s °/s Deg/s deg/sec dps Â°/s",
		"rad/s": "rad/s",
		"rpm":   "rpm RPM 1/min min⁻¹ U/min",
		"%":     "% percent pct",
		"1":     "- 1",
		"V":     "V Volt volts",
		"mV":    "mV mv",
		"bar":   "bar BAR Bar",
		"kPa":   "kPa kpa KPA",
		"MPa":   "MPa mpa",
		"Pa":    "Pa",
		"psi":   "psi PSI lbf/in²",
		"°C":    "°C degC C ℃ Â°C celsius deg_C",
		"K":     "K Kelvin",
		"°F":    "°F degF F",
		"mm":    "mm MM",
		"cm":    "cm",
		"m":     "m M metres meters",
		"km":    "km KM",
		"ft":    "ft feet",
		"in":    "in inch",
		"mi":    "mi miles",
		"s":     "s S sec Seconds",
		"ms":    "ms msec",
		"µs":    "us µs μs",
		"ns":    "ns",
		"min":   "min",
		"h":     "h hr",
		"N":     "N",
		"kN":    "kN",
		"N·m":   "Nm N·m N*m N-m N⋅m",
		"Hz":    "Hz hz HZ 1/s",
		"kg":    "kg KG",
		"t":     "t",
		"lb":    "lb lbs",
		"l":     "l L",
		"1e-7°": "deg*1e7 1e-7deg 1e-7°",
	} {
		want := parse(t, symbol)
		for _, s := range strings.Fields(spellings) {
			s = strings.ReplaceAll(s, "_", " ")
			if got, err := unit.Parse(s); err != nil || got != want {
				t.Errorf("%q is read as %v (%v), want %v", s, got, err, want)
			}
		}
	}
}

func TestWhatCannotBeReadIsInvalidWithAHint(t *testing.T) {
	for spelling, hint := range map[string]string{
		"km/hh":     "km/h",
		"kmm/h":     "km/h",
		"m/s^22":    "m/s²",
		"dge/s":     "°/s",
		"KN":        "kn or kN",
		"NM":        "nmi",
		"MS":        "m/s",
		"mPa":       "MPa",
		"furlong/s": "for example",
	} {
		_, err := unit.Parse(spelling)
		if fault.CodeOf(err) != fault.Invalid || !strings.Contains(fault.HintOf(err), hint) {
			t.Errorf("%q: %v, hint %q, want a hint with %q", spelling, err, fault.HintOf(err), hint)
		}
		if err != nil && !strings.Contains(err.Error(), spelling) {
			t.Errorf("%q: %v does not say what was read", spelling, err)
		}
	}
	if _, err := unit.Parse("  "); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a blank is read as a unit: %v", err)
	}
	if _, err := unit.Convert(1, unit.Metre, unit.Second); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("m converts to s: %v", err)
	}
}

// Law: what is known is what can be read, and it is the same unit.
func TestKnownIsWhatParseReads(t *testing.T) {
	spellings := []string{"", " ", "km/hh", "KN", "NM", "nm", "MS", "mPa", "furlong/s", "m/s^22", "T", "k", "°", "Â°C", "M", "S", "lap", "speed", "½", "\xff"}
	for _, u := range unit.All() {
		for _, s := range []string{u.Symbol(), u.ASCII(), u.Key()} {
			spellings = append(spellings, s, strings.ToUpper(s), strings.ToLower(s), " "+s, s+"x")
		}
	}
	for _, s := range spellings {
		want, err := unit.Parse(s)
		if got, ok := unit.Known(s); ok != (err == nil) || got != want {
			t.Errorf("%q is known: %v, as %v; it is read as %v (%v)", s, ok, got, want, err)
		}
	}
}

func BenchmarkAWordThatIsNoUnit(b *testing.B) {
	b.Run("Known", func(b *testing.B) {
		for b.Loop() {
			unit.Known("acceleration")
		}
	})
	b.Run("Parse", func(b *testing.B) {
		for b.Loop() {
			unit.Parse("acceleration")
		}
	})
}

func TestEveryNameOfEveryUnitReadsBack(t *testing.T) {
	keys := map[string]bool{}
	for _, u := range unit.All() {
		for _, name := range []string{u.String(), u.ASCII(), u.Key()} {
			if name == "" {
				continue
			}
			if got, err := unit.Parse(name); err != nil || got != u {
				t.Errorf("%q is read as %v (%v), want %v", name, got, err, u)
			}
		}
		if keys[u.Key()] {
			t.Errorf("key %q stands twice", u.Key())
		}
		keys[u.Key()] = true
		if strings.Trim(u.Key(), "abcdefghijklmnopqrstuvwxyz0123456789") != "" {
			t.Errorf("key %q is no lower-case word", u.Key())
		}
		for _, r := range u.ASCII() {
			if r > 126 {
				t.Errorf("%q is not ASCII", u.ASCII())
			}
		}
		h := u.House()
		if h.Dimension() != u.Dimension() || h.ToHouse(1.5) != 1.5 {
			t.Errorf("the house unit of %v is %v", u, h)
		}
		if unit.Rim(u.Dimension()).Dimension() != u.Dimension() {
			t.Errorf("the rim's unit for %v is of another dimension", u)
		}
		if u.Key() != "" {
			stem, got, ok := unit.SplitName("water_depth_" + u.Key())
			if !ok || got != u || stem != "water_depth" {
				t.Errorf("water_depth_%s splits into %q, %v, %v", u.Key(), stem, got, ok)
			}
		}
	}
}

func TestNamesWithoutAUnitStayWhole(t *testing.T) {
	for _, name := range []string{"lap", "yaw_rate", "wheel_fl", "sector_1", "trailing_", "_s", "", "speed_gps", "brake_v", "start_a"} {
		if stem, u, ok := unit.SplitName(name); ok || stem != name || !u.IsZero() {
			t.Errorf("%q splits into %q and %v", name, stem, u)
		}
	}
	if stem, u, ok := unit.SplitName("speed_kph"); !ok || stem != "speed" || u != unit.KilometrePerHour {
		t.Errorf("speed_kph splits into %q, %v, %v", stem, u, ok)
	}
}

// Converting there and back changes a number by its rounding at most.
func TestRoundTripThroughTheHouseUnit(t *testing.T) {
	all := unit.All()
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(all).Draw(t, "unit")
		x := rapid.Float64Range(-1e9, 1e9).Draw(t, "x")
		back := u.FromHouse(u.ToHouse(x))
		slack := 4 * (math.Nextafter(math.Max(math.Abs(x), 500), math.Inf(1)) - math.Max(math.Abs(x), 500)) // 500: offsets of temperatures
		if u.Dimension() != unit.Temperature {
			slack = 4 * 0x1p-52 * math.Abs(x)
		}
		if math.Abs(x) < 1e-290 {
			return // next to the smallest numbers there are, digits are lost
		}
		if math.Abs(back-x) > slack {
			t.Errorf("%v %v comes back as %v", x, u, back)
		}
		if d := u.DifferenceFromHouse(u.DifferenceToHouse(x)); math.Abs(d-x) > 4*0x1p-52*math.Abs(x) {
			t.Errorf("a difference of %v %v comes back as %v", x, u, d)
		}
	})
}

// Rounding moves a number by half a unit of the last place at most, reads back,
// and rounding what was rounded changes nothing.
func TestRoundingIsNearestAndIdempotent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e6, 1e6).Draw(t, "x")
		digits := rapid.IntRange(0, 6).Draw(t, "digits")
		text := unit.Number(x, digits, unit.Plain)
		y, u, err := unit.ParseQuantity(text)
		if err != nil || !u.IsZero() {
			t.Fatalf("%q does not read back: %v", text, err)
		}
		if math.Abs(y-x) > 0.5*math.Pow(10, -float64(digits))*(1+1e-9)+1e-9*math.Abs(x)*0x1p-20 {
			t.Errorf("%v with %d decimals is %s", x, digits, text)
		}
		if again := unit.Number(y, digits, unit.Plain); again != text {
			t.Errorf("%s rounds to %s", text, again)
		}
		if strings.HasPrefix(text, "-") && y == 0 {
			t.Errorf("negative zero: %s", text)
		}
		comma := unit.Number(x, digits, unit.Style{Comma: true})
		if z, _, err := unit.ParseQuantity(comma); err != nil || z != y {
			t.Errorf("%s reads back as %v, want %v (%v)", comma, z, y, err)
		}
	})
}

// Shortest writes what encoding/json writes.
func TestShortestIsJSONs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64().Draw(t, "x")
		if math.IsNaN(x) || math.IsInf(x, 0) || x == 0 {
			return
		}
		want, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		if got := unit.Shortest(x); got != string(want) {
			t.Errorf("%v is written %s, want %s", x, got, want)
		}
	})
}

func TestTextForReaders(t *testing.T) {
	report, comma := unit.Style{}, unit.Style{Comma: true}
	for _, c := range []struct{ got, want string }{
		{unit.Count(0, "run"), "0 runs"},
		{unit.Count(1, "run"), "1 run"},
		{unit.Count(2, "heat cycle"), "2 heat cycles"},
		{unit.Number(-2.14, 1, report), "−2.1"},
		{unit.Number(-2.14, 1, comma), "−2,1"},
		{unit.Number(-2.14, 1, unit.Plain), "-2.1"},
		{unit.Number(-0.04, 1, report), "0.0"},
		{unit.Number(math.Copysign(0, -1), 0, report), "0"},
		{unit.Number(0.5, 0, report), "0"},
		{unit.Number(1.5, 0, report), "2"},
		{unit.Number(99.996, 2, report), "100.00"},
		{unit.Number(9.5, 0, report), "10"},
		{unit.Number(math.NaN(), 2, report), "not computed"},
		{unit.Number(math.Inf(-1), 2, report), "not computed"},
		{unit.Signed(1.25, 1, report), "+1.2"},
		{unit.Signed(-1.25, 1, report), "−1.2"},
		{unit.Signed(0.01, 1, report), "0.0"},
		{unit.Interval(104.2, 108.5, 1, report), "104.2 to 108.5"},
		{unit.Interval(104.2, math.Inf(1), 1, report), "not computed"},
		{unit.SignedInterval(-2.8, 1.4, 1, report), "−2.8 to +1.4"},
		{unit.PlusMinus(2.5, 1, report), "±\u00a02.5"},
		{unit.PlusMinus(2.5, 1, unit.Plain), "+- 2.5"},
		{unit.KilometrePerHour.Format(10, 1, report), "36.0\u00a0km/h"},
		{unit.MetrePerSecondSquared.Format(9.81, 2, report), "9.81\u00a0m/s²"},
		{unit.MetrePerSecondSquared.Format(9.81, 2, unit.Plain), "9.81 m/s2"},
		{unit.Degree.Format(math.Pi/2, 0, report), "90°"},
		{unit.Degree.Format(math.Pi/2, 0, unit.Plain), "90 deg"},
		{unit.Fahrenheit.Format(20, 0, report), "68\u00a0°F"},
		{unit.Fahrenheit.FormatDifference(-5, 0, report), "−9\u00a0°F"},
		{unit.One.Format(1.44, 2, report), "1.44"},
		{unit.Percent.Format(0.05, 1, report), "5.0\u00a0%"},
		{unit.Metre.Format(math.NaN(), 1, report), "not computed"},
		{unit.Celsius.FormatInterval(5, 35, 0, report), "5 to 35\u00a0°C"},
		{unit.Metre.FormatDifferenceInterval(-2.8, -1.4, 1, report), "−2.8 to −1.4\u00a0m"},
		{unit.LapTime(104.586, 2, report), "1:44.59"},
		{unit.LapTime(59.996, 2, report), "1:00.00"},
		{unit.LapTime(59.99, 2, report), "59.99\u00a0s"},
		{unit.LapTime(3725.04, 1, comma), "62:05,0"},
		{unit.LapTime(-104.586, 2, unit.Plain), "-1:44.59"},
		{unit.LapTime(math.NaN(), 2, report), "not computed"},
		{unit.Shortest(math.Copysign(0, -1)), "0"},
		{unit.Shortest(math.Inf(1)), "not computed"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestQuantitiesAsTyped(t *testing.T) {
	for text, want := range map[string]struct {
		x float64
		u unit.Unit
	}{
		"1":        {1, unit.Unit{}},
		"0.20m":    {0.20, unit.Metre},
		"0,20 m":   {0.20, unit.Metre},
		"58 mph":   {58, unit.MilePerHour},
		"-4.5 °C":  {-4.5, unit.Celsius},
		"−4.5°C":   {-4.5, unit.Celsius},
		"1e-3 s":   {1e-3, unit.Second},
		"5e":       {},
		"3 %":      {3, unit.Percent},
		"+2.5 bar": {2.5, unit.Bar},
		"1.3 mi":   {1.3, unit.Mile},
	} {
		x, u, err := unit.ParseQuantity(text)
		if want == (struct {
			x float64
			u unit.Unit
		}{}) {
			if fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%q is read as %v %v", text, x, u)
			}
			continue
		}
		if err != nil || x != want.x || u != want.u {
			t.Errorf("%q is read as %v %v (%v)", text, x, u, err)
		}
	}
	for _, text := range []string{"", "m", "NaN", "Inf s", "1.2.3", "1,2,3 m", "1,234.5 m", "1e999", "12 parsecs"} {
		if x, u, err := unit.ParseQuantity(text); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q is read as %v %v (%v)", text, x, u, err)
		}
	}
}
