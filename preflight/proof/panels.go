package proof

import (
	"fmt"
	"image"
	"image/color"
	"slices"
	"strconv"
	"strings"

	"peelcheck/preflight"
)

// pictures is where the two pictures lie. Their views are relative to the top left of the block.
type pictures struct {
	look, white view
	stacked     bool
	alone       bool            // the pictures show the artwork without its sheet
	thumb       image.Rectangle // room for the sheet's thumbnail and its words, empty for none
	rows        int             // of tags below the first picture
	captions    [2][]string
	h           int
}

const (
	panelTitleH  = 34
	titleGap     = 18 // between a title and the small words behind it
	titleDrop    = 4  // which lie this much lower
	rulerH       = 33
	rulerSideW   = 56
	captionGap   = 6
	captionLines = 4
	wideLines    = 3 // of the caption of a picture at least wideW wide
	wideW        = 390
	panelGap     = 27
	leastPanelW  = 248 // for the titles and captions of narrow pictures
	thumbW       = 142
	thumbH       = 128
	thumbLines   = 4
	mostPxPerMM  = 30 // bounds the enlargement of small artwork
	leastPxPerMM = 0.01
	stackedGain  = 1.1  // how much larger the pictures must come out to lie one above the other
	aloneGain    = 1.15 // and how much to leave the sheet out
	smallArtPx   = 315  // which is done where the artwork would be smaller than this beside its sheet
	headroom     = panelTitleH + rulerH
)

// fitPictures lays the two pictures side by side or one above the other, with the sheet or without, as shows the artwork best
// within h pixels, with room for n tags around the first.
func (p *page) fitPictures(h, n int) pictures {
	if p.scene.sheet.empty() {
		return p.fitWorld(h, n, true)
	}
	whole := p.fitWorld(h, n, false)
	art := max(p.scene.printed.w(), p.scene.printed.h()) * whole.look.pxPerMM
	if p.scene.overhang || art >= smallArtPx {
		return whole
	}
	if alone := p.fitWorld(h, n, true); alone.look.pxPerMM > aloneGain*whole.look.pxPerMM {
		return alone
	}
	return whole
}

func (p *page) fitWorld(h, n int, alone bool) pictures {
	beside, above := p.fitPanels(h, n, alone, false), p.fitPanels(h, n, alone, true)
	if above.look.pxPerMM > stackedGain*beside.look.pxPerMM {
		return above
	}
	return beside
}

// fitPanels finds the largest scale at which the pictures and what surrounds them have room.
func (p *page) fitPanels(h, n int, alone, stacked bool) pictures {
	world, out := p.scene.together, pictures{stacked: stacked, alone: alone}
	if alone {
		world = p.scene.alone
	}
	gutter, freeW := 0, contentW-rulerSideW
	if len(p.rep.Findings) > 0 {
		gutter = gutterW
		freeW -= 2 * gutter
	}
	thumb := alone && !p.scene.sheet.empty()
	freeH := h - headroom
	switch {
	case thumb && stacked:
		freeW -= thumbW + panelGap
	case thumb:
		freeH -= thumbH + panelGap/2
	}
	down := 1
	if stacked {
		down = 2
		freeH -= panelTitleH
	} else {
		freeW = (freeW - panelGap) / 2
	}
	lines := wideLines
	s := 0.0
	for { // the rows of tags and the lines of captions depend on the scale, which depends on them
		under := captionGap + lines*leading(smallType)
		panelH := (freeH-out.rows*gutterRow)/down - under
		s = max(leastPxPerMM, min(float64(freeW)/world.w(), float64(panelH)/world.h(), mostPxPerMM))
		w := int(world.w() * s)
		rows := (max(0, n-slotsBeside(int(world.h()*s))) + slotsAcross(w) - 1) / slotsAcross(w)
		if rows <= out.rows && (w >= wideW || lines == captionLines) {
			break
		}
		out.rows = max(out.rows, rows)
		if w < wideW {
			lines = captionLines
		}
	}
	out.look = view{world, image.Pt(rulerSideW+gutter, headroom), s}
	p.arrange(&out, gutter, thumb)
	return out
}

