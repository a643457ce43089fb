package cells

import (
	"math"
	"slices"

	"example.org/bookend/stat/manyone/region"
)

// SphereTail gives the tail for comparisons of rank three with positive
// limits. The sphere of directions is cut into the cells in which one limit is
// met first; about that limit's own direction the polar angle integrates in
// closed form,
//
//	int P(R3 > c/cos a) sin a da = -2 cos(a) P(T > c/cos a),
//
// R3 the radius over s in three dimensions and T Student's t with the same
// degrees of freedom, which leaves one integral over the azimuth, smooth
// between the corners of the cell.
func SphereTail(l [][]float64, b region.Box, df float64) float64 {
	type half struct {
		v [3]float64
		c float64
	}
	var hs []half
	for i := range l {
		var v [3]float64
		copy(v[:], l[i])
		n := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
		for d := range v {
			v[d] /= n
		}
		if !math.IsInf(b.Hi[i], 1) {
			hs = append(hs, half{v, max(b.Hi[i], 1e-12)})
		}
		if !math.IsInf(b.Lo[i], 1) {
			hs = append(hs, half{[3]float64{-v[0], -v[1], -v[2]}, max(b.Lo[i], 1e-12)})
		}
	}
	dot := func(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
	// rival is one other limit seen from the cell's direction: the cell is
	// where a cos(theta) + (p cos + q sin)(azimuth) sin(theta) >= 0.
	type rival struct{ a, p, q float64 }
	x := region.Legendre(24)
	// Limits alike on both sides make opposite cells alike: one of each two is enough.
	even := true
	for i := range l {
		even = even && b.Lo[i] == b.Hi[i] && !math.IsInf(b.Hi[i], 1)
	}
	var tails []*tilted // one for each limit that there is
	total := 0.0
	var rivals []rival
	var cuts []float64
	for i, h := range hs {
		if even && i%2 == 1 {
			continue
		}
		// An orthonormal frame about h.v.
		least := 0
		for d := range 3 {
			if math.Abs(h.v[d]) < math.Abs(h.v[least]) {
				least = d
			}
		}
		var e1, e2 [3]float64
		for d := range 3 {
			e1[d] = -h.v[least] * h.v[d]
		}
		e1[least]++
		n := math.Sqrt(dot(e1, e1))
		for d := range 3 {
			e1[d] /= n
		}
		e2[0] = h.v[1]*e1[2] - h.v[2]*e1[1]
		e2[1] = h.v[2]*e1[0] - h.v[0]*e1[2]
		e2[2] = h.v[0]*e1[1] - h.v[1]*e1[0]
		rivals = rivals[:0]
		dead := false
		for j, g := range hs {
			if j == i {
				continue
			}
			r := rival{g.c - h.c*dot(g.v, h.v), -h.c * dot(g.v, e1), -h.c * dot(g.v, e2)}
			size := math.Hypot(r.p, r.q)
			if size <= 1e-12*h.c { // parallel: never first, or always
				if r.a < 0 || r.a == 0 && j < i {
					dead = true
				}
				continue
			}
			rivals = append(rivals, r)
		}
		if dead {
			continue
		}
		// span gives the range of cos(theta) of the cell at an azimuth.
		span := func(az float64) (near, far float64) {
			sin, cos := math.Sincos(az)
			lo, hi := 0.0, math.Inf(1) // of tan(theta)
			for _, r := range rivals {
				v := r.p*cos + r.q*sin
				switch {
				case r.a >= 0 && v < 0:
					hi = min(hi, r.a/-v)
				case r.a < 0 && v > 0:
					lo = max(lo, -r.a/v)
				case r.a < 0:
					return 0, 0
				}
			}
			if hi <= lo {
				return 0, 0
			}
			near = 1 / math.Sqrt(1+lo*lo)
			if !math.IsInf(hi, 1) {
				far = 1 / math.Sqrt(1+hi*hi)
			}
			return near, far
		}
		cuts = append(cuts[:0], 0, 2*math.Pi)
		add := func(p, q float64) {
			if p == 0 && q == 0 {
				return
			}
			az := math.Atan2(p, -q) // p cos + q sin = 0
			for _, v := range [2]float64{az, az + math.Pi} {
				v = math.Mod(v+4*math.Pi, 2*math.Pi)
				cuts = append(cuts, v)
			}
		}
		for j, r := range rivals {
			add(r.p, r.q)
			if r.a > 0 {
				// Towards this azimuth the cell reaches the equator; a small
				// limit is met within a small angle of it.
				base, slope := math.Atan2(r.p, -r.q), r.a/math.Hypot(r.p, r.q)
				for _, far := range [5]float64{0.25, 1, 2.5, 5, 10} {
					if d := slope * h.c / far; d < 0.5 {
						for _, v := range [4]float64{base - d, base + d, base + math.Pi - d, base + math.Pi + d} {
							cuts = append(cuts, math.Mod(v+4*math.Pi, 2*math.Pi))
						}
					}
				}
			}
			for _, o := range rivals[:j] {
				add(r.p*o.a-o.p*r.a, r.q*o.a-o.q*r.a)
			}
		}
		slices.Sort(cuts)
		// Cuts at which nothing happens are left out.
		kept := cuts[:1]
		for _, c := range cuts[1:] {
			if c-kept[len(kept)-1] > 1e-13 {
				kept = append(kept, c)
			}
		}
		at := slices.IndexFunc(tails, func(t *tilted) bool { return t.c == h.c })
		if at < 0 {
			at, tails = len(tails), append(tails, newTilted(h.c, df))
		}
		up := tails[at]
		for k := 1; k < len(kept); k++ {
			w := (kept[k] - kept[k-1]) / 2
			mid, part := kept[k-1]+w, 0.0
			if near, _ := span(mid); near == 0 {
				continue // between cuts the cell is there or not
			}
			// Short pieces need fewer points.
			rule := x
			if w < 0.15 {
				rule = region.Legendre(12)
			}
			for _, n := range rule {
				near, far := span(mid + w*n.X)
				if near == 0 {
					continue
				}
				v := up.whole
				if near != 1 {
					v = up.at(near)
				}
				part += n.W * (v - up.at(far))
			}
			total += w * part
		}
	}
	if even {
		total *= 2
	}
	return total / (4 * math.Pi)
}
