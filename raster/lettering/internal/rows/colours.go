package rows

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"image"
	"slices"

	"peelcheck/raster"
)

const (
	// groundReach is how far, of 255 in any channel, a colour may be from another and still be taken for it; compression leaves less
	// than that beside an edge.
	groundReach = 40
	// mostColours bounds how many flat colours are looked at one by one.
	mostColours = 6
	// samplesAcross is about how many places are looked at in each direction to learn the colours of a picture.
	samplesAcross = 256
	// leastShare is the least share of those places that a flat colour has.
	leastShare = 0.0005
)

// rgba is a colour with straight alpha; all of what is under half opaque is one colour, nothing.
type rgba [4]uint8

func colourAt(px []byte) rgba {
	if px[3] < 128 {
		return rgba{}
	}
	return rgba{px[0], px[1], px[2], 255}
}

// from is how far two colours are apart: the largest difference of a channel.
func (c rgba) from(o rgba) int {
	d := 0
	for i := range c {
		d = max(d, int(c[i])-int(o[i]), int(o[i])-int(c[i]))
	}
	return d
}

// places returns about n places from 0 to size-1 that lie alike from both ends.
func places(size, n int) []int {
	step := max(1, size/n)
	var out []int
	for i := step / 2; i < (size+1)/2; i += step {
		out = append(out, i, size-1-i)
	}
	return out
}

// flatColours returns the colours of flat places, the most common first: none is within groundReach of one before it. The first is the
// ground.
func flatColours(pix *image.NRGBA) []rgba {
	w, h := pix.Rect.Dx(), pix.Rect.Dy()
	count, all := map[rgba]int{}, 0
	for _, y := range places(h, samplesAcross) {
		for _, x := range places(w, samplesAcross) {
			if c, ok := flatAt(pix, x, y); ok {
				count[c]++
				all++
			}
		}
	}
	type entry struct {
		c rgba
		n int
	}
	var list []entry
	for c, n := range count {
		list = append(list, entry{c, n})
	}
	slices.SortFunc(list, func(a, b entry) int {
		return cmp.Or(b.n-a.n, bytes.Compare(a.c[:], b.c[:]))
	})
	var out []rgba
	for _, e := range list {
		if len(out) > mostColours || float64(e.n) < leastShare*float64(all) {
			break
		}
		if !slices.ContainsFunc(out, func(c rgba) bool { return c.from(e.c) <= groundReach }) {
			out = append(out, e.c)
		}
	}
	return out
}

// flatAt returns the colour of a pixel and whether its neighbours are like it.
func flatAt(pix *image.NRGBA, x, y int) (rgba, bool) {
	w, h := pix.Rect.Dx(), pix.Rect.Dy()
	c := colourAt(pix.Pix[y*pix.Stride+4*x:])
	for _, d := range [4]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		nx, ny := min(w-1, max(0, x+d.X)), min(h-1, max(0, y+d.Y))
		if c.from(colourAt(pix.Pix[ny*pix.Stride+4*nx:])) > 8 {
			return c, false
		}
	}
	return c, true
}

// offGround is the mask of what differs from the ground.
func offGround(pix *image.NRGBA, drawn *raster.Bitmap, ground rgba) *raster.Bitmap {
	return mark(pix, drawn, ground, func(c rgba) bool { return c.from(ground) > groundReach })
}

// nearest is the mask of what is nearer to one flat colour than to any other, the last one named where two are as near.
func nearest(pix *image.NRGBA, drawn *raster.Bitmap, colours []rgba, of int) *raster.Bitmap {
	return mark(pix, drawn, colours[0], func(c rgba) bool {
		best, least := 0, 1<<30
		for i, o := range colours {
			if d := c.squared(o); d <= least {
				best, least = i, d
			}
		}
		return best == of
	})
}

func (c rgba) squared(o rgba) int {
	sum := 0
	for i := range c {
		d := int(c[i]) - int(o[i])
		sum += d * d
	}
	return sum
}

// mark sets what is of the kind asked for. Long runs of one value, such as the ground's, cost little.
func mark(pix *image.NRGBA, drawn *raster.Bitmap, ground rgba, is func(rgba) bool) *raster.Bitmap {
	w, h := pix.Rect.Dx(), pix.Rect.Dy()
	out := raster.NewBitmap(w, h)
	clear := uint64(0)
	if is(rgba{}) {
		clear = ^uint64(0)
	}
	raster.Bands(h, 32, func(y0, y1 int) {
		last, lastIs := rgba{}, clear != 0
		lastRaw := uint32(0)
		for y := y0; y < y1; y++ {
			px, row := pix.Pix[y*pix.Stride:][:4*w], out.Row(y)
			for word := range row {
				x0, x1 := word*64, min(w, word*64+64)
				if drawn != nil && !drawn.At(word, y) {
					row[word] = clear & (^uint64(0) >> (64 - (x1 - x0)))
					continue
				}
				var bits uint64
				part := px[4*x0 : 4*x1]
				first := binary.LittleEndian.Uint32(part)
				if allEqual(part, first) {
					if first != lastRaw {
						last, lastRaw = colourAt(part), first
						lastIs = is(last)
					}
					if lastIs {
						bits = ^uint64(0) >> (64 - (x1 - x0))
					}
					row[word] = bits
					continue
				}
				for i := 0; 4*i < len(part); i++ {
					if raw := binary.LittleEndian.Uint32(part[4*i:]); raw != lastRaw {
						lastRaw, last = raw, colourAt(part[4*i:])
						lastIs = is(last)
					}
					if lastIs {
						bits |= 1 << i
					}
				}
				row[word] = bits
			}
		}
	})
	return out
}

func allEqual(px []byte, p uint32) bool {
	pair := uint64(p) | uint64(p)<<32
	for ; len(px) >= 8; px = px[8:] {
		if binary.LittleEndian.Uint64(px) != pair {
			return false
		}
	}
	return len(px) == 0 || binary.LittleEndian.Uint32(px) == p
}
