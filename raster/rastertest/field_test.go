package rastertest_test

import (
	"math"
	"testing"

	. "peelcheck/raster/rastertest"
)

var fields = map[string]struct {
	f    Field
	area float64 // in square units, by school geometry
}{
	"box":      {Box(2, 3), 6},
	"circle":   {Circle(3), math.Pi * 2.25},
	"annulus":  {Annulus(1.5, 0.2), math.Pi * 2 * 1.5 * 0.2},
	"sector":   {All(Circle(4), Sector(40)), math.Pi * 4 * 40 / 360},
	"pacman":   {All(Circle(4), Sector(300)), math.Pi * 4 * 300 / 360},
	"triangle": {Corners([2]float64{0, -2}, [2]float64{1.5, 1}, [2]float64{-1.5, 1}), 4.5},
	"cross":    {Any(Box(4, 0.3), Box(0.3, 4)), 2*4*0.3 - 0.09},
	"rounded":  {Box(1, 2).Grown(0.4), 2 + 6*0.4 + math.Pi*0.16},
	"pierced":  {Except(Box(3, 3), Circle(1).Moved(0.5, 0.2)), 9 - math.Pi/4},
}

// TestCover compares the area of shapes, turned and moved, with school geometry.
func TestCover(t *testing.T) {
	for name, tt := range fields {
		const side, perUnit = 131, 23.7
		g := Cover(side, side, perUnit, tt.f.Turned(33).Moved(2.71, 2.83))
		sum := 0.0
		for _, v := range g.Pix {
			sum += float64(v) / 255
		}
		if got := sum / perUnit / perUnit; math.Abs(got-tt.area) > 0.002*tt.area {
			t.Errorf("%s covers %.4f, want %.4f", name, got, tt.area)
		}
	}
}

// TestFieldsAreBounds checks what Cover relies on: the field changes no faster than the way between two points.
func TestFieldsAreBounds(t *testing.T) {
	for name, tt := range fields {
		for i := range 4000 {
			x, y := math.Mod(float64(i)*0.6180339887, 1)*6-3, math.Mod(float64(i)*0.7548776662, 1)*6-3
			s, c := math.Sincos(float64(i))
			d := tt.f(x, y)
			if e := tt.f(x+0.1*c, y+0.1*s); math.Abs(e-d) > 0.1+1e-9 {
				t.Fatalf("%s: %.4f at (%.3f, %.3f), %.4f at 0.1 from it", name, d, x, y, e)
			}
		}
	}
}
