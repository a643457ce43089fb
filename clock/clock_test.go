package clock_test

import (
	"testing"
	"time"

	"example.org/bookend/clock"
)

// IERS Bulletin C 52 (July 2016): from 2017-01-01 UTC, UTC-TAI = -37 s; GPS time
// is TAI - 19 s, so GPS - UTC = 18 s. Bulletin C 16 (1998): -32 s from 1999, so
// 13 s. From memory of the announcements, which are public.
func TestLeapSecondsOfTheBulletins(t *testing.T) {
	for _, c := range []struct {
		at    time.Time
		ahead int64
	}{
		{time.Date(2016, 12, 31, 23, 59, 59, 0, time.UTC), 17},
		{time.Date(2017, 1, 1, 0, 0, 0, 0, time.UTC), 18},
		{time.Date(1999, 1, 1, 0, 0, 0, 0, time.UTC), 13},
		{time.Date(2026, 5, 13, 9, 0, 0, 0, time.UTC), 18},
	} {
		if got, ok := clock.SecondsAhead(c.at.Unix()); !ok || got != c.ahead {
			t.Errorf("at %v GPS is %d s ahead, want %d", c.at, got, c.ahead)
		}
	}
	if _, ok := clock.SecondsAhead(time.Date(1979, 1, 1, 0, 0, 0, 0, time.UTC).Unix()); ok {
		t.Error("there was no GPS time in 1979")
	}
}

// GPS week 2094, second 139792.65 is 2020-02-24 14:49:34.65 UTC: the recording
// psu_loop_1.csv states 1582555774.59 s of Unix time by its computer's clock in
// the same row.
func TestWeekAndTimeOfWeekAgainstTheComputerClockOfARecording(t *testing.T) {
	i, err := clock.FromGPS(2094, 139792.65)
	if err != nil {
		t.Fatal(err)
	}
	if want := time.Date(2020, 2, 24, 14, 49, 34, 650_000_000, time.UTC); i.Time().Sub(want).Abs() > time.Microsecond {
		t.Errorf("got %v, want %v", i.Time(), want)
	}
	if d := float64(i.UnixNS)/1e9 - 1582555774.590845; d < -0.2 || d > 0.2 {
		t.Errorf("differs from the computer's clock by %.3f s", d)
	}
}

func TestFromGPSAcrossTheLeapSecondOf2017(t *testing.T) {
	// 2017-01-01 00:00:18 GPS is 2017-01-01 00:00:00 UTC; week 1930 began 2017-01-01 GPS.
	i, err := clock.FromGPS(1930, 18)
	if err != nil {
		t.Fatal(err)
	}
	if want := time.Date(2017, 1, 1, 0, 0, 0, 0, time.UTC); !i.Time().Equal(want) {
		t.Errorf("got %v, want %v", i.Time(), want)
	}
	before, _ := clock.FromGPS(1930, 16.5) // 23:59:59.5 UTC, before the leap second
	if want := time.Date(2016, 12, 31, 23, 59, 59, 500_000_000, time.UTC); !before.Time().Equal(want) {
		t.Errorf("got %v, want %v", before.Time(), want)
	}
}

func TestOutOfRangeIsRefused(t *testing.T) {
	for _, c := range []struct {
		week int
		tow  float64
	}{{-1, 0}, {2094, -1}, {2094, 604801}} {
		if _, err := clock.FromGPS(c.week, c.tow); err == nil {
			t.Errorf("week %d, %g s was accepted", c.week, c.tow)
		}
	}
}

func TestAddRoundsToTheNanosecondBothWays(t *testing.T) {
	i := clock.Instant{UnixNS: 1_000_000_000, Clock: clock.Typed}
	if got := i.Add(0.1).UnixNS; got != 1_100_000_000 {
		t.Errorf("got %d", got)
	}
	if got := i.Add(-0.1).UnixNS; got != 900_000_000 {
		t.Errorf("got %d", got)
	}
}
