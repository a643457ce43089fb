package ingest

import (
	"math"
	"slices"

	"example.org/bookend/caveat"
	"example.org/bookend/signal"
)

// NoStamp stands for a row without a time stamp.
const NoStamp = math.MinInt64

// falseAhead is how many rows in a row may be taken for stamps that ran ahead,
// rather than all that follows for stamps that fell back. Own: a receiver that
// loses and finds its time does so within a few rows; two logs joined into one
// file differ by thousands.
const falseAhead = 5

// gapSteps is from how many median steps on a step counts as a gap. Own: half a
// step more than one means that a sample is missing or came late by half its
// interval.
const gapSteps = 1.5

// medianSteps is how many steps at most, evenly spread, the median step is taken
// from. Own: enough for four digits, and quick on hours at 1 kHz.
const medianSteps = 1 << 16

// Order is which rows of a recording make its time base, and why the others do
// not. Rows count from 0.
type Order struct {
	Keep      []signal.Span // rows kept, in order; their stamps increase strictly
	Missing   Finding       // rows without a stamp
	Duplicate Finding       // rows whose stamp is that of the last row kept
	Backward  Finding       // rows left out because time ran backward or had run ahead
	Jumps     int           // how often time ran backward
	BackNS    int64         // the farthest it fell behind the last row kept, in ns
}

// Finding counts rows and names the first; its zero value is none.
type Finding struct {
	Rows  int
	First int // row, from 0; meaningless if Rows is 0
}

func (f *Finding) add(row int) {
	if f.Rows == 0 || row < f.First {
		f.First = row
	}
	f.Rows++
}

// Increasing chooses the rows whose stamps, in ns, make a strictly increasing
// time base. Rows without a stamp are left out. Of rows with the same stamp the
// first is kept. Where time falls back behind the last row kept, the row is left
// out if the next one goes on; else up to five rows kept before are left out if
// they alone had run ahead; else every row is, until time has caught up. Nothing
// is moved or interpolated.
func Increasing(stamps []int64) Order {
	var o Order
	// The usual file is in order: no list of rows is needed for it.
	sorted := len(stamps) > 0 && stamps[0] != NoStamp
	for i := 1; i < len(stamps) && sorted; i++ {
		sorted = stamps[i] > stamps[i-1] // no stamp is the least number
	}
	if sorted {
		o.Keep = []signal.Span{{From: 0, To: len(stamps)}}
		return o
	}
	kept := make([]int, 0, len(stamps))
	falling := false
	for i, s := range stamps {
		if s == NoStamp {
			o.Missing.add(i)
			continue
		}
		if len(kept) == 0 || s > stamps[kept[len(kept)-1]] {
			kept = append(kept, i)
			falling = false
			continue
		}
		last := stamps[kept[len(kept)-1]]
		if s == last {
			o.Duplicate.add(i)
			continue
		}
		if !falling {
			o.Jumps++
		}
		if back := last - s; back > o.BackNS || back < 0 { // below 0: beyond what int64 holds
			o.BackNS = back
			if back < 0 {
				o.BackNS = math.MaxInt64
			}
		}
		next := i + 1
		for next < len(stamps) && stamps[next] == NoStamp {
			next++
		}
		goesOn := next == len(stamps) || stamps[next] > last
		ahead := 0
		for ahead < len(kept) && ahead <= falseAhead && stamps[kept[len(kept)-1-ahead]] >= s {
			ahead++
		}
		if falling || goesOn || ahead > falseAhead {
			o.Backward.add(i)
			falling = !goesOn
			continue
		}
		for _, row := range kept[len(kept)-ahead:] {
			o.Backward.add(row)
		}
		kept = append(kept[:len(kept)-ahead], i)
	}
	for _, row := range kept {
		if n := len(o.Keep); n > 0 && o.Keep[n-1].To == row {
			o.Keep[n-1].To++
		} else {
			o.Keep = append(o.Keep, signal.Span{From: row, To: row + 1})
		}
	}
	return o
}

// Len gives the number of rows kept.
func (o *Order) Len() int {
	n := 0
	for _, s := range o.Keep {
		n += s.Len()
	}
	return n
}

// Row gives the row, from 0, that a sample of the time base stands in.
func (o *Order) Row(sample int) int {
	for _, s := range o.Keep {
		if sample < s.Len() {
			return s.From + sample
		}
		sample -= s.Len()
	}
	return 0
}

// Tell adds a caveat for everything that kept a row out of the time base. place
// gives the place of a row; rows is how many there were.
func (o *Order) Tell(list *caveat.List, rows int, place func(row int) caveat.Place) {
	if f := o.Missing; f.Rows > 0 {
		list.Add("missing_stamp", place(f.First), "%d of %d rows have no time stamp and are left out; the first is here.", f.Rows, rows)
	}
	if f := o.Duplicate; f.Rows > 0 {
		text := "%d of %d rows repeat the time stamp before them; the first row of each stamp is kept and the others are left out. The first repetition is here."
		if f.Rows > rows/4 {
			text += " The stamps are coarser than the rows: another time column, if there is one, would keep more."
		}
		list.Add("duplicate_stamp", place(f.First), text, f.Rows, rows)
	}
	if f := o.Backward; f.Rows > 0 {
		text := "Time runs backward %d times, by up to %.3f s; %d of %d rows are left out so that it increases, the first of them here."
		if f.Rows > 100 && f.Rows > rows/20 {
			text += " If the file holds several recordings one after the other, split it."
		}
		list.Add("backward_stamp", place(f.First), text, o.Jumps, float64(o.BackNS)/1e9, f.Rows, rows)
	}
}

// TellGaps adds one caveat about the steps of a time base, in s, that are longer
// than 1.5 median steps: how many there are, the longest and where it begins.
// place gives the place of a sample of the base.
func TellGaps(list *caveat.List, t []float64, place func(sample int) caveat.Place) {
	if len(t) < 3 {
		return
	}
	stride := (len(t)-2)/medianSteps + 1
	steps := make([]float64, 0, (len(t)-2)/stride+1)
	for i := 0; i < len(t)-1; i += stride {
		steps = append(steps, t[i+1]-t[i])
	}
	median := middle(steps)
	count, at := 0, 0
	longest := 0.0
	for i := range t[1:] {
		step := t[i+1] - t[i]
		if step > gapSteps*median {
			count++
		}
		if step > longest {
			longest, at = step, i
		}
	}
	if count == 0 {
		return
	}
	p := place(at)
	p.TimeS = caveat.At(t[at])
	list.Add("gap", p, "%d steps are longer than %g times the median step of %.4g s; the longest, %.4g s, begins here. Values in between are interpolated, if at all, by whoever uses them.",
		count, gapSteps, median, longest)
}

// middle gives the upper median of x, which it sorts.
func middle(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)/2]
}
