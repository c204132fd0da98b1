package pdfseparate

import (
	"fmt"
	"maps"
	"slices"

	"peelcheck/raster/pdfvalue"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// mostDepth bounds forms, patterns and glyphs within one another; the renderer stops at about as many.
const mostDepth = 40

// streamKey tells apart the rewritings of one stream: what it looks up, and what it inherits.
type streamKey struct {
	obj, scope         int
	start              state
	uncoloured, hidden bool
	ink                ink // of an uncoloured pattern
}

// inherits is what of the state that a stream inherits it paints with. It is the same for every rewriting of the stream.
type inherits struct{ fill, stroke bool }

// enter begins a stream within the current one; false if that would go on for ever. Leave ends it.
func (r *rewriter) enter(obj int) bool {
	switch {
	case r.running[obj] && obj > 0:
		r.note("a form, a pattern or a glyph draws itself; it is drawn once")
		return false
	case r.depth >= mostDepth:
		r.note("forms lie too deep within one another; the innermost are left out")
		return false
	}
	r.depth++
	r.running[obj] = true
	return true
}

func (r *rewriter) leave(obj int) {
	r.depth--
	delete(r.running, obj)
}

// scopeOf is the scope of a stream's or a font's own resources; without any, those of the stream that uses it count.
func (r *rewriter) scopeOf(d types.Dict, owner int, outer *scope) *scope {
	o, ok := d["Resources"]
	resources := r.Dict(o)
	if !ok || resources == nil {
		return outer
	}
	key := pdfvalue.NumberOf(o)
	if key == 0 {
		key = -owner
	}
	if s, ok := r.scopes[key]; ok && key != 0 {
		return s
	}
	s := r.newScope(resources)
	r.scopes[key] = s
	return s
}

func (r *rewriter) newScope(resources types.Dict) *scope {
	r.scopeCount++
	return &scope{id: r.scopeCount, resources: resources, spaces: map[string]int{}, whiteSpaces: map[string]int{}, fonts: map[string]int{}}
}

// paintObject handles Do.
func (c *content) paintObject(named string) {
	o := c.find("XObject", named)
	sd, ok := c.Stream(o)
	if !ok {
		return
	}
	if c.isWhite(sd.Dict["OC"]) {
		c.whiteMarks++
		defer func() { c.whiteMarks-- }()
	}
	if c.passes() {
		return
	}
	switch c.Name(sd.Dict["Subtype"]) {
	case "Image":
		c.paintImage(sd, pdfvalue.NumberOf(o))
	case "Form":
		c.paintForm(sd, pdfvalue.NumberOf(o))
	}
}

// paintForm rewrites a form for the state that it inherits.
func (c *content) paintForm(sd types.StreamDict, nr int) {
	start := c.handedDown()
	if c.font > 0 && !c.fonts[c.font].type3 {
		c.flushFont(c.fonts[c.font].out)
	}
	c.flushRender(c.render)
	if c.ink(false).pattern != 0 {
		c.flushFill()
	}
	if c.ink(true).pattern != 0 {
		c.flushStroke()
	}
	ref, used, ok := c.form(sd, nr, start, c.scope, c.uncoloured)
	if !ok {
		return
	}
	c.noteInherited(used)
	if c.cost += c.costs[int(ref.ObjectNumber)]; c.cost > mostOperators {
		c.fail(errTooLarge)
	}
	c.write(fmt.Sprintf("/%s Do", c.use("XObject", ref)))
}

// variant gives the rewriting of a stream for a key, made on first use; false if the stream is within itself or cannot be read.
func (r *rewriter) variant(key streamKey, rewrite func() (types.IndirectRef, inherits, bool)) (types.IndirectRef, inherits, bool) {
	nr := key.obj
	used, known := r.inherited[nr]
	if known && nr > 0 {
		if ref, ok := r.forms[key.without(used)]; ok {
			return ref, used, true
		}
	}
	if !r.enter(nr) {
		return types.IndirectRef{}, used, false
	}
	defer r.leave(nr)
	ref, now, ok := rewrite()
	if !ok {
		return ref, used, false
	}
	used = inherits{used.fill || now.fill, used.stroke || now.stroke}
	r.inherited[nr] = used
	r.forms[key.without(used)] = ref
	return ref, used, true
}

// rewriteStream rewrites a form or a pattern cell.
func (r *rewriter) rewriteStream(sd types.StreamDict, sc *scope, key streamKey) (types.IndirectRef, inherits, bool) {
	data, ok := r.decode(sd)
	if !ok {
		return types.IndirectRef{}, inherits{}, false
	}
	c := r.newContent(sc, key.start)
	d := r.streamDict(sd.Dict, c.resources)
	if c.uncoloured = key.uncoloured; d["PaintType"] != nil && key.uncoloured {
		d["PaintType"] = types.Integer(1)
		c.buf = r.appendStroke(r.appendFill(c.buf, key.ink), key.ink)
	}
	c.run(data)
	if d["PatternType"] != nil {
		c.buf = append(r.widenCell(d, c.cost), c.buf...)
	}
	ref := r.add(types.StreamDict{Dict: d, Raw: c.buf})
	r.costs[int(ref.ObjectNumber)] = c.cost
	return ref, inherits{c.usesFill, c.usesStroke}, true
}

// form gives the rewritten form; false if it is within itself or cannot be read.
func (r *rewriter) form(sd types.StreamDict, nr int, start state, outer *scope, uncoloured bool) (types.IndirectRef, inherits, bool) {
	sc := r.scopeOf(sd.Dict, nr, outer)
	if g := r.Dict(sd.Dict["Group"]); g != nil {
		isolated, _ := r.Deref(g["I"]).(types.Boolean)
		start.isolated, start.grouped = start.isolated || bool(isolated), true
		start.blend, start.lets, start.letsStroke = "", 0, 0 // 11.6.6
	}
	key := streamKey{obj: nr, scope: sc.id, start: start, uncoloured: uncoloured}
	return r.variant(key, func() (types.IndirectRef, inherits, bool) { return r.rewriteStream(sd, sc, key) })
}

// without is the key with the colours left out that the stream does not paint with.
func (k streamKey) without(used inherits) streamKey {
	if !used.fill {
		k.start.fill, k.start.inWhite.fill = colour{}, colour{}
	}
	if !used.stroke {
		k.start.stroke, k.start.inWhite.stroke = colour{}, colour{}
	}
	return k
}

// streamDict is a stream's dictionary for its rewritten bytes.
func (r *rewriter) streamDict(d, resources types.Dict) types.Dict {
	out := types.Dict{}
	for _, k := range slices.Sorted(maps.Keys(d)) {
		switch k {
		case "Filter", "DecodeParms", "Length", "F", "FFilter", "FDecodeParms", "DL", "Resources", "Group":
			continue
		}
		if !foreign[k] {
			out[k] = r.copy(d[k])
		}
	}
	if g := r.transparencyGroup(d["Group"]); g != nil {
		out["Group"] = g
	}
	out["Resources"] = resources
	return out
}

// transparencyGroup blends in the colour space of the rewritten page. Blending takes additive values (ISO 32000-1, 11.3.4): ink is
// turned over for it and back again, and grey here is ink turned over, so that Multiply and its like need no change.
func (r *rewriter) transparencyGroup(o types.Object) types.Object {
	d := r.Dict(o)
	if d == nil {
		return nil
	}
	if k, _ := r.Deref(d["K"]).(types.Boolean); bool(k) {
		r.knockout = true
	}
	out := r.copy(d).(types.Dict)
	if _, ok := out["CS"]; ok {
		out["CS"] = r.outputSpace()
	}
	return out
}

// tiling rewrites a tiling pattern (8.7.3), which begins with the state that its parent stream began with. An uncoloured one becomes
// coloured, with the ink given: the renderer would stroke with it in the colour of filling.
func (c *content) tiling(l *lens, o types.Object, in ink) (types.IndirectRef, bool) {
	sd, ok := c.Stream(o)
	if !ok {
		return types.IndirectRef{}, false
	}
	paint, _ := c.Number(sd.Dict["PaintType"])
	nr := pdfvalue.NumberOf(o)
	sc := c.scopeOf(sd.Dict, nr, c.scope)
	start := c.start
	if l == c.forWhite {
		start = start.withinWhite()
	}
	start.cell = true
	key := streamKey{obj: nr, scope: sc.id, start: start, uncoloured: paint == uncolouredPaint, ink: in}
	ref, used, ok := c.variant(key, func() (types.IndirectRef, inherits, bool) { return c.rewriteStream(sd, sc, key) })
	c.usesFill, c.usesStroke = c.usesFill || used.fill, c.usesStroke || used.stroke
	return ref, ok
}

// noteInherited marks the colours that c inherits as used if a stream within it uses them.
func (c *content) noteInherited(used inherits) {
	c.usesFill = c.usesFill || used.fill && !c.ownFill
	c.usesStroke = c.usesStroke || used.stroke && !c.ownStroke
}

// image is a rewritten image.
type image struct {
	ref  types.IndirectRef
	mask bool // a stencil, painted with the current colour
	ink  ink
	ok   bool
}

func (c *content) paintImage(sd types.StreamDict, nr int) {
	l := c.lens()
	done, ok := l.images[nr]
	if !ok || nr == 0 {
		done = c.image(l, sd)
		l.images[nr] = done
	}
	switch {
	case !done.ok:
		return
	case done.mask:
		if !c.paintsFill(true) {
			return
		}
		c.flushFill()
	case c.uncoloured:
		return
	default:
		if !c.lays(done.ink, c.overFill, 0) { // overprint mode does not hold for images (8.6.7)
			return
		}
	}
	c.write(fmt.Sprintf("/%s Do", c.use("XObject", done.ref)))
}

func (c *content) image(l *lens, sd types.StreamDict) image {
	if b, ok := c.Deref(sd.Dict["ImageMask"]).(types.Boolean); ok && bool(b) {
		return image{ref: c.add(c.copy(sd)), mask: true, ok: true}
	}
	c.transparent = c.transparent || c.Dict(sd.Dict["SMask"]) != nil
	i, ok := c.imageInk(l, sd)
	if !ok || i.nothing {
		return image{}
	}
	i.unknown = true
	out, err := l.colours.Image(sd, c.scope.resources, c.group)
	if err != nil {
		c.fail(err)
		return image{}
	}
	return image{ref: c.add(c.copy(out)), ink: i, ok: true}
}

// imageInk says which planes an image sets; one without a colour space of its own is of the process.
func (c *content) imageInk(l *lens, sd types.StreamDict) (ink, bool) {
	o := sd.Dict["ColorSpace"]
	if o == nil {
		o = types.Name("DeviceRGB")
	}
	if n, ok := o.(types.Name); ok {
		if at := c.space(l, string(n)); at >= 0 {
			return c.inkIn(l, at, l.spaces[at].Initial()), true
		}
	}
	at := c.readSpace(l, o)
	if at < 0 {
		return ink{}, false
	}
	return c.inkIn(l, at, l.spaces[at].Initial()), true
}

// graphicsState handles gs.
func (c *content) graphicsState(named string) {
	o := c.find("ExtGState", named)
	d := c.Dict(o)
	if d == nil {
		return
	}
	c.overprint(d)
	if o := d["BM"]; o != nil {
		c.blend = c.blendMode(o)
	}
	if ca, ok := c.Number(d["ca"]); ok {
		c.lets = 1 - ca
	}
	if ca, ok := c.Number(d["CA"]); ok {
		c.letsStroke = 1 - ca
	}
	if a := c.Array(d["Font"]); len(a) == 2 {
		c.font = c.readFont(a[0])
		if size, ok := c.Number(a[1]); ok {
			c.size = string(appendNumber(nil, size))
		}
	}
	nr := pdfvalue.NumberOf(o)
	ref, ok := c.states[nr]
	if !ok || nr == 0 {
		if out := c.stateDict(d); len(out) > 0 {
			ref = c.add(out)
		} else {
			ref = types.IndirectRef{}
		}
		c.states[nr] = ref
	}
	if ref.ObjectNumber > 0 {
		c.write(fmt.Sprintf("/%s gs", c.use("ExtGState", ref)))
	}
}

// overprint reads OP, op and OPM; OP alone sets both (ISO 32000-1, Table 58).
func (c *content) overprint(d types.Dict) {
	if b, ok := c.Deref(d["OP"]).(types.Boolean); ok {
		c.overStroke = bool(b)
		if _, both := d["op"]; !both {
			c.overFill = bool(b)
		}
	}
	if b, ok := c.Deref(d["op"]).(types.Boolean); ok {
		c.overFill = bool(b)
	}
	if v, ok := c.Number(d["OPM"]); ok {
		c.mode = int(v)
	}
}

// stateDict is a graphics state parameter dictionary without what the rewriting has taken care of. Transfer functions and halftones
// belong to a device; soft masks stay as they are, in their own colours.
func (r *rewriter) stateDict(d types.Dict) types.Dict {
	out := types.Dict{}
	for _, k := range slices.Sorted(maps.Keys(d)) {
		switch v := d[k]; k {
		case "Type", "OP", "op", "OPM", "Font", "BG", "BG2", "UCR", "UCR2", "TR", "TR2", "HT", "HTO", "HTP", "UseBlackPtComp":
		case "BM":
			out[k] = r.blendMode(v)
		case "ca", "CA":
			alpha, ok := r.Number(v)
			r.transparent = r.transparent || ok && alpha < 1
			out[k] = r.copy(v)
		case "SMask":
			r.transparent = r.transparent || r.Dict(v) != nil
			if r.isWithinItself(r.Dict(v)["G"], map[int]bool{}) {
				r.note("a soft mask refers to itself, so that what it should hide may be wrong")
			}
			r.shading = r.normal.colours.Steps
			out[k] = r.copy(v)
			r.shading = nil
		default:
			out[k] = r.copy(v)
		}
	}
	return out
}

// isWithinItself reports whether a form names itself, or one that does, by its resources or their soft masks. Looked holds the object
// numbers of those that were looked at, true for those that are being looked at.
func (r *rewriter) isWithinItself(form types.Object, looked map[int]bool) bool {
	nr := pdfvalue.NumberOf(form)
	if within, ok := looked[nr]; ok && nr > 0 {
		return within
	}
	if len(looked) > mostSpaces || nr == 0 && len(looked) > 0 { // only what has a number can be named twice
		return false
	}
	looked[nr] = true
	resources := r.Dict(r.Dict(form)["Resources"])
	var named types.Array
	for _, o := range r.Dict(resources["XObject"]) {
		named = append(named, o)
	}
	for _, o := range r.Dict(resources["ExtGState"]) {
		named = append(named, r.Dict(r.Dict(o)["SMask"])["G"])
	}
	for _, o := range named {
		if r.isWithinItself(o, looked) {
			return true
		}
	}
	looked[nr] = false
	return false
}

// onPaper are the blend modes in which painting on bare paper and on nothing at all are the same: B(1, c) = c (11.3.5).
var onPaper = []string{"Normal", "Compatible", "Multiply", "Darken"}

// notForSpots are the blend modes that spot colours take for Normal (11.7.4.2): they are not separable or do not keep white.
var notForSpots = []string{"Difference", "Exclusion", "Hue", "Saturation", "Color", "Luminosity"}

// blendMode is a blend mode for the group, of a list the first that is known.
func (r *rewriter) blendMode(o types.Object) types.Name {
	modes := []string{r.Name(o)}
	for _, v := range r.Array(o) {
		modes = append(modes, r.Name(v))
	}
	for _, m := range modes {
		switch {
		case r.spots && slices.Contains(notForSpots, m):
			return "Normal"
		case slices.Contains(blendModes, m):
			r.blends = r.blends || !slices.Contains(onPaper, m)
			r.transparent = r.transparent || m != "Normal" && m != "Compatible"
			return types.Name(m)
		}
	}
	return "Normal"
}

// blendModes are those of Tables 136 and 137.
var blendModes = append([]string{"Screen", "Overlay", "Lighten", "ColorDodge", "ColorBurn", "HardLight", "SoftLight"}, append(onPaper, notForSpots...)...)

// blending is a graphics state that sets the blend mode alone.
func (r *rewriter) blending(mode types.Name) types.IndirectRef {
	ref, ok := r.blendings[mode]
	if !ok {
		ref = r.add(types.Dict{"BM": mode})
		r.blendings[mode] = ref
	}
	return ref
}
