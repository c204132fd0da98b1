package raster

import (
	"fmt"
	"image"
	"math"
	"math/bits"
	"sort"
	"sync"
)

// Disc is the largest disc about the centre of a pixel: all pixels whose centres lie nearer than the root of RadiusSq to it are set,
// and one at just that distance is clear. RadiusSq is 0 where nothing is set.
type Disc struct {
	Centre   image.Point
	RadiusSq int
}

// boundless is a squared distance in pixels that no mask reaches.
const boundless = math.MaxUint32

// SquaredDistances returns, row by row for the pixels of r, the square of the distance to the centre of the nearest clear pixel, also
// one outside r: 0 for a clear pixel, boundSq where it is that or more. outside says whether pixels beyond the mask count as set.
// It panics if r does not lie within the mask. The method is that of Meijster, Roerdink and Hesselink (A general algorithm for
// computing distance transforms in linear time, 2000): the distances along columns, then the lower envelope of their parabolas
// along each row, in whole numbers.
func SquaredDistances[T uint8 | uint16 | uint32](b *Bitmap, r image.Rectangle, boundSq T, outside bool) []T {
	if !r.In(image.Rect(0, 0, b.W, b.H)) {
		panic(fmt.Sprintf("raster: %v is not within a mask of %d x %d pixels (bug)", r, b.W, b.H))
	}
	out := make([]T, r.Dx()*r.Dy())
	if len(out) == 0 || boundSq == 0 {
		return out
	}
	Bands(r.Dy(), sweepRows, func(y0, y1 int) {
		s := newSweep(b, r.Min.X, r.Max.X, boundSq, outside)
		s.do(r.Min.Y+y0, r.Min.Y+y1, func(y int, row []T) {
			copy(out[(y-r.Min.Y)*r.Dx():(y-r.Min.Y+1)*r.Dx()], row)
		})
	})
	return out
}

// LargestDisc returns the largest disc that fits in a mask, of several the first from top to bottom, then left to right. outside says
// whether pixels beyond the mask count as set; a mask without a clear pixel then gives RadiusSq as 1<<32 - 1.
func LargestDisc(b *Bitmap, outside bool) Disc {
	var best Disc
	var mu sync.Mutex
	Bands(b.H, sweepRows, func(y0, y1 int) {
		var own Disc
		s := newSweep(b, 0, b.W, uint32(boundless), outside)
		s.do(y0, y1, func(y int, row []uint32) { own.widest(y, 0, row) })
		mu.Lock()
		defer mu.Unlock()
		best.keep(own)
	})
	return best
}

// LargestDiscs returns, for each component of a mask, the largest disc that fits in it, chosen as by LargestDisc. No disc is ever
// hindered by another component rather than by a clear pixel.
func LargestDiscs(b *Bitmap, c *Components, outside bool) []Disc {
	out := make([]Disc, len(c.List))
	var mu sync.Mutex
	Bands(b.H, sweepRows, func(y0, y1 int) {
		at := sort.Search(len(c.Runs), func(i int) bool { return int(c.Runs[i].Y) >= y0 })
		s := newSweep(b, 0, b.W, uint32(boundless), outside)
		s.do(y0, y1, func(y int, row []uint32) {
			first := at
			for at < len(c.Runs) && int(c.Runs[at].Y) == y {
				at++
			}
			own := make([]Disc, at-first)
			for i, r := range c.Runs[first:at] {
				own[i].widest(y, int(r.X0), row[r.X0:r.X1])
			}
			mu.Lock()
			defer mu.Unlock()
			for i, r := range c.Runs[first:at] {
				out[r.Component].keep(own[i])
			}
		})
	})
	return out
}

// widest widens a disc to the largest of those about the pixels of a row from x0.
func (d *Disc) widest(y, x0 int, row []uint32) {
	for x, sq := range row {
		if int(sq) > d.RadiusSq {
			*d = Disc{image.Pt(x0+x, y), int(sq)}
		}
	}
}

