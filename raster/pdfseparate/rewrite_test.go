package pdfseparate

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster/pdfcolour"
	"peelcheck/raster/pdftest"
)

var allNames = pdfcolour.Planes{"Cyan", "Magenta", "Yellow", "Black", "White"}

var (
	cyan  = pdfcolour.Group{0}
	black = pdfcolour.Group{3}
	white = pdfcolour.Group{4}
	cmy   = pdfcolour.Group{0, 1, 2}
)

// resources are those of every page here.
const resources = "/ColorSpace << /W [/Separation /White /DeviceCMYK 5 0 R] /U [/Pattern /DeviceCMYK] >> " +
	"/ExtGState << /O << /OP true /op true >> /O1 << /OP true /op true /OPM 1 >> /F << /OP true /op false >> /N << /OP false /op false >> " +
	"/M << /SMask << /S /Luminosity /G 6 0 R >> /BM /Multiply /ca 0.5 >> /D << /BM /Difference >> /L 18 0 R /H << /ca 0.5 /CA 0.2 >> >> " +
	"/XObject << /A 7 0 R /B 8 0 R /Self 9 0 R /K 17 0 R >> /Pattern << /P 10 0 R /Q 11 0 R /R 20 0 R >> /Font << /T 12 0 R /H 15 0 R >> " +
	"/Properties << /L 16 0 R /E << /MCID 1 >> >> "

// common are objects 5 and following.
var common = []string{
	"<< /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0 0.5 0 0] /N 1 >>",
	stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Group << /S /Transparency /CS /DeviceRGB >>", "1 0 0 rg 0 0 9 9 re f"),
	stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Group << /S /Transparency /CS /DeviceCMYK /I true >>", "0 0 9 9 re f"),
	stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /XObject << /A 7 0 R >> >>", "0 0 0 0.5 k 0 0 9 9 re f /A Do"),
	stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /XObject << /Self 9 0 R >> >>", "1 0 0 rg 0 0 9 9 re f /Self Do"),
	stream("/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9 /Resources << >>", "1 0 0 0 k 0 0 4 4 re f"),
	stream("/PatternType 1 /PaintType 2 /TilingType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9 /Resources << >>", "1 0 0 rg 0 0 4 4 re f"),
	"<< /Type /Font /Subtype /Type3 /FontBBox [0 0 9 9] /FontMatrix [1 0 0 1 0 0] /Encoding << /Differences [97 /a /b] >> " +
		"/FirstChar 97 /LastChar 98 /Widths [9 9] /CharProcs << /a 13 0 R /b 14 0 R >> /Resources << >> >>",
	stream("", "9 0 0 0 9 9 d1 0 0 1 rg 0 0 4 4 re f"),
	stream("", "9 0 d0 0 0 9 9 re f 1 0 0 0 k 0 0 4 4 re f"),
	"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
	"<< /Type /OCG /Name (Lanterns) >>",
	stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Group << /S /Transparency /K true >> /Resources << /ExtGState << /M << /BM /Multiply >> >> >>", "/M gs 0 0 9 9 re f"),
	"<< /SMask << /S /Luminosity /G 19 0 R >> >>",
	stream("/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Group << /S /Transparency /CS /DeviceRGB >> /Resources << /ExtGState << /L 18 0 R >> >>", "/L gs 0 0 9 9 re f"),
	stream("/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 .01 .01] /XStep .01 /YStep .01 /Resources << >>", "1 0 0 0 k 0 0 4 4 re f"),
}

func stream(dict, content string) string {
	return fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(content), content)
}

// page is a file of one page; its content is one stream or several.
func page(keys string, content ...string) []byte { return pageUnder("", "", keys, content...) }

