package pdffacts_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"peelcheck/raster/pdftest"
)

// TestFlat: samples as ISO 32000-1, 8.9.3 packs them, worked out by hand.
func TestFlat(t *testing.T) {
	photo := image.NewGray(image.Rect(0, 0, 8, 8))
	even, uneven := new(bytes.Buffer), new(bytes.Buffer)
	jpeg.Encode(even, photo, nil)
	for i := range 32 {
		photo.SetGray(i%8, i/8, color.Gray{Y: 255})
	}
	jpeg.Encode(uneven, photo, nil)
	for _, tt := range []struct {
		keys, data string
		flat       bool
	}{
		{"/Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceRGB", "abc", true},
		{"/Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceRGB", "abcabc", true},
		{"/Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceRGB", "abcabd", true}, // a step of 1/255
		{"/Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceRGB", "abcab\x90", false},
		{"/Width 3 /Height 2 /BitsPerComponent 1 /ColorSpace /DeviceGray", "\x1f\x00", true}, // the rest of each byte is not the picture
		{"/Width 3 /Height 2 /BitsPerComponent 1 /ColorSpace /DeviceGray", "\x00\x20", false},
		{"/Width 2 /Height 1 /BitsPerComponent 4 /ColorSpace /DeviceGray", "\x78", true}, // 1/15
		{"/Width 2 /Height 1 /BitsPerComponent 4 /ColorSpace /DeviceGray", "\x79", false},
		{"/Width 2 /Height 1 /BitsPerComponent 16 /ColorSpace /DeviceGray", "\x10\x00\x10\xff", true},
		{"/Width 2 /Height 1 /BitsPerComponent 16 /ColorSpace /DeviceGray", "\x10\x00\x40\x00", false},
		{"/Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace [/Indexed /DeviceRGB 1 <102030 102031>]", "\x00\x01", true},
		{"/Width 2 /Height 1 /BitsPerComponent 8 /ColorSpace [/Indexed /DeviceRGB 1 <102030 102090>]", "\x00\x01", false},
		{"/Width 2 /Height 1 /ImageMask true", "\xc0", true},
		{"/Width 2 /Height 1 /ImageMask true", "\x80", false},
		{"/Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray", "aa", false}, // cut short
		{"/Width 8 /Height 8 /BitsPerComponent 8 /ColorSpace /DeviceGray /Filter /DCTDecode", even.String(), true},
		{"/Width 8 /Height 8 /BitsPerComponent 8 /ColorSpace /DeviceGray /Filter /DCTDecode", uneven.String(), false},
		{"/Width 16 /Height 16 /BitsPerComponent 8 /ColorSpace /DeviceGray", "", false}, // enough pixels, so it is not asked
	} {
		f := factsOf(t, pdf("", inch+"/Resources << /XObject << /Im1 5 0 R >> >> ", "72 0 0 72 0 0 cm /Im1 Do",
			pdftest.Stream("/Type /XObject /Subtype /Image "+tt.keys, tt.data)))
		if len(f.Images) != 1 || f.Images[0].Flat != tt.flat {
			t.Errorf("%s: %+v, want flat %v", tt.keys, f.Images, tt.flat)
		}
	}
}
