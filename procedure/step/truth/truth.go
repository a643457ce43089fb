// Package truth drives steps of steering on the synthetic ground, for the procedure's
// tests alone: what the instruments wrote, and what the vehicle really did.
package truth

import "example.org/bookend/sim"

// Steps drives steps to the left and to the right by turns, 80 km/h, by a machine, the
// wheel turned by a number of rad, on a tyre in an evaluator's words. exact gives
// faultless instruments.
func Steps(words string, angle float64, runs int, exact bool, seed uint64) (*sim.Driven, error) {
	return sim.Drive(sim.Ask{Kind: sim.StepSteer, Words: words, Amplitude: angle, Runs: runs, Seed: seed, Kit: sim.Kit{Exact: exact}})
}
