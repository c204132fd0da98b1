package preflight

import (
	"cmp"
	"encoding/binary"
	"image"
	"math"
	"slices"
	"sync"

	"peelcheck/raster"
)

const (
	// seamWidthPx is the most of the sheet that shows along an edge two shapes share, in pixels across it. Each drawn with its own
	// antialiasing, coverage a over 1-a leaves a(1-a) open, a quarter at worst (Porter and Duff 1984: over takes what two shapes cover
	// of a pixel for independent); a tenth is for edges that do not quite meet.
	seamWidthPx = 0.35
	// mixReachPx is how far from a pixel a colour may be that is mixed into it, flatReachPx how far from a place a flat part of the same
	// colour, which tells that it is one: a tip may be thin for so long.
	mixReachPx, flatReachPx = 3, 16
	// mixLevels is how far a pixel may be from a mix, and a colour from its like, in 255ths.
	mixLevels = 12
	// mostColours is how many colours may be round a place; where there are more, nothing is told by them.
	mostColours = 8
)

type colour [4]float64 // premultiplied red, green, blue and alpha, 0 to 255

func (c colour) distanceSq(d colour) float64 {
	sum := 0.0
	for i := range c {
		sum += (c[i] - d[i]) * (c[i] - d[i])
	}
	return sum
}

// printed is a colour and how much of it prints, 0 to 1.
type printed struct {
	colour
	raw   uint32 // as the picture has it
	cover float64
}

// mixer tells how much of the sheet shows in the pixels of one place: what no mix of the printed colours beside them explains.
type mixer struct {
	s       *Scene
	printed []printed // flat and solid
	sheet   []colour  // what prints nothing
}

// mixerFor gathers the colours round a place; ok is false where there are too many, or none.
func (s *Scene) mixerFor(place image.Rectangle) (m *mixer, ok bool) {
	m = &mixer{s: s, sheet: s.sheetColours()}
	near := place.Inset(-flatReachPx).Intersect(s.pic.Pix.Rect)
	known := uint32(0) // the last colour looked at; nothing that is clear is solid
	const every = 2    // a flat part is at least two pixels wide and high
	for y := near.Min.Y; y < near.Max.Y; y += every {
		for x := near.Min.X; x < near.Max.X; x += every {
			at, raw := image.Pt(x, y), s.rawAt(x, y)
			if raw == known || !s.survey.solid.At(x, y) || !s.isFlat(at) {
				continue
			}
			known = raw
			if !m.knows(s.premultiplied(at)) {
				if len(m.printed) == mostColours {
					return nil, false
				}
				m.printed = append(m.printed, printed{s.premultiplied(at), raw, s.coverAt(at)})
			}
		}
	}
	return m, len(m.printed) > 0
}

// rawAt is a pixel's four bytes.
func (s *Scene) rawAt(x, y int) uint32 {
	return binary.LittleEndian.Uint32(s.pic.Pix.Pix[y*s.pic.Pix.Stride+4*x:])
}

// isFlat reports whether a pixel is like a neighbour across and one up or down.
func (s *Scene) isFlat(at image.Point) bool {
	own := s.premultiplied(at)
	like := func(dx, dy int) bool {
		p := at.Add(image.Pt(dx, dy))
		return p.In(s.pic.Pix.Rect) && own.distanceSq(s.premultiplied(p)) <= flatLevels*flatLevels
	}
	return (like(-1, 0) || like(1, 0)) && (like(0, -1) || like(0, 1))
}

func (m *mixer) knows(c colour) bool {
	for _, k := range m.printed {
		if k.distanceSq(c) <= mixLevels*mixLevels {
			return true
		}
	}
	return false
}

// sheetColours are what leaves the sheet bare: nothing, and the opaque colours among white, black and the background that do not print.
func (s *Scene) sheetColours() []colour {
	out := []colour{{}}
	for _, v := range [][3]uint8{{255, 255, 255}, {}, {s.groundIs.R, s.groundIs.G, s.groundIs.B}} {
		if s.detail.cover(v[0], v[1], v[2], 255) < printsLevel {
			out = append(out, colour{float64(v[0]), float64(v[1]), float64(v[2]), 255})
		}
	}
	return out
}

