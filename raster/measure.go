package raster

import (
	"cmp"
	"image"
	"math"
	"slices"
)

const (
	// widthTolerancePx keeps lines that are just as wide as the limit from being called thin.
	widthTolerancePx = 0.1
	// A piece whose width falls to nothing faster than cornerSlope (width lost a length, 2 tan of half the angle: 0.24 is
	// 14 degrees) is a corner, not a line that tapers.
	cornerSlope = 0.24
	// blendPx is the width from which a place is wider than any passage between two colours that touch.
	blendPx = 2.5
	// seamPx is what is missing at most along an edge that two shapes share, each drawn with its own antialiasing: coverage a
	// under 1-a leaves a(1-a), a quarter at worst. Less than that, with noise, is no gap; up to twice that, where more than two
	// colours meet, it is none unless it runs on.
	seamPx = 0.3
	// shortestShare of the limit is the length under which a thin piece is an unevenness of an edge.
	shortestShare = 0.5
	// wholeShare of all that a piece holds is the whole of it.
	wholeShare = 0.9
	// followShare of the limit is the width up to which a ridge is followed, to see how the width grows past the limit.
	followShare = 1.5
	// leastPx is the width under which there is nothing.
	leastPx = 0.05
)

// A piece of up to wholePx to a side is held in memory as a whole while it is measured, a larger one in squares of blockPx.
const (
	wholePx = 256
	blockPx = 128
)

// meter measures pieces one after another; it is not safe for concurrent use.
type meter struct {
	q       ThinQuery
	cellPx  int
	see     *sight  // of gaps; nil for shapes
	coarse  int     // every how many directions are tried to find the ridge
	stepPx  float64 // along a ridge
	steady  int     // how many samples are alike before steps are doubled
	alone   bool    // the piece is joined to nothing wider
	win     window
	chord   chord // the cut in hand
	cells   []cell
	parts   []Run // of the piece's runs, block by block in their order; Component is the index of the cell
	samples []sample
	ridges  []ridge
	marked  []*cell // that belong to the ridge that is being followed
	path    []image.Point
	widths  []weighted // of what is thin, by width
	feature []int32    // by sample: the index of its feature, or none
	thin    []stretch
	judged  []*Feature // by stretch
	index   []int32    // by stretch
	counts  []int32    // by feature: its runs
	joined  []Run      // of all features of a piece
	arena   []Run      // memory for the runs of features

	box    image.Rectangle // of the block's cells, in pixels
	across int             // cells to a row of the box
	inCell uint64          // 1<<32 over a cell's side, rounded up: multiplying divides exactly
	grid   []int32         // for each cell of box, its index in cells, counted from 1; 0 where there is none
}

const none = -1

// cell is a small square of a piece.
type cell struct {
	owner   int32       // index of the sample whose cut passes through it, or none
	best    image.Point // its pixel with the most coverage
	bestCov int
}

// sample is the width at one place of a ridge.
type sample struct {
	x, y  float64
	width float64 // along the cut
	half  float64 // of the way along the cut to where the shape is left
	step  float64 // length of the ridge that the sample stands for
	at    float64 // how far along the ridge it is
	dir   int     // of the cut
	ridge int32
}

// weighted is a width and the length that has it.
type weighted struct{ width, step float64 }

func byWidth(a, b sample) int { return cmp.Compare(a.width, b.width) }

// ridge is a line along the middle of a shape: samples in order, from one to before another.
type ridge struct{ from, to int32 }

func newMeter(q ThinQuery) *meter {
	m := &meter{q: q, cellPx: max(1, int(q.LimitPx/3)), coarse: 1, stepPx: max(0.5, q.LimitPx/8), steady: steady}
	if q.LimitPx >= 4 {
		m.coarse = 2
	}
	if m.fine() {
		m.steady = steadyFine
	}
	if q.Gap {
		m.see = newSight(rayLength(q.LimitPx) + gapSteps)
	}
	return m
}

// measure returns the parts of one piece that are thinner than the limit.
func (m *meter) measure(runs []Run) []*Feature {
	m.cells, m.parts, m.samples, m.ridges = m.cells[:0], m.parts[:0], m.samples[:0], m.ridges[:0]
	for _, b := range blocksOf(runs) {
		m.measureBlock(b)
	}
	return m.judge()
}

func (r Run) box() image.Rectangle {
	return image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1)
}

// block is what a square of the picture holds of a piece.
type block struct {
	box  image.Rectangle // of its runs
	runs []Run
}

func (b *block) add(r Run) {
	b.box = b.box.Union(r.box())
	b.runs = append(b.runs, r)
}

