package pdfseparate

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"

	"peelcheck/raster/pdfcontent"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

const (
	// mostOperators bounds the work on a page: a street map has some millions, and is read a few times.
	mostOperators = 50_000_000
	// mostSaved bounds q without Q; ISO 32000-1, Annex C.2, gives 28 as the limit of readers.
	mostSaved = 10_000
)

const lacking = "an instruction on the page lacks some of its numbers, so that something may be missing or in the wrong place"

// fewestOperands are those that operators need (ISO 32000-1, Annex A).
var fewestOperands = map[string]int{
	"cm": 6, "w": 1, "J": 1, "j": 1, "M": 1, "d": 2, "ri": 1, "i": 1, "m": 2, "l": 2, "c": 6, "v": 4, "y": 4, "re": 4,
	"Tc": 1, "Tw": 1, "Tz": 1, "TL": 1, "Ts": 1, "Td": 2, "TD": 2, "Tm": 6, "Tr": 1, "Tf": 2, "Tj": 1, "TJ": 1, "'": 1, "\"": 3, "d0": 2, "d1": 6,
	"g": 1, "rg": 3, "k": 4, "G": 1, "RG": 3, "K": 4, "cs": 1, "CS": 1, "sc": 1, "scn": 1, "SC": 1, "SCN": 1, "gs": 1, "Do": 1, "sh": 1, "BMC": 1, "BDC": 2,
}

// scope is where a stream's names are looked up.
type scope struct {
	id          int
	resources   types.Dict
	spaces      map[string]int // index by name
	whiteSpaces map[string]int
	fonts       map[string]int
}

// content rewrites one content stream.
type content struct {
	*rewriter
	scope     *scope
	start     state // at the beginning: patterns begin with it (ISO 32000-1, 8.7.3.1)
	buf       []byte
	resources types.Dict // of what buf names
	stack     []level
	level
	subpath    string // where the last one begins, if that counts
	pathAt     int    // where the path under construction begins in buf, -1 if there is none
	clips      bool   // the path under construction will clip
	uncoloured bool   // the stream says only where, its caller in which colour
	marks      []bool // for each mark of content that is open whether it begins a layer of white
	whiteMarks int
	cost       int  // operators, those of forms each time that they are drawn
	hidden     bool // an uncoloured glyph whose colour leaves the group alone
	usesFill   bool // the colour that the stream inherits has been painted with
	usesStroke bool
	finished   bool
}

func (r *rewriter) newContent(sc *scope, start state) *content {
	c := &content{rewriter: r, scope: sc, start: start, resources: types.Dict{}, pathAt: -1}
	c.state = start
	c.has.render = -1
	// A pattern stays where it was chosen, so it cannot be chosen anew: the output has inherited it too.
	fill, stroke := start.fill.ink, start.stroke.ink
	if start.inWhite.on {
		fill, stroke = start.inWhite.fill.ink, start.inWhite.stroke.ink
	}
	c.has.fill, c.has.fillKnown = fill.shown(), fill.pattern != 0
	c.has.stroke, c.has.strokeKnown = stroke.shown(), stroke.pattern != 0
	return c
}

func (c *content) run(data []byte) {
	s := pdfcontent.NewScanner(data)
	var room []pdfcontent.Token
	for c.err == nil && !c.finished {
		op, args, ok := s.Operator(room)
		if !ok {
			return
		}
		room = args
		c.operators++
		if c.cost++; c.operators > mostOperators {
			c.fail(errTooLarge)
		}
		if string(op) == "BI" {
			c.inlineImage(s)
		} else {
			c.operator(string(op), args)
		}
	}
}

// operator handles one operator of ISO 32000-1, Annex A; others are left out.
func (c *content) operator(op string, args []pdfcontent.Token) {
	if len(args) < fewestOperands[op] {
		c.note(lacking)
	}
	switch op {
	case "cm", "w", "J", "j", "M", "d", "ri", "i", "l", "c", "v", "y", "h", "BT", "ET",
		"Tc", "Tw", "Tz", "TL", "Ts", "Td", "TD", "Tm", "T*", "d0":
		c.copyOperator(op, args)
	case "m", "re":
		c.beginPath()
		c.noteStart(op, args)
		c.copyOperator(op, args)
	case "W", "W*":
		c.clips = true
		c.copyOperator(op, args)
	case "S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n":
		c.paintPath(op)
	case "Tj", "TJ", "'", "\"":
		c.showText(op, args)
	case "q":
		c.save()
	case "Q":
		c.restore()
	case "g", "rg", "k", "cs", "sc", "scn", "G", "RG", "K", "CS", "SC", "SCN":
		c.setColour(op, args)
	default:
		c.namedOperator(op, args)
	}
}

