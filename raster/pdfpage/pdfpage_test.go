package pdfpage

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"

	"peelcheck/raster"
	"peelcheck/raster/pdftest"
)

const square = "/MediaBox [0 0 72 72] "

func open(t testing.TB, data []byte) *Document {
	t.Helper()
	d, err := Open(data, Options{})
	if err != nil {
		t.Fatalf("Open: %v", err)
	}
	t.Cleanup(func() { d.Close() })
	return d
}

func render(t testing.TB, data []byte, ppi float64) *raster.Picture {
	t.Helper()
	pic, err := open(t, data).Page(1, ppi)
	if err != nil {
		t.Fatalf("Page(1, %v): %v", ppi, err)
	}
	return pic
}

func wantFault(t *testing.T, err error, part string) {
	t.Helper()
	var fault *raster.Fault
	if !errors.As(err, &fault) || !errors.Is(err, raster.ErrUnreadable) {
		t.Fatalf("got %v, want a fault about %q", err, part)
	}
	if !strings.Contains(fault.Reason, part) || fault.Remedy == "" {
		t.Errorf("got reason %q, remedy %q, want a reason with %q and a remedy", fault.Reason, fault.Remedy, part)
	}
}

// A line width is in user space units of 1/72 inch (ISO 32000-1, 8.3.2.3 and Table 52), so a stroke of 1 pt is 0.3528 mm
// and covers 600/72 = 8.333 px at 600 ppi.
func TestStrokeWidth(t *testing.T) {
	tests := []struct {
		name, content string
		across        image.Point
		wantPx        float64
	}{
		{"default width", "36 0 m 36 72 l S", image.Pt(1, 0), 600.0 / 72},
		{"1 pt upright", "1 w 36.3 0 m 36.3 72 l S", image.Pt(1, 0), 600.0 / 72},
		{"1 pt level", "1 w 0 36.3 m 72 36.3 l S", image.Pt(0, 1), 600.0 / 72},
		{"0.25 pt", "0.25 w 36.3 0 m 36.3 72 l S", image.Pt(1, 0), 600.0 / 288},
		{"scaled by cm", "0.5 0 0 0.5 0 0 cm 1 w 72 0 m 72 144 l S", image.Pt(1, 0), 600.0 / 144},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			pic := render(t, onePage(square, test.content), 600)
			sum := 0.0
			for i := range 600 {
				p := test.across.Mul(i).Add(image.Pt(300, 300).Sub(test.across.Mul(300)))
				sum += float64(pic.Pix.NRGBAAt(p.X, p.Y).A) / 255
			}
			if math.Abs(sum-test.wantPx) > 0.1 {
				t.Errorf("stroke covers %.3f px, want %.3f", sum, test.wantPx)
			}
		})
	}
}

