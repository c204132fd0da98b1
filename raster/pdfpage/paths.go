package pdfpage

import (
	"cmp"
	"math"
	"slices"

	"github.com/klippa-app/go-pdfium/enums"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
	"github.com/klippa-app/go-pdfium/responses"
	"github.com/klippa-app/go-pdfium/structs"
)

// PDFium draws two kinds of paths otherwise than they are, for the sake of looks on a screen:
//   - a stroke narrower than a pixel is made a pixel wide;
//   - a filled upright rectangle that is a path of its own is moved to whole pixels, which changes its width by up to one.
//
// Both are put right on the loaded page, before it is drawn. TestStrokes and TestRectangles hold the widths to the content stream.

const (
	// leastStrokePx is the width of strokes that are narrower still, but not 0: printers draw none thinner than their own dot, so
	// such a stroke must not fade away.
	leastStrokePx = 0.5
	// patternGrey is the colour that PDFium gives for a stroke painted with a pattern.
	patternGrey = 191
	// insetPx is more than the numbers of PDFium are rounded by and less than shows.
	insetPx = 0.01
	// mostRectanglePoints is up to how many points PDFium takes a path for a rectangle.
	mostRectanglePoints = 5
	// rectangleShare of the page's area is how much rectangles may cover, the smallest first, and be drawn true, which takes several
	// times as long: a third more for A4 with 10,000 of them, measured. Rectangles beyond that are panels and backgrounds.
	rectangleShare = 0.5
	// mostObjects bounds how many objects of a page are looked at, forms within forms included, to about a second; a page that has
	// more is drawn as PDFium draws it from there on.
	mostObjects = 200_000
)

// truth makes the paths of a page be drawn as wide as they are.
type truth struct {
	*session
	rectangles []rectangle
	seen       int // objects
}

// rectangle is a filled path that may be one, with its area in pixels, its box in what it lies in and how long a pixel is there.
type rectangle struct {
	path   references.FPDF_PAGEOBJECT
	areaPx float64
	box    *responses.FPDFPageObj_GetBounds
	pixel  float64
}

// scale is the linear part of a transformation: (x, y) becomes (a x + c y, b x + d y).
type scale struct{ a, b, c, d float64 }

// times is m applied first, then s.
func (s scale) times(m structs.FPDF_FS_MATRIX) scale {
	a, b, c, d := float64(m.A), float64(m.B), float64(m.C), float64(m.D)
	return scale{s.a*a + s.c*b, s.b*a + s.d*b, s.a*c + s.c*d, s.b*c + s.d*d}
}

// drawTrue prepares a loaded page that will be drawn with so many pixels, perUnit of them a unit of the page.
func (s *session) drawTrue(page requests.Page, pixels int, perUnit float64) error {
	count, err := s.FPDFPage_CountObjects(&requests.FPDFPage_CountObjects{Page: page})
	if err != nil {
		return err
	}
	t := &truth{session: s}
	for i := 0; i < count.Count && t.seen < mostObjects; i++ {
		got, err := s.FPDFPage_GetObject(&requests.FPDFPage_GetObject{Page: page, Index: i})
		if err != nil {
			return err
		}
		if err := t.object(got.PageObject, scale{a: perUnit, d: perUnit}); err != nil {
			return err
		}
	}
	return t.keepRectangles(rectangleShare * float64(pixels))
}

// object prepares a page object; m turns the lengths of what it lies in into pixels.
func (t *truth) object(o references.FPDF_PAGEOBJECT, m scale) error {
	t.seen++
	kind, err := t.FPDFPageObj_GetType(&requests.FPDFPageObj_GetType{PageObject: o})
	if err != nil {
		return err
	}
	switch kind.Type {
	case enums.FPDF_PAGEOBJ_PATH:
		return t.path(o, m)
	case enums.FPDF_PAGEOBJ_FORM:
		return t.form(o, m)
	case enums.FPDF_PAGEOBJ_IMAGE:
		return t.image(o, m)
	}
	return nil
}

func (t *truth) form(form references.FPDF_PAGEOBJECT, m scale) error {
	own, err := t.FPDFPageObj_GetMatrix(&requests.FPDFPageObj_GetMatrix{PageObject: form})
	if err != nil {
		return err
	}
	count, err := t.FPDFFormObj_CountObjects(&requests.FPDFFormObj_CountObjects{PageObject: form})
	if err != nil {
		return err
	}
	for i := 0; i < count.Count && t.seen < mostObjects; i++ {
		got, err := t.FPDFFormObj_GetObject(&requests.FPDFFormObj_GetObject{PageObject: form, Index: uint64(i)})
		if err != nil {
			return err
		}
		if err := t.object(got.PageObject, m.times(own.Matrix)); err != nil {
			return err
		}
	}
	return nil
}

// image draws an image in by insetPx on each side, since PDFium enlarges it to whole pixels: one that lies on them already would otherwise be
// taken for larger by what its numbers are rounded, and be resampled.
func (t *truth) image(image references.FPDF_PAGEOBJECT, m scale) error {
	own, err := t.FPDFPageObj_GetMatrix(&requests.FPDFPageObj_GetMatrix{PageObject: image})
	if err != nil {
		return err
	}
	px := m.times(own.Matrix)
	w, h := math.Hypot(px.a, px.b), math.Hypot(px.c, px.d)
	if !(w > 1 && h > 1) {
		return nil
	}
	x, y := insetPx/w, insetPx/h
	in := own.Matrix
	in.E += float32(x)*in.A + float32(y)*in.C
	in.F += float32(x)*in.B + float32(y)*in.D
	in.A, in.B, in.C, in.D = in.A*float32(1-2*x), in.B*float32(1-2*x), in.C*float32(1-2*y), in.D*float32(1-2*y)
	_, err = t.FPDFPageObj_SetMatrix(&requests.FPDFPageObj_SetMatrix{PageObject: image, Transform: in})
	return err
}

