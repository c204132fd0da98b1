package pdfpage

import "peelcheck/raster/pdftest"

// onePage is a PDF of one page with the given page keys (boxes, Resources) and content; extra objects start at 5.
func onePage(keys, content string, extra ...string) []byte {
	return onePageUnder("", keys, content, extra...)
}

// onePageUnder also puts keys on the Pages node, from where they are inherited.
func onePageUnder(pagesKeys, keys, content string, extra ...string) []byte {
	return pdftest.File(append([]string{
		"<< /Type /Catalog /Pages 2 0 R >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 " + pagesKeys + " >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + keys + " >>",
		pdftest.Stream("", content),
	}, extra...)...)
}
