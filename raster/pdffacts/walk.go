package pdffacts

import (
	"math"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
	"peelcheck/raster/pdfcontent"
	"peelcheck/raster/pdfvalue"
)

const incomplete = "the page has more objects than are looked at one by one, so the last ones were left out"

// walker goes through what a page draws.
type walker struct {
	*Document
	facts     *raster.Facts
	frame     frame
	fontAt    map[*font]int
	layers    map[string][]*layer // by name
	layerOf   map[int]*layer      // by object number; nil for what hides nothing
	order     []*layer
	operators int
	depth     int
	running   map[int]bool // forms that are being drawn, by object number
	stopped   bool
}

func newWalker(d *Document, facts *raster.Facts, f frame) *walker {
	return &walker{Document: d, facts: facts, frame: f, fontAt: map[*font]int{}, layers: map[string][]*layer{}, layerOf: map[int]*layer{}, running: map[int]bool{}}
}

// run goes through one content stream.
type run struct {
	*walker
	state
	resources types.Dict
	stack     []state
	path      pathBox
	marks     []*layer // of marked content that is open; nil for a mark that is no layer's
	outer     []*layer // of what the stream lies in
}

// pathBox is the path under construction.
type pathBox struct {
	box
	clips bool
	x, y  float64 // the current point, as the stream has it
}

// content goes through a stream with resources of its own, within layers.
func (w *walker) content(data []byte, resources types.Dict, start state, within ...*layer) {
	r := &run{walker: w, state: start, resources: resources, outer: within}
	s := pdfcontent.NewScanner(data)
	var room []pdfcontent.Token
	for !w.stopped {
		op, args, ok := s.Operator(room)
		if !ok {
			return
		}
		room = args
		if w.operators++; w.operators > mostOperators {
			w.stopped = true
		}
		if string(op) == "BI" {
			r.inlineImage(s)
		} else {
			r.operator(string(op), args)
		}
	}
}

func lastName(args []pdfcontent.Token) string {
	if len(args) == 0 {
		return ""
	}
	return args[len(args)-1].Name()
}

func (r *run) operator(op string, args []pdfcontent.Token) {
	switch op {
	case "q":
		if len(r.stack) < mostSaved {
			r.stack = append(r.stack, r.state)
		}
	case "Q":
		if n := len(r.stack); n > 0 {
			r.state, r.stack = r.stack[n-1], r.stack[:n-1]
		}
	case "cm":
		r.ctm = matrixOf(args).after(r.ctm)
	case "w":
		r.width = pdfcontent.Operand(args, 1, 0)
	case "gs":
		r.graphicsState(r, r.Dict(r.find("ExtGState", lastName(args))))
	case "Do":
		r.object(lastName(args))
	case "sh":
		r.painted(r.clip.meet(r.frame.shown))
	case "BMC", "BDC":
		r.beginMark(op, args)
	case "EMC":
		if n := len(r.marks); n > 0 {
			r.marks = r.marks[:n-1]
		}
	case "m", "l", "c", "v", "y", "re", "h":
		r.build(op, args)
	case "W", "W*":
		r.path.clips = true
	case "S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n":
		r.paintPath(op)
	case "g", "rg", "k", "cs", "sc", "scn", "G", "RG", "K", "CS", "SC", "SCN":
		r.colour(op, args)
	default:
		r.textOperator(op, args)
	}
}

func matrixOf(args []pdfcontent.Token) matrix {
	n := func(at int) float64 { return pdfcontent.Operand(args, 6, at) }
	return matrix{n(0), n(1), n(2), n(3), n(4), n(5)}
}

func (r *run) find(category, name string) types.Object { return r.Dict(r.resources[category])[name] }

// colour notes what kind of colour is set (8.6.8); the operators of stroking are in capitals.
func (r *run) colour(op string, args []pdfcontent.Token) {
	at := &r.fill
	if op[0] >= 'A' && op[0] <= 'Z' {
		at = &r.stroke
	}
	switch op {
	case "g", "rg", "G", "RG":
		*at = ink{}
		return
	case "cs", "CS":
		named := lastName(args)
		o := r.find("ColorSpace", named)
		if o == nil {
			o = types.Name(named)
		}
		*at = ink{space: r.space(o)}
		return
	case "k", "K":
		at.space = process
	}
	at.none = len(args) > 0
	for _, a := range args {
		at.none = at.none && a.Kind == pdfcontent.Number && a.Value() == 0
	}
}

