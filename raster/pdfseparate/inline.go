package pdfseparate

import (
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
	data := s.InlineData(d, func() int { return c.components(d) })
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

// components is how many numbers a colour of an inline image's space has, 0 if that cannot be told.
func (c *content) components(d types.Dict) int {
	space, err := c.lens().colours.Space(d["ColorSpace"], c.scope.resources)
	if err != nil {
		return 0
	}
	return space.Components()
}
