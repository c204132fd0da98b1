package preflight

import (
	"image"
	"math"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/raster"
)

// The point of a ring or an L lies on it, where the middle of its box has nothing.
func TestPointLiesOnWhatWasFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(8, 90).Draw(t, "w"), rapid.IntRange(8, 90).Draw(t, "h")
		thick := rapid.IntRange(1, 3).Draw(t, "thick")
		ring := rapid.Bool().Draw(t, "ring")
		box := image.Rect(20, 30, 20+w, 30+h)
		mask := raster.NewBitmap(150, 150)
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				isL := x < box.Min.X+thick || y >= box.Max.Y-thick
				if isL || ring && (x >= box.Max.X-thick || y < box.Min.Y+thick) {
					mask.Set(x, y)
				}
			}
		}
		middle := middleOf(box)
		if mask.At(middle.X, middle.Y) {
			t.Fatal("the shape is not hollow")
		}
		patch := Patches(mask, nil, 0, 0, 1)[0]
		runs := raster.FindComponents(mask, raster.Eight).Runs
		for what, at := range map[string]image.Point{"of the patch": patch.Point(), "of the runs": onRuns(box, runs)} {
			if !mask.At(at.X, at.Y) || math.Abs(float64(at.Y-middle.Y)) > 0 {
				t.Errorf("the point %s is %v, which is not in the middle row of %v or not on it", what, at, box)
			}
		}
	})
}
