// Package grounds holds the verbs about what outlives a programme: the ground, how a
// test is described, and the control's record that is signed off into it.
package grounds

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/groundbook"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/recordings"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/store/sqlite"
	"example.org/bookend/unit"
)

// Ground is the verb ground: a proving ground begun in a folder, which programmes will lie in.
func Ground() *cobra.Command {
	c := &cobra.Command{
		Use:   "ground",
		Short: "a proving ground's folder: programmes lie in it, and the control's record",
		Args:  cobra.NoArgs,
	}
	var g app.GroundEntry
	var asJSON bool
	n := &cobra.Command{
		Use:   "new FOLDER",
		Short: "begin a ground in a folder of its own; programmes are begun in it",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) (err error) {
			if err := folders.Headed(&g.Title, g.Zone, args[0]); err != nil {
				return err
			}
			s, err := sqlite.CreateGround(c.Context(), args[0])
			if err != nil {
				return err
			}
			defer folders.Close(s, &err)
			a := folders.Of(s)
			if err := a.BeginGround(c.Context(), g); err != nil {
				return err
			}
			if asJSON {
				r, err := app.RebuildGround(c.Context(), s)
				if err != nil {
					return err
				}
				return terminal.PrintJSON(c.OutOrStdout(), folders.Entered{Schema: "bookend.entered/1", Results: folders.EnteredChain{Entries: r.Entries, Head: r.Head}})
			}
			fmt.Fprintf(c.OutOrStdout(), "%s is begun. In its folder:\n\n  bookend new FOLDER --vehicle TEXT\n", g.Title)
			return nil
		},
	}
	n.Flags().StringVar(&g.Title, "title", "", "the ground's name; default: the folder's")
	n.Flags().StringVar(&g.Zone, "zone", "", "its IANA zone: Europe/London")
	terminal.JSONFlag(n, &asJSON)
	c.AddCommand(n)
	return c
}

// Test is the verb test: surface, control and procedure of a test, or a new one.
func Test() *cobra.Command {
	var dir string
	var d programme.Test
	var f recordings.ReduceFlags
	var typed, asJSON bool
	c := &cobra.Command{
		Use:   "test NAME",
		Short: "say what a test of the programme is: surface, control, procedure and settings; or begin one",
		Long: `Say what a test of the programme is. With --procedure, or --typed for values that
people read off, it is begun before anything of it is brought in, or set up
otherwise: procedure, gates and settings can change as long as nothing was brought
in and no frozen plan names the test.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			q := app.BeginRequest{ID: args[0], Title: d.Title, Surface: d.Surface, ControlType: d.ControlType, First: d.First, Procedure: f.Procedure, Gates: f.Gates, Reset: typed}
			if typed && (f.Procedure != "" || len(f.Gates) > 0) {
				return fault.New(fault.Invalid, "--typed: values that people read off have neither procedure nor gates").WithHint("leave --typed out")
			}
			return folders.In(c.Context(), dir, func(a *app.Folder) error {
				if f.Procedure == "" && !typed {
					stray := len(f.Gates) > 0 || len(f.Set) > 0
					for word := range f.Own {
						stray = stray || c.Flags().Changed(word)
					}
					if stray {
						return fault.New(fault.Invalid, "gates and settings belong to a procedure").WithHint("name it, too: --procedure ID")
					}
					if err := a.Describe(c.Context(), args[0], d); err != nil {
						return err
					}
				} else {
					if f.Procedure != "" {
						var err error
						if q.Given, err = f.Given(c); err != nil {
							return err
						}
					}
					if err := a.SetTest(c.Context(), q); err != nil {
						return err
					}
				}
				return folders.SayEntered(c.Context(), c.OutOrStdout(), a, asJSON, fmt.Sprintf("Test %s is described.", args[0]))
			})
		},
	}
	folders.Flag(c, &dir)
	f.AddProcedure(c)
	fs := c.Flags()
	fs.StringVar(&d.Title, "title", "", "as it is to be read")
	fs.StringVar(&d.Surface, "surface", "", "what it is driven on: basalt, wetted")
	fs.StringVar(&d.ControlType, "control-type", "", "what kind of tyre the control is, as the ground's record names it")
	fs.StringVar(&d.First, "first", "", "the measure that answers the question")
	fs.BoolVar(&typed, "typed", false, "a test of values that people read off, without a procedure")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// Signoff is the verb signoff: a test's control stints given over to the ground's record.
func Signoff() *cobra.Command {
	var dir, test, control string
	var asJSON bool
	c := &cobra.Command{
		Use:   "signoff --test NAME",
		Short: "sign a test off: its control stints go into the ground's record",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.OnGround(c.Context(), dir, func(a *app.Folder) error {
				e, err := a.SignOff(c.Context(), test, control)
				if err != nil {
					return err
				}
				if asJSON {
					return folders.SayEntered(c.Context(), c.OutOrStdout(), a, true, "")
				}
				fmt.Fprintf(c.OutOrStdout(), "Test %s is signed off. Into the record of its ground go:\n", test)
				for _, k := range e.Record {
					fmt.Fprintln(c.OutOrStdout(), "  "+terminal.Wrap(fmt.Sprintf("%d control stints of %s", len(k.Stints), k.Key), 76, "    "))
				}
				return nil
			})
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&test, "test", "", "the test")
	c.Flags().StringVar(&control, "control", "", "code of the control; default: as the plan has it")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// recordDocument is the JSON of bookend record.
type recordDocument struct {
	Schema  string              `json:"schema"`
	Ground  string              `json:"ground"`
	Results []*groundbook.Watch `json:"results"`
}

// Record is the verb record: charts of how the control has scattered and moved over programmes.
func Record() *cobra.Command {
	var dir, measure string
	var asJSON bool
	c := &cobra.Command{
		Use:   "record",
		Short: "the control's record of a ground, on its charts",
		Long: `The control tyre is the ground's check standard. Its record holds the control
stints of every test that was signed off, by surface, procedure and version,
measure, type of control and vehicle; a changed version begins a new record. The
charts show how control stints scatter about their own programme's drift (each
programme against the limit of its scatter, each stint against three standard
deviations), and how the control's level moves from programme to programme
(Shewhart's limits, and a weighted average that finds slow shifts).`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.InGround(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.RebuildGround(c.Context(), a.Store)
				if err != nil {
					return err
				}
				list := []*groundbook.Watch{}
				for _, k := range s.Record {
					if measure != "" && k.Key.Measure != measure {
						continue
					}
					w, err := k.Watch()
					if err != nil {
						return fault.At(err, "%s", k.Key)
					}
					list = append(list, w)
				}
				if asJSON {
					return terminal.PrintJSON(c.OutOrStdout(), recordDocument{"bookend.record/1", s.Ground.Title, list})
				}
				if len(list) == 0 {
					fmt.Fprintf(c.OutOrStdout(), "The record of %s is empty. Signing off a test fills it: bookend signoff\n", s.Ground.Title)
				}
				for i, w := range list {
					if i > 0 {
						fmt.Fprintln(c.OutOrStdout())
					}
					printWatch(c.OutOrStdout(), w)
				}
				return nil
			})
		},
	}
	c.PersistentFlags().StringVar(&dir, "folder", ".", "the ground's folder, or a programme's in it")
	c.Flags().StringVar(&measure, "measure", "", "one measure alone")
	terminal.JSONFlag(c, &asJSON)
	c.AddCommand(refreshCommand(&dir))
	return c
}

