package raster

import (
	"image"
	"math"
	"slices"
)

const (
	// widthTolerancePx keeps lines that are just as wide as the limit from being called thin.
	widthTolerancePx = 0.1
	// A piece whose width falls to nothing faster than cornerSlope (width lost a length, 2 tan of half the angle: 0.26 is
	// 15 degrees) is a corner, not a line that tapers.
	cornerSlope = 0.26
	// cornerMean is the share of the limit over which the mean width along the ridge cannot be a corner's, which is spread
	// evenly from the limit to nothing.
	cornerMean = 0.75
	// blendPx is the width from which a place is wider than any passage between two colours that touch.
	blendPx = 2.5
	// seamPx is what is missing at most along an edge that two shapes share, each drawn with its own antialiasing: coverage a
	// under 1-a leaves a(1-a), a quarter at worst. Less than that, with noise, is no gap; up to twice that, where more than two
	// colours meet, it is none unless it runs on.
	seamPx = 0.3
	// shortestShare of the limit is the length under which a thin piece is an unevenness of an edge.
	shortestShare = 0.5
)

// blockPx is the side of the squares whose coverage is held in memory at once while a piece is measured.
const blockPx = 128

// meter measures pieces one after another; it is not safe for concurrent use.
type meter struct {
	q      ThinQuery
	cellPx int
	coarse int  // every how many directions are tried to find the ridge
	alone  bool // the piece is joined to nothing wider
	win    window
	cells  map[image.Point]*cell
	order  []*cell
}

// cell is a small square of a piece, with one sample of its width.
type cell struct {
	at      image.Point // of the cell grid
	best    image.Point // the pixel nearest to the middle of the piece, as far as coverage tells
	bestCov int
	covered float64
	done    bool // it has its sample
	ok      bool // the sample is on the ridge
	width   float64
	x, y    float64
	blend   bool
	anyRuns []Run
}

func newMeter(q ThinQuery) *meter {
	m := &meter{q: q, cellPx: max(1, int(q.LimitPx/3)), coarse: 1, cells: map[image.Point]*cell{}}
	if q.LimitPx >= 4 {
		m.coarse = 2
	}
	return m
}

// measure returns the parts of one piece that are thinner than the limit.
func (m *meter) measure(runs []Run, which []int32) []*Feature {
	m.split(runs, which)
	m.sample()
	return m.judge()
}

// split cuts the piece into cells.
func (m *meter) split(runs []Run, which []int32) {
	clear(m.cells)
	m.order = m.order[:0]
	for _, i := range which {
		r := runs[i]
		for x0 := int(r.X0); x0 < int(r.X1); {
			at := image.Pt(x0/m.cellPx, int(r.Y)/m.cellPx)
			x1 := min(int(r.X1), (at.X+1)*m.cellPx)
			c := m.cells[at]
			if c == nil {
				c = &cell{at: at, bestCov: -1}
				m.cells[at] = c
				m.order = append(m.order, c)
			}
			c.anyRuns = append(c.anyRuns, Run{Y: r.Y, X0: int32(x0), X1: int32(x1)})
			x0 = x1
		}
	}
	slices.SortStableFunc(m.order, func(a, b *cell) int {
		pa, pb := a.at.Mul(m.cellPx), b.at.Mul(m.cellPx)
		if d := pa.Y/blockPx - pb.Y/blockPx; d != 0 {
			return d
		}
		return pa.X/blockPx - pb.X/blockPx
	})
}

// sample measures the width at every cell, loading coverage block by block.
func (m *meter) sample() {
	pad := int(3*m.q.LimitPx) + 12 // two rays one after the other stay within
	for i := 0; i < len(m.order); {
		j, key := i, m.order[i].at.Mul(m.cellPx).Div(blockPx)
		var box image.Rectangle
		for ; j < len(m.order) && m.order[j].at.Mul(m.cellPx).Div(blockPx) == key; j++ {
			at := m.order[j].at.Mul(m.cellPx)
			box = box.Union(image.Rectangle{Min: at, Max: at.Add(image.Pt(m.cellPx, m.cellPx))})
		}
		m.win.load(m.q, box.Inset(-pad))
		for _, c := range m.order[i:j] {
			m.cover(c)
			if !c.done {
				m.sampleCell(c)
			}
		}
		i = j
	}
}

