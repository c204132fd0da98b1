// Package proof draws the page that shows a report's findings in place: the artwork as it will look on the garment, what of
// it prints white, and the list of what is wrong. Start at Draw, or at WritePDF for one at true size.
package proof

import (
	"image"
	"image/color"
	"slices"

	"peelcheck/preflight"
)

// The page is as wide as an A4 sheet is at pageW/210 pixels a millimetre, and at most as high.
const (
	pageW    = 1272
	pageMaxH = 1800
	edge     = 36
	contentW = pageW - 2*edge
)

// Input is what a proof is drawn from.
type Input struct {
	Report *preflight.Report
	// Preview draws a part of the artwork, opaque on the garment's colour, and of its white plane, 255 for full white, where all of
	// it is scaled to whole pixels.
	Preview func(whole image.Point, part image.Rectangle) (look *image.NRGBA, white *image.Gray)
	// MarkLost marks, in such a part, what a box of the artwork holds that is drawn white and stays unprinted; nil where nothing is known of that.
	MarkLost     func(look *image.NRGBA, whole image.Point, box image.Rectangle)
	Garment      color.NRGBA // if its alpha is 0 the report's name of the garment tells the colour
	ProcessTitle string      // if empty the report's id of the process stands in
}

// Proof is a page laid out and ready to be painted: pageW wide, at most pageMaxH high, opaque. It is safe for concurrent use.
type Proof struct {
	canvas  *canvas
	numbers []int
}

// Draw lays a proof out. It is safe for concurrent use.
func Draw(in Input) *Proof {
	p := newPage(in)
	defer setters.Put(p.set)
	proof := &Proof{canvas: p.paint()}
	for _, c := range p.clusters {
		proof.numbers = append(proof.numbers, c.tag)
	}
	return proof
}

// DrawJudged lays out the proof of an artwork that has been judged for a job.
func DrawJudged(seen *preflight.Appearance, job *preflight.Job, rep *preflight.Report) *Proof {
	return Draw(Input{Report: rep, Preview: seen.Preview, MarkLost: seen.MarkLost, Garment: job.Garment.Colour, ProcessTitle: job.Process.Title})
}

// Paint paints as much of the proof as dst covers.
func (p *Proof) Paint(dst *image.RGBA) { p.canvas.paint(dst) }

// Numbers returns the IDs of the findings that have a number in the pictures and a line of their own.
func (p *Proof) Numbers() []int { return slices.Clone(p.numbers) }

// Bounds returns the size in pixels.
func (p *Proof) Bounds() image.Rectangle { return p.canvas.bounds }

// ColorModel is that of image.RGBA.
func (p *Proof) ColorModel() color.Model { return color.RGBAModel }

// At paints one pixel; Paint is quicker for more.
func (p *Proof) At(x, y int) color.Color {
	dst := image.NewRGBA(image.Rect(x, y, x+1, y+1))
	p.Paint(dst)
	return dst.RGBAAt(x, y)
}

// block is a part of the page over its whole width, of known height.
type block struct {
	h     int
	paint func(c *canvas, y int)
}

// page is a proof laid out and ready to be painted.
type page struct {
	in       Input
	rep      *preflight.Report
	set      *setter
	scene    scene
	garment  color.RGBA
	clusters []*cluster // those with a tag, by their numbers
	unlisted int        // findings that the list has no room for
	pushed   int        // how far the list's columns lie further right
	boxes    []rectMM   // of all findings, in millimetres
	pictures pictures
	shots    []closeup
	head     block
	verdict  func(c *canvas, y int) // paints the part of the head that tells of findings,
	job      func(c *canvas, y int) // and the rest of it
	list     block
	closeups block
	foot     block
	drawn    *coverMap   // where the artwork shows in the first picture; set by paint
	tags     []placedTag // set by paint
}

// Least height kept for the pictures, and the most lines of the list.
const (
	leastPicturesH = 675
	maxListLines   = 24
	blockGap       = 16
)

