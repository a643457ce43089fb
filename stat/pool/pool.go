// Package pool borrows scatter: it pools the variances of earlier programmes,
// moderates them where the programmes differ, says when a programme does not
// fit its record, and keeps the charts on which a record is watched.
//
// In the trade: three control stints leave one degree of freedom and an
// interval too wide to decide anything; the ground's own record of control
// stints, used as a check standard, makes the programme decidable. It does so
// honestly only under rules, and they are here: degrees of freedom are counted
// after each programme's own mean and drift, a moderated variance needs at
// least ten programmes, borrowed degrees of freedom never exceed the record's
// own, and a programme with too much scatter for the record must stand alone.
//
// Sources: NIST/SEMATECH e-Handbook of Statistical Methods, chapter 2 (check
// standards) and 6.3.2 (charts); Smyth, Statistical Applications in Genetics
// and Molecular Biology 3 (2004) 3 (moderated variance); Bartlett (1937).
// Variances are in squared units of the measure (squared log units on a ratio
// scale). Limits: pooling takes the scatter for a constant of the ground.
package pool

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
	"example.org/bookend/stat/drift"
	"example.org/bookend/stat/tail"
)

// MinimumForPrior is the number of programmes below which no moderated
// variance is estimated, since the prior's own degrees of freedom would be
// known too badly. Rule of this project, without a published source.
const MinimumForPrior = 10

// CheckLevel is the level of the upper check: a programme whose residual
// variance lies above the 95 % point of F refuses the record. Rule of this
// project, after NIST e-Handbook 2.2.3.2 (precision chart with F limits).
const CheckLevel = 0.05

// Contribution is what one programme gives to a record: its residual variance
// and degrees of freedom after its own mean and drift.
type Contribution struct {
	Label    string
	Variance float64 // squared measure units
	DF       float64
}

// FromSequence makes a contribution of a programme's control sequence: the
// variance about a polynomial of the degree given (0 mean, 1 line), with the
// degrees of freedom that this leaves.
func FromSequence(label string, s drift.Sequence, degree int) (Contribution, error) {
	resid, df, err := drift.Residuals(s, degree)
	if err != nil {
		return Contribution{}, fault.At(err, "%s", label)
	}
	c := Contribution{Label: label, DF: float64(df)}
	if df > 0 {
		for _, e := range resid {
			c.Variance += e * e
		}
		c.Variance /= c.DF
	}
	return c, nil
}

// Pooled is the plain pooled variance of several programmes.
type Pooled struct {
	Programmes int     // with degrees of freedom
	Variance   float64 // squared measure units
	DF         float64 // the sum of all
	Chi2       float64 // Bartlett's test that all variances are one
	Chi2DF     float64
	P          float64 // small: the programmes do not share one variance; 1 where it cannot be tested
	Caveats    caveat.List
}

// Pool gives the pooled variance, each weighted by its degrees of freedom, and
// Bartlett's test of what pooling assumes.
func Pool(list []Contribution) (Pooled, error) {
	p := Pooled{P: 1}
	used, err := usable(list, &p.Caveats)
	if err != nil {
		return p, err
	}
	p.Programmes = len(used)
	if len(used) == 0 {
		return p, fault.New(fault.Invalid, "no programme has degrees of freedom to pool")
	}
	sum, inverse, logs, zero := 0.0, 0.0, 0.0, 0
	for _, c := range used {
		sum += c.DF * c.Variance
		p.DF += c.DF
		inverse += 1 / c.DF
		if c.Variance == 0 {
			zero++
		} else {
			logs += c.DF * math.Log(c.Variance)
		}
	}
	p.Variance = sum / p.DF
	k := float64(len(used))
	switch {
	case len(used) < 2:
	case zero == len(used):
		p.Caveats.Add("no_scatter", caveat.Place{}, "No programme scatters at all.")
	case zero > 0:
		p.Caveats.Add("zero_variance", caveat.Place{}, "%d of %d programmes have a variance of exactly 0: look at them (rounded or copied values?); whether the variances agree cannot be tested.", zero, len(used))
	default:
		p.Chi2DF = k - 1
		p.Chi2 = math.Max(0, (p.DF*math.Log(p.Variance)-logs)/(1+(inverse-1/p.DF)/(3*(k-1))))
		p.P = tail.Chi2(p.Chi2, p.Chi2DF)
		if p.P < CheckLevel {
			p.Caveats.Add("heterogeneous_record", caveat.Place{}, "The programmes of the record do not share one variance (p = %.3g): an interval that borrows it is of another chance than it says.", p.P)
		}
	}
	return p, nil
}

