package preflight

import (
	"image"
	"math/bits"

	"peelcheck/raster"
)

// edgeReachPx is how many pixels of an edge are half-transparent at most, as antialiasing and a little blur make them.
const edgeReachPx = 2

// pulledIn takes the process's choke, to the nearest pixel, off the outline of a mask. The centre of the nearest clear pixel lies half a
// pixel outside the outline.
func (s *Scene) pulledIn(mask *raster.Bitmap) *raster.Bitmap {
	return raster.Erode(mask, s.chokePx(), false)
}

func (s *Scene) chokePx() float64 { return s.Px(s.Job.Process.ChokeMM) + 0.5 }

// outlined is what prints white, up to its outline: at its border, pixels with less than half the alpha of the strongest within reach are
// taken away. Antialiasing gives those to what covers less than half of them.
func (s *Scene) outlined() *raster.Bitmap {
	prints, fading := s.survey.printsWhite, s.survey.fading.mask
	if fading == nil {
		return prints
	}
	out := prints.Clone()
	border := raster.AndNot(raster.And(prints, fading), raster.Erode(prints, edgeReachPx, false))
	raster.Bands(s.H, raster.TilePx, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for i, word := range border.Row(y) {
				for ; word != 0; word &= word - 1 {
					x := 64*i + bits.TrailingZeros64(word)
					if 2*s.alpha(x, y) < s.mostAlpha(x, y) {
						out.ClearRun(y, x, x+1)
					}
				}
			}
		}
	})
	return out
}

// chokes reports whether a pixel loses its white. Where colour fades white fades with it, and is too weak to show beside it.
func (s *Scene) chokes(x, y int) bool {
	const weak = 64 // of 255
	return !s.white.At(x, y) && s.mostAlpha(x, y) >= weak
}

func (s *Scene) alpha(x, y int) int { return int(s.pic.Pix.Pix[y*s.pic.Pix.Stride+4*x+3]) }

// mostAlpha is the most within reach of a pixel.
func (s *Scene) mostAlpha(x, y int) (most int) {
	r := image.Rect(x-edgeReachPx, y-edgeReachPx, x+edgeReachPx+1, y+edgeReachPx+1).Intersect(s.pic.Pix.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			most = max(most, s.alpha(x, y))
		}
	}
	return most
}
