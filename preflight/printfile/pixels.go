package printfile

import (
	"fmt"
	"image"

	"peelcheck/raster"
)

// FromPlanes reads planes of one size as one picture, their bytes side by side for each pixel; it fails if the sizes differ.
func FromPlanes(planes ...*raster.Plane) (Pixels, error) {
	if len(planes) == 0 {
		return Pixels{}, fmt.Errorf("printfile: no planes")
	}
	w, h := planes[0].W, planes[0].H
	for _, p := range planes {
		if p.W != w || p.H != h {
			return Pixels{}, fmt.Errorf("printfile: planes of %d x %d and %d x %d pixels cannot be one picture", w, h, p.W, p.H)
		}
	}
	if len(planes) == 1 {
		return Pixels{w, h, func(dst []byte, y0, y1 int) error {
			planes[0].Read(dst, image.Rect(0, y0, w, y1))
			return nil
		}}, nil
	}
	row := make([]byte, w)
	return Pixels{w, h, func(dst []byte, y0, y1 int) error {
		for y := y0; y < y1; y++ {
			for c, p := range planes {
				p.Read(row, image.Rect(0, y, w, y+1))
				spread(dst[(y-y0)*w*len(planes)+c:], row, len(planes))
			}
		}
		return nil
	}}, nil
}

// spread puts the bytes of row into every step-th byte of dst.
func spread(dst, row []byte, step int) {
	for x, v := range row {
		dst[x*step] = v
	}
}

// FromNRGBA reads a picture as its colour, three bytes a pixel, and its alpha.
func FromNRGBA(m *image.NRGBA) (colour, alpha Pixels) {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	each := func(y0, y1 int, pixel func(rgba []byte)) {
		for y := y0; y < y1; y++ {
			row := m.Pix[m.PixOffset(m.Rect.Min.X, m.Rect.Min.Y+y):][:4*w]
			for x := 0; x < len(row); x += 4 {
				pixel(row[x : x+4])
			}
		}
	}
	colour = Pixels{w, h, func(dst []byte, y0, y1 int) error {
		each(y0, y1, func(rgba []byte) { dst = dst[copy(dst, rgba[:3]):] })
		return nil
	}}
	alpha = Pixels{w, h, func(dst []byte, y0, y1 int) error {
		each(y0, y1, func(rgba []byte) { dst[0], dst = rgba[3], dst[1:] })
		return nil
	}}
	return colour, alpha
}
