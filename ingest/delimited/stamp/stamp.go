// Package stamp reads what text logs write for time: clocks, dates, both in one
// cell, packed digits, numbers of seconds or of their parts, GPS weeks.
//
// A stamp is a whole number of nanoseconds, so that nothing is lost between what
// a file states and what is kept: since 1970-01-01 of its own zone's wall clock
// for a date, since midnight for a clock, since whatever zero the file has for
// seconds. A missing one is ingest.NoStamp. Dates are of the Gregorian calendar;
// leap seconds are read as the second after. Sources: ISO 8601 for what states
// its parts in falling order; the rest is common practice of loggers and
// spreadsheets, no source. Years before 1980 in packed digits and months in
// letters are not read.
package stamp

import (
	"math"
	"slices"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/number"
)

// Times in ns.
const (
	Second = int64(1e9)
	Minute = 60 * Second
	Hour   = 60 * Minute
	Day    = 24 * Hour
	Week   = 7 * Day
)

// Hourless marks a clock that states minutes and seconds alone. It is added to
// the stamp, which is below one hour.
const Hourless = int64(1) << 60

// Style is how a column writes time.
type Style uint8

// Styles of a column.
const (
	None     Style = iota
	Decimals       // a decimal number; its unit is decided beside
	Clocks         // hh:mm:ss.sss, mm:ss.s, hh:mm
	Dates          // a date alone
	Moments        // date and clock in one cell
)

// Order is in which order the parts of a date with strokes stand.
type Order uint8

// Orders of the parts of a date.
const (
	DayFirst Order = iota
	MonthFirst
)

// Form is how one column writes time.
type Form struct {
	Style  Style
	Scale  int   // decimals are whole numbers of 10^-Scale of their unit
	Factor int64 // of decimals: their unit in seconds where that is min, h or d; else 1
	Short  bool  // a clock of two parts is hours and minutes
	Zoned  bool  // moments state their zone
	Order  Order // of dates with strokes
}

// Part names the part of a second that decimals are in: "ms", "us" or "ns", and
// nothing for whole seconds or longer.
func (f *Form) Part() string {
	switch f.Scale {
	case 6:
		return "ms"
	case 3:
		return "us"
	case 0:
		return "ns"
	}
	return ""
}

// Read reads a cell without blanks around it. A stamp of another form is wordy.
func (f *Form) Read(cell []byte, point byte) (int64, number.State) {
	if f.Style == Decimals {
		v, st := number.Scaled(cell, point, f.Scale)
		if st == number.Valued && f.Factor != 1 {
			if v > math.MaxInt64/f.Factor || v < -math.MaxInt64/f.Factor {
				return 0, number.Wordy
			}
			v *= f.Factor
		}
		return v, st
	}
	var v int64
	ok := false
	switch f.Style {
	case Clocks:
		v, ok = Clock(cell, f.Short)
	case Dates:
		var rest []byte
		v, rest, _, ok = Date(cell, f.Order)
		ok = ok && len(rest) == 0
		v *= Day
	case Moments:
		var zoned bool
		v, zoned, _, ok = Moment(cell, f.Order)
		ok = ok && zoned == f.Zoned
	}
	if ok {
		return v, number.Valued
	}
	if _, st := number.Parse(cell, point); st == number.Missing {
		return 0, number.Missing
	}
	return 0, number.Wordy
}

// Epoch gives the decimal exponent e with which a number of 10^(e-9)
// seconds since 1970 is a moment between 1990 and 2100, and whether there is
// one: 9 for seconds, 6 for ms, 3 for µs, 0 for ns.
func Epoch(v float64) (e int, ok bool) {
	for _, e := range []int{9, 6, 3, 0} {
		if s := v * math.Pow10(e-9); s >= 631152000 && s < 4102444800 {
			return e, true
		}
	}
	return 0, false
}

// GPS weeks that a recording can carry without having been rolled over: from
// 1994, when the system was complete, to 2100.
const FirstWeek, LastWeek = 730, 6262

// Continuous turns stamps that start again, at each hour, midnight or week, into
// ones that go on, in place: where a stamp falls by more than half the period,
// one period is added from there on. Those marked Hourless take the hour that
// puts them nearest to the one before. It gives how often a period was added and the
// row of the first time, and how many stamps had no hour.
func Continuous(stamps []int64, period int64) (turns, first, noHour int) {
	var add int64
	last, have := int64(0), false
	first = -1
	hourTurn := !slices.ContainsFunc(stamps, func(s int64) bool { return s != ingest.NoStamp && s < Hourless/2 })
	for i, s := range stamps {
		if s == ingest.NoStamp {
			continue
		}
		if s >= Hourless/2 {
			s -= Hourless
			noHour++
			if have {
				if hourTurn {
					s += last / Hour * Hour
					if last-s > Hour/2 {
						s += Hour
						turns++
						if first < 0 {
							first = i
						}
					}
				} else {
					k := (last - s + Hour/2) / Hour
					if last-s+Hour/2 < 0 {
						k--
					}
					s += k * Hour
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
