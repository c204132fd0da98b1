package preflight

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"

	"peelcheck/raster"
)

// Change tells what Thicken did with one feature: a line thinner than the line limit, or a gap narrower than the gap limit.
type Change struct {
	Gap   bool
	Where image.Rectangle // in the picture's pixels
	// FromMM is the least width before, ToMM after; both are measured.
	FromMM, ToMM float64
	Left         bool   // it is as it was
	Why          string // why it was left, or not brought to the limit, in plain words
}

// Why a feature is left, or falls short.
const (
	whyGapBeside  = "a gap right beside is too narrow already, and growing would close it"
	whyNewGap     = "growing would leave too narrow a gap beside"
	whyLineBeside = "a line right beside is too thin already, and opening would thin it more"
	whyNewLine    = "opening would leave too thin a line beside"
	whyNoRoom     = "the shape does not let every place come to the full width"
	whyUnclear    = "the middle could not be told from the picture"
)

const (
	// lineSparePx and gapSparePx are how much wider than the limit features are made, so that what is drawn anew is not measured as under it.
	lineSparePx, gapSparePx = 0.4, 0.1
	// shortMM is how far from the limit a width may stay without being called short of it.
	shortMM = 0.03
	// seenMorePx is how much wider than the limits widths are still measured afterwards.
	seenMorePx = 2
	// mostRounds of taking back what makes others worse; what is in the way after them is taken back with all that it touches.
	mostRounds = 6
)

// Thicken grows lines thinner than the line limit to it and opens gaps narrower than the gap limit to it, on the planes: a disc as wide as
// the limit is led along the middle of each. What would make a gap too narrow, or a line too thin, is left. p.Box grows where a line does.
func (s *Scene) Thicken(p *PrintPlanes) []Change {
	t := newThickener(s)
	if len(t.mends) == 0 {
		return nil
	}
	t.trace()
	t.leaveTight()
	t.settle()
	t.apply(p)
	return t.changes()
}

func sparePx(gap bool) float64 {
	if gap {
		return gapSparePx
	}
	return lineSparePx
}

// mend is one feature and how it is put right.
type mend struct {
	raster.Feature
	gap     bool
	reach   float32 // half of the width to be
	dots    []dot
	links   [][2]int32 // between dots
	why     string     // why it is left, empty if it is not
	widened int        // how often reach was corrected
}

func (m *mend) left() bool { return m.why != "" }

// thickener holds what is to be changed, and the picture as it would be.
type thickener struct {
	s           *Scene
	line, gap   float64 // limits in pixels, 0 where they are not judged
	mends       []*mend
	dotAt       *dotGrid
	after       *overlay
	solidGround ink
	linesToo    []raster.Feature // found afterwards
	gapsToo     []raster.Feature
}

func newThickener(s *Scene) *thickener {
	t := &thickener{s: s, line: s.Px(s.Limit("line")), gap: s.Px(s.Limit("gap"))}
	if t.line >= leastLimitPx {
		t.add(s.ThinLines(), t.line, false)
	}
	if t.gap >= leastLimitPx {
		t.add(s.ThinGaps(), t.gap, true)
	}
	if s.ground.LeftOut && !s.printed.remove {
		g := s.groundIs
		t.solidGround = s.printed.pixel(g.R, g.G, g.B, g.A)
	}
	return t
}

func (t *thickener) add(found []raster.Feature, limitPx float64, gap bool) {
	for _, f := range found {
		t.mends = append(t.mends, &mend{Feature: f, gap: gap, reach: float32(limitPx+sparePx(gap)) / 2})
	}
}

// trace finds the middle of every feature.
func (t *thickener) trace() {
	const some = 16
	raster.Strips(len(t.mends), some, func(i0, i1 int) {
		tr := newTracer(t.s)
		for _, m := range t.mends[i0:i1] {
			tr.trace(m)
		}
	})
	for _, m := range t.mends {
		if len(m.dots) == 0 {
			m.why = whyUnclear
		}
	}
	t.dotAt = newDotGrid(t.mends, max(t.line, t.gap))
}

