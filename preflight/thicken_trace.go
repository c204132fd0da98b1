package preflight

import (
	"image"
	"math"
	"slices"

	"peelcheck/raster"
)

// tone is what a pixel that a shape fills gets of each plane, and how much that covers, in 255ths.
type tone struct {
	ink  ink
	full uint8
}

// dot is a place in the middle of a feature, in pixels of the picture: halfway along a cut across it, level or upright, whose ends tell
// the shape's tone to both sides.
type dot struct {
	x, y    float32
	width   float32 // across the feature, as far as two cuts tell
	thin    bool    // it is part of what must change
	upright bool
	tones   [2]tone
}

// box is the pixels whose centres may lie within r of the dot.
func (d *dot) box(r float32) image.Rectangle { return boxAround(d.x, d.y, d.x, d.y, r) }

func boxAround(ax, ay, bx, by, r float32) image.Rectangle {
	low := func(v float32) int { return int(math.Floor(float64(v - r))) }
	high := func(v float32) int { return int(math.Ceil(float64(v + r))) }
	return image.Rect(low(min(ax, bx)), low(min(ay, by)), high(max(ax, bx)), high(max(ay, by)))
}

// toneAt is the tone on the side of the dot where a point lies.
func (d *dot) toneAt(x, y float32) tone {
	if d.upright && y > d.y || !d.upright && x > d.x {
		return d.tones[1]
	}
	return d.tones[0]
}

// tracer finds the middle of features one after another; it is the scratch of one worker.
type tracer struct {
	s      *Scene
	m      *mend
	most   int // pixels that a cut may be long
	r      image.Rectangle
	w      int
	cover  []uint8
	shape  []uint8         // how much of a pixel belongs to the feature, 0 beyond what it may belong to
	thin   []bool          // found to be too thin
	cutIn  image.Rectangle // where cuts are made, from the first pixel loaded
	grid   cellGrid
	moved  []dot
	ray    []uint8
	beyond []further
	beside []int32 // dots near one
}

func newTracer(s *Scene) *tracer { return &tracer{s: s} }

const (
	// leastCut is the level under which there is nothing of a shape.
	leastCut = 5
	// wholePx and partPx: larger features are looked at in squares.
	wholePx, partPx = 256, 128
	// linkPx is how far apart neighbours along a middle are at most.
	linkPx = 2.6
)

// trace fills in the dots of a feature and the links between them.
func (t *tracer) trace(m *mend) {
	t.m, t.most = m, int(3*m.reach)+4
	for _, runs := range partsOf(m.Runs, m.Box) {
		t.load(runs)
		t.cutAll()
	}
	t.keepJoined()
	if len(m.dots) == 0 {
		return
	}
	t.dropCorners()
	t.smooth()
	t.trim()
	t.link()
	for _, d := range t.beyond {
		m.links = append(m.links, [2]int32{d.from, int32(len(m.dots))})
		m.dots = append(m.dots, d.dot)
	}
}

// partsOf divides runs into squares, unless they lie close together.
func partsOf(runs []raster.Run, box image.Rectangle) [][]raster.Run {
	if box.Dx() <= wholePx && box.Dy() <= wholePx {
		return [][]raster.Run{runs}
	}
	var out [][]raster.Run
	index := map[[2]int32]int{}
	for _, r := range runs {
		for x := r.X0; x < r.X1; {
			end := min(r.X1, (x/partPx+1)*partPx)
			at := [2]int32{x / partPx, r.Y / partPx}
			k, ok := index[at]
			if !ok {
				k = len(out)
				index[at] = k
				out = append(out, nil)
			}
			out[k] = append(out[k], raster.Run{Y: r.Y, X0: x, X1: end})
			x = end
		}
	}
	return out
}

