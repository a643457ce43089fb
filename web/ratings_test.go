package web_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// feels is a made-up table of ratings beside stops: P half a point better in response.
func feels() string {
	var b strings.Builder
	b.WriteString("stint,code,measure,rater,value\n")
	for i, x := range []struct {
		code               string
		distance, response float64
	}{
		{"K", 32.0, 6.5}, {"P", 30.1, 7}, {"R", 33.0, 6.5}, {"K", 32.1, 6.25}, {"P", 30.2, 7},
		{"R", 33.1, 6.25}, {"K", 32.0, 6.5}, {"R", 33.0, 6.5}, {"P", 30.1, 7}, {"K", 32.2, 6.5},
	} {
		fmt.Fprintf(&b, "%d,%s,distance,,%.1f\n%[1]d,%[2]s,response,Ines,%[4]g\n", i+1, x.code, x.distance, x.response)
	}
	return b.String()
}

// What is rated has a margin in points of its scale; an index has nothing to do with it.
func TestTheMarginOfRatingsIsInPointsOfTheScale(t *testing.T) {
	s := serve(t, "Wet stops", feels())
	code, body := s.get("/p/tarn/ratings?control=K")
	if code != http.StatusOK || strings.Contains(body, "index points") || strings.Contains(body, "within the margin") {
		t.Errorf("%d, index points or a margin that nobody gave: %v", code, strings.Contains(body, "index points"))
	}
	wants(t, "the page", body, "Margin, points of the scale", `name="points"`)
	// Nothing on this scale can differ by more than 9 points, so that all are the same within 9.
	if _, body = s.get("/p/tarn/ratings?control=K&points=9"); !strings.Contains(body, "by less than matters") && !strings.Contains(body, "within the margin") {
		t.Error("the margin changes nothing")
	}
	wants(t, "the form", body, `name="points" inputmode="decimal" value="9"`)
	// An index margin of the other pages does not reach the ratings.
	if _, body = s.get("/p/tarn/ratings?control=K&margin=9"); strings.Contains(body, "within the margin") || strings.Contains(body, "less than matters") {
		t.Error("a margin in index points was taken for points of the scale")
	}
	for _, bad := range []string{"10", "0", "-1", "half", "NaN"} {
		if code, body := s.get("/p/tarn/ratings?control=K&points=" + bad); code != http.StatusUnprocessableEntity || !strings.Contains(body, "points of the scale") {
			t.Errorf("%s: %d", bad, code)
		}
	}
	if _, body = s.get("/p/tarn/verdicts?control=K"); !strings.Contains(body, "Margin, index points") {
		t.Error("the verdicts' margin is in other points")
	}
}
