package delimited

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"time"
)

// A stamp is an int64 of nanoseconds: since 1970-01-01 of its own zone's wall
// clock for a date, since midnight for a clock, since whatever zero the file
// has for seconds.
const (
	second = int64(1e9)
	minute = 60 * second
	hour   = 60 * minute
	day    = 24 * hour
	week   = 7 * day
)

// hourless marks a clock that states minutes and seconds alone. It is added to
// the stamp, which is below one hour.
const hourless = int64(1) << 60

// style is how a column writes time.
type style uint8

const (
	noTime   style = iota
	decimals       // a decimal number; its unit is decided beside
	clocks         // hh:mm:ss.sss, mm:ss.s, hh:mm
	dates          // a date alone
	moments        // date and clock in one cell
)

// order is in which order the parts of a date with strokes stand.
type order uint8

const (
	dayFirst order = iota
	monthFirst
)

// clockText reads "hh:mm:ss.sss", "mm:ss.s" or "hh:mm", with an AM or PM behind
// it where there is one. With two parts it is hours and minutes if short is
// true and there is no fraction, else minutes and seconds, marked hourless.
func clockText(f []byte, short bool) (int64, bool) {
	pm, am := false, false
	if n := len(f); n > 2 && (f[n-1] == 'M' || f[n-1] == 'm') {
		switch f[n-2] {
		case 'P', 'p':
			pm = true
		case 'A', 'a':
			am = true
		default:
			return 0, false
		}
		f = bytes.TrimRight(f[:n-2], " ")
	}
	var part [3]int64
	parts := 0
	i := 0
	for {
		from := i
		var v int64
		for i < len(f) && f[i]-'0' <= 9 && i-from < 5 {
			v = v*10 + int64(f[i]-'0')
			i++
		}
		if i == from {
			return 0, false
		}
		part[parts] = v
		parts++
		if i == len(f) || f[i] != ':' {
			break
		}
		if parts == 3 {
			// hh:mm:ss:mmm, a habit of some loggers
			ms, used, ok := fraction(f[i+1:])
			if !ok || used != 3 || i+4 != len(f) {
				return 0, false
			}
			return join(part, am, pm, ms)
		}
		i++
	}
	if parts < 2 {
		return 0, false
	}
	var ns int64
	fractional := false
	if i < len(f) {
		if f[i] != '.' && f[i] != ',' {
			return 0, false
		}
		fractional = true
		if i+1 < len(f) {
			v, used, ok := fraction(f[i+1:])
			if !ok || i+1+used != len(f) {
				return 0, false
			}
			ns = v
		}
	}
	if parts == 2 && (fractional || !short) {
		if part[0] > 59 || part[1] > 59 || am || pm {
			return 0, false
		}
		return hourless + part[0]*minute + part[1]*second + ns, true
	}
	return join(part, am, pm, ns)
}

// join makes a time of day or a duration of hours, minutes, seconds and ns. The
// 60th second is a leap second's.
func join(part [3]int64, am, pm bool, ns int64) (int64, bool) {
	if part[1] > 59 || part[2] > 60 {
		return 0, false
	}
	if am || pm {
		if part[0] < 1 || part[0] > 12 {
			return 0, false
		}
		part[0] %= 12
		if pm {
			part[0] += 12
		}
	}
	return part[0]*hour + part[1]*minute + part[2]*second + ns, true
}

// fraction reads decimals of a second as ns, and how many digits there were.
// Digits beyond the ninth are cut off.
func fraction(f []byte) (ns int64, used int, ok bool) {
	unit := int64(1e8)
	for used < len(f) && f[used]-'0' <= 9 {
		ns += int64(f[used]-'0') * unit
		unit /= 10
		used++
	}
	return ns, used, used > 0
}

