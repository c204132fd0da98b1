package codec

import (
	"bytes"
	"errors"
	"testing"

	"peelcheck/raster"
)

// fuzzOpen holds what Open and Page promise of any bytes: a picture within the limit, the same each time, or a fault.
func fuzzOpen(f *testing.F, format string) {
	files := seeds(f)[format]
	if len(files) == 0 {
		f.Fatalf("no seeds of %s", format)
	}
	for _, data := range files {
		f.Add(data)
	}
	const maxPixels = 1 << 18
	decode := func(t *testing.T, data []byte) *raster.Picture {
		p, err := pageWithin(data, Options{MaxPixels: maxPixels})
		var fault *raster.Fault
		if err != nil && !errors.As(err, &fault) {
			t.Fatalf("error %v is no fault", err)
		}
		return p
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p := decode(t, data)
		again := decode(t, data)
		if (p == nil) != (again == nil) {
			t.Fatal("read one time and refused the other")
		}
		if p == nil {
			return
		}
		size := p.Pix.Rect.Size()
		if p.Pix.Rect.Min.X != 0 || p.Pix.Rect.Min.Y != 0 || size.X <= 0 || size.Y <= 0 || size.X*size.Y > maxPixels {
			t.Fatalf("bounds %v", p.Pix.Rect)
		}
		if !bytes.Equal(p.Pix.Pix, again.Pix.Pix) {
			t.Error("the second time the pixels differ")
		}
		if p.HasAlpha != anyClear(p.Pix) {
			t.Errorf("alpha reported %v", p.HasAlpha)
		}
		if known := p.PPIFrom != ""; known != (p.PPIX >= leastPPI) || known != (p.PPIY >= leastPPI) {
			t.Errorf("resolution %v x %v from %q", p.PPIX, p.PPIY, p.PPIFrom)
		}
	})
}

func FuzzOpenPNG(f *testing.F)  { fuzzOpen(f, "png") }
func FuzzOpenJPEG(f *testing.F) { fuzzOpen(f, "jpeg") }
func FuzzOpenTIFF(f *testing.F) { fuzzOpen(f, "tiff") }
func FuzzOpenWebP(f *testing.F) { fuzzOpen(f, "webp") }
func FuzzOpenBMP(f *testing.F)  { fuzzOpen(f, "bmp") }
func FuzzOpenGIF(f *testing.F)  { fuzzOpen(f, "gif") }
