package preflight

import (
	"encoding/binary"
	"image"
	"image/color"
	"sync"

	"peelcheck/raster"
)

// The levels of coverage, of 255, that tell printed from unprinted and solid from partly covered.
const (
	inkLevel      = 26  // a tenth: an edge pixel that may belong to a line
	inkLevelLossy = 64  // a quarter: lossy compression leaves less than that beside an edge
	solidLevel    = 225 // what is at least 88 % covered is no gap
	printsLevel   = 6   // under this not a dot is printed: two per cent
	// flatLevels is how much, of 255, a pixel may differ from its neighbours and still be part of a flat tint.
	flatLevels = 8
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
	lost, stray   *raster.Bitmap
	faint, fading *raster.Bitmap
	printed       image.Rectangle
	groundPx      int
	sumOf, areaOf [5]float64 // strength and pixels of each plane as it goes to the printer
	texturedPx    int
}

// pixelFacts is what the survey needs to know of one pixel value.
type pixelFacts struct {
	out           ink // as printed
	detail, white uint8
	lost, stray   bool
	faint, fading bool
	ground        bool
}

// takeSurvey reads every pixel once, in bands of rows on all processors.
func (s *Scene) takeSurvey() {
	v := &survey{
		ink: raster.NewBitmap(s.W, s.H), solid: raster.NewBitmap(s.W, s.H), whiteInk: raster.NewBitmap(s.W, s.H),
		printsWhite: raster.NewBitmap(s.W, s.H), lost: raster.NewBitmap(s.W, s.H), stray: raster.NewBitmap(s.W, s.H),
		faint: raster.NewBitmap(s.W, s.H), fading: raster.NewBitmap(s.W, s.H),
	}
	s.survey = v
	var mu sync.Mutex
	raster.Bands(s.H, 64, func(y0, y1 int) {
		b := bandSurvey{s: s, v: v, printed: image.Rectangle{Min: image.Pt(s.W, s.H)}}
		for y := y0; y < y1; y++ {
			b.row(y)
		}
		mu.Lock()
		defer mu.Unlock()
		b.addTo(v)
	})
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

// bandSurvey gathers one band. It keeps the last pixel's facts: neighbours are mostly alike.
type bandSurvey struct {
	s        *Scene
	v        *survey
	last     uint32
	facts    pixelFacts
	known    bool
	sumOf    [5]int
	areaOf   [5]int
	groundPx int
	printed  image.Rectangle
}

func (b *bandSurvey) addTo(v *survey) {
	for i := range b.sumOf {
		v.sumOf[i] += float64(b.sumOf[i]) / 255
		v.areaOf[i] += float64(b.areaOf[i])
	}
	v.groundPx += b.groundPx
	if !b.printed.Empty() {
		v.printed = v.printed.Union(b.printed)
	}
}

func (b *bandSurvey) row(y int) {
	pix := b.s.pic.Pix
	row := pix.Pix[y*pix.Stride : y*pix.Stride+4*b.s.W]
	above, below := row, row
	if y > 0 {
		above = pix.Pix[(y-1)*pix.Stride:][:4*b.s.W]
	}
	if y+1 < b.s.H {
		below = pix.Pix[(y+1)*pix.Stride:][:4*b.s.W]
	}
	for word := range b.v.ink.Stride {
		x0, x1 := word*64, min(b.s.W, word*64+64)
		if clearAlpha(row[4*x0 : 4*x1]) {
			continue
		}
		b.word(y, word, x0, x1, row, above, below)
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
type words struct{ ink, solid, whiteInk, printsWhite, lost, stray, faint, fading uint64 }

func (b *bandSurvey) word(y, word, x0, x1 int, row, above, below []byte) {
	var w words
	first, last := -1, -1
	for x := x0; x < x1; x++ {
		p := binary.LittleEndian.Uint32(row[4*x:])
		if p>>24 == 0 {
			continue
		}
		if p != b.last || !b.known {
			b.last, b.known = p, true
			b.facts = b.s.factsOf(uint8(p), uint8(p>>8), uint8(p>>16), uint8(p>>24))
		}
		f := &b.facts
		if f.ground {
			b.groundPx++
		}
		for i, v := range f.out {
			if v >= printsLevel {
				b.sumOf[i] += int(v)
				b.areaOf[i]++
			}
		}
		if f.out.most() >= printsLevel {
			if first < 0 {
				first = x
			}
			last = x
		}
		b.mark(&w, uint64(1)<<(x&63), x, p, row, above, below)
	}
	if first >= 0 {
		b.printed.Min.X, b.printed.Max.X = min(b.printed.Min.X, first), max(b.printed.Max.X, last+1)
		b.printed.Min.Y, b.printed.Max.Y = min(b.printed.Min.Y, y), max(b.printed.Max.Y, y+1)
	}
	at, v := y*b.v.ink.Stride+word, b.v
	v.ink.Words[at], v.solid.Words[at], v.whiteInk.Words[at] = w.ink, w.solid, w.whiteInk
	v.printsWhite.Words[at], v.lost.Words[at], v.stray.Words[at] = w.printsWhite, w.lost, w.stray
	v.faint.Words[at], v.fading.Words[at] = w.faint, w.fading
}

func (b *bandSurvey) mark(w *words, bit uint64, x int, p uint32, row, above, below []byte) {
	f := &b.facts
	level := b.s.inkLevel()
	if f.out[inkWhite] >= inkLevel {
		w.printsWhite |= bit
	}
	if f.lost {
		w.lost |= bit
	}
	if f.stray {
		w.stray |= bit
	}
	if f.fading {
		w.fading |= bit
	}
	if f.white >= level {
		w.whiteInk |= bit
	}
	if f.detail >= solidLevel {
		w.ink |= bit
		w.solid |= bit
		return
	}
	if f.detail >= level {
		w.ink |= bit
	}
	if f.detail < level && !f.faint {
		return
	}
	flat := isFlat(x, b.s.W, p, row, above, below)
	if flat && f.detail >= level {
		w.solid |= bit
	}
	if flat && f.faint {
		w.faint |= bit
	}
}

// isFlat reports whether a pixel hardly differs from its four neighbours.
func isFlat(x, w int, p uint32, row, above, below []byte) bool {
	if !alike(p, binary.LittleEndian.Uint32(above[4*x:])) || !alike(p, binary.LittleEndian.Uint32(below[4*x:])) {
		return false
	}
	if x > 0 && !alike(p, binary.LittleEndian.Uint32(row[4*x-4:])) {
		return false
	}
	return x+1 >= w || alike(p, binary.LittleEndian.Uint32(row[4*x+4:]))
}

func alike(p, q uint32) bool {
	if p == q {
		return true
	}
	for shift := 0; shift < 32; shift += 8 {
		if apart(uint8(p>>shift), uint8(q>>shift)) > flatLevels {
			return false
		}
	}
	return true
}

func (s *Scene) inkLevel() uint8 {
	if s.pic.Lossy {
		return inkLevelLossy
	}
	return inkLevel
}

// factsOf works out what the survey needs to know of one pixel value.
func (s *Scene) factsOf(r, g, b, a uint8) pixelFacts {
	f := pixelFacts{out: s.printed.pixel(r, g, b, a)}
	f.ground = s.ground.Found && s.Job.Background != BackgroundDrop && a == 255 && s.isGround(s.groundIs, color.NRGBA{r, g, b, a})
	d := f.out
	if s.detail != s.printed {
		d = s.detail.pixel(r, g, b, a)
	}
	if !(f.ground && s.ground.LeftOut) {
		f.detail, f.white = s.detail.cover(r, g, b, a), d[inkWhite]
	}
	most := f.out.most()
	f.faint = !(f.ground && s.ground.LeftOut) && most >= printsLevel && float64(most) < s.Limit("tint")*255
	f.fading = a >= printsLevel && a < 250
	chroma := max(r, g, b) - min(r, g, b)
	fromBlack := s.Job.Process.WhiteSource == WhiteFromBlack && !s.printed.white
	if fromBlack && a >= 128 {
		f.lost = min(r, g, b) >= lostWhite
		f.stray = chroma >= strayChroma && float64(f.out[inkWhite]) >= s.Limit("stray")*float64(a)
	}
	return f
}
