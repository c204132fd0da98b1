package raster

import (
	"image"
	"slices"
	"sync"
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
	// Tint gives the coverage that a partly transparent pixel would have if it were opaque, and 0 for every other pixel. It tells
	// a fine line of a light colour from one that does not fill its pixels. It may be nil.
	Tint func(p image.Point) uint8
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
	edgeMarginPx = 1.3
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
	pieces := findCandidates(q, radius)
	found := make([][]*Feature, len(pieces.end))
	each(len(found), 16, func() func(i int) {
		m := newMeter(q)
		return func(i int) {
			m.alone = pieces.alone[i]
			found[i] = m.measure(pieces.piece(i))
		}
	})
	return mergeAtJoints(q, radius, slices.Concat(found...))
}

// mergeAtJoints joins features that meet at a crossing: a piece of the opened mask hardly larger than the disc itself.
func mergeAtJoints(q ThinQuery, radius float64, found []*Feature) []Feature {
	parent := make([]int32, len(found))
	for i := range parent {
		parent[i] = int32(i)
	}
	owners := newOwners(found, q.Mask.H)
	small := SmallQuery{Mask: q.Mask, Connectivity: Four, LargestPx: int(2*radius*1.6) + 2}
	var mu sync.Mutex
	eachBand(q.Mask.H, newDisc(radius).bandRows(4), func() func(i, y0, y1 int) {
		t, joints := newThinner(q, radius), newSmallFinder(small)
		return func(_, y0, y1 int) {
			if top, end := joints.window(y0, y1); owners.any(top-jointPx, end+jointPx) {
				joints.find(t.open(top, end), y0, y1, func(_ Component, runs []Run) {
					mu.Lock()
					defer mu.Unlock()
					owners.join(parent, runs)
				})
			}
		}
	})
	return gather(parent, found)
}

// jointPx is how far, across and down, a thin piece may end from the joint that it leads to.
const jointPx = 2

// owners tell which feature a pixel belongs to.
type owners struct {
	runs []Run   // in order of rows, then columns; Component is the feature
	row  []int32 // by row: where its runs begin; one more entry ends the last
}

func newOwners(found []*Feature, h int) *owners {
	o := &owners{row: make([]int32, h+1)}
	n := 0
	for _, f := range found {
		n += len(f.Runs)
		for _, r := range f.Runs {
			o.row[r.Y]++
		}
	}
	total := int32(0)
	for y, k := range o.row {
		o.row[y] = total // where its runs begin
		total += k
	}
	o.runs = make([]Run, n)
	at := slices.Clone(o.row)
	for i, f := range found {
		for _, r := range f.Runs {
			r.Component = int32(i)
			o.runs[at[r.Y]] = r
			at[r.Y]++
		}
	}
	Bands(h, bandRows, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			slices.SortFunc(o.runs[o.row[y]:o.row[y+1]], func(a, b Run) int { return int(a.X0 - b.X0) })
		}
	})
	return o
}

// any reports whether there are runs in rows y0 to y1-1, as far as they exist.
func (o *owners) any(y0, y1 int) bool {
	return o.row[max(0, y0)] < o.row[min(y1, len(o.row)-1)]
}

// join unites the features that a joint touches.
func (o *owners) join(parent []int32, joint []Run) {
	first := int32(-1)
	for _, r := range joint {
		for y := max(0, int(r.Y)-jointPx); y <= min(int(r.Y)+jointPx, len(o.row)-2); y++ {
			row := o.runs[o.row[y]:o.row[y+1]]
			at, _ := slices.BinarySearchFunc(row, r.X0-jointPx, func(o Run, x int32) int { return int(o.X1 - x) })
			for _, own := range row[at:] {
				if own.X0 > r.X1+jointPx {
					break
				}
				if first < 0 {
					first = own.Component
				}
				union(parent, first, own.Component)
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
