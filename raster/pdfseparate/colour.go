package pdfseparate

import (
	"fmt"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster/pdfcolour"
	"peelcheck/raster/pdfcontent"
	"peelcheck/raster/pdfvalue"
)

// space is a colour space that has been met.
type space struct {
	pdfcolour.Space // of a Pattern space the underlying one
	pattern         bool
	cmyk            bool // DeviceCMYK itself, for which overprint mode 1 counts
	painted         bool // the reader has been told
}

// mostSpaces bounds the colour spaces of a page.
const mostSpaces = 10_000

// space gives the index in a lens of a colour space, -1 if the resources do not have it.
func (c *content) space(l *lens, named string) int {
	known := c.scope.spaces
	if l == c.forWhite {
		known = c.scope.whiteSpaces
	}
	if at, ok := known[named]; ok {
		return at
	}
	o := c.find("ColorSpace", named)
	switch named {
	case "DeviceGray", "DeviceRGB", "DeviceCMYK", "Pattern":
		o = types.Name(named)
	}
	at := -1
	if o != nil {
		at = c.readSpace(l, o)
	}
	known[named] = at
	return at
}

// readSpace reads a colour space, the same object only once, so that equal states of it are equal.
func (c *content) readSpace(l *lens, o types.Object) int {
	ref, indirect := o.(types.IndirectRef)
	if at, ok := l.spaceOf[int(ref.ObjectNumber)]; ok && indirect {
		return at
	}
	read, err := l.colours.Space(o, c.scope.resources)
	if err != nil {
		c.fail(err)
		return -1
	}
	s := space{Space: read}
	switch o := c.Deref(o).(type) {
	case types.Name:
		s.pattern = o == "Pattern"
		s.cmyk = o == "DeviceCMYK" && c.find("ColorSpace", "DefaultCMYK") == nil
	case types.Array:
		s.pattern = len(o) > 0 && c.Name(o[0]) == "Pattern"
	}
	if len(l.spaces) >= mostSpaces {
		c.fail(errTooLarge)
	}
	c.cmyk = c.cmyk || l == c.normal && c.isCMYK(o, s, 0)
	l.spaces = append(l.spaces, s)
	at := len(l.spaces) - 1
	if indirect {
		l.spaceOf[int(ref.ObjectNumber)] = at
	}
	return at
}

// inkIn is what a colour of a space does.
func (c *content) inkIn(l *lens, at int, components []float64) ink {
	s := l.spaces[at]
	i := c.inkOf(s.Paint(components))
	if s.cmyk {
		i = c.inkOfCMYK(s.Paint(components), components)
	}
	i.space = at
	return i
}

// setColour handles the operators that choose a colour space or a colour.
func (c *content) setColour(op string, args []pdfcontent.Token) {
	if c.uncoloured {
		return
	}
	stroke := op[0] < 'a'
	if c.belongsToWhite() {
		c.setLater(stroke, op, args)
		return
	}
	if c.setIn(c.normal, stroke, op, args); c.readsWhite() {
		c.setIn(c.forWhite, stroke, op, args)
	}
}

// setIn sets a colour in a lens, if the operator makes sense.
func (c *content) setIn(l *lens, stroke bool, op string, args []pdfcontent.Token) bool {
	v, ok := c.colourBy(l, stroke, op, args)
	if ok {
		*c.colourFor(l, stroke) = v
		c.setOwn(stroke)
	}
	if l == c.normal {
		*c.lateColour(stroke) = nil
	}
	return ok
}

func (c *content) setOwn(stroke bool) {
	if stroke {
		c.ownStroke = true
	} else {
		c.ownFill = true
	}
}

func (c *content) colourBy(l *lens, stroke bool, op string, args []pdfcontent.Token) (colour, bool) {
	switch op {
	case "cs", "CS":
		return c.spaceBy(l, args)
	case "sc", "scn", "SC", "SCN":
		return c.colourIn(l, stroke, args)
	}
	return c.deviceColour(l, op, args)
}

