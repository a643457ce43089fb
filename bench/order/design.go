package main

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"example.org/bookend/order"
	"example.org/bookend/order/drift"
	"example.org/bookend/stat/looks"
)

// kind says what a design is a claim about.
type kind string

const (
	power  kind = "power"  // the planned smallest difference is shown with the planned power
	advise kind = "advice" // following the advice keeps the family error and takes fewer stints
	naive  kind = "naive"  // stopping by scatter without planned looks: reported, claims nothing
)

// design is one line of designs.txt. Standard deviations, drift and differences
// are in per cent.
type design struct {
	id         string
	kind       kind
	candidates int
	repeats    int // of each candidate in the fixed plan
	controls   int
	between    int
	correction drift.Correction
	runs       int
	stint, run float64
	scatter    []float64 // factors on the scatter, one after the other from programme to programme
	rise       float64   // of the surface from the first to the last stint of the fixed plan
	seed       uint64

	// advice
	truth    []float64 // of each candidate, in units of wanted
	wanted   float64   // factor on what the fixed plan shows
	most     int       // stints
	looks    []int     // passes through all candidates after which the plan looks
	spending looks.Spending
	line     string
}

func parse(r io.Reader) ([]*design, error) {
	var out []*design
	seen := map[string]bool{}
	s := bufio.NewScanner(r)
	for n := 1; s.Scan(); n++ {
		text := strings.TrimSpace(s.Text())
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		d, err := parseDesign(text)
		if err == nil && (seen[d.id] || seen[strconv.FormatUint(d.seed, 10)]) {
			err = fmt.Errorf("id or seed stands twice")
		}
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		seen[d.id], seen[strconv.FormatUint(d.seed, 10)] = true, true
		out = append(out, d)
	}
	return out, s.Err()
}

func parseDesign(text string) (*design, error) {
	f := strings.Fields(text)
	if len(f) < 3 {
		return nil, fmt.Errorf("%q is no design", text)
	}
	d := &design{id: f[0], kind: kind(f[1]), scatter: []float64{1}, wanted: 1, line: strings.Join(f, " ")}
	if d.kind != power && d.kind != advise && d.kind != naive {
		return nil, fmt.Errorf("there is no kind %q", f[1])
	}
	var err error
	number := func(s string) float64 {
		v, e := strconv.ParseFloat(s, 64)
		if e != nil && err == nil {
			err = fmt.Errorf("%q is no number", s)
		}
		return v
	}
	list := func(s string) []float64 {
		var out []float64
		for _, p := range strings.Split(s, ",") {
			out = append(out, number(p))
		}
		return out
	}
	for _, pair := range f[2:] {
		key, value, ok := strings.Cut(pair, "=")
		if !ok {
			return nil, fmt.Errorf("%q is not key=value", pair)
		}
		switch key {
		case "candidates":
			d.candidates = int(number(value))
		case "repeats":
			d.repeats = int(number(value))
		case "controls":
			d.controls = int(number(value))
		case "between":
			d.between = int(number(value))
		case "fit":
			d.correction = drift.Correction(value)
		case "runs":
			d.runs = int(number(value))
		case "stint":
			d.stint = number(value)
		case "run":
			d.run = number(value)
		case "scatter":
			d.scatter = list(value)
		case "rise":
			d.rise = number(value)
		case "seed":
			d.seed = uint64(number(value))
		case "truth":
			d.truth = list(value)
		case "wanted":
			d.wanted = number(value)
		case "most":
			d.most = int(number(value))
		case "looks":
			for _, v := range list(value) {
				d.looks = append(d.looks, int(v))
			}
		case "spending":
			d.spending = looks.Spending(value)
		default:
			return nil, fmt.Errorf("there is no key %q", key)
		}
	}
	switch {
	case err != nil:
		return nil, err
	case d.candidates < 1 || d.repeats < 1 || d.controls < 2 || d.runs < 1 || d.seed == 0 || !(d.stint > 0) || d.correction == "":
		return nil, fmt.Errorf("candidates, repeats, controls, runs, stint, fit or seed is missing")
	case d.kind != power && (len(d.truth) != d.candidates || len(d.looks) == 0 || d.most < 1):
		return nil, fmt.Errorf("truth of each candidate, looks or most is missing")
	}
	return d, nil
}

// request gives the plan's request.
func (d *design) request() order.Request {
	r := order.Request{
		Control: "K", ControlStints: d.controls, MostBetween: d.between, Correction: d.correction, Runs: d.runs, Seed: d.seed,
		Scatter: d.typed(),
	}
	for i := range d.candidates {
		r.Candidates = append(r.Candidates, order.Candidate{Code: string(rune('P' + i)), Repeats: d.repeats})
	}
	return r
}
