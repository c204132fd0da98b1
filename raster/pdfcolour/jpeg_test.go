package pdfcolour

import (
	"bytes"
	"embed"
	"errors"
	stdimage "image"
	"image/color"
	"image/jpeg"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

//go:embed testdata/*.jpg testdata/*.raw
var testdata embed.FS

func fixture(t testing.TB, name string) []byte {
	t.Helper()
	data, err := testdata.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func jpegStream(t testing.TB, space string, data []byte) types.StreamDict {
	sd := imageStream(25, 19, 8, object(t, space), data)
	sd.Dict["Filter"] = types.Name("DCTDecode")
	return sd
}

func unpackJPEG(t *testing.T, sd types.StreamDict) *picture {
	t.Helper()
	im := &image{StreamDict: sd, r: reader(t, cmyk), group: Group{0}}
	if err := im.read(nil); err != nil {
		t.Fatal(err)
	}
	p, err := im.picture()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Samples agree with libjpeg's, by way of Pillow, to what different inverse transforms may differ in.
func TestJPEG(t *testing.T) {
	for _, test := range []struct {
		name, space string
		most        int
	}{
		{"rgb444", "/DeviceRGB", 2}, {"rgb422", "/DeviceRGB", 3}, {"rgb420", "/DeviceRGB", 3},
		{"cmyk", "/DeviceCMYK", 1}, {"ycck", "/DeviceCMYK", 3}, {"cmykhalf", "/DeviceCMYK", 1},
	} {
		t.Run(test.name, func(t *testing.T) {
			want := fixture(t, test.name+".raw")
			p := unpackJPEG(t, jpegStream(t, test.space, fixture(t, test.name+".jpg")))
			if p.width*p.height*p.n != len(want) {
				t.Fatalf("%d x %d of %d components, want %d samples", p.width, p.height, p.n, len(want))
			}
			for i, w := range want {
				got := int(p.data[i/p.n*p.step+i%p.n])
				if off := max(got-int(w), int(w)-got); off > test.most {
					t.Fatalf("component %d at (%d,%d) is %d, want %d", i%p.n, i/p.n%p.width, i/p.n/p.width, got, w)
				}
			}
		})
	}
}

// withoutMarkers is a JPEG file without JFIF and Adobe segments.
func withoutMarkers(t *testing.T, data []byte) []byte {
	t.Helper()
	h, ok := readJPEGHead(data)
	if !ok {
		t.Fatal("no JPEG")
	}
	out := []byte{}
	at := 0
	for _, s := range segmentsInOrder(h.jfif, h.adobeAt) {
		out = append(out, data[at:s[0]]...)
		at = s[1]
	}
	if at == 0 {
		t.Fatal("the file had no markers")
	}
	return append(out, data[at:]...)
}

// Without Adobe's marker ColorTransform says what the samples are, and without it their number (ISO 32000-1, Table 13).
func TestJPEGTransform(t *testing.T) {
	rgb, four := withoutMarkers(t, fixture(t, "rgb444.jpg")), withoutMarkers(t, fixture(t, "cmyk.jpg"))
	tests := []struct {
		name, space, parms string
		data               []byte
		want               string // file of the same samples
		raw                bool   // not turned to RGB
	}{
		{"three", "/DeviceRGB", "null", rgb, "rgb444.jpg", false},
		{"three, transform", "/DeviceRGB", "<< /ColorTransform 1 >>", rgb, "rgb444.jpg", false},
		{"three, none", "/DeviceRGB", "<< /ColorTransform 0 >>", rgb, "rgb444.jpg", true},
		{"four", "/DeviceCMYK", "null", four, "cmyk.jpg", false},
		{"four, transform", "/DeviceCMYK", "<< /ColorTransform 1 >>", four, "ycck.jpg", false},
		{"marker overrides", "/DeviceCMYK", "<< /ColorTransform 1 >>", fixture(t, "cmyk.jpg"), "cmyk.jpg", false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			sd := jpegStream(t, test.space, test.data)
			sd.Dict["DecodeParms"] = object(t, test.parms)
			got, want := unpackJPEG(t, sd), unpackJPEG(t, jpegStream(t, test.space, fixture(t, test.want)))
			for i := range got.width * got.height {
				a, b := got.data[i*got.step:][:got.n], want.data[i*want.step:][:want.n]
				if test.raw {
					var turned [3]byte
					putRGB(turned[:], int(a[0]), int(a[1]), int(a[2]))
					a = turned[:]
				}
				if !bytes.Equal(a, b) {
					t.Fatalf("point %d is %v, want %v", i, a, b)
				}
			}
		})
	}
}

// Files with inverted samples say so by Decode; Adobe's marker alone inverts nothing.
func TestJPEGDecode(t *testing.T) {
	r := reader(t, cmyk)
	want := fixture(t, "cmyk.raw")
	for _, decode := range []string{"null", "[1 0 1 0 1 0 1 0]"} {
		sd := jpegStream(t, "/DeviceCMYK", fixture(t, "cmyk.jpg"))
		sd.Dict["Decode"] = object(t, decode)
		out, err := r.Image(sd, nil, Group{3})
		if err != nil {
			t.Fatal(err)
		}
		for i, tone := range pixels(t, r, out) {
			black := int(want[4*i+3])
			if decode != "null" {
				black = 255 - black
			}
			if off := 255 - black - int(tone); off < -1 || off > 1 {
				t.Fatalf("decode %s: tone %d at point %d, want %d", decode, tone, i, 255-black)
			}
		}
	}
}

// Chroma of any layout comes out as the standard library's, where it is not halved, or is of one colour.
func TestJPEGLayouts(t *testing.T) {
	for ratio := stdimage.YCbCrSubsampleRatio444; ratio <= stdimage.YCbCrSubsampleRatio410; ratio++ {
		im := stdimage.NewYCbCr(stdimage.Rect(0, 0, 23, 17), ratio)
		flat := ratio != stdimage.YCbCrSubsampleRatio444
		for i := range im.Y {
			im.Y[i] = byte(i * 5)
		}
		for i := range im.Cb {
			im.Cb[i], im.Cr[i] = 77, 200
			if !flat {
				im.Cb[i], im.Cr[i] = byte(i*3), byte(i*7)
			}
		}
		got := rgbOf(im)
		for y := range 17 {
			for x := range 23 {
				r, g, b := color.YCbCrToRGB(im.YCbCrAt(x, y).Y, im.YCbCrAt(x, y).Cb, im.YCbCrAt(x, y).Cr)
				for c, want := range []byte{r, g, b} {
					if have := int(got[3*(y*23+x)+c]); max(have-int(want), int(want)-have) > 1 {
						t.Fatalf("%v: component %d at (%d,%d) is %d, want %d", ratio, c, x, y, have, want)
					}
				}
			}
		}
	}
}

func TestJPEGGrey(t *testing.T) {
	im := stdimage.NewGray(stdimage.Rect(0, 0, 25, 19))
	for i := range im.Pix {
		im.Pix[i] = byte(i / 2)
	}
	var file bytes.Buffer
	if err := jpeg.Encode(&file, im, nil); err != nil {
		t.Fatal(err)
	}
	decoded, err := jpeg.Decode(&file)
	if err != nil {
		t.Fatal(err)
	}
	file.Reset()
	if err := jpeg.Encode(&file, im, nil); err != nil {
		t.Fatal(err)
	}
	r := reader(t, cmykWhite)
	out, err := r.Image(jpegStream(t, "[/Separation /White /DeviceGray null]", file.Bytes()), nil, Group{4})
	if err != nil {
		t.Fatal(err)
	}
	for i, tone := range pixels(t, r, out) {
		if want := 255 - decoded.(*stdimage.Gray).GrayAt(i%25, i/25).Y; tone != want {
			t.Fatalf("point %d has tone %d, want %d", i, tone, want)
		}
	}
}

func TestJPEGFaults(t *testing.T) {
	rgb := fixture(t, "rgb444.jpg")
	grey := bytes.Replace(rgb, []byte{0xFF, 0xC0}, []byte{0xFF, 0xC9}, 1) // arithmetic coding
	tests := map[string]struct {
		space string
		data  []byte
	}{
		"components":      {"/DeviceCMYK", rgb},
		"more components": {"/DeviceGray", rgb},
		"cut off":         {"/DeviceRGB", rgb[:len(rgb)/2]},
		"only a header":   {"/DeviceRGB", rgb[:20]},
		"arithmetic":      {"/DeviceRGB", grey},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := reader(t, cmyk).Image(jpegStream(t, test.space, test.data), nil, Group{0})
			var f *raster.Fault
			if !errors.As(err, &f) {
				t.Errorf("got error %v, want a fault", err)
			}
			if errors.Is(err, ErrInseparable) != (name == "arithmetic") {
				t.Errorf("inseparable: %v", err)
			}
		})
	}
}
