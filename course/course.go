// Package course holds the ground as a plane: positions in WGS 84 brought to
// local metres east and north, and the gates that a run crosses.
//
// The plane is the topocentric east-north-up frame at an origin: IOGP Guidance
// Note 373-7-2, section on geocentric/topocentric conversions. Over a proving
// ground of a few kilometres it keeps distances to within 1 part in 10^5 of the
// geodesic divided by 1 + h/R. Angles are in rad, lengths in m. Reference lines,
// stations and offsets are not here yet.
package course

import "math"

// WGS 84 (IOGP 373-7-2, ellipsoid 7030): semi-major axis in m and inverse
// flattening.
const (
	semiMajor         = 6378137.0
	inverseFlattening = 298.257223563
)

// Position is a place in WGS 84: latitude and longitude in rad, ellipsoidal
// height in m.
type Position struct {
	Latitude, Longitude, Height float64
}

// Plane is a local plane: east, north, up in m about an origin.
type Plane struct {
	origin  Position
	x, y, z float64 // of the origin, earth-centred, m
}

// NewPlane gives the plane about an origin.
func NewPlane(origin Position) Plane {
	x, y, z := earthCentred(origin)
	return Plane{origin: origin, x: x, y: y, z: z}
}

// ENU gives a position in the plane: east, north and up in m.
func (p Plane) ENU(q Position) (east, north, up float64) {
	x, y, z := earthCentred(q)
	dx, dy, dz := x-p.x, y-p.y, z-p.z
	sinLat, cosLat := math.Sincos(p.origin.Latitude)
	sinLon, cosLon := math.Sincos(p.origin.Longitude)
	east = -sinLon*dx + cosLon*dy
	north = -sinLat*cosLon*dx - sinLat*sinLon*dy + cosLat*dz
	up = cosLat*cosLon*dx + cosLat*sinLon*dy + sinLat*dz
	return east, north, up
}

func earthCentred(q Position) (x, y, z float64) {
	const f = 1 / inverseFlattening
	e2 := f * (2 - f)
	sinLat, cosLat := math.Sincos(q.Latitude)
	sinLon, cosLon := math.Sincos(q.Longitude)
	n := semiMajor / math.Sqrt(1-e2*sinLat*sinLat)
	return (n + q.Height) * cosLat * cosLon, (n + q.Height) * cosLat * sinLon, (n*(1-e2) + q.Height) * sinLat
}

// Point is a point of a plane: east and north in m.
type Point struct {
	East, North float64
}

// Gate is a directed line on the ground, given by its right and its left post as
// driven. Crossing it the other way does not count.
type Gate struct {
	Right, Left Point
}

// Crossing tells whether the straight step from a to b crosses the gate in its
// direction. Part is the share of the step at which it does, from 0 (not
// counted) to 1 (counted), so that a track through a sample on the gate crosses
// once; offset is where, in m from the middle of the gate, positive to the left.
func (g Gate) Crossing(a, b Point) (part, offset float64, ok bool) {
	ge, gn := g.Left.East-g.Right.East, g.Left.North-g.Right.North
	width := math.Hypot(ge, gn)
	if width == 0 {
		return 0, 0, false
	}
	// Ahead of the gate is to the right of the way from right post to left post.
	ahead := func(p Point) float64 {
		return ((p.East-g.Right.East)*gn - (p.North-g.Right.North)*ge) / width
	}
	da, db := ahead(a), ahead(b)
	if !(da < 0 && db >= 0) {
		return 0, 0, false
	}
	part = -da / (db - da)
	e, n := a.East+part*(b.East-a.East), a.North+part*(b.North-a.North)
	along := ((e-g.Right.East)*ge + (n-g.Right.North)*gn) / width
	if along < 0 || along > width {
		return 0, 0, false
	}
	return part, along - width/2, true
}

// Course is a ground's plane and its gates in order; the first is start and
// finish, the others end sectors.
type Course struct {
	Origin Position
	Gates  []Gate
}
