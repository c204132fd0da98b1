package preflight

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"image"
	"math/bits"
	"sync"

	"peelcheck/raster"
)

// The levels of coverage, of 255, that tell printed from unprinted and solid from partly covered.
const (
	inkLevel      = 26  // a tenth
	detailLevel   = 18  // seven per cent: an edge pixel that may belong to a line
	inkLevelLossy = 64  // a quarter: lossy compression leaves less than that beside an edge
	solidLevel    = 242 // what is at least 95 % covered is no gap
	printsLevel   = 6   // under this not a dot is printed: two per cent
	// flatLevels is how much, of 255, a pixel may differ from its neighbours and still be part of a flat tint; edgeLevels is more than
	// the grain of photographs comes to, and less than an edge.
	flatLevels, edgeLevels = 8, 64
	// strayChroma is the least difference between the channels of a colour, in 255; what has less is taken to be grey.
	strayChroma = 40
	opaqueLevel = 250 // what is less, yet not nothing, is half-transparent
	// lostWhite is the least of red, green and blue, in 255, of a colour that leaves nothing on any plane.
	lostWhite = 255 - printsLevel + 1
)

// survey is what one pass over the pixels gathers.
type survey struct {
	ink, solid    *raster.Bitmap // everything that prints, as the detail rules see it
	whiteInk      *raster.Bitmap // the same of the white plane
	printsWhite   *raster.Bitmap // the white plane as it goes to the printer, before choking
	outlined      *raster.Bitmap // the same up to where soft edges are half as strong as what they belong to; nil where nothing is choked
	lost, stray   rareMask
	faint, fading rareMask
	ownWhite      rareMask      // what is white itself, where white lies under all colour
	restless      rareMask      // what closeTexture tells photographs by
	cover         *raster.Plane // how much of a pixel prints on any plane, as the detail rules see it
	whiteCover    *raster.Plane // the same of the white plane
	whiteSums     []uint16      // the white of 64 pixels, in 255ths, word by word as in a mask
	printed       image.Rectangle
	groundPx      int
	sumOf, areaOf [5]int // strength, in 255ths, and pixels of each plane as it goes to the printer
	texturedPx    int
	dotFields     []Spot // tiles full of dots, or of holes, as one spot each
	holeFields    []Spot
}

// rareMask is a mask that is nil, and takes no memory, until something is set in it.
type rareMask struct {
	once sync.Once
	mask *raster.Bitmap
}

func (m *rareMask) set(v *survey, at int, bits uint64) {
	if bits == 0 {
		return
	}
	m.once.Do(func() { m.mask = raster.NewBitmap(v.ink.W, v.ink.H) })
	m.mask.Words[at] = bits
}

// countIn returns the number of pixels set within a rectangle.
func (m *rareMask) countIn(r image.Rectangle) int {
	if m.mask == nil {
		return 0
	}
	return m.mask.CountIn(r)
}

// takeSurvey reads every pixel once, as rows arrive, in strips on all processors. Its error is that of the picture's decoder.
func (s *Scene) takeSurvey() error {
	mask := func() *raster.Bitmap { return raster.NewBitmap(s.W, s.H) }
	white := mask()
	v := &survey{
		ink: mask(), solid: mask(), whiteInk: mask(), printsWhite: white,
		cover: raster.NewPlane(s.W, s.H), whiteCover: raster.NewPlane(s.W, s.H),
		whiteSums: make([]uint16, len(white.Words)),
	}
	s.survey = v
	var mu sync.Mutex
	var broken error
	judge := newSurveyor(s)
	raster.Strips(s.H, raster.TilePx, func(y0, y1 int) {
		err := s.pic.Await(min(s.H, y1+1))
		b := &stripSurvey{surveyor: judge, v: v, printed: image.Rectangle{Min: image.Pt(s.W, s.H)}}
		if err == nil {
			b.strip(y0, y1)
		}
		mu.Lock()
		defer mu.Unlock()
		if err != nil {
			broken = err
			return
		}
		b.addTo(v)
	})
	return broken
}

