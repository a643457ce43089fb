// Package folders opens a programme's or a ground's folder for a verb, and holds the
// verbs about the folder itself: begin it, brief it, leave a run out, verify it, say
// where it stands.
//
// Here alone the command line's author, device and shelf of procedures and readers
// are named.
package folders

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"example.org/bookend/app"
	"example.org/bookend/app/logger"
	"example.org/bookend/cmd/bookend/internal/terminal"
	readers "example.org/bookend/ingest/all"
	procedures "example.org/bookend/procedure/all"
	"example.org/bookend/programme"
	"example.org/bookend/store/sealed"
	"example.org/bookend/store/sqlite"
)

// Version of bookend, as derivations name it.
const Version = "0.1.0"

// Shelf gives the procedures and readers that this build has.
func Shelf() logger.Shelf {
	return logger.Shelf{Readers: readers.Readers(), Procedures: procedures.Procedures(), Version: Version}
}

// device names this command in the counters of entries.
const device = "command line"

// Author gives whom entries are by: BOOKEND_AUTHOR, or the lead.
func Author() string {
	if name := os.Getenv("BOOKEND_AUTHOR"); name != "" {
		return name
	}
	return "lead"
}

// Of gives the programme of a store that is open.
func Of(s app.Store) *app.Folder {
	return &app.Folder{Store: s, Shelf: Shelf(), Author: Author(), Device: device, Now: time.Now}
}

// Close closes a store; that it fails is the error, where there is none yet.
func Close(s io.Closer, err *error) {
	if e := s.Close(); *err == nil {
		*err = e
	}
}

// Headed gives what is begun in a folder the folder's name where it has no title, and
// refuses a zone that is none before anything is written.
func Headed(title *string, zone, folder string) error {
	if *title == "" {
		*title = filepath.Base(filepath.Clean(folder))
	}
	if zone == "" {
		return nil
	}
	_, err := terminal.Zone(zone)
	return err
}

// In opens the programme in dir, calls use, and closes it.
func In(ctx context.Context, dir string, use func(*app.Folder) error) (err error) {
	s, err := sqlite.Open(ctx, dir)
	if err != nil {
		return err
	}
	defer Close(s, &err)
	a := Of(s)
	a.Vault = sealed.In(dir)
	return use(a)
}

// Entered is the JSON of a command that enters something, schema
// "bookend.entered/1": where the chain stands afterwards.
type Entered struct {
	Schema  string       `json:"schema"`
	Results EnteredChain `json:"results"`
}

// EnteredChain is where the chain of entries stands.
type EnteredChain struct {
	Entries int    `json:"entries"`
	Head    string `json:"head"` // hash of the newest entry
}

// SayEntered prints the sentence, or as JSON where the chain stands.
func SayEntered(ctx context.Context, out io.Writer, a *app.Folder, asJSON bool, sentence string) error {
	if !asJSON {
		fmt.Fprintln(out, sentence)
		return nil
	}
	s, err := app.Rebuild(ctx, a.Store)
	if err != nil {
		return err
	}
	return terminal.PrintJSON(out, Entered{"bookend.entered/1", EnteredChain{s.Entries, s.Head}})
}

// Flag declares --folder.
func Flag(c *cobra.Command, dir *string) {
	c.Flags().StringVar(dir, "folder", ".", "the programme's folder")
}

// OnGround opens the programme in dir, and the ground that its folder lies in, if it lies
// in one, calls use, and closes both.
func OnGround(ctx context.Context, dir string, use func(*app.Folder) error) error {
	return In(ctx, dir, func(a *app.Folder) (err error) {
		up := sqlite.GroundOf(dir)
		if up == "" {
			return use(a)
		}
		g, err := sqlite.OpenGround(ctx, up)
		if err != nil {
			return err
		}
		defer Close(g, &err)
		a.Ground = g
		return use(a)
	})
}

// InGround opens the ground in dir, or the one that dir lies in.
func InGround(ctx context.Context, dir string, use func(*app.Folder) error) (err error) {
	if !sqlite.IsGround(dir) {
		if up := sqlite.GroundOf(dir); up != "" {
			dir = up
		}
	}
	g, err := sqlite.OpenGround(ctx, dir)
	if err != nil {
		return err
	}
	defer Close(g, &err)
	return use(Of(g))
}

// fromGround fills in what a new programme's ground says.
func fromGround(ctx context.Context, dir string, p *programme.Programme) error {
	up := sqlite.GroundOf(dir)
	if up == "" {
		return nil
	}
	return InGround(ctx, up, func(a *app.Folder) error {
		s, err := app.RebuildGround(ctx, a.Store)
		if err != nil {
			return err
		}
		if p.Ground == "" {
			p.Ground = s.Ground.Title
		}
		if p.Zone == "" {
			p.Zone = s.Ground.Zone
		}
		return nil
	})
}
