package pdfpage

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"github.com/klippa-app/go-pdfium/requests"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"

	"peelcheck/raster"
	"peelcheck/raster/pdfcolour"
	"peelcheck/raster/pdfseparate"
)

// ErrNoSeparations is matched by the error of Separations for a page that can be drawn, perhaps, but not taken apart.
var ErrNoSeparations = errors.New("no separations")

// SeparationOptions say how colours become planes. The zero value is ready to use.
type SeparationOptions struct {
	// Spot tells by its name whether a spot colour gets a plane; the others are mixed as the file says. Nil means all do.
	Spot func(name string) bool
	// InkOnly gives nothing for a page that has colours of RGB and grey alone.
	InkOnly bool
	// Curves turn RGB into CMYK.
	Curves pdfcolour.Curves
}

// mostSpots bounds the planes of a page; DeviceN spaces name up to 32 colorants (ISO 32000-1, Annex C.2).
const mostSpots = 32

// processPlanes are the planes that every page has.
var processPlanes = []string{"Cyan", "Magenta", "Yellow", "Black"}

// whitePlane is the spot colour that the layers marked as white lay down.
const whitePlane = "White"

// together is how many planes one drawing can hold, as red, green and blue.
const together = 3

// Separations draws what each ink lays down for page n (from 1), on the pixels that Page draws at the same ppi. Black and spot colours
// are the file's own; RGB and grey are turned into CMYK by ISO 32000-1, 10.3.4. Layers that ISO 19593-1 marks as white lay down the spot
// colour White alone. The error matches ErrNoSeparations if the page cannot be taken apart.
func (d *Document) Separations(n int, ppi float64, opt SeparationOptions) (*raster.Separations, error) {
	g, err := d.grid(n, ppi)
	if err != nil {
		return nil, err
	}
	return d.separations(n, alone, g, opt)
}

// separations draws what each ink lays down on a grid, one of so many jobs that share the memory.
func (d *Document) separations(n, sharing int, g grid, opt SeparationOptions) (*raster.Separations, error) {
	parts := d.separate(n, opt)
	if parts.err != nil {
		return nil, noSeparations(n, parts.err)
	}
	if opt.InkOnly && !parts.inked {
		return nil, nil
	}
	drawn := make([]*raster.Plane, len(parts.planes))
	for i := range drawn {
		drawn[i] = raster.NewPlane(int(g.w), int(g.h))
	}
	for i, p := range parts.pages {
		if p.Blank {
			continue
		}
		if err := d.drawPlanes(n, sharing, g, p, drawn); err != nil {
			return nil, err
		}
		parts.pages[i].PDF = nil // pictures make it large
	}
	out := &raster.Separations{
		Cyan: drawn[0], Magenta: drawn[1], Yellow: drawn[2], Black: drawn[3],
		PPIX: g.w / g.in.w, PPIY: g.h / g.in.h, Alternates: parts.alternates,
		WhiteLayers: parts.layers.White, Notes: slices.Concat(g.notes, parts.layers.Notes, parts.notes),
	}
	for i, name := range parts.planes[len(processPlanes):] {
		out.Spots = append(out.Spots, raster.Spot{Name: name, Plane: drawn[len(processPlanes)+i]})
	}
	return out, nil
}

func noSeparations(n int, err error) error {
	var fault *raster.Fault
	if errors.As(err, &fault) {
		return &raster.Fault{Reason: fault.Reason, Remedy: fault.Remedy, Err: ErrNoSeparations}
	}
	return &raster.Fault{
		Reason: fmt.Sprintf("the colours of page %d cannot be taken apart", n),
		Remedy: "export the design to PDF again",
		Err:    fmt.Errorf("%w: %w", ErrNoSeparations, err),
	}
}

// groupPage is a page rewritten for a group of planes.
type groupPage struct {
	pdfseparate.Page
	group pdfcolour.Group
	black *black // turns RGB into the process, nil if the drawing has the planes themselves
}

// separated is a page rewritten for all its planes.
type separated struct {
	planes     pdfcolour.Planes
	pages      []groupPage
	alternates []string
	notes      []string
	layers     pdfseparate.Layers
	inked      bool // the page has colours of ink
	err        error
}

// separate rewrites page n for all planes. Past the page's time it is abandoned, with what was read of the file's structure.
func (d *Document) separate(n int, opt SeparationOptions) separated {
	ctx := d.structure.ctx
	if ctx == nil {
		return separated{err: errDamaged}
	}
	var s separated
	done := d.spent.inTime(n, func() {
		defer func() {
			if recover() != nil {
				s.err = errDamaged
			}
		}()
		s.err = s.rewrite(ctx, n, opt)
	})
	if !done {
		d.structure = &structure{}
		return separated{err: fmt.Errorf("the page takes longer than %v", d.spent.limit)}
	}
	return s
}

var errDamaged = errors.New("its structure is damaged")

