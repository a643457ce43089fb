package tyre

import (
	"fmt"
	"strings"

	"example.org/bookend/fault"
)

// Asked is what a vehicle asks of its tyres: loads on the axles in kg, loaded as
// driven, and its top speed in m/s. What is not known is 0 and is not judged.
type Asked struct {
	FrontKg  float64 `json:"front_axle_kg,omitempty"`
	RearKg   float64 `json:"rear_axle_kg,omitempty"`
	TwinRear bool    `json:"twin_rear,omitempty"` // two wheels a side behind
	TopMps   float64 `json:"top_speed_mps,omitempty"`
}

// Standing is how something marked stands to what is asked of it.
type Standing string

// Something is marked and nothing is held against it; it is within what is asked,
// over it, or not judged, since one of both is not known.
const (
	Marked   Standing = "marked"
	Within   Standing = "within"
	Over     Standing = "over"
	Unjudged Standing = "not_judged"
)

// Finding is one thing that a size says, or how it stands to the vehicle.
type Finding struct {
	About    string   `json:"about"` // load_index, load_variant, speed_symbol, front_axle, rear_axle, top_speed
	Standing Standing `json:"standing"`
	Text     string   `json:"text"` // a sentence
}

// Typed is what a size says as it is typed: the size in one form with its findings, or
// why it cannot be read.
type Typed struct {
	Size     string    `json:"size,omitempty"`
	Wrong    string    `json:"wrong,omitempty"`
	Hint     string    `json:"hint,omitempty"`
	Findings []Finding `json:"findings,omitempty"`
}

// Over tells whether anything is over what the size is marked for.
func (t Typed) Over() bool {
	for _, f := range t.Findings {
		if f.Standing == Over {
			return true
		}
	}
	return false
}

// AsTyped reads a size as typed and holds load index and speed symbol against the
// vehicle. The pages' script says the same from the same list (Shared), and both pass
// testdata/typed.json. Pressures are not held against anything here: Check does that.
// Limits as in Check: that nothing is over does not call a tyre safe.
func AsTyped(text string, a Asked) Typed {
	s, err := ParseSize(text)
	if err != nil {
		return Typed{Wrong: strings.TrimPrefix(err.Error(), fmt.Sprintf("tyre size %q: ", text)), Hint: fault.HintOf(err)}
	}
	return Typed{Size: s.String(), Findings: s.Against(a)}
}

// Against says what a size is marked for, and how that stands to a vehicle: load index,
// load variant, speed symbol, then front axle, rear axle and top speed.
func (s Size) Against(a Asked) []Finding {
	out := []Finding{s.loadMarked(), s.variant(), s.speedMarked()}
	top, marked := s.TopSpeed()
	part := 1.0
	if marked && s.Service != nil && a.TopMps > 0 && a.TopMps <= top+slack {
		part = s.Service.Speed.ShareAt(a.TopMps)
	}
	for _, x := range []struct {
		name string
		kg   float64
		twin bool
	}{{"front", a.FrontKg, false}, {"rear", a.RearKg, a.TwinRear}} {
		f := s.carries(x.name, x.kg, x.twin, part, a.TopMps)
		f.About = x.name + "_axle"
		out = append(out, f)
	}
	f := Finding{About: "top_speed", Standing: Unjudged}
	switch {
	case a.TopMps <= 0:
		f.Text = "The vehicle's top speed is not told."
	case !marked:
		f.Text = "Without a speed symbol the vehicle's top speed is not judged."
	case s.Service != nil && (!s.Service.Above || a.TopMps <= top+slack):
		f.Standing, f.Text = Within, upper(reaches("the vehicle", a.TopMps, s.Service.Speed, top))+"."
		if a.TopMps > top+slack {
			f.Standing = Over
		}
	case a.TopMps <= top+slack:
		f.Standing, f.Text = Within, fmt.Sprintf("The vehicle reaches %.0f km/h, ZR is for more than %.0f km/h.", a.TopMps*3.6, top*3.6)
	default:
		f.Text = fmt.Sprintf("The vehicle reaches %.0f km/h: above %.0f km/h the tyre's maker says whether it carries its load.", a.TopMps*3.6, top*3.6)
	}
	return append(out, f)
}

// carries holds what an axle puts on a tyre against the load index.
func (s Size) carries(axle string, kg float64, twin bool, part, mps float64) Finding {
	if kg <= 0 {
		return Finding{Standing: Unjudged, Text: fmt.Sprintf("The load on the %s axle is not told.", axle)}
	}
	if s.Service == nil {
		return Finding{Standing: Unjudged, Text: fmt.Sprintf("Without a load index the load on the %s axle is not judged.", axle)}
	}
	index, wheels := s.Service.Index, 2.0
	if twin {
		if index, wheels = s.Service.Twin, 4; index == 0 {
			return Finding{Standing: Unjudged, Text: fmt.Sprintf("Without a load index for twin wheels the load on the %s axle is not judged.", axle)}
		}
	}
	may, err := LoadOf(index)
	if err != nil { // ParseSize lets no such index through
		return Finding{Standing: Unjudged, Text: upper(err.Error()) + "."}
	}
	f := Finding{Standing: Within, Text: upper(puts(axle, kg/wheels, index, may, may*part, mps)) + "."}
	if heavier(kg/wheels, may*part) {
		f.Standing = Over
	}
	return f
}

