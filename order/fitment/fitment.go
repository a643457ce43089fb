// Package fitment reads what an order's load, speed and pressure are held against,
// as people write it, and says tyre by tyre how much of it is used.
//
// Sizes are as marked on the sidewall; an axle is a name, the load on it and the cold
// pressure above the atmosphere, divided by colons: "front: 900 kg: 230 kPa", and
// behind another colon the most that may be set; "rear twin" has two wheels a side.
// Loads are kg, pressures Pa, speeds
// m/s. Sources: as package tyre, which judges. Limits: static loads; that nothing is
// over a limit does not call a tyre safe.
package fitment

import (
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/tyre"
	"example.org/bookend/unit"
)

// Fields that a fault of Parse names.
const (
	Sizes = "sizes"
	Axles = "axles"
	Speed = "speed"
)

// Parse reads sizes and axles; speedMps is the highest speed in m/s that may be
// reached. field names what cannot be read.
func Parse(sizes, axles []string, speedMps float64) (f *order.Fitment, field string, err error) {
	f = &order.Fitment{Duty: tyre.Duty{Name: "the test", SpeedMps: speedMps}}
	if len(sizes) == 0 {
		return nil, Sizes, fault.New(fault.Invalid, "load, speed and pressure are to be checked, but no size is named").WithHint("as marked: 205/55 R16 91V")
	}
	if !(speedMps > 0) {
		return nil, Speed, fault.New(fault.Invalid, "load, speed and pressure are to be checked, but no speed is named").WithHint("the highest that may be reached")
	}
	for _, text := range sizes {
		s, err := tyre.ParseSize(text)
		if err != nil {
			return nil, Sizes, err
		}
		f.Sizes = append(f.Sizes, s)
	}
	for _, text := range axles {
		a, err := axle(text)
		if err != nil {
			return nil, Axles, err
		}
		f.Axles = append(f.Axles, a)
	}
	return f, "", nil
}

// axle reads one axle.
func axle(text string) (tyre.Axle, error) {
	const example = "for example front: 900 kg: 230 kPa"
	p := strings.Split(text, ":")
	if len(p) < 2 || len(p) > 4 || strings.TrimSpace(p[0]) == "" {
		return tyre.Axle{}, fault.New(fault.Invalid, "%q is not name, load and cold pressure", text).WithHint(example)
	}
	a := tyre.Axle{Name: strings.TrimSpace(p[0])}
	a.Name, a.Twin = strings.CutSuffix(a.Name, " twin")
	for i, to := range []*float64{&a.Kg, &a.ColdPa, &a.MostColdPa} {
		if len(p) <= 1+i {
			break
		}
		of := unit.Kilopascal
		if i == 0 {
			of = unit.Kilogram
		}
		v, u, err := unit.ParseQuantity(p[1+i])
		if err != nil {
			return a, err
		}
		if u.IsZero() || u.Dimension() != of.Dimension() {
			return a, fault.New(fault.Invalid, "%q is no %s", strings.TrimSpace(p[1+i]), of.Dimension()).WithHint(example)
		}
		*to = u.ToHouse(v)
	}
	return a, nil
}

// Use is how much of what a size carries an axle uses.
type Use struct {
	Size    string
	Axle    string
	TopMps  float64 // of the speed symbol; 0: none is marked
	LoadKg  float64 // on one tyre of the axle
	MayKg   float64 // by the load index at the test's speed; 0: none is marked
	Doubted bool    // what could not be judged stands in the cautions
}

// Uses gives a row for each size on each axle; without axles one for each size.
func Uses(f *order.Fitment) []Use {
	var out []Use
	for _, s := range f.Sizes {
		top, marked := s.TopSpeed()
		if !marked {
			top = 0
		}
		carries := func(twin bool) float64 {
			if s.Service == nil {
				return 0
			}
			index := s.Service.Index
			if twin {
				index = s.Service.Twin
			}
			kg, err := tyre.LoadOf(index)
			if err != nil {
				return 0 // none is marked
			}
			if marked && f.Duty.SpeedMps <= top*(1+1e-9) {
				kg *= s.Service.Speed.ShareAt(f.Duty.SpeedMps)
			}
			return kg
		}
		may := carries(false)
		if len(f.Axles) == 0 {
			out = append(out, Use{Size: s.String(), TopMps: top, MayKg: may, Doubted: !marked || may == 0})
		}
		for _, a := range f.Axles {
			u := Use{Size: s.String(), Axle: a.Name, TopMps: top, LoadKg: a.Kg / 2, MayKg: may, Doubted: !marked || may == 0}
			if a.Twin {
				u.LoadKg, u.MayKg = a.Kg/4, carries(true)
				u.Doubted = !marked || u.MayKg == 0
			}
			out = append(out, u)
		}
	}
	return out
}
