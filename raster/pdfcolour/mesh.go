package pdfcolour

import (
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// This file rewrites shadings of types 4 to 7 (8.7.4.5.5 to 8.7.4.5.8): all become triangles of type 4, each with all its
// corners, with coordinates of 32 bits and tones of 16. Patches become triangles because the renderer paints those in steps of four levels.

const (
	// mostCorners bounds what a mesh is written with; splitting stops at the half of it.
	mostCorners = 4 << 20
	// mostSplits is how often a triangle or a patch is cut into four.
	mostSplits = 7
	// patchCells is into how many parts, each way, a patch as large as the mesh is cut.
	patchCells = 64
	// straight is how far tones may be off, halfway between corners, before a triangle or patch is split.
	straight = 0.5 / 255

	// coordinateUnit is the width of the range that the mesh's Decode array gives, in the units written: a third of what 32 bits hold, the
	// range being in the middle, because the inner points of a Coons patch lie up to once its width outside.
	coordinateUnit = math.MaxUint32 / 3
)

// corner is a point in units of the rewritten data, with the numbers that shader.tones takes.
type corner struct {
	x, y  float64
	color []float64
}

func halfway(a, b corner) corner {
	c := corner{(a.x + b.x) / 2, (a.y + b.y) / 2, make([]float64, len(a.color))}
	for i := range c.color {
		c.color[i] = (a.color[i] + b.color[i]) / 2
	}
	return c
}

// meshReader reads the data of a mesh.
type meshReader struct {
	bitReader
	flagBits, coordinateBits, colorBits int
	place, decode                       []float64 // of the points and of the colours
	colors                              int
}

// meshWriter writes it.
type meshWriter struct {
	s       *shader
	out     bitWriter
	corners int
	linear  bool
}

func (s *shader) mesh(sd types.StreamDict, kind int) (types.Object, error) {
	in, err := s.meshReader(sd, kind)
	if err != nil {
		return nil, err
	}
	w := &meshWriter{s: s, linear: s.linear()}
	ok := false
	switch kind {
	case 4:
		ok = in.freeTriangles(w)
	case 5:
		perRow, _ := s.r.integer(sd.Dict["VerticesPerRow"], 2, mostCorners)
		ok = perRow > 0 && in.lattice(w, perRow)
	default:
		ok = in.patches(w, kind)
	}
	if !ok || w.corners > mostCorners {
		return nil, fault("a mesh of colours is damaged or too large")
	}
	d := sd.Dict
	for _, key := range []string{"Function", "VerticesPerRow", "Filter", "DecodeParms"} {
		delete(d, key)
	}
	d["ShadingType"] = types.Integer(4)
	d["BitsPerFlag"], d["BitsPerCoordinate"], d["BitsPerComponent"] = types.Integer(8), types.Integer(32), types.Integer(16)
	d["Decode"] = append(array(in.widened()), unitPairs(len(s.group))...)
	d["Length"] = types.Integer(len(w.out.data))
	return types.StreamDict{Dict: d, Raw: w.out.data}, nil
}

func (s *shader) meshReader(sd types.StreamDict, kind int) (*meshReader, error) {
	in := &meshReader{colors: s.inputs()}
	var okFlag, okCoordinate, okColor bool
	in.flagBits, okFlag = s.r.integer(sd.Dict["BitsPerFlag"], 1, 8)
	if kind == 5 {
		in.flagBits, okFlag = 0, true
	}
	in.coordinateBits, okCoordinate = s.r.integer(sd.Dict["BitsPerCoordinate"], 1, 32)
	in.colorBits, okColor = s.r.integer(sd.Dict["BitsPerComponent"], 1, 16)
	decode := s.r.numbers(sd.Dict["Decode"])
	if !okFlag || !okCoordinate || !okColor || len(decode) < 4+2*in.colors {
		return nil, fault("a mesh of colours does not say how its data is laid out")
	}
	if s.function != nil && in.colors != 1 {
		return nil, fault("the function of a mesh takes %d numbers, where 1 is needed", in.colors)
	}
	in.place, in.decode = decode[:4], decode[4:]
	data, err := s.r.decode(sd, -1)
	in.data = data
	return in, err
}

// widened is the range of the points as coordinateUnit has it.
func (m *meshReader) widened() []float64 {
	p := m.place
	return []float64{2*p[0] - p[1], 2*p[1] - p[0], 2*p[2] - p[3], 2*p[3] - p[2]}
}

func (m *meshReader) flag() int { return int(m.read(m.flagBits)) & 3 }

func (m *meshReader) point() corner {
	scale := coordinateUnit / (math.Ldexp(1, m.coordinateBits) - 1)
	x := coordinateUnit + float64(m.read(m.coordinateBits))*scale
	return corner{x: x, y: coordinateUnit + float64(m.read(m.coordinateBits))*scale}
}

func (m *meshReader) color() []float64 {
	c := make([]float64, m.colors)
	for i := range c {
		c[i] = interpolate(float64(m.read(m.colorBits)), 0, math.Ldexp(1, m.colorBits)-1, m.decode[2*i], m.decode[2*i+1])
	}
	return c
}

// more reports whether as many bits are left as n points and c colours take, with a flag before them or without.
func (m *meshReader) more(flag bool, n, c int) bool {
	need := 2*n*m.coordinateBits + c*m.colors*m.colorBits
	if flag {
		need += m.flagBits
	}
	return m.left() >= need
}

func (m *meshReader) vertex() (flag int, v corner) {
	flag = m.flag()
	v = m.point()
	v.color = m.color()
	m.align()
	return flag, v
}

func (m *meshReader) freeTriangles(w *meshWriter) bool {
	var last [3]corner
	drawn := false
	for m.more(true, 1, 1) && w.corners <= mostCorners {
		flag, v := m.vertex()
		switch {
		case flag == 0:
			last[0] = v
			for i := 1; i < 3; i++ {
				if !m.more(true, 1, 1) {
					return drawn // a triangle cut off
				}
				_, last[i] = m.vertex()
			}
		case !drawn:
			return false
		case flag == 1:
			last = [3]corner{last[1], last[2], v}
		default:
			last = [3]corner{last[0], last[2], v}
		}
		w.triangle(last, 0)
		drawn = true
	}
	return true
}

func (m *meshReader) lattice(w *meshWriter, perRow int) bool {
	var above, row []corner
	for m.more(true, 1, 1) && w.corners <= mostCorners {
		_, v := m.vertex()
		if row = append(row, v); len(row) < perRow {
			continue
		}
		for i := 1; i < perRow && above != nil; i++ {
			w.triangle([3]corner{above[i-1], above[i], row[i-1]}, 0)
			w.triangle([3]corner{above[i], row[i-1], row[i]}, 0)
		}
		above, row = row, nil
	}
	return true
}

func (w *meshWriter) triangle(t [3]corner, depth int) {
	ab, bc, ca := halfway(t[0], t[1]), halfway(t[1], t[2]), halfway(t[2], t[0])
	flat := w.isStraight(t[0], ab, t[1]) && w.isStraight(t[1], bc, t[2]) && w.isStraight(t[2], ca, t[0]) &&
		w.isStraight(ab, halfway(ab, ca), ca) && w.isStraight(bc, halfway(bc, ab), ab) && w.isStraight(ca, halfway(ca, bc), bc)
	if w.canSplit(depth) && !flat {
		for _, part := range [][3]corner{{t[0], ab, ca}, {ab, t[1], bc}, {ca, bc, t[2]}, {ab, bc, ca}} {
			w.triangle(part, depth+1)
		}
		return
	}
	for _, v := range t {
		w.corner(v)
	}
}

// corner writes a corner of a triangle of its own.
func (w *meshWriter) corner(v corner) {
	w.out.write(0, 8)
	w.point(v)
	w.color(v.color)
	w.corners++
}

func (w *meshWriter) canSplit(depth int) bool {
	return !w.linear && depth < mostSplits && w.corners < mostCorners/2
}

// isStraight reports whether the tones at mid are halfway between those at a and b.
func (w *meshWriter) isStraight(a, mid, b corner) bool {
	at, mt, bt := w.s.tones(a.color), w.s.tones(mid.color), w.s.tones(b.color)
	for i := range mt {
		if math.Abs(mt[i]-(at[i]+bt[i])/2) > straight {
			return false
		}
	}
	return true
}

func (w *meshWriter) point(p corner) {
	w.out.write(uint32(math.Round(p.x)), 32)
	w.out.write(uint32(math.Round(p.y)), 32)
}

func (w *meshWriter) color(c []float64) {
	for _, v := range w.s.tones(c) {
		w.out.write(uint32(math.Round(65535*clamp01(v+halfLevel))), 16)
	}
}

// patch is a tensor-product patch: points by row (i) and column (j) as p with indices i, j of the standard, and its corners' colours
// in the order of the data: c00, c03, c33, c30.
type patch struct {
	p      [4][4]corner
	colors [4][]float64
}

// patchOrder is where the data's points lie (8.7.4.5.8): twelve around, then four within.
var patchOrder = [16][2]int{
	{0, 0}, {0, 1}, {0, 2}, {0, 3}, {1, 3}, {2, 3}, {3, 3}, {3, 2}, {3, 1}, {3, 0}, {2, 0}, {1, 0},
	{1, 1}, {1, 2}, {2, 2}, {2, 1},
}

func (m *meshReader) patches(w *meshWriter, kind int) bool {
	points := 12
	if kind == 7 {
		points = 16
	}
	var last *patch
	for m.more(true, points-4, 2) && w.corners <= mostCorners {
		flag := m.flag()
		next := &patch{}
		from := 0
		if flag != 0 {
			if last == nil {
				return false
			}
			next.continues(last, flag)
			from = 4
		} else if !m.more(false, points, 4) {
			return last != nil
		}
		for i := from; i < points; i++ {
			at := patchOrder[i]
			next.p[at[0]][at[1]] = m.point()
		}
		for i := from / 2; i < 4; i++ {
			next.colors[i] = m.color()
		}
		m.align()
		if kind == 6 {
			next.fillIn()
		}
		w.patch(next, 0)
		last = next
	}
	return true
}

// continues takes over the edge of the patch before that flag names (Tables 85 and 86).
func (p *patch) continues(last *patch, flag int) {
	for i := range 4 {
		from, to := patchOrder[(3*flag+i)%12], patchOrder[i]
		p.p[to[0]][to[1]] = last.p[from[0]][from[1]]
	}
	p.colors[0], p.colors[1] = last.colors[flag], last.colors[(flag+1)%4]
}

// fillIn computes the inner points of a Coons patch (8.7.4.5.8).
func (p *patch) fillIn() {
	q := &p.p
	inner := func(near, edgeA, edgeB, cornerA, cornerB, farA, farB, far corner) corner {
		f := func(n, ea, eb, ca, cb, fa, fb, f float64) float64 {
			return (-4*n + 6*(ea+eb) - 2*(ca+cb) + 3*(fa+fb) - f) / 9
		}
		return corner{
			x: f(near.x, edgeA.x, edgeB.x, cornerA.x, cornerB.x, farA.x, farB.x, far.x),
			y: f(near.y, edgeA.y, edgeB.y, cornerA.y, cornerB.y, farA.y, farB.y, far.y),
		}
	}
	q[1][1] = inner(q[0][0], q[0][1], q[1][0], q[0][3], q[3][0], q[3][1], q[1][3], q[3][3])
	q[1][2] = inner(q[0][3], q[0][2], q[1][3], q[0][0], q[3][3], q[3][2], q[1][0], q[3][0])
	q[2][1] = inner(q[3][0], q[3][1], q[2][0], q[3][3], q[0][0], q[0][1], q[2][3], q[0][3])
	q[2][2] = inner(q[3][3], q[3][2], q[2][3], q[3][0], q[0][3], q[0][2], q[2][0], q[0][0])
}

func (w *meshWriter) patch(p *patch, depth int) {
	if w.canSplit(depth) && !w.isFlat(p) {
		for _, half := range p.split() {
			for _, quarter := range half.turned().split() {
				w.patch(quarter.turned(), depth+1)
			}
		}
		return
	}
	n := min(max(1, int(math.Ceil(p.reach()/coordinateUnit*patchCells))), patchCells)
	for n > 1 && w.corners+6*n*n > mostCorners/2 {
		n /= 2
	}
	above := p.row(0, n)
	for i := range n {
		row := p.row(float64(i+1)/float64(n), n)
		for j := range n {
			w.corner(above[j])
			w.corner(above[j+1])
			w.corner(row[j])
			w.corner(above[j+1])
			w.corner(row[j])
			w.corner(row[j+1])
		}
		above = row
	}
}

// reach is how far the patch goes at most from one of its points to the next, three times that.
func (p *patch) reach() float64 {
	most := 0.0
	for i := range 4 {
		for j := range 3 {
			most = max(most, math.Hypot(p.p[i][j+1].x-p.p[i][j].x, p.p[i][j+1].y-p.p[i][j].y),
				math.Hypot(p.p[j+1][i].x-p.p[j][i].x, p.p[j+1][i].y-p.p[j][i].y))
		}
	}
	return 3 * most
}

// row has the n+1 points of the patch for u along the first index (8.7.4.5.8).
func (p *patch) row(u float64, n int) []corner {
	row := make([]corner, n+1)
	bu := bernstein(u)
	for k := range row {
		v := float64(k) / float64(n)
		bv := bernstein(v)
		c := corner{color: make([]float64, len(p.colors[0]))}
		for i := range 4 {
			for j := range 4 {
				c.x += bu[i] * bv[j] * p.p[i][j].x
				c.y += bu[i] * bv[j] * p.p[i][j].y
			}
		}
		for i := range c.color {
			c.color[i] = (1-u)*((1-v)*p.colors[0][i]+v*p.colors[1][i]) + u*((1-v)*p.colors[3][i]+v*p.colors[2][i])
		}
		row[k] = c
	}
	return row
}

func bernstein(t float64) [4]float64 {
	s := 1 - t
	return [4]float64{s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t}
}

// isFlat reports whether the tones run straight along the patch's edges and across it.
func (w *meshWriter) isFlat(p *patch) bool {
	for i := range 4 {
		for _, j := range []int{(i + 1) % 4, (i + 2) % 4} {
			a, b := corner{color: p.colors[i]}, corner{color: p.colors[j]}
			if !w.isStraight(a, halfway(a, b), b) {
				return false
			}
		}
	}
	return true
}

// split cuts the patch in two along the second index, by de Casteljau's construction.
func (p *patch) split() [2]*patch {
	low, high := &patch{}, &patch{}
	for i := range 4 {
		q := p.p[i]
		for n := range 4 {
			low.p[i][n], high.p[i][3-n] = q[0], q[3-n]
			for k := range 3 - n {
				q[k] = halfway(q[k], q[k+1])
			}
		}
	}
	top := halfway(corner{color: p.colors[0]}, corner{color: p.colors[1]}).color
	bottom := halfway(corner{color: p.colors[3]}, corner{color: p.colors[2]}).color
	low.colors = [4][]float64{p.colors[0], top, bottom, p.colors[3]}
	high.colors = [4][]float64{top, p.colors[1], p.colors[2], bottom}
	return [2]*patch{low, high}
}

// turned exchanges the two indices.
func (p *patch) turned() *patch {
	t := &patch{colors: [4][]float64{p.colors[0], p.colors[3], p.colors[2], p.colors[1]}}
	for i := range 4 {
		for j := range 4 {
			t.p[i][j] = p.p[j][i]
		}
	}
	return t
}
