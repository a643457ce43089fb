package runlog

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// A key that holds a quantity ends in its unit's key, every word list and bound
// makes sense, and no kind stands twice.
func TestKindsAreWellFormed(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Kinds() {
		if seen[k.ID] || k.Version < 1 || k.Title == "" || k.About == "" || len(k.Fields) == 0 {
			t.Errorf("kind %q stands twice or says too little", k.ID)
		}
		seen[k.ID] = true
		keys := map[string]bool{}
		for _, f := range k.Fields {
			if keys[f.Key] || f.Title == "" {
				t.Errorf("%s: field %q stands twice or has no title", k.ID, f.Key)
			}
			keys[f.Key] = true
			if (f.Type == Word) != (len(f.Words) > 0) {
				t.Errorf("%s: field %s: words %v, type %s", k.ID, f.Key, f.Words, f.Type)
			}
			if f.Unit == "" {
				continue
			}
			u, err := unit.Parse(f.Unit)
			if err != nil || !strings.HasSuffix(f.Key, "_"+u.Key()) {
				t.Errorf("%s: key %s does not end in the unit %s", k.ID, f.Key, f.Unit)
			}
			if f.Shown != "" {
				if _, err := unit.Convert(1, u, unit.MustParse(f.Shown)); err != nil {
					t.Errorf("%s: field %s: %v", k.ID, f.Key, err)
				}
			}
			if f.Low == nil || f.High == nil || *f.Low >= *f.High {
				t.Errorf("%s: field %s has no bounds", k.ID, f.Key)
			}
		}
	}
}

// The body types hold the fields of their kinds, no fewer and no others.
func TestBodyTypesHoldTheFieldsOfTheirKinds(t *testing.T) {
	for id, body := range map[string]any{
		Stint: StintBody{}, Run: RunBody{}, Times: TimesBody{}, Conditions: ConditionsBody{}, Depth: DepthBody{}, Wetting: WettingBody{},
		Incident: IncidentBody{}, Release: ReleaseBody{}, Rating: RatingBody{}, SheetClosed: SheetClosedBody{}, Set: SetBody{},
		TyreChanged: TyreChangedBody{}, Deviation: DeviationBody{}, Remark: RemarkBody{},
	} {
		k, _ := KindOf(id)
		typ := reflect.TypeOf(body)
		have := map[string]bool{}
		for i := range typ.NumField() {
			key, _, _ := strings.Cut(typ.Field(i).Tag.Get("json"), ",")
			have[key] = true
			if _, ok := k.Field(key); !ok {
				t.Errorf("%s has no field %s, its type has", id, key)
			}
		}
		for _, f := range k.Fields {
			if !have[f.Key] {
				t.Errorf("the type of %s lacks %s", id, f.Key)
			}
		}
	}
}

func TestABodyThatIsRightIsTaken(t *testing.T) {
	for kind, body := range map[string]string{
		Stint:       `{"test":"wet-stop","stint":"3","code":"P","set":"P1","break":true,"reason":"lunch","use_m":1.2e5}`,
		Run:         `{"test":"wet-stop","stint":"3","run":"1","entry_speed_mps":23.6,"at":"2026-05-13T10:42:00+01:00"}`,
		Conditions:  `{"wind_mps":0}`,
		Depth:       `{"test":"wet-stop","spot":"middle","water_depth_m":0.0012,"uncertainty_m":0.0001}`,
		Tread:       `{"set":"P1","tyre":"front_left","when":"before","grooves_m":[0.0078,0.0077]}`,
		Rating:      `{"test":"lap","stint":"3","rater":"A","attribute":"steering precision","value":7.25}`,
		Incident:    `{"what":"shower","test":"lap","text":"rain from the west"}`,
		Remark:      `{"voice":"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}`,
		Release:     `{"incident":"01890a5d-ac96-774b-bcce-b302099a8057","outcome":"break","finding":"dry again at 14:20"}`,
		SheetClosed: `{"test":"lap","stint":"3","rater":"A"}`,
	} {
		if err := Check(kind, 1, []byte(body)); err != nil {
			t.Errorf("%s: %v (%s)", kind, err, fault.HintOf(err))
		}
	}
}

