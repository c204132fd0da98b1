package pdfseparate

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"peelcheck/raster/pdfcolour"
)

// marked is a page whose layer /L ISO 19593-1 marks as white, as the Arlington PDF model has it.
func marked(keys string, content ...string) []byte {
	return pageUnder("/OCProperties << /OCGs [16 0 R] /D << >> >>", "/GTS_Metadata << /GTS_ProcStepsGroup /White >>", keys, content...)
}

// What is painted in a layer of white is left out of the other planes: neither drawn nor knocked out. Colours that are set in it hold after it.
func TestRewriteWhiteLayer(t *testing.T) {
	tests := []struct {
		name, content, cyan, white string
	}{
		{"paths", "/OC /L BDC 0 0 0 1 k 0 0 9 9 re f EMC", "/OC /L BDC\n1 g\n1 G\nEMC\n", "/OC /L BDC\n0 g\n0 G\n0 0 9 9 re\nf\nEMC\n"},
		{"after it", "/OC /L BDC 1 0 0 0 k EMC 0 0 9 9 re f", "/OC /L BDC\nEMC\n0 g\n1 G\n0 0 9 9 re\nf\n", "/OC /L BDC\nEMC\n1 g\n1 G\n0 0 9 9 re\nf\n"},
		{"clips and states stay", "/OC /L BDC q 0 0 9 9 re W n 2 w Q EMC", "/OC /L BDC\nq\n1 g\n1 G\n0 0 9 9 re\nW\nn\n2 w\nQ\nEMC\n", "/OC /L BDC\nq\n0 g\n0 G\n0 0 9 9 re\nW\nn\n2 w\nQ\nEMC\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			for _, plane := range []struct {
				group pdfcolour.Group
				want  string
			}{{cyan, test.cyan}, {white, test.white}} {
				if diff := cmp.Diff(plane.want, contentOf(t, rewrite(t, marked("", test.content), plane.group))); diff != "" {
					t.Errorf("planes %v (-want +got)\n%s", plane.group, diff)
				}
			}
		})
	}
}

// A plane to which such a layer alone gives ink is not drawn, and a group that has White with other planes cannot show it.
func TestWhiteLayerFlags(t *testing.T) {
	const inside, outside = "/OC /L BDC 0 0 0 1 k 0 0 9 9 re f EMC", "0 0 0 1 k 0 0 9 9 re f"
	tests := []struct {
		content       string
		group         pdfcolour.Group
		blank, splits bool
		cmyk          bool
	}{
		{inside, black, true, false, false},
		{inside, white, false, false, false},
		{inside, pdfcolour.Group{2, 3, 4}, false, true, false},
		{outside, black, false, false, true},
		{outside, white, true, false, true},
		{outside, pdfcolour.Group{2, 3, 4}, false, false, true},
	}
	for _, test := range tests {
		p := rewrite(t, marked("", test.content), test.group)
		if p.Blank != test.blank || p.Splits != test.splits || p.CMYK != test.cmyk {
			t.Errorf("%q, planes %v: Blank %v, Splits %v, CMYK %v", test.content, test.group, p.Blank, p.Splits, p.CMYK)
		}
	}
	drawn := "/Annots [<< /Type /Annot /Subtype /Square /Rect [0 0 9 9] /C [0] /OC 16 0 R >>]"
	for _, test := range []struct {
		group  pdfcolour.Group
		annots int
		splits bool
	}{{black, 0, false}, {white, 1, false}, {pdfcolour.Group{2, 3, 4}, 1, true}} {
		p := rewrite(t, marked(drawn), test.group)
		ctx := read(t, p.PDF)
		d, _, _, err := ctx.PageDict(1, false)
		if err != nil {
			t.Fatal(err)
		}
		if got := len(d.ArrayEntry("Annots")); got != test.annots || p.Splits != test.splits {
			t.Errorf("planes %v: %d annotations, Splits %v", test.group, got, p.Splits)
		}
	}
}

// The page that does not paint in a layer of white is rewritten as if there were none.
func TestWhiteLayerElsewhere(t *testing.T) {
	const content = "/M gs /A Do /B Do /Pattern cs /P scn 0 0 9 9 re f BT /T 9 Tf (ab) Tj ET /W cs 0.5 scn 0 0 9 9 re f"
	for _, group := range []pdfcolour.Group{cyan, black, cmy} {
		with, without := contentOf(t, rewrite(t, marked("", content), group)), contentOf(t, rewrite(t, page("", content), group))
		if diff := cmp.Diff(without, with); diff != "" {
			t.Errorf("planes %v (-without +with)\n%s", group, diff)
		}
	}
}

// A visibility expression that holds itself nine times is given up, not followed for ever.
func TestLayersOfThemselves(t *testing.T) {
	kept := common[7]
	defer func() { common[7] = kept }()
	common[7] = "[/Or " + strings.Repeat("12 0 R ", 9) + "]"
	data := pageUnder("/OCProperties << /OCGs [16 0 R] >>", "/GTS_Metadata << /GTS_ProcStepsGroup /White >>",
		"/Annots [<< /Type /Annot /Subtype /Square /Rect [0 0 9 9] /OC << /Type /OCMD /VE 12 0 R >> >>]")
	ctx := read(t, data)
	if l, err := LayersOf(ctx.XRefTable, 1); err == nil {
		t.Errorf("layers %v", l)
	}
	if _, err := Rewrite(ctx.XRefTable, 1, pdfcolour.NewReader(ctx.XRefTable, allNames, pdfcolour.Curves{}), allNames, white); err == nil {
		t.Error("the page is rewritten")
	}
}
