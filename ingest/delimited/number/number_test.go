package number

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// like gives what Parse must give for a text by strconv.ParseFloat, the
// reference, besides the words for nothing and infinity and codes in base 16.
func like(s string) (float64, State) {
	low := strings.ToLower(s)
	switch {
	case nothing[low]:
		return 0, Missing
	case endless[low]:
		return 0, Infinite
	case strings.ContainsAny(s, "_xX"):
		return 0, Wordy
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

func same(t *testing.T, s string) {
	t.Helper()
	want, how := like(s)
	got, st := Parse([]byte(s), '.')
	if st != how || math.Float64bits(got) != math.Float64bits(want) {
		t.Fatalf("%q is read as %v (%d), strconv gives %v (%d)", s, got, st, want, how)
	}
	if !strings.Contains(s, ",") {
		got, st := Parse([]byte(strings.Replace(s, ".", ",", 1)), ',')
		if strings.Count(s, ".") <= 1 && !(nothing[strings.ToLower(s)] || strings.Contains(s, "#") || strings.Contains(s, "n.a") || strings.Contains(s, "k.a")) &&
			(st != how || math.Float64bits(got) != math.Float64bits(want)) {
			t.Fatalf("%q with a decimal comma is read as %v (%d), strconv gives %v (%d)", s, got, st, want, how)
		}
	}
}

// Reference: strconv.ParseFloat of the standard library, bit for bit.
func TestNumbersAreThoseOfStrconv(t *testing.T) {
	for _, s := range []string{
		"", "0", "-0", "+0", "1.", ".5", "-.5", "+.5", ".", "-", "+", "-.", "1e5", "1E5", "1e+5", "1e-5", "1e", "1e+", "e5", ".e5", "1.e5", "-1e-0",
		"nan", "NaN", "NAN", "inf", "-Inf", "+infinity", "1_0", "0x10", "0x1p-2", "--1", "+-1", "1-", "1 2", "1,5", "1.2.3", "9007199254740991",
		"9007199254740992", "9007199254740993", "9007199254740993.0", "0.000000000000000000000000000000000001", "123456789012345678901234567890",
		"1e22", "1e23", "1e-22", "1e-23", "1e308", "1.7976931348623157e308", "1.7976931348623159e308", "1e309", "-1e309", "5e-324", "2e-324", "1e-400",
		"1e99999", "1e-99999", "1e000000000000000005", "0.3", "0.1", "2.2250738585072011e-308", "18446744073709551615", "18446744073709551616",
		"00000000000000000000000001.5", "0.50000000000000000000000000", "1.#QNAN", "1.#INF", "null", "12a", "a12", "１２", "1\x00", "∞",
		"8.5e0", "4503599627370496.5", "4503599627370497.5", "9007199254740992e22", "9007199254740993e0", "1e18446744073709551617",
	} {
		same(t, s)
	}
	n := 2_000_000
	if testing.Short() {
		n = 200_000
	}
	r := rand.New(rand.NewPCG(3, 4))
	var b []byte
	for range n {
		b = b[:0]
		switch r.IntN(6) {
		case 0: // any float, shortest
			b = strconv.AppendFloat(b, math.Float64frombits(r.Uint64()), 'g', -1, 64)
		case 1: // as loggers write
			b = strconv.AppendFloat(b, r.NormFloat64()*math.Pow10(r.IntN(8)-3), 'f', r.IntN(12), 64)
		case 2: // near the bound of the fast path
			b = strconv.AppendUint(b, 1<<53-4+r.Uint64N(9), 10)
			if at := r.IntN(len(b) + 1); r.IntN(2) == 0 {
				b = append(b[:at], append([]byte{'.'}, b[at:]...)...)
			}
		case 3: // exponents
			b = strconv.AppendFloat(b, r.NormFloat64(), 'e', r.IntN(20), 64)
			b = append(b[:bytes.IndexByte(b, 'e')+1], strconv.Itoa(r.IntN(80)-40)...)
		case 4: // digits at length
			for range 1 + r.IntN(30) {
				b = append(b, byte('0'+r.IntN(10)))
			}
			if at := r.IntN(len(b) + 1); r.IntN(2) == 0 {
				b = append(b[:at], append([]byte{'.'}, b[at:]...)...)
			}
		case 5: // anything that looks like a number
			for range 1 + r.IntN(7) {
				b = append(b, "0123456789+-.eE_ xn"[r.IntN(19)])
			}
		}
		same(t, string(b))
	}
}

// Reference: whole numbers of math/big would be the same; here strconv reads the
// digits once the point is moved by hand.
func TestStampsAreExact(t *testing.T) {
	for _, c := range []struct {
		s    string
		e    int
		want int64
	}{
		{"139792.65", 9, 139792650000000}, {"-6.028965", 9, -6028965000}, {"0", 9, 0}, {"-0.0", 9, 0}, {".5", 9, 500000000}, {"5.", 9, 5000000000},
		{"1582555774.590855", 9, 1582555774590855000}, {"1533226488299", 6, 1533226488299000000}, {"1533226488299123456", 0, 1533226488299123456},
		{"1.582555774590855E9", 9, 1582555774590855000}, {"1.5825557745908551234567", 9, 1582555775}, {"0.00000000049", 9, 0}, {"0.0000000005", 9, 1},
		{"2.5e-9", 9, 3}, {"1e3", 9, 1000000000000},
	} {
		if got, st := Scaled([]byte(c.s), '.', c.e); st != Valued || got != c.want {
			t.Errorf("%s by 1e-%d is %d (%d), want %d", c.s, c.e, got, st, c.want)
		}
	}
	for _, s := range []string{"1e30", "92233720368.6", "a", "1.2.3", "+", "1e", "12a", "inf"} {
		if got, st := Scaled([]byte(s), '.', 9); st == Valued {
			t.Errorf("%q is read as %d", s, got)
		}
	}
}
