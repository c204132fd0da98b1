package pdfpage

import (
	"bytes"
	"fmt"
)

// buildPDF writes a PDF file from the bodies of objects 1, 2, ...; object 1 is the catalog.
func buildPDF(objects ...string) []byte {
	var out bytes.Buffer
	out.WriteString("%PDF-1.7\n")
	offsets := make([]int, len(objects))
	for i, body := range objects {
		offsets[i] = out.Len()
		fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", i+1, body)
	}
	xref := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(objects)+1)
	for _, offset := range offsets {
		fmt.Fprintf(&out, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(objects)+1, xref)
	return out.Bytes()
}

func stream(dict, content string) string {
	return fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(content), content)
}

// onePage is a PDF of one page with the given page keys (boxes, Resources) and content; extra objects start at 5.
func onePage(keys, content string, extra ...string) []byte {
	return onePageUnder("", keys, content, extra...)
}

// onePageUnder also puts keys on the Pages node, from where they are inherited.
func onePageUnder(pagesKeys, keys, content string, extra ...string) []byte {
	return buildPDF(append([]string{
		"<< /Type /Catalog /Pages 2 0 R >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 " + pagesKeys + " >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + keys + " >>",
		stream("", content),
	}, extra...)...)
}
