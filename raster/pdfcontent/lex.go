// Package pdfcontent cuts the content streams of PDF pages into tokens (ISO 32000-1:2008, 7.8.2), inline images among them.
//
// Start with Scanner. Whatever the bytes, it comes to an end.
package pdfcontent

import (
	"bytes"
	"math"
	"slices"
	"strconv"
)

// Kind is what an object in a content stream is (ISO 32000-1, 7.3 and 7.8.2).
type Kind uint8

// The kinds; Ended is the end of the data.
const (
	Ended Kind = iota
	Number
	Name
	Text
	List
	Dictionary
	Word // an operator, or true, false, null
)

// Token is an object of a content stream as it is written there; arrays and dictionaries are one token.
type Token struct {
	Kind Kind
	Raw  []byte
}

// Scanner cuts a content stream into tokens.
type Scanner struct {
	data []byte
	at   int
}

// NewScanner returns a scanner at the beginning of the data.
func NewScanner(data []byte) *Scanner { return &Scanner{data: data} }

// White space and delimiters are those of ISO 32000-1, Tables 1 and 2; all else is regular.

// IsWhite reports whether a byte is white space.
func IsWhite(c byte) bool {
	return c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == 0 || c == '\f'
}

func isRegular(c byte) bool {
	switch c {
	case '(', ')', '<', '>', '[', ']', '{', '}', '/', '%':
		return false
	}
	return !IsWhite(c)
}

// Next is the next token; strings and arrays without an end reach to the end of the data.
func (s *Scanner) Next() Token {
	for {
		start := s.skipWhite()
		switch k := s.step(); k {
		case Ended:
			return Token{}
		case opensList, opensDictionary:
			s.swallow()
			if k == opensDictionary {
				return Token{Dictionary, s.data[start:s.at]}
			}
			return Token{List, s.data[start:s.at]}
		case stray, closesList, closesDictionary:
			continue
		default:
			return Token{k, s.data[start:s.at]}
		}
	}
}

// What step finds besides whole objects.
const (
	opensList Kind = iota + 100
	closesList
	opensDictionary
	closesDictionary
	stray
)

func (s *Scanner) skipWhite() int {
	for s.at < len(s.data) {
		switch c := s.data[s.at]; {
		case IsWhite(c):
			s.at++
		case c == '%':
			if end := bytes.IndexAny(s.data[s.at:], "\r\n"); end >= 0 {
				s.at += end
			} else {
				s.at = len(s.data)
			}
		default:
			return s.at
		}
	}
	return s.at
}

// step moves past one simple object or one bracket.
func (s *Scanner) step() Kind {
	if s.at == len(s.data) {
		return Ended
	}
	c := s.data[s.at]
	s.at++
	switch c {
	case '(':
		s.skipString()
		return Text
	case '<':
		if s.at < len(s.data) && s.data[s.at] == '<' {
			s.at++
			return opensDictionary
		}
		if end := bytes.IndexByte(s.data[s.at:], '>'); end >= 0 {
			s.at += end + 1
		} else {
			s.at = len(s.data)
		}
		return Text
	case '>':
		if s.at < len(s.data) && s.data[s.at] == '>' {
			s.at++
			return closesDictionary
		}
		return stray
	case '[':
		return opensList
	case ']':
		return closesList
	case '{', '}', ')':
		return stray
	case '/':
		s.skipRegular()
		return Name
	}
	s.skipRegular()
	if c >= '0' && c <= '9' || c == '+' || c == '-' || c == '.' {
		return Number
	}
	return Word
}

func (s *Scanner) skipRegular() {
	for s.at < len(s.data) && isRegular(s.data[s.at]) {
		s.at++
	}
}

func (s *Scanner) skipString() {
	for depth := 1; s.at < len(s.data) && depth > 0; s.at++ {
		switch s.data[s.at] {
		case '\\':
			s.at++
		case '(':
			depth++
		case ')':
			depth--
		}
	}
	s.at = min(s.at, len(s.data))
}

// swallow moves past the bracket that closes the one just opened.
func (s *Scanner) swallow() {
	for depth := 1; depth > 0; {
		s.skipWhite()
		switch s.step() {
		case Ended:
			return
		case opensList, opensDictionary:
			depth++
		case closesList, closesDictionary:
			depth--
		}
	}
}

