package raster_test

import (
	"image"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/raster"
)

// TestEuler counts pieces and holes by labelling instead.
func TestEuler(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 64).Draw(t, "w"), rapid.IntRange(1, 20).Draw(t, "h")
		most := rapid.IntRange(1, 9).Draw(t, "most")
		b := raster.NewBitmap(64+w, h+2)
		part := raster.NewBitmap(w+2, h+2) // with a rim, so that what is outside is one piece
		for y := range h {
			for x := range w {
				if rapid.IntRange(0, 9).Draw(t, "p") < most {
					b.Set(64+x, 1+y)
					part.Set(1+x, 1+y)
				}
			}
		}
		b.Set(63, 1) // beside the part
		b.Set(64, 0)
		for _, c := range []struct{ pieces, holes raster.Connectivity }{{raster.Eight, raster.Four}, {raster.Four, raster.Eight}} {
			holes := len(raster.FindComponents(raster.Not(part), c.holes).List) - 1
			want := len(raster.FindComponents(part, c.pieces).List) - holes
			if got := b.Euler(image.Rect(64, 1, 64+w, 1+h), c.pieces); got != want {
				t.Fatalf("connectivity %v: Euler number %d, want %d", c.pieces, got, want)
			}
		}
	})
}
