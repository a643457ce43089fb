package programme

import (
	"strings"
	"testing"
)

// Stints stand by position whatever the lines' order; a break and another block divide
// them, and only these do.
func TestTheBlocksOfALog(t *testing.T) {
	l := Log{Stints: []Stint{
		{Code: "K", Position: 5, Block: "b"}, {Code: "P", Position: 2, Block: "a"}, {Code: "K", Position: 1, Block: "a"},
		{Code: "R", Position: 6, Block: "b"}, {Code: "K", Position: 3, Block: "a"}, {Code: "W", Position: 6.5, Block: "b", Break: true}, {Code: "T", Position: 3, Block: "a"},
	}}
	var said []string
	for _, block := range l.Blocks() {
		text := ""
		for _, s := range block {
			text += s.Code
		}
		said = append(said, text)
	}
	if got := strings.Join(said, " / "); got != "KPKT / KR / W" {
		t.Errorf("the blocks are %s", got)
	}
	if l.Stints[0].Position != 5 {
		t.Error("the log itself was put in another order")
	}
	if b := (Log{}).Blocks(); b != nil {
		t.Errorf("an empty log has the blocks %v", b)
	}
}