// Sizes follow ISO 32000-1 Table 30, 7.7.3.4, 7.9.5 and 14.11.2.1; A4 is ISO 216.
func TestPageSize(t *testing.T) {
	const a4 = "/MediaBox [0 0 595.2756 841.8898] "
	tests := []struct {
		name         string
		data         []byte
		wMM, hMM     float64
		wPx72, hPx72 int
		note         string
	}{
		{"A4", onePage(a4, ""), 210, 297, 595, 842, ""},
		{"UserUnit 2", onePage(a4+"/UserUnit 2", ""), 420, 594, 1191, 1684, ""},
		{"UserUnit 2 rotated", onePage(a4+"/UserUnit 2 /Rotate 90", ""), 594, 420, 1684, 1191, ""},
		{"UserUnit indirect", onePage(a4+"/UserUnit 5 0 R", "", "0.5"), 105, 148.5, 298, 421, ""},
		{"UserUnit is not inherited", onePageUnder("/UserUnit 2", a4, ""), 210, 297, 595, 842, ""},
		{"UserUnit negative", onePage(a4+"/UserUnit -2", ""), 210, 297, 595, 842, "makes no sense"},
		{"inherited boxes", onePageUnder(a4+"/CropBox [10 10 585 831]", "", ""), 575 * 25.4 / 72, 821 * 25.4 / 72, 575, 821, ""},
		{"inherited Rotate", onePageUnder("/Rotate 90", a4, ""), 297, 210, 842, 595, ""},
		{"CropBox beyond MediaBox", onePage(a4+"/CropBox [-50 -50 700 900]", ""), 210, 297, 595, 842, ""},
		{"CropBox half outside", onePage(a4+"/CropBox [295.2756 -50 700 400]", ""), 300 * 25.4 / 72, 400 * 25.4 / 72, 300, 400, ""},
		{"swapped corners", onePage("/MediaBox [300 400 100 50]", ""), 200 * 25.4 / 72, 350 * 25.4 / 72, 200, 350, ""},
		{"Rotate -90", onePage(a4+"/Rotate -90", ""), 297, 210, 842, 595, ""},
		{"Rotate 45", onePage(a4+"/Rotate 45", ""), 210, 297, 595, 842, "not a quarter turn"},
		{"letter", onePage("/MediaBox [0 0 612 792] /Rotate 90", ""), 279.4, 215.9, 792, 612, ""},
		{"MediaBox gigantic", onePage("/MediaBox [0 0 1e9 1e9]", ""), 215.9, 279.4, 612, 792, "impossible size"},
		{"MediaBox of no width", onePage("/MediaBox [0 0 0 500]", ""), 215.9, 279.4, 612, 792, "impossible size"},
		{"MediaBox of three numbers", onePage("/MediaBox [0 0 100]", ""), 215.9, 279.4, 612, 792, "assumed"},
		{"MediaBox not a number", onePage("/MediaBox [0 0 NaN NaN]", ""), 215.9, 279.4, 612, 792, "assumed"},
		{"no MediaBox", onePage("", ""), 215.9, 279.4, 612, 792, "does not say how large"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			d := open(t, test.data)
			w, h, err := d.PageSize(1)
			if err != nil || math.Abs(w-test.wMM) > 1e-3 || math.Abs(h-test.hMM) > 1e-3 {
				t.Errorf("PageSize = %.4f x %.4f mm, %v; want %.4f x %.4f", w, h, err, test.wMM, test.hMM)
			}
			pic, err := d.Page(1, 72)
			if err != nil {
				t.Fatal(err)
			}
			if got := pic.Pix.Rect.Max; got != image.Pt(test.wPx72, test.hPx72) {
				t.Errorf("at 72 ppi got %v, want %d x %d", got, test.wPx72, test.hPx72)
			}
			gotW, gotH := float64(pic.Pix.Rect.Dx())/pic.PPIX*25.4, float64(pic.Pix.Rect.Dy())/pic.PPIY*25.4
			if math.Abs(gotW-w) > 1e-9 || math.Abs(gotH-h) > 1e-9 || pic.PPIFrom != "page size" {
				t.Errorf("pixels and resolution give %.6f x %.6f mm from %q, want %.6f x %.6f from page size", gotW, gotH, pic.PPIFrom, w, h)
			}
			if notes := strings.Join(pic.Notes, "; "); (test.note == "") != (notes == "") || !strings.Contains(notes, test.note) {
				t.Errorf("notes %q, want %q", notes, test.note)
			}
		})
	}
}

// Rotate turns clockwise (ISO 32000-1 Table 30): a mark at the bottom left of the page moves to the top left.
func TestRotateTurnsClockwise(t *testing.T) {
	tests := map[string]image.Point{"0": {5, 67}, "90": {5, 5}, "180": {67, 5}, "270": {67, 67}, "-90": {67, 67}, "450": {5, 5}}
	for rotate, want := range tests {
		pic := render(t, onePage(square+"/Rotate "+rotate, "0 0 10 10 re f"), 72)
		for _, p := range []image.Point{{5, 5}, {67, 5}, {5, 67}, {67, 67}} {
			if got := pic.Pix.NRGBAAt(p.X, p.Y).A == 255; got != (p == want) {
				t.Errorf("Rotate %s: mark at %v is %v, want %v", rotate, p, got, p == want)
			}
		}
	}
}

