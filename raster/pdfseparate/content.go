package pdfseparate

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

const (
	// mostOperators bounds the work on a page: a street map has some millions, and is read a few times.
	mostOperators = 50_000_000
	// mostOperands an operator has (32 colour components and a pattern); of more, the last count.
	mostOperands = 33
	// mostSaved bounds q without Q; ISO 32000-1, Annex C.2, gives 28 as the limit of readers.
	mostSaved = 10_000
)

// scope is where a stream's names are looked up.
type scope struct {
	id        int
	resources types.Dict
	spaces    map[string]int
	fonts     map[string]int
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
	pathAt     int  // where the path under construction begins in buf, -1 if there is none
	clips      bool // the path under construction will clip
	uncoloured bool // the stream says only where, its caller in which colour
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
	c.has.fill, c.has.fillKnown = start.fill.ink.shown(), start.fill.ink.pattern != 0
	c.has.stroke, c.has.strokeKnown = start.stroke.ink.shown(), start.stroke.ink.pattern != 0
	return c
}

func (c *content) run(data []byte) {
	s := &scanner{data: data}
	args := make([]token, 0, mostOperands+1)
	for c.err == nil && !c.finished {
		t := s.next()
		switch {
		case t.kind == ended:
			return
		case t.kind != word || isValue(t.raw):
			if args = append(args, t); len(args) > mostOperands {
				args = slices.Delete(args, 0, 1)
			}
			continue
		}
		if c.operators++; c.operators > mostOperators {
			c.fail(errTooLarge)
		}
		if string(t.raw) == "BI" {
			c.inlineImage(s)
		} else {
			c.operator(string(t.raw), args)
		}
		args = args[:0]
	}
}

func isValue(word []byte) bool {
	switch string(word) {
	case "true", "false", "null":
		return true
	}
	return false
}

// operator handles one operator of ISO 32000-1, Annex A; others are left out.
func (c *content) operator(op string, args []token) {
	switch op {
	case "cm", "w", "J", "j", "M", "d", "ri", "i", "l", "c", "v", "y", "h", "BT", "ET",
		"Tc", "Tw", "Tz", "TL", "Ts", "Td", "TD", "Tm", "T*", "EMC", "d0":
		c.copyOperator(op, args)
	case "m", "re":
		c.beginPath()
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
	case "g", "rg", "k", "G", "RG", "K":
		c.deviceColour(op, args)
	case "cs", "CS":
		c.chooseSpace(op == "CS", args)
	case "sc", "scn", "SC", "SCN":
		c.chooseColour(op == "SC" || op == "SCN", args)
	default:
		c.namedOperator(op, args)
	}
}

// namedOperator handles those that name a resource, and d1.
func (c *content) namedOperator(op string, args []token) {
	last := ""
	if len(args) > 0 {
		last = args[len(args)-1].name()
	}
	switch op {
	case "BMC", "BDC":
		c.mark(op, args)
	case "d1":
		c.uncoloured = true
		c.copyOperator(op, args)
		c.finished = c.hidden
	case "Tr":
		if v := operand(args, 1, 0); v >= 0 && v <= 7 {
			c.render = int(v)
		}
	case "Tf":
		if len(args) >= 2 {
			c.chooseFont(args[len(args)-2].name(), string(args[len(args)-1].raw))
		}
	case "gs":
		c.graphicsState(last)
	case "Do":
		c.paintObject(last)
	case "sh":
		c.paintShading(last)
	}
}

// operand is the value of the operand that is at from the start of the last n; 0 if there are fewer.
func operand(args []token, n, at int) float64 {
	if len(args) < n {
		return 0
	}
	return args[len(args)-n+at].value()
}

func (c *content) copyOperator(op string, args []token) {
	for _, a := range args {
		c.buf = append(append(c.buf, a.raw...), ' ')
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
	return c.dict(c.scope.resources[category])[name]
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
func (c *content) mark(op string, args []token) {
	if op != "BDC" || len(args) < 2 || args[len(args)-2].name() != "OC" || args[len(args)-1].kind != name {
		c.write("/Mark BMC")
		return
	}
	named := args[len(args)-1].name()
	if o := c.find("Properties", named); o != nil {
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
		c.write(operatorFor(fills, strokes, closes, evenOdd))
	case leavesFill || leavesStroke:
		c.cover(leavesFill, leavesStroke, func() { c.write(operatorFor(leavesFill, leavesStroke, closes, evenOdd)) })
	case c.clips || begun < 0:
		c.write("n")
	default:
		c.buf = c.buf[:begun]
	}
	c.clips = false
}

// coversFill reports whether filling must be seen though it leaves the group alone, if the operator fills: in an isolated group it
// hides what lies below the group (11.7.4.3).
func (c *content) coversFill(fills bool) bool {
	return fills && c.isolated && !c.uncoloured && !c.fill.ink.nothing
}

func (c *content) coversStroke(strokes bool) bool {
	return strokes && c.isolated && !c.uncoloured && !c.stroke.ink.nothing
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
	return c.paints(c.fill.ink, c.overFill, c.mode)
}

// paintsStroke reports whether stroking, if the operator does, paints the group.
func (c *content) paintsStroke(strokes bool) bool {
	if !strokes || c.uncoloured {
		return strokes
	}
	c.usesStroke = c.usesStroke || !c.ownStroke
	return c.paints(c.stroke.ink, c.overStroke, c.mode)
}

func (c *content) flushFill() {
	i := c.fill.ink
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
	i := c.stroke.ink
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
