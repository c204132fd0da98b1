package preflight

import (
	"image"
	"image/color"
	"math/bits"

	"peelcheck/raster"
)

// Fringe is a rim of white or black, a pixel or two wide, along the edge of something in another colour.
type Fringe struct {
	Box      image.Rectangle
	At       image.Point // a pixel of it
	LengthPx float64
	White    bool // of white, not of black
}

const (
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
	var white, black rareMask
	raster.Bands(s.H, 64, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for word := range opaque.Stride {
				rims := s.rimsIn(opaque, word, y)
				white.set(s.survey, y*opaque.Stride+word, rims[rimWhite])
				black.set(s.survey, y*opaque.Stride+word, rims[rimBlack])
			}
		}
	})
	return append(s.rims(white.mask, opaque, true, leastMM), s.rims(black.mask, opaque, false, leastMM)...)
}

func (s *Scene) rims(rim, opaque *raster.Bitmap, white bool, leastMM float64) []Fringe {
	var out []Fringe
	for _, p := range Patches(rim, nil, 0, fringeJoinPx, int(s.Px(leastMM))) {
		if float64(p.AreaPx) >= fringeShare*float64(edgePixels(opaque, p.Box)) {
			out = append(out, Fringe{Box: p.Box, At: p.Point(), LengthPx: float64(p.AreaPx), White: white})
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
					out.Words[y*out.Stride+word] = raster.OpaqueBits(row[256*word : min(len(row), 256*word+256)])
				}
			}
		}
	})
	return out
}

// rimsIn returns, of 64 pixels, the edge pixels that are of each kind of rim. What is too thin to have one is told by the mask alone.
func (s *Scene) rimsIn(opaque *raster.Bitmap, word, y int) (rims [3]uint64) {
	out := outsideOf(opaque, word, y)
	if out.any() == 0 {
		return rims
	}
	for _, in := range inwards {
		m := out.leads(in)
		for _, px := range [...]int{fringePx, fringePx + 1} {
			if m != 0 {
				m &= wordAt(opaque, 64*word+px*in.X, y+px*in.Y)
			}
		}
		for ; m != 0; m &= m - 1 {
			at := bits.TrailingZeros64(m)
			rims[s.rimAt(image.Pt(64*word+at, y), in)] |= 1 << at
		}
	}
	return rims
}

// wordAt returns 64 pixels of a row of a mask from x on, which may lie beyond it.
func wordAt(b *raster.Bitmap, x, y int) uint64 {
	if y < 0 || y >= b.H {
		return 0
	}
	row := b.Row(y)
	at := func(i int) uint64 {
		if i < 0 || i >= len(row) {
			return 0
		}
		return row[i]
	}
	return at(x>>6)>>(x&63) | at(x>>6+1)<<(64-x&63)
}

// inwards are the steps that may lead away from all neighbours outside.
var inwards = [...]image.Point{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}}

// outside tells which of 64 pixels of a mask have a neighbour outside it, by the side; beyond the picture nothing is outside.
type outside struct{ left, right, above, below uint64 }

func outsideOf(b *raster.Bitmap, word, y int) (out outside) {
	at := y*b.Stride + word
	m := b.Words[at]
	if m == 0 {
		return out
	}
	left, right := m<<1|1, m>>1|1<<63
	if word > 0 {
		left = m<<1 | b.Words[at-1]>>63
	}
	if word+1 < b.Stride {
		right = m>>1 | b.Words[at+1]<<63
	} else {
		right |= 1 << ((b.W - 1) & 63)
	}
	out.left, out.right = m&^left, m&^right
	if y > 0 {
		out.above = m &^ b.Words[at-b.Stride]
	}
	if y+1 < b.H {
		out.below = m &^ b.Words[at+b.Stride]
	}
	return out
}

func (o outside) any() uint64 { return o.left | o.right | o.above | o.below }

// leads returns the edge pixels from which a step leads away from all neighbours outside, none of those that have some on two opposite sides
// and nowhere else.
func (o outside) leads(in image.Point) uint64 {
	return o.any() & towards(o.left, o.right, in.X) & towards(o.above, o.below, in.Y)
}

// towards returns the pixels from which a step leads on along one direction, of those that have a neighbour outside before and behind.
func towards(before, behind uint64, step int) uint64 {
	switch step {
	case 1:
		return before &^ behind
	case -1:
		return behind &^ before
	}
	return ^(before ^ behind)
}

// edgePixels counts the edge pixels within a rectangle, to whole words.
func edgePixels(b *raster.Bitmap, r image.Rectangle) int {
	n := 0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for word := r.Min.X / 64; word <= (r.Max.X-1)/64; word++ {
			n += bits.OnesCount64(outsideOf(b, word, y).any())
		}
	}
	return n
}

type rimKind uint8

const (
	rimNone rimKind = iota
	rimWhite
	rimBlack
)

// rimAt tells whether an edge pixel is of a rim; in leads towards the colour proper, which is opaque there and one pixel farther.
func (s *Scene) rimAt(at, in image.Point) rimKind {
	outer := s.pixelAt(at.X, at.Y)
	least, most := min(outer.R, outer.G, outer.B), max(outer.R, outer.G, outer.B)
	if least < whiteRim && most > blackRim {
		return rimNone
	}
	inner, beyond := at.Add(in.Mul(fringePx)), at.Add(in.Mul(fringePx+1))
	proper, found := s.pixelAt(inner.X, inner.Y), rimNone
	switch {
	case least >= whiteRim && int(least)-int(min(proper.R, proper.G, proper.B)) >= rimDifference:
		found = rimWhite
	case most <= blackRim && int(max(proper.R, proper.G, proper.B))-int(most) >= rimDifference:
		found = rimBlack
	}
	if found == rimNone || !steady(proper, s.pixelAt(beyond.X, beyond.Y)) || !s.shows(outer) {
		return rimNone
	}
	return found
}

// steady reports whether a pixel is not much different from a colour.
func steady(c, p color.NRGBA) bool {
	return max(apart(c.R, p.R), apart(c.G, p.G), apart(c.B, p.B)) <= steadyLevels
}

// shows reports whether a colour, printed solid, is seen on the garment.
func (s *Scene) shows(c color.NRGBA) bool {
	c.A = 255
	look, _ := s.Appearance().seen(c)
	return DeltaE(look, s.Job.Garment.Colour) >= s.Limit("contrast")
}
