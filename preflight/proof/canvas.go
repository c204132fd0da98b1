package proof

import (
	"encoding/binary"
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

// canvas is an opaque picture as the steps that paint it, each over those before, so that any part of it can be painted without
// the rest. It remembers where text lies.
type canvas struct {
	bounds image.Rectangle
	set    *setter
	steps  []step
	texts  []image.Rectangle
	vector *vectorPage // if not nil it takes what would be painted; only fills, polygons, words and outlines can be
}

// step paints what lies in r, which is within its box and within dst.
type step struct {
	box   image.Rectangle
	paint func(dst *image.RGBA, r image.Rectangle)
}

func newCanvas(w, h int, set *setter) *canvas {
	return &canvas{bounds: image.Rect(0, 0, w, h), set: set}
}

func (c *canvas) add(box image.Rectangle, paint func(dst *image.RGBA, r image.Rectangle)) {
	if box = box.Intersect(c.bounds); !box.Empty() {
		c.steps = append(c.steps, step{box, paint})
	}
}

// paint paints as much of the steps as dst covers, on white.
func (c *canvas) paint(dst *image.RGBA) {
	fillRect(dst, dst.Rect, white)
	for _, s := range c.steps {
		if r := s.box.Intersect(dst.Rect); !r.Empty() {
			s.paint(dst, r)
		}
	}
}

// rowOf returns the pixels of a row of r, which must lie within dst.
func rowOf(dst *image.RGBA, r image.Rectangle, y int) []byte {
	return dst.Pix[dst.PixOffset(r.Min.X, y):][:4*r.Dx()]
}

// fillRect fills r, which must lie within dst.
func fillRect(dst *image.RGBA, r image.Rectangle, k color.RGBA) {
	if r.Empty() {
		return
	}
	first := rowOf(dst, r, r.Min.Y)
	n := copy(first, []byte{k.R, k.G, k.B, 0xff})
	for n < len(first) {
		n += copy(first[n:], first[:n])
	}
	for y := r.Min.Y + 1; y < r.Max.Y; y++ {
		copy(rowOf(dst, r, y), first)
	}
}

func (c *canvas) fill(r image.Rectangle, k color.RGBA) {
	if c.vector != nil {
		c.vector.fill(r, k)
		return
	}
	c.add(r, func(dst *image.RGBA, r image.Rectangle) { fillRect(dst, r, k) })
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
	for _, side := range []image.Rectangle{
		image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+thick), image.Rect(r.Min.X, r.Max.Y-thick, r.Max.X, r.Max.Y),
		image.Rect(r.Min.X, r.Min.Y, r.Min.X+thick, r.Max.Y), image.Rect(r.Max.X-thick, r.Min.Y, r.Max.X, r.Max.Y),
	} {
		c.add(side.Intersect(clip), func(dst *image.RGBA, r image.Rectangle) {
			for y := r.Min.Y; y < r.Max.Y; y++ {
				row := rowOf(dst, r, y)
				for i := 0; i < len(row); i += 4 {
					k := a
					if (r.Min.X+i/4+y)/dash%2 == 1 {
						k = b
					}
					copy(row[i:], []byte{k.R, k.G, k.B, 0xff})
				}
			}
		})
	}
}

// hatch draws diagonal lines over r but not over except, every step pixels, thick wide.
func (c *canvas) hatch(r, except image.Rectangle, step, thick int, k color.RGBA) {
	c.add(r, func(dst *image.RGBA, r image.Rectangle) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			row := rowOf(dst, r, y)
			if y < except.Min.Y || y >= except.Max.Y {
				hatchRow(row, r.Min.X, r.Max.X, r.Min.X, y, step, thick, k)
				continue
			}
			hatchRow(row, r.Min.X, min(r.Max.X, except.Min.X), r.Min.X, y, step, thick, k)
			hatchRow(row, max(r.Min.X, except.Max.X), r.Max.X, r.Min.X, y, step, thick, k)
		}
	})
}

// hatchRow draws from x0 to x1-1 of a row that begins at x.
func hatchRow(row []byte, x0, x1, x, y, step, thick int, k color.RGBA) {
	for at := x0 - (x0+y)%step; at < x1; at += step {
		for i := max(x0, at); i < min(x1, at+thick); i++ {
			copy(row[4*(i-x):], []byte{k.R, k.G, k.B, 0xff})
		}
	}
}

type pointF struct{ x, y float64 }

