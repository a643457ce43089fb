package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	procedures "example.org/bookend/procedure/all"
	"example.org/bookend/store/sqlite"
)

// verbs are what bookend does, in the order of the job.
var verbs = []struct{ id, title, list string }{
	{"begin", "Begin:", "demo new ground people serve copy verify"},
	{"before", "Before the day:", "brief test sets codes procedures order cones plan"},
	{"day", "On the day:", "log advise interim"},
	{"recordings", "Recordings and tables:", "intake check reduce import assign recut exclude"},
	{"answer", "The answer:", "compare ratings explain link report signoff record"},
	{"else", "Besides:", "completion help"},
}

// width is that of a terminal, in letters.
const width = 80

// arrange puts the verbs into the order of the job, and help into lines that a terminal
// holds.
func arrange(root *cobra.Command) {
	cobra.EnableCommandSorting = false
	cobra.AddTemplateFunc("beside", beside)
	cobra.AddTemplateFunc("filled", filled)
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	by := map[string]*cobra.Command{}
	for _, c := range root.Commands() {
		by[c.Name()] = c
		root.RemoveCommand(c)
	}
	by["completion"].Short = "write the script with which a shell completes bookend's words"
	by["completion"].Long = `Write the script with which a shell completes verbs and flags. For bash, now and
in every later shell:

  source <(bookend completion bash)
  bookend completion bash > ~/.local/share/bash-completion/completions/bookend`
	for _, shell := range by["completion"].Commands() {
		shell.Example = "  bookend completion " + shell.Name()
	}
	by["help"].Short = "say what a verb does and which flags it takes"
	for _, g := range verbs {
		root.AddGroup(&cobra.Group{ID: g.id, Title: g.title})
		for _, name := range strings.Fields(g.list) {
			c, ok := by[name]
			if !ok {
				panic("bookend: the help lists a verb that there is not: " + name)
			}
			c.GroupID = g.id
			root.AddCommand(c)
			delete(by, name)
		}
	}
	for name := range by {
		panic("bookend: the help lists no verb " + name)
	}
	each(root, refuse)
	each(root, completed)
	root.SetUsageTemplate(usage)
	root.SetHelpTemplate(`{{with (or .Long .Short)}}{{. | filled}}

{{end}}{{if or .Runnable .HasSubCommands}}{{.UsageString}}{{end}}`)
}

// each does something to a command and to all below it, the completion's scripts aside.
func each(c *cobra.Command, do func(*cobra.Command)) {
	do(c)
	for _, below := range c.Commands() {
		if c.Name() != "completion" {
			each(below, do)
		}
	}
}

// refuse lets a command say in the house's words what is named that it does not take, or
// what it takes and is not named. A verb that only gathers others names them.
func refuse(c *cobra.Command) {
	if c.HasSubCommands() && !c.Runnable() {
		c.RunE = func(c *cobra.Command, _ []string) error { return c.Help() }
		c.Args = cobra.NoArgs
	}
	accepts := c.Args
	if accepts == nil {
		return
	}
	c.Args = func(c *cobra.Command, args []string) error {
		if accepts(c, args) == nil {
			return nil
		}
		name := strings.TrimPrefix(c.CommandPath(), c.Root().Name()+" ")
		if c.HasSubCommands() && len(args) > 0 {
			err := fault.New(fault.Invalid, "%s has no verb %q", name, args[0])
			if !c.HasParent() {
				err = fault.New(fault.Invalid, "there is no verb %q", args[0])
			}
			if like := c.SuggestionsFor(args[0]); len(like) > 0 {
				return err.WithHint("did you mean %s? see: %s --help", strings.Join(like, " or "), c.CommandPath())
			}
			return err.WithHint("see: %s --help", c.CommandPath())
		}
		takes := "takes no names"
		var names []string
		for _, w := range strings.Fields(c.Use)[1:] {
			if strings.ToUpper(w[:1]) != strings.ToLower(w[:1]) || strings.HasPrefix(w, "[") {
				names = append(names, w)
				continue
			}
			break // flags
		}
		if len(names) > 0 {
			takes = "takes " + strings.Join(names, " ")
		}
		given := "none is named"
		switch len(args) {
		case 0:
		case 1:
			given = args[0] + " is named"
		default:
			given = strings.Join(args, " ") + " are named"
		}
		return fault.New(fault.Invalid, "%s %s, and %s", name, takes, given).WithHint("see: %s --help", c.CommandPath())
	}
}

