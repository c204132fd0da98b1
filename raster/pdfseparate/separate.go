// Package pdfseparate rewrites a page of a PDF so that it draws what one printing plane gets, or three: the colour operators of the
// page, its forms, patterns, glyphs of Type 3, shadings, images and annotations become shares of ink, 1 being none and 0 full, as
// DeviceGray or DeviceRGB. What overprints and does not paint the plane is left out; what does not overprint is drawn as no ink.
//
// Start with Rewrite. Clauses are those of ISO 32000-1:2008.
package pdfseparate

import (
	"fmt"
	"math"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster/pdfcolour"
)

// Page is a rewritten page.
type Page struct {
	// PDF is a file of this one page; its boxes and its rotation are the original's.
	PDF []byte
	// Splits says that something on the page, under overprint, paints some planes of the group and leaves others alone, which one
	// drawing cannot show: rewrite each plane by itself. It is never set for a group of one plane.
	Splits bool
	// Blends says that the page must be drawn on nothing and laid on white paper then: a blend mode is used that tells one from the other.
	Blends bool
	// Blank says that the page puts no ink into the planes, so that it need not be drawn.
	Blank bool
	// InRGB says that the page blends in RGB and has no CMYK colours: draw it for cyan, magenta and yellow without black, as RGB, and turn
	// its pixels into CMYK afterwards (11.4.7: a page group becomes the device's colours as a whole).
	InRGB bool
	// CMYK says that the page has colours of ink, not only of RGB and grey.
	CMYK bool
	// Notes are plain sentences about what had to be assumed.
	Notes []string
}

// process are the colorants of DeviceCMYK in the order of its components.
var process = []string{"Cyan", "Magenta", "Yellow", "Black"}

// rewriter rewrites one page for one group.
type rewriter struct {
	*file
	group     pdfcolour.Group
	planes    int              // in the group
	component [mostInGroup]int // of DeviceCMYK for each plane, -1 for a spot
	spots     bool             // all planes are spots
	whites    map[int]bool     // object numbers of the layers of white
	whiteAt   int              // index in the group of the plane White, -1 if it is not there

	normal, forWhite *lens

	fonts      []font
	fontOf     map[int]int // index in fonts by object number
	scopes     map[int]*scope
	scopeCount int

	forms     map[streamKey]types.IndirectRef
	inherited map[int]inherits // by object number
	running   map[int]bool     // object numbers of the streams being rewritten
	depth     int
	states    map[int]types.IndirectRef // by object number; zero for one that says nothing any more
	blendings map[types.Name]types.IndirectRef

	costs               map[int]int // operators by object number of a rewritten form
	knockout            bool        // a group is one
	keepsAll            bool        // what leaves the paper as it is is drawn all the same
	leftOut             bool        // such a thing was not drawn
	side                float64     // the longer one of the page, in its units
	operators, unpacked int
	notes               []string
	splits, blends      bool
	inked               bool // a plane of the group gets ink
	transparent         bool // something is transparent or blends
	cmyk                bool // a colour space of process colours other than grey and RGB is used
}

// Rewrite rewrites page n (from 1) of x for a group of one or three of the planes that colours was made for; x is not changed.
func Rewrite(x *model.XRefTable, n int, colours *pdfcolour.Reader, planes pdfcolour.Planes, group pdfcolour.Group) (Page, error) {
	if len(group) != 1 && len(group) != mostInGroup {
		return Page{}, fmt.Errorf("pdfseparate: a group of %d planes is neither of 1 nor of %d", len(group), mostInGroup)
	}
	for _, plane := range group {
		if plane < 0 || plane >= len(planes) {
			return Page{}, fmt.Errorf("pdfseparate: plane %d is not one of %d", plane, len(planes))
		}
	}
	d, _, _, err := x.PageDict(n, false)
	if err != nil || d == nil {
		return Page{}, fmt.Errorf("pdfseparate: page %d cannot be found", n)
	}
	r := newRewriter(x, colours, planes, group)
	root, err := r.page(d)
	if err == nil && r.leftOut && r.blends { // other blend modes tell what is white from where nothing is
		r = newRewriter(x, colours, planes, group)
		r.keepsAll = true
		root, err = r.page(d)
	}
	if err != nil {
		return Page{}, fmt.Errorf("pdfseparate: %w", err)
	}
	if r.knockout && r.transparent {
		r.note("half-transparent parts of a group in which each should hide those under it are drawn as if they mixed; look closely where they overlap")
	}
	return Page{
		PDF: r.bytes(root), Splits: r.splits, Blends: r.blends, Blank: !r.inked && !r.blends,
		CMYK: r.cmyk, Notes: r.notes,
		InRGB: r.transparent && !r.cmyk && r.isRGB(r.Dict(d["Group"])["CS"]),
	}, nil
}

