package recordings

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
)

const intakeHelp = `Say stint by stint which recordings have arrived, which the run log names and
have not come, and which are short: with fewer runs than the log lists, or with
their end cut off. A file of the same name with other content is another
recording, and stands beside the first; the log tells them apart by
NAME#HASH, the first eight digits of the hash.

With --second DIR every recording is copied to a second medium too, unless it is
there already under whatever name; both copies are read again from end to end
and hashed. With --card DIR each file on a card is looked for by its bytes, and
called safe to wipe only if it is in the programme and on a second medium, on
another device, with the same hash. Nothing on the card is changed.`

// intakeDocument is the JSON of an intake, schema "bookend.intake/1".
type intakeDocument struct {
	Schema  string `json:"schema"`
	Results struct {
		Recordings []app.ArrivedRecording `json:"recordings"`
		Copies     []app.Copied           `json:"copies"`
		Card       []app.Copied           `json:"card"`
		Wipe       bool                   `json:"wipe"` // every file on the card may be wiped
	} `json:"results"`
}

// Intake is the verb intake: which recordings of a day have arrived, and whether a card may be wiped.
func Intake() *cobra.Command {
	var m app.Media
	var test string
	var asJSON bool
	c := &cobra.Command{
		Use:   "intake",
		Short: "say what has arrived from the loggers, what is missing, and what is safe to wipe",
		Long:  intakeHelp,
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.In(c.Context(), m.Kept, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				if test != "" {
					if _, err := s.Test(test); err != nil {
						return err
					}
				}
				var d intakeDocument
				d.Schema = "bookend.intake/1"
				r := &d.Results
				r.Recordings, r.Copies, r.Card = []app.ArrivedRecording{}, []app.Copied{}, []app.Copied{}
				for _, t := range s.Tests {
					if test != "" && t.Test.ID != test || t.Test.Procedure == "" {
						continue
					}
					list, err := a.Intake(c.Context(), s, t.Test.ID)
					if err != nil {
						return err
					}
					r.Recordings = append(r.Recordings, list...)
				}
				if m.Second != "" {
					var wanted []app.RecordingEntry
					for _, e := range s.Recordings {
						if test == "" || e.Test == test {
							wanted = append(wanted, e)
						}
					}
					if r.Copies, err = a.SecondCopies(c.Context(), m, wanted); err != nil {
						return err
					}
				}
				if m.Card != "" {
					if r.Card, err = a.Card(c.Context(), s, m); err != nil {
						return err
					}
					r.Wipe = len(r.Card) > 0
					for _, k := range r.Card {
						r.Wipe = r.Wipe && k.Wipe
					}
				}
				return terminal.Answer(c.OutOrStdout(), asJSON, d, func(out io.Writer) { printIntake(out, d, m) })
			})
		},
	}
	folders.Flag(c, &m.Kept)
	fs := c.Flags()
	fs.StringVar(&test, "test", "", "one test alone")
	fs.StringVar(&m.Second, "second", "", "a folder on a second medium: copy the recordings there, and verify them")
	fs.StringVar(&m.Card, "card", "", "a card's folder: say what on it is safe to wipe; nothing on it is changed")
	terminal.JSONFlag(c, &asJSON)
	return c
}

func printIntake(out io.Writer, d intakeDocument, m app.Media) {
	r := d.Results
	if len(r.Recordings) == 0 {
		fmt.Fprintln(out, "Nothing is logged or imported that a logger would record.")
	}
	var remarks []string
	for from := 0; from < len(r.Recordings); {
		to := from
		for to < len(r.Recordings) && r.Recordings[to].Test == r.Recordings[from].Test {
			to++
		}
		list := r.Recordings[from:to]
		count := map[string]int{}
		for _, a := range list {
			count[a.State]++
		}
		fmt.Fprintf(out, "%s: %d arrived, %d missing, %d short\n\n", list[0].Test, count[app.Arrived], count[app.Missing], count[app.Short])
		terminal.PrintTable(out, "stint\tcode\trecording\truns\tstate", func(w io.Writer) {
			for _, a := range list {
				name, runs := a.Name, fmt.Sprintf("%d/%d", a.Pieces, a.Runs)
				if a.Another && a.SHA256 != "" {
					name += "#" + a.SHA256[:8]
				}
				if a.State == app.Stray {
					runs = fmt.Sprint(a.Pieces)
				}
				fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", terminal.Or(a.Stint, "none"), terminal.Or(a.Code, "none"), terminal.Or(terminal.Cut(name, 40), "none named"), runs, a.State)
				if a.Remark != "" {
					remarks = append(remarks, fmt.Sprintf("%s: %s.", name, strings.TrimSuffix(a.Remark, ".")))
				}
				if a.Another {
					remarks = append(remarks, fmt.Sprintf("%s: another recording has the same name and other content.", name))
				}
			}
		})
		fmt.Fprintln(out)
		from = to
	}
	for _, k := range remarks {
		fmt.Fprintln(out, terminal.Wrap(k, 80, "  "))
	}
	if m.Second != "" {
		printCopies(out, fmt.Sprintf("Second copies in %s:", m.Second), r.Copies)
	}
	if m.Card == "" {
		return
	}
	printCopies(out, fmt.Sprintf("On the card in %s:", m.Card), r.Card)
	switch {
	case r.Wipe:
		fmt.Fprintln(out, "\nThe card is safe to wipe: every file on it was read again in two places.")
	case len(r.Card) == 0:
		fmt.Fprintln(out, "\nThe card holds no file.")
	default:
		fmt.Fprintln(out, "\nDo not wipe the card yet.")
	}
}

func printCopies(out io.Writer, head string, list []app.Copied) {
	fmt.Fprintf(out, "\n%s\n\n", head)
	if len(list) == 0 {
		fmt.Fprintln(out, "  none")
		return
	}
	var remarks []string
	terminal.PrintTable(out, "file\tsha256\tkept\tverified\tsafe to wipe", func(w io.Writer) {
		for _, c := range list {
			fmt.Fprintf(w, "%s\t%s…\t%s\t%s\t%s\n", terminal.Cut(c.Name, 36), c.SHA256[:8], yes(c.Kept), yes(c.Verified), yes(c.Wipe))
			if c.Remark != "" {
				remarks = append(remarks, c.Name+": "+c.Remark+".")
			}
		}
	})
	for _, k := range remarks {
		fmt.Fprintln(out, terminal.Wrap(k, 80, "  "))
	}
}

func yes(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}

// second copies what was imported to a second medium and says so.
func second(c *cobra.Command, a *app.Folder, m app.Media, done []app.Imported) ([]app.Copied, error) {
	s, err := app.Rebuild(c.Context(), a.Store)
	if err != nil {
		return nil, err
	}
	var wanted []app.RecordingEntry
	for _, r := range s.Recordings {
		for _, d := range done {
			if d.SHA256 == r.SHA256 && d.Name == r.Name {
				wanted = append(wanted, r)
			}
		}
	}
	if len(wanted) == 0 {
		return nil, fault.New(fault.Invalid, "no recording was imported that could be copied").WithHint("leave --second out, or import recordings")
	}
	return a.SecondCopies(c.Context(), m, wanted)
}
