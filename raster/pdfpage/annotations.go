package pdfpage

import (
	"github.com/klippa-app/go-pdfium/enums"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
)

// keepPrintingAnnotations takes annotations off the loaded page that are not printed and reports whether form fields
// are left. PDFium judges by the kind of device, not by FPDF_PRINTING, and for a bitmap would draw the annotations meant
// for the screen (flags: ISO 32000-1 Table 165).
func (s *session) keepPrintingAnnotations(page requests.Page) (fields bool, err error) {
	count, err := s.FPDFPage_GetAnnotCount(&requests.FPDFPage_GetAnnotCount{Page: page})
	if err != nil {
		return false, err
	}
	for i := count.Count - 1; i >= 0; i-- {
		annot, err := s.FPDFPage_GetAnnot(&requests.FPDFPage_GetAnnot{Page: page, Index: i})
		if err != nil {
			continue // not a dictionary: PDFium draws nothing for it
		}
		prints, field, err := s.showIfPrinted(annot.Annotation)
		if err != nil {
			return false, err
		}
		if prints {
			fields = fields || field
			continue
		}
		if _, err := s.FPDFPage_RemoveAnnot(&requests.FPDFPage_RemoveAnnot{Page: page, Index: i}); err != nil {
			return false, err
		}
	}
	return fields, nil
}

// showIfPrinted reports whether an annotation prints and whether it is a form field, makes one that prints visible on
// screen too, and lets go of it.
func (s *session) showIfPrinted(annot references.FPDF_ANNOTATION) (prints, field bool, err error) {
	defer s.FPDFPage_CloseAnnot(&requests.FPDFPage_CloseAnnot{Annotation: annot})
	kind, err := s.FPDFAnnot_GetSubtype(&requests.FPDFAnnot_GetSubtype{Annotation: annot})
	if err != nil {
		return false, false, err
	}
	field = kind.Subtype == enums.FPDF_ANNOT_SUBTYPE_WIDGET
	got, err := s.FPDFAnnot_GetFlags(&requests.FPDFAnnot_GetFlags{Annotation: annot})
	if err != nil || got.Flags&enums.FPDF_ANNOT_FLAG_PRINT == 0 || got.Flags&enums.FPDF_ANNOT_FLAG_HIDDEN != 0 {
		return false, field, err
	}
	shown := got.Flags &^ enums.FPDF_ANNOT_FLAG_NOVIEW
	_, err = s.FPDFAnnot_SetFlags(&requests.FPDFAnnot_SetFlags{Annotation: annot, Flags: shown})
	return true, field, err
}
