package pdffacts_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"

	"peelcheck/raster"
	"peelcheck/raster/pdffacts"
	"peelcheck/raster/pdftest"
)

// pdf writes a file of one page; keys are the page's, extra objects start at 5.
func pdf(catalog, keys, content string, extra ...string) []byte {
	objects := append([]string{
		"<< /Type /Catalog /Pages 2 0 R " + catalog + " >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + keys + " >>",
		pdftest.Stream("", content),
	}, extra...)
	return pdftest.File(objects...)
}

func factsOf(t testing.TB, data []byte) *raster.Facts {
	t.Helper()
	api.DisableConfigDir()
	conf := model.NewDefaultConfiguration()
	conf.Offline = true
	ctx, err := api.ReadContext(bytes.NewReader(data), conf)
	if err == nil {
		err = ctx.EnsurePageCount()
	}
	if err != nil {
		t.Fatal(err)
	}
	facts, err := pdffacts.NewDocument(ctx.XRefTable, ctx.PageCount).Page(1)
	if err != nil {
		t.Fatal(err)
	}
	return facts
}

// inch is a page of 72 x 144 points, 25.4 x 50.8 mm.
const inch = "/MediaBox [0 0 72 144] "

func near(a, b raster.FactBox) bool {
	const by = 0.01
	return math.Abs(a.X-b.X) < by && math.Abs(a.Y-b.Y) < by && math.Abs(a.W-b.W) < by && math.Abs(a.H-b.H) < by
}

// TestPlaces puts one picture in the bottom left corner of pages that are cropped, turned and scaled: ISO 32000-1, Table 30.
func TestPlaces(t *testing.T) {
	const image = "/Resources << /XObject << /Im1 5 0 R >> >> "
	tests := []struct {
		keys string
		w, h float64
		box  raster.FactBox
	}{
		{inch, 25.4, 50.8, raster.FactBox{X: 0, Y: 25.4, W: 12.7, H: 25.4}},
		{inch + "/Rotate 90", 50.8, 25.4, raster.FactBox{X: 0, Y: 0, W: 25.4, H: 12.7}},
		{inch + "/Rotate 180", 25.4, 50.8, raster.FactBox{X: 12.7, Y: 0, W: 12.7, H: 25.4}},
		{inch + "/Rotate -90", 50.8, 25.4, raster.FactBox{X: 25.4, Y: 12.7, W: 25.4, H: 12.7}},
		{inch + "/UserUnit 2", 50.8, 101.6, raster.FactBox{X: 0, Y: 50.8, W: 25.4, H: 50.8}},
		{inch + "/CropBox [18 36 200 144]", 19.05, 38.1, raster.FactBox{X: 0, Y: 25.4, W: 6.35, H: 12.7}},
		{"/MediaBox [72 144 0 0]", 25.4, 50.8, raster.FactBox{X: 0, Y: 25.4, W: 12.7, H: 25.4}},
	}
	for _, tt := range tests {
		f := factsOf(t, pdf("", tt.keys+image, "q 36 0 0 72 0 0 cm /Im1 Do Q", pdftest.Stream("/Type /XObject /Subtype /Image /Width 100 /Height 200 /BitsPerComponent 8 /ColorSpace /DeviceGray", "x")))
		if math.Abs(f.WidthMM-tt.w) > 0.01 || math.Abs(f.HeightMM-tt.h) > 0.01 || len(f.Images) != 1 {
			t.Errorf("%s: %.2f x %.2f mm, %d pictures", tt.keys, f.WidthMM, f.HeightMM, len(f.Images))
			continue
		}
		unit := 1.0
		if strings.Contains(tt.keys, "UserUnit") {
			unit = 2
		}
		i := f.Images[0]
		if i.Name != "Im1" || !near(i.Box, tt.box) || math.Abs(i.PPIX-200/unit) > 0.1 || math.Abs(i.PPIY-200/unit) > 0.1 || i.Mirrored {
			t.Errorf("%s: %+v, want %+v at %v ppi", tt.keys, i, tt.box, 200/unit)
		}
	}
}

