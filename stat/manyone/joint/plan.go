package joint

import (
	"encoding/binary"
	"math"
	"sync"

	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone/cells"
	"example.org/bookend/stat/manyone/network"
	"example.org/bookend/stat/manyone/region"
)

// The ways of computing, as results name them.
const (
	student = "Student"
	plane   = "plane"
	sphere  = "sphere"
	lattice = "lattice"
	rangeOf = "range"
	bonf    = "Bonferroni"
)

// Limits of the correlation matrix. A correlation printed to ten digits is
// taken as meant.
const (
	sameTol = 1e-12 // 1-|r| below this: the same comparison
	// negligible is the sum of single tails below which it stands for the
	// family's, conservatively.
	negligible = 1e-10
)

// Plan is a family made ready: its different comparisons and how to compute.
type Plan struct {
	f      Family
	of     []int     // of each comparison: which different one it is
	sign   []float64 // and whether turned round
	r      [][]float64
	Method string           // the way of computing, as results name it
	lambda []float64        // one factor, or the nearest to it
	l      [][]float64      // r = l l', for plane and sphere
	load   [][]float64      // two to four factors or as many as there are comparisons, exact or the nearest
	exact  bool             // the factors are exact
	net    *network.Network // of the exact factors
	unit   region.Box       // limits of 1
	Curve  *network.Curve   // one factor or exact factors: the tail for a limit common to all
	pairs  int              // all pairs of so many codes, else 0
	even   [][]float64      // the pairs of codes of equal standing, as the lattice's aid
}

// prepared keeps plans: to find out how a family hangs together costs more than
// any tail that is asked of it. A plan is the same whoever made it first.
var prepared = struct {
	sync.Mutex
	plans map[string]*Plan
}{plans: map[string]*Plan{}}

// mostPrepared bounds the plans kept; when there are more all are dropped. A plan of
// four comparisons takes some 10 kB; a programme of a hundred measures has a dozen
// each.
const mostPrepared = 2048