// namedOperator handles those that name a resource, and d1.
func (c *content) namedOperator(op string, args []pdfcontent.Token) {
	last := ""
	if len(args) > 0 {
		last = args[len(args)-1].Name()
	}
	switch op {
	case "BMC", "BDC":
		c.mark(op, args)
	case "EMC":
		c.endMark()
		c.copyOperator(op, args)
	case "d1":
		c.uncoloured = true
		c.copyOperator(op, args)
		c.finished = c.hidden
	case "Tr":
		if v := pdfcontent.Operand(args, 1, 0); v >= 0 && v <= 7 {
			c.render = int(v)
		}
	case "Tf":
		if len(args) >= 2 {
			c.chooseFont(args[len(args)-2].Name(), string(args[len(args)-1].Raw))
		}
	case "gs":
		c.graphicsState(last)
	case "Do":
		c.paintObject(last)
	case "sh":
		c.paintShading(last)
	}
}

func (c *content) copyOperator(op string, args []pdfcontent.Token) {
	for _, a := range args {
		c.buf = append(append(c.buf, a.Raw...), ' ')
	}
	c.write(op)
}

func (c *content) write(s string) { c.buf = append(append(c.buf, s...), '\n') }

func (c *content) save() {
	if len(c.stack) >= mostSaved {
		c.fail(errors.New("the page saves its graphics state too often"))
		return
	}
	c.stack = append(c.stack, c.level)
	c.write("q")
}

func (c *content) restore() {
	if len(c.stack) == 0 {
		return
	}
	c.level = c.stack[len(c.stack)-1]
	c.stack = c.stack[:len(c.stack)-1]
	c.write("Q")
}

// find looks up a resource.
func (c *content) find(category, name string) types.Object {
	return c.Dict(c.scope.resources[category])[name]
}

// use makes an object of the output a resource of the rewritten stream and gives its name, which is the same in all streams.
func (c *content) use(category string, ref types.IndirectRef) string {
	name := category[:1] + strconv.Itoa(int(ref.ObjectNumber))
	c.put(category, name, ref)
	return name
}

func (c *content) put(category, name string, o types.Object) {
	d, _ := c.resources[category].(types.Dict)
	if d == nil {
		d = types.Dict{}
		c.resources[category] = d
	}
	d[name] = o
}

// mark keeps the marks of optional content as they are; of other marks only the nesting.
func (c *content) mark(op string, args []pdfcontent.Token) {
	if op != "BDC" || len(args) < 2 || args[len(args)-2].Name() != "OC" || args[len(args)-1].Kind != pdfcontent.Name {
		c.beginMark(nil)
		c.write("/Mark BMC")
		return
	}
	named := args[len(args)-1].Name()
	o := c.find("Properties", named)
	if c.beginMark(o); o != nil {
		c.put("Properties", named, c.copy(o))
	}
	c.copyOperator(op, args[len(args)-2:])
}

func (c *content) beginPath() {
	if c.pathAt >= 0 {
		return
	}
	// Colours may not change between here and the painting operator.
	c.flushFill()
	c.flushStroke()
	c.pathAt, c.clips = len(c.buf), false
}

// paintPath paints what of a path the group is painted with.
func (c *content) paintPath(op string) {
	fills, strokes, closes, evenOdd := pathOperator(op)
	begun := c.pathAt
	c.pathAt = -1
	leavesFill, leavesStroke := c.coversFill(fills), c.coversStroke(strokes)
	if fills = c.paintsFill(fills); fills {
		c.flushFill()
	}
	if strokes = c.paintsStroke(strokes); strokes {
		c.flushStroke()
	}
	switch {
	case fills || strokes:
		if !strokes {
			c.keepRectangle()
		}
		c.paintStroke(fills, strokes, func() { c.write(operatorFor(fills, strokes, closes, evenOdd)) })
	case leavesFill || leavesStroke:
		c.cover(leavesFill, leavesStroke, func() { c.write(operatorFor(leavesFill, leavesStroke, closes, evenOdd)) })
	case c.clips || begun < 0:
		c.write("n")
	default:
		c.buf = c.buf[:begun]
	}
	c.clips, c.subpath = false, ""
}

// coversFill reports whether filling must be seen though it leaves the group alone, if the operator fills: in an isolated group it
// hides what lies below the group (11.7.4.3).
func (c *content) coversFill(fills bool) bool {
	return fills && c.isolated && !c.uncoloured && !c.belongsToWhite() && !c.ink(false).nothing
}

func (c *content) coversStroke(strokes bool) bool {
	return strokes && c.isolated && !c.uncoloured && !c.belongsToWhite() && !c.ink(true).nothing
}

// cover paints without ink so that the group covers more and its colours stay: B(b, 1) of Multiply is b (11.3.5.2).
func (c *content) cover(fill, stroke bool, paint func()) {
	none := ink{}
	c.write(fmt.Sprintf("/%s gs", c.use("ExtGState", c.blending("Multiply"))))
	if fill {
		c.buf = c.appendFill(c.buf, none)
		c.has.fillKnown = false
	}
	if stroke {
		c.buf = c.appendStroke(c.buf, none)
		c.has.strokeKnown = false
	}
	paint()
	c.write(fmt.Sprintf("/%s gs", c.use("ExtGState", c.blending(cmp.Or(c.blend, "Normal")))))
}

