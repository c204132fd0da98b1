package codec

import (
	"encoding/binary"
	"image"
	"path/filepath"
	"testing"

	"peelcheck/raster"
)

// at returns what a pixel has of the four inks.
func at(s *raster.Separations, x, y int) [4]uint8 {
	var out [4]uint8
	for i, p := range []*raster.Plane{s.Cyan, s.Magenta, s.Yellow, s.Black} {
		p.Read(out[i:i+1], image.Rect(x, y, x+1, y+1))
	}
	return out
}

// The files were written by Pillow 9.4 (libtiff, libjpeg) from inks given by a formula, the JPEG file at quality 100 with the
// inverted samples that the Adobe marker stands for. 70 x 66 pixels are not whole tiles.
func TestCMYKFiles(t *testing.T) {
	for name, tolerance := range map[string]int{"lzw.tiff": 0, "deflate.tiff": 0, "adobe.jpeg": 3} {
		t.Run(name, func(t *testing.T) {
			p := mustPage(t, load(t, "testdata", "cmyk", name))
			if p.Separations == nil || p.HasAlpha || p.PPIX < 299.9 || p.PPIX > 300.1 {
				t.Fatalf("separations %v, alpha %v, %v ppi", p.Separations, p.HasAlpha, p.PPIX)
			}
			for y := range 66 {
				for x := range 70 {
					got := at(p.Separations, x, y)
					want := [4]uint8{uint8(x * 3), uint8(y * 3), uint8(x + y), uint8(255 - x*2)}
					for i := range want {
						if d := int(got[i]) - int(want[i]); d < -tolerance || d > tolerance {
							t.Fatalf("inks at (%d,%d): %v, want %v", x, y, got, want)
						}
					}
				}
			}
		})
	}
}

// The first pixel of each row is full ink of one kind; the picture is turned by a quarter (EXIF orientation 6).
func TestCMYKTurned(t *testing.T) {
	pixels := []byte{255, 0, 0, 0, 0, 0, 0, 9, 0, 255, 0, 0, 0, 0, 0, 8, 0, 0, 255, 0, 0, 0, 0, 7}
	for name, order := range map[string]appendOrder{"little": le, "big": be} {
		p := mustPage(t, tiffBytes(order, pixels,
			long(tagWidth, 2), long(tagHeight, 3), short(tagBitsPerSample, 8, 8, 8, 8), short(tagCompression, 1),
			short(tagPhotometric, photometricCMYK), long(273, 8), short(tagOrientation, 6), short(tagSamplesPerPixel, 4), long(278, 3), long(279, 24)))
		want := map[[2]int][4]uint8{{2, 0}: {255}, {1, 0}: {0, 255}, {0, 0}: {0, 0, 255}, {2, 1}: {0, 0, 0, 9}, {0, 1}: {0, 0, 0, 7}}
		for xy, inks := range want {
			if got := at(p.Separations, xy[0], xy[1]); got != inks {
				t.Errorf("%s: inks at %v: %v, want %v", name, xy, got, inks)
			}
		}
	}
}

// 16 bits a sample keep their upper ones.
func TestCMYK16(t *testing.T) {
	var pixels []byte
	for _, v := range []uint16{0x8001, 0, 0xffff, 0x12ff} {
		pixels = binary.LittleEndian.AppendUint16(pixels, v)
	}
	p := mustPage(t, tiffBytes(le, pixels,
		long(tagWidth, 1), long(tagHeight, 1), short(tagBitsPerSample, 16, 16, 16, 16), short(tagCompression, 1),
		short(tagPhotometric, photometricCMYK), long(273, 8), short(tagSamplesPerPixel, 4), long(278, 1), long(279, 8)))
	if got := at(p.Separations, 0, 0); got != [4]uint8{0x80, 0, 0xff, 0x12} {
		t.Errorf("inks %v", got)
	}
}

// The Go tree's own pair of a CMYK JPEG file and its colours: r = (1-c)(1-k).
func TestCMYKColoursFollowInks(t *testing.T) {
	p := mustPage(t, load(t, filepath.Join(goTree(t), "testdata"), "video-001.cmyk.jpeg"))
	for y := range p.Pix.Rect.Dy() {
		for x := range p.Pix.Rect.Dx() {
			inks, got := at(p.Separations, x, y), p.Pix.Pix[p.Pix.PixOffset(x, y):]
			for i := range 3 {
				want := (255 - int(inks[i])) * (255 - int(inks[3])) / 255
				if d := int(got[i]) - want; d < -1 || d > 1 {
					t.Fatalf("at (%d,%d): colour %v of inks %v", x, y, got[:4], inks)
				}
			}
		}
	}
}
