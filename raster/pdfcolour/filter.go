package pdfcolour

import (
	"bytes"
	"compress/lzw"
	"compress/zlib"
	"encoding/ascii85"
	"encoding/hex"
	"io"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
	tifflzw "golang.org/x/image/tiff/lzw"
)

// This file undoes the filters of streams (7.4). It is not left to pdfcpu, whose filters refuse what is common in pictures: data that
// ends early, LZW with a predictor, TIFF prediction other than of 8 bits.

// mostDecoded bounds what a stream is unpacked to: a picture of 400 million samples.
const mostDecoded = 400 << 20

// filterStep is one filter of a stream with its parameters.
type filterStep struct {
	name  string
	parms types.Dict
}

// filterNames are the abbreviations that inline images use (Table 94).
var filterNames = map[string]string{
	"AHx": "ASCIIHexDecode", "A85": "ASCII85Decode", "LZW": "LZWDecode", "Fl": "FlateDecode",
	"RL": "RunLengthDecode", "CCF": "CCITTFaxDecode", "DCT": "DCTDecode",
}

// filters reads the filters of a stream in the order in which they are undone.
func (r *Reader) filters(d types.Dict) []filterStep {
	list := r.listOf(d["Filter"])
	parms := r.listOf(d["DecodeParms"])
	steps := make([]filterStep, len(list))
	for i, o := range list {
		name := r.in.Name(o)
		if full, ok := filterNames[name]; ok {
			name = full
		}
		steps[i].name = name
		if i < len(parms) {
			steps[i].parms = r.in.Dict(parms[i])
		}
	}
	return slices.DeleteFunc(steps, func(s filterStep) bool { return s.name == "Crypt" }) // undone when the file was read
}

func (r *Reader) listOf(o types.Object) types.Array {
	switch o := r.in.Deref(o).(type) {
	case nil:
		return nil
	case types.Array:
		return o
	default:
		return types.Array{o}
	}
}

// Data unpacks a stream to at most most bytes; data that ends early or is damaged is given as far as it could be read. What cannot be
// unpacked is a *raster.Fault.
func (r *Reader) Data(sd types.StreamDict, most int) ([]byte, error) { return r.decode(sd, most) }

// decode unpacks a stream to at most most bytes, or to as many as it holds if most is negative. Data that ends early or is damaged is
// given as far as it could be read.
func (r *Reader) decode(sd types.StreamDict, most int) ([]byte, error) {
	data, rest, err := r.decodePart(sd, most)
	if err == nil && len(rest) > 0 {
		err = fault("data is packed as %s, which cannot be unpacked here", rest[0].name)
	}
	return data, err
}

// decodePart undoes the filters up to the first that is of pictures, which it leaves.
func (r *Reader) decodePart(sd types.StreamDict, most int) (data []byte, rest []filterStep, err error) {
	if most < 0 || most > mostDecoded {
		most = mostDecoded
	}
	steps := r.filters(sd.Dict)
	data = sd.Raw
	if data == nil && sd.Content != nil { // made or decoded by the caller
		return sd.Content, nil, nil
	}
	for i, step := range steps {
		switch step.name {
		case "DCTDecode", "JPXDecode", "JBIG2Decode", "CCITTFaxDecode":
			return data, steps[i:], nil
		}
		limit := mostDecoded
		if i == len(steps)-1 {
			limit = most
		}
		if data, err = r.unfilter(data, step, limit); err != nil {
			return nil, nil, err
		}
	}
	return data[:min(len(data), most)], nil, nil
}

func (r *Reader) unfilter(data []byte, step filterStep, most int) ([]byte, error) {
	switch step.name {
	case "ASCIIHexDecode":
		return asciiHex(data), nil
	case "ASCII85Decode":
		return ascii85Decode(data), nil
	case "RunLengthDecode":
		return runLength(data, most), nil
	case "FlateDecode", "LZWDecode":
		p, err := r.predictor(step.parms)
		if err != nil {
			return nil, err
		}
		var in io.ReadCloser
		if step.name == "LZWDecode" {
			in = r.lzw(data, step.parms)
		} else if in, err = zlib.NewReader(bytes.NewReader(data)); err != nil {
			return nil, fault("packed data cannot be unpacked")
		}
		defer in.Close()
		out := readUpTo(in, p.packedSize(most))
		return p.undo(out), nil
	}
	return nil, fault("data is packed as %q, which is not known", step.name)
}

// readUpTo reads until most bytes, the end, or damage.
func readUpTo(in io.Reader, most int) []byte {
	out := make([]byte, 0, min(most, 1<<16)+512)
	for len(out) < most {
		if len(out) == cap(out) {
			out = slices.Grow(out, len(out)) // as bytes arrive: a small file must not claim much memory
		}
		n, err := in.Read(out[len(out):min(cap(out), most)])
		out = out[:len(out)+n]
		if err != nil {
			break
		}
	}
	return out
}

func (r *Reader) lzw(data []byte, parms types.Dict) io.ReadCloser {
	if early, ok := r.integer(parms["EarlyChange"], 0, 1); ok && early == 0 {
		return lzw.NewReader(bytes.NewReader(data), lzw.MSB, 8)
	}
	return tifflzw.NewReader(bytes.NewReader(data), tifflzw.MSB, 8)
}

