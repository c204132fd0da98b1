package printfile

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"unicode"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/preflight/internal/pdfobject"
)

// mostContentBytes bounds what the content of one page unpacks to; real pages have some megabytes.
const mostContentBytes = 256 << 20

// Flags of an annotation (ISO 32000-1, Table 165).
const (
	annotationHidden = 1 << 1
	annotationPrint  = 1 << 2
)

// Page is a page of another PDF, to be embedded as it is. It is not safe for concurrent use.
type Page struct {
	ctx               *model.Context
	widthMM, heightMM float64
	box               *types.Rectangle // what shows, in the page's own units
	turn              int              // clockwise, 0, 90, 180 or 270
	resources, group  types.Dict
	content           []byte
}

// Size is the page's printed width and height in millimetres: CropBox within MediaBox, turned by Rotate, times UserUnit.
func (p *Page) Size() (widthMM, heightMM float64) { return p.widthMM, p.heightMM }

// Part returns the page cut to a rectangle, in shares of what shows of it (0 to 1 from its top left): what lies outside is not printed.
func (p *Page) Part(x, y, w, h float64) (*Page, error) {
	if !(x >= 0 && y >= 0 && w > 0 && h > 0 && x+w <= 1+1e-9 && y+h <= 1+1e-9) {
		return nil, fmt.Errorf("printfile: %g x %g from %g, %g is not a part of a page", w, h, x, y)
	}
	part := *p
	box := *p.box
	// The left, bottom, width and height of the part as shares of the box in the page's own directions, for each turn.
	left, bottom, wide, high := x, 1-y-h, w, h
	switch p.turn {
	case 90:
		left, bottom, wide, high = y, x, h, w
	case 180:
		left, bottom = 1-x-w, y
	case 270:
		left, bottom, wide, high = 1-y-h, 1-x-w, h, w
	}
	box.LL.X, box.LL.Y = p.box.LL.X+left*p.box.Width(), p.box.LL.Y+bottom*p.box.Height()
	box.UR.X, box.UR.Y = box.LL.X+wide*p.box.Width(), box.LL.Y+high*p.box.Height()
	part.box, part.widthMM, part.heightMM = &box, p.widthMM*w, p.heightMM*h
	return &part, nil
}

// pdfcpu otherwise writes a configuration folder into the user's home.
var disableConfig = sync.OnceFunc(api.DisableConfigDir)

// OpenPage reads page number (from 1) of a PDF. It refuses pages that cannot be embedded just as they print: damaged ones,
// those without a size, those turned by odd angles, those with notes or form fields that print.
func OpenPage(data []byte, number int) (p *Page, err error) {
	defer func() {
		if r := recover(); r != nil {
			p, err = nil, fmt.Errorf("printfile: page %d cannot be read: %w", number, oneLine(fmt.Errorf("%v", r)))
		}
	}()
	disableConfig()
	conf := model.NewDefaultConfiguration()
	conf.Offline = true
	ctx, err := api.ReadContext(bytes.NewReader(data), conf)
	if err == nil {
		err = ctx.EnsurePageCount()
	}
	if err != nil {
		return nil, fmt.Errorf("printfile: reading the PDF: %w", oneLine(err))
	}
	if number < 1 || number > ctx.PageCount {
		return nil, fmt.Errorf("printfile: no page %d: there are %d", number, ctx.PageCount)
	}
	p = &Page{ctx: ctx}
	if err := p.read(number); err != nil {
		return nil, fmt.Errorf("printfile: page %d: %w", number, oneLine(err))
	}
	return p, nil
}

// oneLine replaces what pdfcpu quotes of a damaged file without escaping it.
func oneLine(err error) error {
	text := strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, err.Error())
	if text == err.Error() {
		return err
	}
	return errors.New(text)
}

func (p *Page) read(number int) error {
	dict, _, inherited, err := p.ctx.PageDict(number, false)
	if err != nil {
		return err
	}
	if err := p.measure(dict, inherited); err != nil {
		return err
	}
	if err := p.refuseAnnotations(dict["Annots"]); err != nil {
		return err
	}
	p.resources = inherited.Resources
	if p.group, err = p.ctx.DereferenceDict(dict["Group"]); err != nil {
		return err
	}
	p.content, err = p.readContent(dict["Contents"])
	return err
}

func (p *Page) measure(dict types.Dict, inherited *model.InheritedPageAttrs) error {
	if inherited.MediaBox == nil {
		return errors.New("it does not say how large it is")
	}
	p.box = normalised(inherited.MediaBox)
	if inherited.CropBox != nil {
		p.box = intersection(p.box, normalised(inherited.CropBox))
	}
	if w, h := p.box.Width(), p.box.Height(); !(w > 0 && h > 0 && !math.IsInf(w, 0) && !math.IsInf(h, 0)) {
		return fmt.Errorf("a size of %g x %g points makes no sense", w, h)
	}
	if inherited.Rotate%90 != 0 {
		return fmt.Errorf("it asks to be turned by %d degrees, which is not a quarter turn", inherited.Rotate)
	}
	p.turn = (inherited.Rotate%360 + 360) % 360
	unit := 1.0
	if object, ok := dict.Find("UserUnit"); ok {
		var err error
		if unit, err = p.ctx.DereferenceNumber(object); err != nil || !(unit > 0) || math.IsInf(unit, 0) {
			return errors.New("its unit of length makes no sense")
		}
	}
	p.widthMM, p.heightMM = p.box.Width()*unit/pdfobject.PointsPerMM, p.box.Height()*unit/pdfobject.PointsPerMM
	if p.turn%180 != 0 {
		p.widthMM, p.heightMM = p.heightMM, p.widthMM
	}
	return nil
}

