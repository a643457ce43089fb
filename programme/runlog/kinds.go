package runlog

import (
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/programme/attribute"
)

// Kinds gives the kinds of a run log, in the order of a day.
func Kinds() []Kind { return slices.Clone(kinds) }

var (
	at      = Field{Key: "at", Title: "when", Type: Moment, About: "where it is not now: the moment, RFC 3339 with its zone"}
	remark  = text("remark", "remark", "")
	test    = text("test", "test", "one manoeuvre on one surface")
	stintOf = text("stint", "stint", "its number or name within the test")
	runOf   = text("run", "run", "its number or name within the stint")
	rater   = text("rater", "rater", "who rates")
	tyre    = word("tyre", "tyre", "where on the vehicle it is", Corners...)
	setOf   = text("set", "set", "which physical set")
)

var kinds = []Kind{
	{ID: Cautions, Version: 1, Title: "cautions", About: "the cautions and stop rules were read out and agreed",
		Fields: join(needed(text("person", "person", "who agreed")), test, remark, at)},
	{ID: Set, Version: 1, Title: "set", About: "the numbered tyres of a set by their position",
		Fields: join(needed(setOf), text("code", "code", "under which it is driven"), text("size", "size", "as marked, without the maker's words"),
			text("front_left", "tyre front left", "its number"), text("front_right", "tyre front right", "its number"),
			text("rear_left", "tyre rear left", "its number"), text("rear_right", "tyre rear right", "its number"),
			remark)},
	{ID: Stint, Version: 1, Title: "stint", About: "a set is on the vehicle",
		Fields: join(needed(test), needed(stintOf), needed(text("code", "code", "the letter that it is driven under")), setOf,
			text("driver", "driver", ""), text("block", "block", "day, driver or session that is joined to others through the control alone"),
			number("use_m", "distance run", "m", "km", useM),
			Field{Key: "break", Title: "break", Type: Flag, About: "a declared break lies before it: drift is not carried across"},
			text("reason", "reason", "of the break"), remark, at),
		together: func(b map[string]any) error {
			if b["break"] == true && b["reason"] == nil {
				return fault.New(fault.Invalid, "a break is declared without a reason").At("field reason").WithHint("for example: lunch, shower, other driver")
			}
			return nil
		}},
	{ID: Pressures, Version: 1, Title: "pressures", About: "inflation pressures, read cold or hot",
		Fields: join(needed(test), needed(stintOf), needed(word("when", "when", "", "cold", "hot")), runOf,
			corners("pressure", "kPa", "bar", "_kpa", gaugeKpa), text("gauge", "gauge", "which instrument"), remark, at),
		together: oneOf("a pressure", "front_left_kpa", "front_right_kpa", "rear_left_kpa", "rear_right_kpa")},
	{ID: Tread, Version: 1, Title: "tread", About: "tread depth of one tyre, groove by groove from the outer edge",
		Fields: join(needed(setOf), needed(tyre), needed(word("when", "when", "", "before", "after")), test, stintOf,
			needed(Field{Key: "grooves_m", Title: "depths", Type: Numbers, Unit: "m", Shown: "mm", Low: &treadM[0], High: &treadM[1], About: "one a groove"}), remark, at)},
	{ID: Conditions, Version: 1, Title: "conditions", About: "what the day is like",
		Fields: join(test, number("air_temperature_degc", "air", "°C", "", degc), number("surface_temperature_degc", "surface", "°C", "", degc),
			number("water_temperature_degc", "water", "°C", "", degc),
			number("wind_mps", "wind", "m/s", "", windMps), number("gust_mps", "gusts", "m/s", "", windMps), number("wind_from_deg", "wind from", "°", "", circle),
			number("humidity_percent", "humidity", "%", "", percent), word("sky", "sky", "", "sun", "cloud", "fog", "drizzle", "rain"), remark, at),
		together: oneOf("a reading", "air_temperature_degc", "surface_temperature_degc", "water_temperature_degc", "wind_mps", "gust_mps", "wind_from_deg", "humidity_percent", "sky")},
	{ID: Wetting, Version: 1, Title: "wetting", About: "the surface begins or ceases to be wetted",
		Fields: join(needed(test), needed(word("what", "what", "", "start", "stop")), remark, at)},
	{ID: Depth, Version: 1, Title: "water depth", About: "water depth at one spot, to the tops of the surface's grains",
		Fields: join(needed(test), needed(text("spot", "spot", "where")), needed(number("water_depth_m", "depth", "m", "mm", depthM)),
			number("uncertainty_m", "standard uncertainty", "m", "mm", depthM), remark, at)},
	{ID: Run, Version: 1, Title: "run", About: "one lap, stop or pass was driven",
		Fields: join(needed(test), needed(stintOf), needed(runOf), text("recording", "recording", "the file that holds it"),
			number("entry_speed_mps", "entry speed", "m/s", "km/h", speedMps),
			Field{Key: "outside", Title: "outside limits", Type: Flag, About: "driven though a limit was broken"}, remark, at)},
	{ID: Times, Version: 1, Title: "result", About: "a value read off by a person: a time, a distance",
		Fields: join(needed(test), needed(stintOf), needed(runOf), needed(text("measure", "measure", "what is measured")),
			needed(number("value", "value", "", "", anything)), text("unit", "unit", "of the value, its SI symbol"),
			text("place", "place", "where on the course"), word("better", "better", "which values are better", "higher", "lower"),
			word("scale", "scale", "how it is compared", "ratio", "difference"), remark, at)},
	{ID: BrakeTemperature, Version: 1, Title: "brake temperatures", About: "of the discs",
		Fields:   join(needed(test), needed(stintOf), runOf, corners("brake", "°C", "", "_degc", brakeC), remark, at),
		together: oneOf("a temperature", "front_left_degc", "front_right_degc", "rear_left_degc", "rear_right_degc")},
	{ID: TyreTemperature, Version: 1, Title: "tyre temperatures", About: "at one place across the tread",
		Fields: join(needed(test), needed(stintOf), runOf, needed(word("across", "across", "place across the tread", "inner", "middle", "outer", "bulk")),
			corners("tyre", "°C", "", "_degc", tyreC), remark, at),
		together: oneOf("a temperature", "front_left_degc", "front_right_degc", "rear_left_degc", "rear_right_degc")},
	{ID: Fuel, Version: 1, Title: "fuel", About: "what is in the tank, and what was added",
		Fields:   join(test, stintOf, number("fuel_m3", "in the tank", "m³", "l", fuelM3), number("added_m3", "added", "m³", "l", fuelM3), remark, at),
		together: oneOf("an amount", "fuel_m3", "added_m3")},
	{ID: Remark, Version: 1, Title: "remark", About: "what somebody says, in writing, by voice or as a picture",
		Fields: join(text("text", "text", ""), test, stintOf, runOf, text("place", "place", "where on the course"),
			Field{Key: "voice", Title: "voice", Type: Hash, About: "the recorded voice"}, Field{Key: "picture", Title: "picture", Type: Hash}, at),
		together: oneOf("a text, a voice or a picture", "text", "voice", "picture")},
	{ID: Rating, Version: 2, Title: "rating", About: "one attribute of one stint by one rater, in quarter points: 1 to 10, balance from -3 (understeer) by 0 to 3 (oversteer)",
		Fields: join(needed(test), needed(stintOf), needed(rater), needed(text("attribute", "attribute", "what is rated")),
			needed(Field{Key: "value", Title: "rating", Type: Number, About: "on the attribute's own scale"}), remark, at),
		together: func(b map[string]any) error {
			name, _ := b["attribute"].(string)
			return fault.At(attribute.Check(name, b["value"].(float64)), "field value")
		}},
	{ID: SheetClosed, Version: 1, Title: "sheet closed", About: "a rater is done with a stint; from now on times may be seen",
		Fields: join(needed(test), needed(stintOf), needed(rater), at)},
	{ID: Incident, Version: 1, Title: "incident", About: "something went wrong; runs after it are held until they are released",
		Fields: join(needed(word("what", "what", "", Shower, Spin, Damage, LostSet, OtherWetness, Another)), needed(test), stintOf,
			Field{Key: "run", Title: "run", Type: Text, About: "the first run that is in doubt"}, setOf, tyre, needed(text("text", "what happened", "")), at),
		together: func(b map[string]any) error {
			for _, rule := range []struct{ what, field, why string }{
				{Spin, "stint", "say in which stint"}, {Damage, "stint", "say in which stint"}, {Damage, "tyre", "say which tyre"}, {LostSet, "set", "say which set"},
			} {
				if b["what"] == rule.what && b[rule.field] == nil {
					return fault.New(fault.Invalid, "it is missing").At("field %s", rule.field).WithHint("of a %s: %s", strings.ReplaceAll(rule.what, "_", " "), rule.why)
				}
			}
			if b["run"] != nil && b["stint"] == nil {
				return fault.New(fault.Invalid, "a run without its stint").At("field run").WithHint("name the stint, too")
			}
			return nil
		}},
	{ID: Release, Version: 1, Title: "release", About: "what an incident had put in doubt was inspected; runs count again from here on",
		Fields: join(needed(Field{Key: "incident", Title: "incident", Type: EntryID, About: "the entry of the incident"}),
			needed(word("outcome", "outcome", "of the runs that were held", AsBefore, Break, LeftOut)), needed(text("finding", "finding", "what the inspection found")), at)},
	{ID: TyreChanged, Version: 1, Title: "tyre changed", About: "one tyre of a set is replaced, which makes a new set",
		Fields: join(needed(text("set", "set", "the old one")), needed(text("new_set", "new set", "its name")), needed(tyre),
			needed(text("number", "number", "of the new tyre")), needed(text("reason", "reason", "")),
			Field{Key: "incident", Title: "incident", Type: EntryID, About: "behind it"}, at),
		together: func(b map[string]any) error {
			if b["set"] == b["new_set"] {
				return fault.New(fault.Invalid, "the new set has the old one's name").At("field new_set").WithHint("a set with another tyre is another set: P1, then P1b")
			}
			return nil
		}},
	{ID: Deviation, Version: 1, Title: "deviation", About: "the plan was left",
		Fields: join(test, needed(text("what", "what", "what is done otherwise")), needed(text("reason", "reason", "")),
			Field{Key: "from", Title: "from", Type: Hash, About: "the plan that was left"}, Field{Key: "to", Title: "to", Type: Hash, About: "the plan that is followed"},
			Field{Key: "incident", Title: "incident", Type: EntryID, About: "behind it"}, at)},
}

// former are the kinds as older versions had them, by id and version. Version 1 of a
// rating knew one scale for every attribute: a balance of that version is on it, and
// can be laid beside no other.
var former = map[string]map[int]Kind{
	Rating: {1: {ID: Rating, Version: 1, Title: "rating", About: "one attribute of one stint by one rater, 1 to 10 in quarter points",
		Fields: join(needed(test), needed(stintOf), needed(rater), needed(text("attribute", "attribute", "what is rated")),
			needed(number("value", "rating", "", "", scale)), remark, at),
		together: func(b map[string]any) error {
			if !attribute.Points.Has(b["value"].(float64)) {
				return fault.New(fault.Invalid, "%g is no rating", b["value"]).At("field value").WithHint("ratings of version 1 go from %s in steps of %g", attribute.Points.Words, attribute.Points.Step)
			}
			return nil
		}}},
}

// oneOf insists on at least one of some fields.
func oneOf(what string, keys ...string) func(map[string]any) error {
	return func(b map[string]any) error {
		for _, k := range keys {
			if b[k] != nil {
				return nil
			}
		}
		return fault.New(fault.Invalid, "there is nothing in it").WithHint("give %s: %s", what, strings.Join(keys, ", "))
	}
}
