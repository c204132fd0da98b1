package ruletest

import (
	"image"
	"image/color"
	"math"
)

// distance is a shape: how far a point, in pixels, lies outside it, negative inside. It may fall short of the true distance but
// never exceeds it.
type distance func(x, y float64) float64

// bar is a rectangle about (cx, cy), its side of length w turned by angle radians.
func bar(cx, cy, w, h, angle float64) distance {
	sin, cos := math.Sincos(angle)
	return func(x, y float64) float64 {
		x, y = x-cx, y-cy
		return max(math.Abs(x*cos+y*sin)-w/2, math.Abs(y*cos-x*sin)-h/2)
	}
}

func disc(cx, cy, d float64) distance {
	return func(x, y float64) float64 { return math.Hypot(x-cx, y-cy) - d/2 }
}

// ring has the outer diameter d and its width inside that.
func ring(cx, cy, d, width float64) distance {
	return func(x, y float64) float64 {
		r := math.Hypot(x-cx, y-cy)
		return max(r-d/2, d/2-width-r)
	}
}

// polygon is filled by the even-odd rule.
func polygon(pts [][2]float64) distance {
	return func(x, y float64) float64 {
		in, nearest := false, math.Inf(1)
		for i, j := 0, len(pts)-1; i < len(pts); j, i = i, i+1 {
			a, b := pts[i], pts[j]
			if (a[1] > y) != (b[1] > y) && x < (b[0]-a[0])*(y-a[1])/(b[1]-a[1])+a[0] {
				in = !in
			}
			nearest = min(nearest, toSegment(x, y, a, b))
		}
		if in {
			return -nearest
		}
		return nearest
	}
}

func toSegment(x, y float64, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := ((x-a[0])*dx + (y-a[1])*dy) / (dx*dx + dy*dy)
	t = min(1, max(0, t))
	return math.Hypot(x-a[0]-t*dx, y-a[1]-t*dy)
}

// canvas holds premultiplied colour and alpha, 0 to 1, until the last shape is painted, so that rounding happens once.
type canvas struct {
	w, h int
	pix  [][4]float64
}

func newCanvas(w, h int) *canvas { return &canvas{w, h, make([][4]float64, w*h)} }

// fill paints a shape that lies within box over what is there (source over destination, Porter and Duff, SIGGRAPH 1984).
func (c *canvas) fill(in distance, box image.Rectangle, with color.NRGBA) {
	box = box.Intersect(image.Rect(0, 0, c.w, c.h))
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			a := coverage(in, x, y) * float64(with.A) / 255
			if a == 0 {
				continue
			}
			p := &c.pix[y*c.w+x]
			for i, v := range [4]uint8{with.R, with.G, with.B, 255} {
				p[i] = float64(v)/255*a + p[i]*(1-a)
			}
		}
	}
}

// coverage is the share of a pixel that a shape covers, from 16 x 16 samples where its edge may cross the pixel.
func coverage(in distance, x, y int) float64 {
	const n, halfDiagonal = 16, 0.7072
	switch d := in(float64(x)+0.5, float64(y)+0.5); {
	case d > halfDiagonal:
		return 0
	case d < -halfDiagonal:
		return 1
	}
	count := 0
	for j := range n {
		for i := range n {
			if in(float64(x)+(float64(i)+0.5)/n, float64(y)+(float64(j)+0.5)/n) < 0 {
				count++
			}
		}
	}
	return float64(count) / (n * n)
}

// image returns the canvas as straight 8-bit pixels.
func (c *canvas) image() *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, c.w, c.h))
	for i, p := range c.pix {
		if p[3] == 0 {
			continue
		}
		for k := range 3 {
			out.Pix[4*i+k] = uint8(min(255, p[k]/p[3]*255+0.5))
		}
		out.Pix[4*i+3] = uint8(p[3]*255 + 0.5)
	}
	return out
}
