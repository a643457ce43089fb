// Package reports holds the verbs that gather tests for a reader: the report, and
// which measures explain which ratings.
package reports

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/testplan"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/ratings"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/cmd/bookend/internal/verdicts"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/report"
	"example.org/bookend/report/html"
)

// reportFlags are the words of bookend report as typed.
type reportFlags struct {
	verdicts.Flags
	head                            app.ReportHead
	measures                        []string
	names, betters, scales, margins []string
	tests                           []string
	sheets                          ratings.SheetFlags
	ratings                         string
	out                             string
}

// Report is the verb report: the document for the client, of a table or of the programme.
func Report() *cobra.Command {
	var f reportFlags
	c := &cobra.Command{
		Use:   "report [TABLE.csv] --out report.html",
		Short: "write the report of a table, or of the programme, as one self-contained page",
		Long: `Write the report of a table as one self-contained page: the answer first, then
each measure with its figures, conditions, exclusions with and without, method,
every run, and the hashes of what it was made from. The same input gives the
same bytes. A table with several measures is reported as a whole; the measure
named first answers the question.

Without a table the tests of the programme in this folder are reported, or those
named by --test.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if f.AsJSON && f.out == "" {
				return fault.New(fault.Invalid, "the page and the object about it cannot both go to standard output").WithHint("name a file: --out report.html")
			}
			if len(args) == 0 {
				return f.runTests(c)
			}
			if len(f.tests) > 0 {
				return fault.New(fault.Invalid, "a table and a test are both named").WithHint("name one of them")
			}
			data, err := logger.ReadTable(args[0])
			if err != nil {
				return err
			}
			return f.run(c, filepath.Base(args[0]), data)
		},
	}
	f.Add(c)
	f.Scatter.AddHistory(c)
	fs := c.Flags()
	fs.StringSliceVar(&f.measures, "measure", nil, "which measures, the first measure first; default: all")
	fs.StringArrayVar(&f.names, "name", nil, `a measure's name as it is to be read: value="stopping distance"`)
	fs.StringSliceVar(&f.betters, "better-of", nil, "a measure with another direction: mfdd=higher")
	fs.StringSliceVar(&f.scales, "scale-of", nil, "a measure with another scale: rating=difference")
	fs.StringSliceVar(&f.margins, "margin-of", nil, "a measure with another margin: rating=0.5")
	fs.StringVar(&f.head.Title, "title", "", "what was compared")
	fs.StringVar(&f.head.Client, "client", "", "for whom")
	fs.StringVar(&f.head.Ground, "ground", "", "proving ground and surface")
	fs.StringVar(&f.head.Vehicle, "vehicle", "", "vehicle, described without its make")
	fs.StringVar(&f.head.Question, "question", "", "the client's question")
	fs.StringVar(&f.head.Blind, "blind", "", "who knew which tyre was fitted")
	fs.BoolVar(&f.head.Comma, "comma", false, "print numbers with a decimal comma")
	fs.StringVar(&f.ratings, "ratings", "", "rating sheets beside a table: stint, code, rater, attribute, value")
	f.sheets.Add(c, "ratings-")
	fs.StringSliceVar(&f.tests, "test", nil, "tests of the programme, instead of a table; default: all")
	f.Codes.Add(c)
	folders.Flag(c, &f.Folder)
	fs.StringVar(&f.out, "out", "", "file to write; default: standard output")
	fs.BoolVar(&f.AsJSON, "json", false, "print one JSON object about what was written; needs --out")
	return c
}

// request makes the request of what was typed.
func (f *reportFlags) request(c *cobra.Command, name string, data []byte) (app.ReportRequest, error) {
	q := app.ReportRequest{Head: f.head, Measures: f.measures}
	var err error
	if q.Compare, err = f.Flags.Request(c, name, data); err != nil {
		return q, err
	}
	each := map[string]app.ReportMeasure{}
	read := func(flag string, list []string, take func(m *app.ReportMeasure, id, value string) error) error {
		for _, pair := range list {
			id, value, ok := strings.Cut(pair, "=")
			if !ok || id == "" || value == "" {
				return fault.New(fault.Invalid, "--%s: %q is not MEASURE=WORD", flag, pair).WithHint("see: bookend report --help")
			}
			m := each[id]
			if err := take(&m, id, value); err != nil {
				return fault.At(err, "--%s", flag)
			}
			each[id] = m
		}
		return nil
	}
	if err := read("name", f.names, func(m *app.ReportMeasure, _, v string) error { m.Title = v; return nil }); err != nil {
		return q, err
	}
	if err := read("better-of", f.betters, func(m *app.ReportMeasure, _, v string) error {
		m.Better = programme.Better(v)
		if v != "higher" && v != "lower" {
			return fault.New(fault.Invalid, "%q says not which values are better", v).WithHint("higher, or lower")
		}
		return nil
	}); err != nil {
		return q, err
	}
	if err := read("scale-of", f.scales, func(m *app.ReportMeasure, _, v string) error {
		m.Scale = programme.Scale(v)
		switch m.Scale {
		case programme.Ratio, programme.Difference, programme.Count, programme.Threshold:
		default:
			return fault.New(fault.Invalid, "%q is no scale", v).WithHint("ratio, difference, count or threshold")
		}
		return nil
	}); err != nil {
		return q, err
	}
	if err := read("margin-of", f.margins, func(m *app.ReportMeasure, _, v string) (err error) {
		scale := string(m.Scale)
		if scale == "" {
			scale = f.Scale
		}
		m.Margin, err = testplan.ParseMargin(v, scale)
		return err
	}); err != nil {
		return q, err
	}
	if f.Margin != "" { // a bare number is in each measure's own points or unit
		for id, m := range each {
			if m.Margin == nil && m.Scale != "" && string(m.Scale) != f.Scale {
				if m.Margin, err = testplan.ParseMargin(f.Margin, string(m.Scale)); err != nil {
					return q, err
				}
				each[id] = m
			}
		}
	}
	q.Each = each
	if f.ratings != "" {
		one, err := f.sheets.Request(f.ratings, f.Control)
		if err != nil {
			return q, fault.At(err, "--ratings")
		}
		q.Ratings = &one
	}
	return q, nil
}

// runTests reports tests of the programme.
func (f *reportFlags) runTests(c *cobra.Command) error {
	if err := f.RefuseOfTables(c); err != nil {
		return err
	}
	if f.ratings != "" {
		return fault.New(fault.Invalid, "--ratings belongs to tables").WithHint("in a programme the sheets of the run log are reported")
	}
	sheets, err := f.sheets.Settings()
	if err != nil {
		return err
	}
	var d *report.Document
	if err := f.In(c, func(a *app.Folder) error {
		q, err := f.request(c, "", nil)
		if err != nil {
			return err
		}
		d, err = a.ReportTests(c.Context(), app.TestsRequest{
			Head: f.head, Tests: f.tests, Measures: f.measures, Control: f.Control, Settings: q.Compare.Settings, Each: q.Each,
			Override: q.Compare.Override, Reason: f.Reason, Ratings: sheets,
		})
		return err
	}); err != nil {
		return err
	}
	return f.write(d, c.OutOrStdout())
}

func (f *reportFlags) run(c *cobra.Command, name string, data []byte) error {
	q, err := f.request(c, name, data)
	if err != nil {
		return err
	}
	d, err := app.ReportTable(q)
	if err != nil {
		return err
	}
	return f.write(d, c.OutOrStdout())
}

// write writes the page, to its file or to out.
func (f *reportFlags) write(d *report.Document, out io.Writer) error {
	var b bytes.Buffer
	if err := html.Write(&b, d); err != nil {
		return err
	}
	if f.out == "" {
		_, err := out.Write(b.Bytes())
		return err
	}
	if err := terminal.Put(f.out, b.Bytes()); err != nil {
		return err
	}
	sum := sha256.Sum256(b.Bytes())
	page := hex.EncodeToString(sum[:])
	if f.AsJSON {
		content, err := d.SHA256()
		if err != nil {
			return err
		}
		return terminal.PrintJSON(out, reportDocument{Schema: report.Schema, Inputs: d.Inputs, Title: d.Title.String(), Content: content,
			File: f.out, SHA256: page})
	}
	fmt.Fprintf(out, "%s.\n\n%s is written, sha256 %s.\n", terminal.Wrap(terminal.Typewritten(d.Title.String()), 78, ""), f.out, page)
	return nil
}

// reportDocument is the JSON about a report that was written.
type reportDocument struct {
	Schema  string        `json:"schema"`
	Inputs  []report.Hash `json:"inputs"`
	Title   string        `json:"title"`
	Content string        `json:"content"`
	File    string        `json:"file"`
	SHA256  string        `json:"sha256"` // of the file
}
