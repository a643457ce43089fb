// Package daylog holds the verbs of the run log: what is entered on the day, shown,
// corrected, withdrawn, brought in and taken out as tables.
package daylog

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/app/ordering"
	"example.org/bookend/app/sight"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/table"
	"example.org/bookend/unit"
)

// logDocument is the JSON of what was logged, schema "bookend.log/1".
type logDocument struct {
	Schema  string        `json:"schema"`
	Results []app.Receipt `json:"results"`
}

// Verb is the verb log: a command for each kind of entry, drawn from the kinds, and those about the log itself.
func Verb() *cobra.Command {
	c := &cobra.Command{
		Use:   "log",
		Short: "keep the run log: what was fitted and driven, conditions, ratings, incidents",
		Long: `Keep the run log, entry by entry. Each kind of entry has a command of its own
whose flags are its fields; quantities are typed with their unit (1.2mm, 2.4bar,
85km/h), moments as 14:05 in the ground's zone or as RFC 3339. Entries are never
changed: a correction is a new entry. Limits are answered at once.

  bookend log stint --test wet-stop --stint 3 --code P --set P1
  bookend log run --test wet-stop --stint 3 --run 1 --entry-speed 85.1km/h
  bookend log incident --what spin --test lap --stint 4 --text "gate 7"
  bookend log release --incident '#12' --outcome break --finding "tyres sound"`,
	}
	c.AddGroup(&cobra.Group{ID: "entries", Title: "Entries:"}, &cobra.Group{ID: "book", Title: "The log itself:"})
	for _, k := range runlog.Kinds() {
		c.AddCommand(entryCommand(k))
	}
	for _, book := range []*cobra.Command{showCommand(), correctCommand(), withdrawCommand(), takeCommand(), logImportCommand(), logExportCommand(), drivenCommand(), replannedCommand(), limitsCommand(), eraseCommand()} {
		book.GroupID = "book"
		c.AddCommand(book)
	}
	return c
}

// flagOf names a field on the command line: without its unit, which is typed.
func flagOf(f runlog.Field) string {
	key := f.Key
	if stem, _, ok := unit.SplitName(key); ok && f.Unit != "" {
		key = stem
	}
	return strings.ReplaceAll(key, "_", "-")
}

func aboutOf(f runlog.Field) string {
	text := f.Title
	if f.About != "" {
		text += ": " + f.About
	}
	switch {
	case f.Type == runlog.Word:
		text += " (" + strings.Join(f.Words, ", ") + ")"
	case f.Type == runlog.Numbers:
		text += ", with the unit: \"7.8 7.7 mm\""
	case f.Shown != "":
		text += ", in " + unit.MustParse(f.Shown).ASCII() + " or another unit"
	case f.Unit != "":
		text += ", in " + unit.MustParse(f.Unit).ASCII()
	case f.Type == runlog.Hash:
		text += ": a file, or its SHA-256"
	case f.Type == runlog.EntryID:
		text += " (#12)"
	}
	if f.Needed {
		text += "; needed"
	}
	return text
}

// fieldFlags are the flags of a kind's fields.
type fieldFlags struct {
	kind  runlog.Kind
	typed map[string]*string
	flags map[string]*bool
}

func addFields(c *cobra.Command, k runlog.Kind) *fieldFlags {
	f := &fieldFlags{kind: k, typed: map[string]*string{}, flags: map[string]*bool{}}
	for _, field := range k.Fields {
		if field.Type == runlog.Flag {
			f.flags[field.Key] = c.Flags().Bool(flagOf(field), false, aboutOf(field))
		} else {
			f.typed[field.Key] = c.Flags().String(flagOf(field), "", aboutOf(field))
		}
	}
	return f
}

// read gives the fields that were typed, as JSON values by key.
func (f *fieldFlags) read(c *cobra.Command, a *app.Folder) (map[string]any, error) {
	s, err := app.Rebuild(c.Context(), a.Store)
	if err != nil {
		return nil, err
	}
	zone, err := s.Zone()
	if err != nil {
		return nil, err
	}
	out := map[string]any{}
	for _, field := range f.kind.Fields {
		if !c.Flags().Changed(flagOf(field)) {
			continue
		}
		if field.Type == runlog.Flag {
			out[field.Key] = *f.flags[field.Key]
			continue
		}
		typed := *f.typed[field.Key]
		var v any
		switch {
		case typed == "":
		case field.Type == runlog.Moment:
			v, err = runlog.ReadMoment(typed, zone, a.Now())
		case field.Type == runlog.EntryID:
			v, err = a.EntryID(c.Context(), typed)
		case field.Type == runlog.Hash && field.Key != "from" && field.Key != "to":
			v, err = attach(c, a, typed)
		default:
			v, err = field.FromText(typed)
		}
		if err != nil {
			return nil, fault.At(err, "--%s", flagOf(field))
		}
		out[field.Key] = v
	}
	return out, nil
}

