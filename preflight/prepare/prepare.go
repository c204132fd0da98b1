// Package prepare makes what goes to the printer from artwork that was judged: its planes, placed on sheets, mirrored exactly once.
//
// Start with Make; Lines tells the operator what was done and how to print it.
package prepare

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"peelcheck/preflight"
	"peelcheck/preflight/impose"
	"peelcheck/preflight/printfile"
	"peelcheck/raster"
)

// Design is one artwork to be printed. All designs of a call have one process and one sheet.
type Design struct {
	Name   string
	Scene  *preflight.Scene
	Copies int // not looked at when a sheet is filled
	// Page is the page that the scene's picture was drawn from, nil if it was none: where the process allows, it is printed as it is.
	Page *printfile.Page
}

// Options say how designs are laid out and what is mended on the way.
type Options struct {
	Fill      bool // one sheet as full as it can be made
	Turn      impose.Turning
	SpacingMM float64 // between designs
	Thicken   bool    // grow thin strokes and open narrow gaps to the limits
	KnockOut  bool    // leave unprinted what has the garment's own colour
	// OnStep is told what is done next, nil if nobody asks.
	OnStep func(what string)
}

// Prepared is what goes to the printer.
type Prepared struct {
	File    *printfile.File
	Layout  *impose.Layout
	Planes  []*preflight.PrintPlanes // of each design
	Changes [][]preflight.Change     // of each design, where thickening was asked for
	Saved   []preflight.Saving       // of each design, where knocking out was asked for
	// Tight is the clearance for trimming, in millimetres, that could not be kept; 0 if it was.
	Tight float64
}