// The cropped part is what is drawn, and UserUnit enlarges the artwork with the page.
func TestCropAndUnitMoveArtwork(t *testing.T) {
	pic := render(t, onePage("/MediaBox [0 0 100 100] /CropBox [20 30 60 80] /UserUnit 2", "20 70 10 10 re f"), 72)
	if pic.Pix.Rect.Max != image.Pt(80, 100) {
		t.Fatalf("got %v, want 80 x 100", pic.Pix.Rect.Max)
	}
	for y := range 100 {
		for x := range 80 {
			if got, want := pic.Pix.NRGBAAt(x, y).A == 255, x < 20 && y < 20; got != want {
				t.Fatalf("(%d,%d) painted %v, want %v", x, y, got, want)
			}
		}
	}
}

// Unpainted is not white: white fills are opaque, ca 0.5 gives alpha 128 (three open renderers agree within 2), and
// the colour stays what it was: pixels are not premultiplied. ca and blend modes: ISO 32000-1 11.6.4.4.
func TestAlphaAndColour(t *testing.T) {
	tests := []struct {
		name, content string
		want          color.NRGBA
		tolerance     int
	}{
		{"bare page", "", color.NRGBA{}, 0},
		{"white", "1 g 0 0 72 72 re f", color.NRGBA{255, 255, 255, 255}, 0},
		{"CMYK no ink", "0 0 0 0 k 0 0 72 72 re f", color.NRGBA{255, 255, 255, 255}, 0},
		{"black", "0 g 0 0 72 72 re f", color.NRGBA{0, 0, 0, 255}, 0},
		{"half red", "/H gs 1 0 0 rg 0 0 72 72 re f", color.NRGBA{255, 0, 0, 128}, 1},
		{"half white", "/H gs 1 g 0 0 72 72 re f", color.NRGBA{255, 255, 255, 128}, 1},
		{"faint orange", "/F gs 1 0.6 0.2 rg 0 0 72 72 re f", color.NRGBA{255, 153, 51, 26}, 1},
		{"half over half", "/H gs 1 0 0 rg 0 0 72 72 re f 0 0 72 72 re f", color.NRGBA{255, 0, 0, 191}, 2},
		{"group", "/H gs /X Do", color.NRGBA{0, 255, 0, 128}, 1},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			data := onePage(square+"/Resources << /ExtGState << /H << /ca 0.5 >> /F << /ca 0.1 >> >> /XObject << /X 5 0 R >> >>", test.content,
				pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 72 72] /Group << /S /Transparency >>", "0 1 0 rg 0 0 72 72 re f 0 0 72 72 re f"))
			pic := render(t, data, 72)
			got := pic.Pix.NRGBAAt(36, 36)
			if pic.HasAlpha != (test.want.A != 255) {
				t.Errorf("HasAlpha %v with alpha %d", pic.HasAlpha, test.want.A)
			}
			for i, pair := range [][2]uint8{{got.R, test.want.R}, {got.G, test.want.G}, {got.B, test.want.B}, {got.A, test.want.A}} {
				if math.Abs(float64(pair[0])-float64(pair[1])) > float64(test.tolerance) {
					t.Fatalf("channel %d: got %v, want %v within %d", i, got, test.want, test.tolerance)
				}
			}
		})
	}
}

// Text render modes, ISO 32000-1 Table 106: 3 and 7 paint nothing.
func TestTextRenderModes(t *testing.T) {
	ink := func(pic *raster.Picture) (n int) {
		for i := 3; i < len(pic.Pix.Pix); i += 4 {
			n += int(pic.Pix.Pix[i])
		}
		return n / 255
	}
	for mode := range 8 {
		content := fmt.Sprintf("BT /F 60 Tf %d Tr 10 10 Td (B) Tj ET", mode)
		pic := render(t, onePage(square+"/Resources << /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica-Bold >> >> >>", content), 144)
		if got, want := ink(pic) > 100, mode != 3 && mode != 7; got != want {
			t.Errorf("mode %d paints %d px, want painted %v", mode, ink(pic), want)
		}
	}
}

