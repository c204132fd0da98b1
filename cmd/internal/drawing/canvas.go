package drawing

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/vector"
)

// Canvas is a picture to draw on. It is not safe for concurrent use.
type Canvas struct {
	Pix *image.NRGBA
	PPI float64
}

// New returns a transparent canvas of the size in millimetres at ppi pixels an inch.
func New(wMM, hMM, ppi float64) *Canvas {
	px := func(mm float64) int { return int(math.Round(mm * ppi / 25.4)) }
	return &Canvas{image.NewNRGBA(image.Rect(0, 0, px(wMM), px(hMM))), ppi}
}

// WidthMM is the canvas's width in millimetres.
func (c *Canvas) WidthMM() float64 { return float64(c.Pix.Rect.Dx()) * 25.4 / c.PPI }

// HeightMM is the canvas's height in millimetres.
func (c *Canvas) HeightMM() float64 { return float64(c.Pix.Rect.Dy()) * 25.4 / c.PPI }

// Mask returns how much of each pixel the path covers, 255 for all of it, over the part of the canvas that it reaches.
func (c *Canvas) Mask(p Path) *image.Alpha {
	b := p.Bounds()
	k := c.PPI / 25.4
	r := image.Rect(int(math.Floor(b.X*k)), int(math.Floor(b.Y*k)), int(math.Ceil((b.X+b.W)*k)), int(math.Ceil((b.Y+b.H)*k)))
	// What lies left of the rasterizer's window would be lost to its sums, so the window reaches the whole path.
	z := vector.NewRasterizer(r.Dx(), r.Dy())
	ox, oy := float64(r.Min.X), float64(r.Min.Y)
	for _, con := range p.contours {
		for i, q := range con.flatten() {
			x, y := float32(q.X*k-ox), float32(q.Y*k-oy)
			if i == 0 {
				z.MoveTo(x, y)
			} else {
				z.LineTo(x, y)
			}
		}
		z.ClosePath()
	}
	m := image.NewAlpha(r)
	z.Draw(m, r, image.Opaque, image.Point{})
	return m.SubImage(r.Intersect(c.Pix.Rect)).(*image.Alpha)
}

// Fill paints the path.
func (c *Canvas) Fill(p Path, col color.NRGBA) { c.Paint(c.Mask(p), col) }

// FillWithin paints the part of the path that lies within another.
func (c *Canvas) FillWithin(p, within Path, col color.NRGBA) {
	c.Paint(Both(c.Mask(p), c.Mask(within)), col)
}

// Paint lays a colour over the canvas as far as the mask says.
func (c *Canvas) Paint(m *image.Alpha, col color.NRGBA) {
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			if a := float64(m.Pix[m.PixOffset(x, y)]) / 255 * float64(col.A) / 255; a > 0 {
				p := c.Pix.Pix[c.Pix.PixOffset(x, y):]
				over(p[:4:4], col, a)
			}
		}
	}
}

func over(p []uint8, col color.NRGBA, a float64) {
	below := float64(p[3]) / 255 * (1 - a)
	out := a + below
	for i, v := range [3]uint8{col.R, col.G, col.B} {
		p[i] = level((float64(v)*a + float64(p[i])*below) / out)
	}
	p[3] = level(out * 255)
	if p[3] == 0 {
		p[0], p[1], p[2] = 0, 0, 0
	}
}

func level(v float64) uint8 { return uint8(math.Min(255, math.Max(0, v)) + 0.5) }

// Erase makes the canvas transparent as far as the mask says.
func (c *Canvas) Erase(m *image.Alpha) {
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			a := m.Pix[m.PixOffset(x, y)]
			if a == 0 {
				continue
			}
			p := c.Pix.Pix[c.Pix.PixOffset(x, y):]
			if p[3] = level(float64(p[3]) * float64(255-a) / 255); p[3] == 0 {
				p[0], p[1], p[2] = 0, 0, 0
			}
		}
	}
}

// Ground fills the whole canvas with one colour.
func (c *Canvas) Ground(col color.NRGBA) {
	for i := 0; i < len(c.Pix.Pix); i += 4 {
		c.Pix.Pix[i], c.Pix.Pix[i+1], c.Pix.Pix[i+2], c.Pix.Pix[i+3] = col.R, col.G, col.B, col.A
	}
}

