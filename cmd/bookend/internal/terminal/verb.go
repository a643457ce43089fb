package terminal

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"example.org/bookend/fault"
)

// JSONFlag declares --json.
func JSONFlag(c *cobra.Command, asJSON *bool) {
	c.Flags().BoolVar(asJSON, "json", false, "print one JSON object")
}

// Answer prints what a verb found: as one JSON object, or in words.
func Answer(out io.Writer, asJSON bool, object any, words func(io.Writer)) error {
	if asJSON {
		return PrintJSON(out, object)
	}
	words(out)
	return nil
}

// Open opens a file that was named on the command line, for reading.
func Open(path string) (*os.File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fault.New(fault.NotFound, "there is no such file").At("%s", path).WithHint("the path is taken from the folder that you are in")
	}
	return f, nil
}

// Zone gives the time zone that a flag --zone names.
func Zone(name string) (*time.Location, error) {
	zone, err := time.LoadLocation(name)
	if err != nil {
		return nil, fault.New(fault.Invalid, "--zone: %q is no IANA zone", name).WithHint("for example --zone Europe/London")
	}
	return zone, nil
}

// ReadObject reads text that is one JSON object into v and refuses fields that v has not;
// what it is, and a hint how one looks, are for the fault.
func ReadObject(name string, text []byte, v any, what, hint string) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return fault.New(fault.Invalid, "it is no %s: %w", what, err).At("%s", name).WithHint("%s", hint)
	}
	return nil
}