// attach keeps a file and gives its hash; what is no file is taken for a hash.
func attach(c *cobra.Command, a *app.Folder, path string) (string, error) {
	file, err := terminal.Open(path)
	if err != nil {
		if len(path) == 64 {
			return path, nil
		}
		return "", err
	}
	defer file.Close() //nolint:errcheck // opened for reading alone
	return a.Attach(c.Context(), file)
}

func entryCommand(k runlog.Kind) *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use: strings.ReplaceAll(k.ID, "_", "-"), Short: k.About, GroupID: "entries", Args: cobra.NoArgs,
	}
	f := addFields(c, k)
	c.RunE = func(c *cobra.Command, _ []string) error {
		return folders.In(c.Context(), dir, func(a *app.Folder) error {
			body, err := f.read(c, a)
			if err != nil {
				return err
			}
			maps := map[string]any{}
			for key, v := range body {
				if v != nil {
					maps[key] = v
				}
			}
			r, err := a.Log(c.Context(), k.ID, maps)
			if err != nil {
				return err
			}
			return sayReceipt(c.OutOrStdout(), a, c, asJSON, r)
		})
	}
	folders.Flag(c, &dir)
	terminal.JSONFlag(c, &asJSON)
	return c
}

// sayReceipt prints what became of one entry, and the limits' answers.
func sayReceipt(out io.Writer, a *app.Folder, c *cobra.Command, asJSON bool, r app.Receipt) error {
	if asJSON {
		return terminal.PrintJSON(out, logDocument{"bookend.log/1", []app.Receipt{r}})
	}
	all, err := a.Store.Entries(c.Context(), r.Sequence-1)
	if err != nil {
		return err
	}
	fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Entry %d, %s: %s.", r.Sequence, strings.ReplaceAll(all[0].Kind, "_", " "), app.Summary(all[0])), 80, ""))
	sayAnswers(out, r)
	return nil
}

func sayAnswers(out io.Writer, r app.Receipt) {
	for _, x := range r.Answers {
		if x.Standing == programme.Broken {
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("no: %s is %s, the limit is %s (%s): %s", x.Field, amount(x.Value, x.Limit.Unit), boundsOf(x.Limit), x.Limit.Source, x.Limit.Stands), 80, "    "))
		} else {
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("yes: %s is within %s", x.Field, boundsOf(x.Limit)), 80, "     "))
		}
	}
	if r.Wait != "" {
		fmt.Fprintln(out, r.Wait)
	}
}

func amount(x float64, symbol string) string {
	f := runlog.Field{Unit: symbol}
	if u, err := unit.Parse(symbol); err == nil && symbol != "" {
		f.Unit = u.ASCII()
		if u == unit.Metre && x < 0.1 && x > -0.1 {
			f.Shown = "mm"
		}
	}
	return f.Amount(x)
}

func boundsOf(l programme.Limit) string {
	switch {
	case l.Low == nil:
		return "at most " + amount(*l.High, l.Unit)
	case l.High == nil:
		return "at least " + amount(*l.Low, l.Unit)
	}
	return amount(*l.Low, l.Unit) + " to " + amount(*l.High, l.Unit)
}

// logShown is the JSON of the run log, schema "bookend.runlog/1".
type logShown struct {
	Schema  string          `json:"schema"`
	Results logShownResults `json:"results"`
}

type logShownResults struct {
	Entries []programme.Entry `json:"entries"`
	Gaps    []app.Gap         `json:"gaps"`
	Clashes []logClash        `json:"clashes"`
}

type logClash struct {
	Kind   string   `json:"kind"`
	What   string   `json:"what"`
	Stands string   `json:"stands"`
	Others []string `json:"others"`
}