// cover sums a cell's coverage and finds its pixel with the most.
func (m *meter) cover(c *cell) {
	for _, r := range c.anyRuns {
		for x := r.X0; x < r.X1; x++ {
			cov := m.win.shape(int(x), int(r.Y))
			c.covered += float64(cov) / 255
			if cov > c.bestCov {
				c.bestCov, c.best = cov, image.Pt(int(x), int(r.Y))
			}
		}
	}
}

// sampleCell measures the width at a cell and gives it to all the cells that the cut passes through.
func (m *meter) sampleCell(c *cell) {
	at := m.win.uphill(c.best)
	x, y := float64(at.X)+0.5, float64(at.Y)+0.5
	ch, ok := m.win.shortestChord(x, y, m.coarse)
	if !ok {
		return
	}
	ch, ok = m.win.shortestChord(ch.midX, ch.midY, 1)
	if !ok || !ch.onRidge() || m.q.Gap && m.win.solidAt(ch.midX, ch.midY) {
		return
	}
	blend := m.q.Blend != nil && ch.width < blendPx && m.q.Blend(ch.path())
	c.take(ch, blend)
	for _, p := range ch.path() {
		if o := m.cells[p.Div(m.cellPx)]; o != nil && !o.done {
			o.take(ch, blend)
		}
	}
}

func (c *cell) take(ch chord, blend bool) {
	c.done, c.ok, c.width, c.x, c.y, c.blend = true, true, ch.width, ch.midX, ch.midY, blend
}

// judge decides from the samples which features the piece holds: one for each group of places that are too thin, groups of one
// piece that nearly meet being one.
func (m *meter) judge() []*Feature {
	var out []*Feature
	reach := int(1.5*m.q.LimitPx) + 1
	for _, thin := range m.groups() {
		f := m.judgeGroup(thin)
		if f == nil {
			continue
		}
		box := f.Box.Inset(-reach)
		out = slices.DeleteFunc(out, func(o *Feature) bool {
			if o.Box.Overlaps(box) {
				f.add(o)
				return true
			}
			return false
		})
		out = append(out, f)
	}
	return out
}

// groups gathers the cells that are too thin where they lie within about half a limit of each other.
func (m *meter) groups() [][]*cell {
	size := max(2, int(0.45*m.q.LimitPx))
	buckets := map[image.Point][]*cell{}
	var order []image.Point
	for _, c := range m.order {
		if !c.ok || c.width >= m.q.LimitPx-widthTolerancePx {
			continue
		}
		at := c.at.Mul(m.cellPx).Div(size)
		if buckets[at] == nil {
			order = append(order, at)
		}
		buckets[at] = append(buckets[at], c)
	}
	var out [][]*cell
	for _, first := range order {
		var group []*cell
		for todo := []image.Point{first}; len(todo) > 0; {
			at := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			if buckets[at] == nil {
				continue
			}
			group = append(group, buckets[at]...)
			delete(buckets, at)
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					todo = append(todo, at.Add(image.Pt(dx, dy)))
				}
			}
		}
		if len(group) > 0 {
			out = append(out, group)
		}
	}
	return out
}

func (m *meter) judgeGroup(thin []*cell) *Feature {
	blends := 0
	for _, c := range thin {
		if c.blend {
			blends++
		}
	}
	if 2*blends > len(thin) {
		return nil
	}
	f := m.feature(thin)
	near, measured := m.around(f, thin)
	f.LengthPx = f.AreaPx / max(f.TypicalPx, 0.05)
	wholly := m.alone && 10*len(thin) >= 9*measured
	long := f.LengthPx > 5*m.q.LimitPx
	short := f.LengthPx < 3*m.q.LimitPx
	if m.q.Gap && (f.TypicalPx < seamPx || f.TypicalPx < 2*seamPx && short) || f.TypicalPx < seamPx && short {
		return nil
	}
	if shortest := shortestShare * m.q.LimitPx; f.LengthPx < shortest || !wholly && !long && (reach(ridge(thin, m.q.LimitPx)) < shortest || m.isCorner(near)) {
		return nil
	}
	return f
}

