package main

import (
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
)

// write writes the page.
func (m *measured) write(w io.Writer) {
	fmt.Fprintf(w, `# How quick the pages are

Measured by `+"`go run ./bench/desk`"+` with `+"`bookend serve`"+` on loopback of the machine that asks, too: %d processors, Go %s, commit %s, %s. The
programme has %d stints and %d runs, logged as on a tablet, and a measure of each run. Times are from the request to the last byte
of the answer and rest on the machine; none gates a change.

## Each page

The median of %d. "After an entry" is the first time that a page is asked for after something was entered elsewhere: whatever the entries
say is put together anew, verdicts and report included.

| page | ms | ms after an entry | kB |
|---|---|---|---|
`, runtime.NumCPU(), strings.TrimPrefix(runtime.Version(), "go"), m.commit, m.date, stints, stints*runs, m.times)
	for _, t := range m.each {
		fmt.Fprintf(w, "| %s | %.1f | %.1f | %d |\n", t.name, t.still.quantile(0.5), t.after.quantile(0.5), t.bytes/1000)
	}
	fmt.Fprintf(w, `
The aim is 50 ms; the report itself misses it where an entry came since, since all of its figures are drawn anew. From sending the form that leaves a run out to the last byte of the verdicts without it: **%.0f ms** (the slowest of
%d: %.0f ms); the aim is 100 ms.

## %d people at once

For %.0f s each of them keeps a page open that follows changes, reads a page, pauses for half a second to a second and a half, and every
fourth time writes an entry instead of reading. Afterwards all of them read without a pause for %.0f s, which nobody does.

| what | answers | p50, ms | p95, ms | p99, ms |
|---|---|---|---|---|
`, m.verdict.quantile(0.5), len(m.verdict), m.verdict.quantile(1), m.people, m.length.Seconds(), m.hurry.Seconds())
	for _, x := range []struct {
		what string
		s    spread
	}{{"reading", m.many}, {"writing an entry", m.written}, {"reading without a pause", m.rushed}} {
		fmt.Fprintf(w, "| %s | %d | %.1f | %.1f | %.1f |\n", x.what, len(x.s), x.s.quantile(0.5), x.s.quantile(0.95), x.s.quantile(0.99))
	}
	fmt.Fprintf(w, `
Errors: %d. Open pages were told of changes %d times. Afterwards the chain of entries verifies. The aim is no error and a p99 of 200 ms
while people read and write.

%s## Scripts

What a page loads, compressed. The limit is 150 kB.

| page | kB | scripts |
|---|---|---|
`, len(m.errors), m.told, m.large())
	for _, x := range m.weights {
		list := slices.Clone(x.scripts)
		slices.Sort(list)
		fmt.Fprintf(w, "| %s | %.1f | %s |\n", x.name, float64(x.bytes)/1000, strings.Join(list, ", "))
	}
}

// large says how long the demonstration's verdicts take, where it was asked.
func (m *measured) large() string {
	if len(m.changed) == 0 {
		return ""
	}
	return fmt.Sprintf(`## The demonstration: seven tests, %s

Each measure is compared with and without what is left out, the candidates among each other too, and its budget is drawn up. From nothing, the
verdicts take %.1f s; afterwards only what an entry bears on is compared anew: %.2f s (median of %d) after a run of the wet laps was left out
or taken in again. That is longer than the 100 ms that are aimed at and that one test of few measures keeps.

`, m.measures, m.first.Seconds(), m.changed.quantile(0.5)/1000, len(m.changed))
}
