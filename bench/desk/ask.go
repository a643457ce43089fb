package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// home is the programme's address.
const home = "/p/tarn-valley"

// addresses are the pages that are asked for, by the name of each.
var addresses = []struct{ name, at string }{
	{"Programmes", "/"}, {"Brief", home + "/brief"}, {"Order", home + "/order"}, {"Day", home + "/day?test=wet-stop"},
	{"Recordings", home + "/recordings"}, {"Lines", home + "/lines"}, {"Ratings", home + "/ratings"}, {"Verdicts", home + "/verdicts"},
	{"a run", home + "/runs/wet-stop/2%2F3"}, {"Report", home + "/report"}, {"the report itself", home + "/report/whole"},
}

// spread is times of one thing, in the order measured.
type spread []time.Duration

// quantile gives the time that a share of the answers did not exceed.
func (s spread) quantile(q float64) float64 {
	if len(s) == 0 {
		return 0
	}
	o := slices.Clone(s)
	slices.Sort(o)
	i := min(int(q*float64(len(o))), len(o)-1)
	return float64(o[i].Microseconds()) / 1000
}

// timed is one page: as it stands, and the first time after an entry came.
type timed struct {
	name         string
	still, after spread
	bytes        int
}

// weighed is the scripts of one page.
type weighed struct {
	name    string
	scripts []string
	bytes   int // compressed
}

// measured is what was found.
type measured struct {
	commit, date  string
	people, times int
	length        time.Duration

	each    []timed
	weights []weighed
	many    spread
	written spread
	rushed  spread // without a pause
	errors  []string
	told    int // changes that open pages were told of
	hurry   time.Duration

	first    time.Duration // of the demonstration: its verdicts from nothing
	measures string        // what its shelf says of them
	seen     []effect
	earlier  string // commit of the bookend that is measured beside; empty: none is
}

var client = &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 200}, Timeout: 30 * time.Second}

// ask asks once and gives the answer's body and how long it took to its last byte.
func ask(ctx context.Context, r *http.Request) (status int, body []byte, took time.Duration, err error) {
	r = r.WithContext(ctx)
	began := time.Now()
	a, err := client.Do(r)
	if err != nil {
		return 0, nil, 0, err
	}
	defer func() { _ = a.Body.Close() }()
	b, err := io.ReadAll(a.Body)
	return a.StatusCode, b, time.Since(began), err
}

func get(ctx context.Context, at string) (int, []byte, time.Duration, error) {
	r, err := http.NewRequest("GET", at, nil)
	if err != nil {
		return 0, nil, 0, err
	}
	return ask(ctx, r)
}

// remark sends one entry as a tablet does.
func (d *desk) remark(ctx context.Context, device string, counter int) (time.Duration, error) {
	sum := 0
	for _, c := range device {
		sum = sum*31 + int(c)
	}
	id := fmt.Sprintf("01990000-%04x-7000-8000-%012x", sum&0xffff, counter)
	now := time.Now().UnixNano()
	body := fmt.Sprintf(`{"id":%q,"kind":"remark","version":1,"body":{"stint":"2","test":"wet-stop","text":"remark %d"},"author":"lead","device":%q,"counter":%d,"device_time":{"unix_ns":%d,"clock":"device"}}`,
		id, counter, device, counter, now)
	r, err := http.NewRequest("PUT", d.url+home+"/day/outbox/"+id, strings.NewReader(body))
	if err != nil {
		return 0, err
	}
	status, answer, took, err := ask(ctx, r)
	if err == nil && status != http.StatusOK {
		err = fmt.Errorf("an entry is answered %d: %s", status, answer)
	}
	return took, err
}

// pages times every page that there is.
func (m *measured) pages(ctx context.Context, d *desk) error {
	counter := 0
	for _, a := range addresses {
		status, body, _, err := get(ctx, d.url+a.at)
		if err != nil {
			return err
		}
		if status == http.StatusNotFound {
			continue // this bookend has no such page
		}
		if status != http.StatusOK {
			return fmt.Errorf("%s answers %d: %s", a.at, status, body)
		}
		t := timed{name: a.name, bytes: len(body)}
		for range m.times {
			_, _, took, err := get(ctx, d.url+a.at)
			if err != nil {
				return err
			}
			t.still = append(t.still, took)
		}
		for range m.times {
			counter++
			if _, err := d.remark(ctx, "desk", counter); err != nil {
				return err
			}
			_, _, took, err := get(ctx, d.url+a.at)
			if err != nil {
				return err
			}
			t.after = append(t.after, took)
		}
		m.each = append(m.each, t)
	}
	return nil
}

