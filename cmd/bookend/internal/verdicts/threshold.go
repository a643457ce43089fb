package verdicts

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"example.org/bookend/app/testplan"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/compare/threshold"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// thresholdFlags say how attempts at a threshold are told.
type thresholdFlags struct {
	clean, speed, ceiling string
}

func (f *thresholdFlags) add(c *cobra.Command) {
	fs := c.Flags()
	fs.StringVar(&f.clean, "clean", "", "of thresholds: the column that says clean or not, 1 or 0 (clean)")
	fs.StringVar(&f.speed, "speed", "", "of thresholds: the entry speed, where the values say clean or not (entry_speed)")
	fs.StringVar(&f.ceiling, "ceiling", "", "of thresholds: highest entry speed that the ground allows, set beforehand: 90km/h")
}

// apply puts into settings what was typed.
func (f *thresholdFlags) apply(s *compare.Settings) error {
	if f.clean != "" {
		s.Clean = f.clean
	}
	if f.speed != "" {
		s.Speed = f.speed
	}
	if f.ceiling == "" {
		return nil
	}
	v, err := testplan.ParseCeiling(f.ceiling)
	if err != nil {
		return fault.At(err, "--ceiling")
	}
	s.Ceiling = &v
	return nil
}

// onlyThresholds refuses what was typed of thresholds where none is compared.
func (f *thresholdFlags) onlyThresholds(scale programme.Scale) error {
	if scale == programme.Threshold || f.clean == "" && f.speed == "" && f.ceiling == "" {
		return nil
	}
	return fault.New(fault.Invalid, "--clean, --speed and --ceiling belong to thresholds").WithHint("--scale threshold")
}

// printThresholds says what the attempts of each stint show.
func printThresholds(out io.Writer, r *compare.Result) {
	s := shownIn(r)
	if !slices.ContainsFunc(r.Stints, func(st compare.Stint) bool { return st.Threshold != nil }) {
		return
	}
	fmt.Fprintf(out, "\nThresholds%s: entry speed at which half of a stint's attempts are clean.\n", s.words())
	terminal.PrintTable(out, "stint\tcode\tattempts\tclean\tthreshold\tits attempts' error\tstep", func(w io.Writer) {
		for _, st := range r.Stints {
			l := st.Threshold
			if l == nil {
				continue
			}
			v := unit.Number(s.value(l.Speed), 1, unit.Plain)
			if side := map[threshold.Side]string{threshold.Above: "at least ", threshold.Below: "at most "}[l.Side]; side != "" {
				v = side + v
			}
			fmt.Fprintf(w, "%s\t%s\t%d\t%d\t%s\t%s\t%s\n", st.ID, st.Code, l.Attempts, l.Clean, v, unit.Number(s.by(l.SE), 1, unit.Plain), unit.Number(s.by(l.Step), 1, unit.Plain))
		}
	})
}

// shown is the unit in which a result's values are read.
type shown struct{ u unit.Unit }

// shownIn gives the unit of a result's values; none where the measure has none.
func shownIn(r *compare.Result) shown {
	for _, symbol := range []string{r.Measure.Shown, r.Measure.Unit} {
		if u, ok := unit.Known(symbol); ok && symbol != "" && u.Symbol() != "" {
			return shown{u}
		}
	}
	return shown{}
}

// words gives " in km/h", or nothing.
func (s shown) words() string {
	if s.u.IsZero() {
		return ""
	}
	return " in " + s.u.ASCII()
}

func (s shown) value(x float64) float64 {
	if s.u.IsZero() {
		return x
	}
	return s.u.FromHouse(x)
}

// by gives a difference.
func (s shown) by(d float64) float64 {
	if s.u.IsZero() {
		return d
	}
	return s.u.DifferenceFromHouse(d)
}

// maybe gives a difference that may not be there.
func (s shown) maybe(d *float64) *float64 {
	if d == nil {
		return nil
	}
	v := s.by(*d)
	return &v
}
