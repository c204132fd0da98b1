package raster

import (
	"image"
	"slices"
)

// Coverage fills dst with the coverage of every pixel of r, row by row; r lies within the picture.
type Coverage func(dst []uint8, r image.Rectangle)

// ThinQuery asks for the places where a shape, or the gap between shapes, is thinner than a limit.
type ThinQuery struct {
	// Mask holds every pixel that may belong to the shape (or the gap), edge pixels of partial coverage included.
	Mask *Bitmap
	// Coverage of the shape. For gaps it is the coverage of what lies on both sides, as printed.
	Coverage Coverage
	// LimitPx is the least width that is safe.
	LimitPx float64
	// Gap asks for gaps: Mask is then what is not solid, and what lies beyond the picture is gap too.
	Gap bool
	// Blend reports whether the picture along a path is only a passage from what it is at the path's start to what it is at its
	// end, as antialiasing leaves between two colours that touch; such a place is no line and no gap. It may be nil.
	Blend func(path []image.Point) bool
}

// Feature is one connected piece that is thinner than the limit.
type Feature struct {
	Box       image.Rectangle // the pixels that are too thin
	WidthPx   float64         // least width, robust against the noise of single samples
	TypicalPx float64         // median width of what is too thin
	LengthPx  float64
	AreaPx    float64 // coverage of what is too thin, in whole pixels
	Runs      []Run   // the pixels that are too thin; Component is not meaningful
}

const (
	// edgeMarginPx is how much wider than its true width a shape can look in a mask that takes in every edge pixel of at
	// least a tenth coverage, to each side, with the digital disc's own error; TestThinAccuracy holds it to that.
	edgeMarginPx = 1.1
	// fuzzPx is the depth of what a digital disc leaves along a smooth edge that is not thin at all.
	fuzzPx = 1.5
)

// FindThin returns the features of a mask that are thinner than the limit, in order of their first pixel. Candidates are what
// an opening by a disc a little wider than the limit removes; each is then measured from coverage, along the shortest chord
// through points of its ridge, which gives local thickness (Hildebrand and Rüegsegger, J. Microscopy 185, 1997) to a
// fraction of a pixel. Crossings and joins too small to be shapes of their own do not split a feature.
func FindThin(q ThinQuery) []Feature {
	if q.LimitPx <= 0 || q.Mask.W == 0 || q.Mask.H == 0 {
		return nil
	}
	radius := q.LimitPx/2 + edgeMarginPx
	opened := Open(q.Mask, radius, q.Gap)
	residue := AndNot(q.Mask, opened)
	deep := AndNot(residue, Dilate(opened, fuzzPx))
	// What a digital disc leaves along an edge would string the notches of a whole outline together.
	pieces := FindComponents(And(residue, Dilate(deep, fuzzPx+1)), Eight)
	runs := pieces.ByComponent()
	found := make([][]*Feature, len(pieces.List))
	each(len(pieces.List), 16, func() func(i int) {
		m := newMeter(q)
		return func(i int) {
			if n := count(deep, pieces.Runs, runs[i]); n > 0 {
				m.alone = n == pieces.List[i].AreaPx
				found[i] = m.measure(pieces.Runs, runs[i])
			}
		}
	})
	return mergeAtJoints(opened, radius, slices.Concat(found...))
}

// count returns how many pixels of a piece are set in a mask.
func count(b *Bitmap, runs []Run, which []int32) int {
	n := 0
	for _, i := range which {
		r := runs[i]
		n += b.CountIn(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
	}
	return n
}

// mergeAtJoints joins features that meet at a crossing: a piece of the opened mask hardly larger than the disc itself.
func mergeAtJoints(opened *Bitmap, radius float64, found []*Feature) []Feature {
	parent := make([]int32, len(found))
	for i := range parent {
		parent[i] = int32(i)
	}
	owner := newOwnerMap(found)
	if len(owner) > 0 {
		largest := int(2*radius*1.6) + 2
		joints := FindComponents(opened, Four)
		for i, rs := range joints.ByComponent() {
			if box := joints.List[i].Box; box.Dx() <= largest && box.Dy() <= largest {
				joinNeighbours(parent, owner, joints.Runs, rs)
			}
		}
	}
	return gather(parent, found)
}

// ownerMap tells which feature a pixel belongs to, by row.
type ownerMap map[int32][]Run

func newOwnerMap(found []*Feature) ownerMap {
	m := ownerMap{}
	for i, f := range found {
		for _, r := range f.Runs {
			r.Component = int32(i)
			m[r.Y] = append(m[r.Y], r)
		}
	}
	for _, rs := range m {
		slices.SortFunc(rs, func(a, b Run) int { return int(a.X0 - b.X0) })
	}
	return m
}

func joinNeighbours(parent []int32, owner ownerMap, runs []Run, which []int32) {
	const reachPx = 2 // a thin piece may end a pixel short of the joint
	first := int32(-1)
	for _, i := range which {
		r := runs[i]
		for y := r.Y - reachPx; y <= r.Y+reachPx; y++ {
			row := owner[y]
			at, _ := slices.BinarySearchFunc(row, r.X0-reachPx, func(o Run, x int32) int { return int(o.X1 - x) })
			for _, o := range row[at:] {
				if o.X0 > r.X1+reachPx {
					break
				}
				if first < 0 {
					first = o.Component
				}
				union(parent, first, o.Component)
			}
		}
	}
}

func gather(parent []int32, found []*Feature) []Feature {
	var out []Feature
	index := map[int32]int{}
	for i, f := range found {
		root := find(parent, int32(i))
		at, ok := index[root]
		if !ok {
			index[root] = len(out)
			out = append(out, *f)
			continue
		}
		out[at].add(f)
	}
	return out
}

func (f *Feature) add(g *Feature) {
	f.TypicalPx = (f.TypicalPx*f.LengthPx + g.TypicalPx*g.LengthPx) / (f.LengthPx + g.LengthPx)
	f.WidthPx = min(f.WidthPx, g.WidthPx)
	f.LengthPx += g.LengthPx
	f.AreaPx += g.AreaPx
	f.Box = f.Box.Union(g.Box)
	f.Runs = append(f.Runs, g.Runs...)
}
