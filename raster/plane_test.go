package raster_test

import (
	"image"
	"math/rand/v2"
	"testing"

	"peelcheck/raster"
)

// TestPlane fills planes of awkward sizes with empty, full and mixed tiles and reads random rectangles back.
func TestPlane(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	for range 30 {
		w, h := 1+rng.IntN(300), 1+rng.IntN(300)
		p, want := raster.NewPlane(w, h), make([]uint8, w*h)
		var spare *raster.Tile
		for row := range (h + raster.TilePx - 1) / raster.TilePx {
			for column := range (w + raster.TilePx - 1) / raster.TilePx {
				kind := rng.IntN(4)
				if kind == 0 {
					continue
				}
				if spare == nil {
					spare = new(raster.Tile)
				}
				for i := range spare {
					spare[i] = 0
					switch kind {
					case 1:
						spare[i] = 255
					case 2:
						spare[i] = uint8(rng.UintN(256))
					}
					if x, y := column*raster.TilePx+i%raster.TilePx, row*raster.TilePx+i/raster.TilePx; x < w && y < h {
						want[y*w+x] = spare[i]
					}
				}
				if !p.SetTile(column, row, spare) {
					spare = nil
				}
			}
		}
		r := image.Rect(rng.IntN(w+1), rng.IntN(h+1), rng.IntN(w+1), rng.IntN(h+1))
		got := make([]uint8, r.Dx()*r.Dy())
		p.Read(got, r)
		for i, v := range got {
			if x, y := r.Min.X+i%r.Dx(), r.Min.Y+i/r.Dx(); v != want[y*w+x] {
				t.Fatalf("%d x %d, %v: (%d, %d) is %d, want %d", w, h, r, x, y, v, want[y*w+x])
			}
		}
	}
}
