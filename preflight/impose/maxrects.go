package impose

import (
	"cmp"
	"slices"
)

// rect is a free part of a sheet. Free parts may overlap; none lies within another.
type rect struct {
	x, y int
	size
}

// bin is a sheet being filled by the maximal rectangles method: what is free is kept as all the largest rectangles that hold nothing
// (Jylänki, A Thousand Ways to Pack the Bin, 2010, section 2; from memory).
type bin struct {
	free, cut, spare []rect // cut and spare hold nothing between calls
	placed           []box
}

func newBin(area size) *bin { return &bin{free: []rect{{0, 0, area}}} }

// rule weighs a place for a piece of size s in a free part; the least weight wins, the second number decides between equals.
type rule func(r rect, s size) (first, second int)

// The rules of the same source: least left on the shorter side, on the longer side, by area, and nearest to the top.
var rules = []rule{
	func(r rect, s size) (int, int) { return min(r.w-s.w, r.h-s.h), max(r.w-s.w, r.h-s.h) },
	func(r rect, s size) (int, int) { return max(r.w-s.w, r.h-s.h), min(r.w-s.w, r.h-s.h) },
	func(r rect, s size) (int, int) { return r.area() - s.area(), min(r.w-s.w, r.h-s.h) },
	func(r rect, s size) (int, int) { return r.y + s.h, r.x },
}

// facing says in which directions copies of a design may lie.
type facing struct{ upright, turned bool }

// put places a piece where the rule likes it best and reports whether there is room.
func (b *bin) put(design int, piece size, f facing, weigh rule) bool {
	var best box
	found, first, second := false, 0, 0
	try := func(s size, turned bool) {
		for _, r := range b.free {
			if s.within(r.size) {
				p, q := weigh(r, s)
				if !found || p < first || p == first && q < second {
					found, first, second, best = true, p, q, box{design, r.x, r.y, s, turned}
				}
			}
		}
	}
	if f.upright {
		try(piece, false)
	}
	if f.turned {
		try(piece.turned(), true)
	}
	if found {
		b.placed = append(b.placed, best)
		b.take(rect{best.x, best.y, best.size})
	}
	return found
}

// take cuts a rectangle out of all free parts.
func (b *bin) take(t rect) {
	kept, cut := b.spare[:0], b.cut[:0]
	for _, r := range b.free {
		if !r.overlaps(t) {
			kept = append(kept, r)
			continue
		}
		if d := t.x - r.x; d > 0 {
			cut = append(cut, rect{r.x, r.y, size{d, r.h}})
		}
		if d := r.x + r.w - t.x - t.w; d > 0 {
			cut = append(cut, rect{t.x + t.w, r.y, size{d, r.h}})
		}
		if d := t.y - r.y; d > 0 {
			cut = append(cut, rect{r.x, r.y, size{r.w, d}})
		}
		if d := r.y + r.h - t.y - t.h; d > 0 {
			cut = append(cut, rect{r.x, t.y + t.h, size{r.w, d}})
		}
	}
	// What was whole before lies in no other part; only the new ones can.
	whole := len(kept)
	for i, c := range cut {
		inside := slices.ContainsFunc(kept[:whole], c.inside)
		for k, other := range cut {
			inside = inside || k != i && c.inside(other) && (c != other || k < i)
		}
		if !inside {
			kept = append(kept, c)
		}
	}
	b.free, b.cut, b.spare = kept, cut, b.free
}

func (r rect) overlaps(t rect) bool {
	return r.x < t.x+t.w && t.x < r.x+r.w && r.y < t.y+t.h && t.y < r.y+r.h
}

func (r rect) inside(t rect) bool {
	return r.x >= t.x && r.y >= t.y && r.x+r.w <= t.x+t.w && r.y+r.h <= t.y+t.h
}

// pack puts pieces, given by their designs, one after the other onto the first sheet with room.
func (j *job) pack(order []int, facings []facing, weigh rule) [][]box {
	var bins []*bin
	from := make([]int, len(j.pieces)) // the first sheet that may still have room for a design: sheets only fill up
	for _, d := range order {
		for {
			if from[d] == len(bins) {
				bins = append(bins, newBin(j.area))
			}
			if bins[from[d]].put(d, j.pieces[d], facings[d], weigh) {
				break
			}
			from[d]++
		}
	}
	out := make([][]box, len(bins))
	for i, b := range bins {
		out[i] = b.placed
	}
	return out
}

// sortKeys give the orders in which pieces are tried, the largest first.
var sortKeys = []func(s size) int{
	size.area,
	func(s size) int { return max(s.w, s.h) },
	func(s size) int { return s.w + s.h },
	func(s size) int { return min(s.w, s.h) },
	func(s size) int { return s.h },
	func(s size) int { return s.w },
}

// ordered lists each design as often as it is wanted, the largest by key first.
func (j *job) ordered(counts []int, key func(s size) int) []int {
	var order []int
	for d, n := range counts {
		for range n {
			order = append(order, d)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(key(j.pieces[b]), key(j.pieces[a])) })
	return order
}
