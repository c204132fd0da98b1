package codec

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// a4 is artwork of A4, 28 % covered: flat shapes with soft edges and, where noisy, photograph-like ones on a clear or white ground.
func a4(ppi int, alpha, noisy bool) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, ppi*2480/300, ppi*3508/300))
	if !alpha {
		draw.Draw(m, m.Rect, image.White, image.Point{}, draw.Src)
	}
	pitch := 2 * ppi
	radius := float64(pitch) * math.Sqrt(0.28/math.Pi)
	rng := rand.New(rand.NewPCG(1, 2))
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			in := radius - math.Hypot(float64(x%pitch-pitch/2), float64(y%pitch-pitch/2))
			if in <= 0 {
				continue
			}
			c := color.NRGBA{uint8(x / pitch * 40), uint8(y / pitch * 30), 90, 0xff}
			if noisy && y/pitch%3 == 1 {
				c = color.NRGBA{uint8(x/16) + uint8(rng.IntN(8)), uint8(y/16) + uint8(rng.IntN(8)), uint8(in) + uint8(rng.IntN(8)), 0xff}
			}
			if alpha && in < 1 {
				c.A = uint8(255 * in)
			}
			m.SetNRGBA(x, y, c)
		}
	}
	return m
}

// BenchmarkPage compares Open, Page and Complete with png.Decode alone, in changing order so that neither always
// clears up after the other, as the metric "x-png.Decode".
func BenchmarkPage(b *testing.B) {
	clear, solid := a4(300, true, true), a4(300, false, true)
	grey := image.NewGray(solid.Rect)
	draw.Draw(grey, grey.Rect, solid, image.Point{}, draw.Src)
	indexed := image.NewPaletted(solid.Rect, color.Palette{color.Transparent, color.Black})
	for i := range indexed.Pix {
		indexed.Pix[i] = clear.Pix[4*i+3] >> 7
	}
	deep := image.NewNRGBA64(clear.Rect)
	draw.Draw(deep, deep.Rect, clear, image.Point{}, draw.Src)
	for name, m := range map[string]image.Image{
		"A4-600ppi/RGBA": a4(600, true, true),
		"A4-300ppi/RGBA": clear, "A4-300ppi/RGB": solid, "A4-300ppi/grey": grey, "A4-300ppi/indexed": indexed, "A4-300ppi/RGBA16": deep,
	} {
		data := encodePNG(b, m)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(4 * m.Bounds().Dx() * m.Bounds().Dy()))
			var bare, ours time.Duration
			decode := func() {
				start := time.Now()
				if _, err := png.Decode(bytes.NewReader(data)); err != nil {
					b.Fatal(err)
				}
				bare += time.Since(start)
			}
			whole := func() {
				start := time.Now()
				mustPage(b, data)
				ours += time.Since(start)
			}
			for first, second := decode, whole; b.Loop(); first, second = second, first {
				first()
				second()
			}
			b.ReportMetric(float64(ours)/float64(bare), "x-png.Decode")
		})
	}
}

func BenchmarkToNRGBA(b *testing.B) {
	solid := a4(300, false, false)
	grey := image.NewGray(solid.Rect)
	photo := image.NewYCbCr(solid.Rect, image.YCbCrSubsampleRatio420)
	indexed := image.NewPaletted(solid.Rect, color.Palette{color.White, color.Black})
	deep := image.NewNRGBA64(solid.Rect)
	draw.Draw(deep, deep.Rect, solid, image.Point{}, draw.Src)
	for name, m := range map[string]image.Image{"NRGBA": solid, "grey": grey, "YCbCr": photo, "paletted": indexed, "NRGBA64": deep} {
		b.Run("A4-300ppi/"+name, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(4 * solid.Rect.Dx() * solid.Rect.Dy()))
			for b.Loop() {
				toNRGBA(m)
			}
		})
	}
}
