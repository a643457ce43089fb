package stamp

import (
	"bytes"
)

// Clock reads "hh:mm:ss.sss", "mm:ss.s" or "hh:mm", with an AM or PM behind
// it where there is one. With two parts it is hours and minutes if short is
// true and there is no fraction, else minutes and seconds, marked Hourless.
func Clock(f []byte, short bool) (int64, bool) {
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
		return Hourless + part[0]*Minute + part[1]*Second + ns, true
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
	return part[0]*Hour + part[1]*Minute + part[2]*Second + ns, true
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

// Packed reads a whole number of hhmmss in units of 1e-9 as a time of day.
func Packed(v int64) (int64, bool) {
	if v < 0 {
		return 0, false
	}
	whole, ns := v/Second, v%Second
	h, m, s := whole/10000, whole/100%100, whole%100
	if h > 23 || m > 59 || s > 60 {
		return 0, false
	}
	return h*Hour + m*Minute + s*Second + ns, true
}
