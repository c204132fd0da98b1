package pdfpage

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"peelcheck/raster/pdftest"
)

// layerPage is a page of 72 x 72 points with layers: /L (object 5) is marked as white, /N (6) is not marked, and off names those that are off.
// It knows the spot colours White (/W), Amber (/A) and Zinc (/Z) of one mixture, overprint (/O), half transparency (/Half), and the objects below.
func layerPage(content, off string, more ...string) []byte {
	spaces := fmt.Sprintf("/W "+tint+"/A "+tint+"/Z "+tint, "White", "Amber", "Zinc") +
		"/AW [/DeviceN [/Amber /White] /DeviceCMYK 8 0 R] " +
		"/CW [/DeviceN [/Cyan /White] /DeviceCMYK 8 0 R] /U [/Pattern /DeviceRGB] "
	resources := "/Properties << /L 5 0 R /N 6 0 R /Any << /Type /OCMD /OCGs [6 0 R 5 0 R] >> /One << /Type /OCMD /OCGs 5 0 R /P /AllOn >> " +
		"/Hid << /Type /OCMD /OCGs [5 0 R] /P /AllOff >> /Or << /Type /OCMD /VE [/Or 6 0 R [/And 5 0 R]] >> /Not << /Type /OCMD /VE [/Or 6 0 R [/Not 5 0 R]] >> >> " +
		"/ColorSpace << " + spaces + ">> " +
		"/ExtGState << /O << /OP true /op true >> /Half << /ca 0.5 >> >> /Pattern << /P 15 0 R /Q 16 0 R /S 17 0 R >> /Font << /T 18 0 R >> " +
		"/Shading << /S " + greyShading + " >> " +
		"/XObject << /F 7 0 R /G 9 0 R /I 10 0 R /J 11 0 R /M 12 0 R /B 13 0 R /H 14 0 R >> "
	form := "/Type /XObject /Subtype /Form /BBox [0 0 72 72] "
	picture := "/Type /XObject /Subtype /Image /Width 1 /Height 1 "
	objects := []string{
		"<< /Type /Catalog /Pages 2 0 R /OCProperties << /OCGs [5 0 R 6 0 R] /D << /OFF [" + off + "] >> >> >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /Contents 4 0 R " + square + "/Resources << " + resources + ">> " + strings.Join(more, " ") + " >>",
		pdftest.Stream("", content),
		"<< /Type /OCG /Name (Under the lanterns) /GTS_Metadata << /GTS_ProcStepsGroup /White >> >>",
		"<< /Type /OCG /Name (Notes) >>",
		/* 7, F */ pdftest.Stream(form+"/OC 5 0 R", "1 0 0 0 k 0 0 36 72 re f"),
		/* 8 */ pdftest.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ pop 0 0 0 }"),
		/* 9, G */ pdftest.Stream(form, "0 0 36 72 re f"),
		/* 10, I */ pdftest.Stream(picture+"/OC 5 0 R /BitsPerComponent 8 /ColorSpace /DeviceRGB", "\x33\x66\x99"),
		/* 11, J */ pdftest.Stream(picture+"/BitsPerComponent 8 /ColorSpace [/Indexed /DeviceCMYK 3 <00000000 00000000 00000000 0000ff00>]", "\x03"),
		/* 12, M */ pdftest.Stream(picture+"/OC 5 0 R /ImageMask true /BitsPerComponent 1", "\x00"),
		/* 13, B */ pdftest.Stream(form+"/Resources << /Properties << /L 5 0 R >> >>", "/OC /L BDC 0 0 36 72 re f EMC"),
		/* 14, H */ pdftest.Stream(form+"/Group << /S /Transparency /I true >> /Resources << /Properties << /L 5 0 R >> >>", "/OC /L BDC 0 0 0 0.4 k 0 0 36 72 re f EMC"),
		/* 15, P */ pdftest.Stream("/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9 /Resources << >>", "0 1 0 0 k 0 0 9 9 re f"),
		/* 16, Q */ pdftest.Stream("/PatternType 1 /PaintType 2 /TilingType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9 /Resources << >>", "0 0 9 9 re f"),
		/* 17, S */ "<< /PatternType 2 /Shading " + greyShading + " >>",
		/* 18, T */ "<< /Type /Font /Subtype /Type3 /FontBBox [0 0 72 72] /FontMatrix [1 0 0 1 0 0] /Encoding << /Differences [97 /a /b] >> " +
			"/FirstChar 97 /LastChar 98 /Widths [72 72] /CharProcs << /a 19 0 R /b 7 0 R >> /Resources << >> >>",
		/* 19 */ pdftest.Stream("", "72 0 0 0 72 72 d1 0 0 36 72 re f"),
		/* 20 */ pdftest.Stream(form, "0 1 0 0 k 0 0 36 72 re f"),
	}
	return pdftest.File(objects...)
}

