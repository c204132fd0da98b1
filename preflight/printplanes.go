package preflight

import (
	"fmt"
	"image"
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
	judge := newSurveyor(s)
	raster.Strips(p.Box.Dy(), raster.TilePx, func(y0, y1 int) {
		sep := planeStrip{judge: judge, to: p}
		for x := 0; x < p.Box.Dx(); x += raster.TilePx {
			sep.tile(x, y0, y1)
		}
	})
	return p, nil
}

// planeStrip separates tiles of one strip.
type planeStrip struct {
	judge *surveyor
	to    *PrintPlanes
	tiles [5]*raster.Tile
	facts facts
	own   [5][64]uint8
}

// tile separates the pixels of a tile of the planes.
func (p *planeStrip) tile(x, y0, y1 int) {
	box := p.to.Box
	at := image.Rect(x, y0, min(x+raster.TilePx, box.Dx()), y1).Add(box.Min)
	if !p.judge.s.anyDrawn(at) {
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
	s := p.judge.s
	if !s.anyDrawn(at) {
		return
	}
	drawn := s.pic.Pix.Pix[at.Min.Y*s.pic.Pix.Stride+4*at.Min.X:][:4*at.Dx()]
	if clearAlpha(drawn) {
		return
	}
	var px [4 * 64]byte
	n := copy(px[:], drawn) / 4
	planes := &p.facts.planes
	if s.inks != nil {
		s.ownInks(&p.own, px[:], at)
		planes = &p.own
	} else {
		for i := range 8 {
			p.judge.separate(&p.facts, i, channelsOf(px[32*i:]))
		}
	}
	for i, t := range p.tiles {
		copy(t[line:line+n], planes[i][:n])
	}
	if s.white == s.survey.printsWhite {
		return
	}
	for x := range n {
		if v := &p.tiles[inkWhite][line+x]; *v > 0 && s.chokes(at.Min.X+x, at.Min.Y) {
			*v = 0
		}
	}
}

// anyDrawn reports whether anything may be drawn within a rectangle of the picture.
func (s *Scene) anyDrawn(r image.Rectangle) bool {
	if s.pic.Drawn == nil {
		return true
	}
	return s.pic.Drawn.CountIn(image.Rect(r.Min.X/blockPx, r.Min.Y, (r.Max.X-1)/blockPx+1, r.Max.Y)) > 0
}
