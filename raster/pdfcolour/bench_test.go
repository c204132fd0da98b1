package pdfcolour

import (
	"bytes"
	"compress/zlib"
	stdimage "image"
	"image/jpeg"
	"math"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// photo is width x height samples of n components, smooth with noise, as photographs are.
func photo(width, height, n int) []byte {
	out := make([]byte, 0, width*height*n)
	state := uint32(1)
	for y := range height {
		for x := range width {
			for c := range n {
				state = state*1664525 + 1013904223
				v := 128 + 100*math.Sin(float64(x+31*c)/97)*math.Cos(float64(y-17*c)/71)
				out = append(out, byte(v+float64(state>>29)))
			}
		}
	}
	return out
}

func flate(data []byte) []byte {
	var out bytes.Buffer
	w := zlib.NewWriter(&out)
	w.Write(data)
	w.Close()
	return out.Bytes()
}

func imageStream(width, height, bits int, space types.Object, data []byte) types.StreamDict {
	return types.StreamDict{Raw: data, Dict: types.Dict{
		"Subtype": types.Name("Image"), "Width": types.Integer(width), "Height": types.Integer(height),
		"BitsPerComponent": types.Integer(bits), "ColorSpace": space,
	}}
}

// asJPEG packs RGB samples.
func asJPEG(b *testing.B, width, height int, rgb []byte) []byte {
	im := stdimage.NewRGBA(stdimage.Rect(0, 0, width, height))
	for i := range width * height {
		copy(im.Pix[4*i:], rgb[3*i:3*i+3])
		im.Pix[4*i+3] = 255
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, im, &jpeg.Options{Quality: 85}); err != nil {
		b.Fatal(err)
	}
	return out.Bytes()
}

// BenchmarkImage rewrites a picture for its first plane, for which it is unpacked, and for a later one.
func BenchmarkImage(b *testing.B) {
	const side = 4000
	for _, space := range []struct {
		name, text string
		n          int
		packings   []string
	}{
		{"cmyk", "/DeviceCMYK", 4, []string{"none", "flate"}},
		{"rgb", "/DeviceRGB", 3, []string{"none", "flate", "jpeg"}},
		{"spots", "[/DeviceN [/Gold /Silver] /DeviceCMYK 10 0 R]", 2, []string{"none"}},
		{"lab", "[/Lab << /WhitePoint [0.9642 1 0.8249] >>]", 3, []string{"none"}},
	} {
		data := photo(side, side, space.n)
		x := open(b, pdf("", stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", []byte("{ 2 copy mul 3 1 roll 2 copy 0.5 mul exch 0.3 mul }"))))
		for _, packing := range space.packings {
			sd := imageStream(side, side, 8, object(b, space.text), data)
			switch packing {
			case "flate":
				sd.Raw, sd.Dict["Filter"] = flate(data), types.Name("FlateDecode")
			case "jpeg":
				sd.Raw, sd.Dict["Filter"] = asJPEG(b, side, side, data), types.Name("DCTDecode")
			}
			for _, plane := range []string{"first", "later"} {
				b.Run("colour="+space.name+"/packing="+packing+"/plane="+plane, func(b *testing.B) {
					b.SetBytes(side * side)
					b.ReportAllocs()
					r := NewReader(x, cmyk, Curves{})
					if _, err := r.Image(sd, nil, Group{2}); err != nil {
						b.Fatal(err)
					}
					for b.Loop() {
						if plane == "first" {
							r = NewReader(x, cmyk, Curves{})
						}
						if _, err := r.Image(sd, nil, Group{3}); err != nil {
							b.Fatal(err)
						}
					}
				})
			}
		}
	}
}

func BenchmarkShading(b *testing.B) {
	x := open(b, pdf("", redToGreen))
	for _, test := range []struct {
		name string
		o    types.Object
	}{
		{"axial", object(b, "<< /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 0 1 0] /Function 10 0 R >>")},
		{"mesh", meshStream(b, 5, "/DeviceRGB", "/VerticesPerRow 200", 3, photo(100, 200, 7))},
	} {
		b.Run("kind="+test.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := NewReader(x, cmyk, Curves{}).Shading(test.o, nil, Group{3}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
