package stamp

import (
	"bytes"
	"time"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/number"
)

// Date reads a date at the start of f: 2026-05-13, 2026/05/13, 20260513,
// 13.05.2026 or, in the order stated, 13/05/2026 and 05/13/2026. rest is what
// follows; parts are the first two numbers of one written with strokes, of which
// either may be the month.
func Date(f []byte, o Order) (days int64, rest []byte, parts [2]int, ok bool) {
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
		if sep == '/' && o == MonthFirst {
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
	return Civil(y, m, d), f[i:], parts, true
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

// Civil gives the days from 1970-01-01 to a date of the Gregorian calendar.
func Civil(y, m, d int) int64 {
	if m <= 2 {
		y--
	}
	era := y / 400
	yoe := y - era*400
	doy := (153*((m+9)%12)+2)/5 + d - 1
	doe := yoe*365 + yoe/4 - yoe/100 + doy
	return int64(era)*146097 + int64(doe) - 719468
}

// Moment reads date and clock in one cell, by ISO 8601 or with a blank between;
// zoned tells whether it states its zone, which is then taken out: the stamp is
// UTC.
func Moment(f []byte, o Order) (ns int64, zoned bool, parts [2]int, ok bool) {
	days, rest, parts, ok := Date(f, o)
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
		v, s := number.Scaled(bytes.Replace(rest, []byte(","), []byte("."), 1), '.', 9)
		if s != number.Valued || len(rest) < 6 {
			return 0, false, parts, false
		}
		if clock, ok = Packed(v); !ok {
			return 0, false, parts, false
		}
	} else if clock, ok = Clock(rest, true); !ok || clock >= Hourless || clock > Day+Second {
		return 0, false, parts, false
	}
	return days*Day + clock - offset, zoned, parts, true
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
	return int64(v/100)*Hour + int64(v%100)*Minute, true
}

// PackedDays turns dates written as digits, yyyymmdd or ddmmyy as receivers
// have it, in units of 1e-9, into ns since 1970, in place.
func PackedDays(list []int64) bool {
	for i, v := range list {
		if v == ingest.NoStamp {
			continue
		}
		if v%Second != 0 || v < 0 {
			return false
		}
		v /= Second
		var y, m, d int
		switch {
		case v >= 19800101 && v <= 21001231:
			y, m, d = int(v/10000), int(v/100%100), int(v%100)
		case v < 320000 && v >= 10100:
			y, m, d = 2000+int(v%100), int(v/100%100), int(v/10000)
		default:
			return false
		}
		if m < 1 || m > 12 || d < 1 || d > daysIn(y, m) {
			return false
		}
		list[i] = Civil(y, m, d) * Day
	}
	return true
}

// ToUTC turns a wall clock's stamp in a zone into UTC. Where the wall clock
// shows a time twice, in autumn, it is the first, and twice says so.
func ToUTC(wall int64, zone *time.Location) (utc int64, twice bool) {
	w := time.Unix(0, wall).UTC()
	t := time.Date(w.Year(), w.Month(), w.Day(), w.Hour(), w.Minute(), w.Second(), w.Nanosecond(), zone)
	// Which of two moments package time gives is not specified: the other one is
	// looked for beyond the changes of the clock before and after.
	_, offset := t.Zone()
	by := func(at time.Time) time.Time { // the moment, if the zone's offset were that of another
		_, o := at.Zone()
		return t.Add(time.Duration(offset-o) * time.Second)
	}
	start, end := t.ZoneBounds()
	if u := by(start.Add(-1)); !start.IsZero() && u.Before(start) {
		return u.UnixNano(), true
	}
	return t.UnixNano(), !end.IsZero() && !by(end).Before(end)
}
