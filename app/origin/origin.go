// Package origin names what an answer was made from: a file and the SHA-256 of its
// bytes.
package origin

import (
	"crypto/sha256"
	"encoding/hex"
)

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
