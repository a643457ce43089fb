// Command parse measures how fast text logs are read: bookend's reader beside
// encoding/csv with strconv and beside fread of R's data.table, each into
// float64 columns, on the same file in one run.
//
// The runs are interleaved, so that what else the machine does falls on all
// alike; the median of each is compared. Peers that are not installed are left
// out with a word. bench/README.md holds the ratios.
package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/bookend/ingest"
	"example.org/bookend/ingest/delimited"
	"example.org/bookend/signal"
)

func main() {
	rows := flag.Int("rows", 800_000, "rows of the file, of 25 columns, near 160 bytes each")
	runs := flag.Int("runs", 7, "runs of each reader; the median counts")
	file := flag.String("file", "", "measure on this file of numbers instead of a made one")
	flag.Parse()
	if err := run(*rows, *runs, *file); err != nil {
		fmt.Fprintln(os.Stderr, "parse:", err)
		os.Exit(1)
	}
}

// peer is one way to read the file; it gives the seconds it took and the sum of
// all values, so that nobody can skip the work.
type peer struct {
	name    string
	read    func(path string) (seconds, sum float64, err error)
	seconds []float64
	sum     float64
	failed  error
}

func run(rows, runs int, file string) error {
	if file == "" {
		dir, err := os.MkdirTemp("", "parse")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		file = filepath.Join(dir, "log.csv")
		if err := write(file, rows); err != nil {
			return err
		}
	}
	info, err := os.Stat(file)
	if err != nil {
		return err
	}
	peers := []*peer{
		{name: "encoding/csv + strconv, 1 thread", read: single(standard)},
		{name: "bookend, 1 thread", read: single(ours(1, false))},
		{name: "bookend, 2 threads", read: ours(2, false)},
		{name: "bookend with SHA-256, 1 thread", read: single(ours(1, true))},
		{name: "bookend with SHA-256, 1 thread, hashing beside", read: ours(1, true)},
		{name: "bookend with SHA-256, 2 threads", read: ours(2, true)},
		{name: "data.table fread, 1 thread", read: fread(1)},
		{name: "data.table fread, 2 threads", read: fread(2)},
	}
	for range runs {
		for _, p := range peers {
			if p.failed != nil {
				continue
			}
			runtime.GC()
			s, sum, err := p.read(file)
			if err != nil {
				p.failed = err
				continue
			}
			p.seconds = append(p.seconds, s)
			p.sum = sum
		}
	}
	mb := float64(info.Size()) / 1e6
	base := peers[0]
	fmt.Printf("%.0f MB, %d processors, median of %d interleaved runs\n\n", mb, runtime.NumCPU(), runs)
	fmt.Println("| reader | times encoding/csv | spread of the runs |")
	fmt.Println("|---|---|---|")
	for _, p := range peers {
		if p.failed != nil {
			fmt.Printf("| %s | not measured: %v | |\n", p.name, p.failed)
			continue
		}
		m := median(p.seconds)
		fmt.Printf("| %s | %.2f | %.0f %% |\n", p.name, median(base.seconds)/m, 100*(slices.Max(p.seconds)-slices.Min(p.seconds))/m)
		if math.Abs(p.sum-base.sum) > 1e-9*math.Abs(base.sum) {
			return fmt.Errorf("%s sums the file to %v, %s to %v", p.name, p.sum, base.name, base.sum)
		}
		fmt.Fprintf(os.Stderr, "%-46s %6.0f MB/s\n", p.name, mb/m)
	}
	return nil
}

func median(x []float64) float64 {
	y := slices.Clone(x)
	slices.Sort(y)
	return y[len(y)/2]
}

// single runs a reader with one processor, so that the collector of memory does
// not take another.
func single(read func(string) (float64, float64, error)) func(string) (float64, float64, error) {
	return func(path string) (float64, float64, error) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
		return read(path)
	}
}

