package printfile

import (
	"bytes"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"golang.org/x/image/tiff"

	"peelcheck/raster"
	"peelcheck/raster/pdfpage"
)

// solid is a picture of one colour.
func solid(w, h int, colour ...byte) Pixels {
	return Pixels{w, h, func(dst []byte, _, _ int) error {
		for i := range dst {
			dst[i] = colour[i%len(colour)]
		}
		return nil
	}}
}

// drawn is a picture of one byte a pixel.
func drawn(w, h int, at func(x, y int) byte) Pixels {
	return Pixels{w, h, func(dst []byte, y0, y1 int) error {
		for y := y0; y < y1; y++ {
			for x := range w {
				dst[(y-y0)*w+x] = at(x, y)
			}
		}
		return nil
	}}
}

// ramp runs from 0 at the left to 252, in four columns of pixels each.
func ramp(w, h int) Pixels {
	return drawn(w, h, func(x, _ int) byte { return byte(4 * (x % 64)) })
}

func written(t testing.TB, f *File) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Write(&out, f); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// run starts a tool that must be installed: tests that ask it fail without it.
func run(t testing.TB, tool string, args ...string) {
	t.Helper()
	if _, err := exec.LookPath(tool); err != nil {
		t.Fatalf("%s is missing: apt-get install ghostscript qpdf", tool)
	}
	if out, err := exec.Command(tool, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", tool, err, out)
	}
}

func saved(t testing.TB, pdf []byte) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(name, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// checkSyntax has qpdf go through every object, table and stream.
func checkSyntax(t testing.TB, pdf []byte) {
	t.Helper()
	run(t, "qpdf", "--check", saved(t, pdf))
}

// plates are the separations of the first page as Ghostscript makes them, 255 for full ink, by colorant.
type plates map[string]*image.Gray

// separated gives the separations of every page at 72 pixels an inch, DeviceRGB converted by the clause's formulas and not by
// profiles.
func separated(t testing.TB, pdf []byte) []plates {
	t.Helper()
	name := saved(t, pdf)
	run(t, "gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-dUseFastColor=true", "-sDEVICE=tiffsep", "-r72", "-sOutputFile="+name+"-%d", name)
	var out []plates
	for {
		p := plates{}
		for _, colorant := range []string{"Cyan", "Magenta", "Yellow", "Black", "White"} {
			data, err := os.ReadFile(fmt.Sprintf("%s-%d(%s).tif", name, len(out)+1, colorant))
			if err == nil {
				p[colorant] = plate(t, data)
			}
		}
		if len(p) == 0 {
			break
		}
		out = append(out, p)
	}
	if len(out) == 0 {
		t.Fatal("gs made no plates")
	}
	return out
}

func plate(t testing.TB, data []byte) *image.Gray {
	t.Helper()
	m, err := tiff.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	grey, ok := m.(*image.Gray)
	if !ok {
		t.Fatalf("a plate is a %T", m)
	}
	for i, v := range grey.Pix {
		grey.Pix[i] = 255 - v
	}
	return grey
}

// holds compares a plate with what want gives for each pixel, to so many levels.
func (p plates) holds(t *testing.T, colorant string, levels int, want func(x, y int) byte) {
	t.Helper()
	plate := p[colorant]
	if plate == nil {
		t.Fatalf("no plate %s", colorant)
	}
	for y := range plate.Rect.Dy() {
		for x := range plate.Rect.Dx() {
			got, want := int(plate.GrayAt(x, y).Y), int(want(x, y))
			if got < want-levels || got > want+levels {
				t.Errorf("%s at (%d,%d): %d, want %d to %d levels", colorant, x, y, got, want, levels)
				return
			}
		}
	}
}

func flat(v byte) func(x, y int) byte { return func(_, _ int) byte { return v } }

// at reads a picture of one byte a pixel as a function.
func at(t testing.TB, p Pixels) func(x, y int) byte {
	t.Helper()
	all := make([]byte, p.W*p.H)
	if err := p.Read(all, 0, p.H); err != nil {
		t.Fatal(err)
	}
	return func(x, y int) byte { return all[y*p.W+x] }
}

func page(t testing.TB, pdf []byte, number int, ppi float64) *raster.Picture {
	t.Helper()
	d, err := pdfpage.Open(pdf, pdfpage.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	pic, err := d.Page(number, ppi)
	if err != nil {
		t.Fatal(err)
	}
	return pic
}
