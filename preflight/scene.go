package preflight

import (
	"cmp"
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/disintegration/imaging"

	"peelcheck/raster"
)

// assumedPPI is the resolution taken where neither the file nor the person tells: what print artwork is usually made at
// (common practice, no source). The report says so.
const assumedPPI = 300

// mostStretch is how far a width and a height asked for together may be from the picture's own shape.
const mostStretch = 1.02

// Scene is one artwork prepared for judging: its planes and masks, each made once and shared by all rules. Callers must not
// modify what its methods return. Its methods are safe for concurrent use.
type Scene struct {
	Art Artwork
	Job Job

	// W and H are the picture's size in pixels.
	W, H int
	// SizeKnown reports whether the printed size was told rather than assumed.
	SizeKnown bool
	// PPI is pixels an inch, the same both ways: pictures with oblong pixels are made square first.
	PPI     float64
	PPIFrom string
	// Printed is the smallest box that holds all that prints, empty where nothing does.
	Printed image.Rectangle
	// Notes are plain sentences about what was assumed, for the report.
	Notes []string

	pic      *raster.Picture
	printed  *separation // as it goes to the printer
	inks     *inks       // the file's own, nil if it has none
	detail   *separation // as the detail rules see it: without a background that is left out
	ground   Background
	groundIs color.NRGBA // the background's colour, where one was found
	survey   *survey
	white    *raster.Bitmap // what prints white, choked where the process chokes

	thinLines, thinGaps, thinWhite func() []raster.Feature
	pieces, holes                  func() []Spot
	inkBoxes                       func() []image.Rectangle
	lostInside                     func() *raster.Bitmap
	lostFound                      atomic.Pointer[raster.Bitmap] // what that returned, nil before
	whispers                       func() *raster.Bitmap
	mixes                          mixMemo
	regions                        func() ([]WhiteRegion, int)
	reading                        func() mirror
	placed                         func() Placement
	suits                          func() *SuitableSizes
}

// NewScene prepares an artwork for judging. Errors tell what is wrong with the size asked for.
func NewScene(art Artwork, job Job) (*Scene, error) {
	s := &Scene{Art: art, Job: job, pic: art.Picture}
	if f := s.Facts(); f != nil && f.Prepared != nil {
		s.Job.Mirrored = f.Prepared.Mirrored
	}
	if s.Job.WhiteDrawnAs == "" {
		s.Job.WhiteDrawnAs = job.Process.WhiteDrawnAs
	}
	if err := s.settleSize(); err != nil {
		return nil, err
	}
	s.W, s.H = s.pic.Pix.Rect.Dx(), s.pic.Pix.Rect.Dy()
	if err := s.look(); err != nil {
		return nil, err
	}
	s.prepareLazily()
	return s, nil
}

// assumption is what the survey has to know of the whole picture beforehand.
type assumption struct {
	ground   color.NRGBA
	isGround bool // the picture has a flat background of that colour
	hasAlpha bool
}

// look surveys the picture. While rows are still arriving it assumes of the whole what the top row suggests, and begins again
// where that was wrong.
func (s *Scene) look() error {
	pending := s.pic.Pending() && s.Job.Background != BackgroundDrop
	known := s.pic.Complete
	if pending {
		known = func() error { return s.pic.Await(1) }
	}
	if err := known(); err != nil {
		return err
	}
	guess := s.assume(pending)
	s.settle(guess)
	if err := s.takeSurvey(); err != nil {
		return err
	}
	if pending {
		if err := s.pic.Complete(); err != nil {
			return err
		}
		if sure := s.assume(false); sure != guess {
			s.settle(sure)
			if err := s.takeSurvey(); err != nil {
				return err
			}
		}
	}
	s.Notes = slices.Concat(s.pic.Notes, s.Notes, s.documentNotes())
	s.finishSurvey()
	return nil
}

