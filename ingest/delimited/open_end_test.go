package delimited_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
)

// A last line without an end draws a caveat where its last value may have lost digits,
// and is kept; where the count of decimals shows that it is whole, and where the line
// has its end, nothing is said.
func TestALastLineWithoutAnEnd(t *testing.T) {
	whole := func(format string, end string) string {
		var b strings.Builder
		b.WriteString("time_s,speed_mps\n")
		for i := range 40 {
			fmt.Fprintf(&b, "%.2f,"+format+"\n", float64(i)/100, 12+float64(i)/8)
		}
		return strings.TrimSuffix(b.String(), "\n") + end
	}
	for _, c := range []struct {
		name, text string
		told       bool
	}{
		{"whole numbers", whole("%.0f", ""), true},
		{"as many decimals as there are", whole("%g", ""), true},
		{"three decimals each", whole("%.3f", ""), false},
		{"with its end", whole("%.0f", "\n"), false},
		{"with both", whole("%.0f", "\r\n"), false},
	} {
		rec, err := delimited.New().Read(context.Background(), strings.NewReader(c.text), ingest.Options{Name: "a.csv"})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if rec.Caveats.Has("no_line_end") != c.told || len(rec.Channels[0].Values) != 40 {
			t.Errorf("%s: %d rows, %v", c.name, len(rec.Channels[0].Values), rec.Caveats)
		}
		for _, k := range rec.Caveats {
			if k.Code == "no_line_end" && k.Place.Line != 41 {
				t.Errorf("%s: the place is %v", c.name, k.Place)
			}
		}
	}
}