// change leaves a run out, or takes it in again, and gives how long it was until the
// last byte of the verdicts that follow.
func (d *desk) change(ctx context.Context, run, how, verdicts string) (time.Duration, error) {
	began := time.Now()
	r, err := http.NewRequest("POST", d.url+run+"/"+how, strings.NewReader(url.Values{"reason": {"puddle"}}.Encode()))
	if err != nil {
		return 0, err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	own := *client
	own.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	a, err := own.Do(r.WithContext(ctx))
	if err != nil {
		return 0, err
	}
	_ = a.Body.Close()
	if a.StatusCode != http.StatusSeeOther {
		return 0, fmt.Errorf("%s/%s answers %d", run, how, a.StatusCode)
	}
	status, _, _, err := get(ctx, d.url+verdicts)
	if err == nil && status != http.StatusOK {
		err = fmt.Errorf("%s answers %d", verdicts, status)
	}
	return time.Since(began), err
}

// demonstration times the verdicts of seven tests with all of their measures from
// nothing.
func (m *measured) demonstration(ctx context.Context, binary, folder string) error {
	d, err := serve(ctx, &driven{binary: binary, dir: folder})
	if err != nil {
		return err
	}
	defer d.end()
	at := "/p/" + url.PathEscape(path.Base(folder))
	status, body, took, err := get(ctx, d.url+at+"/verdicts")
	if err != nil || status != http.StatusOK {
		return fmt.Errorf("the demonstration's verdicts answer %d: %w", status, err)
	}
	m.first = took
	if x := regexp.MustCompile(`\d+ measures`).Find(body); x != nil {
		m.measures = string(x)
	}
	return nil
}

var scriptOf = regexp.MustCompile(`<script[^>]* src="([^"]+)"`)

// scripts weighs what each page loads, compressed. A script imports nothing more:
// internal/bundle writes one for each widget.
func (m *measured) scripts(ctx context.Context, d *desk) error {
	for _, a := range addresses {
		status, body, _, err := get(ctx, d.url+a.at)
		if err != nil {
			return err
		}
		if status != http.StatusOK {
			continue
		}
		w := weighed{name: a.name}
		for _, x := range scriptOf.FindAllStringSubmatch(string(body), -1) {
			at := x[1]
			r, err := http.NewRequest("GET", d.url+at, nil)
			if err != nil {
				return err
			}
			r.Header.Set("Accept-Encoding", "gzip")
			status, b, _, err := ask(ctx, r)
			if err != nil || status != http.StatusOK {
				return fmt.Errorf("the script %s answers %d: %w", at, status, err)
			}
			w.scripts, w.bytes = append(w.scripts, path.Base(at)), w.bytes+len(b)
		}
		m.weights = append(m.weights, w)
	}
	return nil
}

// crowd lets many people in at once. Each keeps one page open that follows
// changes, reads a page, pauses for half a second to a second and a half, and
// every fourth time writes an entry instead. Afterwards all of them read without a
// pause for a sixth of the time.
func (m *measured) crowd(ctx context.Context, d *desk) error {
	var there []string
	for _, t := range m.each {
		for _, a := range addresses {
			if a.name == t.name {
				there = append(there, a.at)
			}
		}
	}
	var mu sync.Mutex
	note := func(s *spread, took time.Duration, err error) {
		mu.Lock()
		defer mu.Unlock()
		if err != nil {
			m.errors = append(m.errors, err.Error())
			return
		}
		*s = append(*s, took)
	}
	listening, stop := context.WithCancel(ctx)
	defer stop()
	var ears sync.WaitGroup
	for range m.people {
		ears.Go(func() {
			r, err := http.NewRequestWithContext(listening, "GET", d.url+home+"/changes", nil)
			if err != nil {
				note(&m.many, 0, err)
				return
			}
			a, err := (&http.Client{}).Do(r)
			if err != nil {
				note(&m.many, 0, err)
				return
			}
			defer func() { _ = a.Body.Close() }()
			for s := bufio.NewScanner(a.Body); s.Scan(); {
				if strings.HasPrefix(s.Text(), "data: ") {
					mu.Lock()
					m.told++
					mu.Unlock()
				}
			}
			if listening.Err() == nil {
				note(&m.many, 0, fmt.Errorf("a page that follows changes was cut off"))
			}
		})
	}
	read := func(lots *rand.Rand, into *spread) {
		at := there[lots.IntN(len(there))]
		status, _, took, err := get(ctx, d.url+at)
		if err == nil && status != http.StatusOK {
			err = fmt.Errorf("%s answers %d", at, status)
		}
		note(into, took, err)
	}
	everybody := func(length time.Duration, one func(lots *rand.Rand, who, i int)) {
		var all sync.WaitGroup
		end := time.Now().Add(length)
		for who := range m.people {
			all.Go(func() {
				lots := rand.New(rand.NewPCG(26, uint64(who)))
				for i := 1; time.Now().Before(end) && ctx.Err() == nil; i++ {
					one(lots, who, i)
				}
			})
		}
		all.Wait()
	}
	everybody(m.length, func(lots *rand.Rand, who, i int) {
		time.Sleep(time.Duration(500+lots.IntN(1000)) * time.Millisecond)
		if i%4 != 0 {
			read(lots, &m.many)
			return
		}
		took, err := d.remark(ctx, fmt.Sprintf("tablet %d", who), i/4)
		note(&m.written, took, err)
	})
	m.hurry = m.length / 6
	everybody(m.hurry, func(lots *rand.Rand, _, _ int) { read(lots, &m.rushed) })
	stop()
	ears.Wait()
	if err := d.whole(); err != nil {
		return err
	}
	if len(m.errors) > 0 {
		return fmt.Errorf("%d errors, the first: %s", len(m.errors), m.errors[0])
	}
	return nil
}

// whole tells whether every entry that was acknowledged is there, and the chain is
// sound.
func (d *desk) whole() error { return d.do("verify", "--folder", d.dir) }
