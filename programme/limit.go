package programme

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
