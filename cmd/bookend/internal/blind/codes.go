// Package blind holds the verbs about letters and what they stand for: drawn by lot,
// sealed under a passphrase, opened with a reason, and copied without.
package blind

import (
	"bufio"
	"crypto/rand"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/codes"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
)

// Codes is the verb codes: which tyre hides under which letter, drawn, sealed and opened.
func Codes() *cobra.Command {
	c := &cobra.Command{
		Use:   "codes",
		Short: "seal which tyre is driven under which code, and who may know",
		Long: `Seal which tyre is driven under which code. What is sealed lies encrypted beside the
programme, in sealed.db; who opens it and why is logged. The passphrase is read
from --passphrase-file, or else from standard input; a lost one cannot be replaced.

  bookend codes draw tyres.csv --passphrase-file FILE
  bookend codes open --passphrase-file FILE --reason "report"

The table of tyres has the columns tyre, control (yes), codes (how many letters),
maker, name, marks, sets, note. The control under two letters or more is blind:
its repeats measure whoever rates.`,
	}
	c.AddCommand(drawCommand(false), drawCommand(true), openCommand(), whoCommand())
	return c
}

// passphrase reads the passphrase from a file's first line, or from standard input.
func passphrase(c *cobra.Command, path string) (string, error) {
	var src io.Reader = c.InOrStdin()
	if path != "" {
		f, err := terminal.Open(path)
		if err != nil {
			return "", fault.At(err, "--passphrase-file")
		}
		defer f.Close() //nolint:errcheck // opened for reading alone
		src = f
	}
	line, err := bufio.NewReader(io.LimitReader(src, 4096)).ReadString('\n')
	if err != nil && err != io.EOF {
		return "", fault.New(fault.Invalid, "reading the passphrase: %w", err)
	}
	if line = strings.TrimRight(line, "\r\n"); line == "" {
		return "", fault.New(fault.Invalid, "no passphrase is given").WithHint("--passphrase-file FILE, or type it on standard input")
	}
	return line, nil
}

// drawCommand draws letters by lot, or takes those that were chosen by hand.
func drawCommand(given bool) *cobra.Command {
	var dir, pass string
	var regulation, asJSON bool
	c := &cobra.Command{
		Use: "draw TYRES.csv", Short: "draw letters for tyres by lot and seal who is who; only the letters are printed", Args: cobra.ExactArgs(1),
	}
	if given {
		c.Use, c.Short = "seal KEY.csv", "seal letters that were chosen by hand, in the column code"
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		f, err := terminal.Open(args[0])
		if err != nil {
			return err
		}
		defer f.Close() //nolint:errcheck // opened for reading alone
		tyres, has, err := codes.ReadTyres(f, filepath.Base(args[0]))
		if err != nil {
			return err
		}
		if has != given {
			return fault.New(fault.Invalid, "a column code goes with seal, none with draw").At("%s", args[0]).WithHint("bookend codes seal takes letters that were chosen; bookend codes draw draws them by lot")
		}
		return folders.In(c.Context(), dir, func(a *app.Folder) error {
			words, err := passphrase(c, pass)
			if err != nil {
				return err
			}
			var letters []string
			if given {
				k, err := codes.Given(tyres, regulation)
				if err != nil {
					return fault.At(err, "%s", filepath.Base(args[0]))
				}
				if err := a.SealCodes(c.Context(), k, words); err != nil {
					return err
				}
				letters = k.Letters()
			} else if letters, err = a.DrawCodes(c.Context(), rand.Reader, tyres, regulation, words); err != nil {
				return err
			}
			return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("Sealed. The codes are %s.\nRemove the table from this machine: it tells who is who.", strings.Join(letters, " ")))
		})
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&pass, "passphrase-file", "", "file whose first line is the passphrase")
	c.Flags().BoolVar(&regulation, "regulation", false, "leave out R and T, which mean reference and test tyre")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// openCommand prints who is who, as JSON by the schema "bookend.codes/1".
