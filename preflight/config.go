package preflight

import (
	"bytes"
	"fmt"
	"maps"
	"slices"

	"github.com/goccy/go-yaml/ast"
)

// ShopConfig is what a shop's peelcheck.yaml says, with what it inherits from the folders above. Every field may be empty: then
// the process's or the program's own choice holds, and flags win over all of it.
type ShopConfig struct {
	File         string // the nearest, as named in messages and in Limit.From
	Process      string // id of the default process
	WhiteDrawnAs string // "black" or "white"
	Garment      string
	Fabric       string
	Sheet        string
	Background   string       // one of the Background constants
	FailOn       string       // "error", "warning", "note" or "never"
	WhiteNames   []string     // names of spot colours and layers that stand for white
	Sheets       []Sheet      // the shop's own
	Place        string       // name of a place, or NoPlace
	Places       []PrintPlace // the shop's own
	Limits       map[string]float64
	Processes    []*Process // the shop's own

	// The printed size of all artwork, as in Job; SizeFile is where it is set.
	Width, Height Length
	PPI           float64
	SizeFile      string

	Include, Exclude []string // patterns of this file alone, from its folder; the files are told by cmd
	Waivers          []Waiver // of this file alone

	limitFiles map[string]string // where each of Limits was set
}

// Waiver says that findings of one rule in some files do not count until a day has passed.
type Waiver struct {
	Rule, Files  string // Files is a pattern, from the folder of the settings file
	Reason       string
	Until        string // a day as 2026-12-31, the last on which it holds
	File         string // where it is written
	Line, Column int
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

// Sizes beyond these no printer of transfers has.
const (
	MaxPPI       = 9600 // pixels per inch
	maxPrintedMM = 100_000
)

// maxConfigBytes bounds the shop's file; a page of settings is a hundredth of it.
const maxConfigBytes = 256 << 10

// ParseProcesses reads a shop's settings and its own processes from the YAML of the file so named. Every fault is a
// *ConfigError: unknown keys, values out of range, and names that are not known.
func ParseProcesses(file string, data []byte) (ShopConfig, error) {
	return (&ShopConfig{}).Extended(file, data)
}

// Extended reads the settings of a folder below: what its file leaves out is inherited, limits and the shop's own sheets, places and
// processes one by one. Patterns and waivers are not: they belong to the file that has them. Errors are those of ParseProcesses.
func (c *ShopConfig) Extended(file string, data []byte) (ShopConfig, error) {
	out := *c
	out.File, out.Include, out.Exclude, out.Waivers = file, nil, nil, nil
	out.Sheets, out.Processes = slices.Clip(c.Sheets), slices.Clip(c.Processes)
	out.Places = slices.Clip(c.Places)
	out.Limits, out.limitFiles = maps.Clone(c.Limits), maps.Clone(c.limitFiles)
	if err := out.read(file, data); err != nil {
		return ShopConfig{File: file}, err
	}
	return out, nil
}

func (c *ShopConfig) read(file string, data []byte) error {
	body, err := parseYAML(file, data)
	if err != nil || body == nil {
		return err
	}
	y := yamlFile{name: file}
	seen, err := decodeKeys(y, body, shopKeys, c)
	if err != nil {
		return err
	}
	c.ownSize(seen)
	return c.checkNames(y, seen)
}

// ownSize lets what a file says of the size stand alone: a width of this folder is not mixed with the height of one above.
func (c *ShopConfig) ownSize(seen map[string]ast.Node) {
	_, width := seen["width"]
	_, height := seen["height"]
	_, ppi := seen["ppi"]
	if !width && !height && !ppi {
		return
	}
	c.SizeFile = c.File
	if !width {
		c.Width = 0
	}
	if !height {
		c.Height = 0
	}
	if !ppi {
		c.PPI = 0
	}
}

// ResolveLimits returns the limits of a process with what the shop's files, then the flags, set in their place, each with the file it
// came from. It fails as Process.ResolveLimits does.
func (c *ShopConfig) ResolveLimits(p *Process, flags map[string]float64) (map[string]Limit, error) {
	out, err := p.ResolveLimits(c.Limits, c.File, flags)
	if err != nil {
		return nil, err
	}
	for name, file := range c.limitFiles {
		if _, ok := flags[name]; !ok {
			l := out[name]
			l.From = "the file " + file
			out[name] = l
		}
	}
	return out, nil
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
	if n, ok := first(seen, "fabric", "process"); ok && c.Fabric != "" {
		if _, err := p.FabricByName(c.Fabric); err != nil {
			return y.fault(n, "%w", err)
		}
	}
	if n, ok := first(seen, "sheet", "process"); ok && c.Sheet != "" {
		if _, err := SheetByName(c.Sheet, p, c.Sheets); err != nil {
			return y.fault(n, "%w", err)
		}
	}
	if n, ok := first(seen, "place"); ok {
		if _, err := PlaceByName(c.Place, c.Places); err != nil {
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

// first is the node of the first key that the file has: where an inherited name fails, what was set beside it is at fault.
func first(seen map[string]ast.Node, names ...string) (ast.Node, bool) {
	for _, name := range names {
		if n, ok := seen[name]; ok {
			return n, true
		}
	}
	return nil, false
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
	"width": func(y yamlFile, n ast.Node, c *ShopConfig) error {
		return y.length(n, "width", &c.Width, maxPrintedMM, false)
	},
	"height": func(y yamlFile, n ast.Node, c *ShopConfig) error {
		return y.length(n, "height", &c.Height, maxPrintedMM, false)
	},
	"ppi": func(y yamlFile, n ast.Node, c *ShopConfig) error { return y.number(n, "ppi", &c.PPI, 1, MaxPPI) },
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
	"place":       func(y yamlFile, n ast.Node, c *ShopConfig) (err error) { c.Place, err = y.text(n); return err },
	"places":      decodePlaces,
	"limits":      decodeShopLimits,
	"processes":   decodeOwnProcesses,
	"include": func(y yamlFile, n ast.Node, c *ShopConfig) (err error) {
		c.Include, err = y.patterns(n, false)
		return err
	},
	"exclude": func(y yamlFile, n ast.Node, c *ShopConfig) (err error) {
		c.Exclude, err = y.patterns(n, true)
		return err
	},
	"waivers": decodeWaivers,
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
	if c.Limits == nil {
		c.Limits, c.limitFiles = map[string]float64{}, map[string]string{}
	}
	for name := range seen {
		c.Limits[name] = *values.field(name)
		c.limitFiles[name] = y.name
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
