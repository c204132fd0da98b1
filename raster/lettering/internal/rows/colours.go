package rows

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"image"
	"slices"
	"sync"

	"peelcheck/raster"
)

const (
	// groundReach is how far, of 255 in any channel, a colour may be from another and still be taken for it; compression leaves less
	// than that beside an edge.
	groundReach = 40
	// mostColours bounds how many flat colours are looked at one by one.
	mostColours = 6
	// samplesAcross is about how many places are looked at in each direction to learn the colours of a picture.
	samplesAcross = 200
	// samplesAtOnce is how many of them are looked at together first.
	samplesAtOnce = 8
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

// places returns about n places from 0 to size-1 in order that lie alike from both ends.
func places(size, n int) []int {
	step := max(1, size/n)
	var out []int
	for i := step / 2; i < (size+1)/2; i += step {
		out = append(out, i, size-1-i)
	}
	slices.Sort(out)
	return out
}

// flatColours returns the colours of flat places, the most common first: none is within groundReach of one before it. The first is the
// ground.
func flatColours(pix *image.NRGBA, drawn *raster.Bitmap) []rgba {
	w, h := pix.Rect.Dx(), pix.Rect.Dy()
	t := tally{count: map[rgba]int{}}
	xs := places(w, samplesAcross)
	for _, y := range places(h, samplesAcross) {
		for part := range slices.Chunk(xs, samplesAtOnce) {
			if c, ok := flatSpan(pix, drawn, part[0]-1, part[len(part)-1]+2, y); ok {
				t.add(c, len(part))
				continue
			}
			for _, x := range part {
				if c, ok := flatAt(pix, x, y); ok {
					t.add(c, 1)
				}
			}
		}
	}
	return t.common()
}

// tally counts places by their colour.
type tally struct {
	count    map[rgba]int
	last     rgba
	run, all int // places that have the last colour, and all
}

func (t *tally) add(c rgba, n int) {
	if c != t.last {
		t.count[t.last] += t.run
		t.last, t.run = c, 0
	}
	t.run += n
	t.all += n
}

func (t *tally) common() []rgba {
	t.count[t.last] += t.run
	type entry struct {
		c rgba
		n int
	}
	var list []entry
	for c, n := range t.count {
		if float64(n) >= leastShare*float64(t.all) {
			list = append(list, entry{c, n})
		}
	}
	slices.SortFunc(list, func(a, b entry) int {
		return cmp.Or(b.n-a.n, bytes.Compare(a.c[:], b.c[:]))
	})
	var out []rgba
	for _, e := range list {
		if len(out) > mostColours {
			break
		}
		if !slices.ContainsFunc(out, func(c rgba) bool { return c.from(e.c) <= groundReach }) {
			out = append(out, e.c)
		}
	}
	return out
}

// flatSpan returns the colour of the pixels of a row from x0 to before x1, and whether they and those above and below have it.
func flatSpan(pix *image.NRGBA, drawn *raster.Bitmap, x0, x1, y int) (rgba, bool) {
	if x0 < 0 || x1 > pix.Rect.Dx() || y == 0 || y == pix.Rect.Dy()-1 {
		return rgba{}, false
	}
	if nothing(drawn, x0, x1, y) {
		return rgba{}, true
	}
	at := func(y int) []byte { return pix.Pix[y*pix.Stride+4*x0 : y*pix.Stride+4*x1] }
	own := at(y)
	return colourAt(own), allEqual(own) && bytes.Equal(own, at(y-1)) && bytes.Equal(own, at(y+1))
}

// nothing reports whether pixels of a row and those above and below are known to be transparent without a look at them.
func nothing(drawn *raster.Bitmap, x0, x1, y int) bool {
	if drawn == nil {
		return false
	}
	for word := x0 >> 6; word <= (x1-1)>>6; word++ {
		if drawn.At(word, y-1) || drawn.At(word, y) || drawn.At(word, y+1) {
			return false
		}
	}
	return true
}

// flatAt returns the colour of a pixel and whether its neighbours are like it.
func flatAt(pix *image.NRGBA, x, y int) (rgba, bool) {
	w, h := pix.Rect.Dx(), pix.Rect.Dy()
	at := y*pix.Stride + 4*x
	c := colourAt(pix.Pix[at:])
	if x > 0 && y > 0 && x+1 < w && y+1 < h {
		raw := func(at int) uint32 { return binary.LittleEndian.Uint32(pix.Pix[at:]) }
		if own := raw(at); own == raw(at-4) && own == raw(at+4) && own == raw(at-pix.Stride) && own == raw(at+pix.Stride) {
			return c, true
		}
	}
	for _, d := range [4]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		nx, ny := min(w-1, max(0, x+d.X)), min(h-1, max(0, y+d.Y))
		if c.from(colourAt(pix.Pix[ny*pix.Stride+4*nx:])) > 8 {
			return c, false
		}
	}
	return c, true
}

