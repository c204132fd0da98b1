package proof

import (
	"image"
	"image/color"
	"math/bits"
	"slices"

	"peelcheck/preflight"
	"peelcheck/raster"
)

const (
	leastBoxPx  = 11 // a box is shown at least this large, so that a speck is still pointed at
	boxAwayPx   = 2  // of the outline from the fault
	linePx      = 3
	boxHaloPx   = 2
	outlineGrow = linePx + boxHaloPx
)

// growBox makes a box as it is outlined: at least leastBoxPx, and clear of the fault.
func growBox(r image.Rectangle) image.Rectangle {
	dx, dy := max(boxAwayPx, (leastBoxPx-r.Dx()+1)/2), max(boxAwayPx, (leastBoxPx-r.Dy()+1)/2)
	return image.Rect(r.Min.X-dx, r.Min.Y-dy, r.Max.X+dx, r.Max.Y+dy)
}

// outlined is where a box is outlined; what is large stays clear of the picture's edge.
func (v view) outlined(r rectMM) image.Rectangle {
	const large = 45
	box := growBox(v.shown(r))
	if in := box.Intersect(v.bounds().Inset(outlineGrow + 1)); in.Dx() >= large && in.Dy() >= large {
		return in
	}
	return box
}

// keepClear marks what tags must not cover of a box: all of a small one with its outline, the outline of a large one.
func (m *coverMap) keepClear(box image.Rectangle) {
	const largePx = 45 * 45
	outer := box.Inset(-outlineGrow)
	if box.Dx()*box.Dy() < largePx || min(box.Dx(), box.Dy()) < leastBoxPx*2 {
		m.cover(outer)
		return
	}
	m.cover(image.Rectangle{outer.Min, image.Pt(outer.Max.X, box.Min.Y)})
	m.cover(image.Rectangle{image.Pt(outer.Min.X, box.Max.Y), outer.Max})
	m.cover(image.Rectangle{outer.Min, image.Pt(box.Min.X, outer.Max.Y)})
	m.cover(image.Rectangle{image.Pt(box.Max.X, outer.Min.Y), outer.Max})
}

// outlines gathers boxes of one level to be outlined, by their size, without those that nearly coincide with an earlier one.
type outlines struct {
	byClass [16][]image.Rectangle
	seen    map[[5]int16]bool
}

func (o *outlines) add(b image.Rectangle) {
	q := max(2, max(b.Dx(), b.Dy())/8)
	key := [5]int16{int16(q), int16(b.Min.X / q), int16(b.Min.Y / q), int16(b.Max.X / q), int16(b.Max.Y / q)}
	if o.seen[key] {
		return
	}
	if o.seen == nil {
		o.seen = map[[5]int16]bool{}
	}
	o.seen[key] = true
	class := min(len(o.byClass)-1, bits.Len(uint(b.Dx()*b.Dy()))/3)
	o.byClass[class] = append(o.byClass[class], b)
}

// outline draws the outlines of boxes of one level. Boxes that overlap and are of a size get one outline around them; a small
// box within a large one keeps its own.
func (c *canvas) outline(o *outlines, level preflight.Level, clip image.Rectangle) {
	if c.vector != nil {
		fill, _ := levelColours(level)
		c.vector.outline(o, fill, dashOf(level), clip)
		return
	}
	for _, boxes := range slices.Backward(o.byClass[:]) {
		if len(boxes) > 0 {
			c.outlineClass(boxes, level, clip)
		}
	}
}

// outlineClass outlines boxes together.
func (c *canvas) outlineClass(boxes []image.Rectangle, level preflight.Level, clip image.Rectangle) {
	var area image.Rectangle
	for _, b := range boxes {
		area = area.Union(b.Inset(-outlineGrow))
	}
	fill, _ := levelColours(level)
	d := dashOf(level)
	c.add(area.Intersect(clip), func(dst *image.RGBA, r image.Rectangle) {
		var within []image.Rectangle
		for _, b := range boxes {
			if b.Inset(-outlineGrow).Overlaps(r) {
				within = append(within, b)
			}
		}
		halo, line := grown(within, outlineGrow, r), grown(within, linePx, r)
		inner, inside := grown(within, 0, r), grown(within, -boxHaloPx, r)
		for y := range r.Dy() {
			lines := line.Row(y)
			inners, insides := inner.Row(y), inside.Row(y)
			row := rowOf(dst, r, r.Min.Y+y)
			for i, word := range halo.Row(y) {
				paintOutline(row[256*i:], r.Min.X+64*i+r.Min.Y+y, word&^insides[i], lines[i]&^inners[i], fill, d)
			}
		}
	})
}

// grown is what boxes cover of r when each is larger by that much on all sides.
func grown(boxes []image.Rectangle, by int, r image.Rectangle) *raster.Bitmap {
	m := raster.NewBitmap(r.Dx(), r.Dy())
	for _, b := range boxes {
		b = b.Inset(-by).Intersect(r).Sub(r.Min)
		for y := b.Min.Y; y < b.Max.Y; y++ {
			m.SetRun(y, b.Min.X, b.Max.X)
		}
	}
	return m
}

// paintOutline paints up to 64 pixels: those of halo white, but those of line too in dashes, counted from phase.
func paintOutline(px []byte, phase int, halo, line uint64, fill color.RGBA, d dash) {
	for ; halo != 0; halo &= halo - 1 {
		i := bits.TrailingZeros64(halo)
		k := white
		switch {
		case line>>i&1 == 0:
		case (phase+i)%d.step < d.on:
			k = fill
		default:
			k = d.between
		}
		copy(px[4*i:], []byte{k.R, k.G, k.B, 0xff})
	}
}

// dash is how long a dash is and how far to the next, in pixels, and what shows between them.
type dash struct {
	on, step int
	between  color.RGBA
}

// dashOf makes errors solid, warnings long dashes and notes dots. Between a warning's dashes lies black: orange and white
// alone would be lost on white print.
func dashOf(l preflight.Level) dash {
	switch l {
	case preflight.LevelError:
		return dash{1, 1, white}
	case preflight.LevelWarning:
		return dash{9, 13, black}
	}
	return dash{3, 6, white}
}