// key names the correlations and whether the family is two-sided; degrees of
// freedom do not belong to a plan.
func (f Family) key() string {
	b := make([]byte, 0, 9+8*len(f.Corr)*(len(f.Corr)+1))
	b = append(b, byte(f.Sided))
	for _, row := range f.Corr {
		b = binary.LittleEndian.AppendUint64(b, uint64(len(row)))
		for _, v := range row {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	return string(b)
}

func (f Family) prepare() (*Plan, error) {
	key := f.key()
	prepared.Lock()
	p, ok := prepared.plans[key]
	prepared.Unlock()
	if ok && f.DF > 0 {
		copied := *p
		copied.f = f
		return &copied, nil
	}
	p, err := f.fresh()
	if err != nil {
		return nil, err
	}
	p.f.Corr = nil // the caller's, who may change it
	prepared.Lock()
	defer prepared.Unlock()
	if len(prepared.plans) >= mostPrepared {
		clear(prepared.plans)
	}
	prepared.plans[key] = p
	copied := *p
	copied.f = f
	return &copied, nil
}

// fresh makes a family ready.
func (f Family) fresh() (*Plan, error) {
	k := len(f.Corr)
	if k == 0 {
		return nil, fault.New(fault.Invalid, "there are no comparisons")
	}
	if !(f.DF > 0) {
		return nil, fault.New(fault.Invalid, "the degrees of freedom are %v", f.DF).WithHint("without scatter to judge by there is no test")
	}
	if f.Sided < TwoSided || f.Sided > Lower {
		return nil, fault.New(fault.Invalid, "there is no side %d", int(f.Sided))
	}
	p := &Plan{f: f}
	var first []int
	for i := range k {
		if len(f.Corr[i]) != k {
			return nil, fault.New(fault.Invalid, "row %d of the correlations has %d entries for %d comparisons", i+1, len(f.Corr[i]), k)
		}
		if !(math.Abs(f.Corr[i][i]-1) <= 1e-9) {
			return nil, fault.New(fault.Invalid, "the correlation of comparison %d with itself is %v", i+1, f.Corr[i][i])
		}
		p.of, p.sign = append(p.of, len(first)), append(p.sign, 1)
		found := false
		for j := range i {
			r := f.Corr[i][j]
			if !(math.Abs(r) <= 1+1e-9) || !(math.Abs(r-f.Corr[j][i]) <= 1e-9) {
				return nil, fault.New(fault.Invalid, "the correlations of comparisons %d and %d are %v and %v", i+1, j+1, r, f.Corr[j][i])
			}
			if !found && math.Abs(r) > 1-sameTol {
				p.of[i], p.sign[i] = p.of[j], math.Copysign(1, r)*p.sign[j]
				found = true
			}
		}
		if !found {
			first = append(first, i)
		}
	}
	m := len(first)
	if m > MaxComparisons {
		return nil, fault.New(fault.Unsupported, "there are %d different comparisons, at most %d are done", m, MaxComparisons)
	}
	p.r = make([][]float64, m)
	for i, a := range first {
		p.r[i] = make([]float64, m)
		for j, b := range first {
			p.r[i][j] = (f.Corr[a][b] + f.Corr[b][a]) / 2
		}
		p.r[i][i] = 1
	}
	ones := make([]float64, k)
	for i := range ones {
		ones[i] = 1
	}
	p.unit = p.box(ones)
	if m == 1 {
		p.Method = student
		return p, nil
	}
	l, rank, err := region.Pivoted(p.r)
	if err != nil {
		return nil, err
	}
	p.l = l
	lambda, misfit := network.FitFactor(p.r)
	p.lambda = lambda
	if rank <= 2 && m > 2 {
		p.Method = plane
		return p, nil
	}
	if misfit <= network.FactorTol {
		p.Method = network.OneFactor
		p.Curve = network.FactorCurve(lambda, p.unit)
		return p, nil
	}
	if rank < m || rank == 3 {
		p.Method = lattice
		if rank == 3 {
			p.Method = sphere
		}
		if rank < m {
			return p, nil
		}
	}
	p.load, p.exact, p.net = network.Cheapest(p.r)
	if p.Method != sphere {
		p.Method = lattice
		if p.exact {
			p.Method = network.Factors
		}
	}
	if p.exact {
		p.Curve = network.FactorsCurve(p.net, p.unit)
	}
	return p, nil
}

// box gives the region inside for the limits c, one a comparison.
func (p *Plan) box(c []float64) region.Box {
	b := region.Box{Lo: make([]float64, len(p.r)), Hi: make([]float64, len(p.r))}
	for i := range b.Lo {
		b.Lo[i], b.Hi[i] = math.Inf(1), math.Inf(1)
	}
	for i, v := range c {
		d := p.of[i]
		switch {
		case p.f.Sided == TwoSided:
			b.Lo[d], b.Hi[d] = min(b.Lo[d], v), min(b.Hi[d], v)
		case p.sign[i] > 0: // T < -c on the lower side is -T > c: the same by symmetry
			b.Hi[d] = min(b.Hi[d], v)
		default:
			b.Lo[d] = min(b.Lo[d], v)
		}
	}
	return b
}

// TailAll gives the probability outside of one limit common to all.
func (p *Plan) TailAll(c float64) Probability {
	cs := make([]float64, len(p.of))
	for i := range cs {
		cs[i] = c
	}
	return p.tail(cs)
}

// tail gives the probability outside of the limits.
func (p *Plan) tail(c []float64) Probability { return p.outside(p.box(c)) }

func (p *Plan) outside(b region.Box) Probability {
	for i := range b.Lo {
		if b.Lo[i]+b.Hi[i] <= 0 {
			return Probability{P: 1, Method: p.Method} // nothing is inside
		}
	}
	free := true
	for i := range b.Lo {
		free = free && math.IsInf(b.Lo[i], 1) && math.IsInf(b.Hi[i], 1)
	}
	if free {
		return Probability{P: 0, Method: p.Method}
	}
	if p.Curve != nil && p.Method != rangeOf && (p.Method != sphere || !b.Positive()) {
		if c, ok := b.Over(p.unit); ok && b.Sides()*region.UpperT(c, p.f.DF) > negligible {
			v, rel := p.Curve.Tail(c, p.f.DF)
			return Probability{P: min(1, v), Error: rel * v, Method: p.Curve.Method}
		}
	}
	if p.Method == network.Factors || p.Method == lattice || p.Method == sphere && p.exact && !b.Positive() {
		// Far out there is nothing to gain from how the comparisons hang
		// together: their sum is an upper bound, the largest a lower one.
		sum, largest := 0.0, 0.0
		for i := range b.Lo {
			q := region.UpperT(b.Hi[i], p.f.DF) + region.UpperT(b.Lo[i], p.f.DF)
			sum += q
			largest = max(largest, q)
		}
		if sum < negligible {
			return Probability{P: sum, Error: sum - largest, Method: bonf}
		}
	}
	switch p.Method {
	case student:
		v := region.UpperT(b.Hi[0], p.f.DF) + region.UpperT(b.Lo[0], p.f.DF)
		return Probability{P: min(1, v), Error: 1e-13 * v, Method: student}
	case plane:
		v := cells.PlaneTail(p.l, b, p.f.DF)
		return Probability{P: min(1, v), Error: 1e-12 * v, Method: plane}
	case sphere:
		if b.Positive() {
			v := cells.SphereTail(p.l, b, p.f.DF)
			return Probability{P: min(1, v), Error: 1e-11 * v, Method: sphere}
		}
		if p.exact {
			v, rel := network.FactorsTail(p.load, b, p.f.DF)
			return Probability{P: min(1, v), Error: rel * v, Method: network.Factors}
		}
	case rangeOf:
		v, rel := rangeTail(p.pairs, b.Hi[0]*math.Sqrt2, p.f.DF)
		return Probability{P: min(1, v), Error: rel * v, Method: rangeOf}
	case network.OneFactor:
		v, rel := network.FactorTail(p.lambda, b, p.f.DF)
		return Probability{P: min(1, v), Error: rel * v, Method: network.OneFactor}
	case network.Factors:
		v, rel := network.FactorsTail(p.load, b, p.f.DF)
		return Probability{P: min(1, v), Error: rel * v, Method: network.Factors}
	}
	return p.latticeTail(b)
}

// Critical solves outside(c) = alpha by safeguarded secant in log P.
func (p *Plan) Critical(alpha float64) (float64, float64, error) {
	k := float64(len(p.r))
	// Bonferroni is above, one comparison alone below (Sidak's inequality and
	// monotony); the correlation does not matter for either.
	side := alpha
	if p.f.Sided == TwoSided {
		side = alpha / 2
	}
	low, high := region.QuantileT(side, p.f.DF), region.QuantileT(side/k, p.f.DF)
	if p.Method == student && p.sameWay() {
		return low, 1e-12 * max(1, math.Abs(low)), nil
	}
	if p.Method == student {
		// One comparison taken both ways is a two-sided one.
		c := region.QuantileT(alpha/2, p.f.DF)
		return c, 1e-12 * max(1, math.Abs(c)), nil
	}
	// Comparisons turned round count twice on one side.
	if p.f.Sided != TwoSided {
		high = region.QuantileT(side/float64(len(p.of)), p.f.DF)
	}
	low -= 1e-9 * (1 + math.Abs(low))
	high += 1e-9 * (1 + math.Abs(high))
	switch p.Method {
	case lattice:
		return p.latticeCritical(alpha, low, high)
	}
	g := func(c float64) (float64, float64) {
		r := p.TailAll(c)
		return math.Log(r.P) - math.Log(alpha), r.Error / r.P
	}
	c, slope, rel := region.Solve(g, low, high)
	if c < low || c > high {
		return 0, 0, fault.New(fault.Internal, "the critical value %v left its bounds", c)
	}
	return c, rel/math.Abs(slope) + 1e-12*max(1, math.Abs(c)), nil
}

// nearCritical gives the critical value of the nearest one-factor family and
// the slope of its log tail there.
func (p *Plan) nearCritical(alpha, low, high float64) (c, slope float64) {
	near := *p
	near.Method = network.OneFactor
	c, slope, _ = region.Solve(func(c float64) (float64, float64) {
		return math.Log(near.TailAll(c).P) - math.Log(alpha), 0
	}, low, high)
	return c, slope
}

// newton solves tail(c) = alpha from a start with a slope that is nearly right
// and is improved by secants.
func (p *Plan) newton(alpha, c, slope, low, high float64, tail func(float64) Probability) (float64, float64, error) {
	r := tail(c)
	g := math.Log(max(r.P, 1e-300) / alpha)
	for range 30 {
		next := min(max(c-g/slope, low), high)
		moved := math.Abs(next - c)
		// Below the error of the tail itself there is nothing to be gained.
		if moved < 1e-12*(1+math.Abs(c)) || moved*math.Abs(slope) < 0.01*r.Error/alpha {
			break
		}
		r = tail(next)
		gn := math.Log(max(r.P, 1e-300) / alpha)
		// A secant over a tiny step is noise.
		if s := (gn - g) / (next - c); moved > 1e-7 && s < 0.3*slope && s > 3*slope {
			slope = s
		}
		c, g = next, gn
	}
	if !(slope < 0) {
		return 0, 0, fault.New(fault.Internal, "the tail does not fall with the limit")
	}
	return c, (r.Error/alpha+math.Abs(g))/math.Abs(slope) + 1e-12*(1+math.Abs(c)), nil
}

func (p *Plan) sameWay() bool {
	if p.f.Sided == TwoSided {
		return true
	}
	for _, s := range p.sign {
		if s < 0 {
			return false
		}
	}
	return true
}
