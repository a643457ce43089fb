package tyre

import (
	"fmt"
	"math"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// Axle is what a vehicle asks of the tyres of one axle.
type Axle struct {
	Name       string  // "front", "rear"
	Kg         float64 // load on the axle, loaded as driven
	Twin       bool    // two wheels a side
	ColdPa     float64 // pressure above the atmosphere, cold; 0 where not told
	MostColdPa float64 // highest cold pressure that tyre and rim allow; 0 where not told
}

// Duty is what a manoeuvre asks: the highest speed in m/s that may be reached.
type Duty struct {
	Name     string
	SpeedMps float64
}

// reference is the pressure in Pa at which a tyre carries its load index.
// Source: ETRTO and UN R30, from memory: 250 kPa for standard load, 290 kPa for
// extra and high load, 240 kPa for P-metric, 420 kPa for temporary use.
// Commercial and light-truck tyres have theirs on the sidewall.
func (s Size) reference() (pa float64, known bool) {
	switch {
	case s.Commercial != "" || s.Kind == LightTruck:
		return 0, false
	case s.Kind == Temporary:
		return 420e3, true
	case s.ExtraLoad || s.Kind == HighLoad:
		return 290e3, true
	case s.Kind == Passenger:
		return 240e3, true
	}
	return 250e3, true
}

// Check holds a size against a vehicle's axles and a manoeuvre. What is over a
// limit is an Invalid fault that names everything over it; what could not be
// judged comes back as caveats. Static loads are judged, as load indices are
// meant; that nothing is over a limit does not call a tyre safe.
func (s Size) Check(axles []Axle, duty Duty) (caveat.List, error) {
	var doubts caveat.List
	var over []string
	refuse := func(format string, args ...any) { over = append(over, fmt.Sprintf(format, args...)) }

	if !(duty.SpeedMps > 0) || math.IsInf(duty.SpeedMps, 0) {
		return nil, fault.New(fault.Invalid, "the speed of %s is %v m/s", named(duty.Name, "the manoeuvre"), duty.SpeedMps).
			WithHint("give the highest speed that may be reached")
	}
	for _, a := range axles {
		if !(a.Kg > 0) || math.IsInf(a.Kg, 0) || !(a.ColdPa >= 0) || math.IsInf(a.ColdPa, 0) || !(a.MostColdPa >= 0) {
			return nil, fault.New(fault.Invalid, "the %s axle has %v kg at %v Pa", a.Name, a.Kg, a.ColdPa).
				WithHint("give the load on the axle, and the cold pressure above the atmosphere")
		}
	}
	top, marked := s.TopSpeed()
	part, partKnown := 0.0, false
	switch {
	case !marked:
		doubts.Add("no_speed_symbol", caveat.Place{}, "Size %s has no speed symbol: the speed of the manoeuvre, %.0f km/h, is not judged.", s, duty.SpeedMps*3.6)
	case duty.SpeedMps <= top+slack:
		if s.Service != nil {
			part, partKnown = s.Service.Speed.ShareAt(duty.SpeedMps), true
		}
	case s.Service != nil && s.Service.Above, s.Service == nil:
		doubts.Add("speed_by_the_maker", caveat.Place{}, "Size %s is marked for more than %.0f km/h; whether it carries its load at %.0f km/h is for the tyre's maker to say.", s, top*3.6, duty.SpeedMps*3.6)
	default:
		refuse("%s", reaches(named(duty.Name, "the manoeuvre"), duty.SpeedMps, s.Service.Speed, top))
	}
	if s.Kind == Temporary {
		doubts.Add("temporary_tyre", caveat.Place{}, "Size %s is a temporary-use spare.", s)
	}
	for _, a := range axles {
		wheels := 2.0
		if a.Twin {
			wheels = 4
		}
		load := a.Kg / wheels
		if s.Service == nil {
			doubts.Add("no_load_index", caveat.Place{}, "Size %s has no load index: the %s axle's %.0f kg a tyre are not judged.", s, a.Name, load)
			continue
		}
		index := s.Service.Index
		if a.Twin {
			if index = s.Service.Twin; index == 0 {
				doubts.Add("no_twin_load_index", caveat.Place{}, "Size %s has no load index for twin wheels: the %s axle is not judged.", s, a.Name)
				continue
			}
		}
		may, err := LoadOf(index)
		if err != nil {
			return doubts, err
		}
		atSpeed := may
		if partKnown {
			atSpeed = may * part
		}
		if heavier(load, atSpeed) {
			refuse("%s", puts(a.Name, load, index, may, atSpeed, duty.SpeedMps))
		}
		if a.ColdPa == 0 {
			doubts.Add("no_pressure", caveat.Place{}, "The %s axle's cold pressure is not told and not judged.", a.Name)
			continue
		}
		if a.MostColdPa > 0 && a.ColdPa > a.MostColdPa {
			refuse("the %s axle's pressure is %.0f kPa cold, at most %.0f kPa are allowed", a.Name, a.ColdPa/1e3, a.MostColdPa/1e3)
		}
		ref, known := s.reference()
		switch {
		case !known:
			doubts.Add("no_reference_pressure", caveat.Place{}, "The pressure at which size %s carries its load stands on the sidewall: the %s axle's pressure is not judged against its load.", s, a.Name)
		default:
			if need := PressureFor(load, may, ref); a.ColdPa < need*(1-1e-12) {
				refuse("the %s axle's pressure is %.0f kPa cold, %.0f kg a tyre need %.0f kPa", a.Name, a.ColdPa/1e3, load, need/1e3)
			}
		}
	}
	if len(over) > 0 {
		return doubts, fault.New(fault.Invalid, "size %s is over its limit: %s", s, strings.Join(over, "; ")).
			WithHint("%s", s.hint(axles, duty))
	}
	return doubts, nil
}

// heavier tells whether a load in kg is above what is carried, rounding aside.
func heavier(load, carried float64) bool { return load > carried*(1+1e-12) }

// puts says what an axle puts on a tyre and what its load index carries, in kg; atSpeed
// is what is left of it at a speed in m/s.
func puts(axle string, load float64, index int, may, atSpeed, mps float64) string {
	if atSpeed < may {
		return fmt.Sprintf("the %s axle puts %.0f kg on a tyre, load index %d carries %.0f kg at %.0f km/h (%.0f %% of %.0f kg)", axle, load, index, atSpeed, mps*3.6, 100*atSpeed/may, may)
	}
	return fmt.Sprintf("the %s axle puts %.0f kg on a tyre, load index %d carries %.0f kg", axle, load, index, may)
}

// reaches says how fast something is and where a speed symbol ends, from m/s.
func reaches(what string, mps float64, s SpeedSymbol, top float64) string {
	return fmt.Sprintf("%s reaches %.0f km/h, the speed symbol %s ends at %.0f km/h", what, mps*3.6, s, top*3.6)
}

func named(name, otherwise string) string {
	if name == "" {
		return otherwise
	}
	return name
}

// hint says which markings would do.
func (s Size) hint(axles []Axle, duty Duty) string {
	sym, err := LeastSymbolFor(duty.SpeedMps)
	if err != nil {
		return "no marking covers that speed: slow the manoeuvre down"
	}
	most := 0.0
	for _, a := range axles {
		wheels := 2.0
		if a.Twin {
			wheels = 4
		}
		most = max(most, a.Kg/wheels/sym.ShareAt(duty.SpeedMps))
	}
	text := "change load, speed or pressure, or the tyre"
	if index, err := LeastIndexFor(most); err == nil {
		text += fmt.Sprintf(": at least %d%s at its reference pressure", index, sym)
	}
	return text
}
