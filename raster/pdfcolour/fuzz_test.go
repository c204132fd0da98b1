package pdfcolour

import (
	"errors"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

// FuzzImage: whatever a picture's dictionary and data say, there is a fault, or a picture as large as it says it is.
func FuzzImage(f *testing.F) {
	f.Add("<< /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceRGB >>", []byte("abcdefghijkl"))
	f.Add("<< /W 9 /H 2 /BPC 4 /CS [/I /RGB 2 <00FF11>] /F [/A85 /LZW] /D [3 0] >>", []byte("abcdefghijkl~>"))
	f.Add("<< /Subtype /Image /Width 25 /Height 19 /ColorSpace /DeviceRGB /Filter /DCTDecode /Mask [0 9 0 9 0 9] >>", fixture(f, "rgb420.jpg"))
	f.Add("<< /Subtype /Image /Width 25 /Height 19 /ColorSpace /DeviceCMYK /Filter /DCTDecode >>", fixture(f, "cmykhalf.jpg"))
	f.Add("<< /Subtype /Image /Width 3 /Height 3 /BitsPerComponent 16 /ColorSpace [/DeviceN [/White /None] /DeviceGray null] /Filter /RL >>", []byte{3, 1, 2, 3, 4, 200, 9})
	f.Add("<< /Subtype /Image /Width 4 /Height 4 /BitsPerComponent 2 /ColorSpace [/Lab << /WhitePoint [1 1 1] >>] /Filter /Fl /DecodeParms << /Predictor 15 /Colors 3 /BitsPerComponent 2 /Columns 4 >> >>", flate([]byte("\x01abc\x02abc\x03abc\x04abc")))
	x := open(f, pdf(""))
	f.Fuzz(func(t *testing.T, dict string, data []byte) {
		o, err := model.ParseObject(&dict)
		d, ok := o.(types.Dict)
		if err != nil || !ok {
			return
		}
		r := NewReader(x, cmykWhite, Curves{})
		im := &image{StreamDict: types.StreamDict{Dict: expandInline(d), Raw: data}, r: r}
		if im.read(nil) == nil && im.width*im.height > 1e6 {
			return
		}
		for _, g := range []Group{{3}, {0, 1, 4}} {
			out, err := r.Image(types.StreamDict{Dict: d, Raw: data}, nil, g)
			var fault *raster.Fault
			switch {
			case err != nil && !errors.As(err, &fault):
				t.Fatalf("error %v is no fault", err)
			case err != nil || out.Dict["ImageMask"] != nil:
				continue
			}
			if name, ok := out.Dict["ColorSpace"].(types.Name); ok {
				w, h := int(out.Dict["Width"].(types.Integer)), int(out.Dict["Height"].(types.Integer))
				if len(out.Raw) != w*h*len(g) {
					t.Fatalf("%d bytes of %s for %d x %d", len(out.Raw), name, w, h)
				}
			}
		}
	})
}

// FuzzSpace: whatever a colour space says, there is a fault, or shares of 0 to 1.
func FuzzSpace(f *testing.F) {
	f.Add("[/Separation /White /DeviceCMYK 10 0 R]", 0.5)
	f.Add("[/Indexed [/Separation /Gold /DeviceCMYK 10 0 R] 1 <00FF>]", 1.0)
	f.Add("[/DeviceN [/Gold /White] /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N -3 >>]", 0.0)
	f.Add("[/Lab << /WhitePoint [0.1 1 9] /Range [-1 1 5 6] >>]", 77.0)
	f.Add("[/Pattern [/ICCBased << /N 3 /Range [0 2 0 2 1 1] >>]]", -1.0)
	x := open(f, pdf("", tint))
	f.Fuzz(func(t *testing.T, text string, v float64) {
		o, err := model.ParseObject(&text)
		if err != nil {
			return
		}
		s, err := NewReader(x, cmykWhite, Curves{}).Space(o, nil)
		if err != nil {
			var fault *raster.Fault
			if !errors.As(err, &fault) {
				t.Fatalf("error %v is no fault", err)
			}
			return
		}
		for _, c := range [][]float64{s.Initial(), {v}, {v, v, v, v}} {
			for _, share := range s.Paint(c).Share {
				if !(share >= 0 && share <= 1) {
					t.Fatalf("%v paints %v", c, s.Paint(c).Share)
				}
			}
		}
	})
}

// FuzzShading: whatever the data of a mesh is, there is a fault, or a mesh of whole triangles.
func FuzzShading(f *testing.F) {
	f.Add(4, 8, 8, 8, []byte("\x00abcde\x00fghij\x00klmno\x01pqrst\x02uvwxy"))
	f.Add(5, 2, 12, 4, []byte("abcdefghijklmnopqrstuvwxyz"))
	f.Add(6, 8, 8, 8, []byte("\x00abcdefghijklmnopqrstuvwxabcdefghijkl\x01abcdefghijklmnopqrstuvwxyz"))
	f.Add(7, 2, 4, 1, []byte("\x00abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrst"))
	x := open(f, pdf("", tint))
	f.Fuzz(func(t *testing.T, kind, flagBits, coordinateBits, colorBits int, data []byte) {
		sd := meshStream(t, kind, "/DeviceRGB", "/VerticesPerRow 2", 3, data)
		sd.Dict["BitsPerFlag"], sd.Dict["BitsPerCoordinate"], sd.Dict["BitsPerComponent"] = types.Integer(flagBits), types.Integer(coordinateBits), types.Integer(colorBits)
		if len(data) > 1000 {
			return
		}
		o, err := NewReader(x, cmyk, Curves{}).Shading(sd, nil, Group{3})
		if err != nil {
			var fault *raster.Fault
			if !errors.As(err, &fault) {
				t.Fatalf("error %v is no fault", err)
			}
			return
		}
		const triangle = 3 * (1 + 2*4 + 2)
		if n := len(o.(types.StreamDict).Raw); n%triangle != 0 {
			t.Fatalf("%d bytes, which %d does not divide", n, triangle)
		}
	})
}
