package raster

import (
	"encoding/binary"
	"image"
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

// SetTile hands a tile over for a column and row of tiles. It is returned where it is 255 throughout and so free for other use.
func (p *Plane) SetTile(column, row int, t *Tile) (free *Tile) {
	at := &p.tiles[row*p.across+column]
	if isFull(t) {
		*at = fullTile
		return t
	}
	*at = t
	return nil
}

func isFull(t *Tile) bool {
	for i := 0; i < len(t); i += 8 {
		if binary.NativeEndian.Uint64(t[i:]) != ^uint64(0) {
			return false
		}
	}
	return true
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
