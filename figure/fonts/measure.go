package fonts

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// meter measures one face. Advances and kerning are read from the font once
// for each pair and kept.
type meter struct {
	mu    sync.Mutex
	font  *sfnt.Font
	buf   sfnt.Buffer
	em    fixed.Int26_6
	pairs map[[2]rune]float64 // advance of the first plus kerning to the second, in ems
}

var meters = sync.OnceValue(func() []*meter {
	ms := make([]*meter, len(Faces()))
	for i, f := range Faces() {
		p, err := sfnt.Parse(f.TrueType())
		if err != nil {
			panic("figure/fonts: " + f.Name() + ": " + err.Error()) // embedded: cannot change at run time
		}
		ms[i] = &meter{font: p, em: fixed.I(int(p.UnitsPerEm())), pairs: map[[2]rune]float64{}}
	}
	return ms
})

// Width gives the width of a text in points, in a face at a size in points, with
// kerning. A letter that the face lacks counts as wide as the box that is
// printed in its place.
func Width(text string, face Face, size float64) float64 {
	m := meters()[face]
	m.mu.Lock()
	defer m.mu.Unlock()
	w := 0.0
	r := []rune(text)
	for i, a := range r {
		b := rune(-1)
		if i+1 < len(r) {
			b = r[i+1]
		}
		w += m.pair(a, b)
	}
	return w * size
}

func (m *meter) pair(a, b rune) float64 {
	key := [2]rune{a, b}
	if v, ok := m.pairs[key]; ok {
		return v
	}
	var v fixed.Int26_6
	ga, err := m.font.GlyphIndex(&m.buf, a)
	if err == nil {
		v, _ = m.font.GlyphAdvance(&m.buf, ga, m.em, font.HintingNone)
	}
	if b >= 0 && ga != 0 {
		if gb, err := m.font.GlyphIndex(&m.buf, b); err == nil && gb != 0 {
			if k, err := m.font.Kern(&m.buf, ga, gb, m.em, font.HintingNone); err == nil {
				v += k
			}
		}
	}
	out := float64(v) / float64(m.em)
	m.pairs[key] = out
	return out
}

// HasGlyphs tells whether a face has every letter of a text.
func HasGlyphs(text string, face Face) bool {
	m := meters()[face]
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, r := range text {
		if g, err := m.font.GlyphIndex(&m.buf, r); err != nil || g == 0 {
			return false
		}
	}
	return true
}
