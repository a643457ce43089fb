package table

import (
	"io"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/programme/attribute"
)

// Ratings is a rating sheet as read: the sheets, and the same as a log in which
// one sheet of a stint and rater is one observation an attribute. The log has
// codes only where the sheet has a code column.
type Ratings struct {
	List []programme.Rating
	Log  programme.Log
}

// ReadRatings reads rating sheets: columns stint, rater, attribute and value,
// optionally code, position, block, driver, remark. One line is one attribute
// that one rater rated on one stint, on the scale of the attribute.
func ReadRatings(r io.Reader, o Options) (*Ratings, error) {
	g, err := sheet(r, o.Name)
	if err != nil {
		return nil, err
	}
	col := map[string]int{}
	for _, ours := range []string{"stint", "rater", "attribute", "value", "code", "position", "block", "driver", "remark"} {
		c, err := g.find(ours, o.Columns)
		if err != nil {
			return nil, err
		}
		if col[ours] = c.at; c.at < 0 && slices.Contains([]string{"stint", "rater", "attribute", "value"}, ours) {
			return nil, fault.New(fault.Invalid, "there is no column %s", ours).At("%s", where(o.Name, g.head)).
				WithHint("its columns are %s; say which one it is with --columns %s=NAME", strings.Join(g.header, ", "), ours)
		}
	}
	cell := func(i int, ours string) string {
		if col[ours] < 0 {
			return ""
		}
		return g.rows[i][col[ours]]
	}
	out := &Ratings{}
	seen := map[[3]string]int{}
	at := map[string]int{}
	for i := range g.rows {
		x := programme.Rating{Stint: cell(i, "stint"), Rater: cell(i, "rater"), Attribute: cell(i, "attribute"), Remark: cell(i, "remark")}
		for _, must := range []struct{ name, value string }{{"stint", x.Stint}, {"rater", x.Rater}, {"attribute", x.Attribute}} {
			if must.value == "" {
				return nil, fault.New(fault.Invalid, "column %s: the cell is empty", g.header[col[must.name]]).At("%s", g.at(i)).WithHint("a rating has a stint, a rater and an attribute")
			}
		}
		if cell(i, "value") == "" {
			return nil, fault.New(fault.Invalid, "column %s: %s has no rating of stint %s by %s", g.header[col["value"]], short(x.Attribute), short(x.Stint), short(x.Rater)).
				At("%s", g.at(i)).WithHint("leave the line out where nothing was rated")
		}
		v, err := g.number(i, col["value"])
		if err != nil {
			return nil, err
		}
		if err := attribute.Check(x.Attribute, v); err != nil {
			return nil, fault.At(fault.At(err, "column %s", g.header[col["value"]]), "%s", g.at(i))
		}
		x.Value = v
		key := [3]string{x.Stint, x.Rater, x.Attribute}
		if line, twice := seen[key]; twice {
			return nil, fault.New(fault.Invalid, "%s rated %s of stint %s in line %d already", short(x.Rater), short(x.Attribute), short(x.Stint), line).
				At("%s", g.at(i)).WithHint("a stint is rated once a rater; a second sheet is of another stint")
		}
		seen[key] = g.lines[i]
		out.List = append(out.List, x)
		k, ok := at[x.Stint]
		if !ok {
			k = len(out.Log.Stints)
			at[x.Stint] = k
			s := programme.Stint{ID: x.Stint, Code: cell(i, "code"), Block: cell(i, "block"), Driver: cell(i, "driver"), Position: float64(k + 1), Line: g.lines[i], File: o.Name}
			if col["position"] >= 0 {
				if s.Position, err = g.number(i, col["position"]); err != nil {
					return nil, err
				}
			}
			out.Log.Stints = append(out.Log.Stints, s)
			out.Log.Runs = append(out.Log.Runs, programme.Run{ID: x.Stint + "/sheet", Stint: x.Stint, Number: 1, Line: g.lines[i], File: o.Name})
		}
		if s := out.Log.Stints[k]; s.Code != cell(i, "code") {
			return nil, fault.New(fault.Invalid, "stint %s has code %q here but %q in line %d", short(x.Stint), short(cell(i, "code")), short(s.Code), s.Line).
				At("%s", g.at(i)).WithHint("a stint is one set, fitted once")
		}
		out.Log.Observations = append(out.Log.Observations, programme.Observation{Run: x.Stint + "/sheet", Measure: x.Attribute, Rater: x.Rater, Value: v})
	}
	out.Log.Stints = out.Log.AsDriven()
	return out, nil
}