func (t *truth) path(path references.FPDF_PAGEOBJECT, m scale) error {
	mode, err := t.FPDFPath_GetDrawMode(&requests.FPDFPath_GetDrawMode{PageObject: path})
	if err != nil {
		return err
	}
	filled := mode.FillMode != enums.FPDF_FILLMODE_NONE
	switch {
	case filled && !mode.Stroke:
		return t.noteRectangle(path, m)
	case mode.Stroke && !filled:
		return t.keepStroke(path, m)
	}
	return nil
}

func (t *truth) noteRectangle(path references.FPDF_PAGEOBJECT, m scale) error {
	count, err := t.FPDFPath_CountSegments(&requests.FPDFPath_CountSegments{PageObject: path})
	if err != nil || count.Count > mostRectanglePoints || count.Count == 0 {
		return err
	}
	box, err := t.FPDFPageObj_GetBounds(&requests.FPDFPageObj_GetBounds{PageObject: path})
	if err != nil {
		return err
	}
	area := float64(box.Right-box.Left) * float64(box.Top-box.Bottom) * math.Abs(m.a*m.d-m.b*m.c)
	t.rectangles = append(t.rectangles, rectangle{path, area, box, 1 / math.Sqrt(math.Abs(m.a*m.d-m.b*m.c))})
	return nil
}

// keepRectangles gives rectangles of together mostPx pixels, the smallest first, one more point that paints nothing, so that they
// are not taken for rectangles.
func (t *truth) keepRectangles(mostPx float64) error {
	slices.SortStableFunc(t.rectangles, func(a, b rectangle) int { return cmp.Compare(a.areaPx, b.areaPx) })
	for _, r := range t.rectangles {
		if mostPx -= r.areaPx; !(mostPx >= 0) {
			if err := t.drawIn(r); err != nil {
				return err
			}
			continue
		}
		first, err := t.FPDFPath_GetPathSegment(&requests.FPDFPath_GetPathSegment{PageObject: r.path})
		if err != nil {
			return err
		}
		at, err := t.FPDFPathSegment_GetPoint(&requests.FPDFPathSegment_GetPoint{PathSegment: first.PathSegment})
		if err != nil {
			return err
		}
		if _, err := t.FPDFPath_MoveTo(&requests.FPDFPath_MoveTo{PageObject: r.path, X: at.X, Y: at.Y}); err != nil {
			return err
		}
	}
	return nil
}

// drawIn draws a rectangle in by insetPx, so that one that lies on whole pixels already stays there.
func (t *truth) drawIn(r rectangle) error {
	left, bottom, right, top := float64(r.box.Left), float64(r.box.Bottom), float64(r.box.Right), float64(r.box.Top)
	inset := insetPx * r.pixel
	if !(right-left > 2*inset && top-bottom > 2*inset) {
		return nil
	}
	x, y := 1-2*inset/(right-left), 1-2*inset/(top-bottom)
	_, err := t.FPDFPageObj_TransformF(&requests.FPDFPageObj_TransformF{PageObject: r.path, Transform: structs.FPDF_FS_MATRIX{
		A: float32(x), D: float32(y), E: float32((left + right) / 2 * (1 - x)), F: float32((bottom + top) / 2 * (1 - y)),
	}})
	return err
}

// keepStroke makes a stroke that is too narrow for PDFium as wide as it would be drawn, and as much more transparent, so that it
// covers what it should. A width of 0 means the thinnest line that can be drawn (ISO 32000-1, 8.4.3.2), a pixel here, and stays.
func (t *truth) keepStroke(path references.FPDF_PAGEOBJECT, m scale) error {
	width, err := t.FPDFPageObj_GetStrokeWidth(&requests.FPDFPageObj_GetStrokeWidth{PageObject: path})
	if err != nil || width.StrokeWidth <= 0 {
		return err
	}
	own, err := t.FPDFPageObj_GetMatrix(&requests.FPDFPageObj_GetMatrix{PageObject: path})
	if err != nil {
		return err
	}
	m = m.times(own.Matrix)
	// PDFium compares with the mean of the lengths of the two units.
	px := float64(width.StrokeWidth) * (math.Hypot(m.a, m.b) + math.Hypot(m.c, m.d)) / 2
	if !(px > 0 && px < 1) {
		return nil
	}
	colour, err := t.FPDFPageObj_GetStrokeColor(&requests.FPDFPageObj_GetStrokeColor{PageObject: path})
	if err != nil {
		return nil // it has no colour of its own
	}
	c := colour.StrokeColor
	if c.R == patternGrey && c.G == patternGrey && c.B == patternGrey {
		return nil
	}
	c.A = uint(math.Round(float64(c.A) * max(px, leastStrokePx)))
	if _, err := t.FPDFPageObj_SetStrokeColor(&requests.FPDFPageObj_SetStrokeColor{PageObject: path, StrokeColor: c}); err != nil {
		return err
	}
	_, err = t.FPDFPageObj_SetStrokeWidth(&requests.FPDFPageObj_SetStrokeWidth{PageObject: path, StrokeWidth: width.StrokeWidth / float32(px)})
	return err
}