func asciiHex(data []byte) []byte {
	if end := bytes.IndexByte(data, '>'); end >= 0 {
		data = data[:end]
	}
	digits := slices.DeleteFunc(slices.Clone(data), isSpace)
	if len(digits)%2 == 1 {
		digits = append(digits, '0')
	}
	out := make([]byte, len(digits)/2)
	n, _ := hex.Decode(out, digits)
	return out[:n]
}

func ascii85Decode(data []byte) []byte {
	data = bytes.TrimPrefix(bytes.TrimLeft(data, "\x00\t\n\f\r "), []byte("<~"))
	if end := bytes.IndexByte(data, '~'); end >= 0 {
		data = data[:end]
	}
	out := make([]byte, 4*len(data))
	n, _, _ := ascii85.Decode(out, data, true)
	return out[:n]
}

func runLength(data []byte, most int) []byte {
	var out []byte
	for len(data) > 1 && data[0] != 128 && len(out) < most {
		n := int(data[0])
		if n < 128 {
			n = min(n+1, len(data)-1)
			out = append(out, data[1:1+n]...)
			data = data[1+n:]
			continue
		}
		for range 257 - n {
			out = append(out, data[1])
		}
		data = data[2:]
	}
	return out
}

// predictor is how packed rows differ from each other (7.4.4.4).
type predictor struct {
	kind                  int // 1 none, 2 TIFF, 10 and up PNG
	colours, bits, column int
	row, pixel            int // bytes
}

func (r *Reader) predictor(parms types.Dict) (predictor, error) {
	p := predictor{kind: 1, colours: 1, bits: 8, column: 1}
	for _, e := range []struct {
		key  string
		into *int
		most int
	}{{"Predictor", &p.kind, 15}, {"Colors", &p.colours, maxComponents}, {"BitsPerComponent", &p.bits, 16}, {"Columns", &p.column, mostSide}} {
		if o, ok := parms[e.key]; ok {
			if *e.into, ok = r.integer(o, 1, e.most); !ok {
				return p, fault("packed data is described by a %s that makes no sense", e.key)
			}
		}
	}
	p.row = (p.colours*p.bits*p.column + 7) / 8
	p.pixel = (p.colours*p.bits + 7) / 8
	return p, nil
}

// packedSize is how many bytes must be unpacked for most bytes of result.
func (p predictor) packedSize(most int) int {
	if p.kind < 10 {
		return most
	}
	return (most + p.row - 1) / p.row * (p.row + 1)
}

// undo works in place; a last row that is cut off is kept as far as it goes.
func (p predictor) undo(data []byte) []byte {
	switch {
	case p.kind == 2:
		for start := 0; start < len(data); start += p.row {
			p.undoTIFF(data[start:min(start+p.row, len(data))])
		}
	case p.kind >= 10:
		return p.undoPNG(data)
	}
	return data
}

func (p predictor) undoTIFF(row []byte) {
	switch p.bits {
	case 8:
		for i := p.colours; i < len(row); i++ {
			row[i] += row[i-p.colours]
		}
	case 16:
		for i := 2 * p.colours; i+1 < len(row); i += 2 {
			j := i - 2*p.colours
			sum := uint16(row[i])<<8 + uint16(row[i+1]) + uint16(row[j])<<8 + uint16(row[j+1])
			row[i], row[i+1] = byte(sum>>8), byte(sum)
		}
	default:
		in, out := bitReader{data: row}, bitWriter{}
		last := make([]uint32, p.colours)
		for i := 0; in.left() >= p.bits; i++ {
			c := i % p.colours
			last[c] = (last[c] + in.read(p.bits)) & (1<<p.bits - 1)
			out.write(last[c], p.bits)
		}
		copy(row, out.data)
	}
}

// undoPNG is the reconstruction of ISO/IEC 15948 (PNG), 9.2.
func (p predictor) undoPNG(data []byte) []byte {
	out := data[:0]
	above := make([]byte, p.row)
	for len(data) > 1 { // rows move to the left by a byte each
		kind := data[0]
		n := min(p.row, len(data)-1)
		row := data[1 : 1+n]
		data = data[1+n:]
		p.undoRow(kind, row, above)
		start := len(out)
		out = append(out, row...)
		above = out[start:]
	}
	return out
}

func (p predictor) undoRow(kind byte, row, above []byte) {
	n := min(p.pixel, len(row))
	switch kind {
	case 1:
		for i := n; i < len(row); i++ {
			row[i] += row[i-n]
		}
	case 2:
		for i := range row {
			row[i] += above[i]
		}
	case 3:
		for i := range n {
			row[i] += above[i] / 2
		}
		for i := n; i < len(row); i++ {
			row[i] += byte((int(row[i-n]) + int(above[i])) / 2)
		}
	case 4:
		for i := range n {
			row[i] += above[i]
		}
		for i := n; i < len(row); i++ {
			row[i] += paeth(row[i-n], above[i], above[i-n])
		}
	}
}

func paeth(left, up, corner byte) byte {
	a, b, c := int(left), int(up), int(corner)
	pa, pb := b-c, a-c
	pc := pa + pb
	pa, pb, pc = max(pa, -pa), max(pb, -pb), max(pc, -pc)
	switch {
	case pa <= pb && pa <= pc:
		return left
	case pb <= pc:
		return up
	}
	return corner
}
