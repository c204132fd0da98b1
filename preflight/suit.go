package preflight

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"peelcheck/raster"
)

// SuitableSizes is the range of printed sizes, in proportion, at which an artwork suits its sheet, its place and its pixels, and at which the
// finest detail that was found holds.
type SuitableSizes struct {
	Bounds []SizeBound  `json:"bounds"` // the tightest of each kind
	Least  *PrintedSize `json:"least,omitempty"`
	Most   PrintedSize  `json:"most"`
	// Upright is the largest size that fits the sheet upright, where Most fits it only when turned by 90 degrees.
	Upright  *PrintedSize `json:"upright,omitempty"`
	SuitsAll bool         `json:"suits_all"` // false where Least is larger than Most: Most then leaves the detail out
	Words    string       `json:"words"`
}

// SizeBound is one wish that bounds the printed size: of the sheet, the place, the pixels (at most), or of a rule for detail (at least).
type SizeBound struct {
	From    string  `json:"from"`  // "sheet", "place", "pixels", or the rule's ID
	Sense   string  `json:"sense"` // "at most" or "at least"
	Scale   float64 `json:"scale"` // of the size it was judged at
	WidthMM float64 `json:"width_mm"`
}

// PrintedSize is a size at which an artwork may be printed.
type PrintedSize struct {
	Scale     float64 `json:"scale"`      // of the size it was judged at
	DesignMM  SizeMM  `json:"design_mm"`  // what prints
	PictureMM SizeMM  `json:"picture_mm"` // the whole picture, its empty edges included
}

// What bounds a size from above.
const (
	boundSheet  = "sheet"
	boundPlace  = "place"
	boundPixels = "pixels"
)

// mostGrowth is how much larger detail may ask a print to be; beyond that it holds at no size.
const mostGrowth = 100

// mostSuitable is the largest size that suits the sheet with room to trim, the place and the pixels together, with the bounds it comes from;
// nil where nothing prints, no size is possible, or the artwork is a sheet already.
func (s *Scene) mostSuitable() *SuitableSizes {
	box, room := s.BoxMM(s.Printed), s.Job.Sheet.roomToTrim(s.Limit("clearance"))
	if s.Printed.Empty() || min(room.W, room.H) <= 0 || s.Facts() != nil && s.Facts().Prepared != nil {
		return nil
	}
	upright, turned := largestScale(SizeMM{box.W, box.H}, room), largestScale(SizeMM{box.H, box.W}, room)
	z := &SuitableSizes{SuitsAll: true}
	most := math.Inf(1)
	add := func(from string, scale float64) {
		z.Bounds = append(z.Bounds, SizeBound{from, "at most", floorTo(scale, scaleSteps), floorTo(s.MM(float64(s.W))*scale, 10)})
		most = min(most, scale)
	}
	add(boundSheet, max(upright, turned))
	if s.Job.Place != nil {
		add(boundPlace, largestScale(SizeMM{box.W, box.H}, s.Job.Place.Size()))
	}
	if scale := s.pixelsSuffice(); !math.IsInf(scale, 1) {
		add(boundPixels, scale)
	}
	if most <= 0 {
		return nil
	}
	at := func(scale float64) PrintedSize {
		return printedSize(scale, SizeMM{s.MM(float64(s.W)), s.MM(float64(s.H))}, SizeMM{box.W, box.H}, floorTo)
	}
	if z.Most = at(most); most > upright {
		lies := at(upright)
		z.Upright = &lies
	}
	return z
}

func printedSize(scale float64, picture, design SizeMM, round func(v, parts float64) float64) PrintedSize {
	at := func(s SizeMM) SizeMM { return SizeMM{round(s.W*scale, 10), round(s.H*scale, 10)} }
	return PrintedSize{Scale: round(scale, scaleSteps), DesignMM: at(design), PictureMM: at(picture)}
}