// Make separates, places and mirrors. Errors name the design and what to do; it stops with ctx's error once ctx is done.
func Make(ctx context.Context, designs []Design, opt Options) (*Prepared, error) {
	if len(designs) == 0 {
		return nil, errors.New("prepare: no design")
	}
	job := designs[0].Scene.Job
	out := &Prepared{File: &printfile.File{
		Title: designs[0].Name, Process: job.Process.ID, SheetWidthMM: job.Sheet.Width.MM(), SheetHeightMM: job.Sheet.Height.MM(), Mirror: job.Process.Mirror == "file",
	}}
	var boxes []impose.Design
	for i, d := range designs {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		opt.step("separating %d of %d: %s", i+1, len(designs), d.Name)
		artwork, err := out.add(d, opt)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", d.Name, err)
		}
		boxes = append(boxes, impose.Design{Name: d.Name, WidthMM: artwork.WidthMM, HeightMM: artwork.HeightMM, Copies: d.Copies})
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	opt.step("placing")
	if err := out.place(boxes, designs, opt); err != nil {
		return nil, err
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return out, nil
}

func (opt *Options) step(format string, args ...any) {
	if opt.OnStep != nil {
		opt.OnStep(fmt.Sprintf(format, args...))
	}
}

// add separates a design.
func (p *Prepared) add(d Design, opt Options) (*printfile.Artwork, error) {
	planes, err := d.Scene.PrintPlanes()
	if err != nil {
		return nil, err
	}
	changed := opt.Thicken || opt.KnockOut
	if opt.KnockOut {
		p.Saved = append(p.Saved, d.Scene.KnockOut(planes))
	}
	if opt.Thicken {
		p.Changes = append(p.Changes, d.Scene.Thicken(planes))
	}
	p.Planes = append(p.Planes, planes)
	artwork, err := artworkOf(d, planes, changed)
	if err != nil {
		return nil, err
	}
	p.File.Artworks = append(p.File.Artworks, *artwork)
	return artwork, nil
}

// artworkOf draws planes as the process wants them: white as black, white alone, or colour with a white of its own.
func artworkOf(d Design, planes *preflight.PrintPlanes, changed bool) (*printfile.Artwork, error) {
	s := d.Scene
	a := &printfile.Artwork{Name: d.Name, WidthMM: s.MM(float64(planes.Box.Dx())), HeightMM: s.MM(float64(planes.Box.Dy()))}
	white, err := printfile.FromPlanes(planes.Plane(preflight.White))
	if err != nil {
		return nil, err
	}
	switch s.Job.Process.WhiteSource {
	case preflight.WhiteOnly:
		// Opaque artwork stays so: as a mask of varying strength it would read as one that fades out.
		a.Tone = &printfile.Tone{Ink: white, CMYK: !s.HasAlpha(), Opaque: !s.HasAlpha()}
	case preflight.WhiteFromBlack:
		a.Colour, err = inks(planes, planes.Plane(preflight.White))
	case preflight.WhiteBeside:
		a.White = &white
		a.Colour, err = inks(planes, planes.Plane(preflight.Black))
	default:
		a.White = &white
		if d.Page != nil && !changed && s.Job.Background != preflight.BackgroundDrop {
			a.Page, err = partOf(d.Page, s, planes.Box)
		} else if changed || s.HasOwnInks() {
			a.Colour, err = inks(planes, planes.Plane(preflight.Black))
		} else {
			a.Colour = light(s, planes.Box)
		}
	}
	return a, err
}

// partOf cuts a page to what prints of it.
func partOf(p *printfile.Page, s *preflight.Scene, box image.Rectangle) (*printfile.Page, error) {
	w, h := float64(s.W), float64(s.H)
	return p.Part(float64(box.Min.X)/w, float64(box.Min.Y)/h, float64(box.Dx())/w, float64(box.Dy())/h)
}

// inks draws cyan, magenta, yellow and what the black station lays down.
func inks(planes *preflight.PrintPlanes, black *raster.Plane) (*printfile.Colour, error) {
	all := []*raster.Plane{planes.Plane(preflight.Cyan), planes.Plane(preflight.Magenta), planes.Plane(preflight.Yellow), black}
	for i, p := range all {
		if p == nil { // a process without that plane prints none of it
			all[i] = raster.NewPlane(planes.Box.Dx(), planes.Box.Dy())
		}
	}
	pixels, err := printfile.FromPlanes(all...)
	if err != nil {
		return nil, err
	}
	return &printfile.Colour{Pixels: pixels, CMYK: true, Alpha: whereInk(all)}, nil
}

// whereInk paints where any ink is, so that blank places stay unpainted rather than white.
func whereInk(planes []*raster.Plane) *printfile.Pixels {
	w, h := planes[0].W, planes[0].H
	row := make([]uint8, w)
	return &printfile.Pixels{W: w, H: h, Read: func(dst []byte, y0, y1 int) error {
		clear(dst)
		for y := y0; y < y1; y++ {
			for _, p := range planes {
				p.Read(row, image.Rect(0, y, w, y+1))
				for x, v := range row {
					if v > 0 {
						dst[(y-y0)*w+x] = 255
					}
				}
			}
		}
		return nil
	}}
}

// light draws the artwork's own colours of light and leaves their separation to the printer.
func light(s *preflight.Scene, box image.Rectangle) *printfile.Colour {
	colour, alpha := printfile.FromNRGBA(s.Colours(box))
	return &printfile.Colour{Pixels: colour, Alpha: &alpha}
}

// place lays all copies on sheets, on whole pixels of the first design: a printer of that resolution then changes no pixel.
func (p *Prepared) place(boxes []impose.Design, designs []Design, opt Options) error {
	s := designs[0].Scene
	sheet := impose.Sheet{
		WidthMM: p.File.SheetWidthMM, HeightMM: p.File.SheetHeightMM,
		MarginMM: s.Job.Sheet.Margin.MM(), ClearanceMM: s.Limit("clearance"), SpacingMM: opt.SpacingMM,
	}
	lay := uprightFirst(opt)
	pixelMM := s.MM(1)
	snapped := func(mm float64) float64 { return math.Round(mm/pixelMM) * pixelMM }
	onPixel := snapped
	roomy := sheet
	const sparePx = 2 // half a pixel for whole pixels, and one for what a renderer draws beyond a picture's edge
	roomy.MarginMM, roomy.ClearanceMM = sheet.MarginMM+sparePx*pixelMM, sheet.ClearanceMM+sparePx*pixelMM
	var err error
	if p.Layout, err = lay(boxes, roomy); err != nil { // there is no room to spare for whole pixels
		onPixel = func(mm float64) float64 { return mm }
		if p.Layout, err = lay(boxes, sheet); err != nil { // nor any for trimming
			sheet.ClearanceMM = 0
			if p.Layout, err = lay(boxes, sheet); err != nil {
				return cmp.Or(tooLarge(boxes, designs), err)
			}
			p.Tight = s.Limit("clearance")
		}
	}
	if first := p.Layout.Sheets[0].Placements; len(p.Layout.Sheets) == 1 && len(first) == 1 { // alone, it lies in the middle
		w := widthOf(boxes[0], first[0])
		h := boxes[0].WidthMM + boxes[0].HeightMM - w
		first[0].XMM, first[0].YMM = (sheet.WidthMM-w)/2, (sheet.HeightMM-h)/2
		if p.Tight > 0 && min(first[0].XMM, first[0].YMM)-sheet.MarginMM >= pixelMM/2 {
			onPixel = snapped
		}
	}
	for _, imposed := range p.Layout.Sheets {
		var placed []printfile.Placement
		for _, at := range imposed.Placements {
			x := onPixel(at.XMM)
			if p.File.Mirror { // pixels are counted from the left of what is written
				rest := sheet.WidthMM - widthOf(boxes[at.Design], at)
				x = rest - onPixel(rest-at.XMM)
			}
			placed = append(placed, printfile.Placement{Artwork: at.Design, XMM: x, YMM: onPixel(at.YMM), TurnDeg: at.TurnDeg})
		}
		p.File.Sheets = append(p.File.Sheets, placed)
	}
	return nil
}

// tooLarge tells of the first design that fits neither way round the sizes that its report tells; nil if there is none. A printed width is
// that of the whole picture, so that is told as well.
func tooLarge(boxes []impose.Design, designs []Design) error {
	first := designs[0].Scene
	for i, b := range boxes {
		pl := preflight.Place(preflight.SizeMM{W: b.WidthMM, H: b.HeightMM}, first.Job.Sheet, first.Limit("clearance"))
		if !pl.Fits && len(pl.FittingSizes) > 0 {
			whole := func(f preflight.FitSize) float64 {
				s := designs[i].Scene
				return math.Floor(s.MM(float64(s.W))*f.Scale*10+1e-9) / 10
			}
			return fmt.Errorf("design %q is %.1f x %.1f mm and the sheet takes %.1f x %.1f mm: %s; the printed width of the whole picture, its empty edges included, is then %.1f mm, or %.1f mm",
				b.Name, b.WidthMM, b.HeightMM, pl.PrintableMM.W, pl.PrintableMM.H, pl.LargestWays(), whole(pl.FittingSizes[0]), whole(pl.FittingSizes[1]))
		}
	}
	return nil
}

// widthOf is how wide a design lies on the sheet.
func widthOf(d impose.Design, at impose.Placement) float64 {
	if at.TurnDeg != 0 {
		return d.HeightMM
	}
	return d.WidthMM
}

// uprightFirst lays designs out as asked for, and turns them only where that takes fewer sheets or fits more.
func uprightFirst(opt Options) func(boxes []impose.Design, sheet impose.Sheet) (*impose.Layout, error) {
	lay := impose.Lay
	if opt.Fill {
		lay = impose.Fill
	}
	return func(boxes []impose.Design, sheet impose.Sheet) (*impose.Layout, error) {
		turned, err := lay(boxes, sheet, opt.Turn)
		if err != nil || opt.Turn == impose.TurnNone {
			return turned, err
		}
		upright, err := lay(boxes, sheet, impose.TurnNone)
		if err != nil || len(upright.Sheets) > len(turned.Sheets) || sum(upright.Counts) < sum(turned.Counts) {
			return turned, nil
		}
		return upright, nil
	}
}

func sum(counts []int) (n int) {
	for _, c := range counts {
		n += c
	}
	return n
}

// NewFindings are those of the sheets whose rule found nothing in any of the designs, judged as they are printed: what preparing has done
// wrong.
func NewFindings(sheets, designs []*preflight.Report) []preflight.Finding {
	known := map[string]bool{}
	// Ink has no transparency: what fades, or hardly shows, in a design is a light tint on the sheet.
	asInk := map[string]string{"soft-edge": "faint-tint", "stray-pixels": "faint-tint"}
	for _, rep := range designs {
		for _, f := range rep.Findings {
			known[f.Rule], known[asInk[f.Rule]] = true, true
		}
	}
	var out []preflight.Finding
	for _, rep := range sheets {
		for _, f := range rep.Findings {
			if !known[f.Rule] {
				out = append(out, f)
			}
		}
	}
	return slices.Clip(out)
}