// settle makes what an assumption comes to: the background and the separations.
func (s *Scene) settle(a assumption) {
	s.printed = newSeparation(s.Job.Process, s.Job.WhiteDrawnAs, a.hasAlpha)
	s.detail, s.inks = s.printed, findInks(s.pic, s.Job.IsWhite)
	s.settleBackground(a)
}

// SizeError is a printed size that no printer makes, told by the pixels an inch that the picture would have across and down.
type SizeError struct{ PPIX, PPIY float64 }

func (e *SizeError) Error() string {
	return fmt.Sprintf("the printed size asked for gives %s, which no printer uses: check the width, height or resolution given", e.Resolution())
}

// Resolution puts the pixels an inch into words.
func (e *SizeError) Resolution() string {
	if math.Abs(e.PPIX/e.PPIY-1) < 0.005 {
		return plainNumber(e.PPIX) + " pixels an inch"
	}
	return plainNumber(e.PPIX) + " x " + plainNumber(e.PPIY) + " pixels an inch"
}

// plainNumber has three digits that count, and no exponent where it is large.
func plainNumber(v float64) string {
	if v >= 100 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.3g", v)
}

// settleSize works out the resolution from what the person asked for, what the file says, or the stated assumption.
func (s *Scene) settleSize() error {
	b := s.pic.Pix.Rect
	x, y, from := s.pic.PPIX, s.pic.PPIY, s.pic.PPIFrom
	s.SizeKnown = x > 0 && y > 0
	if !s.SizeKnown {
		x, y, from = assumedPPI, assumedPPI, "assumed"
	}
	if s.Job.PPI > 0 {
		x, y, from, s.SizeKnown = s.Job.PPI, s.Job.PPI, s.sizeFrom("the flag --ppi"), true
	}
	w, h := float64(s.Job.Width/Inch), float64(s.Job.Height/Inch)
	switch {
	case w > 0 && h > 0:
		if stretch := float64(b.Dx()) / w * h / float64(b.Dy()); stretch < 1/mostStretch || stretch > mostStretch {
			return fmt.Errorf("--width and --height would stretch the picture, which is %d x %d pixels, out of shape: give one of them", b.Dx(), b.Dy())
		}
		x, y, from, s.SizeKnown = float64(b.Dx())/w, float64(b.Dy())/h, s.sizeFrom("the flags --width and --height"), true
	case w > 0:
		x, y, from, s.SizeKnown = float64(b.Dx())/w, float64(b.Dx())/w*y/x, s.sizeFrom("the flag --width"), true
	case h > 0:
		x, y, from, s.SizeKnown = float64(b.Dy())/h*x/y, float64(b.Dy())/h, s.sizeFrom("the flag --height"), true
	}
	if x < 1 || y < 1 || x > 100000 || y > 100000 {
		return &SizeError{x, y}
	}
	s.PPI, s.PPIFrom = x, from
	if math.Abs(x/y-1) > 0.005 {
		return s.makeSquare(x, y)
	}
	return nil
}

func (s *Scene) sizeFrom(flag string) string { return cmp.Or(s.Job.SizeFrom, flag) }

// makeSquare scales up the coarser direction so that a pixel is as wide as it is high.
func (s *Scene) makeSquare(x, y float64) error {
	b := s.pic.Pix.Rect
	ppi := max(x, y)
	w, h := int(float64(b.Dx())*ppi/x+0.5), int(float64(b.Dy())*ppi/y+0.5)
	if int64(w)*int64(h) > raster.DefaultMaxPixels {
		return fmt.Errorf("the picture's pixels are oblong (%.0f x %.0f an inch) and squaring them would make it too large: export it with one resolution both ways", x, y)
	}
	if err := s.pic.Complete(); err != nil {
		return err
	}
	square := raster.Picture{HasAlpha: s.pic.HasAlpha, Vector: s.pic.Vector, Lossy: s.pic.Lossy, Notes: s.pic.Notes}
	square.Pix = imaging.Resize(s.pic.Pix, w, h, imaging.CatmullRom)
	if s.pic.Separations != nil {
		s.Notes = append(s.Notes, "The file's own inks could not be kept; it was judged by its colours.")
	}
	s.pic = &square
	s.PPI = ppi
	s.Notes = append(s.Notes, fmt.Sprintf("The picture's pixels are oblong (%.0f x %.0f an inch); it was judged with square ones.", x, y))
	return nil
}

