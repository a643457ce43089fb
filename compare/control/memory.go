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

// lagOne is drift.LagOne with the draws of this room, from memory where the same was
// asked before.
func lagOne(list ...drift.Sequence) (drift.Correlation, error) {
	k := key(list...)
	memory.Lock()
	l, ok := memory.lags[k]
	memory.Unlock()
	if !ok {
		var err error
		if l, err = drift.LagOne(draws, list...); err != nil {
			return l, err
		}
		memory.Lock()
		if len(memory.lags) >= remembered {
			clear(memory.lags)
		}
		memory.lags[k] = l
		memory.Unlock()
	}
	l.Caveats = slices.Clip(l.Caveats)
	return l, nil
}

// suddenShift is drift.SuddenShift beside a line with the draws of this room, from
// memory where the same was asked before.
func suddenShift(s drift.Sequence) (drift.Shift, error) {
	k := key(s)
	memory.Lock()
	sh, ok := memory.shifts[k]
	memory.Unlock()
	if !ok {
		var err error
		if sh, err = drift.SuddenShift(s, 1, draws); err != nil {
			return sh, err
		}
		memory.Lock()
		if len(memory.shifts) >= remembered {
			clear(memory.shifts)
		}
		memory.shifts[k] = sh
		memory.Unlock()
	}
	sh.Caveats = slices.Clip(sh.Caveats)
	return sh, nil
}
