package raster

import (
	"fmt"
	"image"
	"math/bits"
	"slices"
)

// Bitmap is a mask of one bit a pixel. Bit x&63 of word x>>6 of a row is pixel x.
// Bits at and past W in a row's last word are always zero.
type Bitmap struct {
	W, H   int
	Stride int // words a row
	Words  []uint64
}

// NewBitmap returns an empty mask of w x h pixels. It panics on a negative size.
func NewBitmap(w, h int) *Bitmap {
	if w < 0 || h < 0 {
		panic(fmt.Sprintf("raster: bitmap of %d x %d pixels (bug)", w, h))
	}
	stride := (w + 63) / 64
	return &Bitmap{W: w, H: h, Stride: stride, Words: make([]uint64, stride*h)}
}

// Clone returns a copy of the mask.
func (b *Bitmap) Clone() *Bitmap {
	return &Bitmap{W: b.W, H: b.H, Stride: b.Stride, Words: slices.Clone(b.Words)}
}

// Row returns the words of row y, which must lie within the mask.
func (b *Bitmap) Row(y int) []uint64 { return b.Words[y*b.Stride : (y+1)*b.Stride] }

// At reports whether pixel (x, y) is set; pixels outside the mask are not.
func (b *Bitmap) At(x, y int) bool {
	if x < 0 || y < 0 || x >= b.W || y >= b.H {
		return false
	}
	return b.Words[y*b.Stride+x>>6]>>(x&63)&1 != 0
}

// Set sets pixel (x, y), which must lie within the mask.
func (b *Bitmap) Set(x, y int) { b.Words[y*b.Stride+x>>6] |= 1 << (x & 63) }

// SetRun sets the pixels x0 to x1-1 of row y, which must lie within the mask.
func (b *Bitmap) SetRun(y, x0, x1 int) {
	row := b.Row(y)
	for x0 < x1 {
		end := min(x1, (x0|63)+1)
		row[x0>>6] |= span(x0&63, end-x0)
		x0 = end
	}
}

// span returns n ones from bit at; n is 1 to 64-at.
func span(at, n int) uint64 { return (^uint64(0) >> (64 - n)) << at }

// Count returns the number of set pixels.
func (b *Bitmap) Count() int {
	n := 0
	for _, w := range b.Words {
		n += bits.OnesCount64(w)
	}
	return n
}

// CountIn returns the number of set pixels within r.
func (b *Bitmap) CountIn(r image.Rectangle) int {
	r = r.Intersect(image.Rect(0, 0, b.W, b.H))
	n := 0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := b.Row(y)
		for x := r.Min.X; x < r.Max.X; {
			end := min(r.Max.X, (x|63)+1)
			n += bits.OnesCount64(row[x>>6] & span(x&63, end-x))
			x = end
		}
	}
	return n
}

// AllIn reports whether every pixel of r is set. What lies beyond the mask is not.
func (b *Bitmap) AllIn(r image.Rectangle) bool {
	if r.Empty() {
		return true
	}
	if !r.In(image.Rect(0, 0, b.W, b.H)) {
		return false
	}
	for x := r.Min.X; x < r.Max.X; {
		end := min(r.Max.X, (x|63)+1)
		want := span(x&63, end-x)
		for at := r.Min.Y*b.Stride + x>>6; at < r.Max.Y*b.Stride; at += b.Stride {
			if b.Words[at]&want != want {
				return false
			}
		}
		x = end
	}
	return true
}

// Bounds returns the smallest rectangle that holds every set pixel, empty where none is set.
func (b *Bitmap) Bounds() image.Rectangle {
	r := image.Rectangle{Min: image.Pt(b.W, b.H)}
	for y := 0; y < b.H; y++ {
		row := b.Row(y)
		for i, w := range row {
			if w == 0 {
				continue
			}
			r.Min.X = min(r.Min.X, i*64+bits.TrailingZeros64(w))
			r.Max.X = max(r.Max.X, i*64+64-bits.LeadingZeros64(w))
			r.Min.Y = min(r.Min.Y, y)
			r.Max.Y = y + 1
		}
	}
	if r.Max.X <= r.Min.X {
		return image.Rectangle{}
	}
	return r
}

// ClearRun clears the pixels x0 to x1-1 of row y, which must lie within the mask.
func (b *Bitmap) ClearRun(y, x0, x1 int) {
	row := b.Row(y)
	for x0 < x1 {
		end := min(x1, (x0|63)+1)
		row[x0>>6] &^= span(x0&63, end-x0)
		x0 = end
	}
}

// Crop returns a copy of a part of the mask, which must lie within it and begin at a multiple of 64 pixels from the left.
func (b *Bitmap) Crop(r image.Rectangle) *Bitmap {
	if r.Min.X&63 != 0 || !r.In(image.Rect(0, 0, b.W, b.H)) {
		panic(fmt.Sprintf("raster: part %v of a mask of %d x %d (bug)", r, b.W, b.H))
	}
	out := NewBitmap(r.Dx(), r.Dy())
	for y := range out.H {
		copy(out.Row(y), b.Row(r.Min.Y + y)[r.Min.X/64:])
		out.clearTail(y)
	}
	return out
}

// And returns the pixels set in both masks; both must have one size.
func And(a, b *Bitmap) *Bitmap {
	return combine(a, b, func(dst, p, q []uint64) {
		for i := range dst {
			dst[i] = p[i] & q[i]
		}
	})
}

// AndNot returns the pixels set in a and not in b; both must have one size.
func AndNot(a, b *Bitmap) *Bitmap {
	return combine(a, b, andNot)
}

// Or returns the pixels set in either mask; both must have one size.
func Or(a, b *Bitmap) *Bitmap {
	return combine(a, b, func(dst, p, q []uint64) {
		for i := range dst {
			dst[i] = p[i] | q[i]
		}
	})
}

// Not returns the complement within the mask's bounds.
func Not(a *Bitmap) *Bitmap {
	return combine(a, a, func(dst, p, _ []uint64) { invert(dst, p, a.W) })
}

// combine makes a mask of two, row by row; op is given three rows of one length.
func combine(a, b *Bitmap, op func(dst, p, q []uint64)) *Bitmap {
	if a.W != b.W || a.H != b.H {
		panic("raster: masks of two sizes (bug)")
	}
	out := NewBitmap(a.W, a.H)
	Bands(a.H, bandRows, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			dst := out.Row(y)
			op(dst, a.Row(y)[:len(dst)], b.Row(y)[:len(dst)])
		}
	})
	return out
}

func andNot(dst, p, q []uint64) {
	for i := range dst {
		dst[i] = p[i] &^ q[i]
	}
}

func (b *Bitmap) clearTail(y int) {
	if b.Stride > 0 {
		b.Words[(y+1)*b.Stride-1] &= lastWord(b.W)
	}
}

// invert writes the complement of a row of w pixels.
func invert(dst, src []uint64, w int) {
	for i, p := range src {
		dst[i] = ^p
	}
	if len(dst) > 0 {
		dst[len(dst)-1] &= lastWord(w)
	}
}

// lastWord returns ones for the pixels in the last word of a row of w pixels.
func lastWord(w int) uint64 { return ^uint64(0) >> (-w & 63) }
