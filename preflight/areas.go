package preflight

import (
	"image"
	"image/color"
	"math"
	"slices"

	"peelcheck/raster"
)

// grid lays square cells over the picture, for areas that are judged as a whole rather than by their outlines.
type grid struct {
	side int // of a cell, in pixels
	w, h int // whole cells, at least one each way
}

func (s *Scene) gridOf(cellMM float64) grid {
	side := max(1, min(s.W, s.H, int(s.Px(cellMM)+0.5)))
	return grid{side, s.W / side, s.H / side}
}

// cell returns the pixels of a cell.
func (g grid) cell(x, y int) image.Rectangle {
	return image.Rect(x*g.side, y*g.side, (x+1)*g.side, (y+1)*g.side)
}

// middle returns the pixel in the middle of a cell.
func (g grid) middle(x, y int) (int, int) { return x*g.side + g.side/2, y*g.side + g.side/2 }

// pixels turns a rectangle of cells into one of pixels.
func (g grid) pixels(r image.Rectangle) image.Rectangle {
	return image.Rectangle{r.Min.Mul(g.side), r.Max.Mul(g.side)}
}

// mask is the cells that something holds for.
func (g grid) mask(holds func(x, y int) bool) *raster.Bitmap {
	out := raster.NewBitmap(g.w, g.h)
	raster.Bands(g.h, 8, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range g.w {
				if holds(x, y) {
					out.Set(x, y)
				}
			}
		}
	})
	return out
}

// SolidArea is a connected area that prints at nearly full strength throughout.
type SolidArea struct {
	Box    image.Rectangle // in pixels
	DiscMM float64         // the diameter of the largest disc that fits in it
	AreaPx int
}

const (
	solidCellMM  = 0.5 // how exactly solid areas are measured
	leastBreakMM = 3   // a break that is no longer lets no fold through
	heavyLevel   = 204 // of 255: what prints with less is a tint of single dots, which bends
)

// SolidAreas are the areas of unbroken, strong print in which a disc of at least leastMM fits, from top to bottom.
func (s *Scene) SolidAreas(leastMM float64) []SolidArea {
	if s.MM2(float64(s.survey.solid.Count())) < math.Pi/4*leastMM*leastMM {
		return nil
	}
	g, seen := s.gridOf(solidCellMM), s.Appearance()
	mask := g.mask(func(x, y int) bool {
		if !s.survey.solid.AllIn(g.cell(x, y)) {
			return false
		}
		total := 0
		for _, v := range seen.inkAt(g.middle(x, y)) {
			total += int(v)
		}
		return total >= heavyLevel
	})
	closeShort(mask, int(leastBreakMM/s.MM(float64(g.side))+0.5))
	pieces := raster.FindComponents(mask, raster.Four)
	var out []SolidArea
	for i, d := range raster.LargestDiscs(mask, pieces, false) {
		// The nearest clear cell begins half a cell before its middle, and the print in it may reach half a cell farther on average.
		disc := s.MM((2*math.Sqrt(float64(d.RadiusSq)) - 0.5) * float64(g.side))
		if disc >= leastMM {
			p := pieces.List[i]
			out = append(out, SolidArea{Box: g.pixels(p.Box), DiscMM: disc, AreaPx: p.AreaPx * g.side * g.side})
		}
	}
	return out
}

// closeShort fills the clear pieces of a mask that are no wider and no higher than that.
func closeShort(mask *raster.Bitmap, longest int) {
	breaks := raster.FindComponents(raster.Not(mask), raster.Eight)
	for _, r := range breaks.Runs {
		if size := breaks.List[r.Component].Box.Size(); max(size.X, size.Y) <= longest {
			mask.SetRun(int(r.Y), int(r.X0), int(r.X1))
		}
	}
}

