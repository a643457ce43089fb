package report_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/bookend/compare"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/report"
	"example.org/bookend/unit"
)

// driven is one stint as written down in a test: code, set, and the values of
// its runs.
type driven struct {
	code, set string
	values    []float64
}

// logOf makes a log of stints in order, one measure.
func logOf(measure string, stints ...driven) programme.Log {
	var l programme.Log
	for i, s := range stints {
		id := strconv.Itoa(i + 1)
		l.Stints = append(l.Stints, programme.Stint{ID: id, Code: s.code, Set: s.set, Position: float64(i + 1)})
		for k, v := range s.values {
			run := id + "/" + strconv.Itoa(k+1)
			l.Runs = append(l.Runs, programme.Run{ID: run, Stint: id, Number: k + 1, Covariates: map[string]float64{
				"water_depth_m": 0.001 + 0.0001*float64(i%5), "surface_temperature_degc": 14 + 0.5*float64(i)}})
			l.Observations = append(l.Observations, programme.Observation{Run: run, Measure: measure, Value: v})
		}
	}
	return l
}

func wet() programme.Log {
	return logOf("distance",
		driven{"K", "K1", []float64{33.1, 33.0, 33.2}}, driven{"P", "P1", []float64{31.9, 32.1, 32.0}}, driven{"R", "R1", []float64{33.0, 33.3, 33.1}},
		driven{"K", "K2", []float64{33.4, 33.6, 33.5}}, driven{"R", "R1", []float64{33.2, 33.4, 33.5}}, driven{"P", "P1", []float64{32.3, 32.2, 32.5}},
		driven{"K", "K3", []float64{33.6, 33.9, 33.8}}, driven{"P", "P2", []float64{32.6, 32.4, 39.5}}, driven{"R", "R2", []float64{33.6, 33.8, 33.7}},
		driven{"K", "K1", []float64{34.0, 34.1, 34.0}})
}

var distance = programme.Measure{ID: "distance", Title: "stopping distance", Unit: "m", Better: programme.Lower, Scale: programme.Ratio, Digits: 2}

