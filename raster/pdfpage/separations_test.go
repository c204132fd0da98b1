package pdfpage

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"peelcheck/raster"
	"peelcheck/raster/pdfcolour"
	"peelcheck/raster/pdftest"
)

// tint is a spot colour whose mixture is told from its plane by its magenta.
const tint = "[/Separation /%s /DeviceCMYK << /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0 0.5 0 0] /N 1 >>] "

// spotPage is a page of 72 x 72 points that knows the spot colours White (/W), All (/All) and None (/None), overprint modes 0 (/P0) and 1
// (/P1), no overprint (/K), and a layer (/L) that is on or off.
func spotPage(content string, layerOn bool) []byte {
	state := "/ON [5 0 R]"
	if !layerOn {
		state = "/OFF [5 0 R]"
	}
	spaces := fmt.Sprintf("/W "+tint+"/All "+tint+"/None "+tint, "White", "All", "None")
	return pdftest.File(
		"<< /Type /Catalog /Pages 2 0 R /OCProperties << /OCGs [5 0 R] /D << "+state+" >> >> >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R "+square+"/Resources << /Properties << /L 5 0 R >> /ColorSpace << "+spaces+" >> /ExtGState << "+
			"/P0 << /OP true /op true /OPM 0 >> /P1 << /OP true /op true /OPM 1 >> /K << /OP false /op false >> >> >> >>",
		pdftest.Stream("", content),
		"<< /Type /OCG /Name (Lanterns) >>",
	)
}

func separate(t testing.TB, data []byte, opt SeparationOptions) *raster.Separations {
	t.Helper()
	s, err := open(t, data).Separations(1, 72, opt)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// inks are cyan, magenta, yellow, black and the spot colours of a pixel.
func inks(s *raster.Separations, x, y int) []uint8 {
	planes := []*raster.Plane{s.Cyan, s.Magenta, s.Yellow, s.Black}
	for _, spot := range s.Spots {
		planes = append(planes, spot.Plane)
	}
	out := make([]uint8, len(planes))
	for i, p := range planes {
		p.Read(out[i:i+1], image.Rect(x, y, x+1, y+1))
	}
	return out
}

func checkInks(t *testing.T, got []uint8, want ...uint8) {
	t.Helper()
	near := len(got) == len(want)
	for i := range got {
		near = near && max(got[i], want[i])-min(got[i], want[i]) <= 1
	}
	if !near {
		t.Errorf("inks %v, want %v", got, want)
	}
}

// Where no other source is named, the values were measured with Ghostscript 10.00.0 (tiffsep, one grey file a plate, 72 ppi).
func TestSeparations(t *testing.T) {
	const whole, left, right = " 0 0 72 72 re f ", " 0 0 36 72 re f ", " 36 0 36 72 re f "
	tests := []struct {
		name, content string
		layerOff      bool
		at            image.Point
		want          []uint8 // cyan, magenta, yellow, black, White
	}{
		{"White at tint 1", "/W cs 1 scn" + whole, false, image.Pt(36, 36), []uint8{0, 0, 0, 0, 255}},
		{"White at tint 0.5", "/W cs 0.5 scn" + whole, false, image.Pt(36, 36), []uint8{0, 0, 0, 0, 127}},
		{"White over cyan, overprinting", "1 0 0 0 k" + whole + "/P0 gs /W cs 1 scn" + left, false, image.Pt(18, 36), []uint8{255, 0, 0, 0, 255}},
		{"White over cyan, knocking out", "1 0 0 0 k" + whole + "/K gs /W cs 1 scn" + left, false, image.Pt(18, 36), []uint8{0, 0, 0, 0, 255}},
		{"White in a layer that is off", "1 0 0 0 k" + whole + "/OC /L BDC /W cs 1 scn" + left + "EMC", true, image.Pt(18, 36), []uint8{255, 0, 0, 0, 0}},
		{"White in a layer that is on", "1 0 0 0 k" + whole + "/OC /L BDC /W cs 1 scn" + left + "EMC", false, image.Pt(18, 36), []uint8{0, 0, 0, 0, 255}},
		{"All at 0.6", "/All cs 0.6 scn" + whole, false, image.Pt(36, 36), []uint8{153, 153, 153, 153, 153}},
		{"None", "/W cs 1 scn" + whole + "/None cs 1 scn" + left, false, image.Pt(18, 36), []uint8{0, 0, 0, 0, 255}},
		{"yellow over cyan, OPM 1", "1 0 0 0 k" + whole + "/P1 gs 0 0 1 0 k" + left, false, image.Pt(18, 36), []uint8{255, 0, 255, 0, 0}},
		{"yellow over magenta, OPM 0", "0 1 0 0 k" + whole + "/P0 gs 0 0 1 0 k" + left, false, image.Pt(18, 36), []uint8{0, 0, 255, 0, 0}},
		{"yellow over White, OPM 0: spots stay (8.6.7)", "/W cs 1 scn" + whole + "/P0 gs 0 0 1 0 k" + left, false, image.Pt(18, 36), []uint8{0, 0, 255, 0, 255}},
		{"RGB over cyan, overprinting: all of the process (8.6.7)", "1 0 0 0 k" + whole + "/P1 gs 1 0 0 rg" + left, false, image.Pt(18, 36), []uint8{0, 255, 255, 0, 0}},
		{"beside what overprints", "1 0 0 0 k" + whole + "/P1 gs 0 0 1 0 k" + left, false, image.Pt(54, 36), []uint8{255, 0, 0, 0, 0}},
		{"the file's own black", "0 0 0 1 k" + right, false, image.Pt(54, 36), []uint8{0, 0, 0, 255, 0}},
		{"CMYK white knocks out", "0 0 0 1 k" + whole + "0 0 0 0 k" + right, false, image.Pt(54, 36), []uint8{0, 0, 0, 0, 0}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s := separate(t, spotPage(test.content, !test.layerOff), SeparationOptions{Spot: func(name string) bool { return name == "White" }})
			checkInks(t, inks(s, test.at.X, test.at.Y), test.want...)
		})
	}
}

