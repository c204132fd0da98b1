package raster

import "math"

// Dilate returns the mask grown by a disc: every pixel whose centre lies within radiusPx of a set pixel's centre.
func Dilate(src *Bitmap, radiusPx float64) *Bitmap { return spread(src, radiusPx, false, false) }

// Erode returns the pixels whose whole disc of radiusPx is set. outside says whether pixels beyond the mask count as set.
func Erode(src *Bitmap, radiusPx float64, outside bool) *Bitmap {
	return spread(src, radiusPx, true, !outside)
}

// Open returns the union of all discs of radiusPx that fit inside the set pixels (erosion, then dilation).
func Open(src *Bitmap, radiusPx float64, outside bool) *Bitmap {
	return Dilate(Erode(src, radiusPx, outside), radiusPx)
}

// spread grows the set pixels by a disc, or the clear ones where inverted; edge says whether, as the grown kind sees it,
// the pixels beyond the mask are set. Sixty-four pixels at a time: each row is widened one pixel a step and handed to the
// rows for which the disc is that wide.
func spread(src *Bitmap, radiusPx float64, inverted, edge bool) *Bitmap {
	dst := NewBitmap(src.W, src.H)
	if src.W == 0 || src.H == 0 {
		return dst
	}
	if radiusPx < 0 || math.IsNaN(radiusPx) {
		panic("raster: disc of negative radius (bug)")
	}
	disc := newDisc(radiusPx)
	Bands(src.H, 4*disc.r+16, func(y0, y1 int) { disc.spreadBand(dst, src, y0, y1, inverted, edge) })
	if inverted {
		for y := range dst.H {
			row := dst.Row(y)
			for i := range row {
				row[i] = ^row[i]
			}
			dst.clearTail(y)
		}
	}
	return dst
}

// disc lists, for each half-width, the row offsets at which the disc x*x + y*y <= r*r is that wide.
type disc struct {
	r    int
	rows [][]int // index: half-width
}

func newDisc(radiusPx float64) disc {
	d := disc{r: int(radiusPx)}
	d.rows = make([][]int, d.r+1)
	for dy := -d.r; dy <= d.r; dy++ {
		half := int(math.Sqrt(radiusPx*radiusPx - float64(dy*dy)))
		d.rows[half] = append(d.rows[half], dy)
	}
	return d
}

func (d disc) spreadBand(dst, src *Bitmap, y0, y1 int, inverted, edge bool) {
	cur, next := make([]uint64, src.Stride), make([]uint64, src.Stride)
	for y := y0 - d.r; y < y1+d.r; y++ {
		if y < 0 || y >= src.H {
			if edge {
				d.fillFrom(dst, y, y0, y1)
			}
			continue
		}
		if !loadRow(cur, src, y, inverted) && !edge {
			continue
		}
		for half := 0; ; half++ {
			for _, dy := range d.rows[half] {
				if t := y + dy; t >= y0 && t < y1 {
					orInto(dst.Row(t), cur)
				}
			}
			if half == d.r {
				break
			}
			widen(next, cur, src.W, edge)
			cur, next = next, cur
		}
	}
}

// fillFrom sets every row of the band that the disc reaches from a row beyond the mask.
func (d disc) fillFrom(dst *Bitmap, y, y0, y1 int) {
	for t := max(y0, y-d.r); t < min(y1, y+d.r+1); t++ {
		row := dst.Row(t)
		for i := range row {
			row[i] = ^uint64(0)
		}
		dst.clearTail(t)
	}
}

// loadRow copies a row, or its complement, and reports whether any bit of it is set.
func loadRow(dst []uint64, src *Bitmap, y int, inverted bool) bool {
	row := src.Row(y)
	any := uint64(0)
	if !inverted {
		for i, w := range row {
			dst[i] = w
			any |= w
		}
		return any != 0
	}
	for i, w := range row {
		dst[i] = ^w
		any |= ^w
	}
	if tail := src.W & 63; tail != 0 {
		dst[len(dst)-1] &= span(0, tail)
	}
	return any != 0
}

// widen grows a row by one pixel to both sides; edge says whether the pixels beyond its ends are set.
func widen(dst, src []uint64, w int, edge bool) {
	carry := uint64(0)
	if edge {
		carry = 1
	}
	last := len(src) - 1
	for i := range src {
		right := uint64(0)
		if i < last {
			right = src[i+1] << 63
		}
		dst[i] = src[i] | src[i]<<1 | carry | src[i]>>1 | right
		carry = src[i] >> 63
	}
	if edge {
		dst[last] |= 1 << ((w - 1) & 63)
	}
	if tail := w & 63; tail != 0 {
		dst[last] &= span(0, tail)
	}
}

func orInto(dst, src []uint64) {
	for i, w := range src {
		dst[i] |= w
	}
}