func both(t testing.TB, l programme.Log, m programme.Measure, s compare.Settings) *compare.Both {
	t.Helper()
	b, err := compare.CompareBoth(compare.Input{Log: l, Measure: m, Control: "K", Settings: s})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

var made map[string]report.Input

// programmes are logs and settings of every kind that a report must bear. They
// are compared once; a report does not change what it is made from.
func programmes(t testing.TB) map[string]report.Input {
	t.Helper()
	if made != nil {
		return maps.Clone(made)
	}
	out := map[string]report.Input{}
	put := func(name string, l programme.Log, m programme.Measure, s compare.Settings) {
		out[name] = report.Input{Client: "Tarn Valley Ambulance", Ground: "Skerry Moor",
			Tests:  []report.Test{{Log: l, Measures: []report.Measured{{Both: both(t, l, m, s)}}}},
			Inputs: []report.Hash{{Name: name + ".csv", SHA256: strings.Repeat("0", 64)}}}
	}
	left := wet()
	left.Exclusions = []programme.Exclusion{{Run: "8/3", Reason: "a pool of water at the cone", Person: "lead"}}
	put("ratio", left, distance, compare.Settings{Margin: &compare.Margin{Value: 1}})
	put("no margin", wet(), distance, compare.Settings{})
	put("one-sided", left, distance, compare.Settings{Margin: &compare.Margin{Value: 0.2, InUnit: true}, Sided: compare.OneSided})
	diff := distance
	diff.Scale, diff.Better = programme.Difference, programme.Higher
	put("difference", left, diff, compare.Settings{Margin: &compare.Margin{Value: 0.2, InUnit: true}, Drift: compare.Linear})
	put("no degrees of freedom", logOf("distance", driven{"K", "", []float64{10}}, driven{"P", "", []float64{20}}, driven{"K", "", []float64{11}}, driven{"R", "", []float64{11}}), diff, compare.Settings{Drift: compare.Linear})
	negative := logOf("offset", driven{"K", "", []float64{-1.5, -1.2}}, driven{"P", "", []float64{-0.1, 0.2}}, driven{"K", "", []float64{-1.4, -1.6}}, driven{"P", "", []float64{0, -0.2}}, driven{"K", "", []float64{-1.1, -1.2}})
	put("negative", negative, programme.Measure{ID: "offset", Title: "offset", Unit: "m", Better: programme.Higher, Scale: programme.Difference, Digits: 2}, compare.Settings{})
	none := distance
	none.Unit, none.Title = "", "a measure with a name that goes on and on, as people write them when nobody stops them from doing so"
	var many []driven
	for i := range 40 {
		c := "K"
		if i%4 != 0 && i != 39 {
			c = fmt.Sprintf("candidate-%c", 'A'+(i-i/4-1)%10)
		}
		many = append(many, driven{c, "", []float64{30 + 0.02*float64(i) + 0.3*float64(len(c)%5) + 0.1*float64(i*7%3), 30.2 + 0.02*float64(i) + 0.1*float64(i*5%4)}})
	}
	put("ten candidates with long names", logOf("distance", many...), none, compare.Settings{Margin: &compare.Margin{Value: 1}, Quick: true})
	made = out
	return maps.Clone(made)
}

func build(t testing.TB, in report.Input) *report.Document {
	t.Helper()
	d, err := report.Build(in)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// walk visits every text of a document.
func walk(d *report.Document, visit func(report.Text)) {
	visit(d.Title)
	visit(d.About)
	for _, l := range [][]report.Text{d.Question, d.Answer} {
		for _, t := range l {
			visit(t)
		}
	}
	table := func(t report.Table) {
		visit(t.Caption)
		for _, c := range t.Columns {
			visit(c.Head)
		}
		for _, r := range t.Rows {
			for _, c := range r.Cells {
				visit(c.Text)
				if c.Verdict != nil {
					visit(c.Verdict.Estimate)
				}
			}
		}
	}
	for _, m := range d.Matrix {
		table(m)
	}
	for _, a := range d.Asides {
		for _, t := range a.Texts {
			visit(t)
		}
	}
	for _, s := range d.Sections {
		visit(s.Title)
		for _, b := range s.Blocks {
			visit(b.Text)
			for _, t := range b.List {
				visit(t)
			}
			if b.Table != nil {
				table(*b.Table)
			}
		}
	}
}

func ids(d *report.Document) map[string]int {
	out := map[string]int{}
	put := func(id string) {
		if id != "" {
			out[id]++
		}
	}
	table := func(t report.Table) {
		put(t.ID)
		for _, r := range t.Rows {
			put(r.ID)
			for _, c := range r.Cells {
				put(c.ID)
			}
		}
	}
	for _, m := range d.Matrix {
		table(m)
	}
	for _, s := range d.Sections {
		put(s.ID)
		for _, b := range s.Blocks {
			if b.Table != nil {
				table(*b.Table)
			}
			if b.Figure != nil {
				put(b.Figure.ID)
			}
		}
	}
	for _, n := range d.Notes {
		put(n.ID)
	}
	return out
}

// Each cell of the verdict table says the word of compare's verdict, and its
// numbers are compare's as package unit prints them.
func TestTheVerdictTableSaysWhatCompareFound(t *testing.T) {
	for name, in := range programmes(t) {
		for _, comma := range []bool{false, true} {
			in.Style.Comma = comma
			d := build(t, in)
			r := in.Tests[0].Measures[0].Both.Result
			seen := 0
			for _, m := range d.Matrix {
				for j, c := range m.Columns {
					letter := c.Head.String()
					i := slices.IndexFunc(r.Rows, func(x compare.Row) bool { return x.Code == letter })
					if i < 0 {
						continue
					}
					seen++
					row, v := r.Rows[i], m.Rows[0].Cells[j].Verdict
					if v == nil || string(v.Word) != row.Verdict.Word.Key() {
						t.Errorf("%s: %s: the table says %+v, compare %s", name, letter, v, row.Verdict.Word.Key())
						continue
					}
					estimate, interval := "", ""
					style := unit.Style{Comma: comma}
					switch {
					case row.Index != nil:
						estimate = unit.Number(*row.Index, 2, style)
						if row.IndexLow != nil && row.IndexHigh != nil {
							interval = unit.Interval(*row.IndexLow, *row.IndexHigh, 2, style)
						} else if row.IndexLow != nil {
							interval = "from " + unit.Number(*row.IndexLow, 2, style)
						}
					case row.Difference != nil:
						estimate = unit.Signed(*row.Difference, 2, style)
						if row.DiffLow != nil && row.DiffHigh != nil {
							interval = unit.SignedInterval(*row.DiffLow, *row.DiffHigh, 2, style)
						}
					}
					if v.Estimate.String() != estimate || v.Interval != interval {
						t.Errorf("%s: %s: the table says %q (%q), compare %q (%q)", name, letter, v.Estimate.String(), v.Interval, estimate, interval)
					}
				}
			}
			if seen != len(r.Rows) {
				t.Errorf("%s: %d of %d candidates stand in the table", name, seen, len(r.Rows))
			}
		}
	}
}

// Every link leads somewhere, every number of a note has its note, and no id
// stands twice.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	for name, in := range programmes(t) {
		d := build(t, in)
		have := ids(d)
		for id, n := range have {
			if n > 1 {
				t.Errorf("%s: the id %q stands %d times", name, id, n)
			}
		}
		links := 0
		walk(d, func(text report.Text) {
			for _, s := range text {
				if s.To == "" {
					continue
				}
				links++
				if have[s.To] == 0 {
					t.Errorf("%s: %q leads to %q, which is nowhere", name, s.Text, s.To)
				}
				if s.As == report.Mark && s.To != "note-"+s.Text {
					t.Errorf("%s: the mark %s leads to %s", name, s.Text, s.To)
				}
			}
		})
		if links < 20 {
			t.Errorf("%s: only %d links", name, links)
		}
		for i, n := range d.Notes {
			if n.Number != i+1 || n.Text == "" {
				t.Errorf("%s: note %d has number %d and text %q", name, i+1, n.Number, n.Text)
			}
		}
	}
}