func openCommand() *cobra.Command {
	var dir string
	var f Flags
	var asJSON bool
	c := &cobra.Command{
		Use: "open", Short: "open who is who; by whom and why is logged", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				words, err := passphrase(c, f.file)
				if err != nil {
					return err
				}
				k, err := a.OpenCodes(c.Context(), words, f.reason)
				if err != nil {
					return err
				}
				if asJSON {
					return terminal.PrintJSON(c.OutOrStdout(), k)
				}
				terminal.PrintTable(c.OutOrStdout(), "code\ttyre\tcontrol\tmaker\tname\tmarks\tsets", func(w io.Writer) {
					for _, id := range k.Identities {
						control := ""
						if id.Control {
							control = "yes"
						}
						fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", id.Code, terminal.Cut(id.Tyre, 12), control, terminal.Cut(id.Maker, 14), terminal.Cut(id.Name, 14), terminal.Cut(id.Marks, 12), terminal.Cut(strings.Join(id.Sets, " "), 12))
					}
				})
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&f.file, "passphrase-file", "", "file whose first line is the passphrase")
	c.Flags().StringVar(&f.reason, "reason", "", "why")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// Flags open the codes for one comparison or report.
type Flags struct {
	open         bool
	file, reason string
}

// Add declares the flags.
func (f *Flags) Add(c *cobra.Command) {
	c.Flags().BoolVar(&f.open, "open-codes", false, "open sealed codes: those of one tyre are joined, the control is K; logged")
	c.Flags().StringVar(&f.file, "passphrase-file", "", "with --open-codes: file whose first line is the passphrase")
	c.Flags().StringVar(&f.reason, "open-reason", "", "with --open-codes: why")
}

// Apply opens the codes where that is asked for.
func (f *Flags) Apply(c *cobra.Command, a *app.Folder) error {
	if !f.open {
		return nil
	}
	words, err := passphrase(c, f.file)
	if err != nil {
		return err
	}
	a.Codes, err = a.OpenCodes(c.Context(), words, f.reason)
	return err
}

// whoDocument is the JSON of who knew what, schema "bookend.blindness/1".
type whoDocument struct {
	Schema  string        `json:"schema"`
	Results app.Blindness `json:"results"`
}

func whoCommand() *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use: "who", Short: "say who knew what while people drove and rated, and who opened the codes", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				b := s.Blindness()
				if asJSON {
					return terminal.PrintJSON(c.OutOrStdout(), whoDocument{"bookend.blindness/1", b})
				}
				out := c.OutOrStdout()
				fmt.Fprintln(out, terminal.Wrap(b.Text, 80, ""))
				for _, o := range b.Openings {
					fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%s  %s: %s", o.At.Time().Format("2006-01-02 15:04 UTC"), o.Person, o.Reason), 80, "  "))
				}
				if u := s.Unknown(); len(u) > 0 {
					fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Driven under codes that are not sealed: %s.", strings.Join(u, ", ")), 80, ""))
				}
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	terminal.JSONFlag(c, &asJSON)
	return c
}

// Copy is the verb copy: a whole programme in a new folder, without its sealed codes unless asked.
func Copy() *cobra.Command {
	var dir string
	var withCodes, asJSON bool
	c := &cobra.Command{
		Use: "copy FOLDER", Short: "copy the programme into a new folder while others work on it", Args: cobra.ExactArgs(1),
		Long: `Copy the programme into a new folder, as of one moment, while others work on it.
Copying the file itself while it is open may miss what was written last. The
sealed file is left out unless --with-codes asks for it, which is logged.`,
		RunE: func(c *cobra.Command, args []string) error {
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				if err := a.Copy(c.Context(), args[0], withCodes); err != nil {
					return err
				}
				said := fmt.Sprintf("The copy is in %s.", args[0])
				if !withCodes {
					said += " It holds no sealed codes."
				}
				return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, said)
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().BoolVar(&withCodes, "with-codes", false, "with the sealed file")
	terminal.JSONFlag(c, &asJSON)
	return c
}