// pageUnder also puts keys into the catalog and into the layer L, which is object 16.
func pageUnder(catalog, layer, keys string, content ...string) []byte {
	objects := []string{"<< /Type /Catalog /Pages 2 0 R " + catalog + " >>", "<< /Type /Pages /Kids [3 0 R] /Count 1 >>", "", ""}
	objects = append(objects, common...)
	objects[16-1] = "<< /Type /OCG /Name (Lanterns) " + layer + " >>"
	var refs []string
	for _, c := range content {
		objects = append(objects, stream("", c))
		refs = append(refs, fmt.Sprintf("%d 0 R", len(objects)))
	}
	objects[2] = fmt.Sprintf("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 72 72] /Resources << %s >> /Contents [%s] %s >>", resources, strings.Join(refs, " "), keys)
	objects[3] = "null"
	return pdftest.File(objects...)
}

var withoutConfig = sync.OnceFunc(api.DisableConfigDir)

func read(t testing.TB, data []byte) *model.Context {
	t.Helper()
	withoutConfig()
	conf := model.NewDefaultConfiguration()
	conf.Offline = true
	ctx, err := api.ReadContext(bytes.NewReader(data), conf)
	if err == nil {
		err = ctx.EnsurePageCount()
	}
	if err != nil {
		t.Fatal(err)
	}
	return ctx
}