// sorter says into which mask a colour falls, by five bits of each channel and whether it is half opaque; other is none.
type sorter struct {
	in    func(rgba) uint8
	masks int
	said  sync.Pool // of *memo
	alpha bool      // opaque pixels go into the only mask, whatever their colour
}

// memo is what a sorter has said of colours, plus one; 0 where it was not asked.
type memo [1 << 16]uint8

const other = 253

func newSorter(masks int, in func(rgba) uint8) *sorter {
	return &sorter{in: in, masks: masks, said: sync.Pool{New: func() any { return new(memo) }}}
}

// index is a pixel's place in a memo.
func index(p uint32) uint16 { return uint16(p>>31<<15 | p<<7&0x7c00 | p>>6&0x3e0 | p>>19&0x1f) }

func (s *sorter) mask(said *memo, p uint32) uint8 {
	if in := said[index(p)]; in != 0 {
		return in - 1
	}
	return s.ask(said, index(p))
}

func (s *sorter) ask(said *memo, i uint16) uint8 {
	level := func(bits uint16) uint8 { return uint8(bits&31)<<3 | 4 }
	c := rgba{level(i >> 10), level(i >> 5), level(i), 255}
	if i>>15 == 0 {
		c = rgba{}
	}
	in := s.in(c)
	said[i] = in + 1
	return in
}

// offGround sorts what differs from the ground into one mask.
func offGround(ground rgba) *sorter {
	if ground == (rgba{}) {
		return &sorter{masks: 1, alpha: true}
	}
	return newSorter(1, func(c rgba) uint8 {
		if c.from(ground) > groundReach {
			return 0
		}
		return other
	})
}

// nearest sorts colours by which flat colour they are nearest to. The first, the ground, has no mask.
func nearest(colours []rgba) *sorter {
	return newSorter(len(colours)-1, func(c rgba) uint8 {
		best, least := 0, 1<<30
		for i, o := range colours {
			if d := c.squared(o); d < least {
				best, least = i, d
			}
		}
		if best == 0 {
			return other
		}
		return uint8(best - 1)
	})
}

