package pdfseparate

import (
	"bytes"
	"compress/zlib"
	"io"
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// longKeys and longNames write out the abbreviations of inline images (ISO 32000-1, Tables 93 and 94).
var (
	longKeys = map[string]string{
		"BPC": "BitsPerComponent", "CS": "ColorSpace", "D": "Decode", "DP": "DecodeParms", "F": "Filter", "H": "Height",
		"IM": "ImageMask", "I": "Interpolate", "W": "Width",
	}
	longSpaces  = map[string]string{"G": "DeviceGray", "RGB": "DeviceRGB", "CMYK": "DeviceCMYK", "I": "Indexed"}
	longFilters = map[string]string{
		"AHx": "ASCIIHexDecode", "A85": "ASCII85Decode", "LZW": "LZWDecode", "Fl": "FlateDecode", "RL": "RunLengthDecode",
		"CCF": "CCITTFaxDecode", "DCT": "DCTDecode",
	}
)

// inlineImage makes an image of its own of one in the content stream; s stands after BI.
func (c *content) inlineImage(s *scanner) {
	d, ok := inlineDict(s)
	if !ok {
		return
	}
	c.spellOut(d)
	start := min(s.at+1, len(s.data)) // one white space parts ID from the data
	data, end := c.inlineData(d, s.data[start:])
	s.at = start + end
	length := int64(len(data))
	sd := types.NewStreamDict(d, 0, &length, nil, c.filters(d))
	sd.Raw = data
	if !c.passes() {
		c.paintImage(sd, 0)
	}
}

// inlineDict reads up to ID.
func inlineDict(s *scanner) (types.Dict, bool) {
	d := types.Dict{"Type": types.Name("XObject"), "Subtype": types.Name("Image")}
	for {
		key := s.next()
		switch {
		case key.kind == ended:
			return nil, false
		case key.kind == word && string(key.raw) == "ID":
			return d, true
		case key.kind != name:
			continue
		}
		named := key.name()
		if long, ok := longKeys[named]; ok {
			named = long
		}
		d[named] = s.next().object(0)
	}
}

// spellOut writes out names of filters and colour spaces, and puts in colour spaces of the resources.
func (c *content) spellOut(d types.Dict) {
	rename := func(o types.Object, long map[string]string) types.Object {
		if n, ok := o.(types.Name); ok && long[string(n)] != "" {
			return types.Name(long[string(n)])
		}
		return o
	}
	for key, long := range map[string]map[string]string{"ColorSpace": longSpaces, "Filter": longFilters} {
		d[key] = rename(d[key], long)
		if a, ok := d[key].(types.Array); ok {
			for i := range a {
				a[i] = rename(a[i], long)
			}
		}
		if d[key] == nil {
			delete(d, key)
		}
	}
	if n, ok := d["ColorSpace"].(types.Name); ok {
		if o := c.find("ColorSpace", string(n)); o != nil {
			d["ColorSpace"] = o
		}
	}
}

func (c *content) filters(d types.Dict) []types.PDFFilter {
	names, parms := c.array(d["Filter"]), c.array(d["DecodeParms"])
	if n, ok := d["Filter"].(types.Name); ok {
		names, parms = types.Array{n}, types.Array{d["DecodeParms"]}
	}
	var out []types.PDFFilter
	for i, n := range names {
		f := types.PDFFilter{Name: c.name(n)}
		if i < len(parms) {
			f.DecodeParms = c.dict(parms[i])
		}
		out = append(out, f)
	}
	return out
}

// inlineData finds the end of the data, which the file does not give, and how far EI reaches.
func (c *content) inlineData(d types.Dict, data []byte) (image []byte, end int) {
	length := 0
	switch filters := c.filters(d); {
	case len(filters) == 0:
		length = c.rawLength(d)
	case filters[0].Name == "FlateDecode":
		length = zlibLength(data)
	}
	if length > 0 && length <= len(data) {
		rest := scanner{data: data, at: length}
		if t := rest.next(); string(t.raw) == "EI" {
			return data[:length], rest.at
		}
	}
	for at := 0; ; {
		found := bytes.Index(data[at:], []byte("EI"))
		if found < 0 {
			return data, len(data)
		}
		at += found
		if (at == 0 || isWhite(data[at-1])) && looksLikeContent(data[at+2:]) {
			return data[:max(0, at-1)], at + 2
		}
		at += 2
	}
}

// looksLikeContent tells the rest of a content stream from the middle of picture data that happens to hold EI.
func looksLikeContent(rest []byte) bool {
	const look = 24
	if len(rest) > 0 && !isWhite(rest[0]) {
		return false
	}
	for _, b := range rest[:min(look, len(rest))] {
		if b >= 0x7f || b < ' ' && !isWhite(b) {
			return false
		}
	}
	return true
}

// rawLength is the length of an image that is not packed, 0 if it cannot be told.
func (c *content) rawLength(d types.Dict) int {
	w, _ := c.number(d["Width"])
	h, _ := c.number(d["Height"])
	bits, n := 1.0, 1
	if b, ok := d["ImageMask"].(types.Boolean); !ok || !bool(b) {
		bits, _ = c.number(d["BitsPerComponent"])
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

// zlibLength is how many bytes of data a zlib stream (RFC 1950) takes, 0 if it is damaged.
func zlibLength(data []byte) int {
	in := bytes.NewReader(data)
	z, err := zlib.NewReader(in)
	if err != nil {
		return 0
	}
	if _, err := io.Copy(io.Discard, io.LimitReader(z, mostBytes)); err != nil {
		return 0
	}
	return len(data) - in.Len()
}

// object is the token as an object of a file.
func (t token) object(depth int) types.Object {
	inner := &scanner{data: t.raw}
	switch t.kind {
	case number:
		if v := t.value(); v == math.Trunc(v) && math.Abs(v) < 1<<31 {
			return types.Integer(int(v))
		}
		return types.Float(t.value())
	case name:
		return types.Name(t.name())
	case text:
		if t.raw[0] == '<' {
			return types.HexLiteral(bytes.Trim(t.raw, "<>"))
		}
		return types.StringLiteral(bytes.TrimSuffix(t.raw[1:], []byte(")")))
	case list:
		inner.at = 1
		var a types.Array
		for v := inner.next(); v.kind != ended && depth < mostNesting; v = inner.next() {
			a = append(a, v.object(depth+1))
		}
		return a
	case dictionary:
		inner.at = 2
		d := types.Dict{}
		for key := inner.next(); key.kind != ended && depth < mostNesting; key = inner.next() {
			d[key.name()] = inner.next().object(depth + 1)
		}
		return d
	case word:
		switch string(t.raw) {
		case "true":
			return types.Boolean(true)
		case "false":
			return types.Boolean(false)
		}
	}
	return nil
}
