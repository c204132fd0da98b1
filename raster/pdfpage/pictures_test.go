package pdfpage

import (
	"bytes"
	"image"
	"math"
	"testing"

	"peelcheck/raster/pdftest"
)

// picturePage is a page of 2.203 x 2 inches with a picture of 300 x 300 pixels, /Im, and a form that draws it at half its size, /Fm, a
// shading, /Sh, and a form that paints it, /FmSh.
func picturePage(keys, content string) []byte {
	px := bytes.Repeat([]byte{0xff, 0x00, 0xff, 0x00, 0x00}, 300*300/5)
	return onePage("/MediaBox [0 0 158.616 144] "+keys+" /Resources << /XObject << /Im 5 0 R /Fm 6 0 R /FmSh 7 0 R >> "+
		"/Shading << /Sh 8 0 R >> >>", content,
		pdftest.Stream("/Type /XObject /Subtype /Image /Width 300 /Height 300 /ColorSpace /DeviceGray /BitsPerComponent 8", string(px)),
		pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 1 1] /Matrix [36 0 0 36 0 0] /Resources << /XObject << /Im 5 0 R >> >>", "/Im Do"),
		pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 72 72] /Resources << /Shading << /Sh 8 0 R >> >>", "/Sh sh"),
		"<< /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 0 72 0] /Function << /FunctionType 2 /Domain [0 1] /C0 [1 0 0] /C1 [0 0 1] /N 1 >> >>")
}

// TestPicturePPI draws pictures at resolutions that follow from their place: ISO 32000-1, 8.9.5.1, the unit square, in 72 units an inch.
func TestPicturePPI(t *testing.T) {
	tests := []struct {
		name, keys, content string
		want                float64
	}{
		{"alone", "", "72 0 0 72 0 0 cm /Im Do", 300},
		{"turned and mirrored", "/Rotate 90", "0 -72 -72 0 72 72 cm /Im Do", 300},
		{"UserUnit", "/UserUnit 2", "72 0 0 72 0 0 cm /Im Do", 150},
		{"in a form", "", "2 0 0 2 0 0 cm /Fm Do", 300},
		{"two alike", "", "q 72 0 0 72 0 0 cm /Im Do Q 1 0 0 1 72 0 cm 2 0 0 2 0 0 cm /Fm Do", 300},
		{"finer than is drawn by default", "", "20 0 0 20 0 0 cm /Im Do", 0},
		{"two that differ", "", "q 72 0 0 72 0 0 cm /Im Do Q /Fm Do", 0},
		{"stretched", "", "72 0 0 60 0 0 cm /Im Do", 0},
		{"coarse", "", "720 0 0 720 0 0 cm /Im Do", 0},
		{"with a line", "", "q 72 0 0 72 0 0 cm /Im Do Q 0 0 m 72 72 l S", 0},
		{"a line alone", "", "0 0 m 72 72 l S", 0},
		{"a shading first", "", "/Sh sh q 72 0 0 72 0 0 cm /Im Do Q", 0},
		{"a shading in a form", "", "q 72 0 0 72 0 0 cm /Im Do Q /FmSh Do", 0},
		{"empty", "", "", 0},
	}
	for _, test := range tests {
		d, err := Open(picturePage(test.keys, test.content), Options{})
		if err != nil {
			t.Fatalf("%s: %v", test.name, err)
		}
		got, err := d.PicturePPI(1)
		if err != nil || math.Abs(got-test.want) > 1e-3 {
			t.Errorf("%s: %v, %v; want %v", test.name, got, err, test.want)
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestPictureKeepsItsPixels draws a picture at its own resolution on a page whose size is no whole number of pixels: every pixel must come
// out as it is, far from the page's corner too.
func TestPictureKeepsItsPixels(t *testing.T) {
	d, err := Open(picturePage("", "72 0 0 72 86.4 7.2 cm /Im Do"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	pic, err := d.Page(1, 300)
	if err != nil {
		t.Fatal(err)
	}
	at := image.Pt(360, 600-30-300)
	wrong := 0
	for y := range 300 {
		for x := range 300 {
			want := []uint8{255, 0, 255, 0, 0}[(y*300+x)%5]
			if got := pic.Pix.NRGBAAt(at.X+x, at.Y+y); got.A != 255 || got.R != want {
				wrong++
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d of 90000 pixels are not as they were", wrong)
	}
}
