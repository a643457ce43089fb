// Package threshold finds the entry speed at which half of the attempts would be
// clean, stint by stint, from attempts that were clean or not.
//
// In the trade it is the highest clean entry speed of an evasive manoeuvre. Each
// attempt has its entry speed and is clean or not; the chance of a clean one falls
// with speed along a logistic curve, equally steep for all tyres, whose middle is
// the stint's threshold. What is then compared is one threshold a stint: attempts
// of one stint share its fitment and its moment and are never the error.
//
// A stint whose attempts were all clean says only that its threshold is not below
// the highest of them: where the ground had set a ceiling beforehand that is
// censoring, not failure. One without a clean attempt says the reverse.
//
// Thresholds are found by driving at the limit. Overshoot and recoil at one set
// speed tell tyres apart without that, and are offered first.
//
// Sources: logistic regression with Jeffreys' prior as a penalty, which keeps
// estimates finite and takes their first-order bias away: Firth, Biometrika 80
// (1993) 27; Heinze and Schemper, Statistics in Medicine 21 (2002) 2409. Units:
// speeds in m/s. Limits: dense, some tens of stints; the same steepness for all.
// Where the speeds tried do not reach well past the thresholds on both sides,
// intervals made from them hold a little less than they say: 0.94 instead of 0.95
// in simulation. Attempts driven up and down, a step lower after each that was not
// clean, go through the same fit; the estimators made for such sequences (Dixon
// and Mood 1948) are not here, as no published worked value was at hand to hold
// them against.
package threshold

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.org/bookend/fault"
)

// Attempt is one attempt.
type Attempt struct {
	Speed float64 // at entry, m/s
	Clean bool
}

// Side says on which side of what is stated a threshold lies.
type Side int

// Sides.
const (
	Found Side = 0
	Above Side = 1  // every attempt was clean: not below the highest
	Below Side = -1 // none was: not above the lowest
)

// Level is the threshold of one stint.
type Level struct {
	Speed    float64 // m/s; of a stint that is not Found the attempt nearest to it, or the estimate where that is nearer to the others
	SE       float64 // from its attempts alone, m/s
	Side     Side
	Attempts int
	Clean    int
	Step     float64 // largest step between speeds tried around the threshold, m/s; 0 where one speed was tried
}

// Fitted is the thresholds of all stints.
type Fitted struct {
	Levels []Level
	Width  float64 // m/s by which the odds of a clean attempt fall to 1/e
}

// most rounds of Newton's method; ten are usual.
const most = 200

// Fit finds the thresholds of stints, each with its attempts.
func Fit(stints [][]Attempt) (*Fitted, error) {
	n, s := 0, len(stints)
	mean, least, greatest := 0.0, math.Inf(1), math.Inf(-1)
	clean := 0
	for i, list := range stints {
		if len(list) == 0 {
			return nil, fault.New(fault.Invalid, "stint %d has no attempt", i+1)
		}
		for _, a := range list {
			n++
			mean += a.Speed
			least, greatest = min(least, a.Speed), max(greatest, a.Speed)
			if a.Clean {
				clean++
			}
		}
	}
	switch {
	case n == 0:
		return nil, fault.New(fault.Invalid, "there are no attempts")
	case clean == 0:
		return nil, fault.New(fault.Invalid, "no attempt was clean: a threshold lies below the lowest speed").WithHint("compare overshoot and recoil at one set speed")
	case clean == n:
		return nil, fault.New(fault.Invalid, "every attempt was clean: a threshold lies above the highest speed").WithHint("compare overshoot and recoil at one set speed")
	case !(greatest > least):
		return nil, fault.New(fault.Invalid, "all attempts had one entry speed: how cleanness falls with speed is not known").WithHint("a threshold needs attempts at several speeds")
	}
	mean /= float64(n)
	scale := greatest - least
	f := &fit{stint: make([]int, 0, n), x: make([]float64, 0, n), y: make([]float64, 0, n), s: s}
	for i, list := range stints {
		for _, a := range list {
			f.stint, f.x = append(f.stint, i), append(f.x, (a.Speed-mean)/scale)
			y := 0.0
			if a.Clean {
				y = 1
			}
			f.y = append(f.y, y)
		}
	}
	beta, cov, ok := f.climb()
	if !ok {
		return nil, fault.New(fault.Invalid, "the attempts do not determine thresholds").WithHint("give every stint attempts at several speeds around its limit")
	}
	b := beta[s]
	if !(b > 0) {
		return nil, fault.New(fault.Invalid, "attempts at higher speeds were not less clean: there is no threshold to be found").WithHint("compare overshoot and recoil at one set speed")
	}
	out := &Fitted{Width: scale / b}
	for i, list := range stints {
		l := Level{Attempts: len(list), Speed: mean + scale*beta[i]/b}
		// By first order: the threshold is a over b.
		ga, gb := 1/b, -beta[i]/(b*b)
		l.SE = scale * math.Sqrt(max(0, ga*ga*cov.At(i, i)+2*ga*gb*cov.At(i, s)+gb*gb*cov.At(s, s)))
		var speeds []float64
		for _, a := range list {
			speeds = append(speeds, a.Speed)
			if a.Clean {
				l.Clean++
			}
		}
		slices.Sort(speeds)
		switch l.Clean {
		case l.Attempts:
			l.Side, l.Speed = Above, min(l.Speed, speeds[len(speeds)-1])
		case 0:
			l.Side, l.Speed = Below, max(l.Speed, speeds[0])
		}
		l.Step = step(speeds, l.Speed)
		out.Levels = append(out.Levels, l)
	}
	return out, nil
}

