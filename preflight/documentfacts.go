package preflight

import (
	"fmt"
	"image"
	"math"

	"peelcheck/raster"
)

// Facts are what the objects of the artwork's page say of themselves; nil for a picture, and for a document whose structure is damaged.
func (s *Scene) Facts() *raster.Facts { return s.Art.Picture.Facts }

// FactScale is how many millimetres of print a millimetre of the page becomes.
func (s *Scene) FactScale() float64 { return s.MM(float64(s.W)) / s.Facts().WidthMM }

// FactPlace is a place on the page in pixels, outwards to whole ones, at least one, and cut to the picture.
func (s *Scene) FactPlace(b raster.FactBox) image.Rectangle {
	k := float64(s.W) / s.Facts().WidthMM
	px := func(mm float64, round func(float64) float64) int {
		return int(round(math.Max(-1e6, math.Min(1e6, mm*k))))
	}
	r := image.Rect(px(b.X, math.Floor), px(b.Y, math.Floor), px(b.X+b.W, math.Ceil), px(b.Y+b.H, math.Ceil))
	r.Max.X, r.Max.Y = max(r.Max.X, r.Min.X+1), max(r.Max.Y, r.Min.Y+1)
	return r.Intersect(s.Everything())
}

// PrintsIn reports whether anything prints within a rectangle.
func (s *Scene) PrintsIn(r image.Rectangle) bool {
	r = r.Intersect(s.Everything())
	return !r.Empty() && (s.survey.ink.CountIn(r) > 0 || s.survey.printsWhite.CountIn(r) > 0)
}

// PlacedPicture is a picture on a page, where it prints.
type PlacedPicture struct {
	Name  string // as the file has it, empty for one without
	Mask  bool   // it has one colour
	Where image.Rectangle
	PPI   float64 // at the printed size, the coarser of its two directions
}

// leastSwatchMM is how wide and high a picture of few pixels must be to count: a smaller one is a dot or a sliver, and shows no steps.
const leastSwatchMM = 2

// TooFewPixels compares in whole pixels an inch, as both are told: sizes in a file are rounded, and 149.9 pixels an inch are 150.
func TooFewPixels(ppi, limit float64) bool { return math.Round(ppi) < math.Round(limit) }

// PlacedPictures are those of a page's pictures that print something and have fewer pixels an inch than under.
func (s *Scene) PlacedPictures(under float64) (list []PlacedPicture) {
	for _, i := range s.Facts().Images {
		ppi := min(i.PPIX, i.PPIY) / s.FactScale()
		where := s.FactPlace(i.Box)
		if i.Flat || s.isSliver(i) || !TooFewPixels(ppi, under) || !s.PrintsIn(where) {
			continue
		}
		list = append(list, PlacedPicture{i.Name, i.Mask, where, ppi})
	}
	return list
}

// isSliver reports whether a placed picture of few pixels is too small to be one.
func (s *Scene) isSliver(i raster.FactImage) bool {
	if min(i.WidthPx, i.HeightPx) >= raster.DrawingPx {
		return false
	}
	side := func(pixels int, ppi float64) bool {
		return float64(pixels)*float64(Inch)*s.FactScale() >= leastSwatchMM*ppi && ppi > 0
	}
	return !side(i.WidthPx, i.PPIX) || !side(i.HeightPx, i.PPIY)
}

// CoarsestPPI is the pixels an inch, at the printed size, of the picture or of the coarsest one on a page; 0 where nothing has pixels, the
// size is not known, or the document is damaged.
func (s *Scene) CoarsestPPI() float64 {
	switch {
	case s.Facts() != nil:
		least := math.Inf(1)
		for _, p := range s.PlacedPictures(least) {
			least = min(least, p.PPI)
		}
		if math.IsInf(least, 1) {
			return 0
		}
		return least
	case s.Art.Picture.Vector || !s.SizeKnown:
		return 0
	}
	return s.PPI
}