// Each caveat of the result is a note.
func TestEveryCaveatIsANote(t *testing.T) {
	for name, in := range programmes(t) {
		d := build(t, in)
		r := in.Tests[0].Measures[0].Both.Result
		list := slices.Clone(r.Caveats)
		for _, row := range r.Rows {
			list = append(list, row.Caveats...)
		}
		for _, c := range list {
			if !slices.ContainsFunc(d.Notes, func(n report.Note) bool { return n.Code == c.Code && n.Text == c.Text }) {
				t.Errorf("%s: the caveat %s is no note: %s", name, c.Code, c.Text)
			}
		}
	}
}

// A verdict's title says nothing stronger than its word: every combination of
// words of three candidates.
func TestTheTitleIsNeverStrongerThanTheVerdicts(t *testing.T) {
	in := programmes(t)["ratio"]
	base := in.Tests[0].Measures[0].Both.Result
	words := []compare.Word{compare.NotComputed, compare.Better, compare.BetterLessThanMargin, compare.Same, compare.NotShown, compare.WorseLessThanMargin, compare.Worse}
	says := map[compare.Word]*regexp.Regexp{
		compare.Better:               regexp.MustCompile(`^[^;]*(is|are) better( than K in stopping distance)?$`),
		compare.Worse:                regexp.MustCompile(`^[^;]*(is|are) worse( than K in stopping distance)?$`),
		compare.BetterLessThanMargin: regexp.MustCompile(`better( than K in stopping distance)?, but by less than matters$`),
		compare.WorseLessThanMargin:  regexp.MustCompile(`worse( than K in stopping distance)?, but by less than matters$`),
		compare.Same:                 regexp.MustCompile(`the same( as K in stopping distance)? within the margin$`),
		compare.NotShown:             regexp.MustCompile(`not shown to differ|^None of .* is shown to differ`),
		compare.NotComputed:          regexp.MustCompile(`(has|have) no verdict`),
	}
	for i := range len(words) * len(words) * len(words) {
		r := *base
		given := map[string]compare.Word{}
		r.Rows = nil
		for k, letter := range []string{"P", "R", "T"} {
			row := base.Rows[0]
			row.Code = letter
			row.Verdict.Word = words[[]int{i % 7, i / 7 % 7, i / 49}[k]]
			given[letter] = row.Verdict.Word
			r.Rows = append(r.Rows, row)
		}
		in.Tests = []report.Test{{Log: in.Tests[0].Log, Measures: []report.Measured{{Both: &compare.Both{Result: &r}}}}}
		title := build(t, in).Title.String()
		for letter, w := range given {
			found := 0
			for _, clause := range strings.Split(title, "; ") {
				if !regexp.MustCompile(`\b` + letter + `\b`).MatchString(clause) {
					continue
				}
				found++
				if !says[w].MatchString(clause) {
					t.Errorf("%s is %s, but the title says %q", letter, w, title)
				}
				if (w == compare.NotShown || w == compare.NotComputed) && strings.Contains(clause, "(") {
					t.Errorf("%s is %s, but the title gives it a figure: %q", letter, w, title)
				}
			}
			if found != 1 {
				t.Errorf("%s is named %d times in %q", letter, found, title)
			}
		}
	}
}

