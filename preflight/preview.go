package preflight

import (
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"math/bits"

	"peelcheck/raster"
)

// Appearance is an artwork as it will look. It holds the pixels but none of the masks that judging needed. It is safe for concurrent use.
type Appearance struct {
	pic     *raster.Picture
	w, h    int // of the picture, in pixels
	printed *separation
	inks    *inks // the file's own; nil if it has none
	source  WhiteSource
	cloth   color.NRGBA
	choked  *raster.Bitmap // what prints white; nil where nothing chokes it
	lost    *raster.Bitmap // what is drawn white and stays unprinted, as far as a rule has looked for it; nil where nothing is
	colours bool           // only the coloured inks are looked at, on white paper
}

// Appearance returns what there is to be seen of the artwork.
func (s *Scene) Appearance() *Appearance {
	a := &Appearance{pic: s.pic, w: s.W, h: s.H, printed: s.printed, inks: s.inks, source: s.Job.Process.WhiteSource, cloth: s.Job.Garment.Colour, lost: s.lostFound.Load()}
	if s.white != s.survey.printsWhite {
		a.choked = s.white
	}
	return a
}

// Size is that of the picture, in pixels.
func (a *Appearance) Size() image.Point { return image.Pt(a.w, a.h) }

// HasLost reports whether it is known of anything that it is drawn white and stays unprinted.
func (a *Appearance) HasLost() bool { return a.lost != nil }

// MarkLost chequers, in a part of a preview where all of the artwork is scaled to whole pixels, what a box of the artwork holds that is drawn white
// and stays unprinted, as the rule about that found it: in white, or on light cloth in grey.
func (a *Appearance) MarkLost(look *image.NRGBA, whole image.Point, box image.Rectangle) {
	if a.lost == nil {
		return
	}
	const side, light = 3, 0xa0
	mark := color.NRGBA{255, 255, 255, 255}
	if min(a.cloth.R, a.cloth.G, a.cloth.B) >= light {
		mark = color.NRGBA{0x70, 0x70, 0x70, 255}
	}
	on := image.Rect(box.Min.X*whole.X/a.w, box.Min.Y*whole.Y/a.h, box.Max.X*whole.X/a.w+1, box.Max.Y*whole.Y/a.h+1).Intersect(look.Rect)
	for y := on.Min.Y; y < on.Max.Y; y++ {
		for x := on.Min.X; x < on.Max.X; x++ {
			at := image.Pt((2*x+1)*a.w/(2*whole.X), (2*y+1)*a.h/(2*whole.Y))
			if (x/side+y/side)%2 == 0 && at.In(box) && a.lost.At(at.X, at.Y) {
				look.SetNRGBA(x, y, mark)
			}
		}
	}
}

// InColour returns the artwork as cyan, magenta, yellow and black alone would look on white paper.
func (a *Appearance) InColour() *Appearance {
	b := *a
	b.colours = true
	return &b
}

// Preview returns a part of the artwork as it will look on the garment, and of its white plane, where all of it is scaled to whole
// pixels; both have the bounds part, which must lie within whole. Where that reduces, a pixel is the mean over its share of the
// artwork; where it enlarges, it is the pixel nearest.
func (a *Appearance) Preview(whole image.Point, part image.Rectangle) (look *image.NRGBA, white *image.Gray) {
	if !part.In(image.Rectangle{Max: whole}) {
		panic(fmt.Sprintf("preflight: part %v of a preview of %v (bug)", part, whole))
	}
	look, white = image.NewNRGBA(part), image.NewGray(part)
	if part.Empty() {
		return look, white
	}
	xs, ys := shares(a.w, whole.X, part.Min.X, part.Max.X), shares(a.h, whole.Y, part.Min.Y, part.Max.Y)
	raster.Bands(part.Dy(), 4, func(y0, y1 int) {
		v := previewer{a: a, xs: xs, from: xs[0].first &^ 1, to: xs[len(xs)-1].last + 1}
		v.sums = make([]uint64, (v.to-v.from+1)&^1)
		v.blank, _ = a.seen(color.NRGBA{})
		for y := y0; y < y1; y++ {
			seen, plane := look.Pix[y*look.Stride:][:4*len(xs)], white.Pix[y*white.Stride:][:len(xs)]
			if y > y0 && ys[y] == ys[y-1] { // as where small artwork is enlarged
				copy(seen, look.Pix[(y-1)*look.Stride:])
				copy(plane, white.Pix[(y-1)*white.Stride:])
				continue
			}
			v.row(ys[y], seen, plane)
		}
	})
	return look, white
}

