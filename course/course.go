// Package course holds the ground that a run is driven on: a plane of local
// metres, the gates that are crossed, and the reference line along which station
// and offset are counted.
//
// Positions are WGS 84, angles in rad, lengths in m. The plane is the topocentric
// east-north-up frame at the course's origin (IOGP Guidance Note 373-7-2,
// geocentric/topocentric conversions, docs/sources/iogp-373-7-2.md), which over a
// proving ground of a few kilometres keeps lengths to within 1e-5 of those on the
// ellipsoid at the origin's height. A sphere's formula (haversine) is not used: it
// is wrong by up to 0.3 %, 12 cm on a stop of 40 m.
//
// Heights of recordings are not used point by point: they are the worst thing
// that a receiver gives, and half of all files lack them. Every point is placed at
// the height of the origin, so that the same positions give the same plane
// whatever else a file holds. With an origin at height 0 lengths are short by h/R,
// 16 mm a kilometre for each 100 m that the ground lies higher.
//
// Left is positive: offsets from a gate's middle, offsets from the reference
// line, curvature of a left-hand bend (ISO 8855:2011 signs).
package course

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"example.org/bookend/fault"
)

// WGS 84 (IOGP 373-7-2, ellipsoid 7030): semi-major axis in m and inverse
// flattening.
const (
	semiMajor         = 6378137.0
	inverseFlattening = 298.257223563
)

// Position is a place in WGS 84: latitude and longitude in rad, ellipsoidal
// height in m.
type Position struct {
	Latitude  float64 `json:"latitude_rad"`
	Longitude float64 `json:"longitude_rad"`
	Height    float64 `json:"height_m,omitempty"`
}

// Plane is a local plane: east, north, up in m about an origin.
type Plane struct {
	origin         Position
	x, y, z        float64 // of the origin, earth-centred, m
	sinLat, cosLat float64
	sinLon, cosLon float64
}

// NewPlane gives the plane about an origin.
func NewPlane(origin Position) Plane {
	p := Plane{origin: origin}
	p.x, p.y, p.z = earthCentred(origin)
	p.sinLat, p.cosLat = math.Sincos(origin.Latitude)
	p.sinLon, p.cosLon = math.Sincos(origin.Longitude)
	return p
}

// ENU gives a position in the plane: east, north and up in m.
func (p Plane) ENU(q Position) (east, north, up float64) {
	x, y, z := earthCentred(q)
	dx, dy, dz := x-p.x, y-p.y, z-p.z
	east = -p.sinLon*dx + p.cosLon*dy
	north = -p.sinLat*p.cosLon*dx - p.sinLat*p.sinLon*dy + p.cosLat*dz
	up = p.cosLat*p.cosLon*dx + p.cosLat*p.sinLon*dy + p.sinLat*dz
	return east, north, up
}

// Place gives the point of the plane, in m, of a latitude and a longitude in rad,
// taken at the origin's height.
func (p Plane) Place(latitude, longitude float64) Point {
	e, n, _ := p.ENU(Position{Latitude: latitude, Longitude: longitude, Height: p.origin.Height})
	return Point{East: e, North: n}
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
	East  float64 `json:"east_m"`
	North float64 `json:"north_m"`
}

// Distance gives the distance between two points in m.
func (p Point) Distance(q Point) float64 { return math.Hypot(q.East-p.East, q.North-p.North) }

// Toward gives the point at a share of the way from p to q, 0 at p.
func (p Point) Toward(q Point, share float64) Point {
	return Point{East: p.East + share*(q.East-p.East), North: p.North + share*(q.North-p.North)}
}

// Posts is a gate as it stands on the ground: the positions of its right and its
// left post as driven.
type Posts struct {
	Right Position `json:"right"`
	Left  Position `json:"left"`
}

// widest is the width in m beyond which two posts are taken for a slip of typing
// (own choice: a gate is some tens of metres wide at most; latitude and longitude
// exchanged, or a lost digit, give kilometres).
const widest = 1000.0

// ParseGate reads a gate from "LAT,LON,LAT,LON" in degrees, the right post as
// driven first.
func ParseGate(text string) (Posts, error) {
	hint := "a gate is LAT,LON,LAT,LON in degrees, the right post as driven first: 52.00010,-1.00020,52.00022,-1.00020"
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return Posts{}, fault.New(fault.Invalid, "gate %q has %d numbers instead of 4", text, len(parts)).WithHint("%s", hint)
	}
	var deg [4]float64
	for i, part := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return Posts{}, fault.New(fault.Invalid, "gate %q: %q is no number", text, strings.TrimSpace(part)).WithHint("%s", hint)
		}
		if limit := [2]float64{90, 180}[i%2]; v < -limit || v > limit {
			return Posts{}, fault.New(fault.Invalid, "gate %q: %s %s° is outside ±%g°", text, [2]string{"latitude", "longitude"}[i%2],
				strings.TrimSpace(part), limit).WithHint("%s", hint)
		}
		deg[i] = v * (math.Pi / 180)
	}
	p := Posts{Right: Position{Latitude: deg[0], Longitude: deg[1]}, Left: Position{Latitude: deg[2], Longitude: deg[3]}}
	if err := p.check(); err != nil {
		return Posts{}, fault.At(err, "gate %q", text)
	}
	return p, nil
}

