package raster

import "image"

// candidates are the connected pieces of what an opening takes away from a mask and a digital disc would not, in the order of
// their first runs.
type candidates struct {
	runs  []Run   // piece by piece, each from top to bottom
	end   []int32 // by piece: where its runs end
	alone []bool  // by piece: it lies beside nothing wider
}

func (c *candidates) piece(i int) []Run {
	if i == 0 {
		return c.runs[:c.end[0]]
	}
	return c.runs[c.end[i-1]:c.end[i]]
}

// findCandidates works band by band on what would be these whole masks: residue, which the opening takes away; deep, what of it is
// out of reach, by fuzzPx, of what it leaves; pieces, what of the residue is within fuzzPx + 1 of deep: what a digital disc leaves
// along an edge would string the notches of a whole outline together.
func findCandidates(q ThinQuery, radius float64) *candidates {
	rows := newDisc(radius).bandRows(2)
	bands := make([]labelled, bandCount(q.Mask.H, rows))
	eachBand(q.Mask.H, rows, func() func(i, y0, y1 int) {
		t := newThinner(q, radius)
		return func(i, y0, y1 int) {
			bands[i].labels = newLabels(Eight)
			pieces, deep, ok := t.band(y0, y1)
			if !ok {
				return
			}
			bands[i].keep(pieces, make([]Run, 0, countRuns(pieces)), func(y, x0, x1 int) int {
				return deep.CountIn(image.Rect(x0, y-deep.y0, x1, y-deep.y0+1))
			})
		}
	})
	list, deepPx := joinBands(bands)
	return gatherCandidates(bands, list, deepPx)
}

// gatherCandidates puts the runs of each piece that has deep pixels together.
func gatherCandidates(bands []labelled, list []Component, deepPx []int) *candidates {
	c := &candidates{}
	index := make([]int32, len(list)) // by piece: the candidate, or -1
	for i, p := range list {
		index[i] = -1
		if deepPx[i] > 0 {
			index[i] = int32(len(c.alone))
			c.alone = append(c.alone, deepPx[i] == p.AreaPx)
		}
	}
	c.end = make([]int32, len(c.alone))
	for i := range bands {
		bands[i].rename()
		for _, r := range bands[i].runs {
			if k := index[r.Component]; k >= 0 {
				c.end[k]++
			}
		}
	}
	total := int32(0)
	for k, n := range c.end {
		c.end[k] = total // where its runs begin, until they are put there
		total += n
	}
	c.runs = make([]Run, total)
	for i := range bands {
		for _, r := range bands[i].runs {
			if k := index[r.Component]; k >= 0 {
				c.runs[c.end[k]] = r
				c.end[k]++
			}
		}
		bands[i] = labelled{}
	}
	return c
}

// thinner opens a mask and looks for candidates band by band; it is the scratch of one worker.
type thinner struct {
	q                 ThinQuery
	opening           *grower
	fuzz, join        *grower
	opened, rest, low scratch
}

func newThinner(q ThinQuery, radius float64) *thinner {
	return &thinner{
		q: q, opening: newDisc(radius).grower(q.Mask),
		fuzz: newDisc(fuzzPx).grower(q.Mask), join: newDisc(fuzzPx + 1).grower(q.Mask),
	}
}

// band returns the rows y0 to y1-1 of the pieces and, at least those, of what is deep; false if there are none.
func (t *thinner) band(y0, y1 int) (pieces, deep strip, ok bool) {
	reach := t.join.r
	opened := t.open(y0-reach-t.fuzz.r, y1+reach+t.fuzz.r)
	residue := t.rest.rows(opened, opened.y0, opened.y1())
	if !subtract(residue, t.q.Mask.rows(opened.y0, opened.y1()), opened) {
		return strip{}, strip{}, false
	}
	deep = t.low.rows(opened, y0-reach, y1+reach)
	t.fuzz.dilate(deep, opened)
	if !subtract(deep, residue.rows(deep.y0, deep.y1()), deep) {
		return strip{}, strip{}, false
	}
	pieces = opened.rows(y0, y1)
	t.join.dilate(pieces, deep)
	for i, w := range residue.rows(y0, y1).Words {
		pieces.Words[i] &= w
	}
	return pieces, deep, true
}

// open returns rows y0 to y1-1 of the opened mask.
func (t *thinner) open(y0, y1 int) strip {
	opened := t.opened.rows(t.q.Mask.rows(y0, y1), y0, y1)
	t.opening.open(opened, t.q.Mask, t.q.Gap)
	return opened
}

// subtract writes the pixels of a that are not in b and reports whether there are any; dst may be either of them.
func subtract(dst, a, b strip) bool {
	any, p, q := uint64(0), a.Words, b.Words
	for i := range dst.Words {
		w := p[i] &^ q[i]
		dst.Words[i] = w
		any |= w
	}
	return any != 0
}
