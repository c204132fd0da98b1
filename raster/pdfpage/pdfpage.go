// Package pdfpage turns PDF pages, and the PDF inside PDF-compatible .ai files, into pictures.
//
// PDFium (compiled to WebAssembly, run by wazero without file or network access) draws the pages and gives their count,
// boxes and rotation: it reads damaged files that pdfcpu refuses. pdfcpu is asked only for what PDFium does not tell:
// UserUnit, a Rotate that is not a multiple of 90, a page without MediaBox, and the colours of a page for its printing planes
// (Document.Separations). Start with Open.
package pdfpage

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"math"
	"time"

	"peelcheck/raster"
	"peelcheck/raster/pdffacts"
)

const (
	// DefaultPPI is the rendering resolution in pixels an inch when none is asked for.
	DefaultPPI = 600
	// MaxPPI is the finest rendering resolution in pixels an inch: enough for a page that is printed a hundred times its size.
	MaxPPI = 1_000_000
	// leastSideMM is the narrowest page that is drawn; one pixel at 254 pixels an inch.
	leastSideMM = 0.1
	// TimeLimit bounds opening a file and, again, all that is drawn of a page: processor time where the system tells that of a thread
	// (Linux), else time by the clock. Nothing is bounded by less.
	TimeLimit = 10 * time.Second
	// headerWindow is how far into the file readers look for the header (ISO 32000-1 Annex H, note 13; from memory).
	headerWindow = 1024
	mmPerInch    = 25.4
	pointsPerIn  = 72
)

// MostPixels is the most that a page is drawn with: a transfer sheet of 330 x 483 mm at 600 ppi has 89 million. Larger pages are
// posters that no sheet takes; they are drawn coarsely, with at most posterPixels, rather than slowly.
const (
	MostPixels   = 100_000_000
	posterPixels = 50_000_000
)

// Options bound the work and say where compiled code may be kept. The zero value is ready to use.
type Options struct {
	// MaxPixels bounds width times height of a rendered page; zero, or more than MostPixels, means MostPixels.
	MaxPixels int64
	// CacheDir keeps the compiled renderer so that later starts are quick; empty or unusable means none is kept. The
	// first Open of the process decides.
	CacheDir string
	// OnSlowStart is called at most once, by Open, when the renderer must be compiled, which takes seconds.
	OnSlowStart func()
}

// Document is an open PDF. It holds the file's bytes, no renderer, and is not safe for concurrent use; different
// Documents may be used by different goroutines.
type Document struct {
	data      []byte
	maxPixels int64
	spent     *budget
	pages     int
	sizes     map[int]pointSize
	structure *structure
	facts     *pdffacts.Document
}

var _ raster.Document = (*Document)(nil)

// Open reads the page count of a PDF; data must not change until Close. A file that cannot be used is a *raster.Fault.
func Open(data []byte, opt Options) (*Document, error) {
	if opt.MaxPixels < 0 {
		return nil, fmt.Errorf("pdfpage: MaxPixels %d is negative", opt.MaxPixels)
	}
	if opt.MaxPixels == 0 || opt.MaxPixels > MostPixels {
		opt.MaxPixels = MostPixels
	}
	if err := checkHeader(data); err != nil {
		return nil, err
	}
	if err := start(opt); err != nil {
		return nil, fmt.Errorf("pdfpage: starting the renderer: %w", err)
	}
	d := &Document{data: data, maxPixels: opt.MaxPixels, sizes: map[int]pointSize{}, spent: newBudget(TimeLimit)}
	err := d.session(0, alone, func(s *session) error {
		d.pages = s.pages
		if s.pages < 1 {
			return &raster.Fault{Reason: "the PDF has no pages", Remedy: "export the design to PDF again"}
		}
		return s.readSizes(d.sizes, 1)
	})
	if err != nil {
		return nil, err
	}
	return d, nil
}