// Bare is the mask of colour that is left without white behind it where the process pulls white in: thin strokes and long points, not the rim
// and the corners that every shape has; and where a file that brings its own white has none. It is nil for processes without white under
// colour.
func (s *Scene) Bare() *raster.Bitmap {
	if s.Job.Process.WhiteSource != WhiteUnderbase || s.Job.Process.ChokeMM <= 0 && !s.BringsWhite() {
		return nil
	}
	const corner = 2 // the tip of a corner of 60 degrees lies twice the choke away from what is left of it
	under, reach := s.survey.outlined, corner*s.chokePx()
	if s.BringsWhite() {
		const edgePx = 2 // the edges of colour and of white, drawn each for itself, stray by so much in prepared files
		under, reach = s.survey.ink, reach+edgePx
	}
	bare := raster.AndNot(under, raster.Dilate(s.white, reach))
	others := []*raster.Bitmap{s.survey.ownWhite.mask} // what is white itself needs none
	if s.BringsWhite() {                               // what is too light to hold, or fades, is other rules' affair
		others = append(others, s.survey.faint.mask, s.survey.fading.mask)
	}
	for _, m := range others {
		if m != nil {
			bare = raster.AndNot(bare, m)
		}
	}
	return bare
}

// Blend is an area that prints in a colour close to the garment's.
type Blend struct {
	Box        image.Rectangle // in pixels
	AreaPx     int
	Difference float64 // CIEDE2000, the mean over the area
	Contrast   float64 // the ratio of luminances (WCAG 2.2) of its mean colour and the garment
}

const (
	blendCellMM = 0.25
	blendJoinMM = 3.0 // the letters of a word are one place
	// seenAgainst is the share of an area's outline along which other print lies that makes it be seen against that print.
	seenAgainst = 0.7
)

// Blends are the printed areas of at least leastMM2 that differ from the garment by less than limit, in CIEDE2000 units, and the share of
// all print that they are, 0 to 1. Areas that lie within other print are seen against that and are none.
func (s *Scene) Blends(limit, leastMM2 float64) (list []Blend, share float64) {
	g := s.gridOf(blendCellMM)
	art := s.Appearance()
	n := nearness{garment: s.Job.Garment.Colour, limit: limit}
	tooWhite := n.tooWhite(art)
	printed, near := raster.NewBitmap(g.w, g.h), raster.NewBitmap(g.w, g.h)
	for y := range g.h {
		_, py := g.middle(0, y)
		holds := s.holdingInk(py)
		for x := range g.w {
			px, _ := g.middle(x, y)
			if holds[px>>6]>>(px&63)&1 == 0 {
				continue
			}
			printed.Set(x, y)
			if !tooWhite(px, py) && n.pixel(art, px, py) {
				near.Set(x, y)
			}
		}
	}
	cells := 0
	least := int(leastMM2 / s.MM2(float64(g.side*g.side)))
	for _, p := range Patches(near, nil, 1, blendJoinMM/blendCellMM, least) {
		if outlineShare(p, printed, near) < seenAgainst {
			list, cells = append(list, art.blendOf(p, g)), cells+p.AreaPx
		}
	}
	return list, float64(cells) / float64(max(1, printed.Count()))
}

// holdingInk returns a row of what prints, less what is too light to hold, or fades, which are other rules' affair.
func (s *Scene) holdingInk(y int) []uint64 {
	row := slices.Clone(s.survey.ink.Row(y))
	for _, other := range []*raster.Bitmap{s.survey.faint.mask, s.survey.fading.mask} {
		if other == nil {
			continue
		}
		for i, bits := range other.Row(y) {
			row[i] &^= bits
		}
	}
	return row
}

// outlineShare returns the share of the steps out of a patch, cell by cell, that lead to print that is seen on the garment.
func outlineShare(p Patch, printed, near *raster.Bitmap) float64 {
	steps, toPrint := 0, 0
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		for x := p.Box.Min.X; x < p.Box.Max.X; x++ {
			if !p.Mask(x, y) {
				continue
			}
			for _, d := range [...]image.Point{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
				// Two cells on lies clear of the soft edge.
				if at := image.Pt(x, y).Add(d.Mul(2)); !p.Mask(x+d.X, y+d.Y) && !near.At(at.X, at.Y) {
					steps++
					if printed.At(at.X, at.Y) {
						toPrint++
					}
				}
			}
		}
	}
	return float64(toPrint) / float64(max(1, steps))
}