// packed reads a whole number of hhmmss in units of 1e-9 as a time of day.
func packed(v int64) (int64, bool) {
	if v < 0 {
		return 0, false
	}
	whole, ns := v/second, v%second
	h, m, s := whole/10000, whole/100%100, whole%100
	if h > 23 || m > 59 || s > 60 {
		return 0, false
	}
	return h*hour + m*minute + s*second + ns, true
}

// date reads a date at the start of f: 2026-05-13, 2026/05/13, 20260513,
// 13.05.2026 or, in the order stated, 13/05/2026 and 05/13/2026. rest is what
// follows; parts are the first two numbers of one written with strokes, of which
// either may be the month.
func date(f []byte, o order) (days int64, rest []byte, parts [2]int, ok bool) {
	var v [3]int
	var width [3]int
	sep := byte(0)
	i := 0
	for k := range v {
		from := i
		for i < len(f) && f[i]-'0' <= 9 && i-from < 8 {
			v[k] = v[k]*10 + int(f[i]-'0')
			i++
		}
		width[k] = i - from
		if width[k] == 0 {
			return 0, nil, parts, false
		}
		if k == 0 && width[0] == 8 { // 20260513
			v[2], v[1], v[0] = v[0]%100, v[0]/100%100, v[0]/10000
			width = [3]int{4, 2, 2}
			sep = '-'
			break
		}
		if k == 2 {
			break
		}
		if i == len(f) || f[i] != '-' && f[i] != '/' && f[i] != '.' || k == 1 && f[i] != sep {
			return 0, nil, parts, false
		}
		sep = f[i]
		i++
	}
	y, m, d := v[0], v[1], v[2]
	switch {
	case width[0] == 4 && width[1] <= 2 && width[2] <= 2:
	case width[2] == 4 && width[0] <= 2 && width[1] <= 2:
		y = v[2]
		if sep == '/' {
			parts = [2]int{v[0], v[1]}
		}
		if sep == '/' && o == monthFirst {
			m, d = v[0], v[1]
		} else {
			m, d = v[1], v[0]
		}
	case sep == '.' && width[2] == 2 && width[0] <= 2 && width[1] <= 2: // 13.05.26
		y, m, d = 2000+v[2], v[1], v[0]
	default:
		return 0, nil, parts, false
	}
	if m < 1 || m > 12 || d < 1 || d > daysIn(y, m) {
		return 0, nil, parts, false
	}
	return civil(y, m, d), f[i:], parts, true
}

