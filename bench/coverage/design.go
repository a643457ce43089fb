package main

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/compare"
)

// kind says what a design stands in the list for.
type kind string

const (
	claim kind = "claim" // within the fitted family: its coverage and its family error are claims
	worth kind = "worth" // within the family, to read off what a stint, a set or a record is worth
	broke kind = "break" // outside the model: reported, claims nothing
)

// design is one line of designs.txt. Percentages are per cent of the level, or
// units where the scale is a difference.
type design struct {
	id        string
	kind      kind
	order     string
	fit       compare.Drift
	drift     string  // none, linear, bow, curved, step, walk
	size      float64 // of the drift: line, bow, step, or deviation of a step of the walk
	bow       float64 // of a curved drift
	runs      []int   // of each stint
	stint     float64 // standard deviations
	run       float64
	ratio     bool
	record    int // control stints
	seed      uint64
	simpler   bool
	sets      string // "", set, sets
	setSD     float64
	wear      float64
	other     float64
	tails     float64 // degrees of freedom; 0: normal
	warm      float64
	days      int
	dayByTyre float64
	ground    float64
	line      string // as listed
}

// codes gives the candidates in the order in which they are first driven.
func (d *design) codes() []string {
	var out []string
	for _, c := range strings.Split(d.order, "") {
		if c != "K" && !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	return out
}

// controls counts the control's stints.
func (d *design) controls() int { return strings.Count(d.order, "K") }

// repeats gives how many stints a candidate has.
func (d *design) repeats() string {
	least, most := len(d.order), 0
	for _, c := range d.codes() {
		n := strings.Count(d.order, c)
		least, most = min(least, n), max(most, n)
	}
	if least == most {
		return strconv.Itoa(least)
	}
	return fmt.Sprintf("%d-%d", least, most)
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
	d := &design{id: f[0], kind: kind(f[1]), other: 1, ground: 1, days: 1, line: strings.Join(f, " ")}
	if d.kind != claim && d.kind != worth && d.kind != broke {
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
	var runs []int
	for _, pair := range f[2:] {
		key, value, ok := strings.Cut(pair, "=")
		if !ok {
			return nil, fmt.Errorf("%q is not key=value", pair)
		}
		name, size, _ := strings.Cut(value, ":")
		switch key {
		case "order":
			d.order = value
		case "fit":
			d.fit = compare.Drift(value)
			if !slices.Contains([]compare.Drift{compare.NoDrift, compare.Bracket, compare.Linear, compare.Quadratic}, d.fit) {
				return nil, fmt.Errorf("there is no fit %q", value)
			}
		case "drift":
			d.drift = name
			first, second, _ := strings.Cut(size, ",")
			switch name {
			case "none":
			case "linear", "bow", "step", "walk":
				d.size = number(first)
			case "curved":
				d.size, d.bow = number(first), number(second)
			default:
				return nil, fmt.Errorf("there is no drift %q", name)
			}
		case "runs":
			for _, n := range strings.Split(value, ",") {
				v := int(number(n))
				if v < 1 {
					return nil, fmt.Errorf("%s runs a stint", n)
				}
				runs = append(runs, v)
			}
		case "stint":
			d.stint = number(value)
		case "run":
			d.run = number(value)
		case "scale":
			d.ratio = value == "ratio"
			if !d.ratio && value != "difference" {
				return nil, fmt.Errorf("there is no scale %q", value)
			}
		case "record":
			d.record = int(number(value))
		case "seed":
			d.seed = uint64(number(value))
		case "simpler":
			d.simpler = value == "yes"
		case "sets":
			if d.sets = name; name != "set" && name != "sets" {
				return nil, fmt.Errorf("there are no sets %q", name)
			}
			d.setSD = number(size)
		case "wear":
			d.wear = number(value)
		case "other":
			d.other = number(value)
		case "tails":
			d.tails = number(value)
		case "warm":
			d.warm = number(value)
		case "days":
			n, by, _ := strings.Cut(value, ",")
			d.days, d.dayByTyre = int(number(n)), number(by)
		case "ground":
			d.ground = number(value)
		default:
			return nil, fmt.Errorf("there is no key %q", key)
		}
	}
	switch {
	case err != nil:
		return nil, err
	case d.seed == 0 || len(runs) == 0 || d.drift == "" || d.fit == "":
		return nil, fmt.Errorf("seed, runs, drift or fit is missing")
	case len(d.order) < 3 || d.order[0] != 'K' || d.order[len(d.order)-1] != 'K' || len(d.codes()) == 0:
		return nil, fmt.Errorf("order %q does not begin and end with the control", d.order)
	case d.kind != broke && (d.sets != "" || d.wear != 0 || d.other != 1 || d.tails != 0 || d.warm != 0 || d.days != 1 || d.ground != 1 || d.drift == "walk" || d.drift == "step"):
		return nil, fmt.Errorf("a %s is within the model", d.kind)
	case d.tails != 0 && (d.tails <= 2 || d.tails != float64(int(d.tails))):
		return nil, fmt.Errorf("tails of %v degrees of freedom: a whole number above 2 is wanted", d.tails)
	}
	for i := range len(d.order) {
		d.runs = append(d.runs, runs[i%len(runs)])
	}
	return d, nil
}
