package programme

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	"example.org/bookend/clock"
)

// Entry is one thing that people entered. Entries are never changed: a
// correction is a new entry that supersedes the old one. Each holds the hash of
// the one before it, so that a changed byte shows.
type Entry struct {
	ID         string          `json:"id"`      // UUIDv7, made by whoever writes it
	Kind       string          `json:"kind"`    // "stint", "run", "exclusion", ...
	Version    int             `json:"version"` // of the kind; every older one is accepted for ever
	Body       json.RawMessage `json:"body"`    // canonical JSON as received
	Supersedes string          `json:"supersedes,omitempty"`
	Author     string          `json:"author"`
	Device     string          `json:"device"`
	Counter    int64           `json:"counter"` // the device's own, from 1 without gaps
	DeviceTime clock.Instant   `json:"device_time"`
	ServerTime clock.Instant   `json:"server_time,omitzero"`
	Sequence   int64           `json:"sequence,omitempty"` // the server's, from 1 without gaps
	Previous   string          `json:"previous,omitempty"` // Hash of the entry at Sequence-1
}

// Hash gives the SHA-256 of the entry's canonical JSON, lower-case hexadecimal:
// the link of the chain.
func (e Entry) Hash() (string, error) {
	b, err := Canonical(e)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), nil
}

// Withdrawal is the kind of an entry that takes back the one it supersedes and
// says nothing else.
const Withdrawal = "withdrawal"
