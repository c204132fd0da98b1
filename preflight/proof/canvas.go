package proof

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"peelcheck/preflight"
)

// Colours of marks: the palette of Okabe and Ito, Color Universal Design, 2002/2008.
var (
	vermillion  = color.RGBA{0xD5, 0x5E, 0x00, 0xff}
	orange      = color.RGBA{0xE6, 0x9F, 0x00, 0xff}
	blue        = color.RGBA{0x00, 0x72, 0xB2, 0xff}
	bluishGreen = color.RGBA{0x00, 0x9E, 0x73, 0xff}

	black   = color.RGBA{0, 0, 0, 0xff}
	white   = color.RGBA{0xff, 0xff, 0xff, 0xff}
	text    = color.RGBA{0x1a, 0x1a, 0x1a, 0xff}
	textDim = color.RGBA{0x50, 0x50, 0x50, 0xff}
	rule    = color.RGBA{0xb8, 0xb8, 0xb8, 0xff}
	offGrey = color.RGBA{0xe4, 0xe4, 0xe4, 0xff} // beyond the sheet
)

// levelColours returns a level's colour and that of the figures on it.
func levelColours(l preflight.Level) (fill, on color.RGBA) {
	switch l {
	case preflight.LevelError:
		return vermillion, white
	case preflight.LevelWarning:
		return orange, black
	}
	return blue, white
}

// canvas is an opaque picture under construction; it remembers where text lies.
type canvas struct {
	img   *image.RGBA
	set   *setter
	texts []image.Rectangle
}

func newCanvas(w, h int, set *setter) *canvas {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = 0xff
	}
	return &canvas{img: img, set: set}
}

// nrgba returns the picture; opaque pixels are the same premultiplied or not.
func (c *canvas) nrgba() *image.NRGBA {
	return &image.NRGBA{Pix: c.img.Pix, Stride: c.img.Stride, Rect: c.img.Rect}
}

func (c *canvas) put(x, y int, k color.RGBA) {
	if image.Pt(x, y).In(c.img.Rect) {
		p := c.img.Pix[y*c.img.Stride+4*x:]
		p[0], p[1], p[2], p[3] = k.R, k.G, k.B, 0xff
	}
}

func (c *canvas) fill(r image.Rectangle, k color.RGBA) {
	draw.Draw(c.img, r, image.NewUniform(k), image.Point{}, draw.Src)
}

// frame draws a rectangle's outline, thick pixels wide, inside r.
func (c *canvas) frame(r image.Rectangle, thick int, k color.RGBA) {
	c.fill(image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+thick), k)
	c.fill(image.Rect(r.Min.X, r.Max.Y-thick, r.Max.X, r.Max.Y), k)
	c.fill(image.Rect(r.Min.X, r.Min.Y, r.Min.X+thick, r.Max.Y), k)
	c.fill(image.Rect(r.Max.X-thick, r.Min.Y, r.Max.X, r.Max.Y), k)
}

// dashedFrame draws an outline inside r in dashes of two colours, so that it shows on any ground; clip bounds it.
func (c *canvas) dashedFrame(r, clip image.Rectangle, thick, dash int, a, b color.RGBA) {
	inner := r.Inset(thick)
	at := func(x, y int) {
		if !image.Pt(x, y).In(clip) {
			return
		}
		k := a
		if (x+y)/dash%2 == 1 {
			k = b
		}
		c.put(x, y, k)
	}
	for y := max(r.Min.Y, clip.Min.Y); y < min(r.Max.Y, clip.Max.Y); y++ {
		if y < inner.Min.Y || y >= inner.Max.Y {
			for x := max(r.Min.X, clip.Min.X); x < min(r.Max.X, clip.Max.X); x++ {
				at(x, y)
			}
			continue
		}
		for i := range thick {
			at(r.Min.X+i, y)
			at(r.Max.X-1-i, y)
		}
	}
}

// hatch draws diagonal lines over r but not over except, every step pixels, thick wide.
func (c *canvas) hatch(r, except image.Rectangle, step, thick int, k color.RGBA) {
	r = r.Intersect(c.img.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if (x+y)%step < thick && !image.Pt(x, y).In(except) {
				c.put(x, y, k)
			}
		}
	}
}

type pointF struct{ x, y float64 }