// Text is drawn with grey edges, never with the coloured ones meant for LCD screens.
func TestTextEdgesAreGrey(t *testing.T) {
	pic := render(t, onePage(square+"/Resources << /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >> >>",
		"1 g 0 0 72 72 re f 0 g BT /F 20 Tf 10 10 Td (Wave) Tj ET"), 72)
	grey := 0
	for i := 0; i < len(pic.Pix.Pix); i += 4 {
		p := pic.Pix.Pix[i : i+4]
		if p[0] != p[1] || p[1] != p[2] {
			t.Fatalf("pixel %d is %v, want grey", i/4, p)
		}
		if p[0] > 0 && p[0] < 255 {
			grey++
		}
	}
	if grey == 0 {
		t.Error("text has no soft edge")
	}
}

// Annotation flags, ISO 32000-1 Table 165: bit 2 Hidden, 3 Print, 6 NoView.
func TestAnnotationsThatPrint(t *testing.T) {
	for flags, want := range map[int]bool{0: false, 4: true, 4 | 2: false, 4 | 32: true, 32: false} {
		for _, subtype := range []string{"Stamp", "Widget /FT /Btn"} {
			annots := fmt.Sprintf("/Annots [<< /Type /Annot /Subtype /Stamp /Rect [50 50 60 60] /F 0 /AP << /N 5 0 R >> >> << /Type /Annot /Subtype /%s /Rect [10 10 20 20] /F %d /AP << /N 5 0 R >> >>]", subtype, flags)
			pic := render(t, onePage(square+annots, "", pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 10 10]", "1 0 0 rg 0 0 10 10 re f")), 72)
			if got := pic.Pix.NRGBAAt(15, 57).A == 255; got != want {
				t.Errorf("%s with flags %d drawn %v, want %v", subtype, flags, got, want)
			}
			if pic.Pix.NRGBAAt(55, 17).A != 0 {
				t.Errorf("%s with flags %d: the annotation without Print is drawn", subtype, flags)
			}
		}
	}
}

// Optional content, ISO 32000-1 8.11: groups in OFF are not drawn; with an AS entry the Print usage decides for print.
func TestLayers(t *testing.T) {
	tests := []struct {
		name, group, config string
		want                bool
	}{
		{"on", "", "/ON [5 0 R]", true},
		{"off", "", "/OFF [5 0 R]", false},
		{"base state off", "", "/BaseState /OFF", false},
		{"print only", "/Usage << /Print << /PrintState /ON >> /View << /ViewState /OFF >> >>", "/AS [<< /Event /Print /Category [/Print] /OCGs [5 0 R] >> << /Event /View /Category [/View] /OCGs [5 0 R] >>]", true},
		{"view only", "/Usage << /Print << /PrintState /OFF >> /View << /ViewState /ON >> >>", "/AS [<< /Event /Print /Category [/Print] /OCGs [5 0 R] >> << /Event /View /Category [/View] /OCGs [5 0 R] >>]", false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			data := pdftest.File(
				"<< /Type /Catalog /Pages 2 0 R /OCProperties << /OCGs [5 0 R] /D << "+test.config+" >> >> >>",
				"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
				"<< /Type /Page /Parent 2 0 R /Contents 4 0 R "+square+" /Resources << /Properties << /M 5 0 R >> >> >>",
				pdftest.Stream("", "/OC /M BDC 0 0 72 72 re f EMC"),
				"<< /Type /OCG /Name (Lantern) "+test.group+" >>")
			if got := render(t, data, 72).Pix.NRGBAAt(36, 36).A == 255; got != test.want {
				t.Errorf("drawn %v, want %v", got, test.want)
			}
		})
	}
}