// Px turns a length in millimetres into pixels.
func (s *Scene) Px(mm float64) float64 { return mm * s.PPI / 25.4 }

// MM turns pixels into millimetres.
func (s *Scene) MM(px float64) float64 { return px * 25.4 / s.PPI }

// MM2 turns an area in pixels into square millimetres.
func (s *Scene) MM2(px float64) float64 { return px * 25.4 * 25.4 / (s.PPI * s.PPI) }

// BoxMM turns a rectangle of pixels into millimetres.
func (s *Scene) BoxMM(r image.Rectangle) BoxMM {
	return BoxMM{round3(s.MM(float64(r.Min.X))), round3(s.MM(float64(r.Min.Y))), round3(s.MM(float64(r.Dx()))), round3(s.MM(float64(r.Dy())))}
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }

// Limit returns a limit of the job by name; 0 where it has none.
func (s *Scene) Limit(name string) float64 { return s.Job.Limits[name].Value }

// Background tells whether a flat background was found and what was done with it.
func (s *Scene) Background() Background { return s.ground }

// HasAlpha reports whether the artwork has transparent or half-transparent places.
func (s *Scene) HasAlpha() bool { return s.pic.HasAlpha }

// White is the mask of what prints white, choked where the process pulls it in.
func (s *Scene) White() *raster.Bitmap { return s.white }

// Lost is the mask of what is drawn white and will stay unprinted by this process; nil where nothing is.
func (s *Scene) Lost() *raster.Bitmap { return s.survey.lost.mask }

// Stray is the mask of colours, not greys, that pick up at least the process's stray share of white; nil where none do.
func (s *Scene) Stray() *raster.Bitmap { return s.survey.stray.mask }

// Faint is the mask of flat tints that are lighter than the process's tint limit on every plane; nil where none are.
func (s *Scene) Faint() *raster.Bitmap { return s.survey.faint.mask }

// Fading is the mask of all half-transparent places: edges, fades and flat veils; nil where there are none.
func (s *Scene) Fading() *raster.Bitmap { return s.survey.fading.mask }

// Strength returns what a pixel gets of each plane as it goes to the printer, 0 to 1, in the order of AllPlanes.
func (s *Scene) Strength(x, y int) [5]float64 {
	var out [5]float64
	for i, v := range s.Appearance().inkAt(x, y) {
		out[i] = float64(v) / 255
	}
	return out
}

// WhiteOfColour returns how much white a pixel's colour brings with it, 0 to 1, however transparent the pixel is.
func (s *Scene) WhiteOfColour(x, y int) float64 {
	if s.inks != nil {
		return s.Strength(x, y)[inkWhite]
	}
	p := s.pic.Pix.Pix[y*s.pic.Pix.Stride+4*x:]
	return float64(s.printed.pixel(p[0], p[1], p[2], 255)[inkWhite]) / 255
}

// ThinLines are the features of what prints that are thinner than the line limit.
func (s *Scene) ThinLines() []raster.Feature { return s.thinLines() }

// Thin is the mask of ThinLines.
func (s *Scene) Thin() *raster.Bitmap {
	out := raster.NewBitmap(s.W, s.H)
	for _, f := range s.thinLines() {
		for _, r := range f.Runs {
			out.SetRun(int(r.Y), int(r.X0), int(r.X1))
		}
	}
	return out
}

// ThinGaps are the gaps between what prints that are narrower than the gap limit.
func (s *Scene) ThinGaps() []raster.Feature { return s.thinGaps() }

