package proof

import (
	"image"
	"image/color"
	"math"
	"slices"
	"strconv"
)

var tagType = typeStyle{bold: true, px: 20}

const (
	tagH      = 30
	tagMark   = 20 // width of the level's shape in it
	tagPad    = 6
	tagHalo   = 2
	tagApart  = 4
	gutterW   = 78 // beside the picture, for tags
	gutterRow = tagH + tagApart + 2*tagHalo
)

// placedTag is a tag in the picture: where it lies and what it points at.
type placedTag struct {
	cluster *cluster
	box     image.Rectangle
	target  image.Rectangle // the outlined box of its worst finding
	tip     image.Point     // of its leader, on the outer edge of the target's outline
}

// from is where its leader begins.
func (p placedTag) from() image.Point { return tipOf(image.Rectangle{p.tip, p.tip}, p.box) }

// cross reports whether the lines from a to b and from c to d cross.
func cross(a, b, c, d image.Point) bool {
	side := func(a, b, p image.Point) bool { return (b.X-a.X)*(p.Y-a.Y) > (b.Y-a.Y)*(p.X-a.X) }
	return side(a, b, c) != side(a, b, d) && side(c, d, a) != side(c, d, b)
}

func (s *setter) tagWidth(n int) int {
	return tagMark + s.width(tagType, strconv.Itoa(n)) + 3*tagPad
}

// drawTag draws a level's shape and a number on a label with its top left at r's.
func (c *canvas) drawTag(r image.Rectangle, cl *cluster) {
	fill, on := levelColours(cl.level)
	c.fill(r.Inset(-tagHalo), white)
	c.fill(r, fill)
	c.frame(r, 2, black)
	c.levelMark(cl.level, float64(r.Min.X+tagPad+tagMark/2), float64(r.Min.Y+r.Max.Y)/2, float64(tagMark)/2-1, on)
	f := c.set.face(tagType)
	c.write(r.Min.X+2*tagPad+tagMark, r.Min.Y+(tagH-f.height)/2, tagType, on, strconv.Itoa(cl.tag))
}

// tagPlacer finds places for tags one by one: beside the fault where no fault and no tag is hidden, else in the gutters.
type tagPlacer struct {
	picture image.Rectangle // where tags may lie over the picture
	slots   []image.Point   // free top left corners in the gutters
	faults  *coverMap
	drawn   *coverMap // where the artwork shows
	placed  []placedTag
}

// gutterSlots lists the places beside and below the picture; rows is how many rows lie below it.
func gutterSlots(picture image.Rectangle, rows int) []image.Point {
	var out []image.Point
	for y := picture.Min.Y; y+tagH <= picture.Max.Y; y += gutterRow {
		out = append(out, image.Pt(picture.Min.X-rulerSideW-gutterW+tagApart, y), image.Pt(picture.Max.X+tagApart+2*tagHalo, y))
	}
	for i := range rows {
		y := picture.Max.Y + tagApart + 2*tagHalo + i*gutterRow
		for k := range slotsAcross(picture.Dx()) {
			out = append(out, image.Pt(picture.Min.X+k*gutterW, y))
		}
	}
	return out
}

// slotsBeside counts the places beside a picture of that height, slotsAcross those in a row below it.
func slotsBeside(h int) int   { return 2 * max(0, (h+gutterRow-tagH)/gutterRow) }
func slotsAcross(w int) int   { return max(1, (w+tagApart)/gutterW) }
func (t *tagPlacer) big() int { return t.picture.Dx() * t.picture.Dy() / 6 }

func (t *tagPlacer) place(cl *cluster, target image.Rectangle, w int) {
	if target.Dx()*target.Dy() < t.big() {
		if box, ok := t.beside(target, w); ok {
			t.add(cl, box, target)
			return
		}
	}
	t.add(cl, t.fromGutter(target, w), target)
}

func (t *tagPlacer) add(cl *cluster, box, target image.Rectangle) {
	t.placed = append(t.placed, placedTag{cl, box, target, tipOf(box, target.Inset(-outlineGrow))})
}

