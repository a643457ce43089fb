package app

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