// rewrite makes a page for each three planes where that is possible, else for each plane.
func (s *separated) rewrite(ctx *model.Context, n int, opt SeparationOptions) error {
	spots, err := spotPlanes(ctx, n, opt)
	if err != nil {
		return err
	}
	if s.layers, err = pdfseparate.LayersOf(ctx.XRefTable, n); err != nil {
		return err
	}
	if len(s.layers.White) > 0 && !slices.Contains(spots, whitePlane) {
		spots = append(spots, whitePlane)
	}
	s.planes = append(slices.Clone(processPlanes), spots...)
	reader := pdfcolour.NewReader(ctx.XRefTable, s.planes, opt.Curves)
	for _, group := range groups(0, len(processPlanes)) {
		if err := s.add(ctx, n, reader, group); err != nil {
			return err
		}
		s.inked = s.inked || len(spots) > 0 || len(reader.Alternates()) > 0
		if opt.InkOnly && !s.inked {
			return nil
		}
		if last := s.pages[len(s.pages)-1]; last.InRGB {
			s.pages = nil
			if err := s.addInRGB(ctx, n, opt.Curves); err != nil {
				return err
			}
			break
		}
	}
	for _, group := range groups(len(processPlanes), len(s.planes)) {
		if err := s.add(ctx, n, reader, group); err != nil {
			return err
		}
	}
	s.alternates = reader.Alternates()
	s.note(reader.Notes())
	return nil
}

// add rewrites a page for a group of planes, or for each of them if one drawing cannot show all.
func (s *separated) add(ctx *model.Context, n int, reader *pdfcolour.Reader, group pdfcolour.Group) error {
	page, err := pdfseparate.Rewrite(ctx.XRefTable, n, reader, s.planes, group)
	if err != nil {
		return err
	}
	s.inked = s.inked || page.CMYK
	s.note(page.Notes)
	if !page.Splits {
		s.pages = append(s.pages, groupPage{Page: page, group: group})
		return nil
	}
	for _, plane := range group {
		if err := s.add(ctx, n, reader, pdfcolour.Group{plane}); err != nil {
			return err
		}
	}
	return nil
}

// addInRGB rewrites a page for the planes of the process with its colours as RGB, that is without black and its generation; spot colours
// that have a plane of their own are left out of it.
func (s *separated) addInRGB(ctx *model.Context, n int, curves pdfcolour.Curves) error {
	none := func(float64) float64 { return 0 }
	planes := slices.Delete(slices.Clone(s.planes), together, len(processPlanes))
	reader := pdfcolour.NewReader(ctx.XRefTable, planes, pdfcolour.Curves{BG: none, UCR: none})
	page, err := pdfseparate.Rewrite(ctx.XRefTable, n, reader, planes, pdfcolour.Group{0, 1, 2})
	if err != nil {
		return err
	}
	s.note(page.Notes)
	s.note(reader.Notes())
	s.pages = append(s.pages, groupPage{Page: page, group: pdfcolour.Group{0, 1, 2, 3}, black: newBlack(curves)})
	return nil
}

// note keeps what had to be assumed, each once.
func (s *separated) note(notes []string) {
	for _, text := range notes {
		if !slices.Contains(s.notes, text) {
			s.notes = append(s.notes, text)
		}
	}
}

// spotPlanes names the spot colours of a page that get a plane.
func spotPlanes(ctx *model.Context, n int, opt SeparationOptions) ([]string, error) {
	page, _, _, err := ctx.PageDict(n, false)
	if err != nil {
		return nil, err
	}
	names, err := pdfcolour.Colorants(ctx.XRefTable, page)
	if opt.Spot != nil {
		names = slices.DeleteFunc(names, func(name string) bool { return !opt.Spot(name) })
	}
	return names[:min(len(names), mostSpots)], err
}

// groups parts the planes of a range into threes, and ones at the end.
func groups(from, to int) []pdfcolour.Group {
	var out []pdfcolour.Group
	for ; from+together <= to; from += together {
		out = append(out, pdfcolour.Group{from, from + 1, from + 2})
	}
	for ; from < to; from++ {
		out = append(out, pdfcolour.Group{from})
	}
	return out
}

// drawPlanes draws a rewritten page n into the planes of its group.
func (d *Document) drawPlanes(n, sharing int, g grid, p groupPage, planes []*raster.Plane) error {
	into := make([]*raster.Plane, len(p.group))
	for i, plane := range p.group {
		into[i] = planes[plane]
	}
	whole := image.Rect(0, 0, int(g.w), int(g.h))
	parts := func(most int) []image.Rectangle { return planeTiles(whole, most) }
	rewritten := &Document{data: p.PDF, spent: d.spent}
	return rewritten.inParts(n, sharing, whole.Dx()*whole.Dy(), parts, func(s *session, parts []image.Rectangle) error {
		sizes := map[int]pointSize{}
		if err := s.readSizes(sizes, 1); err != nil {
			return err
		}
		if sizes[1] != d.sizes[n] {
			return &raster.Fault{Reason: fmt.Sprintf("page %d does not say clearly how large it is", n), Remedy: "export the design to PDF again", Err: ErrNoSeparations}
		}
		page, err := s.loadPage(1)
		if err != nil {
			return err
		}
		if err := s.drawTrue(page, whole.Dx()*whole.Dy(), g.perUnit); err != nil {
			return err
		}
		for _, part := range parts {
			if err := s.drawPart(page, g.perUnit, part, p, into); err != nil {
				return err
			}
		}
		return nil
	})
}

