package preflight

import (
	"image"
	"slices"

	"peelcheck/raster"
)

// Patch is one connected place of a mask, its pieces joined where they lie close together.
type Patch struct {
	Box    image.Rectangle
	AreaPx int
	Mask   func(x, y int) bool
}

// Patches gathers the pixels of a mask into places: what is less than about openPx thick is dropped, pieces nearer than joinPx
// to each other, or on the same piece of along, count as one, and places of less than leastPx are left out. A nil mask has none, along may
// be nil.
func Patches(mask, along *raster.Bitmap, openPx, joinPx float64, leastPx int) []Patch {
	if mask == nil {
		return nil
	}
	body := mask
	if openPx > 0 {
		body = raster.Open(mask, openPx, false)
	}
	joined := body
	if joinPx > 0 {
		joined = raster.Dilate(body, joinPx/2)
	}
	if along != nil {
		joined = raster.Or(joined, along)
	}
	groups := raster.FindComponents(joined, raster.Eight)
	out := make([]Patch, len(groups.List))
	for _, r := range groups.Runs {
		add(&out[r.Component], body, r)
	}
	out = slices.DeleteFunc(out, func(p Patch) bool { return p.AreaPx < max(1, leastPx) })
	for i := range out {
		box := out[i].Box
		out[i].Mask = func(x, y int) bool { return image.Pt(x, y).In(box) && body.At(x, y) }
	}
	return out
}

// add counts the part of a body within a run to a patch.
func add(p *Patch, body *raster.Bitmap, r raster.Run) {
	x0, x1, y := int(r.X0), int(r.X1), int(r.Y)
	for x0 < x1 && !body.At(x0, y) {
		x0++
	}
	for x0 < x1 && !body.At(x1-1, y) {
		x1--
	}
	run := image.Rect(x0, y, x1, y+1)
	p.AreaPx += body.CountIn(run)
	p.Box = p.Box.Union(run)
}
