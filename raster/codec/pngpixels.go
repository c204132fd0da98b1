package codec

import "fmt"

// converter makes straight RGBA of the samples of a row. A pixel that is wholly transparent comes out as zero, whatever its colour.
type converter interface {
	// convert fills dst, which is zero, from whole bytes of samples; it reports whether any pixel is not transparent and whether all
	// are opaque.
	convert(dst, src []byte) (any, all bool)
	// check is asked at the end whether the samples were sound.
	check() error
}

func newConverter(r *pngReader) converter {
	switch r.colourType {
	case pngRGBA:
		return rgba{}
	case pngGreyAlpha:
		return greyAlpha{}
	case pngRGB:
		return newRGB(r.clear)
	}
	return newTable(r)
}

const opaqueBlack = 0xff000000

// sound is a converter's check where any sample will do.
type sound struct{}

func (sound) check() error { return nil }

type rgba struct{ sound }

func (rgba) convert(dst, src []byte) (any, all bool) {
	const alphas, eachAlpha, eachOne = opaqueBlack<<32 | opaqueBlack, 0xff<<32 | 0xff, 1<<32 | 1
	or, and := uint64(0), uint64(alphas)
	rest := src
	for ; len(rest) >= 16; rest = rest[16:] {
		v, w := le.Uint64(rest), le.Uint64(rest[8:])
		or, and = or|v|w, and&v&w
	}
	for ; len(rest) >= 4; rest = rest[4:] {
		v := uint64(le.Uint32(rest))
		or, and = or|v, and&(v|v<<32)
	}
	if or&alphas == 0 {
		return false, false
	}
	if and == alphas {
		copy(dst, src)
		return true, true
	}
	for len(dst) >= 8 && len(src) >= 8 { // two pixels at a time, all bits of those with alpha
		v := le.Uint64(src)
		some := (v>>24&eachAlpha + eachAlpha) >> 8 & eachOne
		le.PutUint64(dst, v&(some<<32-some))
		dst, src = dst[8:], src[8:]
	}
	if len(src) > 0 {
		le.PutUint32(dst, visible(le.Uint32(src)))
	}
	return true, false
}

// visible is a pixel, or zero if it is wholly transparent.
func visible(v uint32) uint32 { return v & uint32(int32(-(v>>24))>>31) }

type greyAlpha struct{ sound }

func (greyAlpha) convert(dst, src []byte) (any, all bool) {
	all = true
	for len(dst) >= 4 && len(src) >= 2 {
		if a := src[1]; a != 0 {
			any, all = true, all && a == 0xff
			le.PutUint32(dst, uint32(src[0])*eachColour|uint32(a)<<24)
		} else {
			all = false
		}
		dst, src = dst[4:], src[2:]
	}
	return any, all
}

const eachColour = 0x010101

// rgb is RGB with perhaps a colour that is transparent (PNG, third edition, 11.3.1.1).
type rgb struct {
	sound
	clear uint32 // no colour at all if there is none
}

func newRGB(clear []byte) rgb {
	if clear == nil {
		return rgb{clear: 1 << 31}
	}
	return rgb{clear: load3([]byte{clear[1], clear[3], clear[5]})}
}

func (c rgb) convert(dst, src []byte) (any, all bool) {
	all = true
	for len(dst) >= 4 && len(src) >= 3 {
		if v := load3(src); v != c.clear {
			any = true
			le.PutUint32(dst, v|opaqueBlack)
		} else {
			all = false
		}
		dst, src = dst[4:], src[3:]
	}
	return any, all
}

// table is grey and palette pictures of up to 8 bits a pixel: what each sample stands for.
type table struct {
	depth   int
	pixel   [256]uint32
	colours int // of the palette; for grey all there can be
	needed  int // colours that the samples and the alphas name
}

func newTable(r *pngReader) *table {
	t := &table{depth: int(r.depth), colours: 1 << r.depth}
	if r.colourType == pngIndexed {
		t.colours = len(r.colours) / 3
		t.setPalette(r.colours, r.clear)
	} else {
		t.setGreys(r.clear)
	}
	for i, v := range t.pixel {
		t.pixel[i] = visible(v)
	}
	return t
}

// setGreys spreads the samples over 0 to 255 (PNG, third edition, 13.12); of the two bytes that name the transparent one only
// the lower counts.
func (t *table) setGreys(clear []byte) {
	for i := range t.colours {
		t.pixel[i] = uint32(i*t.step())*eachColour | opaqueBlack
		if clear != nil && int(clear[1]) == i {
			t.pixel[i] = 0
		}
	}
}

// step is the byte of which each sample is 1, and the difference between grey levels.
func (t *table) step() int { return 255 / (1<<t.depth - 1) }

func (t *table) setPalette(colours, alphas []byte) {
	for i := range t.colours {
		t.pixel[i] = load3(colours[3*i:]) | opaqueBlack
	}
	for i, a := range alphas[:min(len(alphas), t.colours)] {
		t.pixel[i] = t.pixel[i]&^opaqueBlack | uint32(a)<<24
	}
	t.needed = len(alphas)
}

func (t *table) convert(dst, src []byte) (any, all bool) {
	if sample := int(src[0]) >> (8 - t.depth); sample*t.step() == int(src[0]) && allSame(src) {
		return t.one(dst, sample)
	}
	or, and, most := uint32(0), ^uint32(0), 0
	for _, b := range src {
		for range min(8/t.depth, len(dst)/4) {
			sample := b >> (8 - t.depth)
			b <<= t.depth
			v := t.pixel[sample]
			or, and, most = or|v, and&v, max(most, int(sample))
			le.PutUint32(dst, v)
			dst = dst[4:]
		}
	}
	t.needed = max(t.needed, most+1)
	return or != 0, and >= opaqueBlack
}

// one fills dst with one sample.
func (t *table) one(dst []byte, sample int) (any, all bool) {
	t.needed = max(t.needed, sample+1)
	v := t.pixel[sample]
	for ; v != 0 && len(dst) >= 4; dst = dst[4:] {
		le.PutUint32(dst, v)
	}
	return v != 0, v >= opaqueBlack
}

// check refuses a sample that names no colour of the palette: taken for black, as is common practice, it might be what is printed as
// white (PNG, third edition, 11.2.2).
func (t *table) check() error {
	if t.needed > t.colours {
		return fmt.Errorf("colour %d of a palette of %d", t.needed, t.colours)
	}
	return nil
}

// allSame reports whether all bytes are the first.
func allSame(b []byte) bool {
	each := uint64(b[0]) * 0x0101010101010101
	for ; len(b) >= 8; b = b[8:] {
		if le.Uint64(b) != each {
			return false
		}
	}
	for _, v := range b {
		if v != uint8(each) {
			return false
		}
	}
	return true
}
