package preflight

import (
	"fmt"
	"image"
	"math"
	"math/bits"
	"slices"

	"peelcheck/raster"
)

// A tile is judged to be part of a photograph, or screened tone, and its fine detail left alone, where
//   - textureShare of what prints in it lies deep inside print and is restless, as grain is and flat colours, lettering and
//     fine lines with their edges are not, or is neither solid nor a flat tint; rimShare will do where it hangs together with
//     such tiles; or
//   - screenShare of its pixels differ from the next one across, and as many from the next one down, in whether they print at
//     all, as dithering does and lettering or hatching does not.
//
// A tile that holds nothing but fieldSpots or more dots, or holes, too small by far, as light and dark dithering and distressed print
// do, becomes one spot that counts for all of them.
const (
	tilePx         = raster.TilePx // as many as a mask's word holds
	textureShare   = 0.3
	screenShare    = 0.22
	rimShare       = 0.05
	lossyShare     = 0.55 // how much of the grain counts where compression may have put it there
	leastTextured  = 300  // printed pixels a tile must hold to be judged a photograph
	leastScreened  = 60   // and to be judged screened tone
	leastTextureMM = 4    // square millimetres worth a sentence in the report
	fieldSpots     = 24
	fieldSpotPx    = 10 // the most pixels, on the average, of the spots of a field
)

// textured is what a tile is found to be.
type textured uint8

const (
	plain    textured = iota
	uneven            // a photograph perhaps
	rim               // a photograph if it hangs together with one
	photo             // a photograph
	screened          // dithered or screened tone
	dots              // a field of dots
	holes             // a field of holes
)

// closeTexture makes textured tiles solid, so that a photograph is not ten thousand pinholes.
func (s *Scene) closeTexture() {
	v := s.survey
	across, down := v.ink.Stride, (s.H+tilePx-1)/tilePx
	kinds := make([]textured, across*down)
	eachOf := func(kind textured, do func(at, column, row int)) {
		raster.Strips(down, 1, func(row, _ int) {
			for column := range across {
				if at := row*across + column; kinds[at] == kind {
					do(at, column, row)
				}
			}
		})
	}
	eachOf(plain, func(at, column, row int) { kinds[at] = s.textureOf(s.tile(column, row)) })
	var deep *raster.Bitmap
	if slices.Contains(kinds, uneven) {
		deep = raster.Erode(v.ink, rimPx, false)
		eachOf(uneven, func(at, column, row int) { kinds[at] = v.grainOf(s.pic.Lossy, s.tile(column, row), deep) })
	}
	v.restless.mask = nil
	spreadPhoto(kinds, across)
	eachOf(photo, func(_, column, row int) { v.smoothCover(s.tile(column, row), column, row, deep) })
	var photos, screens, cleared []image.Rectangle
	for at, kind := range kinds {
		column, row := at%across, at/across
		tile := s.tile(column, row)
		switch kind {
		case photo:
			photos = append(photos, tile)
			v.texturedPx += v.ink.CountIn(tile)
		case screened:
			v.texturedPx += v.ink.CountIn(tile)
			screens = append(screens, tile)
		case holes:
			v.holeFields = append(v.holeFields, v.field(tile, true))
			screens = append(screens, tile)
		case dots:
			v.dotFields = append(v.dotFields, v.field(tile, false))
			cleared = append(cleared, tile)
		}
	}
	clearTiles(screens, v.lost.mask, v.stray.mask, v.faint.mask)
	clearTiles(cleared, v.lost.mask, v.stray.mask, v.faint.mask, v.ink, v.solid, v.whiteInk)
	v.fillPores(photos, screens)
	if mm2 := s.MM2(float64(v.texturedPx)); mm2 >= leastTextureMM {
		s.Notes = append(s.Notes, fmt.Sprintf("%.0f mm² look like a photograph or screened tone; fine detail inside them was not judged.", mm2))
	}
}

// spreadPhoto makes photographs of the rims that hang together with one.
func spreadPhoto(kinds []textured, across int) {
	var todo []int
	for at, kind := range kinds {
		if kind == photo {
			todo = append(todo, at)
		}
	}
	for len(todo) > 0 {
		at := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		near := []int{at - across, at + across}
		if at%across > 0 {
			near = append(near, at-1)
		}
		if at%across < across-1 {
			near = append(near, at+1)
		}
		for _, n := range near {
			if n >= 0 && n < len(kinds) && kinds[n] == rim {
				kinds[n] = photo
				todo = append(todo, n)
			}
		}
	}
}

