// Package rows finds rows of shapes of like height in a picture, as the letters of a line are.
package rows

import (
	"cmp"
	"image"
	"math/bits"
	"slices"

	"peelcheck/raster"
)

const (
	// Least is how many shapes make a row that may be lettering.
	Least = 3
	// leastHeightPx is the height under which a letter has too few pixels to be told.
	leastHeightPx = 8
	// mostCandidates bounds how many shapes of a mask are put in rows, the largest.
	mostCandidates = 3000
	// closed is the radius by which narrow gaps are closed, as a share of the size of pieces: those between the pieces of a stencil's letters
	// and within hollow strokes go, those between most letters stay.
	closed = 0.04
	// mostClosedPx bounds the pixels of pictures in which gaps are closed, which takes time.
	mostClosedPx = 20e6
)

// Shape is a connected piece of one mask that may be a letter.
type Shape struct {
	Box    image.Rectangle
	AreaPx int
}

// Row is some shapes of like height that follow each other, the largest first. Along is true where it runs from left to right or back,
// false where it runs down or up.
type Row struct {
	Shapes []Shape
	Along  bool
	mask   *raster.Bitmap
}

// candidates are the pieces of a mask whose size and fill may be a letter's.
func candidates(mask *raster.Bitmap) []Shape {
	list, _ := raster.ListComponents(mask, raster.Eight, nil)
	most := max(mask.W, mask.H) * 6 / 10
	var out []Shape
	for _, c := range list {
		w, h := c.Box.Dx(), c.Box.Dy()
		long, short := max(w, h), min(w, h)
		if long < leastHeightPx || long > most || long > 16*short || c.AreaPx*12 < w*h {
			continue
		}
		out = append(out, Shape{c.Box, c.AreaPx})
	}
	if len(out) > mostCandidates { // the largest, and of those that are as large all or none
		slices.SortFunc(out, func(a, b Shape) int { return b.long() - a.long() })
		least := out[mostCandidates].long()
		out = slices.DeleteFunc(out, func(s Shape) bool { return s.long() <= least })
	}
	return out
}

// screened reports whether a mask is screened tone or grain rather than shapes.
func screened(m *raster.Bitmap) bool { return tooManyRuns(runsIn(m, 0, m.H), m.W*m.H) }

// tooManyRuns reports whether pixels are so full of short runs that they are screened tone: lettering, however small and dense, has one
// run in ten pixels.
func tooManyRuns(runs, pixels int) bool { return runs > pixels/8 }

// runsIn counts the runs of a mask in the rows from y0 to before y1.
func runsIn(m *raster.Bitmap, y0, y1 int) int {
	n := 0
	for y := y0; y < y1; y++ {
		carry := uint64(0)
		for _, w := range m.Row(y) {
			n += bits.OnesCount64(w &^ (w<<1 | carry))
			carry = w >> 63
		}
	}
	return n
}

func (s Shape) long() int { return max(s.Box.Dx(), s.Box.Dy()) }

// findRows groups the pieces of a mask into rows in both directions.
func findRows(mask *raster.Bitmap, least int) []Row {
	if screened(mask) {
		return nil
	}
	shapes := candidates(mask)
	if len(shapes) < least {
		return nil
	}
	return slices.Concat(chains(mask, shapes, true, least), chains(mask, shapes, false, least))
}

// chains joins shapes that follow each other along one direction.
func chains(mask *raster.Bitmap, shapes []Shape, along bool, least int) []Row {
	boxes := make([]image.Rectangle, len(shapes))
	tallest := 0
	order := make([]int, len(shapes))
	for i, s := range shapes {
		boxes[i], order[i] = s.Box, i
		if !along {
			boxes[i] = image.Rect(s.Box.Min.Y, s.Box.Min.X, s.Box.Max.Y, s.Box.Max.X)
		}
		tallest = max(tallest, boxes[i].Dy())
	}
	slices.SortFunc(order, func(a, b int) int { return boxes[a].Min.X - boxes[b].Min.X })
	parent := make([]int, len(shapes))
	for i := range parent {
		parent[i] = i
	}
	reach := 0 // the rightmost end so far bounds how far back one must look
	for k, i := range order {
		reach = max(reach, boxes[i].Dx())
		for l := k - 1; l >= 0; l-- {
			j := order[l]
			if boxes[i].Min.X-boxes[j].Min.X > reach+2*tallest {
				break
			}
			if follow(boxes[j], boxes[i]) {
				join(parent, i, j)
			}
		}
	}
	groups := map[int][]Shape{}
	for i := range shapes {
		r := root(parent, i)
		groups[r] = append(groups[r], shapes[i])
	}
	var out []Row
	for _, g := range groups {
		if g = outermost(g); len(g) >= least {
			slices.SortFunc(g, func(a, b Shape) int {
				return cmp.Or(b.AreaPx-a.AreaPx, b.long()-a.long(), a.Box.Min.Y-b.Box.Min.Y, a.Box.Min.X-b.Box.Min.X)
			})
			out = append(out, Row{g, along, mask})
		}
	}
	return out
}