func rewrite(t testing.TB, data []byte, group pdfcolour.Group) Page {
	t.Helper()
	ctx := read(t, data)
	p, err := Rewrite(ctx.XRefTable, 1, pdfcolour.NewReader(ctx.XRefTable, allNames, pdfcolour.Curves{}), allNames, group)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// contentOf is the content of the page of a rewritten file.
func contentOf(t testing.TB, p Page) string {
	t.Helper()
	ctx := read(t, p.PDF)
	d, _, _, err := ctx.PageDict(1, false)
	if err != nil {
		t.Fatal(err)
	}
	content, err := ctx.PageContent(d, 1)
	if err != nil {
		t.Fatal(err)
	}
	return string(content)
}

// streams are the streams of a rewritten file for which a key of the dictionary has a value.
func streams(t testing.TB, p Page, key, value string) []types.StreamDict {
	t.Helper()
	ctx := read(t, p.PDF)
	var out []types.StreamDict
	for nr := range *ctx.XRefTable.Size {
		o, err := ctx.Dereference(*types.NewIndirectRef(nr, 0))
		if err != nil {
			t.Fatal(err)
		}
		if sd, ok := o.(types.StreamDict); ok && sd.Dict[key] != nil && sd.Dict[key].PDFString() == value {
			if err := sd.Decode(); err != nil {
				t.Fatal(err)
			}
			out = append(out, sd)
		}
	}
	return out
}

// Clauses and tables are those of ISO 32000-1:2008. A line of want is an operator.
func TestRewrite(t *testing.T) {
	const box = "0 0 9 9 re"
	tests := []struct {
		name, content string
		group         pdfcolour.Group
		want          string
	}{
		{"black is black", box + " f 0 0 0 1 k " + box + " f", black, "0 g|0 G|" + box + "|f|" + box + "|f"},
		{"black knocks out cyan", "0 0 0 1 k " + box + " f", cyan, "1 g|1 G|" + box + "|f"},
		{"10.3.4: the clause's RGB .2 .7 .4 has c .8, less k .3", "0.2 0.7 0.4 rg " + box + " f", cyan, "0.5 g|1 G|" + box + "|f"},
		{"10.3.4: its k is .3", "0.2 0.7 0.4 rg " + box + " f", black, "0.7 g|0 G|" + box + "|f"},
		{"10.3.3: grey is black alone", "0.25 g " + box + " f", black, "0.25 g|0 G|" + box + "|f"},
		{"three planes as RGB", "0.1 0.2 0.3 0.4 k 1 0 0 0 K " + box + " B", cmy, "0.9 0.8 0.7 rg|0 1 1 RG|" + box + "|B"},
		{"8.6.6.4: a Separation begins with tint 1", "/W cs " + box + " f", white, "0 g|1 G|" + box + "|f"},
		{"its tint", "/W cs 0.5 scn " + box + " f", white, "0.5 g|1 G|" + box + "|f"},
		{"8.4.2: Q brings the colour back", "0 0 0 0.5 k q 0 0 0 0.2 k " + box + " f Q " + box + " f", black,
			"q|0.8 g|0 G|" + box + "|f|Q|0.5 g|0 G|" + box + "|f"},
		{"Q without q", "Q Q " + box + " f", black, "0 g|0 G|" + box + "|f"},
		{"8.6.7: overprinting leaves other planes alone", "/O gs /W cs 1 scn " + box + " f", cyan, "1 g|1 G"},
		{"8.6.7: op is for all but strokes", "/F gs /W cs 1 scn 0.5 0 0 0 K " + box + " B", cyan, "1 g|0.5 G|" + box + "|B"},
		{"8.6.7: fill left alone, stroke painted", "/O gs /W cs 1 scn 0.5 0 0 0 K " + box + " b*", cyan, "1 g|0.5 G|" + box + "|s"},
		{"8.6.7: OPM 0 paints zeros", "/O gs 0 0 1 0 k " + box + " f", cyan, "1 g|1 G|" + box + "|f"},
		{"8.6.7: OPM 1 leaves zeros alone", "/O1 gs 0 0 1 0 k " + box + " f", cyan, "1 g|1 G"},
		{"8.6.7: and only in DeviceCMYK", "/O1 gs 0 1 1 rg 0 g " + box + " f", cyan, "1 g|1 G|" + box + "|f"},
		{"8.5.4: the path clips all the same", "/O gs /W cs 1 scn " + box + " W n " + box + " W f", cyan, "1 g|1 G|" + box + "|W|n|" + box + "|W|n"},
		{"Table 106: of fill, stroke and clip the fill goes", "BT /H 9 Tf 6 Tr /O gs /W cs (a) Tj ET", cyan, "BT|1 G|/F2 9 Tf|5 Tr|(a) Tj|ET"},
		{"Table 106: nothing is left to see", "BT /H 9 Tf /O gs /W cs (a) Tj ET", cyan, "BT|/F2 9 Tf|3 Tr|(a) Tj|ET"},
		{"unknown operators and stray brackets", "] >> ) 1 2 zz } " + box + " f", black, "0 g|0 G|" + box + "|f"},
		{"8.11.3.2: optional content", "/OC /L BDC /E /E BDC " + box + " f EMC EMC", black, "/OC /L BDC|/Mark BMC|0 g|0 G|" + box + "|f|EMC|EMC"},
		{"comments and strings", "% 1 0 0 rg\n BT (\\) 1 0 0 rg \\( (k)) Tj ET", black, "BT|0 g|0 Tr|(\\) 1 0 0 rg \\( (k)) Tj|ET"},
		{"strokes keep clear of what the renderer takes for a pattern", "0 0 0 0.25 K 0 0 m 9 9 l S", black, "0 g|0.75 0.75 0.75294 RG|0 0 m|9 9 l|S"},
		{"too few operands", "1 0 k 0.5 scn " + box + " f", black, "0.5 g|0 G|" + box + "|f"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := strings.Split(strings.TrimSpace(contentOf(t, rewrite(t, page("", test.content), test.group))), "\n")
			want := strings.Split(test.want, "|")
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("want -, got +\n%s", diff)
			}
		})
	}
}

