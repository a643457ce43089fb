package tyre

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// Kind is the class of service that a size begins with.
type Kind string

// Kinds.
const (
	Metric     Kind = ""   // no letter: European metric
	Passenger  Kind = "P"  // P-metric
	LightTruck Kind = "LT" // light truck
	Temporary  Kind = "T"  // temporary-use spare
	HighLoad   Kind = "HL" // high load, above extra load
)

// Construction is how the carcass is built.
type Construction string

// Constructions, as marked.
const (
	Radial         Construction = "R"
	HighSpeed      Construction = "ZR"  // radial, above 240 km/h
	RunFlat        Construction = "RF"  // radial that runs flat
	HighRunFlat    Construction = "ZRF" // both
	Diagonal       Construction = "D"
	DiagonalDashed Construction = "-" // diagonal, as older sizes have it
	BiasBelted     Construction = "B"
)

// Service is a load index, alone and on twin wheels, with its speed symbol.
type Service struct {
	Index int // load index of one tyre alone
	Twin  int // load index of one tyre of a twin; 0 where not marked
	Speed SpeedSymbol
	Above bool // marked (Y): above 300 km/h by the tyre's maker
}

// Size is a tyre's size with its service description and marks.
type Size struct {
	Kind         Kind
	WidthMM      int // nominal section width in mm
	Aspect       int // section height by width in percent; 0 where not marked
	Construction Construction
	RimTenths    int    // diameter of the rim in tenths of an inch
	Commercial   string // "C", "CP" or empty
	Service      *Service
	Second       *Service // a second service description
	ExtraLoad    bool     // XL, EXTRA LOAD, REINFORCED, or RF at the end
	MudSnow      bool     // M+S
	SnowFlake    bool     // 3PMSF: three-peak mountain with snowflake
	Tubeless     bool     // TL
}

// marks that may follow, longest first, with what they set.
var marks = []struct {
	text string
	set  func(*Size)
}{
	{"EXTRA LOAD", func(s *Size) { s.ExtraLoad = true }},
	{"REINFORCED", func(s *Size) { s.ExtraLoad = true }},
	{"TUBELESS", func(s *Size) { s.Tubeless = true }},
	{"3PMSF", func(s *Size) { s.SnowFlake = true }},
	{"M+S", func(s *Size) { s.MudSnow = true }},
	{"M&S", func(s *Size) { s.MudSnow = true }},
	{"M.S", func(s *Size) { s.MudSnow = true }},
	{"XL", func(s *Size) { s.ExtraLoad = true }},
	{"RF", func(s *Size) { s.ExtraLoad = true }},
	{"TL", func(s *Size) { s.Tubeless = true }},
}

// In the order in which they are tried: what begins with another comes before it.
var (
	kindsTyped         = []Kind{LightTruck, HighLoad, Passenger, Temporary}
	constructionsTyped = []Construction{HighRunFlat, HighSpeed, RunFlat, Radial, Diagonal, BiasBelted, DiagonalDashed}
	commercialTyped    = []string{"CP", "C"}
)

const sizeHint = "for example 205/55 R16 91V, 225/45 ZR17 (91Y), LT235/85R16 120/116Q or 185 R14C 102/100Q"

// reader goes through the text of a size.
type reader struct {
	text string // as typed
	rest string
}

func (r *reader) blank() { r.rest = strings.TrimLeft(r.rest, " \t\u00a0") }

func (r *reader) take(prefix string) bool {
	rest, ok := strings.CutPrefix(r.rest, prefix)
	if ok {
		r.rest = rest
	}
	return ok
}

// digits takes between least and most digits, and no more may follow.
func (r *reader) digits(least, most int) (int, bool) {
	n := 0
	for n < len(r.rest) && r.rest[n] >= '0' && r.rest[n] <= '9' {
		n++
	}
	if n < least || n > most {
		return 0, false
	}
	v, _ := strconv.Atoi(r.rest[:n]) // digits only, few of them
	r.rest = r.rest[n:]
	return v, true
}

func (r *reader) fail(format string, args ...any) error {
	return fault.New(fault.Invalid, "tyre size %q: %s", r.text, fmt.Sprintf(format, args...)).WithHint(sizeHint)
}

