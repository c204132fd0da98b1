package pdfcontent

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

// mostNesting bounds objects within one another, mostBytes what a picture in the content unpacks to.
const (
	mostNesting = 16
	mostBytes   = 1 << 30
)

// InlineDict reads the dictionary of an inline image (ISO 32000-1, 8.9.7) up to ID, abbreviations written out; the scanner stands after BI.
// False if the data end before.
func (s *Scanner) InlineDict() (types.Dict, bool) {
	d := types.Dict{"Type": types.Name("XObject"), "Subtype": types.Name("Image")}
	for {
		key := s.Next()
		switch {
		case key.Kind == Ended:
			return nil, false
		case key.Kind == Word && string(key.Raw) == "ID":
			spellOut(d)
			return d, true
		case key.Kind != Name:
			continue
		}
		named := key.Name()
		if long, ok := longKeys[named]; ok {
			named = long
		}
		d[named] = s.Next().Object()
	}
}

// spellOut writes out the names of filters and colour spaces.
func spellOut(d types.Dict) {
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
}

// InlineData finds the end of an inline image's data, which the file does not give, and moves past EI; the scanner stands after ID.
// components is how many numbers a colour of the image's space has, 0 if it cannot be told; it is asked only where they say how long the data are.
func (s *Scanner) InlineData(d types.Dict, components func() int) []byte {
	start := min(s.at+1, len(s.data)) // one white space parts ID from the data
	data, end := inlineData(d, s.data[start:], components)
	s.at = start + end
	return data
}

// rawLength is the length of an image that no filter packs, 0 if it cannot be told.
func rawLength(d types.Dict, components func() int) int {
	bits, n := 1.0, 1
	if mask, ok := d["ImageMask"].(types.Boolean); !ok || !bool(mask) {
		bits, n = numberIn(d, "BitsPerComponent"), components()
	}
	length := math.Ceil(numberIn(d, "Width")*bits*float64(n)/8) * numberIn(d, "Height")
	if !(length > 0 && length < mostBytes) {
		return 0
	}
	return int(length)
}

// numberIn is an entry of an inline image's dictionary, which has no references.
func numberIn(d types.Dict, key string) float64 {
	switch v := d[key].(type) {
	case types.Integer:
		return float64(v)
	case types.Float:
		return float64(v)
	}
	return 0
}

func inlineData(d types.Dict, data []byte, components func() int) (image []byte, end int) {
	length := 0
	switch firstFilter(d) {
	case "":
		length = rawLength(d, components)
	case "FlateDecode":
		length = zlibLength(data)
	}
	if length > 0 && length <= len(data) {
		rest := Scanner{data: data, at: length}
		if t := rest.Next(); string(t.Raw) == "EI" {
			return data[:length], rest.at
		}
	}
	for at := 0; ; {
		found := bytes.Index(data[at:], []byte("EI"))
		if found < 0 {
			return data, len(data)
		}
		at += found
		if (at == 0 || IsWhite(data[at-1])) && looksLikeContent(data[at+2:]) {
			return data[:max(0, at-1)], at + 2
		}
		at += 2
	}
}

func firstFilter(d types.Dict) string {
	switch f := d["Filter"].(type) {
	case types.Name:
		return string(f)
	case types.Array:
		if len(f) > 0 {
			n, _ := f[0].(types.Name)
			return string(n)
		}
	}
	return ""
}

// looksLikeContent tells the rest of a content stream from the middle of picture data that happens to hold EI.
func looksLikeContent(rest []byte) bool {
	const look = 24
	if len(rest) > 0 && !IsWhite(rest[0]) {
		return false
	}
	for _, b := range rest[:min(look, len(rest))] {
		if b >= 0x7f || b < ' ' && !IsWhite(b) {
			return false
		}
	}
	return true
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

// Object is the token as an object of a file; what lies too deep within one another is left out.
func (t Token) Object() types.Object { return t.object(0) }

func (t Token) object(depth int) types.Object {
	inner := &Scanner{data: t.Raw}
	switch t.Kind {
	case Number:
		if v := t.Value(); v == math.Trunc(v) && math.Abs(v) < 1<<31 {
			return types.Integer(int(v))
		}
		return types.Float(t.Value())
	case Name:
		return types.Name(t.Name())
	case Text:
		if t.Raw[0] == '<' {
			return types.HexLiteral(bytes.Trim(t.Raw, "<>"))
		}
		return types.StringLiteral(bytes.TrimSuffix(t.Raw[1:], []byte(")")))
	case List:
		inner.at = 1
		var a types.Array
		for v := inner.Next(); v.Kind != Ended && depth < mostNesting; v = inner.Next() {
			a = append(a, v.object(depth+1))
		}
		return a
	case Dictionary:
		inner.at = 2
		d := types.Dict{}
		for key := inner.Next(); key.Kind != Ended && depth < mostNesting; key = inner.Next() {
			d[key.Name()] = inner.Next().object(depth + 1)
		}
		return d
	case Word:
		switch string(t.Raw) {
		case "true":
			return types.Boolean(true)
		case "false":
			return types.Boolean(false)
		}
	}
	return nil
}