// finishSurvey works out what needs the whole picture.
func (s *Scene) finishSurvey() {
	v := s.survey
	s.Printed = v.printed
	if s.ground.Found && s.Job.Background != BackgroundDrop {
		s.ground.AreaShare = float64(v.groundPx) / float64(s.W*s.H)
	}
	s.closeTexture()
	s.white = v.printsWhite
	if s.Job.Process.WhiteSource == WhiteUnderbase && s.Job.Process.ChokeMM > 0 && !s.BringsWhite() { // a file's own white is as it was meant
		v.outlined = s.outlined()
		s.white = s.pulledIn(v.outlined)
		if own := v.ownWhite.mask; own != nil { // only what lies under colour is pulled in
			s.white = raster.Or(s.white, own)
		}
	}
}

// stripSurvey gathers a strip of rows, one tile high. It keeps the last facts: neighbours are mostly alike.
type stripSurvey struct {
	*surveyor
	v             *survey
	facts         facts
	last          uint32 // the one value that the facts are of; 0, which is transparent, stands for none
	found         [64]run
	values        [4 * 64]byte // of the runs found
	own           [5][64]uint8 // what 64 pixels have of the file's own inks, then what prints of them
	tiles         []tilePair
	under         []likeness // by word: how like the pixels of a row are to those below
	underRow      []int      // which row that is
	sumOf, areaOf [5]int
	groundPx      int
	printed       image.Rectangle
}

func (b *stripSurvey) addTo(v *survey) {
	for i := range b.sumOf {
		v.sumOf[i] += b.sumOf[i]
		v.areaOf[i] += b.areaOf[i]
	}
	v.groundPx += b.groundPx
	if !b.printed.Empty() {
		v.printed = v.printed.Union(b.printed)
	}
}

// tilePair is the coverage of a tile: of all planes together, and of the white one where that differs.
type tilePair struct {
	all, white *raster.Tile
	rows       uint64 // a bit for each that was set
}

// begin makes ready for the first row of a strip.
func (b *stripSurvey) begin() {
	n := b.v.ink.Stride
	b.tiles, b.under, b.underRow = make([]tilePair, n), make([]likeness, n), make([]int, n)
	for i := range b.underRow {
		b.underRow[i] = -1
	}
}

func (b *stripSurvey) strip(y0, y1 int) {
	b.begin()
	for y := y0; y < y1; y++ {
		b.row(y)
	}
	for column, t := range b.tiles {
		if t.all != nil {
			t.finish()
			b.keepTiles(column, y0/raster.TilePx, t)
		}
	}
}

// keepTiles hands the coverage of a tile over and takes tiles back that are free.
func (b *stripSurvey) keepTiles(column, row int, t tilePair) {
	free := b.v.cover.SetTile(column, row, t.all)
	if freeWhite := b.v.whiteCover.SetTile(column, row, cmp.Or(t.white, t.all)); freeWhite && t.white != nil {
		spareTiles.Put(t.white)
	}
	if free {
		spareTiles.Put(t.all)
	}
}

// spareTiles are tiles for use again; what is in them does not count.
var spareTiles = sync.Pool{New: func() any { return new(raster.Tile) }}

// pixels are a row and those above and below it, or where there is none itself.
type pixels struct{ row, above, below []byte }

func (b *stripSurvey) lines(y int) pixels {
	pix := b.s.pic.Pix
	line := func(y int) []byte { return pix.Pix[y*pix.Stride:][:4*b.s.W] }
	return pixels{line(y), line(max(0, y-1)), line(min(b.s.H-1, y+1))}
}

func (b *stripSurvey) row(y int) {
	px, w := b.lines(y), b.s.W
	drawn := b.s.pic.Drawn
	for word := range b.v.ink.Stride {
		if drawn != nil && !drawn.At(word, y) {
			continue
		}
		x0, x1 := word*64, min(w, word*64+64)
		if drawn == nil && clearAlpha(px.row[4*x0:4*x1]) {
			continue
		}
		b.word(y, word, x0, x1, px)
	}
}

// clearAlpha reports whether every pixel is fully transparent.
func clearAlpha(px []byte) bool {
	var any uint64
	i := 0
	for ; i+8 <= len(px); i += 8 {
		any |= binary.LittleEndian.Uint64(px[i:])
	}
	if i < len(px) {
		any |= uint64(binary.LittleEndian.Uint32(px[i:]))
	}
	return any&0xff000000_ff000000 == 0
}

// words collects the masks of 64 pixels.
type words struct {
	traits
	rim, restless uint64
	whiteSum      int
}

