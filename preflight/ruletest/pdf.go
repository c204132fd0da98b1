package ruletest

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"peelcheck/raster"
	"peelcheck/raster/pdfpage"
)

// drawPDF draws a page of a pdf section and takes its facts. Its parts stand between lines of a single "=": keys of the page, and on lines
// that begin with "catalog " keys of the catalog; the page's content; then objects from number 5 on, a stream as "stream KEYS" above its data.
func drawPDF(text string, ppi float64) (*raster.Picture, error) {
	parts := strings.Split(text, "\n=\n")
	if len(parts) < 2 {
		return nil, fmt.Errorf("the pdf section has no line of = after the keys of the page")
	}
	keys, catalog := "", ""
	for line := range strings.Lines(parts[0]) {
		if rest, ok := strings.CutPrefix(line, "catalog "); ok {
			catalog += rest
		} else {
			keys += line
		}
	}
	objects := []string{
		"<< /Type /Catalog /Pages 2 0 R " + catalog + ">>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + keys + ">>",
		pdfStream("", parts[1]),
	}
	for _, part := range parts[2:] {
		if rest, ok := strings.CutPrefix(part, "stream"); ok {
			dict, data, _ := strings.Cut(rest, "\n")
			part = pdfStream(dict, data)
		}
		objects = append(objects, part)
	}
	cache, err := os.UserCacheDir() // compiling the renderer anew takes seconds
	if err != nil {
		return nil, err
	}
	doc, err := pdfpage.Open(pdfFile(objects), pdfpage.Options{CacheDir: filepath.Join(cache, "peelcheck")})
	if err != nil {
		return nil, err
	}
	defer doc.Close()
	pic, err := doc.Page(1, ppi)
	if err != nil {
		return nil, err
	}
	if pic.Facts, err = doc.Facts(1); err == nil && pic.Facts == nil {
		err = fmt.Errorf("the pdf section gives no file whose objects can be read")
	}
	return pic, err
}

func pdfStream(dict, data string) string {
	return fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(data), data)
}

// pdfFile writes objects 1, 2, ... with the table that says where they lie (ISO 32000-1, 7.5).
func pdfFile(objects []string) []byte {
	var out bytes.Buffer
	out.WriteString("%PDF-1.7\n")
	offsets := make([]int, len(objects))
	for i, body := range objects {
		offsets[i] = out.Len()
		fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", i+1, body)
	}
	at := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(objects)+1)
	for _, offset := range offsets {
		fmt.Fprintf(&out, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(objects)+1, at)
	return out.Bytes()
}
