package preflight

import (
	"fmt"
	"image"
	"math/bits"

	"peelcheck/raster"
)

// A tile is judged to be a photograph, or screened tone, and its fine detail left alone, where
//   - textureShare of what prints in it lies deep inside print and is neither solid nor a flat tint, or
//   - screenShare of its neighbouring pixels change between printed and unprinted, as dithering does and lettering does not.
const (
	tilePx         = 64
	textureShare   = 0.3
	screenShare    = 0.28
	leastTextured  = 300 // printed pixels a tile must hold for a judgement
	leastTextureMM = 4   // square millimetres worth a sentence in the report
)

// closeTexture makes textured tiles solid in the masks, so that a photograph is not ten thousand pinholes.
func (s *Scene) closeTexture() {
	v := s.survey
	deep := raster.AndNot(raster.Erode(v.ink, 2, false), v.solid)
	for ty := 0; ty < s.H; ty += tilePx {
		for word := range v.ink.Stride {
			tile := image.Rect(word*64, ty, min(s.W, word*64+64), min(s.H, ty+tilePx))
			printed := v.ink.CountIn(tile)
			if printed < leastTextured {
				continue
			}
			screened := screenedTile(v.ink, tile, word)
			if !screened && float64(deep.CountIn(tile)) < textureShare*float64(printed) {
				continue
			}
			v.texturedPx += printed
			closeTile(v, tile, word, screened)
		}
	}
	if mm2 := s.MM2(float64(v.texturedPx)); mm2 >= leastTextureMM {
		s.Notes = append(s.Notes, fmt.Sprintf("%.0f mm2 look like a photograph or screened tone; fine detail inside them was not judged.", mm2))
	}
}

// screenedTile counts changes between neighbours, across and down.
func screenedTile(b *raster.Bitmap, tile image.Rectangle, word int) bool {
	across, down := 0, 0
	for y := tile.Min.Y; y < tile.Max.Y-1; y++ {
		w, next := b.Words[y*b.Stride+word], b.Words[(y+1)*b.Stride+word]
		across += bits.OnesCount64((w ^ w>>1) &^ (1 << 63))
		down += bits.OnesCount64(w ^ next)
	}
	return float64(max(across, down)) > screenShare*float64(tile.Dx()*tile.Dy())
}

func closeTile(v *survey, tile image.Rectangle, word int, screened bool) {
	for y := tile.Min.Y; y < tile.Max.Y; y++ {
		at := y*v.ink.Stride + word
		if screened {
			w := v.ink.Words[at]
			grown := w | w<<1 | w>>1
			if y > tile.Min.Y {
				grown |= v.ink.Words[at-v.ink.Stride]
			}
			if tail := tile.Dx(); tail < 64 {
				grown &= 1<<tail - 1
			}
			v.ink.Words[at] = grown
		}
		v.solid.Words[at] |= v.ink.Words[at]
	}
}
