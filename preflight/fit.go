package preflight

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// fittingSizes are the largest sizes at which a printed box leaves room to trim on the sheet, the larger way round first. It returns none
// where the box does so as it is, or where the sheet has no such room at all.
func fittingSizes(box, room SizeMM) []FitSize {
	if !(room.W > 0 && room.H > 0) || fits(box, room) {
		return nil
	}
	up, turned := fitSize(box, room, 0), fitSize(box, room, 90)
	if turned.Scale > up.Scale {
		return []FitSize{turned, up}
	}
	return []FitSize{up, turned}
}

// fitSize is the largest size one way round, rounded down, so that what is printed at the scale told, or at the size told, fits.
func fitSize(box, room SizeMM, turnDeg int) FitSize {
	lies := box
	if turnDeg != 0 {
		lies = SizeMM{box.H, box.W}
	}
	scale := largestScale(lies, room)
	if fits(lies, room) {
		scale = 1
	}
	return FitSize{TurnDeg: turnDeg, Scale: floorTo(scale, scaleSteps), DesignMM: SizeMM{floorTo(box.W*scale, 10), floorTo(box.H*scale, 10)}}
}

// scaleSteps is how finely scales are told: what is printed at one is of the same tenth of a millimetre whichever size it was judged at.
const scaleSteps = 1e6

// percent is a scale in words, rounded down to a tenth.
func percent(scale float64) string { return fmt.Sprintf("%.1f %%", floorTo(100*scale, 10)) }

func floorTo(v, parts float64) float64 { return math.Floor(v*parts+1e-9) / parts }

// tiling is how a printed box spans sheets whose neighbours share overlapMM, the way round that takes fewer, upright if both take as many;
// nil where sheets have no room for that.
func tiling(box, room SizeMM, overlapMM float64) *Tiling {
	if min(room.W, room.H) <= overlapMM {
		return nil
	}
	up := Tiling{Columns: tilesAlong(box.W, room.W, overlapMM), Rows: tilesAlong(box.H, room.H, overlapMM), OverlapMM: overlapMM}
	turned := Tiling{Columns: tilesAlong(box.W, room.H, overlapMM), Rows: tilesAlong(box.H, room.W, overlapMM), TurnDeg: 90, OverlapMM: overlapMM}
	if turned.Columns*turned.Rows < up.Columns*up.Rows {
		return &turned
	}
	return &up
}

// tilesAlong counts pieces of a length that cover another one, each sharing overlap with the next.
func tilesAlong(length, piece, overlap float64) int {
	return max(1, int(math.Ceil((length-overlap-fitToleranceMM)/(piece-overlap))))
}

// Words are the size and the scale: "199.8 x 133.2 mm (66.6 %)".
func (f FitSize) Words() string {
	return fmt.Sprintf("%.1f x %.1f mm (%s)", f.DesignMM.W, f.DesignMM.H, percent(f.Scale))
}

// SizesThatFit tells in sentences the largest sizes at which the design leaves room to trim, both ways round, and the pixels that leaves;
// empty where there are none, or it has that room as it is.
func (s *Scene) SizesThatFit() string { return s.sizesThatFit(s.Placement().FittingSizes) }

func (s *Scene) sizesThatFit(sizes []FitSize) string {
	if len(sizes) < 2 {
		return ""
	}
	if sizes[0].Scale == 1 {
		return fmt.Sprintf("At its full size it has room to trim %s.", wayWords[sizes[0].TurnDeg])
	}
	return upperFirst(largestWays(sizes)) + "." + s.ppiWords("At the larger of these", sizes[0].PPI)
}

var wayWords = map[int]string{0: "upright", 90: "turned by 90 degrees"}

// LargestWays tells the largest sizes with room to trim, both ways round, without the period; there must be some.
func (p *Placement) LargestWays() string { return largestWays(p.FittingSizes) }

func largestWays(sizes []FitSize) string {
	best, other := sizes[0], sizes[1]
	return fmt.Sprintf("the largest that fits with room to trim is %s %s; %s it is %s", best.Words(), wayWords[best.TurnDeg], wayWords[other.TurnDeg], other.Words())
}

// ShrunkTo is the largest size at which the design, upright, fits a place, and what is to be told of its pixels then, empty or in a
// sentence that begins with a space.
func (s *Scene) ShrunkTo(place SizeMM) (FitSize, string) {
	box := s.BoxMM(s.Printed)
	f := s.ofPicture(fitSize(SizeMM{box.W, box.H}, place, 0))
	return f, s.ppiWords("There", f.PPI)
}

// ppiWords tell the pixels an inch that another size leaves, and whether too few become enough or stay too few; nothing without pixels.
func (s *Scene) ppiWords(where string, ppi float64) string {
	if ppi <= 0 {
		return ""
	}
	text := fmt.Sprintf(" %s the coarsest picture has %.0f pixels an inch", where, math.Floor(ppi))
	if !s.Art.Picture.Vector {
		text = fmt.Sprintf(" %s the picture has %.0f pixels an inch", where, math.Floor(ppi))
	}
	now, limit := s.CoarsestPPI(), s.Limit("ppi")
	switch {
	case now >= limit:
		return text + "."
	case ppi >= limit:
		return text + fmt.Sprintf(", which is enough: %.0f are needed, and now it has %.0f.", limit, math.Floor(now))
	}
	return text + fmt.Sprintf(", which is still too few: %.0f are needed.", limit)
}