// normalised has its first corner bottom left: any two opposite corners will do in a file (ISO 32000-1, 7.9.5, from memory).
func normalised(r *types.Rectangle) *types.Rectangle {
	return types.NewRectangle(min(r.LL.X, r.UR.X), min(r.LL.Y, r.UR.Y), max(r.LL.X, r.UR.X), max(r.LL.Y, r.UR.Y))
}

func intersection(a, b *types.Rectangle) *types.Rectangle {
	return types.NewRectangle(max(a.LL.X, b.LL.X), max(a.LL.Y, b.LL.Y), min(a.UR.X, b.UR.X), min(a.UR.Y, b.UR.Y))
}

// refuseAnnotations fails if something besides the page's content would print.
func (p *Page) refuseAnnotations(object types.Object) error {
	list, err := p.ctx.DereferenceArray(object)
	if err != nil {
		return err
	}
	for _, o := range list {
		annotation, err := p.ctx.DereferenceDict(o)
		if err != nil {
			return err
		}
		flags, err := p.ctx.DereferenceInteger(annotation["F"])
		if err != nil {
			return err
		}
		if flags != nil && flags.Value()&annotationPrint != 0 && flags.Value()&annotationHidden == 0 && annotation["AP"] != nil {
			return errors.New("it has notes or form fields that print: flatten it, or have it drawn as pixels")
		}
	}
	return nil
}

// readContent joins the streams of a page with white space, as ISO 32000-1, Table 30, has readers do.
func (p *Page) readContent(object types.Object) ([]byte, error) {
	object, err := p.ctx.Dereference(object)
	if err != nil {
		return nil, err
	}
	parts, ok := object.(types.Array)
	if !ok && object != nil {
		parts = types.Array{object}
	}
	var content []byte
	for _, part := range parts {
		stream, _, err := p.ctx.DereferenceStreamDict(part)
		if err != nil {
			return nil, err
		}
		if stream == nil {
			continue
		}
		if err := stream.DecodeWithLimit(mostContentBytes - int64(len(content))); err != nil {
			return nil, fmt.Errorf("its content is damaged: %w", err)
		}
		content = append(append(content, stream.Content...), '\n')
	}
	return content, nil
}

// drawPage embeds a page as a form of its own in a form of w x h points, and reports whether it may paint anything half
// transparent.
func (d *document) drawPage(f *form, p *Page, w, h float64) (translucent bool, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("its page cannot be copied: %v", r)
		}
		if err != nil {
			err = oneLine(err)
		}
	}()
	c := &copier{document: d, from: p.ctx, refs: map[int]types.IndirectRef{}}
	dict := formDict(types.Array{types.Float(p.box.LL.X), types.Float(p.box.LL.Y), types.Float(p.box.UR.X), types.Float(p.box.UR.Y)})
	dict["Matrix"] = p.matrix(w, h)
	if p.group != nil {
		group, err := c.dict(p.group)
		if err != nil {
			return false, err
		}
		// A page's own group is isolated whatever it says (ISO 32000-1, 11.4.7).
		group["Type"], group["S"], group["I"] = types.Name("Group"), types.Name("Transparency"), types.Boolean(true)
		dict["Group"] = group
	}
	if dict["Resources"], err = c.dict(p.resources); err != nil {
		return false, err
	}
	f.pictures["P"] = d.AddFlate(dict, string(p.content))
	f.content.WriteString("/P Do\n")
	err = c.copyRest()
	return c.translucent, err
}

// matrix takes the page's own units to a box of w x h points, turned as the page asks.
func (p *Page) matrix(w, h float64) types.Array {
	bw, bh := p.box.Width(), p.box.Height()
	var m [4]float64 // a b c d without scale
	var e, f float64 // where the box's corner goes, in widths and heights of the result
	switch p.turn {
	case 0:
		m = [4]float64{w / bw, 0, 0, h / bh}
	case 90:
		m, f = [4]float64{0, -h / bw, w / bh, 0}, h
	case 180:
		m, e, f = [4]float64{-w / bw, 0, 0, -h / bh}, w, h
	case 270:
		m, e = [4]float64{0, h / bw, -w / bh, 0}, w
	}
	e -= m[0]*p.box.LL.X + m[2]*p.box.LL.Y
	f -= m[1]*p.box.LL.X + m[3]*p.box.LL.Y
	out := types.Array{}
	for _, v := range []float64{m[0], m[1], m[2], m[3], e, f} {
		out = append(out, types.Float(v))
	}
	return out
}
