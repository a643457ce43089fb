package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// A long simulation may be cut short. What a design gave is kept under the commit
// that the page names, so that a run that starts again goes on where the first ended.

// file names the kept outcome of n programmes of a design; empty where none is kept.
func (p *page) file(keep string, d *design, n int) string {
	if keep == "" {
		return ""
	}
	return filepath.Join(keep, fmt.Sprintf("recovery-%s-%s-%s-%d-%d.json", p.commit, p.sum[:16], d.id, n, p.repeats))
}

// recall gives the kept outcome, nil where there is none.
func recall(file string) (*outcome, error) {
	if file == "" {
		return nil, nil
	}
	b, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var o outcome
	if err := json.Unmarshal(b, &o); err != nil {
		return nil, fmt.Errorf("%s: %w; remove it and the design is simulated again", file, err)
	}
	return &o, nil
}

// remember keeps an outcome, whole or not at all.
func (o *outcome) remember(file string) error {
	if file == "" {
		return nil
	}
	b, err := json.Marshal(o)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(file+".part", b, 0o644); err != nil {
		return err
	}
	return os.Rename(file+".part", file)
}
