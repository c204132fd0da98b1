package pdffacts

import (
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
	"golang.org/x/text/encoding/charmap"

	"peelcheck/raster/pdfcontent"
)

// mostMapped bounds the codes of one map.
const mostMapped = 1 << 17

// codeMap says how long codes are (9.7.6.2): the first bytes of those of one, two, three and four bytes.
type codeMap struct{ first [256]uint8 }

// codeMap reads the code space of an embedded map; nil for maps known by name, which are taken to have two bytes a code.
func (d *Document) codeMap(o types.Object) *codeMap {
	data := d.unpacked(o)
	if data == nil {
		return nil
	}
	m := &codeMap{}
	found := false
	eachBlock(data, "codespacerange", 2, func(v []pdfcontent.Token) {
		low, high := v[0].Bytes(), v[1].Bytes()
		if len(low) == 0 || len(low) > 4 || len(low) != len(high) {
			return
		}
		found = true
		for b := int(low[0]); b <= int(high[0]); b++ {
			m.first[b] = uint8(len(low))
		}
	})
	if !found {
		return nil
	}
	return m
}

func (m *codeMap) next(codes []byte) (code, n int) {
	n = min(max(1, int(m.first[codes[0]])), len(codes))
	for _, b := range codes[:n] {
		code = code<<8 | int(b)
	}
	return code, n
}

// eachBlock calls do for every entry of the blocks that begin with "begin" and a name, an entry having so many tokens.
func eachBlock(data []byte, name string, tokens int, do func([]pdfcontent.Token)) {
	s := pdfcontent.NewScanner(data)
	inside := false
	var entry []pdfcontent.Token
	for n := 0; n < mostMapped; n++ {
		t := s.Next()
		switch {
		case t.Kind == pdfcontent.Ended:
			return
		case t.Kind == pdfcontent.Word:
			inside, entry = string(t.Raw) == "begin"+name, nil
		case inside:
			if entry = append(entry, t); len(entry) == tokens {
				do(entry)
				entry = entry[:0]
			}
		}
	}
}

// unicodeMap reads ToUnicode (9.10.3); nil without one.
func (d *Document) unicodeMap(o types.Object) map[int]string {
	data := d.unpacked(o)
	if data == nil {
		return nil
	}
	m := map[int]string{}
	eachBlock(data, "bfchar", 2, func(v []pdfcontent.Token) { m[codeOf(v[0])] = textOf(v[1].Bytes()) })
	eachBlock(data, "bfrange", 3, func(v []pdfcontent.Token) {
		low, high := codeOf(v[0]), codeOf(v[1])
		if v[2].Kind == pdfcontent.List {
			s := pdfcontent.NewScanner(v[2].Raw[1:])
			for c := low; c <= high && len(m) < mostMapped; c++ {
				if t := s.Next(); t.Kind == pdfcontent.Text {
					m[c] = textOf(t.Bytes())
				} else {
					return
				}
			}
			return
		}
		first := []rune(textOf(v[2].Bytes()))
		if len(first) == 0 {
			return
		}
		for c := low; c <= high && len(m) < mostMapped; c++ {
			first[len(first)-1] += rune(min(1, c-low))
			m[c] = string(first)
		}
	})
	return m
}

func codeOf(t pdfcontent.Token) (code int) {
	for _, b := range t.Bytes() {
		code = code<<8 | int(b)
	}
	return code
}

// textOf reads UTF-16, the high byte first.
func textOf(b []byte) string {
	units := make([]uint16, len(b)/2)
	for i := range units {
		units[i] = uint16(b[2*i])<<8 | uint16(b[2*i+1])
	}
	return string(utf16.Decode(units))
}

// differencesOf reads the names that an encoding gives to codes (9.6.6.2).
func (d *Document) differencesOf(o types.Object) map[int]string {
	list := d.Array(d.Dict(o)["Differences"])
	if list == nil {
		return nil
	}
	m := map[int]string{}
	code := 0
	for _, o := range list {
		if v, ok := d.Number(o); ok {
			code = int(v)
			continue
		}
		m[code] = d.Name(o)
		code++
	}
	return m
}

// meaning is what a code stands for; false if the file does not say.
func (f *font) meaning(code int) (string, bool) {
	if s, ok := f.toUnicode[code]; ok {
		return s, true
	}
	if f.composite || f.toUnicode != nil {
		return "", false
	}
	if name, ok := f.differences[code]; ok {
		return glyphMeaning(name)
	}
	return string(charmap.Windows1252.DecodeByte(byte(code))), true
}

// glyphNames are names of Adobe's Glyph List beyond single letters, those of ASCII, from memory.
var glyphNames = map[string]string{
	"space": " ", "exclam": "!", "quotedbl": "\"", "numbersign": "#", "dollar": "$", "percent": "%", "ampersand": "&", "quotesingle": "'",
	"quoteright": "’", "quoteleft": "‘", "parenleft": "(", "parenright": ")", "asterisk": "*", "plus": "+", "comma": ",", "hyphen": "-",
	"period": ".", "slash": "/", "zero": "0", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7",
	"eight": "8", "nine": "9", "colon": ":", "semicolon": ";", "less": "<", "equal": "=", "greater": ">", "question": "?", "at": "@",
	"bracketleft": "[", "bracketright": "]", "underscore": "_", "endash": "–", "emdash": "—", "bullet": "•", "fi": "fi", "fl": "fl",
}

// glyphMeaning reads the name of a glyph: one letter, with or without an accent, one of the list, or uniXXXX.
func glyphMeaning(name string) (string, bool) {
	base, _, _ := strings.Cut(name, ".")
	if s, ok := glyphNames[base]; ok {
		return s, true
	}
	if hex, ok := strings.CutPrefix(base, "uni"); ok && len(hex) == 4 {
		if v, err := strconv.ParseUint(hex, 16, 16); err == nil {
			return string(rune(v)), true
		}
	}
	for _, accent := range []string{"", "acute", "grave", "circumflex", "dieresis", "tilde", "ring", "caron", "cedilla"} {
		if letter, ok := strings.CutSuffix(base, accent); ok && len(letter) == 1 {
			return letter, true
		}
	}
	return "", false
}