// pixelsSuffice is the largest scale at which the picture, or every picture on a page, has the pixels an inch it needs; infinite without pixels.
func (s *Scene) pixelsSuffice() float64 {
	limit := s.Limit("ppi")
	switch {
	case limit <= 0:
		return math.Inf(1)
	case s.Facts() != nil:
		least := math.Inf(1)
		for _, i := range s.Facts().Images {
			if i.Flat || !s.PrintsIn(s.FactPlace(i.Box)) {
				continue
			}
			least = min(least, max(min(i.PPIX, i.PPIY)/s.FactScale()/limit, s.stopsBeingSliver(i)))
		}
		return least
	case s.Art.Picture.Vector:
		return math.Inf(1)
	}
	return s.PPI / limit
}

// stopsBeingSliver is the scale from which on a placed picture of few pixels is large enough to show steps; 0 for one of many.
func (s *Scene) stopsBeingSliver(i raster.FactImage) float64 {
	if min(i.WidthPx, i.HeightPx) >= raster.DrawingPx {
		return 0
	}
	from := func(pixels int, ppi float64) float64 {
		return leastSwatchMM * ppi / (float64(max(1, pixels)) * float64(Inch) * s.FactScale())
	}
	return max(from(i.WidthPx, i.PPIX), from(i.HeightPx, i.PPIY))
}

// SizeForAll tells in words, for remedies, the largest size that suits the sheet, the place and the pixels together: "52.6 % (the whole picture
// is then 94.6 mm wide)", and what turning it gives; empty where there is none of use.
func (s *Scene) SizeForAll() string {
	z := s.suits()
	if z == nil || z.OfNoUse() {
		return ""
	}
	at := func(p PrintedSize) string {
		return fmt.Sprintf("%s (the whole picture is then %.1f mm wide)", percent(p.Scale), p.PictureMM.W)
	}
	if z.Upright == nil {
		return at(z.Most)
	}
	return at(*z.Upright) + ", or turned by 90 degrees at " + at(z.Most)
}

// A print under this share of the size asked for, and smaller than this, is not what was asked for: the smallest places on a garment take 90 mm.
// Common practice, no source.
const (
	leastShare    = 0.25
	leastUsefulMM = 30
)

// OfNoUse reports whether there are pixels only for a print so small that nobody wants it; a larger picture is to be asked for then.
func (z *SuitableSizes) OfNoUse() bool {
	return z.Most.Scale < leastShare && max(z.Most.PictureMM.W, z.Most.PictureMM.H) < leastUsefulMM && len(z.Bounds) > 0 && z.tightest().From == boundPixels
}

// settleSizes works out anew, from the findings that count, what detail asks of the size, and the words.
func (r *Report) settleSizes() {
	if r.Sizes == nil {
		return
	}
	z := *r.Sizes // copies of the report share it
	z.Bounds = slices.DeleteFunc(slices.Clone(z.Bounds), func(b SizeBound) bool { return b.Sense == "at least" })
	z.Least, z.SuitsAll = nil, true
	if rule, scale := r.detailHolds(); rule != "" {
		least := printedSize(scale, SizeMM{r.Artwork.WidthMM, r.Artwork.HeightMM}, SizeMM{r.Artwork.PrintedBoxMM.W, r.Artwork.PrintedBoxMM.H}, ceilTo)
		z.Least, z.SuitsAll = &least, scale <= z.Most.Scale
		z.Bounds = append(z.Bounds, SizeBound{rule, "at least", scale, least.PictureMM.W})
	}
	z.Words = z.words(r)
	r.Sizes = &z
}

func ceilTo(v, parts float64) float64 { return math.Ceil(v*parts-1e-9) / parts }

// detailRules are the rules whose measure grows with the print, and what each calls its worst.
var detailRules = map[string]string{
	"hairline": "the thinnest line", "thin-gap": "the narrowest gap", "speck": "the smallest dot", "pinhole": "the smallest hole", "small-text": "the smallest text",
}