func (s *Scene) tile(column, row int) image.Rectangle {
	return image.Rect(column*tilePx, row*tilePx, min(s.W, column*tilePx+tilePx), min(s.H, row*tilePx+tilePx))
}

// textureOf tells what a tile is by what of it prints, solid or not.
func (s *Scene) textureOf(tile image.Rectangle) textured {
	v := s.survey
	printed := v.ink.CountIn(tile)
	if printed < leastScreened {
		return plain
	}
	if isScreened(v.ink, tile) {
		return screened
	}
	if kind := s.fieldOf(tile, printed); kind != plain {
		return kind
	}
	if grain, unsolid := v.restless.countIn(tile), printed-v.solid.CountIn(tile); float64(max(grain, unsolid)) < rimShare*float64(printed) {
		return plain
	}
	return uneven
}

// grainOf tells what an uneven tile is by what of it is deep inside print.
func (v *survey) grainOf(lossy bool, tile image.Rectangle, deep *raster.Bitmap) textured {
	printed, grain, unsolid := v.ink.CountIn(tile), 0, 0
	for y := tile.Min.Y; y < tile.Max.Y; y++ {
		at := y*deep.Stride + tile.Min.X/64
		inside := deep.Words[at]
		unsolid += bits.OnesCount64(inside &^ v.solid.Words[at])
		if v.restless.mask != nil {
			grain += bits.OnesCount64(inside & v.restless.mask.Words[at])
		}
	}
	share := float64(max(grain, unsolid)) / float64(printed)
	if lossy {
		share *= lossyShare
	}
	switch {
	case printed >= leastTextured && share >= textureShare:
		return photo
	case share >= rimShare:
		return rim
	}
	return plain
}

// fieldOf tells whether a tile is a field of dots or of holes.
func (s *Scene) fieldOf(tile image.Rectangle, printed int) textured {
	small := func(px, n int, limit string) bool {
		d := s.Px(s.Limit(limit))
		return n >= fieldSpots && float64(px) <= float64(n)*min(fieldSpotPx, math.Pi/4*d*d)
	}
	unprinted := tile.Dx()*tile.Dy() - printed
	switch {
	case printed < unprinted && small(printed, s.survey.spotsIn(tile, false), "dot"):
		return dots
	case printed > unprinted && unprinted >= fieldSpots && small(unprinted, s.survey.spotsIn(tile, true), "hole") && s.survey.openingsIn(tile) >= fieldSpots:
		return holes
	}
	return plain
}

// spotsIn counts the dots, or the holes, of a tile by its Euler number.
func (v *survey) spotsIn(tile image.Rectangle, ofHoles bool) int {
	if !ofHoles {
		return v.ink.Euler(tile, raster.Eight)
	}
	inside := tile.Sub(tile.Min)
	return raster.Not(v.ink.Crop(tile)).Euler(inside, raster.Four)
}

// openingsIn counts the holes of a tile with their edges, those that touch at a corner in one, as the pieces of a slanting gap do.
func (v *survey) openingsIn(tile image.Rectangle) int {
	return raster.Not(v.solid.Crop(tile)).Euler(tile.Sub(tile.Min), raster.Eight)
}

// field is the spot that stands for all dots, or all holes, of a tile.
func (v *survey) field(tile image.Rectangle, ofHoles bool) Spot {
	area := v.ink.CountIn(tile)
	if ofHoles {
		area = tile.Dx()*tile.Dy() - area
	}
	n := v.spotsIn(tile, ofHoles)
	mean := float64(area) / float64(n)
	return Spot{Box: tile, Count: n, AreaPx: float64(area), DiameterPx: 2 * math.Sqrt(mean/math.Pi)}
}

const (
	rimPx  = 2 // how far from its edge print is deep, and the size of a photograph's pores
	porePx = 3 // how far a pixel of screened tone may be from the next dot
)

// solidRow is a row of a tile that is covered throughout.
var solidRow = func() (row [raster.TilePx]uint8) {
	setAll(row[:], 255)
	return row
}()

// smoothCover makes the coverage of a tile full where it is deep inside print.
func (v *survey) smoothCover(tile image.Rectangle, column, row int, deep *raster.Bitmap) {
	for _, plane := range []*raster.Plane{v.cover, v.whiteCover} {
		t := plane.EditTile(column, row)
		for y := range tile.Dy() {
			line, inside := rowOf(t, y), deep.Words[(tile.Min.Y+y)*deep.Stride+column]
			if inside == ^uint64(0) { // as most are
				*line = solidRow
				continue
			}
			for ; inside != 0; inside &= inside - 1 {
				line[bits.TrailingZeros64(inside)] = 255
			}
		}
		plane.SetTile(column, row, t)
	}
}