func showCommand() *cobra.Command {
	var dir, kind, test, as, person string
	var all, asJSON bool
	c := &cobra.Command{
		Use: "show", Short: "show the entries that stand, what is held, what has not come, what clashes", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				if as != "" {
					return showAs(c.OutOrStdout(), s, as, person)
				}
				zone, err := s.Zone()
				if err != nil {
					return err
				}
				if zone == nil {
					zone = time.UTC
				}
				doc := logShown{Schema: "bookend.runlog/1", Results: logShownResults{Entries: []programme.Entry{}, Gaps: append([]app.Gap{}, s.Gaps...), Clashes: []logClash{}}}
				for _, x := range s.Day.Clashes {
					doc.Results.Clashes = append(doc.Results.Clashes, logClash{x.Kind, x.What, x.Stands, x.Others})
				}
				var lines [][4]string
				take := func(e programme.Entry, when int64, mark string) {
					if kind != "" && e.Kind != strings.ReplaceAll(kind, "-", "_") {
						return
					}
					sum := app.Summary(e)
					if test != "" && !slices.Contains(strings.Split(sum, ", "), test) {
						return
					}
					doc.Results.Entries = append(doc.Results.Entries, e)
					lines = append(lines, [4]string{fmt.Sprintf("#%d%s", e.Sequence, mark), time.Unix(0, when).In(zone).Format("02 Jan 15:04"), strings.ReplaceAll(e.Kind, "_", " "), sum})
				}
				if all {
					entries, err := a.Store.Entries(c.Context(), 0)
					if err != nil {
						return err
					}
					stands := map[string]bool{}
					for _, l := range s.Day.Entries {
						stands[l.Entry.ID] = true
					}
					for _, e := range entries {
						mark := ""
						if _, ok := runlog.KindOf(e.Kind); ok && !stands[e.ID] {
							mark = " -"
						}
						take(e, e.DeviceTime.UnixNS, mark)
					}
				} else {
					for _, l := range s.Day.Entries {
						take(l.Entry, l.When, "")
					}
				}
				if asJSON {
					return terminal.PrintJSON(c.OutOrStdout(), doc)
				}
				out := c.OutOrStdout()
				if len(lines) == 0 {
					fmt.Fprintln(out, "Nothing is logged yet. bookend log --help says how.")
					return nil
				}
				terminal.PrintTable(out, "entry\twhen\tkind\twhat", func(w io.Writer) {
					for _, l := range lines {
						fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", l[0], l[1], terminal.Cut(l[2], 18), terminal.Cut(l[3], 36))
					}
				})
				for _, g := range s.Gaps {
					fmt.Fprintln(out, terminal.Wrap(g.String()+".", 80, "  "))
				}
				if len(s.Day.Caveats) > 0 {
					terminal.PrintNotes(out, s.Day.Caveats)
				}
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&kind, "kind", "", "entries of one kind alone")
	c.Flags().StringVar(&test, "test", "", "entries of one test alone")
	c.Flags().StringVar(&as, "as", "", "as JSON, what somebody may see in the role lead, driver, fitter, engineer or client")
	c.Flags().StringVar(&person, "person", "", "with --as: who, since everybody sees what they said themselves")
	c.Flags().BoolVar(&all, "all", false, "those that were corrected or taken back, too, and entries that are none of the run log's")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// seenDocument is the JSON of what a role may see, schema "bookend.seen/1".
type seenDocument struct {
	Schema  string        `json:"schema"`
	Results []sight.Entry `json:"results"`
}

func showAs(out io.Writer, s *app.State, as, person string) error {
	role, err := sight.Parse(as)
	if err != nil {
		return err
	}
	seen, err := sight.RunLogOf(role, person, s.Day)
	if err != nil {
		return err
	}
	return terminal.PrintJSON(out, seenDocument{"bookend.seen/1", seen})
}

func correctCommand() *cobra.Command {
	var dir string
	var set []string
	var asJSON bool
	c := &cobra.Command{
		Use: "correct ENTRY", Short: "put a corrected entry in the place of an old one, which is kept", Args: cobra.ExactArgs(1),
		Example: `  bookend log correct '#12' --set code=R --set remark=`,
		RunE: func(c *cobra.Command, args []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				id, err := a.EntryID(c.Context(), args[0])
				if err != nil {
					return err
				}
				all, err := a.Store.Entries(c.Context(), 0)
				if err != nil {
					return err
				}
				i := slices.IndexFunc(all, func(e programme.Entry) bool { return e.ID == id })
				if i < 0 {
					return fault.New(fault.NotFound, "there is no entry %s", args[0]).WithHint("bookend log show lists them")
				}
				k, _ := runlog.KindOf(all[i].Kind)
				changed := map[string]any{}
				for _, s := range set {
					name, typed, ok := strings.Cut(s, "=")
					j := slices.IndexFunc(k.Fields, func(f runlog.Field) bool { return f.Key == name || flagOf(f) == name })
					if !ok || j < 0 {
						return fault.New(fault.Invalid, "--set %s: %s has no such field", s, k.ID).WithHint("FIELD=VALUE, with a field of the entry's kind: bookend log %s --help", strings.ReplaceAll(k.ID, "_", "-"))
					}
					if changed[k.Fields[j].Key], err = k.Fields[j].FromText(typed); err != nil {
						return err
					}
				}
				if len(changed) == 0 {
					return fault.New(fault.Invalid, "nothing is changed").WithHint("--set FIELD=VALUE; an empty value empties the field")
				}
				r, err := a.CorrectEntry(c.Context(), id, changed)
				if err != nil {
					return err
				}
				return sayReceipt(c.OutOrStdout(), a, c, asJSON, r)
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringArrayVar(&set, "set", nil, "FIELD=VALUE, again for further fields")
	terminal.JSONFlag(c, &asJSON)
	return c
}

func withdrawCommand() *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use: "withdraw ENTRY", Short: "take an entry back; it is kept and no longer counts", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				id, err := a.EntryID(c.Context(), args[0])
				if err != nil {
					return err
				}
				if err := a.Withdraw(c.Context(), id); err != nil {
					return err
				}
				return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("Entry %s counts no longer. It is kept.", args[0]))
			})
		},
	}
	folders.Flag(c, &dir)
	terminal.JSONFlag(c, &asJSON)
	return c
}