// ThinWhite are the features of the white plane thinner than the line limit that ThinLines does not hold already: white lines
// within colour. Nil for processes whose white lies under everything.
func (s *Scene) ThinWhite() []raster.Feature { return s.thinWhite() }

// Pieces are the printed pieces that stand alone and whose disc of the same area is smaller than the dot limit.
func (s *Scene) Pieces() []Spot { return slices.Concat(s.survey.dotFields, s.pieces()) }

// Holes are the unprinted places, enclosed by print, whose disc of the same area is smaller than the hole limit.
func (s *Scene) Holes() []Spot { return slices.Concat(s.survey.holeFields, s.holes()) }

// WhiteRegions are the connected pieces of the white plane, the largest first and at most 200 of them, and how many there are in
// all.
func (s *Scene) WhiteRegions() ([]WhiteRegion, int) { return s.regions() }

func (s *Scene) prepareLazily() {
	s.thinLines = sync.OnceValue(func() []raster.Feature {
		return raster.FindThin(raster.ThinQuery{
			Mask: setSpots(s.survey.ink.Clone(), s.pieces(), false), Coverage: s.survey.cover.Read,
			LimitPx: s.Px(s.Limit("line")), Blend: s.blend, Tint: s.tint,
		})
	})
	s.thinGaps = sync.OnceValue(func() []raster.Feature {
		found := raster.FindThin(raster.ThinQuery{
			Mask: setSpots(raster.Not(s.survey.solid), s.holes(), false), Coverage: s.survey.cover.Read,
			LimitPx: s.Px(s.Limit("gap")), Gap: true, Blend: s.blend,
		})
		return slices.DeleteFunc(found, func(f raster.Feature) bool { return !s.showsSheet(f) })
	})
	s.placed = sync.OnceValue(s.placement)
	s.suits = sync.OnceValue(s.mostSuitable)
	s.thinWhite = sync.OnceValue(s.findThinWhite)
	s.pieces = sync.OnceValue(func() []Spot { return s.findSpots(spotMask{s.survey.ink, false}, "dot") })
	s.holes = sync.OnceValue(func() []Spot { return s.findSpots(spotMask{s.survey.solid, true}, "hole") })
	s.inkBoxes = sync.OnceValue(func() []image.Rectangle {
		var out []image.Rectangle
		list, _ := raster.ListComponents(s.survey.ink, raster.Eight, nil)
		for _, c := range list {
			out = append(out, c.Box)
		}
		return out
	})
	s.regions = sync.OnceValues(s.findWhiteRegions)
	s.lostInside = sync.OnceValue(func() *raster.Bitmap {
		lost := s.findLostInside()
		s.lostFound.Store(lost)
		return lost
	})
	s.whispers = sync.OnceValue(s.findWhispers)
	s.reading = sync.OnceValue(s.findMirror)
}

// findThinWhite judges the white plane alone and drops what is thin on all planes together, and what holds so little white that it comes with
// its colour.
func (s *Scene) findThinWhite() []raster.Feature {
	if !s.Job.Process.WhiteSource.apart() || raster.AndNot(s.survey.ink, s.survey.whiteInk).Count() == 0 {
		return nil
	}
	known := setSpots(raster.Dilate(s.Thin(), 2), s.pieces(), true)
	var out []raster.Feature
	for _, f := range raster.FindThin(raster.ThinQuery{
		Mask: s.survey.whiteInk, Coverage: s.survey.whiteCover.Read, LimitPx: s.Px(s.Limit("line")), Blend: s.blend,
	}) {
		seen, all := 0, 0
		for _, r := range f.Runs {
			all += int(r.X1 - r.X0)
			seen += known.CountIn(image.Rect(int(r.X0), int(r.Y), int(r.X1), int(r.Y)+1))
		}
		if 2*seen < all && s.hasOwnWhite(f) {
			out = append(out, f)
		}
	}
	return out
}

