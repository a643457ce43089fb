package main

import (
	_ "embed"
	"fmt"

	"github.com/spf13/cobra"
)

// demoTable is an invented day of wet stops at Skerry Moor: distances from 80 to
// 20 km/h, the control K growing longer as the day goes on.
//
//go:embed demo.csv
var demoTable []byte

func demoCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "demo",
		Short: "compare two candidates on a small invented day of wet stops",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			fmt.Fprint(c.OutOrStdout(), "Invented: wet stops at Skerry Moor, distance from 80 to 20 km/h.\n\n")
			f := compareFlags{
				control: "K", better: "lower", margin: "1", drift: "bracket", perBlock: "none",
				by: "position", scale: "ratio", reference: "first", when: "always", sided: "two",
			}
			if err := f.run("demo.csv", demoTable, c.OutOrStdout()); err != nil {
				return err
			}
			fmt.Fprint(c.OutOrStdout(), "\n"+cautions)
			return nil
		},
	}
}

const cautions = `Wet and limit-handling tests injure people. Drive on a closed course, briefed
and qualified, with belts, helmet, marshals and recovery; the proving ground's
rules, local codes and licensed practice come first. Nothing here calls a tyre
safe.
`
