package preflight

import (
	"cmp"
	"image"
	"math"
	"slices"

	"peelcheck/raster"
)

// stamps are how far lines reach into the pixels of a tile, or gaps, and by which link, one more than its index; 0 where none does.
type stamps struct {
	amount [raster.TilePx * raster.TilePx]uint8
	by     [raster.TilePx * raster.TilePx]int32
}

// stroke is one link of a mend.
type stroke struct {
	m    *mend
	link int32
}

func (k stroke) ends() (a, b *dot) {
	l := k.m.links[k.link]
	return &k.m.dots[l[0]], &k.m.dots[l[1]]
}

func (k stroke) box() image.Rectangle {
	a, b := k.ends()
	return boxAround(a.x, a.y, b.x, b.y, k.m.reach+edgePx)
}

// toneAt is the tone that a stroke has at a pixel.
func (k stroke) toneAt(x, y int) tone {
	a, _ := k.ends()
	return a.toneAt(float32(x)+0.5, float32(y)+0.5)
}

// stamper leads discs along the strokes of one strip of tiles after another; it is the scratch of one worker.
type stamper struct {
	origin  image.Point // of the strip's first tile
	strokes []stroke
	lines   []*stamps // by column
	gaps    []*stamps
}

// eachTile calls use, for every tile of a box that strokes of mends that are not left reach into, with those and what they do there.
// Strips of tiles are worked on at once.
func (t *thickener) eachTile(box image.Rectangle, use func(st *stamper, column, row int)) {
	rows := (box.Dy() + raster.TilePx - 1) / raster.TilePx
	byRow := make([][]stroke, rows)
	for _, m := range t.mends {
		if m.left() {
			continue
		}
		for i := range m.links {
			k := stroke{m, int32(i)}
			b := k.box()
			for r := max(0, (b.Min.Y-box.Min.Y)/raster.TilePx); r < rows && r*raster.TilePx+box.Min.Y < b.Max.Y; r++ {
				byRow[r] = append(byRow[r], k)
			}
		}
	}
	across := (box.Dx() + raster.TilePx - 1) / raster.TilePx
	raster.Strips(rows, 1, func(row, _ int) {
		if len(byRow[row]) == 0 {
			return
		}
		st := &stamper{
			origin: image.Pt(box.Min.X, box.Min.Y+row*raster.TilePx), strokes: byRow[row],
			lines: make([]*stamps, across), gaps: make([]*stamps, across),
		}
		for i := range st.strokes {
			st.stamp(i)
		}
		for column := range across {
			if st.lines[column] != nil || st.gaps[column] != nil {
				use(st, column, row)
			}
		}
	})
}

// stamp leads a disc along one stroke.
func (st *stamper) stamp(i int) {
	k := st.strokes[i]
	box := k.box().Sub(st.origin).Intersect(image.Rect(0, 0, len(st.lines)*raster.TilePx, raster.TilePx))
	tiles := st.lines
	if k.m.gap {
		tiles = st.gaps
	}
	c := capsuleOf(k, st.origin)
	for x := box.Min.X; x < box.Max.X; {
		column := x / raster.TilePx
		end := min(box.Max.X, (column+1)*raster.TilePx)
		if tiles[column] == nil {
			tiles[column] = new(stamps)
		}
		c.into(tiles[column], image.Rect(x, box.Min.Y, end, box.Max.Y), int32(i+1))
		x = end
	}
}

// edgePx is half of a pixel's diagonal, rounded up: how far from an edge a pixel may be that is partly covered.
const edgePx = 0.71

func abs32(v float32) float32 { return max(v, -v) }

// capsule is all within r of the way from one point to another, which is x, y long.
type capsule struct{ ax, ay, x, y, perSq, r float32 }

func capsuleOf(k stroke, origin image.Point) capsule {
	a, b := k.ends()
	c := capsule{a.x - float32(origin.X) - 0.5, a.y - float32(origin.Y) - 0.5, b.x - a.x, b.y - a.y, 0, k.m.reach}
	if sq := c.x*c.x + c.y*c.y; sq > 0 {
		c.perSq = 1 / sq
	}
	return c
}