// documentNotes are what a document's own facts add to the notes of a report.
func (s *Scene) documentNotes() (notes []string) {
	f := s.Facts()
	if f == nil {
		return nil
	}
	if f.Prepared != nil {
		notes = append(notes, s.preparedNote(f.Prepared))
	}
	if f.OtherSizes > 0 {
		notes = append(notes, fmt.Sprintf("Pages of this document differ in size: this one is %.0f x %.0f mm, and %d of the others %s not.",
			f.WidthMM, f.HeightMM, f.OtherSizes, map[bool]string{true: "is", false: "are"}[f.OtherSizes == 1]))
	}
	if f.Encrypted {
		notes = append(notes, "The file is locked against changes; it can be judged and printed all the same.")
	}
	if f.Incomplete != "" {
		notes = append(notes, "Not all that the file says of its objects was looked at: "+f.Incomplete+".")
	}
	return notes
}

// preparedNote tells that the artwork is a print file of our own.
func (s *Scene) preparedNote(p *raster.FactPrepared) string {
	note := fmt.Sprintf("This is a print file that peelcheck prepared for %s", Shortened(p.Process))
	if p.Mirrored {
		note += ", mirrored already"
	}
	note += "; check the artwork that it was made from instead."
	if p.Process != s.Job.Process.ID {
		note += fmt.Sprintf(" It was judged here for %s, so what was found may not hold.", s.Job.Process.ID)
	}
	return note
}

// AsDrawn gives hits of thin lines the width that the page's own strokes have there, which is exact; a stroke of width 0, the thinnest line a
// device can draw, is said to be one. A hit keeps its own width where no stroke is nearly as wide: it may be part of one, or what several leave.
func (s *Scene) AsDrawn(hits []Hit, limit float64) []Hit {
	if s.Facts() == nil || len(s.Facts().Strokes) == 0 {
		return hits
	}
	strokes := s.thinStrokes(limit)
	for i := range hits {
		h := &hits[i]
		if stroke := strokes.at(h.Where, h.Value); stroke != nil {
			h.Value = round3(stroke.widthMM)
			if h.Value == 0 {
				h.Message = fmt.Sprintf("A line without a width of its own over %.1f mm: every printer draws it as thin as it can.", h.LengthMM)
			} else {
				h.Message = thinMessage("line", h.Value, h.LengthMM)
			}
		}
	}
	return hits
}

// drawnStroke is a stroke of the page that is thin and as wide in all directions.
type drawnStroke struct {
	where   image.Rectangle
	widthMM float64
}

// strokeGrid holds strokes by the cells that their boxes touch.
type strokeGrid struct {
	cell  int
	cells map[image.Point][]drawnStroke
	near  float64 // how far apart, in millimetres, the two measures of a stroke may be
}

// thinStrokes are those up to a little wider than a limit.
func (s *Scene) thinStrokes(limit float64) *strokeGrid {
	const even, somewhat, acrossCells = 1.02, 1.2, 64
	g := &strokeGrid{cell: max(1, max(s.W, s.H)/acrossCells), cells: map[image.Point][]drawnStroke{}, near: s.MM(1.2)}
	scale := s.FactScale()
	for _, f := range s.Facts().Strokes {
		if f.MostMM*scale > somewhat*limit || f.MostMM > even*f.LeastMM {
			continue
		}
		st := drawnStroke{s.FactPlace(f.Box), f.MostMM * scale}
		g.each(st.where, func(at image.Point) { g.cells[at] = append(g.cells[at], st) })
	}
	return g
}

func (g *strokeGrid) each(r image.Rectangle, do func(image.Point)) {
	for y := r.Min.Y / g.cell; y <= (r.Max.Y-1)/g.cell; y++ {
		for x := r.Min.X / g.cell; x <= (r.Max.X-1)/g.cell; x++ {
			do(image.Pt(x, y))
		}
	}
}

// at is the stroke nearest in width of those that lie where a hit of a width does, nil without one.
func (g *strokeGrid) at(where image.Rectangle, widthMM float64) (best *drawnStroke) {
	const besidePx = 2
	least := g.near
	middle := where.Min.Add(where.Max).Div(2)
	list := g.cells[image.Pt(middle.X/g.cell, middle.Y/g.cell)]
	for i := range list {
		st := &list[i]
		if apart := math.Abs(st.widthMM - widthMM); apart <= least && where.In(st.where.Inset(-besidePx)) {
			best, least = st, apart
		}
	}
	return best
}

// Shortened is text to be quoted: the beginning of it, if it is long.
func Shortened(text string) string {
	const most = 40
	if r := []rune(text); len(r) > most {
		return string(r[:most]) + "…"
	}
	return text
}
