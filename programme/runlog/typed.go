package runlog

import (
	"encoding/json"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// FromText gives the JSON value of a field from what a person typed. A quantity
// may carry its unit (1.2 mm, 2.4bar); where people use another unit than the one
// that is kept, it must. A list is separated by spaces or semicolons. Empty text
// is no value: nil.
func (f Field) FromText(typed string) (any, error) {
	typed = strings.TrimSpace(typed)
	if typed == "" {
		return nil, nil
	}
	switch f.Type {
	case Number:
		return f.quantity(typed)
	case Numbers:
		words := strings.FieldsFunc(typed, func(r rune) bool { return r == ' ' || r == ';' })
		tail := ""
		if n := len(words); n > 1 {
			if _, err := strconv.ParseFloat(words[n-1], 64); err != nil && !strings.ContainsAny(words[n-1][:1], "+-.0123456789") {
				tail, words = words[n-1], words[:n-1] // "7.8 7.7 7.9 mm"
			}
		}
		var out []any
		for _, w := range words {
			v, err := f.quantity(w + tail)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
		return out, nil
	case Flag:
		switch strings.ToLower(typed) {
		case "yes", "true", "1":
			return true, nil
		case "no", "false", "0":
			return false, nil
		}
		return nil, fault.New(fault.Invalid, "%q is neither yes nor no", cut(typed)).At("field %s", f.Key).WithHint("%s: yes, or no", f.Title)
	}
	return typed, nil
}

func (f Field) quantity(typed string) (any, error) {
	digits, rest := typed, ""
	for i := len(typed); i > 0; i-- { // the longest number: a unit may hold digits, too (m3)
		if _, err := strconv.ParseFloat(typed[:i], 64); err == nil {
			digits, rest = typed[:i], strings.TrimSpace(typed[i:])
			break
		}
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
	if err != nil {
		return nil, fault.New(fault.Invalid, "%q is no number", cut(typed)).At("field %s", f.Key).WithHint("%s", f.hint())
	}
	switch {
	case len(rest) > 1 && rest[0] == ',' && rest[1] >= '0' && rest[1] <= '9': // a decimal comma, or one between thousands: not guessed
		return nil, fault.New(fault.Invalid, "%q has a comma in its number", cut(typed)).At("field %s", f.Key).WithHint("write decimals with a point, as %s, and thousands without a mark", strings.Replace(typed, ",", ".", 1))
	case rest == "" && f.Shown != "":
		return nil, fault.New(fault.Invalid, "%q has no unit", cut(typed)).At("field %s", f.Key).WithHint("for example %s%s", strings.TrimSpace(digits), unit.MustParse(f.Shown).ASCII())
	case rest == "":
		return json.Number(strings.TrimSpace(digits)), nil
	case f.Unit == "":
		return nil, fault.New(fault.Invalid, "%q: it has no unit", cut(typed)).At("field %s", f.Key).WithHint("type the number alone: %s", strings.TrimSpace(digits))
	}
	u, err := unit.Parse(rest)
	if err != nil {
		return nil, fault.At(err, "field %s", f.Key)
	}
	if x, err = unit.Convert(x, u, unit.MustParse(f.Unit)); err != nil {
		return nil, fault.At(err, "field %s", f.Key)
	}
	return json.Number(unit.Shortest(x)), nil
}

// Body types, each the body of the kind of its name, for code that reads or makes
// them. A missing number is nil.
type (
	// StintBody is the body of a stint.
	StintBody struct {
		Test   string   `json:"test"`
		Stint  string   `json:"stint"`
		Code   string   `json:"code"`
		Set    string   `json:"set,omitempty"`
		Driver string   `json:"driver,omitempty"`
		Block  string   `json:"block,omitempty"`
		UseM   *float64 `json:"use_m,omitempty"`
		Break  bool     `json:"break,omitempty"`
		Reason string   `json:"reason,omitempty"`
		Remark string   `json:"remark,omitempty"`
		At     string   `json:"at,omitempty"`
	}

	// RunBody is the body of a run.
	RunBody struct {
		Test       string   `json:"test"`
		Stint      string   `json:"stint"`
		Run        string   `json:"run"`
		Recording  string   `json:"recording,omitempty"`
		EntrySpeed *float64 `json:"entry_speed_mps,omitempty"`
		Outside    bool     `json:"outside,omitempty"`
		Remark     string   `json:"remark,omitempty"`
		At         string   `json:"at,omitempty"`
	}

	// TimesBody is the body of a value read off by a person.
	TimesBody struct {
		Test    string  `json:"test"`
		Stint   string  `json:"stint"`
		Run     string  `json:"run"`
		Measure string  `json:"measure"`
		Value   float64 `json:"value"`
		Unit    string  `json:"unit,omitempty"`
		Place   string  `json:"place,omitempty"`
		Better  string  `json:"better,omitempty"`
		Scale   string  `json:"scale,omitempty"`
		Remark  string  `json:"remark,omitempty"`
		At      string  `json:"at,omitempty"`
	}

	// ConditionsBody is the body of a reading of the day.
	ConditionsBody struct {
		Test     string   `json:"test,omitempty"`
		AirC     *float64 `json:"air_temperature_degc,omitempty"`
		SurfaceC *float64 `json:"surface_temperature_degc,omitempty"`
		WaterC   *float64 `json:"water_temperature_degc,omitempty"`
		WindMps  *float64 `json:"wind_mps,omitempty"`
		GustMps  *float64 `json:"gust_mps,omitempty"`
		WindFrom *float64 `json:"wind_from_deg,omitempty"`
		Humidity *float64 `json:"humidity_percent,omitempty"`
		Sky      string   `json:"sky,omitempty"`
		Remark   string   `json:"remark,omitempty"`
		At       string   `json:"at,omitempty"`
	}

	// DepthBody is the body of a reading of water depth.
	DepthBody struct {
		Test         string   `json:"test"`
		Spot         string   `json:"spot"`
		DepthM       float64  `json:"water_depth_m"`
		UncertaintyM *float64 `json:"uncertainty_m,omitempty"`
		Remark       string   `json:"remark,omitempty"`
		At           string   `json:"at,omitempty"`
	}

	// WettingBody is the body of a wetting that starts or stops.
	WettingBody struct {
		Test   string `json:"test"`
		What   string `json:"what"`
		Remark string `json:"remark,omitempty"`
		At     string `json:"at,omitempty"`
	}

	// IncidentBody is the body of an incident.
	IncidentBody struct {
		What  string `json:"what"`
		Test  string `json:"test"`
		Stint string `json:"stint,omitempty"`
		Run   string `json:"run,omitempty"`
		Set   string `json:"set,omitempty"`
		Tyre  string `json:"tyre,omitempty"`
		Text  string `json:"text"`
		At    string `json:"at,omitempty"`
	}

	// ReleaseBody is the body of a release.
	ReleaseBody struct {
		Incident string `json:"incident"`
		Outcome  string `json:"outcome"`
		Finding  string `json:"finding"`
		At       string `json:"at,omitempty"`
	}

	// RemarkBody is the body of a remark.
	RemarkBody struct {
		Text    string `json:"text,omitempty"`
		Test    string `json:"test,omitempty"`
		Stint   string `json:"stint,omitempty"`
		Run     string `json:"run,omitempty"`
		Place   string `json:"place,omitempty"`
		Voice   string `json:"voice,omitempty"`
		Picture string `json:"picture,omitempty"`
		At      string `json:"at,omitempty"`
	}

	// RatingBody is the body of a rating.
	RatingBody struct {
		Test      string  `json:"test"`
		Stint     string  `json:"stint"`
		Rater     string  `json:"rater"`
		Attribute string  `json:"attribute"`
		Value     float64 `json:"value"`
		Remark    string  `json:"remark,omitempty"`
		At        string  `json:"at,omitempty"`
	}

	// SheetClosedBody is the body of a closed rating sheet.
	SheetClosedBody struct {
		Test  string `json:"test"`
		Stint string `json:"stint"`
		Rater string `json:"rater"`
		At    string `json:"at,omitempty"`
	}

	// SetBody is the body of a set's tyres.
	SetBody struct {
		Set        string `json:"set"`
		Code       string `json:"code,omitempty"`
		Size       string `json:"size,omitempty"`
		FrontLeft  string `json:"front_left,omitempty"`
		FrontRight string `json:"front_right,omitempty"`
		RearLeft   string `json:"rear_left,omitempty"`
		RearRight  string `json:"rear_right,omitempty"`
		Remark     string `json:"remark,omitempty"`
	}

	// TyreChangedBody is the body of a tyre that was replaced.
	TyreChangedBody struct {
		Set      string `json:"set"`
		NewSet   string `json:"new_set"`
		Tyre     string `json:"tyre"`
		Number   string `json:"number"`
		Reason   string `json:"reason"`
		Incident string `json:"incident,omitempty"`
		At       string `json:"at,omitempty"`
	}

	// DeviationBody is the body of a departure from the plan.
	DeviationBody struct {
		Test     string `json:"test,omitempty"`
		What     string `json:"what"`
		Reason   string `json:"reason"`
		From     string `json:"from,omitempty"`
		To       string `json:"to,omitempty"`
		Incident string `json:"incident,omitempty"`
		At       string `json:"at,omitempty"`
	}
)

// MomentOf gives the UTC nanoseconds of an "at" field; ok is false where it is
// empty.
func MomentOf(at string) (unixNS int64, ok bool) {
	if at == "" {
		return 0, false
	}
	t, err := time.Parse(time.RFC3339Nano, at)
	if err != nil {
		return 0, false
	}
	return t.UnixNano(), true
}

// ReadMoment gives as RFC 3339 what a person typed as a moment: RFC 3339 itself,
// 2026-05-13 14:05 in a zone, or 14:05 on a day. A time that the end of summer time
// makes twice must be told with its offset. Without a zone only RFC 3339 is read,
// without a day (zero) no bare time.
func ReadMoment(typed string, zone *time.Location, day time.Time) (string, error) {
	typed = strings.TrimSpace(typed)
	if t, err := time.Parse(time.RFC3339Nano, typed); err == nil {
		return t.Format(time.RFC3339Nano), nil
	}
	wrong := fault.New(fault.Invalid, "%q is no moment", cut(typed)).WithHint("for example 2026-05-13T14:05:00+01:00, or 14:05 where the ground's zone is known")
	if zone == nil {
		return "", wrong
	}
	for _, form := range []string{"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05", "15:04", "15:04:05"} {
		t, err := time.ParseInLocation(form, typed, zone)
		if err != nil {
			continue
		}
		if form[0] == '1' {
			if day.IsZero() {
				return "", wrong
			}
			d := day.In(zone)
			t = time.Date(d.Year(), d.Month(), d.Day(), t.Hour(), t.Minute(), t.Second(), 0, zone)
		}
		if got := t.Format(form); got != typed {
			return "", fault.New(fault.Invalid, "there is no %s on that day: the clocks went forward", typed).WithHint("type an hour later, or RFC 3339 with the offset")
		}
		for _, other := range []time.Time{t.Add(time.Hour), t.Add(-time.Hour)} {
			if other.Format("15:04:05") == t.Format("15:04:05") {
				return "", fault.New(fault.Invalid, "%s came twice on that day: the clocks went back", typed).WithHint("say which one: %s, or %s", t.Format(time.RFC3339), other.Format(time.RFC3339))
			}
		}
		return t.Format(time.RFC3339), nil
	}
	return "", wrong
}
