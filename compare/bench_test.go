package compare

import (
	"fmt"
	"math"
	"testing"

	"example.org/bookend/compare/control"
	"example.org/bookend/compare/joint"
	"example.org/bookend/programme"
)

// twenty is a programme of 20 stints, 6 runs each: the control every third,
// candidates in turn, the second pass reversed.
func twenty(candidates int) []driven {
	var list []driven
	next, way := 0, 1
	for i := range 20 {
		code := "K"
		if i%3 != 0 && i != 19 {
			code = string(rune('A' + next))
			if next += way; next == candidates || next < 0 {
				way = -way
				next += way
			}
		}
		var v []float64
		for k := range 6 {
			v = append(v, 7.5+0.1*math.Sin(float64(7*i+3*k))+0.3*float64(code[0]%5)-0.01*float64(i))
		}
		list = append(list, driven{code: code, values: v})
	}
	return list
}

// tenMeasures makes ten measures of one log, the exclusion's run in it or not.
func tenMeasures(candidates int, drift Drift, exclude ...string) []Input {
	var log programme.Log
	var out []Input
	for k := range 10 {
		id := fmt.Sprint("m", k)
		l := logOf(id, twenty(candidates))
		if k == 0 {
			log = l
		} else {
			for i := range l.Observations {
				l.Observations[i].Value *= 1 + 0.02*math.Sin(float64(i*k))
			}
			log.Observations = append(log.Observations, l.Observations...)
		}
		out = append(out, Input{Measure: programme.Measure{ID: id, Better: programme.Higher, Scale: programme.Ratio}, Control: "K", Settings: Settings{Drift: drift, Quick: true}})
	}
	for _, x := range exclude {
		log.Exclusions = append(log.Exclusions, programme.Exclusion{Run: x, Reason: "traffic"})
	}
	for i := range out {
		out[i].Log = log
	}
	return out
}

// BenchmarkExclusion is an exclusion's effect on every verdict of a programme of
// 20 stints and 10 measures, with and without it.
func BenchmarkExclusion(b *testing.B) {
	for _, drift := range []Drift{Bracket, Linear} {
		for _, n := range []int{3, 4, 6, 12} {
			for name, out := range map[string][]string{"run": {"s5/2"}, "stint": {"s5/1", "s5/2", "s5/3", "s5/4", "s5/5", "s5/6"}} {
				b.Run(fmt.Sprintf("%s/%d candidates/%s", drift, n, name), func(b *testing.B) {
					in := tenMeasures(n, drift, out...)
					for b.Loop() {
						joint.Forget() // as after a start of the program
						control.Forget()
						if _, errs := CompareAll(in); errs[0] != nil {
							b.Fatal(errs[0])
						}
					}
				})
			}
		}
	}
}
