package preflight

import (
	"encoding/binary"
	"math"
)

// traits are what pixel values are, a bit for each of up to 64 of them.
type traits struct {
	prints, ink, solid, whiteInk, printsWhite uint64 // ink is what the detail rules see as printed, perhaps only partly
	faint, fading, lost, stray, ground        uint64 // what most pixels are not
	ownWhite                                  uint64 // what is white itself, where white lies under all colour
}

// facts are what the survey needs to know of up to 64 pixel values.
type facts struct {
	is            traits
	planes        [5][64]uint8 // as printed, in the order of AllPlanes
	detail, white [64]uint8    // coverage as the detail rules see it: of all planes together, and of the white one
}

// surveyor works out facts of pixels; it holds the limits it compares them with.
type surveyor struct {
	s          *Scene
	inkLevel   eight
	faintBelow eight
	strayFrom  [256]uint8 // by alpha: the least white that is stray
	plain      bool       // white and colours tell red, green and blue of what is opaque
	fromBlack  bool
	underbase  bool
	byAlpha    bool // what is drawn covers as much as its alpha says, though its colour be light and without white
	seesGround bool // the background was found and is still there
	groundTol  int
}

func newSurveyor(s *Scene) *surveyor {
	j := &surveyor{
		s: s, inkLevel: eightOf(detailLevel),
		faintBelow: eightOf(uint8(math.Ceil(s.Limit("tint") * 255))),
		fromBlack:  s.printed.way == blackIsWhite,
		underbase:  s.Job.Process.WhiteSource == WhiteUnderbase,
		seesGround: s.ground.Found && s.Job.Background != BackgroundDrop,
		groundTol:  s.groundTol(),
	}
	j.byAlpha = j.underbase && s.BringsWhite() && s.HasAlpha()
	if s.pic.Lossy {
		j.inkLevel = eightOf(inkLevelLossy)
	}
	for a := range j.strayFrom {
		j.strayFrom[a] = uint8(math.Ceil(s.Limit("stray") * float64(a)))
	}
	j.plain = s.printed.straight && s.inks == nil
	return j
}

// separate works out the facts of eight pixels: group i of f.
func (j *surveyor) separate(f *facts, i int, p channels) {
	if p.a == 0 {
		j.blank(f, i)
		return
	}
	w, c, m, y, k := j.s.printed.planes8(p)
	j.note(f, i, p, w, c, m, y, k)
}

// blank notes eight pixels that are wholly transparent.
func (j *surveyor) blank(f *facts, i int) {
	for n := range f.planes {
		put(&f.planes[n], i, 0)
	}
	put(&f.detail, i, 0)
	put(&f.white, i, 0)
}

// note works out the facts of eight pixels, group i of f, of which the planes at full alpha are known.
func (j *surveyor) note(f *facts, i int, p channels, w, c, m, y, k eight) {
	cover := w.plus(c).plus(m).plus(y)
	if k != 0 {
		cover = cover.plus(k)
	}
	if (p.a & topBits).full() != p.a {
		cover = cover.scaled(p.a)
		w, c, m, y, k = w.scaled(p.a), c.scaled(p.a), m.scaled(p.a), y.scaled(p.a), k.scaled(p.a)
	} else {
		cover &= p.a
		w, c, m, y, k = w&p.a, c&p.a, m&p.a, y&p.a, k&p.a
	}
	j.noteInks(f, i, p, cover, w, c, m, y, k)
}

// noteInks works out the facts of eight pixels, group i of f, of which the planes are known and how much all of them cover together.
func (j *surveyor) noteInks(f *facts, i int, p channels, cover, w, c, m, y, k eight) {
	put(&f.planes[inkWhite], i, w)
	put(&f.planes[inkCyan], i, c)
	put(&f.planes[inkMagenta], i, m)
	put(&f.planes[inkYellow], i, y)
	put(&f.planes[inkBlack], i, k)
	colours := c.most(m).most(y)
	most := w.most(colours)
	if k != 0 {
		most = most.most(k)
	}
	at, prints := 8*i, most.from(eightOf(printsLevel))
	f.is.prints |= prints.bits() << at
	f.is.printsWhite |= w.from(eightOf(inkLevel)).bits() << at
	if (p.a & topBits).full() != p.a {
		f.is.fading |= (p.a.from(eightOf(1)) &^ p.a.from(eightOf(opaqueLevel))).bits() << at
	}
	if j.underbase {
		tinted := eightOf(printsLevel).scaled(p.a).most(eightOf(1)) // so that an edge is of the same kind as what it belongs to
		f.is.ownWhite |= (w.from(eightOf(inkLevel)) &^ colours.most(k).from(tinted)).bits() << at
	}
	if j.fromBlack {
		j.noteColour(f, at, p, w, colours)
		if j.s.HasOwnInks() { // which are exact: what gets a little ink is a light tint, not lost
			f.is.lost &^= most.from(eightOf(1)).bits() << at
		}
	}
	detail, white, faint := cover, w, prints&^most.from(j.faintBelow)
	if j.s.detail != j.s.printed {
		detail, white = j.s.detail.cover8(p)
	}
	if j.seesGround {
		ground := j.groundOf(p)
		f.is.ground |= ground.bits() << at
		if j.s.ground.LeftOut {
			faint, detail, white = faint&^ground, detail&^ground.full(), white&^ground.full()
		}
	}
	put(&f.detail, i, detail)
	put(&f.white, i, white)
	f.is.faint |= faint.bits() << at
	f.is.ink |= detail.from(j.inkLevel).bits() << at
	f.is.solid |= detail.from(eightOf(solidLevel)).bits() << at
	f.is.whiteInk |= white.from(j.inkLevel).bits() << at
}

// noteColour tells which of eight pixels are drawn white and lost, or coloured and pick up stray white.
func (j *surveyor) noteColour(f *facts, at int, p channels, white, colours eight) {
	opaque := p.a == eightOf(255)
	least, chroma := ^(white + colours), colours // where white is what is common to cyan, magenta and yellow, and they are the rest
	if !j.plain || !opaque {
		least = p.r.least(p.g).least(p.b)
		chroma = p.r.most(p.g).most(p.b) - least
	}
	seen := p.a & topBits
	f.is.lost |= (seen & least.from(eightOf(lostWhite))).bits() << at
	if coloured := seen & chroma.from(eightOf(strayChroma)); coloured != 0 {
		from := eightOf(j.strayFrom[255])
		if !opaque {
			from = p.a.through(&j.strayFrom)
		}
		f.is.stray |= (coloured & white.from(from)).bits() << at
	}
}

// groundOf tells which of eight pixels show the background.
func (j *surveyor) groundOf(p channels) eight {
	g, tol := j.s.groundIs, j.groundTol
	return p.a.from(eightOf(255)) & p.r.near(g.R, tol) & p.g.near(g.G, tol) & p.b.near(g.B, tol)
}

func put(to *[64]uint8, i int, v eight) { binary.LittleEndian.PutUint64(to[8*i:], uint64(v)) }

func eightAt(of *[64]uint8, i int) eight { return eight(binary.LittleEndian.Uint64(of[8*i:])) }
