package raster

import (
	"image"
	"math/bits"
	"slices"
)

// Connectivity says which neighbours join: 4 (edges) or 8 (edges and corners). Ink takes 8 where background takes 4 and
// the other way round, never the same for both (Rosenfeld, Connectivity in digital pictures, J. ACM 17, 1970; from memory).
type Connectivity int

// The two connectivities.
const (
	Four  Connectivity = 4
	Eight Connectivity = 8
)

// Run is one unbroken row of set pixels, X0 to X1-1, of one component.
type Run struct {
	Y, X0, X1 int32
	Component int32
}

// Component is one connected piece of a mask.
type Component struct {
	Box    image.Rectangle
	AreaPx int
}

// Components are the connected pieces of a mask: every run from top to bottom and left to right, and one entry a piece,
// in the order of their first runs.
type Components struct {
	Runs []Run
	List []Component
}

// FindComponents labels the connected pieces of a mask by union of overlapping runs, in bands that are joined at their seams.
func FindComponents(b *Bitmap, c Connectivity) *Components {
	bands := make([]labelled, bandCount(b.H, bandRows))
	from := make([]int, len(bands)+1) // the first run of each band
	eachBand(b.H, bandRows, func() func(i, y0, y1 int) {
		return func(i, y0, y1 int) { from[i+1] = countRuns(b.rows(y0, y1)) }
	})
	for i := range bands {
		from[i+1] += from[i]
	}
	out := &Components{Runs: make([]Run, from[len(bands)])}
	eachBand(b.H, bandRows, func() func(i, y0, y1 int) {
		return func(i, y0, y1 int) {
			bands[i].labels = newLabels(c)
			bands[i].keep(b.rows(y0, y1), out.Runs[from[i]:from[i]:from[i+1]], nil)
		}
	})
	out.List, _ = joinBands(bands)
	each(len(bands), 1, func() func(i int) {
		return func(i int) { bands[i].rename() }
	})
	return out
}

// ListComponents returns the connected pieces of a mask as FindComponents lists them, but keeps no runs. weigh, unless it is nil,
// is called for every run, on all processors, and the sums of what it returns come back by piece.
func ListComponents(b *Bitmap, c Connectivity, weigh func(y, x0, x1 int) int) (list []Component, weights []int) {
	bands := make([]labelled, bandCount(b.H, bandRows))
	eachBand(b.H, bandRows, func() func(i, y0, y1 int) {
		own := newLabels(c) // of one worker, which grow but once
		return func(i, y0, y1 int) {
			own.reset()
			bands[i].labels = own
			bands[i].pass(b.rows(y0, y1), weigh)
			own = bands[i].labels
			bands[i].settle()
		}
	})
	return joinBands(bands)
}

// countRuns returns the number of runs in a strip.
func countRuns(s strip) int {
	n := 0
	for y := range s.H {
		fill := uint64(0) // what a word is that goes on as the one before ended
		for _, w := range s.Row(y) {
			if w != fill {
				n += bits.OnesCount64(w &^ (w<<1 | fill&1))
				fill = -(w >> 63)
			}
		}
	}
	return n
}

// appendRuns appends the runs of row y.
func appendRuns(runs []Run, row []uint64, y int) []Run {
	open, fill := int32(-1), uint64(0) // a word that is all fill goes on as the one before ended
	for i, w := range row {
		if w == fill {
			continue
		}
		change := w ^ (w<<1 | fill&1)
		fill = -(w >> 63)
		for ; change != 0; change &= change - 1 {
			x := int32(i*64 + bits.TrailingZeros64(change))
			if open < 0 {
				open = x
				continue
			}
			runs = append(runs, Run{Y: int32(y), X0: open, X1: x})
			open = -1
		}
	}
	if open >= 0 {
		runs = append(runs, Run{Y: int32(y), X0: open, X1: int32(len(row) * 64)})
	}
	return runs
}

// labels are the pieces found so far in rows that come from top to bottom. A run's Component is a label; labels that turn out to
// be of one piece are united, the lowest standing for all.
type labels struct {
	reach  int32 // how far apart the ends of two runs in neighbouring rows may be
	parent []int32
	pieces []piece
}

// piece is what is known of a label.
type piece struct {
	x0, y0, x1, y1 int32
	area, weight   int
}

func newLabels(c Connectivity) labels {
	if c == Eight {
		return labels{reach: 1}
	}
	return labels{}
}

func (l *labels) reset() { l.parent, l.pieces = l.parent[:0], l.pieces[:0] }

// add labels the runs of a row; above are those of the row above it, labelled.
func (l *labels) add(above, row []Run) {
	for j := range row {
		r := &row[j]
		for len(above) > 0 && above[0].X1+l.reach <= r.X0 {
			above = above[1:]
		}
		if len(above) == 0 || above[0].X0 >= r.X1+l.reach {
			r.Component = int32(len(l.parent))
			l.parent = append(l.parent, r.Component)
			l.pieces = append(l.pieces, piece{r.X0, r.Y, r.X1, r.Y + 1, int(r.X1 - r.X0), 0})
			continue
		}
		r.Component = above[0].Component
		for _, a := range above[1:] {
			if a.X0 >= r.X1+l.reach {
				break
			}
			if a.Component != r.Component {
				union(l.parent, a.Component, r.Component)
			}
		}
		p := &l.pieces[r.Component]
		p.x0, p.x1, p.y1 = min(p.x0, r.X0), max(p.x1, r.X1), r.Y+1
		p.area += int(r.X1 - r.X0)
	}
}

// fold gathers what is known of united labels in the lowest of each and makes that the parent of all.
func (l *labels) fold() {
	for i := range l.parent {
		root := l.parent[l.parent[i]]
		l.parent[i] = root
		if root != int32(i) {
			l.pieces[root].take(l.pieces[i])
		}
	}
}

