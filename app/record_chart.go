package app

import (
	"example.org/bookend/compare"
	"example.org/bookend/compare/watch"
	"example.org/bookend/programme"
)

// Watch is a record of the ground on its charts.
type Watch struct {
	Key    RecordKey `json:"key"`
	SHA256 string    `json:"rows_sha256"`
	*watch.Record
}

func (k KeyedStints) charted() []watch.Stint {
	var out []watch.Stint
	for _, s := range k.Stints {
		out = append(out, watch.Stint{Programme: s.Programme, Name: s.Date, Block: s.Block, Position: s.Position, Value: s.Value})
	}
	return out
}

// Watch charts the stints of a key.
func (k KeyedStints) Watch() (*Watch, error) {
	sum, err := k.Rows().Hash()
	if err != nil {
		return nil, err
	}
	r, err := watch.Chart(k.charted(), k.Key.Scale == programme.Ratio, "")
	if err != nil {
		return nil, err
	}
	return &Watch{Key: k.Key, SHA256: sum, Record: r}, nil
}

// watched charts the rows that a comparison had at hand with its own control
// stints beside them. A programme that has no name is called as the rows call it.
func watched(r *compare.Result, names map[string]string) (*watch.Record, error) {
	const here = "this programme"
	var list []watch.Stint
	for _, x := range r.Record.Rows {
		name := names[x.Programme]
		if name == "" {
			name = x.Programme
		}
		list = append(list, watch.Stint{Programme: x.Programme, Name: name, Block: x.Block, Position: x.Position, Value: x.Value})
	}
	for _, s := range r.Stints {
		if s.Control {
			list = append(list, watch.Stint{Programme: here, Name: "now", Block: s.Block, Position: s.Position, Value: s.Equal})
		}
	}
	return watch.Chart(list, r.Scale == programme.Ratio, here)
}

// recordNames gives the days of the programmes whose control stints were copied.
func (s *State) recordNames() map[string]string {
	out := map[string]string{}
	for _, e := range s.Copied {
		for _, c := range e.Copied {
			for _, x := range c.Stints {
				out[x.Programme] = x.Date
			}
		}
	}
	return out
}
