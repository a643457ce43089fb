package testplan

import (
	"math"
	"strings"
	"testing"

	"example.org/bookend/fault"
)

// By hand: of 5 %, two looks spend 1 % and 0.5 %; they have 99 % and 99.5 %, the
// end what is left, 96.5 %.
func TestLooksShareTheError(t *testing.T) {
	p := Test{First: "value", Stints: 13, Looks: []Look{{Stints: 5, Spends: 0.01}, {Stints: 9, Spends: 0.005}}}
	for _, c := range []struct {
		stints     int
		confidence float64
		planned    bool
	}{{5, 0.99, true}, {9, 0.995, true}, {13, 0.965, true}, {14, 0.965, true}, {7, 0.965, false}} {
		words, confidence, planned := p.Look(c.stints)
		if math.Abs(confidence-c.confidence) > 1e-12 || planned != c.planned || words == "" {
			t.Errorf("after %d stints: %q, %v, %v", c.stints, words, confidence, planned)
		}
	}
	if _, confidence, planned := (&Test{First: "value"}).Look(3); confidence != 0.95 || !planned {
		t.Errorf("without looks: %v, %v", confidence, planned)
	}
}

func TestAReasonIsByARuleThatItBeginsWith(t *testing.T) {
	p := Test{Exclusions: []Rule{{ID: "traffic", Text: "another vehicle"}}}
	for reason, want := range map[string]bool{"traffic": true, "Traffic: a van": true, "traffic, twice": true, "trafficker": false, "no traffic": false, "": false} {
		if got := p.ByRule(reason); got != want {
			t.Errorf("%q: %v", reason, got)
		}
	}
}

func TestAPlanThatSaysTooLittleOrTooMuchIsRefused(t *testing.T) {
	for says, text := range map[string]string{
		"no plan":             `[]`,
		"something follows":   `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v"}]} {}`,
		"schema":              `{"schema":"bookend.plan/2","control":"K","tests":[{"first":"v"}]}`,
		"no control":          `{"schema":"bookend.plan/1","tests":[{"first":"v"}]}`,
		"no test":             `{"schema":"bookend.plan/1","control":"K"}`,
		"no first measure":    `{"schema":"bookend.plan/1","control":"K","tests":[{}]}`,
		"stands twice":        `{"schema":"bookend.plan/1","control":"K","tests":[{"test":"a","first":"v"},{"test":"a","first":"v"}]}`,
		"not how many":        `{}`,
		"it is not said how":  `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","looks":[{"stints":3,"spends":0.01}]}]}`,
		"look 1 is after":     `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","stints":3,"looks":[{"stints":3,"spends":0.01}]}]}`,
		"drift":               `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","drift":"wavy"}]}`,
		"margin":              `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","margin":"-1"}]}`,
		"has no id":           `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","exclusions":[{"text":"x"}]}]}`,
		"cannot be summed":    `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","weights":{"grip":1,"Balance at entry":1}}]}`,
		"margin stands twice": `{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","margins":{"v":"1"}}]}`,
	} {
		_, err := Read("plan.json", []byte(text))
		if says == "not how many" {
			says = "schema"
		}
		if code := fault.CodeOf(err); code != fault.Invalid && code != fault.Unsupported || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
	}
}

// A plan names its first measure and not what it is in: a margin with a unit is taken at its
// word, and held against the measure once there is one.
func TestAPlansMarginHasAUnitOfItsOwn(t *testing.T) {
	for _, margin := range []string{"1", "5ms", "0.20m", "1.5 m/s²", "3km/h"} {
		if _, err := Read("plan.json", []byte(`{"schema":"bookend.plan/1","control":"K","tests":[{"first":"yaw_delay","scale":"difference","margin":"`+margin+`"}]}`)); err != nil {
			t.Errorf("%s: %v", margin, err)
		}
	}
}

// The hash does not depend on how the file is written, and does on what it says.
func TestThePlansHashIsThatOfWhatItSays(t *testing.T) {
	hash := func(text string) string {
		p, err := Read("plan.json", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		sum, err := p.Hash()
		if err != nil {
			t.Fatal(err)
		}
		return sum
	}
	a := hash(`{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","margin":"1"}]}`)
	b := hash("{\"tests\": [{\"margin\": \"1\",\n\"first\": \"v\"}], \"control\": \"K\", \"schema\": \"bookend.plan/1\"}")
	c := hash(`{"schema":"bookend.plan/1","control":"K","tests":[{"first":"v","margin":"2"}]}`)
	if a != b || a == c {
		t.Errorf("%s, %s, %s", a, b, c)
	}
	// The SHA-256 of the canonical text, computed apart (sha256sum, GNU coreutils).
	if want := "7060a9c26bb6c163ed48517e93f9ef5720d2f0c3fa55d548ef60a31cee1c59a1"; a != want {
		t.Errorf("%s, want %s", a, want)
	}
}
