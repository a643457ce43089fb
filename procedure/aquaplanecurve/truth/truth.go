// Package truth drives passes through a trough on a circle on the synthetic ground, for
// the procedure's tests alone: what the instruments wrote, and what was really left.
package truth

import "example.org/bookend/sim"

// Series drives passes at several set speeds in m/s, some of each, on a tyre in an
// evaluator's words.
func Series(words string, speeds []float64, each int, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.FloatCircle, Words: words, Speeds: speeds, Runs: each, Seed: seed})
}
