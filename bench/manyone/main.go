// Command manyone measures how fast and how exactly many candidates are
// compared with one control: bookend beside scipy's dunnett, and R's mvtnorm
// and multcomp, each by its default call, on the same cases in one run.
//
// The errors are against quadrature of another kind, done with numpy: the
// control stints themselves are the factors, by Gauss-Legendre rules in their
// values and in the logarithm of the deviation. Every family that bookend is
// handed is new to it. Peers that are not installed are left out with a word;
// without numpy there are no errors. bench/README.md holds the ratios.
package main

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/stat/manyone"
)

//go:embed peers.py
var python string

//go:embed peers.R
var rscript string

func main() {
	runs := flag.Int("runs", 20, "calls of each peer; the median counts")
	py := flag.String("python", "python3", "command that runs Python with scipy 1.11 or later")
	r := flag.String("rscript", "Rscript", "command that runs R with mvtnorm and multcomp")
	flag.Parse()
	if err := run(*runs, *py, *r); err != nil {
		fmt.Fprintln(os.Stderr, "manyone:", err)
		os.Exit(1)
	}
}

// problem is one family with the t of each comparison.
type problem struct {
	Name    string      `json:"name"`
	DF      float64     `json:"df"`
	T       []float64   `json:"t"`
	Corr    [][]float64 `json:"corr"`
	Order   string      `json:"order,omitempty"` // brackets; else one way:
	N0      int         `json:"n0,omitempty"`
	N       []int       `json:"n,omitempty"`
	Control []float64   `json:"control,omitempty"`
	Data    [][]float64 `json:"data,omitempty"`
	S       float64     `json:"s,omitempty"`
}

// result is what one peer made of one task of a case, call by call.
type result struct {
	Case, Task, Peer string
	MS               []float64
	Values           [][]float64
}

// oneWay makes readings that have the t wanted exactly, deviation 1.
func oneWay(n0 int, n []int, t []float64) *problem {
	p := &problem{N0: n0, N: n, T: t, S: 1}
	df := n0 - 1
	for _, v := range n {
		df += v - 1
	}
	p.DF = float64(df)
	p.Name = fmt.Sprintf("%d candidates of %d, control of %d, %d df", len(n), n[0], n0, df)
	// Readings go up and down about their mean; the mean square is 1 in each.
	about := func(mean float64, n int) []float64 {
		out := make([]float64, n)
		even := n - n%2
		for i := range even {
			out[i] = math.Sqrt(float64(n-1) / float64(even))
			if i%2 == 1 {
				out[i] = -out[i]
			}
		}
		for i := range out {
			out[i] += mean
		}
		return out
	}
	p.Control = about(10, n0)
	lambda := make([]float64, len(n))
	for i, v := range n {
		p.Data = append(p.Data, about(10+t[i]*math.Sqrt(1/float64(v)+1/float64(n0)), v))
		lambda[i] = math.Sqrt(float64(v) / float64(v+n0))
	}
	for i := range n {
		row := make([]float64, len(n))
		for j := range n {
			row[j] = lambda[i] * lambda[j]
		}
		row[i] = 1
		p.Corr = append(p.Corr, row)
	}
	return p
}

// brackets makes the family of an order in which each candidate is driven
// once, set against the control interpolated between its neighbours.
func brackets(order string, df float64, t []float64) *problem {
	p := &problem{Name: fmt.Sprintf("brackets %s, %g df", order, df), Order: order, DF: df, T: t}
	var w [][]float64
	before := 0
	for i := 1; i < len(order); i++ {
		if order[i] != 'K' {
			continue
		}
		for j := before + 1; j < i; j++ {
			v := make([]float64, len(order))
			at := float64(j-before) / float64(i-before)
			v[j], v[before], v[i] = 1, at-1, -at
			w = append(w, v)
		}
		before = i
	}
	dot := func(a, b []float64) (s float64) {
		for i := range a {
			s += a[i] * b[i]
		}
		return s
	}
	for i := range w {
		row := make([]float64, len(w))
		for j := range w {
			row[j] = dot(w[i], w[j]) / math.Sqrt(dot(w[i], w[i])*dot(w[j], w[j]))
		}
		row[i] = 1
		p.Corr = append(p.Corr, row)
	}
	return p
}

func run(runs int, py, r string) error {
	same := func(n, k int) []int {
		out := make([]int, k)
		for i := range out {
			out[i] = n
		}
		return out
	}
	t8 := []float64{0.3, 0.9, 1.4, 1.9, 2.5, 3.1, 4.4, 6.5}
	cases := []*problem{
		oneWay(3, same(3, 3), []float64{3.0907, 0.562, -1.4049}),
		oneWay(6, same(3, 4), []float64{0.5, 1.6, 2.7, 4.2}),
		oneWay(12, same(4, 8), t8),
		brackets("KPRKTWK", 7, []float64{0.5, 1.6, 2.7, 4.2}),
		brackets("KPRKTWKXYK", 9, t8[1:7]),
		brackets("KPRKTWKXYKVZK", 12, t8),
	}
	// Before, between and after the peers, so that what else the machine does
	// falls on all alike.
	var all []result
	fresh := 0
	again := func() error {
		for _, c := range cases {
			ours, err := own(c, runs, &fresh)
			if err != nil {
				return err
			}
			for _, o := range ours {
				at := slices.IndexFunc(all, func(r result) bool { return r.Case == o.Case && r.Task == o.Task && r.Peer == o.Peer })
				if at < 0 {
					all = append(all, o)
					continue
				}
				all[at].MS = append(all[at].MS, o.MS...)
				all[at].Values = append(all[at].Values, o.Values...)
			}
		}
		return nil
	}
	if err := again(); err != nil {
		return err
	}
	input, err := json.Marshal(map[string]any{"runs": runs, "cases": cases})
	if err != nil {
		return err
	}
	for _, peer := range []struct {
		command string
		args    []string
		stdin   string
	}{
		{py, []string{"-c", python}, string(input)},
		{r, []string{"-"}, forR(cases, runs) + rscript},
	} {
		got, err := ask(peer.command, peer.args, peer.stdin)
		if err != nil {
			fmt.Fprintf(os.Stderr, "left out: %s: %v\n", peer.command, err)
		}
		all = append(all, got...)
		if err := again(); err != nil {
			return err
		}
	}
	print(cases, all, runs)
	return nil
}

