package verdicts

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app/logger"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/compare"
	"example.org/bookend/compare/edition"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// ProfileFlags ask for a regulation's way of comparing.
type ProfileFlags struct {
	id, value           string
	categories, surface []string
	beside              []string
	Limits              string
}

func (f *ProfileFlags) add(c *cobra.Command) {
	var ids []string
	for _, p := range compare.Profiles() {
		ids = append(ids, p.ID)
	}
	fs := c.Flags()
	fs.StringVar(&f.id, "profile", "", "a regulation's block, indicative: "+strings.Join(ids, ", "))
	fs.StringVar(&f.value, "value", "", "what the profile's values are: distance, deceleration or coefficient")
	fs.StringSliceVar(&f.categories, "category", nil, "tyres that are not normal: P=snow")
	fs.StringSliceVar(&f.beside, "beside", nil, "other editions whose limits are held beside, by their ids")
	fs.StringVar(&f.Limits, "limits", "", "the evaluator's own profile of limits (JSON), held beside")
	fs.StringSliceVar(&f.surface, "surface", nil, "wetted surface temperature by code, °C: P=18.2")
}

// settings gives the profile as asked for; nil where none was.
func (f ProfileFlags) settings() (*compare.ProfileSettings, error) {
	if f.id == "" {
		if f.value != "" || len(f.categories) > 0 || len(f.surface) > 0 {
			return nil, fault.New(fault.Invalid, "--value, --category and --surface belong to a profile").WithHint("name it with --profile")
		}
		return nil, nil
	}
	values := []compare.Quantity{compare.Distance, compare.Deceleration, compare.Coefficient}
	p := &compare.ProfileSettings{ID: f.id, Value: compare.Quantity(f.value), Categories: map[string]string{}, SurfaceC: map[string]float64{}}
	if p.Value == "" {
		p.Value = compare.Deceleration
	}
	if !slices.Contains(values, p.Value) {
		return nil, fault.New(fault.Invalid, "--value: %q is none", f.value).WithHint("distance, deceleration or coefficient")
	}
	for _, pair := range f.categories {
		code, category, ok := strings.Cut(pair, "=")
		if !ok {
			return nil, fault.New(fault.Invalid, "--category: %q is not CODE=CATEGORY", pair).WithHint("for example --category P=snow")
		}
		p.Categories[code] = category
	}
	for _, pair := range f.surface {
		code, text, ok := strings.Cut(pair, "=")
		v, err := strconv.ParseFloat(text, 64)
		if !ok || err != nil || v < -60 || v > 90 {
			return nil, fault.New(fault.Invalid, "--surface: %q is not CODE=TEMPERATURE", pair).WithHint("in °C, for example --surface P=18.2")
		}
		p.SurfaceC[code] = v
	}
	return p, nil
}

// Held gives the profiles whose limits are held beside the one followed.
func (f ProfileFlags) Held() ([]programme.Profile, error) {
	var out []programme.Profile
	for _, id := range f.beside {
		out = append(out, programme.Profile{ID: id})
	}
	if f.Limits == "" {
		return out, nil
	}
	data, err := logger.ReadTable(f.Limits)
	if err != nil {
		return nil, fault.At(err, "--limits")
	}
	var own programme.Profile
	if err := terminal.ReadObject(filepath.Base(f.Limits), data, &own, "profile", `{"id": "house", "title": "House rules", "limits": [{"field": "cv", "high": 2, "unit": "%"}]}`); err != nil {
		return nil, err
	}
	return append(out, own), nil
}

// printLimits holds profiles side by side: each limit, how it was kept, by whom it
// is asked.
func printLimits(out io.Writer, r *compare.Result) {
	if len(r.Settings.Profiles) == 0 {
		return
	}
	fmt.Fprintln(out)
	terminal.PrintTable(out, "limit\tbounds\tkept\tbroken\tmissing\tclause", func(w io.Writer) {
		for _, l := range edition.SideBySide(r.Validity) {
			of := l.Of
			if of == "" {
				of = "all"
			}
			fmt.Fprintf(w, "%s, %s\t\t\t\t\t\n", strings.TrimSuffix(l.Field, "_"+l.Unit), of)
			for _, c := range l.Cells {
				bounds := ""
				switch {
				case c.Low != nil && c.High != nil:
					bounds = fmt.Sprintf("%.4g to %.4g %s", *c.Low, *c.High, l.Unit)
				case c.Low != nil:
					bounds = fmt.Sprintf("from %.4g %s", *c.Low, l.Unit)
				case c.High != nil:
					bounds = fmt.Sprintf("to %.4g %s", *c.High, l.Unit)
				}
				fmt.Fprintf(w, "  %s\t%s\t%d\t%d\t%d\t%s\n", terminal.Or(c.Profile, "own"), strings.TrimSpace(bounds), c.Within, c.Broken, c.Missing, clause(c.Source))
			}
		}
	})
}

// clause gives where a limit stands, as far as a narrow table has room.
func clause(s programme.Source) string {
	switch s.Key {
	case programme.Own:
		return "own"
	case programme.CommonPractice:
		return "common"
	}
	text := []rune(s.Clause)
	if len(text) > 10 {
		return string(text[:9]) + "…"
	}
	return s.Clause
}

// printRegulation prints a regulation's block, and why it is indicative.
func printRegulation(out io.Writer, b *compare.RegulationBlock, validity []compare.Finding) {
	fmt.Fprintf(out, "\n%s\n\n", terminal.Wrap(b.Profile.Title, 78, ""))
	terminal.PrintTable(out, "stint\tcode\tmean\tCV, %\tcontrol\tratio\tindex\tclass", func(w io.Writer) {
		for _, r := range b.Rows {
			class := r.Class
			if !r.Stands {
				class = "does not stand"
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", r.Stint, r.Code, unit.Number(r.Mean, 4, unit.Plain), terminal.Maybe(r.CV, 2),
				unit.Number(r.Weighted, 4, unit.Plain), unit.Number(r.Ratio, 4, unit.Plain), terminal.Maybe(r.Index, 4), terminal.Or(class, "none"))
		}
	})
	fmt.Fprintln(out)
	if b.Discarded {
		fmt.Fprintln(out, "The control's scatter is over its limit: nothing of the block stands.")
	}
	for _, r := range b.Rows {
		for _, why := range r.Why {
			fmt.Fprintln(out, terminal.Wrap(fmt.Sprintf("Stint %s, %s: %s", r.Stint, r.Code, why), 78, "   "))
		}
	}
	broken := 0
	for _, f := range validity {
		if f.Standing == programme.Broken {
			broken++
		}
	}
	fmt.Fprintf(out, "Limits broken: %d of %d.\n", broken, len(validity))
	for _, why := range b.Indicative {
		fmt.Fprintln(out, terminal.Wrap("Indicative: "+why, 78, "   "))
	}
}
