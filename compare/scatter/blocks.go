package scatter

import (
	"math"

	"example.org/bookend/caveat"
	"example.org/bookend/compare/correct"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/stat/linear"
	"example.org/bookend/unit"
)

// ByBlock is a candidate against the control in one block (day, driver), on the
// analysis scale and positive better: for people to see where blocks disagree. It
// carries no verdict.
type ByBlock struct {
	Code, Block string
	Stints      int
	Estimate    *float64 // nil where the block's stints do not determine it
	SE          *float64 // nil without degrees of freedom
}

// interaction tests tyre by block, where there are blocks and degrees of freedom.
func interaction(q *sequence.Sequence, s *Scatter, rows []int, y []float64) error {
	if len(q.Blocks) < 2 {
		return nil
	}
	var columns [][]float64
	var names []string
	n := len(rows)
	for j := range s.F.CovAt + len(s.F.Covariates) {
		c := make([]float64, n)
		for k := range rows {
			c[k] = s.F.Rows()[k][j]
		}
		columns, names = append(columns, c), append(names, number(len(names)))
	}
	at := map[string][]int{} // columns of a code's blocks but the first
	for _, code := range q.Codes {
		for b := range q.Blocks[1:] {
			c := make([]float64, n)
			for k, i := range rows {
				if f := &q.Stints[i]; f.Code == code && q.BlockOf[f.Segment] == b+1 {
					c[k] = 1
				}
			}
			at[code] = append(at[code], len(columns))
			columns, names = append(columns, c), append(names, number(len(names)))
		}
	}
	large, err := linear.FitColumns(names, columns, y, linear.Options{Aliased: linear.DropAliased})
	if err != nil {
		return err
	}
	s.ByBlock = byBlock(q, s.F, large, at)
	if s.F.M.DF == 0 || s.Flat {
		return nil
	}
	num, den := large.Rank-s.F.M.Rank, large.DF
	if num <= 0 || den <= 0 || !(large.RSS > 0) || large.PerfectFit {
		return nil
	}
	f := max(0, s.F.M.RSS-large.RSS) / float64(num) / (large.RSS / float64(den))
	s.Between = &FResult{F: f, P: linear.UpperF(f, float64(num), float64(den)), Num: num, Den: den}
	if s.Between.P < 0.05 {
		s.Caveats.Add("tyre_by_block", caveat.Place{}, "The candidates stand differently to the control from block to block (F %.2f on %d and %d degrees of freedom, %s): read the blocks one by one as well.", f, num, den, unit.Probability(s.Between.P))
	}
	return nil
}

// byBlock gives each candidate in each block that it was driven in.
func byBlock(q *sequence.Sequence, f *correct.Fit, large *linear.Model, at map[string][]int) []ByBlock {
	sd, has := large.Sigma()
	has = has && !large.PerfectFit && large.DF > 0
	var out []ByBlock
	for _, code := range q.Codes {
		for b, name := range q.Blocks {
			one := ByBlock{Code: code, Block: name}
			for i := range q.Stints {
				if s := &q.Stints[i]; s.Code == code && q.BlockOf[s.Segment] == b {
					one.Stints++
				}
			}
			if one.Stints == 0 {
				continue
			}
			l := make([]float64, len(large.Estimated))
			l[f.TyreAt[code]] = 1
			if b > 0 {
				l[at[code][b-1]] = 1
			}
			if c, err := large.Contrasts([][]float64{l}); err == nil {
				one.Estimate = some(q.Sign * c.Estimate[0])
				if v := c.Unscaled[0][0]; has && v > 0 {
					one.SE = some(sd * math.Sqrt(v))
				}
			}
			out = append(out, one)
		}
	}
	return out
}