// into notes how much of each pixel of a part of a tile the capsule covers, where that is more than others do.
func (c *capsule) into(t *stamps, part image.Rectangle, by int32) {
	inner, outer := max(0, c.r-edgePx), c.r+edgePx
	for y := part.Min.Y; y < part.Max.Y; y++ {
		line := y * raster.TilePx
		dy := float32(y) - c.ay
		for x := part.Min.X; x < part.Max.X; x++ {
			dx := float32(x) - c.ax
			along := min(1, max(0, (dx*c.x+dy*c.y)*c.perSq))
			ox, oy := dx-along*c.x, dy-along*c.y
			sq := ox*ox + oy*oy
			if sq >= outer*outer {
				continue
			}
			v := uint8(255)
			if sq > inner*inner {
				away := float32(math.Sqrt(float64(sq)))
				soft := (abs32(ox) + abs32(oy)) / away // of the edge: how wide a pixel is across it
				v = uint8(255*min(1, max(0, 0.5+(c.r-away)/soft)) + 0.5)
			}
			if at := line + x%raster.TilePx; v > t.amount[at] {
				t.amount[at], t.by[at] = v, by
			}
		}
	}
}

// overlay is coverage as it would be: at least up, and at most what down leaves.
type overlay struct {
	s              *Scene
	up, full, down *raster.Plane // full is the coverage that pixels of up would have if they were filled
	changed        *raster.Bitmap
	ink, solid     *raster.Bitmap
}

// overlaid works out coverage and masks as they would be.
func (t *thickener) overlaid() *overlay {
	s := t.s
	o := &overlay{
		s: s, up: raster.NewPlane(s.W, s.H), full: raster.NewPlane(s.W, s.H), down: raster.NewPlane(s.W, s.H),
		changed: raster.NewBitmap(s.W, s.H), ink: s.survey.ink.Clone(), solid: s.survey.solid.Clone(),
	}
	t.eachTile(image.Rect(0, 0, s.W, s.H), func(st *stamper, column, row int) {
		o.grow(st, column, row)
		o.open(st, column, row)
	})
	return o
}

func (o *overlay) grow(st *stamper, column, row int) {
	tile := st.lines[column]
	if tile == nil {
		return
	}
	up, full := new(raster.Tile), new(raster.Tile)
	st.each(tile, column, image.Rect(0, 0, o.s.W, o.s.H), func(i, x, y int, amount uint8, k stroke) {
		tone := k.toneAt(x, y)
		up[i], full[i] = scale(tone.full, amount), tone.full
		o.changed.Set(x, y)
		if up[i] >= detailLevel {
			o.ink.Set(x, y)
		}
		if amount >= solidLevel {
			o.solid.Set(x, y)
		}
	})
	o.up.SetTile(column, row, up)
	o.full.SetTile(column, row, full)
}

func (o *overlay) open(st *stamper, column, row int) {
	tile := st.gaps[column]
	if tile == nil {
		return
	}
	down := new(raster.Tile)
	var now [1]uint8
	st.each(tile, column, image.Rect(0, 0, o.s.W, o.s.H), func(i, x, y int, amount uint8, k stroke) {
		left := scale(k.toneAt(x, y).full, 255-amount)
		down[i] = 255 - left
		o.changed.Set(x, y)
		if amount > 255-solidLevel {
			o.solid.ClearRun(y, x, x+1)
		}
		o.s.survey.cover.Read(now[:], image.Rect(x, y, x+1, y+1))
		if min(now[0], left) < detailLevel {
			o.ink.ClearRun(y, x, x+1)
		}
	})
	o.down.SetTile(column, row, down)
}

