package stamp

import (
	"strings"

	"example.org/bookend/ingest"
)

// Names of columns that state time, as ingest.Plain writes them; own lists.
var (
	weeks   = words("week gpsweek weeknumber wn wnc")
	tows    = words("tow gpstow timeofweek gpstimeofweek itow towms")
	days    = words("date datum utcdate gpsdate day tag")
	packed  = words("utc utctime clock uhrzeit timeofday tod zulu hhmmss timeutc gpsutc utcclock")
	perhaps = words("time zeit gpstime gnsstime localtime timestamp stamp")
)

func words(s string) map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.Fields(s) {
		out[w] = true
	}
	return out
}

// IsWeek tells whether a column of that name, its unit taken off, states the GPS
// week.
func IsWeek(name string) bool { return weeks[ingest.Plain(name)] }

// IsTimeOfWeek tells whether a column of that name states GPS time of week.
func IsTimeOfWeek(name string) bool { return tows[ingest.Plain(name)] }

// IsDate tells whether a column of that name states the date, in digits too.
func IsDate(name string) bool { return days[ingest.Plain(name)] }

// IsPacked tells whether a column of that name, if it holds numbers, can hardly
// hold seconds: they are then digits of a clock, hhmmss.
func IsPacked(name string) bool { return packed[ingest.Plain(name)] }

// MayBePacked tells whether a column of that name may hold digits of a clock.
func MayBePacked(name string) bool { return IsPacked(name) || perhaps[ingest.Plain(name)] }

// OrderIn reads from a heading in which order a date's parts stand.
func OrderIn(heading string) (o Order, ok bool) {
	h := strings.ToLower(heading)
	switch {
	case strings.Contains(h, "mm/dd"):
		return MonthFirst, true
	case strings.Contains(h, "dd/mm"), strings.Contains(h, "tt/mm"):
		return DayFirst, true
	}
	return 0, false
}