// Prior is the distribution that the programmes' true variances are drawn
// from: a scaled inverse chi-square with Variance and DF.
type Prior struct {
	Programmes int
	Variance   float64 // s0 squared, in squared measure units
	DF         float64 // d0; +Inf where the programmes differ no more than chance makes them
	Caveats    caveat.List
}

// FitPrior estimates the prior from at least MinimumForPrior programmes by the
// moments of the log variances (Smyth 2004, section 6.2). Variances of zero are
// raised to 1e-5 of the median, as limma does.
func FitPrior(list []Contribution) (Prior, error) {
	p := Prior{}
	used, err := usable(list, &p.Caveats)
	if err != nil {
		return p, err
	}
	p.Programmes = len(used)
	n := float64(len(used))
	if len(used) < MinimumForPrior {
		return p, fault.New(fault.Invalid, "a moderated variance needs at least %d programmes with degrees of freedom, not %d", MinimumForPrior, len(used)).
			WithHint("pool the variances plainly")
	}
	v := make([]float64, len(used))
	for i, c := range used {
		v[i] = c.Variance
	}
	slices.Sort(v)
	median := (v[(len(v)-1)/2] + v[len(v)/2]) / 2
	if median == 0 {
		return p, fault.New(fault.Invalid, "half of the programmes or more do not scatter at all: there is no distribution of variances to estimate")
	}
	floor := 1e-5 * median // limma 3.54.1, fitFDist
	if v[0] < floor {
		p.Caveats.Add("zero_variance", caveat.Place{}, "Variances of (nearly) 0 are raised to 1e-5 of the median before the prior is estimated.")
	}
	e := make([]float64, len(used))
	mean, trigammas, weighted, total := 0.0, 0.0, 0.0, 0.0
	for i, c := range used {
		x := math.Max(c.Variance, floor)
		e[i] = math.Log(x) - mathext.Digamma(c.DF/2) + math.Log(c.DF/2)
		mean += e[i] / n
		trigammas += Trigamma(c.DF/2) / n
		weighted += c.DF * x
		total += c.DF
	}
	spread := 0.0
	for _, x := range e {
		spread += (x - mean) * (x - mean)
	}
	if spread = spread/(n-1) - trigammas; spread > 0 {
		p.DF = 2 * TrigammaInverse(spread)
		p.Variance = math.Exp(mean + mathext.Digamma(p.DF/2) - math.Log(p.DF/2))
	} else {
		// One variance for all: its best estimate is the pooled one.
		p.DF, p.Variance = math.Inf(1), weighted/total
	}
	return p, nil
}

// Trigamma is the second derivative of the logarithm of the gamma function,
// for x > 0.
func Trigamma(x float64) float64 { return mathext.Zeta(2, x) }

// TrigammaInverse gives the x > 0 with Trigamma(x) = y, y > 0: Newton's method
// on 1/trigamma, which is convex, from 0.5 + 1/y (Smyth 2004, appendix).
func TrigammaInverse(y float64) float64 {
	switch {
	case y > 1e7:
		return 1 / math.Sqrt(y)
	case y < 1e-6:
		return 1 / y
	}
	x := 0.5 + 1/y
	for range 60 {
		tri := Trigamma(x)
		step := tri * (1 - tri/y) / (-2 * mathext.Zeta(3, x)) // tetragamma is -2 zeta(3, x)
		x += step
		if math.Abs(step) < 1e-14*x {
			break
		}
	}
	return x
}

// Method says where a borrowed variance comes from.
type Method string

// The three methods.
const (
	OwnAlone  Method = "own"       // this programme's own residuals only
	Plain     Method = "pooled"    // the record's and the programme's residuals, pooled
	Moderated Method = "moderated" // the programme's own, drawn towards the record's prior
)

// Borrowed is the variance that a programme may use, and why.
type Borrowed struct {
	Method   Method
	Variance float64 // squared measure units
	DF       float64 // counted and capped; 0: no scatter is known at all

	Own      Contribution // this programme's own, which always stands beside it
	Record   Pooled
	Prior    *Prior  // nil where the record was pooled plainly
	Capped   bool    // DF was held to the record's sum plus the programme's own
	Uncapped float64 // what DF would have been; +Inf with a prior of infinite DF

	Refused bool    // the programme scatters too much for the record
	F       float64 // own variance over the record's
	FLimit  float64 // its 95 % point; 0 where nothing can be checked
	P       float64 // of F

	Caveats caveat.List
}