// word looks at 64 pixels.
func (b *stripSurvey) word(y, word, x0, x1 int, px pixels) {
	var w words
	row, t, line := px.row[4*x0:4*x1], &b.tiles[word], y%raster.TilePx
	if b.s.inks != nil {
		b.inked(&w, row, image.Rect(x0, y, x1, y+1), t, line)
	} else if isBusy(row) {
		b.each(&w, row, t, line)
	} else {
		b.runs(&w, row, t, line)
	}
	b.groundPx += bits.OnesCount64(w.ground)
	b.flatten(&w, y, word, x0, x1, px)
	b.keepRims(&w, x0, px)
	b.put(&w, y, word, x0)
}

// isBusy tells, from some of them, whether many pixels differ from the next one.
func isBusy(px []byte) bool {
	const many = 5
	changes := 0
	for ; len(px) >= 16; px = px[16:] {
		if p := binary.LittleEndian.Uint64(px); uint32(p) != uint32(p>>32) {
			changes++
		}
	}
	return changes >= many
}

// each looks at every one of up to 64 pixels.
func (b *stripSurvey) each(w *words, px []byte, t *tilePair, line int) {
	if len(px) < 4*64 {
		px = append(make([]byte, 0, 4*64), px...)[:4*64]
	}
	f := &b.facts
	b.last, f.is = 0, traits{}
	for i := range 8 {
		b.separate(f, i, channelsOf(px[32*i:]))
	}
	b.take(w, t, line)
}

// inked looks at every one of up to 64 pixels of a picture that has inks of its own.
func (b *stripSurvey) inked(w *words, px []byte, at image.Rectangle, t *tilePair, line int) {
	if len(px) < 4*64 {
		px = append(make([]byte, 0, 4*64), px...)[:4*64]
	}
	own, f := &b.own, &b.facts
	b.s.ownInks(own, px, at)
	b.last, f.is = 0, traits{}
	for i := range 8 {
		w, c, m, y, k := eightAt(&own[inkWhite], i), eightAt(&own[inkCyan], i), eightAt(&own[inkMagenta], i), eightAt(&own[inkYellow], i), eightAt(&own[inkBlack], i)
		p := channelsOf(px[32*i:])
		cover := w.plus(c).plus(m).plus(y).plus(k)
		if b.byAlpha {
			cover = cover.from(eightOf(1)).full() & p.a.without(w)
		}
		// At an edge every ink has its share of the same part of a pixel.
		b.noteInks(f, i, p, cover.least(p.a), w, c, m, y, k)
	}
	b.take(w, t, line)
}

// take adds the facts of 64 pixels to what the strip holds.
func (b *stripSurvey) take(w *words, t *tilePair, line int) {
	f := &b.facts
	var white eight
	for i := range 8 {
		white += eightAt(&f.planes[inkWhite], i).paired()
	}
	w.whiteSum += white.sumOfPairs()
	w.traits = f.is
	for n := range f.planes {
		b.count(n, &f.planes[n])
	}
	t.setEach(line, f)
}

// count adds the strengths of 64 pixels on a plane to the sums.
func (b *stripSurvey) count(plane int, of *[64]uint8) {
	var area, sum eight
	for i := range 8 {
		v := eightAt(of, i)
		if v == 0 {
			continue
		}
		prints := v.from(eightOf(printsLevel))
		area += prints >> 7
		sum += (v & prints.full()).paired()
	}
	b.areaOf[plane] += area.paired().sumOfPairs()
	b.sumOf[plane] += sum.sumOfPairs()
}

// run is some pixels of one value.
type run struct{ from, n int }

// runs looks at the values of up to 64 pixels, the equal ones beside each other at once.
func (b *stripSurvey) runs(w *words, px []byte, t *tilePair, line int) {
	runs, values, k := &b.found, &b.values, 0
	for x := 0; 4*x < len(px); {
		p, n := binary.LittleEndian.Uint32(px[4*x:]), 1
		if 4*x+8 <= len(px) && binary.LittleEndian.Uint32(px[4*x+4:]) == p {
			n = equalRun(px[4*x:], p)
		}
		if p>>24 != 0 {
			runs[k] = run{x, n}
			binary.LittleEndian.PutUint32(values[4*k:], p)
			k++
		}
		x += n
	}
	b.learn(values[:], k)
	for i, r := range runs[:k] {
		b.spread(w, i, r, t, line)
	}
}

