package ruletest

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"peelcheck/preflight"
)

// letters are the colours of artwork in rows of characters; "legend LETTER COLOUR" adds others.
var letters = map[rune]string{
	'.': "transparent", '#': "black", 'w': "white", 'r': "red", 'y': "yellow", 'n': "navy", 'b': "blue", 'g': "k10", 'G': "k50",
}

// drawArt draws an art section. It is either shapes in millimetres, one a line and painted in order, that start with
// "page W H [COLOUR]", or rows of characters, one a pixel or a square of "scale N" pixels.
//
//	rect X Y W H COLOUR
//	line X1 Y1 X2 Y2 WIDTH COLOUR       square ends at the two points
//	disc X Y DIAMETER COLOUR
//	ring X Y DIAMETER WIDTH COLOUR      outer diameter, the width inside it
//	polygon X,Y X,Y X,Y ... COLOUR      even-odd
//	dots X Y W H PITCH DIAMETER COLOUR  discs on a square grid, as a screened tint prints
//	fade X Y W H COLOUR                 opacity falls evenly from full at the left to nothing at the right
//	grain X Y W H LOW HIGH SEED         greys of LOW to HIGH % black at random, one a pixel, as in a grainy photograph
func drawArt(text string, ppi float64) (*image.NRGBA, error) {
	lines := strings.FieldsFunc(text, func(r rune) bool { return r == '\n' })
	if len(lines) == 0 {
		return nil, fmt.Errorf("the art section is empty")
	}
	if strings.HasPrefix(lines[0], "page ") {
		return drawShapes(lines, ppi/25.4)
	}
	return drawRows(lines)
}

func drawRows(lines []string) (*image.NRGBA, error) {
	scale, legend := 1, map[rune]color.NRGBA{}
	for letter, name := range letters {
		legend[letter], _ = parseColour(name)
	}
	var rows []string
	for _, line := range lines {
		f := strings.Fields(line)
		var err error
		switch {
		case len(f) == 2 && f[0] == "scale":
			scale, err = strconv.Atoi(f[1])
		case len(f) == 3 && f[0] == "legend" && len(f[1]) == 1:
			legend[rune(f[1][0])], err = parseColour(f[2])
		case len(f) == 1:
			rows = append(rows, f[0])
		default:
			err = fmt.Errorf("%q is no row", line)
		}
		if err != nil {
			return nil, err
		}
	}
	if len(rows) == 0 || scale < 1 {
		return nil, fmt.Errorf("the art section has %d rows at scale %d", len(rows), scale)
	}
	out := image.NewNRGBA(image.Rect(0, 0, len(rows[0])*scale, len(rows)*scale))
	for y, row := range rows {
		if len(row) != len(rows[0]) {
			return nil, fmt.Errorf("row %d has %d characters, the first has %d", y+1, len(row), len(rows[0]))
		}
		for x, letter := range row {
			c, ok := legend[letter]
			if !ok {
				return nil, fmt.Errorf("row %d: %q is not in the legend", y+1, letter)
			}
			for i := range scale * scale {
				out.SetNRGBA(x*scale+i%scale, y*scale+i/scale, c)
			}
		}
	}
	return out, nil
}

// maxPixels is A4 at 600 pixels an inch, and some.
const maxPixels = 40_000_000

func drawShapes(lines []string, pxPerMM float64) (*image.NRGBA, error) {
	var c *canvas
	for i, line := range lines {
		f := strings.Fields(line)
		if len(f) == 0 || f[0] == "#" {
			continue
		}
		p := pen{words: f[1:], pxPerMM: pxPerMM}
		if (f[0] == "page") != (i == 0) {
			return nil, fmt.Errorf("%q: one page, and that first", line)
		}
		if i == 0 {
			c = p.page()
		} else {
			p.draw(c, f[0])
		}
		p.check(len(p.words) == 0, "%q is left over", p.words)
		if p.err != nil {
			return nil, fmt.Errorf("%q: %w", line, p.err)
		}
	}
	return c.image(), nil
}

// pen reads the words of one line from left to right; the first error sticks.
type pen struct {
	words   []string
	pxPerMM float64
	err     error
}

// check keeps the error unless ok or there is one already.
func (p *pen) check(ok bool, format string, args ...any) {
	if !ok && p.err == nil {
		p.err = fmt.Errorf(format, args...)
	}
}

func (p *pen) word() string {
	if p.check(len(p.words) > 0, "too few words"); len(p.words) == 0 {
		return ""
	}
	w := p.words[0]
	p.words = p.words[1:]
	return w
}

func (p *pen) number() float64 {
	w := p.word()
	v, err := strconv.ParseFloat(w, 64)
	p.check(err == nil, "%q is no number", w)
	return v
}

// px reads a length in millimetres.
func (p *pen) px() float64 { return p.number() * p.pxPerMM }

func (p *pen) colour() color.NRGBA {
	c, err := parseColour(p.word())
	p.check(err == nil, "%w", err)
	return c
}

func (p *pen) page() *canvas {
	w, h := int(math.Round(p.px())), int(math.Round(p.px()))
	if p.check(w >= 1 && h >= 1 && w*h <= maxPixels, "a page of %d x %d pixels", w, h); p.err != nil {
		return nil
	}
	c := newCanvas(w, h)
	if len(p.words) > 0 {
		c.fill(func(float64, float64) float64 { return -1 }, image.Rect(0, 0, w, h), p.colour())
	}
	return c
}

