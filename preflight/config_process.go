package preflight

import (
	"fmt"
	"regexp"
	"slices"

	"github.com/goccy/go-yaml/ast"
)

// processFile is a process as its YAML writes it: the process and the id of what it builds on.
type processFile struct {
	Process
	basedOn string
	among   []*Process // what based_on may name
	limits  map[string]ast.Node
}

var (
	drawnAs      = []string{"black", "white"}
	whiteSources = []string{string(WhiteFromBlack), string(WhiteUnderbase), string(WhiteBeside), string(WhiteOnly)}
	mirrorWords  = []string{"driver", "file"}
	idPattern    = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
)

// Bounds of what a person can mean. A press below 40 degrees is off, above 250 it scorches any cloth.
const (
	maxChokeMM     = 10
	maxMarginMM    = 100
	maxRulingLPI   = 1000
	minPressC      = 40
	maxPressC      = 250
	maxPressSecond = 3600
)

var processKeys = keys[processFile]{
	"id":       func(y yamlFile, n ast.Node, p *processFile) (err error) { p.ID, err = y.id(n); return err },
	"based_on": func(y yamlFile, n ast.Node, p *processFile) error { return nil }, // read first, by decodeProcess
	"title":    func(y yamlFile, n ast.Node, p *processFile) (err error) { p.Title, err = y.text(n); return err },
	"about":    func(y yamlFile, n ast.Node, p *processFile) (err error) { p.About, err = y.text(n); return err },
	"white_source": func(y yamlFile, n ast.Node, p *processFile) error {
		s, err := y.oneOf(n, whiteSources)
		p.WhiteSource = WhiteSource(s)
		return err
	},
	"white_drawn_as": func(y yamlFile, n ast.Node, p *processFile) (err error) {
		p.WhiteDrawnAs, err = y.oneOf(n, drawnAs)
		return err
	},
	"planes": decodePlanes,
	"black_generation": func(y yamlFile, n ast.Node, p *processFile) (err error) {
		p.BlackGeneration, err = y.curve(n)
		return err
	},
	"undercolour_removal": func(y yamlFile, n ast.Node, p *processFile) (err error) {
		p.UndercolourRemoval, err = y.curve(n)
		return err
	},
	"choke_mm": func(y yamlFile, n ast.Node, p *processFile) error {
		return y.lengthMM(n, "choke_mm", &p.ChokeMM, maxChokeMM)
	},
	"screen": func(y yamlFile, n ast.Node, p *processFile) error {
		_, err := decodeKeys(y, n, screenKeys, &p.Screen)
		return err
	},
	"limits": func(y yamlFile, n ast.Node, p *processFile) (err error) {
		p.limits, err = decodeKeys(y, n, limitKeys, &p.LimitValues)
		return err
	},
	"mirror": func(y yamlFile, n ast.Node, p *processFile) (err error) {
		p.Mirror, err = y.oneOf(n, mirrorWords)
		return err
	},
	"margin_mm": func(y yamlFile, n ast.Node, p *processFile) error {
		return y.lengthMM(n, "margin_mm", &p.MarginMM, maxMarginMM)
	},
	"trim_clearance_mm": func(y yamlFile, n ast.Node, p *processFile) error {
		return y.lengthMM(n, "trim_clearance_mm", &p.TrimClearanceMM, maxLengthMM)
	},
	"sheets":      func(y yamlFile, n ast.Node, p *processFile) (err error) { p.Sheets, err = y.texts(n); return err },
	"print_notes": func(y yamlFile, n ast.Node, p *processFile) (err error) { p.PrintNotes, err = y.texts(n); return err },
	"fabrics":     decodeFabrics,
	"cautions":    func(y yamlFile, n ast.Node, p *processFile) (err error) { p.Cautions, err = y.texts(n); return err },
}

var screenKeys = keys[Screen]{
	"ruling_lpi": func(y yamlFile, n ast.Node, s *Screen) error {
		return y.number(n, "ruling_lpi", &s.RulingLPI, 0, maxRulingLPI)
	},
	"smallest_dot_mm": func(y yamlFile, n ast.Node, s *Screen) error {
		return y.lengthMM(n, "smallest_dot_mm", &s.SmallestDotM, maxLengthMM)
	},
}

