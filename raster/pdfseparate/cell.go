package pdfseparate

import (
	"fmt"
	"math"

	"peelcheck/raster/pdfcontent"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// PDFium draws the cell of a tiling pattern once, on whole pixels, and repeats its picture, which changes its width by up to one; but a cell
// larger than what is painted it draws as it is, at each place. So cells are made wider than the page, clipped to what they were.

const (
	// widerThanPage is how long a side must be, turned by any angle, to be wider or higher than a square page: more than the root of 2.
	widerThanPage = 1.5
	// mostInCells bounds the operators of a pattern, by the times that a page as wide as high as it is long could show them: some
	// seconds of drawing.
	mostInCells = 1_000_000
	// cellInset, in points, is more than numbers are rounded by: the renderer clips to all pixels that a rectangle touches.
	cellInset = 0.005
)

// widenCell makes a tiling pattern's cell wider than the page, and gives what clips to the old one; operators is how many it has.
func (r *rewriter) widenCell(d types.Dict, operators int) []byte {
	box, matrix := r.numbers(d["BBox"]), r.numbers(d["Matrix"])
	xStep, _ := r.Number(d["XStep"])
	yStep, _ := r.Number(d["YStep"])
	if len(matrix) != 6 {
		matrix = []float64{1, 0, 0, 1, 0, 0}
	}
	x, y := math.Hypot(matrix[0], matrix[1]), math.Hypot(matrix[2], matrix[3])
	if len(box) != 4 || !(x > 0 && y > 0 && r.side > 0) || xStep == 0 || yStep == 0 {
		return nil
	}
	x0, x1, y0, y1 := min(box[0], box[2]), max(box[0], box[2]), min(box[1], box[3]), max(box[1], box[3])
	wider := widerThanPage * r.side / x
	cells := (wider + r.side/x) / math.Abs(xStep) * r.side / y / math.Abs(yStep)
	if cells*float64(operators) > mostInCells {
		r.note("a pattern is repeated so often that its edges are moved to whole pixels")
		return nil
	}
	d["BBox"] = types.Array{types.Float(x0), types.Float(y0), types.Float(x1 + wider), types.Float(y1)}
	inX, inY := min(cellInset/x, (x1-x0)/4), min(cellInset/y, (y1-y0)/4)
	clip := appendNumber(nil, x0+inX)
	clip = appendNumber(clip, y0+inY)
	clip = appendNumber(clip, x1-x0-2*inX)
	clip = appendNumber(clip, y1-y0-2*inY)
	return append(clip, "re W n\n"...)
}

// noteStart remembers where a subpath of a cell or a glyph begins.
func (c *content) noteStart(op string, args []pdfcontent.Token) {
	n := 2
	if op == "re" {
		n = 4
	}
	if c.cell && len(args) >= n {
		c.subpath = fmt.Sprintf("%s %s", args[len(args)-n].Raw, args[len(args)-n+1].Raw)
	}
}

// keepRectangle adds a line of no length to a path of a cell or a glyph that is filled: PDFium moves upright rectangles to whole pixels.
// On the page and in forms that is put right after loading, see pdfpage.
func (c *content) keepRectangle() {
	if c.cell && c.subpath != "" {
		c.write(c.subpath + " m " + c.subpath + " l")
	}
	c.subpath = ""
}

// numbers are those of an array; nil if it has others.
func (f *file) numbers(o types.Object) []float64 {
	var out []float64
	for _, o := range f.Array(o) {
		v, ok := f.Number(o)
		if !ok || math.IsInf(v, 0) || math.IsNaN(v) {
			return nil
		}
		out = append(out, v)
	}
	return out
}