// step gives the step between the speeds tried on either side of the threshold,
// or the largest at all where it lies beyond them.
func step(sorted []float64, at float64) float64 {
	largest := 0.0
	for i := range sorted[1:] {
		d := sorted[i+1] - sorted[i]
		if sorted[i] <= at && at <= sorted[i+1] && d > 0 {
			return d
		}
		largest = max(largest, d)
	}
	return largest
}

// fit is the problem: a level for each stint, and one slope against speed.
type fit struct {
	stint []int
	x, y  []float64
	s     int
}

// row gives what an attempt weighs in each coefficient: its stint, and its speed
// with the sign turned.
func (f *fit) eta(k int, beta []float64) float64 { return beta[f.stint[k]] - beta[f.s]*f.x[k] }

// state is likelihood, information and penalty at one place.
type state struct {
	value float64
	p, h  []float64 // chance of a clean attempt, leverage
	chol  mat.Cholesky
	ok    bool
}

func (f *fit) at(beta []float64) *state {
	st := &state{p: make([]float64, len(f.y)), h: make([]float64, len(f.y))}
	d := f.s + 1
	info := mat.NewSymDense(d, nil)
	for k := range f.y {
		e := f.eta(k, beta)
		st.p[k] = 1 / (1 + math.Exp(-e))
		// log(1 + exp(e)) without overflow
		st.value += f.y[k]*e - (max(e, 0) + math.Log1p(math.Exp(-math.Abs(e))))
		w := st.p[k] * (1 - st.p[k])
		i := f.stint[k]
		info.SetSym(i, i, info.At(i, i)+w)
		info.SetSym(i, f.s, info.At(i, f.s)-w*f.x[k])
		info.SetSym(f.s, f.s, info.At(f.s, f.s)+w*f.x[k]*f.x[k])
	}
	if !st.chol.Factorize(info) || math.IsNaN(st.value) {
		return st
	}
	st.value += st.chol.LogDet() / 2
	var inv mat.SymDense
	if st.chol.InverseTo(&inv) != nil {
		return st
	}
	for k := range f.y {
		i, x := f.stint[k], -f.x[k]
		st.h[k] = st.p[k] * (1 - st.p[k]) * (inv.At(i, i) + 2*x*inv.At(i, f.s) + x*x*inv.At(f.s, f.s))
	}
	st.ok = !math.IsNaN(st.value) && !math.IsInf(st.value, 0)
	return st
}

// climb maximises the penalised likelihood.
func (f *fit) climb() (beta []float64, cov *mat.SymDense, ok bool) {
	d := f.s + 1
	beta = make([]float64, d)
	now := f.at(beta)
	for range most {
		if !now.ok {
			return nil, nil, false
		}
		score := mat.NewVecDense(d, nil)
		for k := range f.y {
			u := f.y[k] - now.p[k] + now.h[k]*(0.5-now.p[k])
			i := f.stint[k]
			score.SetVec(i, score.AtVec(i)+u)
			score.SetVec(f.s, score.AtVec(f.s)-u*f.x[k])
		}
		var move mat.VecDense
		if now.chol.SolveVecTo(&move, score) != nil {
			return nil, nil, false
		}
		size := mat.Norm(&move, math.Inf(1))
		if size < 1e-12*(1+norm(beta)) {
			break
		}
		// Steps of at most 5 on the logit scale, halved until they lead uphill.
		length := min(1, 5/size)
		for range 60 {
			next := make([]float64, d)
			for j := range next {
				next[j] = beta[j] + length*move.AtVec(j)
			}
			then := f.at(next)
			if then.ok && then.value >= now.value-1e-14*math.Abs(now.value) {
				beta, now = next, then
				break
			}
			length /= 2
		}
		if length < 1e-17 {
			break
		}
	}
	cov = new(mat.SymDense)
	if now.chol.InverseTo(cov) != nil {
		return nil, nil, false
	}
	return beta, cov, true
}

func norm(x []float64) float64 {
	m := 0.0
	for _, v := range x {
		m = max(m, math.Abs(v))
	}
	return m
}
