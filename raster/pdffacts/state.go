package pdffacts

import "github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

// state is the part of the graphics state (8.4) that facts depend on.
type state struct {
	ctm          matrix
	clip         box // in millimetres on the page
	width        float64
	fill, stroke ink
	overFill     bool
	overStroke   bool
	mode         int // overprint mode
	clear        [2]bool
	text         textState
}

// ink is a current colour as far as overprint asks.
type ink struct {
	space inkSpace
	none  bool // every component is 0
}

type inkSpace uint8

const (
	light   inkSpace = iota // grey, red, green and blue, or a pattern
	process                 // DeviceCMYK
	spot                    // Separation or DeviceN
)

// textState is 9.3; the matrices are not part of the stack of states but lie here all the same.
type textState struct {
	font         *font
	size         float64
	spacing      float64
	wordSpacing  float64
	scale        float64
	leading      float64
	rise         float64
	render       int
	matrix, line matrix
}

func (w *walker) start() state {
	return state{ctm: w.frame.base, clip: box{-1e9, -1e9, 1e9, 1e9, true}, width: 1, text: textState{scale: 1, matrix: identity, line: identity}}
}

// graphicsState handles gs (8.4.5).
func (w *walker) graphicsState(r *run, d types.Dict) {
	s := &r.state
	if v, ok := w.Number(d["LW"]); ok {
		s.width = v
	}
	if o, ok := d["OP"]; ok {
		s.overStroke = w.Bool(o)
		s.overFill = s.overStroke
	}
	if o, ok := d["op"]; ok {
		s.overFill = w.Bool(o)
	}
	if v, ok := w.Number(d["OPM"]); ok {
		s.mode = int(v)
	}
	for i, key := range []string{"ca", "CA"} {
		if v, ok := w.Number(d[key]); ok {
			s.clear[i] = v <= 0
		}
	}
	if a := w.Array(d["Font"]); len(a) == 2 {
		s.text.font = w.font(a[0])
		s.text.size, _ = w.Number(a[1])
	}
}

// space is the kind of a colour space object or of the name of one.
func (w *walker) space(o types.Object) inkSpace {
	family := w.Name(o)
	for range mostDepth { // a palette may be named as its own base
		a := w.Array(o)
		if len(a) == 0 {
			break
		}
		if family = w.Name(a[0]); family != "Indexed" || len(a) == 1 {
			break
		}
		o = a[1]
		family = w.Name(o)
	}
	switch family {
	case "DeviceCMYK":
		return process
	case "Separation", "DeviceN":
		return spot
	}
	return light
}
