package pdfcolour

import (
	"bytes"
	"encoding/binary"
	"fmt"
	stdimage "image"
	"image/png"
	"io"
	"math/rand/v2"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/filter"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

func packedWith(t *testing.T, name string, data []byte, parms map[string]int) []byte {
	t.Helper()
	f, err := filter.NewFilter(name, parms)
	if err != nil {
		t.Fatal(err)
	}
	out, err := f.Encode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(out)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Data packed by pdfcpu comes out again, all of it or as much as is asked for, singly and packed twice.
func TestFilters(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	r := reader(t, cmyk)
	for _, size := range []int{0, 1, 2, 3, 4, 127, 128, 129, 5000, 300_000} {
		data := make([]byte, size)
		for i := range data {
			if data[i] = byte(rng.Uint32()); i%700 < 300 {
				data[i] = 7
			}
		}
		for _, name := range []string{"FlateDecode", "LZWDecode", "RunLengthDecode", "ASCII85Decode", "ASCIIHexDecode"} {
			raw := packedWith(t, name, data, nil)
			for _, most := range []int{-1, size, size / 2} {
				sd := types.StreamDict{Raw: raw, Dict: types.Dict{"Filter": types.Name(name)}}
				want := data
				if most >= 0 {
					want = data[:most]
				}
				if got, err := r.decode(sd, most); err != nil || !bytes.Equal(got, want) {
					t.Errorf("%s of %d bytes, at most %d: got %d bytes, %v", name, size, most, len(got), err)
				}
			}
			sd := types.StreamDict{Raw: packedWith(t, "ASCIIHexDecode", raw, nil), Dict: types.Dict{"Filter": types.Array{types.Name("AHx"), types.Name(name)}}}
			if got, err := r.decode(sd, -1); err != nil || !bytes.Equal(got, data) {
				t.Errorf("ASCIIHex of %s of %d bytes: got %d bytes, %v", name, size, len(got), err)
			}
		}
	}
}

// LZW codes may grow a bit later than usual (Table 8, EarlyChange).
func TestLateLZW(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	data := make([]byte, 100_000)
	for i := range data {
		data[i] = byte(rng.Uint32N(20))
	}
	sd := types.StreamDict{Raw: packedWith(t, "LZWDecode", data, map[string]int{"EarlyChange": 0}), Dict: types.Dict{
		"Filter": types.Name("LZWDecode"), "DecodeParms": types.Dict{"EarlyChange": types.Integer(0)},
	}}
	if got, err := reader(t, cmyk).Data(sd, -1); err != nil || !bytes.Equal(got, data) {
		t.Errorf("got %d bytes, %v", len(got), err)
	}
}

// Data that was cut off is read as far as it goes.
func TestFiltersCutOff(t *testing.T) {
	r := reader(t, cmyk)
	data := bytes.Repeat([]byte("lantern walk "), 1000)
	for _, name := range []string{"FlateDecode", "LZWDecode", "RunLengthDecode", "ASCII85Decode", "ASCIIHexDecode"} {
		raw := packedWith(t, name, data, nil)
		sd := types.StreamDict{Raw: raw[:len(raw)*3/4], Dict: types.Dict{"Filter": types.Name(name)}}
		got, err := r.decode(sd, -1)
		if err != nil || len(got) < len(data)/2 || !bytes.HasPrefix(data, got) {
			t.Errorf("%s: got %d of %d bytes, %v", name, len(got), len(data), err)
		}
	}
}

// The rows of a PNG file (ISO/IEC 15948), which the standard library has filtered and packed, are those of Predictor 15.
func TestPredictorPNG(t *testing.T) {
	const width, height = 37, 29
	rng := rand.New(rand.NewPCG(4, 4))
	rgb := stdimage.NewNRGBA(stdimage.Rect(0, 0, width, height))
	deep := stdimage.NewGray16(rgb.Rect)
	for y := range height {
		for x := range width {
			for c := range 3 {
				rgb.Pix[rgb.PixOffset(x, y)+c] = byte(x*c+y*3) + byte(rng.Uint32N(3))
			}
			rgb.Pix[rgb.PixOffset(x, y)+3] = byte(200 + y)
			binary.BigEndian.PutUint16(deep.Pix[deep.PixOffset(x, y):], uint16(x*700+y*900)+uint16(rng.Uint32N(300)))
		}
	}
	for _, test := range []struct {
		im           stdimage.Image
		want         []byte
		colours, bit int
	}{{rgb, rgb.Pix, 4, 8}, {deep, deep.Pix, 1, 16}} {
		var file bytes.Buffer
		if err := png.Encode(&file, test.im); err != nil {
			t.Fatal(err)
		}
		var packed []byte
		for b := file.Bytes()[8:]; len(b) >= 12; {
			n := int(binary.BigEndian.Uint32(b))
			if string(b[4:8]) == "IDAT" {
				packed = append(packed, b[8:8+n]...)
			}
			b = b[12+n:]
		}
		sd := types.StreamDict{Raw: packed, Dict: types.Dict{"Filter": types.Name("FlateDecode"), "DecodeParms": types.Dict{
			"Predictor": types.Integer(15), "Colors": types.Integer(test.colours), "BitsPerComponent": types.Integer(test.bit), "Columns": types.Integer(width),
		}}}
		got, err := reader(t, cmyk).decode(sd, len(test.want))
		if err != nil || !bytes.Equal(got, test.want) {
			t.Errorf("%d colours of %d bits: got %d bytes, %v", test.colours, test.bit, len(got), err)
		}
	}
}

// Differences of few and of many bits, undone the obvious way: by adding what lies to the left, modulo the depth (TIFF 6.0, section 14).
func TestPredictorTIFFDepths(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, bits := range []int{1, 2, 4, 8, 16} {
		for _, colours := range []int{1, 3, 4} {
			const columns = 17
			values := make([]uint32, colours*columns)
			var in bitWriter
			for i := range values {
				values[i] = rng.Uint32() >> (32 - bits)
				left := uint32(0)
				if i >= colours {
					left = values[i-colours]
				}
				in.write((values[i]-left)&(1<<bits-1), bits)
			}
			p := predictor{kind: 2, colours: colours, bits: bits, column: columns, row: (colours*bits*columns + 7) / 8}
			out := bitReader{data: p.undo(in.data)}
			for i, want := range values {
				if got := out.read(bits); got != want {
					t.Fatalf("%d bits, %d colours: value %d is %d, want %d", bits, colours, i, got, want)
				}
			}
		}
	}
}

func TestBits(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	var w bitWriter
	var want []string
	var sizes []int
	for range 1000 {
		n := 1 + rng.IntN(32)
		v := rng.Uint32() >> (32 - n)
		w.write(v, n)
		sizes, want = append(sizes, n), append(want, fmt.Sprintf("%0*b", n, v))
	}
	r := bitReader{data: w.data}
	for i, n := range sizes {
		if got := fmt.Sprintf("%0*b", n, r.read(n)); got != want[i] {
			t.Fatalf("number %d of %d bits: got %s, want %s", i, n, got, want[i])
		}
	}
}
