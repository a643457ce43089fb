package match

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
)

// Move says where a person has laid the begin and the end of a timed piece.
type Move struct {
	Number int     `json:"piece"` // of the timed piece, from 1 in the order driven
	FromS  float64 `json:"from_s"`
	ToS    float64 `json:"to_s"` // s from the recording's anchor
}

// Recut lays the ends of timed pieces where a person has laid them. Lengths are driven
// anew, and whether the vehicle stood and positions are missing is judged anew; out-lap
// and in-lap give way. Runs that would overlap, ends outside the recording and a piece
// that there is not are faults. The pieces that are handed in stay as they are.
func Recut(rec *signal.Recording, c *course.Course, spec programme.Spec, params programme.Parameters, pieces []Piece, moves []Move) ([]Piece, error) {
	if len(moves) == 0 {
		return pieces, nil
	}
	out := append([]Piece(nil), pieces...)
	all, err := whole(rec)
	if err != nil {
		return nil, fault.At(err, "%s", rec.Name)
	}
	var path []course.Track
	if c != nil {
		if path, err = tracks(rec, c); err != nil {
			return nil, fault.At(err, "%s", rec.Name)
		}
	}
	for _, m := range moves {
		var p *Piece
		for i := range out {
			if out[i].Kind == Timed && out[i].Number == m.Number {
				p = &out[i]
			}
		}
		switch {
		case p == nil:
			return nil, fault.New(fault.NotFound, "%s has no piece %d", rec.Name, m.Number)
		case !(m.ToS > m.FromS):
			return nil, fault.New(fault.Invalid, "piece %d would end at %s s, before it begins at %s s", m.Number, trim(m.ToS, 2), trim(m.FromS, 2))
		case m.FromS < all[0].FromS || m.ToS > all[0].ToS:
			return nil, fault.New(fault.Invalid, "piece %d would lie outside %s", m.Number, rec.Name).
				WithHint("it was recorded from %s s to %s s", trim(all[0].FromS, 2), trim(all[0].ToS, 2))
		}
		p.FromS, p.ToS = m.FromS, m.ToS
		again(p, rec, path, params)
	}
	for i := range out {
		for k := range out {
			p, q := &out[i], &out[k]
			if i == k || p.Kind != Timed || !(p.FromS < q.ToS && q.FromS < p.ToS) {
				continue
			}
			switch {
			case q.Kind == OutLap && p.FromS > q.FromS:
				q.ToS = p.FromS
				q.LengthM = driven(path, q.FromS, q.ToS)
			case q.Kind == InLap && p.ToS < q.ToS:
				q.FromS = p.ToS
				q.LengthM = driven(path, q.FromS, q.ToS)
			case q.Kind == Timed && i < k:
				return nil, fault.New(fault.Conflict, "pieces %d and %d would overlap", p.Number, q.Number).
					WithHint("piece %d lies from %s s to %s s, piece %d from %s s to %s s: move the other's end first", p.Number, trim(p.FromS, 2), trim(p.ToS, 2), q.Number, trim(q.FromS, 2), trim(q.ToS, 2))
			}
		}
	}
	if spec.Cut == programme.CutByGate || spec.Cut == programme.CutByPass {
		for i := range out {
			out[i].Flags = without(out[i].Flags, FlagLength)
		}
		flagLengths(out, number(params, ParamLengthShare, lengthShare))
	}
	for i := range out {
		out[i].Flags = out[i].Flags.Within(caveat.Place{File: rec.Name})
	}
	return out, nil
}

// again drives a piece's length anew, and judges anew what depends on its ends.
func again(p *Piece, rec *signal.Recording, path []course.Track, params programme.Parameters) {
	p.Flags = without(without(p.Flags, FlagGap), FlagStanding)
	if len(path) > 0 {
		p.LengthM = driven(path, p.FromS, p.ToS)
		one := []Piece{*p}
		flagGaps(one, path)
		flagStanding(one, rec, path, params)
		*p = one[0]
		return
	}
	if p.LengthM == 0 { // it had none
		return
	}
	if speed := rec.SpeedOverGround(); speed != nil {
		v, ok := speed.Integral(p.FromS, p.ToS)
		if p.LengthM = 0; ok && !math.IsNaN(v) {
			p.LengthM = v
		}
	}
}

// without gives flags without those of a code, in a list of its own.
func without(flags caveat.List, code string) caveat.List {
	var out caveat.List
	for _, k := range flags {
		if k.Code != code {
			out = append(out, k)
		}
	}
	return out
}
