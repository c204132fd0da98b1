package pdfseparate

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster/pdfcolour"
	"peelcheck/raster/pdfcontent"
	"peelcheck/raster/pdfvalue"
)

// Layers is what the layers that a page names have to do with white.
type Layers struct {
	// White are the names of those that ISO 19593-1 marks as white, in order of first use.
	White []string
	// Notes tell in plain words of those that look so and are not.
	Notes []string
}

// whitePlane is the plane that such layers lay down.
const whitePlane = "White"

// standing is what an optional-content group has to do with white.
type standing int

const (
	ordinary standing = iota
	markedWhite
	markedWithType
	markedOutside // of the dictionary for such marks
	namedWhite
)

// standingOf looks for the mark of ISO 19593-1: on the group itself a dictionary GTS_Metadata, in it the group White and no type. The keys are
// second-hand, from published object models; the standard's text was not read.
func (f *file) standingOf(group types.Dict) standing {
	const key, white = "GTS_ProcStepsGroup", whitePlane
	mark := f.Dict(group["GTS_Metadata"])
	switch {
	case f.Name(mark[key]) == white && f.Deref(mark["GTS_ProcStepsType"]) == nil:
		return markedWhite
	case f.Name(mark[key]) == white:
		return markedWithType
	case f.Name(group[key]) == white:
		return markedOutside
	case strings.EqualFold(f.Line(group["Name"]), white):
		return namedWhite
	}
	return ordinary
}

// listedGroups are the object numbers of the groups in the file's list of them (ISO 32000-1, Table 100), true for those marked as white.
func (f *file) listedGroups() map[int]bool {
	out := map[int]bool{}
	root, err := f.Table.Catalog()
	if err != nil {
		return out
	}
	for _, o := range f.Array(f.Dict(root["OCProperties"])["OCGs"]) {
		if nr := pdfvalue.NumberOf(o); nr > 0 {
			out[nr] = f.standingOf(f.Dict(o)) == markedWhite
		}
	}
	return out
}

// whiteGroups are the object numbers of the groups marked as white, nil without any.
func (f *file) whiteGroups() map[int]bool {
	var out map[int]bool
	for nr, white := range f.listedGroups() {
		if white {
			if out == nil {
				out = map[int]bool{}
			}
			out[nr] = true
		}
	}
	return out
}

// LayersOf looks at the layers that page n (from 1) names.
func LayersOf(x *model.XRefTable, n int) (Layers, error) {
	f := newFile(x)
	root, err := x.Catalog()
	if err != nil || root["OCProperties"] == nil {
		return Layers{}, err
	}
	page, _, _, err := x.PageDict(n, false)
	if err != nil || page == nil {
		return Layers{}, fmt.Errorf("pdfseparate: page %d cannot be found", n)
	}
	named, err := pdfcolour.OptionalContent(x, page)
	if err != nil {
		return Layers{}, err
	}
	var out Layers
	listed, seen, work := f.listedGroups(), map[int]bool{}, 0
	for _, o := range named {
		f.members(o, &work, func(group types.Object, _ bool) {
			nr := pdfvalue.NumberOf(group)
			d := f.Dict(group)
			if _, known := listed[nr]; d == nil || nr > 0 && seen[nr] || !known && f.Name(d["Type"]) != "OCG" {
				return
			}
			seen[nr] = true
			out.tell(f.standingOf(d), listed[nr], f.Line(d["Name"]))
		})
	}
	return out, f.err
}

// tell notes a layer by its standing; a marked one counts as white if the file's list of layers has it.
func (l *Layers) tell(s standing, white bool, name string) {
	why := ""
	switch s {
	case ordinary:
		return
	case namedWhite:
		l.Notes = append(l.Notes, fmt.Sprintf("the layer %q is white by its name, but nothing in the file marks it as white, so it prints like any other layer; if it is meant to print white, mark it so after ISO 19593-1 in the program that made it", name))
		return
	case markedWhite:
		if white {
			l.White = append(l.White, name)
			return
		}
		why = "the file's list of layers leaves it out"
	case markedWithType:
		why = "the mark of white has a type, which it must not have"
	case markedOutside:
		why = "the mark is not in the place for such marks"
	}
	l.Notes = append(l.Notes, fmt.Sprintf("the layer %q is marked as white in a wrong way (%s), so it prints like any other layer; mark it again after ISO 19593-1", name, why))
}

// members calls visit for a group, or for the groups that a membership dictionary (8.11.2.2) names; shows is false for those which hide
// the content when they are on.
func (f *file) members(o types.Object, work *int, visit func(group types.Object, shows bool)) {
	d := f.Dict(o)
	if f.Name(d["Type"]) != "OCMD" {
		visit(o, true)
		return
	}
	if e := f.Array(d["VE"]); len(e) > 0 {
		f.expression(e, true, 0, work, visit)
		return
	}
	shows := true
	switch f.Name(d["P"]) {
	case "AllOff", "AnyOff":
		shows = false
	}
	groups := types.Array{d["OCGs"]}
	if a := f.Array(d["OCGs"]); a != nil {
		groups = a
	}
	for _, g := range groups {
		if f.worked(work) {
			visit(g, shows)
		}
	}
}