// TestStrokes: widths are scaled by the matrix that is current when the path is stroked (8.4.3.2, 8.5.3.2).
func TestStrokes(t *testing.T) {
	f := factsOf(t, pdf("", inch, "0.5 w 10 10 m 60 10 l S q 2 0 0 4 0 0 cm 5 5 m 20 5 l S Q 0 w 10 100 m 60 100 l S 3 w 0 0 5 5 re W n 40 40 m 60 60 l S", ""))
	point := 25.4 / 72
	want := [][2]float64{{.5 * point, .5 * point}, {point, 2 * point}, {0, 0}}
	if len(f.Strokes) != len(want) {
		t.Fatalf("%d strokes, want %d: the last is clipped away", len(f.Strokes), len(want))
	}
	for i, w := range want {
		if s := f.Strokes[i]; math.Abs(s.LeastMM-w[0]) > 1e-9 || math.Abs(s.MostMM-w[1]) > 1e-9 {
			t.Errorf("stroke %d is %v to %v mm, want %v", i, s.LeastMM, s.MostMM, w)
		}
	}
}

const helvetica = "/Resources << /Font << /F1 5 0 R >> /Properties << /Off 6 0 R /On 7 0 R >> >> "

var fonts = []string{
	"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
	"<< /Type /OCG /Name (sketch) >>", "<< /Type /OCG /Name (lamp) >>",
}

func TestText(t *testing.T) {
	f := factsOf(t, pdf("", inch+helvetica, `BT /F1 20 Tf 5 100 Td (Moth) Tj 0 -20 Td [(La) -20 (m\160)] TJ ET
		q -1 0 0 1 72 0 cm BT /F1 10 Tf 5 40 Td (Moon) Tj ET Q
		BT 3 Tr /F1 8 Tf 5 10 Td (hidden) Tj 0 Tr 0 -100 Td (beyond) Tj ET`, fonts...))
	if len(f.Texts) != 3 {
		t.Fatalf("%+v", f.Texts)
	}
	mm := 25.4 / 72
	a, b, c := f.Texts[0], f.Texts[1], f.Texts[2]
	if a.Text != "Moth Lamp" || a.Letters != 8 || a.Mirrored || math.Abs(a.SizeMM-20*mm) > 1e-9 || math.Abs(a.XHeightMM-20*.523*mm) > 1e-9 || !a.Lower {
		t.Errorf("upright: %+v", a)
	}
	// Helvetica's own widths: L 556, a 556, m 833, p 556 (Adobe's Core 14 metrics, from memory), and 20 of the gap.
	if want := (raster.FactBox{X: 5 * mm, Y: (144 - 100 - 15) * mm, W: 20 * 2.521 * mm, H: 40 * mm}); !near(a.Box, want) {
		t.Errorf("box %+v, want %+v", a.Box, want)
	}
	if b.Text != "Moon" || !b.Mirrored || b.Box.X < 10 {
		t.Errorf("back to front: %+v", b)
	}
	if c.Text != "hidden" || !c.Unseen {
		t.Errorf("unseen: %+v", c)
	}
	if len(f.Fonts) != 1 || f.Fonts[0].Embedded || f.Fonts[0].Name != "Helvetica" {
		t.Errorf("fonts %+v", f.Fonts)
	}
	if len(f.Outside) != 1 {
		t.Errorf("outside %+v", f.Outside)
	}
}

func TestLayers(t *testing.T) {
	content := "/OC /Off BDC 10 10 20 20 re f EMC /OC /On BDC 40 40 20 20 re f 1 w 0 0 m 9 9 l S EMC"
	tests := []struct {
		properties     string
		prints, screen [2]bool // of sketch and lamp
	}{
		{"/D << /OFF [6 0 R] >>", [2]bool{false, true}, [2]bool{false, true}},
		{"/D << /BaseState /OFF /ON [7 0 R] >>", [2]bool{false, true}, [2]bool{false, true}},
		{"/D << /AS [<< /Event /Print /Category [/Print] /OCGs [7 0 R] >>] >>", [2]bool{true, false}, [2]bool{true, true}},
	}
	for _, tt := range tests {
		objects := append([]string{}, fonts...)
		objects[2] = "<< /Type /OCG /Name (lamp) /Usage << /Print << /PrintState /OFF >> >> >>"
		f := factsOf(t, pdf("/OCProperties << /OCGs [6 0 R 7 0 R] "+tt.properties+" >>", inch+helvetica, content, objects...))
		if len(f.Layers) != 2 || f.Layers[0].Name != "sketch" || f.Layers[1].Name != "lamp" {
			t.Fatalf("%+v", f.Layers)
		}
		for i, l := range f.Layers {
			if l.Prints != tt.prints[i] || l.Screen != tt.screen[i] || !l.Painted {
				t.Errorf("%s: %+v", tt.properties, l)
			}
		}
		if strokes := len(f.Strokes); (strokes == 1) != tt.prints[1] {
			t.Errorf("%s: %d strokes show", tt.properties, strokes)
		}
		if mm := 25.4 / 72; !near(f.Layers[0].Box, raster.FactBox{X: 10 * mm, Y: 114 * mm, W: 20 * mm, H: 20 * mm}) {
			t.Errorf("place %+v", f.Layers[0].Box)
		}
	}
}