// learn works out the facts of n values.
func (b *stripSurvey) learn(values []byte, n int) {
	first := binary.LittleEndian.Uint32(values)
	if n == 1 && first == b.last {
		return
	}
	b.facts.is, b.last = traits{}, 0
	if n == 1 {
		b.last = first
	}
	for i := 0; 8*i < n; i++ {
		b.separate(&b.facts, i, channelsOf(values[32*i:]))
	}
}

// spread gives the pixels of a run the facts of value i.
func (b *stripSurvey) spread(w *words, i int, r run, t *tilePair, line int) {
	f, at := &b.facts, uint(i)
	px := runOf(r.from, r.n)
	w.prints |= px & -(f.is.prints >> at & 1)
	w.ink |= px & -(f.is.ink >> at & 1)
	w.solid |= px & -(f.is.solid >> at & 1)
	w.whiteInk |= px & -(f.is.whiteInk >> at & 1)
	w.printsWhite |= px & -(f.is.printsWhite >> at & 1)
	if (f.is.faint|f.is.fading|f.is.lost|f.is.stray|f.is.ground|f.is.ownWhite)>>at&1 != 0 {
		w.faint |= px & -(f.is.faint >> at & 1)
		w.fading |= px & -(f.is.fading >> at & 1)
		w.lost |= px & -(f.is.lost >> at & 1)
		w.stray |= px & -(f.is.stray >> at & 1)
		w.ground |= px & -(f.is.ground >> at & 1)
		w.ownWhite |= px & -(f.is.ownWhite >> at & 1)
	}
	w.whiteSum += r.n * int(f.planes[inkWhite][i])
	for n := range f.planes {
		if v := int(f.planes[n][i]); v >= printsLevel {
			b.sumOf[n] += r.n * v
			b.areaOf[n] += r.n
		}
	}
	if f.detail[i] > 0 {
		t.set(line, r.from, r.n, f.detail[i], f.white[i])
	}
}

// put hands the masks of 64 pixels over.
func (b *stripSurvey) put(w *words, y, word, x0 int) {
	if w.prints != 0 {
		first, end := x0+bits.TrailingZeros64(w.prints), x0+64-bits.LeadingZeros64(w.prints)
		b.printed.Min.X, b.printed.Max.X = min(b.printed.Min.X, first), max(b.printed.Max.X, end)
		b.printed.Min.Y, b.printed.Max.Y = min(b.printed.Min.Y, y), max(b.printed.Max.Y, y+1)
	}
	at, v := y*b.v.ink.Stride+word, b.v
	v.ink.Words[at], v.solid.Words[at], v.whiteInk.Words[at], v.printsWhite.Words[at] = w.ink, w.solid, w.whiteInk, w.printsWhite
	v.whiteSums[at] = uint16(w.whiteSum)
	v.lost.set(v, at, w.lost)
	v.stray.set(v, at, w.stray)
	v.faint.set(v, at, w.faint)
	v.fading.set(v, at, w.fading)
	v.ownWhite.set(v, at, w.ownWhite)
	v.restless.set(v, at, w.restless)
}

// equalRun returns how many pixels from the first on are equal to p, as the first is.
func equalRun(px []byte, p uint32) int {
	pair := uint64(p) | uint64(p)<<32
	i := 4
	for ; i+8 <= len(px) && binary.LittleEndian.Uint64(px[i:]) == pair; i += 8 {
	}
	if i+4 <= len(px) && binary.LittleEndian.Uint32(px[i:]) == p {
		i += 4
	}
	return i / 4
}

// runOf returns the bits of n pixels from x on within their word.
func runOf(x, n int) uint64 { return ^uint64(0) >> (64 - n) << (x & 63) }

// set notes the coverage of n pixels of the same value, from at of a row of the tile on.
func (t *tilePair) set(row, at, n int, all, white uint8) {
	t.prepare(white != all)
	if t.rows>>row&1 == 0 {
		t.clear(row)
		t.rows |= 1 << row
	}
	at += row * raster.TilePx
	if n == 1 {
		t.all[at] = all
		if t.white != nil {
			t.white[at] = white
		}
		return
	}
	setAll(t.all[at:at+n], all)
	if t.white != nil {
		setAll(t.white[at:at+n], white)
	}
}