// around works out the feature's area: what is thin, with its part of the cells round it that could not be measured. It returns
// the measured cells round it, and how many the whole piece has.
func (m *meter) around(f *Feature, thin []*cell) (near []*cell, measured int) {
	const mostUnmeasured = 2
	var thinCov, allCov, total float64
	for _, c := range thin {
		thinCov += c.covered
	}
	box := f.Box.Inset(-int(m.q.LimitPx) - 1)
	for _, c := range m.order {
		if c.ok {
			measured++
		}
		if !c.at.Mul(m.cellPx).In(box) {
			continue
		}
		total += c.covered
		if c.ok {
			allCov += c.covered
			near = append(near, c)
		}
	}
	f.AreaPx = thinCov * min(mostUnmeasured, total/max(allCov, thinCov, 1e-9))
	return near, measured
}

func (m *meter) feature(thin []*cell) *Feature {
	f := &Feature{}
	widths := make([]float64, len(thin))
	for i, c := range thin {
		widths[i] = c.width
		f.Runs = append(f.Runs, c.anyRuns...)
		for _, r := range c.anyRuns {
			f.Box = f.Box.Union(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
		}
	}
	slices.SortFunc(f.Runs, func(a, b Run) int {
		if a.Y != b.Y {
			return int(a.Y - b.Y)
		}
		return int(a.X0 - b.X0)
	})
	slices.Sort(widths)
	f.TypicalPx = widths[len(widths)/2]
	// The odd sample at an end is no measure of a line that is even otherwise.
	f.WidthPx = f.TypicalPx
	if f.TypicalPx-widths[len(widths)/4] >= 0.5 {
		f.WidthPx = widths[len(widths)/10]
	}
	return f
}

// reach is the largest distance between the first of some places and another.
func reach(pts []*cell) float64 {
	far := 0.0
	for _, p := range pts {
		far = max(far, math.Hypot(p.x-pts[0].x, p.y-pts[0].y))
	}
	return far
}

// isCorner fits the width along the ridge by least squares, the part just over the limit included; a width that runs steeply to
// nothing over a short way is a corner.
func (m *meter) isCorner(near []*cell) bool {
	pts := ridge(near, 1.5*m.q.LimitPx)
	if len(pts) < 3 {
		return true
	}
	if mean, n := meanUnder(pts, m.q.LimitPx); n >= 4 && mean > cornerMean*m.q.LimitPx {
		return false
	}
	var n, mx, my, mw float64
	for _, c := range pts {
		n, mx, my, mw = n+1, mx+c.x, my+c.y, mw+c.width
	}
	mx, my, mw = mx/n, my/n, mw/n
	var sxx, sxy, syy float64
	for _, c := range pts {
		dx, dy := c.x-mx, c.y-my
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	uy, ux := math.Sincos(0.5 * math.Atan2(2*sxy, sxx-syy))
	var stt, stw float64
	for _, c := range pts {
		t := (c.x-mx)*ux + (c.y-my)*uy
		stt, stw = stt+t*t, stw+t*(c.width-mw)
	}
	return math.Abs(stw/stt) >= cornerSlope
}

func meanUnder(pts []*cell, limitPx float64) (mean float64, n int) {
	for _, c := range pts {
		if c.width < limitPx {
			mean, n = mean+c.width, n+1
		}
	}
	return mean / float64(max(1, n)), n
}

// ridge returns the samples narrower than maxPx, one for each place.
func ridge(cells []*cell, maxPx float64) []*cell {
	var out []*cell
	for _, c := range cells {
		if !c.ok || c.width > maxPx {
			continue
		}
		near := func(o *cell) bool { return math.Hypot(o.x-c.x, o.y-c.y) < 0.4 }
		if !slices.ContainsFunc(out, near) {
			out = append(out, c)
		}
	}
	return out
}
