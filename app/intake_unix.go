//go:build unix

package app

import (
	"os"
	"syscall"
)

// device gives the number of the device that a folder lies on.
func device(path string) (id uint64, ok bool) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, false
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, false
	}
	return uint64(st.Dev), true //nolint:unconvert // its type differs from system to system
}
