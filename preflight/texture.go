package preflight

import (
	"fmt"
	"image"
	"maps"
	"math/bits"

	"peelcheck/raster"
)

// A tile is judged to be a photograph, or screened tone, and its fine detail left alone, where
//   - textureShare of what prints in it lies deep inside print and is neither solid nor a flat tint, or
//   - screenShare of its pixels differ from the next one across, and as many from the next one down, in whether they print at
//     all, as dithering does and lettering or hatching does not.
const (
	tilePx         = 64
	textureShare   = 0.3
	screenShare    = 0.22
	rimShare       = 0.05 // instead of textureShare for a tile beside a photograph
	leastTextured  = 300  // printed pixels a tile must hold to be judged a photograph
	leastScreened  = 60   // and to be judged screened tone
	leastTextureMM = 4    // square millimetres worth a sentence in the report
)

// closeTexture makes textured tiles solid in the masks, so that a photograph is not ten thousand pinholes.
func (s *Scene) closeTexture() {
	v := s.survey
	deep := raster.AndNot(raster.Erode(v.ink, 2, false), v.solid)
	var screened []image.Rectangle
	photo := map[image.Point]bool{} // tiles, by column and row
	rim := map[image.Point]bool{}   // tiles that are photographs if they lie beside one
	tileAt := func(at image.Point) image.Rectangle {
		return image.Rect(at.X*tilePx, at.Y*tilePx, min(s.W, at.X*tilePx+tilePx), min(s.H, at.Y*tilePx+tilePx))
	}
	for row := range (s.H + tilePx - 1) / tilePx {
		for column := range v.ink.Stride {
			at := image.Pt(column, row)
			tile := tileAt(at)
			printed := v.ink.CountIn(tile)
			if printed < leastScreened {
				continue
			}
			share := float64(deep.CountIn(tile)) / float64(printed)
			switch {
			case isScreened(v.ink, tile):
				screened = append(screened, tile)
				v.texturedPx += printed
			case printed >= leastTextured && share >= textureShare:
				photo[at] = true
			case share >= rimShare:
				rim[at] = true
			}
		}
	}
	beside := func(at image.Point) bool {
		return photo[at.Add(image.Pt(-1, 0))] || photo[at.Add(image.Pt(1, 0))] || photo[at.Add(image.Pt(0, -1))] || photo[at.Add(image.Pt(0, 1))]
	}
	maps.DeleteFunc(rim, func(at image.Point, _ bool) bool { return !beside(at) })
	maps.Copy(photo, rim)
	for at := range photo {
		tile := tileAt(at)
		copyTile(v.solid, v.ink, tile)
		copyTile(v.whiteInk, v.ink, tile)
		v.texturedPx += v.ink.CountIn(tile)
	}
	closeScreened(v, screened)
	if mm2 := s.MM2(float64(v.texturedPx)); mm2 >= leastTextureMM {
		s.Notes = append(s.Notes, fmt.Sprintf("%.0f mm² look like a photograph or screened tone; fine detail inside them was not judged.", mm2))
	}
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