// keep takes the other disc where it is larger, or as large and comes first.
func (d *Disc) keep(o Disc) {
	before := o.Centre.Y < d.Centre.Y || o.Centre.Y == d.Centre.Y && o.Centre.X < d.Centre.X
	if o.RadiusSq > d.RadiusSq || o.RadiusSq == d.RadiusSq && before {
		*d = o
	}
}

// sweepRows is how many rows are worked on at once: enough that looking beyond them costs little, few enough to stay in cache.
const sweepRows = 64

// sweep computes squared distances for a few rows at a time. It is not safe for concurrent use.
type sweep[T uint8 | uint16 | uint32] struct {
	mask     *Bitmap
	x0, x1   int // the columns asked for
	k0, k1   int // the words of a row that have a say in them
	bound    int
	reach    int // the least whole distance whose square is the bound or more; it fits T
	outside  bool
	rows     []T     // sweepRows rows of the columns from 64*k0: distances along columns, then squared distances
	clearAt  []int32 // by column: the row of the nearest clear pixel on the side looked at
	pending  []uint64
	parabola []parabola
}

// parabola is least at one column of a row, the site, and the lowest of all from another on.
type parabola struct{ site, from, heightSq int }

// nowhere is farther from any row than masks are high.
const nowhere = 1 << 30

func newSweep[T uint8 | uint16 | uint32](b *Bitmap, x0, x1 int, boundSq T, outside bool) *sweep[T] {
	s := &sweep[T]{mask: b, x0: x0, x1: x1, bound: int(boundSq), reach: int(math.Ceil(math.Sqrt(float64(boundSq)))), outside: outside}
	s.k0, s.k1 = max(0, x0-s.reach)/64, (min(b.W, x1+s.reach)+63)/64
	w := s.width()
	s.rows = make([]T, sweepRows*w)
	s.clearAt = make([]int32, 64*(s.k1-s.k0))
	s.pending = make([]uint64, s.k1-s.k0)
	s.parabola = make([]parabola, w+2)
	return s
}

// width is the number of columns worked on.
func (s *sweep[T]) width() int { return min(s.mask.W, 64*s.k1) - 64*s.k0 }

// do hands rows y0 to y1-1 to use, one after another; row holds the columns asked for and is overwritten later.
func (s *sweep[T]) do(y0, y1 int, use func(y int, row []T)) {
	w := s.width()
	var runs []Run
	for top := y0; top < y1; top += sweepRows {
		end := min(y1, top+sweepRows)
		s.lookDown(end)
		for y := end - 1; y >= top; y-- {
			s.down(y, s.rows[(y-top)*w:(y-top+1)*w])
		}
		s.lookUp(top)
		for y := top; y < end; y++ {
			row := s.rows[(y-top)*w : (y-top+1)*w]
			s.up(y, row)
			runs = appendRuns(runs[:0], s.mask.Row(y)[s.k0:s.k1], y)
			for _, r := range runs {
				s.across(row, int(r.X0), int(r.X1))
			}
			use(y, row[s.x0-64*s.k0:s.x1-64*s.k0])
		}
	}
}

// lookDown finds the first clear pixel of each column from row y on.
func (s *sweep[T]) lookDown(y int) {
	beyond := s.mask.H
	if s.outside {
		beyond = nowhere
	}
	s.startLooking(beyond)
	for end := min(s.mask.H, y+s.reach); y < end && s.look(y); y++ {
	}
}

// lookUp finds the last clear pixel of each column before row y.
func (s *sweep[T]) lookUp(y int) {
	beyond := -1
	if s.outside {
		beyond = -nowhere
	}
	s.startLooking(beyond)
	for end := max(0, y-s.reach); y > end && s.look(y-1); y-- {
	}
}