// unlike sorts what is like none of the flat colours into one mask: strokes too thin to have a flat place.
func unlike(colours []rgba) *sorter {
	return newSorter(1, func(c rgba) uint8 {
		if slices.ContainsFunc(colours, func(o rgba) bool { return c.from(o) <= groundReach }) {
			return other
		}
		return 0
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

const (
	// sortedRows is how many rows are sorted at a time.
	sortedRows = 16
	// tried is the share of a picture's rows, one in so many, by which it is told whether all its masks are screened tone.
	tried = 8
)

// sort parts the pixels of a picture into masks, nil if all are screened tone: one in eight stretches of rows is looked at first, since
// pictures full of tone take the longest.
func (s *sorter) sort(pix *image.NRGBA, drawn *raster.Bitmap) []*raster.Bitmap {
	w, h := pix.Rect.Dx(), pix.Rect.Dy()
	out := make([]*raster.Bitmap, s.masks)
	for i := range out {
		out[i] = raster.NewBitmap(w, h)
	}
	var first, rest []int
	for y := range (h + sortedRows - 1) / sortedRows {
		if y%tried == tried/2 {
			first = append(first, y*sortedRows)
		} else {
			rest = append(rest, y*sortedRows)
		}
	}
	rows := func(starts []int) {
		raster.Bands(len(starts), 2, func(i0, i1 int) {
			if s.alpha {
				for _, y0 := range starts[i0:i1] {
					opaqueRows(out[0], pix, drawn, y0, min(h, y0+sortedRows))
				}
				return
			}
			said := s.said.Get().(*memo)
			defer s.said.Put(said)
			for _, y0 := range starts[i0:i1] {
				s.sortRows(out, said, pix, drawn, y0, min(h, y0+sortedRows))
			}
		})
	}
	rows(first)
	if len(first) > 1 && !slices.ContainsFunc(out, func(m *raster.Bitmap) bool { return !screenedIn(m, first) }) {
		return nil
	}
	rows(rest)
	return out
}

// screenedIn reports whether a mask is screened tone in the rows that were sorted from those on.
func screenedIn(m *raster.Bitmap, starts []int) bool {
	runs, rows := 0, 0
	for _, y0 := range starts {
		y1 := min(m.H, y0+sortedRows)
		runs, rows = runs+runsIn(m, y0, y1), rows+y1-y0
	}
	return tooManyRuns(runs, m.W*rows)
}

func (s *sorter) sortRows(out []*raster.Bitmap, said *memo, pix *image.NRGBA, drawn *raster.Bitmap, y0, y1 int) {
	w := pix.Rect.Dx()
	var bits [other + 1]uint64
	for y := y0; y < y1; y++ {
		px := pix.Pix[y*pix.Stride:][:4*w]
		for word := range out[0].Stride {
			x0, x1 := word*64, min(w, word*64+64)
			part, all := px[4*x0:4*x1], ^uint64(0)>>(64-(x1-x0))
			if drawn != nil && !drawn.At(word, y) {
				bits[s.mask(said, 0)] = all
			} else if first := binary.LittleEndian.Uint32(part); allEqual(part) {
				bits[s.mask(said, first)] = all
			} else {
				for i := 0; i < len(part); i += 4 * quarter {
					s.spread(said, part[i:min(len(part), i+4*quarter)], i/4, &bits)
				}
			}
			for i, m := range out {
				if bits[i] != 0 {
					m.Words[y*m.Stride+word], bits[i] = bits[i], 0
				}
			}
		}
	}
}

// opaqueRows sets what is half opaque or more.
func opaqueRows(out *raster.Bitmap, pix *image.NRGBA, drawn *raster.Bitmap, y0, y1 int) {
	for y := y0; y < y1; y++ {
		px := pix.Pix[y*pix.Stride:][:4*pix.Rect.Dx()]
		for word := range out.Stride {
			if drawn == nil || drawn.At(word, y) {
				out.Words[y*out.Stride+word] = raster.OpaqueBits(px[256*word : min(len(px), 256*word+256)])
			}
		}
	}
}

// quarter is a part of a word so short that it is often of one colour where the word is not.
const quarter = 16

// spread sets the bits of some pixels of a word, from bit on, in what their colours fall into. It asks for every pixel: in tone and
// grain no guess whether it is as the last one holds.
func (s *sorter) spread(said *memo, px []byte, bit int, bits *[other + 1]uint64) {
	if allEqual(px) {
		bits[s.mask(said, binary.LittleEndian.Uint32(px))] |= (1<<(len(px)/4) - 1) << bit
		return
	}
	for ; len(px) >= 4*8; px, bit = px[4*8:], bit+8 {
		in := s.say8(said, px)
		for i := range s.masks {
			bits[i] |= equalTo(in, uint8(i+1)) << bit
		}
	}
	for ; len(px) >= 4; px, bit = px[4:], bit+1 {
		bits[s.mask(said, binary.LittleEndian.Uint32(px))] |= 1 << (bit & 63)
	}
}

// say8 is what a memo says of eight pixels, a byte each, the first in the lowest.
func (s *sorter) say8(said *memo, px []byte) (in uint64) {
	px = px[:4*8]
	for i := 0; i < len(px); i += 4 {
		at := index(binary.LittleEndian.Uint32(px[i:]))
		if said[at] == 0 {
			s.ask(said, at)
		}
		in = in>>8 | uint64(said[at])<<56
	}
	return in
}

// equalTo returns a bit for each byte of eight that has a value.
func equalTo(bytes uint64, v uint8) uint64 {
	const each, rest = 0x0101_0101_0101_0101, 0x7f7f_7f7f_7f7f_7f7f
	d := bytes ^ uint64(v)*each
	zero := ^(d&rest + rest | d | rest) // the top bit of each byte that is 0
	return zero * 0x0002_0408_1020_4081 >> 56
}

// allEqual reports whether all pixels have one value.
func allEqual(px []byte) bool { return bytes.Equal(px[4:], px[:len(px)-4]) }
