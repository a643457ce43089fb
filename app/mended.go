package app

import (
	"slices"

	"example.org/bookend/soundness/mend"
)

// KindMend is the kind of entry that accepts mends of a recording; its body is a
// MendEntry. A later one about the same recording takes its place.
const KindMend = "mend"

// MendEntry says which mends of a recording somebody has accepted, in their order;
// none takes back what was accepted before.
type MendEntry struct {
	Test   string      `json:"test"`
	SHA256 string      `json:"sha256"` // of the recording
	Words  []string    `json:"words"`  // as they were said
	Mends  []mend.Mend `json:"mends"`
}

// KeptMend is accepted mends with the entry that accepted them.
type KeptMend struct {
	Entry string
	MendEntry
}

// keepMends takes the mends of an entry into the state.
func (s *State) keepMends(entry string, m MendEntry) {
	s.Mends = slices.DeleteFunc(s.Mends, func(k KeptMend) bool { return k.Test == m.Test && k.SHA256 == m.SHA256 })
	s.Mends = append(s.Mends, KeptMend{entry, m})
}

// mends gives what was accepted for a recording, and the entry that did.
func (s *State) mends(r RecordingEntry) (entry string, mends []mend.Mend) {
	for _, k := range s.Mends {
		if k.Test == r.Test && k.SHA256 == r.SHA256 {
			return k.Entry, k.Mends
		}
	}
	return "", nil
}