// greyShading is of one grey all over.
const greyShading = "<< /ShadingType 2 /ColorSpace /DeviceGray /Coords [0 0 72 0] /Extend [true true] " +
	"/Function << /FunctionType 2 /Domain [0 1] /C0 [0.4] /C1 [0.4] /N 1 >> >>"

var onlyWhite = SeparationOptions{Spot: func(name string) bool { return name == "White" }}

// What is painted in a layer marked as white lies on full cyan. How a layer is marked is told by the Arlington PDF model (tables
// OptContentGroup and GTS_ProcStepsGroup, which cite ISO 19593-1). That tint 1 is 255 and tint 0.5 is 127, and that a layer in OFF leaves the
// plane empty and cyan full, was measured with Ghostscript 10.00.0 (tiffsep). The darkness of other colours is worked out by hand:
// 1 - (0.3 r + 0.59 g + 0.11 b), ISO 32000-1, 10.3.2, with r = 1 - min(1, c + k) and so on, 10.3.5.
func TestWhiteLayers(t *testing.T) {
	const ground, left = "1 0 0 0 k 0 0 72 72 re f ", " 0 0 36 72 re f "
	in := func(content string) string { return ground + "/OC /L BDC " + content + " EMC" }
	marked := func(name, content string) string { return ground + "/OC /" + name + " BDC " + content + left + " EMC" }
	unit := func(name string) string { return ground + "q 36 0 0 72 0 0 cm 0 g /" + name + " Do Q" }
	white := func(v uint8) []uint8 { return []uint8{255, 0, 0, 0, v} }
	tests := []struct {
		name, content, off, keys string
		want                     []uint8 // cyan, magenta, yellow, black, White
	}{
		{"tint 1 knocks nothing out", in("/W cs 1 scn" + left), "", "", white(255)},
		{"tint 0.5", in("/W cs 0.5 scn" + left), "", "", white(127)},
		{"tint 1, overprinting", in("/O gs /W cs 1 scn" + left), "", "", white(255)},
		{"off", in("/W cs 1 scn" + left), "5 0 R", "", white(0)},
		{"another spot colour by its tint", in("/A cs 0.6 scn" + left), "", "", white(153)},
		{"two spot colours by the stronger", in("/AW cs 0.8 0.2 scn" + left), "", "", white(204)},
		{"cyan with a weak White by its darkness, 0.3", in("/CW cs 1 0.2 scn" + left), "", "", white(77)},
		{"cyan with a strong White", in("/CW cs 1 0.7 scn" + left), "", "", white(179)},
		{"grey 0.4", in("0.4 g" + left), "", "", white(153)},
		{"RGB 0.2 0.4 0.6: 1 - 0.362", in("0.2 0.4 0.6 rg" + left), "", "", white(163)},
		{"RGB white is no ink", in("1 1 1 rg" + left), "", "", white(0)},
		{"magenta 0.5 with black 0.2: 0.2 + 0.59 x 0.5", in("0 0.5 0 0.2 k" + left), "", "", white(126)},
		{"black and magenta are no more than full", in("0 1 0 1 k" + left), "", "", white(255)},
		{"stroke", in("/A CS 0.6 SCN 60 w 0 36 m 72 36 l S"), "", "", white(153)},
		{"colour set before the layer", "/W cs 0.6 scn " + in(left), "", "", white(77)}, // the ground's cyan
		{"spot set before the layer", ground + "/A cs 0.6 scn /OC /L BDC" + left + "EMC", "", "", white(153)},
		{"light on dark", in("/W cs 1 scn" + left + "0.2 scn" + left), "", "", white(51)},
		{"shading", in("/S sh"), "", "", white(153)},
		{"shading pattern", in("/Pattern cs /S scn" + left), "", "", white(153)},
		{"pattern: magenta by its darkness", in("/Pattern cs /P scn" + left), "", "", white(150)},
		{"pattern set before the layer", ground + "/Pattern cs /P scn /OC /L BDC" + left + "EMC", "", "", white(150)},
		{"pattern without colours", in("/U cs 0.2 0.4 0.6 /Q scn" + left), "", "", white(163)},
		{"glyph with the text's colour", in("/A cs 0.6 scn BT /T 1 Tf (a) Tj ET"), "", "", white(153)},
		{"table of CMYK: yellow 0.11", in("q 36 0 0 72 0 0 cm /J Do Q"), "", "", white(28)},
		{"inline image", in("q 36 0 0 72 0 0 cm BI /W 1 /H 1 /BPC 8 /CS /G ID \x66 EI Q"), "", "", white(153)},
		{"form within the layer, grey inherited", in("0.4 g /G Do"), "", "", white(153)},

		{"form with OC", ground + "/F Do", "", "", white(77)},
		{"form with OC, off", ground + "/F Do", "5 0 R", "", white(0)},
		{"image with OC", unit("I"), "", "", white(163)},
		{"image with OC, off", unit("I"), "5 0 R", "", white(0)},
		{"stencil with OC", unit("M"), "", "", white(255)},
		{"annotation with OC", ground, "", "/Annots [<< /Type /Annot /Subtype /Stamp /F 4 /Rect [0 0 72 72] /OC 5 0 R /AP << /N 20 0 R >> >>]", white(150)},
		{"annotation with OC, off", ground, "5 0 R", "/Annots [<< /Type /Annot /Subtype /Stamp /F 4 /Rect [0 0 72 72] /OC 5 0 R /AP << /N 20 0 R >> >>]", white(0)},
		{"annotation whose form has OC", ground, "", "/Annots [<< /Type /Annot /Subtype /Stamp /F 4 /Rect [0 0 72 72] /AP << /N 7 0 R >> >>]", white(77)},
		{"annotation whose form has OC, off", ground, "5 0 R", "/Annots [<< /Type /Annot /Subtype /Stamp /F 4 /Rect [0 0 72 72] /AP << /N 7 0 R >> >>]", white(0)},
		{"annotation without OC", ground, "", "/Annots [<< /Type /Annot /Subtype /Stamp /F 4 /Rect [0 0 72 72] /AP << /N 20 0 R >> >>]", []uint8{0, 255, 0, 0, 0}},

		{"membership, any on", marked("Any", "0.4 g"), "", "", white(153)},
		{"membership, any on, the white one off", marked("Any", "0.4 g"), "5 0 R", "", white(153)},
		{"membership, any on, all off", marked("Any", "0.4 g"), "5 0 R 6 0 R", "", white(0)},
		{"membership of one", marked("One", "0.4 g"), "", "", white(153)},
		{"membership of one, off", marked("One", "0.4 g"), "5 0 R", "", white(0)},
		{"shown when the layer is off: not in it", marked("Hid", "0.4 g"), "5 0 R", "", []uint8{0, 0, 0, 153, 0}},
		{"expression", marked("Or", "0.4 g"), "", "", white(153)},
		{"expression that negates", marked("Not", "0.4 g"), "", "", []uint8{0, 0, 0, 153, 0}},

		{"layer within a layer that is not white", ground + "/OC /N BDC /OC /L BDC 0.4 g" + left + "EMC EMC", "", "", white(153)},
		{"layer within one that is off", ground + "/OC /N BDC /OC /L BDC 0.4 g" + left + "EMC EMC", "6 0 R", "", white(0)},
		{"other marks within", in("/OC /N BDC /Span BMC 0.4 g" + left + "EMC EMC"), "", "", white(153)},
		{"after marks within", in("/OC /N BDC EMC /Span << /MCID 0 >> BDC EMC 0.4 g" + left), "", "", white(153)},
		{"layer within itself", in("/OC /L BDC EMC 0.4 g" + left), "", "", white(153)},
		{"after the layer", ground + "/OC /L BDC EMC 0.4 g" + left, "", "", []uint8{0, 0, 0, 153, 0}},
		{"after the layer, with its colour", ground + "/OC /L BDC /A cs 0.6 scn EMC 1 scn" + left, "", "", []uint8{0, 128, 0, 0, 0}},
		{"form after the layer, with its colour", ground + "/OC /L BDC 0 0 0 0.6 k EMC /G Do", "", "", []uint8{0, 0, 0, 153, 0}},
		{"state restored within the layer", ground + "/OC /L BDC q 0 g Q EMC" + left, "", "", []uint8{255, 0, 0, 0, 0}},
		{"one end too many", ground + "EMC /OC /L BDC 0.4 g" + left + "EMC EMC", "", "", white(153)},
		{"form with a layer, colour inherited", ground + "0.4 g /B Do", "", "", white(153)},
		{"spot inherited by a form with a layer", ground + "/A cs 0.6 scn /B Do", "", "", white(153)},
		{"same form in the layer and out", ground + "0.4 g /G Do 1 0 0 0 k /G Do /OC /L BDC 0 0 0 1 k /G Do EMC", "", "", white(255)},
		{"layer in an isolated group", ground + "/H Do", "", "", white(102)},
		{"image of a layer, and outside of it", ground + "q 36 0 0 72 0 0 cm /OC /L BDC /J Do EMC Q q 36 0 0 72 36 0 cm /J Do Q", "", "", white(28)},
		{"what is painted on the layer knocks it out", in("0 g"+left) + " 0 0 1 0 k" + left, "", "", []uint8{0, 0, 255, 0, 0}},
		{"and leaves it alone under overprint", in("0 g"+left) + " /O gs /A cs 1 scn" + left, "", "", []uint8{0, 128, 0, 0, 255}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s := separate(t, layerPage(test.content, test.off, test.keys), onlyWhite)
			checkInks(t, inks(s, 18, 36), test.want...)
			if !slices.Equal(s.WhiteLayers, []string{"Under the lanterns"}) || len(s.Notes) != 0 {
				t.Errorf("layers of white %q, notes %q", s.WhiteLayers, s.Notes)
			}
			if s.Spots[0].Name != "White" || len(s.Spots) != 1 {
				t.Errorf("spots %v", s.Spots)
			}
		})
	}
}

