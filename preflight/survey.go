package preflight

import (
	"cmp"
	"encoding/binary"
	"image"
	"image/color"
	"math"
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
	// lostWhite is the least of red, green and blue, in 255, of a colour that leaves nothing on any plane.
	lostWhite = 255 - printsLevel + 1
)

// survey is what one pass over the pixels gathers.
type survey struct {
	ink, solid    *raster.Bitmap // everything that prints, as the detail rules see it
	whiteInk      *raster.Bitmap // the same of the white plane
	printsWhite   *raster.Bitmap // the white plane as it goes to the printer, before choking
	lost, stray   rareMask
	faint, fading rareMask
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

// pixelFacts is what the survey needs to know of one pixel value. It is small enough to stay in registers.
type pixelFacts struct {
	out           uint64 // the planes as printed, a byte each, in the order of AllPlanes
	detail, white uint8
	is            traits
}

// traits of a pixel value, a bit each.
type traits uint16

const (
	isPrinted traits = 1 << iota
	isInk            // what the detail rules see as printed, perhaps only partly
	isSolid
	isWhiteInk
	isPrintedWhite
	isFaint
	isFading
	isLost
	isStray
	isGround
)

// rare are the traits that most pixels lack.
const rare = isFaint | isFading | isLost | isStray | isGround

// where is t if the condition holds, for conditions that seldom change.
func (t traits) where(holds bool) traits {
	if holds {
		return t
	}
	return 0
}

// from is t where v is least or more, without a branch: in a photograph it would go either way.
func (t traits) from(v, least int) traits { return t &^ traits((v-least)>>63) }

// of is all ones if the trait is there, to mask the bits of pixels with.
func (t traits) of(is traits) uint64 { return -(uint64(is&t) / uint64(t)) }

// surveyor works out facts of pixels; it holds the limits it compares them with.
type surveyor struct {
	s          *Scene
	inkLevel   int
	faintBelow int
	strayFrom  [256]int // by alpha: the least white that is stray
	fromBlack  bool
	seesGround bool // the background was found and is still there
}

func newSurveyor(s *Scene) *surveyor {
	j := &surveyor{
		s: s, inkLevel: detailLevel,
		faintBelow: int(math.Ceil(s.Limit("tint") * 255)),
		fromBlack:  s.Job.Process.WhiteSource == WhiteFromBlack && !s.printed.white,
		seesGround: s.ground.Found && s.Job.Background != BackgroundDrop,
	}
	if s.pic.Lossy {
		j.inkLevel = inkLevelLossy
	}
	for a := range j.strayFrom {
		j.strayFrom[a] = int(math.Ceil(s.Limit("stray") * float64(a)))
	}
	return j
}

// factsOf works out what the survey needs to know of one pixel value that is not wholly transparent.
func (j *surveyor) factsOf(r, g, b, a uint8) pixelFacts {
	s := j.s
	w, c, m, y, k := s.printed.planes(r, g, b)
	cover := uint8(min(255, int(w)+int(c)+int(m)+int(y)+int(k)))
	if a != 255 {
		cover = scale(cover, a)
		w, c, m, y, k = scale(w, a), scale(c, a), scale(m, a), scale(y, a), scale(k, a)
	}
	most := int(max(w, c, m, y, k))
	f := pixelFacts{out: uint64(w) | uint64(c)<<8 | uint64(m)<<16 | uint64(y)<<24 | uint64(k)<<32}
	alpha, white := int(a), int(w)
	f.is = isPrinted.from(most, printsLevel) | isPrintedWhite.from(white, inkLevel) | isFading.where(a >= printsLevel && a < 250)
	f.is |= isGround.where(j.seesGround && a == 255 && s.isGround(s.groundIs, color.NRGBA{r, g, b, a}))
	if f.is&isGround == 0 || !s.ground.LeftOut {
		f.is |= isFaint.from(most, printsLevel) &^ isFaint.from(most, j.faintBelow)
		f.detail, f.white = cover, w
		if s.detail != s.printed {
			f.detail, f.white = s.detail.cover(r, g, b, a), s.detail.pixel(r, g, b, a)[inkWhite]
		}
		f.is |= isInk.from(int(f.detail), j.inkLevel) | isSolid.from(int(f.detail), solidLevel) | isWhiteInk.from(int(f.white), j.inkLevel)
	}
	if j.fromBlack && a >= 128 {
		least := int(min(r, g, b))
		chroma := int(max(r, g, b)) - least
		f.is |= isLost.from(least, lostWhite) | isStray.from(chroma, strayChroma)&isStray.from(white, j.strayFrom[alpha])
	}
	return f
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
	if choke := s.Px(s.Job.Process.ChokeMM); s.Job.Process.WhiteSource == WhiteUnderbase && choke > 0 {
		s.white = raster.Erode(v.printsWhite, choke, false)
	}
}

// stripSurvey gathers a strip of rows, one tile high. It keeps the last pixel's facts: neighbours are mostly alike.
type stripSurvey struct {
	*surveyor
	v        *survey
	last     uint32 // 0, which is transparent, stands for none yet
	facts    pixelFacts
	tiles    []tilePair
	under    []likeness  // by word: how like the pixels of a row are to those below
	underRow []int       // which row that is
	counts   [5][256]int // pixels of each strength of each plane
	groundPx int
	printed  image.Rectangle
}

func (b *stripSurvey) addTo(v *survey) {
	for i := range b.counts {
		for strength, n := range b.counts[i][printsLevel:] {
			v.sumOf[i] += n * (printsLevel + strength)
			v.areaOf[i] += n
		}
	}
	v.groundPx += b.groundPx
	if !b.printed.Empty() {
		v.printed = v.printed.Union(b.printed)
	}
}

// tilePair is the coverage of a tile: of all planes together, and of the white one where that differs.
type tilePair struct{ all, white *raster.Tile }

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
	prints, ink, solid, rim, whiteInk, printsWhite, lost, stray, faint, fading, restless uint64
	whiteSum                                                                             int
}

