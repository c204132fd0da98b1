package preflight

import (
	"fmt"
	"strings"

	"github.com/bmatcuk/doublestar/v4"
	"github.com/goccy/go-yaml/ast"
)

// CheckPattern refuses a pattern of file names that can match nothing. Only where negated is allowed may it begin with an exclamation mark.
func CheckPattern(pattern string, negated bool) error {
	bare := pattern
	if rest, ok := strings.CutPrefix(pattern, "!"); ok {
		if !negated {
			return fmt.Errorf("pattern %q: an exclamation mark takes files back from exclude, and means nothing here", pattern)
		}
		bare = rest
	}
	bare = strings.TrimSuffix(strings.TrimPrefix(bare, "/"), "/")
	switch {
	case bare == "" || !doublestar.ValidatePattern(bare):
		return fmt.Errorf("pattern %q cannot be read: * stands for any letters, ** for any folders, [ab] and {one,two} for a choice", pattern)
	case strings.HasPrefix(bare, "./") || strings.HasPrefix(bare, "../") || strings.Contains(bare, "//") || strings.Contains(bare, "/../"):
		return fmt.Errorf("pattern %q matches nothing: write it from the folder down, without dots in place of folders", pattern)
	}
	return nil
}

func (y yamlFile) pattern(n ast.Node, negated bool) (string, error) {
	s, err := y.text(n)
	if err != nil {
		return "", err
	}
	if err := CheckPattern(s, negated); err != nil {
		return "", y.fault(n, "%w", err)
	}
	return s, nil
}

func (y yamlFile) patterns(n ast.Node, negated bool) ([]string, error) {
	items, err := y.list(n)
	if err != nil {
		return nil, err
	}
	out := make([]string, len(items))
	for i, item := range items {
		if out[i], err = y.pattern(item, negated); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// ParseWaivers reads a file of waivers alone, under the key waivers. Its errors are those of ParseProcesses.
func ParseWaivers(file string, data []byte) ([]Waiver, error) {
	var c ShopConfig
	body, err := parseYAML(file, data)
	if err != nil || body == nil {
		return nil, err
	}
	_, err = decodeKeys(yamlFile{file}, body, keys[ShopConfig]{"waivers": decodeWaivers}, &c)
	return c.Waivers, err
}

var waiverKeys = keys[Waiver]{
	"rule":   func(y yamlFile, n ast.Node, w *Waiver) (err error) { w.Rule, err = y.text(n); return err },
	"files":  func(y yamlFile, n ast.Node, w *Waiver) (err error) { w.Files, err = y.pattern(n, false); return err },
	"reason": func(y yamlFile, n ast.Node, w *Waiver) (err error) { w.Reason, err = y.text(n); return err },
	"until": func(y yamlFile, n ast.Node, w *Waiver) (err error) {
		if w.Until, err = y.text(n); err == nil && !isDay(w.Until) {
			return y.fault(n, "until: %q is not a day: write it as 2026-12-31 (ISO 8601)", w.Until)
		}
		return err
	},
}

func decodeWaivers(y yamlFile, n ast.Node, c *ShopConfig) error {
	items, err := y.list(n)
	if err != nil {
		return err
	}
	for _, item := range items {
		w := Waiver{File: y.name}
		seen, err := decodeKeys(y, item, waiverKeys, &w)
		if err != nil {
			return err
		}
		if err := y.require(item, seen, "the waiver", "rule", "files", "reason", "until"); err != nil {
			return err
		}
		at := seen["rule"].GetToken().Position
		w.Line, w.Column = at.Line, at.Column
		c.Waivers = append(c.Waivers, w)
	}
	return nil
}

// isDay reports whether text is a day of the calendar as ISO 8601 writes it, 2026-12-31, with the leap years of Gregory's.
func isDay(text string) bool {
	var y, m, d int
	if n, err := fmt.Sscanf(text, "%4d-%2d-%2d", &y, &m, &d); n != 3 || err != nil || fmt.Sprintf("%04d-%02d-%02d", y, m, d) != text || y < 0 || m < 1 || m > 12 {
		return false
	}
	days := [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[m-1]
	if m == 2 && y%4 == 0 && (y%100 != 0 || y%400 == 0) {
		days = 29
	}
	return d >= 1 && d <= days
}