// share is which pixels of a row or column make one of a preview, first to last, and the weights of the first, of the last and
// of each between.
type share struct {
	first, last       int
	head, inner, tail uint64
}

// shares shares n pixels among out, of which it returns those from lo to hi-1.
func shares(n, out, lo, hi int) []share {
	list := make([]share, 0, hi-lo)
	for i := lo; i < hi; i++ {
		if out >= n {
			at := (2*i + 1) * n / (2 * out)
			list = append(list, share{first: at, last: at, head: 1})
			continue
		}
		from, to := i*n, (i+1)*n
		first, last := from/out, (to-1)/out
		list = append(list, share{first, last, uint64((first+1)*out - from), uint64(out), uint64(to - last*out)})
	}
	return list
}

// upTo is the weight of all pixels before i, which is at most last+1.
func (h share) upTo(i int) uint64 {
	switch {
	case i == h.first:
		return 0
	case i <= h.last:
		return h.head + h.inner*uint64(i-h.first-1)
	case h.first == h.last:
		return h.head
	}
	return h.head + h.inner*uint64(h.last-h.first-1) + h.tail
}

// previewer makes rows of a preview. It sums the rows of a share up first: sums holds two words for every two pixels, with the red
// and blue of both and the green and alpha of both, in 16 bits each. They are premultiplied, and their weights come to rowWeight.
type previewer struct {
	a        *Appearance
	xs       []share
	from     int // the pixel of a row that sums begins with, an even one
	to       int // and the one after the last
	sums     []uint64
	blank    color.NRGBA // how a place looks where nothing is drawn
	summed   [4]uint64   // the latest sums of red, green, blue and alpha,
	averaged color.NRGBA // and their mean
	was      color.NRGBA // the last colour,
	looks    color.NRGBA // how it looks
	plane    uint8       // and its white
}

// blockPx is how many pixels of a row one bit of a picture's Drawn stands for.
const blockPx = 64

const (
	rowWeight = 256
	lanes     = 0x00ff00ff_00ff00ff // every other byte
	alphas    = 0xff000000_ff000000 // of two pixels
)

func (v *previewer) row(rows share, look, white []byte) {
	for n := copy(look, []byte{v.blank.R, v.blank.G, v.blank.B, v.blank.A}); n < len(look); {
		n += copy(look[n:], look[:n])
	}
	if !v.gather(rows) {
		return
	}
	whole := rowWeight * v.xs[0].upTo(v.xs[0].last+1)
	for i := range v.xs {
		h := &v.xs[i]
		if i > 0 && *h == v.xs[i-1] {
			copy(look[4*i:4*i+4], look[4*i-4:])
			white[i] = white[i-1]
			continue
		}
		c := v.mean(h, whole)
		if c.A == 0 {
			continue
		}
		if box := image.Rect(h.first, rows.first, h.last+1, rows.last+1); v.a.inks != nil {
			v.looks, v.plane = v.a.looks(c, v.a.meanInk(box))
		} else if c != v.was {
			v.was = c
			v.looks, v.plane = v.a.seen(c)
		}
		px := look[4*i : 4*i+4]
		px[0], px[1], px[2], px[3] = v.looks.R, v.looks.G, v.looks.B, v.looks.A
		white[i] = v.plane
		if v.a.choked != nil {
			box := image.Rect(h.first, rows.first, h.last+1, rows.last+1)
			white[i] = uint8(v.a.choked.CountIn(box) * 255 / (box.Dx() * box.Dy()))
		}
	}
}