func checkHeader(data []byte) error {
	head := data[:min(len(data), headerWindow)]
	switch {
	case len(data) == 0:
		return &raster.Fault{Reason: "the file is empty", Remedy: "copy or export it again"}
	case bytes.Contains(head, []byte("%PDF-")):
		return nil
	case bytes.HasPrefix(head, []byte("%!PS")):
		return &raster.Fault{Reason: "the file holds PostScript, not PDF", Remedy: "save it as PDF, or save the .ai file with PDF compatibility switched on"}
	}
	return &raster.Fault{Reason: "the file is not a PDF", Remedy: "export the design as PDF"}
}

// Format is "pdf".
func (d *Document) Format() string { return "pdf" }

// Pages is the number of pages, at least 1.
func (d *Document) Pages() int { return d.pages }

// Close lets go of the file's bytes; Page and PageSize fail from then on.
func (d *Document) Close() error {
	d.data, d.sizes, d.structure = nil, nil, nil
	return nil
}

// PageSize is the printed size in millimetres of page n (from 1): CropBox within MediaBox, turned by Rotate, times
// UserUnit. Nothing is rendered.
func (d *Document) PageSize(n int) (widthMM, heightMM float64, err error) {
	size, _, err := d.pageInches(n)
	return size.w * mmPerInch, size.h * mmPerInch, err
}

// Page renders page n (from 1) at ppi pixels an inch, zero meaning DefaultPPI, on a transparent ground: unpainted
// paper has alpha 0. A page above the pixel limit is rendered at the largest whole ppi that fits, with a note.
func (d *Document) Page(n int, ppi float64) (*raster.Picture, error) {
	g, err := d.grid(n, ppi)
	if err != nil {
		return nil, err
	}
	d.spent.allow(n)
	return d.draw(n, alone, g)
}

// PageWithSeparations is Page and Separations at once, each on a processor of its own, or one after the other where their share of the memory
// does not suffice; noSeparations is the error of the latter.
func (d *Document) PageWithSeparations(n int, ppi float64, opt SeparationOptions) (pic *raster.Picture, own *raster.Separations, noSeparations, err error) {
	g, err := d.grid(n, ppi)
	if err != nil {
		return nil, nil, nil, err
	}
	d.spent.allow(n)
	done := make(chan struct{})
	go func() {
		defer close(done)
		own, noSeparations = d.separations(n, beside, g, opt)
	}()
	pic, err = d.draw(n, beside, g)
	<-done
	if errors.Is(err, errMemory) {
		pic, err = d.draw(n, alone, g)
	}
	if errors.Is(noSeparations, errMemory) && err == nil {
		own, noSeparations = d.separations(n, alone, g, opt)
	}
	return pic, own, noSeparations, err
}