// Costs of a tag's place, in pixels of leader.
const (
	costOfDrawn    = 120 // for hiding artwork with all of it
	costOfCrossing = 22  // for each step of a leader over a fault
	leaderSteps    = 3   // as many of which another leader counts
	mostBesideCost = 150
	crossingStep   = 6
)

// beside tries places around the target and takes the cheapest.
func (t *tagPlacer) beside(target image.Rectangle, w int) (image.Rectangle, bool) {
	best, bestCost := image.Rectangle{}, mostBesideCost
	for _, away := range []int{outlineGrow + 6, 27, 54, 82, 112} {
		for _, dir := range []image.Point{{1, -1}, {-1, -1}, {1, 1}, {-1, 1}, {0, -1}, {0, 1}, {1, 0}, {-1, 0}} {
			at := image.Pt(
				beyond(dir.X, target.Min.X, target.Max.X, w, away),
				beyond(dir.Y, target.Min.Y, target.Max.Y, tagH, away))
			box := image.Rectangle{at, at.Add(image.Pt(w, tagH))}
			if !t.free(box) {
				continue
			}
			cost := away + t.crossings(box, target)*costOfCrossing + int(costOfDrawn*t.drawn.share(box))
			if cost < bestCost {
				best, bestCost = box, cost
			}
		}
	}
	return best, bestCost < mostBesideCost
}

// beyond returns where a length starts that lies before lo, after hi, or centred between them.
func beyond(dir, lo, hi, length, away int) int {
	switch dir {
	case -1:
		return lo - away - length
	case 1:
		return hi + away
	}
	return (lo + hi - length) / 2
}

func (t *tagPlacer) free(box image.Rectangle) bool {
	if !box.Inset(-tagHalo).In(t.picture) || t.faults.share(box.Inset(-tagHalo)) > 0 {
		return false
	}
	for _, p := range t.placed {
		if p.box.Overlaps(box.Inset(-tagApart-2*tagHalo)) || p.tip.In(box.Inset(-tagApart)) {
			return false
		}
	}
	return true
}

// crossings counts the steps of a leader that lie on another fault, on a tag or across another leader.
func (t *tagPlacer) crossings(box, target image.Rectangle) int {
	own := target.Inset(-outlineGrow - coverCell)
	tip := tipOf(box, target.Inset(-outlineGrow))
	from := tipOf(image.Rectangle{tip, tip}, box)
	d := tip.Sub(from)
	steps := int(math.Hypot(float64(d.X), float64(d.Y))) / crossingStep
	n := 0
	for _, p := range t.placed {
		if cross(from, tip, p.from(), p.tip) {
			n += leaderSteps
		}
	}
	for i := 1; i < steps; i++ {
		at := from.Add(image.Pt(d.X*i/steps, d.Y*i/steps))
		dot := image.Rectangle{at, at.Add(image.Pt(2, 2))}
		onTag := slices.ContainsFunc(t.placed, func(p placedTag) bool { return at.In(p.box) })
		if onTag || !at.In(own) && t.faults.share(dot) > 0 {
			n++
		}
	}
	return n
}

// fromGutter takes the cheapest free slot.
func (t *tagPlacer) fromGutter(target image.Rectangle, w int) image.Rectangle {
	best, bestCost := -1, math.MaxInt
	for i, s := range t.slots {
		box := t.inSlot(s, w)
		tip := tipOf(box, target)
		d := tip.Sub(tipOf(image.Rectangle{tip, tip}, box))
		cost := int(math.Hypot(float64(d.X), float64(d.Y))) + t.crossings(box, target)*costOfCrossing
		if cost < bestCost {
			best, bestCost = i, cost
		}
	}
	if best < 0 {
		panic("proof: no place is left for a tag (bug)")
	}
	box := t.inSlot(t.slots[best], w)
	t.slots = slices.Delete(t.slots, best, best+1)
	return box
}

// inSlot is a tag's box in a slot; those left of the picture lie against the ruler.
func (t *tagPlacer) inSlot(s image.Point, w int) image.Rectangle {
	if s.X+gutterW <= t.picture.Min.X {
		s.X += gutterW - 2*tagApart - w
	}
	return image.Rectangle{s, s.Add(image.Pt(w, tagH))}
}