func (a *Appearance) blendOf(p Patch, g grid) Blend {
	b := Blend{Box: g.pixels(p.Box), AreaPx: p.AreaPx * g.side * g.side}
	var n, red, green, blue int
	for y := p.Box.Min.Y; y < p.Box.Max.Y; y++ {
		for x := p.Box.Min.X; x < p.Box.Max.X; x++ {
			if p.Mask(x, y) {
				look := a.lookAt(g.middle(x, y))
				n, red, green, blue = n+1, red+int(look.R), green+int(look.G), blue+int(look.B)
			}
		}
	}
	mean := color.NRGBA{uint8((red + n/2) / n), uint8((green + n/2) / n), uint8((blue + n/2) / n), 255}
	b.Difference, b.Contrast = DeltaE(mean, a.cloth), ContrastRatio(mean, a.cloth)
	return b
}

// nearness tells colours that differ from the garment by less than a limit. Most it tells by a table of coarse colours.
type nearness struct {
	garment color.NRGBA
	limit   float64
	known   [1 << 15]uint8
	asked   bool        // of pixel
	last    color.NRGBA // it was asked of, and
	is      bool        // what it said
}

const (
	nearUnknown = iota
	nearNo
	nearYes
	nearUnsure // the coarse colour is too close to the limit
)

// coarseDifference is more than two colours with the same upper five bits a channel differ by.
const coarseDifference = 5

// pixel is isNear for how a pixel will look, which is as the last one does where colours alone tell.
func (n *nearness) pixel(art *Appearance, x, y int) bool {
	c := art.colourAt(x, y)
	switch {
	case art.inks != nil:
		n.is = n.isNear(art.lookAt(x, y))
	case !n.asked || c != n.last:
		look, _ := art.seen(c)
		n.asked, n.last, n.is = true, c, n.isNear(look)
	}
	return n.is
}

func (n *nearness) isNear(c color.NRGBA) bool {
	at := &n.known[int(c.R>>3)<<10|int(c.G>>3)<<5|int(c.B>>3)]
	if coarse := (color.NRGBA{c.R&^7 | 4, c.G&^7 | 4, c.B&^7 | 4, 255}); *at == nearUnknown && n.isLighterOrDarker(coarse) {
		*at = nearNo
	} else if *at == nearUnknown {
		d := DeltaE(coarse, n.garment)
		switch {
		case d > n.limit+coarseDifference:
			*at = nearNo
		case d < n.limit-coarseDifference:
			*at = nearYes
		default:
			*at = nearUnsure
		}
	}
	if *at == nearUnsure {
		return DeltaE(c, n.garment) < n.limit
	}
	return *at == nearYes
}

// tooWhite returns what reports whether the white that a pixel prints makes it lighter than anything near the garment, whatever lies with it.
// It says no where only a full look tells.
func (n *nearness) tooWhite(art *Appearance) func(x, y int) bool {
	if art.inks != nil || art.colours || art.source == WhiteUnderbase {
		return func(x, y int) bool { return false }
	}
	enough := lightness(n.garment) + mostLightnessWeight*n.limit
	var from int // the least white that is enough
	for from < 256 && lightness(color.NRGBA{uint8(from), uint8(from), uint8(from), 255}) <= enough {
		from++
	}
	return func(x, y int) bool { return int(art.printed.whiteOf(art.colourAt(x, y))) >= from }
}

// mostLightnessWeight is the most that CIEDE2000 divides a difference of lightness by, at L* = 0 or 100: 1 + 0.015 * 50^2 / sqrt(20 + 50^2).
const mostLightnessWeight = 1.75

// isLighterOrDarker reports whether lightness alone makes a coarse colour differ by more than the limit, which is quick to tell.
func (n *nearness) isLighterOrDarker(c color.NRGBA) bool {
	return math.Abs(lightness(c)-lightness(n.garment)) > mostLightnessWeight*(n.limit+coarseDifference)
}