// draw draws page n on a grid, one of so many jobs that share the memory.
func (d *Document) draw(n, sharing int, g grid) (*raster.Picture, error) {
	pix := image.NewNRGBA(image.Rect(0, 0, int(g.w), int(g.h)))
	var hasAlpha bool
	parts := func(most int) []image.Rectangle { return cut(pix.Rect, maxTileSide, most) }
	err := d.inParts(n, sharing, int(g.w*g.h), parts, func(s *session, parts []image.Rectangle) error {
		var err error
		hasAlpha, err = s.render(pix, parts, n, g.perUnit)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &raster.Picture{
		Pix: pix, HasAlpha: hasAlpha, Vector: true,
		PPIX: g.w / g.in.w, PPIY: g.h / g.in.h, PPIFrom: "page size",
		Notes: g.notes,
	}, nil
}

// grid is the pixels that a page is drawn with.
type grid struct {
	in      inchSize
	w, h    float64 // whole numbers
	perUnit float64 // pixels a unit of the page
	notes   []string
}

// grid chooses the pixels for page n at ppi pixels an inch, zero meaning DefaultPPI, or fewer where that is too many.
func (d *Document) grid(n int, ppi float64) (grid, error) {
	if ppi == 0 {
		ppi = DefaultPPI
	}
	if !(ppi >= 1 && ppi <= MaxPPI) {
		return grid{}, fmt.Errorf("pdfpage: resolution of %v pixels an inch is not from 1 to %d", ppi, MaxPPI)
	}
	in, notes, err := d.pageInches(n)
	if err != nil {
		return grid{}, err
	}
	if min(in.w, in.h)*mmPerInch < leastSideMM {
		return grid{}, &raster.Fault{
			Reason: fmt.Sprintf("page %d is %.3g x %.3g mm, too small to print", n, in.w*mmPerInch, in.h*mmPerInch),
			Remedy: "check the page size and export it again",
		}
	}
	used, ok := fitPPI(in, ppi, d.maxPixels)
	if ok && used != ppi {
		used, ok = fitPPI(in, ppi, min(d.maxPixels, posterPixels))
	}
	if !ok {
		return grid{}, &raster.Fault{
			Reason: fmt.Sprintf("page %d is %.4g x %.4g mm, too large to look at even at 1 pixel an inch", n, in.w*mmPerInch, in.h*mmPerInch),
			Remedy: "check the page size and export it again",
		}
	}
	if used != ppi {
		notes = append(notes, fmt.Sprintf("page %d is %.0f x %.0f mm, too large for %g pixels an inch; it was looked at with %g, so fine lines are measured less exactly",
			n, in.w*mmPerInch, in.h*mmPerInch, ppi, used))
	}
	w, h := in.pixels(used)
	return grid{in: in, w: w, h: h, perUnit: used * in.w / d.sizes[n].w, notes: notes}, nil
}

// pointSize is the width and height of a page in user space units, after cropping and rotating.
type pointSize struct{ w, h float64 }

// inchSize is the printed width and height of a page in inches.
type inchSize struct{ w, h float64 }

// pixels is the whole size in pixels, each side at least 1; float64 because hostile pages overflow int.
func (in inchSize) pixels(ppi float64) (w, h float64) {
	return math.Max(1, math.Round(in.w*ppi)), math.Max(1, math.Round(in.h*ppi))
}

// fitPPI is ppi, or the largest whole number below it at which the page has at most maxPixels; false if not even 1 does.
func fitPPI(in inchSize, ppi float64, maxPixels int64) (float64, bool) {
	fits := func(ppi float64) bool {
		w, h := in.pixels(ppi)
		return w*h <= float64(maxPixels)
	}
	if fits(ppi) {
		return ppi, true
	}
	low, high := 0, int(math.Ceil(ppi))
	for high-low > 1 {
		if mid := (low + high) / 2; fits(float64(mid)) {
			low = mid
		} else {
			high = mid
		}
	}
	return float64(low), low > 0
}

// pageInches gives the printed size of page n with notes about what had to be assumed.
func (d *Document) pageInches(n int) (inchSize, []string, error) {
	if d.data == nil {
		return inchSize{}, nil, errors.New("pdfpage: the document is closed")
	}
	if n < 1 || n > d.pages {
		return inchSize{}, nil, &raster.Fault{Reason: fmt.Sprintf("there is no page %d: the PDF has %s", n, countPages(d.pages)), Remedy: "ask for a page it has"}
	}
	if _, ok := d.sizes[n]; !ok {
		err := d.session(0, alone, func(s *session) error { return s.readSizes(d.sizes, n) })
		if err != nil {
			return inchSize{}, nil, err
		}
	}
	size := d.sizes[n]
	if !(size.w > 0 && size.h > 0) {
		return inchSize{}, nil, &raster.Fault{Reason: fmt.Sprintf("page %d is broken", n), Remedy: "export the design to PDF again"}
	}
	d.readOnce()
	unit, notes := d.structure.page(n, size)
	return inchSize{size.w * unit / pointsPerIn, size.h * unit / pointsPerIn}, notes, nil
}

func (d *Document) readOnce() {
	if d.structure == nil {
		d.structure = readStructure(d.data, d.pages, d.spent.limit)
	}
}

func countPages(n int) string {
	if n == 1 {
		return "1 page"
	}
	return fmt.Sprintf("%d pages", n)
}