// A page drawn in tiles equals the page drawn in one go, but for rounding in edges (at most 2 of 255 seen).
func TestTilesMatchWhole(t *testing.T) {
	data := onePage(square+"/Resources << /ExtGState << /H << /ca 0.5 >> >> /XObject << /I 5 0 R >> >>",
		"1 0 0 rg 3 3 40 50 re f 2 w 5 5 m 70 60 l S /H gs 0 0 1 rg 36 36 m 60 70 80 20 36 5 c f q 40.3 0 0 30.7 10.1 20.2 cm /I Do Q",
		pdftest.Stream("/Type /XObject /Subtype /Image /Width 3 /Height 2 /ColorSpace /DeviceGray /BitsPerComponent 8 /Filter /ASCIIHexDecode", "00408090c0ff>"))
	d := open(t, data)
	whole, err := d.Page(1, 300)
	if err != nil {
		t.Fatal(err)
	}
	got := image.NewNRGBA(whole.Pix.Rect)
	err = d.session(1, alone, func(s *session) error {
		page, err := s.loadPage(1)
		if err != nil {
			return err
		}
		if err := s.drawTrue(page, 300*300, 300.0/72); err != nil {
			return err
		}
		for _, tile := range cut(got.Rect, 77, 77*50) {
			if _, err := s.renderTile(got, tile, page, 300.0/72); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for i := range got.Pix {
		if diff := int(got.Pix[i]) - int(whole.Pix.Pix[i]); diff < -2 || diff > 2 {
			t.Fatalf("pixel (%d,%d): tiles give %v, whole gives %v", i/4%300, i/4/300, got.Pix[i/4*4:i/4*4+4], whole.Pix.Pix[i/4*4:i/4*4+4])
		}
	}
}

func TestTilesCover(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {7, 5}, {8, 8}, {9, 17}, {100, 1}, {1, 100}} {
		r := image.Rectangle{Max: size}
		area := 0
		for i, a := range cut(r, 8, 24) {
			if !a.In(r) || a.Empty() || a.Dx() > 8 || a.Dx()*a.Dy() > 24 {
				t.Errorf("%v: tile %v", size, a)
			}
			area += a.Dx() * a.Dy()
			for _, b := range cut(r, 8, 24)[:i] {
				if a.Overlaps(b) {
					t.Errorf("%v: %v overlaps %v", size, a, b)
				}
			}
		}
		if area != size.X*size.Y {
			t.Errorf("%v: tiles cover %d px, want %d", size, area, size.X*size.Y)
		}
	}
}

// A sheet longer than the 32000 px to which PDFium clips coordinates keeps its far end.
func TestLongSheet(t *testing.T) {
	pic := render(t, onePage("/MediaBox [0 0 36 7200]", "0 0 18 3 re f 18 7100 18 3 re f"), 600)
	if pic.Pix.Rect.Max != image.Pt(300, 60000) {
		t.Fatalf("got %v", pic.Pix.Rect.Max)
	}
	for _, p := range []struct {
		x, y int
		want bool
	}{{100, 59975, true}, {100, 59999, true}, {100, 59974, false}, {200, 59990, false}, {200, 815, true}, {200, 800, false}} {
		if got := pic.Pix.NRGBAAt(p.x, p.y).A == 255; got != p.want {
			t.Errorf("(%d,%d) painted %v, want %v", p.x, p.y, got, p.want)
		}
	}
}

func TestPixelLimit(t *testing.T) {
	data := onePage("/MediaBox [0 0 720 1440]", "0 0 720 720 re f") // 10 x 20 inches
	d, err := Open(data, Options{MaxPixels: 200 * 150 * 150})
	if err != nil {
		t.Fatal(err)
	}
	pic, err := d.Page(1, 600)
	if err != nil {
		t.Fatal(err)
	}
	if pic.Pix.Rect.Max != image.Pt(1500, 3000) || pic.PPIX != 150 || pic.PPIY != 150 {
		t.Errorf("got %v at %v x %v ppi, want 1500 x 3000 at 150", pic.Pix.Rect.Max, pic.PPIX, pic.PPIY)
	}
	if len(pic.Notes) != 1 || !strings.Contains(pic.Notes[0], "254 x 508 mm") || !strings.Contains(pic.Notes[0], "150") {
		t.Errorf("notes %q", pic.Notes)
	}
	tiny, err := Open(data, Options{MaxPixels: 199})
	if err != nil {
		t.Fatal(err)
	}
	_, err = tiny.Page(1, 600)
	wantFault(t, err, "too large")
}

func TestFitPPI(t *testing.T) {
	tests := []struct {
		in        inchSize
		ppi       float64
		maxPixels int64
		want      float64
		ok        bool
	}{
		{inchSize{1, 1}, 600, 360000, 600, true},
		{inchSize{1, 1}, 600, 359999, 599, true},
		{inchSize{1, 1}, 72.5, 5183, 71, true},
		{inchSize{1e12, 1e12}, 600, math.MaxInt64, 0, false},
		{inchSize{1e300, 1e300}, 600, math.MaxInt64, 0, false},
		{inchSize{1e-9, 1000}, 600, 5000, 5, true},
	}
	for _, test := range tests {
		got, ok := fitPPI(test.in, test.ppi, test.maxPixels)
		if got != test.want || ok != test.ok {
			t.Errorf("fitPPI(%v, %v, %d) = %v, %v, want %v, %v", test.in, test.ppi, test.maxPixels, got, ok, test.want, test.ok)
		}
	}
}

func TestRefused(t *testing.T) {
	good := onePage(square, "0 0 72 72 re f")
	tests := []struct {
		name string
		data []byte
		part string
	}{
		{"empty", nil, "empty"},
		{"garbage", bytes.Repeat([]byte("lantern "), 200), "not a PDF"},
		{"header only", []byte("%PDF-1.7\n"), "broken"},
		{"garbage after header", append([]byte("%PDF-1.7\n"), bytes.Repeat([]byte{0xff, 0x00, 'x'}, 3000)...), "broken"},
		{"truncated", good[:60], "broken"},
		{"PostScript", []byte("%!PS-Adobe-3.0\n"), "PostScript"},
		{"zero pages", pdftest.File("<< /Type /Catalog /Pages 2 0 R >>", "<< /Type /Pages /Kids [] /Count 0 >>"), "no pages"},
		{"password", encrypted(t, good, "moth"), "password"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			d, err := Open(test.data, Options{})
			if d != nil {
				t.Error("got a document")
			}
			wantFault(t, err, test.part)
		})
	}
}

// A file that only restricts what may be done with it opens without a password.
func TestOwnerPasswordOnly(t *testing.T) {
	pic := render(t, encrypted(t, onePage(square+"/UserUnit 2", "0 0 72 72 re f"), ""), 72)
	if pic.Pix.Rect.Max != image.Pt(144, 144) || pic.HasAlpha || len(pic.Notes) != 0 {
		t.Errorf("got %v, alpha %v, notes %q", pic.Pix.Rect.Max, pic.HasAlpha, pic.Notes)
	}
}

func encrypted(t *testing.T, data []byte, user string) []byte {
	t.Helper()
	disableConfig()
	var out bytes.Buffer
	if err := api.Encrypt(bytes.NewReader(data), &out, model.NewAESConfiguration(user, "lamp", 256)); err != nil {
		t.Fatalf("making an encrypted file: %v", err)
	}
	return out.Bytes()
}

func TestArguments(t *testing.T) {
	d := open(t, onePage(square, ""))
	for _, n := range []int{-1, 0, 2} {
		_, err := d.Page(n, 72)
		wantFault(t, err, "the PDF has 1 page")
		_, _, err = d.PageSize(n)
		wantFault(t, err, "the PDF has 1 page")
	}
	for _, ppi := range []float64{-1, 0.5, MaxPPI + 1, math.NaN(), math.Inf(1)} {
		if _, err := d.Page(1, ppi); err == nil {
			t.Errorf("Page(1, %v) gave no error", ppi)
		}
	}
	if _, err := Open(onePage(square, ""), Options{MaxPixels: -1}); err == nil {
		t.Error("a negative MaxPixels gave no error")
	}
	if d.Format() != "pdf" || d.Pages() != 1 {
		t.Errorf("format %q, %d pages", d.Format(), d.Pages())
	}
	if pic, err := d.Page(1, 0); err != nil || pic.Pix.Rect.Max != image.Pt(600, 600) {
		t.Errorf("default resolution: %v", err)
	}
	d.Close()
	if _, err := d.Page(1, 72); err == nil {
		t.Error("a closed document still draws")
	}
}

// A page that would take for ever is stopped, and the document can still be used.
func TestTimeLimit(t *testing.T) {
	form := pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 72 72] /Group << /S /Transparency >> /Resources << /XObject << /X %d 0 R >> >>", strings.Repeat("/X Do ", 40))
	objects := []string{"<< /Type /Catalog /Pages 2 0 R >>", "<< /Type /Pages /Kids [3 0 R 12 0 R] /Count 2 >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + square + " /Resources << /XObject << /X 5 0 R >> >> >>", pdftest.Stream("", "/X Do")}
	for n := 6; n <= 10; n++ {
		objects = append(objects, fmt.Sprintf(form, n))
	}
	objects = append(objects, pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 72 72]", "0 0 72 72 re f"), pdftest.Stream("", "0 0 9 9 re f"),
		"<< /Type /Page /Parent 2 0 R /Contents 11 0 R "+square+" >>")
	d := open(t, pdftest.File(objects...))
	d.spent.limit = 300 * time.Millisecond
	begin := time.Now()
	_, err := d.Page(1, 600)
	wantFault(t, err, "page 1 takes longer than 300ms")
	if took := time.Since(begin); took > 3*time.Second {
		t.Errorf("stopping took %v", took)
	}
	wantFault(t, d.session(1, alone, func(*session) error { return nil }), "page 1 takes longer than 300ms") // it has none left
	d.spent.limit = TimeLimit
	if _, err := d.Page(2, 72); err != nil {
		t.Errorf("the next page: %v", err)
	}
}

