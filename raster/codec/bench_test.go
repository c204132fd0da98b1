package codec

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"testing"
	"time"
)

// a4 is artwork of A4 at 300 pixels per inch: flat shapes and soft edges on a clear or white ground.
func a4(alpha bool) *image.NRGBA {
	const w, h = 2480, 3508
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	if !alpha {
		draw.Draw(m, m.Rect, image.White, image.Point{}, draw.Src)
	}
	for y := range h {
		for x := range w {
			dx, dy := x%620-310, y%620-310
			if d := dx*dx + dy*dy; d < 250*250 {
				c := color.NRGBA{uint8(x / 16), uint8(y / 16), uint8(d >> 8), 0xff}
				if alpha && d > 240*240 {
					c.A = uint8(d >> 4)
				}
				m.SetNRGBA(x, y, c)
			}
		}
	}
	return m
}

// BenchmarkPage compares Open and Page with png.Decode alone, in changing order so that neither always
// clears up after the other, as the metric "x-png.Decode".
func BenchmarkPage(b *testing.B) {
	clear, solid := a4(true), a4(false)
	grey := image.NewGray(solid.Rect)
	draw.Draw(grey, grey.Rect, solid, image.Point{}, draw.Src)
	deep := image.NewNRGBA64(clear.Rect)
	draw.Draw(deep, deep.Rect, clear, image.Point{}, draw.Src)
	for name, m := range map[string]image.Image{"RGB": solid, "RGBA": clear, "grey": grey, "RGBA16": deep} {
		data := encodePNG(b, m)
		b.Run("A4-300ppi/"+name, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(4 * solid.Rect.Dx() * solid.Rect.Dy()))
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
	solid := a4(false)
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