// leaveTight leaves lines that would grow into a gap that is too narrow already, and gaps that would eat a line too thin already.
func (t *thickener) leaveTight() {
	lines, gaps := raster.NewBitmap(t.s.W, t.s.H), raster.NewBitmap(t.s.W, t.s.H)
	for _, m := range t.mends {
		if m.gap {
			setRuns(gaps, m.Runs)
		} else {
			setRuns(lines, m.Runs)
		}
	}
	if t.line > t.gap { // a wider gap than the limit could be closed from both sides
		for _, f := range t.narrowGaps() {
			setRuns(gaps, f.Runs)
		}
	}
	raster.Strips(len(t.mends), 16, func(i0, i1 int) {
		for _, m := range t.mends[i0:i1] {
			switch {
			case m.left():
			case m.gap && t.touches(m, lines):
				m.why = whyLineBeside
			case !m.gap && t.touches(m, gaps):
				m.why = whyGapBeside
			}
		}
	})
}

// narrowGaps are the gaps that two lines could close between them as they grow.
func (t *thickener) narrowGaps() []raster.Feature {
	return raster.FindThin(raster.ThinQuery{
		Mask: setSpots(raster.Not(t.s.survey.solid), t.s.holes(), false), Coverage: t.s.survey.cover.Read,
		LimitPx: t.line, Gap: true, Blend: t.s.blend,
	})
}

// touches reports whether a feature, as it is to be, would reach pixels of a mask.
func (t *thickener) touches(m *mend, mask *raster.Bitmap) bool {
	const within = 0.5 // of a pixel, that is not worth a word
	r := m.reach - within
	for _, d := range m.dots {
		box := d.box(r)
		if mask.CountIn(box) == 0 {
			continue
		}
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				if dx, dy := float32(x)+0.5-d.x, float32(y)+0.5-d.y; dx*dx+dy*dy < r*r && mask.At(x, y) {
					return true
				}
			}
		}
	}
	return false
}

func setRuns(b *raster.Bitmap, runs []raster.Run) {
	for _, r := range runs {
		b.SetRun(int(r.Y), int(r.X0), int(r.X1))
	}
}

// settle tries all that is to be done, measures, and takes back what makes something else too thin or too narrow, until nothing does.
func (t *thickener) settle() {
	lines, gaps := newRunIndex(t.featuresBefore(false)), newRunIndex(t.featuresBefore(true))
	for range mostRounds {
		t.after = t.overlaid()
		t.measure()
		bad := t.widen()
		bad = t.takeBack(t.gapsToo, gaps, false, whyNewGap) || bad
		bad = t.takeBack(t.linesToo, lines, true, whyNewLine) || bad
		if !bad {
			return
		}
	}
	for _, m := range t.mends {
		if !m.left() {
			m.why = map[bool]string{false: whyNewGap, true: whyNewLine}[m.gap]
		}
	}
	t.after = t.overlaid()
	t.measure()
}

func (t *thickener) featuresBefore(gap bool) []raster.Feature {
	var out []raster.Feature
	for _, m := range t.mends {
		if m.gap == gap {
			out = append(out, m.Feature)
		}
	}
	return out
}

// measure finds the lines and gaps of the picture as it would be.
func (t *thickener) measure() { t.linesToo, t.gapsToo = t.linesUpTo(t.line), t.gapsUpTo(t.gap) }

func (t *thickener) linesUpTo(limitPx float64) []raster.Feature {
	if t.line < leastLimitPx {
		return nil
	}
	return raster.FindThin(raster.ThinQuery{
		Mask: setSpots(t.after.ink.Clone(), t.s.pieces(), false), Coverage: t.after.read,
		LimitPx: limitPx, Blend: t.after.blend, Tint: t.after.tint,
	})
}

func (t *thickener) gapsUpTo(limitPx float64) []raster.Feature {
	if t.gap < leastLimitPx {
		return nil
	}
	return raster.FindThin(raster.ThinQuery{
		Mask: setSpots(raster.Not(t.after.solid), t.s.holes(), false), Coverage: t.after.read,
		LimitPx: limitPx, Gap: true, Blend: t.after.blend,
	})
}

// widen makes the disc of what is still under its limit a little wider, and reports whether there is any.
func (t *thickener) widen() bool {
	const mostTimes, mostPx = 2, 0.5
	any := false
	for m, to := range t.short() {
		if limit := t.limitOf(m); m.widened < mostTimes && limit-to < mostPx {
			m.reach += float32(limit+sparePx(m.gap)-to) / 2
			m.widened++
			any = true
		}
	}
	return any
}

func (t *thickener) limitOf(m *mend) float64 {
	if m.gap {
		return t.gap
	}
	return t.line
}

