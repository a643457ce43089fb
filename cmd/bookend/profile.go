package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// profileFlags ask for a regulation's way of comparing.
type profileFlags struct {
	id, value           string
	categories, surface []string
}

func (f *profileFlags) add(c *cobra.Command) {
	var ids []string
	for _, p := range compare.Profiles() {
		ids = append(ids, p.ID)
	}
	fs := c.Flags()
	fs.StringVar(&f.id, "profile", "", "a regulation's block, indicative: "+strings.Join(ids, ", "))
	fs.StringVar(&f.value, "value", "", "what the profile's values are: distance, deceleration or coefficient")
	fs.StringSliceVar(&f.categories, "category", nil, "tyres that are not normal: P=snow")
	fs.StringSliceVar(&f.surface, "surface", nil, "wetted surface temperature by code, °C: P=18.2")
}

// settings gives the profile as asked for; nil where none was.
func (f profileFlags) settings() (*compare.ProfileSettings, error) {
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

// printRegulation prints a regulation's block, and why it is indicative.
func printRegulation(out io.Writer, b *compare.RegulationBlock, validity []compare.Finding) {
	fmt.Fprintf(out, "\n%s\n\n", wrap(b.Profile.Title, 78, ""))
	printTable(out, "stint\tcode\tmean\tCV, %\tcontrol\tratio\tindex\tclass", func(w io.Writer) {
		for _, r := range b.Rows {
			class := r.Class
			if !r.Stands {
				class = "does not stand"
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", r.Stint, r.Code, unit.Number(r.Mean, 4, unit.Plain), maybe(r.CV, 2),
				unit.Number(r.Weighted, 4, unit.Plain), unit.Number(r.Ratio, 4, unit.Plain), maybe(r.Index, 4), or(class, "none"))
		}
	})
	fmt.Fprintln(out)
	if b.Discarded {
		fmt.Fprintln(out, "The control's scatter is over its limit: nothing of the block stands.")
	}
	for _, r := range b.Rows {
		for _, why := range r.Why {
			fmt.Fprintln(out, wrap(fmt.Sprintf("Stint %s, %s: %s", r.Stint, r.Code, why), 78, "   "))
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
		fmt.Fprintln(out, wrap("Indicative: "+why, 78, "   "))
	}
}
