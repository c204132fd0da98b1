package preflight

import (
	"image"
	"math/bits"

	"peelcheck/raster"
)

// Saving is what leaving garment-coloured areas unprinted saves of each plane, in the order of AllPlanes: the share of its toner, 0 to 1.
type Saving struct {
	AreaMM2 float64
	Share   [5]float64
}

// leastKnockOutMM2 is the least area worth leaving out.
const leastKnockOutMM2 = 3

// KnockOut takes what has nearly the garment's colour out of the planes: areas, not details, since narrow gaps would fill.
func (s *Scene) KnockOut(p *PrintPlanes) Saving {
	out, printed := s.knockedOut(p.Box)
	saving := Saving{AreaMM2: s.MM2(float64(printed))}
	for i, plane := range p.Of {
		if plane != nil {
			saving.Share[i] = clearPlane(plane, out)
		}
	}
	return saving
}

// knockedOut is the part of a mask of the picture that is left unprinted: areas at least as thick as the gap limit, with the corners and the
// soft edges that belong to them. printed is how many of its pixels print.
func (s *Scene) knockedOut(part image.Rectangle) (out *raster.Bitmap, printed int) {
	mask, areas := s.garmentColoured(), raster.NewBitmap(s.W, s.H)
	thin := s.Px(s.Limit("gap")) / 2
	for _, patch := range Patches(mask, nil, thin, 0, s.AreaPx(leastKnockOutMM2)) {
		for y := patch.Box.Min.Y; y < patch.Box.Max.Y; y++ {
			for x := patch.Box.Min.X; x < patch.Box.Max.X; x++ {
				if patch.Mask(x, y) {
					areas.Set(x, y)
				}
			}
		}
	}
	// The last of a soft edge counts as no print, and would stand alone as dots.
	const edgePx = 2
	art, rim := s.Appearance(), nearness{garment: s.Job.Garment.Colour, limit: s.Limit("contrast")}
	zone := raster.Dilate(areas, 2*thin+edgePx)
	out = raster.NewBitmap(part.Dx(), part.Dy())
	for y := range part.Dy() {
		for x := range part.Dx() {
			if at := part.Min.Add(image.Pt(x, y)); zone.At(at.X, at.Y) && rim.isNear(art.lookAt(at.X, at.Y)) {
				out.Set(x, y)
				if mask.At(at.X, at.Y) {
					printed++
				}
			}
		}
	}
	return out, printed
}

// garmentColoured is the mask of what prints, a background too, and looks nearly like the garment.
func (s *Scene) garmentColoured() *raster.Bitmap {
	mask, art := raster.NewBitmap(s.W, s.H), s.Appearance()
	raster.Bands(s.H, raster.TilePx, func(y0, y1 int) {
		n := nearness{garment: s.Job.Garment.Colour, limit: s.Limit("contrast")}
		for y := y0; y < y1; y++ {
			white := s.survey.printsWhite.Row(y)
			for word, m := range s.survey.ink.Row(y) {
				for m |= white[word]; m != 0; m &= m - 1 {
					if x := 64*word + bits.TrailingZeros64(m); n.isNear(art.lookAt(x, y)) {
						mask.Set(x, y)
					}
				}
			}
		}
	})
	return mask
}

// clearPlane sets a plane to nothing where a mask is set and returns the share of its ink that this takes away.
func clearPlane(p *raster.Plane, mask *raster.Bitmap) float64 {
	before, after := 0, 0
	for row := range (p.H + raster.TilePx - 1) / raster.TilePx {
		for column := range (p.W + raster.TilePx - 1) / raster.TilePx {
			t := p.EditTile(column, row)
			r := image.Rect(0, 0, raster.TilePx, raster.TilePx).Add(image.Pt(column, row).Mul(raster.TilePx)).Intersect(image.Rect(0, 0, p.W, p.H))
			for y := r.Min.Y; y < r.Max.Y; y++ {
				line := t[(y-row*raster.TilePx)*raster.TilePx:][:r.Dx()]
				for x, v := range line {
					before += int(v)
					if mask.At(r.Min.X+x, y) {
						line[x] = 0
					}
					after += int(line[x])
				}
			}
			p.SetTile(column, row, t)
		}
	}
	if before == 0 {
		return 0
	}
	return 1 - float64(after)/float64(before)
}
