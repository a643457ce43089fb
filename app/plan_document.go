package app

import "example.org/bookend/app/testplan"

// ComparePlan is how a comparison stands to the frozen plan, in its JSON.
type ComparePlan struct {
	SHA256  string         `json:"sha256"` // of the plan's canonical JSON
	Plan    *testplan.Plan `json:"plan"`
	Frozen  string         `json:"frozen,omitempty"` // RFC 3339
	Person  string         `json:"person,omitempty"`
	Late    string         `json:"late,omitempty"` // why it was not fixed before the first candidate
	Look    string         `json:"look"`
	Follows bool           `json:"follows"` // the verdicts given are the planned ones
	Changes []Change       `json:"changes"`
	Rows    []CompareRow   `json:"planned,omitempty"` // the planned verdicts, where others are given
	Failed  string         `json:"failed,omitempty"`  // why there are none
}

func (p *Planned) document() *ComparePlan {
	if p == nil {
		return nil
	}
	out := &ComparePlan{SHA256: p.SHA256, Plan: p.Plan, Frozen: p.Frozen, Person: p.Person, Late: p.Late, Look: p.Look,
		Follows: p.Both == nil && p.Failed == "", Changes: append([]Change{}, p.Changes...), Failed: p.Failed}
	if p.Both != nil {
		out.Rows = rowsOf(p.Both.Result)
	}
	return out
}
