// Package recordings holds the verbs about logger files: check and reduce them, bring
// them into a test, say what has arrived, whose a recording is, and move a cut; and
// what the procedures that reduce them can be set to.
package recordings

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // zones of grounds on machines that have none

	"github.com/spf13/cobra"

	"example.org/bookend/app/logger"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	procedures "example.org/bookend/procedure/all"
	"example.org/bookend/programme"
	"example.org/bookend/soundness"
	"example.org/bookend/unit"
)

// fileFlags say about a recording what it does not say itself.
type fileFlags struct {
	zone, date, mapping, reader string
}

func (f *fileFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringVar(&f.zone, "zone", "", "IANA zone of clock times that state none: Europe/London")
	fs.StringVar(&f.date, "date", "", "day of clock times that state none: 2026-05-13")
	fs.StringVar(&f.mapping, "mapping", "", "table with the columns column, role, unit, factor, offset")
	fs.StringVar(&f.reader, "reader", "", "which reader to use, where several fit")
}

func (f fileFlags) options() (ingest.Options, error) {
	opt := ingest.Options{Reader: f.reader}
	if f.zone != "" {
		zone, err := terminal.Zone(f.zone)
		if err != nil {
			return opt, err
		}
		opt.Zone = zone
	}
	if f.date != "" {
		date, err := time.Parse(time.DateOnly, f.date)
		if err != nil {
			return opt, fault.New(fault.Invalid, "--date: %q is no day", f.date).WithHint("for example --date 2026-05-13")
		}
		opt.Date = date
	}
	if f.mapping != "" {
		m, err := ingest.ReadMapping(f.mapping)
		if err != nil {
			return opt, err
		}
		opt.Mapping = m
	}
	return opt, nil
}

// Check is the verb check: what files of one drive hold, judged by physics; it changes nothing.
func Check() *cobra.Command {
	var f fileFlags
	var asJSON, strict bool
	c := &cobra.Command{
		Use:   "check FILE...",
		Short: "say what a recording holds and what is wrong with it",
		Long:  checkHelp,
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			opt, err := f.options()
			if err != nil {
				return err
			}
			d, err := folders.Shelf().CheckFiles(c.Context(), args, opt)
			if err != nil {
				return err
			}
			if asJSON {
				err = terminal.PrintJSON(c.OutOrStdout(), d)
			} else {
				printCheck(c.OutOrStdout(), d)
			}
			if err == nil && strict && len(d.Caveats) > 0 {
				return terminal.Strict{Code: 6}
			}
			return err
		},
	}
	f.add(c)
	terminal.JSONFlag(c, &asJSON)
	c.Flags().BoolVar(&strict, "strict", false, "exit with 6 where there is a caveat")
	return c
}

const checkHelp = `Say what a recording holds, and what is wrong with it: signs, units, factors,
offsets and delays by physics, beside what the other channels let expect; gaps,
clocks that were set, channels that stand still or run into a limit.

Files of one drive, one a sensor, are checked together: name them all. Nothing is
changed. What is proposed to mend a finding is accepted by its words, with
bookend reduce FILE --mend CHANNEL:CODE, or on bookend import.`

