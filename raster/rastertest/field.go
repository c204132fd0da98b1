package rastertest

import (
	"image"
	"math"
)

// Field is a shape given by a bound on the distance to its edge: negative inside, and never farther from zero than the edge is,
// so that Cover can pass over what holds no edge. Lengths are in any one unit.
type Field func(x, y float64) float64

// samples is how many samples a pixel's side holds.
const samples = 16

// Cover returns the area coverage of a shape over a picture of w x h pixels, sampled 16 x 16 times a pixel; perUnit is
// pixels a unit of the shape.
func Cover(w, h int, perUnit float64, f Field) *image.Gray {
	c := &coverer{f: f, scale: 1 / (samples * perUnit), w: w, counts: make([]int, w*h)}
	const tile = 32
	for y := 0; y < h; y += tile {
		for x := 0; x < w; x += tile {
			c.fill(x*samples, y*samples, tile*samples)
		}
	}
	g := image.NewGray(image.Rect(0, 0, w, h))
	for i, n := range c.counts {
		g.Pix[i] = uint8((n*255 + samples*samples/2) / (samples * samples))
	}
	return g
}

// coverer counts samples inside a shape, by pixel; scale is the shape's units a sample.
type coverer struct {
	f      Field
	scale  float64
	w      int
	counts []int
}

// fill counts a square of samples: as a whole if no edge can pass through it, else quarter by quarter.
func (c *coverer) fill(x, y, size int) {
	if x/samples >= c.w || y/samples >= len(c.counts)/c.w {
		return
	}
	half := float64(size) / 2
	d := c.f((float64(x)+half)*c.scale, (float64(y)+half)*c.scale)
	if size > 1 && math.Abs(d) <= half*math.Sqrt2*c.scale {
		q := size / 2
		c.fill(x, y, q)
		c.fill(x+q, y, q)
		c.fill(x, y+q, q)
		c.fill(x+q, y+q, q)
		return
	}
	if d <= 0 {
		c.add(x, y, size)
	}
}

func (c *coverer) add(x, y, size int) {
	n := min(size, samples)
	for py := y / samples; py <= (y+size-1)/samples && py < len(c.counts)/c.w; py++ {
		for px := x / samples; px <= (x+size-1)/samples && px < c.w; px++ {
			c.counts[py*c.w+px] += n * n
		}
	}
}

// Moved moves a shape.
func (f Field) Moved(dx, dy float64) Field {
	return func(x, y float64) float64 { return f(x-dx, y-dy) }
}

// Turned turns a shape about the origin by an angle in degrees.
func (f Field) Turned(deg float64) Field {
	s, c := math.Sincos(deg * math.Pi / 180)
	return func(x, y float64) float64 { return f(x*c+y*s, -x*s+y*c) }
}

// Grown is a shape and all within r of it, with rounded corners.
func (f Field) Grown(r float64) Field {
	return func(x, y float64) float64 { return f(x, y) - r }
}

// Box is a rectangle w x h about the origin.
func Box(w, h float64) Field {
	return func(x, y float64) float64 {
		dx, dy := math.Abs(x)-w/2, math.Abs(y)-h/2
		return math.Hypot(max(dx, 0), max(dy, 0)) + min(max(dx, dy), 0)
	}
}

// Circle is a filled circle of diameter d about the origin.
func Circle(d float64) Field {
	return func(x, y float64) float64 { return math.Hypot(x, y) - d/2 }
}

// Annulus is what lies within w/2 of a circle of radius r about the origin.
func Annulus(r, w float64) Field {
	return func(x, y float64) float64 { return math.Abs(math.Hypot(x, y)-r) - w/2 }
}

// Sector is what lies within half of deg, up to 360, to either side of the direction of x from the origin.
func Sector(deg float64) Field {
	s, c := math.Sincos(deg / 2 * math.Pi / 180)
	return func(x, y float64) float64 {
		y = math.Abs(y)
		along := max(0, x*c+y*s)
		return math.Copysign(math.Hypot(x-along*c, y-along*s), y*c-x*s)
	}
}

// Corners is a closed polygon, filled by the even-odd rule.
func Corners(pts ...[2]float64) Field {
	return func(x, y float64) float64 {
		best, in := math.Inf(1), false
		for i, j := 0, len(pts)-1; i < len(pts); j, i = i, i+1 {
			ax, ay, ex, ey := pts[i][0], pts[i][1], pts[j][0]-pts[i][0], pts[j][1]-pts[i][1]
			t := min(1, max(0, ((x-ax)*ex+(y-ay)*ey)/(ex*ex+ey*ey)))
			dx, dy := x-ax-t*ex, y-ay-t*ey
			best = min(best, dx*dx+dy*dy)
			if (ay > y) != (pts[j][1] > y) && x < ex*(y-ay)/ey+ax {
				in = !in
			}
		}
		if in {
			return -math.Sqrt(best)
		}
		return math.Sqrt(best)
	}
}

// Any is all that lies in at least one of the shapes.
func Any(shapes ...Field) Field {
	return func(x, y float64) float64 {
		d := math.Inf(1)
		for _, f := range shapes {
			d = min(d, f(x, y))
		}
		return d
	}
}

// All is what lies in every one of the shapes.
func All(shapes ...Field) Field {
	return func(x, y float64) float64 {
		d := math.Inf(-1)
		for _, f := range shapes {
			d = max(d, f(x, y))
		}
		return d
	}
}

// Except is what lies in a and not in b.
func Except(a, b Field) Field {
	return func(x, y float64) float64 { return max(a(x, y), -b(x, y)) }
}
