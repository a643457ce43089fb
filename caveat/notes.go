package caveat

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Note is one footnote: what is said, once, and every place that it is said of.
type Note struct {
	Code   string
	Text   string
	Places []Place // in the order in which they were marked, each once
}

// Notes numbers caveats for footnotes in the order in which they are asked for. What
// says the same of several places is one note that names them all. Its zero value is
// ready to use.
type Notes struct {
	list  []Note
	index map[string]int
}

// Mark gives the number of the footnote that says what c says, counted from 1; it is
// the same number however often and of whatever place it is said.
func (n *Notes) Mark(c Caveat) int {
	key := c.Code + "\x00" + c.Text
	i, ok := n.index[key]
	if !ok {
		if n.index == nil {
			n.index = map[string]int{}
		}
		n.list = append(n.list, Note{Code: c.Code, Text: c.Text})
		i = len(n.list)
		n.index[key] = i
	}
	k := &n.list[i-1]
	if !slices.ContainsFunc(k.Places, func(p Place) bool { return p.String() == c.Place.String() }) {
		k.Places = append(k.Places, c.Place)
	}
	return i
}

// List gives the notes; number i stands at index i-1.
func (n *Notes) List() []Note { return slices.Clone(n.list) }

// part is one part of a place: what it is called alone and beside others, and its name.
type part struct{ one, many, value string }

func (p Place) parts() []part {
	var out []part
	add := func(one, many, value string) {
		if value != "" {
			out = append(out, part{one, many, value})
		}
	}
	file := p.File
	if p.Line > 0 {
		file = strings.TrimPrefix(file+":"+strconv.Itoa(p.Line), ":")
	}
	add("", "", file)
	add("channel ", "channels ", p.Channel)
	add("test ", "tests ", p.Test)
	add("", "", p.Measure)
	add("code ", "codes ", p.Code)
	if p.Run != "" { // a run names its stint
		add("run ", "runs ", p.Run)
	} else {
		add("stint ", "stints ", p.Stint)
	}
	return out
}

// Where says where the places are, each part once: "wet-stop-05.csv, runs 05/1 to
// 05/6; wet-stop-06.csv, run 06/2". A single place is said as it is. Times within
// recordings are left out where there are several: the run says it.
func Where(places []Place) string {
	if len(places) == 1 {
		return places[0].String()
	}
	type group struct {
		before string
		last   part
		values []string
	}
	var groups []*group
	for _, p := range places {
		parts := p.parts()
		if len(parts) == 0 {
			continue
		}
		var before []string
		for _, x := range parts[:len(parts)-1] {
			before = append(before, x.one+x.value)
		}
		last := parts[len(parts)-1]
		at := slices.IndexFunc(groups, func(g *group) bool { return g.before == strings.Join(before, ", ") && g.last.one == last.one })
		if at < 0 {
			groups = append(groups, &group{before: strings.Join(before, ", "), last: last})
			at = len(groups) - 1
		}
		if g := groups[at]; !slices.Contains(g.values, last.value) {
			g.values = append(g.values, last.value)
		}
	}
	var out []string
	for _, g := range groups {
		word := g.last.one
		if len(g.values) > 1 {
			word = g.last.many
		}
		text := word + together(g.values)
		if g.before != "" {
			text = g.before + ", " + text
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

// together lists names; three and more that are numbered one after another are said
// by the first and the last.
func together(names []string) string {
	var out []string
	for i := 0; i < len(names); {
		j := i
		for j+1 < len(names) && follows(names[j], names[j+1]) {
			j++
		}
		if j-i < 2 {
			out = append(out, names[i])
			i++
			continue
		}
		out = append(out, fmt.Sprintf("%s to %s", names[i], names[j]))
		i = j + 1
	}
	if len(out) == 1 {
		return out[0]
	}
	return strings.Join(out[:len(out)-1], ", ") + " and " + out[len(out)-1]
}

// follows tells whether b is numbered next after a: 05/2 after 05/1, 7 after 6.
func follows(a, b string) bool {
	i, j := numberAt(a), numberAt(b)
	if i == len(a) || j == len(b) || a[:i] != b[:j] {
		return false
	}
	x, err := strconv.Atoi(a[i:])
	y, also := strconv.Atoi(b[j:])
	return err == nil && also == nil && y == x+1
}

// numberAt is where the digits begin that a name ends with.
func numberAt(s string) int {
	i := len(s)
	for i > 0 && s[i-1] >= '0' && s[i-1] <= '9' {
		i--
	}
	return i
}
