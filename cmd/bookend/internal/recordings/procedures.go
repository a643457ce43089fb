package recordings

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	procedures "example.org/bookend/procedure/all"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// procedureDocument is the JSON of what procedures declare, schema
// "bookend.procedures/1".
type procedureDocument struct {
	Schema   string            `json:"schema"`
	Inputs   []string          `json:"inputs"`
	Settings map[string]string `json:"settings"`
	Results  []programme.Spec  `json:"results"`
	Caveats  []string          `json:"caveats"`
}

// Procedures is the verb procedures: which there are, or all that one of them asks and yields.
func Procedures() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "procedures [PROCEDURE]",
		Short: "say what procedures there are, or what one needs, measures and can be set to",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			d := procedureDocument{Schema: "bookend.procedures/1", Inputs: []string{}, Settings: map[string]string{}, Caveats: []string{}}
			help := ""
			for _, p := range procedures.Procedures() {
				if len(args) == 0 || p.Spec().ID == args[0] {
					d.Results = append(d.Results, p.Spec())
					help = p.Help()
				}
			}
			if len(d.Results) == 0 {
				return fault.New(fault.NotFound, "there is no procedure %q", args[0]).WithHint("see: bookend procedures")
			}
			out := c.OutOrStdout()
			switch {
			case asJSON:
				return terminal.PrintJSON(out, d)
			case len(args) == 0:
				terminal.PrintTable(out, "procedure\tversion\twhat it is", func(w io.Writer) {
					for _, s := range d.Results {
						fmt.Fprintf(w, "%s\t%d\t%s\n", s.ID, s.Version, s.Title)
					}
				})
				fmt.Fprintln(out, "\nMore of one: bookend procedures PROCEDURE")
			default:
				fmt.Fprint(out, narrow(help))
				printSpec(out, d.Results[0])
			}
			return nil
		},
	}
	terminal.JSONFlag(c, &asJSON)
	return c
}

// narrow sets a page of Markdown within 80 columns: paragraphs and items are wrapped
// anew, headings and examples are kept.
func narrow(page string) string {
	var b strings.Builder
	para, indent, example := "", "", false
	flush := func() {
		if para != "" {
			b.WriteString(terminal.Wrap(para, 78, indent) + "\n")
		}
		para, indent = "", ""
	}
	for _, line := range strings.Split(strings.TrimRight(page, "\n"), "\n") {
		switch {
		case strings.HasPrefix(line, "```"):
			flush()
			example = !example
		case example:
			b.WriteString("  " + line + "\n")
		case line == "" || strings.HasPrefix(line, "#"):
			flush()
			b.WriteString(line + "\n")
		case strings.HasPrefix(line, "- "):
			flush()
			para, indent = line, "  "
		default:
			para = strings.TrimSpace(para + " " + strings.TrimSpace(line))
		}
	}
	flush()
	return b.String()
}

// printSpec prints what a procedure declares.
func printSpec(out io.Writer, s programme.Spec) {
	if len(s.Needs) > 0 {
		fmt.Fprintln(out, "\n## Channels")
		fmt.Fprintln(out)
		for _, n := range s.Needs {
			text := fmt.Sprintf("%s, %s, at least %s a second", n.Role, n.Unit, unit.Number(n.LeastHz, 0, unit.Plain))
			if n.Optional == "" {
				text += "; it cannot be done without"
			} else {
				text += ": " + n.Optional
			}
			fmt.Fprintln(out, terminal.Wrap("- "+text, 78, "  "))
		}
	}
	if len(s.Parameters) > 0 {
		fmt.Fprintln(out, "\n## Settings")
		fmt.Fprintln(out)
		for _, p := range s.Parameters {
			words := "--set " + p.ID + "=" + usual(p)
			if p.Flag != "" {
				words += ", or --" + p.Flag
			}
			fmt.Fprintln(out, terminal.Wrap(words, 78, "      "))
			fmt.Fprintln(out, "    "+terminal.Wrap(p.Title+". "+p.About+" "+sourced(p.Source), 74, "    "))
		}
	}
	fmt.Fprintln(out, "\n## Measures")
	fmt.Fprintln(out)
	for _, m := range s.Measures {
		u := m.Unit
		if m.Shown != "" {
			u = m.Shown
		}
		if u == "1" {
			u = "a number"
		}
		better := map[programme.Better]string{programme.Higher: "higher is better", programme.Lower: "lower is better", programme.Nearest: "best in the middle"}[m.Better]
		text := m.ID + ", " + u
		if better != "" {
			text += ", " + better
		}
		fmt.Fprintln(out, terminal.Wrap("- "+text, 78, "  "))
		fmt.Fprintln(out, "    "+terminal.Wrap(m.Title+". "+m.About+" "+sourced(m.Source), 74, "    "))
	}
}

// usual gives a parameter's default as it would be typed, and what else it may be.
func usual(p programme.Parameter) string {
	if len(p.Words) > 0 {
		return strings.Join(p.Words, "|")
	}
	u := unit.MustParse("1")
	if p.Unit != "" {
		u = unit.MustParse(p.Unit)
	}
	if p.Shown != "" {
		u = unit.MustParse(p.Shown)
	}
	number := func(v float64) string {
		v = u.FromHouse(v)
		for digits := range 4 {
			text := unit.Number(v, digits, unit.Plain)
			if back := unit.Number(v, 6, unit.Plain); strings.TrimRight(strings.TrimRight(back, "0"), ".") == text || digits == 3 {
				return text
			}
		}
		return ""
	}
	symbol := u.ASCII()
	if symbol == "1" {
		symbol = ""
	}
	return fmt.Sprintf("%s%s   (%s to %s)", number(p.Default), symbol, number(p.Low), number(p.High))
}

// sourced says where a definition or a default comes from.
func sourced(s programme.Source) string {
	switch s.Key {
	case programme.Own:
		return "(Own choice: " + s.Clause + ".)"
	case programme.CommonPractice:
		return "(Common practice.)"
	}
	if s.Clause == "" {
		return "(" + s.Key + ".)"
	}
	return "(" + s.Key + ": " + s.Clause + ".)"
}