// fixed are the words that flags take, for a shell to complete.
var fixed = map[string][]string{
	"average": {"means", "logs"}, "better": {"higher", "lower"}, "by": {"position", "clock"}, "drift": {"none", "bracket", "linear", "quadratic"},
	"drift-per-block": {"none", "linear", "quadratic"}, "model": {"stint_means", "mixed"}, "record": {"used", "none"}, "reference": {"first", "mean"},
	"role": {"lead", "driver", "fitter", "engineer", "client"}, "scale": {"ratio", "difference", "count", "threshold"}, "sheet": {"free", "anchored"},
	"sided": {"two", "one"}, "tyre-by-block": {"error", "common", "each"}, "when": {"always", "if_shown"},
}

// completed lets a shell complete what a command's flags take: fixed words, procedures, and
// the tests of the programme in this folder.
func completed(c *cobra.Command) {
	give := func(name string, list func() []string) {
		if c.Flags().Lookup(name) == nil {
			return
		}
		_ = c.RegisterFlagCompletionFunc(name, func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return list(), cobra.ShellCompDirectiveNoFileComp
		}) // it fails for a flag that has one already
	}
	for name, list := range fixed {
		give(name, func() []string { return list })
	}
	give("procedure", func() []string {
		var ids []string
		for _, p := range procedures.Procedures() {
			ids = append(ids, p.Spec().ID)
		}
		return ids
	})
	give("test", func() []string {
		var ids []string
		if _, err := os.Stat(sqlite.File); err != nil {
			return nil
		}
		_ = folders.In(context.Background(), ".", func(a *app.Folder) error { // a shell has nobody to tell an error
			s, err := app.Rebuild(context.Background(), a.Store)
			if err != nil {
				return err
			}
			for _, t := range s.Tests {
				ids = append(ids, t.Test.ID)
			}
			return nil
		})
		return ids
	})
}

// beside writes a verb with what it does, which goes on below itself where a line is full.
func beside(name string, padding int, what string) string {
	return fmt.Sprintf("  %-*s %s", padding, name, terminal.Wrap(what, width-padding-3, strings.Repeat(" ", padding+3)))
}

// filled breaks paragraphs that have a line too long; what is indented, examples and
// tables, stays.
func filled(text string) string {
	paragraphs := strings.Split(strings.TrimSpace(text), "\n\n")
	for i, p := range paragraphs {
		long := false
		for _, line := range strings.Split(p, "\n") {
			long = long || len([]rune(line)) > width
			if strings.HasPrefix(line, " ") {
				long = false
				break
			}
		}
		if long {
			paragraphs[i] = terminal.Wrap(p, width, "")
		}
	}
	return strings.Join(paragraphs, "\n\n")
}

// usage is what help says below a verb's own words.
const usage = `Usage:{{if .Runnable}}
  {{.UseLine}}{{end}}{{if .HasAvailableSubCommands}}
  {{.CommandPath}} [command]{{end}}{{if .HasExample}}

Examples:
{{.Example}}{{end}}{{if .HasAvailableSubCommands}}{{$all := .Commands}}{{if not .Groups}}

Commands:{{range $all}}{{if .IsAvailableCommand}}
{{beside .Name .NamePadding .Short}}{{end}}{{end}}{{end}}{{range $group := .Groups}}

{{.Title}}{{range $all}}{{if and (eq .GroupID $group.ID) (or .IsAvailableCommand (eq .Name "help"))}}
{{beside .Name .NamePadding .Short}}{{end}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{.LocalFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

Global flags:
{{.InheritedFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableSubCommands}}

More of one: {{.CommandPath}} [command] --help{{end}}
`
