package printfile

import (
	"bytes"
	"image"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"peelcheck/preflight/internal/pdfobject"
	"peelcheck/raster/pdftest"
)

// onePage is a PDF of one page with the given page keys (boxes, Resources) and content; extra objects start at 5.
func onePage(keys, content string, extra ...string) []byte {
	return pdftest.File(append([]string{
		"<< /Type /Catalog /Pages 2 0 R >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + keys + " >>",
		pdftest.Stream("", content),
	}, extra...)...)
}

func openPage(t testing.TB, pdf []byte) *Page {
	t.Helper()
	p, err := OpenPage(pdf, 1)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// embedded puts a page on a sheet of its own size.
func embedded(t testing.TB, p *Page, white *Pixels) []byte {
	t.Helper()
	w, h := p.Size()
	return written(t, &File{SheetWidthMM: w, SheetHeightMM: h, Artworks: []Artwork{{Name: "page", WidthMM: w, HeightMM: h, Page: p, White: white}}, Sheets: [][]Placement{{{}}}})
}

// asymmetric is a page of 100 x 50 units whose four corners differ: a bar at the bottom, a square at the top right.
const asymmetric = "0.2 0.4 0.6 rg 5 10 100 10 re f 1 0 0 rg 85 40 20 20 re f"

// TestPageAsItWas draws pages before and after embedding. The boxes, units and turns are those of ISO 32000-1, Table 30; that the page
// drawn from the original obeys them is tested in raster/pdfpage.
func TestPageAsItWas(t *testing.T) {
	gstate := "/Resources << /ExtGState << /G << /ca 0.5 /BM /Multiply >> >> >>"
	tests := []struct {
		name string
		pdf  []byte
		w, h float64 // points
	}{
		{"plain", onePage("/MediaBox [5 10 105 60]", asymmetric), 100, 50},
		{"corners swapped", onePage("/MediaBox [105 60 5 10]", asymmetric), 100, 50},
		{"turned 90", onePage("/MediaBox [5 10 105 60] /Rotate 90", asymmetric), 50, 100},
		{"turned 180", onePage("/MediaBox [5 10 105 60] /Rotate 180", asymmetric), 100, 50},
		{"turned 270", onePage("/MediaBox [5 10 105 60] /Rotate -90", asymmetric), 50, 100},
		{"cropped", onePage("/MediaBox [5 10 105 60] /CropBox [15 15 300 45]", asymmetric), 90, 30},
		{"cropped and turned", onePage("/MediaBox [5 10 105 60] /CropBox [15 15 300 45] /Rotate 90", asymmetric), 30, 90},
		{"unit", onePage("/MediaBox [5 10 105 60] /UserUnit 2", asymmetric), 200, 100},
		{"content in parts", pdftest.File("<< /Type /Catalog /Pages 2 0 R >>", "<< /Type /Pages /Kids [3 0 R] /Count 1 /MediaBox [5 10 105 60] >>",
			"<< /Type /Page /Parent 2 0 R /Contents [4 0 R 5 0 R] >>", pdftest.Stream("", "1 0 0 rg 5 10 50"), pdftest.Stream("", "20 re f")), 100, 50},
		{"transparency", onePage("/MediaBox [5 10 105 60] /Group << /S /Transparency /CS /DeviceRGB >> "+gstate, "/G gs "+asymmetric+" 0 1 0 rg 80 5 10 50 re f"), 100, 50},
		{"hidden layer", pdftest.File("<< /Type /Catalog /Pages 2 0 R /OCProperties << /OCGs [5 0 R 6 0 R] /D << /OFF [5 0 R] >> >> >>",
			"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
			"<< /Type /Page /Parent 2 0 R /Contents 4 0 R /MediaBox [5 10 105 60] /Resources << /Properties << /A 5 0 R /B 6 0 R >> >> >>",
			pdftest.Stream("", "/OC /A BDC 1 0 0 rg 10 20 50 30 re f EMC /OC /B BDC 0 0 1 rg 50 20 50 30 re f EMC"),
			"<< /Type /OCG /Name (hidden) >>", "<< /Type /OCG /Name (shown) >>"), 100, 50},
		{"empty", onePage("/MediaBox [5 10 105 60]", ""), 100, 50},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := openPage(t, tt.pdf)
			if w, h := p.Size(); math.Abs(w*pdfobject.PointsPerMM-tt.w) > 1e-9 || math.Abs(h*pdfobject.PointsPerMM-tt.h) > 1e-9 {
				t.Fatalf("%g x %g points, want %g x %g", w*pdfobject.PointsPerMM, h*pdfobject.PointsPerMM, tt.w, tt.h)
			}
			out := embedded(t, p, nil)
			checkSyntax(t, out)
			if share := differing(page(t, tt.pdf, 1, 288).Pix, page(t, out, 1, 288).Pix); share > 0 {
				t.Errorf("%.2g of the pixels differ", share)
			}
		})
	}
}