func (p *pen) draw(c *canvas, shape string) {
	switch shape {
	case "rect":
		x, y, w, h := p.px(), p.px(), p.px(), p.px()
		p.fill(c, bar(x+w/2, y+h/2, w, h, 0), x, y, x+w, y+h)
	case "line":
		x1, y1, x2, y2, w := p.px(), p.px(), p.px(), p.px(), p.px()
		p.fill(c, bar((x1+x2)/2, (y1+y2)/2, math.Hypot(x2-x1, y2-y1), w, math.Atan2(y2-y1, x2-x1)),
			min(x1, x2)-w, min(y1, y2)-w, max(x1, x2)+w, max(y1, y2)+w)
	case "disc":
		x, y, d := p.px(), p.px(), p.px()
		p.fill(c, disc(x, y, d), x-d/2, y-d/2, x+d/2, y+d/2)
	case "ring":
		x, y, d, w := p.px(), p.px(), p.px(), p.px()
		p.fill(c, ring(x, y, d, w), x-d/2, y-d/2, x+d/2, y+d/2)
	case "polygon":
		p.polygon(c)
	case "dots":
		p.dots(c)
	case "fade":
		p.fade(c)
	case "grain":
		p.grain(c)
	default:
		p.check(false, "no shape %q", shape)
	}
}

// fill reads the colour and paints the shape, which lies within the box given in pixels.
func (p *pen) fill(c *canvas, in distance, x0, y0, x1, y1 float64) {
	if with := p.colour(); p.err == nil {
		c.fill(in, image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1))), with)
	}
}

func (p *pen) polygon(c *canvas) {
	var pts [][2]float64
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), 0.0, 0.0
	for len(p.words) > 1 {
		xy := pen{words: strings.Split(p.word(), ","), pxPerMM: p.pxPerMM}
		x, y := xy.px(), xy.px()
		if p.check(xy.err == nil && len(xy.words) == 0, "a corner is written X,Y"); p.err != nil {
			return
		}
		pts = append(pts, [2]float64{x, y})
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
	}
	if p.check(len(pts) >= 3, "%d corners", len(pts)); p.err != nil {
		return
	}
	p.fill(c, polygon(pts), x0, y0, x1, y1)
}

func (p *pen) dots(c *canvas) {
	x0, y0, w, h, pitch, d := p.px(), p.px(), p.px(), p.px(), p.px(), p.px()
	with := p.colour()
	if p.check(pitch > 0, "a pitch of %g pixels", pitch); p.err != nil {
		return
	}
	for y := y0 + pitch/2; y < y0+h; y += pitch {
		for x := x0 + pitch/2; x < x0+w; x += pitch {
			c.fill(disc(x, y, d), image.Rect(int(x-d/2)-1, int(y-d/2)-1, int(x+d/2)+2, int(y+d/2)+2), with)
		}
	}
}

func (p *pen) fade(c *canvas) {
	x, y, w, h := p.px(), p.px(), p.px(), p.px()
	with := p.colour()
	if p.err != nil {
		return
	}
	full := float64(with.A)
	for col := int(x); col < int(math.Ceil(x+w)); col++ {
		with.A = uint8(full*min(1, max(0, 1-(float64(col)+0.5-x)/w)) + 0.5)
		c.fill(bar(x+w/2, y+h/2, w, h, 0), image.Rect(col, int(y), col+1, int(math.Ceil(y+h))), with)
	}
}

// grain draws with the generator of Park and Miller, Comm. ACM 31(10), 1988, so that it is the same everywhere for ever.
func (p *pen) grain(c *canvas) {
	x0, y0, w, h := p.px(), p.px(), p.px(), p.px()
	low, high, seed := p.number()/100, p.number()/100, int(p.number())
	if p.check(seed >= 1, "a seed of %d", seed); p.err != nil {
		return
	}
	for y := int(y0); y < min(c.h, int(y0+h)); y++ {
		for x := int(x0); x < min(c.w, int(x0+w)); x++ {
			seed = seed * 16807 % (1<<31 - 1)
			v := 1 - low - (high-low)*float64(seed)/(1<<31-1)
			c.pix[y*c.w+x] = [4]float64{v, v, v, 1}
		}
	}
}

// parseColour reads "transparent", a CSS name, #rgb, #rrggbb, or kNN for a grey of NN % black; "/NN" after it gives the
// opacity in per cent.
func parseColour(s string) (color.NRGBA, error) {
	name, opacity, thin := strings.Cut(s, "/")
	c, err := parseOpaque(name)
	if err != nil {
		return color.NRGBA{}, err
	}
	if thin {
		v, err := strconv.ParseFloat(opacity, 64)
		if err != nil || !(v >= 0 && v <= 100) {
			return color.NRGBA{}, fmt.Errorf("%q: an opacity is 0 to 100", s)
		}
		c.A = uint8(v*255/100 + 0.5)
	}
	return c, nil
}

func parseOpaque(name string) (color.NRGBA, error) {
	if name == "transparent" {
		return color.NRGBA{}, nil
	}
	if digits, ok := strings.CutPrefix(name, "k"); ok {
		if k, err := strconv.ParseFloat(digits, 64); err == nil && k >= 0 && k <= 100 {
			v := uint8(255*(1-k/100) + 0.5)
			return color.NRGBA{R: v, G: v, B: v, A: 255}, nil
		}
	}
	g, err := preflight.ParseGarment(name)
	return g.Colour, err
}
