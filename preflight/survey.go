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
	inkLevel      = 26  // a tenth: an edge pixel that may belong to a line
	inkLevelLossy = 64  // a quarter: lossy compression leaves less than that beside an edge
	solidLevel    = 225 // what is at least 88 % covered is no gap
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
	restless      rareMask              // what closeTexture tells photographs by
	cover         *raster.Plane         // how much of a pixel prints on any plane, as the detail rules see it
	whiteCover    *raster.Plane         // the same of the white plane
	empty         func() *raster.Bitmap // stands in for rare masks
	printed       image.Rectangle
	groundPx      int
	sumOf, areaOf [5]int // strength, in 255ths, and pixels of each plane as it goes to the printer
	texturedPx    int
}

// rareMask is a mask that takes no memory until something is set in it.
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

// get returns the mask, or where nothing was set in it one that is empty.
func (m *rareMask) get(v *survey) *raster.Bitmap {
	if m.mask == nil {
		return v.empty()
	}
	return m.mask
}

// pixelFacts is what the survey needs to know of one pixel value.
type pixelFacts struct {
	out           ink // as printed
	detail, white uint8
	prints        bool
	lost, stray   bool
	faint, fading bool
	ground        bool
}

// surveyor works out facts of pixels; it holds the limits it compares them with.
type surveyor struct {
	s          *Scene
	inkLevel   uint8
	faintBelow int
	stray      float64
	fromBlack  bool
	seesGround bool // the background was found and is still there
}

func newSurveyor(s *Scene) *surveyor {
	j := &surveyor{
		s: s, inkLevel: inkLevel,
		faintBelow: int(math.Ceil(s.Limit("tint") * 255)),
		stray:      s.Limit("stray"),
		fromBlack:  s.Job.Process.WhiteSource == WhiteFromBlack && !s.printed.white,
		seesGround: s.ground.Found && s.Job.Background != BackgroundDrop,
	}
	if s.pic.Lossy {
		j.inkLevel = inkLevelLossy
	}
	return j
}

// factsOf works out what the survey needs to know of one pixel value that is not wholly transparent.
func (j *surveyor) factsOf(r, g, b, a uint8) pixelFacts {
	s := j.s
	w, c, m, y, k := s.printed.planes(r, g, b)
	cover := scale(uint8(min(255, int(w)+int(c)+int(m)+int(y)+int(k))), a)
	if a != 255 {
		w, c, m, y, k = scale(w, a), scale(c, a), scale(m, a), scale(y, a), scale(k, a)
	}
	most := max(w, c, m, y, k)
	f := pixelFacts{out: ink{w, c, m, y, k}, prints: most >= printsLevel, fading: a >= printsLevel && a < 250}
	f.ground = j.seesGround && a == 255 && s.isGround(s.groundIs, color.NRGBA{r, g, b, a})
	if !(f.ground && s.ground.LeftOut) {
		f.faint = f.prints && int(most) < j.faintBelow
		f.detail, f.white = cover, w
		if s.detail != s.printed {
			f.detail, f.white = s.detail.cover(r, g, b, a), s.detail.pixel(r, g, b, a)[inkWhite]
		}
	}
	if j.fromBlack && a >= 128 {
		f.lost = min(r, g, b) >= lostWhite
		chroma := max(r, g, b) - min(r, g, b)
		f.stray = chroma >= strayChroma && float64(w) >= j.stray*float64(a)
	}
	return f
}

