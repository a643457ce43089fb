package stamp_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	_ "time/tzdata"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited/number"
	"example.org/bookend/ingest/delimited/stamp"
)

// moments gives moments of every kind of day, from 1990 to 2100, the same at
// every run.
func moments(n int) []time.Time {
	r := rand.New(rand.NewPCG(7, 8))
	from, to := time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
	out := []time.Time{
		from, time.Date(2000, 2, 29, 23, 59, 59, 999999999, time.UTC), time.Date(2024, 2, 29, 0, 0, 0, 0, time.UTC),
		time.Date(2099, 12, 31, 12, 0, 0, 1, time.UTC), time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC),
	}
	for range n {
		out = append(out, time.Unix(from.Unix()+r.Int64N(to.Unix()-from.Unix()), r.Int64N(1e9)).UTC())
	}
	return out
}

// A moment in any of the forms that are read is that moment. Reference: package
// time of the standard library, which writes them.
func TestMomentsAreThoseOfPackageTime(t *testing.T) {
	for _, at := range moments(2000) {
		for _, c := range []struct {
			layout string
			order  stamp.Order
			zone   *time.Location
		}{
			{"2006-01-02T15:04:05.000000000Z", 0, time.UTC}, {"2006-01-02 15:04:05.000000000", 0, time.UTC}, {"20060102T150405.000000000", 0, time.UTC},
			{"2006/01/02 15:04:05,000000000", 0, time.UTC}, {"02.01.2006 15:04:05.000000000", 0, time.UTC}, {"02.01.06 15:04:05.000000000", 0, time.UTC},
			{"02/01/2006 15:04:05.000000000", stamp.DayFirst, time.UTC}, {"01/02/2006 15:04:05.000000000", stamp.MonthFirst, time.UTC},
			{"1/2/2006 3:04:05.000000000 PM", stamp.MonthFirst, time.UTC}, {"2006-01-02_15:04:05.000000000 UTC", 0, time.UTC},
			{"2006-01-02T15:04:05.000000000-07:00", 0, time.FixedZone("", 5*3600+45*60)}, {"2006-01-02T15:04:05.000000000-0700", 0, time.FixedZone("", -9*3600)},
		} {
			if c.layout[:8] == "02.01.06" && at.Year() < 2000 {
				continue // two digits are years from 2000 on
			}
			text := at.In(c.zone).Format(c.layout)
			ns, _, _, ok := stamp.Moment([]byte(text), c.order)
			if !ok || ns != at.UnixNano() {
				t.Fatalf("%q is %d (%v), package time says %d", text, ns, ok, at.UnixNano())
			}
		}
	}
}

// Reference: package time of the standard library.
func TestDatesAreThoseOfPackageTime(t *testing.T) {
	for d := time.Date(1899, 12, 31, 0, 0, 0, 0, time.UTC); d.Year() < 2101; d = d.AddDate(0, 0, 1) {
		y, m, day := d.Date()
		if got := stamp.Civil(y, int(m), day); got != d.Unix()/86400 {
			t.Fatalf("%v is day %d after 1970, package time says %d", d, got, d.Unix()/86400)
		}
	}
	for y := 1996; y <= 2104; y++ { // the days that there are, and no others
		for m := 0; m <= 13; m++ {
			for d := 0; d <= 32; d++ {
				there := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
				is := m >= 1 && m <= 12 && there.Day() == d && int(there.Month()) == m
				if days, rest, _, ok := stamp.Date(fmt.Appendf(nil, "%04d-%02d-%02d", y, m, d), 0); ok != is || ok && (days != there.Unix()/86400 || len(rest) != 0) {
					t.Fatalf("%04d-%02d-%02d is a date: %v, package time says %v", y, m, d, ok, is)
				}
			}
		}
	}
}