// write makes a file as a logger at 100 Hz would: time, positions with ten
// decimals, motion with five, wheel speeds with three, switches.
func write(path string, rows int) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprint(w, "time_s,latitude_deg,longitude_deg,height_m")
	for i := range 13 {
		fmt.Fprintf(w, ",motion%d_mps", i)
	}
	for i := range 5 {
		fmt.Fprintf(w, ",wheel%d_mps", i)
	}
	fmt.Fprintln(w, ",gear,brake,sats")
	r := rand.New(rand.NewPCG(1, 2))
	var b []byte
	for i := range rows {
		b = strconv.AppendFloat(b[:0], float64(i)/100, 'f', 2, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, 55+r.Float64()/100, 'f', 10, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, -3+r.Float64()/100, 'f', 10, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, 300+r.NormFloat64(), 'f', 4, 64)
		for range 13 {
			b = append(b, ',')
			b = strconv.AppendFloat(b, 5*r.NormFloat64(), 'f', 5, 64)
		}
		for range 5 {
			b = append(b, ',')
			b = strconv.AppendFloat(b, 20+r.NormFloat64(), 'f', 3, 64)
		}
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(1+r.IntN(5)), 10)
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(r.IntN(2)), 10)
		b = append(b, ',')
		b = strconv.AppendInt(b, int64(8+r.IntN(9)), 10)
		b = append(b, '\n')
		if _, err := w.Write(b); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

// standard is what the standard library offers.
func standard(path string) (float64, float64, error) {
	start := time.Now()
	f, err := os.Open(path)
	if err != nil {
		return 0, 0, err
	}
	defer f.Close()
	r := csv.NewReader(bufio.NewReaderSize(f, 1<<20))
	r.ReuseRecord = true
	head, err := r.Read()
	if err != nil {
		return 0, 0, err
	}
	columns := make([][]float64, len(head))
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return 0, 0, err
		}
		for k, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				return 0, 0, err
			}
			columns[k] = append(columns[k], v)
		}
	}
	return time.Since(start).Seconds(), total(columns), nil
}

// ours is bookend's reader with all that it does besides: the dialect, roles,
// valid spans, gaps. Units are left as they are by a mapping, so that the sums
// can be compared.
func ours(workers int, hash bool) func(string) (float64, float64, error) {
	return func(path string) (float64, float64, error) {
		m := &ingest.Mapping{Columns: []ingest.MappedColumn{{Column: "#2", Unit: "rad"}, {Column: "#3", Unit: "rad"}}}
		opt := ingest.Options{Name: filepath.Base(path), Mapping: m}
		start := time.Now()
		var rec *signal.Recording
		var err error
		if hash {
			rec, err = ingest.Open(context.Background(), path, []ingest.Reader{delimited.Reader{Workers: workers}}, opt)
		} else {
			var f *os.File
			if f, err = os.Open(path); err != nil {
				return 0, 0, err
			}
			defer f.Close()
			rec, err = delimited.Reader{Workers: workers}.Read(context.Background(), f, opt)
		}
		if err != nil {
			return 0, 0, err
		}
		seconds := time.Since(start).Seconds()
		columns := [][]float64{rec.Channels[0].Base.T}
		for _, c := range rec.Channels {
			columns = append(columns, c.Values)
		}
		return seconds, total(columns), nil
	}
}

func total(columns [][]float64) float64 {
	sum := 0.0
	for _, c := range columns {
		for _, v := range c {
			sum += v
		}
	}
	return sum
}

// fread is R's. It times itself, so that the start of R does not count.
func fread(threads int) func(string) (float64, float64, error) {
	return func(path string) (float64, float64, error) {
		script := fmt.Sprintf(`suppressMessages(library(data.table)); setDTthreads(%d)
t <- system.time(d <- fread(%q, showProgress=FALSE, nThread=%d))[["elapsed"]]
cat(sprintf("%%.17g %%.17g", t, sum(sapply(d, function(x) sum(as.numeric(x))))))`, threads, path, threads)
		out, err := exec.Command("Rscript", "-e", script).Output()
		if err != nil {
			return 0, 0, errors.New("fread does not run: Rscript with data.table is wanted")
		}
		fields := strings.Fields(string(out))
		if len(fields) != 2 {
			return 0, 0, fmt.Errorf("fread printed %q", out)
		}
		seconds, err := strconv.ParseFloat(fields[0], 64)
		if err != nil {
			return 0, 0, err
		}
		sum, err := strconv.ParseFloat(fields[1], 64)
		return seconds, sum, err
	}
}
