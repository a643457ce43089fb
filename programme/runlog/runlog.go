// Package runlog says what a run log holds: the kinds of entry that people make
// at the track, with the fields of each, and whether an entry's body is right.
//
// The kinds are data. The page at the track, the flags of the command line and
// the columns of plain tables are all drawn from the same list, so that what one
// of them takes the others take too.
//
// A body is one flat JSON object: text, numbers, lists of numbers, yes or no. A
// key that holds a quantity ends in its unit (water_depth_m, front_left_kpa);
// pressures are kPa here, as at every rim, temperatures °C, all else SI. Moments
// are RFC 3339 text. Positions on the vehicle are front_left, front_right,
// rear_left and rear_right, as seen by the driver.
//
// Each kind has a version. A kind's meaning never changes: a new meaning is a new
// version, and every older one is accepted for ever.
//
// What a field may hold is bounded where a slip of the finger would otherwise
// pass (a depth in mm typed as m). These bounds are bookend's own and are no
// limits of a test; those are programme.Limit.
package runlog

import "example.org/bookend/programme/attribute"

// Type is what a field holds.
type Type string

// Types of field.
const (
	Text    Type = "text"
	Word    Type = "word"    // one of the field's words
	Number  Type = "number"  // in the field's unit
	Numbers Type = "numbers" // a list, in the field's unit
	Flag    Type = "flag"    // yes or no
	Moment  Type = "moment"  // RFC 3339
	EntryID Type = "entry"   // the id of an entry
	Hash    Type = "sha256"  // of a file's bytes, lower-case hexadecimal
)

// Field is one thing that an entry of a kind says.
type Field struct {
	Key    string   `json:"key"`
	Title  string   `json:"title"`
	Type   Type     `json:"type"`
	Unit   string   `json:"unit,omitempty"`  // symbol of the unit that the value is kept in
	Shown  string   `json:"shown,omitempty"` // unit that people type it in where it differs
	Needed bool     `json:"needed,omitempty"`
	Low    *float64 `json:"low,omitempty"` // in the unit
	High   *float64 `json:"high,omitempty"`
	Words  []string `json:"words,omitempty"`
	About  string   `json:"about,omitempty"`
}

// Kind is one kind of entry.
type Kind struct {
	ID      string  `json:"id"`
	Version int     `json:"version"`
	Title   string  `json:"title"`
	About   string  `json:"about"`
	Fields  []Field `json:"fields"`

	// together says what is wrong between the fields of a body that are right
	// each by itself; nil: nothing.
	together func(body map[string]any) error
}

// Field gives the field of that key.
func (k Kind) Field(key string) (Field, bool) {
	for _, f := range k.Fields {
		if f.Key == key {
			return f, true
		}
	}
	return Field{}, false
}

// Corners are the positions on the vehicle, in the order in which they are
// written.
var Corners = []string{"front_left", "front_right", "rear_left", "rear_right"}

// Ids of the kinds of a run log.
const (
	Stint            = "stint"
	Run              = "run"
	Times            = "times"
	Conditions       = "conditions"
	Depth            = "depth"
	Wetting          = "wetting"
	Pressures        = "pressures"
	Tread            = "tread"
	BrakeTemperature = "brake_temperature"
	TyreTemperature  = "tyre_temperature"
	Fuel             = "fuel"
	Remark           = "remark"
	Incident         = "incident"
	Release          = "release"
	Rating           = "rating"
	SheetClosed      = "sheet_closed"
	Set              = "set"
	TyreChanged      = "tyre_changed"
	Deviation        = "deviation"
	Cautions         = "cautions"
)

// What can go wrong on the day: the words of an incident.
const (
	Shower       = "shower"        // water that nobody planned
	Spin         = "spin"          // the vehicle turned round or left the course
	Damage       = "damage"        // a tyre is cut, blistered or flat-spotted
	LostSet      = "lost_set"      // a set cannot be driven any more
	OtherWetness = "other_wetness" // driving resumed at another wetness
	Another      = "another"       // whatever else puts later runs in doubt
)

// What an inspection finds: the words of a release.
const (
	AsBefore = "as_before" // the runs that were held count as they were driven
	Break    = "break"     // they count behind a declared break: drift is not carried across it
	LeftOut  = "left_out"  // they are left out
)

// KindOf gives the kind of that id.
func KindOf(id string) (Kind, bool) {
	for _, k := range kinds {
		if k.ID == id {
			return k, true
		}
	}
	return Kind{}, false
}

// Bounds of fields, bookend's own: wide enough for every track day, narrow
// enough to catch a value in another unit.
var (
	none     = [2]float64{}
	degc     = [2]float64{-60, 100}  // air, water, surface
	tyreC    = [2]float64{-60, 250}  // a tyre's tread
	brakeC   = [2]float64{-60, 1200} // a disc
	windMps  = [2]float64{0, 60}     //
	depthM   = [2]float64{0, 0.1}    // a film is mm; 100 mm is a ford
	treadM   = [2]float64{0, 0.03}   //
	gaugeKpa = [2]float64{20, 1200}  // above the air's; a bar typed as kPa is below, a Pa above
	percent  = [2]float64{0, 100}    //
	circle   = [2]float64{0, 360}    //
	fuelM3   = [2]float64{0, 2}      //
	useM     = [2]float64{0, 2e8}    // 200 000 km
	speedMps = [2]float64{0, 150}    //
	scale    = [2]float64{attribute.Points.Low, attribute.Points.High}
	anything = [2]float64{-1e12, 1e12} // a value in a unit of its own
)

func text(key, title, about string) Field {
	return Field{Key: key, Title: title, Type: Text, About: about}
}

func word(key, title, about string, words ...string) Field {
	return Field{Key: key, Title: title, Type: Word, Words: words, About: about}
}

func number(key, title, unit, shown string, bounds [2]float64) Field {
	f := Field{Key: key, Title: title, Type: Number, Unit: unit, Shown: shown}
	if bounds != none {
		f.Low, f.High = &bounds[0], &bounds[1]
	}
	return f
}

func needed(f Field) Field { f.Needed = true; return f }

func corners(title, unit, shown, suffix string, bounds [2]float64) []Field {
	names := []string{"front left", "front right", "rear left", "rear right"}
	var out []Field
	for i, c := range Corners {
		out = append(out, number(c+suffix, title+" "+names[i], unit, shown, bounds))
	}
	return out
}

func join(parts ...any) []Field {
	var out []Field
	for _, p := range parts {
		switch p := p.(type) {
		case Field:
			out = append(out, p)
		case []Field:
			out = append(out, p...)
		default:
			panic("runlog: a part that is no field")
		}
	}
	return out
}
