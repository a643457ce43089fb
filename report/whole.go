package report

import (
	"fmt"

	"example.org/bookend/compare"
	"example.org/bookend/compare/whole"
)

// held holds the first measures of the tests together.
func (b *builder) held() {
	var tests []whole.Test
	for i := range b.tests {
		t := whole.Test{ID: b.tests[i].id, Title: b.tests[i].name(i)}
		for j := range b.tests[i].measures {
			m := &b.tests[i].measures[j]
			switch {
			case m.r == nil:
			case m.first:
				t.First = m.r
			default:
				t.Others = append(t.Others, m.r)
			}
		}
		tests = append(tests, t)
	}
	p, err := whole.Together(tests)
	if err != nil {
		b.apart = err.Error()
		return
	}
	b.together = p
}

// counted says how many verdicts were given, and how they are adjusted.
func (b *builder) counted() []Text {
	if b.together == nil {
		return []Text{say("First measures are not adjusted over tests: " + b.apart + ".")}
	}
	var out []Text
	for _, w := range b.together.Words() {
		out = append(out, say(w))
	}
	return out
}

// countedShort says the same for the first page, where there are many tests.
func (b *builder) countedShort() Text {
	p := b.together
	if p == nil {
		return b.counted()[0]
	}
	t := say(fmt.Sprintf("%s on %s; %d on first measures answer, the others describe.", count(p.Verdicts, "verdict"), count(p.Measures, "measure"), p.Firsts))
	if !p.Adjusted {
		return t
	}
	return say(t, " ", b.standing())
}

// fallen counts the claims of first measures that do not stand over all tests.
func (b *builder) fallen() int {
	n := 0
	for _, a := range b.together.Answers {
		if a.Holds != nil && !*a.Holds {
			n++
		}
	}
	return n
}

// standing says which claims of first measures do not stand once all tests are allowed
// for, and what that means.
func (b *builder) standing() Text {
	var tests []string
	who := map[string][]string{}
	names := map[string]string{}
	for i := range b.tests {
		names[b.tests[i].id] = b.tests[i].name(i)
	}
	failed := b.fallen()
	for _, a := range b.together.Answers {
		if a.Holds != nil && !*a.Holds {
			if len(who[a.Test]) == 0 {
				tests = append(tests, a.Test)
			}
			who[a.Test] = append(who[a.Test], a.Code)
		}
	}
	all := link("over all tests", "over-tests")
	if failed == 0 {
		return say("Every claim of a first measure stands ", all, ", too.")
	}
	t := say("Each test’s claims allow for its own candidates; with all tests allowed for as well, " + map[bool]string{true: "one could be chance", false: words(failed) + " could be chance"}[failed == 1] + ": ")
	for i, id := range tests {
		if i > 0 {
			t = say(t, "; ")
		}
		t = say(t, codes(who[id]), " in "+names[id])
	}
	return say(t, " (", all, ").")
}

// overTests sets the first measures' verdicts beside what stands over all tests.
func (b *builder) overTests() {
	p := b.together
	if p == nil || !p.Adjusted {
		return
	}
	s := Section{ID: "over-tests", Short: "Over all tests", Title: say("Over all tests: every claim of a first measure stands")}
	failed := 0
	t := Table{ID: "over-tests-table", Caption: say("First measures, adjusted within their test and over all tests"), Columns: heads("test", "", "verdict", "#p, within its test", "#p, over all tests", "stands over all tests")}
	for i := range b.tests {
		rt := &b.tests[i]
		first := true
		for _, a := range p.Answers {
			if a.Test != rt.id {
				continue
			}
			row := Row{Group: first && len(t.Rows) > 0}
			name := cell("")
			if first {
				name = Cell{Text: say(rt.name(i)), Head: true}
			}
			stands := say("claims nothing")
			if a.Holds != nil {
				if *a.Holds {
					stands = say("yes")
				} else {
					stands = say(strong("no: within its test alone"))
					failed++
				}
			}
			letter := code(a.Code)
			for j := range rt.measures {
				if rt.measures[j].first && rt.measures[j].r != nil {
					letter = link2(b, &rt.measures[j], a.Code)
				}
			}
			row.Cells = []Cell{name, cell(letter), {Text: b.word(compare.Verdict{Word: a.Verdict.Word})}, b.p(a.P), b.p(a.Over), {Text: stands}}
			t.Rows = append(t.Rows, row)
			first = false
		}
	}
	if failed > 0 {
		s.Title = say(fmt.Sprintf("Over all tests: %s not stand", map[bool]string{true: "one claim does", false: words(failed) + " claims do"}[failed == 1]))
	}
	for _, w := range b.counted() {
		s.Blocks = append(s.Blocks, Block{Text: w})
	}
	if failed > 0 {
		s.Blocks = append(s.Blocks, Block{Text: b.standing()})
	}
	s.Blocks = append(s.Blocks, Block{Table: &t})
	b.section(s)
}