// load reads what lies around some runs.
func (t *tracer) load(runs []raster.Run) {
	var box image.Rectangle
	for _, r := range runs {
		box = box.Union(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
	}
	box = box.Inset(-int(4 * t.m.reach))
	t.r = box.Inset(-2*t.most - 2)
	t.w = t.r.Dx()
	n := t.w * t.r.Dy()
	t.cover, t.shape, t.thin = grown(t.cover, n), grown(t.shape, n), grown(t.thin, n)
	t.s.readAround(t.cover, t.r)
	for y := t.r.Min.Y; y < t.r.Max.Y; y++ {
		for x := t.r.Min.X; x < t.r.Max.X; x++ {
			i := t.at(x, y)
			switch {
			case !t.m.gap:
				t.shape[i] = t.cover[i]
			case !t.s.survey.solid.At(x, y):
				t.shape[i] = max(leastCut, 255-t.cover[i])
			}
		}
	}
	for _, r := range runs {
		for x := r.X0; x < r.X1; x++ {
			t.thin[t.at(int(x), int(r.Y))] = true
		}
	}
	t.cutIn = box.Sub(t.r.Min)
}

// grown returns n zeros in the memory of a slice if it is large enough.
func grown[T any](of []T, n int) []T {
	if cap(of) < n {
		return make([]T, n)
	}
	of = of[:n]
	clear(of)
	return of
}

// readAround reads coverage; beyond the picture there is none.
func (s *Scene) readAround(dst []uint8, r image.Rectangle) {
	in := r.Intersect(image.Rect(0, 0, s.W, s.H))
	if in == r {
		s.survey.cover.Read(dst, r)
		return
	}
	for y := in.Min.Y; y < in.Max.Y; y++ {
		s.survey.cover.Read(dst[(y-r.Min.Y)*r.Dx()+in.Min.X-r.Min.X:][:in.Dx()], image.Rect(in.Min.X, y, in.Max.X, y+1))
	}
}

func (t *tracer) at(x, y int) int { return (y-t.r.Min.Y)*t.w + x - t.r.Min.X }

// cutAll cuts through what is loaded, along rows and then along columns.
func (t *tracer) cutAll() {
	c := t.cutIn
	for y := c.Min.Y; y < c.Max.Y; y++ {
		t.cutLine(y*t.w+c.Min.X, 1, c.Dx())
	}
	for x := c.Min.X; x < c.Max.X; x++ {
		t.cutLine(c.Min.Y*t.w+x, t.w, c.Dy())
	}
}

// cutLine cuts along n pixels of one row or column from an index on, and keeps the middles of cuts that are the shorter way across.
func (t *tracer) cutLine(from, step, n int) {
	const longer = 0.8 // at 45 degrees both ways are as long
	for k := 0; k < n; k++ {
		i := from + k*step
		if t.shape[i] < detailLevel {
			continue
		}
		c, ok := t.cut(i, step)
		if !ok {
			continue
		}
		k = max(k, (c.end-from)/step-1)
		other, crossed := t.cut(c.at, t.w+1-step)
		if crossed && other.length < longer*c.length || t.isEdge(c, step, crossed) {
			continue
		}
		width := c.length
		if crossed {
			width = c.length * other.length / math.Hypot(c.length, other.length)
		}
		width *= 255 / float64(max(c.peak, other.peak))
		if t.thin[c.at] || width < 2*float64(t.m.reach) {
			t.keep(c, step, width)
		}
	}
}

// keepJoined drops dots of what was not found too thin, unless they follow on dots of about the same width: short ends and bends of a
// stroke, which would look odd if they were not grown with it.
func (t *tracer) keepJoined() {
	const apartPx, wider, widerPx = 2, 1.4, 0.7
	dots := t.m.dots
	if len(dots) == 0 {
		return
	}
	t.grid.fill(dots, apartPx)
	t.beside = t.beside[:0]
	for i := range dots {
		if dots[i].thin {
			t.beside = append(t.beside, int32(i))
		}
	}
	for n := 0; n < len(t.beside); n++ {
		d := &dots[t.beside[n]]
		t.grid.near(dots, d, apartPx, func(i int, o *dot) {
			if !o.thin && o.width <= max(wider*d.width, d.width+widerPx) {
				o.thin = true
				t.beside = append(t.beside, int32(i))
			}
		})
	}
	t.m.dots = slices.DeleteFunc(dots, func(d dot) bool { return !d.thin })
}

// cut is one cut across a shape: where it begins and ends, its pixel that has most of the shape, the middle in pixels from there, and
// how long it would be if its pixels were filled.
type cut struct {
	first, end, at int
	middle, length float64
	peak           uint8
	levels         [2]uint8 // what lies beside a gap
}

// isEdge reports whether a cut runs along an edge of the shape, in pixels that it covers in part: there is nothing to one side and more to
// the other.
func (t *tracer) isEdge(c cut, step int, crossed bool) bool {
	const leastPx = 4 // a shorter cut may be one through a fine slanting line
	if crossed && (c.end-c.first)/step < leastPx {
		return false
	}
	across := t.w + 1 - step
	a, b := t.shape[c.at-across], t.shape[c.at+across]
	return min(a, b) < leastCut && 10*int(max(a, b)) > 11*int(c.peak)
}

// cut goes from a pixel to where the shape is strongest and from there to both sides until it is left.
func (t *tracer) cut(i, step int) (c cut, ok bool) {
	for range t.most {
		if t.shape[i+step] > t.shape[i] {
			i += step
		} else if t.shape[i-step] > t.shape[i] {
			i -= step
		} else {
			break
		}
	}
	c = cut{at: i, peak: t.shape[i]}
	before, ok1 := t.reach(i, -step)
	after, ok2 := t.reach(i, step)
	if !ok1 || !ok2 {
		return c, false
	}
	c.first, c.end = i-(before-1)*step, i+after*step
	c.levels = [2]uint8{255, 255}
	if t.m.gap {
		c.levels = [2]uint8{max(1, t.cover[c.first-step], t.cover[c.first-2*step]), max(1, t.cover[c.end], t.cover[c.end+step])}
	}
	var moment float64
	for k := -before + 1; k < after; k++ {
		v := t.share(i+k*step, k > 0, &c)
		c.length += v
		moment += v * float64(k)
	}
	if c.length <= 0 {
		return c, false
	}
	c.middle = moment / c.length
	return c, true
}

// share is how much of a pixel belongs to the shape.
func (t *tracer) share(i int, second bool, c *cut) float64 {
	if !t.m.gap {
		return float64(t.shape[i]) / 255
	}
	level := c.levels[0]
	if second {
		level = c.levels[1]
	}
	return max(0, 1-float64(t.cover[i])/float64(level))
}

// reach counts steps until the shape is left, or has fallen and rises again.
func (t *tracer) reach(i, step int) (n int, ok bool) {
	const rise = 21 // of 255
	peak := int(t.shape[i])
	low := peak
	for n = 1; n <= t.most; n++ {
		v := int(t.shape[i+n*step])
		if v < leastCut || v > low+rise && 2*low < peak {
			return n, true
		}
		low = min(low, v)
	}
	return n, false
}

// keep makes a dot of a cut.
func (t *tracer) keep(c cut, step int, width float64) {
	d := dot{x: float32(t.r.Min.X+c.at%t.w) + 0.5, y: float32(t.r.Min.Y+c.at/t.w) + 0.5, width: float32(width), thin: t.thin[c.at], upright: step != 1}
	if d.upright {
		d.y += float32(c.middle)
	} else {
		d.x += float32(c.middle)
	}
	if t.m.gap {
		d.tones[0].full, d.tones[1].full = c.levels[0], c.levels[1]
	} else if !t.findTones(&d, c, step, width) {
		return
	}
	t.m.dots = append(t.m.dots, d)
}

// findTones looks for the tone of a line: of the outermost pixels that it fills, or as the colours of a line too fine to fill any tell.
func (t *tracer) findTones(d *dot, c cut, step int, width float64) bool {
	const fills = 0.9
	first, last := c.at, c.at
	for i := c.first; i < c.end; i += step {
		if float64(t.shape[i]) >= fills*float64(c.peak) {
			first = min(first, i)
			last = max(last, i)
		}
	}
	d.tones[0] = t.toneOf(first, width)
	d.tones[1] = t.toneOf(last, width)
	return d.tones[0].full > 0 && d.tones[1].full > 0
}

// toneOf is the tone that a pixel tells of a line so many pixels wide, taken to fill it. Where a line may not fill any pixel, it is what
// the colour is without its transparency, or the ground it is mixed with; where neither is known, as strong as any.
func (t *tracer) toneOf(i int, width float64) tone {
	const veilFrom, fillsFrom, fills = 2.5, 2, 0.9
	x, y := t.r.Min.X+i%t.w, t.r.Min.Y+i/t.w
	own := t.s.unchoked(x, y)
	asItIs := tone{own, t.cover[i]}
	if t.cover[i] >= solidLevel || width >= veilFrom {
		return asItIs
	}
	pure := t.pureTone(x, y, own, t.cover[i])
	if width >= fillsFrom && float64(t.cover[i]) >= fills*float64(pure.full) {
		return asItIs
	}
	return pure
}

// pureTone is the tone that a pixel of some inks and coverage would have if the line filled it.
func (t *tracer) pureTone(x, y int, own ink, cover uint8) tone {
	p := t.s.pic.Pix.Pix[y*t.s.pic.Pix.Stride+4*x:]
	r, g, b, a := p[0], p[1], p[2], p[3]
	if t.s.detail.remove {
		r, g, b, a = takeOut(t.s.detail.ground, r, g, b, a)
	}
	switch {
	case a == 0:
		return tone{}
	case a < 255 && t.s.inks == nil:
		return tone{t.s.printed.solid(r, g, b), t.s.detail.solid(r, g, b).together(255)}
	case a < 255:
		own = own.grownTo(255, int(a))
		return tone{own, own.together(255)}
	}
	return tone{own.grownTo(255, int(cover)), 255}
}

// grownTo scales the planes by to/from, at most to full strength.
func (i ink) grownTo(to, from int) ink {
	for n, v := range i {
		i[n] = uint8(min(255, (int(v)*to+from/2)/from))
	}
	return i
}

// unchoked is what a pixel gets of each plane before white is pulled in.
func (s *Scene) unchoked(x, y int) ink {
	p := s.pic.Pix.Pix[y*s.pic.Pix.Stride+4*x:]
	if s.inks == nil {
		return s.printed.pixel(p[0], p[1], p[2], p[3])
	}
	return s.printed.inked(s.inks.at(x, y), s.inks, p[0], p[1], p[2], p[3])
}

// dropCorners drops dots on the way from the middle of a blunt end into its corners.
func (t *tracer) dropCorners() {
	reach := 2*t.m.reach + 2
	t.grid.fill(t.m.dots, reach)
	t.moved = t.moved[:0]
	for i := range t.m.dots {
		if d := t.m.dots[i]; !t.inCorner(&d, reach) {
			t.moved = append(t.moved, d)
		}
	}
	t.m.dots = append(t.m.dots[:0], t.moved...)
}

// inCorner reports whether the feature narrows steeply towards a dot, and ends beyond it where it would narrow to nothing.
func (t *tracer) inCorner(d *dot, reach float32) bool {
	const steep, noise = 0.7, 0.5 // towards a square corner it is 1.4
	var sx, sy, most float32
	t.grid.near(t.m.dots, d, max(1.5, t.m.reach/2), func(_ int, o *dot) {
		apart := sqrt32(distanceSq(o, d))
		if fall := o.width - d.width - noise - steep*apart; fall > most {
			sx, sy, most = o.x-d.x, o.y-d.y, fall
		}
	})
	if most == 0 {
		return false
	}
	beyond := float32(0)
	t.grid.near(t.m.dots, d, reach, func(_ int, o *dot) {
		if dx, dy := o.x-d.x, o.y-d.y; dx*sx+dy*sy < 0 {
			beyond = max(beyond, dx*dx+dy*dy)
		}
	})
	return sqrt32(beyond) < d.width/(2*steep)+1
}

func sqrt32(v float32) float32 { return float32(math.Sqrt(float64(v))) }

// smooth moves every dot to the mean of those near it, which evens the errors of single cuts.
func (t *tracer) smooth() {
	near := max(1.2, t.m.reach/2)
	t.grid.fill(t.m.dots, near)
	t.moved = append(t.moved[:0], t.m.dots...)
	for i := range t.m.dots {
		var n, x, y float32
		t.grid.near(t.m.dots, &t.m.dots[i], near, func(_ int, d *dot) {
			n, x, y = n+1, x+d.x, y+d.y
		})
		t.moved[i].x, t.moved[i].y = x/n, y/n
	}
	copy(t.m.dots, t.moved)
}

// further is a dot beyond the last one of a ridge, where the shape goes on: at a crossing, a mouth or a wider part.
type further struct {
	dot
	from int32
}

// trim moves dots at ends back, so that what is led along them does not make the feature longer, and lines into the picture. Where the shape
// goes on it adds dots beyond the last.
func (t *tracer) trim() {
	reach := t.m.reach
	t.grid.fill(t.m.dots, reach+1.3)
	t.moved, t.beyond = append(t.moved[:0], t.m.dots...), t.beyond[:0]
	for i := range t.m.dots {
		d := &t.moved[i]
		if ux, uy, ends := t.endAt(&t.m.dots[i]); ends {
			by := t.shift(d, ux, uy)
			to := *d
			to.x, to.y = to.x+by*ux, to.y+by*uy
			if by > 0 {
				t.beyond = append(t.beyond, further{to, int32(i)})
			} else {
				*d = to
			}
		}
		if !t.m.gap {
			d.x = inside(d.x, reach, float32(t.s.W))
			d.y = inside(d.y, reach, float32(t.s.H))
		}
	}
	copy(t.m.dots, t.moved)
}

func inside(v, reach, size float32) float32 {
	if size <= 2*reach {
		return v
	}
	return min(max(v, reach), size-reach)
}

// endAt tells whether the middle leads away from a dot to one side only, and the unit vector to the other, where it ends.
func (t *tracer) endAt(d *dot) (ux, uy float32, ends bool) {
	reach := t.m.reach
	var mx, my, ex, ey, most float32
	t.grid.near(t.m.dots, d, reach+1.3, func(_ int, o *dot) {
		dx, dy := o.x-d.x, o.y-d.y
		mx, my = mx-dx, my-dy
		if sq := dx*dx + dy*dy; sq > most {
			ex, ey, most = dx, dy, sq
		}
	})
	length := float32(math.Hypot(float64(mx), float64(my)))
	if length < 0.3 {
		return 0, 0, false
	}
	ends = true
	least := 1.05 * reach
	t.grid.near(t.m.dots, d, reach+1.3, func(_ int, o *dot) {
		dx, dy := o.x-d.x, o.y-d.y
		if sq := dx*dx + dy*dy; sq >= least*least {
			along := dx*ex + dy*ey
			ends = ends && (along > 0 || 33*along*along < sq*most) // within 100 degrees of the farthest
		}
	})
	return mx / length, my / length, ends
}

// shift is how far a disc about a dot may be led on in a direction so that it stays within the feature's length; negative where it must be
// moved back.
func (t *tracer) shift(d *dot, ux, uy float32) float32 {
	const onPx = 1 // what is left between a ridge and a crossing
	reach := t.m.reach
	ahead := t.along(d, ux, uy, reach)
	if ahead >= reach {
		on := reach + onPx
		return min(on, max(0, t.straight(d, ux, uy, reach+on)-reach))
	}
	if behind := t.along(d, -ux, -uy, 2*reach); ahead+behind < 2*reach {
		return min(0, (ahead-behind)/2)
	}
	return ahead - reach
}

// straight is how far the shape goes on from a dot in a direction, up to a limit.
func (t *tracer) straight(d *dot, ux, uy, limit float32) float32 {
	r := d.box(limit + 2)
	t.ray = grown(t.ray, r.Dx()*r.Dy())
	t.s.readAround(t.ray, r)
	return t.rayLength(d, r, ux, uy, limit)
}

// along is how far the shape goes on from a dot near a direction, up to a limit.
func (t *tracer) along(d *dot, ux, uy, limit float32) float32 {
	r := d.box(limit + 2)
	t.ray = grown(t.ray, r.Dx()*r.Dy())
	t.s.readAround(t.ray, r)
	longest := float32(0)
	for _, turn := range []float64{0, -0.35, 0.35, -0.7, 0.7} {
		sin, cos := math.Sincos(turn)
		s, c := float32(sin), float32(cos)
		longest = max(longest, t.rayLength(d, r, ux*c-uy*s, ux*s+uy*c, limit))
	}
	return longest
}

// rayLength is how far a ray goes on before less than some share of the shape is left.
func (t *tracer) rayLength(d *dot, r image.Rectangle, ux, uy, limit float32) float32 {
	const step, share = 0.25, 0.45
	enough := share * t.levelAt(r, d.x, d.y)
	for n := float32(step); n <= limit; n += step {
		if t.levelAt(r, d.x+n*ux, d.y+n*uy) < enough {
			return n - step/2
		}
	}
	return limit
}

// levelAt is how much of the shape there is at a point, between pixel centres.
func (t *tracer) levelAt(r image.Rectangle, x, y float32) float32 {
	x, y = x-0.5-float32(r.Min.X), y-0.5-float32(r.Min.Y)
	i, j := int(x), int(y)
	fx, fy := x-float32(i), y-float32(j)
	p := t.ray[j*r.Dx()+i:]
	top := float32(p[0])*(1-fx) + float32(p[1])*fx
	low := float32(p[r.Dx()])*(1-fx) + float32(p[r.Dx()+1])*fx
	v := top*(1-fy) + low*fy
	if t.m.gap {
		return 255 - v
	}
	return v
}

// link joins dots that follow each other: those with no other that is nearer to both (the relative neighbourhood graph of Toussaint, Pattern
// Recognition 12, 1980, from memory). One without neighbours is joined to itself.
func (t *tracer) link() {
	dots := t.m.dots
	t.grid.fill(dots, linkPx)
	for i := range dots {
		t.beside = t.beside[:0]
		t.grid.near(dots, &dots[i], linkPx, func(k int, _ *dot) {
			if k != i {
				t.beside = append(t.beside, int32(k))
			}
		})
		if len(t.beside) == 0 {
			t.m.links = append(t.m.links, [2]int32{int32(i), int32(i)})
		}
		for _, k := range t.beside {
			if int(k) > i && t.follows(int32(i), k) {
				t.m.links = append(t.m.links, [2]int32{int32(i), k})
			}
		}
	}
}

// follows reports whether none of the dots beside dot i lies between it and dot k.
func (t *tracer) follows(i, k int32) bool {
	dots := t.m.dots
	apart := distanceSq(&dots[i], &dots[k])
	for _, o := range t.beside {
		if o != k && max(distanceSq(&dots[i], &dots[o]), distanceSq(&dots[o], &dots[k])) < apart {
			return false
		}
	}
	return true
}

func distanceSq(a, b *dot) float32 { return (a.x-b.x)*(a.x-b.x) + (a.y-b.y)*(a.y-b.y) }

// cellGrid finds dots by their place.
type cellGrid struct {
	side       float32
	minX, minY float32
	across     int
	first      []int32 // by cell, counted from 1
	next       []int32 // by dot
}

// fill makes the grid anew, of cells as wide as what will be asked for.
func (g *cellGrid) fill(dots []dot, side float32) {
	g.side, g.minX, g.minY = side, dots[0].x, dots[0].y
	maxX, maxY := g.minX, g.minY
	for i := range dots {
		g.minX, g.minY = min(g.minX, dots[i].x), min(g.minY, dots[i].y)
		maxX, maxY = max(maxX, dots[i].x), max(maxY, dots[i].y)
	}
	g.across = int((maxX-g.minX)/side) + 1
	g.first = grown(g.first, g.across*(int((maxY-g.minY)/side)+1))
	g.next = grown(g.next, len(dots))
	for i := range dots {
		c := g.cell(dots[i].x, dots[i].y)
		g.next[i], g.first[c] = g.first[c], int32(i+1)
	}
}

func (g *cellGrid) cell(x, y float32) int {
	return int((y-g.minY)/g.side)*g.across + int((x-g.minX)/g.side)
}

// near calls visit with the dots within a distance, at most a cell's side, of one that is in the grid itself, which is among them.
func (g *cellGrid) near(dots []dot, d *dot, within float32, visit func(i int, o *dot)) {
	cx, cy := int((d.x-g.minX)/g.side), int((d.y-g.minY)/g.side)
	down := len(g.first) / g.across
	for y := max(0, cy-1); y <= min(down-1, cy+1); y++ {
		for x := max(0, cx-1); x <= min(g.across-1, cx+1); x++ {
			for i := g.first[y*g.across+x]; i > 0; i = g.next[i-1] {
				o := &dots[i-1]
				if dx, dy := o.x-d.x, o.y-d.y; dx*dx+dy*dy <= within*within {
					visit(int(i-1), o)
				}
			}
		}
	}
}