// blocksOf cuts a piece into blocks, unless it is small enough to be one.
func blocksOf(runs []Run) []*block {
	var box image.Rectangle
	for _, r := range runs {
		box = box.Union(r.box())
	}
	if box.Dx() <= wholePx && box.Dy() <= wholePx {
		return []*block{{box, runs}}
	}
	at := map[image.Point]*block{}
	var out []*block
	for _, r := range runs {
		for x0 := int(r.X0); x0 < int(r.X1); {
			key := image.Pt(x0/blockPx, int(r.Y)/blockPx)
			x1 := min(int(r.X1), (key.X+1)*blockPx)
			b := at[key]
			if b == nil {
				b = &block{}
				at[key] = b
				out = append(out, b)
			}
			b.add(Run{Y: r.Y, X0: int32(x0), X1: int32(x1)})
			x0 = x1
		}
	}
	return out
}

// measureBlock loads a block's coverage and follows every ridge in it.
func (m *meter) measureBlock(b *block) {
	m.win.load(m.q, b.box.Inset(-m.padPx()))
	first, known := len(m.cells), len(m.samples)
	m.split(b)
	for i := first; i < len(m.cells); i++ {
		if m.cells[i].owner == none {
			m.findRidge(&m.cells[i])
		}
	}
	if len(m.samples) > known {
		m.adopt()
	}
}

// padPx is how far from a block rays may lead: half a cut from it to the middle, and one more ray from there.
func (m *meter) padPx() int { return int(1.5*(m.q.LimitPx+reachPx)) + 6 }

// split cuts a block's runs into cells.
func (m *meter) split(b *block) {
	k := m.cellPx
	m.inCell = 1<<32/uint64(k) + 1
	m.box = image.Rect(b.box.Min.X/k*k, b.box.Min.Y/k*k, ((b.box.Max.X-1)/k+1)*k, ((b.box.Max.Y-1)/k+1)*k)
	m.across = m.box.Dx() / k
	m.grid = slices.Grow(m.grid[:0], m.across*m.box.Dy()/k)[:m.across*m.box.Dy()/k]
	clear(m.grid)
	for _, r := range b.runs {
		for x0 := int(r.X0); x0 < int(r.X1); {
			x1 := min(int(r.X1), (x0/k+1)*k)
			at := &m.grid[m.cellIndex(x0-m.box.Min.X, int(r.Y)-m.box.Min.Y)]
			if *at == 0 {
				m.cells = append(m.cells, cell{owner: none, bestCov: none})
				*at = int32(len(m.cells))
			}
			m.cover(Run{Y: r.Y, X0: int32(x0), X1: int32(x1), Component: *at - 1})
			x0 = x1
		}
	}
}

// cellIndex is the index in grid of the cell that holds a pixel of the box.
func (m *meter) cellIndex(x, y int) int {
	return int(uint64(y)*m.inCell>>32)*m.across + int(uint64(x)*m.inCell>>32)
}

// cover adds a part of a run to its cell and finds the cell's pixel with the most coverage.
func (m *meter) cover(r Run) {
	c := &m.cells[r.Component]
	m.parts = append(m.parts, r)
	for x := r.X0; x < r.X1; x++ {
		if cov := m.win.shape(int(x), int(r.Y)); cov > c.bestCov {
			c.bestCov, c.best = cov, image.Pt(int(x), int(r.Y))
		}
	}
}

// cellAt returns the cell that holds a pixel, nil outside the piece.
func (m *meter) cellAt(p image.Point) *cell {
	if !p.In(m.box) {
		return nil
	}
	if i := m.grid[m.cellIndex(p.X-m.box.Min.X, p.Y-m.box.Min.Y)]; i > 0 {
		return &m.cells[i-1]
	}
	return nil
}

func (m *meter) ownerAt(p image.Point) int32 {
	if c := m.cellAt(p); c != nil {
		return c.owner
	}
	return none
}

func pixelAt(x, y float64) image.Point { return image.Pt(int(math.Floor(x)), int(math.Floor(y))) }