// Each exclusion stands with its reason and its person, and the results with and
// without it stand side by side.
func TestExclusionsStandWithTheirReasonsAndBothResults(t *testing.T) {
	in := programmes(t)["ratio"]
	d := build(t, in)
	i := slices.IndexFunc(d.Sections, func(s report.Section) bool { return s.ID == "exclusions" })
	text := fmt.Sprint(cells(d.Sections[i]))
	b := in.Tests[0].Measures[0].Both
	for _, want := range []string{"8/3", "a pool of water at the cone", "lead", "39.50",
		unit.Number(*b.Result.Rows[0].Index, 2, unit.Style{}), unit.Number(*b.All.Rows[0].Index, 2, unit.Style{}), b.All.Rows[0].Verdict.Word.String()} {
		if !strings.Contains(text, want) {
			t.Errorf("the exclusions do not say %q: %s", want, text)
		}
	}
	j := slices.IndexFunc(d.Sections, func(s report.Section) bool { return s.ID == "t1-runs" })
	if runs := fmt.Sprint(cells(d.Sections[j])); !strings.Contains(runs, "left out: a pool of water at the cone") {
		t.Errorf("the run is not marked in the run table")
	}
}

func cells(s report.Section) []string {
	var out []string
	for _, b := range s.Blocks {
		if b.Table == nil {
			continue
		}
		for _, r := range b.Table.Rows {
			for _, c := range r.Cells {
				out = append(out, c.Text.String())
			}
		}
	}
	return out
}

// Every run of the log stands in the run table with its value.
func TestEveryRunIsListed(t *testing.T) {
	for name, in := range programmes(t) {
		d := build(t, in)
		have := ids(d)
		for i := range in.Tests[0].Log.Runs {
			if have["t1-run-"+strconv.Itoa(i+1)] != 1 {
				t.Errorf("%s: run %d is not in the run table", name, i+1)
			}
		}
	}
}

// The same input gives the same document, and another input another hash.
func TestTheSameInputGivesTheSameDocument(t *testing.T) {
	in := programmes(t)["ratio"]
	first := build(t, in)
	want, err := json.Marshal(first)
	if err != nil {
		t.Fatal(err)
	}
	for range 5 {
		d := build(t, programmes(t)["ratio"])
		got, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) || content(t, d) != content(t, first) {
			t.Fatal("another document")
		}
	}
	if sum, err := programme.Hash(first); err != nil || sum != content(t, first) {
		t.Errorf("the hash is %s, that of the document's canonical JSON %s (%v)", content(t, first), sum, err)
	}
	in.Client = "another"
	if content(t, build(t, in)) == content(t, first) {
		t.Error("another client, but the same hash")
	}
}

// Words that a report never says (house rule: the tool calls no tyre safe and
// tells nobody to go faster).
func TestSomeWordsAreNeverSaid(t *testing.T) {
	never := regexp.MustCompile(`(?i)\b(safer?|safest|faster|fastest|unsafe)\b`)
	for name, in := range programmes(t) {
		d := build(t, in)
		walk(d, func(text report.Text) {
			if w := never.FindString(text.String()); w != "" {
				t.Errorf("%s: says %q: %s", name, w, text)
			}
		})
	}
}

// Every figure can be drawn at both widths.
func TestEveryFigureCanBeDrawn(t *testing.T) {
	for name, in := range programmes(t) {
		d := build(t, in)
		n := 0
		for _, s := range d.Sections {
			for _, b := range s.Blocks {
				if b.Figure == nil {
					continue
				}
				n++
				for _, w := range []figure.Width{figure.Full, figure.Half} {
					dr, err := b.Figure.Figure.Draw(w)
					if err != nil {
						t.Errorf("%s: %v", name, err)
						continue
					}
					if dr.Title == "" {
						t.Errorf("%s: %s has no title", name, b.Figure.ID)
					}
				}
			}
		}
		if n < 2 {
			t.Errorf("%s: %d figures", name, n)
		}
	}
}

// content gives the SHA-256 of a document's content.
func content(t testing.TB, d *report.Document) string {
	t.Helper()
	sum, err := d.SHA256()
	if err != nil {
		t.Fatal(err)
	}
	return sum
}
