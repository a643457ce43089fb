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
// 05/6; wet-stop-06.csv, run 06/2". Places that differ in one part are said together. A
// single place is said as it is. Times within recordings are left out where there are
// several: the run says it.
func Where(places []Place) string {
	if len(places) == 1 {
		return places[0].String()
	}
	var all [][]part
	deepest := 0
	for _, p := range places {
		parts := p.parts()
		if len(parts) == 0 || slices.ContainsFunc(all, func(x []part) bool { return slices.Equal(x, parts) }) {
			continue
		}
		all = append(all, parts)
		deepest = max(deepest, len(parts))
	}
	var best []group
	for at := range deepest { // whichever part says most at once, the innermost of equals
		if g := grouped(all, deepest-1-at); best == nil || len(g) < len(best) {
			best = g
		}
	}
	var out []string
	for _, g := range best {
		var said []string
		for i, x := range g.parts {
			word := x.one + x.value
			if i == g.at && len(g.values) > 1 {
				word = x.many + together(g.values)
			}
			said = append(said, word)
		}
		out = append(out, strings.Join(said, ", "))
	}
	return strings.Join(out, "; ")
}

// group is places that differ in the part at at alone.
type group struct {
	parts  []part
	at     int
	values []string
}

// grouped puts places together that differ in the part at at, in their order.
func grouped(all [][]part, at int) []group {
	var out []group
	for _, parts := range all {
		at := min(at, len(parts)-1)
		i := slices.IndexFunc(out, func(g group) bool {
			if g.at != at || len(g.parts) != len(parts) {
				return false
			}
			for k := range parts {
				if k == at && g.parts[k].one != parts[k].one || k != at && g.parts[k] != parts[k] {
					return false
				}
			}
			return true
		})
		if i < 0 {
			out = append(out, group{parts: parts, at: at})
			i = len(out) - 1
		}
		out[i].values = append(out[i].values, parts[at].value)
	}
	return out
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

// follows tells whether b is numbered next after a: 05/2 after 05/1, stint08.csv after
// stint07.csv.
func follows(a, b string) bool {
	before, i, after := numbered(a)
	same, j, behind := numbered(b)
	return i >= 0 && j == i+1 && before == same && after == behind
}

// numbered parts a name at the last number in it; -1 where it has none.
func numbered(s string) (before string, n int, after string) {
	end := len(s)
	for end > 0 && (s[end-1] < '0' || s[end-1] > '9') {
		end--
	}
	begin := end
	for begin > 0 && s[begin-1] >= '0' && s[begin-1] <= '9' {
		begin--
	}
	n, err := strconv.Atoi(s[begin:end])
	if err != nil {
		return s, -1, ""
	}
	return s[:begin], n, s[end:]
}