// hasOwnWhite reports whether some pixel of a feature prints more white than may come with a colour, and is no passage between two colours.
func (s *Scene) hasOwnWhite(f raster.Feature) bool {
	most := uint8(s.Limit("stray") * 255)
	for _, r := range f.Runs {
		for x := int(r.X0); x < int(r.X1); x++ {
			if at := image.Pt(x, int(r.Y)); s.whiteAt(at) > most && !s.isPassage(at, most) {
				return true
			}
		}
	}
	return false
}

// isPassage reports whether the colours across a pixel pass, some way, from one to another that both have no more than so much white.
func (s *Scene) isPassage(at image.Point, most uint8) bool {
	for _, d := range [...]image.Point{{1, 0}, {0, 1}, {1, 1}, {1, -1}} {
		path := []image.Point{at.Sub(d.Mul(2)), at.Sub(d), at, at.Add(d), at.Add(d.Mul(2))}
		if s.blend(path) && max(s.whiteAt(path[0]), s.whiteAt(path[len(path)-1])) <= most {
			return true
		}
	}
	return false
}

// whiteAt is how much white a pixel prints, as the detail rules see it.
func (s *Scene) whiteAt(at image.Point) uint8 {
	var v [1]uint8
	s.survey.whiteCover.Read(v[:], image.Rectangle{at, at.Add(image.Pt(1, 1))})
	return v[0]
}

// blend reports whether the colours along a path lie between those at its ends, as antialiasing makes them where two colours
// touch. Where the ends are alike there is nothing to pass between. The path is straight, so it lies within the picture if its ends do.
func (s *Scene) blend(path []image.Point) bool {
	if !path[0].In(s.pic.Pix.Rect) || !path[len(path)-1].In(s.pic.Pix.Rect) {
		return false
	}
	from, to := s.premultiplied(path[0]), s.premultiplied(path[len(path)-1])
	var lengthSq float64
	for i := range from {
		lengthSq += (to[i] - from[i]) * (to[i] - from[i])
	}
	const nearLevels, apartLevels = 24, 48
	if lengthSq < apartLevels*apartLevels {
		return false
	}
	for _, p := range path {
		if offSegmentSq(s.premultiplied(p), from, to, lengthSq) > nearLevels*nearLevels {
			return false
		}
	}
	return true
}

// offSegmentSq is the squared distance of a colour from the straight passage between two.
func offSegmentSq(p, from, to colour, lengthSq float64) float64 {
	var dot, off float64
	for i := range p {
		dot += (to[i] - from[i]) * (p[i] - from[i])
	}
	t := min(1, max(0, dot/max(lengthSq, 1e-9)))
	for i := range p {
		d := p[i] - (from[i] + t*(to[i]-from[i]))
		off += d * d
	}
	return off
}

// tint is the coverage that a partly transparent pixel would have if it were opaque: straight alpha keeps the colour pure at an
// edge. It is 0 for every other pixel.
func (s *Scene) tint(at image.Point) uint8 {
	if !at.In(s.pic.Pix.Rect) {
		return 0
	}
	p := s.pic.Pix.Pix[at.Y*s.pic.Pix.Stride+4*at.X:]
	if p[3] == 0 || p[3] == 255 {
		return 0
	}
	return s.detail.cover(p[0], p[1], p[2], 255)
}

func (s *Scene) premultiplied(at image.Point) colour {
	p := s.pic.Pix.Pix[at.Y*s.pic.Pix.Stride+4*at.X:]
	a := float64(p[3])
	return colour{float64(p[0]) * a / 255, float64(p[1]) * a / 255, float64(p[2]) * a / 255, a}
}

// HasOwnInks reports whether the file says in ink what prints, rather than in colours of light.
func (s *Scene) HasOwnInks() bool { return s.inks != nil }

// Colours returns a part of the picture as it is judged: straight colour and alpha, without a background that was dropped. Callers must
// not modify it.
func (s *Scene) Colours(part image.Rectangle) *image.NRGBA {
	return s.pic.Pix.SubImage(part).(*image.NRGBA)
}
