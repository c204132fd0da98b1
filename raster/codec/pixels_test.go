package codec

import (
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"slices"
	"testing"
)

// slow is the obvious twin of toNRGBA. Pictures that hold straight alpha are converted without the detour of
// color.NRGBAModel through premultiplied colours, which loses precision.
func slow(m image.Image) *image.NRGBA {
	b := m.Bounds()
	p := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			c := m.At(b.Min.X+x, b.Min.Y+y)
			switch c := c.(type) {
			case color.NYCbCrA:
				r, g, b := color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
				p.SetNRGBA(x, y, color.NRGBA{r, g, b, c.A})
			case color.NRGBA64:
				p.SetNRGBA(x, y, color.NRGBA{uint8(c.R >> 8), uint8(c.G >> 8), uint8(c.B >> 8), uint8(c.A >> 8)})
			default:
				p.SetNRGBA(x, y, color.NRGBAModel.Convert(c).(color.NRGBA))
			}
		}
	}
	return p
}

// difference names the first pixel in which got is not want; it is empty for equal pictures.
func difference(got, want *image.NRGBA) string {
	if got.Rect != want.Rect {
		return fmt.Sprintf("bounds %v, want %v", got.Rect, want.Rect)
	}
	for y := range want.Rect.Dy() {
		for x := range want.Rect.Dx() {
			if g, w := got.NRGBAAt(x, y), want.NRGBAAt(x, y); g != w {
				return fmt.Sprintf("at (%d,%d) %v, want %v", x, y, g, w)
			}
		}
	}
	return ""
}

// visibleDifference is difference but for the colour of wholly transparent pixels.
func visibleDifference(got, want *image.NRGBA) string {
	seen := func(p *image.NRGBA) *image.NRGBA {
		q := &image.NRGBA{Pix: slices.Clone(p.Pix), Stride: p.Stride, Rect: p.Rect}
		for i := 0; i < len(q.Pix); i += 4 {
			if q.Pix[i+3] == 0 {
				clear(q.Pix[i : i+4])
			}
		}
		return q
	}
	return difference(seen(got), seen(want))
}

func anyClear(p *image.NRGBA) bool {
	for y := range p.Rect.Dy() {
		for x := range p.Rect.Dx() {
			if p.NRGBAAt(x, y).A != 0xff {
				return true
			}
		}
	}
	return false
}

// wrapped hides a picture's type from the fast paths.
type wrapped struct{ image.Image }

func randomBytes(rng *rand.Rand, dst []byte) {
	for i := range dst {
		dst[i] = uint8(rng.Uint32())
	}
}

// capped makes premultiplied pixels valid: no colour above its alpha.
func capped8(pix []byte) {
	for i := 0; i+4 <= len(pix); i += 4 {
		for k := range 3 {
			pix[i+k] = min(pix[i+k], pix[i+3])
		}
	}
}

func capped16(pix []byte) {
	for i := 0; i+8 <= len(pix); i += 8 {
		for k := range 3 {
			a := be.Uint16(pix[i+6:])
			be.PutUint16(pix[i+2*k:], min(be.Uint16(pix[i+2*k:]), a))
		}
	}
}

func opaqueEvery(pix []byte, from, width, step int) {
	for i := from; i+width <= len(pix); i += step {
		for k := range width {
			pix[i+k] = 0xff
		}
	}
}

func palette(rng *rand.Rand, n int, alpha bool) color.Palette {
	p := make(color.Palette, n)
	for i := range p {
		c := color.NRGBA{uint8(rng.Uint32()), uint8(rng.Uint32()), uint8(rng.Uint32()), 0xff}
		if alpha {
			c.A = uint8(rng.Uint32())
		}
		p[i] = c
	}
	return p
}

