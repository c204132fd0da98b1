package raster

import (
	"image"
	"slices"
)

// The slow, obvious twins of what works by words, bands and edges.

// slowDilate counts, for every row of the disc, the set pixels that the row covers. What lies beyond the mask is set if outside is.
func slowDilate(b *Bitmap, radius float64, outside bool) *Bitmap {
	out := NewBitmap(b.W, b.H)
	r := int(radius)
	before := make([][]int, b.H+2*r) // set pixels left of a column, by row, from r above the mask to r below it
	for i := range before {
		before[i] = make([]int, b.W+2*r+1)
		for x := range b.W + 2*r {
			before[i][x+1] = before[i][x]
			if p := image.Pt(x-r, i-r); b.At(p.X, p.Y) || outside && !p.In(image.Rect(0, 0, b.W, b.H)) {
				before[i][x+1]++
			}
		}
	}
	for dy := -r; dy <= r; dy++ {
		half := 0
		for float64((half+1)*(half+1)+dy*dy) <= radius*radius {
			half++
		}
		for y := range b.H {
			row := before[y+dy+r]
			for x := range b.W {
				if row[x+r+half+1] > row[x+r-half] {
					out.Set(x, y)
				}
			}
		}
	}
	return out
}

func slowErode(b *Bitmap, radius float64, outside bool) *Bitmap {
	return slowNot(slowDilate(slowNot(b), radius, !outside))
}

func slowOpen(b *Bitmap, radius float64, outside bool) *Bitmap {
	return slowDilate(slowErode(b, radius, outside), radius, false)
}

func slowNot(b *Bitmap) *Bitmap {
	return slowly(b, b, func(p, _ bool) bool { return !p })
}

// slowly combines two masks pixel by pixel.
func slowly(a, b *Bitmap, op func(p, q bool) bool) *Bitmap {
	out := NewBitmap(a.W, a.H)
	for y := range a.H {
		for x := range a.W {
			if op(a.At(x, y), b.At(x, y)) {
				out.Set(x, y)
			}
		}
	}
	return out
}

func slowAndNot(a, b *Bitmap) *Bitmap {
	return slowly(a, b, func(p, q bool) bool { return p && !q })
}

// slowPieces fills the connected pieces of a mask pixel by pixel, in the order of their first pixels.
func slowPieces(b *Bitmap, c Connectivity) (list []Component, runs [][]Run) {
	left, own := b.Clone(), NewBitmap(b.W, b.H)
	for y := range b.H {
		for x := range b.W {
			if !left.At(x, y) {
				continue
			}
			var box image.Rectangle
			todo := []image.Point{{X: x, Y: y}}
			left.ClearRun(y, x, x+1)
			for len(todo) > 0 {
				p := todo[len(todo)-1]
				todo = todo[:len(todo)-1]
				own.Set(p.X, p.Y)
				box = box.Union(image.Rect(p.X, p.Y, p.X+1, p.Y+1))
				for dy := -1; dy <= 1; dy++ {
					for dx := -1; dx <= 1; dx++ {
						if q := p.Add(image.Pt(dx, dy)); left.At(q.X, q.Y) && (c == Eight || dx*dy == 0) {
							left.ClearRun(q.Y, q.X, q.X+1)
							todo = append(todo, q)
						}
					}
				}
			}
			list = append(list, Component{Box: box, AreaPx: own.CountIn(box)})
			runs = append(runs, slowRuns(own, box))
			for _, r := range runs[len(runs)-1] {
				own.ClearRun(int(r.Y), int(r.X0), int(r.X1))
			}
		}
	}
	return list, runs
}

func slowRuns(b *Bitmap, box image.Rectangle) []Run {
	var out []Run
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			switch {
			case !b.At(x, y):
			case b.At(x-1, y):
				out[len(out)-1].X1++
			default:
				out = append(out, Run{Y: int32(y), X0: int32(x), X1: int32(x + 1)})
			}
		}
	}
	return out
}

// slowCandidates works on whole masks what FindThin works out band by band.
func slowCandidates(q ThinQuery) (opened *Bitmap, runs [][]Run, alone []bool) {
	opened = slowOpen(q.Mask, q.LimitPx/2+edgeMarginPx, q.Gap)
	residue := slowAndNot(q.Mask, opened)
	deep := slowAndNot(residue, slowDilate(opened, fuzzPx, false))
	near := slowDilate(deep, fuzzPx+1, false)
	list, all := slowPieces(slowly(residue, near, func(p, q bool) bool { return p && q }), Eight)
	for i, piece := range all {
		n := 0
		for _, r := range piece {
			n += deep.CountIn(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
		}
		if n > 0 {
			runs, alone = append(runs, piece), append(alone, n == list[i].AreaPx)
		}
	}
	return opened, runs, alone
}

// slowThin is FindThin on whole masks; parts is the number of features before those that meet at a crossing are joined.
func slowThin(q ThinQuery) (features []Feature, parts int) {
	opened, runs, alone := slowCandidates(q)
	var found []*Feature
	m := newMeter(q)
	for i := range runs {
		m.alone = alone[i]
		found = append(found, m.measure(runs[i])...)
	}
	parent := make([]int32, len(found))
	for i := range parent {
		parent[i] = int32(i)
	}
	largest := int(2*(q.LimitPx/2+edgeMarginPx)*1.6) + 2
	joints, jointRuns := slowPieces(opened, Four)
	for i, j := range joints {
		if j.Box.Dx() > largest || j.Box.Dy() > largest {
			continue
		}
		first := -1
		for k, f := range found {
			if !slowlyNear(jointRuns[i], f.Runs) {
				continue
			}
			if first < 0 {
				first = k
			}
			union(parent, int32(first), int32(k))
		}
	}
	return gather(parent, found), len(found)
}

func slowlyNear(a, b []Run) bool {
	return slices.ContainsFunc(a, func(p Run) bool {
		return slices.ContainsFunc(b, func(q Run) bool {
			return max(p.Y-q.Y, q.Y-p.Y) <= jointPx && q.X0 <= p.X1+jointPx && q.X1 >= p.X0-jointPx
		})
	})
}
