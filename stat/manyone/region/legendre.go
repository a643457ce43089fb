package region

import (
	"math"
	"sync"
)

// Node is a point of a Gauss-Legendre rule on -1..1 and its weight.
type Node struct{ X, W float64 }

const mostNodes = 96

// legendreTable holds the rules with 1 to mostNodes points; computed once,
// never changed.
var legendreTable = sync.OnceValue(func() [][]Node {
	table := make([][]Node, mostNodes+1)
	for n := 1; n <= mostNodes; n++ {
		rule := make([]Node, n)
		for i := range (n + 1) / 2 {
			x := math.Cos(math.Pi * (float64(i) + 0.75) / (float64(n) + 0.5))
			var dp float64
			for range 8 {
				p, q := 1.0, 0.0
				for k := 1; k <= n; k++ {
					p, q = (float64(2*k-1)*x*p-float64(k-1)*q)/float64(k), p
				}
				dp = float64(n) * (x*p - q) / (x*x - 1)
				x -= p / dp
			}
			if n%2 == 1 && i == n/2 {
				x = 0
			}
			w := 2 / ((1 - x*x) * dp * dp)
			rule[i], rule[n-1-i] = Node{-x, w}, Node{x, w}
		}
		table[n] = rule
	}
	return table
})

// Legendre gives the rule of n points, exact for polynomials of degree 2n-1.
func Legendre(n int) []Node { return legendreTable()[min(max(n, 1), mostNodes)] }
