package raster

import (
	"encoding/binary"
	"image"
	"slices"
)

// TilePx is the side of a Plane's tiles.
const TilePx = 64

// Tile is a square of a Plane, row by row.
type Tile [TilePx * TilePx]uint8

// fullTile stands for every tile that is 255 throughout.
var fullTile = func() *Tile {
	t := new(Tile)
	for i := range t {
		t[i] = 255
	}
	return t
}()

// Plane is one byte a pixel, kept in tiles: those that are zero or 255 throughout take no memory. Different rows of tiles may be
// set at once.
type Plane struct {
	W, H   int
	across int
	tiles  []*Tile
}

// NewPlane returns a plane of w x h pixels that is zero throughout.
func NewPlane(w, h int) *Plane {
	across := (w + TilePx - 1) / TilePx
	return &Plane{W: w, H: h, across: across, tiles: make([]*Tile, across*((h+TilePx-1)/TilePx))}
}

// SetTile sets the tile at a column and row of tiles. It keeps t, unless that is one value throughout, 0 or 255: then it returns true, and t
// is free for other use.
func (p *Plane) SetTile(column, row int, t *Tile) (free bool) {
	at := &p.tiles[row*p.across+column]
	switch {
	case t.isAll(0):
		*at = nil
	case t.isAll(255):
		*at = fullTile
	default:
		*at = t
		return false
	}
	return true
}

// EditTile returns the tile at a column and row of tiles, for its bytes to be changed and handed back with SetTile. A tile that was handed to
// two planes changes in both.
func (p *Plane) EditTile(column, row int) *Tile {
	switch t := p.tiles[row*p.across+column]; t {
	case nil:
		return new(Tile)
	case fullTile:
		own := *t
		return &own
	default:
		return t
	}
}

func (t *Tile) isAll(v uint8) bool {
	each := uint64(v) * 0x0101_0101_0101_0101
	for i := 0; i < len(t); i += 8 {
		if binary.NativeEndian.Uint64(t[i:]) != each {
			return false
		}
	}
	return true
}

// Blank reports whether all of the plane is 0.
func (p *Plane) Blank() bool {
	return !slices.ContainsFunc(p.tiles, func(t *Tile) bool { return t != nil })
}

// Read fills dst with the plane's bytes within r, row by row; r lies within the plane.
func (p *Plane) Read(dst []uint8, r image.Rectangle) {
	w := r.Dx()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := dst[(y-r.Min.Y)*w:][:w]
		tiles := p.tiles[y/TilePx*p.across:]
		inTile := y % TilePx * TilePx
		for x := r.Min.X; x < r.Max.X; {
			end := min(r.Max.X, (x|(TilePx-1))+1)
			part := row[x-r.Min.X : end-r.Min.X]
			if t := tiles[x/TilePx]; t != nil {
				copy(part, t[inTile+x%TilePx:])
			} else {
				clear(part)
			}
			x = end
		}
	}
}