func refreshCommand(dir *string) *cobra.Command {
	var test, reason string
	var asJSON bool
	c := &cobra.Command{
		Use:   "refresh --test NAME",
		Short: "copy the ground's record anew into the programme, which is entered",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return folders.OnGround(c.Context(), *dir, func(a *app.Folder) error {
				e, err := a.RefreshRecord(c.Context(), test, reason)
				if err != nil {
					return err
				}
				if asJSON {
					return folders.SayEntered(c.Context(), c.OutOrStdout(), a, true, "")
				}
				for _, k := range e.Copied {
					if len(k.Stints) == 0 {
						fmt.Fprintln(c.OutOrStdout(), terminal.Wrap(fmt.Sprintf("%s: nothing is copied: %s.", k.Key.Measure, k.Why), 78, "  "))
						continue
					}
					fmt.Fprintln(c.OutOrStdout(), terminal.Wrap(fmt.Sprintf("%s: %d control stints are copied, rows %.12s.", k.Key.Measure, len(k.Stints), k.SHA256), 78, "  "))
				}
				return nil
			})
		},
	}
	c.Flags().StringVar(&test, "test", "", "the test")
	c.Flags().StringVar(&reason, "reason", "", "why, where verdicts were opened already")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// printWatch prints a record and its charts within 80 columns.
func printWatch(out io.Writer, w *groundbook.Watch) {
	fmt.Fprintln(out, terminal.Wrap(w.Key.String(), 78, "  "))
	of := " %"
	if w.Key.Scale != programme.Ratio {
		of = ""
		if w.Key.Unit != "" && w.Key.Unit != "1" {
			of = " " + w.Key.Unit
		}
	}
	if w.DF > 0 {
		fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("%d control stints; a stint scatters by %s%s about its programme's drift, on %s df. Rows %.12s.",
			w.Stints, unit.Number(w.SD, 3, unit.Plain), of, terminal.Degrees(w.DF), w.SHA256), 78, ""))
	}
	fmt.Fprintln(out)
	terminal.PrintTable(out, "programme\tstints\tscatter\tlimit\tlevel\taverage\tits limits\t", func(t io.Writer) {
		for _, p := range w.Programmes {
			var says []string
			if p.Wide {
				says = append(says, "scatters too much")
			}
			n := 0
			for _, r := range p.Residuals {
				if r.Out {
					n++
				}
			}
			if n > 0 {
				says = append(says, fmt.Sprintf("%d beyond 3 sd", n))
			}
			switch {
			case p.LevelOut:
				says = append(says, "level moved")
			case p.EWMAOut:
				says = append(says, "slow shift")
			}
			limits := "none"
			if p.EWMALow != nil {
				limits = unit.Interval(*p.EWMALow, *p.EWMAHigh, 2, unit.Plain)
			}
			fmt.Fprintf(t, "%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\n", p.Name, p.Stints, terminal.Maybe(p.SD, 3), terminal.Maybe(p.Limit, 3),
				unit.Number(p.Level, 2, unit.Plain), terminal.Maybe(p.EWMA, 2), limits, strings.Join(says, ", "))
		}
	})
	terminal.NotesOf(w.Caveats).PrintApart(out)
}
