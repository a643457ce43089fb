package compare

import (
	"example.org/bookend/caveat"
	"example.org/bookend/programme"
)

// BlockResult is one block (day, driver, session) compared by itself.
type BlockResult struct {
	Block  string
	Result *Result // nil where it cannot be compared
	Err    string  // why; else empty
}

// eachBlock compares block by block; their intervals hold together, the doubt
// shared out over the blocks (Bonferroni).
func (r *Result) eachBlock(in Input, blocks []string, everything bool) {
	if r.Settings.TyreByBlock != EachBlock || len(blocks) < 2 {
		return
	}
	in.Settings = r.Settings
	in.Settings.TyreByBlock = AsOne
	in.Settings.Confidence = 1 - (1-r.Settings.Confidence)/float64(len(blocks))
	for _, b := range blocks {
		one := in
		one.Log = logOfBlock(in.Log, b)
		out := BlockResult{Block: b}
		res, err := compare(one, everything)
		if err != nil {
			out.Err = err.Error()
		} else {
			out.Result = res
		}
		r.PerBlock = append(r.PerBlock, out)
	}
	r.Caveats.Add("blocks_one_by_one", caveat.Place{}, "Each of the %d blocks is judged by itself, at a confidence of %.4g, so that all their intervals hold together; there is no verdict over all blocks.", len(blocks), in.Settings.Confidence)
}

func logOfBlock(log programme.Log, block string) programme.Log {
	var out programme.Log
	stints, runs := map[string]bool{}, map[string]bool{}
	for _, s := range log.Stints {
		if s.Block == block {
			out.Stints = append(out.Stints, s)
			stints[s.ID] = true
		}
	}
	for _, r := range log.Runs {
		if stints[r.Stint] {
			out.Runs = append(out.Runs, r)
			runs[r.ID] = true
		}
	}
	for _, o := range log.Observations {
		if runs[o.Run] {
			out.Observations = append(out.Observations, o)
		}
	}
	for _, x := range log.Exclusions {
		if runs[x.Run] {
			out.Exclusions = append(out.Exclusions, x)
		}
	}
	return out
}
