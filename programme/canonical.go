package programme

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"

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
	d := json.NewDecoder(bytes.NewReader(first))
	d.UseNumber()
	var tree any
	if err := d.Decode(&tree); err != nil {
		return nil, fault.New(fault.Internal, "writing canonical JSON: %w", err)
	}
	var out bytes.Buffer
	if err := writeCanonical(&out, tree); err != nil {
		return nil, fault.New(fault.Internal, "writing canonical JSON: %w", err)
	}
	return out.Bytes(), nil
}

func writeCanonical(out *bytes.Buffer, tree any) error {
	switch v := tree.(type) {
	case map[string]any:
		keys := make([]string, 0, len(v))
		for k := range v {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		out.WriteByte('{')
		for i, k := range keys {
			if i > 0 {
				out.WriteByte(',')
			}
			if err := writeScalar(out, k); err != nil {
				return err
			}
			out.WriteByte(':')
			if err := writeCanonical(out, v[k]); err != nil {
				return err
			}
		}
		out.WriteByte('}')
		return nil
	case []any:
		out.WriteByte('[')
		for i, e := range v {
			if i > 0 {
				out.WriteByte(',')
			}
			if err := writeCanonical(out, e); err != nil {
				return err
			}
		}
		out.WriteByte(']')
		return nil
	default:
		return writeScalar(out, v)
	}
}

func writeScalar(out *bytes.Buffer, v any) error {
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err
	}
	out.Truncate(out.Len() - 1) // the encoder's line end
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
