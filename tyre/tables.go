package tyre

import (
	"math"

	"example.org/bookend/fault"
)

// The load indices that are known.
const (
	LeastLoadIndex    = 60
	GreatestLoadIndex = 130
)

// loadKg is the greatest load of one tyre in kg by load index, from
// LeastLoadIndex on. Source: UN R30, annex 4, second hand: 65 to 130 agree in
// five public files of code, 60 to 64 are from memory.
var loadKg = [...]float64{
	250, 257, 265, 272, 280, 290, 300, 307, 315, 325, // 60
	335, 345, 355, 365, 375, 387, 400, 412, 425, 437, // 70
	450, 462, 475, 487, 500, 515, 530, 545, 560, 580, // 80
	600, 615, 630, 650, 670, 690, 710, 730, 750, 775, // 90
	800, 825, 850, 875, 900, 925, 950, 975, 1000, 1030, // 100
	1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360, // 110
	1400, 1450, 1500, 1550, 1600, 1650, 1700, 1750, 1800, 1850, // 120
	1900, // 130
}

// LoadOf gives the load in kg that one tyre of a load index may carry up to the
// speed of its symbol (see ShareAt for the highest symbols).
func LoadOf(index int) (kg float64, err error) {
	if index < LeastLoadIndex || index > GreatestLoadIndex {
		return 0, fault.New(fault.Unsupported, "load index %d is not in the table", index).
			WithHint("the table has %d to %d", LeastLoadIndex, GreatestLoadIndex)
	}
	return loadKg[index-LeastLoadIndex], nil
}

// LeastIndexFor gives the lowest load index that carries a load in kg on one
// tyre.
func LeastIndexFor(kg float64) (index int, err error) {
	for i, v := range loadKg {
		if v >= kg {
			return LeastLoadIndex + i, nil
		}
	}
	return 0, fault.New(fault.Unsupported, "no load index of the table carries %g kg", kg).
		WithHint("the table ends at %d, %g kg", GreatestLoadIndex, loadKg[len(loadKg)-1])
}

// SpeedSymbol is the letter that says up to what speed a tyre carries its load;
// zero where none is marked.
type SpeedSymbol byte

// symbols are the speed symbols in rising order, in km/h. Source: UN R30,
// clause 2.29, second hand for L to Y (public files of code agree), B to K from
// memory. H stands between U and V.
var symbols = [...]struct {
	s   SpeedSymbol
	kmh float64
}{
	{'B', 50}, {'C', 60}, {'D', 65}, {'E', 70}, {'F', 80}, {'G', 90}, {'J', 100}, {'K', 110}, {'L', 120}, {'M', 130},
	{'N', 140}, {'P', 150}, {'Q', 160}, {'R', 170}, {'S', 180}, {'T', 190}, {'U', 200}, {'H', 210}, {'V', 240}, {'W', 270}, {'Y', 300},
}

// ParseSpeedSymbol reads a speed symbol, in either case.
func ParseSpeedSymbol(text string) (SpeedSymbol, error) {
	if len(text) == 1 {
		s := SpeedSymbol(text[0])
		if s >= 'a' && s <= 'z' {
			s -= 'a' - 'A'
		}
		if _, ok := s.Speed(); ok {
			return s, nil
		}
	}
	return 0, fault.New(fault.Invalid, "%q is no speed symbol", text).
		WithHint("in rising order: B C D E F G J K L M N P Q R S T U H V W Y")
}

// Speed gives the speed of the symbol in m/s, and whether there is such a symbol.
func (s SpeedSymbol) Speed() (mps float64, ok bool) {
	for _, e := range symbols {
		if e.s == s {
			return e.kmh / 3.6, true
		}
	}
	return 0, false
}

// String gives the letter, and nothing for none.
func (s SpeedSymbol) String() string {
	if s == 0 {
		return ""
	}
	return string(rune(s))
}

// LeastSymbolFor gives the lowest speed symbol that covers a speed in m/s.
func LeastSymbolFor(mps float64) (SpeedSymbol, error) {
	for _, e := range symbols {
		if e.kmh/3.6 >= mps-slack {
			return e.s, nil
		}
	}
	return 0, fault.New(fault.Unsupported, "no speed symbol covers %.0f km/h", mps*3.6).
		WithHint("Y ends at 300 km/h; above it the tyre's maker decides")
}

// slack keeps a speed that was 240 km/h before it became m/s within 240 km/h.
const slack = 1e-9

// share is what is left of the load at a speed in km/h.
type share struct{ kmh, of float64 }

// shares is the load at high speed by symbol. Source: UN R30, clause on load
// at speeds above 210 km/h, from memory; between the lines it is linear. Symbols
// not listed keep their load up to their speed.
var shares = map[SpeedSymbol][]share{
	'V': {{210, 1}, {220, 0.97}, {230, 0.94}, {240, 0.91}},
	'W': {{240, 1}, {250, 0.95}, {260, 0.90}, {270, 0.85}},
	'Y': {{270, 1}, {280, 0.95}, {290, 0.90}, {300, 0.85}},
}

// ShareAt gives which part of its load, 0 to 1, a tyre of the symbol may carry
// at a speed in m/s: 0 above the symbol's speed.
func (s SpeedSymbol) ShareAt(mps float64) float64 {
	top, ok := s.Speed()
	if !ok || !(mps <= top+slack) {
		return 0
	}
	kmh := mps * 3.6
	list := shares[s]
	if len(list) == 0 || kmh <= list[0].kmh {
		return 1
	}
	for i := 1; i < len(list); i++ {
		if a, b := list[i-1], list[i]; kmh <= b.kmh {
			return a.of + (b.of-a.of)*(kmh-a.kmh)/(b.kmh-a.kmh)
		}
	}
	return list[len(list)-1].of // above by less than slack
}

// atmosphere is the standard atmosphere in Pa: ISO 2533.
const atmosphere = 101325

// loadExponent ties pressure to load. Source: UN R117, annex 3: test pressure
// P = P_ref (Q/Q_ref)^1.25; from memory.
const loadExponent = 1.25

// PressureFor gives the pressure in Pa above the atmosphere that a load in kg
// needs, for a tyre that carries reference kg at reference Pa.
func PressureFor(kg, referenceKg, referencePa float64) float64 {
	return referencePa * math.Pow(kg/referenceKg, loadExponent)
}

// LoadAt gives the load in kg that a pressure in Pa above the atmosphere
// carries: the inverse of PressureFor.
func LoadAt(pa, referenceKg, referencePa float64) float64 {
	return referenceKg * math.Pow(pa/referencePa, 1/loadExponent)
}

// WarmPressure gives the pressure in Pa above the atmosphere of a tyre that was
// set at one temperature in °C and is at another, its volume unchanged.
func WarmPressure(pa, setAtC, nowC float64) float64 {
	return (pa+atmosphere)*(nowC+273.15)/(setAtC+273.15) - atmosphere
}