// The streams of Contents are one: an operator's operands may stand in the stream before it (7.8.2).
func TestContentsJoined(t *testing.T) {
	got := contentOf(t, rewrite(t, page("", "0 0 0 0.4", "k 0 0 9 9", "re f"), black))
	if want := "0.6 g\n0 G\n0 0 9 9 re\nf\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// A form takes over the colour that is current where it is painted (8.10.1), so it is rewritten for each; one that sets its own is not.
func TestFormsByState(t *testing.T) {
	p := rewrite(t, page("", "0 0 0 1 k /A Do /A Do 0 0 0 0.2 k /A Do q 1 0 0 0 k /B Do Q /B Do 0 0 0 1 k /A Do"), black)
	var got []string
	for _, sd := range streams(t, p, "Subtype", "/Form") {
		got = append(got, strings.ReplaceAll(string(sd.Content), "\n", " "))
		if g := sd.Dict.DictEntry("Group"); g != nil && g["CS"] != types.Name("DeviceGray") {
			t.Errorf("the group blends in %v, want DeviceGray", g["CS"])
		}
	}
	slices.Sort(got)
	want := []string{ // A in black, in 0.2, and from within B in 0.5; B once
		"0 g 0 G 0 0 9 9 re f ", "0.5 g 0 G 0 0 9 9 re f ", "0.5 g 0 G 0 0 9 9 re f 0 Tr /X", "0.8 g 0 G 0 0 9 9 re f ",
	}
	if len(got) != len(want) {
		t.Fatalf("%d forms, want %d: %q", len(got), len(want), got)
	}
	for i := range want {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("form %q, want %q", got[i], want[i])
		}
	}
}

// The colours of a soft mask's group stay as they are: it says how much shows, not what is printed (11.6.5.3).
func TestSoftMaskStays(t *testing.T) {
	p := rewrite(t, page("", "/M gs 0 0 9 9 re f"), black)
	forms := streams(t, p, "Subtype", "/Form")
	if len(forms) != 1 || string(forms[0].Content) != "1 0 0 rg 0 0 9 9 re f" || forms[0].Dict.DictEntry("Group")["CS"] != types.Name("DeviceRGB") {
		t.Errorf("got %v, want the mask's group as it was", forms)
	}
}

// A form within itself is not painted again.
func TestFormOfItself(t *testing.T) {
	forms := streams(t, rewrite(t, page("", "/Self Do"), cyan), "Subtype", "/Form")
	if len(forms) != 1 || strings.Contains(string(forms[0].Content), "Do") {
		t.Errorf("got %v, want one form that paints no form", forms)
	}
}

// An uncoloured pattern takes the colour it is used with (8.7.3.3) and ignores its own; a coloured one has its own.
func TestPatterns(t *testing.T) {
	p := rewrite(t, page("", "/U cs 0 0 0 0.4 /Q scn 0 0 9 9 re f /Pattern CS /P SCN 0 0 9 9 re S"), black)
	var got []string
	for _, sd := range streams(t, p, "PaintType", "1") {
		got = append(got, string(sd.Content))
	}
	slices.Sort(got)
	const clip, square = "0.005 0.005 8.99 8.99 re W n\n", "0 0 4 4 re\n0 0 m 0 0 l\nf\n" // see cell.go
	if diff := cmp.Diff([]string{clip + "0.6 g\n0.6 G\n" + square, clip + "1 g\n0 G\n" + square}, got); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
}

// A glyph that begins with d1 takes the text's colour, one with d0 has its own and begins with the text's (9.6.5).
func TestGlyphs(t *testing.T) {
	glyphs := func(content string, group pdfcolour.Group) []string {
		var got []string
		ctx := read(t, rewrite(t, page("", content), group).PDF)
		for nr := range *ctx.XRefTable.Size {
			o, _ := ctx.Dereference(*types.NewIndirectRef(nr, 0))
			if sd, ok := o.(types.StreamDict); ok && sd.Decode() == nil && bytes.Contains(sd.Content, []byte(" d")) {
				got = append(got, strings.ReplaceAll(string(sd.Content), "\n", " "))
			}
		}
		return got
	}
	const text = "BT /T 9 Tf (ab) Tj ET"
	tests := []struct {
		name, content string
		group         pdfcolour.Group
		want          []string
	}{
		{"tint", "0 0 0 0.4 k " + text, black, []string{"9 0 0 0 9 9 d1 0 0 4 4 re 0 0 m 0 0 l f ", "9 0 d0 0.6 g 0 G 0 0 9 9 re 0 0 m 0 0 l f 1 g 0 0 4 4 re 0 0 m 0 0 l f "}},
		{"overprint", "/O gs /W cs " + text, black, []string{"9 0 0 0 9 9 d1 ", "9 0 d0 1 g 0 G 0 0 4 4 re 0 0 m 0 0 l f "}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if diff := cmp.Diff(test.want, glyphs(test.content, test.group)); diff != "" {
				t.Errorf("want -, got +\n%s", diff)
			}
		})
	}
}

