package raster

// bandRows is the least number of rows that work of a few operations a word is cut into: at A4 and 600 ppi a sixth of a megabyte,
// so that a worker's few masks stay in its cache. Tests set it lower, to have more seams.
var bandRows = 256

// strip is some rows of a mask, or of what is computed from one: what a worker has at hand while it does one band.
type strip struct {
	*Bitmap
	y0 int // the row of the mask that the strip's first row is
	of int // rows of the whole mask
}

func (s strip) y1() int { return s.y0 + s.H }

// rows returns rows y0 to y1-1 of a mask, as far as they exist, without copying.
func (b *Bitmap) rows(y0, y1 int) strip { return strip{b, 0, b.H}.rows(y0, y1) }

func (s strip) rows(y0, y1 int) strip {
	y0, y1 = max(y0, s.y0), min(y1, s.y1())
	words := s.Words[(y0-s.y0)*s.Stride : (y1-s.y0)*s.Stride]
	return strip{&Bitmap{W: s.W, H: y1 - y0, Stride: s.Stride, Words: words}, y0, s.of}
}

func (s strip) empty() bool {
	for _, w := range s.Words {
		if w != 0 {
			return false
		}
	}
	return true
}

// scratch is memory for a strip, used again from band to band.
type scratch struct{ words []uint64 }

// rows returns a strip for rows y0 to y1-1, as far as they exist, of a mask like the one that a strip is of; its pixels are to
// be written first.
func (m *scratch) rows(like strip, y0, y1 int) strip {
	y0, y1 = max(y0, 0), min(y1, like.of)
	n := (y1 - y0) * like.Stride
	if cap(m.words) < n {
		m.words = make([]uint64, n)
	}
	return strip{&Bitmap{W: like.W, H: y1 - y0, Stride: like.Stride, Words: m.words[:n]}, y0, like.of}
}

// eachBand cuts a mask into bands of about the given number of rows and calls the workers that start makes, one a processor.
func eachBand(h, rows int, start func() func(i, y0, y1 int)) {
	n := bandCount(h, rows)
	each(n, 1, func() func(i int) {
		work := start()
		return func(i int) { work(i, h*i/n, h*(i+1)/n) }
	})
}

func bandCount(h, rows int) int { return max(1, (h+rows-1)/rows) }
