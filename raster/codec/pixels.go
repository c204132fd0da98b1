package codec

import (
	"image"
	"image/color"
	"image/draw"
	"runtime"
	"sync"
	"sync/atomic"

	"github.com/disintegration/imaging"
)

// toNRGBA returns a picture as straight 8-bit RGBA with its origin at (0,0), and whether any pixel is not fully opaque.
// It takes over the pixels of m where they need no more than a change of place or of alpha.
func toNRGBA(m image.Image) (*image.NRGBA, bool) {
	switch m := m.(type) {
	case *image.NRGBA:
		p := adopt(m.Pix[m.PixOffset(m.Rect.Min.X, m.Rect.Min.Y):], m.Stride, m.Rect)
		return p, hasAlpha(p)
	case *image.RGBA:
		p := adopt(m.Pix[m.PixOffset(m.Rect.Min.X, m.Rect.Min.Y):], m.Stride, m.Rect)
		if !hasAlpha(p) {
			return p, false
		}
		straighten(p)
		return p, true
	case *image.YCbCr, *image.CMYK:
		return drawn(m), false
	case *image.NYCbCrA:
		return withAlpha(m)
	case *image.Gray:
		return eachRow(m, func(dst []byte, y int) {
			grey(dst, m.Pix[m.PixOffset(m.Rect.Min.X, y):], 1)
		}), false
	case *image.Gray16:
		return eachRow(m, func(dst []byte, y int) {
			grey(dst, m.Pix[m.PixOffset(m.Rect.Min.X, y):], 2)
		}), false
	case *image.Paletted:
		return unpaletted(m)
	case *image.NRGBA64:
		p := eachRow(m, func(dst []byte, y int) {
			highBytes(dst, m.Pix[m.PixOffset(m.Rect.Min.X, y):])
		})
		return p, hasAlpha(p)
	case *image.RGBA64:
		p := eachRow(m, func(dst []byte, y int) {
			straighten16(dst, m.Pix[m.PixOffset(m.Rect.Min.X, y):])
		})
		return p, hasAlpha(p)
	}
	p := eachRow(m, func(dst []byte, y int) {
		for x := range len(dst) / 4 {
			c := color.NRGBAModel.Convert(m.At(m.Bounds().Min.X+x, y)).(color.NRGBA)
			copy(dst[4*x:], []byte{c.R, c.G, c.B, c.A})
		}
	})
	return p, hasAlpha(p)
}

func adopt(pix []byte, stride int, r image.Rectangle) *image.NRGBA {
	return &image.NRGBA{Pix: pix, Stride: stride, Rect: image.Rect(0, 0, r.Dx(), r.Dy())}
}

// eachRow makes a picture of the size of m, calling row from several goroutines with each row to fill and its y in m.
func eachRow(m image.Image, row func(dst []byte, y int)) *image.NRGBA {
	b := m.Bounds()
	p := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	bands(b.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row(p.Pix[y*p.Stride:y*p.Stride+4*b.Dx()], b.Min.Y+y)
		}
	})
	return p
}

// bands calls work with disjoint bands of rows that together are 0 to height, one a processor. A panic in one is
// raised again in the caller, which alone can recover from it.
func bands(height int, work func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), height)
	var wg sync.WaitGroup
	panics := make(chan any, max(n, 1))
	for i := range n {
		wg.Go(func() {
			defer func() {
				if r := recover(); r != nil {
					panics <- r
				}
			}()
			work(i*height/n, (i+1)*height/n)
		})
	}
	wg.Wait()
	select {
	case r := <-panics:
		panic(r)
	default:
	}
}

// hasAlpha reports whether any pixel is not fully opaque.
func hasAlpha(p *image.NRGBA) bool {
	var found atomic.Bool
	n := 4 * p.Rect.Dx()
	bands(p.Rect.Dy(), func(y0, y1 int) {
		for y := y0; y < y1 && !found.Load(); y++ {
			if !opaque(p.Pix[y*p.Stride : y*p.Stride+n]) {
				found.Store(true)
			}
		}
	})
	return found.Load()
}

// opaque looks at eight pixels at a time.
func opaque(row []byte) bool {
	const alphas = 0xff000000_ff000000
	for len(row) >= 32 {
		if le.Uint64(row)&le.Uint64(row[8:])&le.Uint64(row[16:])&le.Uint64(row[24:])&alphas != alphas {
			return false
		}
		row = row[32:]
	}
	for i := 3; i < len(row); i += 4 {
		if row[i] != 0xff {
			return false
		}
	}
	return true
}