// A rating is one on the scale of its attribute. Version 1 knew one scale for all, and
// is accepted for ever.
func TestARatingIsOnTheScaleOfItsAttribute(t *testing.T) {
	for _, c := range []struct {
		version   int
		attribute string
		value     string
		says      string
	}{
		{2, "response", "7.25", ""}, {2, "response", "-1", "no rating of response"}, {2, "response", "11", "field value: 11 is no rating of response"},
		{2, "balance at entry", "-1.5", ""}, {2, "Balance at entry", "3", ""}, {2, "balance at entry", "-3.25", "field value"}, {2, "balance at entry", "7", "7 is no rating of balance at entry"},
		{2, "balance_at_exit", "0.1", "no rating"}, {2, "noise", "1", ""}, {2, "noise", "0", "no rating of noise"},
		{1, "balance at entry", "7", ""}, {1, "balance at entry", "-1.5", "field value"}, {1, "response", "7.25", ""}, {1, "response", "7.3", "7.3 is no rating"},
	} {
		body := `{"test":"lap","stint":"3","rater":"A","attribute":"` + c.attribute + `","value":` + c.value + `}`
		err := Check(Rating, c.version, []byte(body))
		if c.says == "" {
			if err != nil {
				t.Errorf("version %d, %s: %v", c.version, body, err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), c.says) || fault.HintOf(err) == "" {
			t.Errorf("version %d, %s: %v, hint %q, want %q", c.version, body, err, fault.HintOf(err), c.says)
		}
	}
	if err := Check(Rating, 3, []byte(`{}`)); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("version 3: %v", err)
	}
}

// Each slip is answered by its field and with what to do.
func TestABodyThatIsWrongIsRefusedByFieldAndWithAHint(t *testing.T) {
	for _, c := range []struct{ kind, body, says string }{
		{Stint, `{"test":"wet-stop","stint":"3"}`, "stint: field code: it is missing"},
		{Stint, `{"test":"wet-stop","stint":"3","code":"P","break":true}`, "field reason"},
		{Stint, `{"test":"wet-stop","stint":3,"code":"P"}`, "field stint: it is no text"},
		{Stint, `{"test":"wet-stop","stint":"3","code":"P","maker":"x"}`, "field maker: there is no such field"},
		{Stint, `[1]`, "no JSON object"},
		{Stint, `{"test":"wet-stop","stint":"3","code":"P"} {}`, "something follows"},
		{Stint, ``, "no JSON object"},
		{Stint, `null`, "no JSON object"},
		{Depth, `{"test":"wet-stop","spot":"middle","water_depth_m":1.2}`, "field water_depth_m: 1200 mm is out of bounds"},
		{Depth, `{"test":"wet-stop","spot":"middle","water_depth_m":"1.2"}`, "it is no number"},
		{Depth, `{"test":"wet-stop","spot":"middle","water_depth_m":1e999}`, "no finite number"},
		{Depth, `{"test":"wet-stop","spot":"   ","water_depth_m":0.001}`, "field spot: it is missing"},
		{Pressures, `{"test":"lap","stint":"1","when":"cold","front_left_kpa":2.4}`, "field front_left_kpa"},
		{Pressures, `{"test":"lap","stint":"1","when":"warm","front_left_kpa":240}`, `"warm" is no choice`},
		{Pressures, `{"test":"lap","stint":"1","when":"hot"}`, "there is nothing in it"},
		{Rating, `{"test":"lap","stint":"3","rater":"A","attribute":"noise","value":7.3}`, "7.3 is no rating"},
		{Rating, `{"test":"lap","stint":"3","rater":"A","attribute":"noise","value":0.5}`, "field value"},
		{Incident, `{"what":"damage","test":"lap","stint":"4","text":"cut"}`, "field tyre"},
		{Incident, `{"what":"lost_set","test":"lap","text":"gone"}`, "field set"},
		{Incident, `{"what":"spin","test":"lap","text":"gate 7"}`, "field stint"},
		{Incident, `{"what":"shower","test":"lap","run":"2","text":"rain"}`, "field run"},
		{Run, `{"test":"lap","stint":"1","run":"1","at":"10:42"}`, `"10:42" is no moment`},
		{Run, `{"test":"lap","stint":"1","run":"1","at":"0042-01-01T00:00:00Z"}`, "year 42"},
		{Remark, `{"picture":"BA78"}`, "no SHA-256"},
		{Release, `{"incident":"7","outcome":"break","finding":"x"}`, "no entry's id"},
		{TyreChanged, `{"set":"P1","new_set":"P1","tyre":"front_left","number":"9","reason":"cut"}`, "field new_set"},
		{"nonesuch", `{}`, "no kind of a run log"},
	} {
		err := Check(c.kind, 1, []byte(c.body))
		if err == nil || !strings.Contains(err.Error(), c.says) || fault.HintOf(err) == "" {
			t.Errorf("%s %s: %v, hint %q, want %q", c.kind, c.body, err, fault.HintOf(err), c.says)
		}
	}
	if err := Check(Stint, 2, []byte(`{}`)); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("a version from the future: %v", err)
	}
}