// build adds to the path under construction (8.5.2). Control points are taken for points of the path.
func (r *run) build(op string, args []pdfcontent.Token) {
	p := &r.path
	point := func(x, y float64) {
		p.add(r.ctm.apply(x, y))
		p.x, p.y = x, y
	}
	switch op {
	case "m", "l":
		point(pdfcontent.Operand(args, 2, 0), pdfcontent.Operand(args, 2, 1))
	case "c":
		for i := range 3 {
			point(pdfcontent.Operand(args, 6, 2*i), pdfcontent.Operand(args, 6, 2*i+1))
		}
	case "v", "y":
		for i := range 2 {
			point(pdfcontent.Operand(args, 4, 2*i), pdfcontent.Operand(args, 4, 2*i+1))
		}
	case "re":
		x, y, w, h := pdfcontent.Operand(args, 4, 0), pdfcontent.Operand(args, 4, 1), pdfcontent.Operand(args, 4, 2), pdfcontent.Operand(args, 4, 3)
		p.join(r.ctm.rectangle(x, y, x+w, y+h))
		p.x, p.y = x, y
	}
}

// paintPath handles the operators of 8.5.3.
func (r *run) paintPath(op string) {
	path := r.path
	r.path = pathBox{}
	if !path.any || !r.ctm.finite() {
		return
	}
	fills := op[0] == 'f' || op[0] == 'F' || op[0] == 'B' || op[0] == 'b'
	strokes := op[0] == 'S' || op[0] == 's' || op[0] == 'B' || op[0] == 'b'
	if fills && !r.clear[0] {
		r.painted(path.box)
		r.overprinted(path.box, r.fill, r.overFill)
	}
	if strokes && !r.clear[1] {
		r.strokePath(path.box)
	}
	if path.clips {
		r.clip = r.clip.meet(path.box)
	}
}

func (r *run) strokePath(path box) {
	least, most := r.ctm.stretch()
	width := math.Abs(r.width)
	b := path.grown(width * most / 2)
	r.painted(b)
	r.overprinted(b, r.stroke, r.overStroke)
	if b = r.visible(b); b.any && len(r.facts.Strokes) < mostFacts {
		r.facts.Strokes = append(r.facts.Strokes, raster.FactStroke{Box: b.fact(), LeastMM: width * least, MostMM: width * most})
	}
}

// visible is what shows of a box on the page, in print, as far as clipping and layers go.
func (r *run) visible(b box) box {
	if !r.prints() {
		return box{}
	}
	return b.meet(r.clip).meet(r.frame.shown)
}

// painted notes that something is painted in a box: in the layers that it belongs to, and whether it lies beyond the page.
func (r *run) painted(b box) {
	b = b.meet(r.clip)
	if !b.any {
		return
	}
	for _, list := range [][]*layer{r.outer, r.marks} {
		for _, l := range list {
			l.paint(b)
		}
	}
	if r.prints() && !b.meet(r.frame.shown).any && len(r.facts.Outside) < mostFacts {
		r.facts.Outside = append(r.facts.Outside, b.fact())
	}
}

// overprinted notes an object that leaves planes alone which its colour does not paint (8.6.7).
func (r *run) overprinted(b box, i ink, over bool) {
	if !over || i.space == light || i.space == process && r.mode != 1 || len(r.facts.Overprints) >= mostFacts {
		return
	}
	if b = r.visible(b); b.any {
		r.facts.Overprints = append(r.facts.Overprints, raster.FactOverprint{Box: b.fact(), Vanishes: i.none})
	}
}

// object handles Do.
func (r *run) object(named string) {
	o := r.find("XObject", named)
	sd, ok := r.Stream(o)
	if !ok {
		return
	}
	member := r.layer(sd.Dict["OC"])
	switch r.Name(sd.Dict["Subtype"]) {
	case "Image":
		r.image(named, sd, member)
	case "Form":
		r.form(sd, pdfvalue.NumberOf(o), member)
	}
}

// form draws a form XObject (8.10).
func (r *run) form(sd types.StreamDict, nr int, member *layer) {
	if r.running[nr] && nr > 0 || r.depth >= mostDepth {
		return
	}
	r.running[nr] = true
	r.depth++
	defer func() {
		r.depth--
		delete(r.running, nr)
	}()
	inner := r.state
	if m := r.Numbers(sd.Dict["Matrix"]); len(m) == 6 {
		inner.ctm = matrix{m[0], m[1], m[2], m[3], m[4], m[5]}.after(inner.ctm)
	}
	if b := r.Numbers(sd.Dict["BBox"]); len(b) == 4 {
		inner.clip = inner.clip.meet(inner.ctm.rectangle(b[0], b[1], b[2], b[3]))
	}
	if !inner.clip.any || sd.DecodeWithLimit(mostBytes) != nil {
		return
	}
	resources := r.Dict(sd.Dict["Resources"])
	if resources == nil {
		resources = r.resources
	}
	r.content(sd.Content, resources, inner, r.within(member)...)
}

// within are the layers that what is drawn now belongs to.
func (r *run) within(more *layer) []*layer {
	return append(slices.Concat(r.outer, r.marks), more)
}

// finish completes the facts.
func (w *walker) finish() {
	if w.stopped {
		w.facts.Incomplete = incomplete
	}
	for _, l := range w.order {
		w.facts.Layers = append(w.facts.Layers, l.fact())
	}
	w.facts.Texts = joined(w.facts.Texts)
}
