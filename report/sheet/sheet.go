// Package sheet prints the run sheet of a day: which set is fitted when, room
// for what is read and rated, the cautions, and the rules agreed beforehand by
// which a run is stopped. It goes to the track on paper, where no battery ends.
//
// It shows codes and sets as they are handed to it and says of none that it is
// the control: whoever drives and rates reads it. What it says on safety is
// common practice, no source, and defers to the ground's rules; it calls no run
// safe. Text is within 80 columns; HTML is one page that needs nothing else and
// prints on A4 and on Letter.
package sheet

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"example.org/bookend/fault"
)

// Sheet is what stands on a run sheet. Times are of the ground's clock, as text.
type Sheet struct {
	Title   string
	Day     string // 2026-11-25, or empty
	Light   string // "08:12 to 15:41", or empty
	Runs    int    // a stint
	Rows    []Row
	Notes   []string // what the plan leaves open
	Content string   // what the sheet was made from, in words: "order by seed 7"
}

// Row is one stint.
type Row struct {
	Stint int
	Block int // from 1; 0 where there is only one
	Set   string
	Fit   string
	Drive string
	End   string
}

// Cautions are what every run needs. Common practice, no source.
var Cautions = []string{
	"A closed course, booked and marshalled, its run-off checked, the ground's rules first.",
	"A qualified driver who has been briefed; belt and helmet; radio.",
	"Recovery and medical help in place before the first run.",
	"Load, pressure and speed within what tyre and vehicle are marked for.",
	"Wheel nuts torqued, and torqued again after the first laps; tyres looked at at every stop.",
	"Speed built up in small steps. Nothing here asks anybody to go faster.",
}

// StopRules are those that end a run or a stint. Common practice, no source; the
// wind is that of the trade's dynamics tests, the temperature UN R117's, from
// memory.
var StopRules = []string{
	"The driver says stop.",
	"Rain on a dry track, fog, low sun, or anything on the track.",
	"Wind above 5 m/s in a test of handling.",
	"A spin, or two markers hit in a row.",
	"Brakes fade, a warning lamp, a fluid on the track.",
	"A cut, a blister, cords to be seen, a tyre that loses pressure: the set is held until it was inspected.",
	"Speed, load or pressure beyond what the tyre is marked for.",
	"The surface has changed by more than 10 K since the block began: fit the first set of the block again.",
}

// Text prints the sheet for a terminal or a plain printer.
func (s *Sheet) Text(out io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "RUN SHEET  %s\n", s.Title)
	if s.Day != "" {
		fmt.Fprintf(&b, "Day %s", s.Day)
		if s.Light != "" {
			fmt.Fprintf(&b, ", light from %s", s.Light)
		}
		b.WriteByte('\n')
	}
	b.WriteString("Driver ____________________  Fitter ____________________  Start ________\n\n")
	b.WriteString("Before the first run\n")
	list(&b, Cautions)
	b.WriteString("\nA run or stint ends when\n")
	list(&b, StopRules)
	block := 0
	for _, r := range s.Rows {
		if r.Block != block {
			block = r.Block
			fmt.Fprintf(&b, "\nBlock %d\n", block)
		}
		fmt.Fprintf(&b, "\n%3d  set %-6s", r.Stint, r.Set)
		if r.Fit != "" {
			fmt.Fprintf(&b, "  fit %s  drive %s  over %s", r.Fit, r.Drive, r.End)
		}
		b.WriteString("\n     cold kPa ____ ____ ____ ____  hot ____ ____ ____ ____  tread mm ____ ____\n")
		b.WriteString("     air C ____  surface C ____  wind m/s ____  water mm ____ ____ ____\n     runs")
		line := 9
		for n := 1; n <= s.Runs; n++ {
			cell := fmt.Sprintf("  %d ________", n)
			if line+len(cell) > 78 {
				b.WriteString("\n         ")
				line = 9
			}
			b.WriteString(cell)
			line += len(cell)
		}
		b.WriteString("\n     remarks ________________________________________________________________\n")
	}
	if len(s.Notes) > 0 {
		b.WriteString("\nNotes\n")
		list(&b, s.Notes)
	}
	if s.Content != "" {
		fmt.Fprintf(&b, "\n%s\n", s.Content)
	}
	if _, err := io.WriteString(out, b.String()); err != nil {
		return fault.New(fault.Internal, "printing the run sheet: %w", err)
	}
	return nil
}

// list writes items with a box to tick, within 78 columns.
func list(b *strings.Builder, items []string) {
	for _, item := range items {
		line := "  [ ]"
		for _, word := range strings.Fields(item) {
			if len([]rune(line))+1+len([]rune(word)) > 78 {
				b.WriteString(line + "\n")
				line = "     "
			}
			line += " " + word
		}
		b.WriteString(line + "\n")
	}
}

//go:embed sheet.html.tmpl
var pageText string

var page = template.Must(template.New("sheet").Funcs(template.FuncMap{
	"count": func(n int) []int {
		out := make([]int, n)
		for i := range out {
			out[i] = i + 1
		}
		return out
	},
}).Parse(pageText))

// HTML prints the sheet as one page.
func (s *Sheet) HTML(out io.Writer) error {
	view := struct {
		*Sheet
		Cautions, StopRules []string
	}{s, Cautions, StopRules}
	if err := page.Execute(out, view); err != nil {
		return fault.New(fault.Internal, "printing the run sheet: %w", err)
	}
	return nil
}
