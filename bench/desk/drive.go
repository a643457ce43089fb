package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"example.org/bookend/clock"
	"example.org/bookend/programme"
)

// stints and runs of the programme: what the house's limit on times is stated for.
const (
	stints = 40
	runs   = 10 // of a stint
)

// driven is a programme in its folder.
type driven struct {
	binary, dir string
	ids         []string // of its runs
}

// drive makes the programme: wet stops over two days, logged as on a tablet, with
// a table of what was measured. K opens, closes and returns after every two
// candidates. The values are made up; they are drawn with a fixed seed.
func drive(binary, dir string) (*driven, error) {
	p := &driven{binary: binary, dir: dir}
	if err := p.do("new", dir, "--title", "Wet stops of four van tyres", "--client", "Tarn Valley Ambulance", "--ground", "Skerry Moor",
		"--zone", "Europe/London", "--vehicle", "van, 3.5 t", "--question", "Which stops shorter than what we drive now?"); err != nil {
		return nil, err
	}
	lots := rand.New(rand.NewPCG(26, 1))
	shift := map[string]float64{"K": 0, "P": -1.2, "R": -0.4, "T": 0.9, "W": 0.1} // m
	candidates := []string{"P", "R", "T", "W"}
	var outbox bytes.Buffer
	var table strings.Builder
	table.WriteString("stint,code,run,value\n")
	at := time.Date(2026, 5, 13, 8, 0, 0, 0, time.UTC)
	counter := 0
	enter := func(kind string, body map[string]any) error {
		counter++
		at = at.Add(20 * time.Second)
		b, err := programme.Canonical(body)
		if err != nil {
			return err
		}
		line, err := json.Marshal(programme.Entry{ID: fmt.Sprintf("01890a5d-ac96-774b-bcce-%012x", counter), Kind: kind, Version: 1, Body: b, Author: "Rask",
			Device: "tablet of the day", Counter: int64(counter), DeviceTime: clock.Instant{UnixNS: at.UnixNano(), Clock: clock.Device}})
		outbox.Write(append(line, '\n'))
		return err
	}
	const test = "wet-stop"
	next := 0
	for s := 1; s <= stints; s++ {
		code := "K"
		if s%3 != 1 && s != stints {
			code = candidates[next%len(candidates)]
			next++
		}
		name := fmt.Sprint(s)
		if err := enter("stint", map[string]any{"test": test, "stint": name, "code": code, "driver": "Rask"}); err != nil {
			return nil, err
		}
		if s%4 == 1 {
			if err := enter("conditions", map[string]any{"test": test, "air_temperature_degc": 12.5 + float64(s)/8, "wind_mps": 2.5}); err != nil {
				return nil, err
			}
		}
		day := 1.5*math.Sin(float64(s)/12) + 0.25*lots.NormFloat64()
		for r := 1; r <= runs; r++ {
			run := fmt.Sprint(r)
			p.ids = append(p.ids, name+"/"+run)
			if err := enter("run", map[string]any{"test": test, "stint": name, "run": run, "entry_speed_mps": 22.2}); err != nil {
				return nil, err
			}
			v := 32 + shift[code] + day + 0.3*lots.NormFloat64()
			fmt.Fprintf(&table, "%s,%s,%s,%.2f\n", name, code, run, v)
		}
	}
	log := filepath.Join(filepath.Dir(dir), "outbox.jsonl")
	distances := filepath.Join(filepath.Dir(dir), "distances.csv")
	for path, text := range map[string][]byte{log: outbox.Bytes(), distances: []byte(table.String())} {
		if err := os.WriteFile(path, text, 0o600); err != nil {
			return nil, err
		}
	}
	if err := p.do("log", "take", log, "--folder", dir); err != nil {
		return nil, err
	}
	return p, p.do("import", distances, "--test", test, "--better", "lower", "--folder", dir)
}

// do runs the program once.
func (p *driven) do(args ...string) error {
	b, err := exec.Command(p.binary, args...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("bookend %s: %w\n%s", args[0], err, b)
	}
	return nil
}

// desk is the programme behind bookend serve.
type desk struct {
	*driven
	url     string
	process *exec.Cmd
}

// serve starts bookend serve on loopback.
func serve(ctx context.Context, p *driven) (*desk, error) {
	c := exec.CommandContext(ctx, p.binary, "serve", p.dir, "--address", "127.0.0.1:0")
	c.Stderr = os.Stderr
	said, err := c.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := c.Start(); err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(said)
	for lines.Scan() {
		if at, _, ok := strings.Cut(lines.Text(), " "); ok && strings.HasPrefix(at, "http://") {
			return &desk{p, at, c}, nil
		}
	}
	return nil, fmt.Errorf("bookend serve said no address: %w", c.Wait())
}

// end ends the server.
func (d *desk) end() {
	_ = d.process.Process.Signal(os.Interrupt) // it may have ended
	_ = d.process.Wait()
}
