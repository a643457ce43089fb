package ordering

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/ordered"
	"example.org/bookend/fault"
	"example.org/bookend/order"
)

// TakeOrder takes an order into the programme: the sequence that was drawn, or the
// evaluator's own where the answer has one scored. asked is how it was asked for,
// so that it can be asked for again. What the run log has driven already has to stand at
// its head.
func TakeOrder(ctx context.Context, f *app.Folder, test string, own []string, a *Answer, asked string) error {
	if test == "" {
		return fault.New(fault.Invalid, "it is not said which test the order is for").WithHint("name the test")
	}
	s, err := app.Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	x := app.OrderEntry{Test: test, Sequence: own, Drawn: len(own) == 0, Asked: asked, Order: a.Document()}
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
		return fault.New(fault.Conflict, "test %s is to be driven in this order already", test).WithHint("there is nothing to take; another seed draws another order")
	}
	return f.Put(ctx, app.KindOrder, "", x)
}

// TakeReorder takes an order whose rest was planned anew into the programme: what was
// driven and what is to come. The deviation goes into the run log first, with its
// reason and the document it rests on.
func TakeReorder(ctx context.Context, f *app.Folder, test, incident string, a *ReorderAnswer, asked string) error {
	s, err := app.Rebuild(ctx, f.Store)
	if err != nil {
		return err
	}
	if _, err := s.Test(test); err != nil {
		return err
	}
	d := a.Document()
	x := app.OrderEntry{Test: test, Sequence: slices.Clone(a.sequence), Asked: asked, Control: a.control, Anew: &d, Order: ordered.Document{Settings: map[string]string{}}}
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
			return fault.New(fault.Conflict, "the rest of test %s is driven in this order already", test).WithHint("there is nothing to take; plan anew from what was driven since")
		}
	}
	document, err := json.Marshal(d)
	if err != nil {
		return fault.New(fault.Internal, "writing the order planned anew: %w", err)
	}
	if _, err := Replanned(ctx, f, test, incident, document); err != nil {
		return err
	}
	return f.Put(ctx, app.KindOrder, "", x)
}

// Sequence gives what was driven, blocks divided by "/".
func (a *ReorderAnswer) Sequence() []string { return slices.Clone(a.sequence) }

// Beside scores an order of the evaluator's own beside the one that was found; the
// search is not begun again. Blocks are divided by "/".
func (a *Answer) Beside(own []string) (*Answer, error) {
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
