package preflight

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// LimitNames lists the limits of a process in the order they are reported.
var LimitNames = []string{"line", "gap", "dot", "hole", "tint", "stray", "ppi", "text", "clearance", "solid", "contrast"}

// LimitUnits gives each limit's unit: millimetres, a share from 0 to 1, pixels an inch, or CIEDE2000 units.
var LimitUnits = map[string]string{
	"line": "mm", "gap": "mm", "dot": "mm", "hole": "mm",
	"tint": "share", "stray": "share",
	"ppi":  "ppi",
	"text": "mm", "clearance": "mm", "solid": "mm",
	"contrast": "dE00",
}

// builtIn is the origin of a limit that neither the shop's file nor a flag has set.
const builtIn = "built in"

// ResolveLimits returns every limit of the process with what the shop's file, then the flags, set in its place, and
// where each came from. It refuses an unknown name or a value out of range.
func (p *Process) ResolveLimits(file map[string]float64, fileName string, flags map[string]float64) (map[string]Limit, error) {
	out := p.ownLimits()
	layers := []struct {
		values map[string]float64
		from   func(name string) string
	}{
		{file, func(string) string { return "the file " + fileName }},
		{flags, func(name string) string { return "the flag --min-" + name }},
	}
	for _, layer := range layers {
		for _, name := range sortedKeys(layer.values) {
			v := layer.values[name]
			if err := checkLimit(name, v); err != nil {
				return nil, fmt.Errorf("%s: %w", layer.from(name), err)
			}
			out[name] = Limit{Value: v, Unit: LimitUnits[name], From: layer.from(name)}
		}
	}
	return out, nil
}

// ownLimits returns a fresh map of the process's own limits; a process made in code has only its LimitValues.
func (p *Process) ownLimits() map[string]Limit {
	out := make(map[string]Limit, len(LimitNames))
	for _, name := range LimitNames {
		l, ok := p.Limits[name]
		if !ok {
			l = p.limitFrom(name, builtIn)
		}
		out[name] = l
	}
	return out
}

// limitFrom returns one limit from the process's values. A tint limit that is not set follows from the screen, a
// clearance that is not set is the trim clearance.
func (p *Process) limitFrom(name, from string) Limit {
	v := *p.LimitValues.field(name)
	switch {
	case v == 0 && name == "tint" && p.Screen.RulingLPI > 0:
		v = TintLimit(p.Screen.RulingLPI, p.Screen.SmallestDotM)
		from += fmt.Sprintf(", worked out from the dots that tints are printed with: one every %.2f mm (%g to the inch), and the smallest that holds is %g mm wide",
			Inch.MM()/p.Screen.RulingLPI, p.Screen.RulingLPI, p.Screen.SmallestDotM)
	case v == 0 && name == "clearance":
		v = p.TrimClearanceMM
	}
	return Limit{Value: v, Unit: LimitUnits[name], From: from}
}

// field returns the place of the limit called name, which must be one of LimitNames.
func (v *LimitValues) field(name string) *float64 {
	switch name {
	case "line":
		return &v.Line
	case "gap":
		return &v.Gap
	case "dot":
		return &v.Dot
	case "hole":
		return &v.Hole
	case "tint":
		return &v.Tint
	case "stray":
		return &v.Stray
	case "ppi":
		return &v.PPI
	case "text":
		return &v.Text
	case "clearance":
		return &v.Clearance
	case "solid":
		return &v.Solid
	case "contrast":
		return &v.Contrast
	}
	panic("preflight: no limit " + name + " (bug)")
}

// checkLimit refuses a name that is no limit and a value that cannot be one.
func checkLimit(name string, v float64) error {
	switch LimitUnits[name] {
	case "mm":
		if !(v > 0 && v < maxLengthMM) {
			return fmt.Errorf("%s is %g mm: it must be more than 0 and less than %d mm", name, v, maxLengthMM)
		}
	case "share":
		if !(v > 0 && v <= 1) {
			return fmt.Errorf("%s is %g: it must be a share, more than 0 and at most 1", name, v)
		}
	case "ppi":
		if !(v >= 1 && v <= maxPPI) {
			return fmt.Errorf("%s is %g: it must be from 1 to %d pixels an inch", name, v, maxPPI)
		}
	case "dE00":
		if !(v > 0 && v <= 100) {
			return fmt.Errorf("%s is %g: it must be a colour difference, more than 0 and at most 100", name, v)
		}
	default:
		return fmt.Errorf("no limit %q: the limits are %s%s", name, strings.Join(LimitNames, ", "), didYouMean(name, LimitNames))
	}
	return nil
}

// Bounds of what a person can mean: no limit on a sheet reaches a metre, no printer reaches 10 000 pixels an inch.
const (
	maxLengthMM = 1000
	maxPPI      = 10000
)

// At returns the curve's value at x by straight lines between its points; beyond the ends it stays level. A curve
// without points is the identity.
func (c Curve) At(x float64) float64 {
	if len(c) == 0 {
		return x
	}
	if x <= c[0][0] {
		return c[0][1]
	}
	for i := 1; i < len(c); i++ {
		if a, b := c[i-1], c[i]; x <= b[0] {
			return a[1] + (b[1]-a[1])*(x-a[0])/(b[0]-a[0])
		}
	}
	return c[len(c)-1][1]
}

// TintLimit returns the lightest tint, 0 to 1, whose round halftone dot is still smallestDotMM across at a ruling in
// lines per inch: pi D^2 / (4 s^2) with the cell side s = 25.4/ruling mm, plain geometry; for the halftone cell see
// Ulichney, Digital Halftoning, 1987, and Kipphan, Handbook of Print Media, 2001 (both from memory). A dot wider than
// its cell gives 1: no tint holds. It returns 0, no limit, where ruling or dot is not positive.
func TintLimit(rulingLPI, smallestDotMM float64) float64 {
	if rulingLPI <= 0 || smallestDotMM <= 0 {
		return 0
	}
	ratio := smallestDotMM * rulingLPI / Inch.MM()
	if ratio > 1 {
		return 1
	}
	return math.Pi / 4 * ratio * ratio
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