// setEach notes the coverage of a row of the tile.
func (t *tilePair) setEach(row int, f *facts) {
	if f.detail == [64]uint8{} {
		return
	}
	t.prepare(f.white != f.detail)
	t.rows |= 1 << row
	*rowOf(t.all, row) = f.detail
	if t.white != nil {
		*rowOf(t.white, row) = f.white
	}
}

// prepare makes the tiles that are needed. What their rows hold does not count until it is set.
func (t *tilePair) prepare(differ bool) {
	if t.all == nil {
		t.all = spareTiles.Get().(*raster.Tile)
	}
	if t.white == nil && differ {
		t.white = spareTiles.Get().(*raster.Tile)
		for rows := t.rows; rows != 0; rows &= rows - 1 {
			row := bits.TrailingZeros64(rows)
			*rowOf(t.white, row) = *rowOf(t.all, row)
		}
	}
}

// finish clears the rows in which nothing was set.
func (t *tilePair) finish() {
	for unset := ^t.rows; unset != 0; unset &= unset - 1 {
		t.clear(bits.TrailingZeros64(unset))
	}
}

func (t *tilePair) clear(row int) {
	*rowOf(t.all, row) = [raster.TilePx]uint8{}
	if t.white != nil {
		*rowOf(t.white, row) = [raster.TilePx]uint8{}
	}
}

func rowOf(t *raster.Tile, row int) *[raster.TilePx]uint8 {
	return (*[raster.TilePx]uint8)(t[row*raster.TilePx:])
}

func setAll(to []uint8, v uint8) {
	for i := range to {
		to[i] = v
	}
}

// likeness tells of up to 64 pairs of pixels, a bit each, which are as like as within a flat tint, and which of them are not as far apart
// as over an edge.
type likeness struct{ flat, smooth uint64 }

func (l likeness) and(m likeness) likeness { return likeness{l.flat & m.flat, l.smooth & m.smooth} }

// likenessOf compares pixels one by one; a is at most 64 of them, b no shorter.
func likenessOf(a, b []byte) (l likeness) {
	n, b := len(a)/4, b[:len(a)]
	switch {
	case n == 0:
		return l
	case bytes.Equal(a, b):
		return likeness{runOf(0, n), runOf(0, n)}
	case n < 64:
		a, b = append(make([]byte, 0, 4*64), a...)[:4*64], append(make([]byte, 0, 4*64), b...)[:4*64]
	}
	low, high := alikeHalf(a[:128], b[:128]), alikeHalf(a[128:], b[128:])
	return likeness{(low.flat | high.flat<<32) & runOf(0, n), (low.smooth | high.smooth<<32) & runOf(0, n)}
}

// likenessOfOne compares two pixels.
func likenessOfOne(a, b []byte) likeness {
	most := 0
	for i := range 4 {
		most = max(most, int(a[i])-int(b[i]), int(b[i])-int(a[i]))
	}
	l := likeness{1, 1}
	if most > flatLevels {
		l.flat = 0
	}
	if most > edgeLevels {
		l.smooth = 0
	}
	return l
}

// alikeHalf is alike32 of half a word, which in a drawing is often all alike where the word is not.
func alikeHalf(a, b []byte) likeness {
	if bytes.Equal(a, b) {
		return likeness{runOf(0, 32), runOf(0, 32)}
	}
	return alike32(a, b)
}

// alike32 compares 32 pixels with others, byte by byte in lanes of 16 bits, two pixels at once.
func alike32(a, b []byte) likeness {
	const (
		lane  = 0x0001_0001_0001_0001
		bytes = 0xff * lane
		top   = 0x8000 * lane
		bias  = 256 * lane
		// A difference d is held as d+256+flatLevels: at most flatLevels either way, it is 256 to 256+2*flatLevels, and with bit 8 turned over
		// 0 to 2*flatLevels. Added to what is left to the top bit, all else sets that. The same for edgeLevels, with the bias raised.
		raise = (edgeLevels - flatLevels) * lane
		flat  = (0x7fff - 2*flatLevels) * lane
		edge  = (0x7fff - 2*edgeLevels) * lane
	)
	a, b = a[:128], b[:128]
	var rough, far uint64 // a bit a lane, from the lowest
	for i := 0; i < 128; i += 8 {
		p, q := binary.LittleEndian.Uint64(a[i:]), binary.LittleEndian.Uint64(b[i:])
		even := p&bytes + (256+flatLevels)*lane - q&bytes
		odd := p>>8&bytes + (256+flatLevels)*lane - q>>8&bytes
		rough = rough>>1 | ((even^bias+flat)|(odd^bias+flat))&top
		far = far>>1 | (((even+raise)^bias+edge)|((odd+raise)^bias+edge))&top
	}
	return likeness{^mingle(rough) & 0xffff_ffff, ^mingle(far) & 0xffff_ffff}
}