// detailHolds is the least scale at which all fine detail that was found holds, and the rule that asks for it; no rule where none does. Dots
// close together count by their mean, as they are told.
func (r *Report) detailHolds() (rule string, scale float64) {
	for i := range r.Findings {
		f := &r.Findings[i]
		if detailRules[f.Rule] == "" || f.Accepted != nil || f.Level == LevelNote {
			continue
		}
		needs := float64(mostGrowth)
		if f.Measure.Value > 0 {
			needs = min(needs, ceilTo(f.Measure.Limit/f.Measure.Value, scaleSteps))
		}
		if needs > scale {
			rule, scale = f.Rule, needs
		}
	}
	return rule, scale
}

// sizeRules are the rules that end in another printed size.
var sizeRules = []string{"off-sheet", "off-place", "low-ppi", "edge-clearance"}

// atMost is the share by which a print may grow and still count as one of the largest size.
const atMost = 1.01

// SizeAdvised reports whether another printed size is advised, or that none helps: the size is not known, a rule of sizes asks for a smaller
// one, a larger one makes all detail hold and suits the rest, or detail is too fine for the place or for the largest size.
func (r *Report) SizeAdvised() bool {
	if r.Sizes == nil {
		return false
	}
	tooFine := r.Sizes.Least != nil && (r.Sizes.SuitsAll || r.Job.Place != nil || r.Sizes.Most.Scale < atMost)
	return tooFine || slices.ContainsFunc(r.Findings, func(f Finding) bool {
		return f.Accepted == nil && (f.Rule == "no-size" || r.Sizes.Most.Scale < 1 && slices.Contains(sizeRules, f.Rule))
	})
}

// SizesInShort are the sizes that suit all, in millimetres, without the reasons but for detail that is too fine there; empty where no other size
// is advised. What detail does at a smaller size is not known: see ShrinksDetail.
func (r *Report) SizesInShort() string {
	if !r.SizeAdvised() {
		return ""
	}
	z := r.Sizes
	if z.OfNoUse() {
		return "none of use: the picture has too few pixels. Ask for a larger one."
	}
	text := fmt.Sprintf("up to %.1f x %.1f mm", z.Most.PictureMM.W, z.Most.PictureMM.H)
	if z.Least != nil && z.SuitsAll {
		text = fmt.Sprintf("%.1f to %.1f mm wide", z.Least.PictureMM.W, z.Most.PictureMM.W)
	}
	if z.Upright != nil {
		text += fmt.Sprintf(", turned if over %.1f mm wide", z.Upright.PictureMM.W)
	}
	if !z.SuitsAll {
		text += "; " + z.finest() + " is too fine at that size"
	}
	return text + "."
}

// finest names the detail that asks for the largest print.
func (z *SuitableSizes) finest() string {
	if i := slices.IndexFunc(z.Bounds, func(b SizeBound) bool { return b.Sense == "at least" }); i >= 0 {
		return detailRules[z.Bounds[i].From]
	}
	return "its finest detail" // the report is not whole
}

// ShrinksDetail reports whether the size that is advised is a smaller one, at which detail that holds now may be too fine.
func (r *Report) ShrinksDetail() bool {
	return r.SizeAdvised() && r.Sizes.Most.Scale < 1 && !r.Sizes.OfNoUse()
}

func (z *SuitableSizes) words(r *Report) string {
	switch {
	case z.OfNoUse():
		return fmt.Sprintf("The picture cannot be used at this size: it has enough pixels only up to %.1f mm wide. Ask for a larger one.", z.Most.PictureMM.W)
	case z.Least == nil:
		return fmt.Sprintf("Printed at most %s, %s.", z.MostAsItLies().wide(r), z.suits(r, ""))
	case z.SuitsAll:
		return fmt.Sprintf("Printed %.1f to %s, %s.", z.Least.PictureMM.W, z.MostAsItLies().wide(r), z.suits(r, detailRules[z.Bounds[len(z.Bounds)-1].From]))
	}
	detail := z.Bounds[len(z.Bounds)-1]
	text := fmt.Sprintf("No size suits all: %s holds at no size, however large it is printed.", detailRules[detail.From])
	if detail.Scale < mostGrowth {
		top := z.tightest()
		text = fmt.Sprintf("No size suits all: %s needs it printed at least %.1f mm wide, but %s, %.1f mm less.",
			detailRules[detail.From], detail.WidthMM, top.allows(r), detail.WidthMM-top.WidthMM)
	}
	return text + fmt.Sprintf(" With fine detail mended for that size, printed at most %s, %s.", z.MostAsItLies().wide(r), z.suits(r, ""))
}

