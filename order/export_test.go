package order

import "math"

// SearchTwice gives the least criterion of the exchange search alone, and the
// best known: of enumeration or of the exchange search with eight times the
// effort.
func SearchTwice(r Request) (exchange, best float64, err error) {
	l, err := r.layout()
	if err != nil {
		return 0, 0, err
	}
	f := l.best(1)
	g := l.Exchange(l.scorer().Criterion, 0.1)
	if f.Proven {
		return g.Value, f.Value, nil
	}
	h := l.Exchange(l.scorer().Criterion, 8)
	return f.Value, math.Min(h.Value, f.Value), nil
}