// Each row is worked out by hand.
func TestClocks(t *testing.T) {
	const h, m, s, ms = stamp.Hour, stamp.Minute, stamp.Second, stamp.Second / 1000
	for _, c := range []struct {
		text  string
		short bool
		want  int64
		ok    bool
	}{
		{"14:30:52", true, 14*h + 30*m + 52*s, true}, {"14:30:52.25", true, 14*h + 30*m + 52*s + 250*ms, true}, {"14:30:52,25", false, 14*h + 30*m + 52*s + 250*ms, true},
		{"0:03:52.550000", true, 3*m + 52*s + 550*ms, true}, {"14:30:52:250", true, 14*h + 30*m + 52*s + 250*ms, true}, {"14:30:52:25", true, 0, false},
		{"14:30", true, 14*h + 30*m, true}, {"14:30", false, stamp.Hourless + 14*m + 30*s, true}, {"14:30.5", true, stamp.Hourless + 14*m + 30*s + 500*ms, true},
		{"61:30.5", true, 0, false}, {"12:00:00 AM", true, 0, true}, {"12:00:00 PM", true, 12 * h, true}, {"1:00:00pm", true, 13 * h, true}, {"13:00:00 PM", true, 0, false},
		{"23:59:60", true, 24 * h, true}, {"23:59:61", true, 0, false}, {"23:60:00", true, 0, false}, {"100:00:00", true, 100 * h, true},
		{"14:30:52.1234567899", true, 14*h + 30*m + 52*s + 123456789, true}, {"14:30:52.", true, 14*h + 30*m + 52*s, true},
		{"", true, 0, false}, {":", true, 0, false}, {"14", true, 0, false}, {"14:", true, 0, false}, {"a:b", true, 0, false}, {"14:30:52 XM", true, 0, false}, {"-1:00:00", true, 0, false},
	} {
		if got, ok := stamp.Clock([]byte(c.text), c.short); ok != c.ok || ok && got != c.want {
			t.Errorf("%q (%v) is %d (%v), want %d (%v)", c.text, c.short, got, ok, c.want, c.ok)
		}
	}
	for _, c := range []struct {
		digits, want int64
		ok           bool
	}{{143052, 14*h + 30*m + 52*s, true}, {0, 0, true}, {235960, 24 * h, true}, {236000, 0, false}, {240000, 0, false}, {-1, 0, false}} {
		if got, ok := stamp.Packed(c.digits*s + 5*ms); ok != c.ok || ok && got != c.want+5*ms {
			t.Errorf("%d is %d (%v)", c.digits, got, ok)
		}
	}
}

// Digits of a date in both ways; reference: package time.
func TestDatesInDigits(t *testing.T) {
	for _, at := range moments(300) {
		if at.Year() < 2000 {
			continue
		}
		for _, layout := range []string{"20060102", "020106"} {
			v, st := number.Scaled([]byte(at.Format(layout)), '.', 9)
			list := []int64{v, ingest.NoStamp}
			if st != number.Valued || !stamp.PackedDays(list) || list[0] != at.Truncate(24*time.Hour).UnixNano() || list[1] != ingest.NoStamp {
				t.Fatalf("%s is %v", at.Format(layout), list)
			}
		}
	}
	for _, v := range []int64{20260532, 20261301, 320126, 5} {
		if stamp.PackedDays([]int64{v * stamp.Second}) {
			t.Errorf("%d is taken for a date", v)
		}
	}
}

// Law: whatever is cut to a clock's period and made to go on is what it was, but
// for where it begins.
func TestWhatStartsAgainGoesOn(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, period := range []int64{stamp.Hour, stamp.Day, stamp.Week} {
		for trial := range 50 {
			var truth, seen []int64
			at := r.Int64N(period)
			turns := 0
			for range 200 {
				truth = append(truth, at)
				c := at % period
				if period == stamp.Hour {
					c += stamp.Hourless
				}
				seen = append(seen, c)
				step := r.Int64N(period / 4)
				turns += int((at+step)/period - at/period)
				at += step
			}
			turns -= int(at/period - truth[199]/period)
			gap := r.IntN(200)
			seen[gap] = ingest.NoStamp
			n, first, hourless := stamp.Continuous(seen, period)
			if n != turns || (n == 0) != (first < 0) || (hourless > 0) != (period == stamp.Hour) {
				t.Fatalf("period %d, trial %d: %d turns of %d, first %d, %d without hour", period, trial, n, turns, first, hourless)
			}
			begin := 0
			if gap == 0 {
				begin = 1
			}
			for i, v := range seen {
				if i != gap && v-seen[begin] != truth[i]-truth[begin] {
					t.Fatalf("period %d, trial %d: row %d is %d after the first, want %d", period, trial, i, v-seen[begin], truth[i]-truth[begin])
				}
			}
		}
	}
}

// A number since 1970 is told from others by its size.
func TestNumbersSince1970(t *testing.T) {
	at := time.Date(2026, 5, 13, 14, 0, 0, 0, time.UTC).UnixNano()
	for e, v := range map[int]float64{9: float64(at) / 1e9, 6: float64(at) / 1e6, 3: float64(at) / 1e3, 0: float64(at)} {
		if got, ok := stamp.Epoch(v); !ok || got != e {
			t.Errorf("%v is in 10^(%d-9) s (%v), want %d", v, got, ok, e)
		}
	}
	for _, v := range []float64{0, 1, 86400, 6e8, 5e9, -1.7e9, math.Inf(1), math.NaN()} {
		if e, ok := stamp.Epoch(v); ok {
			t.Errorf("%v is taken for a moment in 10^(%d-9) s", v, e)
		}
	}
}