// own times bookend. The correlations are lowered by parts in 1e14 from call
// to call, so that no family was met before.
func own(c *problem, runs int, fresh *int) ([]result, error) {
	p := result{Case: c.Name, Task: "p", Peer: "bookend"}
	point := result{Case: c.Name, Task: "point", Peer: "bookend"}
	family := func() manyone.Family {
		*fresh++
		f := manyone.Family{DF: c.DF}
		for i := range c.Corr {
			row := make([]float64, len(c.Corr))
			for j := range row {
				row[j] = c.Corr[i][j] * (1 - float64(*fresh)*1e-14)
			}
			row[i] = 1
			f.Corr = append(f.Corr, row)
		}
		return f
	}
	for range runs + 1 {
		f := family()
		start := time.Now()
		ps, _, err := f.AdjustedP(c.T)
		if err != nil {
			return nil, err
		}
		p.MS = append(p.MS, 1e3*time.Since(start).Seconds())
		p.Values = append(p.Values, ps)
		f = family()
		start = time.Now()
		v, _, err := f.Critical(0.05)
		if err != nil {
			return nil, err
		}
		point.MS = append(point.MS, 1e3*time.Since(start).Seconds())
		point.Values = append(point.Values, []float64{v})
	}
	// The first makes tables that last as long as the program.
	p.MS, point.MS = p.MS[1:], point.MS[1:]
	return []result{p, point}, nil
}

// ask runs a peer and reads its results.
func ask(command string, args []string, stdin string) ([]result, error) {
	words := strings.Fields(command)
	if len(words) == 0 {
		return nil, errors.New("no command")
	}
	cmd := exec.Command(words[0], append(words[1:], args...)...)
	cmd.Stdin = strings.NewReader(stdin)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	var all []result
	d := json.NewDecoder(bytes.NewReader(out))
	for {
		var r result
		if d.Decode(&r) != nil {
			break
		}
		all = append(all, r)
	}
	if err != nil {
		lines := strings.Split(strings.TrimSpace(complaint.String()), "\n")
		return all, fmt.Errorf("%w: %s", err, lines[len(lines)-1])
	}
	return all, nil
}

// forR writes the cases as R reads them.
func forR(cases []*problem, runs int) string {
	vector := func(x []float64) string {
		var s []string
		for _, v := range x {
			s = append(s, strconv.FormatFloat(v, 'g', 17, 64))
		}
		return "c(" + strings.Join(s, ",") + ")"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "runs <- %d\ncases <- list()\n", runs)
	for i, c := range cases {
		fmt.Fprintf(&b, "cases[[%d]] <- list(name=%q, df=%g, t=%s, corr=%s", i+1, c.Name, c.DF, vector(c.T), vector(slices.Concat(c.Corr...)))
		if c.Order == "" {
			// The control's name comes first in the alphabet.
			y, g := slices.Clone(c.Control), strings.Repeat(`"0",`, c.N0)
			for k, x := range c.Data {
				y = append(y, x...)
				g += strings.Repeat(fmt.Sprintf("%q,", fmt.Sprint(k+1)), len(x))
			}
			fmt.Fprintf(&b, ", y=%s, g=c(%s)", vector(y), strings.TrimSuffix(g, ","))
		}
		b.WriteString(")\n")
	}
	return b.String()
}

func print(cases []*problem, all []result, runs int) {
	find := func(name, task, peer string) *result {
		for i := range all {
			if r := &all[i]; r.Case == name && r.Task == task && r.Peer == peer {
				return r
			}
		}
		return nil
	}
	fmt.Printf("median of %d calls, in one run\n\n", runs)
	fmt.Println("| case | task | peer | times bookend's time | its largest error | bookend's | ratio |")
	fmt.Println("|---|---|---|---|---|---|---|")
	for _, c := range cases {
		for _, task := range []string{"p", "point"} {
			ours, ref := find(c.Name, task, "bookend"), find(c.Name, task, "reference")
			worst := func(r *result) float64 {
				w := 0.0
				for _, call := range r.Values {
					for i := range call {
						w = max(w, math.Abs(call[i]-ref.Values[0][i]))
					}
				}
				return w
			}
			mine := math.NaN()
			if ref != nil {
				mine = worst(ours)
			}
			fmt.Fprintf(os.Stderr, "%s, %s: bookend %.3g ms\n", c.Name, task, median(ours.MS))
			for i := range all {
				r := &all[i]
				if r.Case != c.Name || r.Task != task || r == ours || r == ref {
					continue
				}
				words := map[string]string{"p": fmt.Sprintf("%d p-values", len(c.T)), "point": "95 % point"}[task]
				fmt.Printf("| %s | %s | %s | %.0f |", c.Name, words, r.Peer, median(r.MS)/median(ours.MS))
				if ref == nil {
					fmt.Println(" not known | not known | |")
					continue
				}
				fmt.Printf(" %.1e | %.1e | %.0e |\n", worst(r), mine, worst(r)/max(mine, 1e-16))
			}
		}
	}
}

func median(x []float64) float64 {
	y := slices.Clone(x)
	slices.Sort(y)
	return y[len(y)/2]
}
