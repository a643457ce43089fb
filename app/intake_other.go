//go:build !unix

package app

import (
	"path/filepath"
	"strings"
)

// device tells drives apart by their letter, where the system has letters.
func device(path string) (id uint64, ok bool) {
	full, err := filepath.Abs(path)
	if err != nil {
		return 0, false
	}
	name := strings.ToUpper(filepath.VolumeName(full))
	for _, c := range []byte(name) {
		id = id*257 + uint64(c)
	}
	return id, name != ""
}