func TestOverprint(t *testing.T) {
	states := "/Resources << /ExtGState << /O << /OP true /op true /OPM 1 >> >> /ColorSpace << /S [/Separation /Fog /DeviceCMYK << /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0 0 0 .5] /N 1 >>] >> >> "
	f := factsOf(t, pdf("", inch+states, `0 0 0 1 k 0 0 9 9 re f /O gs 0 0 0 0 k 10 10 9 9 re f 0 0 0 1 k 20 20 9 9 re f
		1 0 0 rg 30 30 9 9 re f /S cs 0 scn 40 40 9 9 re f 1 scn 50 50 9 9 re f`))
	var got []bool
	for _, o := range f.Overprints {
		got = append(got, o.Vanishes)
	}
	if fmt.Sprint(got) != "[true false true false]" {
		t.Errorf("vanishing %v, want only the CMYK and the spot without ink", got)
	}
}

func TestAnnotations(t *testing.T) {
	f := factsOf(t, pdf("", inch+"/Annots [5 0 R 6 0 R 7 0 R]", "", []string{
		"<< /Type /Annot /Subtype /Stamp /Rect [0 0 36 36] /F 4 /AP << /N 8 0 R >> >>",
		"<< /Type /Annot /Subtype /Widget /Rect [36 0 72 36] /AP << /N << /Yes 8 0 R >> >> /AS /Yes >>",
		"<< /Type /Annot /Subtype /Link /Rect [36 0 72 36] >>",
		pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 10 10] /Matrix [0 1 -1 0 0 0] /Resources << >>", "1 w 0 0 m 10 0 l S"),
	}...))
	if len(f.Annotations) != 2 || !f.Annotations[0].Prints || f.Annotations[1].Prints || !f.Annotations[1].Screen {
		t.Fatalf("%+v", f.Annotations)
	}
	// 12.5.5: ten units become 36 points, so that the stroke is 3.6 points wide, and stands upright on the right.
	if len(f.Strokes) != 1 || math.Abs(f.Strokes[0].MostMM-3.6*25.4/72) > 1e-6 || f.Strokes[0].Box.H < 12 {
		t.Errorf("%+v", f.Strokes)
	}
}

