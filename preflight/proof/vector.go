package proof

import (
	"fmt"
	"image"
	"image/color"
	"slices"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"peelcheck/preflight/internal/pdfobject"
)

// vectorPage takes what a canvas would paint as the content of a PDF page instead, in the canvas's pixels with y growing down.
type vectorPage struct {
	strings.Builder
	fonts *pdfFonts
}

func (v *vectorPage) operator(name string, numbers ...float64) {
	pdfobject.Operator(&v.Builder, name, numbers...)
}

func (v *vectorPage) colour(name string, k color.RGBA) {
	v.operator(name, float64(k.R)/255, float64(k.G)/255, float64(k.B)/255)
}

func (v *vectorPage) rect(r image.Rectangle) {
	v.operator("re", float64(r.Min.X), float64(r.Min.Y), float64(r.Dx()), float64(r.Dy()))
}

func (v *vectorPage) fill(r image.Rectangle, k color.RGBA) {
	if r.Empty() {
		return
	}
	v.colour("rg", k)
	v.rect(r)
	v.operator("f")
}

func (v *vectorPage) polygon(k color.RGBA, pts []pointF) {
	v.colour("rg", k)
	for i, p := range pts {
		name := "l"
		if i == 0 {
			name = "m"
		}
		v.operator(name, p.x, p.y)
	}
	v.operator("h")
	v.operator("f")
}

// outline strokes the boxes of one level as the canvas paints them, the largest first.
func (v *vectorPage) outline(o *outlines, fill color.RGBA, d dash, clip image.Rectangle) {
	v.operator("q")
	v.rect(clip)
	v.operator("W")
	v.operator("n")
	for _, boxes := range slices.Backward(o.byClass[:]) {
		v.strokes(boxes, white, linePx+2*boxHaloPx, dash{1, 1, white})
		if d.on < d.step {
			v.strokes(boxes, d.between, linePx, dash{1, 1, white})
		}
		v.strokes(boxes, fill, linePx, d)
	}
	v.operator("Q")
}

func (v *vectorPage) strokes(boxes []image.Rectangle, k color.RGBA, width float64, d dash) {
	if len(boxes) == 0 {
		return
	}
	v.colour("RG", k)
	v.operator("w", width)
	if d.on < d.step {
		fmt.Fprintf(v, "[%d %d] 0 d\n", d.on, d.step-d.on)
	} else {
		v.WriteString("[] 0 d\n")
	}
	for _, b := range boxes {
		v.rect(b.Inset(-linePx / 2))
		v.operator("S")
	}
}

// write sets one line whose baseline begins at x, y; all its letters are drawable.
func (v *vectorPage) write(f *typeface, st typeStyle, x, y int, k color.RGBA, s string) {
	own := v.fonts.of(st.bold)
	var run strings.Builder
	for _, r := range s {
		if id, err := f.font.GlyphIndex(&f.buf, r); err == nil && id != 0 {
			own.used[id] = r
			fmt.Fprintf(&run, "%04x", uint16(id))
		}
	}
	if run.Len() > 0 {
		v.colour("rg", k)
		fmt.Fprintf(v, "BT /%s %d Tf 1 0 0 -1 %d %d Tm <%s> Tj ET\n", own.name, st.px, x, y, run.String())
	}
}

// pdfFonts are the two weights of the proof's font, embedded whole.
type pdfFonts struct{ regular, bold *pdfFont }

type pdfFont struct {
	name, full string
	ttf        []byte
	font       *opentype.Font
	ref        types.IndirectRef
	used       map[sfnt.GlyphIndex]rune
}

func newPDFFonts(w *pdfobject.Writer) *pdfFonts {
	return &pdfFonts{
		regular: &pdfFont{"R", "GoRegular", goregular.TTF, fonts()[0], w.Reserve(), map[sfnt.GlyphIndex]rune{}},
		bold:    &pdfFont{"B", "Go-Bold", gobold.TTF, fonts()[1], w.Reserve(), map[sfnt.GlyphIndex]rune{}},
	}
}

func (p *pdfFonts) of(bold bool) *pdfFont {
	if bold {
		return p.bold
	}
	return p.regular
}

