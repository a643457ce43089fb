package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// effect is how long it takes until what follows from an entry is seen, by this
// bookend and, where one is given, by an earlier one in the same run.
type effect struct {
	what        string
	aim         float64 // ms
	now, before cost
}

// cost is what answers took, on the clock and of the server's processors.
type cost struct {
	took   spread
	worked time.Duration // all answers together; 0 where the system does not tell
}

// each gives the processors' time of one answer in ms.
func (c *cost) each() float64 {
	return float64(c.worked.Microseconds()) / 1000 / float64(max(1, len(c.took)))
}

// worked gives the time that the server's processors have worked, as Linux tells it
// in proc(5): fields 14 and 15 of stat, in hundredths of a second. 0 elsewhere.
func (d *desk) worked() time.Duration {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", d.process.Process.Pid))
	if err != nil {
		return 0
	}
	_, after, _ := strings.Cut(string(b), ") ")
	f := strings.Fields(after)
	if len(f) < 13 {
		return 0
	}
	user, _ := strconv.Atoi(f[11])
	system, _ := strconv.Atoi(f[12])
	return time.Duration(user+system) * 10 * time.Millisecond
}

// note times one answer.
func (c *cost) note(d *desk, ask func() (time.Duration, error)) error {
	was := d.worked()
	took, err := ask()
	if err != nil {
		return err
	}
	c.took, c.worked = append(c.took, took), c.worked+d.worked()-was
	return nil
}

// brackets makes a programme of 20 stints of six runs: twelve candidates between
// control stints, every third the control, and ten measures of each run. The values
// are made up; they are drawn with a fixed seed.
func brackets(binary, dir string) (*driven, error) {
	const stints, runs, candidates, measures = 20, 6, 12, 10
	p := &driven{binary: binary, dir: dir}
	if err := p.do("new", dir, "--title", "Twelve tyres in brackets", "--client", "Tarn Valley Ambulance", "--ground", "Skerry Moor", "--vehicle", "van, 3.5 t"); err != nil {
		return nil, err
	}
	lots := rand.New(rand.NewPCG(26, 3))
	var table strings.Builder
	table.WriteString("stint,code,run,measure,value\n")
	next := 0
	for s := 1; s <= stints; s++ {
		code, shift := "K", 0.0
		if s%3 != 1 && s != stints {
			code, shift = string("ABCDEFGHLMNP"[next]), 0.1*float64(next)-0.5
			next = (next + 1) % candidates
		}
		moment := 0.25*lots.NormFloat64() + math.Sin(float64(s)/6)
		for r := 1; r <= runs; r++ {
			p.ids = append(p.ids, fmt.Sprintf("%d/%d", s, r))
			for k := range measures {
				fmt.Fprintf(&table, "%d,%s,%d,m%d,%.2f\n", s, code, r, k, (32+shift+moment+0.3*lots.NormFloat64())*(1+0.1*float64(k)))
			}
		}
	}
	path := dir + ".csv"
	if err := os.WriteFile(path, []byte(table.String()), 0o600); err != nil {
		return nil, err
	}
	return p, p.do("import", path, "--test", "wet-stop", "--better", "lower", "--folder", dir)
}

// aims of the house: an exclusion's effect on every verdict, and a page (ms).
const (
	verdictsAim = 100
	pageAim     = 50
)

// effects times what follows from entries in two programmes, and in the demonstration
// as each program made it, where it is given.
func (m *measured) effects(ctx context.Context, binary, before, work, demo, demoBefore string) error {
	for i, b := range []string{binary, before} {
		if i == 1 {
			demo = demoBefore
		}
		if b == "" {
			continue
		}
		into := func(k int, what string, aim float64) *cost {
			for len(m.seen) <= k {
				m.seen = append(m.seen, effect{})
			}
			m.seen[k].what, m.seen[k].aim = what, aim
			if i == 1 {
				return &m.seen[k].before
			}
			return &m.seen[k].now
		}
		dir := filepath.Join(work, fmt.Sprintf("effects-%d", i))
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return err
		}
		forty, err := drive(b, filepath.Join(dir, "tarn-valley"))
		if err != nil {
			return err
		}
		if err := m.in(ctx, forty, func(d *desk, at string) error {
			c := into(0, fmt.Sprintf("the report after an entry: %d stints, %d runs", stints, stints*runs), pageAim)
			for k := range m.times {
				if _, err := d.remark(ctx, "effects", k+1); err != nil {
					return err
				}
				if err := c.note(d, func() (time.Duration, error) {
					_, _, took, err := get(ctx, d.url+at+"/report/whole")
					return took, err
				}); err != nil {
					return err
				}
			}
			return m.leaving(ctx, d, at, "wet-stop", forty.ids, into(1, fmt.Sprintf("a run left out until the verdicts: %d stints, %d runs", stints, stints*runs), verdictsAim))
		}); err != nil {
			return err
		}
		twelve, err := brackets(b, filepath.Join(dir, "brackets"))
		if err != nil {
			return err
		}
		if err := m.in(ctx, twelve, func(d *desk, at string) error {
			return m.leaving(ctx, d, at, "wet-stop", twelve.ids, into(2, "the same: 12 candidates in brackets, 20 stints, 10 measures", verdictsAim))
		}); err != nil {
			return err
		}
		if demo == "" {
			continue
		}
		copied := filepath.Join(dir, "demonstration")
		if err := os.CopyFS(copied, os.DirFS(demo)); err != nil {
			return err
		}
		if err := m.in(ctx, &driven{binary: b, dir: copied}, func(d *desk, at string) error {
			var ids []string
			for s := 1; s < 100 && len(ids) < 2*m.times; s++ {
				for r := 1; r < 10; r++ {
					id := fmt.Sprintf("%02d/%d", s, r)
					status, _, _, err := get(ctx, d.url+at+"/runs/wet-lap/"+url.PathEscape(id))
					if err != nil {
						return err
					}
					if status == http.StatusOK {
						ids = append(ids, id)
					}
				}
			}
			return m.leaving(ctx, d, at, "wet-lap", ids, into(3, "the same: a wet lap of the demonstration, "+m.measures, verdictsAim))
		}); err != nil {
			return err
		}
	}
	return nil
}

// in serves a programme while something is asked of it; its verdicts have been seen
// once.
func (m *measured) in(ctx context.Context, p *driven, do func(d *desk, at string) error) error {
	d, err := serve(ctx, p)
	if err != nil {
		return err
	}
	defer d.end()
	at := "/p/" + url.PathEscape(filepath.Base(p.dir))
	status, body, _, err := get(ctx, d.url+at+"/verdicts")
	if err != nil || status != http.StatusOK {
		return fmt.Errorf("%s answers %d: %s: %w", at, status, body, err)
	}
	return do(d, at)
}

// leaving leaves one run out after the other, each taken in again before the next.
func (m *measured) leaving(ctx context.Context, d *desk, at, test string, ids []string, c *cost) error {
	lots := rand.New(rand.NewPCG(26, 4))
	lots.Shuffle(len(ids), func(i, j int) { ids[i], ids[j] = ids[j], ids[i] })
	for _, id := range ids[:min(m.times, len(ids))] {
		run := at + "/runs/" + test + "/" + url.PathEscape(id)
		if err := c.note(d, func() (time.Duration, error) { return d.change(ctx, run, "out", at+"/verdicts") }); err != nil {
			return err
		}
		if _, err := d.change(ctx, run, "back", at+"/verdicts"); err != nil {
			return err
		}
	}
	return nil
}