// each visits the pixels of a tile that strokes reach into, as far as they lie within a box: index in the tile, and place.
func (st *stamper) each(tile *stamps, column int, within image.Rectangle, visit func(i, x, y int, amount uint8, k stroke)) {
	at := st.origin.Add(image.Pt(column*raster.TilePx, 0))
	for i, by := range tile.by {
		if by == 0 {
			continue
		}
		if x, y := at.X+i%raster.TilePx, at.Y+i/raster.TilePx; (image.Point{X: x, Y: y}).In(within) {
			visit(i, x, y, tile.amount[i], st.strokes[by-1])
		}
	}
}

// read is the coverage as it would be.
func (o *overlay) read(dst []uint8, r image.Rectangle) {
	o.s.survey.cover.Read(dst, r)
	if o.changed.CountIn(r) == 0 {
		return
	}
	other := make([]uint8, len(dst))
	o.up.Read(other, r)
	for i, v := range other {
		dst[i] = max(dst[i], v)
	}
	o.down.Read(other, r)
	for i, v := range other {
		dst[i] = min(dst[i], 255-v)
	}
}

// blend is Scene.blend where nothing has changed.
func (o *overlay) blend(path []image.Point) bool {
	return !slices.ContainsFunc(path, func(p image.Point) bool { return o.changed.At(p.X, p.Y) }) && o.s.blend(path)
}

// tint is Scene.tint, and what lines that have grown tell.
func (o *overlay) tint(at image.Point) uint8 {
	if !o.changed.At(at.X, at.Y) {
		return o.s.tint(at)
	}
	var full, now [1]uint8
	r := image.Rect(at.X, at.Y, at.X+1, at.Y+1)
	o.full.Read(full[:], r)
	if o.read(now[:], r); now[0] < full[0] {
		return full[0]
	}
	return 0
}

// apply changes the planes.
func (t *thickener) apply(p *PrintPlanes) {
	box := p.Box
	for _, m := range t.mends {
		if m.left() || m.gap {
			continue
		}
		for i := range m.links {
			box = box.Union(stroke{m, int32(i)}.box())
		}
	}
	p.extend(box.Intersect(image.Rect(0, 0, t.s.W, t.s.H)))
	white := t.whiteToBe()
	t.eachTile(p.Box, func(st *stamper, column, row int) {
		ed := &editor{t: t, p: p, column: column, row: row, unchoke: white != nil}
		ed.do(st)
	})
	if white != nil {
		t.pullIn(p, white)
	}
}

// extend makes the planes hold a larger box.
func (p *PrintPlanes) extend(box image.Rectangle) {
	if box == p.Box {
		return
	}
	for i, old := range p.Of {
		if old == nil {
			continue
		}
		plane := raster.NewPlane(box.Dx(), box.Dy())
		raster.Strips(box.Dy(), raster.TilePx, func(y0, y1 int) {
			for x := 0; x < box.Dx(); x += raster.TilePx {
				at := image.Rect(x, y0, min(x+raster.TilePx, box.Dx()), y1)
				tile := new(raster.Tile)
				copyInto(tile, at, old, box.Min.Sub(p.Box.Min))
				plane.SetTile(x/raster.TilePx, y0/raster.TilePx, tile)
			}
		})
		p.Of[i] = plane
	}
	p.Box = box
}

// copyInto fills a tile that lies at a place with what a plane has there, shifted by some pixels.
func copyInto(tile *raster.Tile, at image.Rectangle, from *raster.Plane, by image.Point) {
	src := at.Add(by).Intersect(image.Rect(0, 0, from.W, from.H))
	for y := src.Min.Y; y < src.Max.Y; y++ {
		to := (y-by.Y-at.Min.Y)*raster.TilePx + src.Min.X - by.X - at.Min.X
		from.Read(tile[to:to+src.Dx()], image.Rect(src.Min.X, y, src.Max.X, y+1))
	}
}

// editor changes one tile of all planes.
type editor struct {
	t           *thickener
	p           *PrintPlanes
	column, row int
	unchoke     bool
	tiles       [5]*raster.Tile
}

