// Package report makes the report: the document that the client reads in ten
// minutes and an engineer audits line by line, as a value that every face (page,
// PDF, spreadsheet, data package) draws alike.
//
// The answer comes first: a sentence built from the verdicts and never stronger
// than they are, the question, the table of verdicts, how sure they are and what
// they hold for. Then each test and measure: bracket strip, interval ladder,
// figures by candidate and by stint, what the control did, conditions, validity.
// Then numbered notes, method with every setting spelt out, limits of validity,
// cautions, exclusions with their reasons and the results with and without them,
// tyre sets, every run, and the hashes of what it was made from.
//
// Numbers come from package compare and are printed by package unit with the
// measure's own digits, in the unit that people see; a document holds them as
// text. The one thing worked out here is the budget of an interval's variance
// (see budget.go). Indices are index points, control 100, higher better;
// differences are in the measure's unit, positive better.
//
// What answers comes first: page 1, a page or two a test for its first measure, what was
// left out and what cannot be said. All else, to the last run, is the appendix, set for
// whoever audits.
//
// A document carries no time of its own making. The same input gives the same
// document and the same content hash.
//
// What is said of blindness, vehicle and question is what the caller says; what
// is not told is said to be not told. Contents of a report: common practice, no
// source. The word safe is not in it, and no driver is told to hurry.
package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"runtime"
	"sync"

	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/figure"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Schema is the document's name and version in its JSON.
const Schema = "bookend.report/1"

// Input is all that a report is made from.
type Input struct {
	Title    string // what is compared; empty: it is said by the number of candidates
	Client   string
	Ground   string
	Vehicle  string
	Question string
	Blind    string // who knew what, in words; empty: it is not told
	Tests    []Test
	Ratings  []Sheets        // rating sheets; may be empty
	Sets     []programme.Set // records of the tyre sets; may be empty
	Inputs   []Hash          // what it was made from
	Entered  string          // time of the last entry, as it is to be printed; empty for tables
	Style    unit.Style      // decimal comma; ASCII is not for documents
}

// Test is one test's results: its log and its measures, the first measure first.
type Test struct {
	Title    string // empty: tests are not told apart
	Surface  string
	Log      programme.Log
	Measures []Measured
	Plan     *Plan           // the plan frozen for it; nil where there is none
	Laid     []figure.Figure // its runs laid over each other, as its procedure does it; heads are completed here
}

// Measured is one measure compared, or why it could not be.
type Measured struct {
	Both *compare.Both
	// Planned is the verdict as planned, where Both is another one; nil where it
	// is the same, or where PlanFailed says why there is none.
	Planned    *compare.Both
	PlanFailed string
	Watch      *Watch // the ground's record on its charts; nil where none was at hand
	// Failed says why there is no comparison; Both is nil then.
	Failed string
	Title  string // of the measure that failed
}

// Hash is an input and the SHA-256 of its bytes, in hexadecimal.
type Hash struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
}

// Document is the report as a value.
type Document struct {
	Schema   string       `json:"schema"`
	Comma    bool         `json:"comma,omitempty"`
	Title    Text         `json:"title"` // the answer
	About    Text         `json:"about"` // what was compared
	Client   string       `json:"client,omitempty"`
	Facts    []Fact       `json:"facts,omitempty"`
	Codes    figure.Codes `json:"codes"` // of every figure and letter
	Question []Text       `json:"question"`
	Answer   []Text       `json:"answer"`
	Matrix   []Table      `json:"matrix"` // verdicts, up to six candidates a table
	Asides   []Aside      `json:"asides"` // how to read it, how sure, what it holds for
	Sections []Section    `json:"sections"`
	Notes    []Note       `json:"notes,omitempty"`
	Inputs   []Hash       `json:"inputs"`

	sum func() (string, error) // hash, found once, when somebody asks
}

// SHA256 gives the SHA-256 of the document's canonical JSON, in hexadecimal; the same input
// gives the same. A number that is none is an Internal fault.
func (d *Document) SHA256() (string, error) {
	if d.sum == nil {
		return d.hash()
	}
	return d.sum()
}

// Fact is a line of the head: "Ground", "Skerry Moor".
type Fact struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// Aside is a short part of the first page.
type Aside struct {
	Title string `json:"title"`
	Texts []Text `json:"texts"`
}

// Section is one part after the first page.
type Section struct {
	ID     string  `json:"id"`
	Title  Text    `json:"title"`
	Short  string  `json:"short"`            // in the table of contents
	Begins bool    `json:"begins,omitempty"` // on a page of its own
	About  string  `json:"about,omitempty"`  // "ratings", of what was rated; else empty
	Behind bool    `json:"behind,omitempty"` // in the appendix: for whoever audits
	Of     string  `json:"of,omitempty"`     // the section that this one goes on with; else empty
	Blocks []Block `json:"blocks"`
}

// Block is one piece of a section; exactly one of Text, List, Table and Figure
// is set.
type Block struct {
	Text   Text   `json:"text,omitempty"`
	List   []Text `json:"list,omitempty"`
	Table  *Table `json:"table,omitempty"`
	Figure *Drawn `json:"figure,omitempty"`
}

// Drawn is a figure in its place.
type Drawn struct {
	ID     string
	Figure figure.Figure
}

