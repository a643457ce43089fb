package web

import (
	"testing"

	"example.org/bookend/report"
)

// A measure that is opened brings all that the report has of it, figures first where the
// appendix has them last; the report's own sections stay as they are.
func TestAMeasureIsOpenedWhole(t *testing.T) {
	text := func(s string) report.Block { return report.Block{Text: report.Text{{Text: s}}} }
	figure := report.Block{Figure: &report.Drawn{ID: "figure-1"}}
	sections := []report.Section{
		{ID: "t1m1", Blocks: []report.Block{text("answers"), figure}},
		{ID: "t1m1-rests", Of: "t1m1", Behind: true, Blocks: []report.Block{text("rests")}},
		{ID: "t1m2", Behind: true, Blocks: []report.Block{text("describes"), figure}},
	}
	if s := opened(sections, "t1m1"); len(s.Blocks) != 3 || s.Blocks[0].Figure != nil || s.Blocks[2].Text.String() != "rests" {
		t.Errorf("%+v", s)
	}
	if s := opened(sections, "t1m2"); len(s.Blocks) != 2 || s.Blocks[0].Figure == nil || sections[2].Blocks[0].Figure != nil {
		t.Errorf("%+v", s)
	}
	if opened(sections, "t9m9") != nil {
		t.Error("something is opened that there is not")
	}
	for id, want := range map[string]bool{"t1m2": true, "t12m3": true, "t1-more": true, "t1m1-rests": false, "t1-runs": false, "tm": false, "method": false} {
		if isMeasure(id) != want {
			t.Errorf("%s is a measure's section: %v", id, !want)
		}
	}
}
