// Package origin says of an answer what it was made from: its files with the SHA-256 of
// their bytes and its settings, beside the results and the doubt about them, as every
// answer in JSON has it.
package origin

import (
	"crypto/sha256"
	"encoding/hex"

	"example.org/bookend/caveat"
)

// Document is an answer in JSON. R is what it found.
type Document[R any] struct {
	Schema   string            `json:"schema"` // "bookend.NAME/VERSION"
	Inputs   []Hashed          `json:"inputs"`
	Settings map[string]string `json:"settings"`
	Results  R                 `json:"results"`
	Caveats  caveat.List       `json:"caveats"`
}

// Hashed is an input and the SHA-256 of its bytes.
type Hashed struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
}

// HashOf gives the SHA-256 of bytes, in hexadecimal digits.
func HashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