func daysIn(y, m int) int {
	switch m {
	case 2:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// civil gives the days from 1970-01-01 to a date of the Gregorian calendar.
func civil(y, m, d int) int64 {
	if m <= 2 {
		y--
	}
	era := y / 400
	yoe := y - era*400
	doy := (153*((m+9)%12)+2)/5 + d - 1
	doe := yoe*365 + yoe/4 - yoe/100 + doy
	return int64(era)*146097 + int64(doe) - 719468
}

// moment reads date and clock in one cell, by ISO 8601 or with a blank between;
// zoned tells whether it states its zone, which is then taken out: the stamp is
// UTC.
func moment(f []byte, o order) (ns int64, zoned bool, parts [2]int, ok bool) {
	days, rest, parts, ok := date(f, o)
	if !ok || len(rest) < 5 {
		return 0, false, parts, false
	}
	switch rest[0] {
	case 'T', 't', ' ', '_', '-':
	default:
		return 0, false, parts, false
	}
	rest = bytes.TrimLeft(rest[1:], " ")
	var offset int64
	if n := len(rest); n > 0 && (rest[n-1] == 'Z' || rest[n-1] == 'z') {
		zoned = true
		rest = rest[:n-1]
	} else if n > 3 && bytes.HasSuffix(rest, []byte("UTC")) {
		zoned = true
		rest = bytes.TrimRight(rest[:n-3], " ")
	} else if i := bytes.LastIndexAny(rest, "+-"); i > 0 {
		o, ok := zone(rest[i+1:])
		if !ok {
			return 0, false, parts, false
		}
		offset, zoned = o, true
		if rest[i] == '-' {
			offset = -offset
		}
		rest = bytes.TrimRight(rest[:i], " ")
	}
	var clock int64
	if bytes.IndexByte(rest, ':') < 0 { // 20260513T143052.25
		v, s := scaled(bytes.Replace(rest, []byte(","), []byte("."), 1), '.', 9)
		if s != valued || len(rest) < 6 {
			return 0, false, parts, false
		}
		if clock, ok = packed(v); !ok {
			return 0, false, parts, false
		}
	} else if clock, ok = clockText(rest, true); !ok || clock >= hourless || clock > day+second {
		return 0, false, parts, false
	}
	return days*day + clock - offset, zoned, parts, true
}

// zone reads "01:00", "0100" or "01" as ns.
func zone(f []byte) (int64, bool) {
	digits := bytes.ReplaceAll(f, []byte(":"), nil)
	if len(digits) != 2 && len(digits) != 4 {
		return 0, false
	}
	v := 0
	for _, c := range digits {
		if c-'0' > 9 {
			return 0, false
		}
		v = v*10 + int(c-'0')
	}
	if len(digits) == 2 {
		v *= 100
	}
	if v/100 > 14 || v%100 > 59 { // the farthest zone is +14:00
		return 0, false
	}
	return int64(v/100)*hour + int64(v%100)*minute, true
}

// epochScale gives the decimal exponent e with which a number of 10^(e-9)
// seconds since 1970 is a moment between 1990 and 2100, and whether there is
// one: 9 for seconds, 6 for ms, 3 for µs, 0 for ns.
func epochScale(v float64) (e int, ok bool) {
	for _, e := range []int{9, 6, 3, 0} {
		if s := v * math.Pow10(e-9); s >= 631152000 && s < 4102444800 {
			return e, true
		}
	}
	return 0, false
}

// GPS weeks that a recording can carry without having been rolled over: from
// 1994, when the system was complete, to 2100.
const firstWeek, lastWeek = 730, 6262

// continuous turns stamps that start again, at each hour, midnight or week, into
// ones that go on, in place: where a stamp falls by more than half the period,
// one period is added from there on. Marked hourless ones take the hour that puts
// them nearest to the one before. It gives how often a period was added and the
// row of the first time, and how many stamps had no hour.
func continuous(stamps []int64, period, none int64) (turns, first, noHour int) {
	var add int64
	last, have := int64(0), false
	first = -1
	hourTurn := !slices.ContainsFunc(stamps, func(s int64) bool { return s != none && s < hourless/2 })
	for i, s := range stamps {
		if s == none {
			continue
		}
		if s >= hourless/2 {
			s -= hourless
			noHour++
			if have {
				if hourTurn {
					s += last / hour * hour
					if last-s > hour/2 {
						s += hour
						turns++
						if first < 0 {
							first = i
						}
					}
				} else {
					k := (last - s + hour/2) / hour
					if last-s+hour/2 < 0 {
						k--
					}
					s += k * hour
				}
			}
		} else {
			s += add
			if have && period > 0 && last-s > period/2 {
				add += period
				s += period
				turns++
				if first < 0 {
					first = i
				}
			}
		}
		stamps[i] = s
		last, have = s, true
	}
	return turns, first, noHour
}

// dateOrder reads from a heading in which order a date's parts stand.
func dateOrder(heading string) (o order, ok bool) {
	h := strings.ToLower(heading)
	switch {
	case strings.Contains(h, "mm/dd"):
		return monthFirst, true
	case strings.Contains(h, "dd/mm"), strings.Contains(h, "tt/mm"):
		return dayFirst, true
	}
	return 0, false
}

// wallToUTC turns a wall clock's stamp in a zone into UTC. Where the wall clock
// shows a time twice, in autumn, the first is taken.
func wallToUTC(stamp int64, zone *time.Location) int64 {
	t := time.Unix(0, stamp).UTC()
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), zone).UnixNano()
}