// mostEntry is how long one entry of an outbox may be: 1 MiB, own choice.
const mostEntry = 1 << 20

func takeCommand() *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use: "take FILE", Short: "take the entries that a tablet saved to a file, one JSON object a line; - is standard input", Args: cobra.ExactArgs(1),
		Long: `Take the entries that a tablet saved to a file, one JSON object a line. Each is
answered by itself as soon as it is on the disk: kept, kept before, or why not.
Taking a file again adds nothing. What is refused holds nothing else back; then
the exit code is that of the first refusal.`,
		RunE: func(c *cobra.Command, args []string) error {
			src := c.InOrStdin()
			if args[0] != "-" {
				f, err := terminal.Open(args[0])
				if err != nil {
					return err
				}
				defer f.Close() //nolint:errcheck // opened for reading alone
				src = f
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				return take(c, a, src, args[0], asJSON)
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().BoolVar(&asJSON, "json", false, "answer each line with one JSON object")
	return c
}

func entryCount(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}

// refusal is the fault of an entry that was not kept.
func refusal(r app.Receipt, hint string) error {
	return fault.New(r.Code, "%s", r.Text).WithHint("%s", terminal.Or(r.Hint, hint))
}

func take(c *cobra.Command, a *app.Folder, src io.Reader, name string, asJSON bool) error {
	lines := bufio.NewScanner(src)
	lines.Buffer(make([]byte, 0, 64<<10), mostEntry)
	out := c.OutOrStdout()
	kept, before, refused := 0, 0, 0
	var first error
	n := 0
	for lines.Scan() {
		n++
		text := bytes.TrimSpace(lines.Bytes())
		if len(text) == 0 {
			continue
		}
		var e programme.Entry
		d := json.NewDecoder(bytes.NewReader(text))
		d.DisallowUnknownFields()
		r := app.Receipt{}
		if err := d.Decode(&e); err != nil {
			r.Code, r.Text = fault.Invalid, fmt.Sprintf("%s:%d: it is no entry: %v", name, n, err)
		} else {
			got, err := a.Take(c.Context(), e)
			if err != nil {
				return err
			}
			r = got
		}
		switch {
		case r.Kept && r.Again:
			before++
		case r.Kept:
			kept++
		default:
			refused++
			if first == nil {
				first = refusal(r, "it stays with the device; correct it there")
			}
		}
		if asJSON {
			line, err := json.Marshal(r)
			if err != nil {
				return fault.New(fault.Internal, "writing the answer: %w", err)
			}
			fmt.Fprintf(out, "%s\n", line)
			continue
		}
		switch {
		case r.Again:
			fmt.Fprintf(out, "%s kept before\n", e.ID)
		case r.Kept:
			fmt.Fprintf(out, "%s kept\n", e.ID)
		default:
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s %s: %s", terminal.Or(e.ID, fmt.Sprintf("line %d", n)), r.Code, r.Text), 80, "  "))
		}
	}
	if err := lines.Err(); err != nil {
		return fault.New(fault.Invalid, "reading line %d: %w", n+1, err).At("%s", name).WithHint("an entry is one line of at most 1 MiB")
	}
	if !asJSON {
		fmt.Fprintf(out, "%d kept, %d kept before, %d refused.\n", kept, before, refused)
	}
	return first
}

func logImportCommand() *cobra.Command {
	var dir string
	var columns []string
	var asJSON bool
	c := &cobra.Command{
		Use: "import KIND TABLE", Short: "bring a plain table of entries of one kind into the run log", Args: cobra.ExactArgs(2),
		Long: `Bring a plain table of entries of one kind into the run log, one a line. Columns
are the kind's fields; a name may end in another unit (water_depth_mm,
front_left_bar). Moments are RFC 3339, or 2026-05-13 14:05 in the ground's zone.
An entry that is refused holds no other back; then the exit code is that of the
first refusal.`,
		RunE: func(c *cobra.Command, args []string) error {
			k, ok := runlog.KindOf(strings.ReplaceAll(args[0], "-", "_"))
			if !ok {
				return runlog.Check(args[0], 1, nil)
			}
			names, err := terminal.Pairs(columns)
			if err != nil {
				return err
			}
			data, err := logger.ReadTable(args[1])
			if err != nil {
				return err
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				got, err := a.ImportLog(c.Context(), k, filepath.Base(args[1]), data, names)
				if err != nil {
					return err
				}
				kept, before, refused := 0, 0, 0
				var first error
				for _, r := range got {
					switch {
					case r.Kept && r.Again:
						before++
					case r.Kept:
						kept++
					default:
						refused++
						if first == nil {
							first = refusal(r, "correct it in the table")
						}
					}
				}
				if asJSON {
					if err := terminal.PrintJSON(c.OutOrStdout(), logDocument{"bookend.log/1", got}); err != nil {
						return err
					}
					return first
				}
				for _, r := range got {
					for _, x := range r.Answers {
						if x.Standing == programme.Broken {
							fmt.Fprintf(c.OutOrStdout(), "entry %d:\n", r.Sequence)
							sayAnswers(c.OutOrStdout(), app.Receipt{Answers: []programme.Answer{x}})
						}
					}
				}
				more := ""
				if refused > 0 {
					more = fmt.Sprintf(", %d refused", refused)
				}
				fmt.Fprintf(c.OutOrStdout(), "%s kept, %d kept before%s.\n", entryCount(kept), before, more)
				return first
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringSliceVar(&columns, "columns", nil, "names in the table: code=tyre")
	terminal.JSONFlag(c, &asJSON)
	return c
}

func logExportCommand() *cobra.Command {
	var dir string
	c := &cobra.Command{
		Use: "export FOLDER", Short: "write the entries that stand as plain tables, one a kind", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				var entries []programme.Entry
				for _, l := range s.Day.Entries {
					entries = append(entries, l.Entry)
				}
				if len(entries) == 0 {
					return fault.New(fault.NotFound, "nothing is logged yet").WithHint("bookend log --help says how")
				}
				if err := os.MkdirAll(args[0], 0o755); err != nil {
					return fault.New(fault.Invalid, "making the folder: %w", err).At("%s", args[0]).WithHint("name one that may be written to")
				}
				for _, k := range runlog.Kinds() {
					n := 0
					for _, e := range entries {
						if e.Kind == k.ID {
							n++
						}
					}
					if n == 0 {
						continue
					}
					path := filepath.Join(args[0], table.EntriesFile(k))
					var text bytes.Buffer
					if err := table.WriteEntries(&text, k, entries); err != nil {
						return err
					}
					if err := terminal.Put(path, text.Bytes()); err != nil {
						return err
					}
					fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", path, entryCount(n))
				}
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	return c
}

func limitsCommand() *cobra.Command {
	var dir, test, from, follow string
	var asJSON bool
	c := &cobra.Command{
		Use: "limits", Short: "show the limits that entries are answered by, or set them from a file", Args: cobra.NoArgs,
		Long: `Show the limits that entries are answered by. With --from FILE they are set: the
file is one JSON object as --json prints it, a profile with its limits, each with
field, low or high, unit and source. With --profile ID they are those of a
regulation that entries can be held against, such as r117-02-c1-vehicle.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				if from != "" {
					text, err := logger.ReadTable(from)
					if err != nil {
						return err
					}
					var p programme.Profile
					if err := terminal.ReadObject(from, text, &p, "profile of limits", "bookend log limits --json prints one"); err != nil {
						return err
					}
					if err := a.SetLimits(c.Context(), app.LimitsEntry{Test: test, Profile: p}); err != nil {
						return fault.At(err, "%s", from)
					}
				}
				if follow != "" {
					p, err := app.Follow(follow)
					if err != nil {
						return err
					}
					if err := a.SetLimits(c.Context(), app.LimitsEntry{Test: test, Profile: p}); err != nil {
						return err
					}
				}
				p, err := a.LimitsOf(c.Context(), test)
				if err != nil {
					return err
				}
				if asJSON {
					return terminal.PrintJSON(c.OutOrStdout(), p)
				}
				out := c.OutOrStdout()
				fmt.Fprintf(out, "%s (%s, version %d)\n\n", p.Title, p.ID, p.Version)
				terminal.PrintTable(out, "field\tlimit\tsource", func(w io.Writer) {
					for _, l := range p.Limits {
						fmt.Fprintf(w, "%s\t%s\t%s\n", l.Field, boundsOf(l), terminal.Cut(l.Source.Key, 24))
					}
				})
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&test, "test", "", "of one test alone")
	c.Flags().StringVar(&from, "from", "", "set them from this file")
	c.Flags().StringVar(&follow, "profile", "", "set them to those of a regulation's profile")
	c.Flags().BoolVar(&asJSON, "json", false, "print the profile as one JSON object")
	return c
}

func eraseCommand() *cobra.Command {
	var dir, reason string
	var asJSON bool
	c := &cobra.Command{
		Use: "erase SHA256", Short: "erase a voice or a picture for good; the entry that names it stands", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				if err := a.Erase(c.Context(), args[0], reason); err != nil {
					return err
				}
				return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, "It is erased. Who did it and why is logged, and the chain stands.")
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&reason, "reason", "", "why")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// drivenDocument is the JSON of what counts as driven, schema "bookend.driven/1".
type drivenDocument struct {
	Schema  string        `json:"schema"`
	Results drivenResults `json:"results"`
}

type drivenResults struct {
	Codes []string `json:"codes"`
	Fresh bool     `json:"fresh"`
	Lost  []string `json:"lost"`
}

func drivenCommand() *cobra.Command {
	var dir, test string
	var asJSON bool
	c := &cobra.Command{
		Use: "driven", Short: "print what of a test counts as driven, as bookend order takes it to plan the rest anew", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				if _, err := s.Test(test); err != nil {
					return err
				}
				d := s.Day.Driven(test)
				if asJSON {
					return terminal.PrintJSON(c.OutOrStdout(), drivenDocument{"bookend.driven/1", drivenResults{append([]string{}, d.Codes...), d.Fresh, append([]string{}, d.Lost...)}})
				}
				if len(d.Codes) == 0 {
					fmt.Fprintln(c.OutOrStdout(), "Nothing that counts is driven yet: the plan stands.")
					return nil
				}
				words := []string{"--driven " + strings.Join(d.Codes, ",")}
				if d.Fresh {
					words = append(words, "--fresh")
				}
				if len(d.Lost) > 0 {
					words = append(words, "--lost "+strings.Join(d.Lost, ","))
				}
				fmt.Fprintln(c.OutOrStdout(), strings.Join(words, " "))
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&test, "test", "", "the test")
	terminal.JSONFlag(c, &asJSON)
	return c
}

func replannedCommand() *cobra.Command {
	var dir, test, incident string
	var asJSON bool
	c := &cobra.Command{
		Use: "replanned FILE", Short: "log that the rest of a test is driven as planned anew", Args: cobra.ExactArgs(1),
		Long: `Log that the rest of a test is driven as planned anew. FILE is what bookend order
--driven … --reason … --json printed; it is kept with the log, and the deviation
names its hash, what is driven now, and why.`,
		RunE: func(c *cobra.Command, args []string) error {
			text, err := logger.ReadTable(args[0])
			if err != nil {
				return err
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				id := ""
				if incident != "" {
					if id, err = a.EntryID(c.Context(), incident); err != nil {
						return err
					}
				}
				r, err := ordering.Replanned(c.Context(), a, test, id, text)
				if err != nil {
					return fault.At(err, "%s", args[0])
				}
				return sayReceipt(c.OutOrStdout(), a, c, asJSON, r)
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&test, "test", "", "the test")
	c.Flags().StringVar(&incident, "incident", "", "the entry of the incident behind it (#12)")
	terminal.JSONFlag(c, &asJSON)
	return c
}
