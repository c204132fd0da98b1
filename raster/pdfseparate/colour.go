package pdfseparate

import (
	"fmt"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster/pdfcolour"
)

// space is a colour space that has been met.
type space struct {
	pdfcolour.Space // of a Pattern space the underlying one
	pattern         bool
	cmyk            bool // DeviceCMYK itself, for which overprint mode 1 counts
}

// mostSpaces bounds the colour spaces of a page.
const mostSpaces = 10_000

// space gives the index of a colour space, -1 if the resources do not have it.
func (c *content) space(named string) int {
	if at, ok := c.scope.spaces[named]; ok {
		return at
	}
	o := c.find("ColorSpace", named)
	switch named {
	case "DeviceGray", "DeviceRGB", "DeviceCMYK", "Pattern":
		o = types.Name(named)
	}
	at := -1
	if o != nil {
		at = c.readSpace(o)
	}
	c.scope.spaces[named] = at
	return at
}

// readSpace reads a colour space, the same object only once, so that equal states of it are equal.
func (c *content) readSpace(o types.Object) int {
	ref, indirect := o.(types.IndirectRef)
	if at, ok := c.spaceOf[int(ref.ObjectNumber)]; ok && indirect {
		return at
	}
	read, err := c.colours.Space(o, c.scope.resources)
	if err != nil {
		c.fail(err)
		return -1
	}
	s := space{Space: read}
	switch o := c.deref(o).(type) {
	case types.Name:
		s.pattern = o == "Pattern"
		s.cmyk = o == "DeviceCMYK" && c.find("ColorSpace", "DefaultCMYK") == nil
	case types.Array:
		s.pattern = len(o) > 0 && c.name(o[0]) == "Pattern"
	}
	if len(c.spaces) >= mostSpaces {
		c.fail(errTooLarge)
	}
	c.cmyk = c.cmyk || c.isCMYK(o, s, 0)
	c.spaces = append(c.spaces, s)
	at := len(c.spaces) - 1
	if indirect {
		c.spaceOf[int(ref.ObjectNumber)] = at
	}
	return at
}

// inkIn is what a colour of a space does.
func (c *content) inkIn(at int, components []float64) ink {
	s := c.spaces[at]
	if s.cmyk {
		return c.inkOfCMYK(s.Paint(components), components)
	}
	return c.inkOf(s.Paint(components))
}

func (c *content) setColour(stroke bool, v colour) {
	if stroke {
		c.stroke, c.ownStroke = v, true
	} else {
		c.fill, c.ownFill = v, true
	}
}

// deviceColour handles g, rg, k and their twins for strokes.
func (c *content) deviceColour(op string, args []token) {
	if c.uncoloured {
		return
	}
	named, n := "DeviceGray", 1
	switch op {
	case "rg", "RG":
		named, n = "DeviceRGB", 3
	case "k", "K":
		named, n = "DeviceCMYK", 4
	}
	if len(args) < n {
		return
	}
	if at := c.space(named); at >= 0 {
		c.setColour(op[0] < 'a', colour{at, c.inkIn(at, values(args[len(args)-n:]))})
	}
}

func values(args []token) []float64 {
	out := make([]float64, 0, len(args))
	for _, a := range args {
		if a.kind == number {
			out = append(out, a.value())
		}
	}
	return out
}

func (c *content) chooseSpace(stroke bool, args []token) {
	if c.uncoloured || len(args) == 0 {
		return
	}
	at := c.space(args[len(args)-1].name())
	switch {
	case at < 0:
	case c.spaces[at].pattern: // no pattern is chosen yet, so nothing is painted (8.7.3.1)
		c.setColour(stroke, colour{at, ink{nothing: true}})
	default:
		c.setColour(stroke, colour{at, c.inkIn(at, c.spaces[at].Initial())})
	}
}

func (c *content) chooseColour(stroke bool, args []token) {
	if c.uncoloured || len(args) == 0 {
		return
	}
	at := c.current(stroke).space
	if last := args[len(args)-1]; last.kind == name {
		if i, ok := c.pattern(last.name(), at, values(args)); ok {
			c.setColour(stroke, colour{at, i})
		}
		return
	}
	if !c.spaces[at].pattern {
		c.setColour(stroke, colour{at, c.inkIn(at, values(args))})
	}
}

// current is the colour of filling or stroking; an inherited colour space counts as used.
func (c *content) current(stroke bool) colour {
	if stroke {
		c.usesStroke = c.usesStroke || !c.ownStroke
		return c.stroke
	}
	c.usesFill = c.usesFill || !c.ownFill
	return c.fill
}

