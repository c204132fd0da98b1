package raster

import (
	"image"
	"math/rand/v2"
	"testing"
)

// What sight leaves out at the lowest place of a gap no rays would have closed as a gap: rays are cast in all directions from the gaps of
// random shapes in two tints.
func TestSightLeavesOutNoCut(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	mask, cover := NewBitmap(90, 70), make([]uint8, 90*70)
	for y := range 70 {
		for x := range 90 {
			switch rng.IntN(18) {
			case 0:
				cover[y*90+x] = 255
			case 1:
				cover[y*90+x] = 90
			default:
				mask.Set(x, y)
			}
		}
	}
	for _, limit := range []float64{1.5, 4, 9, 40} {
		q := ThinQuery{Mask: mask, Gap: true, LimitPx: limit, Coverage: func(dst []uint8, r image.Rectangle) {
			for y := r.Min.Y; y < r.Max.Y; y++ {
				copy(dst[(y-r.Min.Y)*r.Dx():][:r.Dx()], cover[y*90+r.Min.X:])
			}
		}}
		m := newMeter(q)
		m.win.load(q, image.Rect(-m.padPx(), -m.padPx(), 90+m.padPx(), 70+m.padPx()))
		left := 0
		for y := range 70 {
			for x := range 90 {
				if !mask.At(x, y) {
					continue
				}
				px, py := m.win.fixed(float64(x)+0.5, float64(y)+0.5)
				for d := range directions {
					if m.see.across(&m.win, image.Pt(x, y), d) {
						continue
					}
					left++
					var a, b ray
					m.win.gapRay(&a, px, py, d, endless)
					m.win.gapRay(&b, px, py, d+directions, endless)
					if a.closed && b.closed && dips(&a, &b) {
						t.Fatalf("limit %v: at (%d,%d) direction %d is left out, yet cut", limit, x, y, d)
					}
				}
			}
		}
		if left == 0 {
			t.Errorf("limit %v: nothing was left out", limit)
		}
	}
}