// differing is the share of pixels that differ by more than two levels in any channel, all of them if the sizes do.
func differing(a, b *image.NRGBA) float64 {
	if a.Rect != b.Rect {
		return 1
	}
	n := 0
	for i := 0; i < len(a.Pix); i += 4 {
		for c := range 4 {
			// Colour counts as far as it is painted.
			x, y := int(a.Pix[i+c]), int(b.Pix[i+c])
			if c < 3 {
				x, y = x*int(a.Pix[i+3])/255, y*int(b.Pix[i+3])/255
			}
			if x-y > 2 || y-x > 2 {
				n++
				break
			}
		}
	}
	return float64(n) / float64(len(a.Pix)/4)
}

// TestPdfcpuPages embeds the first pages of real files of many makers, those of pdfcpu's own tests, and compares them as drawn. All
// that cannot be embedded must say so in one line.
func TestPdfcpuPages(t *testing.T) {
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/pdfcpu/pdfcpu").Output()
	if err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob(filepath.Join(strings.TrimSpace(string(dir)), "pkg", "testdata", "*.pdf"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no test files of pdfcpu found: %v", err)
	}
	same := 0
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := OpenPage(data, 1)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "printfile: ") || strings.Contains(err.Error(), "\n") {
				t.Errorf("%s: refused by %q", filepath.Base(name), err)
			}
			t.Logf("%s: refused: %v", filepath.Base(name), err)
			continue
		}
		w, h := p.Size()
		var out bytes.Buffer
		err = Write(&out, &File{SheetWidthMM: w, SheetHeightMM: h, Sheets: [][]Placement{{{}}}, Artworks: []Artwork{{WidthMM: w, HeightMM: h, Page: p}}})
		if err != nil {
			t.Logf("%s: refused: %v", filepath.Base(name), err)
			continue
		}
		checkSyntax(t, out.Bytes())
		if share := differing(page(t, data, 1, 50).Pix, page(t, out.Bytes(), 1, 50).Pix); share > 0.001 {
			t.Errorf("%s: %.2g of the pixels differ", filepath.Base(name), share)
		} else {
			same++
		}
	}
	t.Logf("%d of %d are the same", same, len(names))
	if same < 40 {
		t.Errorf("only %d of %d files could be embedded", same, len(names))
	}
}

// TestPageScaled: twice as wide, the square of 20 points at the top right is 40 points large.
func TestPageScaled(t *testing.T) {
	p := openPage(t, onePage("/MediaBox [5 10 105 60]", "85 40 20 20 re f"))
	w, h := p.Size()
	pdf := written(t, &File{SheetWidthMM: 2 * w, SheetHeightMM: 2 * h, Sheets: [][]Placement{{{}}}, Artworks: []Artwork{{WidthMM: 2 * w, HeightMM: 2 * h, Page: p}}})
	if got, want := inked(page(t, pdf, 1, 720).Pix), image.Rect(1600, 0, 2000, 400); got != want {
		t.Errorf("box %v, want %v", got, want)
	}
}

// TestPageStaysVector: what a page draws with is written as operators, its own black as black ink alone.
func TestPageStaysVector(t *testing.T) {
	out := embedded(t, openPage(t, onePage("/MediaBox [0 0 64 64]", "0 0 0 1 k 8 8 48 48 re f")), nil)
	if bytes.Contains(out, []byte("/Image")) {
		t.Error("the page was turned into pixels")
	}
	p := separated(t, out)[0]
	p.holds(t, "Black", 0, func(x, y int) byte {
		if min(x, y) >= 8 && max(x, y) < 56 {
			return 255
		}
		return 0
	})
	p.holds(t, "Cyan", 0, flat(0))
}

// TestWhiteWithPage: white over an embedded page leaves the page's planes and the white alone, opaque objects
// and half transparent ones.
func TestWhiteWithPage(t *testing.T) {
	white := ramp(64, 64)
	for _, content := range []string{"1 0 0 0 k 0 0 64 64 re f 0 1 0 0 k 0 0 64 32 re f", "/G gs 1 0 0 0 k 0 0 64 64 re f 0 1 0 0 k 0 0 64 32 re f"} {
		p := openPage(t, onePage("/MediaBox [0 0 64 64] /Resources << /ExtGState << /G << /ca 0.5 >> >> >>", content))
		plain := separated(t, embedded(t, p, nil))[0]
		out := embedded(t, p, &white)
		checkSyntax(t, out)
		got := separated(t, out)[0]
		got.holds(t, "White", 1, at(t, white))
		for _, colorant := range []string{"Cyan", "Magenta", "Yellow", "Black"} {
			got.holds(t, colorant, 1, func(x, y int) byte { return plain[colorant].GrayAt(x, y).Y })
		}
	}
}