// Value reads a number as readers do: what follows the number is ignored, and what is none is 0.
func (t Token) Value() float64 {
	if t.Kind != Number {
		return 0
	}
	raw := t.Raw
	end, dot := 0, false
	for end < len(raw) {
		c := raw[end]
		if sign := c == '+' || c == '-'; sign && end > 0 || !sign && c != '.' && (c < '0' || c > '9') || c == '.' && dot {
			break
		}
		dot = dot || c == '.'
		end++
	}
	v, err := strconv.ParseFloat(string(raw[:end]), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// Name is the name that the token writes, without its slash and with its escapes resolved (7.3.5).
func (t Token) Name() string {
	if t.Kind != Name {
		return ""
	}
	raw := t.Raw[1:]
	if bytes.IndexByte(raw, '#') < 0 {
		return string(raw)
	}
	out := make([]byte, 0, len(raw))
	for i := 0; i < len(raw); i++ {
		if raw[i] == '#' && i+2 < len(raw) {
			if v, err := strconv.ParseUint(string(raw[i+1:i+3]), 16, 8); err == nil {
				out = append(out, byte(v))
				i += 2
				continue
			}
		}
		out = append(out, raw[i])
	}
	return string(out)
}

// isValue reports whether a word is true, false or null rather than an operator.
func (t Token) isValue() bool {
	switch string(t.Raw) {
	case "true", "false", "null":
		return true
	}
	return false
}

// Bytes are those that a string stands for (7.3.4), nothing for other tokens.
func (t Token) Bytes() []byte {
	switch {
	case t.Kind != Text:
		return nil
	case t.Raw[0] == '<':
		return hexBytes(t.Raw[1:])
	}
	raw := bytes.TrimSuffix(t.Raw[1:], []byte(")"))
	if bytes.IndexByte(raw, '\\') < 0 {
		return raw
	}
	var out []byte
	for i := 0; i < len(raw); i++ {
		if raw[i] != '\\' || i+1 == len(raw) {
			out = append(out, raw[i])
			continue
		}
		i++
		switch c := raw[i]; c {
		case 'n', 'r', 't', 'b', 'f':
			out = append(out, map[byte]byte{'n': '\n', 'r': '\r', 't': '\t', 'b': '\b', 'f': '\f'}[c])
		case '\n':
		case '\r':
			if i+1 < len(raw) && raw[i+1] == '\n' {
				i++
			}
		case '0', '1', '2', '3', '4', '5', '6', '7':
			v, end := 0, min(i+3, len(raw))
			for ; i < end && raw[i] >= '0' && raw[i] <= '7'; i++ {
				v = 8*v + int(raw[i]-'0')
			}
			i--
			out = append(out, byte(v))
		default:
			out = append(out, c)
		}
	}
	return out
}

func hexBytes(raw []byte) []byte {
	var out []byte
	digits := 0
	for _, c := range raw {
		v, ok := hexDigit(c)
		if !ok {
			continue
		}
		if digits%2 == 0 {
			out = append(out, v<<4)
		} else {
			out[len(out)-1] |= v
		}
		digits++
	}
	return out
}

func hexDigit(c byte) (byte, bool) {
	switch {
	case c >= '0' && c <= '9':
		return c - '0', true
	case c >= 'a' && c <= 'f':
		return c - 'a' + 10, true
	case c >= 'A' && c <= 'F':
		return c - 'A' + 10, true
	}
	return 0, false
}

// mostOperands an operator has (32 colour components and a pattern); of more, the last count.
const mostOperands = 33

// Operator returns the next operator with its operands, which are put into room; ok is false at the end.
func (s *Scanner) Operator(room []Token) (op []byte, operands []Token, ok bool) {
	operands = room[:0]
	for {
		t := s.Next()
		switch {
		case t.Kind == Ended:
			return nil, nil, false
		case t.Kind == Word && !t.isValue():
			return t.Raw, operands, true
		}
		if operands = append(operands, t); len(operands) > mostOperands {
			operands = slices.Delete(operands, 0, 1)
		}
	}
}

// Operand is the value of the operand that is at from the start of the last n; 0 if there are fewer.
func Operand(operands []Token, n, at int) float64 {
	if len(operands) < n {
		return 0
	}
	return operands[len(operands)-n+at].Value()
}
