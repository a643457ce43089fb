package draft_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/figure/draft"
	"example.org/bookend/figure/fonts"
	"example.org/bookend/figure/scale"
	"example.org/bookend/unit"
)

// Labels kept apart stay in their order, inside, and no closer than the gap;
// those with room enough do not move; and no other way of keeping them apart
// moves them less (least squares: the pools' means are the optimum, as in
// isotonic regression).
func TestSpread(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 500 {
		n := 1 + r.IntN(12)
		at := make([]float64, n)
		for i := range at {
			at[i] = 200 * r.Float64()
		}
		const gap, lo, hi = 9.0, 0.0, 200.0
		got := draft.Spread(at, gap, lo, hi)
		idx := make([]int, n)
		for i := range idx {
			idx[i] = i
		}
		slices.SortStableFunc(idx, func(a, b int) int {
			if at[a] < at[b] {
				return -1
			}
			return 1
		})
		cost := 0.0
		for k, i := range idx {
			if got[i] < lo+gap/2-1e-9 || got[i] > hi-gap/2+1e-9 {
				t.Fatalf("%v: %g lies outside", at, got[i])
			}
			if k > 0 && got[i]-got[idx[k-1]] < gap-1e-9 {
				t.Fatalf("%v: %v are out of order or too close", at, got)
			}
			cost += (got[i] - at[i]) * (got[i] - at[i])
		}
		// no small step of one label or of a run of neighbours that keeps them apart does better
		for a := range n {
			for b := a; b < n; b++ {
				for _, d := range []float64{-.01, .01} {
					alt, c := slices.Clone(got), 0.0
					for k := a; k <= b; k++ {
						alt[idx[k]] += d
					}
					ok := true
					for k, i := range idx {
						ok = ok && alt[i] >= lo+gap/2 && alt[i] <= hi-gap/2 && (k == 0 || alt[i]-alt[idx[k-1]] >= gap)
						c += (alt[i] - at[i]) * (alt[i] - at[i])
					}
					if ok && c < cost-1e-9 {
						t.Fatalf("%v: %v moves less than %v", at, alt, got)
					}
				}
			}
		}
	}
	if got := draft.Spread([]float64{50, 20, 80}, 9, 0, 100); !slices.Equal(got, []float64{50, 20, 80}) {
		t.Errorf("labels with room enough moved to %v", got)
	}
	if got := draft.Spread([]float64{5, 5, 5, 5}, 9, 0, 20); len(got) != 4 {
		t.Errorf("more labels than room: %v", got)
	}
}

// Ticks are round, evenly spaced, inside, no more than asked for, and read as
// their values.
func TestTicks(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 2000 {
		lo := r.NormFloat64() * math.Pow(10, float64(r.IntN(18)-9))
		hi := lo + math.Abs(lo)*math.Pow(10, -4*r.Float64())*(.1+r.Float64())
		most := 2 + r.IntN(8)
		ts, power := scale.Ticks(lo, hi, most, false, unit.Style{ASCII: true})
		if len(ts) > most {
			t.Fatalf("%g to %g: %d ticks, asked for %d", lo, hi, len(ts), most)
		}
		for i, k := range ts {
			if k.V < lo-1e-9*math.Abs(lo) || k.V > hi+1e-9*math.Abs(hi) {
				t.Fatalf("%g to %g: tick %g lies outside", lo, hi, k.V)
			}
			v, err := parse(k.Words)
			if err != nil || math.Abs(v*math.Pow(10, float64(power))-k.V) > 1e-9*math.Max(math.Abs(lo), math.Abs(hi)) {
				t.Fatalf("%g to %g: tick %g reads %q × 10^%d", lo, hi, k.V, k.Words, power)
			}
			if i > 1 {
				if a, b := ts[i].V-ts[i-1].V, ts[1].V-ts[0].V; math.Abs(a-b) > 1e-6*math.Abs(b) {
					t.Fatalf("%g to %g: ticks %v are uneven", lo, hi, ts)
				}
			}
		}
	}
	ts, _ := scale.Ticks(-2, 2, 5, true, unit.Style{})
	var words []string
	for _, k := range ts {
		words = append(words, k.Words)
	}
	if got := strings.Join(words, " "); got != "−2 −1 0 +1 +2" {
		t.Errorf("differences read %s", got)
	}
	if ts, _ := scale.Ticks(0, 1, 3, false, unit.Style{Comma: true}); len(ts) != 3 || ts[1].Words != "0,5" {
		t.Errorf("with a comma: %v", ts)
	}
}

