package raster

import (
	"fmt"
	"math"
	"math/bits"
)

// Dilate returns the mask grown by a disc: every pixel whose centre lies within radiusPx of a set pixel's centre.
func Dilate(src *Bitmap, radiusPx float64) *Bitmap {
	return byBands(src, newDisc(radiusPx), 1, func(g *grower, dst strip) { g.dilate(dst, src.rows(dst.y0-g.r, dst.y1()+g.r)) })
}

// Erode returns the pixels whose whole disc of radiusPx is set. outside says whether pixels beyond the mask count as set.
func Erode(src *Bitmap, radiusPx float64, outside bool) *Bitmap {
	return byBands(src, newDisc(radiusPx), 1, func(g *grower, dst strip) { g.erode(dst, src.rows(dst.y0-g.r, dst.y1()+g.r), outside) })
}

// Open returns the union of all discs of radiusPx that fit inside the set pixels (erosion, then dilation).
func Open(src *Bitmap, radiusPx float64, outside bool) *Bitmap {
	return byBands(src, newDisc(radiusPx), 2, func(g *grower, dst strip) { g.open(dst, src, outside) })
}

// byBands makes a mask of which each pixel depends on what of src the disc reaches, applied the given number of times; where that
// is empty the mask is not even touched.
func byBands(src *Bitmap, d disc, discs int, work func(g *grower, dst strip)) *Bitmap {
	dst := NewBitmap(src.W, src.H)
	eachBand(src.H, d.bandRows(discs), func() func(i, y0, y1 int) {
		g := d.grower(src)
		return func(_, y0, y1 int) {
			if reach := discs * d.r; !src.rows(y0-reach, y1+reach).empty() {
				work(g, dst.rows(y0, y1))
			}
		}
	})
	return dst
}

// disc is the digital disc x*x + y*y <= r*r, by half-width.
type disc struct {
	r      int
	levels []level // the narrowest first
}

// level is one half-width of a disc.
type level struct {
	step int   // how much wider than the level before, to each side; no more than a run of that level is long
	rows []int // row offsets for which the disc is just this wide
}

func newDisc(radiusPx float64) disc {
	if radiusPx < 0 || math.IsNaN(radiusPx) || radiusPx > math.MaxInt32 {
		panic(fmt.Sprintf("raster: disc of radius %v (bug)", radiusPx))
	}
	d := disc{r: int(radiusPx)}
	rows := make([][]int, d.r+1)
	for dy := -d.r; dy <= d.r; dy++ {
		half := int(math.Sqrt(radiusPx*radiusPx - float64(dy*dy)))
		rows[half] = append(rows[half], dy)
	}
	d.levels = append(d.levels, level{0, rows[0]})
	at := 0
	for half := 1; half <= d.r; half++ {
		if most := min(at+1, 63); len(rows[half]) > 0 || half-at == most {
			d.levels = append(d.levels, level{half - at, rows[half]})
			at = half
		}
	}
	return d
}

// bandRows returns how many rows make a band if the work on it needs the given number of discs more at both ends.
func (d disc) bandRows(discs int) int { return max(bandRows, 8*discs*d.r) }

// grower dilates and erodes strips; it is the scratch of one worker. Only pixels at the edge of what is set are spread: what is
// not set lies nearest to one of those. Of a page that is mostly blank and solid these are few.
type grower struct {
	disc
	edge   []uint64 // the edge pixels of one row
	cur    []uint64 // some of them, widened
	eroded scratch
}

func (d disc) grower(like *Bitmap) *grower {
	return &grower{disc: d, edge: make([]uint64, like.Stride), cur: make([]uint64, like.Stride)}
}

// open writes rows of the opening of a whole mask.
func (g *grower) open(dst strip, mask *Bitmap, outside bool) {
	eroded := g.eroded.rows(dst, dst.y0-g.r, dst.y1()+g.r)
	g.erode(eroded, mask.rows(eroded.y0-g.r, eroded.y1()+g.r), outside)
	g.dilate(dst, eroded)
}

// dilate writes the dilation of src, which must reach a disc beyond dst where the mask does.
func (g *grower) dilate(dst, src strip) {
	copy(dst.Words, src.rows(dst.y0, dst.y1()).Words)
	g.spread(dst, src, 0)
	for y := range dst.H {
		dst.clearTail(y)
	}
}

// erode writes the erosion of src, which must reach a disc beyond dst where the mask does.
func (g *grower) erode(dst, src strip, outside bool) {
	copy(dst.Words, src.rows(dst.y0, dst.y1()).Words)
	g.spread(dst, src, ^uint64(0))
	if outside {
		return
	}
	for y := range dst.H {
		if at := dst.y0 + y; at < g.r || at >= dst.of-g.r || 2*g.r >= dst.W {
			clear(dst.Row(y))
		} else {
			dst.ClearRun(y, 0, g.r)
			dst.ClearRun(y, dst.W-g.r, dst.W)
		}
	}
}

