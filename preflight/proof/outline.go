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

// dash is how long a dash is and how far to the next, in pixels; no step means a solid line.
type dash struct{ on, step int }

func dashOf(l preflight.Level) dash {
	switch l {
	case preflight.LevelError:
		return dash{}
	case preflight.LevelWarning:
		return dash{12, 17}
	}
	return dash{4, 8}
}

func (c *canvas) paintOutline(mask *image.Alpha, line color.RGBA, d dash) {
	for y := mask.Rect.Min.Y; y < mask.Rect.Max.Y; y++ {
		row := mask.Pix[mask.PixOffset(mask.Rect.Min.X, y):][:mask.Rect.Dx()]
		for i, v := range row {
			if v == 0 || v == markClear {
				continue
			}
			x := mask.Rect.Min.X + i
			if v == markLine && (d.step == 0 || (x+y)%d.step < d.on) {
				c.put(x, y, line)
			} else {
				c.put(x, y, white)
			}
		}
	}
}
