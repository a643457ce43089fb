package web_test

import (
	"net/http"
	"strings"
	"testing"
)

// feels is a made-up table of ratings beside stops: P half a point better in response.
const feels = `stint,code,measure,rater,value
1,K,distance,,32.0
1,K,response,Ines,6.5
2,P,distance,,30.1
2,P,response,Ines,7
3,R,distance,,33.0
3,R,response,Ines,6.5
4,K,distance,,32.1
4,K,response,Ines,6.25
5,P,distance,,30.2
5,P,response,Ines,7
6,R,distance,,33.1
6,R,response,Ines,6.25
7,K,distance,,32.0
7,K,response,Ines,6.5
8,R,distance,,33.0
8,R,response,Ines,6.5
9,P,distance,,30.1
9,P,response,Ines,7
10,K,distance,,32.2
10,K,response,Ines,6.5
`

// What is rated has a margin in points of its scale; an index has nothing to do with it.
func TestTheMarginOfRatingsIsInPointsOfTheScale(t *testing.T) {
	s := serve(t, "Wet stops", feels)
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
