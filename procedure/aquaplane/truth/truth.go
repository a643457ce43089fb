// Package truth drives passes through standing water on the synthetic ground, for the
// procedure's tests alone: what the instruments wrote, and where the tyre really floated.
package truth

import "example.org/bookend/sim"

// Passes drives passes with the right side in a trough, accelerating in full, on a tyre
// in an evaluator's words.
func Passes(words string, runs int, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.FloatLine, Words: words, Runs: runs, Seed: seed})
}
