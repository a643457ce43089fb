package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// remembered is an outcome as it lies in a file, so that a run that was cut
// short goes on where it was. The file's name says of which commit, list, design
// and number of programmes it is.
type remembered struct {
	N, Covered, Wrong, Missing int
	Half, Known, DF            float64
	Bias                       []float64
	SimplerWrong               []int
	SimplerHalf                []float64
}

func fileOf(keep, commit, sum string, d *design, n int) string {
	return filepath.Join(keep, fmt.Sprintf("%s-%s-%s-%d.json", commit, sum[:16], d.id, n))
}

// recall gives an outcome kept before; nil where there is none.
func recall(keep, commit, sum string, d *design, n int) (*outcome, error) {
	if keep == "" {
		return nil, nil
	}
	b, err := os.ReadFile(fileOf(keep, commit, sum, d, n))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var r remembered
	if err == nil {
		err = json.Unmarshal(b, &r)
	}
	if err != nil {
		return nil, err
	}
	o := &outcome{n: r.N, covered: r.Covered, wrong: r.Wrong, missing: r.Missing, half: r.Half, known: r.Known, df: r.DF, bias: r.Bias}
	if d.simpler && len(r.SimplerWrong) == int(howManySimpler) && len(r.SimplerHalf) == int(howManySimpler) {
		o.simpler = new([howManySimpler]simplerOutcome)
		for m := range o.simpler {
			o.simpler[m] = simplerOutcome{r.SimplerWrong[m], r.SimplerHalf[m]}
		}
	}
	return o, nil
}

// remember keeps an outcome.
func (o *outcome) remember(keep, commit, sum string, d *design) error {
	if keep == "" {
		return nil
	}
	r := remembered{N: o.n, Covered: o.covered, Wrong: o.wrong, Missing: o.missing, Half: o.half, Known: o.known, DF: o.df, Bias: o.bias}
	if o.simpler != nil {
		for _, s := range o.simpler {
			r.SimplerWrong, r.SimplerHalf = append(r.SimplerWrong, s.wrong), append(r.SimplerHalf, s.half)
		}
	}
	b, err := json.Marshal(r)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(keep, 0o755); err != nil {
		return err
	}
	return os.WriteFile(fileOf(keep, commit, sum, d, o.n), b, 0o644)
}