// findRidge looks for the ridge at a cell and follows it to both sides, unless it is known already.
func (m *meter) findRidge(c *cell) {
	at := m.win.uphill(c.best)
	if c.owner = m.ownerAt(at); c.owner != none {
		return
	}
	ch := &m.chord
	if !m.win.shortestChord(ch, at, m.coarse, m.see) {
		return
	}
	if c.owner = m.ownerAt(pixelAt(ch.midX, ch.midY)); c.owner != none {
		return
	}
	if !m.win.chordFrom(ch, ch.midX, ch.midY, ch.dir) || !ch.onRidge() || ch.width > followShare*m.q.LimitPx || m.q.Gap && m.win.solidAt(ch.midX, ch.midY) {
		return
	}
	base := int32(len(m.samples))
	m.marked = m.marked[:0]
	m.addSample(ch)
	if c.owner == none {
		c.owner = base
		m.marked = append(m.marked, c)
	}
	first := &m.samples[base]
	endA := m.follow(base, first, (first.dir+directions/2)%(2*directions))
	n := len(m.samples)
	endB := m.follow(base, first, (first.dir+3*directions/2)%(2*directions))
	m.order(base, n)
	m.measureSteps(base, endB, endA)
	m.ridges = append(m.ridges, ridge{base, int32(len(m.samples))})
}

// addSample keeps a cut as a sample and marks the cells that it passes through.
func (m *meter) addSample(ch *chord) {
	m.samples = append(m.samples, sample{})
	s := &m.samples[len(m.samples)-1]
	s.x, s.y, s.dir, s.half, s.width = ch.midX, ch.midY, ch.dir, ch.half, ch.width
	m.mark(ch.midX, ch.midY)
}

// mark gives the last sample the cells that its cut passes through where it is moved to (x, y): all, or where it is not thin, and may
// lead along another ridge that begins there, those in its middle.
func (m *meter) mark(x, y float64) {
	i := int32(len(m.samples) - 1)
	s := &m.samples[i]
	half := s.half
	if !m.isThin(s) {
		half /= 4
	}
	m.path = appendPath(m.path[:0], x, y, s.dir, half)
	for _, p := range m.path {
		if c := m.cellAt(p); c != nil && c.owner == none {
			c.owner = i
			m.marked = append(m.marked, c)
		}
	}
}

// walk is the state of following a ridge to one side.
type walk struct {
	base, start int32 // the ridge's first sample, and the first of this side
	heading     int
	outside     float64 // how much of it lay outside the piece
	even        int     // samples in a row that are like one,
	width       float64 // of its width
	dir         int     // and the direction of its cut
}

// steady is how many samples in a row are alike before steps are doubled, steadyFine where they are less than a pixel apart.
const steady, steadyFine = 8, 4

// note counts a sample as like those before it, or not.
func (w *walk) note(s *sample) {
	turn := (s.dir - w.dir + directions) % directions
	if math.Abs(s.width-w.width) > widthTolerancePx || min(turn, directions-turn) > 1 {
		w.even, w.width, w.dir = 0, s.width, s.dir
		return
	}
	w.even++
}

// follow walks along a ridge from a sample in a direction until the shape ends, widens, the ridge is known already or leads out of
// the piece. It returns how much of the shape is left ahead where it ends. Along an even line steps are twice as long; one that
// leads to anything else is taken back.
func (m *meter) follow(base int32, s *sample, heading int) (ahead float64) {
	w := walk{base: base, start: int32(len(m.samples)), heading: heading, width: s.width, dir: s.dir}
	ch := &m.chord
	for {
		fast := w.even >= m.steady
		left, ok := m.advance(ch, &w, s, fast)
		if !ok && fast {
			w.even = 0
			continue
		}
		if !ok {
			return left
		}
		m.addSample(ch)
		if fast {
			m.mark((s.x+ch.midX)/2, (s.y+ch.midY)/2)
		}
		s = &m.samples[len(m.samples)-1]
		w.note(s)
	}
}

// advance takes one step from a sample; ok is false where the ridge does not go on.
func (m *meter) advance(ch *chord, w *walk, s *sample, fast bool) (left float64, ok bool) {
	step := m.stepPx
	if fast {
		step *= 2
	}
	ux, uy := unit(w.heading)
	x, y := s.x+step*ux, s.y+step*uy
	if !m.win.holds(x, y, m.q.LimitPx+reachPx) {
		return 0, false
	}
	if !m.cutAhead(ch, s, x, y, ux, uy, fast) || ch.width < leastPx || ch.width > followShare*m.q.LimitPx || m.q.Gap && m.win.solidAt(ch.midX, ch.midY) ||
		fast && math.Abs(ch.width-w.width) > widthTolerancePx {
		return 0, false
	}
	dx, dy := ch.midX-s.x, ch.midY-s.y
	if dx*ux+dy*uy < 0.3*step || math.Hypot(dx, dy) > 2*step+0.5 {
		return 0, false
	}
	c := m.cellAt(pixelAt(ch.midX, ch.midY))
	switch {
	case c == nil && fast:
		return 0, false
	case c == nil:
		if w.outside += step; w.outside > m.q.LimitPx/2 || ch.width < m.q.LimitPx {
			return 0, false
		}
	case c.owner != none && m.isKnown(w.base, w.start, c.owner, ch):
		return 0, false
	}
	heading := turned(ch.dir, w.heading)
	if left, ended := m.win.ahead(ch, heading); ended {
		return left, false
	}
	if m.turnsOff(w.start, ch) {
		return 0, false
	}
	w.heading = heading
	return 0, true
}

