//go:build !linux

package sqlite

// remote cannot be told on this system.
func remote(string) string { return "" }
