package table

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/clock"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/runlog"
	"example.org/bookend/unit"
)

// columns that every table of entries may have, before those of its kind.
var entryColumns = []string{"sequence", "id", "supersedes", "author", "device", "counter", "device_time", "device_offset_s", "server_time", "version"}

// WriteEntries writes entries of one kind as a table, one an entry: who made them,
// when and on what, then the kind's fields, in the units that their names end in.
// Entries of other kinds are passed over. ReadEntries reads it back.
func WriteEntries(w io.Writer, kind runlog.Kind, entries []programme.Entry) error {
	header := slices.Clone(entryColumns)
	for _, f := range kind.Fields {
		header = append(header, f.Key)
	}
	c := csv.NewWriter(w)
	if err := c.Write(header); err != nil {
		return fault.New(fault.Internal, "writing the table: %w", err)
	}
	for _, e := range entries {
		if e.Kind != kind.ID {
			continue
		}
		as, err := runlog.KindAt(kind.ID, e.Version)
		if err != nil {
			return fault.At(err, "entry %d", e.Sequence)
		}
		fields, err := as.Read(e.Body)
		if err != nil {
			return fault.At(err, "entry %d", e.Sequence)
		}
		row := []string{strconv.FormatInt(e.Sequence, 10), e.ID, e.Supersedes, e.Author, e.Device, strconv.FormatInt(e.Counter, 10),
			e.DeviceTime.String(), unit.Shortest(e.DeviceTime.OffsetS), e.ServerTime.String(), strconv.Itoa(e.Version)}
		for _, f := range kind.Fields {
			row = append(row, cellOf(fields[f.Key]))
		}
		if err := c.Write(row); err != nil {
			return fault.New(fault.Internal, "writing the table: %w", err)
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fault.New(fault.Internal, "writing the table: %w", err)
	}
	return nil
}

func cellOf(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case float64:
		return unit.Shortest(v)
	case bool:
		return "yes"
	case []float64:
		var out []string
		for _, x := range v {
			out = append(out, unit.Shortest(x))
		}
		return strings.Join(out, " ")
	}
	return ""
}

// Typed is a line of a table of entries: the body as an object by the kind's
// fields, and what the line says of who made it. What it does not say is empty.
type Typed struct {
	Entry programme.Entry
	Line  int
}

// ReadEntries reads a table of entries of one kind. Its columns are the kind's
// fields; a name may end in another unit than the field's (water_depth_mm), then
// values are converted. The columns that WriteEntries puts before them may be
// there: a line with an id is the entry of that id, with its author, device,
// counter and device time. A line without a version is of the kind's newest. Moments are RFC 3339, or 2026-05-13 14:05 in the zone.
func ReadEntries(r io.Reader, kind runlog.Kind, o Options) ([]Typed, error) {
	g, err := sheet(r, o.Name)
	if err != nil {
		return nil, err
	}
	type target struct {
		field runlog.Field
		from  unit.Unit
		own   string // one of entryColumns
	}
	targets := make([]target, len(g.header))
	for j, h := range g.header {
		name := fold(h)
		for ours, theirs := range o.Columns {
			if fold(theirs) == name {
				name = fold(ours)
			}
		}
		if slices.Contains(entryColumns, name) {
			targets[j].own = name
			continue
		}
		if f, ok := kind.Field(name); ok {
			targets[j].field = f
			continue
		}
		stem, u, ok := unit.SplitName(name)
		for _, f := range kind.Fields {
			if own, _, has := unit.SplitName(f.Key); ok && has && f.Unit != "" && own == stem {
				if _, err := unit.Convert(1, u, unit.MustParse(f.Unit)); err != nil {
					return nil, fault.At(err, "%s: column %s", where(o.Name, g.head), h)
				}
				targets[j] = target{field: f, from: u}
			}
		}
		if targets[j].field.Key == "" {
			var keys []string
			for _, f := range kind.Fields {
				keys = append(keys, f.Key)
			}
			return nil, fault.New(fault.Invalid, "column %s is no field of a %s", h, kind.ID).At("%s", where(o.Name, g.head)).
				WithHint("its fields are: %s", strings.Join(keys, ", "))
		}
	}
	var out []Typed
	for i := range g.rows {
		t := Typed{Line: g.lines[i], Entry: programme.Entry{Kind: kind.ID, Version: kind.Version}}
		body := map[string]any{}
		for j, to := range targets {
			cell := g.rows[i][j]
			if cell == "" {
				continue
			}
			if to.own != "" {
				if err := own(&t.Entry, to.own, cell); err != nil {
					return nil, fault.At(err, "%s: column %s", g.at(i), g.header[j])
				}
				continue
			}
			v, err := g.field(i, j, to.field, to.from, o.Zone)
			if err != nil {
				return nil, err
			}
			body[to.field.Key] = v
		}
		if t.Entry.Body, err = programme.Canonical(body); err != nil {
			return nil, err
		}
		if err := runlog.Check(kind.ID, t.Entry.Version, t.Entry.Body); err != nil {
			return nil, fault.At(err, "%s", g.at(i))
		}
		out = append(out, t)
	}
	return out, nil
}