// ISO 32000-1, 10.3.4: c = 1-r and so on, k = min(c, m, y), less UCR(k), with BG(k). The first colour is the clause's own example; the
// shares are the formula's, worked out by hand for three pairs of curves.
func TestBlackGeneration(t *testing.T) {
	whole := pdfcolour.Curves{}
	none := pdfcolour.Curves{UCR: func(float64) float64 { return 0 }}
	half := pdfcolour.Curves{BG: func(k float64) float64 { return k / 2 }, UCR: func(k float64) float64 { return k / 2 }}
	tests := []struct {
		rgb               string
		whole, none, half [4]float64
	}{
		{".2 .7 .4", [4]float64{.5, 0, .3, .3}, [4]float64{.8, .3, .6, .3}, [4]float64{.65, .15, .45, .15}},
		{"1 1 1", [4]float64{}, [4]float64{}, [4]float64{}},
		{"0 0 0", [4]float64{0, 0, 0, 1}, [4]float64{1, 1, 1, 1}, [4]float64{.5, .5, .5, .5}},
		{".5 .5 .5", [4]float64{0, 0, 0, .5}, [4]float64{.5, .5, .5, .5}, [4]float64{.25, .25, .25, .25}},
		{"1 0 0", [4]float64{0, 1, 1, 0}, [4]float64{0, 1, 1, 0}, [4]float64{0, 1, 1, 0}},
		{"1 1 0", [4]float64{0, 0, 1, 0}, [4]float64{0, 0, 1, 0}, [4]float64{0, 0, 1, 0}},
		{".6 .3 .9", [4]float64{.3, .6, 0, .1}, [4]float64{.4, .7, .1, .1}, [4]float64{.35, .65, .05, .05}},
		{".2 .4 .6", [4]float64{.4, .2, 0, .4}, [4]float64{.8, .6, .4, .4}, [4]float64{.6, .4, .2, .2}},
		{".8 .8 .5", [4]float64{0, 0, .3, .2}, [4]float64{.2, .2, .5, .2}, [4]float64{.1, .1, .4, .1}},
	}
	// A page that blends in RGB goes another way.
	const blending = square + "/Group << /S /Transparency /CS /DeviceRGB >> /Resources << /ExtGState << /A << /ca 0.5 >> >> >> "
	for _, test := range tests {
		for i, curves := range []pdfcolour.Curves{whole, none, half} {
			shares := [][4]float64{test.whole, test.none, test.half}[i]
			var want []uint8
			for _, v := range shares {
				want = append(want, uint8(255*v+0.5))
			}
			content := test.rgb + " rg 0 0 72 72 re f"
			for keys, content := range map[string]string{square: content, blending: content + " /A gs 1 0 0 rg 0 0 9 9 re f"} {
				t.Run(fmt.Sprintf("%s/%d/%d", test.rgb, i, len(keys)), func(t *testing.T) {
					checkInks(t, inks(separate(t, onePage(keys, content), SeparationOptions{Curves: curves}), 36, 36), want...)
				})
			}
		}
	}
}

