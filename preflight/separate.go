package preflight

import "image/color"

// ink is what one pixel gets of each plane, 0 to 255, in the order of AllPlanes.
type ink [5]uint8

const (
	inkWhite = iota
	inkCyan
	inkMagenta
	inkYellow
	inkBlack
)

// scaled is what a colour of full coverage leaves at an alpha.
func (i ink) scaled(a uint8) ink {
	if a != 255 {
		for n, v := range i {
			i[n] = scale(v, a)
		}
	}
	return i
}

// together is the sum of the planes, at most full strength, at an alpha.
func (i ink) together(a uint8) uint8 {
	sum := 0
	for _, v := range i {
		sum += int(v)
	}
	return scale(uint8(min(255, sum)), a)
}

// way is how white comes about.
type way uint8

const (
	blackIsWhite way = iota // the printer's black station holds white
	natural                 // the same, of artwork that shows white as white
	underbase               // white under everything
	beside                  // white where the artwork is white, next to the four colours
	toneOnly                // white alone
)

// separation turns colour and alpha into planes. Its methods are safe for concurrent use.
type separation struct {
	way      way
	white    bool // white is drawn as white, not as black
	hasAlpha bool
	// knocksOut is set where inks that a file brings keep clear of white.
	knocksOut bool
	bg, ucr   [256]uint8
	straight  bool // both are the straight line
	remove    bool // take the colour ground out before separating
	ground    color.NRGBA
}

func newSeparation(p *Process, drawnAs string, hasAlpha bool) *separation {
	s := &separation{white: drawnAs == "white", hasAlpha: hasAlpha, knocksOut: p.WhiteSource == WhiteBeside}
	switch {
	case p.WhiteSource == WhiteUnderbase:
		s.way = underbase
	case p.WhiteSource == WhiteOnly:
		s.way = toneOnly
	case p.WhiteSource == WhiteBeside && s.white:
		s.way = beside
	case s.white:
		s.way = natural
	}
	s.straight = true
	for i := range 256 {
		k := float64(i) / 255
		s.bg[i] = uint8(p.BlackGeneration.At(k)*255 + 0.5)
		s.ucr[i] = uint8(p.UndercolourRemoval.At(k)*255 + 0.5)
		s.straight = s.straight && int(s.bg[i]) == i && int(s.ucr[i]) == i
	}
	return s
}

// without returns the same separation with a flat background colour taken out first.
func (s *separation) without(ground color.NRGBA) *separation {
	t := *s
	t.remove, t.ground, t.hasAlpha = true, ground, true
	return &t
}

// pixel separates one pixel of straight colour and alpha.
func (s *separation) pixel(r, g, b, a uint8) ink {
	if s.remove {
		r, g, b, a = takeOut(s.ground, r, g, b, a)
	}
	if a == 0 {
		return ink{}
	}
	return s.solid(r, g, b).scaled(a)
}

// cover is how much of a pixel prints on any plane: the planes of its colour together, at most all of it, times its alpha. Unlike
// the strongest plane alone it does not dip where antialiasing mixes two colours that touch, save for complementary ones.
func (s *separation) cover(r, g, b, a uint8) uint8 {
	if s.remove {
		r, g, b, a = takeOut(s.ground, r, g, b, a)
	}
	if a == 0 {
		return 0
	}
	return s.solid(r, g, b).together(a)
}

// whiteOf is the white plane of pixel.
func (s *separation) whiteOf(c color.NRGBA) uint8 {
	if s.remove || s.way != blackIsWhite {
		return s.pixel(c.R, c.G, c.B, c.A)[inkWhite]
	}
	return scale(s.bg[255-max(c.R, c.G, c.B)], c.A)
}

// solid separates a colour of full coverage.
func (s *separation) solid(r, g, b uint8) ink {
	w, c, m, y, k := s.planes(r, g, b)
	return ink{w, c, m, y, k}
}

