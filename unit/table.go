package unit

// The units of the table by name, for code that means one of them.
var (
	One                            = MustParse("1")
	Percent                        = MustParse("%")
	Metre                          = MustParse("m")
	Millimetre                     = MustParse("mm")
	Kilometre                      = MustParse("km")
	Foot                           = MustParse("ft")
	Inch                           = MustParse("in")
	Mile                           = MustParse("mi")
	Second                         = MustParse("s")
	Millisecond                    = MustParse("ms")
	Minute                         = MustParse("min")
	MetrePerSecond                 = MustParse("m/s")
	KilometrePerHour               = MustParse("km/h")
	MilePerHour                    = MustParse("mph")
	MetrePerSecondSquared          = MustParse("m/s²")
	StandardGravity                = MustParse("g")
	Radian                         = MustParse("rad")
	Degree                         = MustParse("°")
	RadianPerSecond                = MustParse("rad/s")
	DegreePerSecond                = MustParse("°/s")
	DegreePerSecondSquared         = MustParse("°/s²")
	DegreePerMetrePerSecondSquared = MustParse("°/(m/s²)")
	Kilogram                       = MustParse("kg")
	Newton                         = MustParse("N")
	Pascal                         = MustParse("Pa")
	Kilopascal                     = MustParse("kPa")
	Bar                            = MustParse("bar")
	PSI                            = MustParse("psi")
	Celsius                        = MustParse("°C")
	Kelvin                         = MustParse("K")
	Fahrenheit                     = MustParse("°F")
	Hertz                          = MustParse("Hz")
	Volt                           = MustParse("V")
)

