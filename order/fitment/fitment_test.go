package fitment_test

import (
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/order/fitment"
)

// Load index 91 is 615 kg and speed symbol V 240 km/h (ETRTO and UN R30 tables, as
// package tyre has them): a 900 kg axle puts 450 kg on a tyre, 73 % of it.
func TestUses(t *testing.T) {
	f, _, err := fitment.Parse([]string{"205/55 R16 91V"}, []string{"front: 900 kg: 230 kPa", "rear:1000kg:2.4bar:350kPa"}, 130/3.6)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Axles) != 2 || f.Axles[0].Kg != 900 || f.Axles[0].ColdPa != 230e3 || f.Axles[1].ColdPa != 240e3 || f.Axles[1].MostColdPa != 350e3 {
		t.Errorf("axles: %+v", f.Axles)
	}
	u := fitment.Uses(f)
	if len(u) != 2 || u[0].MayKg != 615 || u[0].LoadKg != 450 || u[1].LoadKg != 500 || u[0].TopMps < 66.6 || u[0].TopMps > 66.7 || u[0].Doubted {
		t.Errorf("uses: %+v", u)
	}
	f, _, err = fitment.Parse([]string{"205/55 R16"}, nil, 20)
	if err != nil {
		t.Fatal(err)
	}
	if u := fitment.Uses(f); len(u) != 1 || !u[0].Doubted || u[0].MayKg != 0 {
		t.Errorf("without marks: %+v", u)
	}
}

// What cannot be read is an Invalid fault that names its field.
func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		sizes, axles []string
		speed        float64
		field, says  string
	}{
		{nil, nil, 30, fitment.Sizes, "no size"},
		{[]string{"205/55 R16 91V"}, nil, 0, fitment.Speed, "no speed"},
		{[]string{"wide"}, nil, 30, fitment.Sizes, "wide"},
		{[]string{"205/55 R16 91V"}, []string{"front"}, 30, fitment.Axles, "front"},
		{[]string{"205/55 R16 91V"}, []string{": 900 kg"}, 30, fitment.Axles, "900 kg"},
		{[]string{"205/55 R16 91V"}, []string{"front: 900"}, 30, fitment.Axles, "900"},
		{[]string{"205/55 R16 91V"}, []string{"front: 900 kg: 3 m"}, 30, fitment.Axles, "3 m"},
		{[]string{"205/55 R16 91V"}, []string{"front: 900 kg: 1 bar: 2 bar: 3 bar"}, 30, fitment.Axles, "3 bar"},
	} {
		_, field, err := fitment.Parse(c.sizes, c.axles, c.speed)
		if fault.CodeOf(err) != fault.Invalid || field != c.field || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v %v %v: %q, %v", c.sizes, c.axles, c.speed, field, err)
		}
	}
}
