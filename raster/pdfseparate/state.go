package pdfseparate

import (
	"math"
	"strconv"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster/pdfcolour"
)

// mostInGroup is how many planes one rewritten page can hold, as red, green and blue.
const mostInGroup = 3

// ink is what painting with a colour does to the planes of the group.
type ink struct {
	share [mostInGroup]float64 // 0 to 1
	sets  [mostInGroup]bool    // false: overprinting leaves the plane alone
	none  [mostInGroup]bool    // DeviceCMYK's own component for the plane is 0: overprint mode 1 leaves the plane alone
	// nothing: the colour makes no mark at all. unknown: its shares are those of an image or a shading.
	nothing, unknown bool
	space            int // index in the lens of the space that it comes from
	// pattern is the object number of a rewritten pattern, 0 for a plain colour.
	pattern int
}

// shown is the part of an ink that is written.
type shown struct {
	share   [mostInGroup]float64
	pattern int
}

func (i ink) shown() shown { return shown{i.share, i.pattern} }

// colour is the current colour of filling or stroking. It is comparable: forms are rewritten once for each.
type colour struct {
	space int // index in rewriter.spaces
	ink   ink
}

// state is the part of the graphics state (ISO 32000-1, 8.4) that decides how an object is separated.
type state struct {
	fill, stroke         colour
	inWhite              inWhite
	overFill, overStroke bool // overprint parameters op and OP
	mode                 int  // overprint mode OPM
	isolated             bool // within a group that is isolated
	grouped              bool // within a group
	cell                 bool // within a pattern's cell or a glyph
	blend                types.Name
	lets, letsStroke     float64 // how transparent filling and stroking are, 1 - ca and 1 - CA
	render               int     // text rendering mode, 0 to 7
	font                 int     // index in rewriter.fonts; 0 is the one that the output has already
	size                 string
}

// inWhite is the part of the state that counts in layers of white. Outside of them it is kept for layers to come, if the group has that
// plane; inside, what the state has for outside is nothing.
type inWhite struct {
	on           bool // the stream belongs to such a layer as a whole
	fill, stroke colour
}

// withinWhite is the state for a stream that belongs to a layer of white.
func (s state) withinWhite() state {
	s.fill, s.stroke = colour{}, colour{}
	s.inWhite.on = true
	return s
}

// written is what the rewritten stream has set at the same point.
type written struct {
	fill, stroke           shown
	fillKnown, strokeKnown bool
	render                 int // -1 unknown
	font                   int // object number in the output, or -1 for one that was not found; 0 unknown
	size                   string
}

// level is an entry of the stack of graphics states.
type level struct {
	state
	has written
	// ownFill and ownStroke: the colour was set in this stream, not inherited.
	ownFill, ownStroke bool
	// lateFill and lateStroke have set the colour within a layer of white, and are looked at anew if it is still used after it.
	lateFill, lateStroke *late
}

// paints reports whether painting with i changes a plane of the group, and notes what it does to them.
func (r *rewriter) paints(i ink, over bool, mode int) bool {
	if i.nothing {
		return false
	}
	left := 0
	for p := range r.planes {
		if over && (!i.sets[p] || mode == 1 && i.none[p]) {
			left++
		} else if i.share[p] > 0 || i.unknown && i.sets[p] {
			r.inked = true
		}
	}
	r.splits = r.splits || left > 0 && left < r.planes
	return left < r.planes
}

// inkOf turns what a colour space says into the planes of the group.
func (r *rewriter) inkOf(p pdfcolour.Paint) ink {
	i := ink{nothing: p.Nothing}
	for at, plane := range r.group {
		i.share[at], i.sets[at] = p.Share[plane], p.Sets[plane]
	}
	return i
}

// inkOfCMYK also notes which components are 0 (8.6.7).
func (r *rewriter) inkOfCMYK(p pdfcolour.Paint, c []float64) ink {
	i := r.inkOf(p)
	for at, component := range r.component {
		i.none[at] = component >= 0 && component < len(c) && c[component] == 0
	}
	return i
}

// patternGrey is a grey, as a byte, that the renderer cannot tell from a stroke painted with a pattern, which it then draws too wide.
const patternGrey = 191

// grey is a share as a number from 0 (full ink) to 1 (none), as it is written.
func grey(share float64) float64 { return math.Round((1-share)*1e5) / 1e5 }

func appendNumber(b []byte, v float64) []byte {
	return append(strconv.AppendFloat(b, v, 'f', -1, 64), ' ')
}

// appendShares writes the components of the output's colour space.
func (r *rewriter) appendShares(b []byte, i ink) []byte {
	for p := range r.planes {
		b = appendNumber(b, grey(i.share[p]))
	}
	return b
}

// appendFill writes a plain colour for filling.
func (r *rewriter) appendFill(b []byte, i ink) []byte {
	return append(r.appendShares(b, i), r.operatorName("g", "rg")...)
}

// appendStroke writes a plain stroking colour. The planes that are read keep their value; the one that gives way to keep clear of
// patternGrey is not read where the group has one plane, and a level off in the third where it has three.
func (r *rewriter) appendStroke(b []byte, i ink) []byte {
	var c [mostInGroup]float64
	clash := true
	for p := range c {
		c[p] = grey(i.share[min(p, r.planes-1)])
		clash = clash && math.Round(c[p]*255) == patternGrey
	}
	if !clash {
		return append(r.appendShares(b, i), r.operatorName("G", "RG")...)
	}
	c[2] = grey(1 - (patternGrey+1)/255.0)
	for _, v := range c {
		b = appendNumber(b, v)
	}
	return append(b, "RG\n"...)
}

func (r *rewriter) operatorName(grey, rgb string) string {
	if r.planes == 1 {
		return grey + "\n"
	}
	return rgb + "\n"
}

// outputSpace is the colour space of the rewritten page.
func (r *rewriter) outputSpace() types.Name {
	if r.planes == 1 {
		return "DeviceGray"
	}
	return "DeviceRGB"
}
