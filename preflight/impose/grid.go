package impose

import (
	"cmp"
	"slices"
)

// How much is tried, in steps of the innermost loop; 10 million take about a tenth of a second.
const (
	mostCuts      = 100_000_000 // over all parts of the sheet
	mostPinwheels = 200_000_000 // over all parts of the sheet
	mostPinwheel  = 50_000_000  // of the whole sheet
)

// grid packs copies of one piece into an area. It is the pallet loading problem: parts of the sheet are cut in two, over and over, or
// into five like a pinwheel (the first-order non-guillotine cut), and each part that is left holds rows of one direction. After
// Morabito and Morales, A Simple and Effective Recursive Procedure for the Manufacturer's Pallet Loading Problem, J. Oper. Res. Soc.
// 49(8), 1998 (from memory). Parts end only where sums of the piece's sides do (Herz's and Christofides and Whitlock's normal
// patterns), because all pieces can be pushed to the top left.
type grid struct {
	design     int
	piece      size
	turnEach   bool
	xs, ys     []int     // the sums of sides that fit across and down, rising from 0
	lessX      [][]int32 // lessX[i][k] is the index of the largest sum up to xs[i] - xs[k]
	lessY      [][]int32
	n          []int32 // how many fit into xs[i] by ys[j], at i*len(ys)+j
	how        []cut
	allTurned  bool // for pieces that are not turned one by one
	area       size
	fromBlocks []box // what was found where the pieces are too many for tables; else nil
}

// cut says how a part is filled: rows of one direction, two parts, or five.
type cut struct {
	kind   cutKind
	x1, x2 uint16 // indexes into xs
	y1, y2 uint16 // indexes into ys
}

type cutKind uint8

const (
	rowsUpright cutKind = iota
	rowsTurned
	cutAcross // at x1
	cutDown   // at y1
	pinwheel
)

// newGrid works out the patterns of one piece in an area; turn says whether copies may differ in direction.
func newGrid(design int, piece, area size, turn Turning) *grid {
	g := &grid{design: design, piece: piece, area: area}
	g.turnEach = turn == TurnEach && piece.w != piece.h
	if !g.turnEach {
		g.allTurned = turn != TurnNone && count(piece.turned(), area) > count(piece, area)
		return g
	}
	g.xs, g.ys = sums(piece, area.w), sums(piece, area.h)
	nx, ny := len(g.xs), len(g.ys)
	if nx*ny*(nx+ny)/2 > mostCuts {
		g.fromBlocks = twoBlocks(design, piece, area)
		return g
	}
	g.lessX, g.lessY = differences(g.xs), differences(g.ys)
	g.n, g.how = make([]int32, nx*ny), make([]cut, nx*ny)
	everywhere := cube(nx)/6*cube(ny)/6 <= mostPinwheels
	for i := range nx {
		for j := range ny {
			g.fill(i, j)
			if everywhere || i == nx-1 && j == ny-1 && float64(nx*nx)*float64(ny*ny)/4 <= mostPinwheel {
				g.turnPinwheel(i, j)
			}
		}
	}
	return g
}

func cube(n int) float64 { return float64(n) * float64(n) * float64(n) }

func count(piece, area size) int { return (area.w / piece.w) * (area.h / piece.h) }

