package pdffacts

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/filter"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

const (
	// mostSwatchBytes bounds what a picture of few pixels unpacks to.
	mostSwatchBytes = 1 << 20
	// pixelsPerOperator is how many pixels of such a picture count as an operator of the page.
	pixelsPerOperator = 16
	// leastStep is from how much two neighbouring pixels differ, as a share of the range of a component, that one sees a step.
	leastStep = 0.1
)

// isFlat reports whether a picture of few pixels is a flat colour or a smooth blend, without a step between neighbouring pixels. One that cannot
// be read is none.
func (d *Document) isFlat(sd types.StreamDict, components int) bool {
	w, _ := d.Number(sd.Dict["Width"])
	h, _ := d.Number(sd.Dict["Height"])
	bits, _ := d.Number(sd.Dict["BitsPerComponent"])
	if d.Bool(sd.Dict["ImageMask"]) {
		bits, components = 1, 1
	}
	if n := len(sd.FilterPipeline); n == 1 && sd.FilterPipeline[0].Name == filter.DCT {
		m, err := jpeg.Decode(bytes.NewReader(sd.Raw))
		return err == nil && isFlatPicture(m)
	}
	if sd.DecodeWithLimit(mostSwatchBytes) != nil {
		return false
	}
	s := samples{data: sd.Content, w: int(w), h: int(h), n: components, bits: int(bits)}
	if !s.usable() {
		return false
	}
	value := func(x, y, c int) float64 { return float64(s.at(x, y, c)) / float64(uint(1)<<s.bits-1) }
	if table, n, ok := d.palette(sd.Dict["ColorSpace"]); ok {
		s.palette = n
		value = func(x, y, c int) float64 {
			if at := int(s.at(x, y, 0))*n + c; at < len(table) {
				return float64(table[at]) / 255
			}
			return 0
		}
	}
	return !steps(s.w, s.h, max(s.n, s.palette), value)
}

// samples are the unpacked bytes of a picture (8.9.3): rows begin on whole bytes.
type samples struct {
	data             []byte
	w, h, n, palette int
	bits             int
}

func (s *samples) row() int { return (s.w*s.n*s.bits + 7) / 8 }

func (s *samples) usable() bool {
	ok := s.bits == 1 || s.bits == 2 || s.bits == 4 || s.bits == 8 || s.bits == 16
	return ok && s.w > 0 && s.h > 0 && s.n > 0 && len(s.data) >= s.row()*s.h
}

func (s *samples) at(x, y, c int) uint {
	bit := (x*s.n + c) * s.bits
	at := s.data[y*s.row()+bit/8:]
	if s.bits == 16 {
		return uint(at[0])<<8 | uint(at[1])
	}
	return uint(at[0]) >> (8 - s.bits - bit%8) & (1<<s.bits - 1)
}

// palette is the table of an Indexed space (8.6.6.3) with the number of components of its base.
func (d *Document) palette(space types.Object) (table []byte, components int, ok bool) {
	a := d.Array(space)
	if len(a) != 4 || d.Name(a[0]) != "Indexed" {
		return nil, 0, false
	}
	most, _ := d.Number(a[2])
	switch o := d.Deref(a[3]).(type) {
	case types.StreamDict:
		if o.DecodeWithLimit(mostSwatchBytes) == nil {
			table = o.Content
		}
	case types.HexLiteral:
		table, _ = o.Bytes()
	case types.StringLiteral:
		table, _ = types.Unescape(string(o))
	}
	if most < 0 || most > 255 {
		return nil, 0, false
	}
	n := len(table) / (int(most) + 1)
	return table, n, n > 0
}

func isFlatPicture(m image.Image) bool {
	b := m.Bounds()
	return !steps(b.Dx(), b.Dy(), 3, func(x, y, c int) float64 {
		r, g, b, _ := m.At(b.Min.X+x, b.Min.Y+y).RGBA()
		return float64([]uint32{r, g, b}[c]) / 0xffff
	})
}

// steps reports whether neighbouring pixels differ visibly somewhere.
func steps(w, h, components int, value func(x, y, c int) float64) bool {
	differ := func(x0, y0, x1, y1 int) bool {
		for c := range components {
			if math.Abs(value(x0, y0, c)-value(x1, y1, c)) >= leastStep {
				return true
			}
		}
		return false
	}
	for y := range h {
		for x := range w {
			if x > 0 && differ(x-1, y, x, y) || y > 0 && differ(x, y-1, x, y) {
				return true
			}
		}
	}
	return false
}

// isSwatch reports whether a picture has so few pixels that it may be a flat colour or a blend.
func isSwatch(w, h float64) bool { return min(w, h) < raster.DrawingPx && w*h <= mostSwatchBytes }
