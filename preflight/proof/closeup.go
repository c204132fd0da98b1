package proof

import (
	"cmp"
	"image"
	"math"
	"slices"

	"peelcheck/preflight"
)

// detailRules find faults too small to be seen in the picture; the worst few are shown close up.
var detailRules = []string{"hairline", "thin-gap", "speck", "pinhole"}

const (
	maxCloseups   = 4
	closeupGap    = 15
	closeupW      = (contentW - (maxCloseups-1)*closeupGap) / maxCloseups
	closeupH      = 128
	limitBarPx    = 33 // the limit's length in a close-up
	leastContrast = 40 // of 255, for a close-up to show anything
)

// closeup is one finding enlarged.
type closeup struct {
	index   int
	look    *image.NRGBA
	at      image.Point // of look's top left from the frame's; what the frame shows may reach beyond the artwork
	pxPerMM float64
}

// chooseCloseups picks the worst detail findings whose surroundings show something. The worst error that counts is
// shown however little that is, where a pixel of it is known.
func (p *page) chooseCloseups(all []*kind) (shots []closeup) {
	for n, i := range p.worstDetails(all) {
		if slices.ContainsFunc(shots, func(s closeup) bool { return p.alike(s.index, i) }) {
			continue
		}
		least := leastContrast
		if f := &p.rep.Findings[i]; n == 0 && rank(f) == preflight.LevelError.Rank() && f.PointPx != nil {
			least = 0
		}
		if s, ok := p.shoot(i, least); ok {
			shots = append(shots, s)
		}
		if len(shots) == maxCloseups {
			break
		}
	}
	return shots
}

func (p *page) layoutCloseups() block {
	if len(p.shots) == 0 {
		return block{}
	}
	h := panelTitleH + closeupH + 4 + 2*tagH + 8
	return block{h, func(c *canvas, y int) {
		w := c.write(edge, y, titleType, text, "Close up")
		c.write(edge+w+titleGap, y+titleDrop, smallType, textDim, "the worst places, and how many times larger than above")
		for i, s := range p.shots {
			p.paintCloseup(c, image.Pt(edge+i*(closeupW+closeupGap), y+panelTitleH), s)
		}
	}}
}

// worstDetails lists candidates: the worst of each kind in turn, so that one rule does not crowd out the others; of these what counts
// goes before what is accepted, and errors before warnings.
func (p *page) worstDetails(all []*kind) []int {
	const perKind = 3 * maxCloseups
	var out []int
	for n := range perKind {
		var round []int
		for _, k := range all {
			if n < len(k.members) && slices.Contains(detailRules, k.rule) {
				round = append(round, k.members[n])
			}
		}
		slices.SortStableFunc(round, func(a, b int) int {
			f, g := &p.rep.Findings[a], &p.rep.Findings[b]
			return cmp.Or(rank(g)-rank(f), cmp.Compare(badness(g), badness(f)))
		})
		out = append(out, round...)
	}
	return out
}

// rank is the level's, 0 for what is accepted.
func rank(f *preflight.Finding) int {
	if f.Accepted != nil {
		return 0
	}
	return f.Level.Rank()
}

// alike reports whether two findings would look the same close up.
func (p *page) alike(i, j int) bool {
	a, b := &p.rep.Findings[i], &p.rep.Findings[j]
	return a.Rule == b.Rule && a.Measure.Words() == b.Measure.Words()
}