// The data of an inline image may hold what looks like its end (8.9.7).
func TestInlineImage(t *testing.T) {
	const data = "a EI b EI c\x00\xff\x80EI"
	tests := map[string]string{
		"by its size":    "BI /W 16 /H 1 /BPC 8 /CS /G ID " + data + "\nEI",
		"by what is not": "BI /W 16 /H 1 /BPC 8 /CS /G /F [/AHx] ID " + fmt.Sprintf("%x", data) + ">\nEI",
	}
	for name, content := range tests {
		t.Run(name, func(t *testing.T) {
			p := rewrite(t, page("", "q "+content+" Q 0 0 0 0.3 k 0 0 9 9 re f"), black)
			if got := contentOf(t, p); !strings.HasSuffix(got, "Do\nQ\n0.7 g\n0 G\n0 0 9 9 re\nf\n") {
				t.Errorf("content %q", got)
			}
			images := streams(t, p, "Subtype", "/Image")
			if len(images) != 1 || string(images[0].Content) != data {
				t.Errorf("images %q, want one with %q", images, data)
			}
		})
	}
}

// Three planes in one drawing show no object that paints some of them and leaves others alone.
func TestSplits(t *testing.T) {
	tests := []struct {
		content string
		group   pdfcolour.Group
		want    bool
	}{
		{"0 0 1 0 k 0 0 9 9 re f", cmy, false},
		{"/O gs 0 0 1 0 k 0 0 9 9 re f", cmy, false},
		{"/O1 gs 0 0 1 0 k 0 0 9 9 re f", cmy, true},
		{"/O1 gs 0 0 1 0 k 0 0 9 9 re f", cyan, false},
		{"/O1 gs 0 0 0 1 k 0 0 9 9 re f", cmy, false},
		{"/O gs /W cs 0 0 9 9 re f", cmy, false},
	}
	for _, test := range tests {
		if got := rewrite(t, page("", test.content), test.group).Splits; got != test.want {
			t.Errorf("%v of %q: Splits is %v, want %v", test.group, test.content, got, test.want)
		}
	}
}

func TestFlags(t *testing.T) {
	rgb := "/Group << /S /Transparency /CS /DeviceRGB >>"
	tests := []struct {
		keys, content        string
		blends, blank, inRGB bool
	}{
		{"", "0 0 0 1 k 0 0 9 9 re f", false, true, false},
		{"", "0 1 0 0 k 0 0 9 9 re f", false, false, false},
		{"", "/D gs 0 0 0 1 k 0 0 9 9 re f", true, false, false},
		{"", "/M gs 1 0 0 rg 0 0 9 9 re f", false, false, false},
		{rgb, "/M gs 1 0 0 rg 0 0 9 9 re f", false, false, true},
		{rgb, "1 0 0 rg 0 0 9 9 re f", false, false, false},
		{rgb, "/M gs 0 1 0 0 k 0 0 9 9 re f", false, false, false},
	}
	for _, test := range tests {
		p := rewrite(t, page(test.keys, test.content), cmy)
		if p.Blends != test.blends || p.Blank != test.blank || p.InRGB != test.inRGB {
			t.Errorf("%s %q: Blends %v, Blank %v, InRGB %v", test.keys, test.content, p.Blends, p.Blank, p.InRGB)
		}
	}
}

