package pdfcolour

import (
	"slices"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// Every place that can name a colorant names one of its own; forms, patterns and fonts lead back to each other.
func TestColorants(t *testing.T) {
	spot := func(name string) string { return "[/Separation /" + name + " /DeviceGray 20 0 R]" }
	image := func(space string) string {
		return stream("/Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace "+space, []byte("x"))
	}
	objects := []string{
		/* 10 */ "<< /ColorSpace << /B 11 0 R /A " + spot("InPage") + " /C [/Indexed " + spot("InTable") + " 0 <00>] /D [/Pattern " + spot("UnderPattern") + "] /E 11 0 R >>" +
			" /XObject << /F 12 0 R /I 13 0 R >> /Pattern << /P 14 0 R /S 15 0 R >> /Shading << /S << /ShadingType 2 /ColorSpace " + spot("InShading") + " >> >>" +
			" /ExtGState << /G << /SMask << /S /Luminosity /G 16 0 R >> >> >> /Font << /T 17 0 R >> >>",
		/* 11 */ "[/DeviceN [/Cyan /First#20Of#20Two /None /Second] /DeviceGray 20 0 R]",
		/* 12 */ stream("/Subtype /Form /Resources << /XObject << /Self 12 0 R /I 18 0 R >> /ColorSpace << /S "+spot("InForm")+" >> >>", nil),
		/* 13 */ image(spot("InImage")),
		/* 14 */ stream("/PatternType 1 /Resources << /Pattern << /Self 14 0 R >> /ColorSpace << /S "+spot("InPattern")+" >> >>", nil),
		/* 15 */ "<< /PatternType 2 /Shading << /ShadingType 2 /ColorSpace " + spot("InShadingPattern") + " >> >>",
		/* 16 */ stream("/Subtype /Form /Resources << /ColorSpace << /S "+spot("InSoftMask")+" >> >>", nil),
		/* 17 */ "<< /Subtype /Type3 /Resources << /ColorSpace << /S " + spot("InFont") + " >> /Font << /T 17 0 R >> >> /CharProcs << /a 19 0 R >> >>",
		/* 18 */ image(spot("InFormsImage")),
		/* 19 */ stream("/Resources << /ColorSpace << /S "+spot("InGlyph")+" >> >>", nil),
		/* 20 */ "<< /FunctionType 2 /Domain [0 1] /N 1 >>",
		/* 21 */ stream("/Subtype /Form /Resources << /ColorSpace << /S "+spot("InAppearance")+" >> >>", nil),
		/* 22 */ stream("/Subtype /Form /Resources << /ColorSpace << /S "+spot("InState")+" /All "+spot("All")+" /Black "+spot("Black")+" >> >>", nil),
	}
	data := pdf("/Resources 10 0 R /Annots [<< /AP << /N 21 0 R >> >> << /AP << /N << /On 22 0 R /Off 22 0 R >> >> >> null]", objects...)
	x := open(t, data)
	page, err := x.DereferenceDict(*types.NewIndirectRef(3, 0))
	if err != nil {
		t.Fatal(err)
	}
	got, err := Colorants(x, page)
	want := strings.Fields("InPage First_Of_Two Second InTable UnderPattern InForm InFormsImage InImage InPattern InShadingPattern InShading InSoftMask InFont InGlyph InAppearance InState")
	for i := range want {
		want[i] = strings.ReplaceAll(want[i], "_", " ")
	}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %q, %v\nwant %q", got, err, want)
	}
}

// Resources may stand in a node above the page; a page tree that leads back to itself ends.
func TestColorantsInherited(t *testing.T) {
	for parent, want := range map[string]int{"10 0 R": 1, "11 0 R": 0} {
		x := open(t, pdf("", "<< /Type /Pages /Parent 12 0 R >>", "<< /Type /Pages /Parent 11 0 R >>", "<< /Resources << /ColorSpace << /S [/Separation /Gold /DeviceGray null] >> >> >>"))
		got, err := Colorants(x, object(t, "<< /Type /Page /Parent "+parent+" >>").(types.Dict))
		if err != nil || len(got) != want {
			t.Errorf("parent %s: got %q, %v, want %d", parent, got, err, want)
		}
	}
}
