package tyremodel

import (
	"math"
	"strings"

	"example.org/bookend/fault"
)

// Character says how a tyre differs from the control in an evaluator's words, as
// numbers: 0 is as the control, 1 clearly so, 0.5 a little. Grip is in per cent.
// What each word does to the model is our own choice, sized so that 1 is what an
// evaluator would remark on unasked.
type Character struct {
	Softer   float64 // sidewall: longer relaxation length, lower cornering stiffness
	Sudden   float64 // breakaway: sharper drop past the peak
	DryGrip  float64 // per cent of peak friction
	WetGrip  float64 // per cent of wet friction, thin film or deep
	Floats   float64 // later, in per cent of the floating speed
	SpeedWet float64 // wet grip that falls faster with speed
	Wear     float64 // per cent more tread lost
	Braking  float64 // per cent of peak friction along, beside DryGrip
}

// Of gives the tyre of that character, made of a control.
func (c Character) Of(control Tyre) Tyre {
	t := control
	t.Relaxation *= math.Exp(0.22 * c.Softer)
	t.LatStiffness *= math.Exp(-0.13 * c.Softer)
	t.LatPeak *= 1 + c.DryGrip/100
	t.LongPeak *= (1 + c.DryGrip/100) * (1 + c.Braking/100)
	t.WetShare *= 1 + c.WetGrip/100
	t.FloatFactor *= 1 + c.Floats/100
	t.WetSpeed *= math.Exp(0.3 * c.SpeedWet)
	t.WearRate *= 1 + c.Wear/100
	// The share of the peak that is left far beyond it falls with suddenness, and C
	// with it; the stiffness stays.
	if c.Sudden != 0 {
		left := Curve{C: t.LatShape, D: 1}.Far() - 0.10*c.Sudden
		t.LatShape = ShapeFactor(math.Min(0.995, math.Max(0.3, left)), 1)
	}
	return t
}

// sayings are what an evaluator may say of a tyre against the control, and what it
// means at strength 1.
var sayings = []struct {
	words string
	add   func(c *Character, x float64)
}{
	{"softer sidewall", func(c *Character, x float64) { c.Softer += x }},
	{"stiffer sidewall", func(c *Character, x float64) { c.Softer -= x }},
	{"sudden breakaway", func(c *Character, x float64) { c.Sudden += x }},
	{"gradual breakaway", func(c *Character, x float64) { c.Sudden -= x }},
	{"more dry grip", func(c *Character, x float64) { c.DryGrip += 3 * x }},
	{"less dry grip", func(c *Character, x float64) { c.DryGrip -= 3 * x }},
	{"more wet grip", func(c *Character, x float64) { c.WetGrip += 5 * x }},
	{"less wet grip", func(c *Character, x float64) { c.WetGrip -= 5 * x }},
	{"floats later", func(c *Character, x float64) { c.Floats += 6 * x }},
	{"floats earlier", func(c *Character, x float64) { c.Floats -= 6 * x }},
	{"shorter stops", func(c *Character, x float64) { c.Braking += 3 * x }},
	{"longer stops", func(c *Character, x float64) { c.Braking -= 3 * x }},
	{"wears faster", func(c *Character, x float64) { c.Wear += 40 * x }},
	{"wears slower", func(c *Character, x float64) { c.Wear -= 30 * x }},
}

var strengths = []struct {
	word string
	x    float64
}{{"a little", 0.5}, {"much", 2}, {"clearly", 1}}

// Say gives the character that words describe: "softer sidewall", "much softer
// sidewall", "a little more wet grip", parted by commas. Words that are not known
// are an invalid fault that lists those that are.
func Say(words string) (Character, error) {
	var c Character
	for _, part := range strings.Split(words, ",") {
		said := strings.Join(strings.Fields(strings.ToLower(part)), " ")
		if said == "" {
			continue
		}
		x := 1.0
		for _, s := range strengths {
			if rest, ok := strings.CutPrefix(said, s.word+" "); ok {
				said, x = rest, s.x
				break
			}
		}
		found := false
		for _, s := range sayings {
			if s.words == said {
				s.add(&c, x)
				found = true
			}
		}
		if !found {
			var all []string
			for _, s := range sayings {
				all = append(all, s.words)
			}
			return Character{}, fault.New(fault.Invalid, "no tyre is described by %q", said).
				WithHint("say, with a little or much before it where need be: %s", strings.Join(all, ", "))
		}
	}
	return c, nil
}
