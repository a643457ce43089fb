package tyre

import (
	"fmt"
	"strings"
	"time"

	"example.org/bookend/caveat"
	"example.org/bookend/fault"
)

// DateCode is the week in which a tyre was made, as the last digits of its
// identification number say.
//
// The week is that of 49 CFR 574.5: it runs from Sunday to Saturday, week 01 is
// the first whole one of the year, and the last may hold up to six days of the
// next year. It is not the week of ISO 8601: its Monday lies in the ISO week of
// the same number or of the next.
type DateCode struct {
	Week  int  // 1 to 53
	Year  int  // four digits
	Three bool // three digits were marked: a year of the 1990s is taken
}

const dateHint = "four digits, week and year, such as 3223 for week 32 of 2023; three digits before 2000"

// ParseDateCode reads a date code: four digits WWYY, three digits WWY for the
// 1990s, alone or as the last group of a whole identification number that
// begins with DOT.
func ParseDateCode(text string) (DateCode, error) {
	group := strings.TrimSpace(text)
	if f := strings.Fields(group); len(f) > 1 && strings.EqualFold(f[0], "DOT") {
		group = f[len(f)-1]
	}
	bad := func(why string) (DateCode, error) {
		return DateCode{}, fault.New(fault.Invalid, "date code %q %s", text, why).WithHint(dateHint)
	}
	if len(group) != 3 && len(group) != 4 {
		return bad("has not three or four digits")
	}
	n := 0
	for _, c := range []byte(group) {
		if c < '0' || c > '9' {
			return bad("has not three or four digits")
		}
		n = 10*n + int(c-'0')
	}
	d := DateCode{Week: n / 100, Year: 2000 + n%100}
	if len(group) == 3 {
		d = DateCode{Week: n / 10, Year: 1990 + n%10, Three: true}
	}
	if d.Week < 1 || d.Week > 53 {
		return bad("has no week between 01 and 53")
	}
	return d, nil
}

// String gives the code as marked.
func (d DateCode) String() string {
	if d.Three {
		return fmt.Sprintf("%02d%d", d.Week, d.Year%10)
	}
	return fmt.Sprintf("%02d%02d", d.Week, d.Year%100)
}

// firstSunday gives the first Sunday of a year, the beginning of week 01.
func firstSunday(year int) time.Time {
	t := time.Date(year, time.January, 1, 0, 0, 0, 0, time.UTC)
	return t.AddDate(0, 0, (7-int(t.Weekday()))%7)
}

// WeeksOf gives how many weeks a year has by the rule of 49 CFR 574.5: 52 or 53.
func WeeksOf(year int) int {
	return int(firstSunday(year+1).Sub(firstSunday(year)).Hours()) / (7 * 24)
}

// Days gives the first and the last day of the week, Sunday and Saturday, at
// midnight UTC.
func (d DateCode) Days() (first, last time.Time) {
	first = firstSunday(d.Year).AddDate(0, 0, 7*(d.Week-1))
	return first, first.AddDate(0, 0, 6)
}

func (d DateCode) before(o DateCode) bool {
	a, _ := d.Days()
	b, _ := o.Days()
	return a.Before(b)
}

// ISOWeek gives the ISO 8601 week in which the Monday of the date code's week
// lies: six of its seven days.
func (d DateCode) ISOWeek() (year, week int) {
	first, _ := d.Days()
	return first.AddDate(0, 0, 1).ISOWeek()
}

// Caveats gives what is odd about the code itself.
func (d DateCode) Caveats() caveat.List {
	var list caveat.List
	if d.Three {
		list.Add("date_code_of_three_digits", caveat.Place{}, "Date code %s has three digits: it is from before 2000. A year of the 1990s is taken; the code itself does not tell the decade.", d)
	}
	if n := WeeksOf(d.Year); d.Week > n {
		list.Add("date_code_week_missing", caveat.Place{}, "Date code %s: %d has %d weeks by the rule of 49 CFR 574.5; the week is taken as the first of %d.", d, d.Year, n, d.Year+1)
	}
	return list
}

// YearsAt gives the tyre's age in years of 365.25 days on a day, counted from
// the last day of its week; negative where that day is yet to come.
func (d DateCode) YearsAt(day time.Time) float64 {
	_, last := d.Days()
	return day.Sub(last).Hours() / 24 / 365.25
}

// OldYears is the age in years from which a tyre of a vehicle-dynamics test is
// flagged. Source: ISO 15037-1, clause on tyres, about one year; from memory.
const OldYears = 1

// DateFlags says what is to be known of the date codes of one set on the day of
// the test: too old, of the future, of different weeks, not of one tyre each.
func DateFlags(codes []DateCode, day time.Time, oldYears float64) caveat.List {
	var list caveat.List
	if len(codes) == 0 {
		list.Add("date_code_missing", caveat.Place{}, "No date code is noted: the age of the set is not known.")
		return list
	}
	seen := map[DateCode]bool{}
	oldest, newest := codes[0], codes[0]
	for _, d := range codes {
		if d.before(oldest) {
			oldest = d
		}
		if newest.before(d) {
			newest = d
		}
		if seen[d] {
			continue
		}
		seen[d] = true
		list = append(list, d.Caveats()...)
		first, _ := d.Days()
		switch years := d.YearsAt(day); {
		case first.After(day):
			list.Add("date_code_to_come", caveat.Place{}, "Date code %s is week %d of %d, which begins on %s, after the day of the test.", d, d.Week, d.Year, first.Format(time.DateOnly))
		case years > oldYears:
			list.Add("old_tyre", caveat.Place{}, "Date code %s: the tyre is %.1f years old, more than %g.", d, years, oldYears)
		}
	}
	if len(seen) > 1 {
		a, _ := oldest.Days()
		b, _ := newest.Days()
		list.Add("mixed_date_codes", caveat.Place{}, "The tyres of the set have %d date codes, from %s to %s: up to %d days apart.", len(seen), oldest, newest, int(b.Sub(a).Hours()/24))
	}
	return list
}