// isScreened counts the changes between neighbours, across and down, within the box of what prints in a tile.
func isScreened(b *raster.Bitmap, tile image.Rectangle) bool {
	word := tile.Min.X / 64
	across, down := 0, 0
	var columns, above uint64
	top, bottom := -1, -1
	for y := tile.Min.Y; y < tile.Max.Y; y++ {
		w := b.Words[y*b.Stride+word]
		across += bits.OnesCount64((w ^ w>>1) &^ (1 << 63))
		if top >= 0 {
			down += bits.OnesCount64(w ^ above)
		}
		if w != 0 {
			columns |= w
			bottom = y
			if top < 0 {
				top = y
			}
		}
		above = w
	}
	width := bits.Len64(columns) - bits.TrailingZeros64(columns)
	return float64(min(across, down)) > screenShare*float64(width*(bottom-top+1))
}

// fillPores fills the pores of textured tiles, in what prints and in what is solid. Screened tone also grows: its outermost dots are no
// edge.
func (v *survey) fillPores(photos, screens []image.Rectangle) {
	var porous []image.Rectangle
	for _, t := range photos {
		if v.ink.CountIn(t) < t.Dx()*t.Dy() {
			porous = append(porous, t)
		} else {
			copyTiles(v.solid, v.ink, t)
		}
	}
	v.fill(porous, 2*rimPx, func(b *raster.Bitmap) *raster.Bitmap { return raster.Erode(raster.Dilate(b, rimPx), rimPx, true) })
	v.fill(screens, porePx, func(b *raster.Bitmap) *raster.Bitmap { return raster.Dilate(b, porePx) })
	for _, t := range slices.Concat(photos, screens) { // only now: they reach into each other
		copyTiles(v.ink, v.solid, t)
		copyTiles(v.whiteInk, v.solid, t)
	}
}

// fill makes solid what a filter makes of the print of tiles and what is within reach of them.
func (v *survey) fill(tiles []image.Rectangle, reach int, filter func(*raster.Bitmap) *raster.Bitmap) {
	all, rows := image.Rect(0, 0, v.ink.W, v.ink.H), joinTiles(tiles)
	raster.Strips(len(rows), 1, func(i, _ int) {
		t := rows[i]
		r := image.Rect(t.Min.X-tilePx, t.Min.Y-reach, t.Max.X+tilePx, t.Max.Y+reach).Intersect(all)
		pasteTiles(v.solid, t, filter(v.ink.Crop(r)), t.Min.Sub(r.Min))
	})
}

// joinTiles makes one of tiles side by side, which follow each other.
func joinTiles(tiles []image.Rectangle) (rows []image.Rectangle) {
	for _, t := range tiles {
		if n := len(rows) - 1; n >= 0 && rows[n].Max.X == t.Min.X && rows[n].Min.Y == t.Min.Y {
			rows[n].Max.X = t.Max.X
		} else {
			rows = append(rows, t)
		}
	}
	return rows
}

func copyTiles(dst, src *raster.Bitmap, r image.Rectangle) { pasteTiles(dst, r, src, r.Min) }

// pasteTiles copies to tiles of dst what lies from a place of src on, at a multiple of 64 pixels from the left.
func pasteTiles(dst *raster.Bitmap, r image.Rectangle, src *raster.Bitmap, from image.Point) {
	for y := range r.Dy() {
		copy(wordsOf(dst, r, r.Min.Y+y), src.Row(from.Y + y)[from.X/64:])
	}
}

// wordsOf are those of row y of a mask that lie within tiles.
func wordsOf(b *raster.Bitmap, r image.Rectangle, y int) []uint64 {
	return b.Row(y)[r.Min.X/64 : (r.Max.X+63)/64]
}

// clearTiles takes tiles out of masks, of which some may be nil.
func clearTiles(tiles []image.Rectangle, masks ...*raster.Bitmap) {
	for _, mask := range masks {
		if mask == nil {
			continue
		}
		for _, t := range tiles {
			for y := t.Min.Y; y < t.Max.Y; y++ {
				clear(wordsOf(mask, t, y))
			}
		}
	}
}
