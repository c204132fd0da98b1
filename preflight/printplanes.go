package preflight

import (
	"encoding/binary"
	"fmt"
	"image"
	"math/bits"
	"slices"

	"peelcheck/raster"
)

// PrintPlanes are the planes of an artwork as they go to the printer, cut to what prints: 255 is full ink. White is pulled in where
// the process does so.
type PrintPlanes struct {
	// Box is the part of the picture that the planes hold, in its pixels.
	Box image.Rectangle
	// Of holds a plane for each that the process has, in the order of AllPlanes, nil for the others.
	Of [5]*raster.Plane
}

// Plane returns one plane, nil if the process has none of that name.
func (p *PrintPlanes) Plane(name Plane) *raster.Plane { return p.Of[slices.Index(AllPlanes, name)] }

// PrintPlanes separates the artwork for the printer. It fails where nothing prints.
func (s *Scene) PrintPlanes() (*PrintPlanes, error) {
	if s.Printed.Empty() {
		return nil, fmt.Errorf("nothing prints, so there is nothing to prepare")
	}
	p := &PrintPlanes{Box: s.Printed}
	for i, name := range AllPlanes {
		if slices.Contains(s.Job.Process.Planes, name) {
			p.Of[i] = raster.NewPlane(p.Box.Dx(), p.Box.Dy())
		}
	}
	raster.Strips(p.Box.Dy(), raster.TilePx, func(y0, y1 int) {
		sep := planeStrip{s: s, to: p}
		for x := 0; x < p.Box.Dx(); x += raster.TilePx {
			sep.tile(x, y0, y1)
		}
	})
	return p, nil
}

// planeStrip separates tiles of one strip.
type planeStrip struct {
	s     *Scene
	to    *PrintPlanes
	tiles [5]*raster.Tile
	own   [5][64]uint8
	last  channels // whose planes are at hand
	at    [5]eight // in the order of AllPlanes
}

// tile separates the pixels of a tile of the planes.
func (p *planeStrip) tile(x, y0, y1 int) {
	box := p.to.Box
	at := image.Rect(x, y0, min(x+raster.TilePx, box.Dx()), y1).Add(box.Min)
	if !p.s.anyDrawn(at) {
		return
	}
	for i := range p.tiles {
		if p.tiles[i] == nil {
			p.tiles[i] = new(raster.Tile)
		}
		clear(p.tiles[i][:])
	}
	for y := at.Min.Y; y < at.Max.Y; y++ {
		p.row(image.Rect(at.Min.X, y, at.Max.X, y+1), (y-at.Min.Y)*raster.TilePx)
	}
	for i, plane := range p.to.Of {
		if plane != nil && !plane.SetTile(x/raster.TilePx, y0/raster.TilePx, p.tiles[i]) {
			p.tiles[i] = nil
		}
	}
}

// row separates up to 64 pixels of one row into the tiles from a place on.
func (p *planeStrip) row(at image.Rectangle, line int) {
	s := p.s
	if !s.anyDrawn(at) {
		return
	}
	drawn := s.pic.Pix.Pix[at.Min.Y*s.pic.Pix.Stride+4*at.Min.X:][:4*at.Dx()]
	if clearAlpha(drawn) {
		return
	}
	var padded [4 * 64]byte
	px := drawn
	if len(px) < len(padded) {
		copy(padded[:], drawn)
		px = padded[:]
	}
	if s.inks != nil {
		s.ownInks(&p.own, px, at)
		for i, t := range p.tiles {
			copy(t[line:line+64], p.own[i][:])
		}
	} else {
		for i := 0; i < 64; i += 8 {
			p.eight(channelsOf(px[4*i:]), line+i)
		}
	}
	if s.white != s.survey.printsWhite {
		p.choke(at, line)
	}
}

// eight separates eight pixels.
func (p *planeStrip) eight(px channels, at int) {
	if px.a == 0 {
		return // the tiles are clear
	}
	if px != p.last {
		p.last = px
		w, c, m, y, k := p.s.printed.planes8(px)
		p.at = [5]eight{w, c, m, y, k}
		for i, v := range p.at {
			p.at[i] = v.weighed(px.a)
		}
	}
	for i, t := range p.tiles {
		binary.LittleEndian.PutUint64(t[at:], uint64(p.at[i]))
	}
}

// choke takes white away where it is pulled in.
func (p *planeStrip) choke(at image.Rectangle, line int) {
	white := p.tiles[inkWhite][line : line+at.Dx()]
	for x := 0; x < len(white); {
		n := min(64-(at.Min.X+x)&63, len(white)-x) // the rest of a word of the mask
		word := p.s.white.Row(at.Min.Y)[(at.Min.X+x)>>6] >> uint((at.Min.X+x)&63)
		for out := ^word & runOf(0, n); out != 0; out &= out - 1 {
			i := x + bits.TrailingZeros64(out)
			if white[i] > 0 && p.s.chokes(at.Min.X+i, at.Min.Y) {
				white[i] = 0
			}
		}
		x += n
	}
}

// anyDrawn reports whether anything may be drawn within a rectangle of the picture.
func (s *Scene) anyDrawn(r image.Rectangle) bool {
	if s.pic.Drawn == nil {
		return true
	}
	return s.pic.Drawn.CountIn(image.Rect(r.Min.X/blockPx, r.Min.Y, (r.Max.X-1)/blockPx+1, r.Max.Y)) > 0
}
