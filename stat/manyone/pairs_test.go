package manyone

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/bookend/stat/manyone/joint"
)

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// Holm by hand: the smallest times 3, the next times 2, never falling.
func TestHolm(t *testing.T) {
	got, err := Holm([]float64{0.04, 0.01, 0.03, 0.5})
	ok(t, err)
	want := []float64{0.09, 0.04, 0.09, 0.5}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-15 {
			t.Errorf("Holm %v, want %v", got, want)
		}
	}
	if _, err := Holm([]float64{1.2}); err == nil {
		t.Error("p of 1.2 was accepted")
	}
}

// Two codes share a letter exactly where they are not shown to differ, and no
// letter can be spared.
func TestLetters(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for range 300 {
		g := 2 + rng.IntN(6)
		differ := make([][]bool, g)
		order := make([]int, g)
		for i := range differ {
			differ[i] = make([]bool, g)
			order[i] = i
		}
		for i := range g {
			for j := range i {
				differ[i][j] = rng.Float64() < 0.5
				differ[j][i] = differ[i][j]
			}
		}
		share := func(a, b string) bool {
			for _, c := range a {
				for _, d := range b {
					if c == d {
						return true
					}
				}
			}
			return false
		}
		l := Letters(differ, order)
		if l[0] == "" || l[0][0] != 'a' {
			t.Fatalf("the first code has %q", l[0])
		}
		for i := range g {
			for j := range i {
				if share(l[i], l[j]) == differ[i][j] {
					t.Fatalf("%v: codes %d and %d, differ %v", l, i, j, differ[i][j])
				}
			}
		}
	}
}

// All pairs with and without equal standing.
func TestPairs(t *testing.T) {
	est := []float64{3, 1, 2.2, 1.1}
	cov := func(v ...float64) [][]float64 {
		c := make([][]float64, len(v))
		for i := range v {
			c[i] = make([]float64, len(v))
			for j := range c[i] {
				c[i][j] = 0.07 // what is common to all goes out of every pair
			}
			c[i][i] += v[i]
		}
		return c
	}
	a, err := AllPairs(est, cov(0.1, 0.1, 0.1, 0.1), 12, 0.05)
	ok(t, err)
	if a.Method != "range" {
		t.Errorf("equal standing by %s", a.Method)
	}
	b, err := AllPairs(est, cov(0.1, 0.1, 0.1, 0.1000001), 12, 0.05)
	ok(t, err)
	if b.Method != "sphere" || math.Abs(a.Critical-b.Critical) > 1e-6 {
		t.Errorf("nearly equal standing: %v by %s, %v by range", b.Critical, b.Method, a.Critical)
	}
	for i := range a.Pairs {
		if math.Abs(a.Pairs[i].P-b.Pairs[i].P) > 1e-6 {
			t.Errorf("pair %v and %v", a.Pairs[i], b.Pairs[i])
		}
	}
	// By hand: 4.20/sqrt 2 (Tukey's 5 % point for 4 codes, 12 df, from memory)
	// times sqrt 0.2 is 1.33; only the first differs, from the second and last.
	if want := []string{"a", "b", "ab", "b"}; !slices.Equal(a.Letters, want) || math.Abs(a.Critical*math.Sqrt2-4.20) > 0.005 {
		t.Errorf("letters %v, want %v; q %v", a.Letters, want, a.Critical*math.Sqrt2)
	}
	if _, err := AllPairs(est, cov(0, 0, 0.1, 0.1), 12, 0.05); err == nil {
		t.Error("codes without variance were compared")
	}
	// Five codes, nearly equal standing: the lattice with the range as aid.
	five := []float64{3, 1, 2.2, 1.1, 2}
	c, err := AllPairs(five, cov(0.1, 0.1, 0.1, 0.1, 0.1), 12, 0.05)
	ok(t, err)
	d, err := AllPairs(five, cov(0.1, 0.1, 0.1, 0.1, 0.10001), 12, 0.05)
	ok(t, err)
	if d.Method != "lattice" || math.Abs(c.Critical-d.Critical) > 2e-5 || d.Error > 1e-5 {
		t.Errorf("nearly equal standing: %v by %s ± %g, %v by range", d.Critical, d.Method, d.Error, c.Critical)
	}
}

func BenchmarkTail3(b *testing.B) {
	f, _ := Independent(3, []int{3, 3, 3}, 8, joint.TwoSided)
	for b.Loop() {
		_, _ = f.Tail(3.09)
	}
}

func BenchmarkTailUnequal3(b *testing.B) {
	f, _ := Independent(20, []int{3, 4, 15}, 37, joint.TwoSided)
	for b.Loop() {
		_, _ = f.Tail(2.9)
	}
}

func BenchmarkEight(b *testing.B) {
	f, _ := Independent(12, []int{4, 4, 4, 4, 4, 4, 4, 4}, 35, joint.TwoSided)
	t := []float64{0.3, 0.9, 1.4, 1.9, 2.5, 3.1, 4.4, 6.5}
	for b.Loop() {
		_, _, _ = f.AdjustedP(t)
	}
}

func BenchmarkEightUnequal(b *testing.B) {
	f, _ := Independent(12, []int{4, 5, 6, 7, 8, 9, 3, 2}, 35, joint.TwoSided)
	t := []float64{0.3, 0.9, 1.4, 1.9, 2.5, 3.1, 4.4, 6.5}
	for b.Loop() {
		_, _, _ = f.AdjustedP(t)
	}
}

func BenchmarkCritical(b *testing.B) {
	for _, k := range []int{3, 8} {
		f, _ := Independent(12, []int{4, 5, 6, 7, 8, 9, 3, 2}[:k], 35, joint.TwoSided)
		b.Run(fmt.Sprint(k), func(b *testing.B) {
			for b.Loop() {
				_, _, _ = f.Critical(0.05)
			}
		})
	}
}