// planes is solid as single values, which stay in registers: the survey asks for every pixel of a photograph.
//
// Where the printer's black station holds white, the black plane is the white one; artwork drawn the natural way round gives its white
// share (what is common to red, green and blue) to white, and its black share to nothing. White with a station of its own takes the same
// share; it and the colours then cover a place together no more than once, so that white has knocked out what lay under it.
func (s *separation) planes(r, g, b uint8) (w, c, m, y, k uint8) {
	switch s.way {
	case natural:
		top := max(r, g, b)
		return min(r, g, b), top - r, top - g, top - b, 0
	case toneOnly:
		return s.tone(r, g, b), 0, 0, 0, 0
	}
	// ISO 32000-1, 10.3.4: k = min(c, m, y), black BG(k), the others less UCR(k).
	c, m, y = 255-r, 255-g, 255-b
	k = min(c, m, y)
	u := s.ucr[k]
	c, m, y, k = less(c, u), less(m, u), less(y, u), s.bg[k]
	switch s.way {
	case blackIsWhite:
		return k, c, m, y, 0
	case beside:
		return min(r, g, b), c, m, y, k
	}
	return 255, c, m, y, k
}

// planes8 is planes of eight pixels at once.
func (s *separation) planes8(p channels) (w, c, m, y, k eight) {
	switch s.way {
	case natural:
		top := p.r.most(p.g).most(p.b)
		return p.r.least(p.g).least(p.b), top - p.r, top - p.g, top - p.b, 0
	case toneOnly:
		return s.tone8(p), 0, 0, 0, 0
	}
	c, m, y = ^p.r, ^p.g, ^p.b
	k = c.least(m).least(y)
	if s.straight {
		c, m, y = c-k, m-k, y-k
	} else {
		u := k.through(&s.ucr)
		c, m, y, k = c.less(u), m.less(u), y.less(u), k.through(&s.bg)
	}
	switch s.way {
	case blackIsWhite:
		return k, c, m, y, 0
	case beside:
		return p.r.least(p.g).least(p.b), c, m, y, k
	}
	return eightOf(255), c, m, y, k
}

// tone8 is tone of eight pixels.
func (s *separation) tone8(p channels) (w eight) {
	for at := 0; at < 64; at += 8 {
		w |= eight(s.tone(uint8(p.r>>at), uint8(p.g>>at), uint8(p.b>>at))) << at
	}
	return w
}

// cover8 is cover, and the white plane of pixel, of eight pixels.
func (s *separation) cover8(p channels) (all, white eight) {
	for at := 0; at < 64; at += 8 {
		r, g, b, a := uint8(p.r>>at), uint8(p.g>>at), uint8(p.b>>at), uint8(p.a>>at)
		all |= eight(s.cover(r, g, b, a)) << at
		white |= eight(s.pixel(r, g, b, a)[inkWhite]) << at
	}
	return all, white
}

// tone is what a white-only process prints: everything drawn on transparency, else darkness, or lightness for artwork drawn
// the natural way round. Grey is 0.3 r + 0.59 g + 0.11 b (ISO 32000-1, 10.3.2).
func (s *separation) tone(r, g, b uint8) uint8 {
	if s.hasAlpha {
		return 255
	}
	grey := uint8((30*int(r) + 59*int(g) + 11*int(b) + 50) / 100)
	if s.white {
		return grey
	}
	return 255 - grey
}

func less(v, u uint8) uint8 { return v - min(v, u) }

// scale returns v*a/255, rounded.
func scale(v, a uint8) uint8 { return uint8((int(v)*int(a) + 127) / 255) }

// takeOut removes a flat ground from a pixel: the least alpha, and the colour with it, that gives the pixel over the ground.
// At the edge between the ground and a colour at the end of its range that alpha is the edge's coverage.
func takeOut(ground color.NRGBA, r, g, b, a uint8) (uint8, uint8, uint8, uint8) {
	if a < 255 {
		return r, g, b, a
	}
	share := max(away(ground.R, r), away(ground.G, g), away(ground.B, b))
	if share == 0 {
		return 0, 0, 0, 0
	}
	return restore(ground.R, r, share), restore(ground.G, g, share), restore(ground.B, b, share), share
}

func away(from, to uint8) uint8 {
	if to < from {
		return uint8((int(from-to)*255 + int(from)/2) / int(from))
	}
	if to > from {
		return uint8((int(to-from)*255 + int(255-from)/2) / int(255-from))
	}
	return 0
}

func restore(ground, v, share uint8) uint8 {
	full := int(ground) + ((int(v)-int(ground))*255)/int(share)
	return uint8(min(255, max(0, full)))
}
