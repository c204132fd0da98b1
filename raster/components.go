package raster

import (
	"image"
	"math/bits"
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

// FindComponents labels the connected pieces of a mask by union of overlapping runs.
func FindComponents(b *Bitmap, c Connectivity) *Components {
	reach := int32(0)
	if c == Eight {
		reach = 1
	}
	var runs []Run
	var parent []int32
	prev0 := 0 // first run of the row above
	for y := range b.H {
		row0 := len(runs)
		runs = appendRuns(runs, b.Row(y), y)
		for i := row0; i < len(runs); i++ {
			runs[i].Component = int32(i)
			parent = append(parent, int32(i))
		}
		joinRows(runs, parent, prev0, row0, reach)
		prev0 = row0
	}
	return collect(runs, parent)
}

func appendRuns(runs []Run, row []uint64, y int) []Run {
	open := -1
	for i, w := range row {
		base := i * 64
		if open < 0 && w == 0 || open >= 0 && w == ^uint64(0) {
			continue
		}
		for at := 0; at < 64; {
			rest := w >> at
			if open < 0 {
				if rest == 0 {
					break
				}
				at += bits.TrailingZeros64(rest)
				open = base + at
				continue
			}
			n := bits.TrailingZeros64(^rest)
			if n >= 64-at {
				break
			}
			at += n
			runs = append(runs, Run{Y: int32(y), X0: int32(open), X1: int32(base + at)})
			open = -1
		}
	}
	if open >= 0 {
		runs = append(runs, Run{Y: int32(y), X0: int32(open), X1: int32(len(row) * 64)})
	}
	return runs
}

func joinRows(runs []Run, parent []int32, prev0, row0 int, reach int32) {
	if prev0 == row0 || row0 == len(runs) || runs[prev0].Y+1 != runs[row0].Y {
		return
	}
	i, j := prev0, row0
	for i < row0 && j < len(runs) {
		a, b := &runs[i], &runs[j]
		if a.X0 < b.X1+reach && b.X0 < a.X1+reach {
			union(parent, int32(i), int32(j))
		}
		if a.X1 < b.X1 {
			i++
		} else {
			j++
		}
	}
}

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

func collect(runs []Run, parent []int32) *Components {
	out := &Components{Runs: runs}
	label := make([]int32, len(runs))
	for i := range runs {
		r := &runs[i]
		root := find(parent, int32(i))
		if root == int32(i) {
			label[i] = int32(len(out.List))
			out.List = append(out.List, Component{Box: image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1)})
		}
		r.Component = label[root]
		c := &out.List[r.Component]
		c.AreaPx += int(r.X1 - r.X0)
		c.Box = c.Box.Union(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
	}
	return out
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

// ByComponent returns, for each component, the indexes of its runs from top to bottom.
func (c *Components) ByComponent() [][]int32 {
	counts := make([]int32, len(c.List)+1)
	for _, r := range c.Runs {
		counts[r.Component+1]++
	}
	for i := 1; i < len(counts); i++ {
		counts[i] += counts[i-1]
	}
	order := make([]int32, len(c.Runs))
	at := append([]int32(nil), counts...)
	for i, r := range c.Runs {
		order[at[r.Component]] = int32(i)
		at[r.Component]++
	}
	out := make([][]int32, len(c.List))
	for i := range out {
		out[i] = order[counts[i]:counts[i+1]]
	}
	return out
}
