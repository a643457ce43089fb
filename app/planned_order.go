package app

import (
	"context"
	"encoding/json"
	"math"
	"slices"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// KindOrder is the kind of entry that takes an order into the programme, at
// version 1. Its body is OrderEntry.
const KindOrder = "order"

// OrderEntry says in which order a test is to be driven. A later one of the same
// test takes its place; the older stays in the chain.
type OrderEntry struct {
	Test     string        `json:"test"`
	Sequence []string      `json:"sequence"` // codes as they are to be driven; blocks divided by "/"
	Drawn    bool          `json:"drawn"`    // by the seed; false: the evaluator's own
	Asked    string        `json:"asked,omitempty"`
	Order    OrderDocument `json:"order"` // what it was chosen from, with every setting
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

// TakeOrder takes an order into the programme: the sequence that was drawn, or the
// evaluator's own where the answer has one scored. asked is how it was asked for,
// so that it can be asked for again.
func (f *Folder) TakeOrder(ctx context.Context, test string, own []string, a *OrderAnswer, asked string) error {
	if test == "" {
		return fault.New(fault.Invalid, "it is not said which test the order is for").WithHint("name the test")
	}
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	x := OrderEntry{Test: test, Sequence: own, Drawn: len(own) == 0, Asked: asked, Order: a.Document()}
	if x.Drawn {
		block := 0
		for _, p := range a.Plan.Sequence {
			if block != 0 && p.Block != block {
				x.Sequence = append(x.Sequence, "/")
			}
			block = p.Block
			x.Sequence = append(x.Sequence, p.Code)
		}
	} else if a.Own == nil {
		return fault.New(fault.Invalid, "the order of your own was not scored").WithHint("ask for it first")
	}
	if old, ok := s.Order(test); ok && slices.Equal(old.Sequence, x.Sequence) && old.Asked == asked {
		return fault.New(fault.Conflict, "test %s is to be driven in this order already", test)
	}
	return f.put(ctx, KindOrder, "", x)
}

// OnRatio gives a difference in index points on the scale that orders and
// comparisons of ratios are computed on, that of logarithms.
func OnRatio(points float64) float64 { return math.Log1p(points / 100) }