// gather sums up the rows of a share. It reports whether anything may be drawn there; if not, the sums are not set.
func (v *previewer) gather(rows share) bool {
	drawn := false
	total := rows.upTo(rows.last + 1)
	for y := rows.first; y <= rows.last; y++ {
		weight := rows.upTo(y+1)*rowWeight/total - rows.upTo(y)*rowWeight/total
		if weight == 0 {
			continue
		}
		v.eachRun(y, func(x0, x1 int) {
			if x0, x1 = max(x0, v.from), min(x1, v.to); x0 >= x1 {
				return
			}
			if !drawn {
				clear(v.sums)
				drawn = true
			}
			v.addRun(y, x0, x1, weight)
		})
	}
	return drawn
}

// eachRun calls do for every run of pixels of a row in which something may be drawn.
func (v *previewer) eachRun(y int, do func(x0, x1 int)) {
	if v.a.pic.Drawn == nil {
		do(0, v.to)
		return
	}
	start := -1
	for i, word := range v.a.pic.Drawn.Row(y) {
		for b := 0; b < 64; {
			rest := word >> b
			if start >= 0 {
				rest = ^rest
			}
			if b += bits.TrailingZeros64(rest); b >= 64 {
				break
			}
			if at := (i*64 + b) * blockPx; start < 0 {
				start = at
			} else {
				do(start, at)
				start = -1
			}
		}
	}
	if start >= 0 {
		do(start, v.to)
	}
}

// addRun adds the pixels x0 to x1-1 of row y to the sums.
func (v *previewer) addRun(y, x0, x1 int, weight uint64) {
	pix := v.a.pic.Pix
	row := pix.Pix[y*pix.Stride+4*x0:][:4*(x1-x0)]
	sums := v.sums[x0-v.from:]
	for ; len(row) >= 8; row, sums = row[8:], sums[2:] {
		p := binary.LittleEndian.Uint64(row)
		a, opaque := p&alphas, p>>31&0x00000001_00000001*0xffffffff // all bits of the pixels that are more than half opaque
		switch a {
		case 0:
			continue
		case opaque & alphas:
			p &= opaque
		default:
			p = premultiplied(p)
		}
		sums[0] += (p & lanes) * weight
		sums[1] += (p >> 8 & lanes) * weight
	}
	if len(row) > 0 {
		p := premultiplied(uint64(binary.LittleEndian.Uint32(row)))
		sums[0] += (p & lanes) * weight
		sums[1] += (p >> 8 & lanes) * weight
	}
}

// premultiplied multiplies red, green and blue of two pixels by their alphas, rounded.
func premultiplied(two uint64) uint64 {
	var out uint64
	for shift := 0; shift < 64; shift += 32 {
		p := two >> shift
		a := p >> 24 & 0xff
		rb, g := (p&0xff00ff)*a+0x800080, (p>>8&0xff)*a+0x80
		rb, g = rb+rb>>8&0xff00ff, g+g>>8 // (v + v/256) / 256 is v / 255 for what two bytes multiplied can be
		out |= (rb>>8&0xff00ff | g&0xff00 | a<<24) << shift
	}
	return out
}

// mean is the mean colour of a share of the sums, where the weights come to whole.
func (v *previewer) mean(h *share, whole uint64) color.NRGBA {
	r, g, b, a := v.at(h.first, h.head)
	if h.first < h.last {
		r1, g1, b1, a1 := v.at(h.last, h.tail)
		r2, g2, b2, a2 := v.between(h.first+1, h.last)
		r, g, b, a = r+r1+r2*h.inner, g+g1+g2*h.inner, b+b1+b2*h.inner, a+a1+a2*h.inner
	}
	if a == 0 {
		return color.NRGBA{}
	}
	if all := [4]uint64{r, g, b, a}; all != v.summed { // as it is over and over in flat colour
		over := 255 / float64(a)
		straight := func(sum uint64) uint8 { return uint8(min(255, float64(float64(sum)*over)+0.5)) }
		v.summed, v.averaged = all, color.NRGBA{straight(r), straight(g), straight(b), uint8((a + whole/2) / whole)}
	}
	return v.averaged
}

