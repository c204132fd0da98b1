package raster_test

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"peelcheck/raster"
	. "peelcheck/raster/rastertest"
)

// thinCase is one shape of known geometry, in millimetres about the origin.
type thinCase struct {
	kind  string
	shape Shape
	gap   bool
	width float64 // least width, 0 for a shape that must raise nothing
	count int
}

const limitMM = 0.35

// cases are drawn from the geometry alone; widths keep clear of the limit by a twentieth of a millimetre.
func cases(rng *rand.Rand) []thinCase {
	thin := func() float64 { return 0.08 + rng.Float64()*0.22 }
	safe := func() float64 { return 0.42 + rng.Float64()*0.5 }
	angle := func(deg float64) float64 { return deg * math.Pi / 180 }
	needle := func(deg, length float64) Shape {
		return Polygon([2]float64{0, -length / 2}, [2]float64{length * math.Tan(angle(deg)/2), length / 2}, [2]float64{-length * math.Tan(angle(deg)/2), length / 2})
	}
	w, g := thin(), thin()
	block := Bar(2, 2)
	ringR := 1.2 + rng.Float64()
	out := []thinCase{
		{"line", Bar(w, 4), false, w, 1},
		{"short line", Bar(w, 1.2), false, w, 1},
		{"ring", Minus(Disc(2*ringR), Disc(2*ringR-2*w)), false, w, 1},
		{"cross", Union(Bar(w, 4), Bar(4, w)), false, w, 1},
		{"whisker", Union(block, Shift(Bar(w, 2), 0, 1.6)), false, w, 1},
		{"gap", Union(Shift(Bar(1.5, 4), -(1.5+g)/2, 0), Shift(Bar(1.5, 4), (1.5+g)/2, 0)), true, g, 1},
		{"slot", Minus(Bar(3, 3), Shift(Bar(g, 2), 0, 1)), true, g, 1},
		{"safe line", Bar(safe(), 4), false, 0, 0},
		{"safe gap", Union(Shift(Bar(1.5, 4), -(1.5+0.45)/2, 0), Shift(Bar(1.5, 4), (1.5+0.45)/2, 0)), true, 0, 0},
		{"square", Bar(1+rng.Float64(), 1+rng.Float64()), false, 0, 0},
		{"disc", Disc(0.8 + rng.Float64()), false, 0, 0},
		{"star", Star(5, 1.8, 0.7), false, 0, 0},
		{"triangle", needle(30+rng.Float64()*40, 2.5), false, 0, 0},
		{"corner of 20 degrees", needle(20, 3.5), false, 0, 0},
		{"taper of 6 degrees", needle(6, 4.5), false, -1, 1},
		{"notch", Minus(Bar(4, 4), Shift(needle(40, 2.5), 0, 0.8)), true, 0, 0},
		{"star as a hole", Minus(Bar(5, 5), Star(5, 1.8, 0.7)), true, 0, 0},
	}
	return out
}

func TestThinAccuracy(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 26))
	for _, ppi := range []float64{150, 300, 600} {
		px := ppi / 25.4
		var right, total, wrongSolid, solid, split int
		var sq float64
		var n int
		wrong := map[string]int{}
		for range 4 {
			for _, c := range cases(rng) {
				found := findCase(c, px, rng)
				total++
				if c.count == 0 {
					solid++
					if len(found) > 0 {
						wrongSolid++
					}
				}
				if len(found) > max(1, c.count) {
					split++
				}
				if len(found) == c.count {
					right++
				} else {
					wrong[fmt.Sprintf("%s of %.2f px (%d for %d)", c.kind, c.width*px, len(found), c.count)]++
				}
				if c.width > 0 && len(found) == 1 {
					d := found[0].WidthPx - c.width*px
					if math.Abs(d) > 0.25 {
						wrong[fmt.Sprintf("%s width %.2f is %.2f", c.kind, c.width*px, found[0].WidthPx)]++
					}
					sq += d * d
					n++
				}
			}
		}
		rms := math.Sqrt(sq / float64(n))
		t.Logf("%3.0f ppi: right %d of %d, solid wrongly flagged %d of %d, split %d, width error rms %.3f px over %d; %v",
			ppi, right, total, wrongSolid, solid, split, rms, n, wrong)
		if right != total || rms > 0.05 {
			t.Errorf("%.0f ppi: right %d of %d, rms %.3f px", ppi, right, total, rms)
		}
	}
}

func findCase(c thinCase, px float64, rng *rand.Rand) []raster.Feature {
	side := int(7 * px)
	cx, cy := float64(side)/2+rng.Float64(), float64(side)/2+rng.Float64()
	turned := Placed(func(x, y float64) bool { return c.shape(x/px, y/px) }, cx, cy, rng.Float64()*2*math.Pi)
	g := Draw(side, side, turned)
	mask := Mask(g, 26)
	if c.gap {
		mask = raster.Not(Mask(g, 225))
	}
	return raster.FindThin(raster.ThinQuery{Mask: mask, Coverage: Coverage(g), LimitPx: limitMM * px, Gap: c.gap})
}

// Where a mask has something on both sides of a gap but none of it is printed, as where texture is left out, there is no gap.
func TestGapBesideNothingPrinted(t *testing.T) {
	const w, h = 60, 40
	gap := raster.NewBitmap(w, h)
	for y := range h {
		gap.SetRun(y, 28, 31)
	}
	query := func(level uint8) raster.ThinQuery {
		cover := func(dst []uint8, r image.Rectangle) {
			for i := range dst {
				dst[i] = level
				if gap.At(r.Min.X+i%r.Dx(), r.Min.Y+i/r.Dx()) {
					dst[i] = 0
				}
			}
		}
		return raster.ThinQuery{Mask: gap, Coverage: cover, LimitPx: 6, Gap: true}
	}
	for level, want := range map[uint8]int{0: 0, 255: 1} {
		if got := raster.FindThin(query(level)); len(got) != want {
			t.Errorf("level %d beside the gap: %d found, want %d: %+v", level, len(got), want, got)
		}
	}
}