// A spot colour that only layers of white use is not one without a plane.
func TestWhiteLayerAlternates(t *testing.T) {
	for content, want := range map[string][]string{
		"/OC /L BDC /A cs 0.6 scn 0 0 36 72 re f EMC":                             nil,
		"/OC /L BDC q /A cs 0.6 scn 0 0 36 72 re f Q EMC 0 g 36 0 36 72 re f":     nil,
		"/OC /L BDC /A cs 0.6 scn 0 0 36 72 re f EMC 36 0 36 72 re f":             {"Amber"},
		"/OC /L BDC /Pattern cs /S scn 0 0 36 72 re f EMC":                        nil,
		"/A cs 1 scn 36 0 36 72 re f /OC /L BDC /A cs 0.6 scn 0 0 36 72 re f EMC": {"Amber"},
	} {
		s := separate(t, layerPage(content, ""), onlyWhite)
		if !slices.Equal(s.Alternates, want) {
			t.Errorf("%s: alternates %q, want %q", content, s.Alternates, want)
		}
	}
}

// What is marked wrongly, or only named so, is an ordinary layer, and the person is told.
func TestWhiteLayersIrregular(t *testing.T) {
	const content = "1 0 0 0 k 0 0 72 72 re f /OC /X BDC 0.4 g 0 0 36 72 re f EMC"
	for layer, note := range map[string]string{
		"6 0 R":                                 `the layer "Typed" is marked as white in a wrong way (the mark of white has a type`,
		"7 0 R":                                 `the layer "Misplaced" is marked as white in a wrong way (the mark is not in the place`,
		"8 0 R":                                 `the layer "white" is white by its name, but nothing in the file marks it as white`,
		"10 0 R":                                `the layer "Unlisted" is marked as white in a wrong way (the file's list of layers leaves it out`,
		"9 0 R":                                 "",
		"<< /Type /OCMD /OCGs [9 0 R 6 0 R] >>": `the layer "Typed" is marked`,
		"<< /Type /OCMD /OCGs [9 0 R] /GTS_Metadata << /GTS_ProcStepsGroup /White >> >>": "", // the mark counts on groups alone
		"<< /MCID 0 >>": "",
	} {
		data := pdftest.File(
			"<< /Type /Catalog /Pages 2 0 R /OCProperties << /OCGs [5 0 R 6 0 R 7 0 R 8 0 R 9 0 R] /D << >> >> >>",
			"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
			"<< /Type /Page /Parent 2 0 R /Contents 4 0 R "+square+"/Resources << /Properties << /X "+layer+" >> >> >>",
			pdftest.Stream("", content),
			"<< /Type /OCG /Name (On no page) /GTS_Metadata << /GTS_ProcStepsGroup /White >> >>",
			"<< /Type /OCG /Name (Typed) /GTS_Metadata << /GTS_ProcStepsGroup /White /GTS_ProcStepsType /Cutting >> >>",
			"<< /Type /OCG /Name (Misplaced) /GTS_ProcStepsGroup /White >>",
			"<< /Type /OCG /Name (white) /GTS_Metadata << /GTS_ProcStepsGroup /Varnish >> >>",
			"<< /Type /OCG /Name (Notes) >>",
			"<< /Type /OCG /Name (Unlisted) /GTS_Metadata << /GTS_ProcStepsGroup /White >> >>",
		)
		s := separate(t, data, SeparationOptions{})
		checkInks(t, inks(s, 18, 36), 0, 0, 0, 153)
		told := strings.Join(s.Notes, "; ")
		if s.WhiteLayers != nil || (note == "") != (told == "") || !strings.HasPrefix(told, note) || strings.ContainsAny(told, "\n") {
			t.Errorf("layer %s: layers of white %q, notes %q, want %q", layer, s.WhiteLayers, told, note)
		}
	}
}

