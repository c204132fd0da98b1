package preflight

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// YAML is read node by node against tables of keys, so that every fault has its line and column, and so that a process
// based on another changes what its file sets and nothing else.

// keys says which keys a mapping may have and what each one sets in a T.
type keys[T any] map[string]func(y yamlFile, n ast.Node, into *T) error

// yamlFile makes the faults of one file and reads its plain values.
type yamlFile struct{ name string }

// parseDocument returns the root of the only document in data, nil if it is empty.
func parseDocument(file string, data []byte) (ast.Node, error) {
	f, err := parser.ParseBytes(data, 0)
	if err != nil {
		return nil, syntaxFault(file, err)
	}
	var body ast.Node
	for _, doc := range f.Docs {
		if doc.Body == nil || doc.Body.Type() == ast.NullType {
			continue
		}
		if body != nil {
			return nil, yamlFile{file}.fault(doc.Body, "the file has a second document: keep one, without --- lines")
		}
		body = doc.Body
	}
	return body, nil
}

func syntaxFault(file string, err error) error {
	out := &ConfigError{File: file, Line: 1, Column: 1, Fault: "not YAML: " + err.Error()}
	var at yaml.Error
	if errors.As(err, &at) {
		out.Fault = "not YAML: " + at.GetMessage()
		if strings.Contains(out.Fault, "\t") {
			out.Fault = "a tab stands here, and lines are moved in with spaces only: put two spaces in its place"
		}
		if tk := at.GetToken(); tk != nil && tk.Position != nil {
			out.Line, out.Column = max(1, tk.Position.Line), max(1, tk.Position.Column)
		}
	}
	return out
}

// fault returns a *ConfigError at the node; of an error among args only the text is kept.
func (y yamlFile) fault(n ast.Node, format string, args ...any) error {
	e := &ConfigError{File: y.name, Line: 1, Column: 1, Fault: fmt.Errorf(format, args...).Error()}
	if m, ok := n.(*ast.MappingNode); ok && len(m.Values) > 0 {
		n = m.Values[0].Key // the mapping's own token is its first colon
	}
	if n == nil {
		return e
	}
	if tk := n.GetToken(); tk != nil && tk.Position != nil {
		e.Line, e.Column = max(1, tk.Position.Line), max(1, tk.Position.Column)
	}
	return e
}

// decodeKeys sets into from the mapping n and returns the value node of every key it has.
func decodeKeys[T any](y yamlFile, n ast.Node, known keys[T], into *T) (map[string]ast.Node, error) {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		return nil, y.fault(n, "expected keys with values here, one \"key: value\" a line")
	}
	seen := make(map[string]ast.Node, len(m.Values))
	for _, kv := range m.Values {
		key := kv.Key.GetToken().Value
		set, ok := known[key]
		if !ok {
			names := sortedKeys(known)
			return nil, y.fault(kv.Key, "unknown key %q%s", key, cmp.Or(didYouMean(key, names), "; the keys here are "+strings.Join(names, ", ")))
		}
		if _, twice := seen[key]; twice {
			return nil, y.fault(kv.Key, "key %q is set twice", key)
		}
		if kv.Value == nil || kv.Value.Type() == ast.NullType {
			return nil, y.fault(kv.Key, "%s has no value; if it starts with # put it in quotes", key)
		}
		seen[key] = kv.Value
		if err := set(y, kv.Value, into); err != nil {
			return nil, err
		}
	}
	return seen, nil
}

// require reports the first of the names that the mapping does not set.
func (y yamlFile) require(n ast.Node, seen map[string]ast.Node, what string, names ...string) error {
	for _, name := range names {
		if _, ok := seen[name]; !ok {
			return y.fault(n, "%s needs the key %q", what, name)
		}
	}
	return nil
}

// text reads a plain value as it is written.
func (y yamlFile) text(n ast.Node) (string, error) {
	var s string
	switch n := n.(type) {
	case *ast.StringNode:
		s = n.Value
	case *ast.LiteralNode:
		s = n.Value.Value
	case *ast.IntegerNode, *ast.FloatNode:
		s = n.GetToken().Value
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
		return "", y.fault(n, "anchors, aliases and tags are not read: write the value out")
	default:
		return "", y.fault(n, "expected one plain value; put words such as true and null in quotes")
	}
	s = strings.TrimSpace(s)
	if s == "" {
		return "", y.fault(n, "the value is empty")
	}
	return s, nil
}

func (y yamlFile) oneOf(n ast.Node, words []string) (string, error) {
	s, err := y.text(n)
	if err != nil {
		return "", err
	}
	if !slices.Contains(words, s) {
		return "", y.fault(n, "%q is none of %s%s", s, strings.Join(words, ", "), didYouMean(s, words))
	}
	return s, nil
}

func (y yamlFile) list(n ast.Node) ([]ast.Node, error) {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		return nil, y.fault(n, "expected a list: [one, two] or lines that start with \"- \"")
	}
	return s.Values, nil
}

func (y yamlFile) texts(n ast.Node) ([]string, error) {
	items, err := y.list(n)
	if err != nil {
		return nil, err
	}
	out := make([]string, len(items))
	for i, item := range items {
		if out[i], err = y.text(item); err != nil {
			return nil, err
		}
		if slices.Contains(out[:i], out[i]) {
			return nil, y.fault(item, "%q is listed twice", out[i])
		}
	}
	return out, nil
}

// number reads a number from low to high.
func (y yamlFile) number(n ast.Node, key string, into *float64, low, high float64) error {
	s, err := y.text(n)
	if err != nil {
		return err
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return y.fault(n, "%s: %q is not a number%s", key, s, pointHint(s))
	}
	if !(v >= low && v <= high) {
		return y.fault(n, "%s is %s: it must be from %g to %g", key, s, low, high)
	}
	*into = v
	return nil
}

// length reads a length under maxMM, with a unit or in bare millimetres. Only with zero may it be 0.
func (y yamlFile) length(n ast.Node, key string, into *Length, maxMM float64, zero bool) error {
	s, err := y.text(n)
	if err != nil {
		return err
	}
	l, err := ParseLength(s)
	if err != nil {
		return y.fault(n, "%s: %w", key, err)
	}
	if l.MM() >= maxMM || (l == 0 && !zero) {
		least := "more than 0"
		if zero {
			least = "at least 0"
		}
		return y.fault(n, "%s is %q: it must be %s and less than %g mm", key, s, least, maxMM)
	}
	*into = l
	return nil
}

// lengthMM is length for a field in bare millimetres that may be 0.
func (y yamlFile) lengthMM(n ast.Node, key string, into *float64, maxMM float64) error {
	var l Length
	err := y.length(n, key, &l, maxMM, true)
	if err == nil {
		*into = l.MM()
	}
	return err
}
