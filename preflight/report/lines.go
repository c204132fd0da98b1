package report

import (
	"cmp"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxColumns is the widest line of text output.
const maxColumns = 100

// Printable returns s with control characters and invalid bytes escaped as Go writes them, so that a name from a file
// cannot move the cursor or colour the screen.
func Printable(s string) string {
	if plainASCII(s) || utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }) < 0 {
		return s
	}
	q := strconv.Quote(s)
	return strings.ReplaceAll(q[1:len(q)-1], `\"`, `"`)
}

func plainASCII(s string) bool {
	for i := range len(s) {
		if s[i] < ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}

// style is an SGR parameter of ECMA-48; empty for plain.
type style string

const (
	plain  style = ""
	bold   style = "1"
	red    style = "1;31"
	yellow style = "1;33"
	cyan   style = "36"
	green  style = "1;32"
)

// page lays out lines of at most so many columns, maxColumns if 0, and remembers the first write error.
type page struct {
	w       io.Writer
	colour  bool
	columns int
	err     error
}

func (p *page) raw(s string) {
	if p.err == nil {
		_, p.err = io.WriteString(p.w, s)
	}
}

func (p *page) blank() { p.raw("\n") }

// para writes lead, in its style, then text, wrapped; later lines are indented by hang columns.
func (p *page) para(lead string, st style, hang int, text string) {
	lead = strings.Repeat(" ", leading(lead)) + Printable(strings.TrimLeft(lead, " "))
	p.raw(p.paint(lead, st))
	col, columns := utf8.RuneCountInString(lead), cmp.Or(p.columns, maxColumns)
	for _, word := range strings.Fields(Printable(strings.Join(strings.Fields(text), " "))) {
		n := utf8.RuneCountInString(word)
		gap := 1
		if col == 0 || strings.HasSuffix(lead, " ") {
			gap, lead = 0, ""
		}
		if col+gap+n > columns && col > hang {
			p.raw("\n" + strings.Repeat(" ", hang))
			col, gap = hang, 0
		}
		p.raw(strings.Repeat(" ", gap) + word)
		col += gap + n
	}
	p.raw("\n")
}

func (p *page) paint(s string, st style) string {
	if !p.colour || st == plain || s == "" {
		return s
	}
	indent := leading(s)
	return s[:indent] + "\x1b[" + string(st) + "m" + s[indent:] + "\x1b[0m"
}

func leading(s string) int { return len(s) - len(strings.TrimLeft(s, " ")) }

// Wrap folds every line of text that is wider than 100 columns; in list items ("- ", "1. ") the rest is indented.
func Wrap(text string) string {
	var out strings.Builder
	p := page{w: &out}
	for line := range strings.Lines(text) {
		marker, rest := listMarker(strings.TrimSuffix(line, "\n"))
		p.para(marker, plain, utf8.RuneCountInString(marker), rest)
	}
	return out.String()
}

// listMarker splits a line into its indent with the mark of a list item, and the text.
func listMarker(line string) (marker, rest string) {
	body := strings.TrimLeft(line, " ")
	indent := line[:len(line)-len(body)]
	if after, ok := strings.CutPrefix(body, "- "); ok {
		return indent + "- ", after
	}
	digits := strings.TrimLeft(body, "0123456789")
	if after, ok := strings.CutPrefix(digits, ". "); ok && len(digits) < len(body) {
		return indent + body[:len(body)-len(after)], after
	}
	return indent, body
}
