package runlog

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// mostText is how long one text may be, in bytes: some 20 pages. Own choice.
const mostText = 64 << 10

// Check says what is wrong with the body of an entry, by field and with a hint;
// nil: nothing. A kind that is none of a run log's, and a version that is newer
// than this bookend, are unsupported.
func Check(kind string, version int, body []byte) error {
	k, err := KindAt(kind, version)
	if err == nil {
		_, err = k.Read(body)
	}
	return err
}

// KindAt gives the kind of that id as a version has it. One that is none of a run
// log's, and a version that is newer than this bookend, are unsupported.
func KindAt(kind string, version int) (Kind, error) {
	k, ok := KindOf(kind)
	if !ok {
		return Kind{}, fault.New(fault.Unsupported, "%q is no kind of a run log", kind).WithHint("the kinds are: %s", strings.Join(ids(), ", "))
	}
	if version < 1 || version > k.Version {
		return Kind{}, fault.New(fault.Unsupported, "version %d of %s is not known to this bookend", version, kind).WithHint("use the newer bookend that wrote it")
	}
	if old, ok := former[kind][version]; ok {
		return old, nil
	}
	return k, nil
}

func ids() []string {
	var out []string
	for _, k := range kinds {
		out = append(out, k.ID)
	}
	return out
}

// Read gives the fields of a body: text as string, numbers as float64, lists of
// them as []float64, flags as bool. Fields that are empty or null are left out.
func (k Kind) Read(body []byte) (map[string]any, error) {
	fail := func(err error) (map[string]any, error) { return nil, fault.At(err, "%s", k.ID) }
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	var raw map[string]any
	if err := d.Decode(&raw); err != nil || raw == nil {
		return fail(fault.New(fault.Invalid, "the body is no JSON object").WithHint("it is one flat object: {\"test\":\"wet-stop\"}"))
	}
	if d.More() {
		return fail(fault.New(fault.Invalid, "something follows the body").WithHint("it is one flat object"))
	}
	for key := range raw {
		if _, ok := k.Field(key); !ok {
			return fail(fault.New(fault.Invalid, "there is no such field").At("field %s", cut(key)).WithHint("%s has: %s", k.ID, strings.Join(k.keys(), ", ")))
		}
	}
	out := map[string]any{}
	for _, f := range k.Fields {
		v, err := f.read(raw[f.Key])
		if err != nil {
			return fail(fault.At(err, "field %s", f.Key))
		}
		if v == nil {
			if f.Needed {
				return fail(fault.New(fault.Invalid, "it is missing").At("field %s", f.Key).WithHint("%s", f.hint()))
			}
			continue
		}
		out[f.Key] = v
	}
	if k.together != nil {
		if err := k.together(out); err != nil {
			return fail(err)
		}
	}
	return out, nil
}

func (k Kind) keys() []string {
	var out []string
	for _, f := range k.Fields {
		out = append(out, f.Key)
	}
	return out
}

func cut(s string) string {
	if len(s) > 40 {
		return s[:40] + "…"
	}
	return s
}

// hint says what a field wants.
func (f Field) hint() string {
	switch {
	case f.Type == Word:
		return "choose one of: " + strings.Join(f.Words, ", ")
	case f.Low != nil && f.High != nil:
		return fmt.Sprintf("%s, from %s to %s", f.Title, f.Amount(*f.Low), f.Amount(*f.High))
	case f.About != "":
		return f.Title + ": " + f.About
	}
	return f.Title
}

// Amount writes a value of the field with the unit that people use.
func (f Field) Amount(v float64) string {
	if f.Shown != "" {
		if c, err := unit.Convert(v, unit.MustParse(f.Unit), unit.MustParse(f.Shown)); err == nil {
			return unit.Number(c, digits(c), unit.Plain) + " " + f.Shown
		}
	}
	return strings.TrimSpace(unit.Shortest(v) + " " + f.Unit)
}

// digits gives decimals for five significant figures at most.
func digits(x float64) int {
	n := 0
	for x = math.Abs(x); n < 4 && x < 1e4 && math.Abs(x-math.Round(x)) > 1e-6*math.Max(1, x); x *= 10 {
		n++
	}
	return n
}

// read turns one JSON value into a field's; nil where there is none.
func (f Field) read(v any) (any, error) {
	wrong := func(format string, args ...any) (any, error) {
		return nil, fault.New(fault.Invalid, format, args...).WithHint("%s", f.hint())
	}
	if v == nil {
		return nil, nil
	}
	switch f.Type {
	case Number:
		n, ok := v.(json.Number)
		if !ok {
			return wrong("it is no number")
		}
		return f.number(n)
	case Numbers:
		list, ok := v.([]any)
		if !ok {
			return wrong("it is no list of numbers")
		}
		if len(list) == 0 {
			return nil, nil
		}
		if len(list) > 1000 {
			return wrong("the list has %d numbers", len(list))
		}
		var out []float64
		for _, e := range list {
			n, ok := e.(json.Number)
			if !ok {
				return wrong("it is no list of numbers")
			}
			x, err := f.number(n)
			if err != nil {
				return nil, err
			}
			out = append(out, x.(float64))
		}
		return out, nil
	case Flag:
		b, ok := v.(bool)
		if !ok {
			return wrong("it is neither true nor false")
		}
		if !b {
			return nil, nil
		}
		return b, nil
	}
	s, ok := v.(string)
	if !ok {
		return wrong("it is no text")
	}
	if !utf8.ValidString(s) || len(s) > mostText {
		return wrong("the text is too long, or is not UTF-8")
	}
	if s = strings.TrimSpace(s); s == "" {
		return nil, nil
	}
	switch f.Type {
	case Word:
		if !slices.Contains(f.Words, s) {
			return wrong("%q is no choice", cut(s))
		}
	case Moment:
		t, err := time.Parse(time.RFC3339Nano, s)
		if err != nil {
			return wrong("%q is no moment", cut(s))
		}
		if y := t.Year(); y < 1970 || y > 2200 {
			return wrong("the year %d is out of range", y)
		}
	case EntryID:
		if !isID(s) {
			return wrong("%q is no entry's id", cut(s))
		}
	case Hash:
		if b, err := hex.DecodeString(s); err != nil || len(b) != 32 || s != strings.ToLower(s) {
			return wrong("%q is no SHA-256", cut(s))
		}
	}
	return s, nil
}

func (f Field) number(n json.Number) (any, error) {
	x, err := n.Float64()
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return nil, fault.New(fault.Invalid, "%s is no finite number", cut(n.String())).WithHint("%s", f.hint())
	}
	if f.Low != nil && x < *f.Low || f.High != nil && x > *f.High {
		return nil, fault.New(fault.Invalid, "%s is out of bounds", f.Amount(x)).WithHint("%s", f.hint())
	}
	return x, nil
}

// isID tells a UUID in its usual form: 32 lower-case hexadecimal digits in five
// groups.
func isID(s string) bool {
	if len(s) != 36 {
		return false
	}
	for i := range len(s) {
		switch c := s[i]; {
		case i == 8 || i == 13 || i == 18 || i == 23:
			if c != '-' {
				return false
			}
		case (c < '0' || c > '9') && (c < 'a' || c > 'f'):
			return false
		}
	}
	return true
}
