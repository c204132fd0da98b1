package prepare

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"

	"peelcheck/preflight"
	"peelcheck/preflight/printfile"
)

// Rules whose findings cannot be seen in what is written.
const (
	LostWhite = "lost-white" // nothing is printed there, as if nothing had been drawn
	NoSize    = "no-size"    // a print file has a size, whoever chose it
)

// CarryOver adds to the report of a sheet, counted from 0, what the reports of the designs, in the order of Make, say of white that is missing
// from it, once for each copy, and of a size that was assumed, once for each design, and judges the sheet anew. Without it a print file would
// look better than the artwork it was made from.
func (p *Prepared) CarryOver(sheet int, rep *preflight.Report, designs []*preflight.Report) {
	told := map[int]bool{}
	for _, at := range p.File.Sheets[sheet] {
		for _, f := range designs[at.Artwork].Findings {
			switch {
			case f.Rule == LostWhite:
				f = p.missingWhite(at, f, rep)
			case f.Rule == NoSize && !told[at.Artwork]:
				f = p.assumedSize(at, f, rep)
			default:
				continue
			}
			rep.Findings = append(rep.Findings, f)
		}
		told[at.Artwork] = true
	}
	slices.SortStableFunc(rep.Findings, func(a, b preflight.Finding) int { return cmp.Compare(b.Level.Rank(), a.Level.Rank()) })
	for i := range rep.Findings {
		rep.Findings[i].ID = i + 1
	}
	rep.Count()
}

func (p *Prepared) missingWhite(at printfile.Placement, f preflight.Finding, rep *preflight.Report) preflight.Finding {
	f.Message = fmt.Sprintf("White over %.1f mm² of %s (number %d there) is missing here; the garment's colour will show.", f.AreaMM2, p.File.Artworks[at.Artwork].Name, f.ID)
	if point := f.PointPx; point != nil {
		_, on := p.onSheetAt(at, preflight.BoxPx{X: point.X, Y: point.Y, W: 1, H: 1}, rep)
		f.PointPx = &preflight.PointPx{X: on.X, Y: on.Y}
	}
	f.BoxMM, f.BoxPx = p.onSheetAt(at, f.BoxPx, rep)
	return f
}

func (p *Prepared) assumedSize(at printfile.Placement, f preflight.Finding, rep *preflight.Report) preflight.Finding {
	art, box := p.File.Artworks[at.Artwork], p.Planes[at.Artwork].Box
	f.Message = fmt.Sprintf("The size of %s is assumed, since its file does not tell it: %.1f x %.1f mm print here.", art.Name, art.WidthMM, art.HeightMM)
	f.BoxMM, f.BoxPx = p.onSheetAt(at, preflight.BoxPx{X: box.Min.X, Y: box.Min.Y, W: box.Dx(), H: box.Dy()}, rep)
	return f
}

// onSheetAt is where a place of a design, in the pixels it was judged in, lies on the sheet as it is written, of which rep is the report.
func (p *Prepared) onSheetAt(at printfile.Placement, place preflight.BoxPx, rep *preflight.Report) (preflight.BoxMM, preflight.BoxPx) {
	art, box := p.File.Artworks[at.Artwork], p.Planes[at.Artwork].Box
	pixelMM := art.WidthMM / float64(box.Dx())
	x, y := float64(place.X-box.Min.X)*pixelMM, float64(place.Y-box.Min.Y)*pixelMM
	w, h := float64(place.W)*pixelMM, float64(place.H)*pixelMM
	if at.TurnDeg != 0 {
		x, y, w, h = art.HeightMM-y-h, x, h, w
	}
	x, y = x+at.XMM, y+at.YMM
	if p.File.Mirror {
		x = p.File.SheetWidthMM - x - w
	}
	px := func(mm float64) int { return int(math.Round(mm * rep.Artwork.PPIX / 25.4)) }
	shown := image.Rect(px(x), px(y), px(x+w), px(y+h)).Intersect(image.Rect(0, 0, rep.Artwork.WidthPx, rep.Artwork.HeightPx))
	return preflight.BoxMM{X: x, Y: y, W: w, H: h}, preflight.BoxPx{X: shown.Min.X, Y: shown.Min.Y, W: shown.Dx(), H: shown.Dy()}
}
