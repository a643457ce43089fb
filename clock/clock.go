// Package clock holds instants, and which clock each was read from.
//
// Two clocks never agree: a logger's, a tablet's and the satellites' differ by
// seconds or an hour. So an instant carries its clock and what is known of that
// clock's offset, and nothing is compared across clocks without saying so.
//
// GPS time runs ahead of UTC by the leap seconds since 1980; the table is in
// code. Source: IERS Bulletin C (each announcement; none since that of 2016
// changed the difference), docs/sources/iers-bulletin-c.md.
package clock

import (
	"time"

	"example.org/bookend/fault"
)

// Source is the clock that an instant was read from.
type Source string

// The clocks that bookend tells apart.
const (
	GNSS    Source = "gnss"    // satellite time, converted to UTC
	Logger  Source = "logger"  // the clock of the recording device
	Device  Source = "device"  // the tablet or laptop that an entry was made on
	Server  Source = "server"  // the machine that keeps the programme
	Typed   Source = "typed"   // read off by a person and typed in
	Unknown Source = "unknown" // a recording that states no absolute time
)

// Instant is a moment: nanoseconds of UTC since 1970-01-01, the clock that it
// came from, and the estimate, in seconds, of what must be added to that clock
// to have UTC (0 where nothing is known).
type Instant struct {
	UnixNS  int64   `json:"unix_ns"`
	Clock   Source  `json:"clock"`
	OffsetS float64 `json:"offset_s,omitempty"`
}

// Known tells whether the instant places anything in absolute time.
func (i Instant) Known() bool { return i.Clock != "" && i.Clock != Unknown }

// Time gives the instant in UTC, its offset estimate not applied.
func (i Instant) Time() time.Time { return time.Unix(0, i.UnixNS).UTC() }

// Add gives the instant s seconds later, on the same clock.
func (i Instant) Add(s float64) Instant {
	i.UnixNS += int64(s*1e9 + copysign(0.5, s))
	return i
}

func copysign(x, sign float64) float64 {
	if sign < 0 {
		return -x
	}
	return x
}

// String gives RFC 3339 with nanoseconds as needed, or "no clock".
func (i Instant) String() string {
	if !i.Known() {
		return "no clock"
	}
	return i.Time().Format(time.RFC3339Nano)
}

// leap is the first UTC second (Unix time) from which GPS time is ahead of UTC
// by ahead seconds. IERS Bulletin C; GPS and UTC agreed on 1980-01-06.
var leap = []struct {
	unix  int64
	ahead int64
}{
	{utc(1980, 1, 6), 0}, {utc(1981, 7, 1), 1}, {utc(1982, 7, 1), 2}, {utc(1983, 7, 1), 3},
	{utc(1985, 7, 1), 4}, {utc(1988, 1, 1), 5}, {utc(1990, 1, 1), 6}, {utc(1991, 1, 1), 7},
	{utc(1992, 7, 1), 8}, {utc(1993, 7, 1), 9}, {utc(1994, 7, 1), 10}, {utc(1996, 1, 1), 11},
	{utc(1997, 7, 1), 12}, {utc(1999, 1, 1), 13}, {utc(2006, 1, 1), 14}, {utc(2009, 1, 1), 15},
	{utc(2012, 7, 1), 16}, {utc(2015, 7, 1), 17}, {utc(2017, 1, 1), 18},
}

func utc(y, m, d int) int64 {
	return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC).Unix()
}

// SecondsAhead gives by how many whole seconds GPS time was ahead of UTC at a
// Unix time in seconds. Before 1980-01-06 there is no GPS time: ok is false.
func SecondsAhead(unix int64) (ahead int64, ok bool) {
	for i := len(leap) - 1; i >= 0; i-- {
		if unix >= leap[i].unix {
			return leap[i].ahead, true
		}
	}
	return 0, false
}

// FromGPS converts GPS week (counted from 1980-01-06, not rolled over) and time
// of week in seconds to UTC. A week below 0 or a time of week outside
// [0, 604800] is invalid.
func FromGPS(week int, towS float64) (Instant, error) {
	if week < 0 || week > 100_000 {
		return Instant{}, fault.New(fault.Invalid, "GPS week %d is out of range", week).
			WithHint("weeks count from 6 January 1980; a receiver that rolled over needs 1024 or 2048 added")
	}
	if !(towS >= 0 && towS <= 604800) {
		return Instant{}, fault.New(fault.Invalid, "GPS time of week %g s is outside 0 to 604800", towS)
	}
	whole := int64(towS)
	ns := int64((towS-float64(whole))*1e9 + 0.5)
	gps := leap[0].unix + int64(week)*604800 + whole // as if there were no leap seconds
	unix := gps
	for i := len(leap) - 1; i >= 0; i-- {
		if gps-leap[i].ahead >= leap[i].unix {
			unix = gps - leap[i].ahead
			break
		}
	}
	return Instant{UnixNS: unix*1e9 + ns, Clock: GNSS}, nil
}