func printCheck(out io.Writer, d logger.CheckDocument) {
	for _, in := range d.Inputs {
		fmt.Fprintf(out, "%s, sha256 %s…\n", in.Name, in.SHA256[:16])
	}
	fmt.Fprintf(out, "Read by %s. Time zero: %s.\n", d.Results.Reader, d.Results.Begin)
	var wrong []soundness.Finding
	for from := 0; from < len(d.Results.Channels); {
		to := from
		for to < len(d.Results.Channels) && d.Results.Channels[to].File == d.Results.Channels[from].File {
			to++
		}
		channels := d.Results.Channels[from:to]
		if len(d.Inputs) > 1 {
			fmt.Fprintf(out, "\n%s", channels[0].File)
		}
		fmt.Fprintln(out)
		terminal.PrintTable(out, "channel\trole\tunit\tHz\tvalid\tgaps\tfrom\tto", func(w io.Writer) {
			for _, c := range channels {
				valid := fmt.Sprint(c.Valid)
				if c.Valid != c.Samples {
					valid = fmt.Sprintf("%d/%d", c.Valid, c.Samples)
				}
				fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\t%s\t%s\n", terminal.Cut(c.Name, 15), terminal.Cut(terminal.Or(c.Role, "not known"), 16), terminal.Or(c.Unit, "none"),
					terminal.Maybe(c.Rate, 1), valid, c.Gaps, significant(c.Low), significant(c.High))
				wrong = append(wrong, c.Findings...)
			}
		})
		from = to
	}
	var sure []string
	for _, c := range d.Results.Channels {
		if c.ConfirmedBy != "" {
			sure = append(sure, c.Name)
		}
	}
	if sure != nil {
		fmt.Fprintf(out, "\n%s\n", terminal.Wrap("Roles that physics confirms: "+strings.Join(sure, ", ")+".", 80, "  "))
	}
	if len(wrong) > 0 {
		fmt.Fprintln(out, "\nWhat is wrong, and the words that accept the mend proposed for it:")
	}
	for _, f := range wrong {
		fmt.Fprintln(out)
		fmt.Fprintln(out, terminal.Wrap(f.Place.String()+": "+f.Text, 80, "  "))
		if len(f.Mends) > 0 {
			fmt.Fprintf(out, "  --mend %s:%s\n", f.Place.Channel, f.Code)
		}
	}
	rest := d.Caveats[len(wrong):]
	if len(wrong) == 0 || len(rest) > 0 {
		terminal.PrintNotes(out, rest)
	}
}

// significant prints a value to three significant digits, for a glance.
func significant(v *float64) string {
	if v == nil {
		return "none"
	}
	return strconv.FormatFloat(*v, 'g', 3, 64)
}

// ReduceFlags are the words of bookend reduce as typed.
type ReduceFlags struct {
	file      fileFlags
	Procedure string
	Gates     []string
	Own       map[string]*string // by the word: what parameters with a word of their own are set to
	Set       []string
	mends     []string
	json      bool
}

// Reduce is the verb reduce: recordings cut into runs and turned into the numbers of a procedure.
func Reduce() *cobra.Command {
	var f ReduceFlags
	c := &cobra.Command{
		Use:   "reduce FILE...",
		Short: "cut a recording into runs and turn each into its numbers",
		Long: `Cut a recording into runs and turn each into its numbers.

Files of one drive, one an instrument, are named together, the one with positions
first: the others are laid on its time, by their clocks and by what they show of the
speed. Laps are laid on the first one that counts: corners, offset and station are
those of that line.`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			opt, err := f.file.options()
			if err != nil {
				return err
			}
			given, err := f.Given(c)
			if err != nil {
				return err
			}
			r, err := folders.Shelf().ReduceFiles(c.Context(), logger.ReduceRequest{
				Paths: args, Options: opt, Procedure: f.Procedure, Gates: f.Gates, Given: given, Mends: f.mends,
			})
			if err != nil {
				return err
			}
			return terminal.Answer(c.OutOrStdout(), f.json, r.Document, func(out io.Writer) { printReduced(out, r) })
		},
	}
	f.file.add(c)
	f.AddProcedure(c)
	f.addMends(c)
	terminal.JSONFlag(c, &f.json)
	return c
}

// addMends declares the flag that mends channels.
func (f *ReduceFlags) addMends(c *cobra.Command) {
	c.Flags().StringArrayVar(&f.mends, "mend", nil, "mend a channel: yaw:offset as proposed by check, or yaw:offset=0.4°/s")
}

// AddProcedure declares the flags that choose a procedure and set it up.
func (f *ReduceFlags) AddProcedure(c *cobra.Command) {
	var ids []string
	for _, p := range procedures.Procedures() {
		ids = append(ids, p.Spec().ID)
	}
	fs := c.Flags()
	fs.StringVar(&f.Procedure, "procedure", "", strings.Join(ids, " or "))
	fs.StringArrayVar(&f.Gates, "gate", nil, "LAT,LON,LAT,LON in degrees, the right post as driven first; again for sectors")
	f.Own = map[string]*string{}
	for _, p := range procedures.Procedures() {
		for _, q := range p.Spec().Parameters {
			if q.Flag != "" && f.Own[q.Flag] == nil {
				text := q.Title
				if q.Shown != "" {
					text += ", " + q.Shown
				}
				f.Own[q.Flag] = fs.String(q.Flag, "", text+" ("+p.Spec().ID+")")
			}
		}
	}
	fs.StringArrayVar(&f.Set, "set", nil, "another parameter of the procedure: entry_speed=85km/h, window=to_rest")
}

