package table

import (
	"encoding/csv"
	"io"
	"maps"
	"slices"
	"strings"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Write writes a log as a table, one observation a line, comma-separated, with
// the columns that say something. Values are in SI units; clocks are seconds.
// Runs without an observation are written where they are excluded, and left out
// elsewhere. What Read makes of it compares the same.
func Write(w io.Writer, log programme.Log) error {
	stints := map[string]*programme.Stint{}
	for i := range log.Stints {
		stints[log.Stints[i].ID] = &log.Stints[i]
	}
	observations := map[string][]programme.Observation{}
	for _, o := range log.Observations {
		observations[o.Run] = append(observations[o.Run], o)
	}
	excluded := func(run, measure string) string {
		for _, x := range log.Exclusions {
			if x.Run == run && (x.Measure == "" || x.Measure == measure) {
				return x.Reason
			}
		}
		return ""
	}
	covariates := map[string]bool{}
	for _, r := range log.Runs {
		for c := range r.Covariates {
			if slices.Contains(known, c) {
				return fault.New(fault.Invalid, "run %s has a covariate named %s, which is a column's own name", r.ID, c)
			}
			covariates[c] = true
		}
	}
	extra := slices.Sorted(maps.Keys(covariates))
	var rows [][]string
	var order []int
	for _, s := range log.Stints {
		for i, r := range log.Runs {
			if r.Stint == s.ID {
				order = append(order, i)
			}
		}
	}
	header := append(slices.Clone(known), extra...)
	for i, h := range header {
		if h == "use" {
			header[i] = "use_m"
		}
	}
	for _, i := range order {
		r := log.Runs[i]
		s := stints[r.Stint]
		list := observations[r.ID]
		if len(list) == 0 {
			list = []programme.Observation{{Run: r.ID}}
		}
		for _, o := range list {
			why := excluded(r.ID, o.Measure)
			value := unit.Shortest(o.Value)
			if len(observations[r.ID]) == 0 {
				if value = ""; why == "" {
					continue
				}
			}
			row := map[string]string{"stint": s.ID, "code": s.Code, "set": s.Set, "position": unit.Shortest(s.Position), "block": s.Block, "driver": s.Driver,
				"run": strings.TrimPrefix(r.ID, r.Stint+"/"), "measure": o.Measure, "place": o.Place, "rater": o.Rater, "value": value, "excluded": why, "remark": r.Remark}
			if s.ClockS != nil {
				row["clock"] = unit.Shortest(*s.ClockS)
			}
			if s.Break && isFirst(log.Runs, i) {
				row["break"] = "yes"
			}
			if s.UseM != nil {
				row["use"] = unit.Shortest(*s.UseM)
			}
			cells := make([]string, 0, len(header))
			for _, k := range known {
				cells = append(cells, row[k])
			}
			for _, c := range extra {
				v, ok := r.Covariates[c]
				if !ok {
					cells = append(cells, "")
					continue
				}
				cells = append(cells, unit.Shortest(v))
			}
			rows = append(rows, cells)
		}
	}
	if len(rows) == 0 {
		return fault.New(fault.Invalid, "there is nothing to write")
	}
	// Columns that say nothing are left out.
	keep := make([]int, 0, len(header))
	for j, h := range header {
		if h == "stint" || h == "code" || h == "value" || slices.ContainsFunc(rows, func(r []string) bool { return r[j] != "" }) {
			keep = append(keep, j)
		}
	}
	c := csv.NewWriter(w)
	pick := func(row []string) []string {
		out := make([]string, len(keep))
		for i, j := range keep {
			out[i] = row[j]
		}
		return out
	}
	if err := c.Write(pick(header)); err != nil {
		return fault.New(fault.Internal, "writing the table: %w", err)
	}
	for _, row := range rows {
		if err := c.Write(pick(row)); err != nil {
			return fault.New(fault.Internal, "writing the table: %w", err)
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fault.New(fault.Internal, "writing the table: %w", err)
	}
	return nil
}

func isFirst(runs []programme.Run, i int) bool {
	return !slices.ContainsFunc(runs[:i], func(r programme.Run) bool { return r.Stint == runs[i].Stint })
}