func (e *editor) do(st *stamper) {
	for i, plane := range e.p.Of {
		if plane != nil {
			e.tiles[i] = plane.EditTile(e.column, e.row)
		}
	}
	if lines := st.lines[e.column]; lines != nil {
		st.each(lines, e.column, e.p.Box, e.grow)
	}
	if gaps := st.gaps[e.column]; gaps != nil {
		st.each(gaps, e.column, e.p.Box, e.open)
	}
	for i, plane := range e.p.Of {
		if plane != nil {
			plane.SetTile(e.column, e.row, e.tiles[i])
		}
	}
}

// grow lays a line's tone over what a pixel has of what is not the line.
func (e *editor) grow(i, x, y int, amount uint8, k stroke) {
	e.restoreWhite(i, x, y)
	tone := k.toneAt(x, y)
	var cover [1]uint8
	e.t.s.survey.cover.Read(cover[:], image.Rect(x, y, x+1, y+1))
	had, has := min(1, float64(cover[0])/float64(tone.full)), float64(amount)/255
	if has <= had {
		return
	}
	under := (1 - has) / (1 - had)
	e.mix(i, under, func(plane int) float64 { return float64(tone.ink[plane]) * (has - had*under) })
}

// open takes away what a gap must not have, and puts the ground there if that prints.
func (e *editor) open(i, x, y int, amount uint8, k stroke) {
	e.restoreWhite(i, x, y)
	var cover [1]uint8
	e.t.s.survey.cover.Read(cover[:], image.Rect(x, y, x+1, y+1))
	if cover[0] == 0 {
		return
	}
	stays := min(1, float64(k.toneAt(x, y).full)/float64(cover[0])*float64(255-amount)/255)
	e.mix(i, stays, func(plane int) float64 { return float64(e.t.solidGround[plane]) * (1 - stays) })
}

// restoreWhite gives a pixel the white that was pulled in; pullIn takes it away again.
func (e *editor) restoreWhite(i, x, y int) {
	if e.unchoke && e.tiles[inkWhite][i] == 0 {
		e.tiles[inkWhite][i] = e.t.s.unchoked(x, y)[inkWhite]
	}
}

// mix keeps a share of each plane and adds to it.
func (e *editor) mix(i int, share float64, more func(plane int) float64) {
	for n, tile := range e.tiles {
		if tile == nil {
			continue
		}
		tile[i] = uint8(min(255, float64(tile[i])*share+more(n)+0.5))
	}
}

// halfCovered is the least coverage of what lies within an outline.
const halfCovered = 128

// whiteToBe is where white will print, pulled in as the process does; nil for a process that does not.
func (t *thickener) whiteToBe() *raster.Bitmap {
	s := t.s
	if s.white == s.survey.printsWhite {
		return nil
	}
	all, own := s.survey.outlined.Clone(), raster.NewBitmap(s.W, s.H)
	if s.survey.ownWhite.mask != nil {
		own = s.survey.ownWhite.mask.Clone()
	}
	t.eachTile(image.Rect(0, 0, s.W, s.H), func(st *stamper, column, _ int) {
		if lines := st.lines[column]; lines != nil {
			st.each(lines, column, image.Rect(0, 0, s.W, s.H), func(_, x, y int, amount uint8, k stroke) {
				tone := k.toneAt(x, y)
				if scale(tone.ink[inkWhite], amount) < inkLevel || amount < halfCovered {
					return
				}
				all.Set(x, y)
				if max(tone.ink[inkCyan], tone.ink[inkMagenta], tone.ink[inkYellow], tone.ink[inkBlack]) < printsLevel {
					own.Set(x, y)
				}
			})
		}
		if gaps := st.gaps[column]; gaps != nil {
			st.each(gaps, column, image.Rect(0, 0, s.W, s.H), func(_, x, y int, amount uint8, _ stroke) {
				if 255-amount < halfCovered && t.solidGround[inkWhite] < inkLevel {
					all.ClearRun(y, x, x+1)
					own.ClearRun(y, x, x+1)
				}
			})
		}
	})
	return raster.Or(s.pulledIn(all), own)
}

