package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/clock"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
)

// outbox makes the entries that a tablet saved: remarks, one a line.
func outbox(t *testing.T, n int) (lines [][]byte, ids []string) {
	t.Helper()
	for i := range n {
		e := programme.Entry{
			ID: fmt.Sprintf("01890a5d-ac96-774b-bcce-%012x", i+1), Kind: "remark", Version: 1, Body: json.RawMessage(fmt.Sprintf(`{"text":"remark %d, %s"}`, i, strings.Repeat("wet ", i%40))),
			Author: "Rask", Device: "tablet", Counter: int64(i + 1), DeviceTime: clock.Instant{UnixNS: 1778666400e9 + int64(i)*1e9, Clock: clock.Device},
		}
		line, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		lines, ids = append(lines, append(line, '\n')), append(ids, e.ID)
	}
	return lines, ids
}

// takeUntil sends an outbox to a bookend of its own and kills it (SIGKILL) once it
// has acknowledged that many entries; below 0 it is left to end. It gives the ids
// that were acknowledged.
func takeUntil(t *testing.T, dir string, lines [][]byte, acks int) map[string]bool {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Args = []string{"bookend", "log", "take", "-", "--folder", dir} // the test's binary is bookend under that name
	var errs bytes.Buffer
	c.Stderr = &errs
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		for _, l := range lines {
			if _, err := in.Write(l); err != nil {
				return // killed
			}
		}
		_ = in.Close() // the end of the outbox
	}()
	acked := map[string]bool{}
	for s := bufio.NewScanner(out); s.Scan(); {
		id, what, _ := strings.Cut(s.Text(), " ")
		if what != "kept" && what != "kept before" {
			continue
		}
		acked[id] = true
		if len(acked) == acks {
			if err := c.Process.Kill(); err != nil {
				t.Fatal(err)
			}
			_, _ = io.Copy(io.Discard, out) // what was under way is no acknowledgement
			break
		}
	}
	if err := c.Wait(); (err == nil) != (acks < 0) {
		t.Fatalf("it ended with %v: %s", err, errs.String())
	}
	return acked
}

// Killed (-9) in the middle of 1,000 log writes, again and again: whatever was
// acknowledged is there, the chain verifies, and sending everything once more adds
// what is missing and nothing twice.
func TestKilledInTheMiddleOfAThousandWritesNothingAcknowledgedIsLost(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "moor")
	if code, _, errs := call("new", dir); code != 0 {
		t.Fatal(errs)
	}
	lines, ids := outbox(t, 1000)
	acked := map[string]bool{}
	for _, acks := range []int{1, 137, 138, 512, 871, -1} {
		for id := range takeUntil(t, dir, lines, acks) {
			acked[id] = true
		}
		s, err := sqlite.Open(context.Background(), dir)
		if err != nil {
			t.Fatalf("after %d: %v", acks, err)
		}
		all, err := s.Entries(context.Background(), 0)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Verify(context.Background()); err != nil {
			t.Errorf("after %d: %v", acks, err)
		}
		there := map[string]int{}
		for _, e := range all {
			there[e.ID]++
		}
		for id := range acked {
			if there[id] != 1 {
				t.Fatalf("after %d acknowledgements %s is there %d times", acks, id, there[id])
			}
		}
		if acks < 0 && len(all) != len(ids)+1 { // and the programme's own
			t.Errorf("%d entries, want %d", len(all), len(ids)+1)
		}
		for i, e := range all[1:] {
			if e.ID != ids[i] {
				t.Fatalf("entry %d is out of order", i)
			}
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(acked) != 1000 {
		t.Errorf("%d acknowledged", len(acked))
	}

}
