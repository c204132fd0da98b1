package pdfcolour

import (
	"math"

	"peelcheck/raster"
)

// fewestRows is how many rows are worth a band of their own.
const fewestRows = 64

// convert gives the tones of the group's planes for each sample, side by side.
func (im *image) convert(p *picture) []byte {
	n := len(im.group)
	out := make([]byte, n*p.width*p.height)
	src, step := p.data, p.step
	var band func(dst, src []byte)
	if tables := im.directTables(p); tables != nil {
		band = func(dst, src []byte) { tables.convert(dst, src, p.step) }
	} else if d, ok := im.space.(*deviceSpace); ok && d.n == 3 {
		tables := im.rgbTables(p, d)
		band = func(dst, src []byte) { tables.convert(dst, src, p.step) }
	} else {
		values := im.values(p)
		if p.wide != nil {
			src, step = p.wide, 2*p.n
		}
		band = func(dst, src []byte) { newSlowConverter(im, p, values).convert(dst, src, step) }
	}
	raster.Bands(p.height, fewestRows, func(from, to int) {
		band(out[from*p.width*n:to*p.width*n], src[from*p.width*step:to*p.width*step])
	})
	return out
}

// values are the decoded values of each component's samples.
func (im *image) values(p *picture) [][256]float64 {
	out := make([][256]float64, p.n)
	for c := range out {
		for v := range out[c] {
			out[c][v] = interpolate(float64(min(v, p.most)), 0, float64(p.most), im.decode[2*c], im.decode[2*c+1])
		}
	}
	return out
}

// direct says on which component alone a plane depends, -1 if on none. It is false if the plane depends on several.
func direct(s space, plane int) (component int, ok bool) {
	if !s.sets()[plane] {
		return -1, true
	}
	if s.Components() == 1 {
		return 0, true
	}
	switch s := s.(type) {
	case *deviceSpace:
		for i, p := range s.process {
			if s.n == 4 && p == plane && !s.folds() {
				return i, true
			}
		}
	case *colorantSpace:
		component = -1
		for i, p := range s.plane {
			switch {
			case p == plane && component < 0:
				component = i
			case p == plane || p == planeAll || p == planeAlternate:
				return 0, false
			}
		}
		return component, component >= 0
	}
	return 0, false
}

// directTables turn one component's samples into a plane's tones.
type directTables []directTable

type directTable struct {
	component int
	tones     [256]byte
}

// directTables is nil if a plane of the group depends on several components.
func (im *image) directTables(p *picture) directTables {
	values := im.values(p)
	c := make([]float64, p.n)
	shares := make([]float64, len(im.r.planes))
	tables := make(directTables, len(im.group))
	for i, plane := range im.group {
		component, ok := direct(im.space, plane)
		if !ok {
			return nil
		}
		t := &tables[i]
		t.component = max(component, 0)
		for v := range t.tones {
			if t.tones[v] = 255; component >= 0 {
				clear(c)
				c[component] = values[component][v]
				im.space.shares(shares, c)
				t.tones[v] = tone(shares[plane])
			}
		}
	}
	return tables
}

func (t directTables) convert(dst, src []byte, step int) {
	for i := range t {
		table, at := &t[i].tones, t[i].component
		for o := i; o < len(dst); o += len(t) {
			dst[o] = table[src[at]]
			at += step
		}
	}
}

// rgbTables are ISO 32000-1, 10.3.4, for samples of 8 bits.
type rgbTables struct {
	ink   [3][256]byte    // c, m, y of 0 to 255 by sample
	cmy   *[256][256]byte // tone by k and by c, m or y
	black [256]byte       // tone by k
	plane [3]int          // 0 to 3 for C, M, Y, K; 4 for none
	n     int
}