// polygon fills a closed outline, antialiased.
func (c *canvas) polygon(k color.RGBA, pts ...pointF) {
	box := image.Rectangle{image.Pt(math.MaxInt32, math.MaxInt32), image.Pt(math.MinInt32, math.MinInt32)}
	for _, p := range pts {
		box.Min.X, box.Min.Y = min(box.Min.X, int(math.Floor(p.x))), min(box.Min.Y, int(math.Floor(p.y)))
		box.Max.X, box.Max.Y = max(box.Max.X, int(math.Ceil(p.x))), max(box.Max.Y, int(math.Ceil(p.y)))
	}
	if box.Empty() {
		return
	}
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	for i, p := range pts {
		x, y := float32(p.x-float64(box.Min.X)), float32(p.y-float64(box.Min.Y))
		if i == 0 {
			z.MoveTo(x, y)
			continue
		}
		z.LineTo(x, y)
	}
	z.ClosePath()
	z.Draw(c.img, box, image.NewUniform(k), image.Point{})
}

// line draws a straight stroke with square ends.
func (c *canvas) line(x0, y0, x1, y1, width float64, k color.RGBA) {
	length := math.Hypot(x1-x0, y1-y0)
	if length == 0 {
		return
	}
	nx, ny := (y1-y0)/length*width/2, (x0-x1)/length*width/2
	c.polygon(k, pointF{x0 + nx, y0 + ny}, pointF{x1 + nx, y1 + ny}, pointF{x1 - nx, y1 - ny}, pointF{x0 - nx, y0 - ny})
}

func (c *canvas) disc(cx, cy, radius float64, k color.RGBA) {
	const sides = 48
	var pts [sides]pointF
	for i := range pts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
		pts[i] = pointF{cx + radius*cos, cy + radius*sin}
	}
	c.polygon(k, pts[:]...)
}

// levelMark draws a level's shape: a triangle, a diamond or a disc.
func (c *canvas) levelMark(l preflight.Level, cx, cy, radius float64, k color.RGBA) {
	switch l {
	case preflight.LevelError:
		c.polygon(k, pointF{cx, cy - radius}, pointF{cx + radius, cy + 0.8*radius}, pointF{cx - radius, cy + 0.8*radius})
	case preflight.LevelWarning:
		c.polygon(k, pointF{cx, cy - radius}, pointF{cx + radius, cy}, pointF{cx, cy + radius}, pointF{cx - radius, cy})
	default:
		c.disc(cx, cy, 0.85*radius, k)
	}
}

// verdictMark draws a verdict's shape: a disc with a tick, a diamond or a triangle with an exclamation mark.
func (c *canvas) verdictMark(v preflight.Verdict, cx, cy, radius float64) {
	bang := func(top float64, k color.RGBA) {
		c.line(cx, cy+top*radius, cx, cy+0.22*radius, 0.2*radius, k)
		c.disc(cx, cy+0.5*radius, 0.13*radius, k)
	}
	switch v {
	case preflight.Ready:
		c.disc(cx, cy, radius, bluishGreen)
		c.line(cx-0.5*radius, cy, cx-0.12*radius, cy+0.42*radius, 0.2*radius, white)
		c.line(cx-0.18*radius, cy+0.42*radius, cx+0.5*radius, cy-0.4*radius, 0.2*radius, white)
	case preflight.Review:
		c.levelMark(preflight.LevelWarning, cx, cy, radius, orange)
		bang(-0.55, black)
	default:
		c.levelMark(preflight.LevelError, cx, cy, radius, vermillion)
		bang(-0.45, white)
	}
}

// write sets one line with its top left at x, y and returns its width.
func (c *canvas) write(x, y int, st typeStyle, k color.RGBA, s string) int {
	f := c.set.face(st)
	pen := fixed.I(x)
	src := image.NewUniform(k)
	for _, r := range s {
		g := f.glyph(r)
		if g.mask != nil {
			at := g.at.Add(image.Pt(pen.Round(), y+f.ascent))
			draw.DrawMask(c.img, g.mask.Rect.Add(at), src, image.Point{}, g.mask, image.Point{}, draw.Over)
		}
		pen += g.advance
	}
	w := (pen - fixed.I(x)).Ceil()
	if w > 0 {
		c.texts = append(c.texts, image.Rect(x, y, x+w, y+f.height))
	}
	return w
}

// label sets one line on white, over whatever lies there.
func (c *canvas) label(x, y int, st typeStyle, k color.RGBA, s string) {
	c.fill(image.Rect(x-3, y+4, x+c.set.width(st, s)+3, y+c.set.face(st).height-4), white)
	c.write(x, y, st, k, s)
}

// writeLines sets lines under one another and returns the height used.
func (c *canvas) writeLines(x, y int, st typeStyle, k color.RGBA, lines []string) int {
	lead := leading(st)
	for i, s := range lines {
		c.write(x, y+i*lead, st, k, s)
	}
	return len(lines) * lead
}

// leading is the distance of one line from the next.
func leading(st typeStyle) int { return st.px * 5 / 4 }