// resources are the fonts as a page names them.
func (p *pdfFonts) resources() types.Dict {
	return types.Dict{p.regular.name: p.regular.ref, p.bold.name: p.bold.ref}
}

// write writes both fonts, once all text is set.
func (p *pdfFonts) write(w *pdfobject.Writer) error {
	for _, f := range []*pdfFont{p.regular, p.bold} {
		if err := f.write(w); err != nil {
			return fmt.Errorf("proof: the built-in font cannot be embedded (bug): %w", err)
		}
	}
	return nil
}

// emUnits is the em of glyph space (ISO 32000-1, 9.2.4).
const emUnits = 1000

// write writes a Type 0 font with its TrueType program; codes are glyph numbers (ISO 32000-1, 9.7.4 and 9.7.5.2).
func (f *pdfFont) write(w *pdfobject.Writer) error {
	var buf sfnt.Buffer
	box, err := f.font.Bounds(&buf, fixed.I(emUnits), font.HintingNone)
	if err != nil {
		return err
	}
	m, err := f.font.Metrics(&buf, fixed.I(emUnits), font.HintingNone)
	if err != nil {
		return err
	}
	widths, err := f.widths(&buf)
	if err != nil {
		return err
	}
	integer := func(v fixed.Int26_6) types.Integer { return types.Integer(v.Round()) }
	descriptor := w.Add(types.Dict{
		"Type": types.Name("FontDescriptor"), "FontName": types.Name(f.full), "Flags": types.Integer(4),
		"FontBBox": types.Array{integer(box.Min.X), integer(-box.Max.Y), integer(box.Max.X), integer(-box.Min.Y)},
		"Ascent":   integer(m.Ascent), "Descent": integer(-m.Descent), "CapHeight": integer(m.CapHeight),
		"ItalicAngle": types.Integer(0), "StemV": types.Integer(80),
		"FontFile2": w.AddFlate(types.Dict{"Length1": types.Integer(len(f.ttf))}, string(f.ttf)),
	})
	descendant := w.Add(types.Dict{
		"Type": types.Name("Font"), "Subtype": types.Name("CIDFontType2"), "BaseFont": types.Name(f.full),
		"CIDSystemInfo":  types.Dict{"Registry": types.StringLiteral("Adobe"), "Ordering": types.StringLiteral("Identity"), "Supplement": types.Integer(0)},
		"FontDescriptor": descriptor, "W": widths, "CIDToGIDMap": types.Name("Identity"),
	})
	w.Object(f.ref, types.Dict{
		"Type": types.Name("Font"), "Subtype": types.Name("Type0"), "BaseFont": types.Name(f.full), "Encoding": types.Name("Identity-H"),
		"DescendantFonts": types.Array{descendant}, "ToUnicode": w.AddFlate(types.Dict{}, f.toUnicode()),
	})
	return w.Err()
}

func (f *pdfFont) glyphs() []sfnt.GlyphIndex {
	list := make([]sfnt.GlyphIndex, 0, len(f.used))
	for id := range f.used {
		list = append(list, id)
	}
	slices.Sort(list)
	return list
}

func (f *pdfFont) widths(buf *sfnt.Buffer) (types.Array, error) {
	out := types.Array{}
	for _, id := range f.glyphs() {
		w, err := f.font.GlyphAdvance(buf, id, fixed.I(emUnits), font.HintingNone)
		if err != nil {
			return nil, err
		}
		out = append(out, types.Integer(id), types.Array{types.Float(float64(w) / 64)})
	}
	return out, nil
}

// toUnicode maps glyphs back to characters (ISO 32000-1, 9.10.3), so that the words can be searched and copied.
func (f *pdfFont) toUnicode() string {
	var b strings.Builder
	b.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n" +
		"1 begincodespacerange\n<0000> <ffff>\nendcodespacerange\n")
	const most = 100 // entries of one block
	for part := range slices.Chunk(f.glyphs(), most) {
		fmt.Fprintf(&b, "%d beginbfchar\n", len(part))
		for _, id := range part {
			fmt.Fprintf(&b, "<%04x> <%x>\n", uint16(id), types.EncodeUTF16String(string(f.used[id]))[2:])
		}
		b.WriteString("endbfchar\n")
	}
	b.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n")
	return b.String()
}
