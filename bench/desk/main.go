// Command desk measures the pages as people meet them: it makes a programme of 40
// stints and 400 runs, starts bookend serve on loopback, and asks.
//
// It times every page (median of 20, as it stands and after an entry that came
// meanwhile), what follows from entries (the report anew, the verdicts without a run;
// of this program and of an earlier one in the same run), and the answers to many people at once, who read pages, write entries and keep
// pages open that follow changes. The page that it writes is docs/speed.md, whose section
// on channels the browser's tests measure and which is carried over; commit
// and date are handed in, never read from a clock. Times are those of the machine
// that it runs on and gate nothing; a fault of the server does.
package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"time"
)

func main() {
	binary := flag.String("bookend", "", "the program to ask; empty: built from this source")
	people := flag.Int("people", 50, "how many people at once")
	length := flag.Duration("length", 30*time.Second, "how long they stay")
	times := flag.Int("times", 20, "how often each page is asked for")
	demo := flag.String("demo", "", "folder that bookend demo made, to time its verdicts too")
	before := flag.String("before", "", "an earlier program, to measure beside this one what follows from entries")
	demoBefore := flag.String("before-demo", "", "folder that bookend demo of the earlier program made")
	earlier := flag.String("before-commit", "", "commit that the page names for it")
	commit := flag.String("commit", "", "commit that the page names")
	date := flag.String("date", "", "date that the page names")
	out := flag.String("out", "", "file to write; empty: standard output")
	flag.Parse()
	if err := run(*binary, *people, *length, *times, *demo, *before, *demoBefore, *earlier, *commit, *date, *out); err != nil {
		fmt.Fprintln(os.Stderr, "desk:", err)
		os.Exit(1)
	}
}

func run(binary string, people int, length time.Duration, times int, demo, before, demoBefore, earlier, commit, date, out string) error {
	work, err := os.MkdirTemp("", "bookend-desk-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(work) }()
	if binary == "" {
		binary = filepath.Join(work, "bookend")
		build := exec.Command("go", "build", "-o", binary, "./cmd/bookend")
		build.Stderr = os.Stderr
		if err := build.Run(); err != nil {
			return fmt.Errorf("building bookend: %w", err)
		}
	}
	p, err := drive(binary, filepath.Join(work, "tarn-valley"))
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	d, err := serve(ctx, p)
	if err != nil {
		return err
	}
	defer d.end()
	m := &measured{commit: commit, date: date, people: people, length: length, times: times, earlier: earlier}
	for _, look := range []func(context.Context, *desk) error{m.pages, m.scripts, m.crowd} {
		if err := look(ctx, d); err != nil {
			return err
		}
	}
	if demo != "" {
		if err := m.demonstration(ctx, binary, demo); err != nil {
			return err
		}
	}
	if err := m.effects(ctx, binary, before, work, demo, demoBefore); err != nil {
		return err
	}
	var b bytes.Buffer
	m.write(&b)
	if out == "" {
		_, err = os.Stdout.Write(b.Bytes())
		return err
	}
	was, err := os.ReadFile(out)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return os.WriteFile(out, carried(b.Bytes(), was), 0o644)
}

// drawn heads the section of the page that the browser's tests measure, and scripts the
// one that it stands before.
const drawn, scripts = "## Channels\n", "## Scripts\n"

// carried gives a page with what stood in the one before it about drawing channels,
// which is measured elsewhere.
func carried(page, was []byte) []byte {
	_, section, ok := bytes.Cut(was, []byte("\n"+drawn))
	before, after, here := bytes.Cut(page, []byte("\n"+scripts))
	if !ok || !here {
		return page
	}
	section, _, _ = bytes.Cut(section, []byte("\n## "))
	return slices.Concat(before, []byte("\n"+drawn), section, []byte("\n"+scripts), after)
}
