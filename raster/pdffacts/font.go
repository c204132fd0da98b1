package pdffacts

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	corefont "github.com/pdfcpu/pdfcpu/pkg/font"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
	"peelcheck/raster/pdfvalue"
)

// font is a font as far as facts ask. Lengths are shares of its size.
type font struct {
	fact                                      raster.FactFont
	composite                                 bool
	codes                                     *codeMap // of a composite font; nil for two bytes a code
	widths                                    map[int]float64
	missing                                   float64
	core                                      string // one of the standard 14, whose widths the file need not give
	toUnicode                                 map[int]string
	differences                               map[int]string
	ascent, descent, xHeight, capHeight, stem float64
}

// font reads a font, the same object only once; nil for what is none.
func (d *Document) font(o types.Object) *font {
	nr := pdfvalue.NumberOf(o)
	if f, ok := d.fonts[nr]; ok && nr > 0 {
		return f
	}
	dict := d.Dict(o)
	if dict == nil {
		return nil
	}
	f := d.readFont(dict)
	if nr > 0 {
		d.fonts[nr] = f
	}
	return f
}

func (d *Document) readFont(dict types.Dict) *font {
	f := &font{ascent: 0.75, descent: -0.25, missing: 0.5}
	own, kind := dict, d.Name(dict["Subtype"])
	if kind == "Type0" {
		f.composite = true
		if list := d.Array(dict["DescendantFonts"]); len(list) > 0 {
			own = d.Dict(list[0])
		}
		f.codes = d.codeMap(dict["Encoding"])
	}
	f.fact.Name, f.fact.Subset = withoutTag(d.Name(dict["BaseFont"]))
	descriptor := d.Dict(own["FontDescriptor"])
	f.fact.Kind = d.kindOf(own, descriptor)
	f.fact.Embedded = kind == "Type3" || descriptor["FontFile"] != nil || descriptor["FontFile2"] != nil || descriptor["FontFile3"] != nil
	if corefont.IsCoreFont(f.fact.Name) {
		f.core = f.fact.Name
	}
	f.toUnicode = d.unicodeMap(dict["ToUnicode"])
	f.differences = d.differencesOf(dict["Encoding"])
	d.readMetrics(f, descriptor)
	switch {
	case kind == "Type3":
		d.readType3(f, dict)
	case f.composite:
		d.readCIDWidths(f, own)
	default:
		d.readWidths(f, dict, descriptor)
	}
	return f
}

// withoutTag takes the tag of a subset off a name (9.6.4): six capitals and a plus sign.
func withoutTag(name string) (string, bool) {
	if tag, rest, ok := strings.Cut(name, "+"); ok && len(tag) == 6 && strings.ToUpper(tag) == tag {
		return rest, true
	}
	return name, false
}

// kindOf says what kind of font it is, by the program embedded where there is one.
func (d *Document) kindOf(own, descriptor types.Dict) string {
	kind := d.Name(own["Subtype"])
	program := d.Name(d.Dict(descriptor["FontFile3"])["Subtype"])
	switch {
	case program == "CIDFontType0C":
		return "CID Type 0C"
	case kind == "CIDFontType0":
		return "CID Type 0"
	case kind == "CIDFontType2":
		return "CID TrueType"
	case program == "Type1C" && kind != "TrueType":
		return "Type 1C"
	case kind == "Type1" || kind == "MMType1":
		return "Type 1"
	case kind == "Type3":
		return "Type 3"
	}
	return kind
}

// readWidths reads those of a simple font (9.2.4).
func (d *Document) readWidths(f *font, dict, descriptor types.Dict) {
	first, _ := d.Number(dict["FirstChar"])
	f.widths = map[int]float64{}
	for i, w := range d.Numbers(dict["Widths"]) {
		f.widths[int(first)+i] = w / 1000
	}
	if w, ok := d.Number(descriptor["MissingWidth"]); ok && len(f.widths) > 0 {
		f.missing = w / 1000
	}
}

// readCIDWidths reads those of 9.7.4.3.
func (d *Document) readCIDWidths(f *font, own types.Dict) {
	f.widths, f.missing = map[int]float64{}, 1
	if w, ok := d.Number(own["DW"]); ok {
		f.missing = w / 1000
	}
	list := d.Array(own["W"])
	const mostCodes = 1 << 16
	for i := 0; i+1 < len(list); {
		first, _ := d.Number(list[i])
		if each := d.Array(list[i+1]); each != nil {
			for k, w := range d.Numbers(each) {
				f.widths[int(first)+k] = w / 1000
			}
			i += 2
			continue
		}
		if i+2 >= len(list) {
			return
		}
		last, _ := d.Number(list[i+1])
		w, _ := d.Number(list[i+2])
		for c := int(first); c <= int(math.Min(last, mostCodes)) && first >= 0; c++ {
			f.widths[c] = w / 1000
		}
		i += 3
	}
}

