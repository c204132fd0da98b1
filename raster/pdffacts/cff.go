package pdffacts

import (
	"github.com/go-text/typesetting/font/cff"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/font/opentype/tables"
)

// flat are letters without a round top, best first: what is round reaches higher than the rest (overshoot).
var (
	flatSmall    = []string{"x", "z", "v", "w", "u"}
	flatCapitals = []string{"H", "E", "I", "T", "Z", "N"}
)

// bareUnits is how many units a font's size has in a bare CFF program unless it has a matrix of its own, which is rare and would give heights
// that are not taken.
const bareUnits = 1000

// bareHeights reads heights from the outlines of a bare CFF program (Type 1C); 0 for what a subset does not hold.
func bareHeights(data []byte) (h heights) {
	f, err := cff.Parse(data)
	if err != nil {
		return heights{}
	}
	named := map[string]int{}
	for i := range f.Charstrings {
		named[f.GlyphName(opentype.GID(i))] = i
	}
	top := func(letters []string) float64 {
		for _, l := range letters {
			i, ok := named[l]
			if !ok {
				continue
			}
			if _, bounds, err := f.LoadGlyph(tables.GlyphID(i)); err == nil {
				return float64(bounds.Max.Y) / bareUnits
			}
		}
		return 0
	}
	return heights{x: top(flatSmall), capital: top(flatCapitals)}.plausible()
}
