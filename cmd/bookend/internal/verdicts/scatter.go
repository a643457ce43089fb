package verdicts

import (
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"example.org/bookend/app/groundbook"
	"example.org/bookend/app/logger"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
)

// scatterFlags say what estimates are judged by.
type scatterFlags struct {
	model, number, across, setSource, History, record string
	setSD                                             float64
}

func (f *scatterFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringVar(&f.model, "model", "", "what scatters: stint_means or mixed; by itself as the runs are, equal or not")
	fs.StringVar(&f.number, "run-number", "", "what the run number does within the stint: linear (default), each or none")
	fs.StringVar(&f.across, "tyre-by-block", "", "how blocks are joined: error (default), common, or each by itself")
	fs.StringVar(&f.record, "record", "used", "the ground's record of the control: used, where there is one that fits, or none")
	fs.Float64Var(&f.setSD, "set-sd", 0, "what sets of one tyre differ by (standard deviation of the logarithm, or in the unit)")
	fs.StringVar(&f.setSource, "set-sd-source", "", "where --set-sd is from")
}

func (f *scatterFlags) apply(s *compare.Settings) {
	s.Model, s.RunNumber, s.TyreByBlock = compare.Model(f.model), compare.RunNumber(f.number), compare.Across(f.across)
	s.Record = compare.Borrowing(f.record)
	if f.setSD != 0 || f.setSource != "" {
		s.SetSD, s.SetSDSource = &f.setSD, f.setSource
	}
}

// AddHistory gives a command that compares a table the flag for the control's
// record.
func (f *scatterFlags) AddHistory(c *cobra.Command) {
	c.Flags().StringVar(&f.History, "history", "", "control stints of earlier programmes: programme, position, value [, block]")
}

func (f *scatterFlags) read() (*groundbook.History, error) {
	return HistoryIn(f.History)
}

// HistoryIn reads control stints of earlier programmes from the file that --history
// names; none where it names none.
func HistoryIn(path string) (*groundbook.History, error) {
	if path == "" {
		return nil, nil
	}
	data, err := logger.ReadTable(path)
	if err != nil {
		return nil, fault.At(err, "--history")
	}
	return &groundbook.History{Name: filepath.Base(path), Data: data}, nil
}

// printRecord says what the ground's record gave, and what is said without it.
func printRecord(out io.Writer, r *compare.Result) {
	b := r.Record
	if b == nil {
		return
	}
	if !b.Used {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("The record %s is not used: %s.", b.Name, b.Why), 78, ""))
		return
	}
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Scatter from the record %s: %d programmes with %s df, %s; this programme has %s df of its own. Rows %.12s. Without the record:",
		b.Name, b.Programmes, terminal.Degrees(b.RecordDF), b.Method, terminal.Degrees(b.OwnDF), b.Hash), 78, ""))
	k := AgainstOf(r)
	for _, row := range r.Rows {
		x := row.Alone
		fmt.Fprintf(out, "  %s  %s, %s\n", row.Code, terminal.Short(x.Verdict.Word), k.Interval(x.IndexLow, x.IndexHigh, x.DiffLow, x.DiffHigh, "no interval"))
	}
}
