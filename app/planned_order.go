package app

import (
	"encoding/json"
	"slices"

	"example.org/bookend/app/ordered"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// KindOrder is the kind of entry that takes an order into the programme, at
// version 1. Its body is OrderEntry.
const KindOrder = "order"

// OrderEntry says in which order a test is to be driven. A later one of the same
// test takes its place; the older stays in the chain.
type OrderEntry struct {
	Test     string                `json:"test"`
	Sequence []string              `json:"sequence"` // codes as they are to be driven; blocks divided by "/"
	Drawn    bool                  `json:"drawn"`    // by the seed; false: the evaluator's own
	Asked    string                `json:"asked,omitempty"`
	Order    ordered.OrderDocument `json:"order"` // what it was chosen from, with every setting; of one planned anew, the order that it departs from

	Control string                   `json:"control,omitempty"` // of one planned anew
	Anew    *ordered.ReorderDocument `json:"anew,omitempty"`    // why and how the rest was planned anew; nil: it is a whole order
}

// ControlCode gives the code of the control.
func (x OrderEntry) ControlCode() string {
	if x.Control != "" {
		return x.Control
	}
	return x.Order.Settings["control"]
}

// TakenOrder is an order that was taken into the programme.
type TakenOrder struct {
	OrderEntry
	Person string
	At     string // when, RFC 3339, by the server's clock
}

// Order gives the order that holds for a test.
func (s *State) Order(test string) (TakenOrder, bool) {
	for _, o := range slices.Backward(s.Orders) {
		if o.Test == test {
			return o, true
		}
	}
	return TakenOrder{}, false
}

// OrderedTests gives the tests whose order was taken into the programme, as they
// first were.
func (s *State) OrderedTests() []string {
	var out []string
	for _, o := range s.Orders {
		if !slices.Contains(out, o.Test) {
			out = append(out, o.Test)
		}
	}
	return out
}

// applyOrder takes an entry about orders; ok is false for every other kind.
func (s *State) applyOrder(e programme.Entry) (ok bool, err error) {
	if e.Kind != KindOrder {
		return false, nil
	}
	var x OrderEntry
	if err := json.Unmarshal(e.Body, &x); err != nil {
		return true, fault.New(fault.Internal, "reading the entry: %w", err)
	}
	s.Orders = append(s.Orders, TakenOrder{OrderEntry: x, Person: e.Author, At: stamp(e.ServerTime)})
	return true, nil
}
