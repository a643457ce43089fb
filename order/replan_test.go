package order_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/order"
	"example.org/bookend/order/day"
)

func blocks(text string) [][]string {
	var out [][]string
	for _, b := range strings.Fields(text) {
		out = append(out, strings.Split(b, ""))
	}
	return out
}

func rest(r *order.Replanned) string {
	text := ""
	block := 0
	for _, s := range r.Rest {
		if block != 0 && s.Block != block {
			text += " "
		}
		block = s.Block
		text += s.Code
	}
	return text
}

// What is driven stays, what is left keeps the rules and the numbers of the plan,
// and the whole is as good as order can make it.
func TestReplanWithoutLoss(t *testing.T) {
	r := request(3, 2, 4, 3)
	got, err := order.Again(order.Replan{Request: r, Driven: blocks("KPQ"), Reason: "lunch was late"})
	must(t, err)
	text := rest(got)
	if !strings.HasSuffix(text, "K") || got.Rest[0].Position != 4 || got.Rest[0].Block != 1 {
		t.Errorf("%s: %+v", text, got.Rest[0])
	}
	for code, n := range map[string]int{"P": 1, "Q": 1, "R": 2} {
		if strings.Count(text, code) != n {
			t.Errorf("%s: %s is driven %d times", text, code, strings.Count(text, code))
		}
	}
	if len(got.Left) != 0 || got.Planned == nil || got.Score.Criterion > 1.3*got.Planned.Criterion {
		t.Errorf("%+v: %v, planned %v", got.Left, got.Score.Criterion, got.Planned.Criterion)
	}
	// The score is that of the whole order.
	s, err := order.ScoreOrder(r, blocks("KPQ"+text))
	must(t, err)
	if s.Criterion != got.Score.Criterion {
		t.Errorf("%v, the whole %v", got.Score.Criterion, s.Criterion)
	}
	if !got.Caveats.Has("replanned") || !strings.Contains(got.Caveats[len(got.Caveats)-1].Text, "after stint 3: lunch was late") {
		t.Errorf("%v", got.Caveats)
	}
}

// After a shower what is left begins a block of its own, opened and closed by the
// control; the open block before it stays open.
func TestReplanAfterAShower(t *testing.T) {
	r := request(3, 2, 4, 3)
	got, err := order.Again(order.Replan{Request: r, Driven: blocks("KPQ"), Fresh: true, Reason: "shower at 11:20"})
	must(t, err)
	text := rest(got)
	if text[0] != 'K' || text[len(text)-1] != 'K' || got.Rest[0].Block != 2 || !got.Caveats.Has("fresh_block") {
		t.Errorf("%s, block %d", text, got.Rest[0].Block)
	}
	for _, part := range strings.Split(text, "K") {
		if len(part) > 3 {
			t.Errorf("%s: four between controls", text)
		}
	}
}

// A lost set is not driven again; a candidate that was never driven is named as
// left out.
func TestReplanAfterALostSet(t *testing.T) {
	r := request(3, 2, 4, 3)
	got, err := order.Again(order.Replan{Request: r, Driven: blocks("KPQRK"), Lost: []string{"Q"}, Reason: "Q lost a tyre"})
	must(t, err)
	if text := rest(got); strings.Contains(text, "Q") || strings.Count(text, "P") != 1 || strings.Count(text, "R") != 1 || !strings.HasSuffix(text, "K") {
		t.Errorf("%s", text)
	}
	if len(got.Left) != 1 || got.Left[0] != (order.Candidate{Code: "Q", Repeats: 1}) || !got.Caveats.Has("stints_left_out") {
		t.Errorf("%+v", got.Left)
	}
	got, err = order.Again(order.Replan{Request: r, Driven: blocks("KPRK"), Lost: []string{"Q"}, Reason: "Q never came"})
	must(t, err)
	if !got.Caveats.Has("candidate_left_out") || len(got.Score.Candidates) != 2 {
		t.Errorf("%v", got.Caveats)
	}
	if _, err = order.Again(order.Replan{Request: r, Driven: blocks("KPQRK"), Lost: []string{"K"}, Reason: "the control is lost"}); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "the control's sets") {
		t.Errorf("%v", err)
	}
}

