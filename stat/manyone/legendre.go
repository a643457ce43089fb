package manyone

import (
	"math"
	"sync"
)

// node is a point of a Gauss-Legendre rule on -1..1 and its weight.
type node struct{ x, w float64 }

const mostNodes = 96

// legendreTable holds the rules with 1 to mostNodes points; computed once,
// never changed.
var legendreTable = sync.OnceValue(func() [][]node {
	table := make([][]node, mostNodes+1)
	for n := 1; n <= mostNodes; n++ {
		rule := make([]node, n)
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
			rule[i], rule[n-1-i] = node{-x, w}, node{x, w}
		}
		table[n] = rule
	}
	return table
})

func legendre(n int) []node { return legendreTable()[min(max(n, 1), mostNodes)] }