// TestBareAnnotations: those without an appearance are told where readers draw them (12.5.5, 12.5.6), and whatever somebody wrote.
func TestBareAnnotations(t *testing.T) {
	f := factsOf(t, pdf("", inch+`/Annots [
		<< /Type /Annot /Subtype /Text /Rect [0 124 20 144] /F 28 /Contents (bluer, please) >>
		<< /Type /Annot /Subtype /Text /Rect [80 0 100 20] /Contents <FEFF0041> >>
		<< /Type /Annot /Subtype /Text /Rect [0 0 20 20] /F 2 /Contents (hidden) >>
		<< /Type /Annot /Subtype /Text /Rect [0 0 20 20] /Contents (Accepted) /StateModel (Review) >>
		<< /Type /Annot /Subtype /Popup /Rect [0 0 20 20] /Contents (no) >>
		<< /Type /Annot /Subtype /Highlight /Rect [0 0 20 20] /F 4 >>
		<< /Type /Annot /Subtype /Widget /Rect [0 0 20 20] /F 4 >>
		<< /Type /Annot /Subtype /Widget /Rect [0 0 20 20] /F 4 /FT /Tx /Parent << /V (XL) >> >>
		<< /Type /Annot /Subtype /Stamp /Rect [0 0 20 20] /F 4 /Contents (look) /AP << /N 5 0 R >> >> ]`, "",
		pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 10 10]", "")))
	side := 20 * 25.4 / 72
	corner := raster.FactBox{Y: 50.8 - side, W: side, H: side}
	want := []raster.FactAnnotation{
		{Kind: "Text", Box: raster.FactBox{W: side, H: side}, Text: "bluer, please", Bare: true, Prints: true, Screen: true},
		{Kind: "Text", Box: raster.FactBox{X: 80 * 25.4 / 72, Y: 50.8 - side, W: side, H: side}, Text: "A", Bare: true, Screen: true},
		{Kind: "Text", Box: corner, Text: "hidden", Bare: true},
		{Kind: "Highlight", Box: corner, Bare: true, Prints: true, Screen: true},
		{Kind: "Widget", Box: corner, Text: "XL", Bare: true, Prints: true, Screen: true},
		{Kind: "Stamp", Box: corner, Text: "look", Screen: true},
	}
	if len(f.Annotations) != len(want) {
		t.Fatalf("%+v", f.Annotations)
	}
	for i, a := range f.Annotations {
		if w := want[i]; !near(a.Box, w.Box) {
			t.Errorf("%d: place %+v, want %+v", i, a.Box, w.Box)
		} else if a.Box = w.Box; a != w {
			t.Errorf("%d: %+v, want %+v", i, a, w)
		}
	}
}

// TestHostile: nothing here may loop, panic or take long; what can be told is told.
func TestHostile(t *testing.T) {
	loop := pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 72 144] /Resources << /XObject << /X 5 0 R >> >>", "/X Do 1 w 0 0 m 9 9 l S /X Do")
	tests := []struct{ keys, content, extra string }{
		{"/Resources << /XObject << /X 5 0 R >> >>", "/X Do", loop},
		{"", "1e30 0 0 1e30 0 0 cm 1 w 0 0 m 9 9 l S BT 1e30 0 0 1e30 0 0 Tm (x) Tj ET", ""},
		{"", strings.Repeat("q ", 30_000) + "1 w 0 0 m 9 9 l S", ""},
		{"", strings.Repeat("[", 10_000) + "(" + strings.Repeat("<<", 10_000), ""},
		{"/Rotate 45 /UserUnit -3", "Q Q EMC ET BI ID EI 1 w 0 0 m 9 9 l S", ""},
		{"/Annots 5 0 R", "/F1 9 Tf (x) Tj", "[5 0 R 5 0 R]"},
		{"/Resources << /ColorSpace << /C 5 0 R >> >>", "/C cs 1 scn 0 0 9 9 re f", "[/Indexed 5 0 R 1 (ab)]"},
		{"/Resources << /Font << /F1 5 0 R >> >>", "BT /F1 9 Tf <0001> Tj ET", "<< /Type /Font /Subtype /Type0 /DescendantFonts [5 0 R] /W [0 1e9 5 5] /ToUnicode 5 0 R >>"},
	}
	for _, tt := range tests {
		if f := factsOf(t, pdf("", inch+tt.keys, tt.content, tt.extra)); f == nil {
			t.Errorf("%.40s: no facts", tt.content)
		}
	}
}

