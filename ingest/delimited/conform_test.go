package delimited_test

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"golang.org/x/text/encoding/charmap"

	"example.org/bookend/ingest/delimited"
	"example.org/bookend/ingest/ingesttest"
)

// rows gives n lines made by line from the row's number.
func rows(n int, line func(i int) string) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(line(i))
	}
	return b.String()
}

func utf16le(s string) []byte {
	out := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(s)) {
		out = append(out, byte(u), byte(u>>8))
	}
	return out
}

func utf16be(s string) []byte {
	out := []byte{}
	for _, u := range utf16.Encode([]rune(s)) {
		out = append(out, byte(u>>8), byte(u))
	}
	return out
}

func latin(t *testing.T, s string) []byte {
	t.Helper()
	b, err := charmap.Windows1252.NewEncoder().Bytes([]byte(s))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func samples(t *testing.T) []ingesttest.Sample {
	german := "Messung Rundkurs;Skerry Moor\r\n\r\nZeit;Länge;Breite;Geschwindigkeit;Gierrate\r\ns;°;°;km/h;°/s\r\n" +
		rows(300, func(i int) string {
			return fmt.Sprintf("%d,%02d;-3,%07d;55,%07d;%d,5;-1,25\r\n", i/20, i%20*5, 1000+i, 2000+i, 60+i%7)
		})
	return []ingesttest.Sample{
		{Name: "plain.csv", Data: []byte("time_s,speed_kmh,yaw_rate_degps\n" + rows(500, func(i int) string { return fmt.Sprintf("%.2f,%d.5,-0.25\n", float64(i)/100, i%90) }))},
		{Name: "german.csv", Data: []byte("\ufeff" + german)},
		{Name: "german-latin.csv", Data: latin(t, german)},
		{Name: "german-16le.csv", Data: utf16le(german)},
		{Name: "german-16be.csv", Data: utf16be(german)},
		{Name: "tabs.txt", Data: []byte("Time (s)\tv [km/h]\tay (g)\tnote\n" + rows(200, func(i int) string { return fmt.Sprintf("%d.%d\t50\t\tlap %d\n", i/10, i%10, i) }))},
		{Name: "blanks.txt", Data: []byte("# time speed ax\n# s m/s m/s2\n" + rows(200, func(i int) string { return fmt.Sprintf("  %6.2f   %7.3f  -0.5 \n", float64(i)*0.02, 20-float64(i)/50) }))},
		{Name: "iso.csv", Data: []byte("timestamp,lat,lon\n" + rows(200, func(i int) string {
			return fmt.Sprintf("2026-05-13T23:59:%02d.%d00+02:00,55.1,-3.%03d\n", 40+i/10, i%10, i)
		}))},
		{Name: "cr.csv", Data: []byte("time;speed\r" + rows(50, func(i int) string { return fmt.Sprintf("%d;12.5\r", i) }))},
		{Name: "bare.csv", Data: []byte(rows(100, func(i int) string { return fmt.Sprintf("%.1f,3.25,4\n", float64(i)/10) }))},
		{Name: "messy.csv", Data: []byte("t,\"speed, over ground [m/s]\",gear,,\n" + rows(300, func(i int) string {
			switch i {
			case 20:
				return "\n"
			case 30:
				return "# stopped\n"
			case 40:
				return "3.9,12.5,2,,\n" // the stamp of the row before
			case 50:
				return "1.0,12.5,2,,\n" // falls back
			case 60:
				return ",12.5,2,,\n"
			case 70:
				return "7.0,nan,2,,\n"
			case 80:
				return "8.0,12.5\n"
			case 90:
				return "9.0,1,2,3,4,5,6,7\n"
			}
			return fmt.Sprintf("%d.%d,\"12.5\",2,,\n", i/10, i%10)
		}))},
	}
}

func TestConformance(t *testing.T) {
	ingesttest.Run(t, ingesttest.Suite{
		Reader: delimited.New(),
		Own:    samples(t),
		Foreign: []ingesttest.Sample{
			{Name: "a.nmea", Data: []byte(rows(50, func(i int) string {
				return fmt.Sprintf("$GPRMC,1430%02d.00,A,5500.0,N,00300.0,W,1.0,90.0,130526,,*00\r\n", i)
			}))},
			{Name: "a.gpx", Data: []byte("<?xml version=\"1.0\"?>\n<gpx>\n" + rows(50, func(i int) string { return "<trkpt lat=\"55\" lon=\"-3\"/>\n" }))},
			{Name: "a.json", Data: []byte("{\"time\": [1, 2, 3]}\n")},
			{Name: "a.log", Data: []byte(rows(50, func(i int) string { return fmt.Sprintf("(%d.5) can0 260#08FFFB0000001884\n", i) }))},
			{Name: "a.gz", Data: []byte("\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03\x00\x01\x02,1,2\n")},
			{Name: "a.txt", Data: []byte("A letter, with commas, and words.\nIt has no numbers, of course.\n")},
			{Name: "zeros", Data: make([]byte, 5000)},
		},
	})
}

// FuzzDelimited reads anything: a recording that keeps the laws of package
// signal, or a fault that is not the program's own. One worker and two give the
// same.
func FuzzDelimited(f *testing.F) {
	for _, s := range []string{
		"time,speed\n0,1\n1,2\n", "t;v\n0,5;1,5\n1,5;2,5\n", "Zeit\tGeschw.\ns\tkm/h\n1\t2\n2\t3\n",
		"utc,v\n235959.9,1\n000000.0,2\n", "date,clock,v\n13.05.2026,14:00:01,1\n13.05.2026,14:00:02,2\n",
		"gps_week,tow,lat\n2094,1.5,55\n2094,1.6,55\n", "time,v\n2026-05-13T14:00:00Z,1\n2026-05-13T14:00:01Z,2\n",
		"1 2 3\n2 3 4\n3 4 5\n", "t,v\n59:59.9,1\n00:00.0,2\n", "t,v\r0,1\r1,\"2\"\r", "\xff\xfet\x00,\x00v\x00\n\x000\x00,\x001\x00\n\x00",
		"t,v\n0,1e308\n1,-1e-320\n2,12345678901234567890123\n", "t,lat,lon\n0,551234567,-31234567\n1,551234568,-31234566\n",
		"t,v\n-9223372036.854775808,1\n9223372036.854775807,2\n", "week,tow,v\n2094,604800,1\n2095,-1,1\n", "t_h,v_kmh\n1e9,1e308\n2,2\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if err := ingesttest.Holds(delimited.Reader{Workers: 1}, b); err != nil {
			t.Fatal(err)
		}
		if err := ingesttest.Holds(delimited.Reader{Workers: 2}, b); err != nil {
			t.Fatal(err)
		}
	})
}
