// Package tyre reads what stands on a sidewall: size, load index, speed symbol
// and date code, and holds it against a vehicle and a manoeuvre.
//
// It says what a marking means and what it allows. It names no maker and calls
// no tyre safe: a load, a speed or a pressure over the limit is refused, and
// what is within may still be unfit.
//
// Sources: 49 CFR 574.5 (week of manufacture), UN R30 (load index, speed symbol,
// load at high speed), UN R117 (pressure for a load). Each line says which of it
// was read and which is from memory. Units: kg for loads, as load indices have
// them, m/s, m, Pa, °C; angles none. Limits: passenger and light-truck sizes
// with a rim in inches, load indices 60 to 130, speed symbols B to Y.
package tyre
