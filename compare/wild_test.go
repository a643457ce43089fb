package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// wild draws a log that nobody would drive: few or many stints, sets, blocks and
// breaks anywhere, values alike, tiny, huge or scattered, runs missing.
func wild(r *rand.Rand) ([]driven, Settings) {
	codes := []string{"K", "P", "R", "W", "T"}[:2+r.IntN(4)]
	n := 1 + r.IntN(14)
	kind := r.IntN(7)
	var list []driven
	for i := range n {
		d := driven{code: codes[r.IntN(len(codes))]}
		if i == 0 || i == n-1 || r.IntN(3) == 0 {
			d.code = "K"
		}
		if kind != 5 {
			d.set = d.code + string(rune('1'+r.IntN(3)))
		}
		if kind == 4 {
			d.block = []string{"a", "b"}[2*i/n]
		}
		d.stop = r.IntN(12) == 0
		runs := 1 + r.IntN(4)
		if kind == 3 {
			runs = 3
		}
		for range runs {
			v := 7.0
			switch kind {
			case 1:
				v = 7 + float64(i)*0.1 // on a line to the last digit
			case 2:
				v = math.Exp(40 * r.NormFloat64())
			case 6:
				v = 7 + float64(d.code[0]%5)
			default:
				v += 0.2 * r.NormFloat64()
			}
			d.values, d.water = append(d.values, v), append(d.water, float64(r.IntN(2)))
		}
		list = append(list, d)
	}
	pick := func(n int) int { return r.IntN(n) }
	s := Settings{
		Drift: []Drift{"", NoDrift, Bracket, Linear, Quadratic}[pick(5)], DriftPerBlock: []Drift{"", "", Linear}[pick(3)],
		Scale: []programme.Scale{"", programme.Ratio, programme.Difference, programme.Count}[pick(4)],
		When:  []When{"", Always, IfShown}[pick(3)], Sided: []Sides{"", OneSided}[pick(2)], Open: []Open{"", OpenAllowed}[pick(2)],
		Model: []Model{"", Auto, StintMeans, Mixed}[pick(4)], RunNumber: []RunNumber{"", NumberIgnored, NumberEach}[pick(3)],
		TyreByBlock: []Across{"", AsOne, EachBlock}[pick(3)], Quick: pick(4) == 0,
	}
	if s.Drift != Bracket && s.Drift != "" && pick(4) == 0 {
		s.Covariates = []string{"water_depth_mm"}
	}
	if pick(3) == 0 {
		s.Margin = &Margin{Value: 1, InUnit: s.Scale != "" && s.Scale != programme.Ratio}
	}
	if pick(5) == 0 {
		s.DriftSD = is(0.01)
	}
	if pick(5) == 0 {
		s.SetSD, s.SetSDSource = is(0.01), "stated"
	}
	return list, s
}

// Whatever is driven, there is an error that says what is wrong, or a result
// without a NaN; never a panic, and never a fault of the program's own.
func TestWild(t *testing.T) {
	r := rand.New(rand.NewPCG(2026, 11))
	compared := 0
	for i := range 300 {
		list, s := wild(r)
		log := logOf("deceleration", list)
		for range r.IntN(3) {
			if len(log.Runs) > 0 {
				log.Exclusions = append(log.Exclusions, programme.Exclusion{Run: log.Runs[r.IntN(len(log.Runs))].ID, Reason: "gust"})
			}
		}
		if r.IntN(4) == 0 && len(log.Observations) > 2 {
			log.Observations = slices.Delete(log.Observations, 1, 2)
		}
		in := Input{Log: log, Measure: decel, Control: "K", Settings: s}
		if r.IntN(6) == 0 {
			in.Record, _ = ground(r, 4, 4, 0.02, 0.02)
		}
		b, err := CompareBoth(in)
		if err != nil {
			if c := fault.CodeOf(err); c == fault.Internal || fault.HintOf(err) == "" && !strings.Contains(err.Error(), ":") {
				t.Errorf("case %d: %v (%s): %+v", i, err, c, s)
			}
			continue
		}
		compared++
		sane(t, b.Result)
		if b.All != nil {
			sane(t, b.All)
		}
		for _, row := range b.Result.Rows {
			if row.Verdict.Word != NotComputed && row.Verdict.AboutWhy == "" {
				t.Errorf("case %d: nothing says what the verdict on %s is about", i, row.Code)
			}
		}
		if t.Failed() {
			t.Fatalf("case %d: %+v %+v", i, list, s)
		}
	}
	if compared < 100 {
		t.Errorf("only %d of 300 could be compared", compared)
	}
}

// What is said beside the verdicts changes with neither unit nor letters.
func TestWhatStandsBesideKeepsItsWords(t *testing.T) {
	list := day(17)
	feet, letters := slices.Clone(list), slices.Clone(list)
	to := map[string]string{"K": "Z", "P": "B", "W": "C", "T": "A"}
	for i := range list {
		feet[i].values = slices.Clone(list[i].values)
		for k := range feet[i].values {
			feet[i].values[k] *= 3.28
		}
		letters[i].code, letters[i].set = to[list[i].code], to[list[i].code]+"1"
	}
	for _, s := range corrections {
		s.Scale = programme.Difference
		a := mustCompare(t, Input{Log: logOf("gain", list), Measure: gain, Control: "K", Settings: s})
		b := mustCompare(t, Input{Log: logOf("gain", feet), Measure: gain, Control: "K", Settings: s})
		c := mustCompare(t, Input{Log: logOf("gain", letters), Measure: gain, Control: "Z", Settings: s})
		for i := range a.Budget {
			for k, p := range a.Budget[i].Parts {
				q := budgetOf(t, b, a.Budget[i].Code).Parts[k]
				z := budgetOf(t, c, to[a.Budget[i].Code]).Parts[k]
				if q.Key != p.Key || z.Key != p.Key || !near(q.Share, p.Share, 1e-9) || !near(z.Share, p.Share, 1e-12) || !near(q.Variance, 3.28*3.28*p.Variance, 1e-9) {
					t.Errorf("%s: %+v, %+v, %+v", s.Drift, p, q, z)
				}
			}
			for k, m := range a.Budget[i].Remedies {
				if got := b.Budget[i].Remedies[k]; got.Key != m.Key || !near(got.Narrower, m.Narrower, 1e-6) {
					t.Errorf("%s: %+v and %+v", s.Drift, m, got)
				}
			}
		}
		if !slices.Equal(a.Group.Letters, b.Group.Letters) || !slices.Equal(a.Group.Letters, c.Group.Letters) {
			t.Errorf("%s: letters %v, %v, %v", s.Drift, a.Group.Letters, b.Group.Letters, c.Group.Letters)
		}
		for i, u := range a.Wear.Uses {
			for k, l := range u.Leans {
				if x, y := b.Wear.Uses[i].Leans[k], c.Wear.Uses[i].Leans[k]; x.Less != l.Less || y.Less != l.Less || x.Over != l.Over {
					t.Errorf("%s: %+v, %+v, %+v", s.Drift, l, x, y)
				}
			}
		}
	}
}
