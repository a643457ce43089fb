package ground

import "math"

// WGS 84 (IOGP Guidance Note 373-7-2, ellipsoid 7030): semi-major axis in m and
// flattening.
const (
	semiMajor  = 6378137.0
	flattening = 1 / 298.257223563
)

// Origin is where on the earth the plane touches: latitude and longitude in
// degrees, height above the ellipsoid in m.
type Origin struct{ LatitudeDeg, LongitudeDeg, Height float64 }

// SkerryMoor lies in the open sea, so that it is nobody's ground.
var SkerryMoor = Origin{LatitudeDeg: 58.25, LongitudeDeg: -9.5, Height: 0}

// earthCentred gives earth-centred coordinates in m.
func earthCentred(latDeg, lonDeg, height float64) (x, y, z float64) {
	const e2 = flattening * (2 - flattening)
	sinLat, cosLat := math.Sincos(latDeg * math.Pi / 180)
	sinLon, cosLon := math.Sincos(lonDeg * math.Pi / 180)
	n := semiMajor / math.Sqrt(1-e2*sinLat*sinLat)
	return (n + height) * cosLat * cosLon, (n + height) * cosLat * sinLon, (n*(1-e2) + height) * sinLat
}

// Earth gives latitude and longitude in degrees and height in m of a place of the
// plane, up in m above it. The plane is topocentric; the way back to the ellipsoid
// is by iteration to 1e-12 rad.
func (o Origin) Earth(p Point, up float64) (latDeg, lonDeg, height float64) {
	const e2 = flattening * (2 - flattening)
	x, y, z := earthCentred(o.LatitudeDeg, o.LongitudeDeg, o.Height)
	sinLat, cosLat := math.Sincos(o.LatitudeDeg * math.Pi / 180)
	sinLon, cosLon := math.Sincos(o.LongitudeDeg * math.Pi / 180)
	x += -sinLon*p.East - sinLat*cosLon*p.North + cosLat*cosLon*up
	y += cosLon*p.East - sinLat*sinLon*p.North + cosLat*sinLon*up
	z += cosLat*p.North + sinLat*up
	r := math.Hypot(x, y)
	lat := math.Atan2(z, r*(1-e2))
	for range 20 {
		sin := math.Sin(lat)
		n := semiMajor / math.Sqrt(1-e2*sin*sin)
		next := math.Atan2(z+e2*n*sin, r)
		if math.Abs(next-lat) < 1e-14 {
			lat = next
			break
		}
		lat = next
	}
	sin, cos := math.Sincos(lat)
	n := semiMajor / math.Sqrt(1-e2*sin*sin)
	return lat * 180 / math.Pi, math.Atan2(y, x) * 180 / math.Pi, r*cos + z*sin - n*(1-e2*sin*sin)
}