func (s Size) loadMarked() Finding {
	f := Finding{About: "load_index", Standing: Unjudged, Text: "No load index is marked: what the tyre carries is not known."}
	if s.Service == nil {
		return f
	}
	alone, err := LoadOf(s.Service.Index)
	if err != nil {
		return f
	}
	f.Standing, f.Text = Marked, fmt.Sprintf("Load index %d: %.0f kg a tyre.", s.Service.Index, alone)
	if twin, err := LoadOf(s.Service.Twin); err == nil {
		f.Text = fmt.Sprintf("Load index %d: %.0f kg a tyre; %d on twin wheels: %.0f kg a tyre.", s.Service.Index, alone, s.Service.Twin, twin)
	}
	return f
}

func (s Size) variant() Finding {
	name := variants[s.loadVariant()]
	if pa, known := s.reference(); known {
		return Finding{"load_variant", Marked, fmt.Sprintf("%s: it carries its load at %.0f kPa cold.", name, pa/1e3)}
	}
	return Finding{"load_variant", Marked, name + ": the pressure for its load stands on the sidewall."}
}

// variants names the load variants of a size.
var variants = map[string]string{
	"standard": "Standard load", "extra": "Extra load", "high": "High load", "p_metric": "P-metric load", "temporary": "Temporary-use spare", "commercial": "Commercial tyre", "light_truck": "Light-truck tyre",
}

// loadVariant gives the key of a size's load variant, in the order in which reference decides.
func (s Size) loadVariant() string {
	switch {
	case s.Kind == LightTruck:
		return "light_truck"
	case s.Commercial != "":
		return "commercial"
	case s.Kind == Temporary:
		return "temporary"
	case s.Kind == HighLoad:
		return "high"
	case s.ExtraLoad:
		return "extra"
	case s.Kind == Passenger:
		return "p_metric"
	}
	return "standard"
}

func (s Size) speedMarked() Finding {
	f := Finding{About: "speed_symbol", Standing: Marked}
	top, marked := s.TopSpeed()
	switch {
	case !marked:
		f.Standing, f.Text = Unjudged, "No speed symbol is marked: up to what speed the tyre carries its load is not known."
	case s.Service == nil:
		f.Text = fmt.Sprintf("ZR without a speed symbol: above %.0f km/h, how far the tyre's maker says.", top*3.6)
	case s.Service.Above:
		f.Text = fmt.Sprintf("(%s): above %.0f km/h, how far the tyre's maker says.", s.Service.Speed, top*3.6)
	default:
		f.Text = fmt.Sprintf("Speed symbol %s: up to %.0f km/h.", s.Service.Speed, top*3.6)
	}
	return f
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// List is what a page's script needs in order to say what AsTyped says: the tables of
// this package, as data.
type List struct {
	LeastIndex    int                     `json:"least_load_index"`
	LoadKg        []float64               `json:"load_kg"` // by load index, from LeastIndex on
	Symbols       []ListSymbol            `json:"speed_symbols"`
	Shares        map[string][][2]float64 `json:"load_shares"` // by symbol: speed in km/h, part of the load
	ZRKmh         float64                 `json:"zr_kmh"`
	Kinds         []string                `json:"kinds"`
	Constructions []string                `json:"constructions"`
	Commercial    []string                `json:"commercial"`
	Marks         [][2]string             `json:"marks"`         // as typed, longest first, and in one form
	ReferenceKpa  map[string]float64      `json:"reference_kpa"` // by load variant
	Variants      map[string]string       `json:"variants"`      // names, by load variant
	Hints         map[string]string       `json:"hints"`
}

// ListSymbol is a speed symbol with its speed in km/h.
type ListSymbol struct {
	Symbol string  `json:"symbol"`
	Kmh    float64 `json:"kmh"`
}

// Shared gives the list, made of the tables that Check goes by.
func Shared() List {
	l := List{LeastIndex: LeastLoadIndex, LoadKg: append([]float64{}, loadKg[:]...), Shares: map[string][][2]float64{}, ZRKmh: zrKmh,
		ReferenceKpa: map[string]float64{}, Variants: variants, Hints: map[string]string{"size": sizeHint}}
	for _, e := range symbols {
		l.Symbols = append(l.Symbols, ListSymbol{e.s.String(), e.kmh})
		for _, x := range shares[e.s] {
			l.Shares[e.s.String()] = append(l.Shares[e.s.String()], [2]float64{x.kmh, x.of})
		}
	}
	for _, k := range kindsTyped {
		l.Kinds = append(l.Kinds, string(k))
	}
	for _, c := range constructionsTyped {
		l.Constructions = append(l.Constructions, string(c))
	}
	l.Commercial = commercialTyped
	for _, m := range marks {
		s := Size{}
		m.set(&s)
		l.Marks = append(l.Marks, [2]string{m.text, s.marked()[0]})
	}
	for _, s := range []Size{{}, {ExtraLoad: true}, {Kind: HighLoad}, {Kind: Passenger}, {Kind: Temporary}} {
		if pa, known := s.reference(); known {
			l.ReferenceKpa[s.loadVariant()] = pa / 1e3
		}
	}
	return l
}
