// Package rastertest draws shapes of known geometry and masks from text, for tests only.
package rastertest

import (
	"image"
	"math"

	"peelcheck/raster"
)

// Shape reports whether a point, in pixels, lies inside.
type Shape func(x, y float64) bool

// Draw fills a picture of w x h pixels with the area coverage of a shape, sampled 16 x 16 times a pixel.
func Draw(w, h int, in Shape) *image.Gray {
	const n = 16
	g := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			count := 0
			for j := range n {
				for i := range n {
					if in(float64(x)+(float64(i)+0.5)/n, float64(y)+(float64(j)+0.5)/n) {
						count++
					}
				}
			}
			g.Pix[y*g.Stride+x] = uint8((count*255 + n*n/2) / (n * n))
		}
	}
	return g
}

// Placed turns a shape by angle radians about the origin and then moves the origin to (cx, cy).
func Placed(in Shape, cx, cy, angle float64) Shape {
	s, c := math.Sincos(angle)
	return func(x, y float64) bool {
		x, y = x-cx, y-cy
		return in(x*c+y*s, -x*s+y*c)
	}
}

// Bar is a rectangle w x h about the origin.
func Bar(w, h float64) Shape {
	return func(x, y float64) bool { return math.Abs(x) <= w/2 && math.Abs(y) <= h/2 }
}

// Disc is a disc of diameter d about the origin.
func Disc(d float64) Shape {
	return func(x, y float64) bool { return x*x+y*y <= d*d/4 }
}

// Polygon is a closed polygon, filled by the even-odd rule.
func Polygon(pts ...[2]float64) Shape {
	return func(x, y float64) bool {
		in := false
		for i, j := 0, len(pts)-1; i < len(pts); j, i = i, i+1 {
			a, b := pts[i], pts[j]
			if (a[1] > y) != (b[1] > y) && x < (b[0]-a[0])*(y-a[1])/(b[1]-a[1])+a[0] {
				in = !in
			}
		}
		return in
	}
}

// Star is a star with n points between two radii about the origin.
func Star(n int, outer, inner float64) Shape {
	pts := make([][2]float64, 2*n)
	for i := range pts {
		r := outer
		if i%2 == 1 {
			r = inner
		}
		s, c := math.Sincos(math.Pi * float64(i) / float64(n))
		pts[i] = [2]float64{r * s, -r * c}
	}
	return Polygon(pts...)
}

// Union is all that lies in any of the shapes.
func Union(shapes ...Shape) Shape {
	return func(x, y float64) bool {
		for _, s := range shapes {
			if s(x, y) {
				return true
			}
		}
		return false
	}
}

// Minus is what lies in a and not in b.
func Minus(a, b Shape) Shape { return func(x, y float64) bool { return a(x, y) && !b(x, y) } }

// Shift moves a shape.
func Shift(in Shape, dx, dy float64) Shape {
	return func(x, y float64) bool { return in(x-dx, y-dy) }
}

// Coverage gives a grey picture's pixels as coverage.
func Coverage(g *image.Gray) raster.Coverage {
	return func(dst []uint8, r image.Rectangle) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			copy(dst[(y-r.Min.Y)*r.Dx():(y-r.Min.Y+1)*r.Dx()], g.Pix[y*g.Stride+r.Min.X:y*g.Stride+r.Max.X])
		}
	}
}

// Mask is the pixels of a grey picture at or over a level.
func Mask(g *image.Gray, level uint8) *raster.Bitmap {
	b := raster.NewBitmap(g.Rect.Dx(), g.Rect.Dy())
	for y := range b.H {
		for x := range b.W {
			if g.Pix[y*g.Stride+x] >= level {
				b.Set(x, y)
			}
		}
	}
	return b
}