// at returns the sums of one pixel, weighted.
func (v *previewer) at(x int, weight uint64) (r, g, b, a uint64) {
	two, shift := v.sums[(x-v.from)&^1:], x&1*32
	rb, ga := two[0]>>shift, two[1]>>shift
	return rb & 0xffff * weight, ga & 0xffff * weight, rb >> 16 & 0xffff * weight, ga >> 16 & 0xffff * weight
}

// between returns the sums of the pixels x0 to x1-1 together.
func (v *previewer) between(x0, x1 int) (r, g, b, a uint64) {
	if x0 < x1 && x0&1 == 1 {
		r, g, b, a = v.at(x0, 1)
		x0++
	}
	if x0 < x1 && x1&1 == 1 {
		x1--
		r1, g1, b1, a1 := v.at(x1, 1)
		r, g, b, a = r+r1, g+g1, b+b1, a+a1
	}
	const low = 0x0000ffff_0000ffff // every other sum
	var rs, gs, bs, as uint64
	for sums := v.sums[x0-v.from : max(x0, x1)-v.from]; len(sums) >= 2; sums = sums[2:] {
		rb, ga := sums[0], sums[1]
		rs, bs, gs, as = rs+rb&low, bs+rb>>16&low, gs+ga&low, as+ga>>16&low
	}
	both := func(v uint64) uint64 { return v>>32 + v&0xffffffff }
	return r + both(rs), g + both(gs), b + both(bs), a + both(as)
}

// seen returns how a colour will look on the garment, and its white.
func (a *Appearance) seen(c color.NRGBA) (color.NRGBA, uint8) {
	return a.looks(c, a.printed.pixel(c.R, c.G, c.B, c.A))
}

// looks returns how a colour that prints with certain inks will look on the garment, and its white. Colour is shown as if toner hid the
// cloth; on dark cloth without white under it, it comes out duller.
func (a *Appearance) looks(c color.NRGBA, p ink) (color.NRGBA, uint8) {
	switch {
	case a.colours:
		return throughInk(p, color.NRGBA{255, 255, 255, 255}), p[inkWhite]
	case a.source == WhiteUnderbase && a.inks != nil && a.inks.hasWhite():
		return throughInk(p, over(color.NRGBA{255, 255, 255, 255}, p[inkWhite], a.cloth)), p[inkWhite]
	case a.source == WhiteUnderbase:
		return over(color.NRGBA{c.R, c.G, c.B, 255}, c.A, a.cloth), p[inkWhite]
	case a.source == WhiteOnly:
		return over(color.NRGBA{255, 255, 255, 255}, p[inkWhite], a.cloth), p[inkWhite]
	}
	// The colour at full strength, laid over the cloth as far as the strongest toner covers it, comes to this without a division.
	strength := plus(max(p[inkCyan], p[inkMagenta], p[inkYellow]), p[inkBlack])
	left := func(own, cloth uint8) uint8 { return strength - plus(own, p[inkBlack]) + scale(cloth, 255-strength) }
	out := color.NRGBA{left(p[inkCyan], a.cloth.R), left(p[inkMagenta], a.cloth.G), left(p[inkYellow], a.cloth.B), 255}
	return over(color.NRGBA{255, 255, 255, 255}, p[inkWhite], out), p[inkWhite]
}

// throughInk is how cyan, magenta, yellow and black let a ground be seen: each takes its share of one light, black of all.
func throughInk(p ink, ground color.NRGBA) color.NRGBA {
	through := func(light, own uint8) uint8 { return scale(scale(light, 255-own), 255-p[inkBlack]) }
	return color.NRGBA{through(ground.R, p[inkCyan]), through(ground.G, p[inkMagenta]), through(ground.B, p[inkYellow]), 255}
}

func plus(v, u uint8) uint8 { return v + min(255-v, u) }

func over(top color.NRGBA, a uint8, under color.NRGBA) color.NRGBA {
	mix := func(t, u uint8) uint8 { return uint8((int(t)*int(a) + int(u)*(255-int(a)) + 127) / 255) }
	return color.NRGBA{mix(top.R, under.R), mix(top.G, under.G), mix(top.B, under.B), 255}
}