// ParseSize reads a size as marked or typed, in either case and with blanks as
// people put them:
//
//	[P|LT|T|HL] width [/aspect] construction rim [C|CP] [service [service]] [marks]
//
// A service description is a load index, perhaps with a second one after a
// stroke for twin wheels, and a speed symbol; in brackets with Y it stands for
// more than 300 km/h. A second description may follow, in brackets or not.
// Width, construction and rim are insisted on; what else is missing is left
// empty and cannot be checked.
func ParseSize(text string) (Size, error) {
	r := &reader{text: text, rest: strings.ToUpper(strings.TrimSpace(text))}
	if len(text) > 100 {
		return Size{}, fault.New(fault.Invalid, "a tyre size has no %d characters", len(text)).WithHint(sizeHint)
	}
	var s Size
	for _, k := range kindsTyped {
		if r.take(string(k)) {
			s.Kind = k
			break
		}
	}
	r.blank()
	var ok bool
	if s.WidthMM, ok = r.digits(3, 3); !ok || s.WidthMM < 100 {
		return Size{}, r.fail("it does not begin with a width of three digits in mm")
	}
	r.blank()
	if r.take("/") {
		r.blank()
		if s.Aspect, ok = r.digits(2, 3); !ok || s.Aspect < 20 || s.Aspect > 110 {
			return Size{}, r.fail("after the stroke there is no aspect ratio between 20 and 110 %%")
		}
		r.blank()
	}
	for _, c := range constructionsTyped {
		if r.take(string(c)) {
			s.Construction = c
			break
		}
	}
	if s.Construction == "" {
		return Size{}, r.fail("the construction (R, ZR, RF, D, B or -) is missing after the width")
	}
	r.blank()
	inches, ok := r.digits(2, 2)
	if !ok {
		return Size{}, r.fail("the rim is not two digits in inches")
	}
	s.RimTenths = 10 * inches
	if strings.HasPrefix(r.rest, ".") || strings.HasPrefix(r.rest, ",") {
		r.rest = r.rest[1:]
		half, ok := r.digits(1, 1)
		if !ok || half != 0 && half != 5 {
			return Size{}, r.fail("a rim has whole or half inches")
		}
		s.RimTenths += half
	}
	// 8 to 28 inches: what passenger cars and light trucks have been shod with.
	if s.RimTenths < 80 || s.RimTenths > 280 {
		return Size{}, r.fail("the rim is not between 8 and 28 inches")
	}
	r.blank()
	for _, c := range commercialTyped {
		if r.take(c) {
			s.Commercial = c
			break
		}
	}
	r.blank()
	first, err := r.service()
	if err != nil {
		return Size{}, err
	}
	if s.Service = first; first != nil {
		r.blank()
		if s.Second, err = r.service(); err != nil {
			return Size{}, err
		}
		r.blank()
	}
	if s.Second != nil && s.Second.Above {
		return Size{}, r.fail("(Y) belongs to the first service description")
	}
	for r.rest != "" {
		known := false
		for _, m := range marks {
			before := r.rest
			if r.take(m.text) {
				// A mark ends at a blank or at the end.
				if r.rest != "" && r.rest[0] != ' ' && r.rest[0] != '\t' && !strings.HasPrefix(r.rest, "\u00a0") {
					r.rest = before
					continue
				}
				m.set(&s)
				known = true
				break
			}
		}
		if !known {
			return Size{}, r.fail("%q is not understood", strings.ToUpper(r.rest))
		}
		r.blank()
	}
	return s, nil
}

// service takes a service description, nil where none stands.
func (r *reader) service() (*Service, error) {
	bracket := r.take("(")
	start := r.rest
	if !bracket && (start == "" || start[0] < '0' || start[0] > '9' || strings.HasPrefix(start, "3PMSF")) {
		return nil, nil
	}
	var v Service
	var ok bool
	if v.Index, ok = r.digits(2, 3); !ok {
		return nil, r.fail("a load index has two or three digits")
	}
	if r.take("/") {
		if v.Twin, ok = r.digits(2, 3); !ok || v.Twin == 0 {
			return nil, r.fail("the load index for twin wheels has two or three digits")
		}
	}
	if _, err := LoadOf(v.Index); err != nil {
		return nil, fault.At(err, "tyre size %q", r.text)
	}
	if _, err := LoadOf(v.Twin); v.Twin != 0 && err != nil {
		return nil, fault.At(err, "tyre size %q", r.text)
	}
	if v.Twin > v.Index {
		return nil, r.fail("a tyre of a twin carries no more than one alone, but the load index rises from %d to %d", v.Index, v.Twin)
	}
	r.blank()
	inner := !bracket && r.take("(")
	if r.rest == "" {
		return nil, r.fail("the load index has no speed symbol")
	}
	if r.rest[0] >= 0x80 {
		return nil, r.fail("the load index has no speed symbol")
	}
	sym, err := ParseSpeedSymbol(r.rest[:1])
	if err != nil {
		return nil, fault.At(err, "tyre size %q", r.text)
	}
	r.rest = r.rest[1:]
	v.Speed = sym
	if bracket || inner {
		if !r.take(")") {
			return nil, r.fail("a bracket is not closed")
		}
		v.Above = sym == 'Y'
	}
	if inner && !v.Above {
		return nil, r.fail("only Y stands in brackets, for more than 300 km/h")
	}
	// A second description in brackets says no more than one without; a first one
	// in brackets does, and only with Y.
	if r.rest != "" && !strings.ContainsAny(r.rest[:1], " \t(") && !strings.HasPrefix(r.rest, "\u00a0") {
		return nil, r.fail("%q after the speed symbol is not understood", r.rest)
	}
	return &v, nil
}

