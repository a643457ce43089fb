package app

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/order"
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
	Order    OrderDocument `json:"order"` // what it was chosen from, with every setting; of one planned anew, the order that it departs from

	Control string           `json:"control,omitempty"` // of one planned anew
	Anew    *ReorderDocument `json:"anew,omitempty"`    // why and how the rest was planned anew; nil: it is a whole order
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

// TakeOrder takes an order into the programme: the sequence that was drawn, or the
// evaluator's own where the answer has one scored. asked is how it was asked for,
// so that it can be asked for again. What the run log has driven already has to stand at
// its head.
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
	if done := s.Day.Driven(test).Codes; len(done) > len(x.Sequence) || !slices.Equal(done, x.Sequence[:len(done)]) {
		return fault.New(fault.Conflict, "of test %s %s is driven already, and the order does not begin with it", test, strings.Join(done, " ")).
			WithHint("plan the rest anew: what was driven is kept, and the deviation is logged with its reason")
	}
	if old, ok := s.Order(test); ok && slices.Equal(old.Sequence, x.Sequence) && old.Asked == asked {
		return fault.New(fault.Conflict, "test %s is to be driven in this order already", test)
	}
	return f.put(ctx, KindOrder, "", x)
}

// TakeReorder takes an order whose rest was planned anew into the programme: what was
// driven and what is to come. The deviation goes into the run log first, with its
// reason and the document it rests on.
func (f *Folder) TakeReorder(ctx context.Context, test, incident string, a *ReorderAnswer, asked string) error {
	s, err := Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	if _, err := s.Test(test); err != nil {
		return err
	}
	d := a.Document()
	x := OrderEntry{Test: test, Sequence: slices.Clone(a.sequence), Asked: asked, Control: a.control, Anew: &d, Order: OrderDocument{Settings: map[string]string{}}}
	block := strings.Count(strings.Join(a.sequence, " "), "/") + 1
	for _, p := range a.Rest.Rest {
		if len(x.Sequence) > 0 && p.Block != block {
			x.Sequence = append(x.Sequence, "/")
		}
		block = p.Block
		x.Sequence = append(x.Sequence, p.Code)
	}
	old, ok := s.Order(test)
	if ok {
		x.Order = old.Order
		if slices.Equal(old.Sequence, x.Sequence) && old.Anew != nil && old.Anew.Results.Reason == d.Results.Reason {
			return fault.New(fault.Conflict, "the rest of test %s is driven in this order already", test)
		}
	}
	document, err := json.Marshal(d)
	if err != nil {
		return fault.New(fault.Internal, "writing the order planned anew: %w", err)
	}
	if _, err := f.Replanned(ctx, test, incident, document); err != nil {
		return err
	}
	return f.put(ctx, KindOrder, "", x)
}

// Sequence gives what was driven, blocks divided by "/".
func (a *ReorderAnswer) Sequence() []string { return slices.Clone(a.sequence) }

// Beside scores an order of the evaluator's own beside the one that was found; the
// search is not begun again. Blocks are divided by "/".
func (a *OrderAnswer) Beside(own []string) (*OrderAnswer, error) {
	q := a.Plan.Request
	q.Stop = nil
	score, err := order.ScoreOrder(q, blocksOf(own))
	if err != nil {
		return nil, fault.At(err, "the order of your own")
	}
	out := *a
	out.Own = score
	return &out, nil
}

// OnRatio gives a difference in index points on the scale that orders and
// comparisons of ratios are computed on, that of logarithms.
func OnRatio(points float64) float64 { return math.Log1p(points / 100) }