// What was read is not changed, and what is written is the same each time.
func TestSourceKept(t *testing.T) {
	ctx := read(t, page("", "/M gs /A Do /B Do /Pattern cs /P scn 0 0 9 9 re f BT /T 9 Tf (ab) Tj ET"))
	all := func() string {
		var b strings.Builder
		for nr := range *ctx.XRefTable.Size {
			o, _ := ctx.Dereference(*types.NewIndirectRef(nr, 0))
			fmt.Fprintf(&b, "%d %v\n", nr, o)
			if sd, ok := o.(types.StreamDict); ok {
				b.Write(sd.Raw)
			}
		}
		return b.String()
	}
	before := all()
	var first []byte
	for range 3 {
		p, err := Rewrite(ctx.XRefTable, 1, pdfcolour.NewReader(ctx.XRefTable, allNames, pdfcolour.Curves{}), allNames, cmy)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = p.PDF
		}
		if !bytes.Equal(first, p.PDF) {
			t.Error("two rewritings differ")
		}
	}
	if after := all(); before != after {
		t.Errorf("the file that was read changed:\n%s", cmp.Diff(before, after))
	}
}

// In an isolated group, what overprints leaves the plane's colour within the group alone, but hides what lies below it (11.7.4.3; the same
// with Ghostscript 10.00.0).
func TestOverprintInIsolatedGroup(t *testing.T) {
	p := rewrite(t, page("", "/O1 gs 0 0 0 1 k /A Do"), cyan)
	forms := streams(t, p, "Subtype", "/Form")
	if len(forms) != 1 {
		t.Fatalf("%d forms, want 1", len(forms))
	}
	got := strings.ReplaceAll(string(forms[0].Content), "\n", " ")
	if !strings.HasPrefix(got, "1 g 1 G 0 0 9 9 re /E") || !strings.Contains(got, " gs 1 g f /E") {
		t.Errorf("got %q, want the path painted white between two graphics states", got)
	}
	modes := 0
	ctx := read(t, p.PDF)
	for nr := range *ctx.XRefTable.Size {
		if d, _ := ctx.DereferenceDict(*types.NewIndirectRef(nr, 0)); d != nil && (d["BM"] == types.Name("Multiply") || d["BM"] == types.Name("Normal")) {
			modes++
		}
	}
	if modes != 2 {
		t.Errorf("%d graphics states that blend, want Multiply and Normal", modes)
	}
}

// B(b, 1) of Multiply is b (11.3.5.2): on the page such paint without ink is left out, in a group it covers, and other blend modes tell it from
// nothing.
func TestMultiplyWithoutInk(t *testing.T) {
	tests := []struct {
		name, content string
		group         pdfcolour.Group
		want          bool // painted
	}{
		{"no ink", "/M gs /W cs 0.5 scn 0 0 9 9 re f", cmy, false},
		{"ink", "/M gs /W cs 0.5 scn 0 0 9 9 re f", white, true},
		{"image", "/M gs BI /W 1 /H 1 /BPC 8 /CS /W ID x\nEI", cmy, false},
		{"image with ink", "/M gs BI /W 1 /H 1 /BPC 8 /CS /W ID x\nEI", white, true},
		{"Normal", "/W cs 0.5 scn 0 0 9 9 re f", cmy, true},
		{"another blend mode after it", "/M gs /W cs 0.5 scn 0 0 9 9 re f /D gs 0 0 1 1 re f", cmy, true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := contentOf(t, rewrite(t, page("", test.content), test.group))
			if painted := strings.Contains(got, "0 0 9 9 re\nf\n") || strings.Contains(got, " Do\n"); painted != test.want {
				t.Errorf("painted is %v, want %v: %q", painted, test.want, got)
			}
		})
	}
	for _, sd := range streams(t, rewrite(t, page("", "/W cs 0.5 scn /K Do"), cmy), "Subtype", "/Form") {
		if !strings.Contains(string(sd.Content), "0 0 9 9 re\nf\n") {
			t.Errorf("in a group: %q", sd.Content)
		}
	}
}