func TestPageRefusals(t *testing.T) {
	const box = "/MediaBox [0 0 9 9] "
	cyclic := "<< /Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /XObject << /X 5 0 R >> >> "
	tests := []struct {
		want string
		pdf  []byte
	}{
		{"reading the PDF: ", []byte("no PDF at all")},
		{"page 1: it does not say how large it is", onePage("", "")},
		{"makes no sense", onePage("/MediaBox [0 0 0 9]", "")},
		{"makes no sense", onePage("/MediaBox [0 0 9 9] /CropBox [20 20 30 30]", "")},
		{"turned by 45 degrees", onePage(box+"/Rotate 45", "")},
		{"unit of length makes no sense", onePage(box+"/UserUnit -1", "")},
		{"notes or form fields that print", onePage(box+"/Annots [5 0 R]", "", "<< /Type /Annot /Subtype /Stamp /Rect [0 0 9 9] /F 4 /AP << /N 6 0 R >> >>", pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9]", "0 0 9 9 re f"))},
		{"PostScript", onePage(box+"/Resources << /XObject << /X 5 0 R >> >>", "/X Do", pdftest.Stream("/Type /XObject /Subtype /PS", "showpage"))},
		{"lies in another file", onePage(box+"/Resources << /XObject << /X 5 0 R >> >>", "/X Do", pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /F (secret.txt)", ""))},
		{"", onePage(box+"/Resources << /XObject << /X 5 0 R >> >>", "/X Do", pdftest.Stream(cyclic[3:], "/X Do"))},
		{"", onePage(box+"/Annots [5 0 R]", "", "<< /Type /Annot /Subtype /Link /Rect [0 0 9 9] >>")},
	}
	for _, tt := range tests {
		p, err := OpenPage(tt.pdf, 1)
		if err == nil {
			err = Write(io.Discard, &File{SheetWidthMM: 10, SheetHeightMM: 10, Sheets: [][]Placement{{{}}}, Artworks: []Artwork{{WidthMM: 9 / pdfobject.PointsPerMM, HeightMM: 9 / pdfobject.PointsPerMM, Page: p}}})
		}
		switch {
		case tt.want == "" && err != nil:
			t.Errorf("refused: %v", err)
		case tt.want != "" && (err == nil || !strings.HasPrefix(err.Error(), "printfile: ") || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n")):
			t.Errorf("%v, want it to say %q", err, tt.want)
		}
	}
	if _, err := OpenPage(onePage(box, ""), 2); err == nil || !strings.Contains(err.Error(), "no page 2: there are 1") {
		t.Errorf("page 2 of 1: %v", err)
	}
}

// TestPageLeavesOut: what leads out of a page is not copied with it.
func TestPageLeavesOut(t *testing.T) {
	form := "/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Metadata 6 0 R /PieceInfo 6 0 R /StructParents 1 /P 3 0 R"
	out := embedded(t, openPage(t, onePage("/MediaBox [0 0 9 9] /AA << /O << /S /JavaScript /JS (app.alert) >> >> /Resources << /XObject << /X 5 0 R >> >>", "/X Do",
		pdftest.Stream(form, "0 0 9 9 re f"), "<< /Secret (a path) >>")), nil)
	for _, word := range []string{"JavaScript", "alert", "PieceInfo", "Metadata", "Secret", "StructParents"} {
		if bytes.Contains(out, []byte(word)) {
			t.Errorf("%s was copied", word)
		}
	}
	if n := bytes.Count(out, []byte("/Type/Page/")) + bytes.Count(out, []byte("/Type/Page>")); n != 1 {
		t.Errorf("%d pages written, want 1", n)
	}
}

// FuzzOpenPage: a page is refused in one line, or what is written can be read again and has the same size.
func FuzzOpenPage(f *testing.F) {
	seeds := [][]byte{
		onePage("/MediaBox [5 10 105 60] /Rotate 90 /UserUnit 2", asymmetric),
		onePage("/MediaBox [0 0 9 9] /Group << /S /Transparency >> /Resources << /XObject << /X 5 0 R >> /ExtGState << /G << /SMask << /G 5 0 R >> >> >> >>", "/G gs /X Do",
			pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /XObject << /X 5 0 R >> >>", "/X Do")),
		onePage("/MediaBox [0 0 9 9] /CropBox [1 1 8 8] /Annots [5 0 R]", "", "<< /Type /Annot /F 2 /P 3 0 R >>"),
	}
	for _, s := range seeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := OpenPage(data, 1)
		if err == nil {
			w, h := p.Size()
			var out bytes.Buffer
			err = Write(&out, &File{SheetWidthMM: w, SheetHeightMM: h, Sheets: [][]Placement{{{}}}, Artworks: []Artwork{{WidthMM: w, HeightMM: h, Page: p}}})
			if err == nil {
				again := openPage(t, out.Bytes())
				if w2, h2 := again.Size(); math.Abs(w-w2) > 1e-3*w || math.Abs(h-h2) > 1e-3*h {
					t.Fatalf("%g x %g mm became %g x %g", w, h, w2, h2)
				}
			}
		}
		if err != nil && (!strings.HasPrefix(err.Error(), "printfile: ") || strings.ContainsAny(err.Error(), "\n\r")) {
			t.Fatalf("refused by %q", err)
		}
	})
}
