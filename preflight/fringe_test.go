package preflight

import (
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"peelcheck/raster"
)

// TestRimsPixelByPixel compares rims found in words of a mask with a slow twin that looks at one pixel and its neighbours at a time.
func TestRimsPixelByPixel(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 7))
	var found [3]int
	for range 60 {
		size := image.Pt(40+rng.IntN(160), 20+rng.IntN(60))
		pix := image.NewNRGBA(image.Rectangle{Max: size})
		for range 12 { // overlapping blocks, some with a rim
			at := image.Pt(rng.IntN(size.X), rng.IntN(size.Y))
			box := image.Rectangle{Min: at.Sub(image.Pt(4, 4)), Max: at.Add(image.Pt(rng.IntN(40), rng.IntN(20)))}.Intersect(pix.Rect)
			rim := []color.NRGBA{white, black, {230, 220, 240, 255}, {30, 40, 10, 130}}[rng.IntN(4)]
			proper := []color.NRGBA{navy, {200, 30, 60, 255}, {240, 240, 240, 255}, none, {20, 20, 20, 255}}[rng.IntN(5)]
			paint(pix, box, rim)
			paint(pix, box.Inset(rng.IntN(4)), proper)
		}
		s := testScene(t, "toner-white-for-black", pix, 300, nil)
		opaque := s.opaque()
		for y := range size.Y {
			for word := range opaque.Stride {
				rims := s.rimsIn(opaque, word, y)
				for i := range min(64, size.X-64*word) {
					at := image.Pt(64*word+i, y)
					want := slowRim(s, opaque, at)
					for kind := range rims {
						if got := rims[kind]>>i&1 != 0; kind != int(rimNone) && got != (want == rimKind(kind)) {
							t.Fatalf("%v of %v: kind %d is %v, want %d", at, size, kind, got, want)
						}
					}
					found[want]++
				}
			}
		}
	}
	for kind, n := range found {
		if n == 0 {
			t.Errorf("nothing of kind %d was tried", kind)
		}
	}
}

func slowRim(s *Scene, opaque *raster.Bitmap, at image.Point) rimKind {
	outside := func(dx, dy int) int {
		p := at.Add(image.Pt(dx, dy))
		if p.In(s.pic.Pix.Rect) && !opaque.At(p.X, p.Y) {
			return 1
		}
		return 0
	}
	left, right, above, below := outside(-1, 0), outside(1, 0), outside(0, -1), outside(0, 1)
	in := image.Pt(left-right, above-below)
	if !opaque.At(at.X, at.Y) || left+right+above+below == 0 || in == (image.Point{}) {
		return rimNone
	}
	for _, px := range []int{fringePx, fringePx + 1} {
		if p := at.Add(in.Mul(px)); !opaque.At(p.X, p.Y) {
			return rimNone
		}
	}
	return s.rimAt(at, in)
}
