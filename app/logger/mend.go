package logger

import (
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/signal"
	"example.org/bookend/soundness"
	"example.org/bookend/soundness/mend"
	"example.org/bookend/unit"
)

// What a word for a mend may be; the hint of every fault about one.
const mendWords = "CHANNEL:CODE accepts what bookend check proposes (yaw:offset, speed:late_channel); CHANNEL:WHAT=VALUE is your own word " +
	"(yaw:offset=0.43°/s, ay:sign, speed:scale=1.0137, steer:move=-0.12s, ay:drop@12.5..14)"

// mendsOf turns words into mends of a recording, in their order. A word is
// CHANNEL:CODE, which accepts the mends of every finding of that code about the
// channel, or CHANNEL:WHAT=VALUE@FROM..TO, which says it oneself: WHAT as package mend
// has it, the value in its unit (the channel's SI unit where none is written; s of a
// move), the time in s of the recording, each end optional.
// Of several recordings of one drive the one is meant that has the channel, and each
// mend names it.
func mendsOf(recs []*signal.Recording, words []string) ([]mend.Mend, error) {
	var found []soundness.Finding
	judged := false
	var out []mend.Mend
	for _, w := range words {
		i := strings.LastIndexByte(w, ':')
		if i < 1 || i == len(w)-1 {
			return nil, fault.New(fault.Invalid, "%q says no mend", w).WithHint("%s", mendWords)
		}
		name, say := strings.TrimSpace(w[:i]), strings.TrimSpace(w[i+1:])
		rec, c, err := having(recs, name)
		if err != nil {
			return nil, err
		}
		if own, ok, err := ownMend(c, say); err != nil {
			return nil, fault.At(err, "%s", w)
		} else if ok {
			for _, m := range own {
				m.File = rec.Name
				out = append(out, m)
			}
			continue
		}
		if !judged {
			if found, err = soundness.Judge(recs...); err != nil {
				return nil, err
			}
			judged = true
		}
		proposed := proposals(found, name, say)
		if proposed == nil {
			var has []string
			for _, f := range found {
				if word := f.Place.Channel + ":" + f.Code; len(f.Mends) > 0 && !slices.Contains(has, word) {
					has = append(has, word)
				}
			}
			err := fault.New(fault.NotFound, "no %s of channel %s is found, so nothing is proposed", say, name).At("%s", rec.Name)
			if has != nil {
				return nil, err.WithHint("proposed is: %s", strings.Join(has, ", "))
			}
			return nil, err.WithHint("%s", mendWords)
		}
		out = append(out, proposed...)
	}
	for i := range out {
		switch {
		case len(recs) == 1:
			out[i].File = "" // one recording, under whatever name it is kept
		case out[i].File == "":
			rec, _, err := having(recs, out[i].Channel)
			if err != nil {
				return nil, err
			}
			out[i].File = rec.Name
		}
	}
	return out, nil
}

// having gives the recording that has a channel, and the channel.
func having(recs []*signal.Recording, name string) (rec *signal.Recording, c *signal.Channel, err error) {
	for _, r := range recs {
		found, e := r.ByName(name)
		switch {
		case e != nil:
			err = e
		case c != nil:
			return nil, nil, fault.New(fault.Invalid, "%s and %s both have a channel %s", rec.Name, r.Name, name).
				WithHint("mend each file by itself")
		default:
			rec, c = r, found
		}
	}
	if c == nil {
		return nil, nil, err
	}
	return rec, c, nil
}

// proposals gives the mends of the findings of a code about a channel.
func proposals(found []soundness.Finding, channel, code string) []mend.Mend {
	var out []mend.Mend
	for _, f := range found {
		if f.Code == code && f.Place.Channel == channel {
			out = append(out, f.Mends...)
		}
	}
	return out
}

// ownMend reads WHAT, WHAT=VALUE, WHAT@FROM..TO and WHAT=VALUE@FROM..TO; ok is false
// for a word that is none of them, and may be the code of a finding.
func ownMend(c *signal.Channel, say string) (out []mend.Mend, ok bool, err error) {
	head, when, bounded := strings.Cut(say, "@")
	what, value, valued := strings.Cut(head, "=")
	m := mend.Mend{Channel: c.Name, What: strings.TrimSpace(what), Reason: "As said by hand."}
	switch m.What {
	case mend.Sign:
		m.Value = -1
	case mend.Drop:
	case mend.Scale, mend.Offset, mend.Move, mend.DropAbove, mend.DropBelow, mend.Split:
		if !valued {
			if bounded {
				return nil, true, fault.New(fault.Invalid, "%s has no value", m.What).WithHint("%s", mendWords)
			}
			return nil, false, nil
		}
	default:
		if valued || bounded {
			return nil, true, fault.New(fault.Invalid, "there is no mend %q", m.What).
				WithHint("there are: scale, offset, sign, move, drop, drop_above, drop_below, split")
		}
		return nil, false, nil
	}
	if valued {
		if m.What == mend.Sign || m.What == mend.Drop {
			return nil, true, fault.New(fault.Invalid, "%s takes no value", m.What).WithHint("leave the value out: CHANNEL:%s", m.What)
		}
		in := c.Unit
		switch m.What {
		case mend.Scale:
			in = ""
		case mend.Move, mend.Split:
			in = "s"
		}
		if m.Value, err = inUnit(value, in); err != nil {
			return nil, true, err
		}
	}
	if bounded {
		from, to, both := strings.Cut(when, "..")
		for _, end := range []struct{ what, text string }{{mend.From, from}, {mend.To, to}} {
			text := strings.TrimSuffix(strings.TrimSpace(end.text), "s")
			if text == "" {
				continue
			}
			t, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
			if err != nil || !both {
				return nil, true, fault.New(fault.Invalid, "%q is no time of the recording", when).WithHint("in s from its beginning, as bookend check has them: @12.5..14")
			}
			out = append(out, mend.Mend{Channel: c.Name, What: end.what, Value: t})
		}
	}
	return append(out, m), true, nil
}

// inUnit reads a value, in a unit of its own or else in the one given; none is a pure
// number.
func inUnit(text, symbol string) (float64, error) {
	v, u, err := unit.ParseQuantity(text)
	if err != nil {
		return 0, err
	}
	if u == (unit.Unit{}) {
		return v, nil
	}
	if symbol == "" {
		return 0, fault.New(fault.Invalid, "%q has a unit, and a plain number is wanted", text).WithHint("a factor, for example scale=1.02")
	}
	house, err := unit.Parse(symbol)
	if err != nil {
		return 0, err
	}
	return unit.Convert(v, u, house)
}

// unsoundness tells what is wrong with the recordings of one drive.
func unsoundness(recs []*signal.Recording) (caveat.List, error) {
	found, err := soundness.Judge(recs...)
	if err != nil {
		return nil, err
	}
	var doubts caveat.List
	for _, f := range found {
		doubts = append(doubts, f.Caveat)
	}
	return doubts.Within(caveat.Place{File: recs[0].Name}), nil
}

// noMends is the word that takes back what was accepted before.
const noMends = "none"

// WordsOf reads the words for mends of a recording that is imported.
func WordsOf(rec *signal.Recording, words []string) ([]mend.Mend, error) {
	if len(words) == 1 && words[0] == noMends {
		return nil, nil
	}
	return mendsOf([]*signal.Recording{rec}, words)
}