// pullIn takes white away from where it must not print any more, and puts it where the choke has moved out.
func (t *thickener) pullIn(p *PrintPlanes, white *raster.Bitmap) {
	plane := p.Of[inkWhite]
	changed := raster.Or(raster.AndNot(white, t.s.white), raster.Or(raster.AndNot(t.s.white, white), t.after.changed))
	raster.Strips(p.Box.Dy(), raster.TilePx, func(y0, y1 int) {
		for x := 0; x < p.Box.Dx(); x += raster.TilePx {
			at := image.Rect(x, y0, min(x+raster.TilePx, p.Box.Dx()), y1).Add(p.Box.Min)
			if changed.CountIn(at) == 0 {
				continue
			}
			tile := plane.EditTile(x/raster.TilePx, y0/raster.TilePx)
			for y := at.Min.Y; y < at.Max.Y; y++ {
				for x := at.Min.X; x < at.Max.X; x++ {
					if v := &tile[(y-at.Min.Y)*raster.TilePx+x-at.Min.X]; changed.At(x, y) {
						t.pull(v, x, y, white.At(x, y))
					}
				}
			}
			plane.SetTile(x/raster.TilePx, y0/raster.TilePx, tile)
		}
	})
}

// pull settles the white of one pixel that holds, where it was edited, its white before choking.
func (t *thickener) pull(v *uint8, x, y int, prints bool) {
	if !prints {
		*v = 0
	} else if *v == 0 && !t.after.changed.At(x, y) {
		*v = t.s.unchoked(x, y)[inkWhite]
	}
}

// runIndex finds features by the pixels that they share.
type runIndex struct {
	runs   []raster.Run // by row, then column; Component is the feature
	widths []float64
}

func newRunIndex(of []raster.Feature) *runIndex {
	x := &runIndex{}
	for i, f := range of {
		x.widths = append(x.widths, f.WidthPx)
		for _, r := range f.Runs {
			r.Component = int32(i)
			x.runs = append(x.runs, r)
		}
	}
	slices.SortFunc(x.runs, func(a, b raster.Run) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X0, b.X0)) })
	return x
}

// least is the least width of the features that share pixels with some runs, 0 where none does.
func (x *runIndex) least(runs []raster.Run) float64 {
	least := math.Inf(1)
	for _, r := range runs {
		i, _ := slices.BinarySearchFunc(x.runs, r, func(a, b raster.Run) int {
			return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X1, b.X0+1))
		})
		for ; i < len(x.runs) && x.runs[i].Y == r.Y && x.runs[i].X0 < r.X1; i++ {
			least = min(least, x.widths[x.runs[i].Component])
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// dotGrid finds mends by the places of their dots.
type dotGrid struct {
	side  float32
	cells map[[2]int32][]dotOf
}

type dotOf struct {
	d *dot
	m *mend
}

func newDotGrid(mends []*mend, side float64) *dotGrid {
	g := &dotGrid{side: float32(side/2 + 3), cells: map[[2]int32][]dotOf{}}
	for _, m := range mends {
		for i := range m.dots {
			at := g.cell(m.dots[i].x, m.dots[i].y)
			g.cells[at] = append(g.cells[at], dotOf{&m.dots[i], m})
		}
	}
	return g
}

func (g *dotGrid) cell(x, y float32) [2]int32 { return [2]int32{int32(x / g.side), int32(y / g.side)} }

// near calls visit, perhaps several times, with the mends that reach to within some pixels, two at most, of some runs.
func (g *dotGrid) near(runs []raster.Run, about float32, visit func(m *mend)) {
	for _, r := range runs {
		for x := float32(r.X0) + 0.5; x < float32(r.X1); x++ {
			y := float32(r.Y) + 0.5
			c := g.cell(x, y)
			for cy := c[1] - 1; cy <= c[1]+1; cy++ {
				for cx := c[0] - 1; cx <= c[0]+1; cx++ {
					for _, o := range g.cells[[2]int32{cx, cy}] {
						if dx, dy, far := o.d.x-x, o.d.y-y, o.m.reach+about; dx*dx+dy*dy < far*far {
							visit(o.m)
						}
					}
				}
			}
		}
	}
}