func newRewriter(x *model.XRefTable, colours *pdfcolour.Reader, planes pdfcolour.Planes, group pdfcolour.Group) *rewriter {
	r := &rewriter{
		file: newFile(x), group: group, planes: len(group), spots: true, whiteAt: -1,
		normal: newLens(colours), forWhite: newLens(colours.White()), fonts: []font{{}}, fontOf: map[int]int{}, scopes: map[int]*scope{},
		forms: map[streamKey]types.IndirectRef{}, inherited: map[int]inherits{}, running: map[int]bool{},
		costs: map[int]int{}, states: map[int]types.IndirectRef{}, blendings: map[types.Name]types.IndirectRef{},
	}
	for at, plane := range group {
		r.component[at] = slices.Index(process, planes[plane])
		r.spots = r.spots && r.component[at] < 0
		if planes[plane] == whitePlane {
			r.whiteAt = at
		}
	}
	r.whites = r.whiteGroups()
	return r
}

// page rewrites a page and gives the new file's catalog.
func (r *rewriter) page(d types.Dict) (types.IndirectRef, error) {
	start, err := r.initialState()
	if err != nil {
		return types.IndirectRef{}, err
	}
	r.side = sideOf(r.numbers(r.inheritedEntry(d, "MediaBox")))
	pages := r.reserve()
	out := types.Dict{"Type": types.Name("Page"), "Parent": pages}
	for _, key := range []string{"MediaBox", "CropBox", "Rotate"} {
		if o := r.inheritedEntry(d, key); o != nil {
			out[key] = r.copy(o)
		}
	}
	if o := d["UserUnit"]; o != nil {
		out["UserUnit"] = r.copy(o)
	}
	if g := r.transparencyGroup(d["Group"]); g != nil {
		out["Group"] = g
	}
	sc := r.newScope(r.Dict(r.inheritedEntry(d, "Resources")))
	c := r.newContent(sc, start)
	c.run(r.pageContent(d["Contents"]))
	out["Resources"] = c.resources
	out["Contents"] = r.add(types.StreamDict{Dict: types.Dict{}, Raw: c.buf})
	if annots := r.annotations(d, sc, start); len(annots) > 0 {
		out["Annots"] = annots
	}
	r.set(pages, types.Dict{"Type": types.Name("Pages"), "Kids": types.Array{r.add(out)}, "Count": types.Integer(1)})
	return r.catalog(pages), r.err
}

// initialState is that at the beginning of a page: DeviceGray black (8.4.1, Table 52).
func (r *rewriter) initialState() (state, error) {
	first, err := r.initialColour(r.normal)
	if err != nil || !r.readsWhite() {
		return state{fill: first, stroke: first}, err
	}
	white, err := r.initialColour(r.forWhite)
	return state{fill: first, stroke: first, inWhite: inWhite{fill: white, stroke: white}}, err
}

func (r *rewriter) initialColour(l *lens) (colour, error) {
	black, err := l.colours.Space(types.Name("DeviceGray"), nil)
	if err != nil {
		return colour{}, err
	}
	l.spaces = append(l.spaces, space{Space: black})
	return colour{0, r.inkOf(black.Paint(black.Initial()))}, nil
}

// catalog keeps the layers; the outline and all else go.
func (r *rewriter) catalog(pages types.IndirectRef) types.IndirectRef {
	out := types.Dict{"Type": types.Name("Catalog"), "Pages": pages}
	if root, err := r.Table.Catalog(); err == nil {
		if o := root["OCProperties"]; o != nil {
			out["OCProperties"] = r.copy(o)
		}
	}
	return r.add(out)
}

// sideOf is the longer side of a page with a media box, which is nil if it has none.
func sideOf(box []float64) float64 {
	if len(box) != 4 {
		return 792 // as the renderer has it
	}
	return max(math.Abs(box[2]-box[0]), math.Abs(box[3]-box[1]))
}

// note keeps a plain sentence about what had to be assumed, once.
func (r *rewriter) note(text string) {
	if !slices.Contains(r.notes, text) {
		r.notes = append(r.notes, text)
	}
}

// mostAbove bounds the page tree above a page.
const mostAbove = 64

// inheritedEntry looks for a key on the page and on the nodes above it (7.7.3.4).
func (r *rewriter) inheritedEntry(d types.Dict, key string) types.Object {
	for range mostAbove {
		if d == nil {
			return nil
		}
		if o := d[key]; o != nil {
			return o
		}
		d = r.Dict(d["Parent"])
	}
	return nil
}

// pageContent is the content of the page in one piece; where its streams join, an object ends (7.8.2).
func (r *rewriter) pageContent(o types.Object) []byte {
	var all []byte
	streams := types.Array{o}
	if a := r.Array(o); a != nil {
		streams = a
	}
	for _, o := range streams {
		sd, ok := r.Stream(o)
		if !ok {
			continue
		}
		data, ok := r.decode(sd)
		if !ok {
			break
		}
		all = append(append(all, data...), '\n')
	}
	return all
}

// decode unpacks a content stream.
func (r *rewriter) decode(sd types.StreamDict) ([]byte, bool) {
	data, err := r.normal.colours.Data(sd, mostContent)
	if err != nil {
		r.fail(err)
		return nil, false
	}
	if r.unpacked += len(data); r.unpacked > mostBytes {
		r.fail(errTooLarge)
	}
	return data, true
}

// mostContent bounds one content stream.
const mostContent = 256 << 20