// uncolouredPaint is the PaintType of tiling patterns that say only where (8.7.3.3).
const uncolouredPaint = 2

// pattern is the ink of a pattern, false if there is no such pattern.
func (c *content) pattern(named string, at int, components []float64) (ink, bool) {
	o := c.find("Pattern", named)
	d := c.dict(o)
	if d == nil {
		return ink{}, false
	}
	if kind, _ := c.number(d["PatternType"]); kind == 2 {
		return c.shadingPattern(o, d)
	}
	paint, _ := c.number(d["PaintType"])
	if paint != uncolouredPaint {
		ref, ok := c.tiling(o, ink{})
		return ink{pattern: int(ref.ObjectNumber), sets: allPlanes}, ok
	}
	if s := c.spaces[at]; !s.pattern || s.Components() == 0 {
		return ink{}, false
	}
	i := c.inkIn(at, components)
	ref, ok := c.tiling(o, i)
	i.pattern = int(ref.ObjectNumber)
	return i, ok
}

var allPlanes = [mostInGroup]bool{true, true, true}

// shadingPattern rewrites a pattern of type 2 (8.7.4).
func (c *content) shadingPattern(o types.Object, d types.Dict) (ink, bool) {
	nr := numberOf(o)
	if i, ok := c.shadings[nr]; ok && nr > 0 {
		return i, i.nothing || i.pattern != 0
	}
	shading, i, ok := c.shading(d["Shading"])
	if ok && !i.nothing {
		out := types.Dict{"Type": types.Name("Pattern"), "PatternType": types.Integer(2), "Shading": shading}
		if m := d["Matrix"]; m != nil {
			out["Matrix"] = c.copy(m)
		}
		if gs := c.dict(d["ExtGState"]); gs != nil {
			out["ExtGState"] = c.stateDict(gs)
		}
		i.pattern = int(c.add(out).ObjectNumber)
	}
	if nr > 0 {
		c.shadings[nr] = i
	}
	return i, ok
}

// shading rewrites a shading and says which planes it sets.
func (c *content) shading(o types.Object) (types.IndirectRef, ink, bool) {
	d := c.dict(o)
	if d == nil {
		return types.IndirectRef{}, ink{}, false
	}
	at := c.readSpace(d["ColorSpace"])
	if at < 0 {
		return types.IndirectRef{}, ink{}, false
	}
	i := c.inkOf(c.spaces[at].Paint(c.spaces[at].Initial()))
	i.share, i.unknown = [mostInGroup]float64{}, true
	if i.nothing {
		return types.IndirectRef{}, i, true
	}
	rewritten, err := c.colours.Shading(o, c.scope.resources, c.group)
	if err != nil {
		c.fail(err)
		return types.IndirectRef{}, ink{}, false
	}
	return c.add(c.copy(rewritten)), i, true
}

// paintShading handles sh.
func (c *content) paintShading(named string) {
	o := c.find("Shading", named)
	if o == nil || c.uncoloured {
		return
	}
	key := numberOf(o)
	done, ok := c.painted[key]
	if !ok || key == 0 {
		var found bool
		if done.ref, done.ink, found = c.shading(o); !found {
			return
		}
		c.painted[key] = done
	}
	if !c.paints(done.ink, c.overFill, 0) {
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
func numberOf(o types.Object) int {
	if ref, ok := o.(types.IndirectRef); ok {
		return int(ref.ObjectNumber)
	}
	return 0
}

// isRGB reports whether a colour space is of red, green and blue.
func (f *file) isRGB(o types.Object) bool {
	if f.name(o) == "DeviceRGB" {
		return true
	}
	a := f.array(o)
	if len(a) < 2 {
		return false
	}
	n, _ := f.number(f.dict(a[1])["N"])
	return f.name(a[0]) == "CalRGB" || f.name(a[0]) == "ICCBased" && n == 3
}

// isCMYK reports whether a colour space, read as s, has process colours other than grey and RGB.
func (r *rewriter) isCMYK(o types.Object, s space, depth int) bool {
	if n := r.name(o); n != "" {
		return n == "DeviceCMYK"
	}
	a := r.array(o)
	if len(a) < 2 || depth > mostNesting {
		return false
	}
	switch r.name(a[0]) {
	case "ICCBased":
		n, _ := r.number(r.dict(a[1])["N"])
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