// MarshalJSON writes the figure with its kind.
func (d Drawn) MarshalJSON() ([]byte, error) { return figure.Marshal(d.Figure) }

// Table is a table with a caption.
type Table struct {
	ID      string   `json:"id"`
	Caption Text     `json:"caption"`
	Columns []Column `json:"columns"`
	Rows    []Row    `json:"rows"`
}

// Column is the head of a column.
type Column struct {
	Head    Text `json:"head"`
	Numbers bool `json:"numbers,omitempty"` // its cells are numbers, set to the right
}

// Row is one row. Its first cell, or the one marked so, is its head.
type Row struct {
	ID    string `json:"id,omitempty"` // what links lead to
	Group bool   `json:"group,omitempty"`
	Left  bool   `json:"left,omitempty"` // a run that is left out
	Cells []Cell `json:"cells"`
}

// Cell is one cell. Cells that are no numbers have no value.
type Cell struct {
	Text    Text     `json:"text"`
	ID      string   `json:"id,omitempty"` // what links lead to
	Head    bool     `json:"head,omitempty"`
	Rows    int      `json:"rows,omitempty"`    // how many rows it stands for; 0: one
	Numbers bool     `json:"numbers,omitempty"` // its column is one of numbers
	Value   *float64 `json:"value,omitempty"`   // the number unrounded, in the unit beside it
	Unit    string   `json:"unit,omitempty"`
	Verdict *Verdict `json:"verdict,omitempty"`
}

// Verdict is what a cell of the matrix says.
type Verdict struct {
	Word     figure.Verdict       `json:"word"`
	More     string               `json:"more,omitempty"` // "by less than matters"
	Estimate Text                 `json:"estimate"`
	Interval string               `json:"interval,omitempty"`
	Strip    *figure.VerdictStrip `json:"strip,omitempty"`
}

// Note is a numbered note; Number counts from 1.
type Note struct {
	Number int    `json:"number"`
	ID     string `json:"id"`
	Code   string `json:"code"` // of the caveat
	Where  string `json:"where,omitempty"`
	Text   string `json:"text"`
}

// Build makes the document.
func Build(in Input) (*Document, error) {
	if len(in.Tests) == 0 {
		return nil, fault.New(fault.Invalid, "a report needs at least one test")
	}
	in.Style.ASCII = false
	b := &builder{in: in, doc: &Document{Schema: Schema, Comma: in.Style.Comma, Client: in.Client, Inputs: in.Inputs}}
	if err := b.gather(); err != nil {
		return nil, err
	}
	b.held()
	b.head()
	b.front()
	if b.listed() <= listedInFront {
		b.every()
	}
	for i := range b.tests {
		b.test(&b.tests[i])
	}
	b.overTests()
	b.ratings()
	if err := b.explained(); err != nil {
		return nil, err
	}
	b.exclusions()
	b.limits()
	b.cautions()
	b.behind = true
	if b.listed() > listedInFront {
		b.every()
	}
	b.plans()
	b.exclusionsEffect()
	b.method()
	for i := range b.tests {
		b.audit(&b.tests[i])
	}
	b.sets()
	b.runs()
	b.notes()
	b.hashes()
	b.columns()
	b.doc.sum = sync.OnceValues(b.doc.hash)
	return b.doc, nil
}

// hash gives the SHA-256 of the document's canonical JSON. The sections, which are most
// of it, are written at once, on all processors, and put in where they stand.
func (d *Document) hash() (string, error) {
	list, errs := make([][]byte, len(d.Sections)), make([]error, len(d.Sections))
	var all sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range d.Sections {
		free <- struct{}{}
		all.Go(func() {
			defer func() { <-free }()
			list[i], errs[i] = programme.Canonical(&d.Sections[i])
		})
	}
	all.Wait()
	if err := errors.Join(errs...); err != nil {
		return "", err
	}
	rest := *d
	rest.Sections = nil
	b, err := programme.Canonical(&rest)
	if err != nil {
		return "", err
	}
	const sections = `"sections":`
	before, after, ok := bytes.Cut(b, []byte(sections+"null"))
	if !ok || d.Sections == nil {
		return programme.Hash(d)
	}
	h := sha256.New()
	h.Write(before)
	h.Write([]byte(sections + "["))
	h.Write(bytes.Join(list, []byte(",")))
	h.Write([]byte("]"))
	h.Write(after)
	return hex.EncodeToString(h.Sum(nil)), nil
}

// columns marks the cells of columns of numbers. A cell that stands for several
// rows shifts those of the rows below it.
func (b *builder) columns() {
	for i := range b.doc.Sections {
		for _, k := range b.doc.Sections[i].Blocks {
			if k.Table != nil {
				k.Table.mark()
			}
		}
	}
}

func (t *Table) mark() {
	taken := make([]int, len(t.Columns)) // rows for which a cell above still stands
	for i := range t.Rows {
		at := 0
		for j := range t.Rows[i].Cells {
			for at < len(taken) && taken[at] > 0 {
				at++
			}
			c := &t.Rows[i].Cells[j]
			if at < len(t.Columns) {
				c.Numbers = t.Columns[at].Numbers
				if c.Rows > 1 {
					taken[at] = c.Rows
				}
			}
			at++
		}
		for k := range taken {
			taken[k] = max(0, taken[k]-1)
		}
	}
}