// Half red over blue in a page group that blends in RGB is (.5, 0, .5) before it becomes CMYK (11.4.7), with k .5; blended in CMYK it would
// have none.
func TestBlendingInRGB(t *testing.T) {
	const keys = square + "/Resources << /ExtGState << /A << /ca 0.5 >> >> >> "
	const content = "0 0 1 rg 0 0 72 72 re f /A gs 1 0 0 rg 0 0 72 72 re f"
	s := separate(t, onePage(keys+"/Group << /S /Transparency /CS /DeviceRGB >>", content), SeparationOptions{})
	checkInks(t, inks(s, 36, 36), 0, 128, 0, 128)
	s = separate(t, onePage(keys, content), SeparationOptions{})
	checkInks(t, inks(s, 36, 36), 128, 255, 128, 0)
}

// Black that overprints cyan in a group knocks it out if the group is isolated (11.7.4.3; the same with Ghostscript 10.00.0).
func TestSeparationsOfIsolatedGroup(t *testing.T) {
	for isolated, cyan := range map[bool]uint8{true: 0, false: 255} {
		form := pdftest.Stream(fmt.Sprintf("/Type /XObject /Subtype /Form /BBox [0 0 72 72] /Group << /S /Transparency /I %v >> "+
			"/Resources << /ExtGState << /O << /OP true /op true /OPM 1 >> /H << /ca 0.9 >> >> >>", isolated),
			"/O gs 0 0 0 1 k 10 10 50 50 re f /H gs 0 0 1 0 k 0 0 5 5 re f")
		s := separate(t, onePage(square+"/Resources << /XObject << /A 5 0 R >> >>", "1 0 0 0 k 0 0 72 72 re f /A Do", form), SeparationOptions{})
		checkInks(t, inks(s, 36, 36), cyan, 0, 0, 255)
		checkInks(t, inks(s, 65, 5), 255, 0, 0, 0)
	}
}

// Text rendering modes paint in all but 3 and 7 (Table 106; the same with Ghostscript 10.00.0).
func TestSeparationsOfText(t *testing.T) {
	for mode := range 8 {
		content := fmt.Sprintf("BT /F 60 Tf %d Tr 0 0 0 1 k 0 0 0 1 K 10 10 Td (H) Tj ET", mode)
		s := separate(t, onePage(square+"/Resources << /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica-Bold >> >> >>", content), SeparationOptions{})
		all := make([]uint8, 72*72)
		s.Black.Read(all, image.Rect(0, 0, 72, 72))
		if painted, want := slices.Max(all) > 0, mode != 3 && mode != 7; painted != want {
			t.Errorf("mode %d: painted is %v, want %v", mode, painted, want)
		}
	}
}

