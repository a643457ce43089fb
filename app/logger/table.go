package logger

import (
	"io"
	"os"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/ingest"
)

// mostTable is how large a typed table may be, as package table has it.
const mostTable = 64 << 20

// ReadTable reads a table's file as a whole; one that is missing, a folder or
// too large to have been typed is a fault.
func ReadTable(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fault.New(fault.NotFound, "there is no such file").At("%s", path).WithHint("the path is taken from the folder that you are in")
	}
	if info.IsDir() || info.Size() > mostTable {
		return nil, fault.New(fault.Invalid, "it is a folder, or larger than the 64 MiB that a table may have").At("%s", path).
			WithHint("a table has a line a run; a recording goes through bookend check and reduce")
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fault.New(fault.Invalid, "reading it: %w", err).At("%s", path).WithHint("may it be read, and is its medium still there?")
	}
	return data, nil
}

// HeadOf gives the first bytes of a file.
func HeadOf(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fault.New(fault.Invalid, "reading it: %w", err).At("%s", path).WithHint("may it be read, and is its medium still there?")
	}
	defer file.Close() //nolint:errcheck // opened for reading alone
	head, err := io.ReadAll(io.LimitReader(file, ingest.HeadBytes))
	if err != nil {
		return nil, fault.New(fault.Invalid, "reading it: %w", err).At("%s", path).WithHint("may it be read, and is its medium still there?")
	}
	return head, nil
}

// IsTable tells a table from a recording: its first line that is not blank
// names the columns stint and code.
func IsTable(head []byte, columns map[string]string) bool {
	name := func(ours string) string {
		if theirs := columns[ours]; theirs != "" {
			return strings.ToLower(theirs)
		}
		return ours
	}
	for line := range strings.Lines(string(head)) {
		line = strings.ToLower(strings.Trim(line, "\ufeff \t\r\n"))
		if line == "" {
			continue
		}
		cells := strings.FieldsFunc(line, func(r rune) bool { return r == ',' || r == ';' || r == '\t' })
		for i := range cells {
			cells[i] = strings.Trim(cells[i], " \"")
		}
		return slices.Contains(cells, name("stint")) && slices.Contains(cells, name("code"))
	}
	return false
}
