package joint

// Product gives the correlations lambda_i*lambda_j.
func Product(lambda []float64) [][]float64 {
	r := make([][]float64, len(lambda))
	for i := range r {
		r[i] = make([]float64, len(lambda))
		for j := range r[i] {
			r[i][j] = lambda[i] * lambda[j]
		}
		r[i][i] = 1
	}
	return r
}