// String gives the service description as marked: "109/107T", "(91Y)".
func (v Service) String() string {
	t := strconv.Itoa(v.Index)
	if v.Twin > 0 {
		t += "/" + strconv.Itoa(v.Twin)
	}
	t += v.Speed.String()
	if v.Above {
		return "(" + t + ")"
	}
	return t
}

// Rim gives the diameter of the rim in m.
func (s Size) Rim() float64 { return float64(s.RimTenths) / 10 * 0.0254 }

// String gives the size in one form: "205/55 R16 91V", "LT235/85 R16 120/116Q",
// "185 R14C 102/100Q M+S". ParseSize reads it back.
func (s Size) String() string {
	var b strings.Builder
	b.WriteString(string(s.Kind))
	fmt.Fprintf(&b, "%03d", s.WidthMM)
	if s.Aspect > 0 {
		fmt.Fprintf(&b, "/%02d", s.Aspect)
	}
	if s.Construction != DiagonalDashed {
		b.WriteByte(' ')
	}
	fmt.Fprintf(&b, "%s%02d", s.Construction, s.RimTenths/10)
	if f := s.RimTenths % 10; f != 0 {
		fmt.Fprintf(&b, ".%d", f)
	}
	b.WriteString(s.Commercial)
	if s.Service != nil {
		b.WriteString(" " + s.Service.String())
	}
	if s.Second != nil {
		b.WriteString(" " + s.Second.String())
	}
	for _, m := range s.marked() {
		b.WriteString(" " + m)
	}
	return b.String()
}

// marked gives the marks behind the service description, in one form and order.
func (s Size) marked() []string {
	var out []string
	for _, m := range []struct {
		has  bool
		text string
	}{{s.ExtraLoad, "XL"}, {s.MudSnow, "M+S"}, {s.SnowFlake, "3PMSF"}, {s.Tubeless, "TL"}} {
		if m.has {
			out = append(out, m.text)
		}
	}
	return out
}

// Equal tells whether two sizes say the same.
func (s Size) Equal(o Size) bool { return s.String() == o.String() }

// zrKmh is where ZR begins. Source: UN R30, definition of the code ZR.
const zrKmh = 240

// TopSpeed gives the speed in m/s up to which the markings carry the tyre, and
// whether they say so. ZR without a speed symbol, and (Y), say only "above": the
// speed named is the highest that the marking itself covers.
func (s Size) TopSpeed() (mps float64, marked bool) {
	if s.Service != nil {
		return s.Service.Speed.Speed()
	}
	if s.Construction == HighSpeed || s.Construction == HighRunFlat {
		return zrKmh / 3.6, true
	}
	return 0, false
}

// Dimensions are a size's nominal dimensions in m.
type Dimensions struct {
	SectionWidth  float64
	SectionHeight float64
	Rim           float64
	Diameter      float64 // outer
	Circumference float64 // pi times the diameter
	RollingLow    float64 // what it rolls a turn, about: 0.96 of the circumference
	RollingHigh   float64 // 0.97 of it
}

// Full profiles: a size without an aspect ratio has nominally 80 %, older ones
// 82 % (common practice, no source); 82 is what European sizes such as 185 R14
// measure by.
const (
	fullProfile    = 80
	oldFullProfile = 82
)

// rolling is the part of the nominal circumference that a loaded tyre rolls in a
// turn: common practice, no source; a measured one is better.
var rolling = [2]float64{0.96, 0.97}

// Dimensions gives the nominal dimensions in m. Where no aspect ratio is marked
// 80 % is taken, with a caveat.
func (s Size) Dimensions() (Dimensions, caveat.List) {
	var doubts caveat.List
	aspect := s.Aspect
	if aspect == 0 {
		aspect = fullProfile
		rise := 2 * float64(s.WidthMM) * (oldFullProfile - fullProfile) / 100
		doubts.Add("no_aspect_ratio", caveat.Place{}, "The size has no aspect ratio: 80 %% is taken; if it is 82 %%, the diameter is %.1f mm more.", rise)
	}
	d := Dimensions{SectionWidth: float64(s.WidthMM) / 1000, Rim: s.Rim()}
	d.SectionHeight = d.SectionWidth * float64(aspect) / 100
	d.Diameter = d.Rim + 2*d.SectionHeight
	d.Circumference = math.Pi * d.Diameter
	d.RollingLow, d.RollingHigh = rolling[0]*d.Circumference, rolling[1]*d.Circumference
	return d, doubts
}

// Symbols gives every speed symbol in rising order of speed.
func Symbols() []SpeedSymbol {
	var all []SpeedSymbol
	for _, e := range symbols {
		all = append(all, e.s)
	}
	return slices.Clip(all)
}
