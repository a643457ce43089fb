// Package rack keeps the tyre sets of a programme as the brief lists them: which there
// are, under which code each is driven, what size it is, and what keeps it as it is.
//
// A set that was driven, whose tyres stand in the run log, or that alone bears a code
// which the frozen plan or a chosen order asks for keeps its name and its code; size and
// note can be put right at any time, since every entry is kept. Codes that were sealed are
// the only ones there are. A size is read by its grammar (package tyre) and takes no
// other word, so that no maker's name stands in it; a note is free text, and what it gives
// away is on whoever writes it. Bounds are this project's own.
package rack

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/tyre"
)

// Holds is what keeps sets as they are.
type Holds struct {
	Driven  map[string]string // by set: the stint that it was driven in, in words
	Logged  []string          // sets whose tyres stand in the run log
	Control string            // code that the frozen plan has for the control; empty: none is frozen
	Ordered map[string]string // by code: the test whose chosen order drives it
	Sealed  []string          // the sealed letters; nil: codes are not sealed
}

// Fast says why a set keeps its name and code and stays in the rack; empty: nothing holds it.
func (h Holds) Fast(all []programme.Set, id string) string {
	if at := h.Driven[id]; at != "" {
		return "it was driven, " + at
	}
	if slices.Contains(h.Logged, id) {
		return "its tyres stand in the run log"
	}
	i := slices.IndexFunc(all, func(s programme.Set) bool { return s.ID == id })
	if i < 0 {
		return ""
	}
	code := all[i].Code
	for j, s := range all {
		if j != i && s.Code == code {
			return "" // another set bears the code
		}
	}
	if code == h.Control && code != "" {
		return "the frozen plan has control " + code + ", and no other set bears that code"
	}
	if test := h.Ordered[code]; test != "" {
		return "the order of test " + test + " drives " + code + ", and no other set bears that code"
	}
	return ""
}

// Bounds of what is typed, in characters.
const (
	mostName = 40
	mostCode = 12
	mostNote = 300
	mostSets = 200
)

// Put gives the rack with a set in it: in the place of the one called was, or behind the
// others where was is empty. The size is written in one form.
func Put(all []programme.Set, was string, s programme.Set, h Holds) ([]programme.Set, error) {
	s.ID, s.Code, s.Size, s.Note = strings.TrimSpace(s.ID), strings.TrimSpace(s.Code), strings.TrimSpace(s.Size), strings.TrimSpace(s.Note)
	at := -1
	if was != "" {
		if at = slices.IndexFunc(all, func(o programme.Set) bool { return o.ID == was }); at < 0 {
			return nil, missing(all, was)
		}
	}
	if err := check(&s, h); err != nil {
		return nil, err
	}
	for i, o := range all {
		if i != at && o.ID == s.ID {
			return nil, fault.New(fault.Conflict, "there is a set %s already", s.ID).At("name").WithHint("each set of four tyres has a name of its own: P1, P2")
		}
	}
	if at < 0 {
		if len(all) >= mostSets {
			return nil, fault.New(fault.Unsupported, "a programme has no more than %d sets", mostSets).WithHint("take away one that was not driven, or begin another programme")
		}
		return append(slices.Clone(all), s), nil
	}
	if old := all[at]; old.ID != s.ID || old.Code != s.Code {
		field := "name"
		if old.ID == s.ID {
			field = "code"
		}
		if why := h.Fast(all, was); why != "" {
			return nil, fault.New(fault.Conflict, "set %s keeps its name and code: %s", was, why).At("%s", field).WithHint("size and note can be put right; another set of tyres is another set")
		}
	}
	out := slices.Clone(all)
	out[at] = s
	return out, nil
}

// check refuses what is no set, and writes its size in one form.
func check(s *programme.Set, h Holds) error {
	for _, x := range []struct {
		field, text string
		most        int
	}{{"name", s.ID, mostName}, {"code", s.Code, mostCode}, {"note", s.Note, mostNote}} {
		if n := len([]rune(x.text)); n > x.most {
			return fault.New(fault.Invalid, "it has %d characters", n).At("%s", x.field).WithHint("no more than %d", x.most)
		}
		if strings.ContainsFunc(x.text, unicode.IsControl) {
			return fault.New(fault.Invalid, "it holds a character that cannot be printed").At("%s", x.field).WithHint("type it anew: it may have come along from where it was copied")
		}
	}
	if s.ID == "" {
		return fault.New(fault.Invalid, "the set has no name").At("name").WithHint("for example P1: the first set of tyre P")
	}
	if s.Code == "" || strings.ContainsAny(s.Code, " ,;:/\t") {
		return fault.New(fault.Invalid, "%q is no code", s.Code).At("code").WithHint("the letter under which it is driven, without blanks and punctuation: P")
	}
	if h.Sealed != nil && !slices.Contains(h.Sealed, s.Code) {
		return fault.New(fault.Conflict, "%s is none of the sealed codes", s.Code).At("code").WithHint("they are: %s", strings.Join(h.Sealed, ", "))
	}
	if s.Size == "" {
		return nil
	}
	size, err := tyre.ParseSize(s.Size)
	if err != nil {
		return fault.At(err, "size")
	}
	s.Size = size.String()
	return nil
}

// Away gives the rack without a set.
func Away(all []programme.Set, id string, h Holds) ([]programme.Set, error) {
	at := slices.IndexFunc(all, func(o programme.Set) bool { return o.ID == id })
	if at < 0 {
		return nil, missing(all, id)
	}
	if why := h.Fast(all, id); why != "" {
		return nil, fault.New(fault.Conflict, "set %s stays: %s", id, why).WithHint("what was driven is kept; a set that cannot be driven any more is entered on the Day page")
	}
	return slices.Delete(slices.Clone(all), at, at+1), nil
}

func missing(all []programme.Set, id string) error {
	var ids []string
	for _, s := range all {
		ids = append(ids, s.ID)
	}
	hint := "none is listed yet"
	if len(ids) > 0 {
		hint = "there are: " + strings.Join(ids, ", ")
	}
	return fault.New(fault.NotFound, "there is no set %q", id).WithHint("%s", hint)
}

// Stint names a stint as a set's hold does.
func Stint(stint, test string) string { return fmt.Sprintf("as stint %s of test %s", stint, test) }