// arrange places the second picture, the thumbnail and the captions, and centres all of it.
func (p *page) arrange(out *pictures, gutter int, thumb bool) {
	b := out.look.bounds()
	panelW := max(b.Dx(), leastPanelW)
	out.white = out.look
	right := b.Min.X + panelW + gutter
	if !out.stacked {
		out.white.at.X = right + panelGap
		right = out.white.at.X + panelW
	}
	out.captions[0] = p.set.wrap(smallType, p.lookCaption(out.alone), panelW, captionLines)
	out.captions[1] = p.set.wrap(smallType, whiteCaption, panelW, captionLines)
	lines := max(len(out.captions[0]), len(out.captions[1]))
	out.h = b.Max.Y + out.rows*gutterRow + captionGap + lines*leading(smallType)
	if out.stacked {
		y := b.Max.Y + out.rows*gutterRow + 2*captionGap + len(out.captions[0])*leading(smallType) + panelTitleH
		out.white.at.Y = y
		out.h = y + b.Dy() + captionGap + len(out.captions[1])*leading(smallType)
	}
	if thumb {
		at := image.Pt(out.white.at.X, b.Max.Y+captionGap+len(out.captions[1])*leading(smallType)+panelGap/2)
		size := image.Pt(panelW, thumbH)
		if out.stacked {
			at, size = image.Pt(right+panelGap, headroom), image.Pt(thumbW, thumbH+captionGap+thumbLines*leading(smallType))
			right += panelGap + thumbW
		}
		out.thumb = image.Rectangle{at, at.Add(size)}
		out.h = max(out.h, out.thumb.Max.Y)
	}
	shift := image.Pt(max(0, (contentW-right)/2), 0)
	out.look.at, out.white.at, out.thumb = out.look.at.Add(shift), out.white.at.Add(shift), out.thumb.Add(shift)
}

const whiteCaption = "White is shown white, weaker white grey. Same scale."

// lookCaption is the key to the lines drawn over the first picture.
func (p *page) lookCaption(alone bool) string {
	s := p.scene
	var out []string
	if !alone {
		out = append(out, "Heavy frame: the sheet.")
		if s.overhang || s.reach != s.sheet {
			out = append(out, "Slashed: out of the printer's reach.")
		}
	}
	if words := p.placeWords(); words != "" {
		out = append(out, "Dashed: the place on the garment ("+words+").")
	}
	corner := "the whole picture's corner"
	if p.artFramed(alone) {
		out = append(out, "Dotted: the whole picture.")
		corner = "its corner"
	}
	if len(p.lost()) > 0 {
		out = append(out, "Chequered: drawn white, stays unprinted.")
	}
	ruler := "Ruler: mm from "
	if s.assumed {
		ruler = "Ruler: mm, as assumed, from "
	}
	out = append(out, ruler+corner+".")
	if alone && !s.sheet.empty() {
		out = append(out, "The small picture shows it on the sheet.")
	}
	return strings.Join(out, " ")
}

// artFramed reports whether an edge of the whole artwork lies within the pictures.
func (p *page) artFramed(alone bool) bool {
	art, world := p.scene.art, p.scene.together
	if alone {
		world = p.scene.alone
	}
	return art.x0 > world.x0 || art.y0 > world.y0 || art.x1 < world.x1 || art.y1 < world.y1
}

func (v view) moved(y int) view {
	v.at = v.at.Add(image.Pt(edge, y))
	return v
}

