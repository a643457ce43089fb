package orders

import (
	"bytes"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"example.org/bookend/app/coneplan"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/order/cones"
	"example.org/bookend/unit"
)

// Cones is the verb cones: where the cones of a manoeuvre stand for a vehicle of some width.
func Cones() *cobra.Command {
	var width, apart, base, spacing, at, exit, drawing, table, gpx string
	var heading float64
	var markers int
	var right, asJSON bool
	c := &cobra.Command{
		Use:   "cones LAYOUT",
		Short: "where cones stand: slalom and both lane changes of ISO 3888, for a vehicle's width",
		Long: `Where cones stand, for a vehicle's width: iso-3888-1 (double lane change),
iso-3888-2 (obstacle avoidance) or slalom. The table gives the centre of each
cone, its station along the axis and its offset to the left, from the middle of
the entry; with --at and --heading latitude and longitude too.`,
		Example: `  bookend cones iso-3888-2 --width 1.82m --drawing avoid.svg
  bookend cones slalom --width 1.82m --markers 8 --spacing 18m \
    --at 57.1,-4.5 --heading 92 --gpx slalom.gpx`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			q := coneplan.Request{Request: cones.Request{Kind: cones.Kind(args[0]), Right: right, Markers: markers, Exit: cones.Exit(exit)}}
			if width == "" {
				return fault.New(fault.Invalid, "the vehicle's width is not told").WithHint("without mirrors, for example --width 1.82m")
			}
			var err error
			for _, d := range []struct {
				flag, text string
				to         *float64
			}{{"--width", width, &q.WidthM}, {"--apart", apart, &q.ApartM}, {"--base", base, &q.BaseM}, {"--spacing", spacing, &q.SpaceM}} {
				if d.text == "" {
					continue
				}
				if *d.to, err = quantity(d.flag, d.text, unit.Metre, "1.82m"); err != nil {
					return err
				}
			}
			if at != "" {
				lat, lon, err := place(at)
				if err != nil {
					return err
				}
				if !c.Flags().Changed("heading") {
					return fault.New(fault.Invalid, "--at: it is not told which way the axis looks from there").WithHint("for example --at 57.1,-4.5 --heading 92")
				}
				q.At = &coneplan.At{LatitudeDeg: lat, LongitudeDeg: lon, HeadingDeg: heading}
			}
			a, err := coneplan.Cones(q)
			if err != nil {
				return err
			}
			for _, f := range []struct {
				path  string
				write func(io.Writer) error
			}{{drawing, a.Drawing}, {table, a.Table}, {gpx, a.GPX}} {
				if f.path == "" {
					continue
				}
				var b bytes.Buffer
				if err := f.write(&b); err != nil {
					return err
				}
				if err := terminal.Put(f.path, b.Bytes()); err != nil {
					return err
				}
			}
			return terminal.Answer(c.OutOrStdout(), asJSON, a.Document(), func(out io.Writer) { printCones(out, a) })
		},
	}
	fs := c.Flags()
	fs.SortFlags = false
	fs.StringVar(&width, "width", "", "of the vehicle, without mirrors: 1.82m")
	fs.BoolVar(&right, "right", false, "the first change is to the right")
	fs.StringVar(&apart, "apart", "", "of cones along a lane, at most; 5 m")
	fs.StringVar(&base, "base", "", "diameter of a cone's base; 0.3 m")
	fs.IntVar(&markers, "markers", 0, "of the slalom; 7")
	fs.StringVar(&spacing, "spacing", "", "from marker to marker; 18 m")
	fs.StringVar(&exit, "exit", "", "of ISO 3888-2 its exit lane: at_least_3_m (default), at_most_3_m or not_bounded")
	fs.StringVar(&at, "at", "", "LAT,LON of the middle of the entry, in degrees")
	fs.Float64Var(&heading, "heading", 0, "of the axis, in degrees from true north to the east")
	fs.StringVar(&drawing, "drawing", "", "write a drawing to scale: FILE.svg")
	fs.StringVar(&table, "table", "", "write the places: FILE.csv")
	fs.StringVar(&gpx, "gpx", "", "write the places as waypoints: FILE.gpx")
	terminal.JSONFlag(c, &asJSON)
	return c
}

// printCones prints the table of places within 80 columns.
func printCones(out io.Writer, a *coneplan.Answer) {
	fmt.Fprintf(out, "%s, for a vehicle %s m wide: %s m long.\n\n", a.Title, unit.Number(a.Request.WidthM, 2, unit.Plain), unit.Shortest(a.LengthM))
	n := func(x float64) string { return unit.Number(x, 2, unit.Plain) }
	terminal.PrintTable(out, "lane\tfrom, m\tto, m\tright, m\tleft, m\twidth, m", func(w io.Writer) {
		for _, l := range a.Lanes {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", l.Name, n(l.From), n(l.To), n(l.Right), n(l.Left), n(l.Width()))
		}
	})
	fmt.Fprintln(out)
	head := "cone\tof\tside\tstation, m\toffset, m"
	if a.Places != nil {
		head += "\tlatitude\tlongitude"
	}
	terminal.PrintTable(out, head, func(w io.Writer) {
		for i, c := range a.Cones {
			fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s", c.Number, c.Of, c.Side, n(c.Station), n(c.Offset))
			if a.Places != nil {
				fmt.Fprintf(w, "\t%.7f\t%.7f", a.Places[i][0], a.Places[i][1])
			}
			fmt.Fprintln(w)
		}
	})
	fmt.Fprintln(out)
	for _, note := range a.Notes {
		fmt.Fprintln(out, terminal.Wrap(note, 78, ""))
	}
	fmt.Fprintln(out, terminal.Wrap("Evasive tests can injure: a closed course, its run-off checked, a briefed driver, and the ground's rules first.", 78, ""))
}