func parse(s string) (float64, error) {
	if s == "0" {
		return 0, nil
	}
	return strconv.ParseFloat(s, 64)
}

// Wrapped text keeps its words, its codes and its marks, and every line fits
// that has more than one word.
func TestWrapKeepsTheWords(t *testing.T) {
	c := draft.Codes{Control: "K", Candidates: []string{"P", "R", "T", "W"}}
	text := draft.Say(draft.CodeOf("R"), " stops 2.1 m shorter than the control", draft.MarkOf(1), " and ", draft.CodeOf("W"), " 2.0 m longer, ", draft.StrongOf("whichever bracket"), " is ", draft.EmOf("asked of it"), "; so it is")
	s := draft.Setting{Face: fonts.Serif, Size: 10.5}
	for width := 40.0; width < 600; width += 7 {
		for name, lines := range map[string][]draft.Text{"even": c.WrapEven(text, s, width), "text": c.WrapText(text, s, width)} {
			var words []string
			marks := 0
			for _, l := range lines {
				words = append(words, strings.Fields(l.String())...)
				for _, sp := range l {
					if sp.As == draft.AsMark {
						marks++
					}
				}
				if c.Width(l, s) > width && strings.Contains(strings.TrimSpace(l.String()), " ") {
					t.Errorf("%s at %g: %q is too wide", name, width, l.String())
				}
			}
			if got, want := strings.Join(words, " "), strings.Join(strings.Fields(text.String()), " "); got != want || marks != 1 {
				t.Errorf("%s at %g: %q with %d marks", name, width, got, marks)
			}
		}
	}
	// two lines break after the comma, not in the middle of a clause
	title := draft.Say("Nearly half of the doubt is the fitting of a set: a second set would help most, more stops hardly at all")
	if l := c.WrapEven(title, s, 420); len(l) != 2 || !strings.HasSuffix(l[0].String(), ":") {
		t.Errorf("broken as %v", l)
	}
	if got := draft.KeepUnits(draft.Plain("2.1 m, 95 % and 80 km/h of 6 stops")).String(); got != "2.1\u00a0m, 95\u00a0% and 80\u00a0km/h of 6 stops" {
		t.Errorf("units kept as %q", got)
	}
}

// A simplified line keeps its ends and comes within the tolerance of every
// point that was dropped.
func TestSimplify(t *testing.T) {
	var ps []draft.Point
	for i := range 2000 {
		x := float64(i) / 4
		ps = append(ps, draft.Pt(x, 40*math.Sin(x/30)+3*math.Sin(x/4)))
	}
	for _, tol := range []float64{.01, .03, .3} {
		got := draft.Simplify(ps, tol)
		if got[0] != ps[0] || got[len(got)-1] != ps[len(ps)-1] || len(got) >= len(ps)/2 {
			t.Errorf("tolerance %g: %d of %d points, from %v to %v", tol, len(got), len(ps), got[0], got[len(got)-1])
		}
		k := 0
		for _, p := range ps {
			for got[k+1].X < p.X {
				k++
			}
			a, b := got[k], got[k+1]
			if y := a.Y + (p.X-a.X)/(b.X-a.X)*(b.Y-a.Y); math.Abs(y-p.Y)*math.Cos(math.Atan2(b.Y-a.Y, b.X-a.X)) > tol+1e-9 {
				t.Fatalf("tolerance %g: off by %g at %g", tol, y-p.Y, p.X)
			}
		}
	}
}
