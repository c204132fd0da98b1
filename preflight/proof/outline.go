package proof

import (
	"image"
	"image/color"
	"math/bits"

	"peelcheck/preflight"
)

const (
	leastBoxPx  = 14 // a box is shown at least this large, so that a speck is still pointed at
	boxAwayPx   = 3  // of the outline from the fault
	linePx      = 4
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
	const large = 60
	box := growBox(v.shown(r))
	if in := box.Intersect(v.bounds().Inset(outlineGrow + 1)); in.Dx() >= large && in.Dy() >= large {
		return in
	}
	return box
}

// keepClear lists what tags must not cover of a box: all of a small one with its outline, the outline of a large one.
func keepClear(box image.Rectangle) []image.Rectangle {
	const largePx = 60 * 60
	outer := box.Inset(-outlineGrow)
	if box.Dx()*box.Dy() < largePx || min(box.Dx(), box.Dy()) < leastBoxPx*2 {
		return []image.Rectangle{outer}
	}
	return []image.Rectangle{
		{outer.Min, image.Pt(outer.Max.X, box.Min.Y)}, {image.Pt(outer.Min.X, box.Max.Y), outer.Max},
		{outer.Min, image.Pt(box.Min.X, outer.Max.Y)}, {image.Pt(box.Max.X, outer.Min.Y), outer.Max},
	}
}

// outline draws the outlines of boxes of one level. Boxes that overlap and are of a size get one outline around them; a small
// box within a large one keeps its own.
func (c *canvas) outline(boxes []image.Rectangle, level preflight.Level, clip image.Rectangle) {
	const classes = 16
	var byClass [classes][]image.Rectangle
	for _, b := range boxes {
		class := min(classes-1, bits.Len(uint(b.Dx()*b.Dy()))/3)
		byClass[class] = append(byClass[class], b)
	}
	for class := classes - 1; class >= 0; class-- {
		if list := thinOut(byClass[class]); len(list) > 0 {
			c.outlineClass(list, level, clip)
		}
	}
}

// thinOut drops boxes that nearly coincide with an earlier one.
func thinOut(boxes []image.Rectangle) []image.Rectangle {
	seen := map[image.Rectangle]bool{}
	var out []image.Rectangle
	for _, b := range boxes {
		q := max(2, max(b.Dx(), b.Dy())/8)
		key := image.Rect(b.Min.X/q, b.Min.Y/q, b.Max.X/q, b.Max.Y/q)
		if !seen[key] {
			seen[key] = true
			out = append(out, b)
		}
	}
	return out
}

// Marks of a mask of outlines.
const (
	markHalo = 1 + iota
	markLine
	markClear
)

func (c *canvas) outlineClass(boxes []image.Rectangle, level preflight.Level, clip image.Rectangle) {
	var area image.Rectangle
	for _, b := range boxes {
		area = area.Union(b.Inset(-outlineGrow))
	}
	area = area.Intersect(clip)
	if area.Empty() {
		return
	}
	mask := image.NewAlpha(area)
	for _, pass := range []struct {
		grow int
		mark uint8
	}{{outlineGrow, markHalo}, {linePx, markLine}, {0, markHalo}, {-boxHaloPx, markClear}} {
		for _, b := range boxes {
			fillMask(mask, b.Inset(-pass.grow), pass.mark)
		}
	}
	fill, _ := levelColours(level)
	c.paintOutline(mask, fill, dashOf(level))
}

func fillMask(m *image.Alpha, r image.Rectangle, v uint8) {
	r = r.Intersect(m.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := m.Pix[m.PixOffset(r.Min.X, y):][:r.Dx()]
		for i := range row {
			row[i] = v
		}
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
		return dash{12, 17, black}
	}
	return dash{4, 8, white}
}

func (c *canvas) paintOutline(mask *image.Alpha, line color.RGBA, d dash) {
	for y := mask.Rect.Min.Y; y < mask.Rect.Max.Y; y++ {
		row := mask.Pix[mask.PixOffset(mask.Rect.Min.X, y):][:mask.Rect.Dx()]
		for i, v := range row {
			if v == 0 || v == markClear {
				continue
			}
			x := mask.Rect.Min.X + i
			switch {
			case v == markHalo:
				c.put(x, y, white)
			case (x+y)%d.step < d.on:
				c.put(x, y, line)
			default:
				c.put(x, y, d.between)
			}
		}
	}
}