// paintStroke paints so that a stroke with a tiling pattern is as transparent as it should be: the renderer takes the transparency of filling.
func (c *content) paintStroke(fills, strokes bool, paint func()) {
	if !strokes || c.uncoloured || c.lets == c.letsStroke {
		paint()
		return
	}
	if i := c.ink(true); i.pattern == 0 || i.unknown {
		paint()
		return
	}
	if fills {
		c.note("an outline painted with a pattern is drawn as transparent as what it surrounds")
		paint()
		return
	}
	c.write(fmt.Sprintf("/%s gs", c.use("ExtGState", c.add(types.Dict{"ca": types.Float(1 - c.letsStroke)}))))
	paint()
	c.write(fmt.Sprintf("/%s gs", c.use("ExtGState", c.add(types.Dict{"ca": types.Float(1 - c.lets)}))))
}

func pathOperator(op string) (fills, strokes, closes, evenOdd bool) {
	switch op[0] {
	case 'f', 'F':
		fills = true
	case 'S', 's':
		strokes = true
	case 'B', 'b':
		fills, strokes = true, true
	}
	return fills, strokes, op[0] == 's' || op[0] == 'b', len(op) == 2
}

func operatorFor(fills, strokes, closes, evenOdd bool) string {
	op := "n"
	switch {
	case fills && strokes && closes:
		op = "b"
	case fills && strokes:
		op = "B"
	case fills:
		op = "f"
	case strokes && closes:
		return "s"
	case strokes:
		return "S"
	default:
		return op
	}
	if evenOdd {
		op += "*"
	}
	return op
}

// paintsFill reports whether filling, if the operator does, paints the group.
func (c *content) paintsFill(fills bool) bool {
	if !fills || c.uncoloured {
		return fills
	}
	c.usesFill = c.usesFill || !c.ownFill
	return c.lays(c.ink(false), c.overFill, c.mode)
}

// paintsStroke reports whether stroking, if the operator does, paints the group.
func (c *content) paintsStroke(strokes bool) bool {
	if !strokes || c.uncoloured {
		return strokes
	}
	c.usesStroke = c.usesStroke || !c.ownStroke
	return c.lays(c.ink(true), c.overStroke, c.mode)
}

// ink is that of filling or stroking where the stream stands.
func (c *content) ink(stroke bool) ink {
	if !c.belongsToWhite() {
		c.settle(stroke)
	}
	return c.colourFor(c.lens(), stroke).ink
}

// lays is paints for where the stream stands: in a layer of white all leaves the other planes alone.
func (c *content) lays(i ink, over bool, mode int) bool {
	c.notePainted(i)
	if c.leavesPaper(i) {
		return false
	}
	if c.belongsToWhite() {
		over, mode = true, 0
	}
	return c.paints(i, over, mode)
}

// notePainted tells the reader of a colour space that it is not only declared.
func (c *content) notePainted(i ink) {
	l := c.lens()
	if i.space < len(l.spaces) && !l.spaces[i.space].painted {
		l.spaces[i.space].painted = true
		l.colours.Painted(l.spaces[i.space].Space)
	}
}

// leavesPaper reports whether painting straight on the page changes nothing: B(b, 1) of Multiply is b (11.3.5.2). Drawing it all the same
// would round what lies there once more.
func (c *content) leavesPaper(i ink) bool {
	if c.keepsAll || c.blend != "Multiply" || c.grouped || c.cell || c.uncoloured || i.pattern != 0 && !i.unknown {
		return false
	}
	for p := range c.planes {
		if i.share[p] > 0 || i.unknown && i.sets[p] {
			return false
		}
	}
	c.leftOut = true
	return true
}

func (c *content) flushFill() {
	i := c.ink(false)
	if c.uncoloured || c.has.fillKnown && c.has.fill == i.shown() {
		return
	}
	if c.has.fill, c.has.fillKnown = i.shown(), true; i.pattern != 0 {
		c.flushPattern(i, "cs", "scn")
		return
	}
	c.buf = c.appendFill(c.buf, i)
}

func (c *content) flushStroke() {
	i := c.ink(true)
	if c.uncoloured || c.has.strokeKnown && c.has.stroke == i.shown() {
		return
	}
	if c.has.stroke, c.has.strokeKnown = i.shown(), true; i.pattern != 0 {
		c.flushPattern(i, "CS", "SCN")
		return
	}
	c.buf = c.appendStroke(c.buf, i)
}

func (c *content) flushPattern(i ink, space, colour string) {
	named := c.use("Pattern", *types.NewIndirectRef(i.pattern, 0))
	c.write("/Pattern " + space)
	c.write("/" + named + " " + colour)
}