// polygon fills a closed outline, antialiased.
func (c *canvas) polygon(k color.RGBA, pts ...pointF) {
	if c.vector != nil {
		c.vector.polygon(k, pts)
		return
	}
	box := image.Rectangle{image.Pt(math.MaxInt32, math.MaxInt32), image.Pt(math.MinInt32, math.MinInt32)}
	for _, p := range pts {
		box.Min.X, box.Min.Y = min(box.Min.X, int(math.Floor(p.x))), min(box.Min.Y, int(math.Floor(p.y)))
		box.Max.X, box.Max.Y = max(box.Max.X, int(math.Ceil(p.x))), max(box.Max.Y, int(math.Ceil(p.y)))
	}
	c.add(box, func(dst *image.RGBA, r image.Rectangle) {
		mask := rasterized(pts, image.Rect(box.Min.X, r.Min.Y, box.Max.X, r.Max.Y), box.Size())
		draw.DrawMask(dst, r, image.NewUniform(k), image.Point{}, mask, r.Min, draw.Over)
	})
}

// rasterized returns how much of each pixel of some rows a closed outline of that size covers.
func rasterized(pts []pointF, rows image.Rectangle, size image.Point) *image.Alpha {
	mask := image.NewAlpha(rows)
	// The rasterizer reckons more coarsely up to this size, and some rows of a larger shape must come out as they do in the whole.
	const coarsely = 512
	w := rows.Dx()
	if max(size.X, size.Y) > coarsely {
		w = max(w, coarsely+1)
	}
	z := vector.NewRasterizer(w, rows.Dy())
	for i, p := range pts {
		x, y := float32(p.x-float64(rows.Min.X)), float32(p.y-float64(rows.Min.Y))
		if i == 0 {
			z.MoveTo(x, y)
			continue
		}
		z.LineTo(x, y)
	}
	z.ClosePath()
	z.Draw(mask, rows, image.Opaque, image.Point{})
	return mask
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
	if c.vector != nil {
		c.vector.write(f, st, x, y+f.ascent, k, s)
		return c.set.width(st, s)
	}
	pen := fixed.I(x)
	var glyphs []placedGlyph
	var box image.Rectangle
	for _, r := range s {
		g := f.glyph(r)
		if g.mask != nil {
			at := g.mask.Rect.Add(g.at).Add(image.Pt(pen.Round(), y+f.ascent))
			glyphs = append(glyphs, placedGlyph{g.mask, at})
			box = box.Union(at)
		}
		pen += g.advance
	}
	src := image.NewUniform(k)
	c.add(box, func(dst *image.RGBA, r image.Rectangle) {
		for _, g := range glyphs {
			if g.at.Overlaps(r) {
				draw.DrawMask(dst, g.at, src, image.Point{}, g.mask, image.Point{}, draw.Over)
			}
		}
	})
	w := (pen - fixed.I(x)).Ceil()
	if w > 0 {
		c.texts = append(c.texts, image.Rect(x, y, x+w, y+f.height))
	}
	return w
}

type placedGlyph struct {
	mask *image.Alpha
	at   image.Rectangle
}

// picture lays an opaque picture on r, from its point at on.
func (c *canvas) picture(r image.Rectangle, m *image.NRGBA, at image.Point) {
	c.add(r, func(dst *image.RGBA, part image.Rectangle) {
		from := part.Min.Sub(r.Min).Add(at)
		for y := range part.Dy() {
			copy(rowOf(dst, part, part.Min.Y+y), m.Pix[m.PixOffset(from.X, from.Y+y):])
		}
	})
}

// whiteGround is what the white plane is shown on, as a grey value.
const whiteGround = 0x36

// plane lays a white plane on r, from its point at on, whose full white is white.
func (c *canvas) plane(r image.Rectangle, m *image.Gray, at image.Point) {
	var tone [256]uint32 // as the bytes of a pixel
	for i := range tone {
		tone[i] = uint32(whiteGround+(255-whiteGround)*i/255)*0x010101 | 0xff000000
	}
	c.add(r, func(dst *image.RGBA, part image.Rectangle) {
		from := part.Min.Sub(r.Min).Add(at)
		for y := range part.Dy() {
			row := rowOf(dst, part, part.Min.Y+y)
			for i, v := range m.Pix[m.PixOffset(from.X, from.Y+y):][:part.Dx()] {
				binary.LittleEndian.PutUint32(row[4*i:], tone[v])
			}
		}
	})
}

// label sets one line on white, over whatever lies there.
func (c *canvas) label(x, y int, st typeStyle, k color.RGBA, s string) {
	c.fill(image.Rect(x-2, y+3, x+c.set.width(st, s)+2, y+c.set.face(st).height-2), white)
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