// Words tell how many sheets: "4 sheets, 2 across and 2 down, neighbours sharing 5.0 mm".
func (t *Tiling) Words() string {
	text := fmt.Sprintf("%d sheets, %d across and %d down", t.Columns*t.Rows, t.Columns, t.Rows)
	if t.TurnDeg != 0 {
		text += ", each sheet turned by 90 degrees"
	}
	return text + fmt.Sprintf(", neighbours sharing %.1f mm", t.OverlapMM)
}

// fitJob adds what only the whole picture and the process tell: its size at each scale, its pixels, sheets that would hold it, and what the
// printer's settings would do to its page.
func (s *Scene) fitJob(p *Placement, box SizeMM) {
	for i, f := range p.FittingSizes {
		p.FittingSizes[i] = s.ofPicture(f)
	}
	if !p.Fits {
		p.LargerSheets = s.sheetsFor(box)
		p.Notes = append(p.Notes, s.sizesThatFit(p.FittingSizes), p.otherSheets())
		p.Notes = slices.DeleteFunc(p.Notes, func(n string) bool { return n == "" })
	}
	if p.Fits && s.SizeKnown {
		s.pageOnSheet(p, SizeMM{s.MM(float64(s.W)), s.MM(float64(s.H))})
	}
}

// otherSheets tells in a sentence which larger sheets hold what does not fit, and how many of these it would span.
func (p *Placement) otherSheets() string {
	var parts []string
	if len(p.LargerSheets) > 0 {
		parts = append(parts, fmt.Sprintf("%s would hold it at its full size", strings.Join(p.LargerSheets, " or ")))
	}
	if p.Tiled != nil {
		parts = append(parts, "in parts it would take "+p.Tiled.Words())
	}
	if parts == nil {
		return ""
	}
	return upperFirst(strings.Join(parts, "; ")) + "."
}

// ofPicture adds the size of the whole picture and its pixels an inch.
func (s *Scene) ofPicture(f FitSize) FitSize {
	f.PictureMM = SizeMM{floorTo(s.MM(float64(s.W))*f.Scale, 10), floorTo(s.MM(float64(s.H))*f.Scale, 10)}
	f.PPI = floorTo(s.CoarsestPPI()/f.Scale, 10)
	return f
}

// sheetsFor names the sheets of the process that hold a box with room to trim, one way round or the other.
func (s *Scene) sheetsFor(box SizeMM) (names []string) {
	for _, name := range s.Job.Process.Sheets {
		sheet, err := SheetByName(name, s.Job.Process, nil)
		if err != nil { // one of the shop's own, which the job does not know
			continue
		}
		if room := sheet.roomToTrim(s.Limit("clearance")); fits(box, room) || fits(SizeMM{box.H, box.W}, room) {
			names = append(names, name)
		}
	}
	return names
}

// pageToleranceMM is how much a page may be larger than the sheet and still be of its size: files round to pixels and points.
const pageToleranceMM = 1

// pageOnSheet names what a printer that is left to itself does to a page that the sheet does not hold as it lies, though what prints on it
// fits, and the settings against that.
func (s *Scene) pageOnSheet(p *Placement, page SizeMM) {
	holds := func(w, h float64) bool {
		return w <= s.Job.Sheet.Width.MM()+pageToleranceMM && h <= s.Job.Sheet.Height.MM()+pageToleranceMM
	}
	if holds(page.W, page.H) {
		return
	}
	what := "picture with its empty edges"
	if s.Art.Picture.Vector {
		what = "page"
	}
	shrunk := 100 * floorTo(largestScale(page, p.PrintableMM), 1000)
	const settings = "choose actual size (100 %) and switch off every setting that fits pages to the sheet or turns them by itself"
	across := holds(page.H, page.W)
	how := "is larger than"
	if across {
		how = "lies across"
	}
	note := fmt.Sprintf("The %s is %.0f x %.0f mm and %s %s: a printer set to fit pages would shrink it to %.1f %% without a word", what, page.W, page.H, how, s.Job.Sheet.Name, shrunk)
	if across {
		note += ", one set to turn pages by itself would turn it"
	}
	p.Notes = append(p.Notes, note+".")
	switch {
	case p.TurnDeg != 0:
		p.Settings = []string{"Once it is turned, " + settings + "."}
	case across:
		p.Settings = []string{fmt.Sprintf("Set the paper to %s by hand, %s.", alike(page), settings)}
	default:
		p.Settings = []string{"Crop the empty edges, or centre the design on the sheet; then " + settings + "."}
	}
}

// alike is the direction of paper that is as a page lies.
func alike(page SizeMM) string {
	if page.W > page.H {
		return "lie across (landscape)"
	}
	return "stand upright (portrait)"
}

// roomToTrim is the part of the sheet that print may take up when it is cut out with clearance all round.
func (s Sheet) roomToTrim(clearanceMM float64) SizeMM {
	inset := max(s.Margin.MM(), clearanceMM)
	return SizeMM{s.Width.MM() - 2*inset, s.Height.MM() - 2*inset}
}

func upperFirst(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