// check refuses posts between which no vehicle can be meant to pass.
func (p Posts) check() error {
	for _, q := range []Position{p.Right, p.Left} {
		if err := q.check(); err != nil {
			return err
		}
	}
	switch w := p.in(NewPlane(p.middle())).Width(); {
	case w < 0.1: // own choice: narrower than any vehicle, so one post was given twice
		return fault.New(fault.Invalid, "the two posts are the same place").WithHint("give the right post and the left post as driven")
	case w > widest:
		return fault.New(fault.Invalid, "the posts are %.0f m apart", w).WithHint("latitude comes before longitude; a gate is some tens of metres wide at most")
	}
	return nil
}

func (q Position) check() error {
	if !(math.Abs(q.Latitude) <= math.Pi/2) || !(math.Abs(q.Longitude) <= math.Pi) || math.IsNaN(q.Height) || math.Abs(q.Height) > 1e5 {
		return fault.New(fault.Invalid, "latitude %g rad, longitude %g rad, height %g m is no place on the ground", q.Latitude, q.Longitude, q.Height)
	}
	return nil
}

// middle gives the place between the posts, at height 0.
func (p Posts) middle() Position {
	lon := p.Left.Longitude - p.Right.Longitude
	lon -= 2 * math.Pi * math.Round(lon/(2*math.Pi)) // a gate across the 180th meridian
	return Position{Latitude: (p.Right.Latitude + p.Left.Latitude) / 2, Longitude: p.Right.Longitude + lon/2}
}

func (p Posts) in(plane Plane) Gate {
	return Gate{Right: plane.Place(p.Right.Latitude, p.Right.Longitude), Left: plane.Place(p.Left.Latitude, p.Left.Longitude)}
}

// Course is the ground that a run is driven on. Origin, gates and reference line
// are all there is to it; its hash is its identity.
type Course struct {
	Title     string   `json:"title,omitempty"`
	Origin    Position `json:"origin"`
	Posts     []Posts  `json:"gates,omitempty"`     // the first is start and finish, the others end sectors
	Reference *Line    `json:"reference,omitempty"` // in the plane about the origin; nil where none is known
}

// New gives the course of those gates. Its plane lies about the middle of the
// first gate, at height 0, so that it depends on nothing but the gates.
func New(gates ...Posts) (*Course, error) {
	if len(gates) == 0 {
		return nil, fault.New(fault.Invalid, "a course needs at least one gate")
	}
	c := &Course{Origin: gates[0].middle(), Posts: gates}
	if err := c.check(); err != nil {
		return nil, err
	}
	return c, nil
}

// Plane gives the course's plane.
func (c *Course) Plane() Plane { return NewPlane(c.Origin) }

// Gates gives the gates in the course's plane.
func (c *Course) Gates() []Gate {
	plane := c.Plane()
	out := make([]Gate, len(c.Posts))
	for i, p := range c.Posts {
		out[i] = p.in(plane)
	}
	return out
}

func (c *Course) check() error {
	if err := c.Origin.check(); err != nil {
		return fault.At(err, "course: origin")
	}
	for i, p := range c.Posts {
		if err := p.check(); err != nil {
			return fault.At(err, "course: gate %d", i+1)
		}
	}
	if c.Reference != nil {
		if err := c.Reference.check(); err != nil {
			return fault.At(err, "course: reference line")
		}
	}
	return nil
}

// Parse reads a course from its JSON; unknown keys are refused.
func Parse(data []byte) (*Course, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var c Course
	if err := d.Decode(&c); err != nil {
		return nil, fault.New(fault.Invalid, "this is no course: %w", err).WithHint("a course is the JSON that bookend writes for one")
	}
	if d.More() {
		return nil, fault.New(fault.Invalid, "more follows after the course")
	}
	if err := c.check(); err != nil {
		return nil, err
	}
	return &c, nil
}

// Canonical gives the course's one JSON form: keys in byte order, no white space,
// shortest numbers, no HTML escapes.
func (c *Course) Canonical() ([]byte, error) {
	first, err := json.Marshal(c)
	if err != nil {
		return nil, fault.New(fault.Internal, "writing a course: %w", err)
	}
	d := json.NewDecoder(bytes.NewReader(first))
	d.UseNumber()
	var tree any
	if err := d.Decode(&tree); err != nil {
		return nil, fault.New(fault.Internal, "writing a course: %w", err)
	}
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(tree); err != nil { // maps come out in the order of their keys
		return nil, fault.New(fault.Internal, "writing a course: %w", err)
	}
	return bytes.TrimSuffix(out.Bytes(), []byte("\n")), nil
}

// Hash gives the SHA-256 of the course's canonical JSON, lower-case hexadecimal.
func (c *Course) Hash() (string, error) {
	b, err := c.Canonical()
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), nil
}