// table is every unit that is known. Factors are exact by definition unless a
// line says otherwise; their source is NIST SP 811 (2008), appendix B.8, for
// everything outside the SI, and the SI's prefixes for the rest. In each
// dimension the house unit stands first.
var table = []entry{
	// ratio
	{key: "", symbol: "", ascii: "", dimension: Ratio, num: 1, den: 1, spellings: []string{"1", "-", "--", "none", "ratio", "unitless", "dimensionless", "count", "counts", "#"}},
	{key: "percent", symbol: "%", ascii: "%", dimension: Ratio, num: 1, den: 100, spellings: []string{"pct", "per cent"}},
	{key: "permille", symbol: "‰", ascii: "permille", dimension: Ratio, num: 1, den: 1000},

	// length
	{key: "m", symbol: "m", ascii: "m", dimension: Length, num: 1, den: 1, spellings: []string{"metre", "metres", "meter", "meters", "mtr"}},
	{key: "mm", symbol: "mm", ascii: "mm", dimension: Length, num: 1, den: 1000, spellings: []string{"millimetre", "millimetres", "millimeter", "millimeters"}},
	{key: "cm", symbol: "cm", ascii: "cm", dimension: Length, num: 1, den: 100, spellings: []string{"centimetre", "centimetres", "centimeter", "centimeters"}},
	{key: "km", symbol: "km", ascii: "km", dimension: Length, num: 1000, den: 1, spellings: []string{"kilometre", "kilometres", "kilometer", "kilometers"}},
	{key: "um", symbol: "µm", ascii: "um", dimension: Length, num: 1, den: 1e6, spellings: []string{"micron", "microns"}},
	{key: "ft", symbol: "ft", ascii: "ft", dimension: Length, num: 3048, den: 10000, spellings: []string{"foot", "feet"}},
	{key: "in", symbol: "in", ascii: "in", dimension: Length, num: 254, den: 10000, spellings: []string{"inch", "inches"}},
	{key: "in32", symbol: "1/32 in", ascii: "1/32 in", dimension: Length, num: 254, den: 320000, spellings: []string{"32nds", "in/32"}}, // tread depth
	{key: "yd", symbol: "yd", ascii: "yd", dimension: Length, num: 9144, den: 10000, spellings: []string{"yard", "yards"}},
	{key: "mi", symbol: "mi", ascii: "mi", dimension: Length, num: 1609344, den: 1000, spellings: []string{"mile", "miles"}},
	{key: "nmi", symbol: "nmi", ascii: "nmi", dimension: Length, num: 1852, den: 1},
	{key: "ftus", symbol: "ft (US survey)", ascii: "ft (US survey)", dimension: Length, num: 1200, den: 3937, spellings: []string{"US survey ft", "ftUS", "sft"}},

	// time
	{key: "s", symbol: "s", ascii: "s", dimension: Time, num: 1, den: 1, spellings: []string{"sec", "secs", "second", "seconds"}},
	{key: "ms", symbol: "ms", ascii: "ms", dimension: Time, num: 1, den: 1000, spellings: []string{"msec", "millisecond", "milliseconds"}},
	{key: "us", symbol: "µs", ascii: "us", dimension: Time, num: 1, den: 1e6, spellings: []string{"usec", "microsecond", "microseconds"}},
	{key: "ns", symbol: "ns", ascii: "ns", dimension: Time, num: 1, den: 1e9, spellings: []string{"nsec", "nanosecond", "nanoseconds"}},
	{key: "min", symbol: "min", ascii: "min", dimension: Time, num: 60, den: 1, spellings: []string{"minute", "minutes"}},
	{key: "h", symbol: "h", ascii: "h", dimension: Time, num: 3600, den: 1, spellings: []string{"hr", "hrs", "hour", "hours"}},
	{key: "day", symbol: "d", ascii: "d", dimension: Time, num: 86400, den: 1, spellings: []string{"days"}},

	// speed
	{key: "mps", symbol: "m/s", ascii: "m/s", dimension: Speed, num: 1, den: 1, spellings: []string{"m/sec", "m s^-1", "m·s^-1", "m s-1", "meter/second", "metre/second", "meters/second", "metres/second"}},
	{key: "kmh", symbol: "km/h", ascii: "km/h", dimension: Speed, num: 1000, den: 3600, spellings: []string{"kph", "kmph", "km/hr", "km/hour", "km h^-1", "km·h^-1", "k/h"}},
	{key: "mph", symbol: "mph", ascii: "mph", dimension: Speed, num: 44704, den: 100000, spellings: []string{"mi/h", "mi/hr", "mile/h", "miles/h", "miles/hour"}},
	{key: "knot", symbol: "kn", ascii: "kn", dimension: Speed, num: 1852, den: 3600, spellings: []string{"knots", "kt", "kts", "nmi/h"}},
	{key: "fps", symbol: "ft/s", ascii: "ft/s", dimension: Speed, num: 3048, den: 10000, spellings: []string{"ft/sec", "feet/s", "feet/second"}},
	{key: "mmps", symbol: "mm/s", ascii: "mm/s", dimension: Speed, num: 1, den: 1000, spellings: []string{"mm/sec"}},
	{key: "cmps", symbol: "cm/s", ascii: "cm/s", dimension: Speed, num: 1, den: 100, spellings: []string{"cm/sec"}},

	// acceleration and its change
	{key: "mps2", symbol: "m/s²", ascii: "m/s2", dimension: Acceleration, num: 1, den: 1, spellings: []string{"m/s^2", "m/s/s", "m/sec^2", "m/sec2", "m/sec/sec", "m s^-2", "m·s^-2", "m s-2", "mps/s", "mpss"}},
	{key: "g", symbol: "g", ascii: "g", dimension: Acceleration, num: 980665, den: 100000, spellings: []string{"G", "g0", "gn", "gravity", "g's"}},
	{key: "mg", symbol: "mg", ascii: "mg", dimension: Acceleration, num: 980665, den: 1e8, spellings: []string{"milli-g", "millig"}},
	{key: "fps2", symbol: "ft/s²", ascii: "ft/s2", dimension: Acceleration, num: 3048, den: 10000, spellings: []string{"ft/s^2", "ft/s/s", "ft/sec^2", "ft/sec2"}},
	{key: "kmhps", symbol: "km/h/s", ascii: "km/h/s", dimension: Acceleration, num: 1000, den: 3600, spellings: []string{"(km/h)/s", "kph/s"}},
	{key: "mps3", symbol: "m/s³", ascii: "m/s3", dimension: Jerk, num: 1, den: 1, spellings: []string{"m/s^3", "m/s/s/s"}},

	// angle and its changes
	{key: "rad", symbol: "rad", ascii: "rad", dimension: Angle, num: 1, den: 1, spellings: []string{"radian", "radians"}},
	{key: "deg", symbol: "°", ascii: "deg", dimension: Angle, num: pi, den: 180, tight: true, spellings: []string{"degree", "degrees"}},
	{key: "mrad", symbol: "mrad", ascii: "mrad", dimension: Angle, num: 1, den: 1000},
	{key: "arcmin", symbol: "′", ascii: "arcmin", dimension: Angle, num: pi, den: 10800, tight: true, spellings: []string{"minutes of arc"}},
	{key: "dege7", symbol: "1e-7 °", ascii: "1e-7 deg", dimension: Angle, num: pi, den: 180e7, spellings: []string{"deg*1e7", "deg*10^7", "deg*1e-7", "deg*10^-7", "°*1e7", "°*1e-7", "1e-7*deg", "10^-7deg", "10^-7°", "degE7", "deg1e7", "deg*1E7"}},
	{key: "radps", symbol: "rad/s", ascii: "rad/s", dimension: AngularSpeed, num: 1, den: 1, spellings: []string{"rad/sec", "rad s^-1", "rad·s^-1", "rad s-1", "radians/s", "radian/s", "radians/second"}},
	{key: "degps", symbol: "°/s", ascii: "deg/s", dimension: AngularSpeed, num: pi, den: 180, spellings: []string{"deg/sec", "°/sec", "degs/s", "degree/s", "degrees/s", "degrees/second", "deg s^-1", "deg·s^-1", "deg s-1", "dps"}},
	{key: "rpm", symbol: "rpm", ascii: "rpm", dimension: AngularSpeed, num: pi, den: 30, spellings: []string{"1/min", "min^-1", "min-1", "rev/min", "r/min", "U/min", "rpms"}},
	{key: "radps2", symbol: "rad/s²", ascii: "rad/s2", dimension: AngularAcceleration, num: 1, den: 1, spellings: []string{"rad/s^2", "rad/s/s", "rad/sec^2"}},
	{key: "degps2", symbol: "°/s²", ascii: "deg/s2", dimension: AngularAcceleration, num: pi, den: 180, spellings: []string{"deg/s^2", "deg/s/s", "°/s/s", "deg/sec^2"}},
	{key: "perm", symbol: "1/m", ascii: "1/m", dimension: Curvature, num: 1, den: 1, spellings: []string{"m^-1", "m-1", "rad/m"}},
	{key: "perkm", symbol: "1/km", ascii: "1/km", dimension: Curvature, num: 1, den: 1000, spellings: []string{"km^-1"}},
	{key: "radpermps2", symbol: "rad/(m/s²)", ascii: "rad/(m/s2)", dimension: AnglePerAcceleration, num: 1, den: 1, spellings: []string{"rad s^2/m"}},
	{key: "degpermps2", symbol: "°/(m/s²)", ascii: "deg/(m/s2)", dimension: AnglePerAcceleration, num: pi, den: 180, spellings: []string{"deg s^2/m"}},
	{key: "degperg", symbol: "°/g", ascii: "deg/g", dimension: AnglePerAcceleration, num: pi * 100000, den: 180 * 980665},
	{key: "mps2perrad", symbol: "(m/s²)/rad", ascii: "(m/s2)/rad", dimension: AccelerationGain, num: 1, den: 1, spellings: []string{"m/s^2/rad"}},
	{key: "mps2perdeg", symbol: "(m/s²)/°", ascii: "(m/s2)/deg", dimension: AccelerationGain, num: 180, den: pi, spellings: []string{"m/s^2/deg", "m/s^2/°"}},
	{key: "gperdeg", symbol: "g/°", ascii: "g/deg", dimension: AccelerationGain, num: 180 * 980665, den: pi * 100000},

	// frequency
	{key: "hz", symbol: "Hz", ascii: "Hz", dimension: Frequency, num: 1, den: 1, spellings: []string{"1/s", "s^-1", "s-1", "hertz", "(°/s)/°", "(deg/s)/deg", "(rad/s)/rad"}},
	{key: "khz", symbol: "kHz", ascii: "kHz", dimension: Frequency, num: 1000, den: 1},

	// mass, force, torque, pressure, power, volume
	{key: "kg", symbol: "kg", ascii: "kg", dimension: Mass, num: 1, den: 1, spellings: []string{"kgs", "kilogram", "kilograms"}},
	{key: "gram", symbol: "gram", ascii: "gram", dimension: Mass, num: 1, den: 1000, spellings: []string{"grams", "gramme", "grammes"}},
	{key: "tonne", symbol: "t", ascii: "t", dimension: Mass, num: 1000, den: 1, spellings: []string{"tonnes"}},
	{key: "lb", symbol: "lb", ascii: "lb", dimension: Mass, num: 45359237, den: 100000000, spellings: []string{"lbs", "lbm", "pound", "pounds"}},
	{key: "newton", symbol: "N", ascii: "N", dimension: Force, num: 1, den: 1, spellings: []string{"newtons"}},
	{key: "dan", symbol: "daN", ascii: "daN", dimension: Force, num: 10, den: 1},
	{key: "kilonewton", symbol: "kN", ascii: "kN", dimension: Force, num: 1000, den: 1},
	{key: "kgf", symbol: "kgf", ascii: "kgf", dimension: Force, num: 980665, den: 100000, spellings: []string{"kp"}},
	{key: "lbf", symbol: "lbf", ascii: "lbf", dimension: Force, num: 44482216152605, den: 1e13},
	{key: "newtonmetre", symbol: "N·m", ascii: "N.m", dimension: Torque, num: 1, den: 1, spellings: []string{"Nm", "N*m", "N-m"}},
	{key: "lbfft", symbol: "lbf·ft", ascii: "lbf.ft", dimension: Torque, num: 13558179483314004, den: 1e16, spellings: []string{"lbf-ft", "lb-ft", "lb·ft", "ft-lb", "ft·lb", "ft·lbf", "ftlb", "lbft", "ftlbf"}},
	{key: "pa", symbol: "Pa", ascii: "Pa", dimension: Pressure, num: 1, den: 1, spellings: []string{"pascal", "pascals", "N/m^2"}},
	{key: "hpa", symbol: "hPa", ascii: "hPa", dimension: Pressure, num: 100, den: 1},
	{key: "kpa", symbol: "kPa", ascii: "kPa", dimension: Pressure, num: 1000, den: 1},
	{key: "megapascal", symbol: "MPa", ascii: "MPa", dimension: Pressure, num: 1e6, den: 1},
	{key: "bar", symbol: "bar", ascii: "bar", dimension: Pressure, num: 1e5, den: 1, spellings: []string{"bars"}},
	{key: "mbar", symbol: "mbar", ascii: "mbar", dimension: Pressure, num: 100, den: 1},
	{key: "psi", symbol: "psi", ascii: "psi", dimension: Pressure, num: 44482216152605, den: 6451600000, spellings: []string{"lbf/in^2", "lb/in^2", "psig"}}, // lbf over in²
	{key: "inhg", symbol: "inHg", ascii: "inHg", dimension: Pressure, num: 3386389, den: 1000},                                                               // conventional, SP 811 B.8
	{key: "j", symbol: "J", ascii: "J", dimension: Energy, num: 1, den: 1, spellings: []string{"joule", "Ws", "W·s", "W*s"}},
	{key: "watt", symbol: "W", ascii: "W", dimension: Power, num: 1, den: 1, spellings: []string{"watts"}},
	{key: "kw", symbol: "kW", ascii: "kW", dimension: Power, num: 1000, den: 1},
	{key: "m3", symbol: "m³", ascii: "m3", dimension: Volume, num: 1, den: 1, spellings: []string{"m^3"}},
	{key: "litre", symbol: "l", ascii: "l", dimension: Volume, num: 1, den: 1000, spellings: []string{"L", "litres", "liter", "liters"}},
	{key: "ml", symbol: "ml", ascii: "ml", dimension: Volume, num: 1, den: 1e6, spellings: []string{"mL"}},
	{key: "m2ps3", symbol: "m²/s³", ascii: "m2/s3", dimension: SpeedByAcceleration, num: 1, den: 1, spellings: []string{"m^2/s^3", "(m/s)·(m/s^2)"}},
	{key: "kmhmps2", symbol: "km/h·m/s²", ascii: "km/h.m/s2", dimension: SpeedByAcceleration, num: 1000, den: 3600, spellings: []string{"km/h*m/s^2", "km/h·m/s^2", "(km/h)·(m/s^2)"}},
	{key: "radsecond", symbol: "rad·s", ascii: "rad.s", dimension: AngleTime, num: 1, den: 1, spellings: []string{"rad*s", "s·rad", "s*rad"}},
	{key: "degsecond", symbol: "°·s", ascii: "deg.s", dimension: AngleTime, num: pi, den: 180, spellings: []string{"deg*s", "°*s", "s·deg", "s*deg", "s·°"}},

	// temperature: the one dimension whose house unit is not the SI's
	{key: "degc", symbol: "°C", ascii: "degC", dimension: Temperature, num: 1, den: 1, spellings: []string{"C", "deg C", "celsius", "centigrade", "degree C", "degrees C", "degrees Celsius"}},
	{key: "kelvin", symbol: "K", ascii: "K", dimension: Temperature, num: 1, den: 1, offset: -273.15, spellings: []string{"degK", "°K"}},
	{key: "degf", symbol: "°F", ascii: "degF", dimension: Temperature, num: 5, den: 9, offset: -32, spellings: []string{"F", "deg F", "fahrenheit", "degree F", "degrees F", "degrees Fahrenheit"}},

	// electrical
	{key: "volt", symbol: "V", ascii: "V", dimension: Voltage, num: 1, den: 1, spellings: []string{"volts"}},
	{key: "mv", symbol: "mV", ascii: "mV", dimension: Voltage, num: 1, den: 1000, spellings: []string{"millivolt", "millivolts"}},
	{key: "ampere", symbol: "A", ascii: "A", dimension: Current, num: 1, den: 1, spellings: []string{"amp", "amps", "amperes"}},
	{key: "ma", symbol: "mA", ascii: "mA", dimension: Current, num: 1, den: 1000},
}

// refused are spellings, case as given, that would be read by folding case but
// in practice mean two things that differ by orders of magnitude or in kind.
var refused = map[string]string{
	"NM":   "write N·m for a torque or nmi for a length",
	"nm":   "write N·m for a torque or nmi for a length",
	"MS":   "write ms for milliseconds or m/s for a speed",
	"Ms":   "write ms for milliseconds or m/s for a speed",
	"Mm":   "write mm or m",
	"mn":   "write min or N",
	"T":    "write t for tonnes",
	"MG":   "write mg for thousandths of g",
	"Mg":   "write mg for thousandths of g, or t for tonnes",
	"MV":   "write mV",
	"MA":   "write mA",
	"k":    "write K for kelvin",
	"mPa":  "write MPa or kPa",
	"rads": "write rad for an angle or rad/s for a speed of turning",
	"degs": "write deg for an angle or deg/s for a speed of turning",
	"'":    "write ft or arcmin",
}
