package pdfseparate

import (
	"fmt"
	"maps"
	"slices"

	"peelcheck/raster/pdfcontent"
	"peelcheck/raster/pdfvalue"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// font is a font that has been met.
type font struct {
	dict  types.Dict
	nr    int // object number in the file that was read
	type3 bool
	out   int // object number in the output; of a Type 3 font there is one for each state instead; -1 if the font is not in the file
	name  string
}

const mostFonts = 10_000

func (c *content) chooseFont(named, size string) {
	at, ok := c.scope.fonts[named]
	if !ok {
		at = c.readFont(c.find("Font", named))
		if c.fonts[at].out < 0 {
			c.fonts[at].name = named
		}
		c.scope.fonts[named] = at
	}
	c.font, c.size = at, size
}

// readFont gives the index of a font, the same object only once.
func (c *content) readFont(o types.Object) int {
	nr := pdfvalue.NumberOf(o)
	if at, ok := c.fontOf[nr]; ok && nr > 0 {
		return at
	}
	f := font{dict: c.Dict(o), nr: nr, out: -1}
	if f.dict != nil {
		if f.type3 = c.Name(f.dict["Subtype"]) == "Type3"; !f.type3 {
			f.out = c.copyFont(o)
		}
	}
	if len(c.fonts) >= mostFonts {
		c.fail(errTooLarge)
	}
	c.fonts = append(c.fonts, f)
	if nr > 0 {
		c.fontOf[nr] = len(c.fonts) - 1
	}
	return len(c.fonts) - 1
}

func (c *content) copyFont(o types.Object) int {
	copied := c.copy(o)
	if ref, ok := copied.(types.IndirectRef); ok {
		return int(ref.ObjectNumber)
	}
	return int(c.add(copied).ObjectNumber)
}

// showText shows what of the text the group is painted with; without any, the text still moves on.
func (c *content) showText(op string, args []pdfcontent.Token) {
	if f := c.fonts[c.font]; f.type3 {
		c.flushRender(c.render)
		c.showGlyphs(f)
		c.copyOperator(op, args)
		return
	}
	way, clips := c.render%4, c.render >= 4
	fills, strokes := way == 0 || way == 2, way == 1 || way == 2
	leavesFill, leavesStroke := c.coversFill(fills), c.coversStroke(strokes)
	if fills = c.paintsFill(fills); fills {
		c.flushFill()
	}
	if strokes = c.paintsStroke(strokes); strokes {
		c.flushStroke()
	}
	c.flushFont(c.fonts[c.font].out)
	if !fills && !strokes && (leavesFill || leavesStroke) {
		c.flushRender(c.render)
		c.cover(leavesFill, leavesStroke, func() { c.copyOperator(op, args) })
		return
	}
	c.flushRender(renderMode(fills, strokes, clips))
	c.paintStroke(fills, strokes, func() { c.copyOperator(op, args) })
}

// renderMode is a text rendering mode (ISO 32000-1, Table 106).
func renderMode(fills, strokes, clips bool) int {
	mode := 3
	switch {
	case fills && strokes:
		mode = 2
	case fills:
		mode = 0
	case strokes:
		mode = 1
	}
	if clips {
		mode += 4
	}
	return mode
}

func (c *content) flushRender(mode int) {
	if c.has.render != mode {
		c.has.render = mode
		c.write(fmt.Sprintf("%d Tr", mode))
	}
}

// flushFont chooses a font by its number in the output; 0 is the one that is there already.
func (c *content) flushFont(out int) {
	if out == 0 || out > 0 && c.has.font == out && c.has.size == c.size {
		return
	}
	c.has.font, c.has.size = out, c.size
	named := c.fonts[c.font].name
	if out > 0 {
		named = c.use("Font", *types.NewIndirectRef(out, 0))
	}
	c.write(fmt.Sprintf("%s %s Tf", types.Name(named).PDFString(), c.size))
}

// showGlyphs chooses the font of Type 3 whose glyphs were rewritten for the current state (9.6.5).
func (c *content) showGlyphs(f font) {
	painted := c.paintsFill(true)
	if painted {
		c.flushFill()
	}
	start := c.handedDown()
	start.render, start.cell = 0, true
	sc := c.scopeOf(f.dict, f.nr, c.scope)
	key := streamKey{obj: f.nr, scope: sc.id, start: start, uncoloured: c.uncoloured, hidden: !painted}
	ref, used, ok := c.variant(key, func() (types.IndirectRef, inherits, bool) { return c.rewriteFont(f.dict, sc, key) })
	if c.noteInherited(used); ok {
		c.flushFont(int(ref.ObjectNumber))
	}
}

// rewriteFont rewrites the glyphs of a font of Type 3.
func (c *content) rewriteFont(d types.Dict, sc *scope, key streamKey) (types.IndirectRef, inherits, bool) {
	procs, resources, used := types.Dict{}, types.Dict{}, inherits{}
	glyphs := c.Dict(d["CharProcs"])
	for _, name := range slices.Sorted(maps.Keys(glyphs)) {
		sd, ok := c.Stream(glyphs[name])
		if !ok {
			continue
		}
		data, ok := c.decode(sd)
		if !ok {
			continue
		}
		glyph := c.newContent(sc, key.start)
		glyph.uncoloured, glyph.hidden = key.uncoloured, key.hidden
		glyph.resources = resources // names are the same in all streams
		glyph.run(data)
		used = inherits{used.fill || glyph.usesFill, used.stroke || glyph.usesStroke}
		procs[name] = c.add(types.StreamDict{Dict: types.Dict{}, Raw: glyph.buf})
	}
	out := types.Dict{}
	for _, k := range slices.Sorted(maps.Keys(d)) {
		if k != "CharProcs" && k != "Resources" && !foreign[k] {
			out[k] = c.copy(d[k])
		}
	}
	out["CharProcs"], out["Resources"] = procs, resources
	return c.add(out), used, true
}