// Black on a bare page covers in its plane what it covers in the picture of the page, whatever the page's boxes and its turn.
func TestSeparationsLieOnPage(t *testing.T) {
	const content = "0 0 0 1 k 0 0 0 1 K 5.3 4.1 20.7 9.9 re f 0.2 w 1 1 m 60 50 l S 30 30 m 50 33 l 33 55 l f"
	for _, keys := range []string{
		square, "/MediaBox [0 0 100 61.3] /CropBox [3.1 2.2 70 60]", "/MediaBox [-5 -5 67 90] /Rotate 90", square + "/UserUnit 1.7", square + "/Rotate 270",
	} {
		t.Run(keys, func(t *testing.T) {
			d := open(t, onePage(keys, content))
			pic, err := d.Page(1, 150)
			if err != nil {
				t.Fatal(err)
			}
			s, err := d.Separations(1, 150, SeparationOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if s.Black.W != pic.Pix.Rect.Dx() || s.Black.H != pic.Pix.Rect.Dy() || s.PPIX != pic.PPIX || s.PPIY != pic.PPIY {
				t.Fatalf("%d x %d pixels at %v x %v, want %v at %v x %v", s.Black.W, s.Black.H, s.PPIX, s.PPIY, pic.Pix.Rect.Size(), pic.PPIX, pic.PPIY)
			}
			plane := make([]uint8, s.Black.W*s.Black.H)
			s.Black.Read(plane, pic.Pix.Rect)
			painted := 0
			for i, v := range plane {
				alpha := pic.Pix.Pix[4*i+3]
				if max(v, alpha)-min(v, alpha) > 2 {
					t.Fatalf("black is %d at pixel %d, where the picture has alpha %d", v, i, alpha)
				}
				if v > 0 {
					painted++
				}
			}
			if painted < 100 {
				t.Errorf("only %d pixels are painted", painted)
			}
		})
	}
}

// Spot colours that are not asked for are mixed by their tint transforms, and named.
func TestSeparationsAlternates(t *testing.T) {
	s := separate(t, spotPage("/W cs 1 scn 0 0 72 72 re f", true), SeparationOptions{Spot: func(string) bool { return false }})
	checkInks(t, inks(s, 36, 36), 0, 128, 0, 0)
	if !slices.Equal(s.Alternates, []string{"White"}) {
		t.Errorf("alternates %q, want White", s.Alternates)
	}
	s = separate(t, spotPage("/W cs 1 scn 0 0 72 72 re f", true), SeparationOptions{})
	if len(s.Spots) != 1 || s.Spots[0].Name != "White" || len(s.Alternates) != 0 {
		t.Errorf("spots %v, alternates %q, want the plane White", s.Spots, s.Alternates)
	}
	for _, content := range []string{"0 0 0 1 k", "/W cs 0.5 scn 0 0 0 1 k", "/W cs 1 scn 0 0 72 72 re W n"} { // it is declared, and never painted with
		s = separate(t, spotPage(content+" 0 0 9 9 re n", true), SeparationOptions{Spot: func(string) bool { return false }})
		if len(s.Alternates) != 0 {
			t.Errorf("%s: alternates %q, want none", content, s.Alternates)
		}
	}
}

// Stripes of a pattern are as wide as its cell says, wherever they lie on the pixels: the coverage of each column is worked out from the content.
func TestSeparationsOfTilings(t *testing.T) {
	const ppi, side = 150, 150.0
	tests := []struct {
		name          string
		step, width   float64 // in points
		matrix, paint string
	}{
		{"by rectangle", 5, 2, "[1 0 0 1 0 0]", "0 0 2 5 re f"},
		{"by lines", 3.1, 1.3, "[1 0 0 1 0 0]", "0 0 m 1.3 0 l 1.3 3.1 l 0 3.1 l h f"},
		{"scaled", 4.2, 2.1, "[0.7 0 0 0.7 0 0]", "0 0 3 6 re f"},
		{"turned", 5, 2, "[0 1 -1 0 0 0]", "0 0 5 2 re f"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			step := test.step
			if test.name == "scaled" {
				step = 6
			}
			cell := pdftest.Stream(fmt.Sprintf("/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 %g %g] /XStep %g /YStep %g /Matrix %s /Resources << >>", step, step, step, step, test.matrix),
				"0 0 0 1 k "+test.paint)
			data := onePage(square+"/Resources << /Pattern << /P 5 0 R >> >>", "/Pattern cs /P scn 0 0 72 72 re f", cell)
			s, err := open(t, data).Separations(1, ppi, SeparationOptions{})
			if err != nil {
				t.Fatal(err)
			}
			row := make([]byte, int(side))
			s.Black.Read(row, image.Rect(0, 70, len(row), 71))
			from := 0.0
			if test.name == "turned" { // they run up from the left by -y: [-2, 0] and every step
				from = test.step - test.width
			}
			for x, got := range row {
				want := 0.0
				for left := from - test.step; left < 72+test.step; left += test.step {
					a, b := left*ppi/72, (left+test.width)*ppi/72
					want += max(0, min(b, float64(x+1))-max(a, float64(x)))
				}
				if d := float64(got) - 255*want; d < -3 || d > 3 {
					t.Fatalf("column %d is %d, want %.1f", x, got, 255*want)
				}
			}
		})
	}
}

func TestSeparationsRefused(t *testing.T) {
	whole := onePage(square, "0 g 0 0 9 9 re f")
	tests := map[string][]byte{
		"a trailer without Size, which only the renderer takes": bytes.Replace(whole, []byte("/Size"), []byte("/Lamp"), 1),
		"a colour space that is none":                           onePage(square+"/Resources << /ColorSpace << /X [/Separation /Lantern] >> >>", "/X cs 1 scn 0 0 9 9 re f"),
	}
	for name, data := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := open(t, data).Separations(1, 72, SeparationOptions{})
			if !errors.Is(err, ErrNoSeparations) {
				t.Errorf("error %v, want one that matches ErrNoSeparations", err)
			}
			var fault *raster.Fault
			if !errors.As(err, &fault) || fault.Remedy == "" || bytes.ContainsAny([]byte(err.Error()), "\n") {
				t.Errorf("error %q is not one line with a remedy", err)
			}
		})
	}
	if _, err := open(t, whole).Separations(2, 72, SeparationOptions{}); err == nil {
		t.Error("there is a page 2")
	}
}