func newPage(in Input) *page {
	p := &page{in: in, rep: in.Report, set: setters.Get().(*setter)}
	p.scene = newScene(p.rep)
	p.garment = p.garmentColour()
	p.boxes = make([]rectMM, len(p.rep.Findings))
	for i, f := range p.rep.Findings {
		p.boxes[i] = p.scene.box(f.BoxPx)
		if p.boxes[i].empty() {
			p.boxes[i] = p.scene.printed
		}
	}
	p.head, p.verdict, p.job = p.layoutHead()
	p.foot = p.layoutFoot()
	room := pageMaxH - 2*edge - p.head.h - p.foot.h - 3*blockGap
	all := kinds(p.rep.Findings, false)
	p.pictures = p.fitPictures(leastPicturesH, 0)
	p.shots = p.chooseCloseups(all)
	p.closeups = p.layoutCloseups()
	if p.closeups.h > 0 {
		room -= p.closeups.h + blockGap
	}
	p.chooseClusters([][]*kind{kinds(p.rep.Findings, true), all}, room-p.pictures.h)
	p.pictures = p.fitPictures(room-p.list.h, len(p.clusters))
	return p
}

// garmentColour is the colour given, else what the report's name of it says, else grey.
func (p *page) garmentColour() color.RGBA {
	k := p.in.Garment
	if k.A == 0 {
		g, err := preflight.ParseGarment(p.rep.Job.Garment)
		if err != nil {
			return color.RGBA{0x80, 0x80, 0x80, 0xff}
		}
		k = g.Colour
	}
	return color.RGBA{k.R, k.G, k.B, 0xff}
}

// chooseClusters gathers findings ever more coarsely until the list fits its lines and roomPx: first of the finer kinds, then of the others.
func (p *page) chooseClusters(choices [][]*kind, roomPx int) {
	v := p.pictures.look
	centres := make([]image.Point, len(p.boxes))
	for i, b := range p.boxes {
		r := v.shown(b)
		centres[i] = image.Pt((r.Min.X+r.Max.X)/2, (r.Min.Y+r.Max.Y)/2)
	}
	bounds := v.bounds()
	var found []*cluster
	for _, all := range choices {
		for reach := 48; ; reach = reach * 5 / 4 {
			found = gather(p.rep.Findings, all, func(i int) image.Point { return centres[i] }, bounds, reach)
			if len(found) <= maxListLines {
				p.number(found, len(found))
				if p.list = p.layoutList(); p.list.h <= roomPx {
					return
				}
			}
			if len(found) == len(all) || reach > bounds.Dx()+bounds.Dy() {
				break
			}
		}
	}
	for n := min(len(found), maxListLines); n > 0; n-- {
		p.number(found, n)
		if p.list = p.layoutList(); p.list.h <= roomPx {
			return
		}
	}
}

// number gives the first n clusters the numbers that their worst findings have in the report.
func (p *page) number(found []*cluster, n int) {
	p.unlisted = 0
	for i, c := range found {
		c.tag = c.worst.ID
		if i >= n {
			c.tag = 0
			p.unlisted += len(c.members)
		}
	}
	p.clusters = slices.Clone(found[:n])
	slices.SortFunc(p.clusters, func(a, b *cluster) int { return a.tag - b.tag })
}

// paint draws the page, as high as its parts need.
func (p *page) paint() *canvas {
	blocks := []block{p.head, {p.pictures.h, p.paintPictures}}
	for _, b := range []block{p.closeups, p.list} {
		if b.h > 0 {
			blocks = append(blocks, b)
		}
	}
	h := 2*edge + p.foot.h
	for _, b := range blocks {
		h += b.h + blockGap
	}
	c := newCanvas(pageW, h, p.set)
	y := edge
	for _, b := range blocks {
		b.paint(c, y)
		y += b.h + blockGap
	}
	p.foot.paint(c, y)
	return c
}
