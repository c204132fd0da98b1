package preflight

import (
	"fmt"
	"image"
	"math/bits"

	"peelcheck/raster"
)

// A tile is judged to be a photograph, or screened tone, and its fine detail left alone, where
//   - textureShare of what prints in it lies deep inside print and is neither solid nor a flat tint, or
//   - screenShare of its pixels differ from the next one across, and as many from the next one down, in whether they print at
//     all, as dithering does and lettering or hatching does not.
const (
	tilePx         = 64 // as many as a mask's word holds
	textureShare   = 0.3
	screenShare    = 0.22
	rimShare       = 0.05 // instead of textureShare for a tile beside a photograph
	leastTextured  = 300  // printed pixels a tile must hold to be judged a photograph
	leastScreened  = 60   // and to be judged screened tone
	leastTextureMM = 4    // square millimetres worth a sentence in the report
)

// textured is what a tile is found to be.
type textured uint8

const (
	plain    textured = iota
	rim               // a photograph if it lies beside one
	photo             // a photograph
	screened          // dithered or screened tone
)

// closeTexture makes textured tiles solid in the masks, so that a photograph is not ten thousand pinholes.
func (s *Scene) closeTexture() {
	v := s.survey
	across, down := v.ink.Stride, (s.H+tilePx-1)/tilePx
	kinds := make([]textured, across*down)
	raster.Strips(down, 1, func(row, _ int) {
		for column := range across {
			kinds[row*across+column] = v.textureOf(s.tile(column, row))
		}
	})
	var screens []image.Rectangle
	for at, kind := range kinds {
		column, row := at%across, at/across
		beside := func(dx, dy int) bool {
			x, y := column+dx, row+dy
			return x >= 0 && y >= 0 && x < across && y < down && kinds[y*across+x] == photo
		}
		tile := s.tile(column, row)
		switch {
		case kind == screened:
			screens = append(screens, tile)
			v.texturedPx += v.ink.CountIn(tile)
		case kind == photo || kind == rim && (beside(-1, 0) || beside(1, 0) || beside(0, -1) || beside(0, 1)):
			copyTile(v.solid, v.ink, tile)
			copyTile(v.whiteInk, v.ink, tile)
			v.texturedPx += v.ink.CountIn(tile)
		}
	}
	closeScreened(v, screens)
	if mm2 := s.MM2(float64(v.texturedPx)); mm2 >= leastTextureMM {
		s.Notes = append(s.Notes, fmt.Sprintf("%.0f mm² look like a photograph or screened tone; fine detail inside them was not judged.", mm2))
	}
}

func (s *Scene) tile(column, row int) image.Rectangle {
	return image.Rect(column*tilePx, row*tilePx, min(s.W, column*tilePx+tilePx), min(s.H, row*tilePx+tilePx))
}

func (v *survey) textureOf(tile image.Rectangle) textured {
	printed := v.ink.CountIn(tile)
	if printed < leastScreened {
		return plain
	}
	if isScreened(v.ink, tile) {
		return screened
	}
	unsolid := float64(printed - v.solid.CountIn(tile))
	if unsolid < rimShare*float64(printed) {
		return plain
	}
	share := float64(v.deepUnsolid(tile)) / float64(printed)
	switch {
	case printed >= leastTextured && share >= textureShare:
		return photo
	case share >= rimShare:
		return rim
	}
	return plain
}

// deepUnsolid counts the pixels of a tile that lie more than edgePx within print and are neither solid nor a flat tint.
func (v *survey) deepUnsolid(tile image.Rectangle) int {
	const edgePx = 2
	near := image.Rect(tile.Min.X-tilePx, tile.Min.Y-edgePx, tile.Max.X+tilePx, tile.Max.Y+edgePx)
	near = near.Intersect(image.Rect(0, 0, v.ink.W, v.ink.H))
	at := tile.Sub(near.Min)
	deep := raster.Erode(v.ink.Crop(near), edgePx, false)
	return raster.AndNot(deep, v.solid.Crop(near)).CountIn(at)
}

// isScreened counts the changes between neighbours, across and down, within the box of what prints in a tile.
func isScreened(b *raster.Bitmap, tile image.Rectangle) bool {
	word := tile.Min.X / 64
	across, down := 0, 0
	var columns, above uint64
	top, bottom := -1, -1
	for y := tile.Min.Y; y < tile.Max.Y; y++ {
		w := b.Words[y*b.Stride+word]
		across += bits.OnesCount64((w ^ w>>1) &^ (1 << 63))
		if top >= 0 {
			down += bits.OnesCount64(w ^ above)
		}
		if w != 0 {
			columns |= w
			bottom = y
			if top < 0 {
				top = y
			}
		}
		above = w
	}
	width := bits.Len64(columns) - bits.TrailingZeros64(columns)
	return float64(min(across, down)) > screenShare*float64(width*(bottom-top+1))
}

// closeScreened fills the pores of screened tiles, in what prints and in what is solid.
func closeScreened(v *survey, tiles []image.Rectangle) {
	if len(tiles) == 0 {
		return
	}
	const poresPx = 2
	closed := raster.Dilate(v.ink, poresPx)
	for _, t := range tiles {
		copyTile(v.ink, closed, t)
		copyTile(v.solid, closed, t)
		copyTile(v.whiteInk, closed, t)
	}
}

func copyTile(dst, src *raster.Bitmap, tile image.Rectangle) {
	for y := tile.Min.Y; y < tile.Max.Y; y++ {
		at := y*src.Stride + tile.Min.X/64
		dst.Words[at] = src.Words[at]
	}
}
