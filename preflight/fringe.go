package preflight

import (
	"encoding/binary"
	"image"
	"image/color"
	"math/bits"

	"peelcheck/raster"
)

// Fringe is a rim of white or black, a pixel or two wide, along the edge of something in another colour.
type Fringe struct {
	Box      image.Rectangle
	LengthPx float64
	White    bool // of white, not of black
}

const (
	opaqueAlpha = 128
	// A rim is at most fringePx wide: what lies that far in is the colour proper, and one pixel farther is not much different.
	fringePx      = 3
	steadyLevels  = 48
	whiteRim      = 200 // its least channel
	blackRim      = 55  // its most channel
	rimDifference = 110 // by which the colour proper is darker, or lighter, than the rim
	fringeJoinPx  = 6   // places nearer than that along an edge are one rim
	fringeShare   = 0.3 // of the edge within its box that is rim
)

// Fringes are the rims that cutting out from a white or black ground leaves and that will be seen on the garment, of at least leastMM.
func (s *Scene) Fringes(leastMM float64) []Fringe {
	if !s.pic.HasAlpha || s.pic.Vector {
		return nil
	}
	opaque := s.opaque()
	edge, white, black := raster.NewBitmap(s.W, s.H), raster.NewBitmap(s.W, s.H), raster.NewBitmap(s.W, s.H)
	raster.Bands(s.H, 64, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			s.eachEdge(opaque, y, func(x int, in image.Point) {
				edge.Set(x, y)
				switch rim := s.rimAt(opaque, image.Pt(x, y), in); rim {
				case rimWhite:
					white.Set(x, y)
				case rimBlack:
					black.Set(x, y)
				}
			})
		}
	})
	return append(s.rims(white, edge, true, leastMM), s.rims(black, edge, false, leastMM)...)
}

func (s *Scene) rims(rim, edge *raster.Bitmap, white bool, leastMM float64) []Fringe {
	var out []Fringe
	for _, p := range Patches(rim, 0, fringeJoinPx, int(s.Px(leastMM))) {
		if float64(p.AreaPx) >= fringeShare*float64(edge.CountIn(p.Box)) {
			out = append(out, Fringe{Box: p.Box, LengthPx: float64(p.AreaPx), White: white})
		}
	}
	return out
}

// opaque is the mask of pixels that are more than half opaque.
func (s *Scene) opaque() *raster.Bitmap {
	out := raster.NewBitmap(s.W, s.H)
	raster.Bands(s.H, 64, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := s.pic.Pix.Pix[y*s.pic.Pix.Stride:][:4*s.W]
			for word := range out.Stride {
				if s.pic.Drawn == nil || s.pic.Drawn.At(word, y) {
					out.Words[y*out.Stride+word] = opaqueBits(row[256*word : min(len(row), 256*word+256)])
				}
			}
		}
	})
	return out
}

// opaqueBits returns the top bit of the alpha of up to 64 pixels.
func opaqueBits(px []byte) uint64 {
	var out uint64
	for i := 0; i+4 <= len(px); i += 4 {
		out |= uint64(binary.LittleEndian.Uint32(px[i:])>>31) << (i / 4)
	}
	return out
}

// eachEdge calls do for every pixel of a row within a mask that has a neighbour outside it, with the step that leads away from there.
func (s *Scene) eachEdge(mask *raster.Bitmap, y int, do func(x int, in image.Point)) {
	for word, m := range mask.Row(y) {
		for ; m != 0; m &= m - 1 {
			x := 64*word + bits.TrailingZeros64(m)
			in := image.Point{}
			for _, d := range [...]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if !mask.At(x-d.X, y-d.Y) && image.Pt(x-d.X, y-d.Y).In(s.pic.Pix.Rect) {
					in = in.Add(d)
				}
			}
			if in != (image.Point{}) {
				do(x, in)
			}
		}
	}
}

type rimKind uint8

const (
	rimNone rimKind = iota
	rimWhite
	rimBlack
)

// rimAt tells whether an edge pixel is of a rim; in leads towards the colour proper.
func (s *Scene) rimAt(opaque *raster.Bitmap, at, in image.Point) rimKind {
	inner, deeper := at.Add(in.Mul(fringePx)), at.Add(in.Mul(fringePx+1))
	if !opaque.At(inner.X, inner.Y) || !opaque.At(deeper.X, deeper.Y) {
		return rimNone
	}
	outer, proper, beyond := s.pixelAt(at.X, at.Y), s.pixelAt(inner.X, inner.Y), s.pixelAt(deeper.X, deeper.Y)
	if max(apart(proper.R, beyond.R), apart(proper.G, beyond.G), apart(proper.B, beyond.B)) > steadyLevels {
		return rimNone
	}
	least, most := min(outer.R, outer.G, outer.B), max(outer.R, outer.G, outer.B)
	found := rimNone
	switch {
	case least >= whiteRim && int(least)-int(min(proper.R, proper.G, proper.B)) >= rimDifference:
		found = rimWhite
	case most <= blackRim && int(max(proper.R, proper.G, proper.B))-int(most) >= rimDifference:
		found = rimBlack
	}
	if found != rimNone && !s.shows(outer) {
		return rimNone
	}
	return found
}

// shows reports whether a colour, printed solid, is seen on the garment.
func (s *Scene) shows(c color.NRGBA) bool {
	c.A = 255
	look, _ := s.Appearance().seen(c)
	return DeltaE(look, s.Job.Garment.Colour) >= s.Limit("contrast")
}
