package preflight

import (
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"peelcheck/raster"
)

// patchwork is made-up artwork: patches of any colour, opaque, clear and half-transparent, and noise.
func patchwork(rng *rand.Rand, w, h int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	for range 1 + rng.IntN(6) {
		r := image.Rect(rng.IntN(w+1), rng.IntN(h+1), rng.IntN(w+1), rng.IntN(h+1))
		c := color.NRGBA{uint8(rng.UintN(256)), uint8(rng.UintN(256)), uint8(rng.UintN(256)), []uint8{0, 255, 255, 90}[rng.IntN(4)]}
		noise := rng.IntN(3) == 0
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				if noise {
					c = color.NRGBA{uint8(rng.UintN(256)), uint8(rng.UintN(256)), uint8(rng.UintN(256)), uint8(rng.UintN(256))}
				}
				m.SetNRGBA(x, y, c)
			}
		}
	}
	return m
}

// drawnOf looks where a picture is not clear, in blocks of 64 pixels of a row.
func drawnOf(m *image.NRGBA) *raster.Bitmap {
	b := raster.NewBitmap((m.Rect.Dx()+63)/64, m.Rect.Dy())
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			if m.NRGBAAt(x, y).A > 0 {
				b.Set(x/64, y)
			}
		}
	}
	return b
}

// slowMean is the mean of the premultiplied colours over a pixel's area, or the nearest pixel's colour where that enlarges.
func slowMean(m *image.NRGBA, whole, at image.Point) (r, g, b, a float64) {
	across, down := areaShares(m.Rect.Dx(), whole.X, at.X), areaShares(m.Rect.Dy(), whole.Y, at.Y)
	for y, v := range down {
		for x, u := range across {
			c := m.NRGBAAt(x, y)
			part := u * v * float64(c.A) / 255
			r, g, b, a = r+part*float64(c.R), g+part*float64(c.G), b+part*float64(c.B), a+part
		}
	}
	return r, g, b, a
}

func areaShares(n, out, i int) map[int]float64 {
	scale := float64(n) / float64(out)
	if scale <= 1 {
		return map[int]float64{(2*i + 1) * n / (2 * out): 1}
	}
	list := map[int]float64{}
	for p := range n {
		if part := min(float64(p+1), float64(i+1)*scale) - max(float64(p), float64(i)*scale); part > 0 {
			list[p] = part / scale
		}
	}
	return list
}

// TestPreviewEqualsSlowTwin: for a process with white under everything, a preview shows each pixel's mean colour over the cloth, and
// as much white as its mean alpha, whether the picture knows where it is clear or not.
func TestPreviewEqualsSlowTwin(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	cloth := color.NRGBA{20, 40, 90, 255}
	plain := func(j *Job) {
		j.Garment.Colour = cloth
		j.Background = BackgroundKeep
		own := *j.Process
		own.ChokeMM = 0
		j.Process = &own
	}
	for i := range 60 {
		m := patchwork(rng, 1+rng.IntN(300), 1+rng.IntN(60))
		s := testScene(t, "film-underbase", m, 300, plain)
		if i%2 == 0 {
			s.pic.Drawn = drawnOf(m)
		}
		whole := image.Pt(1+rng.IntN(2*s.W), 1+rng.IntN(2*s.H))
		x, y := rng.IntN(whole.X), rng.IntN(whole.Y)
		part := image.Rect(x, y, x+1+rng.IntN(whole.X-x), y+1+rng.IntN(whole.Y-y))
		look, white := s.Appearance().Preview(whole, part)
		if look.Rect != part || white.Rect != part {
			t.Fatalf("the part %v came as %v and %v", part, look.Rect, white.Rect)
		}
		for y := part.Min.Y; y < part.Max.Y; y++ {
			for x := part.Min.X; x < part.Max.X; x++ {
				r, g, b, a := slowMean(m, whole, image.Pt(x, y))
				under := func(v float64, c uint8) float64 { return v + (1-a)*float64(c) }
				got, plane := look.NRGBAAt(x, y), white.GrayAt(x, y).Y
				if far(got.R, under(r, cloth.R)) || far(got.G, under(g, cloth.G)) || far(got.B, under(b, cloth.B)) || got.A != 255 || far(plane, 255*a) {
					t.Fatalf("%v to %v at (%d,%d): %v and white %d, want (%.1f,%.1f,%.1f) and %.1f", m.Rect, whole, x, y,
						got, plane, under(r, cloth.R), under(g, cloth.G), under(b, cloth.B), 255*a)
				}
			}
		}
	}
}

