package drift

// Imbalance gives, for each code of an order in letters, the sums of the linear,
// quadratic and cubic orthogonal polynomial of the place over its stints: places
// are centred, and the polynomials are monic. An order is free of a trend of
// some degree if that sum is 0 for every code (Bradley and Yeh 1980); half of
// Draper and Stoneman's time count (1968) is the linear one.
func Imbalance(codes []string) map[string][3]float64 {
	out := map[string][3]float64{}
	n := float64(len(codes))
	for i, c := range codes {
		u := float64(i) - (n-1)/2
		v := out[c]
		v[0] += u
		v[1] += u*u - (n*n-1)/12
		v[2] += u*u*u - u*(3*n*n-7)/20
		out[c] = v
	}
	return out
}

// TrendFree tells whether blocks of k different tyres, each tyre in r of them,
// can be ordered so that a straight trend over the places of a block biases no
// difference: r(k+1)/2 has to be whole (Yeh and Bradley 1981).
func TrendFree(k, r int) bool { return r*(k+1)%2 == 0 }