// What had to be assumed is said, each thing once; what is in order is not spoken of.
func TestNotes(t *testing.T) {
	tests := []struct{ content, want string }{
		{"/A Do /B Do /M gs 0 0 9 9 re f", ""},
		{"/Self Do /Self Do", "draws itself"},
		{"1 0 0 rg 1 0 rg 9 re f", "lacks some of its numbers"},
		{"/W cs scn", "lacks some of its numbers"},
		{"/K Do", "each should hide"},
		{"/L gs 0 0 9 9 re f", "soft mask refers to itself"},
		{"/H gs /Pattern CS /P SCN 0 0 9 9 re S", ""},
		{"/H gs /Pattern CS /P SCN 0 0 9 9 re B", "as transparent as what it surrounds"},
		{"/Pattern cs /R scn 0 0 9 9 re f", "moved to whole pixels"},
	}
	for _, test := range tests {
		notes := rewrite(t, page("", test.content), black).Notes
		if len(notes) > 1 || (test.want == "") != (len(notes) == 0) || test.want != "" && !strings.Contains(notes[0], test.want) {
			t.Errorf("%q: notes %q, want one with %q", test.content, notes, test.want)
		}
	}
}

func TestRewriteRefuses(t *testing.T) {
	ctx := read(t, page("", "f"))
	reader := pdfcolour.NewReader(ctx.XRefTable, allNames, pdfcolour.Curves{})
	for _, test := range []struct {
		page  int
		group pdfcolour.Group
		want  string
	}{
		{1, pdfcolour.Group{0, 1}, "a group of 2 planes"},
		{1, pdfcolour.Group{5}, "plane 5 is not one of 5"},
		{2, black, "page 2 cannot be found"},
	} {
		_, err := Rewrite(ctx.XRefTable, test.page, reader, allNames, test.group)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("page %d, group %v: error %v, want %q", test.page, test.group, err, test.want)
		}
	}
	deep := page("", strings.Repeat("q ", mostSaved+1))
	ctx = read(t, deep)
	if _, err := Rewrite(ctx.XRefTable, 1, reader, allNames, black); err == nil || !strings.Contains(err.Error(), "too often") {
		t.Errorf("%d times q: error %v", mostSaved+1, err)
	}
}

// FuzzContent wants any content to be rewritten, and what came of it for black to be for black what it is already.
func FuzzContent(f *testing.F) {
	for _, seed := range []string{
		"0 0 0 0.5 k 0 0 9 9 re f", "q /O1 gs 0.2 0.7 0.4 rg 0 0 m 9 9 l b* Q", "BT /T 9 Tf 7 Tr [(a) -3 <62>] TJ ET", "/U cs 0 0 0 0.4 /Q scn 0 0 9 9 re B",
		"BI /W 1 /H 1 /BPC 8 /CS /G ID x\nEI", "/OC /L BDC /A Do EMC /M gs /Self Do", "<< /a [ ( ] >> scn ' \" W n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, content string) {
		ctx := read(t, page("", "f"))
		once := rewriteContent(t, ctx, content)
		if twice := rewriteContent(t, ctx, once); plain(once) && once != twice {
			t.Errorf("%q became %q and then %q", content, once, twice)
		}
	})
}

// plain reports whether content names no resources, which have other names in each file.
func plain(content string) bool { return !strings.Contains(content, "/") }

func rewriteContent(t *testing.T, ctx *model.Context, content string) string {
	t.Helper()
	reader := pdfcolour.NewReader(ctx.XRefTable, allNames, pdfcolour.Curves{})
	r := newRewriter(ctx.XRefTable, reader, allNames, black)
	start, err := r.initialState()
	if err != nil {
		t.Fatal(err)
	}
	d, _, _, err := ctx.PageDict(1, false)
	if err != nil {
		t.Fatal(err)
	}
	c := r.newContent(r.newScope(r.Dict(d["Resources"])), start)
	c.run([]byte(content))
	return string(c.buf)
}