// readType3 reads widths and heights in the font's own units (9.6.5).
func (d *Document) readType3(f *font, dict types.Dict) {
	m := d.Numbers(dict["FontMatrix"])
	if len(m) != 6 {
		m = []float64{0.001, 0, 0, 0.001, 0, 0}
	}
	first, _ := d.Number(dict["FirstChar"])
	f.widths, f.missing = map[int]float64{}, 0
	for i, w := range d.Numbers(dict["Widths"]) {
		f.widths[int(first)+i] = w * math.Hypot(m[0], m[1])
	}
	if b := d.Numbers(dict["FontBBox"]); len(b) == 4 && b[3] > b[1] {
		f.descent, f.ascent = b[1]*m[3], b[3]*m[3]
	}
	f.xHeight, f.capHeight, f.stem = 0, 0, 0
}

// next is the code at the beginning of a string and its length in bytes.
func (f *font) next(codes []byte) (code, n int) {
	switch {
	case !f.composite:
		return int(codes[0]), 1
	case f.codes != nil:
		return f.codes.next(codes)
	case len(codes) == 1:
		return int(codes[0]), 1
	}
	return int(codes[0])<<8 | int(codes[1]), 2
}

func (f *font) width(code int) float64 {
	if w, ok := f.widths[code]; ok {
		return w
	}
	if f.core != "" {
		if w, err := corefont.CharWidth(f.core, rune(code)); err == nil && code < 256 {
			return float64(w) / 1000
		}
	}
	return f.missing
}

// fontIndex is where a font stands among those of the page.
func (w *walker) fontIndex(f *font) int {
	at, ok := w.fontAt[f]
	if !ok {
		at = len(w.facts.Fonts)
		w.fontAt[f] = at
		w.facts.Fonts = append(w.facts.Fonts, f.fact)
	}
	return at
}

// listFonts notes the fonts that a page's resources name, those of forms, patterns and appearances included, used or not.
func (w *walker) listFonts(resources types.Dict, annotations types.Object) {
	seen := map[int]bool{}
	w.fontsIn(resources, seen, 0)
	for _, o := range w.Array(annotations) {
		if sd, ok := w.appearance(w.Dict(o)); ok {
			w.fontsIn(w.Dict(sd.Dict["Resources"]), seen, 0)
		}
	}
}

func (w *walker) fontsIn(resources types.Dict, seen map[int]bool, depth int) {
	if resources == nil || depth > mostDepth {
		return
	}
	fonts := w.Dict(resources["Font"])
	for _, name := range slices.Sorted(maps.Keys(fonts)) {
		if f := w.font(fonts[name]); f != nil {
			w.fontIndex(f)
		}
	}
	for _, category := range []string{"XObject", "Pattern"} {
		list := w.Dict(resources[category])
		for _, name := range slices.Sorted(maps.Keys(list)) {
			nr := pdfvalue.NumberOf(list[name])
			if nr > 0 && seen[nr] {
				continue
			}
			seen[nr] = true
			w.fontsIn(w.Dict(w.Dict(list[name])["Resources"]), seen, depth+1)
		}
	}
}

// readMetrics takes the heights of letters from the font's own program, or else from what the file says of the font, or from the metrics of
// the standard fonts.
func (d *Document) readMetrics(f *font, descriptor types.Dict) {
	share := func(key string) float64 {
		v, _ := d.Number(descriptor[key])
		return v / 1000
	}
	if a, b := share("Ascent"), share("Descent"); a > 0 && a < 3 && b > -3 {
		f.ascent, f.descent = a, -math.Abs(b)
	}
	own := programHeights(d.program(descriptor))
	known := coreHeights[f.core]
	f.xHeight = cmp.Or(own.x, share("XHeight"), known.x, 0.7*share("CapHeight"), 0.5)
	f.capHeight = cmp.Or(own.capital, share("CapHeight"), known.capital, 0.7)
	f.stem = cmp.Or(own.stem, share("StemV"), known.stem)
}

func (d *Document) program(descriptor types.Dict) []byte {
	for _, key := range []string{"FontFile2", "FontFile3"} {
		if data := d.unpacked(descriptor[key]); data != nil {
			return data
		}
	}
	return nil
}