func (im *image) rgbTables(p *picture, d *deviceSpace) *rgbTables {
	t := &rgbTables{cmy: new([256][256]byte), n: len(im.group)}
	for c, values := range im.values(p) {
		for v, x := range values {
			if d.rng != nil {
				x = interpolate(x, d.rng[2*c], d.rng[2*c+1], 0, 1)
			}
			t.ink[c][v] = byte(math.Round(255 * (1 - clamp01(x))))
		}
	}
	for k := range 256 {
		under := d.curves.UCR(float64(k) / 255)
		for c := range 256 {
			t.cmy[k][c] = tone(float64(c)/255 - under)
		}
		t.black[k] = tone(d.curves.BG(float64(k) / 255))
	}
	for i, plane := range im.group {
		t.plane[i] = 4
		for j, p := range d.process {
			if p == plane {
				t.plane[i] = j
			}
		}
	}
	return t
}

func (t *rgbTables) convert(dst, src []byte, step int) {
	for i := range t.n {
		switch plane := t.plane[i]; plane {
		case 3:
			t.convertBlack(dst[i:], src, step)
		case 4:
			for o := i; o < len(dst); o += t.n {
				dst[o] = 255
			}
		default:
			t.convertColor(dst[i:], src, step, plane)
		}
	}
}

func (t *rgbTables) convertBlack(dst, src []byte, step int) {
	for o := 0; o < len(dst); o += t.n {
		dst[o] = t.black[min(t.ink[0][src[0]], t.ink[1][src[1]], t.ink[2][src[2]])]
		src = src[step:]
	}
}

func (t *rgbTables) convertColor(dst, src []byte, step, plane int) {
	for o := 0; o < len(dst); o += t.n {
		inks := [3]byte{t.ink[0][src[0]], t.ink[1][src[1]], t.ink[2][src[2]]}
		dst[o] = t.cmy[min(inks[0], inks[1], inks[2])][inks[plane]]
		src = src[step:]
	}
}

// slowConverter asks the colour space, once for colours that are alike and lie near each other.
type slowConverter struct {
	im     *image
	bytes  int  // of a colour
	wide   bool // two bytes a component
	values [][256]float64
	c      []float64
	shares []float64
	cache  []cached
}

// cached is a colour met before: up to eight bytes of samples as key, and its tones.
type cached struct {
	key   uint64
	tones [3]byte
	used  bool
}

const cacheBits = 15

func newSlowConverter(im *image, p *picture, values [][256]float64) *slowConverter {
	s := &slowConverter{
		im: im, bytes: p.n, wide: p.wide != nil, values: values,
		c: make([]float64, p.n), shares: make([]float64, len(im.r.planes)),
		cache: make([]cached, 1<<cacheBits),
	}
	if s.wide {
		s.bytes *= 2
	}
	return s
}

func (s *slowConverter) convert(dst, src []byte, step int) {
	n := len(s.im.group)
	for o := 0; o < len(dst); o += n {
		e := s.look(src[:s.bytes])
		copy(dst[o:o+n], e.tones[:n])
		src = src[step:]
	}
}

func (s *slowConverter) look(sample []byte) *cached {
	var key uint64
	for _, v := range sample {
		key = key<<8 | uint64(v)
	}
	const golden = 0x9E3779B97F4A7C15 // Fibonacci hashing (Knuth, The Art of Computer Programming 3, 6.4)
	e := &s.cache[key*golden>>(64-cacheBits)]
	if e.used && e.key == key && len(sample) <= 8 {
		return e
	}
	for i := range s.c {
		if s.wide {
			v := float64(sample[2*i])*256 + float64(sample[2*i+1])
			s.c[i] = interpolate(v, 0, 65535, s.im.decode[2*i], s.im.decode[2*i+1])
		} else {
			s.c[i] = s.values[i][sample[i]]
		}
	}
	s.im.space.shares(s.shares, s.c)
	for i, plane := range s.im.group {
		e.tones[i] = tone(s.shares[plane])
	}
	e.key, e.used = key, true
	return e
}
