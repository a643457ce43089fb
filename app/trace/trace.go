// Package trace makes what a page draws of a recording's channels: for each column of a
// picture the least and the greatest value that lie in it, so that no spike is lost
// however many samples share a column.
//
// In the trade these are the traces that an evaluator looks at before believing a cut.
// Half an hour at 100 Hz is 180,000 samples a channel, and a picture has a thousand
// columns: least and greatest are kept for 16, 256, 4,096 ... samples each (a pyramid),
// so that a window of any width asks for a few numbers a column alone. Times in s from
// the recording's anchor, values in the channel's SI unit. Samples that are not valid are
// in no column. It describes; nothing is reckoned from it.
package trace

import (
	"math"
	"slices"
	"sort"
	"sync"

	"example.org/bookend/signal"
)

// fan is how many of one step of the pyramid share one of the next (own choice: the
// whole pyramid is a fifteenth of the samples, and a column reads 30 at most at each end).
const fan = 16

// Traces is the channels of a recording, ready to be drawn.
type Traces struct {
	FromS, ToS float64 // first and last valid sample, s
	Channels   []Channel
}

// Channel is one channel with its pyramid.
type Channel struct {
	Name, Role, Unit string
	Rate             float64 // Hz, by the middle of all steps
	Low, High        float64 // least and greatest value of all

	t      []float64
	v      []float64
	valid  []signal.Span
	levels []level
}

// level is least and greatest of fan, fan², ... samples each.
type level struct{ low, high []float64 }

// Of makes the traces of recordings of one drive, one after the other; a channel
// without a valid sample is left out.
func Of(recs ...*signal.Recording) *Traces {
	out := &Traces{FromS: math.Inf(1), ToS: math.Inf(-1)}
	for _, rec := range recs {
		for _, c := range rec.Channels {
			if len(c.Valid) == 0 {
				continue
			}
			k := Channel{Name: c.Name, Role: string(c.Role), Unit: c.Unit, t: c.Base.T, v: c.Values, valid: c.Valid, Low: math.Inf(1), High: math.Inf(-1)}
			if step := c.Base.Step(); step > 0 {
				k.Rate = 1 / step
			}
			k.build()
			for _, s := range c.Valid {
				lo, hi, _ := k.between(s.From, s.To)
				k.Low, k.High = math.Min(k.Low, lo), math.Max(k.High, hi)
			}
			out.FromS = math.Min(out.FromS, k.t[c.Valid[0].From])
			out.ToS = math.Max(out.ToS, k.t[c.Valid[len(c.Valid)-1].To-1])
			out.Channels = append(out.Channels, k)
		}
	}
	return out
}

// build makes the pyramid; cells that hold no valid sample are empty: low above high.
func (c *Channel) build() {
	n := (len(c.v) + fan - 1) / fan
	l := level{low: make([]float64, n), high: make([]float64, n)}
	for i := range l.low {
		l.low[i], l.high[i] = math.Inf(1), math.Inf(-1)
	}
	for _, s := range c.valid {
		for i := s.From; i < s.To; i++ {
			k := i / fan
			l.low[k], l.high[k] = math.Min(l.low[k], c.v[i]), math.Max(l.high[k], c.v[i])
		}
	}
	for {
		c.levels = append(c.levels, l)
		if n <= fan {
			return
		}
		n = (n + fan - 1) / fan
		up := level{low: make([]float64, n), high: make([]float64, n)}
		for i := range up.low {
			up.low[i] = slices.Min(l.low[i*fan : min((i+1)*fan, len(l.low))])
			up.high[i] = slices.Max(l.high[i*fan : min((i+1)*fan, len(l.high))])
		}
		l = up
	}
}

// between gives least and greatest valid value of the samples [from, to); ok is false
// where none is valid.
func (c *Channel) between(from, to int) (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for i := from; i < to; {
		// The largest cell that begins here and ends within.
		at, size, l := i, 1, -1
		for l+1 < len(c.levels) && at%fan == 0 && i+size*fan <= to {
			at, size, l = at/fan, size*fan, l+1
		}
		if l >= 0 {
			low, high = math.Min(low, c.levels[l].low[at]), math.Max(high, c.levels[l].high[at])
		} else if c.validAt(i) {
			low, high = math.Min(low, c.v[i]), math.Max(high, c.v[i])
		}
		i += size
	}
	return low, high, low <= high
}

