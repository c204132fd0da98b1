// Package pdffacts asks the objects of a PDF page for what its pixels cannot tell: fonts and the size of text, the widths of strokes, the
// resolution of pictures where they are placed, layers, notes and form fields, overprint, what lies beyond the page's edge.
//
// Start with Of. Clauses are those of ISO 32000-1:2008.
package pdffacts

import (
	"fmt"
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
	"peelcheck/raster/pdfvalue"
)

const (
	mmPerPoint = 25.4 / 72
	// mostOperators bounds the work on a page, forms counted each time that they are drawn: about a second. A street map has some millions.
	mostOperators = 5_000_000
	// mostDepth bounds forms within forms, mostSaved q without Q.
	mostDepth, mostSaved = 40, 10_000
	// mostBytes bounds what one stream unpacks to.
	mostBytes = 256 << 20
	// mostFacts bounds the facts of one kind.
	mostFacts = 100_000
)

// Document holds what the pages of a file have in common. It is not safe for concurrent use.
type Document struct {
	pdfvalue.In
	pages  int
	sizes  []size
	fonts  map[int]*font // by object number
	groups map[int]group
}

type size struct{ w, h float64 }

// NewDocument looks at a file of so many pages.
func NewDocument(x *model.XRefTable, pages int) *Document {
	return &Document{In: pdfvalue.In{Table: x}, pages: pages, fonts: map[int]*font{}}
}

// Page returns the facts of page n (from 1). A page that cannot be found is an error; what is damaged on it is left out.
func (d *Document) Page(n int) (facts *raster.Facts, err error) {
	defer func() {
		if r := recover(); r != nil {
			facts, err = nil, fmt.Errorf("pdffacts: page %d: %v", n, r)
		}
	}()
	dict, _, inherited, err := d.Table.PageDict(n, false)
	if err != nil || dict == nil {
		return nil, fmt.Errorf("pdffacts: page %d cannot be found: %w", n, err)
	}
	frame := d.frame(dict, inherited)
	facts = &raster.Facts{WidthMM: frame.size.w, HeightMM: frame.size.h, Encrypted: d.Table.Encrypt != nil}
	facts.OtherSizes, facts.Prepared = d.otherSizes(frame.size), d.Prepared()
	w := newWalker(d, facts, frame)
	w.listFonts(inherited.Resources, dict["Annots"])
	w.content(d.contents(dict["Contents"]), inherited.Resources, w.start())
	w.annotations(dict["Annots"])
	w.finish()
	return facts, nil
}

// Prepared reads the marks that print files of our own have in the document information; nil for any other file, or a damaged one.
func (d *Document) Prepared() (of *raster.FactPrepared) {
	defer func() {
		if recover() != nil {
			of = nil
		}
	}()
	if d.Table.Info == nil {
		return nil
	}
	info := d.Dict(*d.Table.Info)
	process := d.Line(info[raster.PreparedKey])
	if process == "" {
		return nil
	}
	return &raster.FactPrepared{Process: process, Mirrored: d.Bool(info[raster.MirroredKey])}
}

// frame is how a page is shown: where its own coordinates lie in millimetres from the top left corner, and what shows.
type frame struct {
	size  size
	base  matrix
	shown box
}

// frame follows 14.11.2 and Table 30: CropBox within MediaBox, turned by Rotate, times UserUnit. A page without a usable size is letter, as
// the renderer has it.
func (d *Document) frame(dict types.Dict, inherited *model.InheritedPageAttrs) frame {
	b := boxOf(inherited.MediaBox)
	if !(b.x1-b.x0 > 0 && b.y1-b.y0 > 0) {
		b = box{0, 0, 612, 792, true}
	}
	if crop := boxOf(inherited.CropBox).meet(b); crop.x1-crop.x0 > 0 && crop.y1-crop.y0 > 0 {
		b = crop
	}
	k := mmPerPoint
	if unit, ok := d.Number(dict["UserUnit"]); ok && unit > 0 {
		k *= unit
	}
	w, h := (b.x1-b.x0)*k, (b.y1-b.y0)*k
	base := matrix{k, 0, 0, -k, -b.x0 * k, b.y1 * k}
	switch (inherited.Rotate/90%4 + 4) % 4 {
	case 1:
		base, w, h = matrix{0, k, k, 0, -b.y0 * k, -b.x0 * k}, h, w
	case 2:
		base = matrix{-k, 0, 0, k, b.x1 * k, -b.y0 * k}
	case 3:
		base, w, h = matrix{0, -k, -k, 0, b.y1 * k, b.x1 * k}, h, w
	}
	return frame{size{w, h}, base, box{0, 0, w, h, true}}
}

func boxOf(r *types.Rectangle) box {
	if r == nil {
		return box{}
	}
	var b box
	b.add(r.LL.X, r.LL.Y)
	b.add(r.UR.X, r.UR.Y)
	return b
}

// mostSizes bounds of how many pages the size is compared.
const mostSizes = 1000

// otherSizes counts the pages that differ from a size by more than half a millimetre, either way round.
func (d *Document) otherSizes(own size) (n int) {
	if d.sizes == nil {
		for i := 1; i <= min(d.pages, mostSizes); i++ {
			dict, _, inherited, err := d.Table.PageDict(i, false)
			if err == nil && dict != nil {
				d.sizes = append(d.sizes, d.frame(dict, inherited).size)
			}
		}
	}
	const same = 0.5
	for _, s := range d.sizes {
		if math.Abs(s.w-own.w) > same || math.Abs(s.h-own.h) > same {
			n++
		}
	}
	return n
}

// contents joins the streams of a page with white space (Table 30).
func (d *Document) contents(o types.Object) []byte {
	parts := d.Array(o)
	if parts == nil {
		parts = types.Array{o}
	}
	var all []byte
	for _, part := range parts {
		all = append(append(all, d.unpacked(part)...), '\n')
		if len(all) > mostBytes {
			break
		}
	}
	return all
}

// unpacked is what a stream holds; nothing if it cannot be read.
func (d *Document) unpacked(o types.Object) []byte {
	sd, ok := d.Stream(o)
	if !ok || sd.DecodeWithLimit(mostBytes) != nil {
		return nil
	}
	return sd.Content
}
