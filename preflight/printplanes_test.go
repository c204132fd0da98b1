package preflight

import (
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"peelcheck/raster"
)

// Every pixel of the planes is what the separation gives for it, and white only where it is not pulled in.
func TestPrintPlanes(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	pix := image.NewNRGBA(image.Rect(0, 0, 230, 150))
	for range 40 {
		c := color.NRGBA{uint8(rng.UintN(256)), uint8(rng.UintN(256)), uint8(rng.UintN(256)), uint8(rng.UintN(256)) | 1}
		x, y := 9+rng.IntN(190), 7+rng.IntN(120)
		paint(pix, image.Rect(x, y, x+1+rng.IntN(25), y+1+rng.IntN(20)), c)
	}
	for _, process := range []string{"toner-white-for-black", "toner-underbase", "film-underbase", "beside", "toner-white-only"} {
		s := testScene(t, process, pix, 300, nil)
		planes, err := s.PrintPlanes()
		if err != nil {
			t.Fatal(err)
		}
		if planes.Box != s.Printed {
			t.Errorf("%s: box %v, want %v", process, planes.Box, s.Printed)
		}
		for i, name := range AllPlanes {
			p := planes.Plane(name)
			if p == nil {
				continue
			}
			row := make([]uint8, planes.Box.Dx())
			for y := planes.Box.Min.Y; y < planes.Box.Max.Y; y++ {
				p.Read(row, image.Rect(0, y-planes.Box.Min.Y, len(row), y-planes.Box.Min.Y+1))
				for x := range row {
					at := image.Pt(planes.Box.Min.X+x, y)
					c := pix.NRGBAAt(at.X, at.Y)
					want := s.printed.pixel(c.R, c.G, c.B, c.A)[i]
					strong := uint8(0) // alpha nearby
					for dy := -2; dy <= 2; dy++ {
						for dx := -2; dx <= 2; dx++ {
							strong = max(strong, pix.NRGBAAt(at.X+dx, at.Y+dy).A)
						}
					}
					if i == inkWhite && !s.White().At(at.X, at.Y) && s.Job.Process.WhiteSource == WhiteUnderbase && strong >= 64 {
						want = 0
					}
					if row[x] != want {
						t.Fatalf("%s: %s at %v is %d, want %d", process, name, at, row[x], want)
					}
				}
			}
		}
	}
}

func TestPrintPlanesOfNothing(t *testing.T) {
	s := testScene(t, "toner-underbase", image.NewNRGBA(image.Rect(0, 0, 20, 20)), 300, nil)
	if _, err := s.PrintPlanes(); err == nil {
		t.Error("an empty page can be prepared")
	}
}

// A file's own inks go to the printer as they are.
func TestPrintPlanesOfOwnInks(t *testing.T) {
	pic := inkedPicture("")
	like := testScene(t, "toner-white-for-black", pic.Pix, 300, nil)
	s, err := NewScene(Artwork{Picture: pic}, like.Job)
	if err != nil {
		t.Fatal(err)
	}
	planes, err := s.PrintPlanes()
	if err != nil {
		t.Fatal(err)
	}
	var one [1]uint8
	planes.Plane(White).Read(one[:], image.Rect(40, 30, 41, 31))
	if want := image.Rect(40, 20, 120, 80); one[0] != 255 || planes.Box != want {
		t.Errorf("white is %d in %v, want 255 in %v", one[0], planes.Box, want)
	}
}

// BenchmarkPrintPlanes separates an A4 page at 600 pixels an inch, 28 % of it drawn; the metric is nanoseconds a pixel and processor.
func BenchmarkPrintPlanes(b *testing.B) {
	const w, h = 4960, 7016
	pix := image.NewNRGBA(image.Rect(0, 0, w, h))
	rng := rand.New(rand.NewPCG(7, 8))
	for y := h / 4; y < h/4+h*53/100; y++ {
		for x := w / 4; x < w/4+w*53/100; x++ {
			c := color.NRGBA{196, 36, 40, 255}
			if y > h/2 {
				c = color.NRGBA{uint8(rng.UintN(256)), uint8(x), uint8(y), 255}
			}
			pix.SetNRGBA(x, y, c)
		}
	}
	pix.SetNRGBA(0, 0, color.NRGBA{0, 0, 0, 255})
	pix.SetNRGBA(w-1, h-1, color.NRGBA{0, 0, 0, 255})
	p, err := ProcessByID("toner-underbase")
	if err != nil {
		b.Fatal(err)
	}
	limits, err := p.ResolveLimits(nil, "", nil)
	if err != nil {
		b.Fatal(err)
	}
	job := Job{Process: p, Garment: Garment{"black", color.NRGBA{0, 0, 0, 255}}, Limits: limits, Background: BackgroundAuto}
	s, err := NewScene(Artwork{Picture: &raster.Picture{Pix: pix, HasAlpha: true, PPIX: 600, PPIY: 600}}, job)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := s.PrintPlanes(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(w*h), "ns/px")
}
