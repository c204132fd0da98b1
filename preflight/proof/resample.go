package proof

import (
	"image"
	"math"

	"peelcheck/raster"
)

// weights says which source pixels make one pixel of a reduced or enlarged row, and by how much.
type weights struct {
	first int
	share []float32
}

// axis shares n source pixels among the pixels lo to hi of a row that n fill as pixels 0 to outN: by area where it
// reduces, by the nearest where it enlarges.
func axis(n, outN, lo, hi int) []weights {
	ws := make([]weights, hi-lo)
	scale := float64(n) / float64(outN)
	for i := range ws {
		a := float64(lo+i) * scale
		if scale <= 1 {
			ws[i] = weights{min(n-1, max(0, int(a+scale/2))), []float32{1}}
			continue
		}
		b := min(float64(n), a+scale)
		first, last := max(0, int(a)), min(n, int(math.Ceil(b)))
		w := weights{first: min(n-1, first), share: make([]float32, max(1, last-first))}
		for j := range w.share {
			cover := min(b, float64(first+j+1)) - max(a, float64(first+j))
			w.share[j] = float32(max(0, cover) / (b - a))
		}
		ws[i] = w
	}
	return ws
}

// place draws src, of comps bytes a pixel, so that it fills the rectangle whole, as far as that lies in clip. shade turns
// the bytes of one pixel into colour.
func (c *canvas) place(src []byte, stride, comps int, size image.Point, whole, clip image.Rectangle, shade func(dst, px []byte)) {
	r := whole.Intersect(clip).Intersect(c.img.Rect)
	if r.Empty() || size.X == 0 || size.Y == 0 {
		return
	}
	xs := axis(size.X, whole.Dx(), r.Min.X-whole.Min.X, r.Max.X-whole.Min.X)
	ys := axis(size.Y, whole.Dy(), r.Min.Y-whole.Min.Y, r.Max.Y-whole.Min.Y)
	raster.Bands(r.Dy(), 16, func(y0, y1 int) {
		sums := make([]float32, comps*size.X)
		px := make([]byte, comps)
		for y := y0; y < y1; y++ {
			addRows(sums, src, stride, ys[y])
			dst := c.img.Pix[(r.Min.Y+y)*c.img.Stride+4*r.Min.X:]
			for x, w := range xs {
				mix(px, sums[comps*w.first:], w.share)
				shade(dst[4*x:4*x+4], px)
			}
		}
	})
}

// addRows sets sums to the weighted mean of some rows.
func addRows(sums []float32, src []byte, stride int, w weights) {
	for j, share := range w.share {
		row := src[(w.first+j)*stride:][:len(sums)]
		if j == 0 {
			for i, v := range row {
				sums[i] = share * float32(v)
			}
			continue
		}
		for i, v := range row {
			sums[i] += float32(share * float32(v))
		}
	}
}

// mix sets px to the weighted mean of neighbouring pixels.
func mix(px []byte, sums []float32, share []float32) {
	comps := len(px)
	for k := range px {
		var v float32
		for j, s := range share {
			v += float32(s * sums[j*comps+k])
		}
		px[k] = byte(v + 0.5)
	}
}

func (c *canvas) placeLook(look *image.NRGBA, whole, clip image.Rectangle) {
	c.place(look.Pix, look.Stride, 4, look.Rect.Size(), whole, clip, func(dst, px []byte) {
		copy(dst, px[:3])
	})
}

// whiteGround is what the white plane is shown on, as a grey value.
const whiteGround = 0x36

func (c *canvas) placeWhite(plane *image.Gray, whole, clip image.Rectangle) {
	var tone [256]byte
	for i := range tone {
		tone[i] = byte(whiteGround + (255-whiteGround)*i/255)
	}
	c.place(plane.Pix, plane.Stride, 1, plane.Rect.Size(), whole, clip, func(dst, px []byte) {
		v := tone[px[0]]
		dst[0], dst[1], dst[2] = v, v, v
	})
}