// takeSurvey reads every pixel once, as rows arrive, in strips on all processors. Its error is that of the picture's decoder.
func (s *Scene) takeSurvey() error {
	mask := func() *raster.Bitmap { return raster.NewBitmap(s.W, s.H) }
	v := &survey{
		ink: mask(), solid: mask(), whiteInk: mask(), printsWhite: mask(),
		cover: raster.NewPlane(s.W, s.H), whiteCover: raster.NewPlane(s.W, s.H),
		empty: sync.OnceValue(mask),
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
	last     uint32
	facts    pixelFacts
	known    bool
	tiles    []tilePair
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

func (b *stripSurvey) strip(y0, y1 int) {
	b.tiles = make([]tilePair, b.v.ink.Stride)
	for y := y0; y < y1; y++ {
		b.row(y)
	}
	for column, t := range b.tiles {
		if t.all != nil {
			b.v.cover.SetTile(column, y0/raster.TilePx, t.all)
			b.v.whiteCover.SetTile(column, y0/raster.TilePx, cmp.Or(t.white, t.all))
		}
	}
}

// pixels are the rows that the survey looks at around one of the words of a row: 64 pixels.
type pixels struct{ row, above, below []byte }

func (b *stripSurvey) row(y int) {
	pix, w := b.s.pic.Pix, b.s.W
	line := func(y int) []byte { return pix.Pix[y*pix.Stride:][:4*w] }
	px := pixels{line(y), line(max(0, y-1)), line(min(b.s.H-1, y+1))}
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
type words struct{ ink, solid, whiteInk, printsWhite, lost, stray, faint, fading, restless uint64 }

// word looks at 64 pixels, the equal ones beside each other at once.
func (b *stripSurvey) word(y, word, x0, x1 int, px pixels) {
	var w words
	var prints uint64
	for x := x0; x < x1; {
		p := binary.LittleEndian.Uint32(px.row[4*x:])
		n := equalRun(px.row[4*x:4*x1], p)
		if p>>24 != 0 {
			if p != b.last || !b.known {
				b.last, b.known = p, true
				b.facts = b.factsOf(uint8(p), uint8(p>>8), uint8(p>>16), uint8(p>>24))
			}
			b.count(n)
			if b.facts.prints {
				prints |= runOf(x, n)
			}
			b.mark(&w, x, n, p, px)
			if b.facts.detail >= b.inkLevel {
				w.restless |= restless(x+(-x-2*y)&(sampleEvery-1), x+n, b.s.W, p, px)
			}
			if b.facts.detail > 0 {
				b.tiles[word].set(y%raster.TilePx*raster.TilePx+x%raster.TilePx, n, b.facts.detail, b.facts.white)
			}
		}
		x += n
	}
	if prints != 0 {
		first, end := x0+bits.TrailingZeros64(prints), x0+64-bits.LeadingZeros64(prints)
		b.printed.Min.X, b.printed.Max.X = min(b.printed.Min.X, first), max(b.printed.Max.X, end)
		b.printed.Min.Y, b.printed.Max.Y = min(b.printed.Min.Y, y), max(b.printed.Max.Y, y+1)
	}
	at, v := y*b.v.ink.Stride+word, b.v
	v.ink.Words[at], v.solid.Words[at], v.whiteInk.Words[at], v.printsWhite.Words[at] = w.ink, w.solid, w.whiteInk, w.printsWhite
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

// count adds n pixels of the same value to the sums.
func (b *stripSurvey) count(n int) {
	f := &b.facts
	if f.ground {
		b.groundPx += n
	}
	for i, v := range f.out {
		b.counts[i][v] += n
	}
}

// set notes the coverage of n pixels of the same value.
func (t *tilePair) set(at, n int, all, white uint8) {
	if t.all == nil {
		t.all = new(raster.Tile)
	}
	if t.white == nil && white != all {
		t.white = new(raster.Tile)
		*t.white = *t.all
	}
	setAll(t.all[at:at+n], all)
	if t.white != nil {
		setAll(t.white[at:at+n], white)
	}
}

func setAll(to []uint8, v uint8) {
	for i := range to {
		to[i] = v
	}
}

// sampleEvery is of how many pixels one is asked whether it is restless.
const sampleEvery = 4

// restless marks the pixels from first to end, every fourth one, that differ from a neighbour by more than a flat tint does, and from
// none by as much as over an edge.
func restless(first, end, w int, p uint32, px pixels) (out uint64) {
	for x := first; x < end; x += sampleEvery {
		most := max(farthest(p, binary.LittleEndian.Uint32(px.above[4*x:])), farthest(p, binary.LittleEndian.Uint32(px.below[4*x:])))
		if x > 0 {
			most = max(most, farthest(p, binary.LittleEndian.Uint32(px.row[4*x-4:])))
		}
		if x+1 < w {
			most = max(most, farthest(p, binary.LittleEndian.Uint32(px.row[4*x+4:])))
		}
		if most > flatLevels && most <= edgeLevels {
			out |= 1 << (x & 63)
		}
	}
	return out
}

// farthest returns the largest difference between two pixels in one of red, green, blue and alpha.
func farthest(p, q uint32) int {
	if p == q {
		return 0
	}
	most := 0
	for shift := 0; shift < 32; shift += 8 {
		most = max(most, apart(uint8(p>>shift), uint8(q>>shift)))
	}
	return most
}

// mark sets the bits of n pixels of the same value p.
func (b *stripSurvey) mark(w *words, x, n int, p uint32, px pixels) {
	f, run := &b.facts, runOf(x, n)
	if f.out[inkWhite] >= inkLevel {
		w.printsWhite |= run
	}
	if f.lost {
		w.lost |= run
	}
	if f.stray {
		w.stray |= run
	}
	if f.fading {
		w.fading |= run
	}
	if f.white >= b.inkLevel {
		w.whiteInk |= run
	}
	if f.detail >= solidLevel {
		w.ink |= run
		w.solid |= run
		return
	}
	if f.detail >= b.inkLevel {
		w.ink |= run
	} else if !f.faint {
		return
	}
	for i := x; i < x+n; i++ {
		if !isFlat(i, b.s.W, p, px) {
			continue
		}
		bit := uint64(1) << (i & 63)
		if f.detail >= b.inkLevel {
			w.solid |= bit
		}
		if f.faint {
			w.faint |= bit
		}
	}
}

// isFlat reports whether a pixel hardly differs from its four neighbours.
func isFlat(x, w int, p uint32, px pixels) bool {
	if !alike(p, binary.LittleEndian.Uint32(px.above[4*x:])) || !alike(p, binary.LittleEndian.Uint32(px.below[4*x:])) {
		return false
	}
	if x > 0 && !alike(p, binary.LittleEndian.Uint32(px.row[4*x-4:])) {
		return false
	}
	return x+1 >= w || alike(p, binary.LittleEndian.Uint32(px.row[4*x+4:]))
}

func alike(p, q uint32) bool { return farthest(p, q) <= flatLevels }