var limitKeys = func() keys[LimitValues] {
	out := make(keys[LimitValues], len(LimitNames))
	for _, name := range LimitNames {
		out[name] = func(y yamlFile, n ast.Node, v *LimitValues) error { return y.limit(n, name, v.field(name)) }
	}
	return out
}()

var fabricKeys = keys[Fabric]{
	"name":  func(y yamlFile, n ast.Node, f *Fabric) (err error) { f.Name, err = y.id(n); return err },
	"steps": decodeSteps,
}

var stepKeys = keys[PressStep]{
	"do": func(y yamlFile, n ast.Node, s *PressStep) (err error) { s.Do, err = y.text(n); return err },
	"temperature_c": func(y yamlFile, n ast.Node, s *PressStep) error {
		return y.number(n, "temperature_c", &s.TemperatureC, minPressC, maxPressC)
	},
	"seconds": func(y yamlFile, n ast.Node, s *PressStep) error {
		return y.number(n, "seconds", &s.Seconds, 1, maxPressSecond)
	},
	"pressure": func(y yamlFile, n ast.Node, s *PressStep) (err error) { s.Pressure, err = y.text(n); return err },
	"note":     func(y yamlFile, n ast.Node, s *PressStep) (err error) { s.Note, err = y.text(n); return err },
}

// parseBuiltIn reads a file that is one whole process.
func parseBuiltIn(name string, data []byte) (*Process, error) {
	body, err := parseYAML(name, data)
	if err != nil {
		return nil, err
	}
	return decodeProcess(yamlFile{name}, body, nil, builtIn)
}

func decodeOwnProcesses(y yamlFile, n ast.Node, c *ShopConfig) error {
	items, err := y.list(n)
	if err != nil {
		return err
	}
	for _, item := range items {
		p, err := decodeProcess(y, item, slices.Concat(c.Processes, builtInProcesses()), "the file "+y.name)
		if err != nil {
			return err
		}
		c.Processes = append(c.Processes, p)
	}
	return nil
}

// decodeProcess reads one process. What it does not set it has from the one it is based on, with that one's origins.
func decodeProcess(y yamlFile, n ast.Node, among []*Process, from string) (*Process, error) {
	pf := processFile{among: among}
	if err := pf.inherit(y, n); err != nil {
		return nil, err
	}
	seen, err := decodeKeys(y, n, processKeys, &pf)
	if err != nil {
		return nil, err
	}
	if err := y.require(n, seen, "the process", "id"); err != nil {
		return nil, err
	}
	if slices.ContainsFunc(among, func(o *Process) bool { return o.ID == pf.ID }) {
		return nil, y.fault(seen["id"], "there is a process %q already: choose another id, and write based_on: %s to start from it", pf.ID, pf.ID)
	}
	if pf.basedOn == "" {
		if err := y.requireWhole(n, seen, &pf); err != nil {
			return nil, err
		}
	}
	pf.settleLimits(seen, from)
	return &pf.Process, pf.check(y, n, seen)
}

// inherit fills the process from the one that based_on names, whatever place that key has in the mapping.
func (p *processFile) inherit(y yamlFile, n ast.Node) error {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		return nil // decodeKeys reports it
	}
	for _, kv := range m.Values {
		if kv.Key.GetToken().Value != "based_on" || kv.Value == nil || kv.Value.Type() == ast.NullType {
			continue
		}
		id, err := y.text(kv.Value)
		if err != nil {
			return err
		}
		base, err := findProcess(id, p.among)
		if err != nil {
			return y.fault(kv.Value, "based_on: %w", err)
		}
		p.Process, p.basedOn = *base, id
		p.ID = ""
	}
	return nil
}