// far allows for what is rounded on the way: colour and alpha of a pixel, and both mixed with the cloth.
func far(got uint8, want float64) bool { return float64(got) > want+2 || float64(got) < want-2 }

// TestPreviewOfOwnSizeIsEveryPixelSeen holds for every process, however it turns colour into white.
func TestPreviewOfOwnSizeIsEveryPixelSeen(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, p := range Processes() {
		m := patchwork(rng, 97, 31)
		s := testScene(t, p.ID, m, 300, func(j *Job) { j.Background = BackgroundKeep })
		s.pic.Drawn = drawnOf(m)
		look, white := s.Appearance().Preview(image.Pt(s.W, s.H), image.Rect(0, 0, s.W, s.H))
		for y := range s.H {
			for x := range s.W {
				c := m.NRGBAAt(x, y)
				want, plane := s.Appearance().seen(c)
				if s.white != s.survey.printsWhite {
					plane = 0
					if s.white.At(x, y) {
						plane = 255
					}
				}
				// Colours of little alpha are rounded once more.
				if c.A == 255 && (look.NRGBAAt(x, y) != want || white.GrayAt(x, y).Y != plane) {
					t.Fatalf("%s: (%d,%d) of colour %v looks %v, white %d; want %v, %d", p.ID, x, y, c, look.NRGBAAt(x, y), white.GrayAt(x, y).Y, want, plane)
				}
			}
		}
	}
}

func TestPreviewRejectsPartsOutside(t *testing.T) {
	s := testScene(t, "toner-white-for-black", fill(8, 8, black), 300, nil)
	defer func() {
		if recover() == nil {
			t.Error("a part beyond the whole was drawn")
		}
	}()
	s.Appearance().Preview(image.Pt(4, 4), image.Rect(2, 2, 5, 4))
}

func BenchmarkPreview(b *testing.B) {
	for _, share := range []int{0, 30, 100} {
		m := image.NewNRGBA(image.Rect(0, 0, 2480, 3508))
		for i := range m.Pix[:len(m.Pix)/100*share] {
			m.Pix[i] = uint8(i/4096) | uint8(i%4/3*255)
		}
		p := Processes()[0]
		s := &Scene{W: 2480, H: 3508, pic: &raster.Picture{Pix: m, Drawn: drawnOf(m)}, survey: &survey{}, printed: newSeparation(p, "black", true), Job: Job{Process: p}}
		b.Run(fmt.Sprintf("%d%%drawn", share), func(b *testing.B) {
			b.SetBytes(int64(len(m.Pix)))
			for b.Loop() {
				s.Appearance().Preview(image.Pt(600, 849), image.Rect(0, 0, 600, 849))
			}
		})
	}
}

// In colour alone, neither white nor the garment is seen: each of cyan, magenta, yellow and black takes its share of white paper's light,
// as ISO 32000-1, 10.3.5 turns them into red, green and blue where no two of them add up to more than all.
func TestInColour(t *testing.T) {
	for _, tt := range []struct {
		process     string
		drawn, want color.NRGBA
	}{
		{"toner-white-for-black", black, white}, // white toner alone
		{"toner-white-for-black", color.NRGBA{255, 0, 0, 255}, color.NRGBA{255, 0, 0, 255}},
		{"toner-white-for-black", none, white},
		{"toner-underbase", white, white}, // white alone
		{"toner-underbase", color.NRGBA{0, 255, 0, 255}, color.NRGBA{0, 255, 0, 255}},
		{"toner-white-only", color.NRGBA{90, 20, 200, 255}, white}, // no colour at all
	} {
		s := testScene(t, tt.process, fill(8, 8, tt.drawn), 300, nil)
		seen := s.Appearance()
		_, plane := seen.Preview(seen.Size(), image.Rect(2, 2, 3, 3))
		got, same := seen.InColour().Preview(seen.Size(), image.Rect(2, 2, 3, 3))
		if c := got.NRGBAAt(2, 2); c != tt.want {
			t.Errorf("%s: %v looks like %v in colour, want %v", tt.process, tt.drawn, c, tt.want)
		}
		if plane.GrayAt(2, 2) != same.GrayAt(2, 2) {
			t.Errorf("%s: the white plane of %v changed", tt.process, tt.drawn)
		}
	}
}
