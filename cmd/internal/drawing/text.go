package drawing

import (
	"fmt"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Font is a typeface whose glyphs can be had as outlines. It is not safe for concurrent use.
type Font struct {
	face *sfnt.Font
	buf  sfnt.Buffer
	capH float64 // height of H in font units
	em   fixed.Int26_6
}

// ParseFont reads a TrueType or OpenType font.
func ParseFont(data []byte) (*Font, error) {
	face, err := sfnt.Parse(data)
	if err != nil {
		return nil, fmt.Errorf("drawing: %w", err)
	}
	f := &Font{face: face, em: fixed.I(int(face.UnitsPerEm()))}
	h, _, err := f.glyph('H')
	if err != nil {
		return nil, err
	}
	f.capH = h.Bounds().H
	return f, nil
}

// glyph returns an outline in font units on the baseline, and how far it advances.
func (f *Font) glyph(r rune) (Path, float64, error) {
	i, err := f.face.GlyphIndex(&f.buf, r)
	if err != nil {
		return Path{}, 0, fmt.Errorf("drawing: glyph %q: %w", r, err)
	}
	if i == 0 {
		return Path{}, 0, fmt.Errorf("drawing: the font has no glyph %q", r)
	}
	advance, err := f.face.GlyphAdvance(&f.buf, i, f.em, font.HintingNone)
	if err != nil {
		return Path{}, 0, fmt.Errorf("drawing: glyph %q: %w", r, err)
	}
	segments, err := f.face.LoadGlyph(&f.buf, i, f.em, nil)
	if err != nil {
		return Path{}, 0, fmt.Errorf("drawing: glyph %q: %w", r, err)
	}
	return outline(segments), units(advance), nil
}

func units(v fixed.Int26_6) float64 { return float64(v) / 64 }

func outline(segments sfnt.Segments) Path {
	var p Path
	var x, y float64
	for _, s := range segments {
		var c [6]float64
		for i, a := range s.Args {
			c[2*i], c[2*i+1] = units(a.X), units(a.Y)
		}
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			p.MoveTo(c[0], c[1])
			x, y = c[0], c[1]
		case sfnt.SegmentOpLineTo:
			p.LineTo(c[0], c[1])
			x, y = c[0], c[1]
		case sfnt.SegmentOpQuadTo:
			p.CurveTo(x+(c[0]-x)*2/3, y+(c[1]-y)*2/3, c[2]+(c[0]-c[2])*2/3, c[3]+(c[1]-c[3])*2/3, c[2], c[3])
			x, y = c[2], c[3]
		case sfnt.SegmentOpCubeTo:
			p.CurveTo(c[0], c[1], c[2], c[3], c[4], c[5])
			x, y = c[4], c[5]
		}
	}
	return p
}

// Text returns the outlines of a line of text on the baseline y = 0 from x = 0. capMM is the height of its capitals,
// spaceMM is added between letters. It panics if the font lacks a letter: texts are the program's own.
func (f *Font) Text(s string, capMM, spaceMM float64) Path {
	var out Path
	f.set(s, capMM, spaceMM, func(g Path, middle float64) {
		out = Join(out, g.Move(middle, 0))
	})
	return out
}

// TextFitted returns the text scaled so that its outlines are widthMM wide, centred on x with its baseline at y.
func (f *Font) TextFitted(s string, widthMM, space, x, y float64) Path {
	p := f.Text(s, 1, space)
	k := widthMM / p.Bounds().W
	return p.Transform(k, k, 0, 0, y).Centred(x)
}

// TextOnArc sets text round the point (x, y) with its baseline at radius rMM, its middle at the angle midDeg, clockwise from
// the right. inward turns the letters' feet outward, for text that runs along the bottom of a circle.
func (f *Font) TextOnArc(s string, capMM, spaceMM, x, y, rMM, midDeg float64, inward bool) Path {
	width := f.set(s, capMM, spaceMM, func(Path, float64) {})
	turn, upright := 1.0, 90.0
	if inward {
		turn, upright = -1, -90
	}
	var out Path
	f.set(s, capMM, spaceMM, func(g Path, middle float64) {
		deg := midDeg + turn*(middle-width/2)/rMM*180/math.Pi
		sin, cos := math.Sincos(deg * math.Pi / 180)
		out = Join(out, g.Transform(1, 1, deg+upright, x+rMM*cos, y+rMM*sin))
	})
	return out
}

// set calls place with each glyph, centred on x = 0, and the place of its middle along the line; it returns the line's length.
func (f *Font) set(s string, capMM, spaceMM float64, place func(g Path, middle float64)) float64 {
	k := capMM / f.capH
	at := 0.0
	for _, r := range s {
		g, advance, err := f.glyph(r)
		if err != nil {
			panic(err)
		}
		w := advance * k
		place(g.Transform(k, k, 0, -w/2, 0), at+w/2)
		at += w + spaceMM
	}
	return at - spaceMM
}