// planeTiles cuts a page into parts of at most so many pixels that begin where tiles of a plane do.
func planeTiles(r image.Rectangle, most int) []image.Rectangle {
	h := most / min(r.Dx(), maxTileSide) / raster.TilePx * raster.TilePx
	return cut(r, maxTileSide, h*min(r.Dx(), maxTileSide))
}

func (s *session) drawPart(page requests.Page, perUnit float64, part image.Rectangle, p groupPage, planes []*raster.Plane) error {
	const paper = math.MaxUint32
	alpha, ground := 0, uint64(paper)
	if p.Blends {
		alpha, ground = 1, 0
	}
	return s.drawTile(page, perUnit, part, alpha, ground, func(src []byte, stride int) {
		copyPlanes(planes, part, drawing{src, stride, p.Blends}, p.black)
	})
}

// drawing is BGRA or BGRx, stride bytes a row; what is drawn with alpha lies on white paper.
type drawing struct {
	pix    []byte
	stride int
	alpha  bool
}

// at is the drawing from a pixel on.
func (d drawing) at(x, y int) drawing { return drawing{d.pix[y*d.stride+4*x:], d.stride, d.alpha} }

// copyPlanes turns a drawing of part into ink: one plane; three from red, green and blue; or with black the four of the process.
func copyPlanes(planes []*raster.Plane, part image.Rectangle, d drawing, black *black) {
	channels := []int{2, 1, 0}
	if len(planes) == 1 {
		channels = []int{1}
	}
	raster.Strips(part.Dy(), raster.TilePx, func(y0, y1 int) {
		free := make([]*raster.Tile, len(planes))
		for x := 0; x < part.Dx(); x += raster.TilePx {
			w := min(raster.TilePx, part.Dx()-x)
			from := d.at(x, y0)
			if from.isBare(w, y1-y0) {
				continue
			}
			for p := range free {
				if free[p] == nil {
					free[p] = new(raster.Tile)
				}
				clear(free[p][:])
			}
			for p, channel := range channels {
				from.copyInk(free[p], channel, w, y1-y0)
			}
			if black != nil {
				black.generate(free)
			}
			for p, t := range free {
				if !planes[p].SetTile((part.Min.X+x)/raster.TilePx, (part.Min.Y+y0)/raster.TilePx, t) {
					free[p] = nil
				}
			}
		}
	})
}

// isBare reports whether nothing but paper shows in w x h pixels.
func (d drawing) isBare(w, h int) bool {
	for y := range h {
		row := d.pix[y*d.stride:][:4*w]
		for x := 0; x < len(row); x += 4 {
			p := row[x : x+4 : x+4]
			if d.alpha && p[3] != 0 || !d.alpha && p[0]&p[1]&p[2] != 255 {
				return false
			}
		}
	}
	return true
}

// copyInk copies one channel of w x h pixels.
func (d drawing) copyInk(t *raster.Tile, channel, w, h int) {
	for y := range h {
		row := t[y*raster.TilePx:][:w]
		from := d.pix[y*d.stride:][:4*w]
		for x := range row {
			row[x] = 255 - from[4*x+channel]
		}
		if !d.alpha {
			continue
		}
		for x := range row {
			row[x] = uint8((int(row[x])*int(from[4*x+3]) + 127) / 255)
		}
	}
}

// black is black generation and undercolour removal by the grey part of a colour (ISO 32000-1, 10.3.4), in 255ths.
type black struct{ generated, removed [256]int }

func newBlack(curves pdfcolour.Curves) *black {
	b := new(black)
	for k := range b.generated {
		grey := float64(k) / 255
		generated, removed := grey, grey
		if curves.BG != nil {
			generated = curves.BG(grey)
		}
		if curves.UCR != nil {
			removed = curves.UCR(grey)
		}
		b.generated[k] = int(math.Round(255 * generated))
		b.removed[k] = int(math.Round(255 * removed))
	}
	return b
}

// generate turns tiles of 1-red, 1-green and 1-blue into cyan, magenta and yellow, and sets the fourth to black.
func (b *black) generate(t []*raster.Tile) {
	for i := range t[3] {
		k := min(t[0][i], t[1][i], t[2][i])
		if k == 0 && b.removed[0] == 0 && b.generated[0] == 0 {
			continue
		}
		for p := range together {
			t[p][i] = uint8(min(255, max(0, int(t[p][i])-b.removed[k])))
		}
		t[3][i] = uint8(min(255, max(0, b.generated[k])))
	}
}
