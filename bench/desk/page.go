package main

import (
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"strconv"
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
The aim is 50 ms.

%s## %d people at once

For %.0f s each of them keeps a page open that follows changes, reads a page, pauses for half a second to a second and a half, and every
fourth time writes an entry instead of reading. Afterwards all of them read without a pause for %.0f s, which nobody does.

| what | answers | p50, ms | p95, ms | p99, ms |
|---|---|---|---|---|
`, m.effect(), m.people, m.length.Seconds(), m.hurry.Seconds())
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

// loaded gives how many wanted a processor over the last five minutes, as Linux tells
// it in proc(5); 0 elsewhere.
func loaded() float64 {
	b, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return 0
	}
	f := strings.Fields(string(b))
	if len(f) < 2 {
		return 0
	}
	v, _ := strconv.ParseFloat(f[1], 64)
	return v
}

// effect says what follows from entries and how soon.
func (m *measured) effect() string {
	var b strings.Builder
	fmt.Fprintf(&b, `## What follows from an entry

From sending the form that leaves a run out to the last byte of the verdicts without it, another run each time, and the report itself
after an entry: the median of %d on the clock, and the mean that the server's processors worked for one.`, m.times)
	if l := loaded(); l > float64(runtime.NumCPU()) {
		fmt.Fprintf(&b, ` Others worked on the machine
(load %.0f on %d processors at the end), which the clock shows and the processors' time hardly.`, l, runtime.NumCPU())
	}
	if m.earlier == "" {
		b.WriteString("\n\n| what | aim, ms | ms | slowest | processors, ms |\n|---|---|---|---|---|\n")
		for _, e := range m.seen {
			fmt.Fprintf(&b, "| %s | %.0f | %.0f | %.0f | %.0f |\n", e.what, e.aim, e.now.took.quantile(0.5), e.now.took.quantile(1), e.now.each())
		}
	} else {
		fmt.Fprintf(&b, ` Beside it bookend of
commit %s, asked the same in the same run; the ratios are its times over those of now.

| what | aim, ms | ms | slowest | processors, ms | before, ms | processors | ratio | processors |
|---|---|---|---|---|---|---|---|---|
`, m.earlier)
		for _, e := range m.seen {
			now, was := e.now.took.quantile(0.5), e.before.took.quantile(0.5)
			fmt.Fprintf(&b, "| %s | %.0f | %.0f | %.0f | %.0f | %.0f | %.0f | %.1f | %.1f |\n", e.what, e.aim, now, e.now.took.quantile(1), e.now.each(), was, e.before.each(),
				was/now, e.before.each()/e.now.each())
		}
	}
	b.WriteString("\n")
	return b.String()
}

// large says how long the demonstration's verdicts take, where it was asked.
func (m *measured) large() string {
	if m.first == 0 {
		return ""
	}
	return fmt.Sprintf(`## The demonstration: seven tests, %s

Each measure is compared with and without what is left out, the candidates among each other too, and its budget is drawn up. From nothing, the
verdicts take %.1f s; afterwards only what an entry bears on is compared anew, which the table above has.

`, m.measures, m.first.Seconds())
}