// short tells what is still under its limit, and by the least width that was found of it.
func (t *thickener) short() map[*mend]float64 {
	out := map[*mend]float64{}
	for _, found := range []struct {
		is  []raster.Feature
		gap bool
	}{{t.linesToo, false}, {t.gapsToo, true}} {
		for i := range found.is {
			f := &found.is[i]
			t.dotAt.near(f.Runs, edgePx, func(m *mend) {
				if least, ok := out[m]; m.gap == found.gap && !m.left() && (!ok || f.WidthPx < least) {
					out[m] = f.WidthPx
				}
			})
		}
	}
	return out
}

// takeBack leaves what has made others too thin or narrow: by lines being grown, gaps, and by gaps being opened, lines.
func (t *thickener) takeBack(found []raster.Feature, before *runIndex, byGaps bool, why string) bool {
	const worsePx, besidePx = 0.25, 2 // measured widths differ by less where nothing was done
	any := false
	for i := range found {
		f := &found[i]
		if old := before.least(f.Runs); old > 0 && f.WidthPx > old-worsePx {
			continue
		}
		t.dotAt.near(f.Runs, besidePx, func(m *mend) {
			if m.gap == byGaps && !m.left() {
				m.why, any = why, true
			}
		})
	}
	return any
}

// changes tells what was done, lines first.
func (t *thickener) changes() []Change {
	short := t.short()
	wide := map[bool]*runIndex{}
	if t.changesAny(false) {
		wide[false] = newRunIndex(t.linesUpTo(t.line + seenMorePx))
	}
	if t.changesAny(true) {
		wide[true] = newRunIndex(t.gapsUpTo(t.gap + seenMorePx))
	}
	out := make([]Change, len(t.mends))
	for i, m := range t.mends {
		from := round3(t.s.MM(m.WidthPx))
		out[i] = Change{Gap: m.gap, Where: m.Box, FromMM: from, ToMM: from, Left: m.left(), Why: m.why}
		if m.left() {
			continue
		}
		limit := t.limitOf(m)
		to := cmp.Or(short[m], wide[m.gap].least(m.Runs), limit+seenMorePx)
		if out[i].ToMM = round3(t.s.MM(to)); t.s.MM(limit-to) > shortMM {
			out[i].Why = whyNoRoom
		}
	}
	return out
}

// changesAny reports whether any line, or gap, is not left.
func (t *thickener) changesAny(gap bool) bool {
	return slices.ContainsFunc(t.mends, func(m *mend) bool { return m.gap == gap && !m.left() })
}

// DescribeChanges puts changes into plain sentences, many alike in one.
func DescribeChanges(changes []Change) []string {
	type kind struct {
		gap, left bool
		why       string
	}
	var order []kind
	groups := map[kind][]Change{}
	for _, c := range changes {
		k := kind{c.Gap, c.Left, c.Why}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], c)
	}
	var out []string
	for _, left := range []bool{false, true} {
		for _, k := range order {
			if k.left == left {
				out = append(out, describeAlike(groups[k]))
			}
		}
	}
	return out
}

// describeAlike is one sentence for changes that differ in nothing but their widths and places.
func describeAlike(alike []Change) string {
	first := alike[0]
	what, did := "thin line", "grown"
	if first.Gap {
		what, did = "narrow gap", "opened"
	}
	from, to := widths(alike, func(c Change) float64 { return c.FromMM }), widths(alike, func(c Change) float64 { return c.ToMM })
	n, was := "1 "+what, "was"
	if len(alike) > 1 {
		n, was = fmt.Sprintf("%d %ss", len(alike), what), "were"
	}
	switch {
	case first.Left:
		return fmt.Sprintf("%s of %s %s left as drawn: %s. Print it larger, or redraw it.", n, from, was, first.Why)
	case first.Why != "":
		return fmt.Sprintf("%s of %s %s %s to %s only: %s.", n, from, was, did, to, first.Why)
	}
	return fmt.Sprintf("%s of %s %s %s to %s.", n, from, was, did, to)
}

// widths is the range of a width in words.
func widths(of []Change, width func(Change) float64) string {
	low, high := math.Inf(1), 0.0
	for _, c := range of {
		low, high = min(low, width(c)), max(high, width(c))
	}
	a, b := fmt.Sprintf("%.2f", low), fmt.Sprintf("%.2f", high)
	if a == b {
		return a + " mm"
	}
	return a + " to " + b + " mm"
}