// Where the clock shows an hour twice the first is meant. Reference: package time
// shows each moment's clock; the days are those of Directive 2000/84/EC and of 15
// USC 260a, from memory.
func TestWallClocks(t *testing.T) {
	for _, c := range []struct {
		zone, wall, utc string
		twice           bool
	}{
		{"Europe/Berlin", "2026-10-25 01:59:59", "2026-10-24T23:59:59Z", false},
		{"Europe/Berlin", "2026-10-25 02:00:00", "2026-10-25T00:00:00Z", true},
		{"Europe/Berlin", "2026-10-25 02:59:59", "2026-10-25T00:59:59Z", true},
		{"Europe/Berlin", "2026-10-25 03:00:00", "2026-10-25T02:00:00Z", false},
		{"Europe/London", "2026-10-25 01:30:00", "2026-10-25T00:30:00Z", true},
		{"America/New_York", "2026-11-01 01:30:00", "2026-11-01T05:30:00Z", true},
		{"America/New_York", "2026-11-01 02:30:00", "2026-11-01T07:30:00Z", false},
		{"Europe/Berlin", "2026-07-01 12:00:00", "2026-07-01T10:00:00Z", false},
		{"UTC", "2026-07-01 12:00:00", "2026-07-01T12:00:00Z", false},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		wall, _, _, ok := stamp.Moment([]byte(c.wall), 0)
		ns, twice := stamp.ToUTC(wall, zone)
		if got := time.Unix(0, ns).UTC().Format(time.RFC3339); !ok || got != c.utc || twice != c.twice {
			t.Errorf("%s in %s is %s (twice: %v), want %s (%v)", c.wall, c.zone, got, twice, c.utc, c.twice)
		}
		if back := time.Unix(0, ns).In(zone).Format("2006-01-02 15:04:05"); back != c.wall {
			t.Errorf("%s in %s is shown as %s", c.utc, c.zone, back)
		}
	}
	// Law: any moment's clock is turned into that moment, or into the other one
	// with the same clock.
	for _, name := range []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range moments(3000) {
			local := at.In(zone)
			_, offset := local.Zone()
			ns, twice := stamp.ToUTC(at.UnixNano()+int64(offset)*stamp.Second, zone)
			if ns != at.UnixNano() && !(twice && ns < at.UnixNano()) {
				t.Fatalf("%v is turned into %v", local, time.Unix(0, ns).In(zone))
			}
		}
	}
}

func TestColumnsOfOneForm(t *testing.T) {
	for _, c := range []struct {
		form stamp.Form
		cell string
		want int64
		st   number.State
	}{
		{stamp.Form{Style: stamp.Decimals, Scale: 9, Factor: 1}, "12.5", 12.5e9, number.Valued},
		{stamp.Form{Style: stamp.Decimals, Scale: 6, Factor: 1}, "12.5", 12.5e6, number.Valued},
		{stamp.Form{Style: stamp.Decimals, Scale: 9, Factor: 60}, "0.5", 30e9, number.Valued},
		{stamp.Form{Style: stamp.Decimals, Scale: 9, Factor: 86400}, "1e6", 0, number.Wordy}, // beyond int64
		{stamp.Form{Style: stamp.Decimals, Scale: 9, Factor: 1}, "-", 0, number.Missing},
		{stamp.Form{Style: stamp.Decimals, Scale: 9, Factor: 1}, "inf", 0, number.Infinite},
		{stamp.Form{Style: stamp.Clocks, Factor: 1}, "00:00:01", 1e9, number.Valued},
		{stamp.Form{Style: stamp.Clocks, Factor: 1}, "1.5", 0, number.Wordy},
		{stamp.Form{Style: stamp.Clocks, Factor: 1}, "n/a", 0, number.Missing},
		{stamp.Form{Style: stamp.Dates, Factor: 1}, "1970-01-03", 2 * stamp.Day, number.Valued},
		{stamp.Form{Style: stamp.Dates, Factor: 1}, "1970-01-03 00:00:00", 0, number.Wordy},
		{stamp.Form{Style: stamp.Moments, Factor: 1, Zoned: true}, "1970-01-02T00:00:00Z", stamp.Day, number.Valued},
		{stamp.Form{Style: stamp.Moments, Factor: 1}, "1970-01-02T00:00:00Z", 0, number.Wordy}, // the others state no zone
	} {
		if got, st := c.form.Read([]byte(c.cell), '.'); st != c.st || st == number.Valued && got != c.want {
			t.Errorf("%q by %+v is %d (%d), want %d (%d)", c.cell, c.form, got, st, c.want, c.st)
		}
	}
}
