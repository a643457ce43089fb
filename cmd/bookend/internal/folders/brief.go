package folders

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/tyre"
	"example.org/bookend/unit"
)

// vehicleFlags say what the vehicle asks of its tyres.
type vehicleFlags struct {
	front, rear, top string
	twin             bool
}

func (f *vehicleFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringVar(&f.front, "front-axle", "", "load on the front axle, loaded as driven: 1010kg; none: not known")
	fs.StringVar(&f.rear, "rear-axle", "", "load on the rear axle")
	fs.BoolVar(&f.twin, "twin-rear", false, "two wheels a side behind")
	fs.StringVar(&f.top, "top-speed", "", "the vehicle's top speed: 160km/h; none: not known")
}

// apply puts what was typed in the place of what was known.
func (f *vehicleFlags) apply(c *cobra.Command, a *tyre.Asked) error {
	for _, x := range []struct {
		flag, text string
		to         *float64
		of         unit.Dimension
		hint       string
	}{{"front-axle", f.front, &a.FrontKg, unit.Mass, "1010kg"}, {"rear-axle", f.rear, &a.RearKg, unit.Mass, "1240kg"}, {"top-speed", f.top, &a.TopMps, unit.Speed, "160km/h"}} {
		if !c.Flags().Changed(x.flag) {
			continue
		}
		if x.text == "none" {
			*x.to = 0
			continue
		}
		v, u, err := unit.ParseQuantity(x.text)
		if err != nil || u.IsZero() || u.Dimension() != x.of || !(v > 0) {
			return fault.New(fault.Invalid, "--%s: %q cannot be read", x.flag, x.text).WithHint("with its unit, for example %s; or none", x.hint)
		}
		*x.to = u.ToHouse(v)
	}
	if c.Flags().Changed("twin-rear") {
		a.TwinRear = f.twin
	}
	return nil
}