// shoot takes the surroundings of a finding's middle or, along a side that is longer than a close-up, of its point: the middle may hold
// none of it, as that of a ring. It fails where less than the least contrast shows.
func (p *page) shoot(i, least int) (closeup, bool) {
	f := &p.rep.Findings[i]
	if f.Measure.Limit <= 0 || f.Measure.Unit != "mm" {
		return closeup{}, false
	}
	s := closeup{index: i, pxPerMM: limitBarPx / f.Measure.Limit}
	artPerPx := 1 / (s.pxPerMM * p.scene.mmPerPx)
	w, h := max(8, int(math.Round(closeupW*artPerPx))), max(4, int(math.Round(closeupH*artPerPx)))
	cx, cy := f.BoxPx.X+f.BoxPx.W/2, f.BoxPx.Y+f.BoxPx.H/2
	if at := f.PointPx; at != nil {
		if f.BoxPx.W > w {
			cx = at.X
		}
		if f.BoxPx.H > h {
			cy = at.Y
		}
	}
	field := image.Rect(cx-w/2, cy-h/2, cx-w/2+w, cy-h/2+h)
	const edgePx = 2 // the box ends where print does
	box := image.Rect(f.BoxPx.X-edgePx, f.BoxPx.Y-edgePx, f.BoxPx.X+f.BoxPx.W+edgePx, f.BoxPx.Y+f.BoxPx.H+edgePx)
	art := image.Pt(p.rep.Artwork.WidthPx, p.rep.Artwork.HeightPx)
	box = box.Intersect(field).Intersect(image.Rectangle{Max: art})
	if box.Empty() {
		return s, false
	}
	if shown, _ := p.in.Preview(art, box); contrast(shown) < least {
		return s, false
	}
	whole := image.Pt(scaled(art.X, closeupW, w), scaled(art.Y, closeupH, h))
	corner := image.Pt(scaled(field.Min.X, closeupW, w), scaled(field.Min.Y, closeupH, h))
	part := image.Rect(0, 0, closeupW, closeupH).Add(corner).Intersect(image.Rectangle{Max: whole})
	if part.Empty() {
		return s, false
	}
	s.look, _ = p.in.Preview(whole, part)
	s.at = part.Min.Sub(corner)
	return s, true
}

// scaled is v*to/from, rounded.
func scaled(v, to, from int) int { return int(math.Round(float64(v) * float64(to) / float64(from))) }

// contrast is the largest difference of a channel within a picture, in 255.
func contrast(m *image.NRGBA) int {
	lo, hi := [3]byte{255, 255, 255}, [3]byte{}
	for i := 0; i < len(m.Pix); i += 4 {
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], m.Pix[i+k]), max(hi[k], m.Pix[i+k])
		}
	}
	return max(int(hi[0])-int(lo[0]), int(hi[1])-int(lo[1]), int(hi[2])-int(lo[2]))
}

func (p *page) paintCloseup(c *canvas, at image.Point, s closeup) {
	frame := image.Rectangle{at, at.Add(image.Pt(closeupW, closeupH))}
	c.fill(frame, p.garment)
	c.picture(s.look.Rect.Sub(s.look.Rect.Min).Add(frame.Min).Add(s.at), s.look, s.look.Rect.Min)
	c.frame(frame, 2, textDim)
	f := &p.rep.Findings[s.index]
	y := frame.Max.Y + 6
	x := at.X + 2
	w := p.set.tagWidth(f.ID)
	c.drawTag(image.Rect(x, y, x+w, y+tagH), &cluster{tag: f.ID, level: f.Level})
	x += w + 10
	ty := y + (tagH-leading(bodyType))/2
	c.write(x, ty, bodyBold, text, f.Measure.Words())
	zoom := magnified(s.pxPerMM, p.pictures.look.pxPerMM)
	c.write(frame.Max.X-p.set.width(bodyType, zoom), ty, bodyType, textDim, zoom)
	p.paintLimitBar(c, at.X+2, y+tagH+3, f.Measure)
}

// paintLimitBar draws the limit's length at the close-up's scale, with its value.
func (p *page) paintLimitBar(c *canvas, x, y int, m preflight.Measure) {
	mid := y + tagH/2
	c.fill(image.Rect(x, mid-2, x+limitBarPx, mid+2), text)
	c.fill(image.Rect(x, mid-9, x+2, mid+9), text)
	c.fill(image.Rect(x+limitBarPx-2, mid-9, x+limitBarPx, mid+9), text)
	c.write(x+limitBarPx+9, y+(tagH-leading(bodyType))/2, bodyType, text, "limit "+preflight.Amount(m.Limit, m.Unit))
}

// closeUp are the indexes of the findings shown close up.
func (p *page) closeUp() (indexes []int) {
	for _, s := range p.shots {
		indexes = append(indexes, s.index)
	}
	return indexes
}

// clusterOf returns the tagged cluster that holds a finding, nil if it has none.
func (p *page) clusterOf(index int) *cluster {
	for _, cl := range p.clusters {
		if slices.Contains(cl.members, index) {
			return cl
		}
	}
	return nil
}