// expression looks through a visibility expression: And, Or or Not with groups and other expressions.
func (f *file) expression(e types.Array, shows bool, depth int, work *int, visit func(group types.Object, shows bool)) {
	if f.Name(e[0]) == "Not" {
		shows = !shows
	}
	for _, o := range e[1:] {
		if !f.worked(work) || depth > mostNesting {
			return
		}
		if inner := f.Array(o); len(inner) > 0 {
			f.expression(inner, shows, depth+1, work, visit)
		} else {
			visit(o, shows)
		}
	}
}

// worked counts a step of work; false if there were too many.
func (f *file) worked(work *int) bool {
	if *work++; *work > mostOperators {
		f.fail(errors.New("the page names its layers too often"))
	}
	return f.err == nil
}

// isWhite reports whether what has o for its optional content belongs to a layer of white.
func (r *rewriter) isWhite(o types.Object) bool {
	if r.whites == nil || o == nil {
		return false
	}
	white := false
	r.members(o, &r.operators, func(group types.Object, shows bool) {
		white = white || shows && r.whites[pdfvalue.NumberOf(group)]
	})
	return white
}

// readsWhite reports whether what is painted in layers of white shows in the group.
func (r *rewriter) readsWhite() bool { return r.whites != nil && r.whiteAt >= 0 }

// lens is a way to look at colours, with what was rewritten for it: as they are, or as those in a layer of white.
type lens struct {
	colours  *pdfcolour.Reader
	spaces   []space
	spaceOf  map[int]int // index in spaces by object number
	images   map[int]image
	shadings map[int]ink
	painted  map[int]paintedShading
}

func newLens(colours *pdfcolour.Reader) *lens {
	return &lens{colours: colours, spaceOf: map[int]int{}, images: map[int]image{}, shadings: map[int]ink{}, painted: map[int]paintedShading{}}
}

// belongsToWhite reports whether what is painted now is in a layer of white.
func (c *content) belongsToWhite() bool { return c.whiteMarks > 0 || c.inWhite.on }

func (c *content) lens() *lens {
	if c.belongsToWhite() {
		return c.forWhite
	}
	return c.normal
}

// beginMark and endMark follow marked content into layers of white and out of them. Within glyphs and pattern cells without colours of their
// own such layers are not looked for: they can set none.
func (c *content) beginMark(o types.Object) {
	if c.whites == nil {
		return
	}
	white := !c.uncoloured && c.isWhite(o)
	if c.marks = append(c.marks, white); white {
		c.whiteMarks++
	}
}

func (c *content) endMark() {
	last := len(c.marks) - 1
	if last < 0 {
		return
	}
	if c.marks[last] {
		c.whiteMarks--
	}
	c.marks = c.marks[:last]
}

// handedDown is the state that a form or a glyph inherits.
func (c *content) handedDown() state {
	if c.belongsToWhite() {
		s := c.withinWhite()
		s.font, s.size = 0, ""
		return s
	}
	c.settle(false)
	c.settle(true)
	s := c.state
	s.font, s.size = 0, ""
	return s
}

// late are the operators that have set a colour: one for its space, and one for the colour in it.
type late struct{ space, colour operation }

type operation struct {
	op   string
	args []pdfcontent.Token
}

func (c *content) lateColour(stroke bool) **late {
	if stroke {
		return &c.lateStroke
	}
	return &c.lateFill
}

// setLater keeps an operator of a layer of white. Most such colours are never used outside, and a spot colour that is painted in white alone
// must not be taken for one without a plane.
func (c *content) setLater(stroke bool, op string, args []pdfcontent.Token) {
	at := c.lateColour(stroke)
	done := operation{strings.Clone(op), slices.Clone(args)} // so that the other operators stay off the heap
	switch op {
	case "sc", "scn", "SC", "SCN":
		next := late{colour: done}
		if *at != nil {
			next.space = (*at).space
		}
		*at = &next
	default:
		*at = &late{space: done}
	}
	if c.setOwn(stroke); c.readsWhite() {
		c.setIn(c.forWhite, stroke, op, args)
	}
}

// settle runs the operators that were kept.
func (c *content) settle(stroke bool) {
	at := c.lateColour(stroke)
	if *at == nil {
		return
	}
	kept := **at
	*at = nil
	for _, o := range []operation{kept.space, kept.colour} {
		if o.op != "" && !c.setIn(c.normal, stroke, o.op, o.args) {
			c.usesFill, c.usesStroke = c.usesFill || !stroke, c.usesStroke || stroke // it is the one inherited
		}
	}
}

// passes reports whether what is painted now does not show in the group, whatever its colour.
func (c *content) passes() bool { return c.whiteAt < 0 && c.belongsToWhite() }