// Brief is the verb brief: what the client asked, the vehicle and the tyre sets, shown or changed.
func Brief() *cobra.Command {
	var dir string
	var vehicle vehicleFlags
	var words app.Brief
	var asJSON bool
	c := &cobra.Command{
		Use:   "brief",
		Short: "what is compared, for whom, on which vehicle, with which tyre sets; or change it",
		Long: `Show the brief of the programme, or change what is given. Tyre sets have a name, the
code that they are driven under, the size as marked and a note. A size is read by its
grammar: load index and speed symbol are held against axle loads and top speed of
the vehicle, where these are known. That nothing is over calls no tyre safe.

  bookend brief --front-axle 1010kg --rear-axle 1240kg --top-speed 160km/h
  bookend brief set P1 --code P --size '205/65 R16C 107/105T' --note 'broken in'
  bookend brief away P1

A set that was driven keeps its name and code and stays; so does the only set of
a code that the frozen plan or a chosen order asks for.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return In(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				b := s.BriefOf()
				for _, x := range []struct {
					flag     string
					from, to *string
				}{{"title", &words.Title, &b.Title}, {"client", &words.Client, &b.Client}, {"ground", &words.Ground, &b.Ground}, {"zone", &words.Zone, &b.Zone}, {"vehicle", &words.Vehicle, &b.Vehicle}, {"question", &words.Question, &b.Question}} {
					if c.Flags().Changed(x.flag) {
						*x.to = *x.from
					}
				}
				if err := vehicle.apply(c, &b.Asked); err != nil {
					return err
				}
				if err := a.Rewrite(c.Context(), b); err != nil {
					return err
				}
				return showBrief(c.Context(), c.OutOrStdout(), a, asJSON)
			})
		},
	}
	Flag(c, &dir)
	vehicle.add(c)
	fs := c.Flags()
	fs.StringVar(&words.Title, "title", "", "what is compared")
	fs.StringVar(&words.Client, "client", "", "for whom")
	fs.StringVar(&words.Ground, "ground", "", "where")
	fs.StringVar(&words.Zone, "zone", "", "the ground's IANA zone; fixed once something was driven")
	fs.StringVar(&words.Vehicle, "vehicle", "", "on what, in words")
	fs.StringVar(&words.Question, "question", "", "what the client asks")
	terminal.JSONFlag(c, &asJSON)
	c.AddCommand(briefSetCommand(), briefAwayCommand())
	return c
}

func briefSetCommand() *cobra.Command {
	var dir string
	var given programme.Set
	var asJSON bool
	c := &cobra.Command{
		Use: "set NAME", Short: "put a tyre set into the programme, or change one", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return In(c.Context(), dir, func(a *app.Folder) error {
				s, err := app.Rebuild(c.Context(), a.Store)
				if err != nil {
					return err
				}
				was, set := "", programme.Set{ID: args[0], Code: given.Code}
				for _, x := range s.Programme.Sets {
					if x.ID == strings.TrimSpace(args[0]) {
						was, set = x.ID, x
					}
				}
				for _, x := range []struct {
					flag     string
					from, to *string
				}{{"name", &given.ID, &set.ID}, {"code", &given.Code, &set.Code}, {"size", &given.Size, &set.Size}, {"note", &given.Note, &set.Note}} {
					if c.Flags().Changed(x.flag) {
						*x.to = *x.from
					}
				}
				if err := a.PutSet(c.Context(), was, set); err != nil {
					return fault.At(err, "set %s", args[0])
				}
				return showBrief(c.Context(), c.OutOrStdout(), a, asJSON)
			})
		},
	}
	Flag(c, &dir)
	fs := c.Flags()
	fs.StringVar(&given.ID, "name", "", "another name for it")
	fs.StringVar(&given.Code, "code", "", "the letter that it is driven under")
	fs.StringVar(&given.Size, "size", "", "as marked, without the maker's words: '205/55 R16 91V XL'")
	fs.StringVar(&given.Note, "note", "", "what else is to be known; nothing that gives the tyre away")
	terminal.JSONFlag(c, &asJSON)
	return c
}

func briefAwayCommand() *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use: "away NAME", Short: "take a tyre set out of the programme", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return In(c.Context(), dir, func(a *app.Folder) error {
				if err := a.TakeSet(c.Context(), args[0]); err != nil {
					return err
				}
				return showBrief(c.Context(), c.OutOrStdout(), a, asJSON)
			})
		},
	}
	Flag(c, &dir)
	terminal.JSONFlag(c, &asJSON)
	return c
}

// briefDocument is the JSON of a brief, schema "bookend.brief/1".
type briefDocument struct {
	Schema  string      `json:"schema"`
	Results briefResult `json:"results"`
}

type briefResult struct {
	Programme programme.Programme `json:"programme"`
	Sets      []briefSet          `json:"sets"`
}

type briefSet struct {
	programme.Set
	Typed tyre.Typed `json:"typed,omitzero"` // what its size says, held against the vehicle
	Fast  string     `json:"held,omitempty"` // why it keeps name and code and stays
}

// showBrief prints the brief as it stands.
func showBrief(ctx context.Context, out io.Writer, a *app.Folder, asJSON bool) error {
	s, err := app.Rebuild(ctx, a.Store)
	if err != nil {
		return err
	}
	d := briefDocument{"bookend.brief/1", briefResult{Programme: s.Programme, Sets: []briefSet{}}}
	holds := s.Holds()
	for _, x := range s.Programme.Sets {
		b := briefSet{Set: x, Fast: holds.Fast(s.Programme.Sets, x.ID)}
		if x.Size != "" {
			b.Typed = s.Sidewall(x.Size)
		}
		d.Results.Sets = append(d.Results.Sets, b)
	}
	d.Results.Programme.Sets = nil // they stand beside it, with what their sizes say
	if asJSON {
		return terminal.PrintJSON(out, d)
	}
	p := s.Programme
	var asks []string
	for _, x := range []struct {
		text string
		v    float64
		of   unit.Unit
	}{{"front axle", p.Asked.FrontKg, unit.MustParse("kg")}, {"rear axle", p.Asked.RearKg, unit.MustParse("kg")}, {"top speed", p.Asked.TopMps, unit.KilometrePerHour}} {
		if x.v > 0 {
			asks = append(asks, fmt.Sprintf("%s %s %s", x.text, unit.Number(x.of.FromHouse(x.v), 0, unit.Plain), x.of.Symbol()))
		}
	}
	if p.Asked.TwinRear {
		asks = append(asks, "twin wheels behind")
	}
	for _, x := range [][2]string{{"programme", p.Title}, {"client", p.Client}, {"ground", p.Ground}, {"zone", p.Zone}, {"vehicle", p.Vehicle}, {"it asks", strings.Join(asks, ", ")}, {"question", p.Question}} {
		fmt.Fprintf(out, "%-11s%s\n", x[0], terminal.Wrap(terminal.Or(x[1], "not told"), 68, strings.Repeat(" ", 11)))
	}
	if len(d.Results.Sets) == 0 {
		fmt.Fprintln(out, "\nNo tyre set is listed yet: bookend brief set NAME --code LETTER --size MARKED.")
		return nil
	}
	for _, x := range d.Results.Sets {
		line := fmt.Sprintf("Set %s, driven as %s", x.ID, x.Code)
		if x.Size != "" {
			line += ", " + x.Size
		}
		fmt.Fprintf(out, "\n%s\n", line)
		if x.Note != "" {
			fmt.Fprintln(out, "  "+terminal.Wrap("Note: "+x.Note, 76, "  "))
		}
		for _, f := range x.Typed.Findings {
			text := f.Text
			if f.Standing == tyre.Over {
				text = "Over: " + text
			}
			fmt.Fprintln(out, "  "+terminal.Wrap(text, 76, "  "))
		}
		if x.Fast != "" {
			fmt.Fprintln(out, "  "+terminal.Wrap("It keeps name and code: "+x.Fast+".", 76, "  "))
		}
	}
	return nil
}
