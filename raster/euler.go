package raster

import (
	"image"
	"math/bits"
)

// Euler returns the Euler number of a part of the mask by itself: its pieces less the holes in them, which are connected the other way.
// It is counted from the patterns of 2 x 2 pixels, 64 at a time (Gray, Local properties of binary images in two dimensions, IEEE
// Trans. Computers C-20, 1971). The part lies within the mask and within one word: it begins at a multiple of 64 pixels from the left
// and is at most 64 wide.
func (b *Bitmap) Euler(part image.Rectangle, c Connectivity) int {
	at, width := part.Min.X/64, part.Dx()
	var above uint64
	one, three, diagonal := 0, 0, 0
	for y := part.Min.Y; y <= part.Max.Y; y++ {
		var row uint64
		if y < part.Max.Y {
			row = b.Words[y*b.Stride+at] & span(0, width)
		}
		p, q, r, s := above, above<<1, row, row<<1 // of each square: top right, top left, bottom right, bottom left
		odd := p ^ q ^ r ^ s
		most := odd & (p&q | r&s)
		three += bits.OnesCount64(most)
		one += bits.OnesCount64(odd &^ most)
		diagonal += bits.OnesCount64(p&s&^(q|r) | q&r&^(p|s))
		one += int((above ^ row) >> 63) // the square past the last column
		above = row
	}
	if c == Four {
		diagonal = -diagonal
	}
	return (one - three - 2*diagonal) / 4
}