// showing is how much of a pixel is the sheet, 0 to 1: no more than it prints less than the weakest colour beside it, and no more than it
// takes to mix it from those and what prints nothing.
func (m *mixer) showing(at image.Point) float64 {
	near := m.near(at)
	if len(near) == 0 {
		return 1
	}
	weakest := slices.MinFunc(near, func(a, b printed) int { return cmp.Compare(a.cover, b.cover) })
	least := max(0, 1-m.s.coverAt(at)/weakest.cover)
	return min(least, m.s.mixes.of(m, m.s.rawAt(at.X, at.Y), m.s.premultiplied(at), near))
}

// mixMemo remembers of pixels how much of the sheet it takes to mix them: clip-art has few colours, and gaps by the thousand. It is safe for
// concurrent use.
type mixMemo struct {
	mu   sync.Mutex
	told map[mixKey]float64
}

type mixKey struct {
	own  uint32
	near [mostColours]uint32
}

// mostTold bounds what is remembered, to some megabytes.
const mostTold = 1 << 16

func (memo *mixMemo) of(m *mixer, raw uint32, own colour, near []printed) float64 {
	key := mixKey{own: raw}
	for i, c := range near {
		key.near[i] = c.raw
	}
	memo.mu.Lock()
	share, ok := memo.told[key]
	memo.mu.Unlock()
	if ok {
		return share
	}
	share = m.leastSheet(own, near)
	memo.mu.Lock()
	defer memo.mu.Unlock()
	if memo.told == nil {
		memo.told = map[mixKey]float64{}
	}
	if len(memo.told) < mostTold {
		memo.told[key] = share
	}
	return share
}

// leastSheet is the least share of any sheet in a mix of up to three colours.
func (m *mixer) leastSheet(own colour, near []printed) float64 {
	least := 1.0
	for i, a := range near {
		for j, b := range near[i:] {
			for _, c := range near[i+j:] {
				for _, sheet := range m.sheet {
					least = sheetIn(own, [3]colour{a.colour, b.colour, c.colour}, sheet, least)
				}
			}
		}
	}
	return least
}

// coverAt is how much of a pixel prints, 0 to 1.
func (s *Scene) coverAt(at image.Point) float64 {
	var c [1]uint8
	s.survey.cover.Read(c[:], image.Rectangle{Min: at, Max: at.Add(image.Pt(1, 1))})
	return float64(c[0]) / 255
}

// near are the colours that are found close to a pixel.
func (m *mixer) near(at image.Point) []printed {
	var out []printed
	box := image.Rectangle{Min: at, Max: at.Add(image.Pt(1, 1))}.Inset(-mixReachPx).Intersect(m.s.pic.Pix.Rect)
	for _, c := range m.printed {
		if m.s.holdsLike(box, c.colour) {
			out = append(out, c)
		}
	}
	return out
}

func (s *Scene) holdsLike(box image.Rectangle, c colour) bool {
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			if c.distanceSq(s.premultiplied(image.Pt(x, y))) <= mixLevels*mixLevels {
				return true
			}
		}
	}
	return false
}

// sheetIn is the least share of the sheet with which three colours mix to another, in steps of a fiftieth; most where it takes as much.
func sheetIn(own colour, of [3]colour, sheet colour, most float64) float64 {
	const step = 0.02
	for g := 0.0; g < most; g += step {
		mix := of
		for n := range mix {
			for i := range sheet {
				mix[n][i] += g * (sheet[i] - mix[n][i])
			}
		}
		if isMix(own, mix) {
			return g
		}
	}
	return most
}

// isMix reports whether a colour is near to a mix of two or three.
func isMix(own colour, of [3]colour) bool {
	for i, from := range of {
		to := of[(i+1)%3]
		if offSegmentSq(own, from, to, from.distanceSq(to)) <= mixLevels*mixLevels {
			return true
		}
	}
	return offTriangleSq(own, of) <= mixLevels*mixLevels
}