// onlyTurned reports whether every size in the range fits the sheet only when turned.
func (z *SuitableSizes) onlyTurned() bool {
	return z.Upright != nil && z.SuitsAll && z.Least != nil && z.Least.Scale > z.Upright.Scale
}

// MostAsItLies is the largest size that needs no turning on the sheet, if there is any: what is turned is to be looked at first.
func (z *SuitableSizes) MostAsItLies() PrintedSize {
	if z.Upright == nil || z.onlyTurned() {
		return z.Most
	}
	return *z.Upright
}

// tightest is the bound that keeps the size down most.
func (z *SuitableSizes) tightest() SizeBound {
	return slices.MinFunc(z.Bounds, func(a, b SizeBound) int {
		rank := func(b SizeBound) float64 {
			if b.Sense == "at least" {
				return math.Inf(1)
			}
			return b.Scale
		}
		return cmp.Compare(rank(a), rank(b))
	})
}

// allows tells how large a bound lets the picture be.
func (b SizeBound) allows(r *Report) string {
	switch b.From {
	case boundSheet:
		return fmt.Sprintf("the sheet (%s) has room for %.1f mm", r.Job.Sheet.Name, b.WidthMM)
	case boundPlace:
		return fmt.Sprintf("the place (%s) takes %.1f mm", r.placeName(), b.WidthMM)
	}
	return fmt.Sprintf("it has enough pixels only up to %.1f mm", b.WidthMM)
}

// placeName is empty in a report that is not whole.
func (r *Report) placeName() string {
	if r.Job.Place == nil {
		return ""
	}
	return r.Job.Place.Name
}

// Suited names what the range suits, in the words that a customer is told.
func (z *SuitableSizes) Suited(r *Report) (list []string) {
	for _, b := range z.Bounds {
		switch b.From {
		case boundSheet:
			list = append(list, "our sheet")
		case boundPlace:
			list = append(list, "its place on the garment ("+r.placeName()+")")
		case boundPixels:
			list = append(list, "the pixels that it has")
		}
	}
	return list
}

// wide is a size as it is asked for: the width of the whole picture, with what prints where that is smaller.
func (z PrintedSize) wide(r *Report) string {
	text := fmt.Sprintf("%.1f mm wide (%.1f mm high", z.PictureMM.W, z.PictureMM.H)
	if a := r.Artwork; a.WidthMM-a.PrintedBoxMM.W > 0.5 || a.HeightMM-a.PrintedBoxMM.H > 0.5 {
		text += fmt.Sprintf(", of which %.1f x %.1f mm print", z.DesignMM.W, z.DesignMM.H)
	}
	return text + ")"
}

// suits lists what a size within the range suits.
func (z *SuitableSizes) suits(r *Report, detail string) string {
	var list []string
	for _, b := range z.Bounds {
		switch b.From {
		case boundSheet:
			text := "fits the sheet (" + r.Job.Sheet.Name + ") with room to trim"
			switch {
			case z.onlyTurned():
				text = "turned by 90 degrees " + text
			case z.Upright != nil:
				text += fmt.Sprintf(" (turned by 90 degrees up to %.1f mm wide)", z.Most.PictureMM.W)
			}
			list = append(list, text)
		case boundPlace:
			list = append(list, "fits the place ("+r.placeName()+")")
		case boundPixels:
			list = append(list, "has enough pixels")
		}
	}
	if detail != "" {
		list = append(list, detail+" holds")
	}
	return "it " + Listed(list)
}

// Listed puts a list into words: "a, b and c".
func Listed(list []string) string {
	if last := len(list) - 1; last > 0 {
		return strings.Join(list[:last], ", ") + " and " + list[last]
	}
	return strings.Join(list, "")
}