// fine reports whether lines are followed in steps of less than a pixel.
func (m *meter) fine() bool { return !m.q.Gap && m.stepPx < 1 }

// cutAhead finds the cut at a point that a sample leads to along (ux, uy). On an even line, in steps of about a pixel, the direction of the last cut
// does for the next, unless the middle of that shows that the line leans farther than half-way to the next direction.
func (m *meter) cutAhead(ch *chord, s *sample, x, y, ux, uy float64, even bool) (ok bool) {
	const mostLean = 0.098 // tan(pi / directions / 2)
	if even && m.fine() {
		if !m.win.chordNear(ch, x, y, s.dir, 0) {
			return false
		}
		if dx, dy := ch.midX-s.x, ch.midY-s.y; math.Abs(dx*uy-dy*ux) <= mostLean*(dx*ux+dy*uy) {
			return true
		}
	}
	return m.win.chordNear(ch, x, y, s.dir, 1)
}

// turnsOff reports whether a ridge turns by a third of a right angle or more within half the shape's width, as it does from a line
// into the corners of its end. Directions across the thinnest lines are too uncertain to tell.
func (m *meter) turnsOff(start int32, ch *chord) bool {
	const least, turns = 1.8, 3
	if ch.width < least {
		return false
	}
	i := max(start-1, int32(len(m.samples))-1-int32(ch.width/2/m.stepPx))
	d := (m.samples[i].dir - ch.dir + directions) % directions
	return min(d, directions-d) >= turns
}

// isKnown reports whether a place of the ridge that is being followed lies on one known already that is thin there, or closes a ring.
func (m *meter) isKnown(base, start, owner int32, ch *chord) bool {
	if owner >= base {
		return m.between(base, start, owner) > 4+2*ch.width
	}
	const besidePx = 1
	o := &m.samples[owner]
	return m.isThin(o) && math.Hypot(o.x-ch.midX, o.y-ch.midY) < max(besidePx, m.stepPx)
}

// between is about how far the ridge that is being followed has come since one of its samples.
func (m *meter) between(base, start, owner int32) float64 {
	now := int32(len(m.samples))
	steps := now - owner
	if owner < start && start > base+1 {
		steps = now - start + owner - base
	}
	return float64(steps) * m.stepPx
}

// order puts a ridge's samples in order: those of the second side backwards, the first sample, those of the first side.
func (m *meter) order(base int32, split int) {
	n := int32(len(m.samples))
	second := n - int32(split)
	to := func(i int32) int32 {
		if i >= int32(split) {
			return base + n - 1 - i
		}
		return i + second
	}
	for _, c := range m.marked {
		c.owner = to(c.owner)
	}
	slices.Reverse(m.samples[base:])
	slices.Reverse(m.samples[base+second:])
}

// measureSteps gives every sample of a ridge the length it stands for.
func (m *meter) measureSteps(base int32, before, after float64) {
	s := m.samples[base:]
	for i := range s {
		s[i].ridge = int32(len(m.ridges))
		if i > 0 {
			d := math.Hypot(s[i].x-s[i-1].x, s[i].y-s[i-1].y)
			s[i].step += d / 2
			s[i-1].step += d / 2
			s[i].at = s[i-1].at + d
		}
	}
	s[0].step += before
	s[len(s)-1].step += after
}

// adopt gives the cells of a block that no cut passes through to the ridge beside them.
func (m *meter) adopt() {
	w, h := m.across, len(m.grid)/m.across
	for range 2 {
		for i, at := range m.grid {
			if at == 0 || m.cells[at-1].owner != none {
				continue
			}
			x, y := i%w, i/w
			for _, d := range [...]image.Point{{0, -1}, {-1, 0}, {1, 0}, {0, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
				if p := image.Pt(x+d.X, y+d.Y); p.In(image.Rect(0, 0, w, h)) {
					if o := m.grid[p.Y*w+p.X]; o > 0 && m.cells[o-1].owner != none {
						m.cells[at-1].owner = m.cells[o-1].owner
						break
					}
				}
			}
		}
	}
}

func (m *meter) isThin(s *sample) bool { return s.width < m.q.LimitPx-widthTolerancePx }