// vectorA4 is a page of 210 x 297 mm with 2000 shapes, lines and letters in CMYK, RGB and, if told to, two spot colours and overprint.
func vectorA4(spots, overprint bool) []byte {
	var b strings.Builder
	if overprint {
		b.WriteString("/O gs ")
	}
	for i := range 500 {
		x, y := 20+(i%25)*22, 20+i/25*40
		fmt.Fprintf(&b, "0.%d 0.2 0 0.%d k %d %d m %d %d l %d %d %d %d %d %d c f\n", i%10, i%7, x, y, x+18, y, x+20, y+20, x+9, y+30, x, y+25)
		fmt.Fprintf(&b, "0.%d 0.4 0.7 RG 1.5 w %d %d m %d %d l S\n", i%10, x, y, x+20, y+30)
		fmt.Fprintf(&b, "0 0 0 1 k BT /F 9 Tf %d %d Td (Lantern) Tj ET\n", x, y+10)
		if spots && i%2 == 0 {
			fmt.Fprintf(&b, "/W cs 0.%d scn %d %d 10 10 re f /A cs 1 scn %d %d 4 4 re f\n", i%10, x, y, x+4, y+20)
		}
	}
	const separation = "[/Separation /%s /DeviceCMYK << /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0 0.2 0 0] /N 1 >>] "
	return onePage("/MediaBox [0 0 595.2756 841.8898] /Resources << /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >> "+
		"/ExtGState << /O << /OP true /op true /OPM 1 >> >> /ColorSpace << /W "+fmt.Sprintf(separation, "White")+"/A "+fmt.Sprintf(separation, "Amber")+">> >>", b.String())
}

// BenchmarkSeparations draws an A4 page at 600 pixels per inch, plain and as planes; ns/plane is for one plane.
func BenchmarkSeparations(b *testing.B) {
	cache, err := os.UserCacheDir()
	if err != nil {
		b.Fatal(err)
	}
	if err := start(Options{CacheDir: filepath.Join(cache, "peelcheck")}); err != nil {
		b.Fatal(err)
	}
	for _, kind := range []struct {
		name             string
		spots, overprint bool
	}{{"process", false, false}, {"spots", true, false}, {"overprint", true, true}} {
		data := vectorA4(kind.spots, kind.overprint)
		b.Run(kind.name+"/plain", func(b *testing.B) {
			d := open(b, data)
			for b.Loop() {
				if _, err := d.Page(1, 600); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(kind.name+"/planes", func(b *testing.B) {
			d := open(b, data)
			planes := 0
			for b.Loop() {
				s, err := d.Separations(1, 600, SeparationOptions{})
				if err != nil {
					b.Fatal(err)
				}
				planes += len(processPlanes) + len(s.Spots)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(planes), "ns/plane")
		})
	}
}

// A page drawn together with its planes is the page, and its planes, drawn alone.
func TestPageWithSeparations(t *testing.T) {
	data := spotPage("/W cs 1 scn 0 0 30 72 re f 0.2 0.7 0 0.4 k 20 20 40 30 re f /OC /L BDC 1 0 0 rg 50 5 m 70 60 l 40 70 l f EMC", true)
	pic, own, noSeparations, err := open(t, data).PageWithSeparations(1, 144, SeparationOptions{})
	if err != nil || noSeparations != nil {
		t.Fatal(err, noSeparations)
	}
	page, err := open(t, data).Page(1, 144)
	if err != nil {
		t.Fatal(err)
	}
	alone, err := open(t, data).Separations(1, 144, SeparationOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(pic.Pix.Pix, page.Pix.Pix) || len(own.Spots) != len(alone.Spots) || len(own.Spots) == 0 {
		t.Fatalf("the page differs, or its %d spot colours from %d", len(own.Spots), len(alone.Spots))
	}
	for y := range 144 {
		for x := range 144 {
			if got, want := inks(own, x, y), inks(alone, x, y); !slices.Equal(got, want) {
				t.Fatalf("(%d,%d): %v, want %v", x, y, got, want)
			}
		}
	}
}
