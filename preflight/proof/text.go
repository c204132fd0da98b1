package proof

import (
	"image"
	"image/draw"
	"regexp"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// typeStyle is a weight and a size in pixels per em.
type typeStyle struct {
	bold bool
	px   int
}

// typeface draws one style and keeps the glyphs it has drawn. Not safe for concurrent use.
type typeface struct {
	font   *opentype.Font
	buf    sfnt.Buffer
	face   font.Face
	ascent int
	height int
	glyphs map[rune]*glyph
}

type glyph struct {
	mask    *image.Alpha
	at      image.Point // of the mask's top left from the pen
	advance fixed.Int26_6
}

// setter sets text in any style. One proof uses one at a time; they are pooled because faces are not safe for
// concurrent use and their glyphs are worth keeping.
type setter struct{ faces map[typeStyle]*typeface }

var setters = sync.Pool{New: func() any { return &setter{faces: map[typeStyle]*typeface{}} }}

var fonts = sync.OnceValue(func() [2]*opentype.Font {
	return [2]*opentype.Font{mustParse(goregular.TTF), mustParse(gobold.TTF)}
})

func mustParse(ttf []byte) *opentype.Font {
	f, err := opentype.Parse(ttf)
	if err != nil {
		panic("proof: the built-in font is broken (bug): " + err.Error())
	}
	return f
}

func (s *setter) face(st typeStyle) *typeface {
	if f, ok := s.faces[st]; ok {
		return f
	}
	which := fonts()[0]
	if st.bold {
		which = fonts()[1]
	}
	face, err := opentype.NewFace(which, &opentype.FaceOptions{Size: float64(st.px), DPI: 72})
	if err != nil {
		panic("proof: the built-in font makes no face (bug): " + err.Error())
	}
	m := face.Metrics()
	f := &typeface{font: which, face: face, ascent: m.Ascent.Ceil(), height: m.Ascent.Ceil() + m.Descent.Ceil(), glyphs: map[rune]*glyph{}}
	s.faces[st] = f
	return f
}

// maxGlyphs bounds what a pooled face keeps; file names may hold anything.
const maxGlyphs = 1000

func (f *typeface) glyph(r rune) *glyph {
	if g, ok := f.glyphs[r]; ok {
		return g
	}
	if len(f.glyphs) >= maxGlyphs {
		clear(f.glyphs)
	}
	g := &glyph{}
	f.glyphs[r] = g
	box, mask, at, advance, ok := f.face.Glyph(fixed.Point26_6{}, r)
	g.advance = advance
	if !ok || box.Empty() {
		return g
	}
	g.at, g.mask = box.Min, image.NewAlpha(image.Rectangle{Max: box.Size()})
	draw.Draw(g.mask, g.mask.Rect, mask, at, draw.Src) // the face uses its mask again for the next glyph
	return g
}

// width returns the width of s in pixels.
func (s *setter) width(st typeStyle, text string) int {
	f := s.face(st)
	var w fixed.Int26_6
	for _, r := range text {
		w += f.glyph(r).advance
	}
	return w.Ceil()
}

// clean replaces what has no shape of its own, such as control characters and marks of writing direction.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case !unicode.IsPrint(r) && r != ' ':
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

// drawable is clean text of which letters that the font lacks are left out, with an ellipsis for each run of them. Letters and their accents
// are put together first (Unicode Standard Annex 15, form C), since the font has few accents by themselves.
func drawable(text string) string {
	var buf sfnt.Buffer
	var out strings.Builder
	lost := false
	for _, r := range norm.NFC.String(clean(text)) {
		i, err := fonts()[0].GlyphIndex(&buf, r)
		switch {
		case err == nil && i != 0 && !(lost && r == unicode.ReplacementChar): // a mark of direction or joining among lost letters
			out.WriteRune(r)
			lost = false
		case unicode.Is(unicode.Mn, r) || lost:
		default:
			out.WriteString(ellipsis)
			lost = true
		}
	}
	return ellipses.ReplaceAllString(out.String(), ellipsis)
}

var ellipses = regexp.MustCompile(ellipsis + `( ` + ellipsis + `)+`)

// wrap breaks text into lines of at most maxW pixels, at spaces where it can, and within words that are too long. What goes
// beyond most lines is cut off with an ellipsis.
func (s *setter) wrap(st typeStyle, text string, maxW, most int) []string {
	var lines []string
	line := ""
	for _, word := range together(strings.Fields(drawable(text))) {
		if len(lines) > most {
			break
		}
		longer := word
		if line != "" {
			longer = line + " " + word
		}
		if s.width(st, longer) <= maxW {
			line = longer
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		head, rest := s.breakWord(st, word, maxW)
		lines = append(lines, head...)
		line = rest
	}
	if line != "" {
		lines = append(lines, line)
	}
	if len(lines) > most {
		lines = lines[:most]
		lines[most-1] = s.fit(st, lines[most-1], maxW)
	}
	return lines
}

// together joins the words that no line may part: a number and its unit, and the sides of a size, "52 x 52 mm".
func together(words []string) (joined []string) {
	for _, w := range words {
		last := len(joined) - 1
		if last >= 0 && (endsInDigit(joined[last]) && (w == "x" || units.MatchString(w)) || strings.HasSuffix(joined[last], " x")) {
			joined[last] += " " + w
			continue
		}
		joined = append(joined, w)
	}
	return joined
}

var units = regexp.MustCompile(`^(mm|mm²|cm²|%)[.,;:)]*$`)

func endsInDigit(s string) bool { return s[len(s)-1] >= '0' && s[len(s)-1] <= '9' }

const ellipsis = "…"

// fit cuts letters off the end until an ellipsis fits behind the rest.
func (s *setter) fit(st typeStyle, line string, maxW int) string {
	runes := []rune(line)
	for len(runes) > 0 && s.width(st, string(runes)+ellipsis) > maxW {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + ellipsis
}

// breakWord cuts pieces of at most maxW pixels off a word until the rest fits.
func (s *setter) breakWord(st typeStyle, word string, maxW int) (pieces []string, rest string) {
	f := s.face(st)
	var w fixed.Int26_6
	start := 0
	for i, r := range word {
		advance := f.glyph(r).advance
		if i > start && (w+advance).Ceil() > maxW {
			pieces = append(pieces, word[start:i])
			start, w = i, 0
		}
		w += advance
	}
	return pieces, word[start:]
}

// shorten cuts the middle out of text that is wider than maxW pixels.
func (s *setter) shorten(st typeStyle, text string, maxW int) string {
	text = drawable(text)
	if s.width(st, text) <= maxW {
		return text
	}
	runes := []rune(text)
	for n := min(400, len(runes)-1); n >= 2; n-- { // no line holds more
		front, back := string(runes[:(n+1)/2]), string(runes[len(runes)-n/2:])
		cut := strings.TrimRight(front, " ") + " " + ellipsis + " " + strings.TrimLeft(back, " ")
		if s.width(st, cut) <= maxW {
			return cut
		}
	}
	return ellipsis
}
