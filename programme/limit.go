package programme

import "example.org/bookend/fault"

// Limit is one bound on what is driven or found, as data. One evaluator serves
// compare, order and app; a page's script evaluates the same list for typed
// fields, and both pass the same vectors.
type Limit struct {
	Field  string   `json:"field"`          // what is held against it: "cv", "reference_shift", "water_depth_m", "entry_speed_mps"
	Low    *float64 `json:"low,omitempty"`  // nil: no lower bound
	High   *float64 `json:"high,omitempty"` // nil: no upper bound
	Per    string   `json:"per"`            // "stint", "run", "bracket", "block"
	Of     string   `json:"of,omitempty"`   // "control", "candidate", or empty for both
	Unit   string   `json:"unit"`
	Source Source   `json:"source"`
	Stands string   `json:"stands"` // what stands when it is broken, in words
}

// Profile is a named list of limits: an edition of a standard, or the
// evaluator's own. Editions stand side by side and have versions of their own.
type Profile struct {
	ID      string  `json:"id"`
	Version int     `json:"version"`
	Title   string  `json:"title"`
	Source  Source  `json:"source"`
	Limits  []Limit `json:"limits"`
}

// Standing is how a value stands to a limit.
type Standing string

// A value is within a limit, breaks it, or is missing, which is neither.
const (
	Within  Standing = "within"
	Broken  Standing = "broken"
	Missing Standing = "missing"
)

// Judge holds a value in the limit's unit against it; a bound itself is within.
// A nil value is Missing.
func (l Limit) Judge(value *float64) Standing {
	switch {
	case value == nil || *value != *value:
		return Missing
	case l.Low != nil && *value < *l.Low, l.High != nil && *value > *l.High:
		return Broken
	}
	return Within
}

// Answer is how one value stands to one limit of a profile.
type Answer struct {
	Field    string   `json:"field"`
	Value    float64  `json:"value"` // in the limit's unit
	Standing Standing `json:"standing"`
	Limit    Limit    `json:"limit"`
}

// Answers holds values, by field and in the limits' units, against the limits
// that are about them, in the profile's order. What a limit says of the control
// or of candidates alone is left out: whoever types a value need not know which
// of them is on the vehicle. A limit without a value has no answer.
func (p Profile) Answers(values map[string]float64) []Answer {
	var out []Answer
	for _, l := range p.Limits {
		v, ok := values[l.Field]
		if !ok || l.Of != "" {
			continue
		}
		out = append(out, Answer{Field: l.Field, Value: v, Standing: l.Judge(&v), Limit: l})
	}
	return out
}

// Check says what is wrong with a profile itself: no name, a limit without
// field, bound or source, a lower bound above the upper one.
func (p Profile) Check() error {
	wrong := func(i int, format string, args ...any) error {
		return fault.New(fault.Invalid, format, args...).At("profile %s: limit %d", p.ID, i+1).
			WithHint("a limit has a field, a low or a high, and the source that it comes from")
	}
	if p.ID == "" || p.Version < 1 || p.Title == "" {
		return fault.New(fault.Invalid, "a profile needs an id, a version from 1 and a title")
	}
	for i, l := range p.Limits {
		switch {
		case l.Field == "":
			return wrong(i, "it has no field")
		case l.Low == nil && l.High == nil:
			return wrong(i, "%s has neither low nor high", l.Field)
		case l.Low != nil && l.High != nil && *l.Low > *l.High:
			return wrong(i, "%s: the low bound is above the high one", l.Field)
		case l.Source.Key == "":
			return wrong(i, "%s names no source", l.Field)
		}
	}
	return nil
}
