package pdfpage

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"peelcheck/raster"
	"peelcheck/raster/pdftest"
)

// Whatever the bytes, opening gives a fault or a picture within the limits.
func FuzzOpen(f *testing.F) {
	seeds := [][]byte{
		onePage(square+"/UserUnit 2 /Rotate 90 /CropBox [10 10 50 60]", "1 0 0 rg 3 3 40 50 re f 2 w 5 5 m 70 60 l S"),
		onePageUnder("/MediaBox [72 0 0 72]", "/Annots [<< /Type /Annot /Subtype /Widget /FT /Btn /Rect [1 1 9 9] /F 4 /AP << /N 5 0 R >> >>]", "",
			pdftest.Stream("/Type /XObject /Subtype /Form /BBox [0 0 8 8]", "0 0 8 8 re f")),
		onePage("/MediaBox [0 0 1e9 1e9]", ""),
		pdftest.File("<< /Type /Catalog /Pages 2 0 R >>", "<< /Type /Pages /Kids [2 0 R] /Count 2000000000 >>"),
		[]byte("%PDF-1.7\n"), []byte("%!PS"), nil,
	}
	if len(seeds) == 0 {
		f.Fatal("no seeds")
	}
	for _, seed := range seeds {
		f.Add(seed)
	}
	// Compiling takes longer than the fuzzing engine allows a single input and, with the engine's own counters built into the
	// compiler, half a minute in each of its processes; so they share what is compiled.
	cache, err := os.UserCacheDir()
	if err != nil {
		f.Fatal(err)
	}
	if err := start(Options{CacheDir: filepath.Join(cache, "peelcheck")}); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		const maxPixels = 100_000
		d, err := Open(data, Options{MaxPixels: maxPixels})
		if err != nil {
			wantAnyFault(t, err)
			return
		}
		defer d.Close()
		d.spent.limit = 5 * time.Second
		pic, err := d.Page(1, 72)
		if err != nil {
			wantAnyFault(t, err)
			return
		}
		size := pic.Pix.Rect.Max
		w, h, err := d.PageSize(1)
		if err != nil || size.X < 1 || size.Y < 1 || size.X*size.Y > maxPixels || !(pic.PPIX > 0) || !(pic.PPIY > 0) {
			t.Errorf("picture of %v at %v x %v ppi; page %v x %v mm, %v", size, pic.PPIX, pic.PPIY, w, h, err)
		}
	})
}

func wantAnyFault(t *testing.T, err error) {
	t.Helper()
	var fault *raster.Fault
	if !errors.As(err, &fault) || fault.Reason == "" || fault.Remedy == "" {
		t.Errorf("got %v, want a fault with reason and remedy", err)
	}
}

func BenchmarkFirstPageA4(b *testing.B) {
	data := onePage("/MediaBox [0 0 595.2756 841.8898]", "1 w 36 36 m 500 800 l S 0 0 1 rg 100 100 300 300 re f")
	b.ReportAllocs()
	b.SetBytes(4 * 4961 * 7016)
	if err := start(Options{}); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := firstPage(data, 600); err != nil {
			b.Fatal(err)
		}
	}
}
