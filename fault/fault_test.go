package fault_test

import (
	"errors"
	"fmt"
	"io"
	"testing"

	"example.org/bookend/fault"
)

func TestPlacesRunFromOutermostToInnermost(t *testing.T) {
	e := fault.New(fault.Invalid, "%q is no number", "12,3.4").At("column yaw").At("run.csv:%d", 14)
	if got, want := e.Error(), `run.csv:14: column yaw: "12,3.4" is no number`; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestKindAndHintSurviveWrapping(t *testing.T) {
	e := fault.New(fault.NotFound, "no control stint").WithHint("name the control with --control")
	wrapped := fmt.Errorf("compare: %w", e)
	if fault.CodeOf(wrapped) != fault.NotFound {
		t.Errorf("kind = %q", fault.CodeOf(wrapped))
	}
	if fault.HintOf(wrapped) != e.Hint {
		t.Errorf("hint = %q", fault.HintOf(wrapped))
	}
	at := fault.At(wrapped, "day1.csv")
	if at.Error() != "day1.csv: compare: no control stint" || fault.CodeOf(at) != fault.NotFound || fault.HintOf(at) != e.Hint {
		t.Errorf("At lost something: %v, %q, %q", at, fault.CodeOf(at), fault.HintOf(at))
	}
	if !errors.Is(at, e) {
		t.Error("At lost the cause")
	}
}

func TestAtDoesNotChangeTheFaultItIsGiven(t *testing.T) {
	e := fault.New(fault.Invalid, "odd").At("inner")
	_ = fault.At(e, "outer")
	if e.Where != "inner" {
		t.Errorf("the original now says %q", e.Where)
	}
}

func TestForeignErrorsAreInternalAndNilIsNothing(t *testing.T) {
	if fault.CodeOf(io.EOF) != fault.Internal || fault.CodeOf(nil) != "" || fault.At(nil, "x") != nil {
		t.Error("foreign or nil errors are misjudged")
	}
	e := fault.New(fault.Internal, "reading: %w", io.ErrUnexpectedEOF)
	if !errors.Is(e, io.ErrUnexpectedEOF) {
		t.Error("New lost the cause behind %w")
	}
}