// field turns a cell into a field's JSON value.
func (g *grid) field(i, j int, f runlog.Field, from unit.Unit, zone *time.Location) (any, error) {
	switch f.Type {
	case runlog.Number:
		x, err := g.number(i, j)
		if err != nil {
			return nil, err
		}
		if !from.IsZero() {
			if x, err = unit.Convert(x, from, unit.MustParse(f.Unit)); err != nil {
				return nil, fault.At(err, "%s", g.at(i))
			}
		}
		return json.Number(unit.Shortest(x)), nil
	case runlog.Numbers:
		var out []any
		for _, w := range strings.Fields(g.rows[i][j]) {
			x, why := parse(w, g.separator != ',')
			if why != "" {
				return nil, fault.New(fault.Invalid, "column %s: %q %s", g.header[j], short(w), why).At("%s", g.at(i)).WithHint("write numbers with spaces between them")
			}
			if !from.IsZero() {
				var err error
				if x, err = unit.Convert(x, from, unit.MustParse(f.Unit)); err != nil {
					return nil, fault.At(err, "%s", g.at(i))
				}
			}
			out = append(out, json.Number(unit.Shortest(x)))
		}
		return out, nil
	case runlog.Moment:
		s, err := runlog.ReadMoment(g.rows[i][j], zone, time.Time{})
		return s, fault.At(err, "%s: column %s", g.at(i), g.header[j])
	}
	v, err := f.FromText(g.rows[i][j])
	return v, fault.At(err, "%s", g.at(i))
}

// own puts a cell of one of the entries' own columns where it belongs. Sequence
// and server time are the server's to give and are passed over.
func own(e *programme.Entry, column, cell string) error {
	switch column {
	case "id":
		e.ID = cell
	case "supersedes":
		e.Supersedes = cell
	case "version":
		v, err := strconv.Atoi(cell)
		if err != nil {
			return fault.New(fault.Invalid, "%q is no version of a kind", short(cell)).WithHint("leave the column out for the newest")
		}
		e.Version = v
	case "author":
		e.Author = cell
	case "device":
		e.Device = cell
	case "counter":
		n, err := strconv.ParseInt(cell, 10, 64)
		if err != nil || n < 1 {
			return fault.New(fault.Invalid, "%q is no counter", short(cell)).WithHint("devices count from 1")
		}
		e.Counter = n
	case "device_time":
		t, err := time.Parse(time.RFC3339Nano, cell)
		if err != nil {
			return fault.New(fault.Invalid, "%q is no moment", short(cell)).WithHint("for example 2026-05-13T14:05:00Z")
		}
		e.DeviceTime.UnixNS, e.DeviceTime.Clock = t.UnixNano(), clock.Device
	case "device_offset_s":
		x, err := strconv.ParseFloat(cell, 64)
		if err != nil {
			return fault.New(fault.Invalid, "%q is no number of seconds", short(cell)).WithHint("for example 1.5")
		}
		e.DeviceTime.OffsetS = x
	}
	return nil
}

// EntriesFile gives the file's name of a kind's table: "runlog-stint.csv".
func EntriesFile(kind runlog.Kind) string { return fmt.Sprintf("runlog-%s.csv", kind.ID) }
