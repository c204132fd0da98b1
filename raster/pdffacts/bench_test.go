package pdffacts_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"

	"peelcheck/raster/pdffacts"
	"peelcheck/raster/pdftest"
)

// manyPages is a document whose pages each have two hundred rows of text, three hundred strokes and a picture, packed as programs pack them.
func manyPages(b *testing.B, pages int) *model.Context {
	var content strings.Builder
	for i := range 200 {
		fmt.Fprintf(&content, "BT /F1 9 Tf 1 0 0 1 20 %d Tm [(Quillmoor lan) -20 (tern walk, row %d)] TJ ET\n", 10+i*4, i)
	}
	for i := range 300 {
		fmt.Fprintf(&content, "q 0.%d w %d 10 m %d 400 l 30 %d 40 %d 50 60 c S Q\n", 1+i%9, i, 2*i, i, i)
	}
	content.WriteString("q 100 0 0 100 50 50 cm /Im1 Do Q")
	objects := []string{"<< /Type /Catalog /Pages 2 0 R >>", "", "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
		pdftest.Stream("/Type /XObject /Subtype /Image /Width 100 /Height 200 /BitsPerComponent 8 /ColorSpace /DeviceGray", "x"), pdftest.Stream("", content.String())}
	kids := ""
	for range pages {
		objects = append(objects, "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 5 0 R /Resources << /Font << /F1 3 0 R >> /XObject << /Im1 4 0 R >> >> >>")
		kids += fmt.Sprintf("%d 0 R ", len(objects))
	}
	objects[1] = fmt.Sprintf("<< /Type /Pages /Kids [%s] /Count %d >>", kids, pages)
	api.DisableConfigDir()
	conf := model.NewDefaultConfiguration()
	conf.Offline = true
	ctx, err := api.ReadContext(bytes.NewReader(pdftest.File(objects...)), conf)
	if err == nil {
		err = ctx.EnsurePageCount()
	}
	if err != nil {
		b.Fatal(err)
	}
	return ctx
}

// BenchmarkFacts reads all pages of a document; the goal is 5 ms a page of one with 200.
func BenchmarkFacts(b *testing.B) {
	for _, pages := range []int{1, 200, 1000} {
		b.Run(fmt.Sprintf("%d pages", pages), func(b *testing.B) {
			ctx := manyPages(b, pages)
			for b.Loop() {
				doc := pdffacts.NewDocument(ctx.XRefTable, ctx.PageCount)
				for n := range pages {
					if _, err := doc.Page(n + 1); err != nil {
						b.Fatal(err)
					}
				}
			}
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N*pages), "ms/page")
		})
	}
}
