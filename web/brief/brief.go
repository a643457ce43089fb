// Package brief is what the page of the brief asks and shows: forms about the words of
// the brief, the vehicle, tyre sets and tests become requests of app's use cases. Plan and
// limits have rooms of their own.
//
// Units of the forms are the trade's and the reader's: kilograms, and speeds as the reader
// sees them; requests are in SI. No rule about sets, tests or plans is made here.
package brief

import (
	"net/url"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/unit"
	"example.org/bookend/web/form"
)

// speed is the unit in which a reader sees speeds.
func speed(style unit.Style) unit.Unit { return style.Of(unit.KilometrePerHour) }

// Words is the form about what is compared, for whom, on what.
func Words(b app.Brief, to, frozen string, style unit.Style) form.Form {
	kg := unit.MustParse("kg")
	twin := ""
	if b.Asked.TwinRear {
		twin = "yes"
	}
	return form.Form{ID: "words", To: to, Legend: "Change the brief", Note: frozen, Do: "Keep the brief", Fields: []form.Field{
		{Name: "title", Title: "Programme", Value: b.Title, Wide: true, Needed: true},
		{Name: "client", Title: "Client", Value: b.Client},
		{Name: "ground", Title: "Ground", Value: b.Ground},
		{Name: "zone", Title: "Its time zone", Value: b.Zone, Hint: "As Europe/London; fixed once something was driven."},
		{Name: "vehicle", Title: "Vehicle, without its make", Value: b.Vehicle, Wide: true},
		{Name: "front_axle_kg", Title: "Front axle", Symbol: "kg", Value: form.Number(b.Asked.FrontKg, kg, style), Number: true, Asks: "front_axle_kg", Factor: 1, Hint: "Loaded as driven; empty: not known."},
		{Name: "rear_axle_kg", Title: "Rear axle", Symbol: "kg", Value: form.Number(b.Asked.RearKg, kg, style), Number: true, Asks: "rear_axle_kg", Factor: 1},
		{Name: "top_speed_mps", Title: "Top speed", Symbol: speed(style).Symbol(), Value: form.Number(b.Asked.TopMps, speed(style), style), Number: true, Asks: "top_speed_mps", Factor: speed(style).ToHouse(1), Hint: "Of the vehicle, not of the test."},
		{Name: "twin_rear", Title: "Twin wheels behind", Value: twin, Tick: true, Asks: "twin_rear"},
		{Name: "question", Title: "The client’s question", Value: b.Question, Wide: true},
	}}
}

// ReadWords gives the brief as it was typed; is is the one that stands.
func ReadWords(q url.Values, is app.Brief, style unit.Style) (app.Brief, error) {
	b := app.Brief{Title: q.Get("title"), Client: q.Get("client"), Ground: q.Get("ground"), Zone: q.Get("zone"), Vehicle: q.Get("vehicle"), Question: q.Get("question")}
	b.Asked = is.Asked
	if !q.Has("front_axle_kg") && !q.Has("rear_axle_kg") && !q.Has("top_speed_mps") { // words alone were sent
		return b, nil
	}
	kg := unit.MustParse("kg")
	r := &form.Reader{Typed: q}
	b.Asked.FrontKg, b.Asked.RearKg = r.Again("front_axle_kg", kg, is.Asked.FrontKg, style), r.Again("rear_axle_kg", kg, is.Asked.RearKg, style)
	b.Asked.TopMps, b.Asked.TwinRear = r.Again("top_speed_mps", speed(style), is.Asked.TopMps, style), r.Ticked("twin_rear")
	return b, r.Err
}

// Asks says what the vehicle asks of its tyres, in the reader's units; empty: nothing is known.
func Asks(b app.Brief, style unit.Style) string {
	var out []string
	kg := unit.MustParse("kg")
	for _, x := range []struct {
		name string
		v    float64
		u    unit.Unit
	}{{"front axle", b.Asked.FrontKg, kg}, {"rear axle", b.Asked.RearKg, kg}, {"top speed", b.Asked.TopMps, speed(style)}} {
		if x.v > 0 {
			out = append(out, x.name+" "+unit.Number(x.u.FromHouse(x.v), 0, style)+unit.NoBreak+x.u.Symbol())
		}
	}
	if b.Asked.TwinRear {
		out = append(out, "twin wheels behind")
	}
	return form.Sentence(strings.Join(out, ", "))
}