func (p *page) paintPictures(c *canvas, y int) {
	look, white := p.pictures.look.moved(y), p.pictures.white.moved(y)
	lb, wb := look.bounds(), white.bounds()
	c.write(lb.Min.X, lb.Min.Y-rulerH-panelTitleH, titleType, text, "On the garment")
	whiteTitleY := wb.Min.Y - rulerH - panelTitleH
	if p.pictures.stacked {
		whiteTitleY = wb.Min.Y - panelTitleH
	}
	c.write(wb.Min.X, whiteTitleY, titleType, text, "What prints white")

	p.paintGround(c, look, offGrey, p.garment)
	art := look.rect(p.scene.art)
	shown := art.Intersect(lb)
	var plane *image.Gray
	if !shown.Empty() {
		var seen *image.NRGBA
		seen, plane = p.in.Preview(art.Size(), shown.Sub(art.Min))
		for _, box := range p.lost() {
			p.in.MarkLost(seen, art.Size(), box)
		}
		c.picture(shown, seen, seen.Rect.Min)
	}
	p.drawn = c.drawnMap(lb, p.garment)
	p.paintSheet(c, look)
	c.writeLines(lb.Min.X, lb.Max.Y+p.pictures.rows*gutterRow+captionGap, smallType, textDim, p.pictures.captions[0])

	ground := color.RGBA{whiteGround, whiteGround, whiteGround, 0xff}
	p.paintGround(c, white, color.RGBA{0x70, 0x70, 0x70, 0xff}, ground)
	if plane != nil {
		c.plane(shown.Add(wb.Min.Sub(lb.Min)), plane, plane.Rect.Min)
	}
	p.paintSheet(c, white)
	c.writeLines(wb.Min.X, wb.Max.Y+captionGap, smallType, textDim, p.pictures.captions[1])
	if !p.pictures.thumb.Empty() {
		p.paintThumb(c, p.pictures.thumb.Add(image.Pt(edge, y)))
	}
	p.paintPlace(c, look, lb)
	p.paintFindings(c, look)
	p.paintRulers(c, look)
}

// lostWhite is the rule whose places show nothing but cloth: nobody would see which shape is meant.
const lostWhite = "lost-white"

// lost are the places of the artwork whose white will stay unprinted, as far as they can be marked.
func (p *page) lost() (boxes []image.Rectangle) {
	if p.in.MarkLost == nil {
		return nil
	}
	for _, f := range p.rep.Findings {
		if b := f.BoxPx; f.Rule == lostWhite {
			boxes = append(boxes, image.Rect(b.X, b.Y, b.X+b.W, b.Y+b.H))
		}
	}
	return boxes
}

// paintGround fills what is beyond the sheet and the sheet; without a sheet in the picture all of it is cloth.
func (p *page) paintGround(c *canvas, v view, off, cloth color.RGBA) {
	if p.pictures.alone {
		c.fill(v.bounds(), cloth)
		return
	}
	c.fill(v.bounds(), off)
	c.fill(v.rect(p.scene.sheet).Intersect(v.bounds()), cloth)
}

var slashes = color.RGBA{0x90, 0x90, 0x90, 0xff}

// paintSheet draws over the picture: the artwork's edge, the margin that stays unprinted, the sheet's outline.
func (p *page) paintSheet(c *canvas, v view) {
	s, b := p.scene, v.bounds()
	if p.artFramed(p.pictures.alone) {
		c.dashedFrame(v.rect(s.art), b, 2, 4, black, white)
	}
	c.frame(b, 1, rule)
	if p.pictures.alone {
		return
	}
	sheet, reach := v.rect(s.sheet), v.rect(s.reach)
	c.hatch(sheet, reach, 9, 2, slashes)
	if s.overhang {
		c.hatch(v.rect(s.printed).Intersect(b), sheet, 16, 2, slashes)
	}
	c.frame(reach.Inset(-2), 2, slashes)
	c.frame(sheet.Inset(-3), 1, white)
	c.frame(sheet.Inset(-2), 3, black)
	c.frame(sheet.Inset(1), 1, white)
}

// paintThumb shows where the artwork lies on its sheet, small, with words below or beside it.
func (p *page) paintThumb(c *canvas, room image.Rectangle) {
	s := p.scene
	scale := min(thumbW/s.sheet.w(), thumbH/s.sheet.h())
	v := view{world: s.sheet, at: room.Min, pxPerMM: scale}
	b := v.bounds()
	c.fill(b, white)
	c.hatch(b, v.rect(s.reach), 6, 1, textDim)
	art := v.rect(s.art)
	if shown := art.Intersect(v.rect(s.printed)).Intersect(b); !shown.Empty() {
		seen, _ := p.in.Preview(art.Size(), shown.Sub(art.Min))
		c.picture(shown, seen, seen.Rect.Min)
	}
	c.frame(v.shown(s.printed).Inset(-2), 2, black)
	c.frame(b, 2, black)
	at, w := image.Pt(b.Max.X+12, b.Min.Y), room.Max.X-b.Max.X-12
	if p.pictures.stacked {
		at, w = image.Pt(b.Min.X, b.Max.Y+captionGap), room.Dx()
	}
	lines := p.set.wrap(smallType, "On the sheet: "+sheetWords(p.rep, s.turned), w, thumbLines)
	c.writeLines(at.X, at.Y, smallType, textDim, lines)
}