// outermost drops the shapes that lie within the box of another: the insides of letters.
func outermost(shapes []Shape) []Shape {
	slices.SortFunc(shapes, func(a, b Shape) int { return a.Box.Min.X - b.Box.Min.X })
	inner := make([]bool, len(shapes))
	for i, s := range shapes {
		for j := i + 1; j < len(shapes) && shapes[j].Box.Min.X < s.Box.Max.X; j++ {
			inner[j] = inner[j] || shapes[j].Box.In(s.Box)
			inner[i] = inner[i] || !inner[j] && s.Box.In(shapes[j].Box)
		}
	}
	var out []Shape
	for i, s := range shapes {
		if !inner[i] {
			out = append(out, s)
		}
	}
	return out
}

// follow reports whether two boxes may be neighbours in a line that runs along x.
func follow(a, b image.Rectangle) bool {
	tall, low := max(a.Dy(), b.Dy()), min(a.Dy(), b.Dy())
	if low*100 < 45*tall || low < leastHeightPx {
		return false
	}
	overlap := min(a.Max.Y, b.Max.Y) - max(a.Min.Y, b.Min.Y)
	gap := max(a.Min.X, b.Min.X) - min(a.Max.X, b.Max.X)
	return overlap*100 >= 60*low && gap <= tall && -gap*100 <= 40*min(a.Dx(), b.Dx())
}

func root(parent []int, i int) int {
	for parent[i] != i {
		parent[i] = parent[parent[i]]
		i = parent[i]
	}
	return i
}

func join(parent []int, a, b int) {
	ra, rb := root(parent, a), root(parent, b)
	parent[max(ra, rb)] = min(ra, rb)
}

// Cut returns a shape's own pixels: those of its box that are connected as it is.
func (r Row) Cut(s Shape) *raster.Bitmap {
	x0 := s.Box.Min.X &^ 63
	part := r.mask.Crop(image.Rect(x0, s.Box.Min.Y, s.Box.Max.X, s.Box.Max.Y))
	pieces := raster.FindComponents(part, raster.Eight)
	own := image.Rect(s.Box.Min.X-x0, 0, s.Box.Max.X-x0, s.Box.Dy())
	out := raster.NewBitmap(s.Box.Dx(), s.Box.Dy())
	for _, run := range pieces.Runs {
		if c := pieces.List[run.Component]; c.Box == own && c.AreaPx == s.AreaPx {
			out.SetRun(int(run.Y), int(run.X0)-own.Min.X, int(run.X1)-own.Min.X)
		}
	}
	return out
}

// Find returns the rows of at least so many shapes in a picture by what differs from the ground, and by the ground that shows through.
func (p *Picture) Find(least int) []Row {
	m := p.offGround()
	if m == nil {
		return nil
	}
	return InMask(m, least)
}

// InMask returns the rows of at least so many shapes of what is set in a mask, and of what is not.
func InMask(m *raster.Bitmap, least int) []Row {
	return slices.Concat(findRows(m, least), findRows(raster.Not(m), least))
}

// FindByColour returns such rows by each of the picture's flat colours but the ground, if there are more than one.
func (p *Picture) FindByColour(least int) []Row {
	if len(p.colours) <= 2 {
		return nil
	}
	return inMasks(nearest(p.colours).sort(p.pix, p.drawn), least)
}

// FindUnlike returns such rows by what is like none of the picture's flat colours.
func (p *Picture) FindUnlike(least int) []Row {
	if len(p.colours) < 2 {
		return nil
	}
	return inMasks(unlike(p.colours).sort(p.pix, p.drawn), least)
}

// FindClosed returns such rows as Find, once narrow gaps are closed.
func (p *Picture) FindClosed(least int) (out []Row) {
	m := p.offGround()
	if m == nil || p.pix.Rect.Dx()*p.pix.Rect.Dy() > mostClosedPx {
		return nil
	}
	for _, m := range []*raster.Bitmap{m, raster.Not(m)} {
		if by := closed * float64(usualSize(m)); by >= 1 {
			out = append(out, findRows(raster.Erode(raster.Dilate(m, by), by, true), least)...)
		}
	}
	return out
}

// usualSize is the longer side, in pixels, that a quarter of the pieces exceed which may be letters; 0 if there are none.
func usualSize(m *raster.Bitmap) int {
	if screened(m) {
		return 0
	}
	shapes := candidates(m)
	if len(shapes) == 0 {
		return 0
	}
	slices.SortFunc(shapes, func(a, b Shape) int { return a.long() - b.long() })
	return shapes[len(shapes)*3/4].long()
}

func inMasks(masks []*raster.Bitmap, least int) (out []Row) {
	for _, m := range masks {
		out = append(out, findRows(m, least)...)
	}
	return out
}

// Picture is a picture whose flat colours are known. It is not safe for concurrent use.
type Picture struct {
	pix     *image.NRGBA
	drawn   *raster.Bitmap
	colours []rgba
	off     []*raster.Bitmap // what differs from the ground, once it was asked for
	sorted  bool
}

// offGround is what differs from the ground, nil if no ground is known or all of it is screened tone.
func (p *Picture) offGround() *raster.Bitmap {
	if !p.sorted && len(p.colours) > 0 {
		p.off = offGround(p.colours[0]).sort(p.pix, p.drawn)
	}
	p.sorted = true
	if len(p.off) == 0 {
		return nil
	}
	return p.off[0]
}

// Open learns the flat colours of a picture. drawn has one bit for each 64 pixels of a row, clear where all of them are wholly
// transparent; it may be nil.
func Open(pix *image.NRGBA, drawn *raster.Bitmap) *Picture {
	return &Picture{pix: pix, drawn: drawn, colours: flatColours(pix, drawn)}
}