// sums are all sums of whole numbers of the piece's sides up to room, rising from 0.
func sums(piece size, room int) []int {
	var out []int
	for a := 0; a <= room; a += piece.w {
		for v := a; v <= room; v += piece.h {
			out = append(out, v)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func differences(sums []int) [][]int32 {
	out := make([][]int32, len(sums))
	for i := range sums {
		out[i] = make([]int32, i+1)
		at := i
		for k := range i + 1 {
			for sums[at] > sums[i]-sums[k] {
				at--
			}
			out[i][k] = int32(at)
		}
	}
	return out
}

func (g *grid) get(i, j int32) int32 { return g.n[int(i)*len(g.ys)+int(j)] }

// most is how many pieces a part could hold by its area.
func (g *grid) most(i, j int) int32 {
	return int32(g.xs[i] * g.ys[j] / g.piece.area())
}

// fill finds the best of plain rows and all cuts in two. Parts smaller than this one are done already.
func (g *grid) fill(i, j int) {
	part := size{g.xs[i], g.ys[j]}
	best, how := int32(count(g.piece, part)), cut{kind: rowsUpright}
	if n := int32(count(g.piece.turned(), part)); n > best {
		best, how = n, cut{kind: rowsTurned}
	}
	most := g.most(i, j)
	for k := 1; k < i && 2*g.xs[k] <= part.w && best < most; k++ {
		if n := g.get(int32(k), int32(j)) + g.get(g.lessX[i][k], int32(j)); n > best {
			best, how = n, cut{kind: cutAcross, x1: uint16(k)}
		}
	}
	for k := 1; k < j && 2*g.ys[k] <= part.h && best < most; k++ {
		if n := g.get(int32(i), int32(k)) + g.get(int32(i), g.lessY[j][k]); n > best {
			best, how = n, cut{kind: cutDown, y1: uint16(k)}
		}
	}
	g.n[i*len(g.ys)+j], g.how[i*len(g.ys)+j] = best, how
}

// turnPinwheel tries to fill a part with five: two tall ones at the sides, two wide ones, and one in the middle.
func (g *grid) turnPinwheel(i, j int) {
	at := i*len(g.ys) + j
	most := g.most(i, j)
	for x1 := 1; x1 < i; x1++ {
		for x2 := x1 + 1; x2 < i; x2++ {
			right, upperRight, middle := g.lessX[i][x2], g.lessX[i][x1], g.lessX[x2][x1]
			for y1 := 1; y1 < j; y1++ {
				fixed := g.get(int32(x2), int32(y1)) + g.get(int32(x1), g.lessY[j][y1])
				for y2 := y1 + 1; y2 < j; y2++ {
					if g.n[at] == most {
						return
					}
					n := fixed + g.get(right, int32(y2)) + g.get(upperRight, g.lessY[j][y2]) + g.get(middle, g.lessY[y2][y1])
					if n > g.n[at] {
						g.n[at], g.how[at] = n, cut{pinwheel, uint16(x1), uint16(x2), uint16(y1), uint16(y2)}
					}
				}
			}
		}
	}
}

// best is as many pieces as the whole area takes.
func (g *grid) best() []box {
	switch {
	case !g.turnEach:
		return g.rows(nil, 0, 0, g.area, g.allTurned)
	case g.fromBlocks != nil:
		return slices.Clone(g.fromBlocks)
	}
	return g.build(nil, len(g.xs)-1, len(g.ys)-1, 0, 0)
}

// least is n pieces, no more than best has, in a strip at the top that is as low as it finds.
func (g *grid) least(n int) []box {
	all := g.best()
	if g.turnEach && g.fromBlocks == nil {
		last := len(g.xs) - 1
		for j := range g.ys {
			if int(g.get(int32(last), int32(j))) >= n {
				all = g.build(nil, last, j, 0, 0)
				break
			}
		}
	}
	slices.SortFunc(all, readingOrder)
	return all[:n]
}

func readingOrder(a, b box) int { return cmp.Or(a.y-b.y, a.x-b.x) }

func (g *grid) build(out []box, i, j, x, y int) []box {
	c := g.how[i*len(g.ys)+j]
	x1, x2, y1, y2 := int(c.x1), int(c.x2), int(c.y1), int(c.y2)
	switch c.kind {
	case cutAcross:
		out = g.build(out, x1, j, x, y)
		return g.build(out, int(g.lessX[i][x1]), j, x+g.xs[x1], y)
	case cutDown:
		out = g.build(out, i, y1, x, y)
		return g.build(out, i, int(g.lessY[j][y1]), x, y+g.ys[y1])
	case pinwheel:
		out = g.build(out, x2, y1, x, y)
		out = g.build(out, int(g.lessX[i][x2]), y2, x+g.xs[x2], y)
		out = g.build(out, int(g.lessX[i][x1]), int(g.lessY[j][y2]), x+g.xs[x1], y+g.ys[y2])
		out = g.build(out, x1, int(g.lessY[j][y1]), x, y+g.ys[y1])
		return g.build(out, int(g.lessX[x2][x1]), int(g.lessY[y2][y1]), x+g.xs[x1], y+g.ys[y1])
	}
	return g.rows(out, x, y, size{g.xs[i], g.ys[j]}, c.kind == rowsTurned)
}

// rows fills a part with pieces of one direction.
func (g *grid) rows(out []box, x, y int, part size, turned bool) []box {
	piece := g.piece
	if turned {
		piece = piece.turned()
	}
	return block(out, box{g.design, x, y, piece, turned}, part.w/piece.w, part.h/piece.h)
}

// block is columns x rows of a box, the first where it lies.
func block(out []box, first box, columns, rows int) []box {
	for r := range rows {
		for c := range columns {
			b := first
			b.x, b.y = first.x+c*first.w, first.y+r*first.h
			out = append(out, b)
		}
	}
	return out
}

// twoBlocks is for pieces so small that thousands fit: two blocks of rows of different directions, side by side or one above the
// other, at every place where a row of the first ends.
func twoBlocks(design int, piece, area size) []box {
	var best []box
	try := func(split, first, second size, turned bool) {
		if n := count(first, split) + count(second, rest(area, split)); n > len(best) {
			best = block(nil, box{design, 0, 0, first, turned}, split.w/first.w, split.h/first.h)
			corner := box{design, split.w, 0, second, !turned}
			if split.w == area.w {
				corner.x, corner.y = 0, split.h
			}
			r := rest(area, split)
			best = block(best, corner, r.w/second.w, r.h/second.h)
		}
	}
	for _, turned := range []bool{false, true} {
		first := piece
		if turned {
			first = piece.turned()
		}
		for w := 0; w <= area.w; w += first.w {
			try(size{w, area.h}, first, first.turned(), turned)
		}
		for h := 0; h <= area.h; h += first.h {
			try(size{area.w, h}, first, first.turned(), turned)
		}
	}
	return best
}

// rest is what a part from edge to edge leaves of an area.
func rest(area, part size) size {
	if part.h == area.h {
		return size{area.w - part.w, area.h}
	}
	return size{area.w, area.h - part.h}
}
