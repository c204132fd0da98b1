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
	// A piece whose width falls to nothing faster than cornerSlope (width lost a length, 2 tan of half the angle: 0.26 is
	// 15 degrees) is a corner, not a line that tapers.
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
	coarse  int     // every how many directions are tried to find the ridge
	stepPx  float64 // along a ridge
	alone   bool    // the piece is joined to nothing wider
	win     window
	cells   []cell
	parts   []part // of the cells
	samples []sample
	ridges  []ridge
	marked  []*cell // that belong to the ridge that is being followed
	path    []image.Point
	widths  []sample // of what is thin, by width
	feature []int32  // by sample: the index of its feature, or none

	box  image.Rectangle // of the block's cells, in cells
	grid []int32         // for each cell of box, its index in cells, counted from 1; 0 where there is none
}

const none = -1

// cell is a small square of a piece.
type cell struct {
	last    int32       // index of the last of its parts, or none
	owner   int32       // index of the sample whose cut passes through it, or none
	best    image.Point // its pixel with the most coverage
	bestCov int
}

// part is a piece of a run; before is the index of the one before it in the same cell, or none.
type part struct {
	run    Run
	before int32
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

func byWidth(a, b sample) int { return cmp.Compare(a.width, b.width) }

// ridge is a line along the middle of a shape: samples in order, from one to before another.
type ridge struct{ from, to int32 }

func newMeter(q ThinQuery) *meter {
	m := &meter{q: q, cellPx: max(1, int(q.LimitPx/3)), coarse: 1, stepPx: max(0.5, q.LimitPx/8)}
	if q.LimitPx >= 4 {
		m.coarse = 2
	}
	return m
}

// measure returns the parts of one piece that are thinner than the limit.
func (m *meter) measure(runs []Run, which []int32) []*Feature {
	m.cells, m.parts, m.samples, m.ridges = m.cells[:0], m.parts[:0], m.samples[:0], m.ridges[:0]
	for _, b := range blocksOf(runs, which) {
		m.measureBlock(b)
	}
	return m.judge()
}

// block is what a square of the picture holds of a piece.
type block struct {
	box  image.Rectangle // of its runs
	runs []Run
}

func (b *block) add(r Run) {
	b.box = b.box.Union(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
	b.runs = append(b.runs, r)
}

// blocksOf cuts a piece into blocks, unless it is small enough to be one.
func blocksOf(runs []Run, which []int32) []*block {
	whole := &block{runs: make([]Run, 0, len(which))}
	for _, i := range which {
		whole.add(runs[i])
	}
	if whole.box.Dx() <= wholePx && whole.box.Dy() <= wholePx {
		return []*block{whole}
	}
	at := map[image.Point]*block{}
	var out []*block
	for _, r := range whole.runs {
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
	first := len(m.cells)
	m.split(b)
	for i := first; i < len(m.cells); i++ {
		if m.cells[i].owner == none {
			m.findRidge(&m.cells[i])
		}
	}
	m.adopt()
}

// padPx is how far from a block rays may lead: half a cut from it to the middle, and one more ray from there.
func (m *meter) padPx() int { return int(1.5*(m.q.LimitPx+reachPx)) + 6 }

// split cuts a block's runs into cells.
func (m *meter) split(b *block) {
	k := m.cellPx
	m.box = image.Rect(b.box.Min.X/k, b.box.Min.Y/k, (b.box.Max.X-1)/k+1, (b.box.Max.Y-1)/k+1)
	m.grid = slices.Grow(m.grid[:0], m.box.Dx()*m.box.Dy())[:m.box.Dx()*m.box.Dy()]
	clear(m.grid)
	for _, r := range b.runs {
		for x0 := int(r.X0); x0 < int(r.X1); {
			cx := x0 / k
			x1 := min(int(r.X1), (cx+1)*k)
			at := &m.grid[(int(r.Y)/k-m.box.Min.Y)*m.box.Dx()+cx-m.box.Min.X]
			if *at == 0 {
				m.cells = append(m.cells, cell{last: none, owner: none, bestCov: none})
				*at = int32(len(m.cells))
			}
			m.cover(&m.cells[*at-1], Run{Y: r.Y, X0: int32(x0), X1: int32(x1)})
			x0 = x1
		}
	}
}

// cover adds a run to a cell and finds its pixel with the most coverage.
func (m *meter) cover(c *cell, r Run) {
	m.parts = append(m.parts, part{r, c.last})
	c.last = int32(len(m.parts) - 1)
	for x := r.X0; x < r.X1; x++ {
		if cov := m.win.shape(int(x), int(r.Y)); cov > c.bestCov {
			c.bestCov, c.best = cov, image.Pt(int(x), int(r.Y))
		}
	}
}

// cellAt returns the cell that holds a pixel, nil outside the piece.
func (m *meter) cellAt(p image.Point) *cell {
	if p.X < 0 || p.Y < 0 {
		return nil
	}
	at := p.Div(m.cellPx)
	if !at.In(m.box) {
		return nil
	}
	if i := m.grid[(at.Y-m.box.Min.Y)*m.box.Dx()+at.X-m.box.Min.X]; i > 0 {
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
	ch, ok := m.win.shortestChord(float64(at.X)+0.5, float64(at.Y)+0.5, m.coarse)
	if !ok {
		return
	}
	if c.owner = m.ownerAt(pixelAt(ch.midX, ch.midY)); c.owner != none {
		return
	}
	ch, ok = m.win.shortestChord(ch.midX, ch.midY, 1)
	if !ok || !ch.onRidge() || ch.width > followShare*m.q.LimitPx || m.q.Gap && m.win.solidAt(ch.midX, ch.midY) {
		return
	}
	base := int32(len(m.samples))
	m.marked = m.marked[:0]
	m.addSample(ch)
	if c.owner == none {
		c.owner = base
		m.marked = append(m.marked, c)
	}
	first := m.samples[base]
	endA := m.follow(base, first, (first.dir+directions/2)%(2*directions))
	n := len(m.samples)
	endB := m.follow(base, first, (first.dir+3*directions/2)%(2*directions))
	m.order(base, n)
	m.measureSteps(base, endB, endA)
	m.ridges = append(m.ridges, ridge{base, int32(len(m.samples))})
}

// addSample keeps a cut as a sample and marks the cells that it passes through: all, or where it is not thin, and may lead along
// another ridge that begins there, those in its middle.
func (m *meter) addSample(ch chord) {
	i := int32(len(m.samples))
	m.samples = append(m.samples, sample{x: ch.midX, y: ch.midY, dir: ch.dir, half: ch.half, width: ch.width})
	half := ch.half
	if !m.isThin(m.samples[i]) {
		half /= 4
	}
	m.path = m.samples[i].appendPath(m.path[:0], half)
	for _, p := range m.path {
		if c := m.cellAt(p); c != nil && c.owner == none {
			c.owner = i
			m.marked = append(m.marked, c)
		}
	}
}

// follow walks along a ridge from a sample in a direction until the shape ends, widens, the ridge is known already or leads out of
// the piece. It returns how much of the shape is left ahead where it ends.
func (m *meter) follow(base int32, s sample, heading int) (ahead float64) {
	start, outside := int32(len(m.samples)), 0.0
	for {
		ux, uy := unit(heading)
		x, y := s.x+m.stepPx*ux, s.y+m.stepPx*uy
		if !m.win.holds(x, y, m.q.LimitPx+reachPx) {
			return 0
		}
		ch, ok := m.win.chordNear(x, y, s.dir)
		if !ok || ch.width < leastPx || ch.width > followShare*m.q.LimitPx || m.q.Gap && m.win.solidAt(ch.midX, ch.midY) {
			return 0
		}
		dx, dy := ch.midX-s.x, ch.midY-s.y
		if dx*ux+dy*uy < 0.3*m.stepPx || math.Hypot(dx, dy) > 2*m.stepPx+0.5 {
			return 0
		}
		c := m.cellAt(pixelAt(ch.midX, ch.midY))
		switch {
		case c == nil:
			if outside += m.stepPx; outside > m.q.LimitPx/2 || ch.width < m.q.LimitPx {
				return 0
			}
		case c.owner != none && m.isKnown(base, start, c.owner, ch):
			return 0
		}
		heading = turned(ch.dir, heading)
		left, ended := m.win.ahead(ch, heading)
		if ended {
			return left
		}
		if m.turnsOff(start, ch) {
			return 0
		}
		m.addSample(ch)
		s = m.samples[len(m.samples)-1]
	}
}

// turnsOff reports whether a ridge turns by a third of a right angle or more within half the shape's width, as it does from a line
// into the corners of its end. Directions across the thinnest lines are too uncertain to tell.
func (m *meter) turnsOff(start int32, ch chord) bool {
	const least, turns = 1.8, 3
	if ch.width < least {
		return false
	}
	i := max(start-1, int32(len(m.samples))-1-int32(ch.width/2/m.stepPx))
	d := (m.samples[i].dir - ch.dir + directions) % directions
	return min(d, directions-d) >= turns
}

// isKnown reports whether a place of the ridge that is being followed lies on one known already that is thin there, or closes a ring.
func (m *meter) isKnown(base, start, owner int32, ch chord) bool {
	if owner >= base {
		return m.between(base, start, owner) > 4+2*ch.width
	}
	const besidePx = 1
	o := m.samples[owner]
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
	w := m.box.Dx()
	for range 2 {
		for i, at := range m.grid {
			if at == 0 || m.cells[at-1].owner != none {
				continue
			}
			x, y := i%w, i/w
			for _, d := range []image.Point{{0, -1}, {-1, 0}, {1, 0}, {0, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
				if p := image.Pt(x+d.X, y+d.Y); p.In(image.Rect(0, 0, w, m.box.Dy())) {
					if o := m.grid[p.Y*w+p.X]; o > 0 && m.cells[o-1].owner != none {
						m.cells[at-1].owner = m.cells[o-1].owner
						break
					}
				}
			}
		}
	}
}

func (m *meter) isThin(s sample) bool { return s.width < m.q.LimitPx-widthTolerancePx }

// stretch is an unbroken part of a ridge that is too thin; group is the index of the first stretch of its group.
type stretch struct {
	from, to int32
	group    int32
}

// judge decides from the samples which features the piece holds: one for each group of places that are too thin, groups of one
// piece that nearly meet being one. Its time grows with the samples alone, however many features they make.
func (m *meter) judge() []*Feature {
	near, reach := max(2, 0.45*m.q.LimitPx), 2*m.q.LimitPx+1
	all := m.stretches()
	m.link(all, near)
	total := m.totalLength()
	var judged []*Feature // by kept stretch
	kept := all[:0]
	for _, g := range grouped(all) {
		f := m.judgeGroup(g, total)
		if f == nil {
			continue
		}
		first := int32(len(kept))
		for _, s := range g {
			s.group = first
			kept = append(kept, s)
			judged = append(judged, f)
		}
	}
	m.link(kept, reach)
	return m.assemble(kept, judged)
}

// assemble puts what was judged of each stretch together, group by group, and gives every feature its pixels.
func (m *meter) assemble(kept []stretch, judged []*Feature) []*Feature {
	var out []*Feature
	m.feature = slices.Grow(m.feature[:0], len(m.samples))[:len(m.samples)]
	for i := range m.feature {
		m.feature[i] = none
	}
	index := make([]int32, len(kept)) // by first stretch of a group: its feature
	for i, s := range kept {
		switch f := judged[i]; {
		case int(s.group) == i:
			index[i] = int32(len(out))
			out = append(out, f)
		case f != judged[i-1]:
			out[index[s.group]].add(f)
		}
		for k := s.from; k < s.to; k++ {
			m.feature[k] = index[s.group]
		}
	}
	m.fill(out)
	return out
}

// totalLength is that of all ridges.
func (m *meter) totalLength() float64 {
	all := 0.0
	for i := range m.samples {
		all += m.samples[i].step
	}
	return all
}

// stretches lists what is too thin, ridge by ridge.
func (m *meter) stretches() []stretch {
	var out []stretch
	for _, r := range m.ridges {
		open := false
		for i := r.from; i < r.to; i++ {
			if !m.isThin(m.samples[i]) {
				open = false
				continue
			}
			if !open {
				out = append(out, stretch{from: i, to: i, group: int32(len(out))})
				open = true
			}
			out[len(out)-1].to = i + 1
		}
	}
	return out
}

// grouped cuts stretches into their groups, which it puts in the order of their first stretches.
func grouped(all []stretch) [][]stretch {
	slices.SortStableFunc(all, func(a, b stretch) int { return cmp.Compare(a.group, b.group) })
	var out [][]stretch
	for from := 0; from < len(all); {
		to := from + 1
		for to < len(all) && all[to].group == all[from].group {
			to++
		}
		out = append(out, all[from:to])
		from = to
	}
	return out
}

// link unites groups of which samples lie in the same square of a grid or in squares that touch.
func (m *meter) link(all []stretch, side float64) {
	if len(all) < 2 {
		return
	}
	parent := make([]int32, len(all))
	buckets := map[image.Point]int32{}
	for i, s := range all {
		parent[i] = s.group
	}
	for i, s := range all {
		for _, p := range m.samples[s.from:s.to] {
			at := pixelAt(p.x/side, p.y/side)
			if o, ok := buckets[at]; ok {
				union(parent, o, int32(i))
			} else {
				buckets[at] = int32(i)
			}
		}
	}
	for at, i := range buckets {
		for _, d := range []image.Point{{1, 0}, {-1, 1}, {0, 1}, {1, 1}} {
			if o, ok := buckets[at.Add(d)]; ok {
				union(parent, o, i)
			}
		}
	}
	for i := range all {
		all[i].group = find(parent, int32(i))
	}
}

func (m *meter) judgeGroup(thin []stretch, total float64) *Feature {
	if m.q.Blend != nil && m.isBlend(thin) {
		return nil
	}
	f := m.measured(thin)
	wholly := m.alone && f.LengthPx >= wholeShare*total
	long := f.LengthPx > 5*m.q.LimitPx
	short := f.LengthPx < 3*m.q.LimitPx
	if m.q.Gap && (f.TypicalPx < seamPx || f.TypicalPx < 2*seamPx && f.LengthPx < 2*m.q.LimitPx) || f.TypicalPx < seamPx && short {
		return nil
	}
	if f.LengthPx < shortestShare*m.q.LimitPx || !wholly && !long && !slices.ContainsFunc(thin, m.runsOn) {
		return nil
	}
	return f
}

// isBlend reports whether most of what is thin is only a passage between two colours; a few places of each stretch tell.
func (m *meter) isBlend(thin []stretch) bool {
	const places = 12
	blends, all := 0.0, 0.0
	for _, s := range thin {
		every := max(1, int(s.to-s.from)/places)
		for i := int(s.from) + every/2; i < int(s.to); i += every {
			p := &m.samples[i]
			all += p.step
			if p.width >= blendPx {
				continue
			}
			m.path = p.appendPath(m.path[:0], p.half+0.5)
			if m.q.Blend(m.path) {
				blends += p.step
			}
		}
	}
	return 2*blends > all
}

// measured is what is thin, without its pixels.
func (m *meter) measured(thin []stretch) *Feature {
	f := &Feature{}
	all := m.widths[:0]
	for _, s := range thin {
		part := m.samples[s.from:s.to]
		all = append(all, part...)
		for _, p := range part {
			f.LengthPx += p.step
			f.AreaPx += p.step * p.width
		}
	}
	m.widths = all
	slices.SortFunc(all, byWidth)
	half := 0.0
	for _, p := range all {
		if half += p.step; half >= f.LengthPx/2 {
			f.TypicalPx = p.width
			break
		}
	}
	f.WidthPx = m.leastOf(thin, f.TypicalPx)
	return f
}

// leastOf is the least width of some stretches: their typical one, unless it is less over a longer way than the noise of single
// samples, or by more than that in a single place.
func (m *meter) leastOf(thin []stretch, typicalPx float64) float64 {
	const shortPx, longPx, noisePx, unevenPx, placePx = 1.5, 6, 0.035, 0.07, 0.15
	long, short := math.Inf(1), math.Inf(1)
	for _, s := range thin {
		in := m.body(s, typicalPx)
		long = min(long, m.leastWidth(s, in, longPx, noisePx))
		short = min(short, m.leastWidth(s, in, shortPx, math.Inf(1)), m.bluntEnd(s, in))
	}
	least := typicalPx
	if long < least-unevenPx {
		least = long
	}
	if short < least-placePx {
		least = short
	}
	return least
}

// leastWidth is the least value of a quadratic fitted by least squares to the widths as far as sidePx to both sides of each sample of
// a stretch (Savitzky and Golay, Anal. Chem. 36, 1964), which follows a waist and levels out the noise of single samples; a fit that the
// widths are farther off than mostOff does not count. in is the body of the stretch; what is next to an end of the shape, where cuts slant across its corners, does not count. It is infinite for a
// stretch too short to tell.
func (m *meter) leastWidth(s, in stretch, sidePx, mostOff float64) float64 {
	r := m.ridges[m.samples[s.from].ridge]
	side := max(2, int32(math.Ceil(sidePx/m.stepPx)))
	from, to := r.from+side, r.to-side
	if in != s {
		from, to = max(from, in.from+side), min(to, in.to-side)
	}
	least := math.Inf(1)
	for i := max(s.from, from); i < min(s.to, to); i += max(1, side/4) {
		near := m.samples[i-side : i+side+1]
		if width, off := fitted(near, int(side)); width < least && off < mostOff {
			// Beside a crossing the quadratic swings below all it is fitted to.
			least = max(width, leastSample(near))
		}
	}
	return least
}

// bluntEnd is the width at the end of a shape that narrows evenly to it, by a straight line fitted to the widths as far as they can
// be trusted; infinite where the shape does not narrow evenly or runs to a point.
func (m *meter) bluntEnd(s, in stretch) float64 {
	most, fewest := int32(2*m.q.LimitPx/m.stepPx), int32(1.5*m.q.LimitPx/m.stepPx)
	if in.to-in.from < fewest {
		return math.Inf(1)
	}
	least := math.Inf(1)
	if in.from > s.from {
		least = narrowsTo(m.samples[s.from:in.from], m.samples[in.from:min(in.to, in.from+most)], 1)
	}
	if in.to < s.to {
		least = min(least, narrowsTo(m.samples[in.to:s.to], m.samples[max(in.from, in.to-most):in.to], -1))
	}
	return least
}

// narrowsTo continues the widths at some samples to the far end of others; sign is that of the slope that narrows.
func narrowsTo(beyond, pts []sample, sign float64) float64 {
	const narrowsPx, evenPx, bluntShare = 0.5, 0.1, 0.5
	gain, mean, squares := sign*slope(pts), 0.0, 0.0
	for _, p := range pts {
		mean += p.width / float64(len(pts))
	}
	way := pathLength(pts)
	for _, p := range pts {
		off := p.width - mean - sign*gain*(p.at-pts[0].at-way/2)
		squares += off * off / float64(len(pts))
	}
	rest := way / 2
	for _, p := range beyond {
		rest += p.step
	}
	end := mean - gain*rest
	if gain*way < narrowsPx || squares > evenPx*evenPx || end < bluntShare*mean {
		return math.Inf(1)
	}
	return end
}

// body is a stretch without what is next to an end of the shape and without what falls to it as steeply as at a corner: the ends of
// a line that is cut off at a slant.
func (m *meter) body(s stretch, widthPx float64) stretch {
	const windowPx = 2
	r := m.ridges[m.samples[s.from].ridge]
	in := m.inner(s, widthPx)
	window := max(3, int32(windowPx/m.stepPx))
	if s.from == r.from {
		if i := s.from + steepFor(m.samples[s.from:s.to], 0, 1, int(window)); i > s.from {
			in.from = max(in.from, i+window)
		}
	}
	if s.to == r.to {
		if i := s.to - steepFor(m.samples[s.from:s.to], int(s.to-s.from)-1, -1, int(window)); i < s.to {
			in.to = min(in.to, i-window)
		}
	}
	return in
}

// steepFor is how many samples in a row, from one at an end, lead into a window of samples over which the width rises as steeply as
// behind a corner.
func steepFor(pts []sample, end, by, window int) int32 {
	n := 0
	for i, j := end, end+by*window; j >= 0 && j < len(pts); i, j = i+by, j+by {
		if pts[j].width-pts[i].width < cornerSlope*pathLength(pts[min(i, j):max(i, j)+1]) {
			break
		}
		n++
	}
	return int32(n)
}

// inner is a stretch without what is next to an end of the shape.
func (m *meter) inner(s stretch, widthPx float64) stretch {
	r := m.ridges[m.samples[s.from].ridge]
	end := int32(math.Ceil(max(1, widthPx/2) / m.stepPx))
	if s.from == r.from {
		s.from += end
	}
	if s.to == r.to {
		s.to -= end
	}
	return s
}

// fitted is the value at one of some samples of the quadratic through them all, and how far the widths are off it, root mean square.
func fitted(pts []sample, at int) (width, off float64) {
	var s [5]float64 // sums of powers of the way along the ridge
	var b [3]float64 // the same with the width
	squares := 0.0
	for _, p := range pts {
		t := p.at - pts[at].at
		tt := t * t
		s[1] += t
		s[2] += tt
		s[3] += tt * t
		s[4] += tt * tt
		b[0] += p.width
		b[1] += t * p.width
		b[2] += tt * p.width
		squares += p.width * p.width
	}
	n := float64(len(pts))
	c0, c1, c2 := s[2]*s[4]-s[3]*s[3], s[1]*s[4]-s[3]*s[2], s[1]*s[3]-s[2]*s[2]
	det := n*c0 - s[1]*c1 + s[2]*c2
	if len(pts) < 5 || det < 1e-9 {
		return b[0] / n, math.Sqrt(max(0, squares/n-b[0]*b[0]/n/n))
	}
	width = (b[0]*c0 - b[1]*c1 + b[2]*c2) / det
	slope := (-b[0]*c1 + b[1]*(n*s[4]-s[2]*s[2]) - b[2]*(n*s[3]-s[1]*s[2])) / det
	bend := (b[0]*c2 - b[1]*(n*s[3]-s[1]*s[2]) + b[2]*(n*s[2]-s[1]*s[1])) / det
	return width, math.Sqrt(max(0, squares-width*b[0]-slope*b[1]-bend*b[2]) / n)
}

// runsOn reports whether a stretch is long enough to matter and no corner: the width along it and a little further, fitted by
// least squares, falls less steeply than a corner's.
func (m *meter) runsOn(s stretch) bool {
	length := 0.0
	for _, p := range m.samples[s.from:s.to] {
		length += p.step
	}
	if length < shortestShare*m.q.LimitPx || s.to-s.from < 3 {
		return false
	}
	const fewest = 4
	near := m.widened(s)
	if isWaist(near) || math.Abs(slope(near)) < cornerSlope {
		return true
	}
	in := m.inner(s, 0)
	return in != s && in.to-in.from >= fewest && math.Abs(slope(m.widened(in))) < cornerSlope
}

// widened are the samples of a stretch and of the ridge a little further, where that is not thin.
func (m *meter) widened(s stretch) []sample {
	r := m.ridges[m.samples[s.from].ridge]
	more := int32(m.q.LimitPx / 2 / m.stepPx)
	from, to := s.from, s.to
	for from > max(r.from, s.from-more) && !m.isThin(m.samples[from-1]) {
		from--
	}
	for to < min(r.to, s.to+more) && !m.isThin(m.samples[to]) {
		to++
	}
	return m.samples[from:to]
}

// isWaist reports whether the width rises again to both sides of where it is least, by more than the noise of single samples, but
// not so steeply as where two corners touch, on a ridge that does not turn as it does round a corner.
func isWaist(pts []sample) bool {
	const risePx, turns, steepest = 0.2, 3, 0.8
	if turn := (pts[0].dir - pts[len(pts)-1].dir + directions) % directions; min(turn, directions-turn) > turns {
		return false
	}
	least := slices.MinFunc(pts, byWidth).width
	at := slices.IndexFunc(pts, func(p sample) bool { return p.width == least })
	if slices.MaxFunc(pts[:at+1], byWidth).width < least+risePx || slices.MaxFunc(pts[at:], byWidth).width < least+risePx {
		return false
	}
	return -slope(pts[:at+1]) < steepest && slope(pts[at:]) < steepest
}

func leastSample(pts []sample) float64 {
	least := math.Inf(1)
	for i := range pts {
		least = min(least, pts[i].width)
	}
	return least
}

func pathLength(pts []sample) float64 { return pts[len(pts)-1].at - pts[0].at }

// slope is the width gained a length along the ridge, by least squares.
func slope(pts []sample) float64 {
	var n, st, sw, stt, stw float64
	for _, p := range pts {
		t := p.at - pts[0].at
		n, st, sw, stt, stw = n+1, st+t, sw+p.width, stt+t*t, stw+t*p.width
	}
	return (stw - st*sw/n) / (stt - st*st/n)
}

// fill gives features the pixels of their samples.
func (m *meter) fill(out []*Feature) {
	for i := range m.cells {
		c := &m.cells[i]
		if c.owner == none || m.feature[c.owner] == none {
			continue
		}
		f := out[m.feature[c.owner]]
		for at := c.last; at != none; at = m.parts[at].before {
			f.Runs = append(f.Runs, m.parts[at].run)
		}
	}
	for _, f := range out {
		f.joinRuns()
	}
}

// joinRuns puts a feature's runs in order, those that touch in one, and sets its box.
func (f *Feature) joinRuns() {
	slices.SortFunc(f.Runs, func(a, b Run) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X0, b.X0)) })
	out := f.Runs[:0]
	for _, r := range f.Runs {
		if n := len(out); n > 0 && out[n-1].Y == r.Y && out[n-1].X1 == r.X0 {
			out[n-1].X1 = r.X1
		} else {
			out = append(out, r)
		}
		f.Box = f.Box.Union(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
	}
	f.Runs = out
}