// offTriangleSq is the squared distance of a colour from the mixes of three, infinite beside the triangle that they span.
func offTriangleSq(own colour, of [3]colour) float64 {
	var uu, uv, vv, pu, pv float64
	for i := range own {
		u, v, p := of[1][i]-of[0][i], of[2][i]-of[0][i], own[i]-of[0][i]
		uu, uv, vv, pu, pv = uu+u*u, uv+u*v, vv+v*v, pu+p*u, pv+p*v
	}
	det := uu*vv - uv*uv
	if det < 1 {
		return math.Inf(1)
	}
	s, t := (pu*vv-pv*uv)/det, (pv*uu-pu*uv)/det
	if s < 0 || t < 0 || s+t > 1 {
		return math.Inf(1)
	}
	var at colour
	for i := range at {
		at[i] = of[0][i] + s*(of[1][i]-of[0][i]) + t*(of[2][i]-of[0][i])
	}
	return own.distanceSq(at)
}

// showsSheet reports whether a gap shows more of the sheet than a seam does.
func (s *Scene) showsSheet(f raster.Feature) bool {
	m, ok := s.mixerFor(f.Box)
	if !ok {
		return true
	}
	seam := seamWidthPx * max(f.LengthPx, float64(pixelsLong(f)))
	every := max(1, int(f.AreaPx)/fewPixels)
	area, n := 0.0, 0
	for _, r := range f.Runs {
		for x := r.X0; x < r.X1; x++ {
			if n++; n%every > 0 {
				continue
			}
			if area += float64(every) * m.showing(image.Pt(int(x), int(r.Y))); area >= seam {
				return true
			}
		}
	}
	return false
}

// fewPixels are enough to tell how much of a gap is open; of a long one not all are looked at.
const fewPixels = 64

// pixelsLong is in how many rows, or columns if those are more, a feature has pixels.
func pixelsLong(f raster.Feature) int {
	rows, columns := make([]bool, f.Box.Dy()), make([]bool, f.Box.Dx())
	for _, r := range f.Runs {
		rows[int(r.Y)-f.Box.Min.Y] = true
		for x := r.X0; x < r.X1; x++ {
			columns[int(x)-f.Box.Min.X] = true
		}
	}
	count := func(of []bool) (n int) {
		for _, is := range of {
			if is {
				n++
			}
		}
		return n
	}
	return max(count(rows), count(columns))
}

// showsHole reports whether a hole shows more of the sheet than a seam does. A disc that lacks less than seamShare of every pixel reaches
// over three at most, one that reaches over three lacks more than seamWidthPx of one, and one that reaches over four is larger than
// seamWidthPx to each: what is longer and less is a seam, and so is what is so faint between two colours.
func (s *Scene) showsHole(hole Spot) bool {
	m, ok := s.mixerFor(hole.Box)
	if !ok {
		return true
	}
	area, most := 0.0, 0.0
	for _, r := range hole.Runs {
		for x := r.X0; x < r.X1; x++ {
			shows := m.showing(image.Pt(int(x), int(r.Y)))
			area, most = area+shows, max(most, shows)
		}
	}
	long := max(hole.Box.Dx(), hole.Box.Dy())
	switch {
	case len(m.printed) > 1 && most < seamWidthPx:
		return false
	case most < seamShare:
		return long <= 3 && area >= leastHolePx && s.solidRound(hole.Box)
	case long == 3:
		return most >= seamWidthPx
	}
	return long < 3 || area >= seamWidthPx*float64(long)
}

// solidRound reports whether print is full a little way off a hole: between the pieces of a seam it is not.
func (s *Scene) solidRound(hole image.Rectangle) bool {
	const offPx, fullShare = 3, 0.985
	round := hole.Inset(-offPx).Intersect(s.pic.Pix.Rect)
	cover := make([]uint8, round.Dx()*round.Dy())
	s.survey.cover.Read(cover, round)
	level := float64(slices.Max(cover))
	for i, c := range cover {
		at := round.Min.Add(image.Pt(i%round.Dx(), i/round.Dx()))
		if !at.In(hole.Inset(-1)) && float64(c) < fullShare*level {
			return false
		}
	}
	return true
}
