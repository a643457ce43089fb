package tyre

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// typedCase is one vector: what has to be said of a size as it is typed. Where findings
// are not written out, their standings are.
type typedCase struct {
	Name, Text, Size, Wrong string
	Asked                   Asked
	Findings                [][3]string
	Standing                []Standing
}

// The vectors were written by hand from the tables (loads, speeds and load at speed: UN
// R30, see the tables) and the grammar; the pages' script passes the same ones.
func TestASizeAsTyped(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "typed.json"))
	if err != nil {
		t.Fatal(err)
	}
	var cases []typedCase
	if err := json.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) < 30 {
		t.Fatalf("only %d vectors", len(cases))
	}
	for _, c := range cases {
		got := AsTyped(c.Text, c.Asked)
		if got.Wrong != c.Wrong || (c.Wrong != "") != (len(got.Findings) == 0) || (c.Wrong != "") != (got.Hint != "") {
			t.Errorf("%s: %+v, want %q", c.Name, got, c.Wrong)
			continue
		}
		if c.Size != "" && got.Size != c.Size {
			t.Errorf("%s: read as %q, want %q", c.Name, got.Size, c.Size)
		}
		var standing []Standing
		for i, f := range got.Findings {
			standing = append(standing, f.Standing)
			if c.Findings != nil && (i >= len(c.Findings) || c.Findings[i] != [3]string{f.About, string(f.Standing), f.Text}) {
				t.Errorf("%s: %q\nwant %q", c.Name, f, c.Findings[min(i, len(c.Findings)-1)])
			}
		}
		if c.Standing != nil && !slices.Equal(standing, c.Standing) {
			t.Errorf("%s: %v, want %v", c.Name, standing, c.Standing)
		}
	}
}

// What is over as typed is what Check refuses, and the other way round: one rule.
func TestTypedAndCheckAgree(t *testing.T) {
	for _, text := range []string{"205/55 R16 91V", "215/65 R16 98H", "225/45 ZR17 94W XL", "195/75 R16C 107/105R", "225/45 ZR17 (91Y)", "225/45 ZR17", "205/55 R16", "T125/70 D15 95M"} {
		size, err := ParseSize(text)
		if err != nil {
			t.Fatal(err)
		}
		for _, kg := range []float64{600, 1118, 1119, 1120, 1230, 1230.5, 1500, 1949, 1950, 1951} {
			for _, kmh := range []float64{90, 130, 131, 170, 210, 211, 240, 255, 270, 300, 301} {
				for _, twin := range []bool{false, true} {
					typed := AsTyped(text, Asked{RearKg: kg, TwinRear: twin, TopMps: kmh / 3.6})
					_, err := size.Check([]Axle{{Name: "rear", Kg: kg, Twin: twin}}, Duty{Name: "the vehicle", SpeedMps: kmh / 3.6})
					if typed.Over() != (err != nil) {
						t.Errorf("%s, %v kg, twin %v, %v km/h: over is %v, Check says %v", text, kg, twin, kmh, typed.Over(), err)
					}
				}
			}
		}
	}
}

// The list says what the tables say: every index and symbol, and no mark is lost.
func TestTheSharedListIsWhole(t *testing.T) {
	l := Shared()
	if len(l.LoadKg) != GreatestLoadIndex-LeastLoadIndex+1 || len(l.Symbols) != len(Symbols()) || len(l.Marks) != len(marks) || len(l.ReferenceKpa) != 5 {
		t.Errorf("%d indices, %d symbols, %d marks, %d pressures", len(l.LoadKg), len(l.Symbols), len(l.Marks), len(l.ReferenceKpa))
	}
	for i, kg := range l.LoadKg {
		if want, err := LoadOf(l.LeastIndex + i); err != nil || want != kg {
			t.Errorf("load index %d: %v, want %v", l.LeastIndex+i, kg, want)
		}
	}
	for _, s := range l.Symbols {
		v, err := ParseSpeedSymbol(s.Symbol)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range l.Shares[s.Symbol] {
			if got := v.ShareAt(x[0] / 3.6); got < x[1]-1e-9 || got > x[1]+1e-9 {
				t.Errorf("%s at %v km/h: %v, want %v", s.Symbol, x[0], got, x[1])
			}
		}
	}
}