// tipOf is the point of the target's outline nearest the tag's middle.
func tipOf(box, target image.Rectangle) image.Point {
	mid := image.Pt((box.Min.X+box.Max.X)/2, (box.Min.Y+box.Max.Y)/2)
	p := image.Pt(min(target.Max.X, max(target.Min.X, mid.X)), min(target.Max.Y, max(target.Min.Y, mid.Y)))
	if p != mid {
		return p
	}
	return image.Pt(mid.X, target.Min.Y)
}

// drawLeader draws the line from a tag to its target; one that touches has none.
func (c *canvas) drawLeader(p placedTag) {
	from := p.from()
	d := p.tip.Sub(from)
	if d.X*d.X+d.Y*d.Y < 4 {
		return
	}
	x0, y0, x1, y1 := float64(from.X), float64(from.Y), float64(p.tip.X), float64(p.tip.Y)
	c.line(x0, y0, x1, y1, 6, white)
	c.line(x0, y0, x1, y1, 3, black)
}

// coverMap tells quickly how much of a rectangle is covered, to a coarse grid.
type coverMap struct {
	at      image.Point
	w, h    int
	covered []bool
	sums    []int32 // summed-area table, one row and column of zeros first
}

const coverCell = 3

// newCoverMap maps what is covered of an area: what mark says.
func newCoverMap(area image.Rectangle, mark func(m *coverMap)) *coverMap {
	m := &coverMap{at: area.Min, w: area.Dx()/coverCell + 1, h: area.Dy()/coverCell + 1}
	m.covered = make([]bool, m.w*m.h)
	mark(m)
	m.sums = make([]int32, (m.w+1)*(m.h+1))
	for y := range m.h {
		var row int32
		for x := range m.w {
			if m.covered[y*m.w+x] {
				row++
			}
			m.sums[(y+1)*(m.w+1)+x+1] = m.sums[y*(m.w+1)+x+1] + row
		}
	}
	return m
}

// cover marks a rectangle as covered.
func (m *coverMap) cover(r image.Rectangle) {
	r = m.cells(r)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := m.covered[y*m.w+r.Min.X : y*m.w+r.Max.X]
		for i := range row {
			row[i] = true
		}
	}
}

// drawnMap maps where an area of the canvas, as far as it goes by now, shows something other than the colour k.
func (c *canvas) drawnMap(area image.Rectangle, k color.RGBA) *coverMap {
	const apart = 40 // summed over red, green and blue, of 255 each
	return newCoverMap(area, func(m *coverMap) {
		row := image.NewRGBA(image.Rect(area.Min.X, 0, area.Min.X+m.w*coverCell, 1))
		for y := range m.h {
			row.Rect.Min.Y = area.Min.Y + y*coverCell
			row.Rect.Max.Y = row.Rect.Min.Y + 1
			c.paint(row)
			for x := range m.w {
				p := row.RGBAAt(area.Min.X+x*coverCell, row.Rect.Min.Y)
				m.covered[y*m.w+x] = p != offGrey && distance(p.R, k.R)+distance(p.G, k.G)+distance(p.B, k.B) > apart
			}
		}
	})
}

func distance(a, b uint8) int { return int(max(a, b) - min(a, b)) }

func (m *coverMap) cells(r image.Rectangle) image.Rectangle {
	r = r.Sub(m.at)
	return image.Rect(r.Min.X/coverCell, r.Min.Y/coverCell, (r.Max.X+coverCell-1)/coverCell, (r.Max.Y+coverCell-1)/coverCell).
		Intersect(image.Rect(0, 0, m.w, m.h))
}

// share is how much of r is covered, 0 to 1.
func (m *coverMap) share(r image.Rectangle) float64 {
	c := m.cells(r)
	if c.Empty() {
		return 0
	}
	at := func(x, y int) int32 { return m.sums[y*(m.w+1)+x] }
	n := at(c.Max.X, c.Max.Y) - at(c.Min.X, c.Max.Y) - at(c.Max.X, c.Min.Y) + at(c.Min.X, c.Min.Y)
	return float64(n) / float64(c.Dx()*c.Dy())
}