// TestBounded: a form that is drawn by the million is not looked at for ever, and that is said.
func TestBounded(t *testing.T) {
	form := func(next int) string {
		return pdftest.Stream(fmt.Sprintf("/Type /XObject /Subtype /Form /BBox [0 0 72 144] /Resources << /XObject << /X %d 0 R >> >>", next), strings.Repeat("/X Do ", 100))
	}
	f := factsOf(t, pdf("", inch+"/Resources << /XObject << /X 5 0 R >> >>", "/X Do", form(6), form(7), form(8), form(9), pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9]", "n")))
	if f.Incomplete == "" {
		t.Error("nothing says that not all was looked at")
	}
}

// TestCoreHeights compares heights of the standard 14 fonts, which are from memory, with those of the fonts that Debian has in their place (package
// fonts-urw-base35, which ghostscript needs).
func TestCoreHeights(t *testing.T) {
	metric := regexp.MustCompile(`(?m)^(XHeight|CapHeight|StdVW) (\d+)`)
	for name, file := range map[string]string{
		"Helvetica": "NimbusSans-Regular", "Helvetica-Bold": "NimbusSans-Bold", "Times-Roman": "NimbusRoman-Regular", "Times-Italic": "NimbusRoman-Italic",
		"Times-Bold": "NimbusRoman-Bold", "Times-BoldItalic": "NimbusRoman-BoldItalic", "Courier": "NimbusMonoPS-Regular", "Courier-Bold": "NimbusMonoPS-Bold",
	} {
		afm, err := exec.Command("cat", filepath.Join("/usr/share/fonts/type1/urw-base35", file+".afm")).Output()
		if err != nil {
			t.Fatalf("%s: install fonts-urw-base35: %v", file, err)
		}
		f := factsOf(t, pdf("", inch+helvetica, "BT /F1 72 Tf 1 1 Td (x) Tj ET", "<< /Type /Font /Subtype /Type1 /BaseFont /"+name+" >>", "<< >>", "<< >>"))
		got := map[string]float64{"XHeight": f.Texts[0].XHeightMM, "CapHeight": f.Texts[0].CapHeightMM, "StdVW": f.Texts[0].StemMM}
		for _, m := range metric.FindAllStringSubmatch(string(afm), -1) {
			want := number(m[2]) / 1000 * 25.4
			if math.Abs(got[m[1]]-want) > 0.025*25.4 {
				t.Errorf("%s: %s is %.3f mm, the substitute's %.3f", name, m[1], got[m[1]], want)
			}
		}
	}
}

// TestBareHeights takes the CFF programs out of OpenType fonts of Debian's package fonts-urw-base35 and embeds them bare, with a descriptor that does
// not say how high letters are; the fonts' own metrics do.
func TestBareHeights(t *testing.T) {
	metric := regexp.MustCompile(`(?m)^(XHeight|CapHeight) (\d+)`)
	for _, name := range []string{"NimbusSans-Regular", "NimbusRoman-Bold", "NimbusMonoPS-Regular", "P052-Italic", "URWBookman-Light"} {
		afm, err := os.ReadFile(filepath.Join("/usr/share/fonts/type1/urw-base35", name+".afm"))
		if err != nil {
			t.Fatalf("install fonts-urw-base35: %v", err)
		}
		font, err := os.ReadFile(filepath.Join("/usr/share/fonts/opentype/urw-base35", name+".otf"))
		if err != nil {
			t.Fatalf("install fonts-urw-base35: %v", err)
		}
		f := factsOf(t, pdf("", inch+"/Resources << /Font << /F1 5 0 R >> >> ", "BT /F1 72 Tf 1 1 Td (xH) Tj ET",
			"<< /Type /Font /Subtype /Type1 /BaseFont /ABCDEF+Lamp /FirstChar 72 /LastChar 72 /Widths [700] /FontDescriptor 6 0 R >>",
			"<< /Type /FontDescriptor /FontName /ABCDEF+Lamp /Flags 32 /FontFile3 7 0 R >>",
			pdftest.Stream("/Subtype /Type1C", string(tableOf(t, font, "CFF ")))))
		got := map[string]float64{"XHeight": f.Texts[0].XHeightMM, "CapHeight": f.Texts[0].CapHeightMM}
		found := metric.FindAllStringSubmatch(string(afm), -1)
		if len(found) != 2 {
			t.Fatalf("%s: %d heights in the metrics", name, len(found))
		}
		for _, m := range found {
			if want := number(m[2]) / 1000 * 25.4; math.Abs(got[m[1]]-want) > 0.012*25.4 {
				t.Errorf("%s: %s is %.3f mm, its metrics say %.3f", name, m[1], got[m[1]], want)
			}
		}
	}
}

// tableOf is a table of an OpenType font (OpenType 1.9, table directory).
func tableOf(t *testing.T, font []byte, tag string) []byte {
	t.Helper()
	for i := range int(binary.BigEndian.Uint16(font[4:])) {
		entry := font[12+16*i:]
		if string(entry[:4]) == tag {
			at := binary.BigEndian.Uint32(entry[8:])
			return font[at:][:binary.BigEndian.Uint32(entry[12:])]
		}
	}
	t.Fatalf("the font has no table %q", tag)
	return nil
}

func FuzzContent(f *testing.F) {
	for _, s := range []string{"BT /F1 9 Tf (a) Tj ET", "BI /W 1 /H 1 ID x EI", "/OC /Off BDC 1 0 0 1 0 0 cm S EMC", "[(a)-2<41>]TJ"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		factsOf(t, pdf("", inch+helvetica, string(content), fonts...))
	})
}
