package control

import (
	"encoding/binary"
	"math"
	"slices"
	"sync"

	"example.org/bookend/stat/drift"
)

// memory keeps what was found by permuting the control's stints: it depends on their
// places and values alone, the seed being fixed, and costs more than all else that the
// control is asked for. Leaving a candidate's run out does not touch it.
var memory = struct {
	sync.Mutex
	lags   map[string]drift.Correlation
	shifts map[string]drift.Shift
}{lags: map[string]drift.Correlation{}, shifts: map[string]drift.Shift{}}

// remembered bounds each map of memory; a full one is emptied. Own choice.
const remembered = 4096

// Forget empties what is remembered, as after a start of the program.
func Forget() {
	memory.Lock()
	defer memory.Unlock()
	clear(memory.lags)
	clear(memory.shifts)
}

// key names places and values, bit by bit.
func key(list ...drift.Sequence) string {
	var b []byte
	for _, s := range list {
		b = binary.LittleEndian.AppendUint64(b, uint64(len(s.At)))
		b = binary.LittleEndian.AppendUint64(b, uint64(len(s.Value)))
		for _, v := range s.At {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		for _, v := range s.Value {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	return string(b)
}

// recalled gives what a map of memory holds under a key, or finds it and keeps it there.
func recalled[V any](in map[string]V, k string, find func() (V, error)) (V, error) {
	memory.Lock()
	v, ok := in[k]
	memory.Unlock()
	if ok {
		return v, nil
	}
	v, err := find()
	if err != nil {
		return v, err
	}
	memory.Lock()
	defer memory.Unlock()
	if len(in) >= remembered {
		clear(in)
	}
	in[k] = v
	return v, nil
}

// lagOne is drift.LagOne with the draws of this room, from memory where the same was
// asked before.
func lagOne(list ...drift.Sequence) (drift.Correlation, error) {
	l, err := recalled(memory.lags, key(list...), func() (drift.Correlation, error) { return drift.LagOne(draws, list...) })
	l.Caveats = slices.Clip(l.Caveats)
	return l, err
}

// suddenShift is drift.SuddenShift beside a line with the draws of this room, from
// memory where the same was asked before.
func suddenShift(s drift.Sequence) (drift.Shift, error) {
	sh, err := recalled(memory.shifts, key(s), func() (drift.Shift, error) { return drift.SuddenShift(s, 1, draws) })
	sh.Caveats = slices.Clip(sh.Caveats)
	return sh, err
}