// What goes wrong within the renderer is told in plain words.
func TestRendererFails(t *testing.T) {
	d := open(t, onePage(square, ""))
	fails := func(*session) error { return errors.New("wasm error: out of bounds memory access") }
	wantFault(t, d.session(1, alone, fails), "page 1 is damaged, or has something on it that cannot be drawn")
	wantFault(t, d.session(0, alone, fails), "the file is damaged")
}

// A page of several parts has no more time than one of a single part.
func TestTimeLimitOfParts(t *testing.T) {
	d := open(t, onePage("/MediaBox [0 0 1200 1600]", strings.Repeat("0 0 m 1200 0 0 1600 1200 1600 c 900 3 400 700 0 0 c f ", 200)))
	before := stuck.Load()
	d.spent.limit = 500 * time.Millisecond
	g, err := d.grid(1, 600)
	if err != nil {
		t.Fatal(err)
	}
	if parts := len(cut(image.Rect(0, 0, int(g.w), int(g.h)), maxTileSide, maxTilePixels)); parts < 2 {
		t.Fatalf("the page is drawn in %d part", parts)
	}
	begin := time.Now()
	_, err = d.Page(1, 600)
	wantFault(t, err, "page 1 takes longer than 500ms")
	if d.spent.left(1) != 0 {
		t.Errorf("%v left after %v", d.spent.left(1), time.Since(begin))
	}
	for stuck.Load() != before { // it ends, and other tests need its place
		time.Sleep(10 * time.Millisecond)
	}
}

