package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// examples are what --help shows of commands whose own description shows none, by
// the words behind bookend. They stand together so that the names in them stay
// those of one programme.
var examples = map[string][]string{
	"assign":     {"bookend assign stint05.csv --test wet-stop --stint 5 \\\n    --reason 'the log has 4 and 5 exchanged'"},
	"brief away": {"bookend brief away P1"},
	"brief set":  {"bookend brief set P1 --code P --size '205/65 R16C 107/105T'"},
	"check": {
		"bookend check stint05.csv",
		"bookend check gnss.csv can.csv --date 2026-05-13 --zone Europe/London",
	},
	"codes draw": {"bookend codes draw TYRES.csv --passphrase-file KEY.txt"},
	"codes open": {"bookend codes open --passphrase-file KEY.txt --reason 'all sheets are closed'"},
	"codes seal": {"bookend codes seal TYRES.csv --passphrase-file KEY.txt"},
	"codes who":  {"bookend codes who"},
	"compare": {
		"bookend compare STOPS.csv --control K --better lower --margin 1",
		"bookend compare LAPS.csv --control K --better lower \\\n    --columns 'value=lap time (s)'",
		"bookend compare RATED.csv --control K --better higher --scale difference",
		"bookend compare --test wet-stop --json",
	},
	"copy": {"bookend copy ../for-the-client"},
	"demo": {
		"bookend demo --short",
		"bookend demo --folder two-days",
	},
	"exclude": {
		"bookend exclude 2/2 --test wet-stop --reason 'puddle at the middle spot'",
		"bookend exclude 2/2 --test wet-stop --back --reason 'the wrong run was named'",
	},
	"explain":    {"bookend explain --control K"},
	"ground":     {"bookend ground new skerry-moor --zone Europe/London"},
	"help":       {"bookend help compare"},
	"people":     {"bookend people add 'I. Rask' --role lead"},
	"ground new": {"bookend ground new skerry-moor --zone Europe/London"},
	"import": {
		"bookend import RUNLOG.csv stint1.csv stint2.csv --test wet-stop \\\n    --procedure braking",
		"bookend import STOPS.csv --test wet-stop --better lower",
	},
	"intake":        {"bookend intake --test wet-stop --second /media/second"},
	"interim":       {"bookend interim wet-stop"},
	"link":          {"bookend link FIRST.csv SECOND.csv --control K --second-control K --link P \\\n    --better lower"},
	"log driven":    {"bookend log driven --test wet-stop"},
	"log erase":     {"bookend log erase 57acb002f361add0 --reason 'a voice that is not to be kept'"},
	"log export":    {"bookend log export tables"},
	"log import":    {"bookend log import conditions WEATHER.csv"},
	"log limits":    {"bookend log limits --test wet-stop"},
	"log replanned": {"bookend log replanned PLAN.json --test wet-stop --incident '#12'"},
	"log show":      {"bookend log show --test wet-stop --kind conditions"},
	"log take":      {"bookend log take tablet.jsonl"},
	"log withdraw":  {"bookend log withdraw '#12'"},
	"new":           {"bookend new skerry-moor --title 'Wet stops' --ground 'Skerry Moor' \\\n    --zone Europe/London"},
	"people list":   {"bookend people list"},
	"people remove": {"bookend people remove 'I. Rask'"},
	"plan draft":    {"bookend plan draft --test wet-stop --control K --first braking_distance \\\n    --margin 1"},
	"plan freeze":   {"bookend plan freeze plan.json"},
	"plan show":     {"bookend plan show plan.json"},
	"procedures":    {"bookend procedures braking"},
	"ratings": {
		"bookend ratings SHEETS.csv --control K --blind-control D --margin 0.5",
		"bookend ratings SHEETS.csv --control K --best-at steering_effort=6 \\\n    --weights grip=3,comfort=1",
	},
	"record":         {"bookend record --measure braking_distance"},
	"record refresh": {"bookend record refresh --test wet-stop"},
	"reduce": {
		"bookend reduce stops.csv --procedure braking --from 80 --to 20",
		"bookend reduce laps.csv --procedure lap --gate 50.001,8.003,50.001,8.002",
	},
	"report": {
		"bookend report STOPS.csv --control K --better lower --margin 1 \\\n    --out report.html",
		"bookend report --out report.html",
	},
	"signoff": {"bookend signoff --test wet-stop --control K"},
	"test": {
		"bookend test wet-stop --surface 'basalt, wetted' --control-type 'type 2'",
		"bookend test wet-stop --procedure braking --from 80 --to 20",
	},
	"verify": {"bookend verify"},
}

// show puts the examples under every command below c that has none of its own.
func show(c *cobra.Command) {
	if lines := examples[strings.TrimPrefix(c.CommandPath(), "bookend ")]; c.Example == "" && len(lines) > 0 {
		c.Example = "  " + strings.Join(lines, "\n  ")
	}
	for _, below := range c.Commands() {
		show(below)
	}
}