// Grown returns the mask of the path and everything within byMM of it.
func (c *Canvas) Grown(p Path, byMM float64) *image.Alpha {
	b := p.Bounds()
	frame := c.Mask(Rect(b.X-byMM, b.Y-byMM, b.W+2*byMM, b.H+2*byMM))
	m := image.NewAlpha(frame.Rect)
	keepMore(m, c.Mask(p))
	for _, con := range p.contours {
		pts := con.flatten()
		for i := range pts {
			keepMore(m, c.Mask(Straight(pts[i], pts[(i+1)%len(pts)]).Stroke(2*byMM)))
		}
	}
	return m
}

func keepMore(dst, src *image.Alpha) {
	r := src.Rect.Intersect(dst.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			i := dst.PixOffset(x, y)
			dst.Pix[i] = max(dst.Pix[i], src.Pix[src.PixOffset(x, y)])
		}
	}
}

// Both returns the mask of what two masks share.
func Both(a, b *image.Alpha) *image.Alpha { return combine(a, b, func(u, v int) int { return u * v }) }

// Without returns the mask of what is in a and not in b.
func Without(a, b *image.Alpha) *image.Alpha {
	return combine(a, b, func(u, v int) int { return u * (255 - v) })
}

func combine(a, b *image.Alpha, product func(u, v int) int) *image.Alpha {
	m := image.NewAlpha(a.Rect)
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			u, v := int(a.Pix[a.PixOffset(x, y)]), int(b.AlphaAt(x, y).A)
			m.Pix[m.PixOffset(x, y)] = uint8((product(u, v) + 127) / 255)
		}
	}
	return m
}

// Blurred returns the mask spread by three running means in each direction, which come close to a normal distribution.
// radiusMM is the reach of one of them.
func (c *Canvas) Blurred(m *image.Alpha, radiusMM float64) *image.Alpha {
	n := int(math.Round(radiusMM * c.PPI / 25.4))
	r := m.Rect.Inset(-3 * n).Intersect(c.Pix.Rect)
	out := image.NewAlpha(r)
	keepMore(out, m)
	for range 3 {
		for y := range r.Dy() {
			runningMean(out.Pix[y*out.Stride:], r.Dx(), 1, n)
		}
		for x := range r.Dx() {
			runningMean(out.Pix[x:], r.Dy(), out.Stride, n)
		}
	}
	return out
}

func runningMean(pix []uint8, count, step, reach int) {
	old := make([]int, count)
	for i := range old {
		old[i] = int(pix[i*step])
	}
	sum := 0
	for i := range min(reach, count) {
		sum += old[i]
	}
	for i := range old {
		if i+reach < count {
			sum += old[i+reach]
		}
		if i-reach-1 >= 0 {
			sum -= old[i-reach-1]
		}
		pix[i*step] = uint8((sum + reach) / (2*reach + 1))
	}
}

// BoxOf returns the box, in millimetres, of the pixels of the mask that hold at least the level.
func (c *Canvas) BoxOf(m *image.Alpha, level uint8) Box {
	return c.box(m.Rect, func(x, y int) bool { return m.Pix[m.PixOffset(x, y)] >= level })
}

// Drawn returns the box, in millimetres, of everything that is at least half opaque.
func (c *Canvas) Drawn() Box {
	return c.box(c.Pix.Rect, func(x, y int) bool { return c.Pix.Pix[c.Pix.PixOffset(x, y)+3] >= 128 })
}

// Sheet returns the box of the whole canvas, in millimetres.
func (c *Canvas) Sheet() Box { return Box{0, 0, c.WidthMM(), c.HeightMM()} }

func (c *Canvas) box(in image.Rectangle, has func(x, y int) bool) Box {
	var r image.Rectangle
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			if has(x, y) {
				r = r.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	k := 25.4 / c.PPI
	return Box{float64(r.Min.X) * k, float64(r.Min.Y) * k, float64(r.Dx()) * k, float64(r.Dy()) * k}
}