func (p *piece) take(o piece) {
	p.x0, p.y0, p.x1, p.y1 = min(p.x0, o.x0), min(p.y0, o.y0), max(p.x1, o.x1), max(p.y1, o.y1)
	p.area, p.weight = p.area+o.area, p.weight+o.weight
}

func (p piece) box() image.Rectangle { return image.Rect(int(p.x0), int(p.y0), int(p.x1), int(p.y1)) }

func find(parent []int32, i int32) int32 {
	for parent[i] != i {
		parent[i] = parent[parent[i]]
		i = parent[i]
	}
	return i
}

func union(parent []int32, a, b int32) {
	ra, rb := find(parent, a), find(parent, b)
	if ra < rb {
		parent[rb] = ra
	} else {
		parent[ra] = rb
	}
}

// labelled is a band of rows whose runs are labelled.
type labelled struct {
	labels
	runs        []Run
	first, last []Run   // the runs of the first and last row
	number      []int32 // of the piece that a label stands for, once the bands are joined
}

// keep labels the runs of a strip and keeps them all, in the memory of runs if that is enough.
func (b *labelled) keep(s strip, runs []Run, weigh func(y, x0, x1 int) int) {
	above := 0
	for y := s.y0; y < s.y1(); y++ {
		row := len(runs)
		runs = appendRuns(runs, s.Row(y-s.y0), y)
		b.add(runs[above:row], runs[row:])
		b.weigh(runs[row:], weigh)
		if y == s.y0 {
			b.first = runs
		}
		above = row
	}
	b.runs, b.last = runs, runs[above:]
}

// pass labels the runs of a strip and keeps those of its first and last row.
func (b *labelled) pass(s strip, weigh func(y, x0, x1 int) int) {
	var row []Run
	for y := s.y0; y < s.y1(); y++ {
		row = appendRuns(row[:0], s.Row(y-s.y0), y)
		b.add(b.last, row)
		b.weigh(row, weigh)
		if y == s.y0 {
			b.first = slices.Clone(row)
		}
		b.last, row = row, b.last
	}
}

// settle leaves one label for each piece, in memory of its own.
func (b *labelled) settle() {
	b.fold()
	n := int32(0)
	for i, root := range b.parent {
		if int32(i) == root {
			b.parent[i], b.pieces[n] = n, b.pieces[i]
			n++
		} else {
			b.parent[i] = b.parent[root] // lower, so it has its number already
		}
	}
	for _, row := range [][]Run{b.first, b.last} {
		for i := range row {
			row[i].Component = b.parent[row[i].Component]
		}
	}
	b.pieces, b.parent = slices.Clone(b.pieces[:n]), make([]int32, n)
	for i := range b.parent {
		b.parent[i] = int32(i)
	}
}

func (b *labelled) weigh(row []Run, weigh func(y, x0, x1 int) int) {
	if weigh != nil {
		for _, r := range row {
			b.pieces[r.Component].weight += weigh(int(r.Y), int(r.X0), int(r.X1))
		}
	}
}

// rename puts the number of its piece in every run.
func (b *labelled) rename() {
	for i := range b.runs {
		b.runs[i].Component = b.number[b.runs[i].Component]
	}
}

// joinBands numbers the pieces of consecutive bands in the order of their first runs and returns them, with their weights.
func joinBands(bands []labelled) (list []Component, weights []int) {
	total := 0
	for i := range bands {
		total += len(bands[i].parent)
	}
	parent := make([]int32, 0, total)
	for i := range bands {
		b, base := &bands[i], int32(len(parent))
		for _, p := range b.parent {
			parent = append(parent, base+p)
		}
		b.number = parent[base:]
		if i > 0 {
			up := &bands[i-1]
			seam(parent, up.last, b.first, base-int32(len(up.parent)), base, b.reach)
		}
	}
	roots := 0
	for i, p := range parent {
		if int32(i) == p {
			roots++
		}
	}
	list, weights = make([]Component, 0, roots), make([]int, roots)
	at := 0
	for i := range bands {
		for _, p := range bands[i].pieces {
			if parent[at] == int32(at) {
				parent[at] = int32(len(list))
				list = append(list, Component{Box: p.box(), AreaPx: p.area})
			} else {
				parent[at] = parent[parent[at]] // of a lower label, so it has its number already
				c := &list[parent[at]]
				c.Box, c.AreaPx = c.Box.Union(p.box()), c.AreaPx+p.area
			}
			weights[parent[at]] += p.weight
			at++
		}
		bands[i].labels = labels{}
	}
	return list, weights
}

// seam unites the labels of runs that touch across the seam of two bands; their labels count from base.
func seam(parent []int32, above, below []Run, aboveBase, belowBase, reach int32) {
	for len(above) > 0 && len(below) > 0 {
		a, b := above[0], below[0]
		if a.X0 < b.X1+reach && b.X0 < a.X1+reach {
			union(parent, aboveBase+a.Component, belowBase+b.Component)
		}
		if a.X1 < b.X1 {
			above = above[1:]
		} else {
			below = below[1:]
		}
	}
}

// Enclosed returns the pieces of a mask that do not touch its border.
func Enclosed(b *Bitmap, c Connectivity) *Bitmap {
	out := NewBitmap(b.W, b.H)
	inner := image.Rect(1, 1, b.W-1, b.H-1)
	comps := FindComponents(b, c)
	for _, r := range comps.Runs {
		if comps.List[r.Component].Box.In(inner) {
			out.SetRun(int(r.Y), int(r.X0), int(r.X1))
		}
	}
	return out
}
