package pdffacts

import (
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
	"peelcheck/raster/pdfcontent"
)

const mmPerInch = 25.4

// image notes a picture where the current matrix puts its unit square (8.9.5); named is empty for one in the content.
func (r *run) image(named string, sd types.StreamDict, member *layer) {
	d := sd.Dict
	b := r.ctm.rectangle(0, 0, 1, 1)
	if !b.any || !r.ctm.finite() {
		return
	}
	r.painted(b)
	member.paint(b.meet(r.clip))
	mask := r.Bool(d["ImageMask"])
	if mask {
		r.overprinted(b, r.fill, r.overFill)
	}
	w, okW := r.Number(d["Width"])
	h, okH := r.Number(d["Height"])
	if !okW || !okH || !(w >= 1 && h >= 1 && w <= 1e6 && h <= 1e6) || len(r.facts.Images) >= mostFacts {
		return
	}
	if b = r.visible(b); !b.any || member != nil && !member.prints {
		return
	}
	flat := false
	if isSwatch(w, h) {
		r.operators += int(w*h) / pixelsPerOperator
		flat = r.isFlat(sd, r.components(d["ColorSpace"]))
	}
	r.facts.Images = append(r.facts.Images, raster.FactImage{
		Name: named, Inline: named == "", Box: b.fact(), WidthPx: int(w), HeightPx: int(h), Mask: mask,
		PPIX: perInch(w, math.Hypot(r.ctm.a, r.ctm.b)), PPIY: perInch(h, math.Hypot(r.ctm.c, r.ctm.d)),
		Mirrored: r.ctm.determinant() > 0, // places count downwards
		Flat:     flat,
	})
}

// perInch is 0 for a picture of no length.
func perInch(pixels, mm float64) float64 {
	if !(mm > 0) {
		return 0
	}
	return pixels * mmPerInch / mm
}

// inlineImage handles BI; the scanner stands after it.
func (r *run) inlineImage(s *pdfcontent.Scanner) {
	d, ok := s.InlineDict()
	if !ok {
		return
	}
	data := s.InlineData(d, func() int { return r.components(d["ColorSpace"]) })
	r.image("", types.StreamDict{Dict: d, Raw: data, FilterPipeline: inlineFilters(d)}, nil)
}

// components is how many numbers a colour of a space of inline images has (8.9.7), 0 if unknown.
func (r *run) components(o types.Object) int {
	if named := r.find("ColorSpace", r.Name(o)); named != nil {
		o = named
	}
	family := r.Name(o)
	if a := r.Array(o); len(a) > 0 {
		family = r.Name(a[0])
		if family == "ICCBased" && len(a) > 1 {
			n, _ := r.Number(r.Dict(a[1])["N"])
			return int(n)
		}
		if family == "DeviceN" && len(a) > 1 {
			return len(r.Array(a[1]))
		}
	}
	switch family {
	case "DeviceGray", "CalGray", "Indexed", "Separation":
		return 1
	case "DeviceRGB", "CalRGB", "Lab":
		return 3
	case "DeviceCMYK":
		return 4
	}
	return 0
}

// inlineFilters are those of an inline image; with parameters they are not undone.
func inlineFilters(d types.Dict) (list []types.PDFFilter) {
	names, _ := d["Filter"].(types.Array)
	if n, ok := d["Filter"].(types.Name); ok {
		names = types.Array{n}
	}
	for _, o := range names {
		name, _ := o.(types.Name)
		if d["DecodeParms"] != nil {
			name = ""
		}
		list = append(list, types.PDFFilter{Name: string(name)})
	}
	return list
}
