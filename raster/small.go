package raster

import "slices"

// SmallQuery asks for the connected pieces of a mask that are small.
type SmallQuery struct {
	Mask         *Bitmap
	Inverted     bool // look for pieces of what is not set
	Connectivity Connectivity
	LargestPx    int // width and height of the largest box
}

// FindSmall calls visit for every connected piece of a mask whose box is no larger than asked for, on all processors, and returns
// what visit says to keep, in the order of the pieces' first runs. The runs, from top to bottom, are only lent. Memory is that of
// a few bands of rows, whatever else the mask holds.
func FindSmall[T any](q SmallQuery, visit func(c Component, runs []Run) (T, bool)) []T {
	kept := make([][]T, bandCount(q.Mask.H, q.bandRows()))
	eachBand(q.Mask.H, q.bandRows(), func() func(i, y0, y1 int) {
		f := newSmallFinder(q)
		return func(i, y0, y1 int) {
			f.find(q.Mask.rows(f.window(y0, y1)), y0, y1, func(c Component, runs []Run) {
				if v, ok := visit(c, runs); ok {
					kept[i] = append(kept[i], v)
				}
			})
		}
	})
	return slices.Concat(kept...)
}

func (q SmallQuery) bandRows() int { return max(bandRows, 8*q.LargestPx) }

// smallFinder finds small pieces band by band; it is the scratch of one worker.
type smallFinder struct {
	q      SmallQuery
	labels labels
	not    []uint64 // the complement of a row
	runs   []Run
	end    []int32 // by label: where in sorted its piece's runs end
	sorted []Run
}

func newSmallFinder(q SmallQuery) *smallFinder {
	return &smallFinder{q: q, labels: newLabels(q.Connectivity), not: make([]uint64, q.Mask.Stride)}
}

// window returns the rows that must be seen to know the small pieces that begin in rows y0 to y1-1.
func (f *smallFinder) window(y0, y1 int) (int, int) { return y0 - 1, y1 + f.q.LargestPx }

// find visits the small pieces that begin in rows y0 to y1-1 of a strip. One that is cut off by the strip's first row begins
// above y0, one cut off by its last row is too high.
func (f *smallFinder) find(s strip, y0, y1 int, visit func(c Component, runs []Run)) {
	f.label(s)
	f.sort(y0, y1)
	at := int32(0)
	for i, end := range f.end {
		if end > at {
			p := f.labels.pieces[i]
			visit(Component{Box: p.box(), AreaPx: p.area}, f.sorted[at:end])
			at = end
		}
	}
}

func (f *smallFinder) label(s strip) {
	f.labels.reset()
	f.runs = f.runs[:0]
	above := 0
	for y := s.y0; y < s.y1(); y++ {
		begin, row := len(f.runs), s.Row(y-s.y0)
		if f.q.Inverted {
			invert(f.not, row, s.W)
			row = f.not
		}
		f.runs = appendRuns(f.runs, row, y)
		f.labels.add(f.runs[above:begin], f.runs[begin:])
		above = begin
	}
	f.labels.fold()
}

// sort gathers the runs of the pieces wanted, piece by piece.
func (f *smallFinder) sort(y0, y1 int) {
	n := len(f.labels.parent)
	f.end = slices.Grow(f.end[:0], n)[:n]
	clear(f.end)
	for i := range f.runs {
		r := &f.runs[i]
		r.Component = f.labels.parent[r.Component]
		if f.wanted(r.Component, y0, y1) {
			f.end[r.Component]++
		} else {
			r.Component = -1
		}
	}
	total := int32(0)
	for i, k := range f.end {
		f.end[i] = total // where its runs begin, until they are put there
		total += k
	}
	f.sorted = slices.Grow(f.sorted[:0], int(total))[:total]
	for _, r := range f.runs {
		if r.Component >= 0 {
			f.sorted[f.end[r.Component]] = r
			f.end[r.Component]++
		}
	}
}

func (f *smallFinder) wanted(label int32, y0, y1 int) bool {
	p, most := &f.labels.pieces[label], int32(f.q.LargestPx)
	return p.y0 >= int32(y0) && p.y0 < int32(y1) && p.y1-p.y0 <= most && p.x1-p.x0 <= most
}
