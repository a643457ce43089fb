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
	Test     string           `json:"test"`
	Sequence []string         `json:"sequence"` // codes as they are to be driven; blocks divided by "/"
	Drawn    bool             `json:"drawn"`    // by the seed; false: the evaluator's own
	Asked    string           `json:"asked,omitempty"`
	Order    ordered.Document `json:"order"` // what it was chosen from, with every setting; of one planned anew, the order that it departs from

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

// Coming gives the codes that a test's order still has before it; nothing where no
// order was taken, where the day went another way than the order, or where its rest
// is to be planned anew.
func (s *State) Coming(test string) []string {
	o, ok := s.Order(test)
	if !ok {
		return nil
	}
	done := s.Day.Driven(test)
	if n := len(done.Codes); n > len(o.Sequence) || !slices.Equal(done.Codes, o.Sequence[:n]) {
		return nil
	}
	rest := o.Sequence[len(done.Codes):]
	if done.Fresh && (len(rest) == 0 || rest[0] != "/") {
		return nil
	}
	rest = slices.DeleteFunc(slices.Clone(rest), func(c string) bool { return c == "/" })
	if of := s.Day.Of(test); len(of) > 0 {
		now := of[len(of)-1]
		switch {
		case len(now.Runs) > 0: // it counts as driven, or is to be driven again
		case len(rest) == 0 || rest[0] != now.Code:
			return nil
		default:
			rest = rest[1:]
		}
	}
	return rest
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
