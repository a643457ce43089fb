// Package runsheet makes the paper that goes to the track from an order that is shown:
// which set is fitted when, the cautions, and the rules by which a run is stopped.
//
// It says of no code that it is the control's, since whoever drives reads it. Times are
// of the ground's clock, as text. Limits: as package report/sheet, which prints it.
package runsheet

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"

	"example.org/bookend/app/ordering"
	"example.org/bookend/fault"
	"example.org/bookend/order/day"
	"example.org/bookend/report/sheet"
	"example.org/bookend/web/orders"
	"example.org/bookend/web/orders/anew"
)

// rows turns stints into lines of the sheet.
func rows(s *sheet.Sheet, list []orders.Row, blocks bool) {
	for _, r := range list {
		x := sheet.Row{Stint: r.Stint, Set: r.Set, Fit: r.Fit, Drive: r.Drive, End: r.End}
		if x.Set == "" {
			x.Set = r.Code
		}
		if blocks {
			x.Block = r.Block
		}
		s.Rows = append(s.Rows, x)
	}
}

// begin gives a sheet with its head.
func begin(a orders.Ask, test string, q url.Values) *sheet.Sheet {
	s := &sheet.Sheet{Title: a.State.Programme.Title, Day: strings.TrimSpace(q.Get("date"))}
	if test != "" {
		s.Title = strings.TrimPrefix(s.Title+", "+test, ", ")
	}
	return s
}

func breaks(s *sheet.Sheet, t *day.Times) {
	if t == nil {
		return
	}
	for _, b := range t.Breaks {
		s.Notes = append(s.Notes, fmt.Sprintf("Break from %s to %s.", day.Clock(b.FromS), day.Clock(b.ToS)))
	}
}

func page(s *sheet.Sheet) ([]byte, error) {
	var b bytes.Buffer
	err := s.HTML(&b)
	return b.Bytes(), err
}

// Whole gives the sheet of a whole order. q is how it was asked for.
func Whole(a orders.Ask, got *ordering.Answer, q url.Values) ([]byte, error) {
	request := got.Plan.Request
	s := begin(a, a.Test, q)
	s.Runs, s.Content = request.Runs, fmt.Sprintf("Order drawn by seed %d.", request.Seed)
	if got.Own != nil {
		s.Content = "Order chosen by hand."
	}
	if got.Light != nil {
		s.Light = day.Clock(got.Light.FromS) + " to " + day.Clock(got.Light.ToS)
	}
	shown := orders.Show(got, q, a.Style)
	rows(s, shown.Rows, shown.Blocks)
	breaks(s, request.Times)
	return page(s)
}

// Rest gives the sheet of what is left of a day that was planned anew, by its page.
func Rest(a orders.Ask, p *anew.Page) ([]byte, error) {
	if !p.Shown {
		return nil, fault.New(fault.Invalid, "nothing is planned anew").WithHint("ask for it on the page first")
	}
	s := begin(a, p.Test, a.Typed)
	s.Runs, s.Content = p.Runs, "The rest, planned anew: "+strings.TrimSpace(a.Typed.Get("reason"))+"."
	rows(s, p.Rows, p.Blocks)
	return page(s)
}