// rulerSteps returns the distances of ticks and of numbers in millimetres, as fine as the scale has room for.
func rulerSteps(pxPerMM float64) (tick, number int) {
	const leastTickPx, leastNumberPx = 4, 56
	for _, tick = range []int{10, 50, 100, 500, 1000, 5000} {
		if float64(tick)*pxPerMM >= leastTickPx {
			break
		}
	}
	for _, number = range []int{10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000} {
		if float64(number)*pxPerMM >= leastNumberPx {
			break
		}
	}
	return tick, number
}

// paintRulers draws millimetres along the top and the left side, over the artwork's extent.
func (p *page) paintRulers(c *canvas, v view) {
	b, art := v.bounds(), p.scene.art.intersect(v.world)
	tick, number := rulerSteps(v.pxPerMM)
	x0, x1, y0, y1 := v.x(art.x0), v.x(art.x1), v.y(art.y0), v.y(art.y1)
	top, left := b.Min.Y-3, b.Min.X-3
	c.fill(image.Rect(x0, top-2, x1, top), text)
	c.fill(image.Rect(left-2, y0, left, y1), text)
	f := p.set.face(smallType)
	for mm := firstTick(art.x0, tick); float64(mm) <= art.x1; mm += tick {
		x, long := v.x(float64(mm)), tickLength(mm, number)
		c.fill(image.Rect(x-1, top-long, x+1, top), text)
		if w := p.set.width(smallType, strconv.Itoa(mm)); mm%number == 0 {
			c.label(max(edge, x-w/2), top-long-f.height+2, smallType, text, strconv.Itoa(mm))
		}
	}
	for mm := firstTick(art.y0, tick); float64(mm) <= art.y1; mm += tick {
		y, long := v.y(float64(mm)), tickLength(mm, number)
		c.fill(image.Rect(left-long, y-1, left, y+1), text)
		if w := p.set.width(smallType, strconv.Itoa(mm)); mm%number == 0 {
			c.label(left-long-w-3, y-f.height/2, smallType, text, strconv.Itoa(mm))
		}
	}
}

func firstTick(from float64, step int) int { return (int(from) + step - 1) / step * step }

func tickLength(mm, number int) int {
	if mm%number == 0 {
		return 9
	}
	return 4
}

// paintFindings outlines every finding and tags the clusters.
func (p *page) paintFindings(c *canvas, v view) {
	b := v.bounds()
	var byLevel [4]outlines
	faults := newCoverMap(b, func(m *coverMap) {
		for i := range p.rep.Findings {
			box := v.outlined(p.boxes[i])
			byLevel[p.rep.Findings[i].Level.Rank()].add(box)
			m.keepClear(box)
		}
		m.cover(p.placeLabel(v, b))
	})
	for rank, level := range []preflight.Level{"", preflight.LevelNote, preflight.LevelWarning, preflight.LevelError} {
		c.outline(&byLevel[rank], level, b.Inset(-outlineGrow))
	}
	p.placeTags(v, faults)
	for _, t := range p.tags {
		c.drawLeader(t)
	}
	for _, t := range p.tags {
		c.drawTag(t.box, t.cluster)
	}
}

// placeTags places small targets first: they can least do without a near tag.
func (p *page) placeTags(v view, faults *coverMap) {
	b := v.bounds()
	t := &tagPlacer{picture: b, slots: gutterSlots(b, p.pictures.rows), faults: faults, drawn: p.drawn}
	order := slices.Clone(p.clusters)
	target := func(cl *cluster) image.Rectangle { return v.outlined(p.boxes[cl.members[0]]) }
	slices.SortStableFunc(order, func(a, b *cluster) int {
		p, q := target(a), target(b)
		return p.Dx()*p.Dy() - q.Dx()*q.Dy()
	})
	for _, cl := range order {
		t.place(cl, target(cl), p.set.tagWidth(cl.tag))
	}
	p.tags = t.placed
}

// magnified is how much larger a close-up is than the picture, in words.
func magnified(pxPerMM, picturePxPerMM float64) string {
	return fmt.Sprintf("%.0fx", pxPerMM/picturePxPerMM)
}
