package svg_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/bookend/figure"
	"example.org/bookend/figure/figuretest"
	"example.org/bookend/figure/svg"
)

var (
	update = flag.Bool("update", false, "write the snapshots of testdata anew")
	odd    = flag.String("odd", "", "folder to write the figures from odd data to, for looking at")
)

// The specimens are snapshots to look at. That they have not changed says that
// a change was seen, not that the figure is right.
func TestSpecimens(t *testing.T) {
	for _, s := range figuretest.All() {
		for _, w := range []struct {
			width figure.Width
			name  string
		}{{figure.Full, "170"}, {figure.Half, "082"}} {
			d, err := s.Figure.Draw(w.width)
			if s.Figure.Kind() == "verdict-strip" { // it stands in a cell of a table
				d, err = s.Figure.Draw(map[string]figure.Width{"170": 72, "082": 34}[w.name])
			}
			if err != nil {
				t.Errorf("%s at %s: %v", s.Name, w.name, err)
				continue
			}
			for _, k := range d.Clashes {
				t.Errorf("%s at %s: %q touches %s", s.Name, w.name, k.Text, k.With)
			}
			got := []byte(svg.String(d, svg.Options{Paper: true}))
			file := filepath.Join("testdata", "specimen", s.Name+"-"+w.name+".svg")
			if strings.HasPrefix(s.Name, "odd-") { // kept nowhere: the laws hold them
				if *odd != "" {
					if err := os.WriteFile(filepath.Join(*odd, filepath.Base(file)), got, 0o644); err != nil {
						t.Fatal(err)
					}
				}
				continue
			}
			if *update {
				if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, got, 0o644); err != nil {
					t.Fatal(err)
				}
				continue
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Errorf("%v (go test -update writes it)", err)
				continue
			}
			if !bytes.Equal(got, want) {
				t.Errorf("%s is drawn otherwise than in %s; look at it, then go test -update", s.Name, file)
			}
		}
	}
}