// Given reads the parameters that were typed, in SI units.
func (f ReduceFlags) Given(c *cobra.Command) (programme.Parameters, error) {
	p, err := folders.Shelf().Procedure(f.Procedure)
	if f.Procedure == "" {
		return nil, fault.New(fault.Invalid, "no procedure is named").WithHint("--procedure lap, or --procedure braking")
	}
	if err != nil {
		return nil, err
	}
	var out programme.Parameters
	declared := map[string]bool{}
	for _, q := range p.Spec().Parameters {
		if q.Flag == "" || !c.Flags().Changed(q.Flag) {
			continue
		}
		declared[q.Flag] = true
		text := *f.Own[q.Flag]
		if _, err := strconv.ParseFloat(text, 64); err == nil && q.Shown != "" {
			text += q.Shown
		}
		s, err := p.Spec().Setting(q.ID, text)
		if err != nil {
			return nil, fault.At(err, "--%s", q.Flag)
		}
		out = append(out, s)
	}
	for _, word := range slices.Sorted(maps.Keys(f.Own)) {
		if c.Flags().Changed(word) && !declared[word] {
			return nil, fault.New(fault.Invalid, "procedure %s has no parameter --%s", p.Spec().ID, word).
				WithHint("see what it can be set to: bookend procedures %s", p.Spec().ID)
		}
	}
	for _, pair := range f.Set {
		id, text, ok := strings.Cut(pair, "=")
		if !ok {
			return nil, fault.New(fault.Invalid, "--set: %q is not NAME=VALUE", pair).WithHint("for example --set entry_speed=85km/h")
		}
		s, err := p.Spec().Setting(id, text)
		if err != nil {
			return nil, fault.At(err, "--set %s", id)
		}
		out = append(out, s)
	}
	_, err = p.Spec().Settings(out) // what is wrong with them is said before anything is read
	return out, err
}

func printReduced(out io.Writer, r *logger.Reduced) {
	d := r.Document
	runs, counted := 0, 0
	for _, p := range d.Results.Pieces {
		if p.Run != "" {
			runs++
			if p.Counts {
				counted++
			}
		}
	}
	fmt.Fprintf(out, "%s, %s %d: %d runs, %d of them count.\n\n", d.Inputs[0].Name, r.Spec.ID, r.Spec.Version, runs, counted)
	terminal.PrintTable(out, "run\tfrom, s\tto, s\tcounts\twhy not", func(w io.Writer) {
		for _, p := range d.Results.Pieces {
			counts, why := "no", strings.ReplaceAll(p.Kind, "_", "-")
			if p.Counts {
				counts, why = "yes", ""
			} else if p.Run != "" {
				why = p.Flags[0].Text
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", terminal.Or(p.Run, "none"), unit.Number(p.FromS, 2, unit.Plain), unit.Number(p.ToS, 2, unit.Plain), counts, terminal.Cut(why, 40))
		}
	})
	for _, m := range r.Spec.Measures {
		printMeasure(out, m, d.Results.Observations)
	}
	terminal.PrintNotes(out, d.Caveats)
}

// printMeasure prints the values of one measure by run, in the unit that
// people see.
func printMeasure(out io.Writer, m programme.Measure, all []logger.ReduceObservation) {
	shown := unit.MustParse(m.Unit)
	if m.Shown != "" {
		shown = unit.MustParse(m.Shown)
	}
	first := true
	for _, o := range all {
		if o.Measure != m.ID {
			continue
		}
		if first {
			label := m.Title
			if s := shown.Symbol(); s != "1" && s != "" {
				label += ", " + s
			}
			fmt.Fprintf(out, "\n%s\n", label)
			first = false
		}
		name := o.Run
		if o.Place != "" {
			name += ", " + o.Place
		}
		mark := ""
		if !o.Counts {
			mark = "  does not count"
		}
		fmt.Fprintf(out, "  %-24s %12s%s\n", name, unit.Number(shown.FromHouse(o.Value), m.Digits, unit.Plain), mark)
	}
}
