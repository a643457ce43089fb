package manyone

import (
	"math"

	"example.org/bookend/fault"
	"example.org/bookend/stat/manyone/joint"
)

// Independent gives the family of k independent candidates with n[i] runs each
// against a control with n0 runs, all of one scatter: correlations
// lambda_i*lambda_j with lambda_i = sqrt(n_i/(n_i+n_0)) (Dunnett 1955).
func Independent(n0 int, n []int, df float64, sided joint.Sided) (joint.Family, error) {
	if n0 < 1 || len(n) == 0 {
		return joint.Family{}, fault.New(fault.Invalid, "%d control runs and %d candidates", n0, len(n))
	}
	lambda := make([]float64, len(n))
	for i, v := range n {
		if v < 1 {
			return joint.Family{}, fault.New(fault.Invalid, "candidate %d has %d runs", i+1, v)
		}
		lambda[i] = math.Sqrt(float64(v) / float64(v+n0))
	}
	return joint.Family{Corr: joint.Product(lambda), DF: df, Sided: sided}, nil
}
