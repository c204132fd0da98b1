// Package typecase draws lettering of open typefaces as artwork has it: solid, outlined, on colour, reversed out, turned and mirrored.
package typecase

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"os"

	"github.com/disintegration/imaging"
	"github.com/go-text/typesetting/font/opentype"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// Face is one font.
type Face struct {
	Name string
	font *sfnt.Font
	buf  sfnt.Buffer
	// XHeight is the height of x in ems, or half an em where there is none.
	XHeight float64
}

// Open reads a TrueType or OpenType font, packed as WOFF (W3C, WOFF File Format 1.0) or not. It fails on one that lacks any of the glyphs.
func Open(path, glyphs string) (*Face, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	if bytes.HasPrefix(data, []byte("wOFF")) {
		if data, err = unpacked(data); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	return Parse(path, data, glyphs)
}

// unpacked turns a WOFF font into a TrueType or OpenType one without checksums, its tables beginning at multiples of four bytes (OpenType 1.9,
// "Organization of an OpenType Font"; from memory).
func unpacked(woff []byte) ([]byte, error) {
	font, err := opentype.NewLoader(bytes.NewReader(woff))
	if err != nil {
		return nil, err
	}
	const headLen, entryLen = 12, 16
	tags := font.Tables()
	list := binary.BigEndian.AppendUint32(nil, uint32(font.Type))
	list = binary.BigEndian.AppendUint16(list, uint16(len(tags)))
	list = append(list, make([]byte, headLen-len(list))...)
	var body []byte
	for _, tag := range tags {
		table, err := font.RawTable(tag)
		if err != nil {
			return nil, err
		}
		for _, v := range []int{int(tag), 0, headLen + entryLen*len(tags) + len(body), len(table)} {
			list = binary.BigEndian.AppendUint32(list, uint32(v))
		}
		body = append(body, table...)
		body = append(body, make([]byte, -len(body)&3)...)
	}
	return append(list, body...), nil
}

// Parse is Open for a font already read.
func Parse(name string, data []byte, glyphs string) (*Face, error) {
	f, err := sfnt.Parse(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	face := &Face{Name: name, font: f}
	for _, r := range glyphs {
		if i, err := f.GlyphIndex(&face.buf, r); err != nil || i == 0 {
			return nil, fmt.Errorf("%s has no %q", name, r)
		}
		if s, _, err := face.outline(r); err != nil || len(s) == 0 {
			return nil, fmt.Errorf("%s has no outline for %q: %v", name, r, err)
		}
	}
	face.XHeight = 0.5
	if _, box, err := face.outline('x'); err == nil && box[1] < 0 {
		face.XHeight = -box[1]
	}
	return face, nil
}

// Symbol is a glyph of a font of symbols.
type Symbol struct {
	Rune rune
	Name string
}

// OpenSymbols reads a font of symbols: those in the first private use area of Unicode, with the names the font gives them.
func OpenSymbols(path string) (*Face, []Symbol, error) {
	face, err := Open(path, "")
	if err != nil {
		return nil, nil, err
	}
	var out []Symbol
	for r := rune(0xe000); r <= 0xf8ff; r++ {
		i, err := face.font.GlyphIndex(&face.buf, r)
		if err != nil || i == 0 {
			continue
		}
		if s, _, err := face.outline(r); err != nil || len(s) == 0 {
			continue
		}
		name, err := face.font.GlyphName(&face.buf, i)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", path, err)
		}
		out = append(out, Symbol{r, name})
	}
	return face, out, nil
}

const unitsPerEm = 2048

// outline returns a glyph's segments, and its box in ems: left, top, right, bottom, y down.
func (f *Face) outline(r rune) (sfnt.Segments, [4]float64, error) {
	i, err := f.font.GlyphIndex(&f.buf, r)
	if err != nil {
		return nil, [4]float64{}, err
	}
	segments, err := f.font.LoadGlyph(&f.buf, i, fixed.I(unitsPerEm), nil)
	if err != nil {
		return nil, [4]float64{}, err
	}
	box := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, s := range segments {
		for _, p := range args(s) {
			x, y := ems(p.X), ems(p.Y)
			box[0], box[1], box[2], box[3] = min(box[0], x), min(box[1], y), max(box[2], x), max(box[3], y)
		}
	}
	return segments, box, nil
}

func ems(v fixed.Int26_6) float64 { return float64(v) / 64 / unitsPerEm }

func args(s sfnt.Segment) []fixed.Point26_6 {
	switch s.Op {
	case sfnt.SegmentOpQuadTo:
		return s.Args[:2]
	case sfnt.SegmentOpCubeTo:
		return s.Args[:3]
	}
	return s.Args[:1]
}

func (f *Face) advance(r rune) float64 {
	i, _ := f.font.GlyphIndex(&f.buf, r)
	a, err := f.font.GlyphAdvance(&f.buf, i, fixed.I(unitsPerEm), font.HintingNone)
	if err != nil {
		return 0.5
	}
	return ems(a)
}

// Styles in which letters are drawn.
const (
	Solid    = iota // ink on the ground
	Outlined        // a line round letters whose bodies show the ground
	Filled          // a line round letters of another colour
	OnColour        // letters on a patch of another colour
	Reversed        // a patch out of which the letters are cut, so that the ground shows
	StyleCount
)

// Artwork is what to draw.
type Artwork struct {
	Face      *Face
	Lines     []string
	XHeightPx float64
	Style     int
	LinePx    float64 // width of the line round letters
	Ground    color.NRGBA
	Ink       color.NRGBA // of letters, or of the line round them
	Second    color.NRGBA // of the patch, or of the bodies
	Tracking  float64     // between letters, in ems
	Leading   float64     // from line to line, in ems
	Slope     float64     // clockwise, in radians
	Shear     float64     // to the right for each unit upwards
	Wider     float64     // than drawn, as a share: 0 leaves letters as they are
	FatterPx  float64     // all round
	// Warp moves the points of the nth glyph, which are in ems from its origin, y down; nil leaves them.
	Warp     func(n int, x, y float64) (float64, float64)
	MarginPx int
}

// Glyph is where a glyph was drawn.
type Glyph struct {
	Rune rune
	Box  image.Rectangle
}

type affine struct{ a, b, c, d, x, y float64 }

func (m affine) at(x, y float64) (float64, float64) {
	return m.a*x + m.b*y + m.x, m.c*x + m.d*y + m.y
}

// Draw draws the artwork upright and says where its glyphs are.
func (a *Artwork) Draw() (*image.NRGBA, []Glyph, error) {
	em := a.XHeightPx / a.Face.XHeight
	sin, cos := math.Sincos(a.Slope)
	wide := em * (1 + a.Wider)
	base := affine{a: cos * wide, b: (-cos*a.Shear - sin) * em, c: sin * wide, d: (cos - sin*a.Shear) * em}
	type placed struct {
		r        rune
		segments sfnt.Segments
		m        affine
		box      [4]float64
	}
	var all []placed
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for n, text := range a.Lines {
		width := 0.0
		for _, r := range text {
			width += a.Face.advance(r) + a.Tracking
		}
		x := -width / 2
		for _, r := range text {
			segments, _, err := a.Face.outline(r)
			if err != nil {
				return nil, nil, err
			}
			m := base
			m.x, m.y = base.at(x, float64(n)*a.Leading)
			x += a.Face.advance(r) + a.Tracking
			if len(segments) == 0 {
				continue
			}
			p := placed{r, a.warped(segments, len(all)), m, [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}}
			for _, s := range segments {
				for _, q := range args(s) {
					px, py := m.at(ems(q.X), ems(q.Y))
					p.box = [4]float64{min(p.box[0], px), min(p.box[1], py), max(p.box[2], px), max(p.box[3], py)}
				}
			}
			lo = [2]float64{min(lo[0], p.box[0]), min(lo[1], p.box[1])}
			hi = [2]float64{max(hi[0], p.box[2]), max(hi[1], p.box[3])}
			all = append(all, p)
		}
	}
	margin := float64(a.MarginPx)
	w, h := int(hi[0]-lo[0]+2*margin)+1, int(hi[1]-lo[1]+2*margin)+1
	if w > 20000 || h > 20000 {
		return nil, nil, fmt.Errorf("%s: artwork of %d x %d pixels", a.Face.Name, w, h)
	}
	mask := image.NewAlpha(image.Rect(0, 0, w, h))
	ring := mask
	if a.Style == Outlined || a.Style == Filled {
		ring = image.NewAlpha(mask.Rect)
	}
	var glyphs []Glyph
	for _, p := range all {
		p.m.x += margin - lo[0]
		p.m.y += margin - lo[1]
		box := image.Rect(int(p.box[0]-lo[0]+margin)-1, int(p.box[1]-lo[1]+margin)-1, int(p.box[2]-lo[0]+margin)+2, int(p.box[3]-lo[1]+margin)+2)
		one := fill(p.segments, p.m, box)
		if a.FatterPx > 0 {
			one = grow(one, a.FatterPx)
		}
		lighten(mask, one)
		if ring != mask {
			lighten(ring, grow(one, a.LinePx))
		}
		glyphs = append(glyphs, Glyph{p.r, opaque(one)})
	}
	out := image.NewNRGBA(mask.Rect)
	draw.Draw(out, out.Rect, image.NewUniform(a.Ground), image.Point{}, draw.Src)
	patch := out.Rect.Inset(a.MarginPx / 3)
	switch a.Style {
	case Solid:
		over(out, mask, a.Ink)
	case Outlined:
		over(out, without(ring, mask), a.Ink)
	case Filled:
		over(out, ring, a.Ink)
		over(out, mask, a.Second)
	case OnColour:
		over(out, whole(mask.Rect, patch), a.Second)
		over(out, mask, a.Ink)
	case Reversed:
		over(out, without(whole(mask.Rect, patch), mask), a.Ink)
	}
	return out, glyphs, nil
}

// warped returns a copy of the segments of the nth glyph as they are drawn.
func (a *Artwork) warped(segments sfnt.Segments, n int) sfnt.Segments {
	out := append(sfnt.Segments(nil), segments...)
	if a.Warp == nil {
		return out
	}
	for i := range out {
		for k, p := range args(out[i]) {
			x, y := a.Warp(n, ems(p.X), ems(p.Y))
			out[i].Args[k] = fixed.Point26_6{X: units(x), Y: units(y)}
		}
	}
	return out
}

func units(v float64) fixed.Int26_6 { return fixed.Int26_6(math.Round(v * 64 * unitsPerEm)) }

func fill(segments sfnt.Segments, m affine, box image.Rectangle) *image.Alpha {
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	at := func(p fixed.Point26_6) (float32, float32) {
		x, y := m.at(ems(p.X), ems(p.Y))
		return float32(x - float64(box.Min.X)), float32(y - float64(box.Min.Y))
	}
	for _, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			z.ClosePath()
			z.MoveTo(at(s.Args[0]))
		case sfnt.SegmentOpLineTo:
			z.LineTo(at(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			bx, by := at(s.Args[0])
			cx, cy := at(s.Args[1])
			z.QuadTo(bx, by, cx, cy)
		case sfnt.SegmentOpCubeTo:
			bx, by := at(s.Args[0])
			cx, cy := at(s.Args[1])
			dx, dy := at(s.Args[2])
			z.CubeTo(bx, by, cx, cy, dx, dy)
		}
	}
	z.ClosePath()
	out := image.NewAlpha(box)
	z.Draw(out, box, image.Opaque, image.Point{})
	return out
}

func opaque(m *image.Alpha) image.Rectangle {
	var out image.Rectangle
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			if m.AlphaAt(x, y).A >= 128 {
				out = out.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return out
}

func lighten(dst, src *image.Alpha) {
	r := dst.Rect.Intersect(src.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		d, s := dst.Pix[dst.PixOffset(r.Min.X, y):], src.Pix[src.PixOffset(r.Min.X, y):]
		for x := range r.Dx() {
			d[x] = max(d[x], s[x])
		}
	}
}

// grow returns coverage grown by a disc.
func grow(m *image.Alpha, by float64) *image.Alpha {
	n := int(math.Ceil(by))
	out := image.NewAlpha(m.Rect.Inset(-n - 1))
	for dy := -n; dy <= n; dy++ {
		reach := by*by - float64(dy*dy)
		if reach < 0 {
			continue
		}
		nx := int(math.Sqrt(reach))
		for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
			src := m.Pix[m.PixOffset(m.Rect.Min.X, y):][:m.Rect.Dx()]
			dst := out.Pix[out.PixOffset(m.Rect.Min.X-nx, y+dy):][:m.Rect.Dx()+2*nx]
			for x, v := range src {
				if v == 0 {
					continue
				}
				if x > 0 && x+1 < len(src) && src[x-1] == 255 && src[x+1] == 255 && v == 255 {
					dst[x+nx] = 255
					dst[x+2*nx] = 255
					continue
				}
				for k := range 2*nx + 1 {
					dst[x+k] = max(dst[x+k], v)
				}
			}
		}
	}
	return out
}

func without(a, b *image.Alpha) *image.Alpha {
	out := image.NewAlpha(a.Rect)
	for i, v := range a.Pix {
		out.Pix[i] = uint8(int(v) * (255 - int(b.Pix[i])) / 255)
	}
	return out
}

func whole(r, patch image.Rectangle) *image.Alpha {
	out := image.NewAlpha(r)
	draw.Draw(out, patch, image.Opaque, image.Point{}, draw.Src)
	return out
}

// over paints a colour through coverage, with straight alpha where the ground is transparent.
func over(dst *image.NRGBA, m *image.Alpha, c color.NRGBA) {
	for i, v := range m.Pix {
		if v == 0 {
			continue
		}
		p := dst.Pix[4*i : 4*i+4]
		a, under := float64(v)/255, float64(p[3])/255
		total := a + under*(1-a)
		for k, top := range [3]uint8{c.R, c.G, c.B} {
			p[k] = uint8((float64(top)*a+float64(p[k])*under*(1-a))/total + 0.5)
		}
		p[3] = uint8(total*255 + 0.5)
	}
}

// Lay turns a picture clockwise by quarter turns, mirrored left to right first if asked for.
func Lay(m *image.NRGBA, quarters int, mirror bool) *image.NRGBA {
	if mirror {
		m = imaging.FlipH(m)
	}
	switch quarters & 3 {
	case 1:
		m = imaging.Rotate270(m) // imaging turns the other way round
	case 2:
		m = imaging.Rotate180(m)
	case 3:
		m = imaging.Rotate90(m)
	}
	return m
}