// What a person types becomes what is kept: NIST SP 811 gives the factors (1 psi =
// 6.894757 kPa, 1 mph = 0.44704 m/s, 1 bar = 100 kPa, 1 L = 0.001 m³).
func TestTypedQuantitiesAreConverted(t *testing.T) {
	for _, c := range []struct {
		kind, field, typed string
		want               float64
		tol                float64
	}{
		{Depth, "water_depth_m", "1.2mm", 0.0012, 1e-15},
		{Depth, "water_depth_m", "1.2 mm", 0.0012, 1e-15},
		{Pressures, "front_left_kpa", "2.4 bar", 240, 0},
		{Pressures, "front_left_kpa", "35psi", 35 * 6.894757, 1e-4},
		{Run, "entry_speed_mps", "50 mph", 22.352, 1e-12},
		{Fuel, "fuel_m3", "40 l", 0.04, 1e-15},
		{Conditions, "air_temperature_degc", "-3.5", -3.5, 0},
		{Conditions, "air_temperature_degc", "50 °F", 10, 1e-12},
		{Times, "value", "1e1", 10, 0},
	} {
		k, _ := KindOf(c.kind)
		f, ok := k.Field(c.field)
		if !ok {
			t.Fatal(c.field)
		}
		v, err := f.FromText(c.typed)
		if err != nil {
			t.Errorf("%s: %v", c.typed, err)
			continue
		}
		if got, _ := v.(json.Number).Float64(); got < c.want-c.tol || got > c.want+c.tol {
			t.Errorf("%q is %v, want %v", c.typed, v, c.want)
		}
	}
	k, _ := KindOf(Tread)
	f, _ := k.Field("grooves_m")
	v, err := f.FromText("7.8 7.75 7.9 mm")
	if err != nil || len(v.([]any)) != 3 || v.([]any)[1] != json.Number("0.00775") {
		t.Errorf("%v, %v", v, err)
	}
	for typed, says := range map[string]string{"1.2": "no unit", "1.2 furlongs": "furlongs", "deep": "no number", "1 kg": "kg", "1,2 mm": "comma", "1,200mm": "comma"} {
		k, _ := KindOf(Depth)
		f, _ := k.Field("water_depth_m")
		if _, err := f.FromText(typed); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", typed, err)
		}
	}
}

// Whatever bytes come, reading never panics, and what is taken once is taken
// again in its canonical form.
func FuzzBody(f *testing.F) {
	for _, k := range Kinds() {
		f.Add(k.ID, []byte(`{"test":"wet-stop","stint":"3","code":"P","run":"1","water_depth_m":0.001,"what":"start","when":"cold"}`))
	}
	f.Add(Tread, []byte(`{"set":"P1","tyre":"front_left","when":"before","grooves_m":[0.0078,null]}`))
	f.Add(Rating, []byte(`{"value":1e400}`))
	f.Fuzz(func(t *testing.T, kind string, body []byte) {
		k, ok := KindOf(kind)
		if !ok {
			return
		}
		fields, err := k.Read(body)
		if err != nil {
			if fault.CodeOf(err) == fault.Internal {
				t.Fatal(err)
			}
			return
		}
		again, err := json.Marshal(fields)
		if err != nil {
			t.Fatal(err)
		}
		if err := Check(kind, 1, again); err != nil {
			t.Fatalf("%s was taken, %s is not: %v", body, again, err)
		}
	})
}