var kinds = map[string]func(rng *rand.Rand, r image.Rectangle) image.Image{
	"NRGBA": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewNRGBA(r)
		randomBytes(rng, m.Pix)
		return m
	},
	"RGBA": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewRGBA(r)
		randomBytes(rng, m.Pix)
		capped8(m.Pix)
		return m
	},
	"RGBA opaque": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewRGBA(r)
		randomBytes(rng, m.Pix)
		opaqueEvery(m.Pix, 3, 1, 4)
		return m
	},
	"NRGBA64": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewNRGBA64(r)
		randomBytes(rng, m.Pix)
		return m
	},
	"RGBA64": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewRGBA64(r)
		randomBytes(rng, m.Pix)
		capped16(m.Pix)
		return m
	},
	"RGBA64 opaque": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewRGBA64(r)
		randomBytes(rng, m.Pix)
		opaqueEvery(m.Pix, 6, 2, 8)
		return m
	},
	"Gray": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewGray(r)
		randomBytes(rng, m.Pix)
		return m
	},
	"Gray16": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewGray16(r)
		randomBytes(rng, m.Pix)
		return m
	},
	"CMYK": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewCMYK(r)
		randomBytes(rng, m.Pix)
		return m
	},
	"Paletted": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewPaletted(r, palette(rng, 256, true))
		randomBytes(rng, m.Pix)
		return m
	},
	"Paletted opaque": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewPaletted(r, palette(rng, 256, false))
		randomBytes(rng, m.Pix)
		return m
	},
	"YCbCr 4:4:4": func(rng *rand.Rand, r image.Rectangle) image.Image { return ycc(rng, r, image.YCbCrSubsampleRatio444) },
	"YCbCr 4:2:2": func(rng *rand.Rand, r image.Rectangle) image.Image { return ycc(rng, r, image.YCbCrSubsampleRatio422) },
	"YCbCr 4:2:0": func(rng *rand.Rand, r image.Rectangle) image.Image { return ycc(rng, r, image.YCbCrSubsampleRatio420) },
	"YCbCr 4:4:0": func(rng *rand.Rand, r image.Rectangle) image.Image { return ycc(rng, r, image.YCbCrSubsampleRatio440) },
	"YCbCr 4:1:0": func(rng *rand.Rand, r image.Rectangle) image.Image { return ycc(rng, r, image.YCbCrSubsampleRatio410) },
	"NYCbCrA": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewNYCbCrA(r, image.YCbCrSubsampleRatio420)
		randomBytes(rng, m.Y)
		randomBytes(rng, m.Cb)
		randomBytes(rng, m.Cr)
		randomBytes(rng, m.A)
		return m
	},
	"another type": func(rng *rand.Rand, r image.Rectangle) image.Image {
		m := image.NewAlpha(r)
		randomBytes(rng, m.Pix)
		return wrapped{m}
	},
}

func ycc(rng *rand.Rand, r image.Rectangle, ratio image.YCbCrSubsampleRatio) *image.YCbCr {
	m := image.NewYCbCr(r, ratio)
	randomBytes(rng, m.Y)
	randomBytes(rng, m.Cb)
	randomBytes(rng, m.Cr)
	return m
}

func TestToNRGBAEqualsSlowTwin(t *testing.T) {
	rects := []image.Rectangle{
		image.Rect(0, 0, 1, 1), image.Rect(0, 0, 7, 1), image.Rect(0, 0, 1, 9), image.Rect(0, 0, 8, 8),
		image.Rect(0, 0, 33, 17), image.Rect(-5, -3, 28, 20), image.Rect(4, 6, 37, 15),
	}
	for name, build := range kinds {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			for _, r := range rects {
				m := build(rng, r)
				check := func(m image.Image) {
					want := slow(m)
					got, alpha := toNRGBA(m)
					if d := difference(got, want); d != "" {
						t.Errorf("bounds %v: %s", m.Bounds(), d)
					}
					if alpha != anyClear(want) {
						t.Errorf("bounds %v: alpha reported %v", m.Bounds(), alpha)
					}
				}
				// A part of the picture first: its rows lie further apart than it is wide.
				if whole, ok := build(rng, r).(interface {
					SubImage(image.Rectangle) image.Image
				}); ok && r.Dx() > 4 && r.Dy() > 4 {
					check(whole.SubImage(r.Inset(2)))
				}
				check(m)
			}
		})
	}
}

// Every value of colour and alpha, because dividing is easy to get wrong by one.
func TestStraightenAllValues(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 256, 256))
	for a := range 256 {
		for v := range a + 1 {
			m.SetRGBA(v, a, color.RGBA{uint8(v), uint8(a - v), uint8(a), uint8(a)})
		}
	}
	want := slow(m)
	got, _ := toNRGBA(m)
	if d := difference(got, want); d != "" {
		t.Error(d)
	}
}

func TestHasAlphaFindsOnePixel(t *testing.T) {
	for w := 1; w <= 19; w++ {
		for x := range w {
			m := painted(w, 3, false)
			if hasAlpha(m) {
				t.Fatalf("width %d: opaque picture has alpha", w)
			}
			m.Pix[m.PixOffset(x, 1)+3] = 0xfe
			if !hasAlpha(m) {
				t.Errorf("width %d: pixel %d of alpha 254 was not found", w, x)
			}
		}
	}
}

func TestShortPaletteIsNoPanic(t *testing.T) {
	m := image.NewPaletted(image.Rect(0, 0, 2, 1), color.Palette{color.White})
	m.Pix[1] = 9
	p, alpha := toNRGBA(m)
	if !alpha || p.NRGBAAt(0, 0) != (color.NRGBA{255, 255, 255, 255}) || p.NRGBAAt(1, 0) != (color.NRGBA{}) {
		t.Errorf("got %v, alpha %v", p.Pix, alpha)
	}
}

func TestBandsRaisesPanic(t *testing.T) {
	err := guard(func() error {
		bands(100, func(y0, _ int) {
			if y0 == 0 {
				panic("in a band")
			}
		})
		return nil
	})
	if err == nil {
		t.Error("the panic was lost")
	}
}