// requireWhole reports what a process that inherits nothing leaves open.
func (y yamlFile) requireWhole(n ast.Node, seen map[string]ast.Node, p *processFile) error {
	if err := y.require(n, seen, "a process without based_on", "title", "white_source", "white_drawn_as", "planes",
		"limits", "mirror", "margin_mm", "trim_clearance_mm", "sheets", "fabrics", "cautions"); err != nil {
		return err
	}
	if err := y.require(seen["limits"], p.limits, "limits of a process without based_on", "line", "gap", "dot", "hole",
		"stray", "ppi", "text", "solid", "contrast"); err != nil {
		return err
	}
	if p.LimitValues.Tint == 0 && p.Screen.RulingLPI == 0 {
		return y.fault(seen["limits"], "limits need a tint, or the process a screen with ruling_lpi and smallest_dot_mm")
	}
	return nil
}

// settleLimits gives every limit its value and origin. A screen or trim clearance set here replaces what the base has
// for the limit that follows from it.
func (p *processFile) settleLimits(seen map[string]ast.Node, from string) {
	for limit, key := range map[string]string{"tint": "screen", "clearance": "trim_clearance_mm"} {
		_, keySet := seen[key]
		if _, limitSet := p.limits[limit]; keySet && !limitSet {
			*p.LimitValues.field(limit) = 0
			delete(p.Limits, limit)
		}
	}
	own := make(map[string]Limit, len(LimitNames))
	for _, name := range LimitNames {
		l, inherited := p.Limits[name]
		if _, set := p.limits[name]; set || !inherited {
			l = p.limitFrom(name, from)
		}
		own[name] = l
	}
	p.Limits = own
}

// check refuses what cannot be true of a whole process.
func (p *processFile) check(y yamlFile, n ast.Node, seen map[string]ast.Node) error {
	at := func(key string) ast.Node {
		if v, ok := seen[key]; ok {
			return v
		}
		return n
	}
	if p.BlackGeneration == nil {
		p.BlackGeneration = Curve{{0, 0}, {1, 1}}
	}
	if p.UndercolourRemoval == nil {
		p.UndercolourRemoval = Curve{{0, 0}, {1, 1}}
	}
	if err := checkPlanes(p.WhiteSource, p.Planes); err != nil {
		return y.fault(at("planes"), "process %q: %w", p.ID, err)
	}
	s := p.Screen
	if (s.RulingLPI > 0) != (s.SmallestDotM > 0) {
		return y.fault(at("screen"), "process %q: ruling_lpi and smallest_dot_mm belong together", p.ID)
	}
	if s.RulingLPI > 0 && s.SmallestDotM*s.RulingLPI > Inch.MM() {
		return y.fault(at("screen"), "process %q: smallest_dot_mm is %g, wider than the room that each dot has (%.3f mm, with %g dots to the inch)",
			p.ID, s.SmallestDotM, Inch.MM()/s.RulingLPI, s.RulingLPI)
	}
	if p.Limits["tint"].Value == 0 {
		return y.fault(at("screen"), "process %q: without ruling_lpi (how many dots to the inch tints are printed with) it needs a tint under limits", p.ID)
	}
	for _, key := range []struct {
		name string
		len  int
	}{{"sheets", len(p.Sheets)}, {"fabrics", len(p.Fabrics)}, {"cautions", len(p.Cautions)}} {
		if key.len == 0 {
			return y.fault(at(key.name), "process %q: %s is an empty list", p.ID, key.name)
		}
	}
	return nil
}

// checkPlanes refuses planes that the white source cannot have.
func checkPlanes(source WhiteSource, planes []Plane) error {
	has := func(p Plane) bool { return slices.Contains(planes, p) }
	colours := len(planes)
	if has(White) {
		colours--
	}
	switch {
	case !has(White):
		return fmt.Errorf("planes have no white")
	case source == WhiteFromBlack && has(Black):
		return fmt.Errorf("planes have black, but white sits in the black station")
	case source == WhiteOnly && colours > 0:
		return fmt.Errorf("planes have more than white, but the white source is white-only")
	case source != WhiteOnly && colours == 0:
		return fmt.Errorf("planes have white alone, for which the white source is white-only")
	}
	return nil
}

