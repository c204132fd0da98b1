package preflight

import (
	"image"
	"math/bits"

	"peelcheck/raster"
)

// whisperAlpha is the most opacity, of 255, that hardly shows on a screen: eight per cent.
const whisperAlpha = 20

// Whispers is the mask of what prints but is nowhere more than eight per cent opaque: whole pieces of it, not the light end of an edge or
// a fade. It is nil where there is nothing of the kind.
func (s *Scene) Whispers() *raster.Bitmap { return s.whispers() }

// IsWhisper reports whether most of a patch is.
func (s *Scene) IsWhisper(p Patch) bool {
	mask := s.Whispers()
	if mask == nil {
		return false
	}
	within := 0
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		for x := p.Box.Min.X; x < p.Box.Max.X; x++ {
			if mask.At(x, y) && p.Mask(x, y) {
				within++
			}
		}
	}
	return 2*within > p.AreaPx
}

func (s *Scene) findWhispers() *raster.Bitmap {
	fading := s.Fading()
	if fading == nil {
		return nil
	}
	var faint rareMask
	raster.Bands(s.H, 64, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for word, m := range fading.Row(y) {
				var low uint64
				for ; m != 0; m &= m - 1 {
					if at := bits.TrailingZeros64(m); s.pixelAt(64*word+at, y).A <= whisperAlpha {
						low |= 1 << at
					}
				}
				faint.set(s.survey, y*fading.Stride+word, low)
			}
		}
	})
	if faint.mask == nil {
		return nil
	}
	pieces := raster.FindComponents(faint.mask, raster.Eight)
	clear, prints := make([]bool, len(pieces.List)), make([]bool, len(pieces.List))
	for i := range clear {
		clear[i] = true
	}
	more := raster.AndNot(fading, faint.mask)
	for _, r := range pieces.Runs {
		clear[r.Component] = clear[r.Component] && !s.besideMore(r, more)
	}
	art := s.Appearance()
	for _, r := range pieces.Runs {
		prints[r.Component] = prints[r.Component] || clear[r.Component] && art.anyPrints(r)
	}
	var out *raster.Bitmap
	for _, r := range pieces.Runs {
		if clear[r.Component] && prints[r.Component] {
			if out == nil {
				out = raster.NewBitmap(s.W, s.H)
			}
			out.SetRun(int(r.Y), int(r.X0), int(r.X1))
		}
	}
	return out
}

// besideMore reports whether something more opaque touches a run. What is not wholly opaque is known to be more, the rest is looked for.
func (s *Scene) besideMore(r raster.Run, known *raster.Bitmap) bool {
	beside := image.Rect(int(r.X0)-1, int(r.Y)-1, int(r.X1)+1, int(r.Y)+2).Intersect(s.pic.Pix.Rect)
	if known.CountIn(beside) > 0 {
		return true
	}
	for y := beside.Min.Y; y < beside.Max.Y; y++ {
		for x := beside.Min.X; x < beside.Max.X; x++ {
			if s.pixelAt(x, y).A > whisperAlpha {
				return true
			}
		}
	}
	return false
}

func (a *Appearance) anyPrints(r raster.Run) bool {
	for x := r.X0; x < r.X1; x++ {
		if a.inkAt(int(x), int(r.Y)) != (ink{}) {
			return true
		}
	}
	return false
}
