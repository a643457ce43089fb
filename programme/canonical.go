package programme

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/bookend/fault"
)

// Canonical gives the one JSON form of v: object keys in byte order, no white
// space, numbers as encoding/json prints them (shortest that reads back the
// same), no HTML escapes. Numbers that came as json.Number or json.RawMessage
// keep their digits. NaN and infinity are refused.
//
// It follows RFC 8785 except that keys are ordered by their UTF-8 bytes, which
// differs only beyond the basic plane, and that integers keep all their digits.
func Canonical(v any) ([]byte, error) {
	first, err := json.Marshal(v)
	if err != nil {
		return nil, fault.New(fault.Internal, "writing canonical JSON: %w", err)
	}
	c := canonical{in: first, out: make([]byte, 0, len(first))}
	if err := c.value(); err != nil {
		return nil, fault.New(fault.Internal, "writing canonical JSON: %w", err)
	}
	return c.out, nil
}

// canonical turns JSON as encoding/json writes it, sound and without white space,
// into its one form, in one pass.
type canonical struct {
	in, out []byte
	at      int      // in in
	members []member // of the objects that are open, the outermost first
	scratch []byte
}

func (c *canonical) value() error {
	switch c.in[c.at] {
	case '{':
		return c.object()
	case '[':
		c.take(1)
		for c.in[c.at] != ']' {
			if c.in[c.at] == ',' {
				c.take(1)
			}
			if err := c.value(); err != nil {
				return err
			}
		}
		c.take(1)
		return nil
	case '"':
		return c.text()
	}
	end := c.at
	for end < len(c.in) && c.in[end] != ',' && c.in[end] != '}' && c.in[end] != ']' {
		end++
	}
	c.take(end - c.at)
	return nil
}

// take copies what comes next as it is.
func (c *canonical) take(n int) {
	c.out = append(c.out, c.in[c.at:c.at+n]...)
	c.at += n
}

// member is one member of an object in the output: its key as it reads, and where the
// bytes from its key's quote to the end of its value lie. A key without escapes stands
// in the output and is nowhere else.
type member struct {
	key          string // where it has escapes
	from, to     int
	begins, ends int // of a key without escapes
}

func (c *canonical) compare(a, b *member) int {
	switch {
	case a.ends > 0 && b.ends > 0:
		return bytes.Compare(c.out[a.begins:a.ends], c.out[b.begins:b.ends])
	case a.ends > 0:
		return strings.Compare(string(c.out[a.begins:a.ends]), b.key)
	case b.ends > 0:
		return strings.Compare(a.key, string(c.out[b.begins:b.ends]))
	}
	return strings.Compare(a.key, b.key)
}

// object writes the members as they come and then puts them in order. Of members
// with one key the last stands, as encoding/json reads them.
func (c *canonical) object() error {
	c.take(1)
	begin, open := len(c.out), len(c.members)
	ordered := true
	for c.in[c.at] != '}' {
		if c.in[c.at] == ',' {
			c.at++
		}
		m := member{from: len(c.out)}
		if err := c.text(); err != nil {
			return err
		}
		if key := c.out[m.from:]; bytes.IndexByte(key, '\\') < 0 {
			m.begins, m.ends = m.from+1, len(c.out)-1
		} else if err := json.Unmarshal(key, &m.key); err != nil {
			return err
		}
		c.take(1) // the colon
		if err := c.value(); err != nil {
			return err
		}
		m.to = len(c.out)
		if n := len(c.members); n > open && c.compare(&c.members[n-1], &m) >= 0 {
			ordered = false
		}
		c.members = append(c.members, m)
		c.out = append(c.out, ',')
	}
	list := c.members[open:]
	if !ordered {
		slices.SortStableFunc(list, func(a, b member) int { return c.compare(&a, &b) })
		c.scratch = c.scratch[:0]
		for i := range list {
			if i+1 < len(list) && c.compare(&list[i], &list[i+1]) == 0 {
				continue
			}
			c.scratch = append(append(c.scratch, c.out[list[i].from:list[i].to]...), ',')
		}
		c.out = append(c.out[:begin], c.scratch...)
	}
	if len(list) > 0 {
		c.out = c.out[:len(c.out)-1]
	}
	c.members = c.members[:open]
	c.take(1)
	return nil
}

// text writes a string. encoding/json escapes <, > and &, which the one form does not;
// other escapes that it does not write itself are read and written anew.
func (c *canonical) text() error {
	begin, from := c.at, len(c.out)
	anew, plain := false, true
	c.take(1)
	for {
		end := c.at
		for {
			b := c.in[end]
			if b == '"' || b == '\\' {
				break
			}
			plain = plain && b < utf8.RuneSelf
			end++
		}
		c.take(end - c.at)
		if c.in[c.at] == '"' {
			c.take(1)
			break
		}
		switch c.in[c.at+1] {
		case '"', '\\', 'b', 'f', 'n', 'r', 't':
			c.take(2)
		case 'u':
			switch code := string(c.in[c.at+2 : c.at+6]); code {
			case "003c", "003e", "0026":
				c.out = append(c.out, map[string]byte{"003c": '<', "003e": '>', "0026": '&'}[code])
				c.at += 6
			default:
				anew = true
				c.take(6)
			}
		default:
			anew = true
			c.take(2)
		}
	}
	if anew || !plain && !utf8.Valid(c.out[from:]) {
		var s string
		if err := json.Unmarshal(c.in[begin:c.at], &s); err != nil {
			return err
		}
		out := bytes.NewBuffer(c.out[:from])
		e := json.NewEncoder(out)
		e.SetEscapeHTML(false)
		if err := e.Encode(s); err != nil {
			return err
		}
		c.out = out.Bytes()[:out.Len()-1] // without the encoder's line end
	}
	return nil
}

// Hash gives the SHA-256 of the canonical JSON of v, lower-case hexadecimal.
func Hash(v any) (string, error) {
	b, err := Canonical(v)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), nil
}

// ChannelMend is one mend to one channel of one raw file, in the order applied.
type ChannelMend struct {
	Channel string  `json:"channel"`
	What    string  `json:"what"`
	Value   float64 `json:"value"`
	Reason  string  `json:"reason,omitempty"`
}

// Derivation says how an observation was made: from which raw bytes, on which
// course, by which procedure in which version, with every parameter spelt out,
// which mends, and by which programme. Its id is the key under which a result
// is kept, found again and invalidated.
type Derivation struct {
	Raw        []string      `json:"raw"` // SHA-256 of the raw files
	Course     string        `json:"course,omitempty"`
	Procedure  string        `json:"procedure"`
	Version    int           `json:"version"`
	Parameters Parameters    `json:"parameters"`
	Mends      []ChannelMend `json:"mends,omitempty"`
	FromS      float64       `json:"from_s"` // the run's window in its recording, s from the anchor
	ToS        float64       `json:"to_s"`
	Programme  string        `json:"programme"` // version of bookend
}

// ID gives the SHA-256 of the derivation's canonical JSON.
func (d Derivation) ID() (string, error) { return Hash(d) }