// Borrow decides what variance a programme uses, given its own residual
// variance and the record of earlier ones (this programme not among them).
//
// From MinimumForPrior programmes on the variance is moderated, below it is
// pooled plainly. Degrees of freedom are prior plus own, never more than the
// record's sum plus own. If the programme's own variance lies above the 95 % F
// limit of the record, the record is refused and the programme stands alone.
func Borrow(own Contribution, record []Contribution) (Borrowed, error) {
	b := Borrowed{Method: OwnAlone, Own: own, Variance: own.Variance, DF: own.DF, Uncapped: own.DF, P: 1}
	if !(own.Variance >= 0 && own.Variance <= largest && own.DF >= 0 && own.DF <= largest) {
		return b, fault.New(fault.Invalid, "the programme's own variance %v on %v degrees of freedom is no variance", own.Variance, own.DF)
	}
	if own.DF == 0 {
		b.Own.Variance, b.Variance = 0, 0
		own.Variance = 0
	}
	var seen caveat.List
	used, err := usable(record, &seen)
	if err != nil {
		return b, err
	}
	if len(used) == 0 {
		b.Caveats = append(b.Caveats, seen...)
		b.Caveats.Add("no_record", caveat.Place{}, "There is no record to borrow from: the programme's own %g degrees of freedom stand alone.", own.DF)
		return b, nil
	}
	if b.Record, err = Pool(record); err != nil {
		return b, err
	}
	b.Caveats = append(b.Caveats, b.Record.Caveats...)
	reference, refDF := b.Record.Variance, b.Record.DF
	if len(used) >= MinimumForPrior {
		prior, err := FitPrior(record)
		if err == nil {
			b.Prior = &prior
			for _, c := range prior.Caveats {
				if !b.Caveats.Has(c.Code) {
					b.Caveats = append(b.Caveats, c)
				}
			}
			if !math.IsInf(prior.DF, 1) {
				reference, refDF = prior.Variance, prior.DF
			}
		} else {
			b.Caveats.Add("no_prior", caveat.Place{}, "The record is pooled plainly: %v.", err)
		}
	} else {
		b.Caveats.Add("plain_pooling", caveat.Place{}, "The record holds %d programmes; below %d their variances are pooled plainly, under the assumption that the scatter is the ground's constant.", len(used), MinimumForPrior)
	}

	// Upper check: own over reference is F with own and reference degrees.
	if own.DF > 0 {
		switch {
		case reference > 0:
			b.F = own.Variance / reference
			b.FLimit = tail.FPoint(CheckLevel, own.DF, refDF)
			b.P = tail.F(b.F, own.DF, refDF)
			b.Refused = b.F > b.FLimit
		case own.Variance > 0:
			b.P, b.Refused = 0, true
		}
	} else {
		b.Caveats.Add("unchecked_record", caveat.Place{}, "The programme has no degrees of freedom of its own: nothing checks whether the record fits it.")
	}
	if b.Refused {
		b.Caveats.Add("record_refused", caveat.Place{}, "The control scatters more in this programme than the record allows (variance ratio %.3g, limit %.3g): the record is not used.", b.F, b.FLimit)
		return b, nil
	}

	most := b.Record.DF + own.DF
	if b.Prior != nil && !math.IsInf(b.Prior.DF, 1) {
		b.Method = Moderated
		b.Uncapped = b.Prior.DF + own.DF
		b.Variance = (b.Prior.DF*b.Prior.Variance + own.DF*own.Variance) / b.Uncapped
		b.DF = math.Min(most, b.Uncapped)
		if b.Capped = b.Uncapped > most; b.Capped {
			b.Caveats.Add("capped", caveat.Place{}, "The prior's degrees of freedom (%.1f) are held to those that the record really has (%.0f).", b.Prior.DF, b.Record.DF)
		}
		return b, nil
	}
	b.Method = Plain
	b.Variance = (b.Record.DF*b.Record.Variance + own.DF*own.Variance) / most
	b.DF, b.Uncapped = most, most
	if b.Prior != nil {
		b.Method, b.Capped, b.Uncapped = Moderated, true, math.Inf(1)
		b.Caveats.Add("capped", caveat.Place{}, "The programmes differ no more than chance makes them: their variances are pooled, with the %.0f degrees of freedom they really have.", most)
	}
	return b, nil
}

// usable gives the contributions with degrees of freedom; those without are
// named in a caveat.
func usable(list []Contribution, l *caveat.List) ([]Contribution, error) {
	var out []Contribution
	without := 0
	for i, c := range list {
		if !(c.Variance >= 0 && c.Variance <= largest && c.DF >= 0 && c.DF <= largest) {
			return nil, fault.New(fault.Invalid, "variance %v on %v degrees of freedom is no variance", c.Variance, c.DF).At("programme %d %s", i+1, c.Label)
		}
		if c.DF == 0 {
			without++
			continue
		}
		out = append(out, c)
	}
	if without > 0 {
		l.Add("no_degrees_of_freedom", caveat.Place{}, "%d of %d programmes have no degrees of freedom beside their own mean and drift; they give nothing.", without, len(list))
	}
	return out, nil
}