// deviceColour is that of g, rg, k and their twins for strokes.
func (c *content) deviceColour(l *lens, op string, args []pdfcontent.Token) (colour, bool) {
	named, n := "DeviceGray", 1
	switch op {
	case "rg", "RG":
		named, n = "DeviceRGB", 3
	case "k", "K":
		named, n = "DeviceCMYK", 4
	}
	if len(args) < n {
		return colour{}, false
	}
	at := c.space(l, named)
	if at < 0 {
		return colour{}, false
	}
	return colour{at, c.inkIn(l, at, values(args[len(args)-n:]))}, true
}

func values(args []pdfcontent.Token) []float64 {
	out := make([]float64, 0, len(args))
	for _, a := range args {
		if a.Kind == pdfcontent.Number {
			out = append(out, a.Value())
		}
	}
	return out
}

// spaceBy is the first colour of a space that is chosen.
func (c *content) spaceBy(l *lens, args []pdfcontent.Token) (colour, bool) {
	if len(args) == 0 {
		return colour{}, false
	}
	at := c.space(l, args[len(args)-1].Name())
	switch {
	case at < 0:
		return colour{}, false
	case l.spaces[at].pattern: // no pattern is chosen yet, so nothing is painted (8.7.3.1)
		return colour{at, ink{nothing: true}}, true
	}
	return colour{at, c.inkIn(l, at, l.spaces[at].Initial())}, true
}

// colourIn is a colour in the current space.
func (c *content) colourIn(l *lens, stroke bool, args []pdfcontent.Token) (colour, bool) {
	if len(args) == 0 {
		return colour{}, false
	}
	at := c.current(l, stroke).space
	if last := args[len(args)-1]; last.Kind == pdfcontent.Name {
		i, ok := c.pattern(l, last.Name(), at, values(args))
		return colour{at, i}, ok
	}
	if len(args) < l.spaces[at].Components() && !l.spaces[at].pattern {
		c.note(lacking)
	}
	return colour{at, c.inkIn(l, at, values(args))}, !l.spaces[at].pattern
}

// current is the colour of filling or stroking; an inherited colour space counts as used.
func (c *content) current(l *lens, stroke bool) colour {
	if stroke {
		c.usesStroke = c.usesStroke || !c.ownStroke
	} else {
		c.usesFill = c.usesFill || !c.ownFill
	}
	if l == c.normal {
		c.settle(stroke)
	}
	return *c.colourFor(l, stroke)
}

func (c *content) colourFor(l *lens, stroke bool) *colour {
	switch {
	case l == c.forWhite && stroke:
		return &c.inWhite.stroke
	case l == c.forWhite:
		return &c.inWhite.fill
	case stroke:
		return &c.stroke
	}
	return &c.fill
}

// uncolouredPaint is the PaintType of tiling patterns that say only where (8.7.3.3).
const uncolouredPaint = 2

// pattern is the ink of a pattern, false if there is no such pattern.
func (c *content) pattern(l *lens, named string, at int, components []float64) (ink, bool) {
	o := c.find("Pattern", named)
	d := c.Dict(o)
	if d == nil {
		return ink{}, false
	}
	if kind, _ := c.Number(d["PatternType"]); kind == 2 {
		return c.shadingPattern(l, o, d)
	}
	paint, _ := c.Number(d["PaintType"])
	if paint != uncolouredPaint {
		ref, ok := c.tiling(l, o, ink{})
		i := ink{pattern: int(ref.ObjectNumber), sets: allPlanes}
		if l == c.forWhite {
			i.sets = [mostInGroup]bool{}
			i.sets[c.whiteAt] = true
		}
		return i, ok
	}
	if s := l.spaces[at]; !s.pattern || s.Components() == 0 {
		return ink{}, false
	}
	i := c.inkIn(l, at, components)
	ref, ok := c.tiling(l, o, i)
	i.pattern = int(ref.ObjectNumber)
	return i, ok
}

var allPlanes = [mostInGroup]bool{true, true, true}