func (s *sweep[T]) startLooking(beyond int) {
	for i := range s.clearAt {
		s.clearAt[i] = int32(beyond)
	}
	for i := range s.pending {
		s.pending[i] = ^uint64(0)
	}
}

// look notes the columns that are clear in row y and were not before, and reports whether any are left.
func (s *sweep[T]) look(y int) bool {
	left := uint64(0)
	for i, w := range s.mask.Row(y)[s.k0:s.k1] {
		for hits := s.pending[i] &^ w; hits != 0; hits &= hits - 1 {
			s.clearAt[64*i+bits.TrailingZeros64(hits)] = int32(y)
		}
		s.pending[i] &= w
		left |= s.pending[i]
	}
	return left != 0
}

// down writes the distances of row y to the nearest clear pixel at or below it in the same column, at most reach.
func (s *sweep[T]) down(y int, row []T) {
	for i, w := range s.mask.Row(y)[s.k0:s.k1] {
		part := row[64*i : min(len(row), 64*i+64)]
		at := s.clearAt[64*i : 64*i+len(part)]
		if w == 0 {
			clear(part)
			for j := range at {
				at[j] = int32(y)
			}
			continue
		}
		for j := range part {
			if w>>j&1 == 0 {
				at[j] = int32(y)
			}
			part[j] = T(min(int(at[j])-y, s.reach))
		}
	}
}

// up lowers the distances of row y to those from the nearest clear pixel above it.
func (s *sweep[T]) up(y int, row []T) {
	for i, w := range s.mask.Row(y)[s.k0:s.k1] {
		part := row[64*i : min(len(row), 64*i+64)]
		at := s.clearAt[64*i : 64*i+len(part)]
		if w == 0 {
			for j := range at {
				at[j] = int32(y)
			}
			continue
		}
		for j := range part {
			if w>>j&1 == 0 {
				at[j] = int32(y)
			}
			if d := y - int(at[j]); d < int(part[j]) {
				part[j] = T(d)
			}
		}
	}
}

// across turns the distances along columns of a run of set pixels, x0 to x1-1 of the row, into squared distances. Nothing beyond the
// clear pixels at its ends is nearer than they are.
func (s *sweep[T]) across(row []T, x0, x1 int) {
	n := 0
	if x0 > 0 || s.k0 == 0 && !s.outside {
		n = s.stack(n, x0, x1, x0-1, 0)
	}
	for x := x0; x < x1; x++ {
		if d := int(row[x]); d < s.reach {
			n = s.stack(n, x0, x1, x, d*d)
		}
	}
	if x1 < len(row) || 64*s.k0+x1 == s.mask.W && !s.outside {
		n = s.stack(n, x0, x1, x1, 0)
	}
	if n == 0 {
		for x := x0; x < x1; x++ {
			row[x] = T(s.bound)
		}
		return
	}
	for i, p := range s.parabola[:n] {
		end := x1
		if i+1 < n {
			end = s.parabola[i+1].from
		}
		for x := p.from; x < end; x++ {
			row[x] = T(min((x-p.site)*(x-p.site)+p.heightSq, s.bound))
		}
	}
}

// stack adds a parabola, sites in rising order, to the n of the lower envelope over x0 to x1-1 and returns how many it then has.
func (s *sweep[T]) stack(n, x0, x1, site, heightSq int) int {
	for ; n > 0; n-- {
		p := &s.parabola[n-1]
		if (p.from-p.site)*(p.from-p.site)+p.heightSq > (p.from-site)*(p.from-site)+heightSq {
			continue
		}
		// The last column at which p is no higher: not before p.from, so the division never rounds a negative number.
		last := (site*site - p.site*p.site + heightSq - p.heightSq) / (2 * (site - p.site))
		if last+1 < x1 {
			s.parabola[n] = parabola{site, last + 1, heightSq}
			n++
		}
		return n
	}
	s.parabola[0] = parabola{site, x0, heightSq}
	return 1
}
