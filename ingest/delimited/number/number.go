// Package number reads the cells of a text log as decimal numbers: into float64,
// bit for bit as strconv does, or exactly into whole numbers of a power of ten,
// for stamps of time.
//
// The decimal sign is a point or a comma. What is no number is told apart:
// nothing, or a word for it (a dash, NaN, null, n/a); infinity; other text.
// Numbers have no separators of thousands and no units behind them. Sources:
// IEEE 754-2008, binary64, for what a power of ten costs in rounding; strconv of
// Go's standard library is the reference of the tests.
package number

import (
	"bytes"
	"math"
	"strconv"
	"strings"
)

// State is what a cell turned out to be.
type State uint8

// States of a cell.
const (
	Valued   State = iota // a number
	Missing               // nothing, or a word for nothing
	Infinite              // infinity, or beyond what 64 bits hold
	Wordy                 // text
)

// Exact are the powers of ten that float64 holds exactly: 10^22 is the last,
// since 5^22 < 2^53 < 5^23 (IEEE 754-2008, binary64).
var Exact = [23]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12,
	1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// MaxDigits is how many decimal digits fit into 64 bits whatever they are.
const MaxDigits = 19

// nothing are words for a missing value, in lower case. Own list: what
// spreadsheets, statistics programs and loggers write for "no value"; the last
// ones are old C libraries' not-a-number.
var nothing = map[string]bool{
	"": true, "-": true, "--": true, "---": true, "nan": true, "+nan": true, "-nan": true, "na": true, "n/a": true, "#n/a": true,
	"n.a.": true, "null": true, "nil": true, "none": true, "nat": true, "missing": true, ".": true, "?": true, "*": true, "nodata": true,
	"no data": true, "#nv": true, "#wert!": true, "#value!": true, "k.a.": true,
	"1.#qnan": true, "-1.#qnan": true, "1.#ind": true, "-1.#ind": true, "nan(ind)": true, "-nan(ind)": true,
}

var endless = map[string]bool{
	"inf": true, "+inf": true, "-inf": true, "infinity": true, "+infinity": true, "-infinity": true,
	"1.#inf": true, "-1.#inf": true, "∞": true, "+∞": true, "-∞": true, "#div/0!": true,
}

// Parse reads a cell without blanks around it. The value is bit for bit what
// strconv.ParseFloat gives: where the digits make a whole number up to 2^53 and
// the power of ten is exact, one division or multiplication rounds once, as
// strconv does; everything else is handed to strconv.
func Parse(f []byte, point byte) (float64, State) {
	neg, i := sign(f)
	n := len(f)
	var m uint64
	from := i
	for i < n && f[i]-'0' <= 9 {
		m = m*10 + uint64(f[i]-'0')
		i++
	}
	digits, frac := i-from, 0
	if i < n && f[i] == point {
		i++
		from = i
		for i < n && f[i]-'0' <= 9 {
			m = m*10 + uint64(f[i]-'0')
			i++
		}
		frac = i - from
		digits += frac
	}
	exp := -frac
	if i < n && digits > 0 && (f[i] == 'e' || f[i] == 'E') {
		if e, ok := exponent(f[i+1:]); ok {
			exp += e
			i = n
		}
	}
	if i == n && digits > 0 && digits <= MaxDigits && m <= 1<<53 && exp >= -22 && exp <= 22 {
		v := float64(m)
		if exp < 0 {
			v /= Exact[-exp]
		} else {
			v *= Exact[exp]
		}
		if neg {
			v = -v
		}
		return v, Valued
	}
	return slowNumber(f, point)
}

// sign reads a sign, and gives where what it is of begins.
func sign(f []byte) (neg bool, from int) {
	if len(f) > 0 && (f[0] == '-' || f[0] == '+') {
		return f[0] == '-', 1
	}
	return false, 0
}

// exponent reads a signed decimal exponent of up to four digits.
func exponent(f []byte) (int, bool) {
	neg, from := sign(f)
	f = f[from:]
	if len(f) == 0 || len(f) > 4 {
		return 0, false
	}
	e := 0
	for _, c := range f {
		if c-'0' > 9 {
			return 0, false
		}
		e = e*10 + int(c-'0')
	}
	if neg {
		e = -e
	}
	return e, true
}

// slowNumber reads what the fast path does not: long numbers by strconv, words
// for nothing and for infinity by list.
func slowNumber(f []byte, point byte) (float64, State) {
	if len(f) == 0 {
		return 0, Missing
	}
	if len(f) <= 12 { // no word is longer
		word := strings.ToLower(string(f))
		if nothing[word] {
			return 0, Missing
		}
		if endless[word] {
			return 0, Infinite
		}
	}
	if bytes.IndexByte(f, '_') >= 0 || bytes.IndexByte(f, 'x') >= 0 || bytes.IndexByte(f, 'X') >= 0 {
		return 0, Wordy // a code in base 16 is no measurement
	}
	s := string(f)
	if point == ',' {
		if strings.Contains(s, ".") {
			return 0, Wordy
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	switch {
	case math.IsNaN(v):
		return 0, Missing
	case math.IsInf(v, 0):
		return 0, Infinite
	case err != nil:
		return 0, Wordy
	}
	return v, Valued
}

// Scaled reads a cell without blanks around it as a whole number of 10^-e,
// exactly if it has no more decimals than that, else rounded to the nearest, ties
// away from zero.
func Scaled(f []byte, point byte, e int) (int64, State) {
	neg, i := sign(f)
	n := len(f)
	var m uint64
	digits, frac := 0, 0
	seen := false
	for ; i < n; i++ {
		c := f[i]
		if c-'0' <= 9 {
			if digits >= 18 && seen { // beyond any clock's resolution
				if m > math.MaxInt64/10-1 {
					continue
				}
			}
			if m > math.MaxInt64/10-1 {
				return 0, Wordy
			}
			m = m*10 + uint64(c-'0')
			if m > 0 {
				digits++
			}
			if seen {
				frac++
			}
			continue
		}
		if c == point && !seen {
			seen = true
			continue
		}
		if (c == 'e' || c == 'E') && (digits > 0 || frac > 0 || m == 0 && i > 0) {
			x, ok := exponent(f[i+1:])
			if !ok {
				return slowScaled(f, point)
			}
			frac -= x
			i = n
			break
		}
		return slowScaled(f, point)
	}
	if n == 0 || i == 0 || m == 0 && !hasDigit(f) {
		return slowScaled(f, point)
	}
	shift := e - frac
	for ; shift > 0 && m != 0; shift-- {
		if m > math.MaxInt64/10 {
			return 0, Wordy
		}
		m *= 10
	}
	if shift < 0 {
		if shift < -19 {
			m = 0
		} else {
			var last uint64
			for ; shift < 0; shift++ {
				last = m % 10
				m /= 10
			}
			if last >= 5 {
				m++
			}
		}
	}
	if neg {
		return -int64(m), Valued
	}
	return int64(m), Valued
}

func hasDigit(f []byte) bool {
	for _, c := range f {
		if c-'0' <= 9 {
			return true
		}
	}
	return false
}

// slowScaled tells nothing and infinity from text.
func slowScaled(f []byte, point byte) (int64, State) {
	if _, s := slowNumber(f, point); s != Valued {
		return 0, s
	}
	return 0, Wordy
}
