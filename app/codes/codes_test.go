package codes

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/bookend/fault"
	"example.org/bookend/programme"
)

// lot is a source of lots with a fixed seed, for tests alone.
func lot(seed byte) *rand.ChaCha8 { return rand.NewChaCha8([32]byte{seed}) }

var moor = []Tyre{
	{Identity: Identity{Tyre: "control", Control: true, Maker: "Skerry"}, Codes: 2},
	{Identity: Identity{Tyre: "first", Maker: "Tarn"}},
	{Identity: Identity{Tyre: "second", Maker: "Fell"}},
}

func TestEveryTyreHasItsLettersAndNoneTwice(t *testing.T) {
	k, err := Draw(lot(1), moor, true)
	if err != nil {
		t.Fatal(err)
	}
	if len(k.Letters()) != 4 || len(k.Controls()) != 2 || len(slices.Compact(k.Letters())) != 4 {
		t.Errorf("%v, control %v", k.Letters(), k.Controls())
	}
	// The letters R and T mean reference and test tyre in a regulation's block
	// (UN R117, Annex 5 and 7); K is the control's own once the codes are open; I, O
	// and Q are misread (common practice, no source).
	for _, bad := range []string{"R", "T", "K", "I", "O", "Q"} {
		if slices.Contains(Alphabet(true), bad) {
			t.Errorf("%s is among the letters", bad)
		}
	}
	if len(Alphabet(false)) != 22 || len(Alphabet(true)) != 20 {
		t.Errorf("%d and %d letters", len(Alphabet(false)), len(Alphabet(true)))
	}
	if _, err := Draw(lot(1), []Tyre{{Identity: Identity{Tyre: "x", Control: true}, Codes: 21}}, true); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("more codes than letters: %v", err)
	}
}

// Every letter is as likely the control's as any other: chi-squared over 20
// letters stays below its 99.9 % point on 19 degrees of freedom, 43.82 (NIST
// e-Handbook, table 1.3.6.7.4).
func TestLettersTellNothing(t *testing.T) {
	src := lot(7)
	count := map[string]float64{}
	const draws = 4000
	for range draws {
		k, err := Draw(src, moor, true)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range k.Controls() {
			count[c]++
		}
	}
	want := 2.0 * draws / 20
	chi := 0.0
	for _, l := range Alphabet(true) {
		chi += math.Pow(count[l]-want, 2) / want
	}
	if chi > 43.82 {
		t.Errorf("chi-squared %.1f: %v", chi, count)
	}
}

func TestAKeyThatIsWrongIsRefused(t *testing.T) {
	id := func(code, tyre string, control bool) Identity {
		return Identity{Code: code, Tyre: tyre, Control: control}
	}
	for says, ids := range map[string][]Identity{
		"0 control tyres":   {id("A", "x", false)},
		"2 control tyres":   {id("A", "x", true), id("B", "y", true)},
		"stands twice":      {id("A", "x", true), id("A", "y", false)},
		"none of the lette": {id("K", "x", true)},
		"has no tyre":       {id("A", " ", true)},
		"is the control un": {id("A", "x", true), id("B", "x", false)},
	} {
		k := &Key{Schema: Schema, Identities: ids}
		if err := k.Check(); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
	}
	if _, err := Read([]byte(`{"schema":"bookend.codes/9"}`)); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("from the future: %v", err)
	}
	if _, err := Read([]byte(`no key`)); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("no key: %v", err)
	}
}

// Once open, every control stint is K's, sets stay apart, and the log that was
// handed in is not touched.
func TestJoiningPutsTheControlUnderOneLetter(t *testing.T) {
	k := &Key{Schema: Schema, Identities: []Identity{
		{Code: "A", Tyre: "control", Control: true}, {Code: "F", Tyre: "control", Control: true},
		{Code: "C", Tyre: "first"}, {Code: "B", Tyre: "first"}, {Code: "D", Tyre: "second"},
	}}
	if err := k.Check(); err != nil {
		t.Fatal(err)
	}
	log := programme.Log{Stints: []programme.Stint{{ID: "1", Code: "A"}, {ID: "2", Code: "C", Set: "C1"}, {ID: "3", Code: "F"}, {ID: "4", Code: "D"}, {ID: "5", Code: "B", Set: "C2"}, {ID: "6", Code: "X"}}}
	got := ""
	for _, s := range k.Join(log).Stints {
		got += s.Code + ":" + s.Set + " "
	}
	if want := "K:under A B:C1 K:under F D: B:C2 X: "; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if log.Stints[0].Code != "A" {
		t.Error("the log was changed")
	}
}

func TestATableOfTyresIsRead(t *testing.T) {
	tyres, given, err := ReadTyres(strings.NewReader("tyre,control,codes,maker,sets\ncontrol,yes,2,Skerry,K1 K2\nfirst,,,Tarn,P1\n"), "tyres.csv")
	if err != nil || given || len(tyres) != 2 || !tyres[0].Control || tyres[0].Codes != 2 || len(tyres[0].Sets) != 2 || tyres[1].Maker != "Tarn" {
		t.Errorf("%+v, %v, %v", tyres, given, err)
	}
	for says, text := range map[string]string{
		"names no tyre": "tyre\n", "none that is known": "tyre,price\nx,1\n", "tyres.csv:2": "tyre,control\nx,maybe\n", "number of letters": "tyre,codes\nx,0\n", "no table": "tyre,codes\nx\n",
	} {
		if _, _, err := ReadTyres(strings.NewReader(text), "tyres.csv"); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
	}
	// What a wrong table says is not repeated: it would tell who is who.
	if _, _, err := ReadTyres(strings.NewReader("tyre,control\nTarn Rubber,Tarn Rubber\n"), "tyres.csv"); err == nil || strings.Contains(err.Error(), "Rubber") {
		t.Errorf("%v", err)
	}
}
