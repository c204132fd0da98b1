// Package pdfcolour reads the colours of a PDF as shares of printing planes: black that a file calls black and spot colours it names
// do not pass through RGB.
//
// Start with NewReader. Reader.Space reads a colour space and turns its colours into shares; Reader.Image and Reader.Shading rewrite an
// image or a shading so that it holds the shares of one plane as DeviceGray, or of three as DeviceRGB, 1 being no ink and 0 full ink.
//
// Colours are taken without colour management: ICCBased by its number of components as the device space, CalGray as grey, CalRGB as RGB,
// Lab through sRGB. RGB becomes CMYK by ISO 32000-1, 10.3.4, with the Curves given; grey g becomes 0, 0, 0, 1-g (10.3.3).
package pdfcolour

import (
	"fmt"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
	"peelcheck/raster/pdfvalue"
)

// Planes are the planes wanted, in order: names of colorants as in the file ("Cyan", "Magenta", "Yellow", "Black", then spots).
type Planes []string

// Group is the index in Planes of the one plane, or of the three, that an image or a shading is rewritten to.
type Group []int

// Paint is what a colour does to each plane, in the order of Planes. Sets is shared and must not be changed.
type Paint struct {
	// Share is 0 (no ink) to 1 (full ink).
	Share []float64
	// Sets is false where the colour space does not address the plane: left alone under overprint, otherwise knocked out (share 0).
	Sets []bool
	// Nothing says that the colour makes no mark at all, not even a knock-out: the colorant None (ISO 32000-1, 8.6.6.4).
	Nothing bool
}

// Space is a colour space. It is safe for concurrent use.
type Space interface {
	// Components is the number of components of a colour: of a Pattern space those of the underlying one, 0 without it.
	Components() int
	// Initial is the colour that is current after the space was chosen (ISO 32000-1, 8.6.8, operator CS).
	Initial() []float64
	// Paint gives the shares of a colour. Missing components count as 0, surplus ones are ignored, values out of range are brought into it.
	Paint(c []float64) Paint
}

// Curves are black generation and undercolour removal, each from and to 0..1 (UCR to -1..1); nil is the identity, with which the
// grey part of RGB prints in black alone. They are called by several goroutines at once.
type Curves struct{ BG, UCR func(float64) float64 }

// Reader reads colour spaces, images and shadings of one file. It is not safe for concurrent use.
type Reader struct {
	in      pdfvalue.In
	planes  Planes
	process [4]int // index in planes of cyan, magenta, yellow, black; -1 if not wanted
	curves  Curves

	alternates []string
	notes      []string
	spaces     map[int]space // by object number
	functions  int           // read for the object at hand, bounded by mostFunctions
	samples    *sampleCache
	short      map[*byte]bool // pictures whose data ends too early, by where it begins
	white      *Reader        // see White
	intoWhite  bool           // this is the one that White gives
}

// maxComponents is the most that a DeviceN space has (ISO 32000-1, Annex C.2).
const maxComponents = 32

// mostNesting bounds colour spaces within colour spaces and functions within functions; real files have three or four.
const mostNesting = 16

// processNames are the colorants of the process, in the order of DeviceCMYK's components.
var processNames = [4]string{"Cyan", "Magenta", "Yellow", "Black"}

// NewReader reads from x, which it does not change. Planes that the file does not name stay empty.
func NewReader(x *model.XRefTable, planes Planes, curves Curves) *Reader {
	identity := func(k float64) float64 { return k }
	if curves.BG == nil {
		curves.BG = identity
	}
	if curves.UCR == nil {
		curves.UCR = identity
	}
	r := &Reader{in: pdfvalue.In{Table: x}, planes: planes, curves: curves, spaces: map[int]space{}, samples: &sampleCache{}, short: map[*byte]bool{}}
	for i, name := range processNames {
		r.process[i] = slices.Index(planes, name)
	}
	return r
}

// Alternates are the spot colorants of Painted spaces that are not in Planes and are painted as their alternates, in order of first use.
func (r *Reader) Alternates() []string { return slices.Clone(r.alternates) }

func (r *Reader) noteAlternate(name string) {
	if !slices.Contains(r.alternates, name) {
		r.alternates = append(r.alternates, name)
	}
}

// Painted notes that a page paints with a space, so that its spot colorants without a plane become Alternates.
func (r *Reader) Painted(s Space) {
	if indexed, ok := s.(*indexedSpace); ok {
		s = indexed.base
	}
	if c, ok := s.(*colorantSpace); ok {
		for _, name := range c.mixed {
			r.noteAlternate(name)
		}
	}
}

// Notes are what had to be assumed so far, in plain words, each once.
func (r *Reader) Notes() []string {
	if r.white == nil {
		return slices.Clone(r.notes)
	}
	all := &Reader{notes: slices.Clone(r.notes)}
	for _, text := range r.white.notes {
		all.note(text)
	}
	return all.notes
}

func (r *Reader) note(text string) {
	if !slices.Contains(r.notes, text) {
		r.notes = append(r.notes, text)
	}
}

// index says which plane a colorant is; -1 if none that is wanted, and then whether it is one of the process all the same.
func (r *Reader) index(name string) (plane int, process bool) {
	return slices.Index(r.planes, name), slices.Contains(processNames[:], name)
}

func fault(format string, args ...any) error {
	return &raster.Fault{Reason: fmt.Sprintf(format, args...), Remedy: "export the design to PDF again"}
}

// integer reads a whole number from least to most.
func (r *Reader) integer(o types.Object, least, most int) (int, bool) {
	v, ok := r.in.Number(o)
	if !ok || v < float64(least) || v > float64(most) || v != float64(int(v)) {
		return 0, false
	}
	return int(v), true
}

// numbers reads an array of finite numbers; nil if it is none.
func (r *Reader) numbers(o types.Object) []float64 {
	a := r.in.Array(o)
	if a == nil {
		return nil
	}
	out := make([]float64, len(a))
	for i, e := range a {
		v, ok := r.in.Number(e)
		if !ok {
			return nil
		}
		out[i] = v
	}
	return out
}
