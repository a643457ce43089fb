// Package terminal is what the command line prints and how it takes what is typed:
// tables and sentences within 80 columns, numbered notes below them, JSON, the step
// of long work, and pairs of NAME=VALUE.
//
// It knows words of verdicts, and no use case. Numbers are handed to it in the unit
// in which they are shown.
package terminal

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"text/tabwriter"

	"example.org/bookend/caveat"
	"example.org/bookend/compare"
	"example.org/bookend/fault"
	"example.org/bookend/unit"
)

// Strict ends `check --strict` with its own exit code.
type Strict struct{ Code int }

// Error says why.
func (e Strict) Error() string { return "there is a caveat" }

// PrintJSON prints v as one indented JSON object.
func PrintJSON(out io.Writer, v any) error {
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return fault.New(fault.Internal, "writing JSON: %w", err)
	}
	return nil
}

// PrintTable prints tab-separated lines under a head, without blanks at their
// ends.
func PrintTable(out io.Writer, head string, lines func(io.Writer)) {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, head)
	lines(w)
	_ = w.Flush() // a builder takes everything
	fmt.Fprint(out, trimmed(b.String()))
}

// PrintNotes prints caveats as numbered notes, or that nothing odd was seen.
func PrintNotes(out io.Writer, list caveat.List) {
	if len(list) == 0 {
		fmt.Fprintln(out, "\nNothing odd was seen.")
		return
	}
	NotesOf(list).PrintApart(out)
}

// Or gives the word, or what stands for none.
func Or(word, otherwise string) string {
	if word == "" {
		return otherwise
	}
	return word
}

// Cut shortens a name to n characters.
func Cut(name string, n int) string {
	r := []rune(name)
	if len(r) <= n {
		return name
	}
	return string(r[:n-1]) + "…"
}

// Pairs reads NAME=COLUMN, by bookend's name.
func Pairs(list []string) (map[string]string, error) {
	out := map[string]string{}
	for _, pair := range list {
		ours, theirs, ok := strings.Cut(pair, "=")
		if !ok {
			return nil, fault.New(fault.Invalid, "--columns: %q is not NAME=COLUMN", pair).WithHint("for example --columns code=trt,value=yield")
		}
		out[ours] = theirs
	}
	return out, nil
}

// Typewritten turns the report's signs into those of a terminal, as the numbers below
// them have.
func Typewritten(text string) string {
	return strings.NewReplacer("−", "-", unit.NoBreak, " ", "’", "'").Replace(text)
}

// Degrees prints degrees of freedom: whole ones as they are, those of a mixed
// model with one decimal.
func Degrees(df float64) string {
	if whole := math.Round(df); math.Abs(df-whole) < 0.005 {
		return unit.Number(whole, 0, unit.Plain)
	}
	return unit.Number(df, 1, unit.Plain)
}

// Short gives the word of a verdict as a narrow table has it.
func Short(w compare.Word) string {
	switch w {
	case compare.BetterLessThanMargin:
		return "better < margin"
	case compare.WorseLessThanMargin:
		return "worse < margin"
	}
	return w.String()
}

// trimmed takes the blanks off the ends of lines.
func trimmed(text string) string {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(line, " ")
	}
	return strings.Join(lines, "\n")
}

// Maybe prints a value with its digits, or what stands for none.
func Maybe(v *float64, digits int) string {
	if v == nil {
		return "none"
	}
	return unit.Number(*v, digits, unit.Plain)
}

// Wrap breaks text at blanks so that no line is longer than width, if it can.
func Wrap(text string, width int, indent string) string {
	var b strings.Builder
	line := 0
	for i, word := range strings.Fields(text) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case line+1+n > width:
			b.WriteString("\n" + indent)
			line = len(indent)
		default:
			b.WriteByte(' ')
			line++
		}
		b.WriteString(word)
		line += n
	}
	return b.String()
}

// Numbers reads NAME=NUMBER pairs.
func Numbers(flag string, list []string) (map[string]float64, error) {
	if len(list) == 0 {
		return nil, nil
	}
	out := map[string]float64{}
	for _, pair := range list {
		name, text, ok := strings.Cut(pair, "=")
		v, err := strconv.ParseFloat(text, 64)
		if !ok || name == "" || err != nil {
			return nil, fault.New(fault.Invalid, "--%s: %q is not ATTRIBUTE=NUMBER", flag, pair).WithHint("for example --%s grip=3", flag)
		}
		if _, twice := out[name]; twice {
			return nil, fault.New(fault.Invalid, "--%s names %s twice", flag, name).WithHint("one number an attribute")
		}
		out[name] = v
	}
	return out, nil
}

// Brief gives the word of a verdict where columns are many.
func Brief(w compare.Word) string {
	if w == compare.Same {
		return "same"
	}
	return Short(w)
}

// UpperFirst gives the text with a capital first letter.
func UpperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// Put writes a file as a whole or not at all.
func Put(name string, data []byte) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(name), ".bookend-*")
	if err != nil {
		return fault.New(fault.NotFound, "writing %s: %w", name, bare(err)).WithHint("does its folder exist, and may it be written to?")
	}
	defer os.Remove(tmp.Name())
	if _, err = tmp.Write(data); err == nil {
		err = tmp.Chmod(0o644)
	}
	if e := tmp.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(tmp.Name(), name)
	}
	if err != nil {
		return fault.New(fault.Internal, "writing %s: %w", name, bare(err))
	}
	return nil
}

// bare is what went wrong with a file, without the name that it has for a moment alone.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}