// Daylight and wear bound what is left: as much is driven as fits, candidates
// stay as even as can be, and a control closes.
func TestReplanWithinDaylightAndWear(t *testing.T) {
	r := request(3, 3, 5, 3)
	// Each stint takes 30 min; from 13:00 to 16:00 there are six.
	r.Times = &day.Times{StartS: 13 * 3600, RunS: 1800, Light: &day.Span{FromS: 8 * 3600, ToS: 16 * 3600}}
	got, err := order.Again(order.Replan{Request: r, Driven: blocks("KPQRK"), Reason: "two hours were lost"})
	must(t, err)
	text := rest(got)
	if len(text) > 6 || !strings.HasSuffix(text, "K") || strings.Count(text, "K") > 2 {
		t.Errorf("%s", text)
	}
	left := 0
	for _, c := range got.Left {
		left += c.Repeats
	}
	if left != 6-(len(text)-strings.Count(text, "K")) {
		t.Errorf("%s, left out %+v", text, got.Left)
	}
	if s := got.Rest[0].Slot; s == nil || day.Clock(s.FitS) != "13:00" || day.Clock(got.Rest[len(got.Rest)-1].Slot.EndS) > "16:00" {
		t.Errorf("%+v", got.Rest[0].Slot)
	}
	got, err = order.Again(order.Replan{Request: request(3, 3, 5, 3), Driven: blocks("KPQRK"), Left: map[string]int{"P": 0, "Q": 1}, Reason: "P is worn"})
	must(t, err)
	if text := rest(got); strings.Contains(text, "P") || strings.Count(text, "Q") != 1 || strings.Count(text, "R") != 2 {
		t.Errorf("%s", text)
	}
	// No time at all: what is open may still be closed, or nothing is left.
	r.Times.StartS = 15.5 * 3600
	got, err = order.Again(order.Replan{Request: r, Driven: blocks("KPQRKP"), Reason: "dusk"})
	must(t, err)
	if text := rest(got); text != "K" {
		t.Errorf("%s", text)
	}
	r.Times.StartS = 15.9 * 3600
	if _, err = order.Again(order.Replan{Request: r, Driven: blocks("KPQRKP"), Reason: "night"}); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "the time that is left") {
		t.Errorf("%v", err)
	}
}

func TestBadReplans(t *testing.T) {
	r := request(2, 1, 3, 3)
	for i, p := range []order.Replan{
		{Request: r, Driven: blocks("KP")},
		{Request: r, Driven: blocks("KX"), Reason: "x"},
		{Request: r, Driven: blocks("KP"), Lost: []string{"X"}, Reason: "x"},
		{Request: r, Driven: blocks("KP"), Left: map[string]int{"X": 1}, Reason: "x"},
		{Request: order.Request{}, Reason: "x"},
	} {
		if _, err := order.Again(p); err == nil {
			t.Errorf("%d was taken", i)
		}
	}
}

// Candidates that fill every place between the controls that the trade's rule leaves
// are found an order: twelve of them twice, three between nine controls.
func TestFullOrderIsFound(t *testing.T) {
	r := order.Request{Control: "K", ControlStints: 9, MostBetween: 3}
	for _, c := range "ABCDEFGHILMN" {
		r.Candidates = append(r.Candidates, order.Candidate{Code: string(c), Repeats: 2})
	}
	p, err := order.Make(r)
	if err != nil {
		t.Fatal(err)
	}
	between, count := 0, map[string]int{}
	for i, s := range p.Sequence {
		count[s.Code]++
		if between++; s.Code == "K" {
			between = 0
		}
		if between > 3 || i > 0 && p.Sequence[i-1].Code == s.Code || (i == 0 || i == len(p.Sequence)-1) && s.Code != "K" {
			t.Fatalf("stint %d breaks a rule: %v", i+1, p.Sequence)
		}
	}
	if len(p.Sequence) != 33 || count["K"] != 9 || count["N"] != 2 {
		t.Errorf("driven: %v", count)
	}
}

// A search for the rest that nobody waits for gives up.
func TestReplanStops(t *testing.T) {
	stop := make(chan struct{})
	close(stop)
	r := order.Request{Control: "K", ControlStints: 9, MostBetween: 3, Stop: stop}
	for _, c := range "ABCDEFGHILMN" {
		r.Candidates = append(r.Candidates, order.Candidate{Code: string(c), Repeats: 2})
	}
	if _, err := order.Again(order.Replan{Request: r, Driven: [][]string{{"K", "A", "B"}}, Reason: "shower"}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped, it gives %v", err)
	}
}
