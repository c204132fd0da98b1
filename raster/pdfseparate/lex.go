package pdfseparate

import (
	"bytes"
	"math"
	"strconv"
)

// kind is what an object in a content stream is (ISO 32000-1, 7.3 and 7.8.2).
type kind uint8

const (
	ended kind = iota
	number
	name
	text
	list
	dictionary
	word // an operator, or true, false, null
)

// token is an object of a content stream as it is written there; arrays and dictionaries are one token.
type token struct {
	kind kind
	raw  []byte
}

// scanner cuts a content stream into tokens. Whatever the bytes, it comes to an end.
type scanner struct {
	data []byte
	at   int
}

// White space and delimiters are those of ISO 32000-1, Tables 1 and 2; all else is regular.
func isWhite(c byte) bool {
	return c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == 0 || c == '\f'
}

func isRegular(c byte) bool {
	switch c {
	case '(', ')', '<', '>', '[', ']', '{', '}', '/', '%':
		return false
	}
	return !isWhite(c)
}

// next is the next token; strings and arrays without an end reach to the end of the data.
func (s *scanner) next() token {
	for {
		start := s.skipWhite()
		switch k := s.step(); k {
		case ended:
			return token{}
		case opensList, opensDictionary:
			s.swallow()
			if k == opensDictionary {
				return token{dictionary, s.data[start:s.at]}
			}
			return token{list, s.data[start:s.at]}
		case stray, closesList, closesDictionary:
			continue
		default:
			return token{k, s.data[start:s.at]}
		}
	}
}

// What step finds besides whole objects.
const (
	opensList kind = iota + 100
	closesList
	opensDictionary
	closesDictionary
	stray
)

func (s *scanner) skipWhite() int {
	for s.at < len(s.data) {
		switch c := s.data[s.at]; {
		case isWhite(c):
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
func (s *scanner) step() kind {
	if s.at == len(s.data) {
		return ended
	}
	c := s.data[s.at]
	s.at++
	switch c {
	case '(':
		s.skipString()
		return text
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
		return text
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
		return name
	}
	s.skipRegular()
	if c >= '0' && c <= '9' || c == '+' || c == '-' || c == '.' {
		return number
	}
	return word
}

func (s *scanner) skipRegular() {
	for s.at < len(s.data) && isRegular(s.data[s.at]) {
		s.at++
	}
}

func (s *scanner) skipString() {
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
func (s *scanner) swallow() {
	for depth := 1; depth > 0; {
		s.skipWhite()
		switch s.step() {
		case ended:
			return
		case opensList, opensDictionary:
			depth++
		case closesList, closesDictionary:
			depth--
		}
	}
}

// value reads a number as readers do: what follows the number is ignored, and what is none is 0.
func (t token) value() float64 {
	if t.kind != number {
		return 0
	}
	raw := t.raw
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

// name is the name that the token writes, without its slash and with its escapes resolved (7.3.5).
func (t token) name() string {
	if t.kind != name {
		return ""
	}
	raw := t.raw[1:]
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
