package rack

import (
	"slices"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

var three = []programme.Set{{ID: "K1", Code: "K", Size: "205/55 R16 91V"}, {ID: "P1", Code: "P"}, {ID: "P2", Code: "P"}}

// What holds a set is this project's own rule, by what was driven, frozen and chosen.
func TestWhatHoldsASet(t *testing.T) {
	for _, c := range []struct {
		name, id string
		h        Holds
		why      string
	}{
		{"nothing", "P1", Holds{}, ""},
		{"driven", "P1", Holds{Driven: map[string]string{"P1": Stint("2", "wet-stop")}}, "it was driven, as stint 2 of test wet-stop"},
		{"its twin was driven", "P1", Holds{Driven: map[string]string{"P2": Stint("2", "wet-stop")}}, ""},
		{"logged", "P2", Holds{Logged: []string{"P2"}}, "run log"},
		{"the plan's control", "K1", Holds{Control: "K"}, "the frozen plan has control K"},
		{"the plan's control is another", "P1", Holds{Control: "K"}, ""},
		{"an order drives K", "K1", Holds{Ordered: map[string]string{"K": "wet-stop"}}, "order of test wet-stop"},
		{"an order drives P, which two sets bear", "P1", Holds{Ordered: map[string]string{"P": "wet-stop"}}, ""},
	} {
		got := c.h.Fast(three, c.id)
		if got != c.why && (c.why == "" || !strings.Contains(got, c.why)) {
			t.Errorf("%s: %q, want %q", c.name, got, c.why)
		}
		_, err := Away(three, c.id, c.h)
		if (fault.CodeOf(err) == fault.Conflict) != (c.why != "") {
			t.Errorf("%s: taken away: %v", c.name, err)
		}
		_, err = Put(three, c.id, programme.Set{ID: "X9", Code: "X"}, c.h)
		if (fault.CodeOf(err) == fault.Conflict) != (c.why != "") {
			t.Errorf("%s: called otherwise: %v", c.name, err)
		}
		// Size and note can always be put right.
		i := slices.IndexFunc(three, func(s programme.Set) bool { return s.ID == c.id })
		right := three[i]
		right.Size, right.Note = "205/55r16 94v xl", "broken in"
		all, err := Put(three, c.id, right, c.h)
		if err != nil || all[i].Size != "205/55 R16 94V XL" || all[i].Note != "broken in" || len(all) != 3 {
			t.Errorf("%s: put right: %v %+v", c.name, err, all)
		}
	}
	if three[0].Note != "" || len(three) != 3 {
		t.Error("the rack that was given is changed")
	}
}

func TestWhatIsNoSet(t *testing.T) {
	for _, c := range []struct {
		name  string
		s     programme.Set
		h     Holds
		code  fault.Code
		where string
	}{
		{"no name", programme.Set{Code: "W"}, Holds{}, fault.Invalid, "name"},
		{"a long name", programme.Set{ID: strings.Repeat("P", 41), Code: "W"}, Holds{}, fault.Invalid, "name"},
		{"no code", programme.Set{ID: "W1"}, Holds{}, fault.Invalid, "code"},
		{"a code of two words", programme.Set{ID: "W1", Code: "W 1"}, Holds{}, fault.Invalid, "code"},
		{"a code with a stroke", programme.Set{ID: "W1", Code: "W/1"}, Holds{}, fault.Invalid, "code"},
		{"a code that is not sealed", programme.Set{ID: "W1", Code: "W"}, Holds{Sealed: []string{"A", "C"}}, fault.Conflict, "code"},
		{"a maker's word in the size", programme.Set{ID: "W1", Code: "W", Size: "205/55 R16 91V Grip"}, Holds{}, fault.Invalid, "size"},
		{"half a size", programme.Set{ID: "W1", Code: "W", Size: "205/55"}, Holds{}, fault.Invalid, "size"},
		{"a control character", programme.Set{ID: "W1", Code: "W", Note: "a\x00b"}, Holds{}, fault.Invalid, "note"},
		{"a name that is taken", programme.Set{ID: "P1", Code: "W"}, Holds{}, fault.Conflict, "name"},
		{"a sealed code", programme.Set{ID: "W1", Code: "C"}, Holds{Sealed: []string{"A", "C"}}, "", ""},
		{"as it should be", programme.Set{ID: " W1 ", Code: "W", Size: "195/75 r16c 107/105r"}, Holds{}, "", ""},
	} {
		all, err := Put(three, "", c.s, c.h)
		if fault.CodeOf(err) != c.code || c.where != "" && !strings.HasPrefix(err.Error(), c.where+": ") {
			t.Errorf("%s: %v", c.name, err)
		}
		if err == nil && (len(all) != 4 || all[3].ID != "W1") {
			t.Errorf("%s: %+v", c.name, all)
		}
	}
	if _, err := Put(three, "X", programme.Set{ID: "X", Code: "X"}, Holds{}); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
	if _, err := Away(nil, "X", Holds{}); fault.CodeOf(err) != fault.NotFound {
		t.Error(err)
	}
}
