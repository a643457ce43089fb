package trace_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/bookend/app/trace"
	"example.org/bookend/signal"
)

// Least and greatest of every column are those of a plain search through its samples.
func TestColumnsHoldLeastAndGreatest(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	for _, n := range []int{1, 2, 15, 16, 17, 255, 257, 5000} {
		c := &signal.Channel{Name: "ay", Base: &signal.Base{}}
		at := 3.0
		for i := range n {
			at += 0.005 + 0.01*rng.Float64()
			c.Base.T, c.Values = append(c.Base.T, at), append(c.Values, rng.NormFloat64())
			if rng.Float64() < 0.2 && i > 0 {
				continue // not valid
			}
			if k := len(c.Valid); k > 0 && c.Valid[k-1].To == i {
				c.Valid[k-1].To++
			} else {
				c.Valid = append(c.Valid, signal.Span{From: i, To: i + 1})
			}
		}
		tr := trace.Of(&signal.Recording{Channels: []*signal.Channel{c}})
		for range 20 {
			from := tr.FromS + (tr.ToS-tr.FromS)*(rng.Float64()-0.1)
			to := from + (tr.ToS-tr.FromS)*rng.Float64() + 0.01
			columns := 1 + rng.IntN(40)
			for k, got := range tr.Channels[0].Columns(from, to, columns) {
				a, b := from+(to-from)*float64(k)/float64(columns), from+(to-from)*float64(k+1)/float64(columns)
				low, high := math.Inf(1), math.Inf(-1)
				for i, v := range c.Values {
					if u := c.Base.T[i]; c.ValidAt(i) && u >= a && (u < b || k == columns-1 && u <= to) {
						low, high = math.Min(low, v), math.Max(high, v)
					}
				}
				if got.Empty != (low > high) || !got.Empty && (got.Low != low || got.High != high) {
					t.Fatalf("%d samples, column %d of %d: %+v, and %v to %v", n, k, columns, got, low, high)
				}
			}
		}
	}
}

// What was drawn is kept; what failed is tried again.
func TestShelfReadsOnce(t *testing.T) {
	var s trace.Shelf
	made := 0
	get := func(key string, err error) error {
		_, got := s.Get(key, func() (*trace.Traces, error) { made++; return &trace.Traces{}, err })
		return got
	}
	fails := errors.New("no card")
	if get("a", fails) != fails || get("a", nil) != nil || get("a", nil) != nil || made != 2 {
		t.Errorf("made %d times", made)
	}
	for _, k := range []string{"b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "a"} {
		if err := get(k, nil); err != nil {
			t.Error(err)
		}
	}
	if made != 13 {
		t.Errorf("made %d times: the oldest goes first", made)
	}
}