// spread sets in dst what the disc reaches from the set pixels of src that have a clear neighbour; with all ones in inv it
// clears what the disc reaches from the clear pixels that have a set one.
func (g *grower) spread(dst, src strip, inv uint64) {
	if src.Stride == 0 {
		return
	}
	for y := max(src.y0, dst.y0-g.r); y < min(src.y1(), dst.y1()+g.r); y++ {
		if words := g.findEdge(src.Bitmap, y-src.y0, inv); words > 0 {
			g.spreadRow(dst, y-dst.y0, words, inv)
		}
	}
}

// findEdge fills edge with the pixels of row y, of src or of its complement, that have a neighbour across or down of the other
// kind; what lies beyond src is of the same kind. It returns how many words hold any.
func (g *grower) findEdge(src *Bitmap, y int, inv uint64) int {
	row := src.Row(y)
	above, below := row, row
	if y > 0 {
		above = src.Row(y - 1)
	}
	if y+1 < src.H {
		below = src.Row(y + 1)
	}
	last := len(row) - 1
	edge := g.edge[:len(row)]
	above, below = above[:len(row)], below[:len(row)]
	words, before := 0, ^uint64(0)
	for i := range last {
		w := row[i] ^ inv
		e := uint64(0)
		if w != 0 {
			e = w &^ ((above[i] ^ inv) & (below[i] ^ inv) & (w<<1 | before>>63) & (w>>1 | (row[i+1]^inv)<<63))
			if e != 0 {
				words++
			}
		}
		edge[i] = e
		before = w
	}
	inside := lastWord(src.W)
	w := row[last] ^ inv | ^inside
	e := w &^ ((above[last] ^ inv) & (below[last] ^ inv) & (w<<1 | before>>63) & (w>>1 | 1<<63)) & inside
	edge[last] = e
	if e != 0 {
		words++
	}
	return words
}

// spreadRow hands the edge pixels of row y of dst, each group of words widened to every half-width of the disc, to the rows for
// which the disc is that wide. words is how many words hold any.
func (g *grower) spreadRow(dst strip, y, words int, inv uint64) {
	edge := g.edge
	gap := 1 + g.r/32 // groups no farther apart are widened together
	if 4*words > len(edge) {
		gap = len(edge)
	}
	for i := 0; i < len(edge); {
		if edge[i] == 0 {
			i++
			continue
		}
		end := i + 1
		for j := end; j < len(edge) && j <= end+gap; j++ {
			if edge[j] != 0 {
				end = j + 1
			}
		}
		x0 := i*64 + bits.TrailingZeros64(edge[i])
		x1 := end*64 - bits.LeadingZeros64(edge[end-1])
		from, to := max(0, x0-g.r)/64, min(len(edge), (x1+g.r+63)/64)
		if to-from == 1 {
			g.spreadWord(dst, y, from, edge[i], inv)
		} else {
			cur := g.cur[:to-from]
			clear(cur)
			copy(cur[i-from:], edge[i:end])
			g.spreadWords(dst, y, from, cur, inv)
		}
		i = end
	}
}

// spreadWord spreads pixels whose discs stay within one word of each row.
func (g *grower) spreadWord(dst strip, y, at int, w, inv uint64) {
	for _, l := range g.levels {
		w |= w<<l.step | w>>l.step
		for _, dy := range l.rows {
			if t := y + dy; uint(t) < uint(dst.H) {
				p := &dst.Words[t*dst.Stride+at]
				*p = (*p ^ inv | w) ^ inv
			}
		}
	}
}

// spreadWords spreads the pixels cur, which begin at word at of their row.
func (g *grower) spreadWords(dst strip, y, at int, cur []uint64, inv uint64) {
	for _, l := range g.levels {
		if l.step > 0 {
			widen(cur, l.step)
		}
		for _, dy := range l.rows {
			t := y + dy
			if uint(t) >= uint(dst.H) {
				continue
			}
			row := dst.Words[t*dst.Stride+at:][:len(cur)]
			for i, w := range cur {
				row[i] = (row[i] ^ inv | w) ^ inv
			}
		}
	}
}

// widen grows a row by step pixels, 1 to 63, to both sides; no run of it, but for what its ends cut off, may be shorter.
func widen(row []uint64, step int) {
	near, far := step&63, (64-step)&63
	before, last := uint64(0), len(row)-1
	for i := range last {
		w := row[i]
		row[i] = w | w<<near | before>>far | w>>near | row[i+1]<<far
		before = w
	}
	w := row[last]
	row[last] = w | w<<near | before>>far | w>>near
}