// straighten divides the colours by alpha in place, as color.NRGBAModel does; a colour above its alpha, which only a
// broken file has, becomes full.
func straighten(p *image.NRGBA) {
	n := 4 * p.Rect.Dx()
	bands(p.Rect.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := p.Pix[y*p.Stride : y*p.Stride+n]
			for i := 0; i < n; i += 4 {
				px := row[i : i+4 : i+4]
				a := uint32(px[3])
				if a == 0xff {
					continue
				}
				for k := range 3 {
					px[k] = divided(uint32(px[k]), a)
				}
			}
		}
	})
}

// divided is v/alpha scaled to 8 bits, both in the same depth.
func divided(v, alpha uint32) uint8 {
	if alpha == 0 {
		return 0
	}
	return uint8(min(v, alpha) * 0xffff / alpha >> 8)
}

func straighten16(dst, src []byte) {
	for i := 0; i < len(dst); i += 4 {
		d, s := dst[i:i+4:i+4], src[2*i:2*i+8:2*i+8]
		a := uint32(be.Uint16(s[6:]))
		if a == 0xffff {
			d[0], d[1], d[2], d[3] = s[0], s[2], s[4], 0xff
			continue
		}
		for k := range 3 {
			d[k] = divided(uint32(be.Uint16(s[2*k:])), a)
		}
		d[3] = s[6]
	}
}

func highBytes(dst, src []byte) {
	for i := 0; i < len(dst); i += 4 {
		d, s := dst[i:i+4:i+4], src[2*i:2*i+8:2*i+8]
		d[0], d[1], d[2], d[3] = s[0], s[2], s[4], s[6]
	}
}

func grey(dst, src []byte, bytesPerSample int) {
	const opaqueBlack, eachColour = 0xff000000, 0x010101
	for j := 0; len(dst) >= 4; j += bytesPerSample {
		le.PutUint32(dst, uint32(src[j])*eachColour|opaqueBlack)
		dst = dst[4:]
	}
}

func unpaletted(m *image.Paletted) (*image.NRGBA, bool) {
	var table [256]uint32
	clear := false
	for i, c := range m.Palette {
		c := color.NRGBAModel.Convert(c).(color.NRGBA)
		table[i] = le.Uint32([]byte{c.R, c.G, c.B, c.A})
		clear = clear || c.A != 0xff
	}
	p := eachRow(m, func(dst []byte, y int) {
		at := m.PixOffset(m.Rect.Min.X, y)
		for _, index := range m.Pix[at : at+len(dst)/4] {
			le.PutUint32(dst, table[index])
			dst = dst[4:]
		}
	})
	// An index beyond the palette shows as nothing, so the palette alone does not settle it when it is short.
	return p, (clear || len(m.Palette) < len(table)) && hasAlpha(p)
}

// drawn converts an opaque picture by the fast paths of image/draw, in bands.
func drawn(m image.Image) *image.NRGBA {
	b := m.Bounds()
	p := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	// Premultiplied and straight pixels are the same bytes where all are opaque.
	dst := &image.RGBA{Pix: p.Pix, Stride: p.Stride, Rect: p.Rect}
	bands(b.Dy(), func(y0, y1 int) {
		draw.Draw(dst, image.Rect(0, y0, b.Dx(), y1), m, b.Min.Add(image.Pt(0, y0)), draw.Src)
	})
	return p
}

func withAlpha(m *image.NYCbCrA) (*image.NRGBA, bool) {
	p := drawn(&m.YCbCr)
	bands(p.Rect.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			a := m.A[m.AOffset(m.Rect.Min.X, m.Rect.Min.Y+y):]
			row := p.Pix[y*p.Stride : y*p.Stride+4*p.Rect.Dx()]
			for i := 3; i < len(row); i += 4 {
				row[i] = a[i/4]
			}
		}
	})
	return p, hasAlpha(p)
}

// orient shows a stored picture the way round that an EXIF orientation (EXIF 2.3, tag 274) asks for.
func orient(p *image.NRGBA, orientation int) *image.NRGBA {
	switch orientation {
	case 2:
		return imaging.FlipH(p)
	case 3:
		return imaging.Rotate180(p)
	case 4:
		return imaging.FlipV(p)
	case 5:
		return imaging.Transpose(p)
	case 6:
		return imaging.Rotate270(p)
	case 7:
		return imaging.Transverse(p)
	case 8:
		return imaging.Rotate90(p)
	}
	return p
}
