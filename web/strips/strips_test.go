package strips_test

import (
	"net/url"
	"testing"

	"example.org/bookend/app/trace"
	"example.org/bookend/unit"
	"example.org/bookend/web/strips"
)

// What is asked for wrong is refused.
func TestAsked(t *testing.T) {
	for _, bad := range []string{"", "columns=0", "columns=4001", "columns=ten", "columns=10&from=NaN", "columns=10&to=Inf", "columns=10&from=soon"} {
		q, _ := url.ParseQuery(bad)
		if _, err := strips.Asked(q); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
	q, _ := url.ParseQuery("columns=10&from=2.5")
	a, err := strips.Asked(q)
	if err != nil || a.Columns != 10 || *a.From != 2.5 || a.To != nil {
		t.Errorf("%+v, %v", a, err)
	}
	if _, err := strips.OfRecording(&trace.Traces{FromS: 0, ToS: 2}, a, unit.Style{}); err == nil {
		t.Error("a window that ends before it begins is taken")
	}
}

// Names lose their unit and read as words; stations are read in feet where that is asked
// for (a foot is 0.3048 m: NIST SP 811, B.8).
func TestWords(t *testing.T) {
	for name, want := range map[string]string{"steering_angle_deg": "steering angle", "speed_kmh": "speed", "yaw": "yaw"} {
		if got := strips.Title(name); got != want {
			t.Errorf("%s reads %q", name, got)
		}
	}
	feet := unit.Style{Comma: true, Length: unit.MustParse("ft")}
	if got := strips.Station(30.48, feet); got != "100,0\u00a0ft" {
		t.Errorf("30.48 m read %q", got)
	}
	if got := strips.Station(30.48, unit.Style{}); got != "30.5\u00a0m" {
		t.Errorf("30.48 m read %q", got)
	}
}

// An address of runs says over what, where the gate is and at what place.
func TestRunsAsked(t *testing.T) {
	q, _ := url.ParseQuery("over=time&gate=12.5&at=3&channel=ay&channel=ax")
	a, err := strips.RunsAsked(q)
	if err != nil || !a.Time || a.Gate != 12.5 || *a.At != 3 || a.Columns != 1 || len(a.Channels) != 2 {
		t.Errorf("%+v, %v", a, err)
	}
	if _, err := strips.RunsAsked(url.Values{"at": {"here"}}); err == nil {
		t.Error("a place that is no number is taken")
	}
	if _, err := strips.OfRuns(nil, a, unit.Style{}); err == nil {
		t.Error("channels of no run")
	}
}
