package pdffacts

import (
	"math"
	"slices"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// heights are shares of a font's size.
type heights struct{ x, capital, stem float64 }

// coreHeights are XHeight, CapHeight and StdVW of the standard 14 fonts (9.6.2.2), of Adobe's Core 14 AFM files, from memory.
// TestCoreHeights compares them with the fonts that Debian has in their place.
var coreHeights = map[string]heights{
	"Helvetica": {.523, .718, .076}, "Helvetica-Oblique": {.523, .718, .076},
	"Helvetica-Bold": {.532, .718, .118}, "Helvetica-BoldOblique": {.532, .718, .118},
	"Times-Roman": {.450, .662, .084}, "Times-Italic": {.441, .653, .076},
	"Times-Bold": {.461, .676, .139}, "Times-BoldItalic": {.462, .669, .121},
	"Courier": {.426, .562, .051}, "Courier-Oblique": {.426, .562, .051},
	"Courier-Bold": {.439, .562, .106}, "Courier-BoldOblique": {.439, .562, .106},
}

// programHeights reads the heights of x and H from an OpenType or TrueType program, from its table OS/2 or else its outlines, and the stem from
// the outline of l; of a bare CFF program the heights alone; 0 for what cannot be told.
func programHeights(data []byte) (h heights) {
	defer func() {
		if recover() != nil { // a damaged program must not cost the facts
			h = heights{}
		}
	}()
	if len(data) == 0 {
		return heights{}
	}
	f, err := sfnt.Parse(data)
	if err != nil {
		return bareHeights(data)
	}
	if f.UnitsPerEm() <= 0 {
		return heights{}
	}
	var buf sfnt.Buffer
	em := float64(f.UnitsPerEm())
	size := fixed.I(int(f.UnitsPerEm()))
	if m, err := f.Metrics(&buf, size, xfont.HintingNone); err == nil {
		h.x, h.capital = units(m.XHeight)/em, units(m.CapHeight)/em
	}
	h.stem = stemOf(f, &buf, size, h.x*em/2) / em
	return h.plausible()
}

// plausible leaves out heights that no font has.
func (h heights) plausible() heights {
	const least, most = 0.1, 2
	if !(h.x > least && h.x < most) {
		h.x = 0
	}
	if !(h.capital > least && h.capital < most) {
		h.capital = 0
	}
	return h
}

func units(v fixed.Int26_6) float64 { return float64(v) / 64 }

// stemOf is how wide an l is at some height; 0 if that cannot be told.
func stemOf(f *sfnt.Font, buf *sfnt.Buffer, size fixed.Int26_6, height float64) float64 {
	index, err := f.GlyphIndex(buf, 'l')
	if err != nil || index == 0 || height <= 0 {
		return 0
	}
	segments, err := f.LoadGlyph(buf, index, size, nil)
	if err != nil {
		return 0
	}
	var xs []float64
	var x0, y0 float64
	for _, s := range segments {
		last := s.Args[map[sfnt.SegmentOp]int{sfnt.SegmentOpMoveTo: 0, sfnt.SegmentOpLineTo: 0, sfnt.SegmentOpQuadTo: 1, sfnt.SegmentOpCubeTo: 2}[s.Op]]
		x, y := units(last.X), -units(last.Y) // its y counts downwards
		if s.Op != sfnt.SegmentOpMoveTo && (y0 < height) != (y < height) {
			xs = append(xs, x0+(x-x0)*(height-y0)/(y-y0)) // a chord stands for a curve: stems are straight
		}
		x0, y0 = x, y
	}
	if len(xs) < 2 {
		return 0
	}
	slices.Sort(xs)
	return math.Abs(xs[1] - xs[0])
}
