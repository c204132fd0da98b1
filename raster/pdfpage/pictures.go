package pdfpage

import (
	"math"

	"github.com/klippa-app/go-pdfium/enums"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
)

const (
	leastPicturePPI = 36   // below it a picture is a coloured area rather than something to measure
	pictureSpread   = 5e-3 // by which the resolutions of pictures of one page may differ
	mostPictures    = 10_000
)

// PicturePPI returns the resolution, in pixels per inch of the page, of the pictures on page n if it holds nothing else and they all agree,
// from 36 to DefaultPPI; otherwise 0. Drawn at it, a page shows the pictures' own pixels, not what a renderer makes between them.
func (d *Document) PicturePPI(n int) (float64, error) {
	in, _, err := d.pageInches(n)
	if err != nil {
		return 0, err
	}
	var ppi float64
	err = d.session(n, alone, func(s *session) error {
		page, err := s.loadPage(n)
		if err != nil {
			return err
		}
		count, err := s.FPDFPage_CountObjects(&requests.FPDFPage_CountObjects{Page: page})
		if err != nil {
			return err
		}
		p := &pictures{session: s, only: true}
		perInch := d.sizes[n].w / in.w
		for i := 0; i < count.Count && p.only; i++ {
			got, err := s.FPDFPage_GetObject(&requests.FPDFPage_GetObject{Page: page, Index: i})
			if err != nil {
				return err
			}
			if err := p.object(got.PageObject, scale{a: 1 / perInch, d: 1 / perInch}); err != nil {
				return err
			}
		}
		if p.only {
			ppi = p.ppi
		}
		return nil
	})
	return ppi, err
}

// pictures looks at the objects of a page as long as they are pictures of one resolution.
type pictures struct {
	*session
	only bool
	seen int
	ppi  float64
}

// object looks at a page object; m turns the lengths of what it lies in into inches.
func (p *pictures) object(o references.FPDF_PAGEOBJECT, m scale) error {
	p.seen++
	kind, err := p.FPDFPageObj_GetType(&requests.FPDFPageObj_GetType{PageObject: o})
	if err != nil {
		return err
	}
	shows := kind.Type == enums.FPDF_PAGEOBJ_IMAGE || kind.Type == enums.FPDF_PAGEOBJ_FORM
	if p.seen > mostPictures || !shows { // a shading has no matrix to ask for
		p.only = false
		return nil
	}
	own, err := p.FPDFPageObj_GetMatrix(&requests.FPDFPageObj_GetMatrix{PageObject: o})
	if err != nil {
		return err
	}
	inner := m.times(own.Matrix)
	if kind.Type == enums.FPDF_PAGEOBJ_FORM {
		return p.form(o, inner)
	}
	return p.image(o, inner)
}

func (p *pictures) form(form references.FPDF_PAGEOBJECT, m scale) error {
	count, err := p.FPDFFormObj_CountObjects(&requests.FPDFFormObj_CountObjects{PageObject: form})
	if err != nil {
		return err
	}
	for i := 0; i < count.Count && p.only; i++ {
		got, err := p.FPDFFormObj_GetObject(&requests.FPDFFormObj_GetObject{PageObject: form, Index: uint64(i)})
		if err != nil {
			return err
		}
		if err := p.object(got.PageObject, m); err != nil {
			return err
		}
	}
	return nil
}

// image takes note of a picture's resolution; m turns the unit square into inches.
func (p *pictures) image(image references.FPDF_PAGEOBJECT, m scale) error {
	px, err := p.FPDFImageObj_GetImagePixelSize(&requests.FPDFImageObj_GetImagePixelSize{ImageObject: image})
	if err != nil {
		return err
	}
	across, down := float64(px.Width)/math.Hypot(m.a, m.b), float64(px.Height)/math.Hypot(m.c, m.d)
	if p.ppi == 0 {
		p.ppi = across
	}
	alike := func(ppi float64) bool { return math.Abs(ppi-p.ppi) <= pictureSpread*p.ppi }
	p.only = across >= leastPicturePPI && across <= DefaultPPI*(1+pictureSpread) && alike(across) && alike(down)
	p.ppi = min(p.ppi, DefaultPPI)
	return nil
}