func (y yamlFile) id(n ast.Node) (string, error) {
	s, err := y.text(n)
	if err == nil && !idPattern.MatchString(s) {
		err = y.fault(n, "%q must be small letters and digits joined by hyphens, such as nylon-bag", s)
	}
	return s, err
}

// limit reads one limit in its own unit.
func (y yamlFile) limit(n ast.Node, name string, into *float64) error {
	var v float64
	var err error
	if LimitUnits[name] == "mm" {
		err = y.lengthMM(n, name, &v, maxLengthMM)
	} else {
		err = y.number(n, name, &v, 0, maxPPI)
	}
	if err != nil {
		return err
	}
	if err := checkLimit(name, v); err != nil {
		return y.fault(n, "%w", err)
	}
	*into = v
	return nil
}

func decodePlanes(y yamlFile, n ast.Node, p *processFile) error {
	names, err := y.texts(n)
	if err != nil {
		return err
	}
	p.Planes = nil
	for i, name := range names {
		if !slices.Contains(AllPlanes, Plane(name)) {
			return y.fault(n.(*ast.SequenceNode).Values[i], "%q is no plane: the planes are %s", name, joinWords(AllPlanes))
		}
		p.Planes = append(p.Planes, Plane(name))
	}
	return nil
}

// curve reads [[x, y], ...] with x rising, both from 0 to 1.
func (y yamlFile) curve(n ast.Node) (Curve, error) {
	points, err := y.list(n)
	if err != nil {
		return nil, err
	}
	if len(points) < 2 {
		return nil, y.fault(n, "a curve needs at least two points, such as [[0, 0], [1, 1]]")
	}
	c := make(Curve, len(points))
	for i, point := range points {
		pair, err := y.list(point)
		if err != nil {
			return nil, err
		}
		if len(pair) != 2 {
			return nil, y.fault(point, "a point of a curve is two numbers, [x, y]")
		}
		for j, axis := range []string{"x", "y"} {
			if err := y.number(pair[j], axis, &c[i][j], 0, 1); err != nil {
				return nil, err
			}
		}
		if i > 0 && c[i][0] <= c[i-1][0] {
			return nil, y.fault(pair[0], "x must rise from point to point: %g follows %g", c[i][0], c[i-1][0])
		}
	}
	return c, nil
}

// decodeFabrics replaces the fabrics named here and adds new ones; the base's others stay.
func decodeFabrics(y yamlFile, n ast.Node, p *processFile) error {
	items, err := y.list(n)
	if err != nil {
		return err
	}
	here := make(map[string]bool, len(items))
	for _, item := range items {
		var f Fabric
		seen, err := decodeKeys(y, item, fabricKeys, &f)
		if err != nil {
			return err
		}
		if err := y.require(item, seen, "the fabric", "name", "steps"); err != nil {
			return err
		}
		if here[f.Name] {
			return y.fault(seen["name"], "two fabrics are called %q", f.Name)
		}
		here[f.Name] = true
		if i := slices.IndexFunc(p.Fabrics, func(o Fabric) bool { return o.Name == f.Name }); i >= 0 {
			p.Fabrics[i] = f
			continue
		}
		p.Fabrics = append(p.Fabrics, f)
	}
	return nil
}

func decodeSteps(y yamlFile, n ast.Node, f *Fabric) error {
	items, err := y.list(n)
	if err != nil {
		return err
	}
	if len(items) == 0 {
		return y.fault(n, "a fabric needs at least one step")
	}
	for _, item := range items {
		var s PressStep
		seen, err := decodeKeys(y, item, stepKeys, &s)
		if err != nil {
			return err
		}
		if err := y.require(item, seen, "the step", "do"); err != nil {
			return err
		}
		f.Steps = append(f.Steps, s)
	}
	return nil
}

func joinWords[S ~string](words []S) string {
	out := ""
	for i, w := range words {
		if i > 0 {
			out += ", "
		}
		out += string(w)
	}
	return out
}
