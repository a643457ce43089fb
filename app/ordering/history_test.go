package ordering

import (
	"math"
	"testing"

	"example.org/bookend/app/groundbook"
	"example.org/bookend/order"
	"example.org/bookend/programme"
)

// The ground's record becomes a history row by row, whatever the names, and orders take
// their scatter from it: three points about a straight line leave (a - 2b + c)²/6 on one
// degree of freedom each (least squares, by hand).
func TestRecordAsHistory(t *testing.T) {
	k := groundbook.KeyedStints{Key: groundbook.RecordKey{Ground: "Skerry Moor", Measure: "distance"}}
	values := [][3]float64{{31.9, 32.5, 32.2}, {30.0, 30.1, 30.6}}
	want := 0.0
	for i, v := range values {
		for j, x := range v {
			k.Stints = append(k.Stints, groundbook.RecordStint{Programme: string(rune('a' + i)), Block: `day "1", dry`, Position: float64(1 + 3*j), Value: x})
		}
		d := v[0] - 2*v[1] + v[2]
		want += d * d / 6 / 2
	}
	rec, _, err := k.History().Record("", "")
	if err != nil {
		t.Fatal(err)
	}
	own, err := k.Rows().Hash()
	if err != nil {
		t.Fatal(err)
	}
	rec.Name = k.Rows().Name
	for i := range rec.Rows {
		rec.Rows[i].Line = 0
	}
	if sum, err := rec.Hash(); err != nil || sum != own {
		t.Errorf("the rows are %+v, %v", rec.Rows, err)
	}
	q := Request{Scale: programme.Difference, Unit: "m", History: k.History()}
	q.Control, q.Candidates, q.ControlStints = "K", []order.Candidate{{Code: "P", Repeats: 2}}, 3
	a, err := Order(q)
	if err != nil {
		t.Fatal(err)
	}
	if s := a.Plan.Request.Scatter; math.Abs(s.StintSD*s.StintSD-want) > 1e-12 || s.StintDF != 2 || len(a.Inputs) != 1 {
		t.Errorf("the scatter is %+v, not %v on 2 degrees of freedom", s, math.Sqrt(want))
	}
}
