package proof

import (
	"image"
	"math"

	"peelcheck/preflight"
)

// rectMM is a rectangle in millimetres from the artwork's top left corner.
type rectMM struct{ x0, y0, x1, y1 float64 }

func (r rectMM) w() float64 { return r.x1 - r.x0 }
func (r rectMM) h() float64 { return r.y1 - r.y0 }

func (r rectMM) empty() bool { return !(r.x1 > r.x0 && r.y1 > r.y0) }

func (r rectMM) union(o rectMM) rectMM {
	if o.empty() {
		return r
	}
	if r.empty() {
		return o
	}
	return rectMM{min(r.x0, o.x0), min(r.y0, o.y0), max(r.x1, o.x1), max(r.y1, o.y1)}
}

func (r rectMM) intersect(o rectMM) rectMM {
	return rectMM{max(r.x0, o.x0), max(r.y0, o.y0), min(r.x1, o.x1), min(r.y1, o.y1)}
}

func (r rectMM) grow(by float64) rectMM {
	return rectMM{r.x0 - by, r.y0 - by, r.x1 + by, r.y1 + by}
}

// contains allows for the rounding of sizes in the report.
func (r rectMM) contains(o rectMM) bool {
	const roundingMM = 0.05
	return o.x0 >= r.x0-roundingMM && o.y0 >= r.y0-roundingMM && o.x1 <= r.x1+roundingMM && o.y1 <= r.y1+roundingMM
}

// scene is where things lie, in millimetres.
type scene struct {
	art      rectMM
	printed  rectMM // what prints, the whole artwork where that is not told
	sheet    rectMM // empty where no sheet is told
	reach    rectMM // the part of the sheet that the printer reaches
	place    rectMM // the place on the garment, about the middle of what prints; empty where none was named
	alone    rectMM // what prints, the place on the garment, and all findings that are places
	together rectMM // what prints, the place on the garment, and the sheet
	turned   bool   // the sheet is drawn turned, so that the artwork stays upright
	overhang bool   // what prints reaches beyond the sheet
	mmPerPx  float64
	assumed  bool // the size was assumed
}

// samePageMM is how near the artwork's size must be to the sheet's for it to be laid out as the sheet is.
const samePageMM = 3

func newScene(rep *preflight.Report) scene {
	a := rep.Artwork
	s := scene{assumed: a.PPIFrom == "assumed" || !(a.WidthMM > 0 && a.HeightMM > 0)}
	s.mmPerPx = 25.4 / 300
	if a.WidthMM > 0 && a.WidthPx > 0 {
		s.mmPerPx = a.WidthMM / float64(a.WidthPx)
	}
	s.art = rectMM{0, 0, float64(max(1, a.WidthPx)) * s.mmPerPx, float64(max(1, a.HeightPx)) * s.mmPerPx}
	b := a.PrintedBoxMM
	s.printed = rectMM{b.X, b.Y, b.X + b.W, b.Y + b.H}
	if s.printed.empty() {
		s.printed = s.art
	}
	if p := rep.Job.Place; p != nil {
		cx, cy := (s.printed.x0+s.printed.x1)/2, (s.printed.y0+s.printed.y1)/2
		s.place = rectMM{cx - p.WidthMM/2, cy - p.HeightMM/2, cx + p.WidthMM/2, cy + p.HeightMM/2}
	}
	s.placeSheet(rep)
	s.findWorlds(rep)
	return s
}

// placeSheet lays the sheet as the artwork's page where they are of one size, else centres it on what prints.
func (s *scene) placeSheet(rep *preflight.Report) {
	sh := rep.Job.Sheet
	w, h := sh.WidthMM, sh.HeightMM
	if !(w > 0 && h > 0) {
		return
	}
	near := func(a, b float64) bool { return math.Abs(a-b) <= samePageMM }
	cx, cy := (s.printed.x0+s.printed.x1)/2, (s.printed.y0+s.printed.y1)/2
	switch {
	case near(s.art.w(), w) && near(s.art.h(), h):
		cx, cy = s.art.w()/2, s.art.h()/2
	case near(s.art.w(), h) && near(s.art.h(), w):
		cx, cy, s.turned = s.art.w()/2, s.art.h()/2, true
	default:
		s.turned = rep.Placement.TurnDeg%180 != 0
	}
	if s.turned {
		w, h = h, w
	}
	s.sheet = rectMM{cx - w/2, cy - h/2, cx + w/2, cy + h/2}
	s.reach = s.sheet.grow(-sh.MarginMM)
	s.overhang = !s.sheet.contains(s.printed)
}

// findWorlds works out what a picture shows with and without the sheet.
func (s *scene) findWorlds(rep *preflight.Report) {
	alone := s.printed.union(s.place)
	for _, f := range rep.Findings {
		if b := s.box(f.BoxPx); !s.coversMost(b) {
			alone = alone.union(b.intersect(s.art))
		}
	}
	s.alone = alone.grow(0.03 * max(alone.w(), alone.h()))
	together := s.sheet.union(s.printed).union(s.place)
	s.together = together.grow(0.025 * max(together.w(), together.h()))
}

// box turns a box of the report into millimetres.
func (s *scene) box(b preflight.BoxPx) rectMM {
	x, y := float64(b.X)*s.mmPerPx, float64(b.Y)*s.mmPerPx
	return rectMM{x, y, x + float64(b.W)*s.mmPerPx, y + float64(b.H)*s.mmPerPx}
}

// coversMost reports whether a box is about the artwork as a whole rather than a place in it.
func (s *scene) coversMost(b rectMM) bool {
	return b.empty() || b.w() >= 0.95*s.printed.w() && b.h() >= 0.95*s.printed.h()
}

// view maps millimetres to pixels of the proof.
type view struct {
	world   rectMM
	at      image.Point // of the world's top left
	pxPerMM float64
}

func (v view) bounds() image.Rectangle {
	return image.Rect(v.at.X, v.at.Y, v.at.X+int(math.Round(v.world.w()*v.pxPerMM)), v.at.Y+int(math.Round(v.world.h()*v.pxPerMM)))
}

func (v view) x(mm float64) int { return v.at.X + int(math.Round((mm-v.world.x0)*v.pxPerMM)) }
func (v view) y(mm float64) int { return v.at.Y + int(math.Round((mm-v.world.y0)*v.pxPerMM)) }

func (v view) rect(r rectMM) image.Rectangle {
	if r.empty() {
		return image.Rectangle{}
	}
	return image.Rect(v.x(r.x0), v.y(r.y0), v.x(r.x1), v.y(r.y1))
}

// shown is where a box is seen: cut to the world, on the edge if it lies beyond it; at least a pixel.
func (v view) shown(r rectMM) image.Rectangle {
	b := v.bounds()
	in := func(p, lo, hi int) int { return min(hi, max(lo, p)) }
	x0, y0 := in(v.x(r.x0), b.Min.X, b.Max.X-1), in(v.y(r.y0), b.Min.Y, b.Max.Y-1)
	return image.Rect(x0, y0, in(v.x(r.x1), x0+1, b.Max.X), in(v.y(r.y1), y0+1, b.Max.Y))
}