// What the renderer finds no memory for it leaves out without a word, so that the page is refused: each form here draws ten of the next.
func TestMemoryLimit(t *testing.T) {
	objects := []string{"<< /Type /Catalog /Pages 2 0 R >>", "<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + square + " /Resources << /XObject << /X 5 0 R >> >> >>", pdftest.Stream("", "/X Do")}
	for n := 6; n <= 12; n++ {
		objects = append(objects, pdftest.Stream(fmt.Sprintf("/Type /XObject /Subtype /Form /BBox [0 0 72 72] /Resources << /XObject << /X %d 0 R >> >>", n), strings.Repeat("/X Do ", 10)))
	}
	objects = append(objects, pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 72 72]", "0 0 72 72 re f"))
	d := open(t, pdftest.File(objects...))
	d.spent.limit = time.Minute
	_, err := d.Page(1, 72)
	wantFault(t, err, "more than 768 MiB of memory")
	_, _, _, err = d.PageWithSeparations(1, DefaultPPI, SeparationOptions{}) // first beside its planes, with less, then alone
	wantFault(t, err, "more than 768 MiB of memory")
}

// A document that waits for a renderer is not kept waiting by those that never finish.
func TestWaitingBehindStuck(t *testing.T) {
	data := onePage(square, "")
	open(t, data)
	for range cap(slots) {
		slots <- struct{}{}
	}
	refused := make(chan error, 1)
	go func() {
		_, err := Open(data, Options{})
		refused <- err
	}()
	select {
	case err := <-refused:
		t.Fatalf("did not wait: %v", err)
	case <-time.After(300 * time.Millisecond):
	}
	before := stuck.Swap(int32(cap(slots)))
	err := <-refused
	stuck.Store(before)
	for range cap(slots) {
		<-slots
	}
	wantFault(t, err, "keep the renderer busy")
	open(t, data)
}

// More documents than renderers, all open at once, used from different goroutines.
func TestParallelDocuments(t *testing.T) {
	var wg sync.WaitGroup
	for k := range 12 {
		wg.Go(func() {
			d, err := Open(onePage(square, fmt.Sprintf("0 0 %d 72 re f", 6*k+6)), Options{})
			if err != nil {
				t.Error(err)
				return
			}
			defer d.Close()
			pic, err := d.Page(1, 72)
			if err != nil {
				t.Error(err)
				return
			}
			for x := range 72 {
				if got, want := pic.Pix.NRGBAAt(x, 30).A == 255, x < 6*k+6; got != want {
					t.Errorf("document %d at %d: painted %v, want %v", k, x, got, want)
					return
				}
			}
		})
	}
	wg.Wait()
}

// The cache folder is private, makes later starts quick, and is done without where it cannot be used.
func TestCache(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a", "b")
	if openCache(dir) == nil {
		t.Fatal("a new folder was not used")
	}
	info, err := os.Stat(dir)
	if err != nil || info.Mode().Perm() != 0o700 {
		t.Errorf("folder is %v, %v; want mode 0700", info.Mode(), err)
	}
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if openCache(filepath.Join(file, "sub")) != nil || openCache(file) != nil || openCache("") != nil {
		t.Error("an impossible folder was used")
	}
	if err := os.Chmod(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	if openCache(dir) != nil {
		t.Error("a folder anyone may write to was used")
	}
}

// pdfcpu's own test files are real ones from many programs.
func TestForeignFiles(t *testing.T) {
	drawn, refused := 0, 0
	for _, name := range foreignFiles(t) {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		pic, err := firstPage(data, 72)
		var fault *raster.Fault
		switch {
		case err == nil:
			drawn++
			if len(pic.Notes) > 0 {
				t.Logf("%s: notes %q", filepath.Base(name), pic.Notes)
			}
		case errors.As(err, &fault):
			refused++
			t.Logf("%s: refused: %v", filepath.Base(name), err)
		default:
			t.Errorf("%s: %v", filepath.Base(name), err)
		}
	}
	t.Logf("%d drawn, %d refused", drawn, refused)
}

func firstPage(data []byte, ppi float64) (*raster.Picture, error) {
	d, err := Open(data, Options{})
	if err != nil {
		return nil, err
	}
	defer d.Close()
	return d.Page(1, ppi)
}

func foreignFiles(t testing.TB) []string {
	t.Helper()
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/pdfcpu/pdfcpu").Output()
	if err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob(filepath.Join(strings.TrimSpace(string(dir)), "pkg", "testdata", "*.pdf"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no test files of pdfcpu found: %v", err)
	}
	return names
}

// Sandboxes beside each other may hold together what one may alone.
func TestSandboxesShareMemory(t *testing.T) {
	d := open(t, onePage(square, ""))
	grow := func(s *session) error {
		s.memory.Reallocate(mostMemory/beside + 1)
		return nil
	}
	if err := d.session(1, alone, grow); err != nil {
		t.Error("alone:", err)
	}
	if err := d.session(1, beside, grow); !errors.Is(err, errMemory) {
		t.Errorf("one of %d: %v", beside, err)
	}
}