// White is drawn by itself where it would share a drawing with two other spot colours, and where a page is drawn in RGB: red under blue of half
// the opacity is 0.5 0 0.5, which is 0 0.5 0 0.5 by ISO 32000-1, 10.3.4; grey 0.4 of half the opacity lays down half of 0.6.
func TestWhiteLayerAmongOthers(t *testing.T) {
	const left = " 0 0 36 72 re f "
	s := separate(t, layerPage("/A cs 1 scn"+left+"/O gs /Z cs 0.5 scn"+left+"/OC /L BDC 0.4 g"+left+"EMC", ""), SeparationOptions{})
	checkInks(t, inks(s, 18, 36), 0, 0, 0, 0, 255, 153, 128)
	checkInks(t, inks(s, 54, 36), 0, 0, 0, 0, 0, 0, 0)
	s = separate(t, layerPage("1 0 0 rg 0 0 72 72 re f /Half gs 0 0 1 rg"+left+"/OC /L BDC 0.4 g"+left+"EMC", "", "/Group << /S /Transparency /CS /DeviceRGB >>"), onlyWhite)
	checkInks(t, inks(s, 18, 36), 0, 128, 0, 128, 77)
	checkInks(t, inks(s, 54, 36), 0, 255, 255, 0, 0)
}

// A page of RGB alone has colours of ink if a layer of white is on it.
func TestWhiteLayerIsInk(t *testing.T) {
	opt := SeparationOptions{Spot: func(string) bool { return false }, InkOnly: true}
	s := separate(t, layerPage("1 0 0 rg 0 0 72 72 re f /OC /L BDC 0 0 0 rg 0 0 36 72 re f EMC", ""), opt)
	if s == nil {
		t.Fatal("no planes")
	}
	checkInks(t, inks(s, 18, 36), 0, 255, 255, 0, 255)
}