func (c *Channel) validAt(i int) bool {
	k := sort.Search(len(c.valid), func(k int) bool { return c.valid[k].To > i })
	return k < len(c.valid) && c.valid[k].From <= i
}

// Column is least and greatest value within a column; Empty where no valid sample
// lies in it.
type Column struct {
	Low, High float64
	Empty     bool
}

// Columns gives the columns of a window from one time to another, s; each holds its
// first moment and not its last, the last column both. Where columns are narrower than
// samples lie apart most are empty: whoever draws joins what is left.
func (c *Channel) Columns(from, to float64, columns int) []Column {
	edges := make([]float64, max(columns, 0)+1)
	for k := range edges {
		edges[k] = from + (to-from)*float64(k)/float64(columns)
	}
	return c.Between(edges)
}

// Between gives a column between each two neighbours of rising times, s, as Columns does.
func (c *Channel) Between(edges []float64) []Column {
	if len(edges) < 2 {
		return nil
	}
	out := make([]Column, len(edges)-1)
	i := sort.SearchFloat64s(c.t, edges[0])
	for k := range out {
		j := i + sort.SearchFloat64s(c.t[i:], edges[k+1])
		if k == len(out)-1 {
			for j < len(c.t) && c.t[j] <= edges[k+1] {
				j++
			}
		}
		low, high, ok := c.between(i, j)
		out[k] = Column{low, high, !ok}
		if !ok {
			out[k].Low, out[k].High = 0, 0
		}
		i = j
	}
	return out
}

// At gives the value at a time in s, between samples on the straight line; ok is false
// where a sample beside it is not valid.
func (c *Channel) At(t float64) (v float64, ok bool) {
	i := sort.SearchFloat64s(c.t, t)
	switch {
	case i < len(c.t) && c.t[i] == t:
		return c.v[i], c.validAt(i)
	case i == 0 || i == len(c.t) || !c.validAt(i-1) || !c.validAt(i):
		return 0, false
	}
	w := (t - c.t[i-1]) / (c.t[i] - c.t[i-1])
	return c.v[i-1] + w*(c.v[i]-c.v[i-1]), true
}

// During gives least and greatest valid value from one time to another, s; ok is false
// where there is none.
func (c *Channel) During(from, to float64) (low, high float64, ok bool) {
	i := sort.SearchFloat64s(c.t, from)
	j := i + sort.Search(len(c.t)-i, func(k int) bool { return c.t[i+k] > to })
	return c.between(i, j)
}

// Samples is how many samples all channels have together.
func (t *Traces) Samples() int {
	n := 0
	for i := range t.Channels {
		n += len(t.Channels[i].v)
	}
	return n
}

// Shelf keeps the traces that were drawn last, by whatever names their recording, so
// that zooming reads no file. Its zero value is ready.
type Shelf struct {
	mu   sync.Mutex
	kept []held
}

type held struct {
	key     string
	made    func() (*Traces, error) // once, for all who ask
	samples int                     // once it is made
}

// most is how many recordings' traces are kept, and mostSamples how many samples of them:
// those of eight codes' runs over each other (own choice; half an hour of eight channels
// at 100 Hz is 1.4 million samples in 25 MB). The last one is kept however long it is.
const (
	most        = 10
	mostSamples = 12_000_000
)

// Get gives the traces kept under a key, or makes them; two who ask at once wait for one.
// What could not be made is tried again.
func (s *Shelf) Get(key string, make func() (*Traces, error)) (*Traces, error) {
	s.mu.Lock()
	h := held{key: key, made: sync.OnceValues(make)}
	if at := slices.IndexFunc(s.kept, func(o held) bool { return o.key == key }); at >= 0 {
		h = s.kept[at]
		s.kept = slices.Delete(s.kept, at, at+1)
	} else if len(s.kept) >= most {
		s.kept = slices.Delete(s.kept, 0, 1)
	}
	s.kept = append(s.kept, h)
	s.mu.Unlock()
	out, err := h.made()
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.kept = slices.DeleteFunc(s.kept, func(o held) bool { return o.key == key })
		return out, err
	}
	all := 0
	for i := range s.kept {
		if s.kept[i].key == key {
			s.kept[i].samples = out.Samples()
		}
		all += s.kept[i].samples
	}
	for len(s.kept) > 1 && all > mostSamples && s.kept[0].key != key {
		all -= s.kept[0].samples
		s.kept = slices.Delete(s.kept, 0, 1)
	}
	return out, nil
}
