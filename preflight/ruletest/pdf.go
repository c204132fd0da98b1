package ruletest

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"peelcheck/raster"
	"peelcheck/raster/pdfpage"
	"peelcheck/raster/pdftest"
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
		pdftest.Stream("", parts[1]),
	}
	for _, part := range parts[2:] {
		if rest, ok := strings.CutPrefix(part, "stream"); ok {
			dict, data, _ := strings.Cut(rest, "\n")
			part = pdftest.Stream(dict, data)
		}
		objects = append(objects, part)
	}
	cache, err := os.UserCacheDir() // compiling the renderer anew takes seconds
	if err != nil {
		return nil, err
	}
	doc, err := pdfpage.Open(pdftest.File(objects...), pdfpage.Options{CacheDir: filepath.Join(cache, "peelcheck")})
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
