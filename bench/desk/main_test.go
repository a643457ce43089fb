package main

import "testing"

// What the browser's tests measured stands in the new page where it stood.
func TestTheChannelsAreCarriedOver(t *testing.T) {
	was := "# Title\n\n## Each page\n\nold\n\n## Channels\n\n15 ms\n\n## Scripts\n\nold\n"
	for _, c := range []struct{ page, was, want string }{
		{"# Title\n\n## Each page\n\nnew\n\n## Scripts\n\nnew\n", was, "# Title\n\n## Each page\n\nnew\n\n## Channels\n\n15 ms\n\n## Scripts\n\nnew\n"},
		{"# Title\n\n## Scripts\n\nnew\n", "", "# Title\n\n## Scripts\n\nnew\n"},
		{"# Title\n", was, "# Title\n"},
	} {
		if got := string(carried([]byte(c.page), []byte(c.was))); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
