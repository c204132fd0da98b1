package preflight

import (
	"bytes"
	"fmt"
	"slices"

	"github.com/goccy/go-yaml/ast"
)

// ShopConfig is what a shop's peelcheck.yaml says. Every field may be empty: then the process's or the program's own
// choice holds, and flags win over all of it.
type ShopConfig struct {
	File         string // as named in messages and in Limit.From
	Process      string // id of the default process
	WhiteDrawnAs string // "black" or "white"
	Garment      string
	Fabric       string
	Sheet        string
	Background   string   // one of the Background constants
	FailOn       string   // "error", "warning", "note" or "never"
	WhiteNames   []string // names of spot colours and layers that stand for white
	Sheets       []Sheet  // the shop's own
	Limits       map[string]float64
	Processes    []*Process // the shop's own
}

// FailOnWords are what fail_on and --fail-on may be.
var FailOnWords = []string{string(LevelError), string(LevelWarning), string(LevelNote), "never"}

// backgrounds are the Background constants.
var backgrounds = []string{BackgroundKeep, BackgroundDrop, BackgroundAuto}

// ConfigError is one fault in a YAML file, at a line and column counted from 1.
type ConfigError struct {
	File         string
	Line, Column int
	Fault        string
}

// Error returns "FILE:LINE:COLUMN: fault".
func (e *ConfigError) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Column, e.Fault)
}

// maxConfigBytes bounds the shop's file; a page of settings is a hundredth of it.
const maxConfigBytes = 256 << 10

// ParseProcesses reads a shop's settings and its own processes from the YAML of the file so named. Every fault is a
// *ConfigError: unknown keys, values out of range, and names that are not known.
func ParseProcesses(file string, data []byte) (ShopConfig, error) {
	c := ShopConfig{File: file}
	body, err := parseYAML(file, data)
	if err != nil || body == nil {
		return c, err
	}
	y := yamlFile{name: file}
	seen, err := decodeKeys(y, body, shopKeys, &c)
	if err != nil {
		return ShopConfig{File: file}, err
	}
	if err := c.checkNames(y, seen); err != nil {
		return ShopConfig{File: file}, err
	}
	return c, nil
}

// ProcessByID returns a copy of the shop's own process called id, or of the built-in one.
func (c *ShopConfig) ProcessByID(id string) (*Process, error) {
	return findProcess(id, slices.Concat(c.Processes, builtInProcesses()))
}

// DefaultProcess returns a copy of the process the shop's file chose, or of the program's default.
func (c *ShopConfig) DefaultProcess() (*Process, error) {
	if c.Process == "" {
		return c.ProcessByID(DefaultProcess)
	}
	return c.ProcessByID(c.Process)
}

// checkNames refuses names that nothing answers to. It runs last: own sheets and processes may be written anywhere.
func (c *ShopConfig) checkNames(y yamlFile, seen map[string]ast.Node) error {
	p, err := c.DefaultProcess()
	if err != nil {
		return y.fault(seen["process"], "%w", err)
	}
	if n, ok := seen["fabric"]; ok {
		if _, err := p.FabricByName(c.Fabric); err != nil {
			return y.fault(n, "%w", err)
		}
	}
	if n, ok := seen["sheet"]; ok {
		if _, err := SheetByName(c.Sheet, p, c.Sheets); err != nil {
			return y.fault(n, "%w", err)
		}
	}
	for i, own := range c.Processes {
		for _, name := range own.Sheets {
			if _, err := SheetByName(name, own, c.Sheets); err != nil {
				return y.fault(seen["processes"].(*ast.SequenceNode).Values[i], "process %q: %w", own.ID, err)
			}
		}
	}
	return nil
}

// The shop's file is at once the words its owner may write and what each of them sets.
var shopKeys = keys[ShopConfig]{
	"process": func(y yamlFile, n ast.Node, c *ShopConfig) (err error) { c.Process, err = y.text(n); return err },
	"white_drawn_as": func(y yamlFile, n ast.Node, c *ShopConfig) (err error) {
		c.WhiteDrawnAs, err = y.oneOf(n, drawnAs)
		return err
	},
	"garment": decodeGarment,
	"fabric":  func(y yamlFile, n ast.Node, c *ShopConfig) (err error) { c.Fabric, err = y.text(n); return err },
	"sheet":   func(y yamlFile, n ast.Node, c *ShopConfig) (err error) { c.Sheet, err = y.text(n); return err },
	"background": func(y yamlFile, n ast.Node, c *ShopConfig) (err error) {
		c.Background, err = y.oneOf(n, backgrounds)
		return err
	},
	"fail_on": func(y yamlFile, n ast.Node, c *ShopConfig) (err error) {
		c.FailOn, err = y.oneOf(n, FailOnWords)
		return err
	},
	"white_names": func(y yamlFile, n ast.Node, c *ShopConfig) (err error) { c.WhiteNames, err = y.texts(n); return err },
	"sheets":      decodeSheets,
	"limits":      decodeShopLimits,
	"processes":   decodeOwnProcesses,
}

func decodeGarment(y yamlFile, n ast.Node, c *ShopConfig) error {
	text, err := y.text(n)
	if err != nil {
		return err
	}
	if _, err := ParseGarment(text); err != nil {
		return y.fault(n, "garment: %w", err)
	}
	c.Garment = text
	return nil
}

func decodeShopLimits(y yamlFile, n ast.Node, c *ShopConfig) error {
	var values LimitValues
	seen, err := decodeKeys(y, n, limitKeys, &values)
	if err != nil {
		return err
	}
	c.Limits = make(map[string]float64, len(seen))
	for name := range seen {
		c.Limits[name] = *values.field(name)
	}
	return nil
}

var sheetKeys = keys[Sheet]{
	"name":  func(y yamlFile, n ast.Node, s *Sheet) (err error) { s.Name, err = y.text(n); return err },
	"width": func(y yamlFile, n ast.Node, s *Sheet) error { return y.length(n, "width", &s.Width, maxSheetMM, false) },
	"height": func(y yamlFile, n ast.Node, s *Sheet) error {
		return y.length(n, "height", &s.Height, maxSheetMM, false)
	},
	"margin": func(y yamlFile, n ast.Node, s *Sheet) error {
		return y.length(n, "margin", &s.Margin, maxLengthMM, true)
	},
}

func decodeSheets(y yamlFile, n ast.Node, c *ShopConfig) error {
	items, err := y.list(n)
	if err != nil {
		return err
	}
	for _, item := range items {
		s := Sheet{Margin: MarginOfProcess}
		seen, err := decodeKeys(y, item, sheetKeys, &s)
		if err != nil {
			return err
		}
		if err := y.require(item, seen, "the sheet", "name", "width", "height"); err != nil {
			return err
		}
		if slices.ContainsFunc(c.Sheets, func(o Sheet) bool { return o.Name == s.Name }) {
			return y.fault(seen["name"], "two sheets are called %q", s.Name)
		}
		if 2*s.Margin >= min(s.Width, s.Height) {
			return y.fault(seen["margin"], "a margin of %g mm leaves nothing of sheet %q to print on", s.Margin.MM(), s.Name)
		}
		c.Sheets = append(c.Sheets, s)
	}
	return nil
}

func parseYAML(file string, data []byte) (ast.Node, error) {
	if len(data) > maxConfigBytes {
		return nil, &ConfigError{file, 1, 1, fmt.Sprintf("the file has %d bytes: at most %d are read", len(data), maxConfigBytes)}
	}
	return parseDocument(file, bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")))
}
