// Package fault holds the five codes of error that bookend answers with, and
// the hint that goes with each. Command line and web map the codes to
// documented exit codes and statuses; no other room decides on either.
//
// A fault says what was attempted and where (file and line, channel, run,
// field), then what to do. Doubt is not a fault: what a reader must merely
// know about a number is a caveat.
package fault

import (
	"errors"
	"fmt"
)

// Code is one of the five codes of fault.
type Code string

// The five codes, and when each is meant.
const (
	Invalid     Code = "invalid"     // the input or the request is wrong and can be mended by whoever gave it
	NotFound    Code = "not_found"   // what was named is not there
	Conflict    Code = "conflict"    // it clashes with what is already kept
	Unsupported Code = "unsupported" // it is understood, but bookend does not do it
	Internal    Code = "internal"    // a mistake of the program or of the machine
)

// Error is a fault: its code, where it arose, what is wrong, and what to do.
type Error struct {
	Code  Code
	Where string // "run.csv:14", "run.csv: channel yaw", "stint 3, run 2"; may be empty
	What  string // one sentence without a full stop
	Hint  string // what to do about it; may be empty
	Err   error  // the cause, if another error is behind it
}

// New makes a fault of a code; the text is one sentence without a full stop.
// An %w verb keeps the cause for errors.Is and errors.As.
func New(code Code, format string, args ...any) *Error {
	err := fmt.Errorf(format, args...)
	return &Error{Code: code, What: err.Error(), Err: errors.Unwrap(err)}
}

// At says where the fault arose, outermost place first: e.At("run.csv:14").
// Applied twice it puts the new place before the old one.
func (e *Error) At(format string, args ...any) *Error {
	where := fmt.Sprintf(format, args...)
	if e.Where != "" {
		where += ": " + e.Where
	}
	e.Where = where
	return e
}

// WithHint says what to do about the fault.
func (e *Error) WithHint(format string, args ...any) *Error {
	e.Hint = fmt.Sprintf(format, args...)
	return e
}

// Error gives place and sentence; the hint is kept apart for the faces.
func (e *Error) Error() string {
	if e.Where == "" {
		return e.What
	}
	return e.Where + ": " + e.What
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// CodeOf gives the code of the first fault in the chain of err, Internal where
// there is none, and the empty code for nil.
func CodeOf(err error) Code {
	if err == nil {
		return ""
	}
	var e *Error
	if errors.As(err, &e) {
		return e.Code
	}
	return Internal
}

// HintOf gives the hint of the first fault in the chain of err that has one.
func HintOf(err error) string {
	for err != nil {
		var e *Error
		if !errors.As(err, &e) {
			return ""
		}
		if e.Hint != "" {
			return e.Hint
		}
		err = e.Err
	}
	return ""
}

// At puts a place before whatever err says, keeping its code and hint.
func At(err error, format string, args ...any) error {
	if err == nil {
		return nil
	}
	where := fmt.Sprintf(format, args...)
	var e *Error
	if errors.As(err, &e) && e == err {
		c := *e
		return c.At("%s", where)
	}
	return &Error{Code: CodeOf(err), Where: where, What: err.Error(), Hint: HintOf(err), Err: err}
}