// mingle joins the two lanes of each pixel and puts the bits of every other pixel, which lie 32 apart, between each other.
func mingle(v uint64) uint64 {
	v = (v | v>>16) & 0x0000_ffff_0000_ffff
	v = (v | v<<8) & 0x00ff_00ff_00ff_00ff
	v = (v | v<<4) & 0x0f0f_0f0f_0f0f_0f0f
	v = (v | v<<2) & 0x3333_3333_3333_3333
	v = (v | v<<1) & 0x5555_5555_5555_5555
	return v&0xffff_ffff | v>>31
}

// flatten makes pixels solid that are part of a flat tint, tells which may be its rim, leaves faint only those, and marks as restless
// what differs from a neighbour by more, but from none by as much as over an edge.
func (b *stripSurvey) flatten(w *words, y, word, x0, x1 int, px pixels) {
	if w.ink|w.faint == 0 {
		return
	}
	above := b.likeAbove(y, word, px.row[4*x0:4*x1], px.above[4*x0:])
	below := b.likeBelow(y, word, px.row[4*x0:4*x1], px.below[4*x0:])
	left, right := likeAcross(px.row, x0, x1, b.s.W)
	l := above.and(below).and(left).and(right)
	w.solid |= w.ink & l.flat
	w.rim = w.ink &^ w.solid & (above.flat | below.flat) & (left.flat | right.flat)
	w.faint &= l.flat
	w.restless = w.ink & l.smooth &^ l.flat
}

// keepRims makes the rims of flat tints solid. In grain there are none, but much that looks like one.
func (b *stripSurvey) keepRims(w *words, x0 int, px pixels) {
	const grain = 4 // of how many pixels one is restless
	if grain*bits.OnesCount64(w.restless) > bits.OnesCount64(w.ink) {
		return
	}
	for ; w.rim != 0; w.rim &= w.rim - 1 {
		if i := bits.TrailingZeros64(w.rim); b.isRim(x0+i, px) {
			w.solid |= 1 << i
		}
	}
}

// isRim reports whether a pixel that is like some neighbour each way is the outermost of a flat tint: none of the others is covered
// more. What is covered less than leastRim may as well be the middle of a narrow gap.
func (b *stripSurvey) isRim(x int, px pixels) bool {
	const leastRim = 96
	at := func(line []byte, x int) uint8 {
		x = min(max(x, 0), b.s.W-1)
		p := line[4*x : 4*x+4]
		return b.s.detail.cover(p[0], p[1], p[2], p[3])
	}
	own := at(px.row, x)
	return own >= leastRim && max(at(px.above, x), at(px.below, x), at(px.row, x-1), at(px.row, x+1)) <= own+flatLevels
}

// likeAcross compares pixels with their neighbours to both sides, where there are any.
func likeAcross(row []byte, x0, x1, width int) (left, right likeness) {
	right = likenessOf(row[4*x0:4*min(x1, width-1)], row[4*x0+4:])
	if x1 == width {
		right.flat |= runOf(x1-1, 1)
		right.smooth |= runOf(x1-1, 1)
	}
	first := likeness{1, 1}
	if x0 > 0 {
		first = likenessOfOne(row[4*x0-4:4*x0], row[4*x0:])
	}
	return likeness{right.flat<<1 | first.flat, right.smooth<<1 | first.smooth}, right
}

// likeBelow compares pixels with those below and keeps the result for the next row.
func (b *stripSurvey) likeBelow(y, word int, row, below []byte) likeness {
	l := likenessOf(row, below)
	b.under[word], b.underRow[word] = l, y
	return l
}

// likeAbove compares pixels with those above, if that is not known from them.
func (b *stripSurvey) likeAbove(y, word int, row, above []byte) likeness {
	if y > 0 && b.underRow[word] == y-1 {
		return b.under[word]
	}
	return likenessOf(row, above)
}