// shadingPattern rewrites a pattern of type 2 (8.7.4).
func (c *content) shadingPattern(l *lens, o types.Object, d types.Dict) (ink, bool) {
	nr := pdfvalue.NumberOf(o)
	if i, ok := l.shadings[nr]; ok && nr > 0 {
		return i, i.nothing || i.pattern != 0
	}
	shading, i, ok := c.shading(l, d["Shading"])
	if ok && !i.nothing {
		out := types.Dict{"Type": types.Name("Pattern"), "PatternType": types.Integer(2), "Shading": shading}
		if m := d["Matrix"]; m != nil {
			out["Matrix"] = c.copy(m)
		}
		if gs := c.Dict(d["ExtGState"]); gs != nil {
			out["ExtGState"] = c.stateDict(gs)
		}
		i.pattern = int(c.add(out).ObjectNumber)
	}
	if nr > 0 {
		l.shadings[nr] = i
	}
	return i, ok
}

// shading rewrites a shading and says which planes it sets.
func (c *content) shading(l *lens, o types.Object) (types.IndirectRef, ink, bool) {
	d := c.Dict(o)
	if d == nil {
		return types.IndirectRef{}, ink{}, false
	}
	at := c.readSpace(l, d["ColorSpace"])
	if at < 0 {
		return types.IndirectRef{}, ink{}, false
	}
	i := c.inkIn(l, at, l.spaces[at].Initial())
	i.share, i.none, i.unknown = [mostInGroup]float64{}, [mostInGroup]bool{}, true
	if i.nothing {
		return types.IndirectRef{}, i, true
	}
	rewritten, err := l.colours.Shading(o, c.scope.resources, c.group)
	if err != nil {
		c.fail(err)
		return types.IndirectRef{}, ink{}, false
	}
	return c.add(c.copy(rewritten)), i, true
}

// paintShading handles sh.
func (c *content) paintShading(named string) {
	o := c.find("Shading", named)
	if o == nil || c.uncoloured || c.passes() {
		return
	}
	l, key := c.lens(), pdfvalue.NumberOf(o)
	done, ok := l.painted[key]
	if !ok || key == 0 {
		var found bool
		if done.ref, done.ink, found = c.shading(l, o); !found {
			return
		}
		l.painted[key] = done
	}
	if !c.lays(done.ink, c.overFill, 0) {
		return
	}
	c.write(fmt.Sprintf("/%s sh", c.use("Shading", done.ref)))
}

// paintedShading is a rewritten shading for sh.
type paintedShading struct {
	ref types.IndirectRef
	ink ink
}

// numberOf is the object number of a reference, 0 of other objects.
// isRGB reports whether a colour space is of red, green and blue.
func (f *file) isRGB(o types.Object) bool {
	if f.Name(o) == "DeviceRGB" {
		return true
	}
	a := f.Array(o)
	if len(a) < 2 {
		return false
	}
	n, _ := f.Number(f.Dict(a[1])["N"])
	return f.Name(a[0]) == "CalRGB" || f.Name(a[0]) == "ICCBased" && n == 3
}

// isCMYK reports whether a colour space, read as s, has process colours other than grey and RGB.
func (r *rewriter) isCMYK(o types.Object, s space, depth int) bool {
	if n := r.Name(o); n != "" {
		return n == "DeviceCMYK"
	}
	a := r.Array(o)
	if len(a) < 2 || depth > mostNesting {
		return false
	}
	switch r.Name(a[0]) {
	case "ICCBased":
		n, _ := r.Number(r.Dict(a[1])["N"])
		return n == 4
	case "Indexed", "Pattern":
		return r.isCMYK(a[1], s, depth+1)
	case "Separation", "DeviceN":
		return r.setsProcess(s)
	}
	return false
}

// setsProcess reports whether a space of spot colours paints planes of the process.
func (r *rewriter) setsProcess(s space) bool {
	sets := s.Paint(s.Initial()).Sets
	for at, plane := range r.group {
		if r.component[at] >= 0 && sets[plane] {
			return true
		}
	}
	return false
}
