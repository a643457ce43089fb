package compare

import (
	"example.org/bookend/caveat"
	"example.org/bookend/compare/budget"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/fitment"
	"example.org/bookend/compare/joint"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
)

// budget says where the doubt comes from.
func (r *Result) budget(seq, fit *sequence.Sequence, est *correct.Estimates, sc *scatter.Scatter, p correct.Predictor, drift Drift, y yardstick) error {
	if len(y.in) > 0 {
		r.Joint = &Joint{Control: r.Control, DF: y.df, Cov: y.cov, Ratio: seq.Ratio}
		for _, i := range y.in {
			r.Joint.Codes, r.Joint.Estimate = append(r.Joint.Codes, est.List[i].Code), append(r.Joint.Estimate, est.List[i].Value)
		}
	}
	set := r.Settings
	if set.Quick || len(y.in) == 0 {
		return nil
	}
	if err := r.among(y); err != nil {
		return err
	}
	plain, plainP, err := estimate(fit, sc, setting.NoDrift, set)
	if err != nil || drift == NoDrift {
		plain, plainP = nil, nil // all there is stands without it
	} else {
		plain = plain.Join(seq)
	}
	for a, i := range y.in {
		code := est.List[i].Code
		own, control := fitment.Added(seq, set, y.sets, code)
		e := budget.Estimate{Code: code, Est: &est.List[i], P: p, Variance: y.cov[a][a], Sets: own + control, Wander: y.wander[a], Record: y.method == scatter.ByRecord}
		if plain != nil {
			e.Plain, e.PlainP = &plain.List[i], plainP
		}
		if row, ok := budget.Of(seq, sc, e); ok {
			now := r.Rows[i].Verdict
			if own := r.Rows[i].Alone; own != nil && y.method == scatter.ByRecord && own.Verdict.Low != nil && now.Low != nil {
				row.Unborrowed = some((*own.Verdict.Estimate - *own.Verdict.Low) / (*now.Estimate - *now.Low))
			}
			r.Budget = append(r.Budget, row)
		}
	}
	if len(r.Budget) != len(y.in) {
		return nil
	}
	sd, _ := sc.SD()
	walk := set.DriftSD
	if y.method == scatter.ByRecord && r.Record.Walk != nil {
		walk = nil // it is in already
	}
	next := budget.Programme{Seq: seq, Drift: drift, Set: set, DF: y.df, Fixed: !sc.IsMixed(),
		Covariance: func(q *sequence.Sequence, list []*correct.Estimate) [][]float64 {
			weights, steps := products(q, list)
			z := yardstick{cov: weights, sets: y.sets}
			if y.method == scatter.ByRecord {
				z.cov = r.Record.Covariance(weights, steps)
			} else {
				for i := range weights {
					for j := range weights {
						weights[i][j] *= sd * sd
					}
				}
			}
			r.known(q, list, &z, walk)
			return z.cov
		},
		Critical: func(cov [][]float64, df float64) (float64, error) {
			c, err := joint.Critical(joint.Family(cov, df, set.Sided), 1-set.Confidence)
			return c.Value, err
		},
	}
	next.Drive(r.Budget)
	return nil
}

// among compares candidates with each other, and adjusts p-values step by step.
func (r *Result) among(y yardstick) error {
	steps, err := r.Joint.StepDown(r.Settings.Sided)
	if err != nil {
		return err
	}
	for a, p := range steps {
		r.Rows[y.in[a]].StepP = some(p)
	}
	if r.Group, err = r.Joint.Letters(1 - r.Settings.Confidence); err == nil && r.Group != nil && r.Group.Wide {
		r.Caveats.Add("letters_wide", caveat.Place{}, "Some candidates are so far apart that all pairs together might show it; with %d of them Bonferroni's bound decides, which is a little too wide.", len(r.Group.Codes))
	}
	return err
}

// products gives the products of estimates' weights, and what a random walk of
// unit step does to them.
func products(q *sequence.Sequence, list []*correct.Estimate) (weights, steps [][]float64) {
	walk := q.Walk()
	weights, steps = make([][]float64, len(list)), make([][]float64, len(list))
	for i, a := range list {
		weights[i], steps[i] = make([]float64, len(list)), make([]float64, len(list))
		for j, b := range list {
			weights[i][j] = dot(a.Weights, b.Weights)
			for k, w := range a.Weights {
				steps[i][j] += w * dot(walk[k], b.Weights)
			}
		}
	}
	return weights, steps
}