// word looks at 64 pixels, the equal ones beside each other at once.
func (b *stripSurvey) word(y, word, x0, x1 int, px pixels) {
	var w words
	t := &b.tiles[word]
	line := y % raster.TilePx * raster.TilePx
	last, f := b.last, b.facts
	for x := x0; x < x1; {
		p, n := binary.LittleEndian.Uint32(px.row[4*x:]), 1
		if x+1 < x1 && binary.LittleEndian.Uint32(px.row[4*x+4:]) == p {
			n = equalRun(px.row[4*x:4*x1], p)
		}
		if p>>24 == 0 {
			x += n
			continue
		}
		if p != last {
			last, f = p, b.factsOf(uint8(p), uint8(p>>8), uint8(p>>16), uint8(p>>24))
		}
		run := runOf(x, n)
		w.prints |= run & isPrinted.of(f.is)
		w.ink |= run & isInk.of(f.is)
		w.solid |= run & isSolid.of(f.is)
		w.whiteInk |= run & isWhiteInk.of(f.is)
		w.printsWhite |= run & isPrintedWhite.of(f.is)
		if f.is&rare != 0 {
			w.faint |= run & isFaint.of(f.is)
			w.fading |= run & isFading.of(f.is)
			w.lost |= run & isLost.of(f.is)
			w.stray |= run & isStray.of(f.is)
			b.groundPx += bits.OnesCount64(run & isGround.of(f.is))
		}
		b.count(f.out, n)
		w.whiteSum += n * int(uint8(f.out))
		if f.detail > 0 {
			t.set(line+x&63, n, f.detail, f.white)
		}
		x += n
	}
	b.last, b.facts = last, f
	b.flatten(&w, y, word, x0, x1, px)
	b.keepRims(&w, x0, px)
	b.put(&w, y, word, x0)
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

// count adds n pixels of the same planes to the sums.
func (b *stripSurvey) count(out uint64, n int) {
	for i := range b.counts {
		b.counts[i][uint8(out>>(8*i))] += n
	}
}

// set notes the coverage of n pixels of the same value.
func (t *tilePair) set(at, n int, all, white uint8) {
	if t.all == nil || t.white == nil && white != all {
		t.prepare(white != all)
	}
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

// prepare makes the tiles that are needed.
func (t *tilePair) prepare(differ bool) {
	if t.all == nil {
		t.all = spareTiles.Get().(*raster.Tile)
		clear(t.all[:])
	}
	if t.white == nil && differ {
		t.white = spareTiles.Get().(*raster.Tile)
		*t.white = *t.all
	}
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
	b = b[:len(a)]
	i := 0
	for ; 8*i+8 <= len(a); i++ {
		flat, smooth := alike2(binary.LittleEndian.Uint64(a[8*i:]), binary.LittleEndian.Uint64(b[8*i:]))
		l.flat |= flat << (2 * i)
		l.smooth |= smooth << (2 * i)
	}
	if 8*i < len(a) {
		flat, smooth := alike2(uint64(binary.LittleEndian.Uint32(a[8*i:])), uint64(binary.LittleEndian.Uint32(b[8*i:])))
		l.flat |= flat & 1 << (2 * i)
		l.smooth |= smooth & 1 << (2 * i)
	}
	return l
}

// alike2 compares two pixels with two others, byte by byte in lanes of 16 bits; of what it returns bit 0 is for the first ones and bit 1
// for the second.
func alike2(p, q uint64) (flat, smooth uint64) {
	if p == q {
		return 3, 3
	}
	const (
		lane  = 0x0001_0001_0001_0001
		bytes = 0xff * lane
		top   = 0x8000 * lane
		// A difference is held as d+256. Its top bit comes up with from added if d is -levels or more, and with beyond if d is more than levels.
		flatFrom, flatBeyond     = (0x8000 - 256 + flatLevels) * lane, (0x7fff - 256 - flatLevels) * lane
		smoothFrom, smoothBeyond = (0x8000 - 256 + edgeLevels) * lane, (0x7fff - 256 - edgeLevels) * lane
	)
	even := p&bytes + 256*lane - q&bytes
	odd := p>>8&bytes + 256*lane - q>>8&bytes
	flat = (even + flatFrom) & (odd + flatFrom) &^ ((even + flatBeyond) | (odd + flatBeyond)) & top
	smooth = (even + smoothFrom) & (odd + smoothFrom) &^ ((even + smoothBeyond) | (odd + smoothBeyond)) & top
	return bothLanes(flat), bothLanes(smooth)
}

// bothLanes joins the two lanes of each of two pixels.
func bothLanes(v uint64) uint64 {
	v &= v >> 16
	return v>>15&1 | v>>46&2
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
		first = likenessOf(row[4*x0-4:4*x0], row[4*x0:])
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
