package pdfseparate

import (
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster/pdfcontent"
)

// inlineImage makes an image of its own of one in the content stream; s stands after BI.
func (c *content) inlineImage(s *pdfcontent.Scanner) {
	d, ok := s.InlineDict()
	if !ok {
		return
	}
	if n, ok := d["ColorSpace"].(types.Name); ok {
		if o := c.find("ColorSpace", string(n)); o != nil {
			d["ColorSpace"] = o
		}
	}
	data := s.InlineData(d, func() int { return c.rawLength(d) })
	length := int64(len(data))
	sd := types.NewStreamDict(d, 0, &length, nil, c.filters(d))
	sd.Raw = data
	if !c.passes() {
		c.paintImage(sd, 0)
	}
}

func (c *content) filters(d types.Dict) []types.PDFFilter {
	names, parms := c.Array(d["Filter"]), c.Array(d["DecodeParms"])
	if n, ok := d["Filter"].(types.Name); ok {
		names, parms = types.Array{n}, types.Array{d["DecodeParms"]}
	}
	var out []types.PDFFilter
	for i, n := range names {
		f := types.PDFFilter{Name: c.Name(n)}
		if i < len(parms) {
			f.DecodeParms = c.Dict(parms[i])
		}
		out = append(out, f)
	}
	return out
}

// rawLength is the length of an image that is not packed, 0 if it cannot be told.
func (c *content) rawLength(d types.Dict) int {
	w, _ := c.Number(d["Width"])
	h, _ := c.Number(d["Height"])
	bits, n := 1.0, 1
	if b, ok := d["ImageMask"].(types.Boolean); !ok || !bool(b) {
		bits, _ = c.Number(d["BitsPerComponent"])
		space, err := c.lens().colours.Space(d["ColorSpace"], c.scope.resources)
		if err != nil {
			return 0
		}
		n = space.Components()
	}
	length := math.Ceil(w*bits*float64(n)/8) * h
	if !(length > 0 && length < mostBytes) {
		return 0
	}
	return int(length)
}
