package serving

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"example.org/bookend/app/sight"
	"example.org/bookend/cmd/bookend/internal/folders"
	"example.org/bookend/cmd/bookend/internal/terminal"
	"example.org/bookend/fault"
	"example.org/bookend/store/people"
)

// People is the verb people: names, roles and passwords of those who sign in to the pages.
func People() *cobra.Command {
	c := &cobra.Command{
		Use:   "people",
		Short: "say who may sign in to the pages, and in which role",
		Long: `Say who may sign in to the pages that bookend serve shows to tablets, and in
which role. Passwords are kept as argon2id hashes alone, in a file of the folder
that is no part of copies and exports.

Roles: lead sees everything; driver drives and rates, and sees neither times nor
verdicts nor which code is the control; fitter holds the key and sees the sets;
engineer sees all but identities; client sees the report.`,
	}
	c.AddCommand(peopleAdd(), peopleList(), peopleRemove())
	return c
}

func peopleAdd() *cobra.Command {
	var dir, role string
	var asJSON bool
	c := &cobra.Command{
		Use: "add NAME", Short: "let somebody sign in; the password is read from standard input", Args: cobra.ExactArgs(1),
		Example: `  bookend people add "I. Rask" --role lead`,
		RunE: func(c *cobra.Command, args []string) error {
			r, err := sight.Parse(role)
			if err != nil {
				return fault.At(err, "--role")
			}
			if err := folderIs(dir); err != nil {
				return err
			}
			if f, ok := c.InOrStdin().(*os.File); ok {
				if i, err := f.Stat(); err == nil && i.Mode()&os.ModeCharDevice != 0 {
					fmt.Fprintf(c.ErrOrStderr(), "Password of %s, at least %d characters: ", args[0], people.LeastPassword)
				}
			}
			password, err := bufio.NewReader(c.InOrStdin()).ReadString('\n')
			if password = strings.TrimRight(password, "\r\n"); password == "" {
				return fault.New(fault.Invalid, "no password came on standard input: %w", err).WithHint("type it, or pipe it in")
			}
			if err := people.In(dir).Add(args[0], string(r), password); err != nil {
				return err
			}
			if asJSON {
				return printPeople(c.OutOrStdout(), dir)
			}
			fmt.Fprintf(c.OutOrStdout(), "%s may sign in as %s.\n", args[0], r)
			return nil
		},
	}
	folders.Flag(c, &dir)
	c.Flags().StringVar(&role, "role", "", "lead, driver, fitter, engineer or client")
	c.Flags().BoolVar(&asJSON, "json", false, "print who may sign in then, as one JSON object")
	return c
}

// folderIs says so where a folder is none.
func folderIs(dir string) error {
	if i, err := os.Stat(dir); err != nil || !i.IsDir() {
		return fault.New(fault.NotFound, "there is no such folder").At("%s", dir).WithHint("name the folder that bookend serve shows")
	}
	return nil
}

func peopleList() *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use: "list", Short: "show who may sign in", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			all, err := people.In(dir).List()
			if err != nil {
				return err
			}
			if asJSON {
				return printPeople(c.OutOrStdout(), dir)
			}
			if len(all) == 0 {
				fmt.Fprintln(c.OutOrStdout(), "Nobody may sign in yet: bookend people add NAME --role lead")
			}
			for _, p := range all {
				fmt.Fprintf(c.OutOrStdout(), "%-9s %s\n", p.Role, p.Name)
			}
			return nil
		},
	}
	folders.Flag(c, &dir)
	terminal.JSONFlag(c, &asJSON)
	return c
}

// printPeople prints who may sign in, schema "bookend.people_list/1".
func printPeople(to io.Writer, dir string) error {
	all, err := people.In(dir).List()
	if err != nil {
		return err
	}
	type one struct {
		Name string `json:"name"`
		Role string `json:"role"`
	}
	out := struct {
		Schema  string `json:"schema"`
		Results []one  `json:"results"`
	}{"bookend.people_list/1", []one{}}
	for _, p := range all {
		out.Results = append(out.Results, one{p.Name, p.Role})
	}
	return terminal.PrintJSON(to, out)
}

func peopleRemove() *cobra.Command {
	var dir string
	var asJSON bool
	c := &cobra.Command{
		Use: "remove NAME", Short: "let somebody sign in no longer", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := people.In(dir).Remove(args[0]); err != nil {
				return err
			}
			if asJSON {
				return printPeople(c.OutOrStdout(), dir)
			}
			fmt.Fprintf(c.OutOrStdout(), "%s may sign in no longer. Whoever is signed in stays so until bookend serve ends.\n", args[0])
			return nil
		},
	}
	folders.Flag(c, &dir)
	c.Flags().BoolVar(&asJSON, "json", false, "print who may sign in then, as one JSON object")
	return c
}
