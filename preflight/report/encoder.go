package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"peelcheck/preflight"
)

// encoder writes findings as json.MarshalIndent does, without holding the text of all of them. It keeps the first error.
type encoder struct {
	w      io.Writer
	text   []byte
	indent int  // of the line that is being written
	inside bool // an object or list has begun and nothing of it is written yet
	err    error
}

// flushBytes is how much text is gathered before it is written.
const flushBytes = 1 << 16

func (e *encoder) flush() error {
	if e.err == nil {
		_, e.err = e.w.Write(e.text)
	}
	e.text = e.text[:0]
	return e.err
}

func (e *encoder) raw(s string) { e.text = append(e.text, s...) }

func (e *encoder) line() {
	const spaces = "\n                "
	e.raw(spaces[:1+e.indent])
}

// open begins an object or a list.
func (e *encoder) open(bracket string) {
	e.raw(bracket)
	e.indent += 2
	e.inside = true
}

func (e *encoder) close(bracket string) {
	e.indent -= 2
	e.inside = false
	e.line()
	e.raw(bracket)
}

// next begins the next element of a list or, with its key, the next field of an object.
func (e *encoder) next() {
	if !e.inside {
		e.raw(",")
	}
	e.inside = false
	e.line()
}

func (e *encoder) key(name string) {
	e.next()
	e.raw(`"`)
	e.raw(name)
	e.raw(`": `)
}

func (e *encoder) integer(name string, v int) {
	e.key(name)
	e.text = strconv.AppendInt(e.text, int64(v), 10)
}

// number writes what encoding/json writes without an exponent as it does, and leaves the rest to it.
func (e *encoder) number(name string, v float64) {
	const least, most = 1e-6, 1e21
	e.key(name)
	if text, ok := appendRounded(e.text, v); ok {
		e.text = text
		return
	}
	if a := math.Abs(v); v == 0 || a >= least && a < most {
		e.text = strconv.AppendFloat(e.text, v, 'f', -1, 64)
		return
	}
	e.other(v)
}

// appendRounded appends a number that was rounded to four places, as most are; ok is false of any other. A decimal of no more than 15 digits
// is the shortest that reads back as the number nearest to it.
func appendRounded(to []byte, v float64) (text []byte, ok bool) {
	const scale, most = 10000, 1e11
	n := math.Round(v * scale)
	if v == 0 || !(math.Abs(v) < most) || n/scale != v {
		return to, false
	}
	if n < 0 {
		to, n = append(to, '-'), -n
	}
	whole, part := int64(n)/scale, int64(n)%scale
	to = strconv.AppendInt(to, whole, 10)
	if part == 0 {
		return to, true
	}
	to = append(to, '.', byte('0'+part/1000), byte('0'+part/100%10), byte('0'+part/10%10), byte('0'+part%10))
	return bytes.TrimRight(to, "0"), true
}

// words writes a string, one that needs no escapes without encoding/json.
func (e *encoder) words(name, s string) {
	e.key(name)
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' {
			e.other(s)
			return
		}
	}
	e.raw(`"`)
	e.raw(s)
	e.raw(`"`)
}

func (e *encoder) other(v any) {
	text, err := json.Marshal(v)
	if err != nil && e.err == nil {
		e.err = fmt.Errorf("report: %w", err)
	}
	e.text = append(e.text, text...)
}

// findings writes the list of findings.
func (e *encoder) findings(list []preflight.Finding) {
	if len(list) == 0 {
		e.raw("[]")
		return
	}
	e.open("[")
	for i := range list {
		e.next()
		e.finding(&list[i])
		if len(e.text) >= flushBytes && e.flush() != nil {
			return
		}
	}
	e.close("]")
}

func (e *encoder) finding(f *preflight.Finding) {
	e.open("{")
	e.integer("id", f.ID)
	e.words("rule", f.Rule)
	e.words("level", string(f.Level))
	e.words("message", f.Message)
	e.words("remedy", f.Remedy)
	if f.Plane != "" {
		e.words("plane", string(f.Plane))
	}
	e.key("box_px")
	e.open("{")
	e.integer("x", f.BoxPx.X)
	e.integer("y", f.BoxPx.Y)
	e.integer("w", f.BoxPx.W)
	e.integer("h", f.BoxPx.H)
	e.close("}")
	e.key("box_mm")
	e.open("{")
	e.number("x", f.BoxMM.X)
	e.number("y", f.BoxMM.Y)
	e.number("w", f.BoxMM.W)
	e.number("h", f.BoxMM.H)
	e.close("}")
	e.measure(f.Measure)
	if f.LengthMM != 0 {
		e.number("length_mm", f.LengthMM)
	}
	if f.AreaMM2 != 0 {
		e.number("area_mm2", f.AreaMM2)
	}
	e.words("fingerprint", f.Fingerprint)
	if f.Accepted != nil {
		e.accepted(f.Accepted)
	}
	e.close("}")
}

func (e *encoder) accepted(a *preflight.Accepted) {
	e.key("accepted")
	e.open("{")
	e.words("by", a.By)
	e.words("reason", a.Reason)
	if a.Until != "" {
		e.words("until", a.Until)
	}
	e.close("}")
}

func (e *encoder) measure(m preflight.Measure) {
	e.key("measure")
	e.open("{")
	e.words("quantity", m.Quantity)
	e.number("value", m.Value)
	e.number("limit", m.Limit)
	e.words("unit", m.Unit)
	e.close("}")
}
